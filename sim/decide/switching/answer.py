"""What is found out of when to reduce, of speed, spacing and rule together, and of coming days.

It is stored, sent and shown in just this shape. Everything is in SI units, shares are 0 to 1, times
of day are seconds after midnight, and None stands where there is nothing to tell.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Literal

from sim.day.figures import Range
from sim.day.rules import (
    Band,
    Classes,
    Clock,
    CrewCars,
    CrewClock,
    CrewHoods,
    CrewStrip,
    Cue,
    Rule,
    Term,
    Watched,
    parse_rule,
)
from sim.decide.answer import Comparison, Standing
from sim.decide.firm import strongest
from sim.decide.switching.advice import (
    Advice,
    Alternative,
    Gain,
    Gains,
    PairedComparison,
    Rival,
    Unit,
    ValueOfInformation,
)
from sim.decide.switching.at_exit import MoreHands
from sim.decide.switching.candidates import to_the_letter
from sim.decide.switching.choice import DAYS_KEPT, Wish, WishKind
from sim.decide.switching.coming import (
    Corner,
    DayPlan,
    DayState,
    MovedPlan,
    Tipping,
    Way,
)
from sim.decide.switching.cues import CrewPace, CueFound, Cues, RuleMeans
from sim.decide.switching.hands import Hands, HandsRow
from sim.decide.switching.reasons import Along, Cause, Flip, Relief, Remedies, Remedy
from sim.decide.switching.thresholds import CueKind
from sim.decide.switching.year import MonthCount, YearCount
from sim.inputs import Site, Steps, Value

__all__ = [
    "Advice", "AdvisedDay", "Along", "Alternative", "Band", "Bound", "Brings", "Cause",
    "Classes", "Clock", "Columns", "ComingAnswer", "Corner", "CrewCars", "CrewClock",
    "CrewHoods", "CrewPace", "CrewStrip", "CrewTerms", "Cue", "CueFound", "CueKind", "Cues",
    "DayPlan", "DayState", "Draws", "Flip", "Gain", "Gains", "HalfHours", "Hands", "HandsRow",
    "MonthCount", "MoreHands", "MovedPlan", "Overruled", "PairedComparison", "Range",
    "Relief", "Remedies", "Remedy", "Rival", "Rule", "RuleMeans",
    "SettingPlan", "Term", "Tipping", "Together", "TradeOffPoint", "TwoDays", "Unit",
    "ValueOfInformation", "Watched", "Way", "WhenToReduce", "Wish", "WishKept", "WishKind",
    "YearCount",
]  # fmt: skip

HALF_HOUR_S = 1800.0
SCHEMA, TOGETHER_SCHEMA = "clothcast.switch/8", "clothcast.settings-and-rule/4"
COMING_SCHEMA = "clothcast.coming/8"


@dataclass(frozen=True, slots=True)
class CrewTerms:
    """What a rule is told to the crew by.

    Attributes:
        open_h, close_h: opening hours.
        dry_kg, holding_kg_kg: dry weight of a strip, and the water that it can hold, by its weight.
        classes: what vehicle classes are called, by key.
    """

    open_h: float
    close_h: float
    dry_kg: float
    holding_kg_kg: float
    classes: dict[str, str]

    @classmethod
    def of(cls, site: Site) -> CrewTerms:
        """Those of a site."""
        line, wheel = site.line, site.wheel
        labels = {item.key: item.label for item in site.vehicles}
        return cls(
            line.open_h, line.close_h, wheel.strip_dry_mass_kg, wheel.holding_capacity_kg_kg, labels
        )


@dataclass(frozen=True, slots=True)
class HalfHours:
    """A rule's day by half hours; None where no car came.

    Attributes:
        cars: at the wheel, mean over draws.
        saturation: that cars meet, mean over the cars of all draws.
        reduced, damp, left_damp: share of those cars; damp at the wheel, and leaving so.
    """

    cars: tuple[float, ...]
    saturation: tuple[float | None, ...]
    reduced: tuple[float | None, ...]
    damp: tuple[float | None, ...]
    left_damp: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class TwoDays:
    """The half hours in which the wash is open, and what the crew is told and always full make of
    them."""

    start_s: tuple[float, ...]
    told: HalfHours
    full: HalfHours

    @property
    def reduced(self) -> tuple[tuple[float, float], ...]:
        """Stretches [s after midnight] in which most cars are expected to be wiped reduced."""
        spells: list[tuple[float, float]] = []
        for start, share in zip(self.start_s, self.told.reduced, strict=True):
            if (share or 0.0) <= 0.5:
                continue
            first = spells.pop()[0] if spells and spells[-1][1] == start else start
            spells.append((first, start + HALF_HOUR_S))
        return tuple(spells)


@dataclass(frozen=True, slots=True)
class TradeOffPoint:
    """A rule on the trade-off, means a day.

    It stands where its difference to the chosen rule, on the draws of both, puts it.

    Attributes:
        keeps: to the limits of switching.
        undominated: no rule that keeps to them has at most as many cars leaving damp and at
            least as many fully wiped, one of the two truly.
    """

    rule: Rule
    left_damp_share: float
    full_share: float
    left_damp: float
    full_cars: float
    cost: float
    draws: int
    keeps: bool
    undominated: bool


@dataclass(frozen=True, slots=True)
class Bound:
    """What foresight would give, and what the chosen rule reaches of it on the same draws.

    Attributes:
        best_possible, reached: of what is bounded, cars fully wiped or cost, means a day.
        share: reached ÷ best possible, for cost best possible ÷ reached; None where the divisor is
            not above 0.
        run_error: of `share`, 95 %: a ratio estimate's (Cochran, Sampling Techniques, chapter
            on ratio estimators, from memory), by t of the draws less one.
        without_rewash: whether re-washes had to be left out of the bound.
    """

    best_possible: float
    reached: float
    share: float | None
    run_error: Range | None
    unit: Literal["cars", "$"]
    draws: int
    without_rewash: bool


def told_of(chosen: Rule, cues: Cues | None) -> Rule:
    """What the crew is told of a chosen rule; see `WhenToReduce.told`."""
    if cues is None:
        return chosen
    return cues.stay or (chosen if cues.used is None else cues.used.rule)


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column of the comparison is which rule; one may be several. `told` is what the crew
    works by, see `WhenToReduce.told`."""

    present: int
    chosen: int
    full: int
    reduced: int
    told: int


@dataclass(frozen=True, slots=True)
class WishKept:
    """How often a rule kept to the allowed share of cars leaving damp.

    Attributes:
        share: of the days; low, high: its 95 % interval (Wilson 1927, Journal of the American
            Statistical Association 22:209–212).
        days: how many they were.
    """

    share: float
    low: float
    high: float
    days: int


@dataclass(frozen=True, slots=True)
class Overruled:
    """The best rule of the plan where another is better by what matters, and what that gains."""

    rule: Rule
    gains: Gains


@dataclass(frozen=True, slots=True)
class Draws:
    """Simulated days of a rule dropped at once, and of the chosen one."""

    first: int
    chosen: int


@dataclass(frozen=True, slots=True)
class WhenToReduce:
    """The rule of a day, why it is that one, and what else might be done.

    Attributes:
        origin: what the day's expected cars and weather were made of, in words.
        libraries: versions of what computed it.
        present: the rule in use now; chosen: the one advised.
        keeps: whether that keeps to the wish by its mean over the days that chose it.
        probability: that no other rule that a crew can carry out is better by what matters, or
            none at all where it can't carry out the chosen one; of a first form by how often that
            held; settled: how often the order of
            choice ends at it, the draws weighted at random.
        alternatives: what the choice might as well have been, the likeliest first.
        kept: how often what the crew is told keeps to the allowed share on days not seen before;
            None where that is not wished for on single days.
        rules: that were tried; runs: days simulated for it.
        comparison: the present rule, the chosen one, always full and always reduced, and what the
            crew is told, each once.
        trade_off: these, every undominated rule, and a spread of the others.
        bound: None where it was not or can't be computed.
        why, remedies, tipping, moves: the reasons, what else would help, up to which day always
            full is enough, the plan for days a little different; None and empty where they were
            not looked into.
        hands: rule and finishers together; None where it was not looked into.
        cues: None where the rule says nothing of when to reduce, or it was not looked into.
        together: where that was asked for as well.
        in_plan: rules of the plan, the present one first; overruled: the best of them where another
            is chosen, else None.
        coarse: whether it is a first form: chosen among few rules on few days, to be shown until
            the search among all is done.
    """

    schema: str
    site: str
    date: datetime.date
    seed: int
    libraries: dict[str, str]
    origin: str
    wish: Wish
    crew_terms: CrewTerms
    present: Rule
    chosen: Rule
    keeps: bool
    probability: float
    settled: float
    alternatives: tuple[Alternative, ...]
    kept: WishKept | None
    rules: int
    runs: int
    draws: Draws
    comparison: Comparison
    columns: Columns
    half_hours: TwoDays
    trade_off: tuple[TradeOffPoint, ...]
    bound: Bound | None
    why: Advice | None
    remedies: Remedies | None
    moves: tuple[MovedPlan, ...]
    tipping: Tipping | None
    cues: Cues | None
    hands: Hands | None = None
    together: Together | None = None
    in_plan: tuple[Rule, ...] = ()
    overruled: Overruled | None = None
    coarse: bool = False

    @property
    def as_planned(self) -> bool:
        """Whether what the crew is told stands in the plan, clock times as windows there too."""
        return to_the_letter(self.told) in map(to_the_letter, self.in_plan)

    @property
    def certainty(self) -> float:
        """How sure the choice is: that it is good, and that the order of choice ends at it."""
        return min(self.probability, self.settled)

    @property
    def stay(self) -> Rule | None:
        """The rule of all day by which the crew had better stay; see `Cues.stay`."""
        return None if self.cues is None else self.cues.stay

    @property
    def told(self) -> Rule:
        """What the crew works by, on every page and sheet: the cue to use, the rule by which it had
        better stay, or the chosen rule where no cue was found."""
        return told_of(self.chosen, self.cues)

    @property
    def rival(self) -> tuple[Rule, Standing] | None:
        """What leaves least firm what the crew is told, and how that stands against it: by the wish
        where that was worked out, else by the day's margin; None where no site was drawn."""
        cues = None if self.cues is None else self.cues.rival
        if self.stay is not None or self.why is not None:
            chosen = None if self.stay is not None or self.why is None else self.why.rival
            rivals = [one for one in (chosen, cues) if one is not None]
            strong = strongest(enumerate(one.standing for one in rivals))
            return None if strong is None else (rivals[strong[0]].rule, strong[1])
        among = self.comparison.rival(self.columns.chosen)
        if among is None:
            return None
        return parse_rule(self.comparison.columns[among[0]].scenario.rule), among[1]

    @property
    def limit(self) -> Literal["keeps", "near", "misses"]:
        """Whether what the crew is told keeps to the share allowed to leave damp, by what is shown.

        ``near``: what the choice saw and what is shown lie on different sides, it misses by less
        than matters as the crew carries it out, or the days that were counted leave it open.
        """
        wish, kept, cues = self.wish, self.kept, self.cues
        if wish.kind == "cost":
            return "keeps"
        if wish.kind == "days" and kept is not None:
            if kept.low >= DAYS_KEPT:
                return "keeps"
            return "misses" if kept.high < DAYS_KEPT else "near"
        keeps, nearly = self.keeps, False
        if cues is not None and self.told != self.chosen:
            one = cues.used or cues.constant
            keeps, nearly = one.keeps, one.nearly
        damp = self.comparison.columns[self.columns.told].value("left_damp_share")
        seems = keeps if damp is None else damp <= wish.allowed_damp_share
        if (nearly and not keeps) or (wish.kind == "mean" and seems != keeps):
            return "near"
        return "keeps" if keeps else "misses"


@dataclass(frozen=True, slots=True)
class Setting:
    """Belt speeds by time of day, at most three [m/s], and the car spacing [m]."""

    speeds: Steps
    spacing_m: float

    @property
    def changes(self) -> dict[str, Value]:
        """What is entered to have it."""
        return {
            "conveyor_speed_m_s": self.speeds[0][1],
            "speed_timetable": self.speeds if len(self.speeds) > 1 else (),
            "car_spacing_m": self.spacing_m,
        }


@dataclass(frozen=True, slots=True)
class SettingPlan(Setting):
    """A setting with its rule, and what a day of it is; means over draws.

    Attributes:
        cars_washed_h: cars washed per hour open.
        reduced_h: open hours a day in which cars are wiped reduced.
        keeps: whether it keeps to the wish.
    """

    rule: Rule
    cars_washed: float
    cars_washed_h: float
    cars_lost: float
    full_cars: float
    left_damp: float
    left_damp_share: float
    cost: float
    reduced_h: float
    keeps: bool


@dataclass(frozen=True, slots=True)
class Together:
    """Settings and rule chosen together.

    Attributes:
        present: the present setting with the rule that was chosen for it.
        chosen: the plan taken; at the present setting where no other is better by what matters.
        never_reduce: the least costly setting at which always full keeps to the wish; None where
            there is none in the belt's range.
        stays: whether the chosen setting is the present one.
        probability: that the choice of the last step is good; see `Selection`.
        runs: simulated days, counted over rules.
    """

    schema: str
    site: str
    date: datetime.date
    seed: int
    libraries: dict[str, str]
    wish: Wish
    crew_terms: CrewTerms
    present: SettingPlan
    chosen: SettingPlan
    never_reduce: SettingPlan | None
    stays: bool
    probability: float
    runs: int


# ---- the coming days -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Brings:
    """What a day is expected to bring: cars, highest temperature, humidity then, and rain."""

    cars: float
    highest_temp_c: float
    humidity: float
    rain_mm: float


@dataclass(frozen=True, slots=True)
class AdvisedDay:
    """A coming day.

    Attributes:
        note: what the site wrote beside it; typed: what was typed over it.
        brings: None where nothing can be expected.
        plan: None for a day that is not open, and for one that can't be simulated, such as one
            with frost.
    """

    date: datetime.date
    state: DayState
    note: str
    typed: str
    brings: Brings | None
    plan: DayPlan | None


@dataclass(frozen=True, slots=True)
class ComingAnswer:
    """A plan each for the coming days, and how many days of a year need switching.

    Attributes:
        libraries: versions of what computed it.
        weighed: the kinds of weighing that were used.
        year: None until it has been counted.
    """

    schema: str
    site: str
    first: datetime.date
    seed: int
    libraries: dict[str, str]
    wish: Wish
    weighed: tuple[str, ...]
    crew_terms: CrewTerms
    days: tuple[AdvisedDay, ...]
    year: YearCount | None

"""What is found out of a site's cloth: the answers on its sets and on its season, as they are
stored, told and shown."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sim.day.figures import PairedDifference
from sim.decide.cloth.change import FLAT, LEAST_SAVING, ChangeAge, ChangePrices, InParts
from sim.decide.cloth.guesses import AgeRange, Guess
from sim.decide.cloth.launder import MOST_DAYS, NEAR, LaunderGuess, Laundering
from sim.decide.cloth.stock import Owned, StockPlan
from sim.decide.firm import Standing, strongest
from sim.errors import Note
from sim.inputs import Scenario
from sim.learn.cloth_life import LifeFit
from sim.learn.cloth_looks import DampCount
from sim.learn.cloth_wear import Place

__all__ = ["FLAT", "LEAST_SAVING", "MOST_DAYS", "NEAR", "Guess", "LaunderGuess", "Laundering"]
"""What of the modules below words know as well; all that is defined here they may."""


@dataclass(frozen=True, slots=True)
class SetToCome:
    """What is to come of a set that still lives.

    Attributes:
        share: of the wheel's wear that it takes.
        worn_out: ages by which it has worn out with probability 10, 50 and 90 %, given that it has
            come to its present age [full-wipe equivalents].
        worn_out_days: the days on which it comes to these ages; None beyond the forecast.
        launderings: to come until the middle one, at the rate so far.
    """

    share: float
    worn_out: tuple[float, float, float]
    worn_out_days: tuple[date | None, date | None, date | None]
    launderings: float


@dataclass(frozen=True, slots=True)
class SetFound:
    """A set of the record.

    Attributes:
        bought: None where nobody wrote it down.
        reason: why its life ended; empty while it has not.
        since: when it was put on or taken off last; None for one that never was.
        on_wheel_cars: wear on the wheel; age_cars: all its wear, laundering and what it had before
            included [full-wipe equivalents].
        all_counted: whether none of its days on the wheel had to be expected.
        to_come: None for a set that has come to its end.
    """

    name: str
    bought: date | None
    state: Place
    reason: str
    since: date | None
    on_wheel_cars: float
    all_counted: bool
    launderings: int
    age_cars: float
    to_come: SetToCome | None


@dataclass(frozen=True, slots=True)
class Believed:
    """What is believed of a figure: its median, and between what it lies at 19 of 20 sites."""

    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LifeFound:
    """What is known of how long sets last.

    Attributes:
        beta: Weibull shape [–]; eta: scale, mean: expected life [full-wipe equivalents].
        worn_out, ended_otherwise: sets whose life has ended; looks: inspections that told of it.
        likelihood: from the sets alone, by maximum likelihood; None with too few.
    """

    beta: Believed
    eta: Believed
    mean: float
    worn_out: int
    ended_otherwise: int
    looks: int
    likelihood: LifeFit | None


@dataclass(frozen=True, slots=True)
class DampByWear:
    """What wear does to cars, at even steps of wear from new to the scale of life.

    Attributes:
        more_damp_share: share of cars damp above that with new cloth.
        cost_per_full_wipe: what that costs by a plan's items [money/full-wipe equivalent].
    """

    more_damp_share: tuple[float, ...]
    cost_per_full_wipe: tuple[float, ...]

    @property
    def by_life(self) -> list[tuple[float, float]]:
        """Share of the scale of life, and the share of cars more damp there."""
        last = len(self.more_damp_share) - 1
        return [(step / last, share) for step, share in enumerate(self.more_damp_share)]


@dataclass(frozen=True, slots=True)
class LossFound:
    """What is believed of the share of uptake that is lost at the scale of life.

    Attributes:
        is_known: the site entered it. low, high: between these it lies at 9 of 10 sites.
        counts: damp hoods that were counted; worn_looked_at: how many of them under a worn set.
    """

    is_known: bool
    median: float
    low: float
    high: float
    counts: tuple[DampCount, ...]
    worn_looked_at: int


@dataclass(frozen=True, slots=True)
class BusyDay:
    """A day and the cars that it expects."""

    day: date
    cars: float


@dataclass(frozen=True, slots=True)
class Moved:
    """A change moved to a quiet morning, with the cars that it expects before noon, and what moving
    adds to the cost of this one set's life, on average, beside a change on the best day, or today
    for a set that is past its age [money]."""

    day: date
    morning_cars: float
    cost: float


@dataclass(frozen=True, slots=True)
class Due:
    """When the set on the wheel is due.

    Attributes:
        day: on which it comes to the age of change; None if it waits for failure, or beyond the
            forecast. It is today for a set that is past it.
        first, last: days between which a change costs at most 2 % more than the best; None beyond
            the forecast, or without end.
        overdue: whether the set has gone past the age of change already.
        busy: the busiest of the seven days from `day` on; None with `day`.
        quiet: the quietest morning of those near, of the coming week for a set that is past its
            age; None where none is quieter, or with `day`.
    """

    name: str
    day: date | None
    first: date | None
    last: date | None
    overdue: bool
    busy: BusyDay | None
    quiet: Moved | None

    @property
    def best(self) -> date | None:
        """The day on which it is best changed: the quiet one of the coming week for a set past its
        age; None beyond the forecast."""
        return self.quiet.day if self.overdue and self.quiet is not None else self.day


@dataclass(frozen=True, slots=True)
class LaundryDue:
    """When the set on the wheel goes to the laundry.

    Attributes:
        soil_cars: cars whose soil it holds this evening.
        day: before whose opening it has wiped as many cars as the best interval has; tomorrow for
            one that is past it, None beyond the forecast or where none is best.
    """

    name: str
    soil_cars: float
    day: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothAnswer:
    """When to change cloth, and what that rests on; wear in full-wipe equivalents.

    Attributes:
        sets: every set, in the order of the book.
        age_range: how far the best age may lie elsewhere, and the guesses that it rests on.
        laundering: how often a set goes to the laundry; None where no weather is known.
        laundry_due: when the set on the wheel goes there; None where either is not known.
        due: the set on the wheel; None where there is none.
        wear_per_day: mean of the coming four weeks' days; wear_per_year: of the coming 365 days.
        notes: what a reader should know.
    """

    schema: Literal["clothcast.cloth/7"] = "clothcast.cloth/7"
    day: date
    sets: tuple[SetFound, ...]
    life: LifeFound
    prices: ChangePrices
    damp: DampByWear
    uptake_loss: LossFound
    age_range: AgeRange
    change: ChangeAge
    in_parts: tuple[InParts, ...]
    laundering: Laundering | None
    laundry_due: LaundryDue | None
    due: Due | None
    wear_per_day: float
    wear_per_year: float
    notes: tuple[Note, ...]

    def find(self, name: str) -> SetFound:
        """A set by its name; raises KeyError for one that there is not."""
        return {one.name: one for one in self.sets}[name]


# ---- the season ----------------------------------------------------------------------------------

Ranged = tuple[float, float, float]
"""Expected value and range: of a day between what lie 90 % of such days, of a total its run error;
NaN where there is none, such as a share of no car."""


@dataclass(frozen=True, slots=True)
class ByRule:
    """A figure by both rules: always full, and as planned."""

    full: Ranged
    planned: Ranged


@dataclass(frozen=True, slots=True)
class DayFound:
    """An open day of a season.

    Attributes:
        cars: expected. is_laundry: whether a set goes to the laundry that morning.
        rule: that is planned, as text; label: in words; cloth: dry sets planned.
        figures: by name of `sim.decide.cloth.season.KEPT`.
    """

    day: date
    cars: float
    highest_temp_c: float
    rule: str
    label: str
    cloth: str
    is_peak: bool
    is_laundry: bool
    figures: Mapping[str, ByRule]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A day of the season without figures, and why it can't be planned; None for one that is closed
    or expects no car."""

    day: date
    why: Note | None


@dataclass(frozen=True, slots=True)
class Month:
    """A month's expected totals by the planned rule.

    Attributes:
        first: its first day in the season; laundry_cost: of all launderings [money].
        figures: by name of `sim.decide.cloth.season.KEPT`, but for shares.
        sets: sets that come off for good, expected; worn: of these before their planned age.
        set_cost: new sets, and what unplanned changes cost more [money].
        running_cost: the days' cost without the wear that `set_cost` pays for [money].
    """

    first: date
    days: int
    figures: Mapping[str, float]
    launderings: int
    laundry_cost: float
    sets: float
    worn: float
    set_cost: float
    running_cost: float

    @property
    def cloth_cost(self) -> float:
        """Laundry and sets [money]."""
        return self.laundry_cost + self.set_cost

    @property
    def total(self) -> float:
        """Everything together [money]."""
        return self.running_cost + self.cloth_cost


@dataclass(frozen=True, slots=True)
class ExpectedChange:
    """The set that comes off for good as the `number`-th.

    Attributes:
        day: the quiet one on which the change is best put.
        low, middle, high: 10 %, 50 % and 90 % of futures have had it by then; `high` is None where
            fewer ever do within the season.
        chance: that it falls within the season.
        worn_share: of these, share of futures in which the set wore out before its planned age.
    """

    number: int
    day: date
    low: date
    middle: date
    high: date | None
    chance: float
    worn_share: float


@dataclass(frozen=True, slots=True)
class OrderBy:
    """An order of new sets: the day by which it has to be placed, which may have passed, the number
    of the first change that it is for, and how many sets."""

    by: date
    for_change: int
    quantity: int


OptionKey = Literal[
    "planned",
    "dry_sets",
    "one_more_set",
    "finisher",
    "slower_belt",
    "reduced",
    "faster_idle",
    "drying_agent",
    "second_cloth",
]
Limit = Literal["left_damp_share", "cars_lost", "wait_p90_s"]
"""What the manager sets a limit to, of the figures of a day."""


@dataclass(frozen=True, slots=True)
class Option:
    """Something to do on every peak day.

    Attributes:
        amount: dry sets a day, people, speed [m/s, rev/s], or film with an agent ÷ without; 0
            where there is none.
        scenario: what is simulated.
        once: money to be spent once.
        each_year: money a year beside what the simulation counts, such as for keeping one set more.
    """

    key: OptionKey
    amount: float
    scenario: Scenario
    once: float = 0.0
    each_year: float = 0.0


@dataclass(frozen=True, slots=True)
class OptionRow:
    """What an option does.

    Attributes:
        figures: means of a peak day over days and drawn sites, by name of
            `sim.decide.cloth.season.NAMES`.
        yearly: difference to the planned days in cost a year [money]; None for these themselves.
        damp, lost: differences in damp and in lost cars on a peak day.
        keeps: whether the means keep to what the manager allows of damp cars, lost cars and wait.
        payback_years: years until what is spent once has come back; 0 where nothing is spent,
            infinite where it never does. low, high: at the ends of the site uncertainty.
        against: how the option that is advised, the cheapest that keeps to all, stands against this
            one over the drawn sites; None where there is none, and for that option itself.
    """

    option: Option
    figures: Mapping[str, float]
    yearly: PairedDifference | None
    damp: PairedDifference | None
    lost: PairedDifference | None
    keeps: bool
    payback_years: float
    payback_low: float
    payback_high: float
    against: Standing | None = None


def cheapest(rows: Iterable[OptionRow]) -> OptionRow | None:
    """The row of least cost on a peak day among those that keep to what is allowed."""
    kept = [row for row in rows if row.keeps]
    return min(kept, key=lambda row: row.figures["cost"], default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonAnswer:
    """A year of expected days, when sets are changed and ordered, and what else helps.

    Attributes:
        replications: simulated days of each day and rule; seed: root seed.
        lived: open days that were simulated; fewer than all in a first form, whose days tell their
            wear alone.
        libraries: versions of what computed it.
        weighed: kinds of weighing that its sites were drawn by.
        days: open days in order; left_out: the others.
        totals: of each figure over the season, by name of `sim.decide.cloth.season.KEPT`.
        ages: wear of the sets in use, the one on the wheel first; planned_age: when one is changed
            on plan, infinite where it is left to wear out [full-wipe equivalents].
        rival_age, standing: the age that it is held against at drawn sites, and how it stands; None
            where it was not.
        lives: sets of the record whose life has ended.
        sets_per_year: that come off for good within the season, expected.
        launder_every: open days between launderings; launder_advised: whether that is the advised
            interval, and not the site's own; laundry_days: mornings on which a set goes there.
        stock: when to order and how many; None with `stock_problems`, and then `orders` is empty.
        owned: what numbers of sets are good for.
        options: what else could be done on peak days, the planned days first; none as long as that
            is worked out. peaks: the days that
            stand for all `peak_days` of the year; allowed: what the manager allows on a day.
    """

    schema: Literal["clothcast.season/9"] = "clothcast.season/9"
    site: str
    first: date
    last: date
    seed: int
    replications: int
    lived: int
    libraries: Mapping[str, str]
    weighed: tuple[str, ...]
    days: tuple[DayFound, ...]
    left_out: tuple[LeftOut, ...]
    totals: Mapping[str, ByRule]
    months: tuple[Month, ...]
    lives: int
    ages: tuple[float, ...]
    planned_age: float
    rival_age: float
    standing: Standing | None
    changes: tuple[ExpectedChange, ...]
    sets_per_year: float
    launder_every: int
    launder_advised: bool
    laundry_days: tuple[date, ...]
    orders: tuple[OrderBy, ...]
    stock: StockPlan | None
    stock_problems: tuple[Note, ...]
    owned: tuple[Owned, ...]
    options: tuple[OptionRow, ...]
    peaks: tuple[date, ...]
    peak_days: int
    allowed: Mapping[Limit, float]

    @property
    def coarse(self) -> bool:
        """Whether it is a first form, in which some days stand for others."""
        return self.lived < len(self.days)

    @property
    def rival_option(self) -> tuple[int, Standing] | None:
        """The option that leaves the cheapest least firm, by its place, and how that stands against
        it; None where none keeps to what is allowed."""
        rivals = enumerate(row.against for row in self.options)
        return strongest((at, one) for at, one in rivals if one is not None)

    def busiest(self, count: int) -> list[DayFound]:
        """The open days that expect most cars, in order of time."""
        days = sorted(self.days, key=lambda one: (-one.cars, one.day))[:count]
        return sorted(days, key=lambda one: one.day)

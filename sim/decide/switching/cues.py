"""The chosen rule in cues that a crew can see, each carried out as a crew does, and what it loses.

The cloth's saturation can't be seen. What says *when* to reduce in the chosen rule is therefore
replaced by one cue at a time: clock times, cars counted in the last hour, damp hoods among the last
twenty, the weight of one strip (`sim.day.rules`), each with what its looks cost. Thresholds are
found among a few on fresh draws, and measured on others, fresh again, beside the chosen rule and
the ideal band, which act at once and know the saturation, and beside what needs no cue: staying on
full, or on reduced, all day, or sparing some classes of car all day. A cue is worth its trouble
only if it is better than that by what matters, and costs less to read than it saves: that is told
by running it once more with looks that take no time. Of those that are, the one is used that costs
least in all. Weights are those of the site's own
strip: at a drawn site that holds more or less water the same weight is another saturation, as it
would be for the crew.

The thresholds are read off simulated days: the ideal band and the ideal clock windows are run on a
few draws; what a crew would have counted, seen and weighed, without error, at the cars at which
they switch are the readings about which thresholds are tried. Clock windows are tried as they are
and some minutes earlier. Upper and lower thresholds lie as far apart as a crew can tell
(`least_apart`), in numbers that people use.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sim.day.blocks import MOST_POINTS, Shape, take_apart
from sim.day.engine import AS_IT_IS, Told, Variant, quiet
from sim.day.figures import range_of
from sim.day.rules import FULL, REDUCED, Band, Classes, Clock, CrewClock, Rule, Service
from sim.decide.firm import strongest
from sim.decide.switching.advice import (
    SITES,
    Gain,
    PairedComparison,
    Rival,
    Unit,
    compare_rules,
    price_of,
    standing,
    stands,
    unit_of,
)
from sim.decide.switching.choice import COST, OUTCOMES, Floats, column, excesses, left_damp_share
from sim.decide.switching.question import (
    SwitchQuestion,
    Trials,
    crossed_draws,
)
from sim.decide.switching.search import PRESENT, SwitchAnswer
from sim.decide.switching.thresholds import CueKind, grids, read_off, time_terms, with_term
from sim.inputs import Site

READ = 16
"""Draws on which thresholds are read off."""
TRIED = Shape(blocks=2, points=16, days=1)
ONE_SITE_TRIED = Shape(blocks=2, points=1, days=16)
"""Draws on which thresholds are chosen, with inputs drawn and without."""
MEASURED = Shape(blocks=8, points=16, days=2)
ONE_SITE_MEASURED = Shape(blocks=8, points=1, days=32)
"""Draws on which the chosen thresholds are measured."""
KINDS: tuple[CueKind, ...] = ("clock", "cars", "hoods", "strip")
UNREAD = Variant(
    (("cue_cost_count_min", 0.0), ("cue_cost_hoods_min", 0.0), ("cue_cost_strip_min", 0.0))
)
"""The same day with looks that take no time."""


@dataclass(frozen=True, slots=True)
class RuleMeans:
    """A rule's means a day.

    It stands where its difference to the chosen rule, on the draws of `Cues`, puts it beside the
    mean that the chosen rule had in the search, as on the trade-off.

    Attributes:
        keeps: to the wish; nearly: misses it by no more than what matters; restless: it switches
            more often, or sooner, than is wished for.
    """

    rule: Rule
    left_damp: float
    left_damp_share: float
    full_cars: float
    cost: float
    keeps: bool
    nearly: bool
    restless: bool


@dataclass(frozen=True, slots=True)
class CueFound(RuleMeans):
    """One cue with the thresholds found; its rule is as the crew carries it out.

    Attributes:
        to_chosen: what is lost by the wish to the chosen rule done to the letter, in `Cues.unit` a
            day; to_band: to the ideal band, None where there is none.
        over_chosen, over_constant: against the chosen rule, and against the best that needs no cue
            (`Cues.constant`), figure by figure.
        reading: what its looks cost a day, with what belt stops for weighings do [money]; saves:
            what it would save against `Cues.constant`, were looks free; looks_s: time of a person.
        gains: whether it is better than that constant by what matters, nearer to keeping the wish
            or as near with more worth, and costs less to read than it saves.
        tried: how many thresholds.
    """

    kind: CueKind
    to_chosen: Gain
    to_band: Gain | None
    over_chosen: PairedComparison
    over_constant: PairedComparison
    reading: float
    saves: float
    looks_s: float
    gains: bool
    tried: int

    @property
    def pays(self) -> bool:
        """Whether it costs less to read than it saves; one that costs nothing to read does."""
        return self.reading <= 0.0 or self.reading < self.saves


@dataclass(frozen=True, slots=True)
class CrewPace:
    """How late and how wrong the crew was simulated to be.

    Attributes:
        delay_median_s, delay_log_sd: from a cue to the act, log-normal.
        count_every_s, count_log_sd: between two counts of cars, and the error of one, relative.
        weigh_every_s, weigh_log_sd: between two weighings, and the error of one, of its water.
        hoods_every_s, hood_misjudged_share: between two looks at twenty hoods, and the share of
            hoods told wrongly.
        count_takes_s, hoods_take_s, weighing_takes_s: of a person, a look.
    """

    delay_median_s: float
    delay_log_sd: float
    count_every_s: float
    count_log_sd: float
    weigh_every_s: float
    weigh_log_sd: float
    hoods_every_s: float
    hood_misjudged_share: float
    count_takes_s: float
    hoods_take_s: float
    weighing_takes_s: float


@dataclass(frozen=True, slots=True)
class Cues:
    """The chosen rule in cues.

    Attributes:
        found: at most one cue of each kind, in the order clock, cars, hoods, strip; a kind is
            left out where nothing told where its thresholds may lie.
        use: of those that gain over the constant the kind that costs least in all, one that keeps
            to the wish before one that does not; None where none gains. Where the plan's own clock
            times were chosen these, unless another cue or the constant is better by what matters,
            or the constant stands in the plan and they do not gain.
        constant: what needs no cue: always full or, where that is better by what matters, always
            reduced, or else some classes of car reduced all day.
        chosen, band: the chosen rule and the ideal band; band: None where there is none.
        unit: of losses.
        rival: what leaves least firm what the crew is told: of what needs no cue, and where it had
            better stay by the best of that, of the cues too; None where no site was drawn.
        runs: simulated days, counted over rules; days: on which each cue was measured.
    """

    found: tuple[CueFound, ...]
    use: CueKind | None
    constant: RuleMeans
    chosen: RuleMeans
    band: RuleMeans | None
    unit: Unit
    rival: Rival | None
    crew: CrewPace
    runs: int
    days: int

    @property
    def used(self) -> CueFound | None:
        """The cue to use."""
        return next((one for one in self.found if one.kind == self.use), None)

    @property
    def stay(self) -> Rule | None:
        """The rule without a cue by which the crew had better stay, because no cue that it can see
        is better by what matters; None where one is, or where no cue was found."""
        return self.constant.rule if self.found and self.use is None else None


def in_cues(
    answer: SwitchAnswer,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    tried: Shape | None = None,
    measured: Shape | None = None,
) -> Cues | None:
    """The chosen rule of an answer in cues; None where it does not say when to reduce.

    Args:
        executor, progress: see `Trials`.
        tried, measured: draws on which thresholds are chosen and measured.
    """
    question, chosen = answer.asked, answer.chosen
    if not time_terms(chosen):
        return None
    drawn = bool(question.drawn)
    tried = tried or (TRIED if drawn else ONE_SITE_TRIED)
    measured = measured or (MEASURED if drawn else ONE_SITE_MEASURED)
    band, windows = ideal(answer, Band), ideal(answer, Clock)
    sources = list(dict.fromkeys(rule for rule in (band, windows) if rule is not None))
    readings = read_off(question, sources, READ, executor, lambda done: progress(done, READ))
    clocks = [term for rule in sources for term in time_terms(rule) if isinstance(term, Clock)]
    tries = {
        kind: tuple(dict.fromkeys(with_term(chosen, cue) for cue in of_kind))
        for kind, of_kind in grids(question.site, clocks, readings).items()
    }
    value = _Value(answer)
    first = math.ceil(max(len(t) for t in answer.outcomes) / MOST_POINTS) + SITES.blocks
    draws = crossed_draws(question, tried, first)
    rules = (chosen, *(rule for kind in KINDS for rule in tries[kind]))
    trials, at = Trials(question, executor, progress), 1
    table = trials.outcomes([(AS_IT_IS, rules)], draws)
    mine = (answer.rules[PRESENT], *question.in_plan)
    # where the plan's own clock times stand they are kept to, unless others are better
    kept_to = next((term for term in clocks if chosen in mine and term in time_terms(chosen)), None)
    as_is = None if kept_to is None else with_term(chosen, CrewClock(kept_to.windows))
    best: dict[CueKind, Rule] = {}
    for kind in KINDS:
        own = table[at : at + len(tries[kind])]
        at += len(tries[kind])
        if len(own):
            place = value.order(own, table[0])[0]
            if as_is in tries[kind]:
                kept = tries[kind].index(as_is)
                shape = (tried.blocks, tried.points, tried.days, len(OUTCOMES))
                is_better = value.better(own[place], own[kept], table[0], shape, surely=True)
                place = place if is_better else kept
            best[kind] = tries[kind][place]

    alike = tuple(dict.fromkeys((FULL, REDUCED, unchanging(answer) or FULL)))
    named = (chosen, *alike, *([] if band is None else [band]))
    rules = tuple(dict.fromkeys((*named, *best.values())))
    draws = crossed_draws(question, measured, first + tried.blocks)
    read = tuple(best.values())
    table = trials.outcomes([(AS_IT_IS, rules), *([(UNREAD, read)] if read else [])], draws)
    shape = (measured.blocks, measured.points, measured.days, len(OUTCOMES))
    of = dict(zip(rules, table, strict=False))
    unread = dict(zip(read, table[len(rules) :], strict=True))

    def better(rule: Rule, other: Rule, *, surely: bool = True) -> bool:
        return value.better(of[rule], of[other], of[chosen], shape, surely=surely)

    constant = FULL
    for rule in alike:
        constant = rule if better(rule, constant, surely=False) else constant

    def found_of(kind: CueKind, rule: Rule) -> CueFound:
        own, other, stay = (of[one].reshape(shape) for one in (rule, chosen, constant))
        free = unread[rule]
        found = CueFound(
            *value.figures(rule, of[rule], of[chosen]),
            kind,
            value.loss(own, other),
            None if band is None else value.loss(own, of[band].reshape(shape)),
            compare_rules(question, chosen, own, other),
            compare_rules(question, constant, own, stay),
            float((column(of[rule], COST) - column(free, COST)).mean()),
            float((column(of[constant], COST) - column(free, COST)).mean()),
            float(column(of[rule], "looks_s").mean()),
            better(rule, constant),
            len(tries[kind]),
        )
        return replace(found, gains=found.gains and found.pays)

    def measured_of(rule: Rule) -> RuleMeans:
        return RuleMeans(*value.figures(rule, of[rule], of[chosen]))

    found = tuple(found_of(kind, rule) for kind, rule in best.items())
    able = [one for one in found if one.gains]
    least = min(able, key=lambda one: (not one.keeps, one.cost), default=None)
    own_clock = next((one for one in found if one.rule == as_is), None)
    if own_clock is not None and (own_clock.gains or constant not in mine):
        others = (constant, *(one.rule for one in able))
        if not any(better(one, own_clock.rule) for one in others if one != own_clock.rule):
            least = own_clock

    told, rivals = (constant, (*alike, *best.values())) if least is None else (least.rule, alike)
    rival = None
    if question.known is not None:
        mine = of[told].reshape(shape)
        among = [rule for rule in rivals if rule != told]
        against = [stands(question, mine, of[rule].reshape(shape)) for rule in among]
        strong = strongest(enumerate(against))
        rival = None if strong is None else Rival(among[strong[0]], strong[1])
    return Cues(
        found,
        None if least is None else least.kind,
        measured_of(constant),
        measured_of(chosen),
        None if band is None else measured_of(band),
        value.unit,
        rival,
        pace_of(question.site),
        READ * len(sources) + trials.runs,
        table.shape[1],
    )


def pace_of(site: Site) -> CrewPace:
    """How the crew of a site is simulated."""
    crew = site.crew
    return CrewPace(
        crew.cue_delay_median_s, crew.cue_delay_log_sd, 60.0 * crew.count_every_min,
        crew.count_log_sd, 60.0 * crew.weigh_every_min, site.wheel.strip_log_sd,
        60.0 * crew.hoods_every_min, crew.hood_misjudged_share, 60.0 * crew.cue_cost_count_min,
        60.0 * crew.cue_cost_hoods_min, 60.0 * crew.cue_cost_strip_min,
    )  # fmt: skip


def ideal(answer: SwitchAnswer, kind: type[Band] | type[Clock]) -> Rule | None:
    """The best candidate that says by one band, or by clock windows alone, when to reduce.

    It spares whom the chosen rule spares; where no candidate does, it spares nobody.
    """
    chosen = answer.chosen
    if [type(term) for term in time_terms(chosen)] == [kind]:
        return chosen
    for like in (chosen, Rule(((Clock(()),),))):
        found = _best(answer, partial(_is_like, kind, with_term(like, Clock(()))))
        if found is not None:
            return found
    return None


def _is_like(kind: type[Band] | type[Clock], wanted: Rule, rule: Rule) -> bool:
    of_kind = [type(term) for term in time_terms(rule)] == [kind]
    return of_kind and with_term(rule, Clock(())) == wanted


def unchanging(answer: SwitchAnswer) -> Rule | None:
    """The best candidate that says whom to spare and not when, so that it needs no cue."""

    def fits(rule: Rule) -> bool:
        terms = [term for row in rule.either for term in row]
        return bool(terms) and all(isinstance(term, Classes | Service) for term in terms)

    return _best(answer, lambda rule: rule != REDUCED and fits(rule))


def _best(answer: SwitchAnswer, fits: Callable[[Rule], bool]) -> Rule | None:
    """The best of some candidates by the wish; None where there are none.

    Those with less than half the draws of the one with most are not looked at: with few draws some
    look better than they are.
    """
    order, _ = standing(answer)
    places = [place for place in order if fits(answer.rules[place])]
    most = max((len(answer.outcomes[place]) for place in places), default=0)
    enough = (place for place in places if 2 * len(answer.outcomes[place]) >= most)
    return next((answer.rules[place] for place in enough), None)


class _Value:
    """What a rule is worth by the wish, in one number, beside the chosen rule."""

    def __init__(self, answer: SwitchAnswer) -> None:
        question, chosen = answer.asked, answer.selection.chosen
        self._question: SwitchQuestion = question
        self._searched = answer.outcomes[chosen]
        self._own = answer.selection.burdens[:, chosen]
        self.unit, self._price = unit_of(answer), 0.0
        if self.unit == "full_cars":
            few = min(len(table) for table in answer.outcomes)
            common = np.stack([table[:few] for table in answer.outcomes])
            self._price = price_of(question, common, chosen)

    def of(self, table: Floats) -> Floats:
        """Worth of each row of outcomes, more is better."""
        if self.unit == "money":
            return -column(table, COST)
        if self.unit == "left_damp":
            return -column(table, "left_damp")
        seen = self._question.wish.seen(table)
        return np.asarray(seen.worth - self._price * seen.burdens[1])

    def burdens(self, table: Floats, chosen: Floats) -> Floats:
        """Means of the wish's conditions: the search's of the chosen rule, and the differences."""
        seen = self._question.wish.seen(np.concatenate([chosen[None], table])).burdens.mean(axis=2)
        return np.asarray(self._own[:, None] + seen[:, 1:] - seen[:, :1])

    def order(self, table: Floats, chosen: Floats) -> Sequence[int]:
        """Rules in order of the wish, the best first.

        Those that keep to it come before those that miss it by less than matters; beyond that
        less is missed first.
        """
        excess = excesses(self.burdens(table, chosen), self._question.wish.aim)
        excess = np.where((excess > 0.0) & (excess < 1.0), 1.0, excess)
        worth = self._question.wish.seen(table).worth.mean(axis=1)
        found: list[int] = np.lexsort((-worth, excess)).tolist()
        return found

    def loss(self, own: Floats, other: Floats) -> Gain:
        """What a rule loses to another; tables of shape (blocks, points, days, OUTCOMES)."""
        parts = take_apart(self.of(other) - self.of(own))
        return Gain(parts.mean, range_of(parts.error_low, parts.error_high))

    def better(
        self, own: Floats, other: Floats, chosen: Floats, shape: tuple[int, ...], *, surely: bool
    ) -> bool:
        """Whether a rule is better than another by the wish, by more than what matters.

        Args:
            own, other, chosen: outcomes on common draws, shape (draws, OUTCOMES).
            shape: of the draws in blocks, points and days, and OUTCOMES.
            surely: whether luck must not have made it so; else means decide.
        """
        both = np.stack([own, other])
        aim = self._question.wish.aim
        mine, its = excesses(self.burdens(both, chosen), aim).tolist()
        if its > 1.0 and mine <= its - 1.0:
            return True
        worth = self._question.wish.seen(both).worth
        lead = take_apart((worth[0] - worth[1]).reshape(shape[:3]))
        near = mine <= (1.0 if its <= 1.0 else its + 1.0)
        return near and lead.mean > aim.slack and (lead.error_low > 0.0 or not surely)

    def figures(
        self, rule: Rule, own: Floats, chosen: Floats
    ) -> tuple[Rule, float, float, float, float, bool, bool, bool]:
        """A rule with what is `RuleMeans` of it; tables of shape (draws, OUTCOMES)."""

        def mean(figure: Callable[[Floats], Floats]) -> float:
            apart = figure(own) - figure(chosen)
            return max(0.0, float(figure(self._searched).mean() + apart.mean()))

        wish = self._question.wish
        burdens, aim = self.burdens(own[None], chosen), wish.aim
        if wish.kind == "mean":  # by the very share that is shown
            burdens[-1] = mean(left_damp_share) - wish.allowed_damp_share
        excess = excesses(burdens, aim)
        return (
            rule,
            mean(lambda table: column(table, "left_damp")),
            mean(left_damp_share),
            mean(lambda table: column(table, "full_cars")),
            mean(lambda table: column(table, COST)),
            bool(excess[0] <= 0.0),
            bool(excess[0] <= 1.0),
            bool((burdens[: aim.must, 0] > 0.0).any()),
        )

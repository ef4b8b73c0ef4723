"""Other days: how the plan moves with the day and up to which day always full is enough; plans for
the days ahead, by a first look at all of them and a small search each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from sim.day.engine import AS_IT_IS, Told, Variant, quiet
from sim.day.figures import finite
from sim.day.goodwill import damp_car_price
from sim.day.night import PreviousDay
from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.firm import Standing, strongest
from sim.decide.maps.points import at_demand, at_highest
from sim.decide.switching.advice import stands_on_runs
from sim.decide.switching.at_exit import OWN, MoreHands, all_day
from sim.decide.switching.candidates import (
    coarse_rules,
    narrowed,
    neighbours,
    rank_of,
    to_the_letter,
)
from sim.decide.switching.choice import (
    COST,
    Floats,
    Samples,
    chance_enough,
    column,
    left_damp_share,
)
from sim.decide.switching.hands import (
    Days,
    Pairs,
    best_rules,
    shortest_window_s,
    shortlist,
    windows,
)
from sim.decide.switching.question import (
    SwitchQuestion,
    Trials,
    check,
    outcomes,
    search_draws,
    with_opening,
)
from sim.decide.switching.reasons import at_humidity, halve, warmest
from sim.decide.switching.search import (
    PRESENT,
    SMALL,
    SamplingBudget,
    Selection,
    search,
    select,
    turns_of,
)
from sim.errors import InputError
from sim.inputs import Conditions

Way = Literal["as_expected", "cooler", "hotter", "wetter", "busier", "quieter"]
Day = tuple[Conditions, PreviousDay | None]
"""What a day is expected to bring, and the open day before it."""
DayState = Literal["open", "closed", "no cars", "unknown"]
"""Whether a coming day can be planned; ``unknown`` where nothing can be expected of it."""

WAYS: tuple[Way, ...] = ("as_expected", "cooler", "hotter", "wetter", "busier", "quieter")
APART_K, WETTER, BUSIER, QUIETER = 5.0, 0.15, 1.25, 0.75
"""Kelvins cooler and hotter, relative humidity more, and times the expected cars."""
HOT_MOST_C, COLD_LEAST_C = 50.0, 1.0


# ---- a little different --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MovedPlan:
    """The plan for a day that is a little different.

    Attributes:
        highest_temp_c, humidity, cars: of that day; relative humidity at its warmest hour.
        left_damp_share, full_cars: what the rule does on it; full_left_damp_share: what always full
            does.
        keeps, probability: of the choice among the few rules looked at; see `Selection`.
        same: whether the rule is that of the day as expected.
    """

    way: Way
    highest_temp_c: float
    humidity: float
    cars: float
    rule: Rule
    left_damp_share: float
    full_left_damp_share: float
    full_cars: float
    keeps: bool
    probability: float
    same: bool


def moved_day(conditions: Conditions, way: Way) -> Conditions:
    """The day cooler or hotter (with as much water in the air), wetter, busier or quieter."""
    top, humidity = warmest(conditions)
    if way == "cooler":
        return at_highest(conditions, max(COLD_LEAST_C, top - APART_K))
    if way == "hotter":
        return at_highest(conditions, min(HOT_MOST_C, top + APART_K))
    if way == "wetter":
        return at_humidity(conditions, min(1.0, humidity + WETTER))
    if way == "busier":
        return at_demand(conditions, BUSIER)
    if way == "quieter":
        return at_demand(conditions, QUIETER)
    return conditions


def how_it_moves(
    question: SwitchQuestion,
    rule: Rule,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    effort: SamplingBudget = SMALL,
) -> tuple[MovedPlan, ...]:
    """The plan for each of `WAYS`, among the neighbours of the day's rule and a coarse grid.

    The cloth opens as it does on the day as expected, unless inputs are drawn: then every drawn
    site has the night before that day. About 6 · 1,000 runs.
    """
    base = replace(with_opening(question), among=narrowed(question.site, rule))
    plans: list[MovedPlan] = []
    for place, way in enumerate(WAYS):

        def told(done: int, total: int, place: int = place) -> None:
            progress(place * total + done, len(WAYS) * total)

        conditions = moved_day(base.conditions, way)
        found = search(replace(base, conditions=conditions), executor, told, effort=effort)
        own, of_full = (
            found.outcomes[found.selection.chosen],
            found.outcomes[found.rules.index(FULL)],
        )
        plans.append(
            MovedPlan(
                way, *warmest(conditions), sum(conditions.arrivals_per_h), found.chosen,
                float(left_damp_share(own).mean()), float(left_damp_share(of_full).mean()),
                float(column(own, "full_cars").mean()), found.selection.keeps,
                found.selection.by_crew, not plans or found.chosen == plans[0].rule,
            )
        )  # fmt: skip
    return tuple(plans)


# ---- tipping points ------------------------------------------------------------------------------

TEMPS_K = (-8.0, -4.0, 0.0, 4.0, 8.0)
DEMANDS = (0.6, 0.8, 1.0, 1.2)
LEAST_HUMIDITY = 0.1
HUMIDITIES = (LEAST_HUMIDITY, 0.4, 0.7, 1.0)
HALVINGS = 3
DRAWS, MOST_DRAWS = 16, 64
"""Draws of each point at first, and where those do not tell on which side of the limit it lies."""
TIPPING_SURE = 0.95


@dataclass(frozen=True, slots=True)
class Corner:
    """“Above 24 °C and below 55 % you need no switch”: temperature and humidity."""

    highest_temp_c: float
    humidity: float


@dataclass(frozen=True, slots=True)
class Tipping:
    """Up to which humidity always full is enough, by temperature and demand.

    Attributes:
        highest_temp_c: of the day; demands: times the expected cars, 1 among them; cars: of such a
            day.
        humidity: by demand and temperature, the highest relative humidity at the warmest hour at
            which always full is surely enough; 1 where any is, None where not even
            `least_humidity` is.
        not_from: likewise the lowest at which it surely is not, None where it is nowhere; between
            the two it is too close to tell.
        corners: of each demand, the sentence that covers most; None where no day needs no switch.
        draws, most_draws: on which each point was simulated, and at most where those did not tell;
            runs in all.
    """

    highest_temp_c: tuple[float, ...]
    demands: tuple[float, ...]
    cars: tuple[float, ...]
    humidity: tuple[tuple[float | None, ...], ...]
    not_from: tuple[tuple[float | None, ...], ...]
    least_humidity: float
    corners: tuple[Corner | None, ...]
    draws: int
    most_draws: int
    runs: int


def corner_of(temps_c: Sequence[float], humidity: Sequence[float | None]) -> Corner | None:
    """Of all sentences that hold at every warmer temperature looked at, the one that covers the
    most of what was looked at; None where no day needs no switch.

    Args:
        humidity: the highest at which always full is enough, by temperature; None where none is.
    """
    span = temps_c[-1] - temps_c[0] or 1.0
    best, covered = None, 0.0
    for place, temp in enumerate(temps_c):
        least = min(value or 0.0 for value in humidity[place:])
        width = (temps_c[-1] - temp) / span + 1.0 / len(temps_c)
        if least * width > covered:
            best, covered = Corner(temp, least), least * width
    return best


def border(
    question: SwitchQuestion,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    temps_k: Sequence[float] = TEMPS_K,
    demands: Sequence[float] = DEMANDS,
    draws: int = DRAWS,
    most_draws: int = MOST_DRAWS,
) -> Tipping:
    """Where always full stops being enough, by bisection along humidity on common draws.

    Each temperature keeps the water in the air of the day until humidity is set. Demands must
    hold 1. A point whose draws do not tell with probability `TIPPING_SURE` gets twice as many, up
    to `most_draws`; what they leave open is too close to tell. 20 points · 7 humidities · 16 draws
    at least, in least cost with a few rules each.
    """
    base, most = with_opening(question), max(draws, most_draws)
    conditions = base.conditions
    top, _ = warmest(conditions)
    temps = tuple(
        dict.fromkeys(min(HOT_MOST_C, max(COLD_LEAST_C, top + apart)) for apart in temps_k)
    )
    days = [at_demand(at_highest(conditions, temp), demand) for demand in demands for temp in temps]
    expected = len(days) * len(base.rivals) * draws * (len(HUMIDITIES) + HALVINGS)
    trials = Trials(base, executor, progress, expected)

    def sides(points: Sequence[tuple[int, float]]) -> list[int | None]:
        return _sides(trials, [at_humidity(days[at], value) for at, value in points], draws, most)

    states = sides([(at, value) for at in range(len(days)) for value in HUMIDITIES])
    ends: list[list[float]] = []
    for at in range(len(days)):
        here = states[at * len(HUMIDITIES) : (at + 1) * len(HUMIDITIES)]
        # beyond the first that is not enough luck may keep it once more
        count = next((k for k, side in enumerate(here) if side != ENOUGH), len(here))
        missed = [k for k in range(count, len(here)) if here[k] == NOT_ENOUGH]
        low = HUMIDITIES[count - 1] if count else np.nan
        ends.append([low, HUMIDITIES[missed[0]] if missed else np.nan])
    bracketed = list(map(list, pairwise(HUMIDITIES)))
    near = {at: one for at, one in enumerate(ends) if one in bracketed}
    halve(near, lambda middles: sides(list(middles.items())), HALVINGS)
    enough, not_from = (
        tuple(tuple(map(finite, row)) for row in side.reshape(len(demands), -1).tolist())
        for side in np.array(ends).T
    )
    return Tipping(
        temps, tuple(demands), tuple(sum(conditions.arrivals_per_h) * part for part in demands),
        enough, not_from, LEAST_HUMIDITY, tuple(corner_of(temps, row) for row in enough), draws,
        most, trials.runs,
    )  # fmt: skip


ENOUGH, NOT_ENOUGH = 0, 1
"""What the draws say of always full on a day; None where they leave it open."""


def _sides(trials: Trials, days: Sequence[Conditions], first: int, most: int) -> list[int | None]:
    """On which side of the limit days lie, by `first` draws and where that takes it by `most`."""
    question, draws = trials.question, search_draws(trials.question, most)
    sides: list[int | None] = [None] * len(days)
    seen: dict[int, Floats] = {}
    places, had = list(range(len(days))), 0
    while places and had < most:
        upto = min(2 * had or first, most)
        variants = [Variant(conditions=days[place]) for place in places]
        tables = trials.variants(variants, question.rivals, draws[had:upto])
        for place, table in zip(places, tables, strict=True):
            seen[place] = np.concatenate([seen[place], table], axis=1) if had else table
            chance = chance_enough(question.wish, seen[place], question.seed)
            if chance >= TIPPING_SURE:
                sides[place] = ENOUGH
            elif chance <= 1.0 - TIPPING_SURE:
                sides[place] = NOT_ENOUGH
        places, had = [place for place in places if sides[place] is None], upto
    return sides


# ---- the days ahead ------------------------------------------------------------------------------

FRESH_SITES, FIRST_FRESH = 64, 64
"""Drawn sites by which a coming day's rule is called firm, and the first of them: later than any
that the search has seen."""
ROUGH, FINE = 16, 32
"""Draws of every rule of the coarse grid, and of every neighbour of the best of it."""
MOST_MORE, WINDOWS = 2, 8
"""So many people more at the exit are looked at, and draws by which their hours are found."""
EXPECTED = 2_000
"""Runs of a day's plan, more or less."""
SURE = 0.9
EMPTY_CARS = 1e-9
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day's plan.

    Attributes:
        keeps: whether the rule keeps to the wish.
        probability: that it is good among those looked at.
        left_damp_share, full_left_damp_share: mean damp share of the rule, and of always full.
        standing: against what leaves it least firm of always full, always reduced, the present
            rule and that with the site's own people, on draws not seen before, each a drawn site on
            a day of its own; None where no guess was drawn.
        hands: people more at the exit that go with the rule; own_rule: the rule without them.
        more: the day's cost with them less that without [money].
        rough: whether it is a first look: among a dozen rules on few days, nobody more looked at.
    """

    rule: Rule
    keeps: bool
    probability: float
    left_damp_share: float
    full_left_damp_share: float
    standing: Standing | None
    hands: MoreHands = OWN
    own_rule: Rule = FULL
    more: float = 0.0
    rough: bool = False

    @property
    def switches(self) -> bool:
        """Whether the day asks for anything but always full."""
        return self.rule != FULL

    def is_like(self, other: DayPlan) -> bool:
        """Whether another plan asks for the same, clock times for the crew as windows."""
        mine, its = (to_the_letter(one.rule) for one in (self, other))
        return mine == its and self.hands == other.hands


def plan_days(
    question: SwitchQuestion,
    days: Sequence[Day],
    executor: Executor | None = None,
    progress: Told = quiet,
    early: Callable[[tuple[DayPlan | None, ...]], None] = lambda plans: None,
) -> tuple[DayPlan | None, ...]:
    """A plan for each day, None for one that can't be simulated, such as one with frost, or without
    cars; the question's own day is not looked at.

    Always full is taken where it is enough with probability `SURE` and nobody more at the exit
    could pay; else the rule comes from a coarse grid, then from the neighbours of the best of it,
    and beside it up to `MOST_MORE` people more, as `sim.decide.switching.hands` chooses them among
    these rules. 16 runs for a day that needs nothing, else about 1,000.

    Args:
        progress: told of days done; it may raise to cancel, also during a day.
        early: handed a first look at all of them, then the plans again whenever one is made.
    """
    glances = []
    for conditions, evening in days:
        asked = replace(question, conditions=conditions, evening=evening, among=None)
        glances.append(_glance(asked, executor, lambda done, total: progress(0, len(days))))
    plans = [None if one is None else one.plan for one in glances]
    for number, glance in enumerate(glances):
        if glance is None:
            continue
        early(tuple(plans))

        def told(done: int, total: int, number: int = number) -> None:
            progress(number, len(days))

        plans[number] = _plan(glance, executor, told)
    progress(len(days), len(days))
    return tuple(plans)


@dataclass(frozen=True, slots=True)
class _Glance:
    """A first look at a day: a few rules on a few draws; outcomes of shape (rules, draws, …)."""

    question: SwitchQuestion
    rules: tuple[Rule, ...]
    table: Floats

    def of(self, rules: Sequence[Rule]) -> Floats:
        """Outcomes of some of its rules."""
        return self.table[[self.rules.index(rule) for rule in rules]]

    @property
    def plan(self) -> DayPlan:
        """The rule that it leads to."""
        found = _choice(self.question, self.rules, self.table)
        own, full = self.table[found.chosen], self.of([FULL])[0]
        rule = self.rules[found.chosen]
        mine, its = (float(left_damp_share(one).mean()) for one in (own, full))
        return DayPlan(rule, found.keeps, found.by_crew, mine, its, None, own_rule=rule, rough=True)


def _glance(question: SwitchQuestion, executor: Executor | None, told: Told) -> _Glance | None:
    if not can_be_run(question):
        return None
    rules = replace(question, among=coarse_rules(question.site)).rules
    draws = search_draws(question, DRAWS)
    table = outcomes(question, [(AS_IT_IS, rules)], draws, executor, told)
    return _Glance(question, rules, table)


def _plan(glance: _Glance, executor: Executor | None, told: Told) -> DayPlan:
    question = glance.question
    first = glance.of(question.rivals)
    share = float(left_damp_share(first[0]).mean())
    chance = chance_enough(question.wish, first, question.seed)
    is_full = chance >= SURE
    if is_full and _cannot_pay(question, first[0]):
        standing = _standing(question, FULL, OWN, FULL, executor, told)
        return DayPlan(FULL, True, chance, share, share, standing)
    days = Days(question, executor, told, EXPECTED)
    site, wish = question.site, question.wish
    whole = [all_day(site, people) for people in range(1, MOST_MORE + 1)]
    # so few are looked at that none is dropped on the luck of its first draws
    coarse = replace(question, among=narrowed(site, FULL)).rules
    rough_table = days.outcomes(coarse, [OWN, *whole], search_draws(question, ROUGH))
    rough = FULL if is_full else coarse[_choice(question, coarse, rough_table[:, :, 0]).chosen]
    more = windows(days, (FULL, rough), search_draws(question, WINDOWS), MOST_MORE)
    near = replace(question, among=(rough, *neighbours(site, rough))).rules
    others = shortlist(wish, rough, coarse, [OWN, *whole], rough_table)
    fine = list(dict.fromkeys((*near, *(others[one][0] for one in whole))))
    hands = list(dict.fromkeys([OWN, *whole, *more]))
    table = days.outcomes(fine, hands, search_draws(question, FINE))
    sure = _choice(question, near, table[: len(near), :, 0])
    own = near[sure.chosen]
    tried = {one: (own,) if one == OWN else tuple(fine) for one in hands}
    pairs = Pairs.of(question, best_rules(wish, tried, fine, table))
    pair, alone = pairs.chosen, pairs.pairs[0]
    is_own = pair.hands == OWN
    return DayPlan(
        pair.rule,
        sure.keeps if is_own else wish.is_kept(pair.table),
        sure.by_crew if is_own else pairs.chance,
        float(left_damp_share(pair.table).mean()),
        share,
        _standing(question, pair.rule, pair.hands, own, executor, told),
        pair.hands,
        own,
        float((column(pair.table, COST) - column(alone.table, COST)).mean()),
    )


def _choice(question: SwitchQuestion, rules: Sequence[Rule], table: Floats) -> Selection:
    """The choice among rules that all had the same draws, none of them dropped."""
    count = table.shape[1]

    def sample(places: Sequence[int], first: int, last: int) -> Samples:
        return question.wish.seen(table[list(places), first:last])

    ranks = np.array([rank_of(rule) for rule in rules])
    by_crew = np.array([rule.by_crew for rule in rules])
    effort = SamplingBudget(sure=count)
    return select(
        len(rules), sample, question.wish.aim, effort, question.seed, ranks=ranks,
        by_crew=by_crew, turns=turns_of(question, rules), exhaustive=True,
    )  # fmt: skip


def _cannot_pay(question: SwitchQuestion, full: Floats) -> bool:
    """Whether all that cars leaving damp cost when wiped in full is less than the least wage and
    what matters; with the site's middle prices."""
    money = question.middle.money
    least = money.wage_per_h * shortest_window_s(question.site) / HOUR_S
    lost = float(column(full, "left_damp").mean()) * damp_car_price(money)
    return lost <= least + question.site.wishes.matters_money


def _standing(
    question: SwitchQuestion,
    rule: Rule,
    hands: MoreHands,
    own: Rule,
    executor: Executor | None,
    told: Told,
) -> Standing | None:
    if question.known is None:
        return None
    others = [
        one for one in (question.rules[PRESENT], FULL, REDUCED, own) if hands.people or one != rule
    ]
    rules = tuple(dict.fromkeys((rule, *others)))
    draws = search_draws(question, FRESH_SITES, FIRST_FRESH)
    table = Days(question, executor, told, EXPECTED).outcomes(rules, [OWN, hands], draws)
    by_cost = hands.people > 0
    stands = (
        stands_on_runs(question, table[0, :, 1], table[rules.index(one), :, 0], by_cost=by_cost)
        for one in dict.fromkeys(others)
    )
    found = strongest(enumerate(stands))
    return None if found is None else found[1]


def can_be_run(question: SwitchQuestion) -> bool:
    """Whether a day can be simulated, and has cars."""
    try:
        check(question)
    except InputError:
        return False
    return sum(question.conditions.arrivals_per_h) > EMPTY_CARS

"""Why always full is not enough on a day, what would change the advice, and what else would help.

Each cause is relieved step by step on the same draws until always full is enough: what has to be
relieved least is what binds. Every remedy is simulated on the draws of the day as it is, with
always full, always reduced, the rule that was chosen and a few coarse ones; the best of these by
the wish counts, so that a remedy is not judged by a rule that it makes needless. Running on with a
failed safety device is no remedy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal, TypeVar

import numpy as np

from sim.day.engine import AS_IT_IS, Draw, Told, Variant, quiet, simulate
from sim.day.goodwill import GOODWILL_COUNTS, goodwill_of
from sim.day.rules import FULL, Rule
from sim.decide.maps.points import at_demand, at_highest
from sim.decide.switching.at_exit import all_day, entered, read_hands
from sim.decide.switching.candidates import coarse_rules
from sim.decide.switching.choice import (
    COST,
    Floats,
    Wish,
    best_by_means,
    chance_enough,
    column,
    is_enough,
    is_good_first,
    left_damp_share,
)
from sim.decide.switching.question import WATER, SwitchQuestion, Trials, search_draws
from sim.decide.switching.search import SwitchAnswer
from sim.inputs import AGENT_FILM, SECOND, Conditions, Site, Steps, Value, has_second_cloth
from sim.units import show_clock

Cause = Literal["many_cars", "humid_air", "little_idle", "wet_start"]
Along = Literal["temp_c", "humidity", "cars"]
State = Literal["nothing_needed", "rule_helps", "nothing_helps"]
RemedyKind = Literal[
    "slower_belt", "dry_set", "faster_idle", "fewer_cars", "finisher", "drying_agent",
    "second_cloth",
]  # fmt: skip
Key = TypeVar("Key")

CAUSES: tuple[Cause, ...] = ("many_cars", "humid_air", "little_idle", "wet_start")
ALONGS: tuple[Along, ...] = ("temp_c", "humidity", "cars")
FIRST_STEPS = (0.25, 0.5, 0.75, 1.0)
HALVINGS = 3
MOST_APART_K, MOST_DEMAND, LEAST_HUMIDITY = 12.0, 1.6, 0.1
FLIP_STEPS = 4
"""Steps either way along each input among which a tipping value is looked for at first."""
FLIP_HALVINGS = 4
REDUCES = 0.25
"""Share of an hour's cars from which on the hour counts as reduced."""
DRAWS = 32
"""Draws on which remedies are tried."""
SURE = 0.9
"""Probability from which on always full is said to be enough."""
BELT_SHARES = (1.0 / 3.0, 2.0 / 3.0, 1.0)
"""How far towards the slowest belt that the manual allows, and likewise the fastest idle."""
AWAY = (0.1, 0.2, 0.3)
"""Shares of the day's cars that are turned away."""
HOUR_S = 3600.0


def halve(
    spans: dict[Key, list[float]],
    sides: Callable[[dict[Key, float]], Sequence[int | None]],
    times: int,
) -> None:
    """Narrows spans down by their middles, all together, so many times.

    Args:
        sides: whether each middle lies with the first end of its span (0) or the second (1); None
            where nothing tells, and the span stays as it is.
    """
    live = list(spans)
    for _ in range(times):
        if not live:
            break
        middles = {key: 0.5 * (spans[key][0] + spans[key][1]) for key in live}
        found = dict(zip(live, sides(middles), strict=True))
        for key, side in found.items():
            if side is not None:
                spans[key][side] = middles[key]
        live = [key for key, side in found.items() if side is not None]


# ---- the cloth's balance -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Balance:
    """The cloth's water in the hours in which the advice reduces, if it were always wiped in full.

    Where the advice reduces in no hour: in the hour in which the cloth is wettest.

    Attributes:
        hours: the clock hours; reduced_h: hours a day in which the advice reduces.
        taken_kg_h, thrown_kg_h, evaporated_kg_h: water per hour, means over draws.
        saturation, limit: mean saturation of those hours and mean damp limit.
        highest: mean over draws of the highest saturation of the day.
        over_limit: share of draws whose highest saturation is above the damp limit.
    """

    hours: tuple[int, ...]
    reduced_h: float
    taken_kg_h: float
    thrown_kg_h: float
    evaporated_kg_h: float
    saturation: float
    limit: float
    highest: float
    over_limit: float


def balance(trials: Trials, rule: Rule, draws: Sequence[Draw]) -> Balance:
    """The cloth's water under always full, in the hours in which a rule reduces."""
    found = trials.hours([(AS_IT_IS, (FULL, rule))], draws)
    reduced = 1.0 - found["full_share"]
    spared = hourly_means(reduced[1]) - hourly_means(reduced[0])
    wetness = hourly_means(found["saturation_mean"][0])
    chosen = np.flatnonzero(spared >= REDUCES)
    if not len(chosen):
        chosen = np.array([int(np.argmax(wetness))])
    taken, thrown, dried = (float(hourly_means(found[name][0])[chosen].mean()) for name in WATER)
    highest, limit = found["highest"][0, :, 0], found["limit"][0, :, 0]
    return Balance(
        tuple(chosen.tolist()), float(np.maximum(spared, 0.0).sum()), taken, thrown, dried,
        float(wetness[chosen].mean()), float(limit.mean()), float(highest.mean()),
        float(np.mean(highest > limit)),
    )  # fmt: skip


def hourly_means(table: Floats) -> Floats:
    """Means over draws by hour; 0 in hours that no draw has."""
    seen = ~np.isnan(table)
    count = np.maximum(seen.sum(axis=0), 1)
    return np.asarray(np.where(seen, table, 0.0).sum(axis=0) / count)


# ---- what binds ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Relief:
    """What relieving one cause does.

    Attributes:
        least: least share of the cause that has to go for always full to be enough; None where
            even all of it would not do.
        left_damp_share: of always full with all of the cause gone.

    By cause, all of it is: every car; all moisture in the air; for too little idle time, the gap
    between cars doubled; what the cloth holds at opening more than a dry set does.
    """

    cause: Cause
    least: float | None
    left_damp_share: float


def reliefs(trials: Trials, draws: Sequence[Draw]) -> tuple[Relief, ...]:
    """Every cause, the one that binds first; runs: causes · 7 · draws.

    A question whose wish always full keeps already has a least of 0 for every cause.
    """
    question, wish, rules = trials.question, trials.question.wish, trials.question.rivals

    def enough(shares: Iterable[tuple[Cause, float]]) -> list[bool]:
        variants = [_relieved(question, cause, share) for cause, share in shares]
        return [is_enough(wish, one) for one in trials.variants(variants, rules, draws)]

    first = [_relieved(question, cause, step) for cause in CAUSES for step in FIRST_STEPS]
    now, *relieved = trials.variants([AS_IT_IS, *first], rules, draws)
    is_kept = is_enough(wish, now)
    least: dict[Cause, float | None] = dict.fromkeys(CAUSES, 0.0 if is_kept else None)
    spans: dict[Cause, list[float]] = {}
    shares: dict[Cause, float] = {}
    for place, cause in enumerate(CAUSES):
        parts = relieved[place * len(FIRST_STEPS) : (place + 1) * len(FIRST_STEPS)]
        shares[cause] = float(left_damp_share(parts[-1][:1]).mean())
        kept = [is_enough(wish, part) for part in parts]
        if not is_kept and any(kept):
            at = kept.index(True)
            spans[cause] = [(0.0, *FIRST_STEPS)[at], FIRST_STEPS[at]]
    halve(spans, lambda middles: enough(middles.items()), HALVINGS)
    least |= {cause: span[1] for cause, span in spans.items()}
    found = [Relief(cause, least[cause], shares[cause]) for cause in CAUSES]
    return tuple(sorted(found, key=lambda r: (r.least is None, r.least or 0.0, r.left_damp_share)))


def _relieved(question: SwitchQuestion, cause: Cause, share: float) -> Variant:
    conditions, line = question.conditions, question.site.line
    if cause == "many_cars":
        return Variant(conditions=at_demand(conditions, 1.0 - share))
    if cause == "humid_air":
        drier = tuple(max(1e-3, value * (1.0 - share)) for value in conditions.humidity)
        return Variant(conditions=replace(conditions, humidity=drier))
    if cause == "little_idle":
        gap = max(0.0, line.car_spacing_m - question.site.reference.numbers.length_m)
        wider = line.car_spacing_m + share * max(gap, line.least_gap_m)
        return Variant((("car_spacing_m", wider),))
    return Variant(drier=share)


# ---- what would flip it --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Flip:
    """Where along one input of the day the present rule turns from worse to as good, or back.

    As good: it keeps to the wish and is within what matters of the best of those compared.

    Attributes:
        now: value of the input: highest temperature [°C], relative humidity at that hour, cars.
        below, above: the nearest tipping values on either side; None where there is none within
            `low` and `high`, which were looked at.
    """

    along: Along
    now: float
    below: float | None
    above: float | None
    low: float
    high: float


def flips(
    trials: Trials, present: Rule, others: Sequence[Rule], draws: Sequence[Draw]
) -> tuple[Flip, ...]:
    """Tipping values of whether the present rule is good among it and some others.

    Runs: 3 · (2 · 4 + 2 · 4 at most) · draws, each with every rule.
    """
    return tuple(_flip(trials, (present, *others), along, draws) for along in ALONGS)


def _flip(trials: Trials, rules: tuple[Rule, ...], along: Along, draws: Sequence[Draw]) -> Flip:
    conditions, wish = trials.question.conditions, trials.question.wish
    now, low, high = _range(conditions, along)

    def good(values: Iterable[float]) -> list[bool]:
        variants = [Variant(conditions=_moved(conditions, along, value)) for value in values]
        return [is_good_first(wish, one) for one in trials.variants(variants, rules, draws)]

    sides = [np.linspace(now, end, FLIP_STEPS + 1).tolist() for end in (low, high)]
    here, *after = good([now, *sides[0][1:], *sides[1][1:]])
    spans: dict[int, list[float]] = {}
    for place, side in enumerate(sides):
        path = [here, *after[place * FLIP_STEPS : (place + 1) * FLIP_STEPS]]
        if (not here) in path:
            turn = path.index(not here)
            spans[place] = side[turn - 1 : turn + 1]
    halve(spans, lambda middles: [one != here for one in good(middles.values())], FLIP_HALVINGS)
    below, above = (0.5 * sum(spans[place]) if place in spans else None for place in (0, 1))
    return Flip(along, now, below, above, low, high)


def _range(conditions: Conditions, along: Along) -> tuple[float, float, float]:
    """The value now, and the least and largest looked at."""
    top, humidity = warmest(conditions)
    if along == "temp_c":
        return top, max(1.0, top - MOST_APART_K), min(50.0, top + MOST_APART_K)
    if along == "humidity":
        return humidity, min(humidity, LEAST_HUMIDITY), 1.0
    now = sum(conditions.arrivals_per_h)
    return now, now / 4.0, now * MOST_DEMAND


def _moved(conditions: Conditions, along: Along, value: float) -> Conditions:
    if along == "temp_c":
        return at_highest(conditions, value)
    if along == "humidity":
        return at_humidity(conditions, value)
    return at_demand(conditions, value / max(1e-9, sum(conditions.arrivals_per_h)))


def warmest(conditions: Conditions) -> tuple[float, float]:
    """Highest temperature of a day [°C], and relative humidity at that hour."""
    top = max(conditions.temp_c)
    return top, conditions.humidity[conditions.temp_c.index(top)]


def at_humidity(conditions: Conditions, humidity: float) -> Conditions:
    """The day with another humidity at its warmest hour: as much more or less water in every hour,
    at most what the air can hold."""
    _, now = warmest(conditions)
    moved = tuple(min(1.0, max(1e-3, value * humidity / now)) for value in conditions.humidity)
    return replace(conditions, humidity=moved)


# ---- what else would help ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Remedy:
    """What a remedy does, with the best of a few rules.

    Attributes:
        amount: belt or idle speed [m/s, rev/s], time of the dry set [s after midnight], share of
            cars turned away, people more, film with an agent ÷ without; 0 for a second cloth.
        minutes: that the change of set takes; 0 for the others.
        rule: the best of those looked at, with it.
        keeps: whether it then keeps to the wish.
        left_damp_share, left_damp, cars_lost, full_cars: a day; lost are also cars turned away.
        spared: cars leaving damp fewer than without, by the best rule of each.
        gained: cars more that are wiped in full.
        cost: money a day more than without, everything that a day costs included; takings of lost
            cars are in it, and what it spares in goodwill is not taken off.
        net: the same with what it spares taken off: a remedy below 0 pays for itself.
    """

    kind: RemedyKind
    amount: float
    minutes: float
    rule: Rule
    keeps: bool
    left_damp_share: float
    left_damp: float
    cars_lost: float
    full_cars: float
    spared: float
    gained: float
    cost: float
    net: float


@dataclass(frozen=True, slots=True)
class Remedies:
    """Whether anything is needed, whether switching is enough, and what else helps.

    Attributes:
        state: ``nothing_needed``: always full keeps to the wish as good as surely;
            ``nothing_helps``: not even always reduced keeps to it; else ``rule_helps``.
        chance_full, chance_reduced: probability that always full (reduced) keeps to the wish.
        balance: of always full: its highest saturation against the damp limit.
        left_damp_share: of the best of the rules without any remedy.
        rows: remedies that buy anything, best first: those by which the wish is kept before
            others, then by what a unit of money buys, then by what they buy; empty where nothing
            is needed.
        runs: simulated days, counted over rules.
    """

    state: State
    chance_full: float
    chance_reduced: float
    balance: Balance
    left_damp_share: float
    rows: tuple[Remedy, ...]
    runs: int


def remedies(
    answer: SwitchAnswer,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    draws: int = DRAWS,
) -> Remedies:
    """Whether anything is needed and what else would help; about 14 · 12 · 32 runs."""
    question = answer.asked
    wish, few = question.wish, search_draws(question, draws)
    others = question.rivals
    rules = tuple(dict.fromkeys((*coarse_rules(question.site), answer.chosen)))
    trials, aside = Trials(question, executor, progress), Trials(question, executor)
    first = trials.outcomes([(AS_IT_IS, (*others, *rules))], few)
    full = chance_enough(wish, first[: len(others)], question.seed)
    every = first[len(others) :]
    reduced = chance_enough(wish, every[1:2], question.seed)
    water = balance(aside, answer.chosen, few)
    best = _best(wish, every)
    before = every[best]
    share = float(left_damp_share(before).mean())
    state: State = "nothing_helps" if reduced < 0.5 and wish.kind != "cost" else "rule_helps"
    rows: list[Remedy] = []
    if full >= SURE:
        state = "nothing_needed"
    else:
        tried = list(_tried(question, water))
        tables = trials.variants([variant for _, _, variant in tried], rules, few)
        rows += [
            _remedy(question, rules, before, kind, amount, after)
            for (kind, amount, _), after in zip(tried, tables, strict=True)
        ]
        with_one = simulate(
            question.experiment, [(AS_IT_IS, rules)], few,
            partial(read_hands, (all_day(question.site, 1),)), executor, progress,
        )  # fmt: skip
        rows.append(_remedy(question, rules, before, "finisher", 1.0, with_one[:, :, 0]))

    def order(row: Remedy) -> tuple[bool, float, float]:
        what = _bought(row, state, wish)
        return not row.keeps, -what / row.cost if row.cost > 0.0 else -math.inf, -what

    useful = sorted((row for row in rows if _bought(row, state, wish) > 0.0), key=order)
    runs = trials.runs + aside.runs + (len(rules) * draws if rows else 0)
    return Remedies(state, full, reduced, water, share, tuple(useful), runs)


def _bought(row: Remedy, state: State, wish: Wish) -> float:
    """What a remedy buys: damp cars spared where nothing helps, else cars more wiped in full, or
    for least cost what it spares in goodwill."""
    if wish.kind == "cost":
        return row.cost - row.net
    return row.spared if state == "nothing_helps" else row.gained


def _tried(question: SwitchQuestion, water: Balance) -> Iterator[tuple[RemedyKind, float, Variant]]:
    line, wheel = question.site.line, question.site.wheel
    usual = line.conveyor_speed_m_s
    for share in BELT_SHARES:
        speed = usual - share * (usual - line.slowest_belt_m_s)
        if speed < usual:
            yield "slower_belt", speed, Variant(slowed_belt(line.speed_timetable, speed, usual))
    for share in BELT_SHARES:
        idle = wheel.idle_speed_rev_s
        idle += share * (wheel.fastest_wheel_rev_s - idle)
        if idle > wheel.idle_speed_rev_s:
            yield "faster_idle", idle, Variant((("idle_speed_rev_s", idle),))
    if question.site.wear.sets_owned >= 2 and not question.cloth.strip():
        # noon, and a third and half of the hours in which the advice reduces
        hours = {12.0, water.hours[len(water.hours) // 3], water.hours[len(water.hours) // 2]}
        for hour in sorted(hours):
            if line.open_h < hour < line.close_h:
                yield "dry_set", HOUR_S * hour, Variant(cloth=show_clock(HOUR_S * hour))
    if question.site.water.rinse_agent_factor == 1.0:
        yield "drying_agent", AGENT_FILM, Variant((("rinse_agent_factor", AGENT_FILM),))
    if has_second_cloth(question.site):
        yield "second_cloth", 0.0, Variant((("cloth_kind", SECOND),))
    for away in AWAY:
        yield "fewer_cars", away, Variant(conditions=at_demand(question.conditions, 1.0 - away))


def to_have(site: Site, row: Remedy, cloth: str) -> tuple[dict[str, Value], str] | None:
    """What a scenario changes to have a remedy, and its dry sets, where it has `cloth` without;
    None where nobody can enter it, as cars that are turned away."""
    line = site.line
    if row.kind == "slower_belt":
        usual = line.conveyor_speed_m_s
        return dict(slowed_belt(line.speed_timetable, row.amount, usual)), cloth
    if row.kind == "dry_set":
        return {}, show_clock(row.amount)
    if row.kind == "finisher":
        return entered(site, all_day(site, round(row.amount))), cloth
    changes: dict[RemedyKind, dict[str, Value]] = {
        "faster_idle": {"idle_speed_rev_s": row.amount},
        "drying_agent": {"rinse_agent_factor": row.amount},
        "second_cloth": {"cloth_kind": SECOND},
    }
    return (changes[row.kind], cloth) if row.kind in changes else None


def slowed_belt(table: Steps, speed: float, usual: float) -> tuple[tuple[str, Value], ...]:
    """The belt at a speed; a timetable is slowed in proportion, and never below it."""
    if not table:
        return (("conveyor_speed_m_s", speed),)
    slowed = tuple((start, min(was, max(speed, was * speed / usual))) for start, was in table)
    return (("conveyor_speed_m_s", speed), ("speed_timetable", slowed))


def _best(wish: Wish, table: Floats) -> int:
    """Place of the best rule by the wish; table of shape (rules, draws, OUTCOMES)."""
    return best_by_means(wish.seen(table), wish.aim)


def _remedy(
    question: SwitchQuestion,
    rules: tuple[Rule, ...],
    before: Floats,
    kind: RemedyKind,
    amount: float,
    table: Floats,
) -> Remedy:
    best = _best(question.wish, table)
    after, money = table[best], question.site.money
    lost = float(column(after, "cars_lost").mean())
    net = float((column(after, COST) - column(before, COST)).mean())
    if kind == "fewer_cars":
        away = amount * sum(question.conditions.arrivals_per_h)
        lost += away
        net += away * money.lost_car_cost
    relief = _goodwill(question, before) - _goodwill(question, after)
    return Remedy(
        kind, amount, question.site.wear.set_change_min if kind == "dry_set" else 0.0, rules[best],
        cars_lost=lost,
        spared=float((column(before, "left_damp") - column(after, "left_damp")).mean()),
        gained=float((column(after, "full_cars") - column(before, "full_cars")).mean()),
        cost=net + relief, net=net, keeps=question.wish.is_kept(after), **_means(after),
    )  # fmt: skip


def _means(after: Floats) -> dict[str, float]:
    """What a day is of a remedy's; outcomes of shape (draws, OUTCOMES)."""
    return {
        "left_damp_share": float(left_damp_share(after).mean()),
        "left_damp": float(column(after, "left_damp").mean()),
        "full_cars": float(column(after, "full_cars").mean()),
    }


def _goodwill(question: SwitchQuestion, table: Floats) -> float:
    """Goodwill of a day in money, reduced wipes among it."""
    means = {name: float(column(table, name).mean()) for name in GOODWILL_COUNTS}
    return float(goodwill_of(question.site.money).of(means))

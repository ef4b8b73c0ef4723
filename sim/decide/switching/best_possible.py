"""How far any rule could go: what perfect foresight of every car would give on the same draws.

Someone who knew a day in advance could choose the wipe of each car one by one. For a price on each
car leaving damp the best such plan of a day is bounded from above by `sim.day.kernel.many`. With a
condition on damp cars over many days the price is the multiplier of that condition: at any price
at all the mean over days of the priced bounds, plus the price of what is allowed, is a bound, and
the least of them is taken (Lagrangian relaxation; for foresight as a relaxation see Brown, Smith &
Sun 2010, Information relaxations and duality in stochastic dynamic programs, Operations Research
58:785–801, from memory). Part of the gap between a rule and this bound nobody can close.

With finishers at the exit a car leaves damp only where their time is used up. Of the cars that come
to the exit in a half-hour, D of them damp, no more than some number c can be dried in it (`_room`),
so at a price p for a car leaving damp a plan pays at least p·max(0, D − c), and that is at least
λ·(D − c) for every λ from 0 to p. Pricing each damp car of the half-hour at λ and giving λ·c back
bounds every plan; a few multiples of p are tried as λ, 0 wherever all of a half-hour's cars could
be dried, and the least bound is taken. By least cost a towel is paid for every damp car that is
dried, and λ goes up to what leaving damp costs beyond it.

Limits of switching are not asked of foresight, and a car sold the full wipe may be wiped either
way, so the bound holds for every rule.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sim.day.engine import PreparedDay, Replication, each
from sim.day.figures import COUNTED, HALF_HOUR_S, HALF_HOURS, money_of
from sim.day.kernel import FlowResult, best_of_plans, foresight
from sim.day.kernel.many import Nodes
from sim.day.kernel.stats import M_LOST_MEMBERS, M_MEMBER_WAITS_S, MINDED, wait_of
from sim.day.kernel.tables import CAR, EXIT, KEPT, LOAD_START, LOST
from sim.day.rules import Rule, SetChange
from sim.decide.switching.choice import DAYS_KEPT, Bools, Floats, Ints
from sim.decide.switching.question import SwitchQuestion, search_draws

PRICES = (0.0, *np.geomspace(0.05, 60.0, 19).tolist())
"""Prices of a car leaving damp that are tried, in cars fully wiped."""
FIRST_POINTS, MOST_POINTS = 33, 2049
CELLS_A_POINT = 8
NEAR = 0.25
"""Prices matter whose bound is within this share of the cars of the least."""
MULTIPLES = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Prices of a damp car that are tried in half-hours with finishers, of that of leaving damp."""
STILL = 0.002
"""The grid is doubled until a day's bound moves by less than this share."""


@dataclass(frozen=True, slots=True)
class BestPossible:
    """What no rule can do better than, on given draws.

    Attributes:
        bound: mean cars fully wiped, at most, by the wish's condition on damp cars; or mean cost,
            at least. NaN where no plan at all keeps to the condition.
        by_draw: what each draw contributes to it, in their order; `bound` is the mean.
        moved: largest share by which a last doubling of the grid moved a day's bound.
        without_rewash: whether re-washes had to be left out, since they move cars: the bound is
            then of the same site with damp cars left as they are instead.
    """

    bound: float
    by_draw: tuple[float, ...]
    moved: float
    without_rewash: bool


@dataclass(frozen=True, slots=True)
class DayBound:
    """Priced bounds of one draw, one a price; its cars at the wheel; see `BestPossible.moved`."""

    values: Floats
    cars: int
    moved: float


def best_possible(
    question: SwitchQuestion,
    draws: int,
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> BestPossible:
    """The bound for a question's wish over its first draws; `told` hears how many are done.

    Raises:
        ValueError: where dry sets are put on during the day; foresight could time them as well.
    """
    if question.cloth.strip():
        raise ValueError("the bound is for days without a change of set")
    couples = question.site.crew.damp_rewash_share > 0
    if couples:
        alone = question.site.with_values({"damp_rewash_share": 0.0})
        question = replace(question, site=alone)
    question = replace(question, among=None)
    few, read = search_draws(question, draws), partial(_read_bound, question)
    days = list(each(question.experiment, (), few, read, executor, told))
    moved = max(day.moved for day in days)
    by_draw = _over_days(question, days)
    bound = float(by_draw.mean())
    if question.wish.kind != "cost":
        bound = max(0.0, bound)
    return BestPossible(bound, tuple(by_draw.tolist()), moved, couples)


def _over_days(question: SwitchQuestion, days: list[DayBound]) -> Floats:
    """What each draw contributes to the bound."""
    wish, share = question.wish, question.wish.allowed_damp_share
    values = np.array([day.values for day in days])
    cars = np.array([day.cars for day in days], dtype=float)
    if wish.kind == "cost":
        return np.asarray(-values[:, 0])
    if wish.kind == "mean":
        # values are at multiples of one price per share of damp cars, the same for all days
        prices = np.array(PRICES) * _typical_cars(question)
        best = int(np.argmin(values.mean(axis=0) + prices * share))
        return np.asarray(values[:, best] + prices[best] * share)
    # each day keeps to the share at a price of its own, but for one in ten that need not
    allowed = np.floor(share * np.maximum(cars, 1.0) + 1e-9)
    kept = (values + np.array(PRICES) * allowed[:, None]).min(axis=1)
    free = values[:, 0]
    spared = math.floor((1.0 - DAYS_KEPT) * len(days) + 1e-9)
    dear = np.argsort(kept - free, kind="stable")[:spared]
    kept[dear] = free[dear]
    return np.asarray(kept)


def _typical_cars(question: SwitchQuestion) -> float:
    return max(1.0, math.fsum(question.conditions.arrivals_per_h))


def _read_bound(
    question: SwitchQuestion, day: Replication, _: tuple[Rule, ...], __: tuple[SetChange, ...]
) -> DayBound:
    line = day.line()
    if line is None:
        raise ValueError("re-washes move cars: the bound is for days without")
    return bound_day(question, day.of, line)


def bound_day(question: SwitchQuestion, day: PreparedDay, line: FlowResult) -> DayBound:
    """Priced bounds of a day, with the grid doubled until none that matters moves by `STILL`.

    A price matters if the day's own bound at it is near the least one; at others the bounds of
    the first grid stand, which hold as well.
    """
    cars = int(line.rows.counts[1])
    if cars == 0:
        return DayBound(_constant(question, day, line, 0.0), 0, 0.0)
    is_cost = question.wish.kind == "cost"
    prices = np.zeros(1) if is_cost else np.array(PRICES)
    if question.wish.kind == "mean":  # a price per share of damp cars, the same for all days
        prices = prices * _typical_cars(question) / cars
    points = FIRST_POINTS
    values = _values(question, day, line, points, prices)
    duals = values + prices * question.wish.allowed_damp_share * cars
    matter = np.flatnonzero(duals <= duals.min() + NEAR * cars)
    while True:
        points = 2 * points - 1
        finer = values.copy()
        finer[matter] = _values(question, day, line, points, prices[matter])
        scale = np.abs(values[matter]) if is_cost else cars
        moved = float(np.max(np.abs(finer - values)[matter] / scale))
        values = finer
        if moved < STILL or points >= MOST_POINTS:
            return DayBound(values, cars, moved)


def _values(
    question: SwitchQuestion, day: PreparedDay, line: FlowResult, points: int, prices: Floats
) -> Floats:
    """Values of the best plans by price of a car leaving damp; of costs one, its sign changed."""
    nodes, cells = foresight(line, day.site, points), CELLS_A_POINT * points
    cars = len(nodes.low)
    room = _room(day, line, cars)
    if question.wish.kind == "cost":
        gain, zones, damp = _money(day, line, nodes)
        best = _best(nodes, (gain, zones), room, np.minimum(day.prices.towel, damp), damp, cells)
        return _constant(question, day, line, float(nodes.ends.sum())) + best
    gain = np.column_stack([np.ones(cars), np.zeros(cars)])
    none, unminded = np.zeros(cars), np.zeros((cars, 2))
    return np.array([
        _best(nodes, (gain, unminded), room, none, np.full(cars, price), cells) for price in prices
    ])  # fmt: skip


def _best(
    nodes: Nodes, worth: tuple[Floats, Floats], room: _Room, dried: Floats, left: Floats, cells: int
) -> float:
    """Value of the best plan, at most.

    Args:
        worth: gain of each way of wiping, and prices of a wet roof and rear, by car.
        dried, left: prices of a damp car that is dried, and of one that leaves so, by car;
            dried ≤ left.
    """
    gain, zones = worth
    most, bounds = float((left - dried).max(initial=0.0)), list[float]()
    for multiple in MULTIPLES if room.cars.any() and most > 0.0 else (1.0,):
        # what a place at the exit costs: a car whose own loss is less leaves as it is
        price = np.where(room.binds & (room.cars > 0.0), multiple * most, 0.0)
        given = float((price * np.where(room.binds, room.cars, 0.0)).sum())
        price = np.where(room.cars == 0.0, math.inf, price)
        each = np.minimum(left, dried + price[room.half_hour])
        bounds.append(best_of_plans(nodes, gain, each, cells, zones)[0] + given)
    return min(bounds)


@dataclass(frozen=True, slots=True)
class _Room:
    """What finishers can do at most of the cars that come to the exit in each half-hour.

    Attributes:
        cars: so many can be dried, shape (48,); infinite where drying takes no time.
        binds: whether more cars come, shape (48,); half_hour: of each car, shape (cars,).
    """

    cars: Floats
    binds: Bools
    half_hour: Ints


def _room(day: PreparedDay, line: FlowResult, cars: int) -> _Room:
    """A finisher who is there for some time begins at most one car more than fit into it.

    The time is that in which a car of the half-hour may stand at the exit, patience included; each
    time somebody more comes is a beginning anew. No damp car takes less than the smallest damp zone
    of its class with just more than the allowed film.
    """
    hands, cloth, at = line.tables.hands, line.tables.cloth, line.rows.order[:cars]
    exit_s = line.rows.times[at, EXIT]
    half_hour = _half_hour(exit_s)
    least = cloth.by_hand_s[:, :, 0] + cloth.by_hand_s[:, :, 1] * cloth.allowed_film
    least = np.where(np.isnan(cloth.factor[:, :2]), np.inf, least).min(axis=1)
    takes_s = least[line.day.cars.kind[line.rows.line[at, CAR]]]
    found = np.zeros(HALF_HOURS)
    ends = [*hands.from_s[1:].tolist(), math.inf]
    for slot in np.unique(half_hour).tolist():
        mine = half_hour == slot
        begin, end = float(exit_s[mine].min()), float(exit_s[mine].max()) + hands.patience_s
        there_s, begun, before = 0.0, 0, 0
        for row, until in enumerate(ends):
            start = -math.inf if row == 0 else float(hands.from_s[row])
            if until <= begin or start > end:
                continue
            people = int(hands.people[row])
            there_s += people * max(0.0, min(until, end) - max(start, begin))
            begun += max(0, people - before)
            before = people
        shortest = float(takes_s[mine].min())
        if begun:
            found[slot] = math.inf if shortest <= 0.0 else math.floor(there_s / shortest) + begun
    come = np.bincount(half_hour, minlength=HALF_HOURS)
    return _Room(found, come > found, half_hour)


def _constant(question: SwitchQuestion, day: PreparedDay, line: FlowResult, idle: float) -> Floats:
    """What no plan changes: minus its cost, with so much wear by spinning before and after."""
    if question.wish.kind != "cost":
        return np.zeros(len(PRICES))
    cars = float(line.rows.counts[1])
    counts = {
        **dict.fromkeys(COUNTED, 0.0),
        "cars_washed": cars,
        "cars_lost": float(line.rows.counts[0]) - cars,
        **_members(line),
        "wear_cars": idle,
        "overload_s": float(np.maximum(0.0, _beyond_s(line)).sum()),
    }
    closed_s = max(line.last_s, day.numbers.close_s)
    return np.array([-money_of(day.prices, counts, closed_s)["cost"]])


def _members(line: FlowResult) -> dict[str, float]:
    """Members who drove away, and the waits of all members with their patience [s]."""
    found, times = np.zeros(len(MINDED)), line.rows.times
    for row in range(int(line.rows.counts[0])):
        car, lost = line.rows.line[row, CAR], line.rows.line[row, LOST] != KEPT
        if line.day.cars.member[car]:
            found[M_LOST_MEMBERS] += lost
            waited = line.day.cars.patience_s[car] if lost else wait_of(times[row])
            found[M_MEMBER_WAITS_S] += waited
    return dict(zip(MINDED, found.tolist(), strict=True))


def _beyond_s(line: FlowResult) -> Floats:
    """By half-hour, work that no wiping changes less what the people can do [person-s]."""
    work, times = line.tables.work, line.rows.times[: line.rows.counts[0]]
    rows = line.rows.order[: line.rows.counts[1]]
    hand = work.hand[line.day.cars.kind[line.rows.line[rows, CAR]]]
    able = work.able_s.copy()
    able[-1] *= max(1.0, (line.last_s - (HALF_HOURS - 1) * HALF_HOUR_S) / HALF_HOUR_S)
    done = np.bincount(_half_hour(times[rows, LOAD_START]), hand * work.loading_s, HALF_HOURS)
    done += np.bincount(_half_hour(times[rows, EXIT]), hand * work.leaving_s, HALF_HOURS)
    return np.asarray(done - able)


def _half_hour(moments_s: Floats) -> Ints:
    return np.minimum(moments_s // HALF_HOUR_S, HALF_HOURS - 1).astype(np.int64)


def _money(day: PreparedDay, line: FlowResult, nodes: Nodes) -> tuple[Floats, Floats, Floats]:
    """Money gained by each way of wiping each car (none or less), lost by its wet roof and rear,
    and lost if it leaves damp.

    Work beyond the people present is counted in the bound's favour: reduced wipes cost time only
    in half-hours whose other work takes all of the people already. There max(0, x) is x, elsewhere
    it is at least 0.
    """
    rows, work = line.rows, line.tables.work
    prices = day.prices
    at = rows.order[: len(nodes.low)]
    car = rows.line[at, CAR]
    taken = _beyond_s(line)[_half_hour(rows.times[at, EXIT])] >= 0.0
    a_second = np.where(taken, prices.work_per_s * work.hand[line.day.cars.kind[car]], 0.0)
    gain = -nodes.worn * prices.wear
    gain[:, 1] -= prices.goodwill.reduced + a_second * work.reduced_s
    damp = prices.goodwill.a_damp_car(line.day.cars.member[car])
    zones = np.outer(damp, [prices.goodwill.roof, prices.goodwill.rear])
    return np.ascontiguousarray(gain), np.ascontiguousarray(zones), damp

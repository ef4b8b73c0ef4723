"""When no switching is needed, or none is enough: why, and what else would help, by what it costs.

Every remedy is simulated on the same draws as the day as it is, with always full, always reduced,
the rule that was chosen and a few coarse ones; the best of these by the wish counts, so that a
remedy is not judged by a rule that it makes needless. Running on with a failed safety device is
no remedy.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.day.engine import AS_IT_IS, Cell, Told, Variant, quiet
from sim.day.rules import Rule
from sim.decide.maps.points import at_demand
from sim.decide.switching.candidates import coarse_rules
from sim.decide.switching.choice import (
    COST,
    OUTCOMES,
    Floats,
    Wish,
    best_by_means,
    chance_enough,
    column,
    damp_share,
)
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws
from sim.decide.switching.reasons import Balance, balance
from sim.decide.switching.search import SwitchAnswer
from sim.inputs import Steps, Value
from sim.units import show_clock

State = Literal["nothing_needed", "rule_helps", "nothing_helps"]
RemedyKind = Literal["slower_belt", "dry_set", "faster_idle", "fewer_cars", "finisher"]

DRAWS = 32
SURE = 0.9
"""Probability from which on always full is said to be enough."""
BELT_SHARES = (1.0 / 3.0, 2.0 / 3.0, 1.0)
"""How far towards the slowest belt that the manual allows, and likewise the fastest idle."""
AWAY = (0.1, 0.2, 0.3)
"""Shares of the day's cars that are turned away."""
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Remedy:
    """What a remedy does, with the best of a few rules.

    Attributes:
        amount: belt or idle speed [m/s, rev/s], time of the dry set [s after midnight], share of
            cars turned away, people more.
        minutes: that the change of set takes; 0 for the others.
        rule: the best of those looked at, with it.
        keeps: whether it then keeps to the wish.
        damp_share, damp_cars, cars_lost, full_cars: a day; lost are also cars turned away.
        spared: damp cars fewer than without, by the best rule of each; those toweled by one
            finisher more count as spared.
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
    damp_share: float
    damp_cars: float
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
        damp_share: of the best of the rules without any remedy.
        rows: remedies that buy anything, best first: those by which the wish is kept before
            others, then by what a unit of money buys, then by what they buy; empty where nothing
            is needed.
        runs: simulated days, counted over rules.
    """

    state: State
    chance_full: float
    chance_reduced: float
    balance: Balance
    damp_share: float
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
    wish = question.wish
    few = search_draws(question, draws)
    others = question.rivals
    rules = tuple(dict.fromkeys((*coarse_rules(question.site), answer.chosen)))
    first = outcomes(question, [(AS_IT_IS, (*others, *rules))], few, executor, progress)
    full = chance_enough(wish, first[: len(others)], question.seed)
    before = first[len(others) :]
    reduced = chance_enough(wish, before[1:2], question.seed)
    water = balance(question, answer.chosen, few, executor)
    best = _best(question, before)
    share = float(damp_share(before[best]).mean())
    runs = first.shape[0] * draws + 2 * draws
    if full >= SURE:
        return Remedies("nothing_needed", full, reduced, water, share, (), runs)
    state: State = "nothing_helps" if reduced < 0.5 else "rule_helps"
    if wish.kind == "cost":
        state = "rule_helps"
    tried = list(_tried(question, water))
    cells: list[Cell] = [(variant, rules) for _, _, variant in tried]
    table = outcomes(question, cells, few, executor, progress)
    table = table.reshape(len(cells), len(rules), draws, len(OUTCOMES))
    rows = [
        _remedy(question, rules, before[best], kind, amount, after)
        for (kind, amount, _), after in zip(tried, table, strict=True)
    ]
    if question.site.crew.damp_finish_share < 1.0:
        rows.append(_finisher(question, rules[best], before[best]))

    def order(row: Remedy) -> tuple[bool, float, float]:
        what = bought(row, state, wish)
        return not row.keeps, -payoff(what, row.cost), -what

    useful = sorted((row for row in rows if bought(row, state, wish) > 0.0), key=order)
    runs += table.shape[0] * table.shape[1] * draws
    return Remedies(state, full, reduced, water, share, tuple(useful), runs)


def bought(row: Remedy, state: State, wish: Wish) -> float:
    """What a remedy buys: damp cars spared where nothing helps, else cars more wiped in full, or
    for least cost what it spares in goodwill."""
    if wish.kind == "cost":
        return row.cost - row.net
    return row.spared if state == "nothing_helps" else row.gained


def payoff(bought: float, cost: float) -> float:
    """What is bought per unit of money; infinite where it costs nothing or less."""
    return bought / cost if cost > 0.0 else math.inf


# ---- what is tried -------------------------------------------------------------------------------


def _tried(question: SwitchQuestion, water: Balance) -> Iterator[tuple[RemedyKind, float, Variant]]:
    site, conditions = question.site, question.conditions
    line, wheel = site.line, site.wheel
    slowest = line.slowest_belt_m_s
    usual = line.conveyor_speed_m_s
    for share in BELT_SHARES:
        speed = usual - share * (usual - slowest)
        if speed < usual:
            yield "slower_belt", speed, Variant(_slowed(line.speed_timetable, speed, usual))
    for share in BELT_SHARES:
        idle = wheel.idle_speed_rev_s
        idle += share * (wheel.fastest_wheel_rev_s - idle)
        if idle > wheel.idle_speed_rev_s:
            yield "faster_idle", idle, Variant((("idle_speed_rev_s", idle),))
    if site.wear.sets_owned >= 2 and not question.cloth.strip():
        for moment in _midday(question, water):
            yield "dry_set", moment, Variant(cloth=show_clock(moment))
    for away in AWAY:
        yield "fewer_cars", away, Variant(conditions=at_demand(conditions, 1.0 - away))


def _slowed(table: Steps, speed: float, usual: float) -> tuple[tuple[str, Value], ...]:
    """The belt at a speed; a timetable is slowed in proportion, and never below it."""
    if not table:
        return (("conveyor_speed_m_s", speed),)
    slowed = tuple((start, min(was, max(speed, was * speed / usual))) for start, was in table)
    return (("conveyor_speed_m_s", speed), ("speed_timetable", slowed))


def _midday(question: SwitchQuestion, water: Balance) -> list[float]:
    """Times for a dry set: noon, and a third and half of the hours in which the advice reduces."""
    line = question.site.line
    hours = water.hours
    times = {12.0, hours[len(hours) // 3], hours[len(hours) // 2]}
    return [HOUR_S * h for h in sorted(times) if line.open_h < h < line.close_h]


# ---- what it does --------------------------------------------------------------------------------


def _best(question: SwitchQuestion, table: Floats) -> int:
    """Place of the best rule by the wish; table of shape (rules, draws, OUTCOMES)."""
    return best_by_means(question.wish.seen(table), question.wish.aim)


def _remedy(
    question: SwitchQuestion,
    rules: tuple[Rule, ...],
    before: Floats,
    kind: RemedyKind,
    amount: float,
    table: Floats,
) -> Remedy:
    best = _best(question, table)
    after = table[best]
    lost = float(column(after, "cars_lost").mean())
    money = question.site.money
    net = float((column(after, COST) - column(before, COST)).mean())
    if kind == "fewer_cars":
        away = amount * sum(question.conditions.arrivals_per_h)
        lost += away
        net += away * money.lost_car_cost
    minutes = question.site.wear.set_change_min if kind == "dry_set" else 0.0
    spared = float((column(before, "damp_cars") - column(after, "damp_cars")).mean())
    gained = float((column(after, "full_cars") - column(before, "full_cars")).mean())
    relief = _goodwill(question, before) - _goodwill(question, after)
    return _row(
        question, kind, amount, minutes, rules[best], table[best : best + 1],
        lost, spared, gained, net + relief, net,
    )  # fmt: skip


def _finisher(question: SwitchQuestion, rule: Rule, before: Floats) -> Remedy:
    """One person more all day who towels damp cars, as many as their hours allow.

    Toweled cars leave dry, so nothing else of the day changes: cars are neither faster nor
    slower for it, and what the person can do follows from the day's damp cars one by one.
    """
    site = question.site
    open_s = (site.line.close_h - site.line.open_h) * HOUR_S
    able = site.crew.target_use * open_s / max(1.0, site.crew.damp_work_s)
    left = column(before, "left_damp")
    done = np.minimum(left, able)
    after = before.copy()
    after[:, OUTCOMES.index("damp_cars")] -= done
    after[:, OUTCOMES.index("left_damp")] -= done
    spared = float(done.mean())
    wage = site.money.wage_per_h * open_s / HOUR_S + spared * site.money.towel_cost
    relief = spared * site.money.damp_cost
    return _row(
        question, "finisher", 1.0, 0.0, rule, after[None],
        float(column(before, "cars_lost").mean()), spared, 0.0, wage, wage - relief,
    )  # fmt: skip


def _goodwill(question: SwitchQuestion, table: Floats) -> float:
    """Goodwill and reduced wipes of a day in money."""
    money = question.site.money
    damp = money.damp_cost * column(table, "left_damp").mean()
    return float(damp + money.reduced_cost * column(table, "reduced").mean())


def _row(
    question: SwitchQuestion,
    kind: RemedyKind,
    amount: float,
    minutes: float,
    rule: Rule,
    after: Floats,
    lost: float,
    spared: float,
    gained: float,
    cost: float,
    net: float,
) -> Remedy:
    """A remedy; `after` of shape (1, draws, OUTCOMES)."""
    return Remedy(
        kind, amount, minutes, rule, question.wish.is_kept(after[0]),
        float(damp_share(after[0]).mean()),
        float(column(after[0], "damp_cars").mean()), lost,
        float(column(after[0], "full_cars").mean()), spared, gained, cost, net,
    )  # fmt: skip

"""What one person more or fewer in an hour does, paired on the days that the plan was tried on."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

from scipy.special import stdtrit

from sim.decide.staff.measure import Floats, Measured, measure, paid
from sim.decide.staff.needs import Needs
from sim.decide.staff.plans import (
    HALF_HOURS,
    MOST_LOADERS,
    StaffPlan,
    open_half_hours,
)

SURE = 0.95
"""Two-sided confidence of a difference."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A mean difference over days and half its 95 % interval."""

    mean: float
    half: float


@dataclass(frozen=True, slots=True)
class Effect:
    """One person more or fewer in a clock hour.

    Attributes:
        change: 1 or −1.
        loads: whether it changes the loaders and so the line; else cars see no difference in the
            model, only the work is shared by another number.
        use: share of their time that work then takes, see `Crewed.use`, the busier half-hour; ∞
            with nobody there for it.
        wait_p90_s, lost, margin: the day's, against the plan as it is.
    """

    hour: int
    change: int
    loads: bool
    use: float
    wait_p90_s: Difference
    lost: Difference
    margin: Difference


def effects_of(
    needs: Needs,
    base: Measured,
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda days: None,
) -> tuple[Effect, ...]:
    """Both changes in every open clock hour.

    Args:
        base: days 0 to n − 1 of the plan with `OF_DAY`.
        told: told of days simulated.
    """
    days = len(base.days["margin"])
    is_open = open_half_hours(needs.question.middle)
    hours = range(is_open.start // 2, (is_open.stop + 1) // 2)
    found, done = [], 0
    for hour in hours:
        for change in (1, -1):
            plan = changed(needs.plan, hour, change, is_open)
            loads = plan.loaders != needs.plan.loaders
            with_it = base
            if loads:

                def add(some: int, before: int = done) -> None:
                    told(before + some)

                with_it = measure(
                    needs.question, plan, needs.rule, 0, days, executor, add, with_money=True
                )
                done += days
            found.append(_effect(needs, plan, hour, change, loads, base, with_it))
    return tuple(found)


def changed(plan: StaffPlan, hour: int, change: int, is_open: range) -> StaffPlan:
    """A plan with one person more or fewer in a clock hour; they load where that is possible."""
    people, loaders = list(plan.people), list(plan.loaders)
    for at in (2 * hour, 2 * hour + 1):
        if at in is_open:
            people[at] = max(0, people[at] + change)
            loaders[at] = min(MOST_LOADERS, max(1, loaders[at] + change))
    return StaffPlan(tuple(people), tuple(loaders))


def _effect(
    needs: Needs,
    plan: StaffPlan,
    hour: int,
    change: int,
    loads: bool,
    base: Measured,
    with_it: Measured,
) -> Effect:
    uses = [
        needs.crewed.use(at, plan.people[at], plan.loaders[at])
        for at in (2 * hour, 2 * hour + 1)
        if at < HALF_HOURS and needs.plan.people[at]
    ]
    margin = difference(with_it.days["margin"], base.days["margin"])
    if not loads:  # the line is the same; wages differ, and what goes beyond the people
        question = needs.question
        margin = difference(-paid(question, plan, base), -paid(question, needs.plan, base))
    return Effect(
        hour,
        change,
        loads,
        max(uses, default=0.0),
        difference(with_it.days["wait_p90_s"], base.days["wait_p90_s"]),
        difference(with_it.days["cars_lost"], base.days["cars_lost"]),
        margin,
    )


def difference(one: Floats, other: Floats) -> Difference:
    """The mean of paired differences one − other over days, and half its interval."""
    apart, days = one - other, len(one)
    half = stdtrit(days - 1, 0.5 + SURE / 2.0) * apart.std(ddof=1) / math.sqrt(days)
    return Difference(float(apart.mean()), float(half))

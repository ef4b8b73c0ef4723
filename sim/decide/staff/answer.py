"""Who is needed on a day, as plain content: what pages, the command line and files show."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from typing import Any

import numpy as np

from sim.day.rules import parse_rule
from sim.decide.staff.effects import Difference, Effect, difference, effects_of
from sim.decide.staff.measure import Floats, Measured, measure
from sim.decide.staff.needs import DAYS, Needs, find_needs, judge
from sim.decide.staff.plans import (
    HALF_HOUR_S,
    Counts,
    StaffPlan,
    open_half_hours,
    planned_by,
    steps_of,
)
from sim.decide.staff.work import ROLES, crew_of, fixed_work_s
from sim.decide.switching.search import SwitchQuestion
from sim.decide.switching.wish import COST
from sim.inputs import Site

SCHEMA = "clothcast.staff/3"
EXPECTED_DAYS = 50 * DAYS
"""Days that an answer takes, more or less."""


def staff_answer(
    question: SwitchQuestion,
    day: str,
    origin: str,
    libraries: dict[str, str],
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    days: int = DAYS,
) -> dict[str, Any]:
    """The answer; see `app/guide/staff.md` for its fields.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    done = 0

    def told(more: int) -> None:
        progress(done + more, max(EXPECTED_DAYS, done + more))

    needs = find_needs(question, executor, told, days)
    done = (needs.tried + 1) * days
    site = needs.question.middle

    def money(plan: StaffPlan, text: str = "") -> Measured:
        nonlocal done
        rule = parse_rule(text, [item.key for item in site.vehicles]) if text else needs.rule
        found = measure(needs.question, plan, rule, 0, days, executor, told, with_money=True)
        done += days
        return found

    base, planned = money(needs.plan), planned_by(site)
    present = money(planned)
    effects = effects_of(needs, base, executor, told)
    done += days * sum(one.loads for one in effects)
    rules = [
        _rule_content(needs, text, money(needs.plan, text))
        for text in dict.fromkeys((needs.question.present, "full", "reduced"))
    ]
    hours = sum(needs.plan.people) / 2.0
    work_h = (site.crew.opening_work_min + site.crew.closing_work_min) / 60.0
    planned_hours = sum(planned.people) / 2.0 + work_h
    return {
        "schema": SCHEMA,
        "day": day,
        "origin": origin,
        "libraries": libraries,
        "seed": needs.question.seed,
        "days": days,
        "rule": needs.question.present,
        "targets": _targets(needs),
        "half_hours": [
            _half_hour(needs, planned, at)
            for at in range(len(needs.plan.people))
            if needs.plan.people[at] or planned.people[at]
        ],
        "roles": {role: list(needs.crewed.roles[role]) for role in ROLES},
        "called": site.crew.called,
        "people": list(needs.plan.people),
        "planned": list(planned.people),
        "timetables": {
            "people": _rows(_open_only(site, needs.plan.people)),
            "loaders": _rows(needs.plan.loaders),
        },
        "needed": _cost(site, base, hours),
        "present": _cost(site, present, planned_hours),
        "present_difference": {
            name: _difference(difference(present.days[name], base.days[name]))
            for name in ("wait_p90_s", "cars_lost", "margin")
        },
        "effects": [_effect(one) for one in effects],
        "rules": rules,
    }


def _open_only(site: Site, people: Counts) -> Counts:
    """Numbers with those outside opening hours as at its edge, as timetables have them."""
    is_open = open_half_hours(site)
    return tuple(people[min(max(at, is_open.start), is_open.stop - 1)] for at in range(len(people)))


def _rows(counts: Counts) -> list[list[float]]:
    return [[start, count] for start, count in steps_of(counts)]


def _targets(needs: Needs) -> dict[str, Any]:
    site = needs.question.middle
    wishes, is_open = site.wishes, open_half_hours(site)
    fresh, allowed = needs.limits.queues_broken(needs.judged_fresh), wishes.allowed_lost_cars
    return {
        "wait_p90_s": wishes.allowed_wait_p90_s,
        "lost_cars": allowed,
        "full_share": wishes.allowed_full_share,
        "use": site.crew.target_use,
        "min_crew": site.crew.min_crew,
        "lost_reached": needs.limits.lost_reached,
        "lost_at_most": {
            "needed": judge(site, needs.measured).lost + allowed,
            "most_loaders": needs.limits.lost_least + allowed,
            "fresh": needs.judged_fresh.lost + allowed,
        },
        "unreached": [at for at in is_open if not needs.limits.reached[at]],
        "fresh_missed": [at for at in is_open if fresh[at]],
    }


def _half_hour(needs: Needs, planned: StaffPlan, at: int) -> dict[str, Any]:
    half, chained = needs.measured.half_hours, needs.chained[at]
    washed = float(half["washed"][:, at].sum())
    site = needs.question.middle
    use = needs.crewed.use(at, needs.plan.people[at], needs.crewed.roles["loader"][at])
    return {
        "start_h": at / 2.0,
        "people": needs.plan.people[at],
        "planned": planned.people[at],
        "roles": {role: needs.crewed.roles[role][at] for role in ROLES},
        "why": needs.crewed.bound[at],
        "formula_people": needs.formula.people[at],
        "formula_loaders": needs.formula.loaders[at],
        "formula_mean_wait_s": _finite(float(needs.formula.wait_s[at])),
        "offered_load": float(needs.formula.load[at]),
        "arrived": _mean(half["arrived"][:, at]),
        "late_share": float(half["late"][:, at].sum()) / washed if washed else 0.0,
        "chain_late_share": chained.late,
        "lost": _mean(half["lost"][:, at]),
        "full_share": _mean(half["full_s"][:, at]) / HALF_HOUR_S,
        "use": _finite(use),
        "margins": {
            "late_cars": _finite(needs.limits.late[at] - needs.judged_fresh.late[at]),
            "full_share": _finite(needs.limits.full[at] - needs.judged_fresh.full[at]),
            "use": _finite(site.crew.target_use - use),
        },
    }


def _rule_content(needs: Needs, text: str, measured: Measured) -> dict[str, Any]:
    site, half = needs.question.middle, measured.half_hours
    crewed = crew_of(site, needs.plan.loaders, measured)
    return {
        "text": text,
        "damp_cars": _mean(measured.days["damp_cars"]),
        "extra_hours": _mean(half["extra_s"].sum(axis=1)) / 3600.0,
        "work_hours": {
            "greeter": _mean(half["greet_s"].sum(axis=1)) / 3600.0,
            "loader": _mean(half["load_s"].sum(axis=1)) / 3600.0,
            "finisher": _mean(half["leave_s"].sum(axis=1)) / 3600.0,
            "floater": float(
                fixed_work_s(site).sum() + _mean(half["change_s"].sum(axis=1))
            ) / 3600.0,
        },
        "people_hours": sum(crewed.people) / 2.0,
    }  # fmt: skip


def _cost(site: Site, measured: Measured, hours: float) -> dict[str, Any]:
    washed = _mean(measured.days["cars_washed"])
    cost = hours * site.money.wage_per_h
    return {
        "people_hours": hours,
        "cost": cost,
        "per_car": cost / washed if washed > 0.0 else None,
        **{name: _mean(values) for name, values in measured.days.items() if name != COST},
        "cost_of_day": _mean(measured.days[COST]),
    }


def _effect(one: Effect) -> dict[str, Any]:
    return {
        "hour": one.hour,
        "change": one.change,
        "loads": one.loads,
        "use": _finite(one.use),
        "wait_p90_s": _difference(one.wait_p90_s),
        "cars_lost": _difference(one.lost),
        "margin": _difference(one.margin),
    }


def _difference(one: Difference) -> dict[str, float]:
    return {"mean": one.mean, "half": one.half}


def _mean(values: Floats) -> float:
    return float(np.mean(values))


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None

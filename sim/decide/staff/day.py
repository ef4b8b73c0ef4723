"""Who is needed on a day, all of it: the people, their money, one more or fewer, wiping rules.

Everything is measured on the days that the plan was tried on, so that differences are paired.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from datetime import date

import numpy as np
from scipy.special import stdtrit

from sim.day.costs import OF_COST
from sim.day.rules import parse_rule
from sim.decide.staff.answer import (
    Differences,
    Effect,
    HalfHour,
    LostAtMost,
    Margins,
    MeanDifference,
    RuleWork,
    StaffAnswer,
    StaffedDay,
    Targets,
    Timetables,
)
from sim.decide.staff.measure import (
    HALF_HOUR_S,
    HALF_HOURS,
    MOST_LOADERS,
    Counts,
    Floats,
    PlanDays,
    StaffPlan,
    crew_of,
    fixed_work_s,
    measure,
    open_half_hours,
    paid,
    planned_by,
    steps_of,
)
from sim.decide.staff.needs import DAYS, Needs, find_needs, judge
from sim.decide.switching.choice import COST
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import Site
from sim.inputs.people import ROLES

EXPECTED_DAYS = 50 * DAYS
"""Days that an answer takes, more or less."""
SURE = 0.95
"""Two-sided confidence of a difference."""


def staff_answer(
    question: SwitchQuestion,
    day: date,
    origin: str,
    libraries: dict[str, str],
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    days: int = DAYS,
) -> StaffAnswer:
    """Who is needed on a day; see `app/guide/staff.md`.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    done = 0

    def told(more: int) -> None:
        progress(done + more, max(EXPECTED_DAYS, done + more))

    needs = find_needs(question, executor, told, days)
    done = (needs.tried + 1) * days
    site = needs.question.middle

    def money(plan: StaffPlan, text: str = "") -> PlanDays:
        nonlocal done
        rule = parse_rule(text, [item.key for item in site.vehicles]) if text else needs.rule
        found = measure(needs.question, plan, rule, 0, days, executor, told, with_money=True)
        done += days
        return found

    base, planned = money(needs.plan), planned_by(site)
    present = money(planned)
    effects = effects_of(needs, base, executor, told)
    done += days * sum(one.loads for one in effects)
    rules = tuple(
        _rule_work(needs, text, money(needs.plan, text))
        for text in dict.fromkeys((needs.question.present, "full", "reduced"))
    )
    hours = sum(needs.plan.people) / 2.0
    work_h = (site.crew.opening_work_min + site.crew.closing_work_min) / 60.0
    planned_hours = sum(planned.people) / 2.0 + work_h
    return StaffAnswer(
        day=day,
        origin=origin,
        libraries=libraries,
        seed=needs.question.seed,
        days=days,
        rule=needs.question.present,
        targets=_targets(needs),
        half_hours=tuple(
            _half_hour(needs, planned, at)
            for at in range(len(needs.plan.people))
            if needs.plan.people[at] or planned.people[at]
        ),
        roles=needs.crewed.roles,
        called=site.crew.called,
        people=needs.plan.people,
        planned=planned.people,
        timetables=Timetables(
            steps_of(_open_only(site, needs.plan.people)), steps_of(needs.plan.loaders)
        ),
        needed=_staffed(site, base, hours),
        present=_staffed(site, present, planned_hours),
        present_difference=Differences(*_apart(present, base)),
        effects=effects,
        rules=rules,
    )


def _open_only(site: Site, people: Counts) -> Counts:
    """Numbers with those outside opening hours as at its edge, as timetables have them."""
    is_open = open_half_hours(site)
    return tuple(people[min(max(at, is_open.start), is_open.stop - 1)] for at in range(len(people)))


def _targets(needs: Needs) -> Targets:
    site = needs.question.middle
    wishes, is_open = site.wishes, open_half_hours(site)
    fresh, allowed = needs.limits.queues_broken(needs.judged_fresh), wishes.allowed_lost_cars
    return Targets(
        wait_p90_s=wishes.allowed_wait_p90_s,
        lost_cars=allowed,
        full_share=wishes.allowed_full_share,
        use=site.crew.target_use,
        min_crew=site.crew.min_crew,
        lost_reached=needs.limits.lost_reached,
        lost_at_most=LostAtMost(
            judge(site, needs.measured).lost + allowed,
            needs.limits.lost_least + allowed,
            needs.judged_fresh.lost + allowed,
        ),
        unreached=tuple(at for at in is_open if not needs.limits.reached[at]),
        fresh_missed=tuple(at for at in is_open if fresh[at]),
    )


def _half_hour(needs: Needs, planned: StaffPlan, at: int) -> HalfHour:
    half, site = needs.measured.half_hours, needs.question.middle
    washed = float(half["washed"][:, at].sum())
    use = needs.crewed.use(at, needs.plan.people[at], needs.crewed.roles["loader"][at])
    return HalfHour(
        start_h=at / 2.0,
        people=needs.plan.people[at],
        planned=planned.people[at],
        roles={role: needs.crewed.roles[role][at] for role in ROLES},
        why=needs.crewed.bound[at],
        formula_people=needs.formula.people[at],
        formula_loaders=needs.formula.loaders[at],
        formula_mean_wait_s=_finite(needs.formula.wait_s[at]),
        offered_load=float(needs.formula.load[at]),
        arrived=_mean(half["arrived"][:, at]),
        late_share=float(half["late"][:, at].sum()) / washed if washed else 0.0,
        chain_late_share=needs.chained[at].late,
        lost=_mean(half["lost"][:, at]),
        full_share=_mean(half["full_s"][:, at]) / HALF_HOUR_S,
        use=_finite(use),
        margins=Margins(
            _finite(needs.limits.late[at] - needs.judged_fresh.late[at]),
            _finite(needs.limits.full[at] - needs.judged_fresh.full[at]),
            _finite(site.crew.target_use - use),
        ),
    )


def _rule_work(needs: Needs, text: str, measured: PlanDays) -> RuleWork:
    site, half = needs.question.middle, measured.half_hours
    crewed = crew_of(site, needs.plan.loaders, measured)
    fixed_s = float(fixed_work_s(site).sum())
    return RuleWork(
        text,
        _mean(measured.days["damp_cars"]),
        _hours(half["extra_s"]),
        {
            "greeter": _hours(half["greet_s"]),
            "loader": _hours(half["load_s"]),
            "finisher": _hours(half["leave_s"]),
            "floater": (fixed_s + _mean(half["change_s"].sum(axis=1))) / 3600.0,
        },
        sum(crewed.people) / 2.0,
    )


def _staffed(site: Site, measured: PlanDays, hours: float) -> StaffedDay:
    mean = {name: _mean(values) for name, values in measured.days.items()}
    washed, cost = mean["cars_washed"], hours * site.money.wage_per_h
    return StaffedDay(
        people_hours=hours,
        cost=cost,
        per_car=cost / washed if washed > 0.0 else None,
        wait_p90_s=mean["wait_p90_s"],
        wait_mean_s=mean["wait_mean_s"],
        cars_lost=mean["cars_lost"],
        cars_washed=washed,
        margin=mean["margin"],
        damp_cars=mean["damp_cars"],
        overtime_minutes=mean["overtime_minutes"],
        costs={name: mean[name] for name in OF_COST},
        cost_of_day=mean[COST],
    )


def _mean(values: Floats) -> float:
    return float(np.mean(values))


def _hours(work_s: Floats) -> float:
    """Work of a day by half-hour [s] as mean hours; shape (days, 48) → hours."""
    return _mean(work_s.sum(axis=1)) / 3600.0


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


# ---- one person more or fewer --------------------------------------------------------------------


def effects_of(
    needs: Needs,
    base: PlanDays,
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda days: None,
) -> tuple[Effect, ...]:
    """Both changes in every open clock hour.

    Args:
        base: days 0 to n − 1 of the plan with `OF_DAY`.
        told: told of days simulated.
    """
    days, done = len(base.days["margin"]), 0
    is_open = open_half_hours(needs.question.middle)
    found = []
    for hour in range(is_open.start // 2, (is_open.stop + 1) // 2):
        for change in (1, -1):
            plan = changed(needs.plan, hour, change, is_open)
            with_it = base
            if plan.loaders != needs.plan.loaders:

                def add(some: int, before: int = done) -> None:
                    told(before + some)

                with_it = measure(
                    needs.question, plan, needs.rule, 0, days, executor, add, with_money=True
                )
                done += days
            found.append(_effect(needs, plan, hour, change, base, with_it))
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
    needs: Needs, plan: StaffPlan, hour: int, change: int, base: PlanDays, with_it: PlanDays
) -> Effect:
    uses = [
        needs.crewed.use(at, plan.people[at], plan.loaders[at])
        for at in (2 * hour, 2 * hour + 1)
        if at < HALF_HOURS and needs.plan.people[at]
    ]
    loads, question = plan.loaders != needs.plan.loaders, needs.question
    wait, lost, margin = _apart(with_it, base)
    if not loads:  # the line is the same; wages differ, and what goes beyond the people
        margin = difference(-paid(question, plan, base), -paid(question, needs.plan, base))
    return Effect(hour, change, loads, _finite(max(uses, default=0.0)), wait, lost, margin)


def _apart(one: PlanDays, other: PlanDays) -> tuple[MeanDifference, MeanDifference, MeanDifference]:
    """Wait, cars lost and margin of measured days against others, paired."""
    wait, lost, margin = (
        difference(one.days[name], other.days[name])
        for name in ("wait_p90_s", "cars_lost", "margin")
    )
    return wait, lost, margin


def difference(one: Floats, other: Floats) -> MeanDifference:
    """The mean of paired differences one − other over days, and half its interval."""
    apart, days = one - other, len(one)
    half = stdtrit(days - 1, 0.5 + SURE / 2.0) * apart.std(ddof=1) / math.sqrt(days)
    return MeanDifference(float(apart.mean()), float(half))

"""People needed in each half-hour: a search in the simulation on common draws, from formulas; the
day with them, their money, one more or fewer, wiping rules.

Loaders move cars, so their number is searched for; everybody else follows from the work that is
then measured (`sim.decide.staff.measure`). In the end every second loader is there for a target or
pays for himself in the money of the day, and one more nowhere would. What is told beside is
measured on the days that the plan was tried on, so that differences are paired.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sim.day.figures import OF_COST, finite
from sim.day.goodwill import goodwill_of
from sim.day.rules import Rule, parse_rule
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
    Crewed,
    Floats,
    PlanDays,
    StaffPlan,
    as_at_edges,
    crew_of,
    fixed_work_s,
    hands_that_pay,
    lower,
    measure,
    open_half_hours,
    paid,
    planned_by,
    steps_of,
    upper,
)
from sim.decide.staff.queues import LATE_SHARE, ChainStep, Formula, by_chain, by_formula
from sim.decide.switching.at_exit import MoreHands
from sim.decide.switching.choice import COST
from sim.decide.switching.question import SwitchQuestion, check, with_opening
from sim.inputs import Site
from sim.inputs.people import ROLES
from sim.special import stdtrit

DAYS = 64
"""Days that a plan is tried on, and as many fresh ones that the answer is checked on."""
BEFORE = 4
"""A queue is mended by loaders in the same half-hour or so many before it."""
SLACK_CARS = 1.0
"""Late cars of a half-hour that don't matter where nobody could meet the target."""
ENOUGH_CARS = 1.0
"""A half-hour with fewer arrivals has no wait worth judging."""
EXPECTED_DAYS = 50 * DAYS
"""Days that an answer takes, more or less."""
SURE = 0.95
"""Two-sided confidence of a difference."""
MOST: Counts = (MOST_LOADERS,) * HALF_HOURS
"""Most loaders all day."""


@dataclass(frozen=True, slots=True)
class TargetExcess:
    """A plan against the manager's targets; what is above 0 breaks its target.

    Attributes:
        late: cars beyond the share that may wait long, by half-hour, upper end over days.
        full: share of time with a full stack beyond that allowed, likewise.
        lost: cars lost a day beyond those allowed, upper end.
    """

    late: Floats
    full: Floats
    lost: float


@dataclass(frozen=True, slots=True)
class Allowance:
    """How far a plan may go beyond the targets: 0, or what nobody could do better.

    Attributes:
        reached: by half-hour, whether the targets of wait and stack are met with most loaders.
        lost_least: cars beyond those allowed that are lost with them, upper end; at most 0 where
            that target can be met.
    """

    late: Floats
    full: Floats
    lost: float
    reached: tuple[bool, ...]
    lost_least: float

    @property
    def lost_reached(self) -> bool:
        """Whether the target of lost cars is met with most loaders."""
        return self.lost_least <= 0.0

    def queues_broken(self, judged: TargetExcess) -> NDArray[np.bool_]:
        """By half-hour, whether a plan is beyond in wait or stack."""
        return (judged.late > self.late + 1e-9) | (judged.full > self.full + 1e-9)

    def broken(self, judged: TargetExcess) -> NDArray[np.bool_]:
        """By half-hour, whether a plan is beyond; everywhere where it loses too many cars."""
        return self.queues_broken(judged) | (judged.lost > self.lost + 1e-9)


@dataclass(frozen=True, slots=True)
class Needs:
    """The answer.

    Attributes:
        question: with_opening; its guesses stand at their middle values.
        hands: people more in the plan who pay by drying damp cars.
        measured: days of the search with the plan; fresh: days that no search has seen.
        chained: the day by the queue's differential equations with the plan's loaders.
    """

    question: SwitchQuestion
    rule: Rule
    plan: StaffPlan
    hands: MoreHands
    crewed: Crewed
    formula: Formula
    limits: Allowance
    measured: PlanDays
    fresh: PlanDays
    judged_fresh: TargetExcess
    chained: tuple[ChainStep, ...]
    tried: int


def find_needs(
    question: SwitchQuestion,
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda days: None,
    days: int = DAYS,
) -> Needs:
    """Fewest people by half-hour that meet the site's targets.

    Args:
        question: its present rule and sets are what is done; no guess is drawn.
        told: told of days simulated so far.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    check(question)
    question = with_opening(replace(question, known=None))
    site = question.middle
    rule = question.rules[0]
    search = _Search(question, rule, days, executor, told)
    limits = limits_of(site, search.judge(MOST))
    formula = by_formula(question)
    loaders = search.settle(formula.loaders, limits)
    measured = search.measured(loaders)
    hands, drying = hands_that_pay(question, rule, loaders, lambda: search.add(0))
    crewed = crew_of(site, loaders, measured, drying)
    plan = StaffPlan(crewed.people, loaders, drying)
    fresh = measure(question, plan, rule, days, 2 * days, executor, search.add)
    return Needs(
        question=question,
        rule=rule,
        plan=plan,
        hands=hands,
        crewed=crewed,
        formula=formula,
        limits=limits,
        measured=measured,
        fresh=fresh,
        judged_fresh=judge(site, fresh),
        chained=by_chain(question, loaders),
        tried=len(search.known),
    )


# ---- targets -------------------------------------------------------------------------------------


def judge(site: Site, measured: PlanDays) -> TargetExcess:
    """Measured days against the targets."""
    half, wishes = measured.half_hours, site.wishes
    late = upper(half["late"] - LATE_SHARE * half["washed"])
    late = np.where(half["arrived"].mean(axis=0) < ENOUGH_CARS, -np.inf, late)
    full = upper(half["full_s"] / HALF_HOUR_S) - wishes.allowed_full_share
    lost = float(upper(half["lost"].sum(axis=1))) - wishes.allowed_lost_cars
    return TargetExcess(late, full, lost)


def limits_of(site: Site, best: TargetExcess) -> Allowance:
    """Where even most loaders miss a target, no more than what matters worse than they."""
    wishes, slack = site.wishes, site.wishes.matters_share
    late = np.where(best.late > 0.0, best.late + SLACK_CARS, 0.0)
    full = np.where(best.full > 0.0, best.full + slack, 0.0)
    lost = best.lost + wishes.matters_cars if best.lost > 0.0 else 0.0
    reached = tuple(bool(a <= 0.0 and b <= 0.0) for a, b in zip(best.late, best.full, strict=True))
    return Allowance(late, full, lost, reached, best.lost)


# ---- the search ----------------------------------------------------------------------------------


class _Search:
    """Tries loaders by half-hour on the same days; every plan once.

    What one loader fewer or more is worth is paired by days: the margin with him and whoever else
    is then needed, against the margin without. He is kept where a target needs him, or where the
    cars and waits that he saves are worth more than his wage.
    """

    def __init__(
        self,
        question: SwitchQuestion,
        rule: Rule,
        days: int,
        executor: Executor | None,
        told: Callable[[int], None],
    ) -> None:
        self._question, self._rule, self._days = question, rule, days
        self._executor, self._told = executor, told
        self._site = question.middle
        self._own = planned_by(self._site)
        self._is_open = open_half_hours(self._site)
        self.known: dict[Counts, tuple[PlanDays, Floats]] = {}
        self._work: PlanDays | None = None
        self._done = 0

    def add(self, days: int) -> None:
        """So many further days are done of what is being tried."""
        self._told(self._done + days)

    def measured(self, loaders: Counts) -> PlanDays:
        """Days with so many loaders."""
        return self._find(loaders)[0]

    def judge(self, loaders: Counts) -> TargetExcess:
        """The same against the targets."""
        return judge(self._site, self.measured(loaders))

    def settle(self, start: Counts, limits: Allowance) -> Counts:
        """Loaders by half-hour of whom none is there for nothing and none is missing; from `start`.

        Each exchange earns money or takes somebody away at no loss, so it ends.
        """
        loaders = self._spared(self._mended(start, limits), limits)
        while (more := self._with_paying(loaders)) != loaders:
            loaders = self._spared(more, limits)
        return loaders

    def _find(self, loaders: Counts) -> tuple[PlanDays, Floats]:
        """Days with so many loaders, and the margin of each with the people then needed."""
        work, own, site = self._work, self._own, self._site
        if loaders not in self.known:
            people = own.people if work is None else crew_of(site, loaders, work, own.drying).people
            there = StaffPlan(people, loaders, own.drying)
            found = measure(
                self._question, there, self._rule, 0, self._days, self._executor, self.add,
                with_money=True,
            )  # fmt: skip
            self._work = self._work or found
            then = replace(there, people=crew_of(site, loaders, found, own.drying).people)
            spent = paid(self._question, then, found) - paid(self._question, there, found)
            self.known[loaders] = found, found.days["margin"] - spent
            self._done += self._days
        return self.known[loaders]

    def _gain(self, loaders: Counts, other: Counts) -> Floats:
        """What the other plan earns more, by day [money]."""
        return self._find(other)[1] - self._find(loaders)[1]

    def _spared(self, loaders: Counts, limits: Allowance) -> Counts:
        """Without whoever neither keeps a target nor pays for himself; the least missed goes first.

        Whoever is missed is missed no less when others have gone: only where that was worth most
        when it was last tried is it tried again, and all are once more in the end.
        """
        went_on = True
        while went_on:
            went_on = False
            two = [at for at in self._is_open if loaders[at] > 1]
            worth = {at: self._worth_without(loaders, at, limits) for at in two}
            is_old: set[int] = set()
            while worth:
                at = max(worth, key=lambda one: worth[one])
                if at in is_old:
                    worth[at] = self._worth_without(loaders, at, limits)
                    is_old.remove(at)
                elif worth.pop(at) >= 0.0:
                    loaders, went_on = with_count(loaders, at, loaders[at] - 1), True
                    is_old = set(worth)
                else:
                    break
        return loaders

    def _worth_without(self, loaders: Counts, at: int, limits: Allowance) -> float:
        """What one loader fewer in a half-hour earns [money]; −∞ where a target needs him."""
        fewer = with_count(loaders, at, loaders[at] - 1)
        if limits.broken(self.judge(fewer)).any():
            return -np.inf
        return float(self._gain(loaders, fewer).mean())

    def _with_paying(self, loaders: Counts) -> Counts:
        """With one more loader where that pays most for sure; the same where it nowhere does."""
        best, most = loaders, 0.0
        for at in self._is_open:
            if loaders[at] < MOST_LOADERS and self._may_pay(loaders, at):
                more = with_count(loaders, at, loaders[at] + 1)
                gain = self._gain(loaders, more)
                if float(lower(gain)) > 0.0 and float(gain.mean()) > most:
                    best, most = more, float(gain.mean())
        return best

    def _may_pay(self, loaders: Counts, at: int) -> bool:
        """Whether most loaders all day save so much there that one may pay."""
        money, near = self._site.money, slice(at, at + BEFORE + 1)
        here, most = self.measured(loaders).half_hours, self.measured(MOST).half_hours
        more = {name: (here[name] - most[name]).mean(axis=0)[near] for name in ("lost", "wait_s")}
        lost, waits = (float(np.maximum(one, 0.0).sum()) for one in more.values())
        wait = goodwill_of(money).member_wait
        worth = max(
            money.price_per_car, money.lost_car_cost, wait * self._site.pay.patience_median_s
        )
        return worth * lost + money.member_share * wait * waits > money.wage_per_h / 2.0

    def _mended(self, start: Counts, limits: Allowance) -> Counts:
        """`start` with more loaders where a target is missed, and shortly before."""
        loaders = start
        while True:
            broken = np.flatnonzero(limits.broken(self.judge(loaders)))
            more = loaders
            for at in {near for one in broken.tolist() for near in range(one - BEFORE, one + 1)}:
                if at in self._is_open:
                    more = with_count(more, at, min(MOST_LOADERS, more[at] + 1))
            if more == loaders:
                break
            loaders = more
        if len(broken):  # only reached where mending near by was not enough
            most = enumerate(loaders)
            loaders = tuple(MOST_LOADERS if at in self._is_open else n for at, n in most)
        return loaders


def with_count(counts: Counts, at: int, count: int) -> Counts:
    """Numbers by half-hour with another one in one of them."""
    return (*counts[:at], count, *counts[at + 1 :])


# ---- all of a day --------------------------------------------------------------------------------


def staff_answer(
    question: SwitchQuestion,
    day: date,
    origin: str,
    libraries: dict[str, str],
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    days: int = DAYS,
    rough: bool = False,
) -> StaffAnswer:
    """Who is needed on a day, all of it; see `app/guide/staff.md`. A rough one does not tell what
    one person more or fewer does.

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

    plan, planned = needs.plan, planned_by(site)
    base = money(plan)
    present = money(planned)
    effects = () if rough else _effects(needs, base, executor, told)
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
        hands=needs.hands,
        people=needs.plan.people,
        planned=planned.people,
        timetables=Timetables(
            *map(steps_of, (as_at_edges(site, plan.people), plan.loaders, plan.drying))
        ),
        needed=_staffed(site, base, hours),
        present=_staffed(site, present, planned_hours),
        present_difference=_apart(present, base),
        effects=effects,
        rules=rules,
        rough=rough,
    )


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
        formula_mean_wait_s=finite(needs.formula.wait_s[at]),
        offered_load=float(needs.formula.load[at]),
        arrived=_mean(half["arrived"][:, at]),
        late_share=float(half["late"][:, at].sum()) / washed if washed else 0.0,
        chain_late_share=needs.chained[at].late,
        lost=_mean(half["lost"][:, at]),
        full_share=_mean(half["full_s"][:, at]) / HALF_HOUR_S,
        use=finite(use),
        margins=Margins(
            finite(needs.limits.late[at] - needs.judged_fresh.late[at]),
            finite(needs.limits.full[at] - needs.judged_fresh.full[at]),
            finite(site.crew.target_use - use),
        ),
    )


def _rule_work(needs: Needs, text: str, measured: PlanDays) -> RuleWork:
    site, half = needs.question.middle, measured.half_hours
    crewed = crew_of(site, needs.plan.loaders, measured, needs.plan.drying)
    fixed_s = float(fixed_work_s(site).sum())
    return RuleWork(
        text,
        _mean(measured.days["left_damp"]),
        _hours(half["extra_s"]),
        {
            "greeter": _hours(half["greet_s"]),
            "loader": _hours(half["load_s"]),
            "finisher": _hours(half["leave_s"]),
            "dryer": _hours(half["dry_s"]),
            "floater": (fixed_s + _mean(half["change_s"].sum(axis=1))) / 3600.0,
        },
        sum(crewed.people) / 2.0,
    )


def _staffed(site: Site, measured: PlanDays, hours: float) -> StaffedDay:
    mean = {name: _mean(values) for name, values in measured.days.items()}
    washed, cost = mean["cars_washed"], hours * site.money.wage_per_h
    costs = {name: mean.pop(name) for name in OF_COST}
    return StaffedDay(
        people_hours=hours,
        cost=cost,
        per_car=cost / washed if washed > 0.0 else None,
        costs=costs,
        cost_of_day=mean.pop(COST),
        **mean,
    )


def _mean(values: Floats) -> float:
    return float(np.mean(values))


def _hours(work_s: Floats) -> float:
    """Work of a day by half-hour [s] as mean hours; shape (days, 48) → hours."""
    return _mean(work_s.sum(axis=1)) / 3600.0


# ---- one person more or fewer --------------------------------------------------------------------


def _effects(
    needs: Needs, base: PlanDays, executor: Executor | None, told: Callable[[int], None]
) -> tuple[Effect, ...]:
    """Both changes in every open clock hour, against days of the plan with `OF_DAY`."""
    days, done = len(base.days["margin"]), 0
    is_open = open_half_hours(needs.question.middle)
    found = []
    for hour in range(is_open.start // 2, (is_open.stop + 1) // 2):
        for change in (1, -1):
            plan = changed(needs.plan, hour, change, is_open)
            with_it = base
            if plan.loaders != needs.plan.loaders:
                with_it = measure(
                    needs.question, plan, needs.rule, 0, days, executor,
                    partial(lambda before, more: told(before + more), done), with_money=True,
                )  # fmt: skip
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
    return replace(plan, people=tuple(people), loaders=tuple(loaders))


def _effect(
    needs: Needs, plan: StaffPlan, hour: int, change: int, base: PlanDays, with_it: PlanDays
) -> Effect:
    uses = [
        needs.crewed.use(at, plan.people[at], plan.loaders[at])
        for at in (2 * hour, 2 * hour + 1)
        if at < HALF_HOURS and needs.plan.people[at]
    ]
    loads, question = plan.loaders != needs.plan.loaders, needs.question
    apart = _apart(with_it, base)
    margin = apart.margin
    if not loads:  # the line is the same; wages differ, and what goes beyond the people
        margin = difference(-paid(question, plan, base), -paid(question, needs.plan, base))
    return Effect(
        hour, change, loads,
        use=finite(max(uses, default=0.0)),
        wait_p90_s=apart.wait_p90_s, cars_lost=apart.cars_lost, margin=margin,
    )  # fmt: skip


def _apart(one: PlanDays, other: PlanDays) -> Differences:
    """Measured days against others, paired."""
    names = "wait_p90_s", "cars_lost", "margin"
    return Differences(*(difference(one.days[name], other.days[name]) for name in names))


def difference(one: Floats, other: Floats) -> MeanDifference:
    """The mean of paired differences one − other over days, and half its interval."""
    apart, days = one - other, len(one)
    half = stdtrit(days - 1, 0.5 + SURE / 2.0) * apart.std(ddof=1) / math.sqrt(days)
    return MeanDifference(float(apart.mean()), float(half))

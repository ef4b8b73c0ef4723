"""People needed in each half-hour: from formulas to a search in the simulation on common draws.

Loaders move cars, so their number is searched for; everybody else follows from the work that is
then measured (`sim.decide.staff.measure`). In the end every second loader is there for a target or
pays for himself in the money of the day, and one more nowhere would.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.day.rules import Rule
from sim.day.setup import mean_load_s, prepare_day
from sim.decide.staff.measure import (
    HALF_HOUR_S,
    HALF_HOURS,
    MOST_LOADERS,
    Counts,
    Crewed,
    PlanDays,
    StaffPlan,
    crew_of,
    fixed_work_s,
    lower,
    measure,
    open_half_hours,
    paid,
    planned_by,
    upper,
)
from sim.decide.staff.queues import (
    ChainStep,
    chain,
    fewest_servers,
    mean_wait_s,
    offered_load,
    wait_exceeds,
    with_room,
)
from sim.decide.switching.question import SwitchQuestion, check, with_opening
from sim.inputs import Site

Floats = NDArray[np.float64]

LATE_SHARE = 0.1
"""Cars that may wait longer than the wait allowed: it is that of 90 cars of 100."""
DAYS = 64
"""Days that a plan is tried on, and as many fresh ones that the answer is checked on."""
BEFORE = 4
"""A queue is mended by loaders in the same half-hour or so many before it."""
SLACK_CARS = 1.0
"""Late cars of a half-hour that don't matter where nobody could meet the target."""
ENOUGH_CARS = 1.0
"""A half-hour with fewer arrivals has no wait worth judging."""


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
        lost_least: cars beyond those allowed that are lost with most loaders, upper end; at most
            0 where that target can be met.
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
        """By half-hour, whether a plan is beyond the targets of wait and stack."""
        return (judged.late > self.late + 1e-9) | (judged.full > self.full + 1e-9)

    def broken(self, judged: TargetExcess) -> NDArray[np.bool_]:
        """By half-hour, whether a plan is beyond; everywhere where it loses too many cars."""
        return self.queues_broken(judged) | (judged.lost > self.lost + 1e-9)


@dataclass(frozen=True, slots=True)
class Formula:
    """What formulas say before anything is simulated, by half-hour.

    Attributes:
        load: offered load of the line with one loader [erlangs].
        loaders, people: as they would be; loaders are most where no number would do.
        wait_s: mean wait with those loaders [s]; ∞ where the line would grow for ever.
    """

    load: Floats
    loaders: Counts
    people: Counts
    wait_s: Floats


@dataclass(frozen=True, slots=True)
class Needs:
    """The answer.

    Attributes:
        question: with_opening; its guesses stand at their middle values.
        measured: days of the search with the plan; fresh: days that no search has seen.
        chained: the day by the queue's differential equations with the plan's loaders.
    """

    question: SwitchQuestion
    rule: Rule
    plan: StaffPlan
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
    most = tuple(MOST_LOADERS for _ in range(HALF_HOURS))
    limits = limits_of(site, search.judge(most))
    formula = by_formula(site, question)
    loaders = search.settle(formula.loaders, limits)
    measured = search.measured(loaders)
    crewed = crew_of(site, loaders, measured)
    plan = StaffPlan(crewed.people, loaders)
    fresh = measure(question, plan, rule, days, 2 * days, executor, search.add)
    return Needs(
        question,
        rule,
        plan,
        crewed,
        formula,
        limits,
        measured,
        fresh,
        judge(site, fresh),
        by_chain(site, question, loaders),
        search.tried,
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


# ---- formulas ------------------------------------------------------------------------------------


def arrivals_of(question: SwitchQuestion) -> Floats:
    """Expected arrivals by half-hour [1/s]."""
    rates = np.repeat(np.array(question.conditions.arrivals_per_h, dtype=float), 2) / 3600.0
    is_open = np.isin(np.arange(HALF_HOURS), list(open_half_hours(question.middle)))
    return np.where(is_open, rates, 0.0)


def service_s(site: Site, question: SwitchQuestion, loaders: int) -> float:
    """Time that the line takes for a car when it is full [s]: the loader’s or the belt’s."""
    per_s = prepare_day(site, question.conditions).capacity_per_s
    loading = mean_load_s(site)
    belt = 1.0 / per_s
    if loaders > 1:
        quick = site.with_values(
            {"load_kind": "fixed", "load_mean_s": loading * site.pay.second_loader_factor}
        )
        belt = 1.0 / prepare_day(quick, question.conditions).capacity_per_s
    return belt


def by_formula(site: Site, question: SwitchQuestion) -> Formula:
    """Each half-hour for itself: Erlang C for the line as one server, and for all other work.

    The arrivals are the expected ones; the load of the other work lags them as the offered load
    does.
    """
    rates, crew, wait = arrivals_of(question), site.crew, site.wishes.allowed_wait_p90_s
    times = [service_s(site, question, count) for count in range(1, MOST_LOADERS + 1)]
    _, load = offered_load(HALF_HOUR_S, rates, times[0])
    hand = sum(item.numbers.share * item.numbers.hand_work for item in site.vehicles)
    per_car = hand * (crew.prep_work_s + crew.exit_work_s)
    _, other = offered_load(HALF_HOUR_S, rates, max(per_car, 1e-9))
    other = other + fixed_work_s(site) / HALF_HOUR_S
    loaders, people = [1] * HALF_HOURS, [0] * HALF_HOURS
    waits = np.zeros(HALF_HOURS)
    for at in open_half_hours(site):
        for count, time in enumerate(times, 1):
            loaders[at] = count
            busy = rates[at] * time
            waits[at] = mean_wait_s(1, busy, time)
            is_full = with_room(1, busy, room_of(site))[-1] > site.wishes.allowed_full_share
            if wait_exceeds(1, busy, time, wait) <= LATE_SHARE and not is_full:
                break
        beside = fewest_servers(
            float(other[at]), max(per_car, 1.0), wait, LATE_SHARE, crew.target_use
        )
        people[at] = max(crew.min_crew, loaders[at] + beside)
    return Formula(load, tuple(loaders), tuple(people), waits)


def room_of(site: Site) -> int:
    """Places of the line as one queue: stack, loading line, one paying and one being loaded."""
    return site.pay.stack_limit_cars + site.pay.loading_line_cars + 2


def by_chain(site: Site, question: SwitchQuestion, loaders: Counts) -> tuple[ChainStep, ...]:
    """The line as one server with room for stack, lanes and loading line, over the day."""
    times = [service_s(site, question, count) for count in range(1, MOST_LOADERS + 1)]
    services = np.array([times[count - 1] for count in loaders])
    return chain(
        HALF_HOUR_S,
        arrivals_of(question),
        services,
        np.ones(HALF_HOURS),
        room_of(site),
        site.wishes.allowed_wait_p90_s,
    )


# ---- the search ----------------------------------------------------------------------------------


class _Search:
    """Tries loaders by half-hour on the same days; every plan once.

    What one loader fewer or more is worth is paired by days: the margin with him and whoever else
    is then needed, against the margin without. He is kept where a target needs him, or where the
    cars that he saves are worth more than his wage.
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
        self._is_open = open_half_hours(self._site)
        self._known: dict[Counts, tuple[PlanDays, Floats]] = {}
        self._work: PlanDays | None = None
        self._done = 0

    @property
    def tried(self) -> int:
        """Plans tried."""
        return len(self._known)

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
        if loaders not in self._known:
            if self._work is None:
                people = planned_by(self._site).people
            else:
                people = crew_of(self._site, loaders, self._work).people
            found = measure(
                self._question, StaffPlan(people, loaders), self._rule, 0, self._days,
                self._executor, self.add, with_money=True,
            )  # fmt: skip
            self._work = self._work or found
            needed = crew_of(self._site, loaders, found).people
            there, then = StaffPlan(people, loaders), StaffPlan(needed, loaders)
            spent = paid(self._question, then, found) - paid(self._question, there, found)
            margin = found.days["margin"] - spent
            self._known[loaders] = found, margin
            self._done += self._days
        return self._known[loaders]

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
        """Whether most loaders all day lose so many cars fewer near there that one may pay."""
        money, near = self._site.money, slice(at, at + BEFORE + 1)
        most = tuple(MOST_LOADERS for _ in range(HALF_HOURS))
        saved = self.measured(loaders).half_hours["lost"] - self.measured(most).half_hours["lost"]
        worth = max(money.price_per_car, money.lost_car_cost)
        wage = money.wage_per_h * HALF_HOUR_S / 3600.0
        return worth * float(np.maximum(saved.mean(axis=0), 0.0)[near].sum()) > wage

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
            loaders = tuple(
                MOST_LOADERS if at in self._is_open else count for at, count in enumerate(loaders)
            )
        return loaders


def with_count(counts: Counts, at: int, count: int) -> Counts:
    """Numbers by half-hour with another one in one of them."""
    return (*counts[:at], count, *counts[at + 1 :])

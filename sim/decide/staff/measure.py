"""A plan of people by half-hour, a day with it, and how many people its work takes by role.

Of a day are told waits, losses, a full stack and work. Every plan meets the same days: the same
cars, the same luck, see `sim.day.draw`.

Greeting (preparation before loading), finishing (after the wheel, with what reduced wipes and
towels add), and fixed work with changes of set are shared: people go where most work is left a
head and help each other out. One alone does all of it, as a floater. Loading is a post, and so is
drying damp cars by hand: whoever does it does nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.engine import PreparedDay, Replication, Variant, parallel_map
from sim.day.figures import OF_COST, able_s
from sim.day.kernel import tables as r
from sim.day.rules import Rule
from sim.decide.staff.answer import Bound
from sim.decide.switching.at_exit import MoreHands
from sim.decide.switching.hands import Days, best_pairs
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget
from sim.inputs import Site, Steps, Value, value_at
from sim.inputs.people import ROLES, Role
from sim.special import stdtrit

Floats = NDArray[np.float64]

HALF_HOURS = 48
NOBODY = (0,) * HALF_HOURS
HALF_HOUR_S = 1800.0
HANDS = SamplingBudget(first=16, sure=64)
"""Days by which people who dry damp cars are found."""
MOST_LOADERS = 2
"""The model of the line knows one loader or two."""

Counts = tuple[int, ...]
"""Whole numbers by half-hour from midnight; shape (48,)."""


@dataclass(frozen=True, slots=True)
class StaffPlan:
    """Who is there: people in all, and of them loaders and those who only dry damp cars, by
    half-hour."""

    people: Counts
    loaders: Counts
    drying: Counts = NOBODY

    @property
    def changes(self) -> tuple[tuple[str, Value], ...]:
        """The inputs of the site that say the same."""
        return (
            ("loaders", steps_of(self.loaders)), ("people", steps_of(self.people)),
            ("finishers", steps_of(self.drying)),
        )  # fmt: skip


def steps_of(counts: Sequence[int]) -> Steps:
    """Numbers by half-hour as a timetable."""
    return tuple(
        (at * HALF_HOUR_S, float(count))
        for at, count in enumerate(counts)
        if at == 0 or count != counts[at - 1]
    )


def counts_of(table: Steps, least: int = 0) -> Counts:
    """A timetable as numbers by half-hour: the most that holds within each."""
    found = []
    for at in range(HALF_HOURS):
        start, end = at * HALF_HOUR_S, (at + 1) * HALF_HOUR_S
        within = [amount for moment, amount in table if start < moment < end]
        found.append(max(least, *(round(v) for v in [value_at(table, start), *within])))
    return tuple(found)


def open_half_hours(site: Site) -> range:
    """The half-hours in which the site is open."""
    first = math.floor(site.line.open_h * 2.0 + 1e-9)
    last = math.ceil(site.line.close_h * 2.0 - 1e-9)
    return range(first, max(first + 1, min(HALF_HOURS, last)))


def planned_by(site: Site) -> StaffPlan:
    """What the site's own timetables say; nobody outside opening hours."""
    is_open = open_half_hours(site)
    people, loaders = counts_of(site.crew.people), counts_of(site.pay.loaders, 1)
    shown = tuple(count if at in is_open else 0 for at, count in enumerate(people))
    return StaffPlan(shown, loaders, as_at_edges(site, counts_of(site.crew.finishers)))


def as_at_edges(site: Site, counts: Counts) -> Counts:
    """Numbers with those outside opening hours as at its edge, as timetables have them."""
    is_open = open_half_hours(site)
    return tuple(counts[min(max(at, is_open.start), is_open.stop - 1)] for at in range(HALF_HOURS))


def hands_that_pay(
    question: SwitchQuestion, rule: Rule, loaders: Counts, told: Callable[[], None]
) -> tuple[MoreHands, Counts]:
    """People more than the site's own who pay by drying damp cars, as When to reduce chooses them
    for a rule (least cost under the wish's conditions, of what does not matter the fewest), and all
    who only dry by half-hour; who stays until closing stays until the last car has left.

    Args:
        told: called on the way; it may raise to give up.
    """
    site = question.site.with_values({"loaders": steps_of(loaders)})
    days = Days(replace(question, site=site), None, lambda _done, _total: told(), 0)
    more = best_pairs(days, rule, (rule,), HANDS).chosen.hands
    own = planned_by(site).drying
    starts = (at * HALF_HOUR_S for at in range(HALF_HOURS))
    there = [more.from_s < start + HALF_HOUR_S and start < more.until_s for start in starts]
    every = tuple(count + more.people * at for count, at in zip(own, there, strict=True))
    return more, as_at_edges(site, every)


# ---- a day with a plan ---------------------------------------------------------------------------

DAYS_A_PIECE = 8
"""Days that a worker runs at a time: below a tenth of a second."""

HALF_HOURLY = (
    "arrived", "washed", "late", "wait_s", "lost", "full_s", "greet_s", "load_s", "leave_s",
    "extra_s", "change_s", "dry_s",
)  # fmt: skip
"""By half-hour: arrivals; by arrival cars washed, those that waited longer than allowed, their
waits, cars lost; time with a full stack; work before loading, loading, after the wheel, of it
what reduced wipes add; work of changing sets; drying by hand, done by those who do nothing else.
Work in person-seconds."""
OF_DAY = (
    "wait_p90_s", "wait_mean_s", "cars_lost", "cars_washed", "margin", "left_damp",
    "overtime_minutes", *OF_COST, "cost",
)  # fmt: skip
"""Figures of the whole day."""


@dataclass(frozen=True, slots=True)
class PlanDays:
    """Days of a plan.

    Attributes:
        half_hours: shape (days, 48) by name of `HALF_HOURLY`.
        days: shape (days,) by name of `OF_DAY`; empty where not asked for.
    """

    half_hours: dict[str, Floats]
    days: dict[str, Floats]


Job = tuple[SwitchQuestion, StaffPlan, Rule, int, int, bool]


def measure(
    question: SwitchQuestion,
    plan: StaffPlan,
    rule: Rule,
    first: int,
    last: int,
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda days: None,
    *,
    with_money: bool = False,
) -> PlanDays:
    """Days `first` to `last` − 1 of a question with a plan of people.

    Args:
        question: settled, its guesses at their middle values.
        told: told of each piece how many days are done.
        with_money: also `OF_DAY`, which takes as long again.
    """
    jobs: list[Job] = [
        (question, plan, rule, start, min(last, start + DAYS_A_PIECE), with_money)
        for start in range(first, last, DAYS_A_PIECE)
    ]

    def done(pieces: int) -> None:
        told(min(pieces * DAYS_A_PIECE, last - first))

    found = list(parallel_map(_run, jobs, executor, done))
    table = np.concatenate([piece[0] for piece in found])
    of_day = np.concatenate([piece[1] for piece in found])
    return PlanDays(
        {name: table[:, at] for at, name in enumerate(HALF_HOURLY)},
        {name: of_day[:, at] for at, name in enumerate(OF_DAY)} if with_money else {},
    )


def paid(question: SwitchQuestion, plan: StaffPlan, measured: PlanDays) -> Floats:
    """Wages of measured days and work beyond the people present, had a plan's people been there,
    by the items of a day's cost (`sim.day.figures`) [money]; shape (days,).

    Args:
        measured: with `OF_DAY`, and as many loaders as the plan has.
    """
    day, half = _prepared(question, plan), measured.half_hours
    prices, close_s = day.prices, day.prices.close_s
    work = half["greet_s"] + half["load_s"] + half["leave_s"] + half["change_s"]
    late_s = 60.0 * measured.days["overtime_minutes"]
    able = np.array([able_s(day.site, day.numbers, closed_s) for closed_s in close_s + late_s])
    beyond = np.maximum(0.0, work - able).sum(axis=1)
    return np.asarray(prices.wages + prices.overtime_per_s * late_s + prices.work_per_s * beyond)


# ---- a worker ------------------------------------------------------------------------------------


@lru_cache(maxsize=256)
def _cars(question: SwitchQuestion, number: int) -> DayCars:
    """The cars of a day; no plan of people changes them."""
    return make_cars(DayDraw(question.seed, number), question.middle, question.conditions)


def _prepared(question: SwitchQuestion, plan: StaffPlan) -> PreparedDay:
    return question.experiment.at().prepare(Variant(tuple(plan.changes)))


def _run(job: Job) -> tuple[Floats, Floats]:
    question, plan, rule, first, last, with_money = job
    day = _prepared(question, plan)
    site, sets = day.site, day.sets(question.cloth)
    table = np.zeros((last - first, len(HALF_HOURLY), HALF_HOURS))
    of_day = np.zeros((last - first, len(OF_DAY)))
    for at, number in enumerate(range(first, last)):
        cars = _cars(question, number)
        replication = Replication(day, cars)
        done = replication.run(rule, sets)
        table[at] = _half_hours(site, cars, done.flow.rows, done.wiped)
        if with_money:
            told = replication.figures(rule, sets).day
            waits, washed = table[at, 3].sum(), table[at, 1].sum()
            values = {**told, "wait_mean_s": waits / washed if washed else 0.0}
            of_day[at] = np.nan_to_num([values[name] for name in OF_DAY])
    return table, of_day


def _half_hours(site: Site, cars: DayCars, rows: r.LineRows, wiped: r.Wiped) -> Floats:
    count = int(rows.counts[r.ROWS])
    times, line, marks = rows.times[:count], rows.line[:count], wiped.marks[:count]
    kept = line[:, r.LOST] == r.KEPT
    first = kept & (line[:, r.TURN] == 1)
    crew = site.crew
    wait = (
        times[:, r.CAUGHT]
        - times[:, r.ARRIVAL]
        - (times[:, r.PAID] - times[:, r.PAY_START])
        - (times[:, r.LOADED] - times[:, r.LOAD_START])
    )
    late = first & (wait > site.wishes.allowed_wait_p90_s)
    arrival, loading, leaving = (times[:, at] for at in (r.ARRIVAL, r.LOAD_START, r.EXIT))
    passed = kept & np.isfinite(leaving)
    extra = np.where(marks[:, r.REDUCED] == 1, crew.reduced_work_s, 0.0)
    by_class = np.array([item.numbers.hand_work for item in site.vehicles])
    hand = by_class[cars.class_index[line[:, r.CAR]]]
    loads = _sum(loading[passed], hand[passed])
    return np.stack(
        [
            _sum(cars.arrival_s),
            _sum(arrival[first]),
            _sum(arrival[late]),
            _sum(arrival[first], wait[first]),
            _sum(arrival[~kept]),
            _full(site, times[kept], line[kept]),
            crew.prep_work_s * loads,
            crew.load_work_s * loads,
            _sum(leaving[passed], (hand * (extra + crew.exit_work_s))[passed]),
            _sum(leaving[passed], (hand * extra)[passed]),
            _changing(site, wiped),
            _drying(marks[passed], wiped.hands[:count][passed]),
        ]
    )


def _sum(moments: Floats, weights: Floats | None = None) -> Floats:
    """Count, or sum of weights, by half-hour; what comes after midnight counts to the last."""
    place = np.minimum(moments // HALF_HOUR_S, HALF_HOURS - 1).astype(np.int64)
    return np.bincount(place, weights, HALF_HOURS).astype(float)


def _full(site: Site, times: Floats, line: NDArray[np.int64]) -> Floats:
    """Time with the stack at its limit by half-hour [s]."""
    full = np.zeros(HALF_HOURS)
    limit = site.pay.stack_limit_cars
    if limit == 0 or not len(times):
        return full
    leaves = np.where(line[:, r.TURN] == 1, times[:, r.PAY_START], times[:, r.UNBLOCKED])
    moments = np.concatenate([times[:, r.ARRIVAL], leaves])
    change = np.concatenate([np.ones(len(leaves)), -np.ones(len(leaves))])
    order = np.lexsort((change, moments))  # departures before arrivals
    moments, present = moments[order], np.cumsum(change[order])
    for at in np.flatnonzero(present[:-1] >= limit):
        spend(full, float(moments[at]), float(moments[at + 1]))
    return full


def spend(half_hours: Floats, start_s: float, end_s: float, weight: float = 1.0) -> None:
    """Add a stretch of time, times a weight, to the half-hours that it lies in."""
    at = min(int(start_s // HALF_HOUR_S), HALF_HOURS - 1)
    while start_s < end_s:
        until = end_s if at == HALF_HOURS - 1 else min(end_s, (at + 1) * HALF_HOUR_S)
        half_hours[at] += weight * (until - start_s)
        start_s, at = until, at + 1


def _changing(site: Site, wiped: r.Wiped) -> Floats:
    """Work of changes of set by half-hour."""
    work, wear = np.zeros(HALF_HOURS), site.wear
    for start in wiped.changed_s[: int(wiped.places[r.SETS])].tolist():
        spend(work, start, start + wear.set_change_min * 60.0, float(wear.set_change_people))
    return work


def _drying(marks: NDArray[np.int64], hands: Floats) -> Floats:
    """Work of those who only dry damp cars by half-hour."""
    work = np.zeros(HALF_HOURS)
    for begun, done in hands[marks[:, r.FATE] == r.TOWEL][:, [r.BEGUN, r.DONE]].tolist():
        spend(work, begun, done)
    return work


# ---- people for the work -------------------------------------------------------------------------

CONFIDENCE = 0.95
"""One-sided: how sure it is that a target is met."""
MINUTE_S = 60.0


def upper(values: Floats) -> Floats:
    """Upper end of the one-sided interval of the mean over days; shape (days, …) → (…)."""
    days = len(values)
    error = values.std(axis=0, ddof=1) / math.sqrt(days)
    return np.asarray(values.mean(axis=0) + float(stdtrit(days - 1, CONFIDENCE)) * error)


def lower(values: Floats) -> Floats:
    """Lower end of the same."""
    return -upper(-values)


@dataclass(frozen=True, slots=True)
class Crewed:
    """People by half-hour, with why.

    Attributes:
        people: in all; roles: by role of `ROLES`, summing to it.
        whole, shared: work of all, and of all but loading, by half-hour, upper end [person-s];
            shape (48,).
        bound: what asks for that many, by half-hour.
    """

    people: Counts
    roles: dict[Role, Counts]
    whole: Floats
    shared: Floats
    bound: tuple[Bound, ...]

    def use(self, at: int, people: int, loaders: int) -> float:
        """Share of their time that work takes of so many people in a half-hour, those who only dry
        cars left out.

        That of all or of those who don’t load, whichever is more; ∞ where nobody is there for it.
        """
        found, people = 0.0, people - self.roles["dryer"][at]
        for work, count in ((self.whole[at], people), (self.shared[at], people - loaders)):
            if work > 0.0:
                found = max(found, work / (count * HALF_HOUR_S) if count > 0 else math.inf)
        return found


def fixed_work_s(site: Site) -> Floats:
    """Fixed work by half-hour [person-s]; shape (48,)."""
    work = np.zeros(HALF_HOURS)
    work[list(open_half_hours(site))] = site.crew.fixed_work_min_per_h * MINUTE_S / 2.0
    return work


def crew_of(site: Site, loaders: Counts, measured: PlanDays, drying: Counts = NOBODY) -> Crewed:
    """People needed beside so many loaders and so many who only dry damp cars, by what was measured
    with them.

    The work of each half-hour, upper end over days, may take no more than `target_use` of the
    time of those who do it; the work of all no more than that of all.
    """
    half = measured.half_hours
    greet, leave = upper(half["greet_s"]), upper(half["leave_s"])
    others = half["greet_s"] + half["leave_s"] + half["change_s"] + fixed_work_s(site)
    shared, whole = upper(others), upper(others + half["load_s"])
    room = HALF_HOUR_S * site.crew.target_use
    people, bound = [0] * HALF_HOURS, list[Bound]([""]) * HALF_HOURS
    roles = {role: [0] * HALF_HOURS for role in ROLES}
    for at in _manned(site, whole):
        loading = loaders[at] if at in open_half_hours(site) else min(loaders[at], 1)
        asked: dict[Bound, int] = {
            "loading": loading,
            "drying": loading + drying[at],
            "use": drying[at] + max(loading + _ceil(shared[at] / room), _ceil(whole[at] / room)),
            "fewest": site.crew.min_crew,
        }
        bound[at] = max(asked, key=lambda name: asked[name])  # the first of equals
        people[at] = asked[bound[at]]
        rest = max(0.0, shared[at] - greet[at] - leave[at])
        shares = shared_out(people[at] - loading - drying[at], (greet[at], leave[at], rest))
        roles["greeter"][at], roles["finisher"][at], roles["floater"][at] = shares
        roles["loader"][at], roles["dryer"][at] = loading, drying[at]
    _outside(site, people, roles, bound)
    by_role = {role: tuple(counts) for role, counts in roles.items()}
    return Crewed(tuple(people), by_role, whole, shared, tuple(bound))


def shared_out(people: int, work: tuple[float, float, float]) -> tuple[int, int, int]:
    """Greeters, finishers and floaters by their work: a person each, then where most is a head.

    One alone is a floater.
    """
    if people == 1:
        return 0, 0, 1
    counts = [0, 0, 0]
    for _ in range(people):
        a_head = [(not n and w > 0.0, w / max(n, 1)) for w, n in zip(work, counts, strict=True)]
        counts[a_head.index(max(a_head))] += 1
    return counts[0], counts[1], counts[2]


def _ceil(amount: float) -> int:
    return math.ceil(amount - 1e-9)


def _manned(site: Site, work: Floats) -> Sequence[int]:
    """Half-hours with people on the line: open ones, and later ones while cars are washed."""
    is_open = open_half_hours(site)
    late = [at for at in range(is_open.stop, HALF_HOURS) if work[at] > MINUTE_S]
    return [*is_open, *late]


def _outside(
    site: Site, people: list[int], roles: dict[Role, list[int]], bound: list[Bound]
) -> None:
    """Opening and closing work: no more than the fewest people, over as many half-hours."""
    manned = [at for at in range(HALF_HOURS) if bound[at]]
    for minutes, step, edge in (
        (site.crew.opening_work_min, -1, manned[0]),
        (site.crew.closing_work_min, 1, manned[-1]),
    ):
        half_hours = _ceil(minutes / (30.0 * site.crew.min_crew))
        count = _ceil(minutes / (30.0 * half_hours)) if half_hours else 0
        for number in range(1, half_hours + 1):
            at = edge + step * number
            if 0 <= at < HALF_HOURS:
                people[at] = roles["floater"][at] = count
                bound[at] = "opening"

"""A week's roster at least cost, then with the least change: shift counts first, then people.

The first step decides how many of each shift there are, together with hours and days that each
person could give, as numbers that need not be whole; skills wait for the second. Everything that
a real roster meets, that step meets too, so its bound holds for every roster. The second step
gives people to the shifts of the first; where that is not good enough, to any shift allowed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sim.decide.staff.answer import Roster, RosterAnswer
from sim.decide.staff.assign import Assigned, Assignment, Found, search
from sim.decide.staff.conflicts import explain, faults_of
from sim.decide.staff.program import Counts, Kinds, Program, cover_counts
from sim.decide.staff.week import (
    DAYS,
    SATURDAY,
    Duty,
    Group,
    Shift,
    Week,
    cost_by_day,
    cost_of,
    planned_shifts,
)

CENT = 1e-6
"""Costs closer than this are the same [money]."""
GOOD_GAP = 0.01
"""Share of the cost by which a roster of many people may lie above the bound."""
FEW_PEOPLE = 12
"""Up to this many people the best roster is sought, not only a good one."""
STAY_WORTH = 0.001
"""What a shift that stays as last week is worth among many people [mean hourly wages]."""
SHARES = (0.25, 0.12, 0.3, 0.3, 0.15, 0.35)
"""Of the time that is left at each step: counts, each round of counts among shifts near those,
people to the shifts found, people to any shift; of all the time what is kept for least change, and,
without a roster so far, for the proof that there is none. What a step does not use is left to those
after it."""
ROUNDS = 2
"""Most rounds of counts among shifts near those of the round before."""
NEAR = 2
"""Half-hours by which start and end of a shift lie near those of another."""


@dataclass(frozen=True, slots=True)
class NoRoster:
    """There is none: `proved`, or none was found in the time allowed.

    Attributes:
        nearest: the shifts that came nearest, some rules broken.
    """

    proved: bool
    nearest: tuple[Duty, ...] = ()


def countdown(most_s: float, clock: Callable[[], float]) -> Callable[[], float]:
    """How many seconds are left of so many, by a clock."""
    ends_s = clock() + most_s
    return lambda: ends_s - clock()


def stopped() -> float:
    """A clock that stands still: each step then has its share of all the time."""
    return 0.0


def roster_answer(
    week: Week, most_s: float = 10.0, clock: Callable[[], float] = stopped
) -> RosterAnswer:
    """The roster of a week, or the rules in conflict and ways out.

    Args:
        most_s: time for all of it [s]; clock: seconds as they pass.
    """
    left_s = countdown(most_s, clock)
    found = make_roster(week, most_s, clock)
    if isinstance(found, Roster):
        return RosterAnswer(week.monday, found, None)
    conflict = explain(week, left_s, found.nearest, True) if found.proved else None
    return RosterAnswer(week.monday, None, conflict)


def make_roster(
    week: Week, most_s: float = 10.0, clock: Callable[[], float] = stopped
) -> Roster | NoRoster:
    """The roster of a week.

    Args:
        week: the question.
        most_s: time for all steps together [s]; where it runs out, the best so far is taken, so
            that a slower machine may find a dearer roster.
        clock: seconds as they pass.
    """
    left_s = countdown(most_s, clock)
    every = tuple(week.shifts(day) for day in range(DAYS))
    first = _counted(replace(week, skilled={}), every, left_s)
    few = len(week.people) <= FEW_PEOPLE
    worth = 0.0 if few else STAY_WORTH
    bound = 0.0 if first is None else first[0].bound
    tries: list[Assigned] = []
    pool: Kinds = every
    if first is not None:
        pool = _with_last(week, every, first[1])
        tries.append(Assignment(week, pool).solve(SHARES[2] * left_s(), 0.0, worth))
    whole, impossible = Assignment(week, every), False
    nearest: tuple[Duty, ...] = ()
    if not tries or not _is_good(week, tries[0].duties, bound):
        tried = whole.solve(SHARES[3] * left_s(), 0.0, worth)
        impossible, bound = tried.impossible, max(bound, tried.bound)
        tries.append(tried)
    found = [one.duties for one in tries if one.duties is not None]
    best = min(found, key=lambda duties: cost_of(week, duties)) if found else None
    if not (impossible or _is_good(week, best, bound)):
        nearest = _mended(whole, best, bound, left_s, most_s)
        if not faults_of(week, nearest):
            best = nearest
    if best is None:
        if not impossible:
            impossible = whole.solve(left_s() / 2.0, just_any=True).impossible
        return NoRoster(impossible, nearest)
    if week.last:
        best = _calm(week, best, every if few else _with(pool, best), left_s)
    cost = cost_of(week, best)
    lp_bound = 0.0 if first is None else first[0].lp_bound
    return Roster(
        cost=cost,
        lp_bound=min(lp_bound, cost),
        bound=min(bound, cost),
        kept=kept_of(week, best),
        last_week=len(week.last),
        cost_by_day=cost_by_day(week, best),
        shifts=planned_shifts(week.monday, best),
    )


def _mended(
    whole: Assignment,
    best: tuple[Duty, ...] | None,
    bound: float,
    left_s: Callable[[], float],
    most_s: float,
) -> tuple[Duty, ...]:
    """The best roster found from one that there is, or from nobody at work, bit by bit."""
    week = whole.week
    start = None if best is None else Found(best, 0.0, cost_of(week, best))
    enough = bound + _gap_allowed(week, bound)
    for_the_rest_s = (SHARES[4] if start else SHARES[5]) * most_s
    return search(whole, lambda: left_s() - for_the_rest_s, start, enough).duties


def _calm(
    week: Week, best: tuple[Duty, ...], pool: Kinds, left_s: Callable[[], float]
) -> tuple[Duty, ...]:
    """As many of last week's shifts as can be at the same cost."""
    top = cost_of(week, best) + CENT
    calm = Assignment(week, pool).solve(left_s(), cost_at_most=top)
    # The solver's own slack on a row may let a fraction of a cent through.
    if calm.duties is None or cost_of(week, calm.duties) > top + CENT:
        return best
    return max(best, calm.duties, key=lambda duties: kept_of(week, duties))


def _counted(
    week: Week, every: Kinds, left_s: Callable[[], float]
) -> tuple[Counts, list[set[Shift]]] | None:
    """Counts of shifts, then, for as long as that is cheaper, of those near the ones used.

    Among few shifts the solver soon finds good counts; the bound stays that of all of them.
    """
    found = count_shifts(week, every, SHARES[0] * left_s())
    for _round in range(ROUNDS):
        if found is None or found[0].cost - found[0].bound <= CENT:
            break
        near = count_shifts(week, _near(every, found[1]), SHARES[1] * left_s())
        if near is None or near[0].cost >= found[0].cost - CENT:
            break
        found = replace(near[0], lp_bound=found[0].lp_bound, bound=found[0].bound), near[1]
    return found


def _near(every: Kinds, used: list[set[Shift]]) -> Kinds:
    """Shifts that begin and end near one that is used that day."""
    return tuple(
        tuple(
            shift
            for shift in shifts
            if any(
                abs(shift.start - one.start) <= NEAR and abs(shift.end - one.end) <= NEAR
                for one in day
            )
        )
        for shifts, day in zip(every, used, strict=True)
    )


def kept_of(week: Week, duties: tuple[Duty, ...]) -> int:
    """How many shifts are as last week, by person, day, start and end."""
    times = {(old.name, old.day, old.shift.start, old.shift.end) for old in week.last}
    return sum((d.name, d.day, d.shift.start, d.shift.end) in times for d in duties)


def _is_good(week: Week, duties: tuple[Duty, ...] | None, bound: float) -> bool:
    return duties is not None and cost_of(week, duties) - bound <= _gap_allowed(week, bound)


def _gap_allowed(week: Week, bound: float) -> float:
    return CENT if len(week.people) <= FEW_PEOPLE else GOOD_GAP * bound


def _with(kinds: Kinds, duties: tuple[Duty, ...]) -> Kinds:
    """Shifts that may be used, and those of a roster among them, each once by its times."""
    found = [{(shift.start, shift.end): shift for shift in shifts} for shifts in kinds]
    for duty in duties:
        found[duty.day].setdefault((duty.shift.start, duty.shift.end), duty.shift)
    return tuple(tuple(sorted(day.values())) for day in found)


def _with_last(week: Week, every: Kinds, chosen: list[set[Shift]]) -> Kinds:
    """The shifts chosen, and those of last week that are still allowed."""
    for old in week.last:
        chosen[old.day] |= {shift for shift in every[old.day] if shift.same_time(old.shift)}
    return tuple(tuple(sorted(shifts)) for shifts in chosen)


def count_shifts(week: Week, every: Kinds, most_s: float) -> tuple[Counts, list[set[Shift]]] | None:
    """The first step: counts of shifts, and the shifts used by weekday; None where there are none.

    Beside the counts each person has, by day, hours and a share of a day's work.
    """
    limits = week.limits
    made = Program()
    made.count(week, every)
    hours_in: dict[tuple[int, Group], dict[int, float]] = {}
    people_in: dict[tuple[int, Group], dict[int, float]] = {}
    for (day, group, shift), column in made.counts.items():
        hours_in.setdefault((day, group), {})[column] = -shift.paid_h(limits)
        people_in.setdefault((day, group), {})[column] = -1.0
    for person in week.people:
        hours: dict[int, float] = {}
        share: dict[int, int] = {}
        for day in range(DAYS):
            can = [s.paid_h(limits) for s in every[day] if not week.is_away(person, day, s)]
            if not can:
                continue
            group = week.group_of(person)
            at, part = made.column(person.wage_per_h), made.column()
            hours[at], share[part] = 1.0, day
            hours_in[day, group][at] = people_in[day, group][part] = 1.0
            made.rules.add({at: 1.0, part: -max(can)}, -np.inf, 0.0)
            made.rules.add({at: 1.0, part: -min(can)}, 0.0, np.inf)
            made.rules.add({part: 1.0}, 0.0, 1.0)
        had = sum(duty.day >= SATURDAY for duty in week.last_of(person))
        made.rules.add(dict.fromkeys(share, 1.0), 0.0, float(limits.most_days_week))
        weekend = {column: 1.0 for column, day in share.items() if day >= SATURDAY}
        made.rules.add(weekend, 0.0, float(max(0, limits.most_weekend_days - had)))
        made.rules.add(hours, person.least_h, week.most_h(person))
        over = made.column(person.wage_per_h * (limits.overtime_factor - 1.0))
        made.rules.add({**hours, over: -1.0}, -np.inf, limits.overtime_after_h)
    for terms in (*hours_in.values(), *people_in.values()):
        # As many hours and people as the shifts take, or more: rounding up finds an answer fast.
        made.rules.add(terms, 0.0, np.inf)
    for _skills, _day, terms, need in made.cover(week):
        made.covers.add(terms, need, np.inf)
    size = len(made.cost)
    covers = made.covers.made(size)
    found = cover_counts(
        np.array(made.cost), covers.A, covers.lb, made.rules.made(size),
        np.array(made.whole), most_s,
    )  # fmt: skip
    if found is None:
        return None
    used: list[set[Shift]] = [set() for _ in range(DAYS)]
    for (day, _group, shift), column in made.counts.items():
        if found.counts[column] > 0:
            used[day].add(shift)
    return found, used

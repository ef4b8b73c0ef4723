"""Rules that a roster breaks, why a week has no roster, and the cheapest ways out.

The rules in conflict are found by letting rules go one after another for as long as it stays
proved that no roster exists (the deletion filter, Chinneck & Dravnieks 1991, ORSA Journal on
Computing 3:157–168): of those left, none can be spared. A way out is a roster that breaks rules at
least price. It is told by what is really broken in it, and it is tried whether any is cheaper.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from sim.decide.staff.answer import Breach, Conflict, Rule, WayOut
from sim.decide.staff.assign import Assignment, Found, search
from sim.decide.staff.week import (
    DAYS,
    PER_H,
    SATURDAY,
    SLOTS,
    Duty,
    Group,
    Week,
    cost_of,
    counts_for,
    hours_of,
    planned_shifts,
    slots_of,
)
from sim.inputs import Person

RULES: tuple[Rule, ...] = (
    "rest", "weekend", "days_off", "least_hours", "most_hours", "skill", "away", "cover",
)  # fmt: skip
"""In the order in which they are let go: what is seldom to blame first."""
FILTER_SHARE = 0.25
"""Of the time left to that, for each rule that is let go to see whether there is a roster then."""
FOR_WAYS = 0.6
"""Of the time left, what the rules in conflict leave to the ways out."""
FINER = 0.25
"""Prices closer than this are the same: the least that half an hour or one of anything makes."""


def some_time() -> float:
    """Seconds left where nobody counts them: each step has its share of so many."""
    return 30.0


def explain(
    week: Week,
    left_s: Callable[[], float] = some_time,
    nearest: tuple[Duty, ...] = (),
    is_proved: bool = False,
) -> Conflict | None:
    """Rules in conflict and ways out; None where it isn't proved that there is no roster.

    Args:
        week: the question.
        left_s: seconds left.
        nearest: shifts that came nearest to a roster.
        is_proved: whether it has been proved already that there is none.
    """
    shifts = tuple(week.shifts(day) for day in range(DAYS))
    whole = Assignment(week, shifts)
    if not (is_proved or whole.solve(left_s() / 2.0, just_any=True).impossible):
        return None
    tried, minimal = whole, True
    filter_s = _until(left_s, FOR_WAYS * left_s())
    for rule in RULES:
        without = replace(tried, free=tried.free | {rule})
        found = without.solve(FILTER_SHARE * filter_s(), just_any=True)
        tried = without if found.impossible else tried
        minimal = minimal and (found.impossible or found.duties is not None)
    if not {"cover", "skill"} <= tried.free:
        for day in range(DAYS):
            without = replace(tried, cover_days=tried.cover_days - {day})
            if without.solve(FILTER_SHARE * filter_s(), just_any=True).impossible:
                tried = without
    rules = tuple(rule for rule in RULES if rule not in tried.free)
    days = tuple(sorted(tried.cover_days)) if {"cover", "skill"} & set(rules) else ()
    return Conflict(rules, days, _ways(whole, rules, left_s, nearest), minimal)


def _ways(
    whole: Assignment,
    rules: tuple[Rule, ...],
    left_s: Callable[[], float],
    nearest: tuple[Duty, ...],
) -> tuple[WayOut, ...]:
    """By all the rules in conflict, then by one each; by any rule where those are not enough."""
    ways: list[WayOut] = []
    tries = list(dict.fromkeys([frozenset(rules), *(frozenset([rule]) for rule in rules)]))
    for number, relaxed in enumerate(tries):
        if any(way.least and {one.rule for one in way.breaches} <= relaxed for way in ways):
            continue  # the least of all is one by these rules alone
        share = 1.0 / (len(tries) + 1 - number)  # one more for any rule
        until_s = (1.0 - share) * left_s()
        found = _way(replace(whole, relaxed=relaxed), _until(left_s, until_s), nearest)
        ways += [] if found is None else [found]
    if not ways:
        found = _way(replace(whole, relaxed=frozenset(RULES)), left_s, nearest)
        ways += [] if found is None else [found]
    return tuple(sorted(ways, key=lambda way: way.price))


def _until(left_s: Callable[[], float], until_s: float) -> Callable[[], float]:
    return lambda: left_s() - until_s


def _way(
    asked: Assignment, left_s: Callable[[], float], nearest: tuple[Duty, ...]
) -> WayOut | None:
    """The cheapest way out that breaks the relaxed rules alone; None where none was found.

    The whole program is asked for one that is cheaper than the last, until it is proved that there
    is none; where it doesn't come to an end in its time, the last one is bettered bit by bit first.
    """
    week, proved = asked.week, False
    best: Found | None = None
    start = Found(nearest, np.inf, np.inf) if nearest else None
    while not proved and left_s() > 0.0:
        cap = np.inf if best is None else best.price - FINER
        found = replace(asked, price_at_most=cap).solve(left_s() / 4.0, just_any=True)
        proved = found.impossible or found.optimal
        before = best
        if found.duties is not None:
            best = Found(found.duties, found.price, cost_of(week, found.duties))
        if not proved:
            bettered = search(asked, _until(left_s, left_s() / 2.0), best or start, patience=1)
            best = bettered if best is None or bettered.beats(best) else best
            if before is not None and best.price > before.price - FINER:
                break
    if best is None or best.price == np.inf:
        return None  # where no step came to an end, the start is no way out
    breaches = faults_of(week, best.duties)
    if not breaches or not {one.rule for one in breaches} <= asked.relaxed:
        return None
    return WayOut(breaches, planned_shifts(week.monday, best.duties), best.price, proved)


# ---- faults of a roster --------------------------------------------------------------------------


def faults_of(week: Week, duties: Sequence[Duty]) -> tuple[Breach, ...]:
    """Every rule that a roster breaks, cover first, then by person in the week's order; shifts of
    people who have left are let be."""
    names = {person.name for person in week.people}
    duties = [duty for duty in duties if duty.name in names]
    found: dict[tuple[Group, int], float] = {}
    for (day, _), short in _too_few(week, duties).items():
        for skills, people in short.items():
            found[skills, day] = found.get((skills, day), 0.0) + people / PER_H
    told = [
        Breach("skill" if skills else "cover", "", day, hours, skills)
        for (skills, day), hours in sorted(found.items())
    ]
    for person in week.people:
        mine = sorted((d for d in duties if d.name == person.name), key=lambda duty: duty.day)
        told += _of_person(week, person, mine)
    return tuple(told)


def _too_few(week: Week, duties: Sequence[Duty]) -> dict[tuple[int, int], dict[Group, int]]:
    """People short by weekday and half-hour: without skills, by one skill, by several together.

    Posts without somebody are as many as the set of skills that is short by most says (Hall's
    theorem as Ore gave it, 1955); what the skills of that set lack each by itself is told first.
    """
    groups = {person.name: week.group_of(person) for person in week.people}
    found: dict[tuple[int, int], dict[Group, int]] = {}
    for skills, day, slot, need in week.asked():
        here = sum(
            int(duty.shift.covered[slot])
            for duty in duties
            if duty.day == day and counts_for(skills, groups[duty.name])
        )
        if here < need:
            found.setdefault((day, slot), {})[skills] = need - here
    for short in found.values():
        together = {skills: people for skills, people in short.items() if len(skills) > 1}
        alone = sum(people for skills, people in short.items() if len(skills) == 1)
        worst = max(together, key=lambda skills: (together[skills], -len(skills)), default=())
        for skills in together:
            del short[skills]
        if worst and together[worst] > alone:
            short[worst] = together[worst] - alone
    return found


def _of_person(week: Week, person: Person, mine: Sequence[Duty]) -> list[Breach]:
    name, limits, told = person.name, week.limits, list[Breach]()
    for duty in mine:
        if week.is_away(person, duty.day, duty.shift):
            told.append(Breach("away", name, duty.day, 1.0))
    hours = hours_of(mine, name, limits)
    if hours > week.most_h(person):
        told.append(Breach("most_hours", name, -1, hours - week.most_h(person)))
    if hours < person.least_h:
        told.append(Breach("least_hours", name, -1, person.least_h - hours))
    if len(mine) > limits.most_days_week:
        told.append(Breach("days_off", name, -1, float(len(mine) - limits.most_days_week)))
    before = week.last_of(person)
    had = sum(duty.day >= SATURDAY for duty in before)
    now = sum(duty.day >= SATURDAY for duty in mine)
    most = max(0, limits.most_weekend_days - had)
    if now > most:
        told.append(Breach("weekend", name, -1, float(now - most)))
    spans = [(d.day - DAYS, d.shift) for d in before if d.day == DAYS - 1]
    spans += [(d.day, d.shift) for d in mine]
    for (day, earlier), (next_day, later) in pairwise(spans):
        if (next_day - day) * SLOTS + later.start - earlier.end < slots_of(limits.rest_h):
            told.append(Breach("rest", name, next_day, 1.0))
    return told

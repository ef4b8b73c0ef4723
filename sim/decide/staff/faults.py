"""What is wrong with a roster that people have changed by hand: every rule broken, at once."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from sim.decide.staff.assign import (
    AWAY,
    COVER,
    DAYS_OFF,
    LEAST,
    MOST,
    REST,
    SKILL,
    WEEKEND,
    Breach,
)
from sim.decide.staff.shifts import PER_H, SLOTS, slots_of
from sim.decide.staff.week import DAYS, SATURDAY, Duty, Group, Week, counts_for, hours_of


def faults_of(week: Week, duties: Sequence[Duty]) -> tuple[Breach, ...]:
    """Every rule that a roster breaks, cover first, then by person in the week's order."""
    found: dict[tuple[Group, int], float] = {}
    for (day, _), short in _too_few(week, duties).items():
        for skills, people in short.items():
            found[skills, day] = found.get((skills, day), 0.0) + people / PER_H
    told = [
        Breach(SKILL if skills else COVER, "", day, hours, skills)
        for (skills, day), hours in sorted(found.items())
    ]
    for person in week.people:
        mine = sorted((d for d in duties if d.name == person.name), key=lambda duty: duty.day)
        told += _of_person(week, person.name, mine)
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


def _of_person(week: Week, name: str, mine: Sequence[Duty]) -> list[Breach]:
    person = next(one for one in week.people if one.name == name)
    limits, told = week.limits, []
    for duty in mine:
        if week.is_away(person, duty.day, duty.shift):
            told.append(Breach(AWAY, name, duty.day, 1.0))
    hours = hours_of(mine, name, limits)
    if hours > week.most_h(person):
        told.append(Breach(MOST, name, -1, hours - week.most_h(person)))
    if hours < person.least_h:
        told.append(Breach(LEAST, name, -1, person.least_h - hours))
    if len(mine) > limits.most_days_week:
        told.append(Breach(DAYS_OFF, name, -1, float(len(mine) - limits.most_days_week)))
    before = week.last_of(person)
    had = sum(duty.day >= SATURDAY for duty in before)
    now = sum(duty.day >= SATURDAY for duty in mine)
    most = max(0, limits.most_weekend_days - had)
    if now > most:
        told.append(Breach(WEEKEND, name, -1, float(now - most)))
    spans = [(d.day - DAYS, d.shift) for d in before if d.day == DAYS - 1]
    spans += [(d.day, d.shift) for d in mine]
    for (day, earlier), (next_day, later) in pairwise(spans):
        if (next_day - day) * SLOTS + later.start - earlier.end < slots_of(limits.rest_h):
            told.append(Breach(REST, name, next_day, 1.0))
    return told

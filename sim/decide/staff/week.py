"""The question of a week's roster, and what a roster is made of."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from sim.decide.staff.shifts import PER_H, SLOTS, Shift, shifts_of_day
from sim.inputs import Steps, value_at
from sim.inputs.roster import HoursLimits, Person

DAYS = 7
SATURDAY = 5
ANY = ""
"""The role of people needed whatever they can do."""
SLOT_S = 3600.0 / PER_H


@dataclass(frozen=True, slots=True, order=True)
class Duty:
    """One shift of one person; `day` is the weekday, Monday 0."""

    name: str
    day: int
    role: str
    shift: Shift


@dataclass(frozen=True, slots=True)
class Week:
    """What a roster must cover, by whom and within which limits.

    Attributes:
        monday: first day of the week.
        people: who can be put on it, names unique.
        limits: of the site.
        needed: people needed by role, each of shape (7, 48), Monday first, by half-hour; under
            `ANY` people of whatever role, those of named roles counted among them.
        last: last week's roster, as it was published.
    """

    monday: date
    people: tuple[Person, ...]
    limits: HoursLimits
    needed: Mapping[str, np.ndarray]
    last: tuple[Duty, ...] = ()

    @property
    def roles(self) -> tuple[str, ...]:
        """Roles that a shift can have: those named, or `ANY` if none is."""
        return tuple(sorted(role for role in self.needed if role)) or (ANY,)

    def shifts(self, day: int) -> tuple[Shift, ...]:
        """Every shift allowed on a weekday."""
        return shifts_of_day(sum(self.needed.values(), np.zeros((DAYS, SLOTS)))[day], self.limits)

    def can_do(self, person: Person, role: str) -> bool:
        """Whether somebody has the skill of a role."""
        return role == ANY or role in person.roles

    def is_away(self, person: Person, day: int, shift: Shift) -> bool:
        """Whether somebody can't work at some time of a shift."""
        start_s, end_s = shift.start * SLOT_S, shift.end * SLOT_S
        on = (day, self.monday + timedelta(days=day))
        return any(
            away.when in on and away.from_s < end_s and away.to_s > start_s for away in person.away
        )

    def most_h(self, person: Person) -> float:
        """Most hours that somebody may work in the week [h]."""
        return min(person.most_h, self.limits.most_h_week)

    def last_of(self, person: Person) -> tuple[Duty, ...]:
        """Somebody's shifts of last week."""
        return tuple(duty for duty in self.last if duty.name == person.name)


def hours_of(duties: Iterable[Duty], name: str, limits: HoursLimits) -> float:
    """Hours of one person that are paid and count as worked [h]."""
    return sum(duty.shift.paid_h(limits) for duty in duties if duty.name == name)


def cost_of(week: Week, duties: Iterable[Duty]) -> float:
    """Wages of a roster with overtime [money]."""
    held = tuple(duties)
    total = 0.0
    for person in week.people:
        hours = hours_of(held, person.name, week.limits)
        over = max(0.0, hours - week.limits.overtime_after_h)
        total += person.wage_per_h * (hours + over * (week.limits.overtime_factor - 1.0))
    return total


def planned_people(
    people: Steps, open_h: float, close_h: float, shut: Collection[int]
) -> np.ndarray:
    """People needed by half-hour: as many as are planned by time, while the site is open.

    Args:
        people: planned by time of day.
        open_h, close_h: opening hours [h after midnight].
        shut: weekdays on which the site is closed.

    Returns:
        Shape (7, 48), Monday first; a part of a person counts as a whole one.
    """
    needed = np.zeros((DAYS, SLOTS), dtype=int)
    for slot in range(SLOTS):
        if open_h <= slot / PER_H < close_h:
            needed[:, slot] = math.ceil(value_at(people, slot * SLOT_S))
    needed[list(shut), :] = 0
    return needed

"""The question of a week's roster, the shifts that a site's limits allow, what a roster is made of.

Times are half-hours. A shift has its break inside; it is paid for its length less an unpaid break,
and covers every half-hour but its break.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import chain, combinations

import numpy as np

from sim.inputs import PlannedShift, Steps, value_at
from sim.inputs.people import Role
from sim.inputs.roster import HoursLimits, Person

DAYS = 7
SLOTS = 48
"""Half-hours of a day."""
PER_H = 2
"""Half-hours of an hour."""
SATURDAY = 5
SLOT_S = 3600.0 / PER_H
POSTS: dict[Role, int] = {"loader": SLOTS, "dryer": SLOTS, "greeter": 1, "finisher": 1}
"""Most people with the skill of a role that a half-hour asks for."""

Group = tuple[str, ...]
"""Skills that a week asks for and that somebody has, in order; empty for none of them."""


@dataclass(frozen=True, slots=True, order=True)
class Shift:
    """Work of one person on one day, in half-hours after midnight.

    Attributes:
        start: first half-hour worked; end: first one after work, above `start`.
        pause: first half-hour of the break, equal to `end` if there is none; pause_end: first one
            after it.
    """

    start: int
    end: int
    pause: int
    pause_end: int

    @property
    def covered(self) -> np.ndarray:
        """Shape (48,): 1 in half-hours at work, else 0."""
        here = np.zeros(SLOTS, dtype=int)
        here[self.start : self.end] = 1
        here[self.pause : self.pause_end] = 0
        return here

    def paid_h(self, limits: HoursLimits) -> float:
        """Hours that are paid and count as worked [h]."""
        unpaid = 0 if limits.break_paid else self.pause_end - self.pause
        return (self.end - self.start - unpaid) / PER_H

    def same_time(self, other: Shift) -> bool:
        """Whether start and end agree; a moved break is no change to anybody's day."""
        return (self.start, self.end) == (other.start, other.end)


def slots_of(hours: float) -> int:
    """Half-hours of a time that is set in hours, the nearest whole number of them."""
    return round(hours * PER_H)


def lengths(limits: HoursLimits) -> tuple[int, ...]:
    """Lengths of shifts [half-hours], the longest always among them."""
    least, most = slots_of(limits.shortest_shift_h), slots_of(limits.longest_shift_h)
    return tuple(sorted({*range(least, most + 1, slots_of(limits.shift_step_h)), most}))


def break_window(start: int, end: int, limits: HoursLimits) -> tuple[int, int] | None:
    """First and last half-hour in which a shift's break may begin; None if it needs none, being no
    longer than the longest work without a break.

    Before and after a break there is at least an hour and at most that longest work. Where one
    break is not enough the first lies after the last.
    """
    most, pause = slots_of(limits.break_after_h), slots_of(limits.break_h)
    if end - start <= most:
        return None
    first = max(start + PER_H, end - pause - most)
    return first, min(end - pause - PER_H, start + most)


def shift_with_break(start: int, end: int, limits: HoursLimits, at: int | None = None) -> Shift:
    """A shift with its break begun at `at`, or as early as may be."""
    window = break_window(start, end, limits)
    if window is None:
        return Shift(start, end, end, end)
    pause = window[0] if at is None else at
    return Shift(start, end, pause, pause + slots_of(limits.break_h))


def shifts_of_day(needed: np.ndarray, limits: HoursLimits) -> tuple[Shift, ...]:
    """Every shift allowed on a day with so many people needed by half-hour; shape (48,).

    One for each start and end, with its break as early as may be. Shifts lie between the first and
    the last half-hour in which somebody is needed; a day that is shorter than the shortest shift
    has that shift from its first half-hour on.
    """
    at = np.flatnonzero(needed)
    if not at.size:
        return ()
    first, last = int(at[0]), int(at[-1]) + 1
    step = slots_of(limits.start_every_h)
    found: set[Shift] = set()
    for length in lengths(limits):
        starts = set(range(first, last - length + 1, step))
        if last - length >= first:
            starts.add(last - length)
        if not starts and length == lengths(limits)[0]:
            starts = {min(first, SLOTS - length)}
        for start in starts:
            window = break_window(start, start + length, limits)
            if window is None or window[0] <= window[1]:
                found.add(shift_with_break(start, start + length, limits))
    return tuple(sorted(found))


# ---- a week --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, order=True)
class Duty:
    """One shift of one person; `day` is the weekday, Monday 0; `role` what the site calls it."""

    name: str
    day: int
    role: str
    shift: Shift


@dataclass(frozen=True, slots=True)
class Week:
    """What a roster must cover, by whom and within which limits.

    Attributes:
        people: who can be put on it, names unique.
        needed: people needed at work, shape (7, 48), Monday first, by half-hour.
        skilled: of them, people with a skill, by skill, each of the same shape; somebody with two
            skills stands in for one of them at a time.
        last: last week's roster, as it was published.
    """

    monday: date
    people: tuple[Person, ...]
    limits: HoursLimits
    needed: np.ndarray
    skilled: Mapping[str, np.ndarray] = field(default_factory=dict)
    last: tuple[Duty, ...] = ()

    def group_of(self, person: Person) -> Group:
        """Those of somebody's skills that the week asks for."""
        return tuple(sorted(set(person.roles) & set(self.skilled)))

    @property
    def groups(self) -> tuple[Group, ...]:
        """Groups of people with the same skills, as far as the week asks for them."""
        return tuple(sorted({self.group_of(person) for person in self.people}))

    def asked(self) -> list[tuple[Group, int, int, int]]:
        """Skills, weekday, half-hour and people, wherever somebody is needed.

        Without skills whoever it is. Else people who have at least one of the skills, for every
        set of skills that are needed at once: by Hall's theorem these rows together say that
        everybody needed with a skill can be somebody else.
        """
        found: list[tuple[Group, int, int, int]] = [
            ((), int(day), int(slot), int(self.needed[day, slot]))
            for day, slot in np.argwhere(self.needed > 0)
        ]
        names = sorted(self.skilled)
        for some in chain.from_iterable(combinations(names, n + 1) for n in range(len(names))):
            together = np.sum([self.skilled[name] for name in some], axis=0)
            at_once = np.all([self.skilled[name] > 0 for name in some], axis=0)
            found += [
                (some, int(day), int(slot), int(together[day, slot]))
                for day, slot in np.argwhere(at_once)
            ]
        return found

    def shifts(self, day: int) -> tuple[Shift, ...]:
        """Every shift allowed on a weekday."""
        asked = self.needed[day] + sum((row[day] for row in self.skilled.values()), np.zeros(SLOTS))
        return shifts_of_day(asked, self.limits)

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

    def most_weekend_days(self, person: Person) -> int:
        """Most days that somebody may work at this weekend, by those of last week's."""
        had = sum(duty.name == person.name and duty.day >= SATURDAY for duty in self.last)
        return max(0, self.limits.most_weekend_days - had)

    def last_sunday(self, person: Person) -> list[Shift]:
        """Somebody's shift of last Sunday; none for a day off."""
        return [d.shift for d in self.last if (d.name, d.day) == (person.name, DAYS - 1)]

    def stays(self, duty: Duty) -> bool:
        """Whether a shift is as last week, by person, day, start and end."""
        return any(
            (old.name, old.day) == (duty.name, duty.day) and old.shift.same_time(duty.shift)
            for old in self.last
        )


def duties_of(shifts: Iterable[PlannedShift]) -> tuple[Duty, ...]:
    """Published shifts of one week, in order of names."""
    found = []
    for one in shifts:
        times = (one.start_s, one.end_s, one.break_start_s, one.break_end_s)
        shift = Shift(*(round(at / SLOT_S) for at in times))
        found.append(Duty(one.name, one.day.weekday(), one.role, shift))
    return tuple(sorted(found))


def planned_shifts(monday: date, duties: Iterable[Duty]) -> tuple[PlannedShift, ...]:
    """The same as they are published, in the order given."""
    found = []
    for duty in duties:
        shift, day = duty.shift, monday + timedelta(days=duty.day)
        times = (at * SLOT_S for at in (shift.start, shift.end, shift.pause, shift.pause_end))
        found.append(PlannedShift(day, duty.name, duty.role, *times))
    return tuple(found)


def hours_of(duties: Iterable[Duty], name: str, limits: HoursLimits) -> float:
    """Hours of one person that are paid and count as worked [h]."""
    return sum(duty.shift.paid_h(limits) for duty in duties if duty.name == name)


def cost_of(week: Week, duties: Iterable[Duty]) -> float:
    """Wages of a roster with overtime [money]."""
    held, total = tuple(duties), 0.0
    for person in week.people:
        hours = hours_of(held, person.name, week.limits)
        over = max(0.0, hours - week.limits.overtime_after_h)
        total += person.wage_per_h * (hours + over * (week.limits.overtime_factor - 1.0))
    return total


def cost_by_day(week: Week, duties: Iterable[Duty]) -> tuple[float, ...]:
    """Wages by weekday, without what overtime adds [money]; nobody's for those who have left."""
    wages = {person.name: person.wage_per_h for person in week.people}
    by_day = [0.0] * DAYS
    for duty in duties:
        by_day[duty.day] += wages.get(duty.name, 0.0) * duty.shift.paid_h(week.limits)
    return tuple(by_day)


def counts_for(asked: Group, group: Group) -> bool:
    """Whether people of a group count where so many with one of some skills are asked for."""
    return not asked or not set(asked).isdisjoint(group)


def people_by_skill(
    counts: Mapping[Role, Sequence[int]], called: Mapping[Role, str], skills: Collection[str]
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """A day's cover from the people it needs by role.

    Loading is a post, and so is drying damp cars, so as many people with that skill are asked for
    as load or dry. Greeters and finishers help each other out: of each one with the skill is asked
    for while the day has any. The rest, floaters among them, may be anybody; so may a role whose
    skill nobody at the site has, or no week could ever be covered.

    Args:
        counts: people by role, each of shape (48,), by half-hour; so are all people together and
            those with a skill, by the site's names, that are returned.
        called: what the site calls each role; two roles of one name are added up.
        skills: that people at the site have.
    """
    found: dict[str, np.ndarray] = {}
    for role, most in POSTS.items():
        name = called[role]
        if name in skills:
            asked = np.minimum(np.asarray(counts[role], dtype=int), most)
            found[name] = found.get(name, np.zeros(SLOTS, dtype=int)) + asked
    return np.sum([np.asarray(row, dtype=int) for row in counts.values()], axis=0), found


def people_asked(
    planned: np.ndarray,
    worked_out: Mapping[int, tuple[Mapping[Role, Sequence[int]], Mapping[Role, str]]],
    skills: Collection[str],
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """A week's cover: by role where a day's people were worked out, else as planned.

    Args:
        planned: shape (7, 48), and so are all people and those with a skill that are returned.
        worked_out: by weekday people by role and what roles are called, see `people_by_skill`.
    """
    needed, skilled = planned.copy(), dict[str, np.ndarray]()
    for day, (counts, called) in worked_out.items():
        needed[day], by_skill = people_by_skill(counts, called, skills)
        for name, row in by_skill.items():
            skilled.setdefault(name, np.zeros_like(needed))[day] = row
    return needed, skilled


def missing_people(shifts: Iterable[PlannedShift], needed: Sequence[int]) -> tuple[int, ...]:
    """By how many fewer come in a half-hour than are needed, for shifts of one day and people
    needed from midnight on; 0 where enough come."""
    there = np.zeros(SLOTS, dtype=int)
    for one in duties_of(shifts):
        there += one.shift.covered
    return tuple(int(most) for most in np.maximum(np.asarray(needed, dtype=int) - there, 0))


def planned_people(
    people: Steps, open_h: float, close_h: float, shut: Collection[int]
) -> np.ndarray:
    """People needed by half-hour, shape (7, 48), Monday first: as many as are planned by time while
    the site is open, a part of a person as a whole one.

    Args:
        open_h, close_h: opening hours [h after midnight].
        shut: weekdays on which the site is closed.
    """
    needed = np.zeros((DAYS, SLOTS), dtype=int)
    for slot in range(SLOTS):
        if open_h <= slot / PER_H < close_h:
            needed[:, slot] = math.ceil(value_at(people, slot * SLOT_S))
    needed[list(shut), :] = 0
    return needed

"""Weeks whose truth is known: some with a roster, which was there first, some without one.

A week that has a roster is drawn backward: people are given shifts at random within every rule, and
no more is asked for than these shifts give. A week that has none is such a week with one thing
changed that no roster can mend, each in a way of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sim.decide.staff.week import Duty, Shift, Week, break_window, shift_with_break, shifts_of_day
from sim.inputs.roster import Away, HoursLimits, Person
from tests.decide.roster_checker import MONDAY, NOBODY, broken_rules, clock_hours

SKILLS = ("finisher", "greeter", "loader")
HALF_HOUR_S = 1800.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """A week, and what was changed so that it has no roster; empty where it has one.

    Attributes:
        hidden: a roster of the week before it was changed.
    """

    week: Week
    hidden: tuple[Duty, ...]
    spoiled: str


def known_week(rng: np.random.Generator, spoil: str = "") -> Drawn:
    """A week of 6 to 25 people; `spoil` is a key of `SPOILS`, empty for a week with a roster."""
    people = _people(rng)
    limits = HoursLimits(
        shift_step_h=float(rng.choice([1.0, 2.0, 4.0])),
        start_every_h=float(rng.choice([0.5, 1.0, 2.0])),
        rest_h=float(rng.choice([11.0, 12.0])),
        break_paid=bool(rng.random() < 0.3),
    )
    opens, closes = int(rng.integers(12, 18)), int(rng.integers(36, 43))
    profile = np.zeros(48, dtype=int)
    profile[opens:closes] = max(1, round(len(people) / 9))
    profile[opens + 6 : closes - 6] += max(1, round(len(people) / 10))
    wanted = NOBODY + profile
    wanted[4:, opens + 8 : closes - 8] += len(people) // 12
    hidden = _given(rng, people, limits, wanted)
    at_work = np.zeros((7, 48), dtype=int)
    for duty in hidden:
        at_work[duty.day] += duty.shift.covered
    needed = np.minimum(wanted, at_work)
    people = tuple(_with_hours(rng, person, hidden, limits) for person in people)
    week = Week(MONDAY, people, limits, needed, _skilled(rng, people, hidden, needed))
    if spoil:
        week = SPOILS[spoil](week)
    else:
        assert broken_rules(week, hidden) == []
    return Drawn(week, hidden, spoil)


def _people(rng: np.random.Generator) -> tuple[Person, ...]:
    found = []
    for number in range(int(rng.integers(6, 26))):
        roles = tuple(skill for skill in SKILLS if rng.random() < 0.5)
        away = [Away(int(day)) for day in rng.choice(7, int(rng.integers(0, 3)), replace=False)]
        if rng.random() < 0.2:
            away.append(Away(int(rng.integers(7)), 0.0, 12 * 3600.0))
        most = float(rng.choice([16.0, 24.0, 32.0, 40.0, 45.0]))
        wage = float(rng.integers(30, 60)) / 2.0
        found.append(Person(f"Person {chr(65 + number)}", roles, wage, 0.0, most, tuple(away)))
    return tuple(found)


def _given(
    rng: np.random.Generator, people: tuple[Person, ...], limits: HoursLimits, wanted: np.ndarray
) -> tuple[Duty, ...]:
    """Shifts given at random, as long as somebody is missing, within every rule."""
    empty = Week(MONDAY, people, limits, NOBODY)
    held: list[Duty] = []
    for day in range(7):
        missing = wanted[day].copy()
        shifts = shifts_of_day(wanted[day], limits)
        for at in rng.permutation(len(people)):
            useful = [s for s in shifts if missing[s.start : s.end].clip(0).sum() > 0]
            if not useful or not (missing > 0).any():
                break
            worth = [int((missing > 0)[s.start : s.end].sum()) for s in useful]
            few = [useful[k] for k in np.argsort(worth)[-8:]]
            shift = few[int(rng.integers(len(few)))]
            duty = Duty(people[at].name, day, "", _paused(rng, shift, limits))
            if broken_rules(empty, (*held, duty)) == []:
                held.append(duty)
                missing -= duty.shift.covered
    return tuple(sorted(held))


def _paused(rng: np.random.Generator, shift: Shift, limits: HoursLimits) -> Shift:
    window = break_window(shift.start, shift.end, limits)
    if window is None:
        return shift
    at = int(rng.integers(window[0], window[1] + 1))
    return shift_with_break(shift.start, shift.end, limits, at)


def _with_hours(
    rng: np.random.Generator, person: Person, hidden: tuple[Duty, ...], limits: HoursLimits
) -> Person:
    hours = sum(clock_hours(duty, limits) for duty in hidden if duty.name == person.name)
    least = float(np.floor(hours * 0.8)) if rng.random() < 0.3 else 0.0
    return replace(person, least_h=least)


def _skilled(
    rng: np.random.Generator,
    people: tuple[Person, ...],
    hidden: tuple[Duty, ...],
    needed: np.ndarray,
) -> dict[str, np.ndarray]:
    """Posts that the people of the hidden roster hold: each does one thing that they can."""
    roles = {person.name: person.roles for person in people}
    found = {skill: NOBODY.copy() for skill in SKILLS}
    for day in range(7):
        for slot in np.flatnonzero(needed[day]):
            for duty in hidden:
                can = roles[duty.name]
                if duty.day == day and can and duty.shift.covered[slot]:
                    held = can[int(rng.integers(len(can)))]
                    most = 2 if held == "loader" else 1
                    found[held][day, slot] = min(found[held][day, slot] + 1, most)
    asked = {s: row * (rng.random((7, 1)) < 0.6) for s, row in found.items() if row.any()}
    return {skill: row for skill, row in asked.items() if row.any()}


# ---- weeks without a roster ----------------------------------------------------------------------


def _no_skill(week: Week) -> Week:
    """For half an hour everybody with a skill that is asked for can't work."""
    skill = sorted(week.skilled)[0]
    day, slot = (int(at) for at in np.argwhere(week.skilled[skill] > 0)[-1])
    gone = Away(day, slot * HALF_HOUR_S, (slot + 1) * HALF_HOUR_S)
    return _all_with(week, lambda one: skill in one.roles, lambda one: (*one.away, gone))


def _absent(week: Week) -> Week:
    """For an hour of a busy day nobody can work."""
    day, slot = (int(at) for at in np.argwhere(week.needed > 0)[-1])
    gone = Away(day, (slot - 1) * HALF_HOUR_S, (slot + 1) * HALF_HOUR_S)
    return _all_with(week, lambda one: True, lambda one: (*one.away, gone))


def _hours(week: Week) -> Week:
    """People may give two hours less, together, than the people needed work."""
    asked_h = float(week.needed.sum()) / 2.0 - 2.0
    most = np.floor(asked_h / len(week.people))
    people = tuple(replace(one, most_h=float(max(most, 1.0)), least_h=0.0) for one in week.people)
    return replace(week, people=people)


def _days(week: Week) -> Week:
    """Nobody may work more than so few days that shifts are too few for those needed at once."""
    most = int(week.needed.max(axis=1).sum() - 1) // len(week.people)
    people = tuple(replace(one, least_h=0.0) for one in week.people)
    return replace(week, people=people, limits=replace(week.limits, most_days_week=max(1, most)))


def _rest(week: Week) -> Week:
    """The one who can finish is asked for late on one day and early on the next."""
    people = tuple(
        replace(one, roles=tuple(r for r in one.roles if r != "finisher"))
        if at
        else replace(one, roles=("finisher",), away=(), least_h=0.0, most_h=40.0)
        for at, one in enumerate(week.people)
    )
    open_slots = np.flatnonzero(week.needed[2])
    late, early = NOBODY.copy(), NOBODY.copy()
    late[2, open_slots[-1]] = 1
    early[3, np.flatnonzero(week.needed[3])[0]] = 1
    skilled = {s: row for s, row in week.skilled.items() if s != "finisher"}
    limits = replace(week.limits, rest_h=14.0)
    return replace(
        week, people=people, limits=limits, skilled={**skilled, "finisher": late + early}
    )


def _promised(week: Week) -> Week:
    """Somebody is promised thirty hours and can work on two days of eight."""
    first, *others = week.people
    gone = replace(first, least_h=30.0, most_h=40.0, away=tuple(Away(day) for day in range(5)))
    return replace(week, people=(gone, *others))


def _weekend(week: Week) -> Week:
    """The one who can finish worked both days of last weekend and is asked for on both of this."""
    people = tuple(
        replace(one, roles=tuple(r for r in one.roles if r != "finisher"))
        if at
        else replace(one, roles=("finisher",), away=(), least_h=0.0, most_h=40.0)
        for at, one in enumerate(week.people)
    )
    row = NOBODY.copy()
    for day in (5, 6):
        row[day, np.flatnonzero(week.needed[day])[4]] = 1
    name = week.people[0].name
    last = tuple(Duty(name, day, "", Shift(20, 28, 28, 28)) for day in (5, 6))
    skilled = {s: rows for s, rows in week.skilled.items() if s != "finisher"}
    return replace(week, people=people, last=last, skilled={**skilled, "finisher": row})


def _two_in_one(week: Week) -> Week:
    """Two things are asked for at once that one person alone can do."""
    people = tuple(
        replace(one, roles=tuple(r for r in one.roles if r == "loader"))
        if at
        else replace(one, roles=("finisher", "greeter"), away=(), least_h=0.0, most_h=40.0)
        for at, one in enumerate(week.people)
    )
    row = NOBODY.copy()
    row[1, np.flatnonzero(week.needed[1])[4]] = 1
    skilled = {s: rows for s, rows in week.skilled.items() if s == "loader"}
    needed = np.maximum(week.needed, 2 * row)
    return replace(
        week, people=people, needed=needed, skilled={**skilled, "finisher": row, "greeter": row}
    )


def _all_with(
    week: Week,
    who: Callable[[Person], bool],
    away: Callable[[Person], tuple[Away, ...]],
) -> Week:
    people = tuple(replace(one, away=away(one)) if who(one) else one for one in week.people)
    return replace(week, people=people)


SPOILS: dict[str, Callable[[Week], Week]] = {
    "skill": _no_skill,
    "absent": _absent,
    "hours": _hours,
    "days": _days,
    "rest": _rest,
    "promised": _promised,
    "weekend": _weekend,
    "two in one": _two_in_one,
}
"""What can be changed so that there is no roster."""


def spoil_of(number: int) -> str:
    """What is changed in a week by its number: eight of fifty have no roster."""
    names = list(SPOILS)
    return names[number // 6 % len(names)] if number % 6 == 5 and number < 48 else ""

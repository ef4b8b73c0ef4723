"""Weeks to make a roster for, and a checker of rosters that shares nothing with the model.

The checker knows people, limits and needs as a manager would: by hours of the clock and dates.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from sim.decide.staff.week import Duty, Week
from sim.inputs.roster import Away, HoursLimits, Person

MONDAY = date(2026, 11, 30)
ROLES = ("loader", "finisher")
NOBODY = np.zeros((7, 48), dtype=int)


def soon() -> float:
    """Seconds left where nobody counts them: each step has its share of so many."""
    return 10.0


def some_time() -> float:
    """The same where it takes longer."""
    return 30.0


def _moment(monday: date, day: int, half_hour: int) -> datetime:
    midnight = datetime.combine(monday + timedelta(days=day), time())
    return midnight + timedelta(minutes=30 * half_hour)


def broken_rules(week: Week, duties: tuple[Duty, ...]) -> list[str]:
    """Every hard rule that a roster breaks, a sentence each."""
    limits, said = week.limits, []
    people = {person.name: person for person in week.people}
    for day in range(7):
        for half_hour in range(48):
            here = [people[name] for name in _at_work(duties, day, half_hour) if name in people]
            if len(here) < week.needed[day][half_hour]:
                said.append(f"{len(here)} of {week.needed[day][half_hour]} at {day} {half_hour}")
            posts = [role for role, row in week.skilled.items() for _ in range(row[day][half_hour])]
            held = _posts_held(here, posts)
            if held < len(posts):
                said.append(f"{held} skilled for {len(posts)} posts at {day} {half_hour}")
    for name, person in people.items():
        mine = sorted((d for d in duties if d.name == name), key=lambda d: d.day)
        if len({d.day for d in mine}) < len(mine):
            said.append(f"{name} has two shifts on a day")
        hours = sum(clock_hours(d, limits) for d in mine)
        if hours > min(person.most_h, limits.most_h_week) + 1e-9 or hours < person.least_h - 1e-9:
            said.append(f"{name} works {hours} h")
        if len(mine) > limits.most_days_week:
            said.append(f"{name} works {len(mine)} days")
        before = [d for d in week.last if d.name == name]
        weekend = sum(d.day in (5, 6) for d in [*before, *mine])
        # Nobody can take back a weekend that has been worked.
        worked = sum(d.day in (5, 6) for d in before)
        if weekend > max(limits.most_weekend_days, worked):
            said.append(f"{name} works {weekend} weekend days")
        spans = [
            (_moment(monday, d.day, d.shift.start), _moment(monday, d.day, d.shift.end))
            for monday, some in ((week.monday - timedelta(days=7), before), (week.monday, mine))
            for d in some
        ]
        spans.sort()
        for (_, end), (start, _) in pairwise(spans):
            if start - end < timedelta(hours=limits.rest_h) and start >= _moment(week.monday, 0, 0):
                said.append(f"{name} rests {start - end}")
        for duty in mine:
            said += _of_duty(week, person, duty)
    said += [f"nobody is called {d.name}" for d in duties if d.name not in people]
    return said


def _at_work(duties: Sequence[Duty], day: int, half_hour: int) -> list[str]:
    return [
        duty.name
        for duty in duties
        if duty.day == day
        and duty.shift.start <= half_hour < duty.shift.end
        and not duty.shift.pause <= half_hour < duty.shift.pause_end
    ]


def _posts_held(here: Sequence[Person], posts: Sequence[str]) -> int:
    """Most posts that somebody with the skill can be put on, nobody on two."""
    if not (here and posts):
        return 0
    able = np.array([[post in person.roles for post in posts] for person in here], dtype=int)
    return int((maximum_bipartite_matching(csr_array(able), perm_type="column") >= 0).sum())


def _of_duty(week: Week, person: Person, duty: Duty) -> list[str]:
    limits, s, said = week.limits, duty.shift, []
    length = (s.end - s.start) / 2
    if not limits.shortest_shift_h <= length <= limits.longest_shift_h:
        said.append(f"{person.name}: a shift of {length} h")
    stretches = [(s.pause - s.start) / 2, (s.end - s.pause_end) / 2]
    if max(stretches) > limits.break_after_h:
        said.append(f"{person.name} works {max(stretches)} h without a break")
    if s.pause_end > s.pause and (s.pause_end - s.pause) / 2 != limits.break_h:
        said.append("a break of the wrong length")
    start, end = _moment(week.monday, duty.day, s.start), _moment(week.monday, duty.day, s.end)
    today = week.monday + timedelta(days=duty.day)
    for away in person.away:
        if away.when == today.weekday() or away.when == today:
            midnight = datetime.combine(today, time())
            gone = midnight + timedelta(seconds=away.from_s)
            back = midnight + timedelta(seconds=away.to_s)
            if start < back and gone < end:
                said.append(f"{person.name} can't work at {start}")
    return said


def clock_hours(duty: Duty, limits: HoursLimits) -> float:
    """Hours worked by the clock, without an unpaid break."""
    s = duty.shift
    return (s.end - s.start) / 2 - (0 if limits.break_paid else (s.pause_end - s.pause) / 2)


def clock_cost(week: Week, duties: tuple[Duty, ...]) -> float:
    """Wages added up shift by shift, in each person's order of days; overtime above the limit."""
    total, limits = 0.0, week.limits
    for person in week.people:
        so_far = 0.0
        for duty in sorted(d for d in duties if d.name == person.name):
            hours = clock_hours(duty, limits)
            plain = min(hours, max(0.0, limits.overtime_after_h - so_far))
            total += person.wage_per_h * (plain + limits.overtime_factor * (hours - plain))
            so_far += hours
    return total


def needed_of(rows: Mapping[str, Sequence[tuple[int, float, float, int]]]) -> dict[str, np.ndarray]:
    """People needed, from (weekday, from hour, to hour, people); later rows add to earlier."""
    made = {role: np.zeros((7, 48), dtype=int) for role in rows}
    for role, spans in rows.items():
        for day, start, end, people in spans:
            made[role][day, int(2 * start) : int(2 * end)] += people
    return made


def people_of(spans: Sequence[tuple[int, float, float, int]]) -> np.ndarray:
    """People needed whatever they can do, from the same rows."""
    return needed_of({"": spans})[""]


def asked(
    week: Week, rows: Mapping[str, Sequence[tuple[int, float, float, int]]], beside: int = 0
) -> Week:
    """A week that needs people with skills, and so many more whoever they are."""
    skilled = needed_of(rows)
    together = np.sum([*skilled.values()], axis=0)
    return replace(week, needed=together + beside * (together > 0), skilled=skilled)


def drawn_week(rng: np.random.Generator) -> Week:
    """A week of 6 to 12 people with wages, skills, absences and needs drawn at random."""
    count = int(rng.integers(6, 13))
    people = []
    for number in range(count):
        roles = ROLES if rng.random() < 0.5 else (ROLES[int(rng.random() < 0.3)],)
        away = [Away(int(day)) for day in rng.choice(7, int(rng.integers(0, 3)), replace=False)]
        if rng.random() < 0.3:
            away.append(Away(int(rng.integers(7)), 0.0, 12 * 3600.0))
        if rng.random() < 0.2:
            away.append(Away(MONDAY + timedelta(days=int(rng.integers(7)))))
        least = float(rng.choice([0.0, 0.0, 8.0, 16.0]))
        most = float(rng.choice([20.0, 32.0, 40.0, 45.0]))
        wage = float(rng.integers(30, 60)) / 2.0
        people.append(Person(f"Person {chr(65 + number)}", roles, wage, least, most, tuple(away)))
    limits = HoursLimits(
        shift_step_h=float(rng.choice([2.0, 4.0])),
        start_every_h=float(rng.choice([1.0, 2.0])),
        rest_h=float(rng.choice([11.0, 12.0])),
        break_paid=bool(rng.random() < 0.3),
    )
    opens, closes = int(rng.integers(7, 10)), int(rng.integers(17, 20))
    rows: dict[str, list[tuple[int, float, float, int]]] = {"loader": [], "finisher": []}
    for day in range(7):
        rows["loader"].append((day, opens, closes, 1))
        if rng.random() < 0.4 and count >= 8:
            rows["loader"].append((day, 11, 15, 1))
        if rng.random() < 0.6:
            rows["finisher"].append((day, 11, 15, 1))
    week = Week(MONDAY, tuple(people), limits, NOBODY)
    return asked(week, rows, beside=int(count >= 9 and rng.random() < 0.3))

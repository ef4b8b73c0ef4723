"""What people and published rosters must be to be stored: every problem at once."""

from __future__ import annotations

import math
from collections import Counter
from datetime import date

from sim.errors import InputProblem
from sim.inputs import Away, Person, PlannedShift, StaffBook
from sim.units import show_clock

MOST_PEOPLE, MOST_SHIFTS = 100, 20_000
LONGEST_NAME = 40
MOST_WAGE, MOST_HOURS = 200.0, 80.0
DAY_S = 86400.0
HALF_HOUR_S = 1800.0


def staff_problems(book: StaffBook) -> list[InputProblem]:
    """Every reason why people and rosters can't be stored."""
    problems: list[InputProblem] = []
    for what, count, most in (
        ("people", len(book.people), MOST_PEOPLE), ("shifts", len(book.shifts), MOST_SHIFTS)
    ):  # fmt: skip
        if count > most:
            sentence = "{count} {what} are too many; at most {most} can be kept."
            filling: dict[str, object] = {"count": count, "what": what, "most": most}
            problems.append(InputProblem("name", sentence, filling))
    for name, times in Counter(person.name for person in book.people).items():
        if times > 1:
            sentence = "There are {times} people “{name}”. Give each a name of their own."
            problems.append(InputProblem("name", sentence, {"times": times, "name": name}))
    for (day, name), times in Counter((s.day, s.name) for s in book.shifts).items():
        if times > 1:
            sentence = "“{name}” has {times} shifts on {day}. Leave one."
            filling = {"name": name, "times": times, "day": day.isoformat()}
            problems.append(InputProblem("date", sentence, filling))
    problems += [problem for person in book.people for problem in person_problems(person)]
    problems += [problem for shift in book.shifts for problem in shift_problems(shift)]
    return problems


def _is_name(text: str) -> bool:
    plain = text == text.strip() and text.isprintable() and text[:1] != "="
    return plain and 1 <= len(text) <= LONGEST_NAME


def person_problems(person: Person) -> list[InputProblem]:
    """Every reason why somebody can't be stored."""
    problems = []
    for field, text in (("name", person.name), *(("roles", role) for role in person.roles)):
        if not _is_name(text) or (field == "roles" and ";" in text):
            sentence = "“{text}” can’t be used. Enter 1 to {most} characters, the first not “=”."
            problems.append(InputProblem(field, sentence, {"text": text, "most": LONGEST_NAME}))
    if len(set(person.roles)) < len(person.roles):
        sentence = "A role of “{name}” stands twice. Leave one."
        problems.append(InputProblem("roles", sentence, {"name": person.name}))
    for field, value, most in (
        ("wage_per_h", person.wage_per_h, MOST_WAGE),
        ("least_h", person.least_h, MOST_HOURS),
        ("most_h", person.most_h, MOST_HOURS),
    ):
        if not (math.isfinite(value) and 0.0 <= value <= most):
            sentence = "{field} of “{name}” is {value}. Enter 0 to {most}."
            filling = {"field": field, "name": person.name, "value": value, "most": f"{most:g}"}
            problems.append(InputProblem(field, sentence, filling))
    if person.least_h > person.most_h:
        sentence = "“{name}” has at least {least} and at most {most} hours. Swap them."
        filling = {"name": person.name, "least": person.least_h, "most": person.most_h}
        problems.append(InputProblem("least_h", sentence, filling))
    for away in person.away:
        problems += _away_problems(person, away)
    return problems


def _away_problems(person: Person, away: Away) -> list[InputProblem]:
    weekday = not isinstance(away.when, date)
    if weekday and away.when not in range(7):
        sentence = "“{when}” is no weekday. Monday is 0, Sunday is 6."
        return [InputProblem("away", sentence, {"when": away.when})]
    whole_minutes = away.from_s % 60.0 == away.to_s % 60.0 == 0.0
    if not (whole_minutes and 0.0 <= away.from_s < away.to_s <= DAY_S):
        sentence = (
            "“{name}” is away from {start} to {end}. Give whole minutes, the end later, 24:00 at "
            "most."
        )
        clocks = {"start": show_clock(away.from_s), "end": show_clock(away.to_s)}
        return [InputProblem("away", sentence, {"name": person.name, **clocks})]
    return []


def shift_problems(shift: PlannedShift) -> list[InputProblem]:
    """Every reason why a published shift can't be stored."""
    problems = []
    if not _is_name(shift.name) or (shift.role and not _is_name(shift.role)):
        sentence = "“{name}” or “{role}” can’t be used. Enter 1 to {most} characters."
        filling = {"name": shift.name, "role": shift.role, "most": LONGEST_NAME}
        problems.append(InputProblem("name", sentence, filling))
    times = (shift.start_s, shift.break_start_s, shift.break_end_s, shift.end_s)
    in_order = 0.0 <= times[0] <= times[1] <= times[2] <= times[3] <= DAY_S
    if not in_order or times[0] == times[3] or any(t % HALF_HOUR_S for t in times):
        sentence = (
            "The shift of “{name}” on {day}, {start} to {end}, can’t be. Give full or half hours, "
            "the break inside, the end later than the start and by 24:00."
        )
        clocks = {"start": show_clock(shift.start_s), "end": show_clock(shift.end_s)}
        filling = {"name": shift.name, "day": shift.day.isoformat(), **clocks}
        problems.append(InputProblem("start", sentence, filling))
    return problems

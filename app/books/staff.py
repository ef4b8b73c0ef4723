"""What people and published shifts must be to be stored, beside their shape."""

from __future__ import annotations

from collections.abc import Iterable

from sim.errors import InputProblem
from sim.inputs import Person, PlannedShift
from sim.units import show_clock

DAY_S = 86400.0
HALF_HOUR_S = 1800.0


def person_problems(person: Person) -> Iterable[InputProblem]:
    """Why somebody can't be stored, though each field can."""
    if len(set(person.roles)) < len(person.roles):
        sentence = "A role of “{name}” stands twice. Leave one."
        yield InputProblem("roles", sentence, {"name": person.name})
    if person.least_h > person.most_h:
        sentence = "“{name}” has at least {least} and at most {most} hours. Swap them."
        filling = {"name": person.name, "least": person.least_h, "most": person.most_h}
        yield InputProblem("least_h", sentence, filling)


def shift_problems(shift: PlannedShift) -> Iterable[InputProblem]:
    """Why a published shift can't be stored, though each field can."""
    times = (shift.start_s, shift.break_start_s, shift.break_end_s, shift.end_s)
    in_order = 0.0 <= times[0] <= times[1] <= times[2] <= times[3] <= DAY_S
    if not in_order or times[0] == times[3] or any(t % HALF_HOUR_S for t in times):
        sentence = (
            "The shift of “{name}” on {day}, {start} to {end}, can’t be. Give full or half hours, "
            "the break inside, the end later than the start and by 24:00."
        )
        clocks = {"start": show_clock(shift.start_s), "end": show_clock(shift.end_s)}
        filling = {"name": shift.name, "day": shift.day.isoformat(), **clocks}
        yield InputProblem("start_s", sentence, filling)

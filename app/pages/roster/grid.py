"""A week's roster as a grid: people by days, with hours and cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.answers.roster import PER_H, Duty, Week, cost_by_day, cost_in_all
from app.pages.roster.form import dates_of
from app.words.roster import short_span, weekday
from sim.units import format_number


@dataclass(frozen=True, slots=True)
class GridRow:
    """Somebody's week: a cell a day, and their hours."""

    name: str
    cells: tuple[str, ...]
    hours: str


@dataclass(frozen=True, slots=True)
class Grid:
    """A week: names of days, a row a person, and the cost by day and in all."""

    heads: tuple[str, ...]
    rows: tuple[GridRow, ...]
    costs: tuple[str, ...]
    total: str


def grid_of(week: Week, duties: Sequence[Duty]) -> Grid:
    """The grid of some shifts; people who have left come last."""
    return Grid(
        tuple(f"{weekday(d)[:3]} {day.day}" for d, day in enumerate(dates_of(week.monday))),
        _rows(week, duties),
        tuple(map(money, cost_by_day(week, duties))),
        money(cost_in_all(week, duties)),
    )


def money(amount: float) -> str:
    """An amount of money, whole."""
    return format_number(round(amount)) if amount else "0"


def _rows(week: Week, duties: Sequence[Duty]) -> tuple[GridRow, ...]:
    listed = [person.name for person in week.people]
    gone = sorted({duty.name for duty in duties} - set(listed))
    rows = []
    for name in (*listed, *gone):
        cells = [""] * 7
        hours = 0.0
        for duty in duties:
            if duty.name == name:
                said = short_span(duty.shift.start / PER_H, duty.shift.end / PER_H)
                cells[duty.day] = f"{said} {duty.role}".strip()
                hours += duty.shift.paid_h(week.limits)
        rows.append(GridRow(name, tuple(cells), format_number(hours) if hours else "0"))
    return tuple(rows)

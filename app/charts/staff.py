"""People by half-hour drawn: a bar for those needed, a line across it for those planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import _
from app.charts.switching import Tick
from app.words.numbers import clock, plain_number
from sim.decide.staff.answer import HalfHour

TOP, FLOOR = 22.0, 226.0
"""Frame of the bars [px]."""
LEFT = 4.0
"""Room for the numbers beside them [%]."""
BAR = 0.7
"""Share of a half-hour’s width that its bar takes."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A half-hour: place and width [%], top and height of the bar, and of the line [px]."""

    x: str
    width: str
    y: str
    height: str
    planned_y: str
    says: str


@dataclass(frozen=True, slots=True)
class StaffChart:
    """The day’s people."""

    label: str
    bars: tuple[Bar, ...]
    up: tuple[Tick, ...]
    across: tuple[Tick, ...]


def staff_chart(rows: Sequence[HalfHour]) -> StaffChart:
    """Draws the half-hours of an answer; at least one."""
    first, last = rows[0].start_h, rows[-1].start_h + 0.5
    most = max(1, *(max(row.people, row.planned) for row in rows))

    def across(hour: float) -> float:
        return LEFT + (100.0 - LEFT) * (hour - first) / (last - first)

    def down(people: float) -> float:
        return FLOOR - (FLOOR - TOP) * people / most

    pitch = across(first + 0.5) - LEFT
    bars = tuple(
        Bar(
            f"{across(row.start_h) + 0.5 * (1.0 - BAR) * pitch:.2f}%",
            f"{BAR * pitch:.2f}%",
            f"{down(row.people):.1f}",
            f"{FLOOR - down(row.people):.1f}",
            f"{down(row.planned):.1f}" if row.planned else "",
            _(
                "{time}: {needed} needed, {planned} planned",
                time=clock(row.start_h),
                needed=row.people,
                planned=row.planned,
            ),
        )
        for row in rows
    )
    step = 1 if most <= 6 else 5
    return StaffChart(
        _("People needed and planned by half-hour; the same figures are in the table below."),
        bars,
        tuple(
            Tick(f"{down(count):.1f}", plain_number(count, 0))
            for count in range(step, most + 1, step)
        ),
        tuple(
            Tick(f"{across(hour):.2f}%", str(hour))
            for hour in range(int(first) + 1, int(last) + 1)
            if hour < last and (last - first <= 16.0 or hour % 2 == 0)
        ),
    )

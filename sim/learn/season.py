"""Which past days are like a coming one: weekday and time of year."""

from __future__ import annotations

from datetime import date

from sim.inputs.line import Line

WEEKDAYS = (
    "Mondays",
    "Tuesdays",
    "Wednesdays",
    "Thursdays",
    "Fridays",
    "Saturdays",
    "Sundays",
)
YEAR_DAYS = 364
"""A year of whole weeks, so that a day a year ago has the same weekday. It slips by 1¼ days a
year against the sun, far less than the weeks that are pooled."""


def days_apart(day: date, other: date) -> int:
    """How far two days lie apart in the time of year, whatever the year; 0 to 182 days."""
    rest = (day - other).days % YEAR_DAYS
    return min(rest, YEAR_DAYS - rest)


def open_hours(line: Line) -> tuple[int, ...]:
    """The clock hours of which some part is open, ascending; empty if the site never opens.

    Hour 7 runs from 7:00 to 8:00; a site open from 7:30 counts it.
    """
    if line.close_h <= line.open_h:
        return ()
    return tuple(h for h in range(24) if h < line.close_h and h + 1 > line.open_h)


def hours_text(hours: list[int] | tuple[int, ...]) -> str:
    """Hours as clock times, runs drawn together: ``7:00, 9:00 to 11:00``."""
    runs: list[list[int]] = []
    for hour in sorted(hours):
        if runs and hour == runs[-1][1] + 1:
            runs[-1][1] = hour
        else:
            runs.append([hour, hour])
    return ", ".join(f"{a}:00" if a == b else f"{a}:00 to {b}:00" for a, b in runs)

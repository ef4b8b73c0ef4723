"""The invented roster of the week in which the demo stands, as somebody there has put it up.

It is written down below, not made by the program's own search, which may end a little elsewhere on
another machine; a test holds it against every rule and everybody needed.
"""

from __future__ import annotations

from datetime import date, timedelta

from sim.inputs import PlannedShift

MONDAY = date(2026, 7, 13)
BREAK_S = 1800.0
NO_BREAK = 0.0

Hours = tuple[int, float, float, float]
"""Day of the week, Monday 0; start, end and start of the break, in hours after midnight."""

WORKS: dict[str, tuple[Hours, ...]] = {
    "Ada": (
        (0, 14.5, 20.5, 19.0),
        (1, 15.5, 19.5, NO_BREAK),
        (2, 6.5, 12.5, 8.5),
        (3, 14.5, 20.5, 15.5),
        (4, 13.5, 19.5, 15.5),
    ),
    "Ben": (
        (0, 7.5, 13.5, 11.5),
        (1, 14.5, 20.5, 19.0),
        (3, 8.5, 16.5, 12.0),
        (4, 6.5, 12.5, 8.5),
        (5, 6.5, 12.5, 8.5),
    ),
    "Cleo": (
        (3, 6.5, 12.5, 8.5),
        (4, 6.5, 12.5, 8.5),
        (5, 6.5, 12.5, 8.5),
        (6, 11.5, 19.5, 14.0),
    ),
    "Dov": (
        (1, 8.5, 14.5, 11.5),
        (2, 6.5, 12.5, 8.5),
        (3, 6.5, 12.5, 8.5),
        (4, 14.5, 20.5, 19.0),
        (6, 14.5, 20.5, 19.0),
    ),
    "Eli": (
        (0, 12.5, 20.5, 15.5),
        (1, 11.5, 19.5, 16.0),
        (2, 11.5, 19.5, 14.5),
        (3, 11.5, 19.5, 16.0),
        (4, 6.5, 14.5, 11.5),
    ),
    "Fay": (
        (0, 13.5, 19.5, 15.0),
        (1, 6.5, 10.5, NO_BREAK),
        (2, 14.5, 20.5, 15.5),
        (4, 14.5, 20.5, 19.0),
        (5, 8.5, 14.5, 11.5),
    ),
    "Gus": (
        (0, 12.5, 20.5, 16.0),
        (3, 6.5, 14.5, 11.5),
        (4, 8.5, 16.5, 13.5),
        (5, 8.5, 16.5, 12.0),
        (6, 8.5, 16.5, 13.5),
    ),
    "Hana": (
        (0, 6.5, 12.5, 7.5),
        (1, 12.5, 20.5, 15.5),
        (2, 14.5, 20.5, 19.0),
        (3, 8.5, 14.5, 11.5),
        (6, 13.5, 19.5, 14.5),
    ),
    "Ivo": (
        (4, 8.5, 14.5, 12.0),
        (5, 6.5, 14.5, 11.5),
        (6, 6.5, 12.5, 8.5),
    ),
    "Jun": (
        (0, 6.5, 12.5, 8.5),
        (1, 14.5, 20.5, 19.0),
        (2, 14.5, 20.5, 16.0),
        (3, 14.5, 20.5, 19.0),
        (6, 6.5, 12.5, 8.5),
    ),
    "Kit": (
        (0, 11.5, 19.5, 14.5),
        (2, 6.5, 14.5, 11.5),
        (4, 12.5, 20.5, 16.0),
        (5, 11.5, 19.5, 15.0),
        (6, 6.5, 14.5, 11.5),
    ),
    "Lea": (
        (0, 6.5, 12.5, 8.0),
        (1, 6.5, 12.5, 8.5),
        (3, 11.5, 19.5, 14.5),
        (4, 11.5, 19.5, 14.0),
        (5, 14.5, 20.5, 19.0),
    ),
    "Mo": (
        (0, 8.5, 16.5, 12.0),
        (1, 8.5, 16.5, 12.0),
        (2, 11.5, 19.5, 15.0),
        (5, 11.5, 19.5, 15.5),
        (6, 12.5, 20.5, 15.0),
    ),
    "Nia": (
        (1, 10.5, 14.5, NO_BREAK),
        (2, 8.5, 14.5, 11.5),
        (3, 14.5, 20.5, 19.0),
        (5, 14.5, 20.5, 16.0),
        (6, 14.5, 20.5, 19.0),
    ),
    "Oz": (
        (1, 6.5, 12.5, 8.5),
        (2, 8.5, 16.5, 12.0),
        (5, 14.5, 20.5, 19.0),
        (6, 8.5, 14.5, 12.0),
    ),
}
"""Everybody's shifts; a short one has no break."""


def week_in_place() -> tuple[PlannedShift, ...]:
    """The week's shifts, in order of days and names."""
    return tuple(sorted(_shift(name, *row) for name, rows in WORKS.items() for row in rows))


def _shift(name: str, weekday: int, start_h: float, end_h: float, break_h: float) -> PlannedShift:
    start_s, end_s = 3600.0 * start_h, 3600.0 * end_h
    rest = (end_s, end_s)
    if break_h != NO_BREAK:
        rest = (3600.0 * break_h, 3600.0 * break_h + BREAK_S)
    return PlannedShift(MONDAY + timedelta(days=weekday), name, "", start_s, end_s, *rest)

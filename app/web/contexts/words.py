"""Moments, counts and small sentences that several pages say the same way."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from app.catalogue import _, short_date
from sim.units import MINUS, NBSP, UNITS


def moment(at: datetime, timezone: str) -> str:
    """A moment on a site's clock, as ``18 July 2026, 9:05``."""
    local = at.astimezone(ZoneInfo(timezone))
    return f"{short_date(local.date())}, {local.hour}:{local.minute:02d}"


def whole(number: float) -> str:
    """A count with its thousands apart."""
    return f"{round(number):,}".replace("-", MINUS)


def about(number: float) -> str:
    """An expected count without digits that nobody can expect: 1,530 rather than 1,529."""
    step = 1 if number < 200 else 10 if number < 5000 else 100
    return whole(step * round(number / step))


def joined(parts: Sequence[str]) -> str:
    """Words in a row, the last with "and"."""
    if len(parts) < 2:
        return "".join(parts)
    return _("{first} and {last}", first=", ".join(parts[:-1]), last=parts[-1])


def whole_degrees(temp_c: float, system: str) -> str:
    """A temperature to the whole degree that the reader reads in."""
    unit = UNITS["temperature"]
    return f"{whole(unit.to_edge(temp_c, system))}{NBSP}{unit.symbol(system)}"

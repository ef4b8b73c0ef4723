"""Moments, counts and small sentences that several pages say the same way."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from app.catalogue import _, short_date
from sim.units import MINUS, NBSP, UNITS, quantity


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


def about_cars(cars: float) -> str:
    """A day's cars, in tens where that is as much as anybody can expect to know."""
    step = 10 if cars >= 200 else 1
    return whole(round(cars / step) * step)


def day_words(
    cars: float, highest_temp_c: float, humidity: float, rain_mm: float, system: str
) -> str:
    """An open day in a line: cars, highest temperature, humidity then, rain."""
    amount = _("{rain} of rain", rain=quantity(rain_mm, "rain", 2).show(system))
    if rain_mm < 2.0:
        amount = _("no rain") if rain_mm < 0.1 else _("hardly any rain")
    return _(
        "About {cars} cars. {temp} at most, air at {humidity} then, {rain}.",
        cars=about_cars(cars),
        temp=whole_degrees(highest_temp_c, system),
        humidity=f"{round(100 * humidity)}{NBSP}%",
        rain=amount,
    )

"""Moments, counts and small sentences that several pages say the same way."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from app.catalogue import _, short_date
from app.words.numbers import about, amount, degrees, percent

_ENDS = re.compile(r"(?<=[.?!])[”)]?\s+(?=[“(]?[^\W\d_]|\d)")


@dataclass(frozen=True, slots=True)
class Statement:
    """A statement: the part said with weight, the rest of it, and what is said more quietly."""

    lead: str
    rest: str
    also: str = ""

    def __str__(self) -> str:
        return " ".join(part for part in (self.lead, self.rest, self.also) if part)


@dataclass(frozen=True, slots=True)
class TextTable:
    """A small table: a sentence above it, heads, and rows of cells, the first of them a label."""

    says: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def first_sentence(text: str) -> str:
    """The first sentence of a text, which is what stands in view of a part that is folded."""
    return _ENDS.split(text, maxsplit=1)[0]


def moment(at: datetime, timezone: str) -> str:
    """A moment on a site's clock, as ``18 July 2026, 9:05``."""
    local = at.astimezone(ZoneInfo(timezone))
    return f"{short_date(local.date())}, {local.hour}:{local.minute:02d}"


def joined(parts: Sequence[str]) -> str:
    """Words in a row, the last with "and"."""
    if len(parts) < 2:
        return "".join(parts)
    return _("{first} and {last}", first=", ".join(parts[:-1]), last=parts[-1])


def either(parts: Sequence[str]) -> str:
    """Clauses in a row, the last with "or"."""
    if len(parts) < 2:
        return "".join(parts)
    return _("{first}, or {last}", first=", ".join(parts[:-1]), last=parts[-1])


def air_words(highest_temp_c: float, humidity: float, rain_mm: float, system: str) -> str:
    """The air of a day: highest temperature, humidity then, rain."""
    rain = _("{rain} of rain", rain=amount(rain_mm, "rain", system, 2))
    if rain_mm < 2.0:
        rain = _("no rain") if rain_mm < 0.1 else _("hardly any rain")
    temp, air = degrees(highest_temp_c, system), percent(humidity)
    return _("{temp} at most, air at {humidity} then, {rain}.", temp=temp, humidity=air, rain=rain)


def day_words(
    cars: float, highest_temp_c: float, humidity: float, rain_mm: float, system: str
) -> str:
    """An open day in a line: its cars and its air."""
    air = air_words(highest_temp_c, humidity, rain_mm, system)
    return f"{_('About {cars} cars.', cars=about(cars))} {air}"

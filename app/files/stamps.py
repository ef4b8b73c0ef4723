"""What a cell of somebody's export says: a date, a time of day, a number. Nothing here raises."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache

ORDERS = ("mdy", "dmy")
"""Month first, day first."""
EARLIEST, LATEST = date(1990, 1, 1), date(2100, 1, 1)
"""Dates of counts lie between these; other numbers that look like dates are none."""

_MONTHS = (
    "jan ene gen janv", "feb fev fevr", "mar maerz mrz mrt mars", "apr avr abr", "may mai mei mag",
    "jun juin giu", "jul juil lug", "aug aou ago", "sep set sept", "oct okt ott out",
    "nov", "dec dez dic",
)  # fmt: skip
"""How months begin in some languages, without accents."""
_MONTH = {start: at for at, starts in enumerate(_MONTHS, 1) for start in starts.split()}

_YMD = re.compile(r"(\d{4})\s?[-/.年]\s?(\d{1,2})\s?[-/.月]\s?(\d{1,2})日?(?!\d)")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})(?!\d)")
_PAIR = re.compile(r"(\d{1,2})\s?[-/.]\s?(\d{1,2})\s?[-/.]\s?(\d{4}|\d{2})(?![\d/])")
_DAY_MONTH = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th|er|º)?[\s.\-]*(?:de\s+)?([^\W\d_]{3,})\.?[\s,\-]*(?:de\s+|del\s+)?"
    r"(\d{4}|\d{2})(?!\d)"
)
_MONTH_DAY = re.compile(r"([^\W\d_]{3,})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})(?!\d)")
_WEEKDAY = re.compile(r"[^\W\d_]{2,}\.?,?\s+")
_HALF = r"(a\.?\s?m\.?|p\.?\s?m\.?|[ap])?"
_CLOCK = re.compile(
    r"(\d{1,2})(?:\s?(?::|h|uhr)\s?(\d{2})?(?:[:.](\d{2})(?:[.,]\d+)?)?|\.(\d{2})\.(\d{2}))?"
    r"(?:\s?uhr)?\s?" + _HALF
)
_ZONE = re.compile(r"(?<=\d)\s?(z|[+-]\d{2}:?\d{2})$")
_TO = re.compile(r"-|–|—|\bto\b|\bbis\b|\bà\b|\ba\b")
_SIGNS = re.compile(r"[$€£¥₹]|\b(?:usd|eur|gbp|cad|aud|chf|kr|zł)\b|\s|'|’", re.IGNORECASE)
_DIGITS = re.compile(r"-?(\d+(\.\d*)?|\.\d+)")
_POINTS = re.compile(r"-?\d{1,3}(?:(?:,\d{3})+|(?:\.\d{3})+)")


@dataclass(frozen=True, slots=True)
class Clock:
    """A time of day: minute 0 to 1440, and seconds.

    Attributes:
        is_bare: a number alone, without minutes or half of the day.
        until: minute at which a range such as 9:00–10:00 ends; -1 for none.
    """

    minute: int
    second: int = 0
    is_bare: bool = False
    until: int = -1


@dataclass(frozen=True, slots=True)
class Stamp:
    """A date, and a time of day if there is one.

    Attributes:
        pair: the two numbers that are month and day in either order, and the year; None where the
            text itself says which is which.
        day: the date; None while it is a pair.
        clock: None for a date alone.
        offset: minutes ahead of universal time; None where they are not given.
    """

    pair: tuple[int, int, int] | None
    day: date | None
    clock: Clock | None = None
    offset: int | None = None

    def on(self, order: str) -> date | None:
        """The date with month first or day first; None if there is no such day."""
        if self.pair is None:
            return self.day
        first, second, year = self.pair
        month, day = (first, second) if order == "mdy" else (second, first)
        return _date(year, month, day)


def plain(text: str) -> str:
    """A text in small letters without accents or spaces of unusual width."""
    if text.isascii():
        return text.lower().strip()
    spaced = unicodedata.normalize("NFKD", text.casefold().strip())
    return "".join(c for c in spaced if not unicodedata.combining(c))


@lru_cache(maxsize=200_000)
def stamp(cell: str) -> Stamp | None:
    """The date that a cell holds, with its time of day if it has one; None for anything else."""
    if len(cell) > 60 or not any(c.isdigit() for c in cell):
        return None
    text = plain(cell)
    for start in dict.fromkeys((0, _after_weekday(text))):
        found = _dated(text[start:])
        if found is None:
            continue
        pair, day, rest = found
        rest = rest.lstrip("t, \u00a0") if rest[:1] in ("t", ",", " ") else rest
        if not rest:
            return Stamp(pair, day)
        zone = _ZONE.search(rest)
        time = clock(rest[: zone.start()] if zone else rest)
        if time is not None and not time.is_bare and time.until < 0 and time.minute < 1440:
            return Stamp(pair, day, time, _offset(zone.group(1)) if zone else None)
    return None


def _offset(zone: str) -> int:
    if zone == "z":
        return 0
    minutes = int(zone[1:3]) * 60 + int(zone[-2:])
    return -minutes if zone[0] == "-" else minutes


def _after_weekday(text: str) -> int:
    found = _WEEKDAY.match(text)
    return found.end() if found else 0


def _dated(text: str) -> tuple[tuple[int, int, int] | None, date | None, str] | None:
    """What a text begins with: a pair, or a day; and the rest of it."""
    found = _YMD.match(text) or _COMPACT.match(text)
    if found:
        day = _date(*map(int, found.groups()))
        return None if day is None else (None, day, text[found.end() :])
    found = _PAIR.match(text)
    if found:
        first, second, year = map(int, found.groups())
        pair = (first, second, year + 2000 if year < 100 else year)
        if any(_date(pair[2], *both) for both in ((first, second), (second, first))):
            return pair, None, text[found.end() :]
        return None
    day_first, month_first = _DAY_MONTH.match(text), _MONTH_DAY.match(text)
    for found, at_month, at_day in ((day_first, 2, 1), (month_first, 1, 2)):
        if found:
            month = _month(found.group(at_month))
            year = int(found.group(3))
            made = _date(year + 2000 if year < 100 else year, month, int(found.group(at_day)))
            if made:
                return None, made, text[found.end() :]
    return None


def _month(word: str) -> int:
    return next((_MONTH[word[:n]] for n in (5, 4, 3) if word[:n] in _MONTH), 0)


def _date(year: int, month: int, day: int) -> date | None:
    try:
        made = date(year, month, day)
    except ValueError:
        return None
    return made if EARLIEST <= made < LATEST else None


@lru_cache(maxsize=50_000)
def clock(cell: str) -> Clock | None:
    """The time of day that a cell holds, or the beginning of the range that it holds.

    Read are 24 and 12 hours with minutes and seconds or without, and a bare hour 0 to 24.
    """
    if len(cell) > 40 or not any(c.isdigit() for c in cell):
        return None
    text = plain(cell)
    whole = _CLOCK.fullmatch(text)
    if whole:
        return _clock(whole)
    parts = [_CLOCK.fullmatch(part.strip()) for part in _TO.split(text)]
    if len(parts) != 2 or parts[0] is None or parts[1] is None:
        return None
    begin, end = _clock(parts[0]), _clock(parts[1])
    if begin is None or end is None:
        return None
    minute = begin.minute
    if parts[1].group(6) and not parts[0].group(6) and minute < 720:
        # in 9–10 pm the first takes the half of the second, unless that turns it round, as 11–12 pm
        later = minute + 720
        if parts[1].group(6)[0] == "p" and later < end.minute:
            minute = later
    return Clock(minute, begin.second, False, end.minute)


def _clock(found: re.Match[str]) -> Clock | None:
    hour = int(found.group(1))
    minute = int(found.group(2) or found.group(4) or 0)
    second = int(found.group(3) or found.group(5) or 0)
    half = (found.group(6) or "")[:1]
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 24 or minute > 59 or second > 59 or (hour == 24 and (minute or second)):
        return None
    return Clock(60 * hour + minute, second, found.group(0).isdecimal())


def half_of(cell: str) -> str:
    """``a`` or ``p`` for a cell that holds AM or PM alone; empty for anything else."""
    text = plain(cell).replace(".", "").replace(" ", "")
    return text[0] if text in ("am", "pm") else ""


@lru_cache(maxsize=50_000)
def number(cell: str, comma: bool) -> Decimal | None:
    """The number that a cell holds, with a decimal comma or a point; None for anything else.

    Signs of money, spaces and marks between thousands are passed over; a minus may stand behind,
    and brackets around a number make it negative.
    """
    if len(cell) > 40:
        return None
    text = _SIGNS.sub("", unicodedata.normalize("NFKC", cell).replace("\u2212", "-"))
    if text[:1] == "(" and text[-1:] == ")":
        text = "-" + text[1:-1]
    if text[-1:] == "-":
        text = "-" + text[:-1]
    text = text.removeprefix("+")
    mark, other = (",", ".") if comma else (".", ",")
    if other in text:
        grouped = _POINTS.fullmatch(text.partition(mark)[0])
        if grouped is None or mark in grouped.group():
            return None
        text = text.replace(other, "")
    text = text.replace(mark, ".", 1)
    return Decimal(text) if _DIGITS.fullmatch(text) else None


def decimal_mark(cells: list[str]) -> str:
    """The mark before decimals that some numbers show; empty if none does."""
    for cell in cells:
        text = _SIGNS.sub("", cell)
        found = re.fullmatch(r"[-(]?[\d.,]*?([.,])(\d+)[-)]?", text)
        if found and (len(found.group(2)) != 3 or ("," in text and "." in text)):
            return found.group(1)
    return ""

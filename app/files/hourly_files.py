"""Counts and weather by the hour as CSV files: read with every bad line named, and written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from app.files.clock_cells import Hour, HourReader, SiteClock
from app.files.csv_table import Row, read_table, shortened
from app.files.hourly_cells import air_cells, cars_cell, one_column, time_columns
from sim.errors import InputProblem
from sim.inputs import COUNTED, HourCount, HourWeather
from sim.units import quantity

TOLD_EVERY = 1_000
"""Lines between two words of how far reading is."""
DAYS_NAMED = 20
"""Days with gaps that are named one by one; the rest is counted."""

TIME_COLUMNS = ("date", "hour", "start")
COUNT_COLUMNS = ("cars_arrived", "cars_washed", "cars")
AIR_COLUMNS = ("temp_c", "temp_f")
MOIST_COLUMNS = ("humidity_pct", "wet_bulb_c", "wet_bulb_f")
RAIN_COLUMNS = ("rain_mm", "rain_in")


@dataclass(frozen=True, slots=True)
class CountsPreview:
    """What a file of counts holds.

    Attributes:
        counted: ``arrived`` or ``washed``.
        counts: the good lines, in order of time.
        problems: every line that was left out, and why.
        notes: what else a reader should know, such as hours without a count.
    """

    counted: str
    counts: tuple[HourCount, ...]
    problems: tuple[InputProblem, ...]
    notes: tuple[InputProblem, ...]


@dataclass(frozen=True, slots=True)
class WeatherPreview:
    """What a file of weather holds; as `CountsPreview`."""

    weather: tuple[HourWeather, ...]
    problems: tuple[InputProblem, ...]
    notes: tuple[InputProblem, ...]


def read_counts(
    raw: bytes,
    timezone: str,
    open_h: float,
    close_h: float,
    counted: str | None = None,
    file: str = "counts.csv",
    told: Callable[[int], None] = lambda line: None,
) -> CountsPreview:
    """Hourly counts from a CSV file; nothing in it raises.

    Columns: ``date`` (year-month-day) and ``hour`` (0 to 23, when the hour began), or ``start``
    (a local time such as 2026-07-18T07:00, with or without UTC offset); and ``cars_arrived`` or
    ``cars_washed``, whose name says what was counted, or ``cars`` with `counted`.

    Args:
        raw: the whole file.
        timezone: IANA name of the site's time zone.
        open_h, close_h: opening hours [h]; hours without a count are looked for inside them.
        counted: ``arrived`` or ``washed``; needed for ``cars``, else the column's name holds.
        file: name for messages.
        told: called with the number of the line reached now and then; what it raises ends this.
    """
    table = read_table(raw, file, (*TIME_COLUMNS, *COUNT_COLUMNS))
    column = one_column(table, COUNT_COLUMNS, "the count", file)
    time_columns(table, file)
    kind = counted if counted in COUNTED else COUNTED[0]
    if column == "cars" and counted not in COUNTED:
        sentence = (
            "The column “cars” does not say what was counted. Name it cars_arrived or cars_washed; "
            "cars washed are fewer when the line is full."
        )
        table.problems.append(InputProblem("cars", sentence, {}, file))
        column = ""
    elif column not in ("", "cars"):
        kind = column.removeprefix("cars_")
    if not column or any(p.field in ("header", "cars") for p in table.problems):
        return CountsPreview(kind, (), shortened(table.problems, file), tuple(table.notes))
    reader = HourReader(SiteClock(timezone), file)
    counts: list[HourCount] = []
    for row in table.rows:
        if row.line % TOLD_EVERY == 0:
            told(row.line)
        cars = cars_cell(row, column, f"{file}, line {row.line}", table.decimal_comma)
        hour = reader.read(row) if isinstance(cars, int) else _named(reader, row)
        if isinstance(cars, InputProblem):
            table.problems.append(cars)
        elif isinstance(hour, InputProblem):
            table.problems.append(hour)
        elif hour is not None:
            counts.append(HourCount(*hour, cars))
    inside = [h for h in range(24) if h < close_h and h + 1 > open_h] if close_h > open_h else []
    notes = [*table.notes, *_gaps(reader, inside, "count", file)]
    stray = sum(1 for row in counts if row.cars and row.hour not in inside)
    if stray:
        sentence = (
            "Lines with cars outside the opening hours: {count}. They are kept, but no day is "
            "expected from them; look at the opening hours on the Site page."
        )
        notes.append(InputProblem("hour", sentence, {"count": f"{stray:,}"}, file))
    return CountsPreview(kind, tuple(sorted(counts)), shortened(table.problems, file), tuple(notes))


def read_weather(
    raw: bytes,
    timezone: str,
    pressure_pa: float = 101_325.0,
    file: str = "weather.csv",
    told: Callable[[int], None] = lambda line: None,
) -> WeatherPreview:
    """Hourly outdoor weather from a CSV file; nothing in it raises.

    Columns: ``date`` and ``hour``, or ``start``, as in `read_counts`; ``temp_c`` or ``temp_f``;
    ``humidity_pct`` (relative, above 0 to 100) or ``wet_bulb_c`` or ``wet_bulb_f``; and, if it is
    known, ``rain_mm`` or ``rain_in``. An empty rain cell is no rain.

    Args:
        raw: the whole file.
        timezone: IANA name of the site's time zone.
        pressure_pa: air pressure [Pa] at which a wet bulb is turned into humidity.
        file: name for messages.
        told: as in `read_counts`.
    """
    known = (*TIME_COLUMNS, *AIR_COLUMNS, *MOIST_COLUMNS, *RAIN_COLUMNS)
    table = read_table(raw, file, known)
    air = one_column(table, AIR_COLUMNS, "the temperature", file)
    moist = one_column(table, MOIST_COLUMNS, "the humidity", file)
    rain = one_column(table, RAIN_COLUMNS, "the rain", file, needed=False)
    time_columns(table, file)
    if any(p.field == "header" for p in table.problems) or not (air and moist):
        return WeatherPreview((), shortened(table.problems, file), tuple(table.notes))
    reader = HourReader(SiteClock(timezone), file)
    weather: list[HourWeather] = []
    for row in table.rows:
        if row.line % TOLD_EVERY == 0:
            told(row.line)
        where = f"{file}, line {row.line}"
        read = air_cells(row, (air, moist, rain), where, table.decimal_comma, pressure_pa)
        hour = _named(reader, row) if isinstance(read, InputProblem) else reader.read(row)
        if isinstance(read, InputProblem):
            table.problems.append(read)
        elif isinstance(hour, InputProblem):
            table.problems.append(hour)
        elif hour is not None:
            weather.append(HourWeather(*hour, *read))
    notes = [*table.notes, *_gaps(reader, list(range(24)), "weather", file)]
    notes += _weather_notes(weather, moist, air, file)
    return WeatherPreview(tuple(sorted(weather)), shortened(table.problems, file), tuple(notes))


def _named(reader: HourReader, row: Row) -> Hour | InputProblem | None:
    """The hour of a line that is left out for another reason: it is not missing as well."""
    reader.mention(row)
    return None


def _gaps(reader: HourReader, hours: list[int], what: str, file: str) -> list[InputProblem]:
    """Notes on hours between the first and the last day of which the file says nothing."""
    notes: list[InputProblem] = []
    holes: list[tuple[date, list[int]]] = []
    days = reader.days
    for day in days:
        there = reader.hours_of(day)
        gone = [h for h in hours if h not in there and reader.clock.times(day, h)]
        if gone:
            holes.append((day, gone))
    for day, gone in holes[:DAYS_NAMED]:
        sentence = "{day} has no {what} at {hours}. Missing is not zero: the hours are left out."
        shown = ", ".join(f"{h}:00" for h in gone)
        filling = {"day": str(day), "what": what, "hours": shown}
        notes.append(InputProblem("hour", sentence, filling, file))
    if len(holes) > DAYS_NAMED:
        sentence = "Further days with hours without {what}: {days}."
        filling = {"days": f"{len(holes) - DAYS_NAMED:,}", "what": what}
        notes.append(InputProblem("hour", sentence, filling, file))
    if days:
        empty = (days[-1] - days[0]).days + 1 - len(days)
        if empty:
            sentence = (
                "Whole days between {first} and {last} that are not in the file: {days}. If the "
                "site was closed then, nothing is amiss."
            )
            filling = {
                "days": f"{empty:,}", "first": str(days[0]), "last": str(days[-1])
            }  # fmt: skip
            notes.append(InputProblem("date", sentence, filling, file))
    return notes


def _weather_notes(
    weather: list[HourWeather], moist: str, air: str, file: str
) -> list[InputProblem]:
    notes: list[InputProblem] = []
    frost = [row for row in weather if row.temp_c < 0.0]
    if frost:
        sentence = (
            "Hours with frost: {count}, the coldest {low}. They are kept; hours below freezing "
            "can't be planned, since ice is not in the model."
        )
        low = quantity(min(row.temp_c for row in frost), "temperature")
        filling: dict[str, object] = {"count": f"{len(frost):,}", "low": low}
        notes.append(InputProblem(air, sentence, filling, file))
    if moist == "humidity_pct" and weather and max(r.humidity for r in weather) <= 0.01:
        sentence = (
            "No humidity in the file is above 1 %. It looks like shares of 1; the column takes "
            "per cent, 65 and not 0.65."
        )
        notes.append(InputProblem(moist, sentence, {}, file))
    return notes

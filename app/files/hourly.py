"""Hours of a site's clock as CSV, both ways: counts, weather; every bad line is named."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import TypeVar

from app.files.csv_table import CsvRow, CsvTable, Written, csv_text, read_table, shortened
from app.files.look import Look
from app.files.site_clock import Hour, SiteClock
from sim.errors import InputProblem, quoted
from sim.inputs import COUNTED, History, HourCount, HourWeather
from sim.inputs.history import COLDEST_C, HOTTEST_C, MOST_CARS_PER_H, MOST_RAIN_MM
from sim.physics.air import humidity_from_wet_bulb
from sim.units import UNITS, Quantity, parse_day, quantity

_ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_HOUR = re.compile(r"([0-9]{1,2})(?::00(?::00)?)?")
_START = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]([0-9]{2}:[0-9]{2}(?::[0-9]{2})?)"
    r"(Z|[+-][0-9]{2}:?[0-9]{2})?",
    re.IGNORECASE,
)

DAYS_REMEMBERED = 1_000
"""Texts of days that are remembered: lines of one day stand together."""

Cells = TypeVar("Cells", tuple[int], tuple[float, float, float])


class HourReader:
    """Reads the hour of each line in turn and refuses an hour that is there already.

    A clock hour that comes twice when clocks go back may be given twice: the first line is the
    first of the two unless the time has a UTC offset.
    """

    def __init__(self, clock: SiteClock, file: str) -> None:
        self.clock = clock
        self.file = file
        self._named: dict[date, int] = {}
        self._lines: dict[int, int] = {}

    def hours_of(self, day: date) -> list[int]:
        """The clock hours of a day that some line named."""
        return [hour for hour in range(24) if self._named[day] >> hour & 1]

    @property
    def days(self) -> list[date]:
        """The days of which a line named an hour, in order."""
        return sorted(self._named)

    def name(self, day: date, hour: int) -> None:
        """Take note of an hour: it is not missing."""
        self._named[day] = self._named.get(day, 0) | 1 << hour

    def read(self, row: CsvRow) -> Hour | InputProblem:
        """The hour of a line, or why it has none."""
        where = f"{self.file}, line {row.line}"
        read = self._start(row, where) if "start" in row.cells else self._date_hour(row, where)
        if isinstance(read, InputProblem):
            return read
        day, hour, fold = read
        self.name(day, hour)
        times = self.clock.times(day, hour)
        if times == 0:
            sentence = (
                "{hour}:00 on {day} does not exist: clocks went forward over it. Leave this line "
                "out."
            )
            return InputProblem("hour", sentence, {"hour": hour, "day": str(day)}, where)
        wanted = range(times) if fold is None else (fold,)
        place = 48 * day.toordinal() + 2 * hour
        free = [f for f in wanted if place + f not in self._lines]
        if not free:
            first = self._lines[place + wanted[0]]
            sentence = "{hour}:00 on {day} is on line {first} already. Keep one of the two lines."
            if times == 2 and fold is None:
                sentence = (
                    "{hour}:00 on {day} came twice when clocks went back, and both are on earlier "
                    "lines, the first on {first}. Leave one out."
                )
            filling = {"hour": hour, "day": str(day), "first": first}
            return InputProblem("hour", sentence, filling, where)
        self._lines[place + free[0]] = row.line
        return day, hour, free[0]

    def mention(self, row: CsvRow) -> None:
        """Take note of a line that is left out for another reason: its hour is not missing."""
        read = self._start(row, "") if "start" in row.cells else self._date_hour(row, "")
        if not isinstance(read, InputProblem):
            self.name(*read[:2])

    def _date_hour(self, row: CsvRow, where: str) -> tuple[date, int, int | None] | InputProblem:
        cell = row.cells["date"]
        day = iso_date(cell)
        if day is None:
            sentence = "date “{value}” is not a date. Write year-month-day, as in 2026-07-18."
            return InputProblem("date", sentence, {"value": quoted(cell)}, where)
        match = _HOUR.fullmatch(row.cells["hour"])
        if match is None or int(match.group(1)) > 23:
            sentence = (
                "hour “{value}” is not an hour of the day. Write 0 to 23 for the hour in which "
                "counting began; 7 means 7:00 to 8:00."
            )
            return InputProblem("hour", sentence, {"value": quoted(row.cells["hour"])}, where)
        return day, int(match.group(1)), None

    def _start(self, row: CsvRow, where: str) -> tuple[date, int, int | None] | InputProblem:
        cell = row.cells["start"]
        match = _START.fullmatch(cell)
        moment = None
        if match:
            offset = (match.group(3) or "").upper().replace("Z", "+00:00")
            try:
                parse_day(match.group(1))
                moment = datetime.fromisoformat(f"{match.group(1)}T{match.group(2)}{offset}")
                if moment.tzinfo is not None:
                    moment = moment.astimezone(self.clock.zone)
            except (ValueError, OverflowError):
                moment = None
        if moment is None:
            sentence = (
                "start “{value}” is not a time. Write it as 2026-07-18T07:00 on the site’s clock, "
                "or with its UTC offset as in 2026-07-18T07:00-04:00."
            )
            return InputProblem("start", sentence, {"value": quoted(cell)}, where)
        if moment.minute or moment.second:
            sentence = (
                "start “{value}” is not a full hour of the site’s clock. Add up to whole hours "
                "first."
            )
            return InputProblem("start", sentence, {"value": quoted(cell)}, where)
        fold = None if moment.tzinfo is None else moment.fold
        return moment.date(), moment.hour, fold


@lru_cache(maxsize=DAYS_REMEMBERED)
def iso_date(cell: str) -> date | None:
    """A date written year-month-day; None for anything else."""
    if not _ISO_DATE.fullmatch(cell):
        return None
    try:
        return parse_day(cell)
    except ValueError:
        return None


LEAST_HUMIDITY = 0.005
_humidity = lru_cache(maxsize=20_000)(humidity_from_wet_bulb)
"""Thermometers are read to a tenth or a half of a degree, so most pairs come again and again."""
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")


def one_column(
    table: CsvTable, names: tuple[str, ...], what: str, file: str, needed: bool = True
) -> str:
    """The one column of several that is there; empty, with a problem, if none or more are."""
    found = [name for name in names if name in table.columns]
    if len(found) == 1:
        return found[0]
    if found:
        sentence = "The columns {found} both give {what}. Keep one of them."
        filling = {"found": " and ".join(found), "what": what}
        table.problems.append(InputProblem("header", sentence, filling, file))
    elif needed and table.columns and not table.is_broken:
        sentence = "No column gives {what}. Name one {names}."
        filling = {"names": " or ".join(names), "what": what}
        table.problems.append(InputProblem("header", sentence, filling, file))
    return ""


def time_columns(table: CsvTable, file: str) -> None:
    """Adds a problem unless the hour is given by date and hour or by start."""
    if not table.columns or table.is_broken:
        return
    has_start = "start" in table.columns
    has_date = [name for name in ("date", "hour") if name in table.columns]
    if has_start and has_date:
        sentence = "The hour is given by start and by {names}. Keep one way."
        filling = {"names": " and ".join(has_date)}
        table.problems.append(InputProblem("header", sentence, filling, file))
    elif not has_start and len(has_date) < 2:
        sentence = "No column gives the hour. Name two of them date and hour, or one start."
        table.problems.append(InputProblem("header", sentence, {}, file))


def _read_number(cell: str, decimal_comma: bool) -> Decimal | None:
    text = cell.replace("\u2212", "-")
    if decimal_comma and "." not in text:
        text = text.replace(",", ".", 1)
    return Decimal(text) if _NUMBER.fullmatch(text) else None


def cars_cell(row: CsvRow, column: str, where: str, decimal_comma: bool) -> int | InputProblem:
    """A count of cars, or why it is none."""
    cell = row.cells[column]
    number = _read_number(cell, decimal_comma)
    if not cell:
        sentence = "{field} is empty. Leave the line out if nobody counted; write 0 if none came."
    elif number is None:
        sentence = "{field} “{value}” is not a number. Enter a whole number of cars, as in 42."
    elif number < 0:
        sentence = "{field} “{value}” is below zero. Enter 0 or more cars."
    elif number > MOST_CARS_PER_H:
        sentence = (
            "{field} “{value}” is more than {limit} cars in one hour, which no line takes. Is it "
            "the count of a day? Enter 0 to {limit}."
        )
    elif number != int(number):
        sentence = "{field} “{value}” is not a whole number of cars. Enter 0, 1, 2 and so on."
    else:
        return int(number)
    filling = {"field": column, "value": quoted(cell), "limit": f"{MOST_CARS_PER_H:,}"}
    return InputProblem(column, sentence, filling, where)


def air_cells(
    row: CsvRow, columns: tuple[str, str, str], where: str, decimal_comma: bool, pressure_pa: float
) -> tuple[float, float, float] | InputProblem:
    """Temperature [°C], humidity 0 to 1 and rain [mm] of a line, or why it has none.

    `columns` names those of temperature, humidity or wet bulb, and rain (empty if there is none).
    """
    air, moist, rain = columns
    temp = _measure(row, air, where, decimal_comma)
    if isinstance(temp, InputProblem):
        return temp
    humidity = _measure(row, moist, where, decimal_comma)
    if isinstance(humidity, InputProblem):
        return humidity
    if moist != "humidity_pct":
        bulb = humidity
        filling: dict[str, object] = {
            "bulb": quantity(bulb, "temperature", 4),
            "temp": quantity(temp, "temperature", 4),
        }
        if bulb > temp:
            sentence = (
                "Wet bulb {bulb} is above the dry bulb {temp}, which can't be: water cools as it "
                "evaporates. Are the two columns swapped?"
            )
            return InputProblem(moist, sentence, filling, where)
        humidity = _humidity(temp, bulb, pressure_pa)
        if humidity < LEAST_HUMIDITY:
            sentence = (
                "Wet bulb {bulb} is too far below the dry bulb {temp}: even bone-dry air does not "
                "cool a wet thermometer so much."
            )
            return InputProblem(moist, sentence, filling, where)
    if not rain or not row.cells[rain]:
        return temp, humidity, 0.0
    fallen = _measure(row, rain, where, decimal_comma)
    return fallen if isinstance(fallen, InputProblem) else (temp, humidity, fallen)


_AIR, _RAIN = ("temperature", COLDEST_C, HOTTEST_C), ("rain", 0.0, MOST_RAIN_MM)
_KINDS = {
    "temp_c": (*_AIR, "si"),
    "temp_f": (*_AIR, "us"),
    "humidity_pct": ("share", 0.0, 1.0, "si"),
    "wet_bulb_c": (*_AIR, "si"),
    "wet_bulb_f": (*_AIR, "us"),
    "rain_mm": (*_RAIN, "si"),
    "rain_in": (*_RAIN, "us"),
}
"""Unit, limits and system of each column."""


def _measure(row: CsvRow, column: str, where: str, decimal_comma: bool) -> float | InputProblem:
    """One cell in SI; what was written in °C, mm or per cent comes back to the last bit."""
    cell = row.cells[column]
    kind, low, high, system = _KINDS[column]
    number = _read_number(cell, decimal_comma)
    if number is None:
        sentence = "{field} “{value}” is not a number. Enter {low} to {high}."
        if "," in cell and not decimal_comma:
            sentence = (
                "{field} “{value}” has a comma. Write decimals with a point, as in 21.5, or put "
                "semicolons between cells."
            )
        elif not cell:
            sentence = "{field} is empty. Enter {low} to {high}, or leave the line out."
        return _unread(column, sentence, cell, where)
    is_share = kind == "share"
    value = float(number.scaleb(-2)) if is_share else UNITS[kind].to_si(float(number), system)
    if not low <= value <= high or (is_share and value == 0.0):
        sentence = "{field} “{value}” can't be. Enter {low} to {high}."
        if is_share:
            sentence = "{field} “{value}” can't be. Enter more than {low}, up to {high}."
        return _unread(column, sentence, cell, where)
    return value


def _unread(column: str, sentence: str, cell: str, where: str) -> InputProblem:
    """Why a cell can't be used, with the limits of its column."""
    kind, low, high, system = _KINDS[column]
    filling: dict[str, object] = {
        "field": column,
        "value": quoted(cell),
        "low": Quantity(low, UNITS[kind]).show(system),
        "high": Quantity(high, UNITS[kind]).show(system),
    }
    return InputProblem(column, sentence, filling, where)


TOLD_EVERY = 1_000
"""Lines between two words of how far reading is."""
HOLES_NAMED = 20
"""Sets of hours that are missing on a day or more, each told; of the rest only days are."""

TIME_COLUMNS = ("date", "hour", "start")
COUNT_COLUMNS = (*(f"cars_{kind}" for kind in COUNTED), "cars")
AIR_COLUMNS = ("temp_c", "temp_f")
MOIST_COLUMNS = ("humidity_pct", "wet_bulb_c", "wet_bulb_f")
RAIN_COLUMNS = ("rain_mm", "rain_in")


@dataclass(frozen=True, slots=True)
class Preview:
    """What a file of hours holds.

    Attributes:
        history: the good lines, in order of time.
        problems: every line that was left out, and why.
        notes: what else a reader should know, such as hours without a count.
        look: how it was understood, of a file of counts that has other columns than ours.
    """

    history: History
    problems: tuple[InputProblem, ...]
    notes: tuple[InputProblem, ...]
    look: Look | None = None


def read_counts(
    raw: bytes,
    timezone: str,
    open_h: float,
    close_h: float,
    counted: str | None = None,
    file: str = "counts.csv",
    told: Callable[[int], None] = lambda line: None,
) -> Preview:
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
        return Preview(History(kind), shortened(table.problems, file), tuple(table.notes))
    reader = HourReader(SiteClock(timezone), file)

    def cells(row: CsvRow, where: str) -> tuple[int] | InputProblem:
        cars = cars_cell(row, column, where, table.decimal_comma)
        return (cars,) if isinstance(cars, int) else cars

    counts = [HourCount(*hour, *read) for hour, read in _lines_of(table, reader, cells, told)]
    notes = [*table.notes, *count_notes(reader, counts, open_h, close_h)]
    history = History(kind, tuple(sorted(counts)))
    return Preview(history, shortened(table.problems, file), tuple(notes))


def count_notes(
    reader: HourReader, counts: Iterable[HourCount], open_h: float, close_h: float
) -> list[InputProblem]:
    """Notes on hours without a count, and on cars outside the opening hours [h]."""
    inside = [h for h in range(24) if h < close_h and h + 1 > open_h] if close_h > open_h else []
    notes = _gaps(reader, inside, "count", reader.file)
    stray = sum(1 for row in counts if row.cars and row.hour not in inside)
    if stray:
        sentence = (
            "Lines with cars outside the opening hours: {count}. They are kept, but no day is "
            "expected from them; look at the opening hours on the Site page."
        )
        notes.append(InputProblem("hour", sentence, {"count": f"{stray:,}"}, reader.file))
    return notes


def read_weather(
    raw: bytes,
    timezone: str,
    pressure_pa: float = 101_325.0,
    file: str = "weather.csv",
    told: Callable[[int], None] = lambda line: None,
) -> Preview:
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
    if table.is_broken or not (air and moist):
        return Preview(History(), shortened(table.problems, file), tuple(table.notes))
    reader = HourReader(SiteClock(timezone), file)

    def cells(row: CsvRow, where: str) -> tuple[float, float, float] | InputProblem:
        return air_cells(row, (air, moist, rain), where, table.decimal_comma, pressure_pa)

    weather = [HourWeather(*hour, *read) for hour, read in _lines_of(table, reader, cells, told)]
    notes = [*table.notes, *_gaps(reader, list(range(24)), "weather", file)]
    notes += _weather_notes(weather, moist, air, file)
    history = History(weather=tuple(sorted(weather)))
    return Preview(history, shortened(table.problems, file), tuple(notes))


def _lines_of(
    table: CsvTable,
    reader: HourReader,
    cells: Callable[[CsvRow, str], Cells | InputProblem],
    told: Callable[[int], None],
) -> Iterator[tuple[Hour, Cells]]:
    """Hour and cells of every good line; the others are added to the table's problems."""
    for row in table.rows:
        if row.line % TOLD_EVERY == 0:
            told(row.line)
        read = cells(row, f"{reader.file}, line {row.line}")
        if isinstance(read, InputProblem):
            reader.mention(row)
            table.problems.append(read)
            continue
        hour = reader.read(row)
        if isinstance(hour, InputProblem):
            table.problems.append(hour)
        else:
            yield hour, read


def _gaps(reader: HourReader, hours: list[int], what: str, file: str) -> list[InputProblem]:
    """Notes on hours between the first and the last day of which the file says nothing."""
    notes: list[InputProblem] = []
    of_hours: dict[tuple[int, ...], list[date]] = {}
    days = reader.days
    for day in days:
        there = reader.hours_of(day)
        gone = tuple(h for h in hours if h not in there and reader.clock.times(day, h))
        if gone:
            of_hours.setdefault(gone, []).append(day)
    holes = sorted(of_hours.items(), key=lambda item: item[1])
    for gone, on in holes[:HOLES_NAMED]:
        sentence = "{day} has no {what} at {hours}. Missing is not zero: the hours are left out."
        if len(on) > 1:
            sentence = (
                "{count} days from {day} to {last} have no {what} at {hours}. Missing is not "
                "zero: the hours are left out."
            )
        shown = ", ".join(f"{h}:00" for h in gone)
        filling = {"day": str(on[0]), "what": what, "hours": shown, "last": str(on[-1])}
        notes.append(InputProblem("hour", sentence, {**filling, "count": f"{len(on):,}"}, file))
    if len(holes) > HOLES_NAMED:
        sentence = "Further days with hours without {what}: {days}."
        rest = sum(len(on) for _, on in holes[HOLES_NAMED:])
        notes.append(InputProblem("hour", sentence, {"days": f"{rest:,}", "what": what}, file))
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
        notes.append(InputProblem(air, sentence, {"count": f"{len(frost):,}", "low": low}, file))
    if moist == "humidity_pct" and weather and max(r.humidity for r in weather) <= 0.01:
        sentence = (
            "No humidity in the file is above 1 %. It looks like shares of 1; the column takes "
            "per cent, 65 and not 0.65."
        )
        notes.append(InputProblem(moist, sentence, {}, file))
    return notes


# ---- hours as files ------------------------------------------------------------------------------


def counts_csv(history: History, timezone: str, by_hour: bool = False) -> str:
    """The counts as a file that can be brought in again; `by_hour` as in `_hours_csv`."""
    cells = ((row.cars,) for row in history.counts)
    return _hours_csv((f"cars_{history.counted}",), history.counts, cells, timezone, by_hour)


def weather_csv(history: History, timezone: str, by_hour: bool = False) -> str:
    """The weather as a file that can be brought in again; by the hour with all of its digits."""
    heads = ("temp_c", "humidity_pct", "rain_mm")
    cells = (
        (_short(row.temp_c), _percent(row.humidity), _short(row.rain_mm))
        if by_hour
        else (float(row.temp_c), f"{100.0 * row.humidity:.10g}", float(row.rain_mm))
        for row in history.weather
    )
    return _hours_csv(heads, history.weather, cells, timezone, by_hour)


def _short(value: float) -> Written:
    return Written(repr(float(value)).removesuffix(".0"))


def _percent(share: float) -> str:
    # Shifting the decimal point keeps every digit; multiplying by 100 would not.
    return format(Decimal(repr(share)).scaleb(2).normalize(), "f")


def _hours_csv(
    heads: tuple[str, ...],
    rows: Sequence[HourCount] | Sequence[HourWeather],
    cells: Iterable[tuple[object, ...]],
    timezone: str,
    by_hour: bool,
) -> str:
    """Hours in order of time, each by its local time with the UTC offset, or by date and hour.

    Only where the second of two equal hours stands without the first is the order of lines not
    enough to tell them apart by date and hour; then every line has its local time.
    """
    hours: list[Hour] = [(row.day, row.hour, row.fold) for row in rows]
    clock, there = SiteClock(timezone), set(hours)
    by_hour &= not any(fold and (day, hour, 0) not in there for day, hour, fold in there)
    begun = ("date", "hour") if by_hour else ("start",)
    times = (hour[:2] if by_hour else (clock.offset_text(hour),) for hour in hours)
    lines = ((*time, *rest) for time, rest in zip(times, cells, strict=True))
    return csv_text((*begun, *heads), lines, "\n")

"""Columns and cells of an hourly file: what they must be, and what is said if they aren't."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache

from app.files.csv_table import Row, Table
from sim.errors import InputProblem, quoted
from sim.physics.wet_bulb import humidity_from_wet_bulb
from sim.units import UNITS, Quantity, quantity

MOST_CARS_PER_H = 5_000
COLDEST_C, HOTTEST_C = -60.0, 60.0
LEAST_HUMIDITY = 0.005
MOST_RAIN_MM = 400.0
_humidity = lru_cache(maxsize=20_000)(humidity_from_wet_bulb)
"""Thermometers are read to a tenth or a half of a degree, so most pairs come again and again."""
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")


def one_column(
    table: Table, names: tuple[str, ...], what: str, file: str, needed: bool = True
) -> str:
    """The one column of several that is there; empty, with a problem, if none or more are."""
    found = [name for name in names if name in table.columns]
    if len(found) == 1:
        return found[0]
    if found:
        sentence = "The columns {found} both give {what}. Keep one of them."
        filling = {"found": " and ".join(found), "what": what}
        table.problems.append(InputProblem("header", sentence, filling, file))
    elif needed and table.columns and not _broken(table):
        sentence = "No column gives {what}. Name one {names}."
        filling = {"names": " or ".join(names), "what": what}
        table.problems.append(InputProblem("header", sentence, filling, file))
    return ""


def _broken(table: Table) -> bool:
    """Whether the header is amiss already, so that a missing column is no news."""
    return any(p.field == "header" for p in table.problems)


def time_columns(table: Table, file: str) -> None:
    """Adds a problem unless the hour is given by date and hour or by start."""
    if not table.columns or _broken(table):
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


def cars_cell(row: Row, column: str, where: str, decimal_comma: bool) -> int | InputProblem:
    """A count of cars, or why it is none."""
    cell = row.cells[column]
    filling: dict[str, object] = {"field": column, "value": quoted(cell)}
    number = _read_number(cell, decimal_comma)
    if not cell:
        sentence = "{field} is empty. Leave the line out if nobody counted; write 0 if none came."
        return InputProblem(column, sentence, filling, where)
    if number is None:
        sentence = "{field} “{value}” is not a number. Enter a whole number of cars, as in 42."
        return InputProblem(column, sentence, filling, where)
    if number < 0:
        sentence = "{field} “{value}” is below zero. Enter 0 or more cars."
        return InputProblem(column, sentence, filling, where)
    if number > MOST_CARS_PER_H:
        sentence = (
            "{field} “{value}” is more than {limit} cars in one hour, which no line takes. Is it "
            "the count of a day? Enter 0 to {limit}."
        )
        filling["limit"] = f"{MOST_CARS_PER_H:,}"
        return InputProblem(column, sentence, filling, where)
    if number != int(number):
        sentence = "{field} “{value}” is not a whole number of cars. Enter 0, 1, 2 and so on."
        return InputProblem(column, sentence, filling, where)
    return int(number)


def air_cells(
    row: Row, columns: tuple[str, str, str], where: str, decimal_comma: bool, pressure_pa: float
) -> tuple[float, float, float] | InputProblem:
    """Temperature [°C], humidity 0 to 1 and rain [mm] of a line, or why it has none.

    `columns` names those of temperature, humidity or wet bulb, and rain (empty if there is none).
    """
    air, moist, rain = columns
    temp = _measure(row, air, where, decimal_comma, COLDEST_C, HOTTEST_C)
    if isinstance(temp, InputProblem):
        return temp
    low, high = (0.0, 1.0) if moist == "humidity_pct" else (COLDEST_C, HOTTEST_C)
    humidity = _measure(row, moist, where, decimal_comma, low, high)
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
    fallen = _measure(row, rain, where, decimal_comma, 0.0, MOST_RAIN_MM)
    return fallen if isinstance(fallen, InputProblem) else (temp, humidity, fallen)


_KINDS = {
    "temp_c": ("temperature", "si"),
    "temp_f": ("temperature", "us"),
    "humidity_pct": ("share", "si"),
    "wet_bulb_c": ("temperature", "si"),
    "wet_bulb_f": ("temperature", "us"),
    "rain_mm": ("rain", "si"),
    "rain_in": ("rain", "us"),
}


def _measure(
    row: Row, column: str, where: str, decimal_comma: bool, low: float, high: float
) -> float | InputProblem:
    """One cell in SI; what was written in °C, mm or per cent comes back to the last bit."""
    cell = row.cells[column]
    kind, system = _KINDS[column]
    unit = UNITS[kind]
    filling: dict[str, object] = {
        "field": column,
        "value": quoted(cell),
        "low": _plain(low, kind, system),
        "high": _plain(high, kind, system),
    }
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
        return InputProblem(column, sentence, filling, where)
    value = float(number.scaleb(-2)) if kind == "share" else unit.to_si(float(number), system)
    if not low <= value <= high or (kind == "share" and value == 0.0):
        sentence = "{field} “{value}” can't be. Enter {low} to {high}."
        if kind == "share":
            sentence = "{field} “{value}” can't be. Enter more than {low}, up to {high}."
        return InputProblem(column, sentence, filling, where)
    return value


def _plain(value: float, kind: str, system: str) -> str:
    return Quantity(value, UNITS[kind]).show(system)

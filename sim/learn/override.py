"""One typed line that overrides what a day is expected to bring, such as ``91 °F, 70 %, rain``."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sim.errors import InputError, InputProblem
from sim.units import MINUS, NBSP, UNITS, Quantity, check_length, parse_quantity, quantity

LOWEST_C, HIGHEST_C = -30.0, 55.0
LEAST_CHANGE, MOST_CHANGE = -1.0, 3.0
MOST_RAIN_MM = 500.0
LONGEST_LINE = 200
"""Characters of the line."""
RAIN_MM = 5.0
"""Rain of a day for which only the word was typed [mm]; guess."""

PARTS = ("highest_temp_c", "humidity", "rain_mm", "event")


@dataclass(frozen=True, slots=True)
class Override:
    """What was typed over the expected day; None where nothing was.

    Attributes:
        highest_temp_c: highest temperature of the day [°C].
        humidity: relative humidity in the hour of the highest temperature, above 0 to 1.
        rain_mm: rain of the day [mm]; 0 for a day said to be dry.
        event: change of the number of cars as a share, -1 to 3; 0.1 is a tenth more.
    """

    highest_temp_c: float | None = None
    humidity: float | None = None
    rain_mm: float | None = None
    event: float | None = None


NO_OVERRIDE = Override()
_RAIN = re.compile(r"rain\b", re.IGNORECASE)
_DRY = re.compile(r"dry|no\s+rain", re.IGNORECASE)
_EVENT_WORD = re.compile(r"(?:event|cars)\b\s*", re.IGNORECASE)


def parse_override(text: str, system: str = "si") -> Override:
    """What one typed line says of a day.

    The line holds up to four parts in any order, parted by commas or semicolons; an empty line
    overrides nothing. Decimals are written with a point.

    - highest temperature of the day: ``91 °F``, ``33 C``, or a bare number in the units of
      `system`; -30 to 55 °C;
    - relative humidity at that hour: a percentage without a sign, ``70 %``; 1 to 100;
    - rain: ``rain`` (counts as 5 mm), ``rain 8 mm``, ``rain 0.3 in``, ``dry`` or ``no rain``;
    - more or fewer cars: a percentage with its sign, ``+10 %`` or ``-25 %``, also
      ``event +10 %``; -100 to +300.

    Raises:
        InputError: with every problem of the line, each naming the part and what would be right.
    """
    try:
        check_length(text, LONGEST_LINE)
    except ValueError as fault:
        sentence = "The expected day: {fault}. Write it as in 91 °F, 70 %, rain, +10 %."
        raise InputError([InputProblem("expect", sentence, {"fault": str(fault)})]) from None
    line = text.replace(NBSP, " ").replace(MINUS, "-")
    if re.search(r"\d,\d", line):
        sentence = (
            "“{typed}” has a comma inside a number. Write decimals with a point and a space "
            "after the comma between parts, as in 33.5 °C, 70 %."
        )
        raise InputError([InputProblem("expect", sentence, {"typed": text.strip()})])
    found: dict[str, float] = {}
    problems: list[InputProblem] = []
    for part in (p.strip() for p in re.split(r"[,;]", line)):
        if not part:
            continue
        read = _read_part(part, system)
        if isinstance(read, InputProblem):
            problems.append(read)
        elif read[0] in found:
            sentence = "“{typed}” gives {what} a second time. Give it once."
            what = _WHAT[read[0]]
            problems.append(InputProblem("expect", sentence, {"typed": part, "what": what}))
        else:
            found[read[0]] = read[1]
    if problems:
        raise InputError(problems)
    return Override(**found)


def air_line(found: Override, system: str) -> str:
    """The temperature and humidity of an override as a line that says them in their units.

    `parse_override` reads the same air from it whatever the units of its reader; empty where
    neither was typed.
    """
    parts = []
    if found.highest_temp_c is not None:
        unit = UNITS["temperature"]
        degrees = f"{unit.to_edge(found.highest_temp_c, system):.6g}"
        parts.append(f"{degrees} {unit.symbol(system)}")
    if found.humidity is not None:
        parts.append(f"{100.0 * found.humidity:.6g} %")
    return ", ".join(parts)


_WHAT = {
    "highest_temp_c": "the highest temperature",
    "humidity": "the humidity",
    "rain_mm": "the rain",
    "event": "the change of cars",
}


def _read_part(part: str, system: str) -> tuple[str, float] | InputProblem:
    if _DRY.fullmatch(part):
        return "rain_mm", 0.0
    rain = _RAIN.match(part)
    if rain:
        amount = part[rain.end() :].strip()
        return _number("rain_mm", part, amount, "rain", system) if amount else ("rain_mm", RAIN_MM)
    word = _EVENT_WORD.match(part)
    rest = part[word.end() :] if word else part
    if rest.endswith("%"):
        name = "event" if word or rest[0] in "+-" else "humidity"
        return _number(name, part, rest, "share", system)
    if word or rest[0] == "+":
        sentence = "“{typed}” is no change of cars. Write it as +10 % or -25 %."
        return InputProblem("expect", sentence, {"typed": part})
    return _number("highest_temp_c", part, _with_degrees(rest), "temperature", system)


def _with_degrees(text: str) -> str:
    """The text with a degree sign before a C or F at its end."""
    if text[-1:].lower() not in ("c", "f"):
        return text
    return f"{text[:-1].rstrip().removesuffix('°')}°{text[-1]}"


_BOUNDS: dict[str, tuple[str, float, float, str]] = {
    "highest_temp_c": ("temperature", LOWEST_C, HIGHEST_C, "The highest temperature"),
    "humidity": ("share", 0.01, 1.0, "The humidity"),
    "rain_mm": ("rain", 0.0, MOST_RAIN_MM, "The rain"),
    "event": ("share", LEAST_CHANGE, MOST_CHANGE, "The change of cars"),
}


def _number(
    name: str, part: str, digits: str, kind: str, system: str
) -> tuple[str, float] | InputProblem:
    kind_of, low, high, what = _BOUNDS[name]
    try:
        value = parse_quantity(digits, UNITS[kind], system)
    except ValueError as fault:
        sentence = (
            "“{typed}” was not understood: {fault}. Write the day as in 91 °F, 70 %, rain, +10 %; "
            "every part may be left out."
        )
        return InputProblem("expect", sentence, {"typed": part, "fault": str(fault)})
    # A hair of slack: what was typed in °F or per cent is not exact after conversion.
    if not low - 1e-9 <= value <= high + 1e-9:
        sentence = "{what} {value} is outside what can be used. Enter {low} to {high}."
        values: dict[str, str | Quantity] = {
            "what": what,
            "value": quantity(value, kind_of, 4),
            "low": quantity(low, kind_of),
            "high": quantity(high, kind_of),
        }
        return InputProblem("expect", sentence, values)
    return name, min(max(value, low), high)

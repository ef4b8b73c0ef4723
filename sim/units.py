"""Every conversion factor of the project. Inside, everything is SI; here are the edges.

A `Unit` names a kind of quantity and says how its stored SI value is shown to a reader of SI and
to a reader of US units: shown = stored · factor + offset. Temperatures are stored in °C.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date

SYSTEMS = ("si", "us")
BY_NAME = "by name"
"""In place of a system where a value stands beside its name and no unit is shown: a bare number is
in the unit that the name ends with (``patience_median_s``: s), a share without one from 0 to 1."""

FOOT_M = 0.3048  # exact, international foot
INCH_M = 0.0254  # exact
POUND_KG = 0.45359237  # exact
OUNCE_KG = POUND_KG / 16.0
MIL_KG_M2 = INCH_M  # a mil of water, 25.4 µm at 1000 kg/m³, is 0.0254 kg/m²
TABLESPOON_KG = 0.015  # of water: 15 ml on US labels, 21 CFR 101.9(b)(5)(viii), from memory
IN_HG_PA = 3386.389  # conventional inch of mercury at 0 °C
BTU_H_FT2_F_W_M2K = 5.678263  # W/m²K in one Btu/(h·ft²·°F)

NBSP = "\u00a0"
MINUS = "\u2212"


@dataclass(frozen=True, slots=True)
class Edge:
    """How one system shows a kind of quantity: shown = stored · factor + offset."""

    symbol: str
    factor: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Unit:
    """A kind of quantity with its two edges.

    Attributes:
        kind: name of the kind, unique in `UNITS`.
        si: edge for a reader of SI.
        us: edge for a reader of US units.
        other: further symbols that may be typed, such as m/min for a speed.
    """

    kind: str
    si: Edge
    us: Edge
    other: tuple[Edge, ...] = ()

    def edge(self, system: str) -> Edge:
        """The edge of `system`; raises ValueError for anything but those and `BY_NAME`."""
        if system == BY_NAME:
            return _BARE
        if system not in SYSTEMS:
            raise ValueError(f"unit system must be one of {SYSTEMS}, not {system!r}")
        return self.us if system == "us" else self.si

    def to_edge(self, stored: float, system: str) -> float:
        """The stored SI value as the reader of `system` sees it."""
        edge = self.edge(system)
        return stored * edge.factor + edge.offset

    def to_si(self, shown: float, system: str) -> float:
        """What a reader of `system` typed, as stored SI value."""
        edge = self.edge(system)
        return (shown - edge.offset) / edge.factor

    def symbol(self, system: str) -> str:
        """The unit's symbol in `system`; empty for plain numbers."""
        return self.edge(system).symbol


_BARE = Edge("")
_SECOND, _MINUTE, _HOUR = Edge("s"), Edge("min", 1.0 / 60.0), Edge("h", 1.0 / 3600.0)


def _same(kind: str, symbol: str, factor: float = 1.0, *other: Edge) -> Unit:
    return Unit(kind, Edge(symbol, factor), Edge(symbol, factor), other)


_ALL = (
    Unit("speed", Edge("m/s"), Edge("ft/min", 60.0 / FOOT_M), (Edge("m/min", 60.0),)),
    Unit("length", Edge("m"), Edge("ft", 1.0 / FOOT_M), (Edge("in", 1.0 / INCH_M),)),
    Unit("short_length", Edge("m"), Edge("in", 1.0 / INCH_M), (Edge("ft", 1.0 / FOOT_M),)),
    Unit("area", Edge("m²"), Edge("ft²", 1.0 / FOOT_M**2)),
    Unit("film", Edge("g/m²", 1000.0), Edge("mil", 1.0 / MIL_KG_M2), (Edge("kg/m²"),)),
    Unit("mass", Edge("kg"), Edge("lb", 1.0 / POUND_KG), (Edge("g", 1000.0),)),
    Unit(
        "small_mass",
        Edge("g", 1000.0),
        Edge("oz", 1.0 / OUNCE_KG),
        (Edge("kg"), Edge("lb", 1.0 / POUND_KG)),
    ),
    Unit("moisture", Edge("kg/kg"), Edge("lb/lb")),
    Unit("rotation", Edge("rev/min", 60.0), Edge("rev/min", 60.0), (Edge("rev/s"),)),
    Unit(
        "pressure",
        Edge("hPa", 0.01),
        Edge("inHg", 1.0 / IN_HG_PA),
        (Edge("Pa"), Edge("kPa", 0.001)),
    ),
    Unit("heat_transfer", Edge("W/m²K"), Edge("Btu/h·ft²·°F", 1.0 / BTU_H_FT2_F_W_M2K)),
    Unit("temperature", Edge("°C"), Edge("°F", 1.8, 32.0)),
    Unit("temperature_difference", Edge("K"), Edge("°F", 1.8)),
    Unit("rain", Edge("mm"), Edge("in", 1.0 / 25.4)),
    _same("share", "%", 100.0),
    Unit("seconds_per_area", Edge("s/m²"), Edge("s/ft²", FOOT_M**2)),
    Unit("seconds_per_mass", Edge("s/kg"), Edge("s/lb", POUND_KG), (Edge("s/g", 0.001),)),
    _same("seconds", "s", 1.0, _MINUTE, _HOUR),
    _same("minutes_from_s", "min", 1.0 / 60.0, _SECOND, _HOUR),
    _same("minutes", "min", 1.0, Edge("s", 60.0), Edge("h", 1.0 / 60.0)),
    _same("hours", "h", 1.0, Edge("min", 60.0)),
    _same("days", "days", 1.0, Edge("h", 24.0)),
    _same("clock_h", "o’clock", 1.0, Edge("h")),
    _same("per_hour", "per h"),
    _same("per_thousand_cars", "per 1,000 cars", 1000.0),
    _same("cars", "cars"),
    _same("cars_per_hour", "cars/h"),
    _same("lanes", "lanes"),
    _same("people", "people"),
    _same("strips", "strips"),
    _same("sets", "sets"),
    _same("power", "W"),
    _same("money", "$"),
    _same("money_per_hour", "$/h"),
    _same("factor", "×"),
    _same("number", ""),
)
UNITS: dict[str, Unit] = {unit.kind: unit for unit in _ALL}

FINEST: dict[str, float] = {
    "cars": 1.0,
    "cars_per_hour": 1.0,
    "money": 1.0,
    "money_per_hour": 1.0,
    "share": 0.1,
    "minutes_from_s": 0.1,
    "minutes": 1.0,
    "seconds": 1.0,
    "people": 0.1,
    "number": 0.1,
    "mass": 0.1,
}
"""Smallest step worth printing of a kind of unit, as shown (a share in %, a wait in minutes)."""
FINEST_ELSE = 0.1
"""The same for a kind that is not named."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A stored value with its unit, ready to be shown in either system.

    Attributes:
        limit: ``least`` or ``most`` where the value bounds what may be entered. It is then rounded
            inwards if need be, so that whoever enters what is shown is not refused.
    """

    value: float
    unit: Unit
    digits: int = 3
    limit: str = ""

    def show(self, system: str = "si") -> str:
        """Value and symbol, such as ``95 ft/min``; see `format_number`."""
        shown = self.unit.to_edge(self.value, system)
        text = format_number(shown, self.digits)
        if self.limit and math.isfinite(shown):
            back = self.unit.to_si(float(text.replace(",", "").replace(MINUS, "-")), system)
            if (back - self.value) * (1 if self.limit == "least" else -1) < 0:
                step = 10.0 ** -_decimals(shown, self.digits)
                inwards = math.ceil if self.limit == "least" else math.floor
                text = format_number(inwards(shown / step) * step, self.digits)
        symbol = self.unit.symbol(system)
        return f"{text}{NBSP}{symbol}" if symbol else text


def quantity(value: float, kind: str, digits: int = 3, limit: str = "") -> Quantity:
    """A `Quantity` by the name of its kind; raises KeyError for an unknown kind."""
    return Quantity(float(value), UNITS[kind], digits, limit)


def _decimals(value: float, digits: int) -> int:
    return max(0, digits - 1 - math.floor(math.log10(abs(value)) + 1e-12))


def format_number(value: float, digits: int = 3) -> str:
    """A number with `digits` significant digits but never fewer than its whole part has.

    Thousands are set apart by commas, the minus is U+2212, trailing zeros are dropped.
    """
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "∞" if value > 0 else MINUS + "∞"
    if value == 0:
        return "0"
    text = f"{value:,.{_decimals(value, digits)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text.strip("-0.,") == "":
        return "0"
    return text.replace("-", MINUS)


LONGEST_QUANTITY = 80
"""Characters of one typed number with its unit; a longer text is refused unread."""
# No two parts of a pattern can take the same character, so no text is read more than once.
_NUMBER = re.compile(r"([+\-\u2212]?)\s*((?:\d[\d,]*(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)")


def parse_quantity(text: str, unit: Unit, system: str) -> float:
    """The stored SI value of a typed text such as ``95``, ``95 ft/min`` or ``12 %``.

    A bare number is read in the unit of `system`, or as stored for `BY_NAME`; a symbol of either
    system or of `unit.other` overrides that. Commas may only separate thousands. An hour of the
    clock may be written ``15:30`` as well.

    Raises:
        ValueError: with a sentence that says what was wrong, for anything else.
    """
    if unit.kind == "clock_h" and ":" in text:
        return parse_clock(text) / 3600.0
    number, symbol = split_quantity(text)
    if not symbol:
        return unit.to_si(number, system)
    return read_edge(unit, symbol, system, number)


def split_quantity(text: str) -> tuple[float, str]:
    """The number of a typed text and the symbol behind it, empty for none.

    Raises:
        ValueError: with a sentence that says what was wrong, for a text that is no number.
    """
    check_length(text, LONGEST_QUANTITY)
    typed = text.replace(NBSP, " ").strip()
    match = _NUMBER.match(typed)
    if not match:
        raise ValueError(f"“{typed}” is not a number")
    sign, digits = match.group(1).replace("\u2212", "-"), match.group(2)
    whole = digits.split(".")[0]
    if "," in whole and not re.fullmatch(r"\d{1,3}(,\d{3})+", whole):
        raise ValueError(f"“{typed}” has a comma: write decimals with a point, as in 3.5")
    number = float(sign + digits.replace(",", ""))
    if not math.isfinite(number):
        raise ValueError(f"“{typed}” is too large a number")
    return number, typed[match.end() :].strip()


def read_edge(unit: Unit, symbol: str, system: str, number: float) -> float:
    """The stored SI value of a number with a typed symbol; raises ValueError for an unknown one."""
    for edge in (unit.edge(system), unit.si, unit.us, *unit.other):
        if edge.symbol and symbol.lower() == edge.symbol.lower():
            return (number - edge.offset) / edge.factor
    known = sorted({e.symbol for e in (unit.si, unit.us, *unit.other) if e.symbol})
    allowed = " or ".join(known) if known else "no unit"
    raise ValueError(f"“{symbol}” is not a unit of this field; use {allowed}")


def check_length(text: str, most: int) -> None:
    """Raises ValueError, with a sentence, for a text of more than `most` characters.

    Whatever reads what somebody typed asks this first: nothing that is read takes long then.
    """
    if len(text) > most:
        head = " ".join(text[:40].split())
        raise ValueError(f"“{head}…” has {len(text):,} characters; at most {most:,} can be read")


FIRST_YEAR, LAST_YEAR = 1900, 2100
"""Years of days that may be told: what looks back and ahead from them stays within the calendar."""


def parse_day(text: str) -> date:
    """A day as 2026-07-18.

    Raises:
        ValueError: with a sentence, for what is no day or in no year of ours.
    """
    check_length(text, LONGEST_QUANTITY)
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"“{text}” is not a date; write it as 2026-07-18") from None
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise ValueError(f"“{text}” is not in the years {FIRST_YEAR} to {LAST_YEAR}")
    return found


LARGEST_WHOLE = 2**63 - 1
"""The largest typed whole number, which is the largest that a database keeps."""


def whole_number(text: str) -> int | None:
    """The whole number, 0 or more, that a text writes in digits alone; None for anything else."""
    typed = text.strip()
    if not typed.isascii() or not typed.isdigit() or len(typed) > len(str(LARGEST_WHOLE)):
        return None
    number = int(typed)
    return number if number <= LARGEST_WHOLE else None


_CLOCK = re.compile(r"(\d{1,2})(?::(\d{2}))?")


def parse_clock(text: str) -> float:
    """Seconds after midnight of a clock time such as ``7``, ``11:50`` or ``24:00``.

    Raises:
        ValueError: if the text is not a time from 0:00 to 24:00.
    """
    check_length(text, LONGEST_QUANTITY)
    match = _CLOCK.fullmatch(text.strip())
    if match:
        hours, minutes = int(match.group(1)), int(match.group(2) or 0)
        if minutes < 60 and hours * 60 + minutes <= 24 * 60:
            return hours * 3600.0 + minutes * 60.0
    raise ValueError(f"“{text.strip()}” is not a time of day; write it as 11:50, up to 24:00")


def show_clock(seconds: float) -> str:
    """Seconds after midnight as a clock time to the minute, such as ``11:50``."""
    minutes = round(seconds / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d}"

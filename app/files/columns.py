"""Columns of somebody's table: what their cells hold, what their headings say, where they begin."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import pairwise
from statistics import median

from app.files.stamps import Clock, Stamp, clock, decimal_mark, number, plain, stamp
from app.files.text_table import TextTable
from sim.errors import Sentence, quoted

MOSTLY = 0.8
"""Share of its cells that makes a column one of dates, times or numbers: the rest is told."""
LEAST = 0.3
"""The same where its heading says so too."""
MOST_PARTS = 20
"""Tills or lanes of a file at most."""
MOST_FILLED = 5_000
"""No line takes more cars in an hour; a day has 24."""

COUNT_WORDS = (
    "car", "vehicle", "count", "wash", "transaction", "ticket", "traffic", "entries", "arriv",
    "qty", "quantit", "number of", "no. of", "fahrzeug", "auto", "anzahl", "menge", "stuck",
    "voiture", "vehicule", "nombre", "lavage", "passage", "coche", "vehiculo", "cantidad", "lavad",
    "carro", "quantidade", "veicol", "macchin", "lavagg", "numero", "aantal", "voertuig", "wasch",
    "wasbeurt", "antal", "bilar", "biler", "ilosc", "pojazd",
)  # fmt: skip
MONEY_WORDS = (
    "amount", "revenue", "sales", "price", "gross", "net", "tax", "tip", "paid", "cash", "betrag",
    "umsatz", "preis", "montant", "prix", "recette", "chiffre", "importe", "precio", "ventas",
    "ingreso", "importo", "prezzo", "incasso", "ricav", "bedrag", "omzet", "prijs", "valor",
    "receita", "faturamento", "kwota", "usd", "eur",
)  # fmt: skip
TILL_WORDS = (
    "till", "lane", "register", "terminal", "device", "kiosk", "kasse", "spur", "caisse", "voie",
    "caja", "carril", "cassa", "corsia", "kassa", "baan", "pos", "caixa",
)  # fmt: skip
SITE_WORDS = (
    "site", "location", "store", "branch", "standort", "filiale", "magasin", "tienda", "sucursal",
    "sede", "negozio", "vestiging", "loja", "filial",
)  # fmt: skip
HOUR_WORDS = ("hour", "time", "stunde", "uhr", "zeit", "heure", "hora", "ora", "uur", "tijd", "tid")
END_WORDS = ("ending", "until", "end", "bis", "ende", "fin", "hasta", "fine")
ARRIVED_WORDS = ("arriv", "ankunft", "ankunfte", "llegad", "chegad", "ankomst", "aankomst")
TOTAL_WORDS = (
    "total", "totals", "sum", "summe", "gesamt", "totaal", "totale", "somme", "suma", "subtotal",
    "zwischensumme", "all", "alle", "grand total", "average", "mean", "mittel", "moyenne",
)  # fmt: skip


@dataclass(frozen=True)
class Column:
    """A column of the lines with counts: its place, name and cells."""

    place: int
    name: str
    cells: list[str]

    @cached_property
    def filled(self) -> list[str]:
        """Cells with something in them."""
        return [cell for cell in self.cells if cell]

    @cached_property
    def kinds(self) -> Counter[str]:
        """Its different cells, and how often each is there."""
        return Counter(self.filled)

    def share(self, holds: Iterable[bool]) -> float:
        """Share of filled cells of which something holds, told of each of `kinds` in turn."""
        times = sum(n for n, one in zip(self.kinds.values(), holds, strict=True) if one)
        return times / len(self.filled) if self.filled else 0.0

    @cached_property
    def stamps(self) -> float:
        """Share of dates."""
        return self.share(stamp(cell) is not None for cell in self.kinds)

    @cached_property
    def has_times(self) -> bool:
        """Whether its dates have times of day that are not all midnight."""
        found = (stamp(cell) for cell in self.kinds)
        return any(s and s.clock and (s.clock.minute or s.clock.second) for s in found)

    @cached_property
    def clocks(self) -> float:
        """Share of times of day."""
        return self.share(clock(cell) is not None for cell in self.kinds)

    @cached_property
    def is_bare(self) -> bool:
        """Whether its times of day are numbers alone."""
        return all(c is None or c.is_bare for c in map(clock, self.kinds))

    @cached_property
    def comma(self) -> bool:
        """Whether its numbers have a decimal comma. A mark before three digits parts thousands,
        unless these are always zeros."""
        mark = decimal_mark(self.filled)
        if mark:
            return mark == ","
        groups = [cell for cell in self.kinds if "," in cell or "." in cell]
        marks = {c for cell in groups for c in cell if c in ",."}
        zeros = all(cell.replace(",", ".").endswith(".000") for cell in groups)
        return marks == ({","} if zeros else {"."})

    @cached_property
    def numbers(self) -> float:
        """Share of numbers."""
        return self.share(number(cell, self.comma) is not None for cell in self.kinds)

    @cached_property
    def wholes(self) -> list[int | None]:
        """Each cell as a whole number; None for anything else."""
        of = {cell: whole_of(cell, self.comma) for cell in self.kinds}
        return [of.get(cell) for cell in self.cells]

    @cached_property
    def whole(self) -> float:
        """Share of whole numbers."""
        known = sum(value is not None for value in self.wholes)
        return known / len(self.filled) if self.filled else 0.0

    def says(self, words: Iterable[str]) -> bool:
        """Whether a word of its name begins with one of some words."""
        name = " " + plain(self.name).replace("_", " ").replace("-", " ").replace("/", " ")
        return any(f" {word}" in name for word in words)


def whole_of(cell: str, comma: bool) -> int | None:
    value = number(cell, comma)
    return int(value) if value is not None and value == int(value) else None


# ---- where the table begins ----------------------------------------------------------------------


def first_line(table: TextTable) -> tuple[int, list[str], bool]:
    """The place of the first line with counts, the headings, and whether these are days."""
    rows = [cells for _, cells in table.rows[:60]]
    dated = [[stamp(cell) is not None for cell in cells] for cells in rows]
    for at, cells in enumerate(rows[:-1]):
        is_hour = any(clock(cell) for cell in rows[at + 1][:2])
        if (
            sum(dated[at]) >= max(2, sum(map(bool, cells)) - 3)
            and is_hour
            and not any(dated[at + 1])
        ):
            return at + 1, cells, True
    usual = Counter(sum(map(bool, cells)) for cells in rows).most_common(1)[0][0]
    for at, cells in enumerate(rows):
        if 2 * sum(map(bool, cells)) < usual:
            continue
        below = dated[at + 1 :]
        places = [p for p, is_date in enumerate(dated[at]) if is_date]
        if any(not below or any(p < len(row) and row[p] for row in below) for p in places):
            heads = rows[at - 1] if at else []
            return at, heads if sum(map(bool, heads)) >= min(2, usual) else [], False
    return min(1, len(rows) - 1), rows[0] if len(rows) > 1 else [], False


def names_of(heads: Sequence[str], width: int) -> tuple[str, ...]:
    """A name for every column, each once."""
    names: list[str] = []
    for at in range(width):
        name = heads[at] if at < len(heads) else ""
        name = name or f"column {at + 1}"
        names.append(f"{name} ({at + 1})" if name in names else name)
    return tuple(names)


def hours_across(
    heads: Sequence[str], columns: Sequence[Column], day: Column
) -> tuple[tuple[int, int], ...]:
    """Columns whose headings are hours, with the minute at which each begins; none for none."""
    found = [
        (at, time)
        for at, head in enumerate(heads)
        if at != day.place and (time := clock(head))
        and (columns[at].numbers >= MOSTLY or not columns[at].filled)
    ]  # fmt: skip
    minutes = [time.minute for _, time in found]
    steps = [b - a for a, b in pairwise(minutes)]
    if len(found) < 3 or (all(t.is_bare for _, t in found) and len(found) < 6):
        return ()
    if any(step == -660 for step in steps) and max(minutes) <= 720:  # from 12 to 1
        turn = steps.index(-660)
        minutes = [m + 720 * (at > turn) for at, m in enumerate(minutes)]
    if 1440 in minutes and 0 not in minutes:
        minutes = [m - 60 for m in minutes]
    is_hourly = all(b > a and (b - a) % 5 == 0 for a, b in pairwise(minutes))
    return tuple((at, m) for (at, _), m in zip(found, minutes, strict=True)) if is_hourly else ()


# ---- what cells hold -----------------------------------------------------------------------------


def example(column: Column) -> Sentence:
    cells = ", ".join(quoted(cell, 20) for cell in list(column.kinds)[:3])
    return Sentence("“{name}”, as in {cells}", {"name": quoted(column.name), "cells": cells})


def other_order(order: str) -> str:
    return "dmy" if order == "mdy" else "mdy"


def day_step(days: Sequence[date | None]) -> float:
    """The middle of the steps between days [days]; 0 where there are too few."""
    there = sorted({day for day in days if day})
    return median((b - a).days for a, b in pairwise(there)) if len(there) > 2 else 0.0


def is_plain_step(steps: dict[str, float]) -> bool:
    """Whether days follow one another in one order and lie a month apart in the other."""
    return 0.0 < min(steps.values()) <= 7.0 and max(steps.values()) >= 14.0


def clocks_of(day: Column, time: Column | None) -> list[Clock | None]:
    """The time of day of each line."""
    if time is not None:
        return [clock(cell) for cell in time.cells]
    found: list[Stamp | None] = [stamp(cell) for cell in day.cells]
    return [one.clock if one else None for one in found]


def bin_of(clocks: Iterable[Clock | None]) -> int:
    """Minutes of a line: the largest part of an hour at which nearly all lines begin, or 1."""
    seconds = Counter(60 * c.minute + c.second for c in clocks if c)
    lines = sum(seconds.values())
    for minutes in (60, 30, 20, 15, 10, 5):
        if sum(n for at, n in seconds.items() if at % (60 * minutes) == 0) >= 0.95 * lines:
            return minutes
    return 1


def forward(cells: Iterable[str]) -> list[str]:
    """Cells in which an empty one means the one above."""
    filled, last = [], ""
    for cell in cells:
        last = cell or last
        filled.append(last)
    return filled


def turns_over(days: Sequence[str], clocks: Sequence[Clock | None]) -> bool:
    """Whether the hours of days go from 1 to 12 and begin again at noon, without AM and PM."""
    of_day: dict[str, list[int]] = {}
    for day, time in zip(forward(days), clocks, strict=True):
        if time is not None:
            of_day.setdefault(day, []).append(time.minute)
    if any(not 60 <= m < 780 for minutes in of_day.values() for m in minutes):
        return False
    falls = [sum(b < a for a, b in pairwise(minutes)) for minutes in of_day.values()]
    again = [max(minutes) - min(minutes) < 720 for minutes in of_day.values()]
    return bool(falls) and max(falls) == 1 and 2 * sum(falls) >= len(falls) and all(again)


def runs(days: Sequence[str], wholes: Sequence[int | None]) -> float:
    """Share of lines in which a whole number goes on by one from the line of the same day above."""
    steps = [
        0 if a is None or b is None or not 0 <= b <= 24 else b - a
        for (day, a), (other, b) in pairwise(zip(forward(days), wholes, strict=True))
        if day == other
    ]
    moved = sum(step in (1, -1, -11, 11) for step in steps)
    return moved / len(steps) if 2 * moved > len(steps) else 0.0


def is_calendar(column: Column, day: Column, order: str) -> bool:
    """Whether a column only says once more what day it is, or is the same all day long."""
    found = [
        (one.on(order), value)
        for cell, value in zip(forward(day.cells), column.wholes, strict=True)
        if value is not None and (one := stamp(cell)) is not None
    ]
    dated = [(date_, value) for date_, value in found if date_ is not None]
    if len(dated) < 3 or len(column.kinds) < 2:
        return False
    parts = (
        [d.year for d, _ in dated], [d.month for d, _ in dated], [d.day for d, _ in dated],
        [d.isocalendar().week for d, _ in dated], [d.isoweekday() for d, _ in dated],
        [d.weekday() for d, _ in dated], [d.isoweekday() % 7 + 1 for d, _ in dated],
    )  # fmt: skip
    values = [value for _, value in dated]
    of_day = dict(dated)
    is_daily = len(of_day) < len(dated) / 3 and all(of_day[d] == v for d, v in dated)
    return values in parts or is_daily


def is_running(column: Column) -> bool:
    """Whether a column numbers its lines, as receipts do."""
    values = [value for value in column.wholes if value is not None]
    up = sum(b > a for a, b in pairwise(values))
    down = sum(b < a for a, b in pairwise(values))
    is_ordered = len(values) > 8 and max(up, down) >= 0.95 * (len(values) - 1)
    return is_ordered or (bool(values) and median(values) > 24 * MOST_FILLED)


def largest(column: Column) -> int:
    return max((value for value in column.wholes if value is not None), default=0)


def sum_of_others(columns: Sequence[Column]) -> Column | None:
    """The column that is the sum of the others; None for none."""
    if len(columns) < 3:
        return None
    rows = list(zip(*(column.wholes for column in columns), strict=True))
    rows = [row for row in rows if None not in row]
    for at, column in enumerate(columns):
        fits = sum(2 * row[at] == sum(row) for row in rows)
        if rows and fits >= 0.95 * len(rows):
            return column
    return None


def names_ends(column: Column) -> bool:
    """Whether hours are named by their end: 1 to 24, or a heading that says so."""
    times = [time.minute for cell in column.kinds if (time := clock(cell))]
    return (1440 in times and 0 not in times) or column.says(END_WORDS)


def has_comma(columns: Iterable[Column]) -> bool:
    return any(column.comma for column in columns)


def repeats(keys: Sequence[Column]) -> bool:
    """Whether several lines have the same cells in some columns."""
    seen = list(zip(*(column.cells for column in keys), strict=True))
    return len(set(seen)) < len(seen)

"""Belt stops and alarms from anybody's table: what its columns hold, and the entries of its lines.

What a column is follows from what its cells hold and, where that leaves several, from its heading;
whoever brings the file in sees the choice and may change it. It is kept for the next file with the
same headings, under a name that no table of counts has.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from statistics import median

from app.files.columns import Column, first_line, names_of
from app.files.csv_table import MOST_COLUMNS
from app.files.look import shape_key
from app.files.stamps import ORDERS, Stamp, clock, number, plain, stamp
from app.files.text_table import TextTable
from sim.errors import InputProblem, quoted
from sim.inputs import LOG, LogEntry
from sim.inputs.logbook import ALARM, DAY_S, STOP

SHAPE = "stops-"
"""How the names of these shapes of file begin."""
MOST_LINES = 5_000
"""Lines of one file: more than a year of a line that stops a dozen times a day."""
NONE = "="
"""Stands for no column, where a column may be chosen."""
MOSTLY, HALF = 0.8, 0.5
"""Share of its cells that makes a column one of dates or times; where none has as many, of dates
half: the other lines are named."""
LONGEST_CAUSE = 60
UNNAMED = "not named"
"""Cause of a line that names none."""
MINUTES, SECONDS = "minutes", "seconds"
LENGTHS = (MINUTES, SECONDS)
KINDS = (STOP, ALARM)
CAUSE_WORDS = (
    "cause", "reason", "alarm", "message", "description", "fault", "event", "text", "code",
    "grund", "ursache", "meldung", "storung", "stoerung", "cause", "motif", "raison", "defaut",
    "causa", "motivo", "mensaje", "fallo", "allarme", "guasto", "oorzaak", "reden", "storing",
)  # fmt: skip
LENGTH_WORDS = (
    "duration", "length", "lasted", "minutes", "min", "seconds", "sec", "downtime", "dauer",
    "dauern", "minuten", "sekunden", "duree", "duracion", "minutos", "durata", "duur",
)  # fmt: skip
SECOND_WORDS = ("sec", "sek", "seg", "secondi")
CLASS_WORDS = (
    "class", "vehicle", "car type", "body", "fahrzeug", "klasse", "vehicule", "vehiculo", "veicolo",
    "voertuig",
)  # fmt: skip
ALARM_WORDS = ("alarm", "alarme", "allarme", "fault", "message", "meldung", "mensaje")


@dataclass(frozen=True, slots=True)
class StopsSaid:
    """How the lines of a file are read: names of columns, `NONE` for none.

    Attributes:
        kind: one of `KINDS`, of every line.
        order: month or day first, as in `ORDERS`.
        date, time: of when it began; no column of the time where the date has it.
        cause: what stopped the belt, or which alarm it was.
        lasted: how long; unit: of a bare number there, one of `LENGTHS`.
        vehicle: class of the car.
    """

    kind: str = STOP
    order: str = "mdy"
    date: str = NONE
    time: str = NONE
    cause: str = NONE
    lasted: str = NONE
    unit: str = MINUTES
    vehicle: str = NONE


SAID = tuple(one.name for one in fields(StopsSaid))
COLUMNS = ("date", "time", "cause", "lasted", "vehicle")
"""Parts of `StopsSaid` that name a column."""


@dataclass(frozen=True, slots=True)
class StopsLook:
    """What a file would bring.

    Attributes:
        said: how it was read; is_kept: as an earlier file of its shape was.
        shape: names files of the same headings.
        names, sample: of its columns, and its first lines.
        entries: good lines in order of time.
        problems: every line that was left out, with its reason; or why nothing can be read.
    """

    said: StopsSaid
    is_kept: bool
    shape: str
    names: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    entries: tuple[LogEntry, ...]
    problems: tuple[InputProblem, ...]


def look_at_stops(
    table: TextTable,
    said: StopsSaid | None,
    kept: Callable[[str], StopsSaid | None],
    system: str,
    today: date,
    classes: Sequence[tuple[str, str]],
) -> StopsLook:
    """The entries of a table.

    Args:
        said: how somebody wants it read; None where nobody has said anything yet.
        kept: finds how an earlier file of a shape was read.
        system: of the site: month first where feet are read.
        today: what lies after it did not happen.
        classes: keys and labels of the site's classes of cars.
    """
    if not table.rows:
        told = tuple(table.problems) or (InputProblem("file", "This file has no lines."),)
        return StopsLook(said or StopsSaid(), False, "", (), (), (), told)
    first, heads, _is_down = first_line(table)
    rows = table.rows[first:]
    width = min(MOST_COLUMNS, max(len(cells) for cells in (heads, *(row for _, row in rows))))
    names = names_of(heads, width)
    shape = SHAPE + shape_key(heads or [f"{width}"])[:14]
    columns = [
        Column(at, name, [cells[at] if at < len(cells) else "" for _, cells in rows])
        for at, name in enumerate(names)
    ]
    earlier = kept(shape) if said is None else None
    if earlier is not None and not {asdict(earlier)[part] for part in COLUMNS} <= {NONE, *names}:
        earlier = None
    said = said or earlier or _guess(columns, system, today)
    sample = tuple(tuple(quoted(cell) for cell in cells[:8]) for _, cells in table.rows[:4])
    problems = list(table.problems)
    if len(rows) > MOST_LINES:
        sentence = "This file has {count} lines; {most} can be brought in at a time. Cut it up."
        filling = {"count": len(rows), "most": MOST_LINES}
        problems.append(InputProblem("file", sentence, filling))
        rows = []
    entries: list[LogEntry] = []
    if said.date == NONE or said.date not in names:
        sentence = "No column says when it was. Choose the one that holds the date."
        problems.append(InputProblem("date", sentence))
        rows = []
    reader = _Lines(said, columns, today, classes)
    for at, (line, cells) in enumerate(rows):
        found = reader.entry(at, cells)
        if isinstance(found, LogEntry):
            entries.append(found)
        else:
            problems.append(replace(found, where=f"{table.name}, line {line}"))
    ordered = tuple(sorted(entries, key=lambda one: one.place))
    return StopsLook(said, earlier is not None, shape, names, sample, ordered, tuple(problems))


# ---- what columns hold ---------------------------------------------------------------------------


def _guess(columns: Sequence[Column], system: str, today: date) -> StopsSaid:
    dated = [one for one in columns if one.stamps >= MOSTLY]
    dated = dated or [one for one in columns if one.stamps >= HALF]
    dated = [one for one in dated if one.has_times] or dated
    day = dated[0] if dated else None
    rest = [one for one in columns if one is not day and one.filled]
    time = None
    if day is not None and not day.has_times:
        times = [one for one in rest if one.clocks >= MOSTLY and not one.is_bare]
        time = times[0] if times else None
    rest = [one for one in rest if one is not time and one.stamps < MOSTLY]
    lengths = [one for one in rest if one.says(LENGTH_WORDS)]
    lasted = next((one for one in lengths if one.share(map(_is_length, one.kinds)) >= MOSTLY), None)
    texts = [one for one in rest if one is not lasted and one.numbers < MOSTLY]
    vehicle = next((one for one in texts if one.says(CLASS_WORDS)), None)
    texts = [one for one in texts if one is not vehicle]
    named = [one for one in texts if one.says(CAUSE_WORDS)]
    cause = max(named or texts, key=lambda one: len(one.filled), default=None)
    return StopsSaid(
        kind=ALARM if any(one.says(ALARM_WORDS) for one in columns) else STOP,
        order=_order(day, system, today),
        date=day.name if day else NONE,
        time=time.name if time else NONE,
        cause=cause.name if cause else NONE,
        lasted=lasted.name if lasted else NONE,
        unit=_unit(lasted),
        vehicle=vehicle.name if vehicle else NONE,
    )


def _order(day: Column | None, system: str, today: date) -> str:
    """The order in which most dates can be, and are past; else that of the site's country."""
    usual = "mdy" if system == "us" else "dmy"
    if day is None:
        return usual
    stamps = [one for one in map(stamp, day.kinds) if one is not None]

    def misfits(order: str) -> int:
        days = [one.on(order) for one in stamps]
        return sum(found is None or found > today for found in days)

    return min(ORDERS, key=lambda order: (misfits(order), order != usual))


def _unit(lasted: Column | None) -> str:
    """Seconds where the heading says so, or where few stops would last so many minutes."""
    if lasted is None:
        return MINUTES
    if lasted.says(SECOND_WORDS) or lasted.name.strip().endswith((" s", "(s)", "[s]")):
        return SECONDS
    if lasted.says(("min",)):
        return MINUTES
    values = [
        float(value) for value in (number(cell, lasted.comma) for cell in lasted.kinds) if value
    ]
    return SECONDS if values and median(values) > 30.0 else MINUTES


def _is_length(cell: str) -> bool:
    return length_s(cell, MINUTES, comma=False) is not None


def length_s(cell: str, unit: str, *, comma: bool) -> float | None:
    """Seconds of a cell such as 4, 4.5, 4:30 (minutes and seconds) or 0:04:30; None for none."""
    parts = cell.strip().split(":")
    if len(parts) in (2, 3) and all(part.isdecimal() and len(part) <= 4 for part in parts):
        hours, minutes, seconds = [0] * (3 - len(parts)) + [int(part) for part in parts]
        return 3600.0 * hours + 60.0 * minutes + seconds
    value = number(cell, comma)
    if value is None or value < 0:
        return None
    return float(value) * (60.0 if unit == MINUTES else 1.0)


# ---- lines ---------------------------------------------------------------------------------------


class _Lines:
    """Makes entries of lines; the same line makes the same entry, whatever file it stands in."""

    def __init__(
        self,
        said: StopsSaid,
        columns: Sequence[Column],
        today: date,
        classes: Sequence[tuple[str, str]],
    ) -> None:
        self._said, self._today = said, today
        self._of = {one.name: one for one in columns}
        self._classes = {plain(word): key for key, label in classes for word in (key, label)}
        self._seen: Counter[tuple[str, ...]] = Counter()

    def _cell(self, part: str, at: int) -> str:
        column = self._of.get(getattr(self._said, part))
        return "" if column is None else column.cells[at]

    def entry(self, at: int, cells: Sequence[str]) -> LogEntry | InputProblem:
        """The entry of a line, or why there is none."""
        when = self._when(at)
        if isinstance(when, InputProblem):
            return when
        day, second = when
        told = self._cell("lasted", at)
        lasted = None
        if told:
            column = self._of[self._said.lasted]
            lasted = length_s(told, self._said.unit, comma=column.comma)
            if lasted is None or lasted > DAY_S:
                sentence = "“{text}” is no length of time. Use 4, 4.5, 4:30 or 0:04:30."
                return InputProblem("lasted", sentence, {"text": quoted(told)})
        line = tuple(cells)
        self._seen[line] += 1
        named = " ".join(self._cell("cause", at).split())[:LONGEST_CAUSE].strip()
        vehicle = self._classes.get(plain(self._cell("vehicle", at)), "")
        made = LogEntry(
            key=_key(self._said.kind, line, self._seen[line]),
            day=day,
            at_s=60.0 * (second // 60),
            kind=self._said.kind,
            lasted_s=lasted or None,
            name=named or UNNAMED,
            vehicle=vehicle,
        )
        faults = LOG.problems_of(made)
        return faults[0] if faults else made

    def _when(self, at: int) -> tuple[date, int] | InputProblem:
        text = self._cell("date", at)
        found: Stamp | None = stamp(text)
        day = found.on(self._said.order) if found else None
        if found is None or day is None:
            sentence = "“{text}” is no date. Use one as in 2026-07-18 or 7/18/2026."
            return InputProblem("date", sentence, {"text": quoted(text)})
        if day > self._today:
            sentence = "{day} is still to come. Look at the order of month and day."
            return InputProblem("date", sentence, {"day": day})
        time = found.clock
        if self._said.time != NONE:
            text = self._cell("time", at)
            time = clock(text)
        if time is None or time.minute >= 1440:
            sentence = "“{text}” says no time of day. Use one as in 13:05."
            return InputProblem("time", sentence, {"text": quoted(text)})
        return day, 60 * time.minute + time.second


def _key(kind: str, line: Iterable[str], times: int) -> str:
    told = "\x1f".join((kind, *line, str(times)))
    return "f-" + hashlib.sha256(told.encode()).hexdigest()[:30]

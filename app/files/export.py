"""A file of counts as somebody's till or controller writes it: looked at, then read as it was
understood, with every line that was left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, timezone

from app.files.columns import TOTAL_WORDS
from app.files.csv_table import Problems, shortened
from app.files.hourly import (
    COUNT_COLUMNS,
    TIME_COLUMNS,
    TOLD_EVERY,
    HourReader,
    Preview,
    count_notes,
    read_counts,
)
from app.files.look import NOTHING_SAID, Reading, Said, look
from app.files.site_clock import Hour, SiteClock
from app.files.stamps import clock, half_of, number, plain, stamp
from app.files.text_table import TextTable, text_table
from sim.errors import InputProblem, quoted
from sim.inputs import DayNote, History, HourCount, Site
from sim.inputs.history import MOST_CARS_PER_H, TOTAL
from sim.learn.day_totals import UsualDays, usual_days

Bin = tuple[date, int, int, str]
"""Day, minute of the clock, fold, and the till or lane that was counted by itself."""


def read_export(
    raw: bytes,
    timezone: str,
    open_h: float,
    close_h: float,
    today: date,
    said: Said = NOTHING_SAID,
    kept: Callable[[str], Said | None] = lambda shape_key: None,
    usual: Callable[[], UsualDays] = lambda: usual_days(History(), Site("").line),
    file: str = "counts.csv",
    told: Callable[[int], None] = lambda line: None,
) -> Preview:
    """Hourly counts of any file that holds a table of them; nothing in it raises.

    A file with our own columns is read by `hourly.read_counts`, whose messages name them.

    Args:
        raw: the whole file.
        timezone: IANA name of the site's time zone.
        open_h, close_h: opening hours [h].
        today: days after it were not counted.
        said: what somebody said of the file.
        kept: finds what was decided of an earlier file of a shape, by its key.
        usual: tells how totals of days are spread over their hours.
        file: name for messages.
        told: called with the number of the line reached now and then; what it raises ends this.
    """
    if _is_ours(raw):
        return read_counts(raw, timezone, open_h, close_h, said.counted or None, file, told)
    table = text_table(raw, file)
    if not table.rows:
        if not table.problems:
            table.problems.append(InputProblem("file", "The file is empty.", {}, file))
        return Preview(History(), shortened(table.problems, file), tuple(table.notes))
    seen = look(table, said, today, kept)
    if seen.reading is None:
        problems = [*table.problems, *([seen.problem] if seen.problem else [])]
        return Preview(History(), shortened(problems, file), tuple(table.notes), seen)
    maker = _Counts(table, seen.reading, SiteClock(timezone), today)
    maker.read(told)
    if seen.reading.shape == "days":
        counts, marks, more = maker.days(usual())
    else:
        counts, marks = maker.hours(open_h, close_h), ()
        more = count_notes(maker.reader, counts, open_h, close_h)
    notes = [*table.notes, *maker.notes(), *more]
    history = History(seen.reading.counted, tuple(sorted(counts)), days=marks)
    return Preview(history, shortened(maker.problems, file), tuple(notes), seen)


def _is_ours(raw: bytes) -> bool:
    """Whether a file's first line names our own columns."""
    first = raw[:400].decode("utf-8-sig", "replace").lstrip().partition("\n")[0]
    for mark in ",;\t":
        names = {name.strip().strip('"').lower() for name in first.split(mark)} - {""}
        if names & set(COUNT_COLUMNS[:-1]) and names & set(TIME_COLUMNS):
            return names <= {*COUNT_COLUMNS, *TIME_COLUMNS, "note"}
    return False


@dataclass(slots=True)
class _Line:
    """A line as it is read: its number and cells."""

    line: int
    cells: list[str]

    def at(self, column: int) -> str:
        """A cell; empty where the line has none."""
        return self.cells[column] if 0 <= column < len(self.cells) else ""


@dataclass
class _Counts:
    """Lines of a table on their way to hours."""

    table: TextTable
    reading: Reading
    clock: SiteClock
    today: date
    problems: Problems = field(default_factory=Problems)

    def __post_init__(self) -> None:
        self.reader = HourReader(self.clock, self.table.name)
        self.cars: dict[Bin, tuple[int, int]] = {}
        self.totals: Counter[Hour] = Counter()
        self.told: Counter[str] = Counter()
        self.first: dict[str, int] = {}
        self.doubled: set[tuple[date, int]] = set()
        self.problems += self.table.problems
        self._day: date | None = None
        self._last_min, self._turned = 0, False

    def read(self, told: Callable[[int], None]) -> None:
        """Every line in turn."""
        for number_, cells in self.table.rows[self.reading.first :]:
            if number_ % TOLD_EVERY == 0:
                told(number_)
            line = _Line(number_, cells)
            if self.is_left_out(line):
                continue
            for name, day, minute, offset, cell in self.parts_of(line):
                self.add(line, name, day, minute, offset, cell)

    # ---- one line ----------------------------------------------------------------------------

    def refuse(self, line: _Line, name: str, sentence: str, value: str, **more: object) -> None:
        """A line, or a cell of it, is left out for a reason."""
        filling = {"field": quoted(name), "value": quoted(value), **more}
        where = f"{self.table.name}, line {line.line}"
        self.problems.append(InputProblem(name, sentence, filling, where))

    def note(self, what: str, line: _Line) -> None:
        """Something that is told once, with the first line of it."""
        self.told[what] += 1
        self.first.setdefault(what, line.line)

    def is_left_out(self, line: _Line) -> bool:
        """Whether a line holds sums, the headings again, another part, or a refund."""
        reading = self.reading
        keys = [line.at(at) for at in (reading.date, reading.time) if at >= 0]
        keys = keys or line.cells[:1]
        part = line.at(reading.part_column)
        words = [plain(cell) for cell in (*keys, part) if cell and not cell[0].isdigit()]
        sums = (w == t or w.startswith((f"{t} ", f"{t}:")) for w in words for t in TOTAL_WORDS)
        if any(sums):
            self.note("sums", line)
            return True
        places = [at for at in (reading.date, reading.time) if at >= 0]
        if places and all(line.at(at) == reading.names[at] for at in places):
            return True
        if reading.part and part != reading.part:
            return True
        money = number(line.at(reading.money), reading.comma) if reading.money >= 0 else None
        if reading.shape == "sales" and money is not None and money < 0:
            self.note("refunds", line)
            return True
        return False

    def parts_of(self, line: _Line) -> Iterator[tuple[str, date, int, int | None, str]]:
        """What a line counts: name of the column, day, minute, offset, cell."""
        reading = self.reading
        names = reading.names
        if reading.shape == "down":
            minute = self.minute(line, reading.time)
            if minute is not None:
                for at, day in reading.days:
                    yield names[at], day, minute, None, line.at(at)
            return
        found = self.day(line)
        if found is None:
            return
        day, minute, offset = found
        if reading.shape == "across":
            for at, begin in reading.minutes:
                yield names[at], day, begin, None, line.at(at)
            return
        if reading.time >= 0:
            read = self.minute(line, reading.time)
            if read is None:
                return
            minute = read
        if not reading.counts:
            yield names[reading.date], day, minute, offset, "1"
            return
        cells = [line.at(at) for at in reading.counts]
        if len(cells) == 1:
            yield names[reading.counts[0]], day, minute, offset, cells[0]
            return
        values = [number(cell, reading.comma) for cell in cells if cell]
        known = [value for value in values if value is not None]
        is_sum = len(known) == len(values) and values
        bad = next((c for c in cells if c and number(c, reading.comma) is None), "")
        yield names[reading.counts[0]], day, minute, offset, str(sum(known)) if is_sum else bad

    def day(self, line: _Line) -> tuple[date, int, int | None] | None:
        """Day, minute and offset of a line; None, with its problem, if it has none."""
        reading = self.reading
        cell = line.at(reading.date)
        if not cell and self._day is not None and reading.time >= 0:
            return self._day, 0, None
        found = stamp(cell)
        day = found.on(reading.order) if found else None
        name = reading.names[reading.date]
        if found is None or day is None:
            sentence = "{field} “{value}” is not a date. Write it as the other lines do."
            if not cell:
                sentence = "{field} is empty. Write the day on which cars were counted."
            elif found is not None:
                sentence = "{field} “{value}” is not a date with the month first."
                if reading.order == "dmy":
                    sentence = "{field} “{value}” is not a date with the day first."
            self.refuse(line, name, sentence, cell)
            return None
        if day > self.today:
            sentence = "{field} “{value}” lies in the future. Is the date right?"
            self.refuse(line, name, sentence, cell)
            return None
        if day != self._day:
            self._day, self._last_min, self._turned = day, 0, False
        if found.clock is None or reading.time >= 0:
            return day, 0, None
        minute = found.clock.minute
        half = half_of(line.at(reading.half))
        if half and minute < 780:
            minute = minute % 720 + 720 * (half == "p")
        return day, minute, found.offset

    def minute(self, line: _Line, column: int) -> int | None:
        """The minute of the day at which the hour of a line begins; None, with its problem."""
        cell, reading = line.at(column), self.reading
        found = clock(cell)
        half = half_of(line.at(reading.half))
        minute = found.minute if found else -1
        if found and half and minute < 780:
            minute = minute % 720 + 720 * (half == "p")
        if found and reading.turns:
            self._turned |= minute < self._last_min
            self._last_min = minute
            minute += 720 * self._turned
        if reading.is_end and minute > 0:
            minute -= reading.bin_min
        if not 0 <= minute < 1440:
            sentence = "{field} “{value}” is not an hour of the day. Write it as the others are."
            self.refuse(line, reading.names[column], sentence, cell)
            return None
        return minute

    # ---- what it counts ----------------------------------------------------------------------

    def add(
        self, line: _Line, name: str, day: date, minute: int, offset: int | None, cell: str
    ) -> None:
        """Count a cell in its hour."""
        if not any(c.isdigit() for c in cell):
            self.note("empty", line)
            return
        cars = self.whole(line, name, cell)
        if cars is None:
            return
        fold = None
        if offset is not None:
            moment = datetime.combine(day, time(minute // 60, minute % 60))
            there = moment.replace(tzinfo=timezone(timedelta(minutes=offset)))
            local = there.astimezone(self.clock.zone)
            day, minute, fold = local.date(), 60 * local.hour + local.minute, local.fold
        hour = minute // 60
        times = self.clock.times(day, hour) if self.reading.shape != "days" else 1
        if times == 0:
            if self.reading.shape in ("across", "down") and cars == 0:
                return
            sentence = (
                "{hour}:00 on {day} does not exist: clocks went forward over it. Leave this line "
                "out."
            )
            self.refuse(line, name, sentence, cell, hour=hour, day=day)
            return
        self.reader.name(day, hour)
        if self.reading.shape == "sales":
            if times == 2 and fold is None:
                self.doubled.add((day, hour))
            self.totals[day, hour, fold or 0] += cars
            return
        self.place(line, name, (day, minute, fold, line.at(self.reading.part_column)), times, cars)

    def place(
        self, line: _Line, name: str, at: tuple[date, int, int | None, str], times: int, cars: int
    ) -> None:
        """Put a count of an hour, or of a part of one, where no other stands."""
        day, minute, fold, part = at
        folds = range(times) if fold is None else (fold,)
        free = next((f for f in folds if (day, minute, f, part) not in self.cars), None)
        if free is not None:
            self.cars[day, minute, free, part] = (cars, line.line)
            self.totals[day, minute // 60, free] += cars
            return
        held = self.cars[day, minute, folds[-1], part]
        if not self.reading.counts and self.reading.shape == "hours":
            self.totals[day, minute // 60, folds[-1]] += cars
        elif held[0] == cars:
            self.note("again", line)
        else:
            sentence = (
                "{clock} on {day} is on line {first} already, with {other} cars in place of "
                "{value}. Keep one of the two lines."
            )
            if self.reading.shape == "days":
                sentence = (
                    "{day} is on line {first} already, with {other} cars in place of {value}. Keep "
                    "one of the two lines."
                )
            shown = f"{minute // 60}:{minute % 60:02d}"
            more = {"day": day, "first": held[1], "other": held[0], "clock": shown}
            self.refuse(line, name, sentence, str(cars), **more)

    def whole(self, line: _Line, name: str, cell: str) -> int | None:
        """A whole number of cars; None, with its problem, for anything else."""
        value = number(cell, self.reading.comma)
        limit = MOST_CARS_PER_H * (24 if self.reading.shape == "days" else 1)
        if value is None:
            sentence = "{field} “{value}” is not a number. Enter a whole number of cars, as in 42."
            if cell.startswith(("=", "@")):
                sentence = (
                    "{field} “{value}” is a formula. Save the table with its values, not its "
                    "formulas."
                )
        elif value < 0 and self.reading.shape == "sales":
            self.note("refunds", line)
            return None
        elif value < 0:
            sentence = "{field} “{value}” is below zero. Enter 0 or more cars."
        elif value > limit:
            sentence = "{field} “{value}” is more than {limit} cars, which no line takes."
        elif value != int(value):
            sentence = "{field} “{value}” is not a whole number of cars. Enter 0, 1, 2 and so on."
        else:
            return int(value)
        self.refuse(line, name, sentence, cell, limit=f"{limit:,}")
        return None

    # ---- all of them -------------------------------------------------------------------------

    def hours(self, open_h: float, close_h: float) -> list[HourCount]:
        """Cars by hour. A day with sales has none in its open hours without one; at both ends of
        a file of sales a day may be a part of one, so there nothing is added."""
        for day, hour in self.doubled:
            self.totals.pop((day, hour, 0), None)
        if self.reading.shape == "sales":
            sold: dict[date, list[int]] = {}
            for day, hour, _ in self.totals:
                sold.setdefault(day, []).append(hour)
            begin, end = min(sold, default=None), max(sold, default=None)
            for day, hours in sold.items():
                first = min(hours) if day == begin else 0
                last = max(hours) if day == end else 23
                for hour in range(first, last + 1):
                    is_open = hour + 1 > open_h and hour < close_h
                    if is_open and self.clock.times(day, hour) == 1:
                        self.totals.setdefault((day, hour, 0), 0)
                        self.reader.name(day, hour)
        found = []
        for (day, hour, fold), cars in self.totals.items():
            if cars > MOST_CARS_PER_H:
                sentence = (
                    "{hour}:00 on {day} has {cars} cars in all, more than any line takes. Its "
                    "lines are left out."
                )
                filling = {"hour": hour, "day": day, "cars": f"{cars:,}"}
                self.problems.append(InputProblem("hour", sentence, filling, self.table.name))
            else:
                found.append(HourCount(day, hour, fold, cars))
        return found

    def days(
        self, usual: UsualDays
    ) -> tuple[list[HourCount], tuple[DayNote, ...], list[InputProblem]]:
        """Totals of days spread over their hours, their marks, and what is to be told of that."""
        found = []
        for (day, _, _), cars in self.totals.items():
            for hour, some in enumerate(usual.hours(day, cars)):
                if usual.shapes[day.weekday()][hour] > 0.0 and self.clock.times(day, hour):
                    found.append(HourCount(day, hour, 0, some))
        sentence = (
            "Only totals of days were counted. Their cars are spread over the hours as on your "
            "{days} days counted by the hour; such hours are a guess, say nothing of how hours "
            "differ, and give way to counts by the hour."
        )
        if not usual.days:
            sentence = (
                "Only totals of days were counted. Their cars are spread over the open hours, most "
                "of them amidst the day; such hours are a guess, say nothing of how hours differ, "
                "and give way to counts by the hour."
            )
        note = InputProblem("hour", sentence, {"days": f"{usual.days:,}"})
        marks = tuple(sorted({DayNote(row.day, TOTAL) for row in found}))
        return found, marks, [note]

    def notes(self) -> list[InputProblem]:
        """What else a reader should know of the lines."""
        notes = [
            InputProblem("file", _NOTES[what], {"count": f"{count:,}", "line": self.first[what]})
            for what, count in self.told.items()
        ]
        for day, hour in sorted(self.doubled):
            sentence = (
                "{hour}:00 on {day} came twice when clocks went back, and sales don’t say which of "
                "the two they fell into. That hour is left out."
            )
            notes.append(InputProblem("hour", sentence, {"hour": hour, "day": day}))
        if self.reading.shape == "sales" and self.totals:
            sentence = (
                "An open hour without a sale counts as 0 on days with sales. A day without any "
                "sale is taken for not counted."
            )
            notes.append(InputProblem("hour", sentence))
        parts = Counter((day, minute // 60, fold, part) for day, minute, fold, part in self.cars)
        whole = 60 // self.reading.bin_min
        short = sum(times < whole for times in parts.values()) if self.reading.counts else 0
        if whole > 1 and short:
            sentence = (
                "Hours of which a part was not counted: {count}. They hold the cars of the rest."
            )
            notes.append(InputProblem("hour", sentence, {"count": f"{short:,}"}))
        return notes


_NOTES = {
    "sums": "Lines of sums: {count}, the first on line {line}. They were passed over.",
    "refunds": (
        "Lines below zero: {count}, the first on line {line}. They are refunds and count as no "
        "car; the sale that was refunded still counts, since its car was washed."
    ),
    "empty": (
        "Cells without a number: {count}, the first on line {line}. Nobody counted there, which is "
        "not zero."
    ),
    "again": (
        "Lines that say the same once more: {count}, the first on line {line}. They count once."
    ),
}

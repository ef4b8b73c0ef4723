"""Looks at somebody's table of counts and says how it is to be read; what stays open is asked.

What a column is follows from what its cells hold; headings decide only where that leaves several,
and a person where they do too.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from datetime import date as Day  # noqa: N812 a reading has a field `date`

from app.files.columns import (
    ARRIVED_WORDS,
    COUNT_WORDS,
    HOUR_WORDS,
    LEAST,
    MONEY_WORDS,
    MOST_PARTS,
    MOSTLY,
    SITE_WORDS,
    TILL_WORDS,
    TOTAL_WORDS,
    Column,
    bin_of,
    clocks_of,
    day_step,
    example,
    first_line,
    has_comma,
    hours_across,
    is_calendar,
    is_plain_step,
    is_running,
    largest,
    names_ends,
    names_of,
    other_order,
    repeats,
    runs,
    sum_of_others,
    turns_over,
)  # fmt: skip
from app.files.csv_table import MOST_COLUMNS
from app.files.stamps import ORDERS, half_of, plain, stamp
from app.files.text_table import TextTable
from sim.errors import InputProblem, Sentence, quoted
from sim.inputs import COUNTS_OF

LINES, TOGETHER = "=lines", "=together"
"""Answers that are no column: each line is a car; several columns, or several names, add up."""


@dataclass(frozen=True, slots=True)
class Said:
    """What somebody said of a file, or what was found of an earlier one of its shape; empty where
    nothing is known.

    Attributes:
        order: ``mdy`` or ``dmy``.
        date, hour, count: names of columns; `count` may be `LINES` or `TOGETHER`.
        part: which till or site of several, or `TOGETHER`.
        counted: one of `COUNTS_OF`.
    """

    order: str = ""
    date: str = ""
    hour: str = ""
    count: str = ""
    part: str = ""
    counted: str = ""


NOTHING_SAID = Said()


@dataclass(frozen=True, slots=True)
class Ask:
    """A question about a file: which part of `Said` it fills, its words, and answers with words."""

    key: str
    words: Sentence
    choices: tuple[tuple[str, Sentence], ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """How the lines of a table become counts.

    Attributes:
        shape: ``hours`` (a line an hour or a part of one), ``sales`` (a line a car), ``days``
            (totals a day), ``across`` (a line a day, hours across), ``down`` (a line an hour, days
            across).
        first: place of the first line with counts. names: of the columns.
        order: as in `Said`.
        date, time, half: columns of the date, of the time of day and of AM or PM; -1 for none.
        counts: columns that add up; none where a line is a car.
        comma: whether decimals have a comma. money: a column of money, -1 for none.
        minutes: of a day at which each column of `across` begins; days: of each of `down`.
        part_column, part: tills or sites told apart; an empty part means all of them.
        bin_min: minutes of a line of ``hours``.
        is_end: hours are named by their end. turns: twelve hours without AM and PM, told by order.
        counted: one of `COUNTS_OF`.
    """

    shape: str
    first: int
    names: tuple[str, ...]
    order: str = "dmy"
    date: int = -1
    time: int = -1
    half: int = -1
    counts: tuple[int, ...] = ()
    comma: bool = False
    money: int = -1
    minutes: tuple[tuple[int, int], ...] = ()
    days: tuple[tuple[int, Day], ...] = ()
    part_column: int = -1
    part: str = ""
    bin_min: int = 60
    is_end: bool = False
    turns: bool = False
    counted: str = "washed"


@dataclass(frozen=True, slots=True)
class Look:
    """What was seen in a file.

    Attributes:
        reading: how it is read; None where something stays open or nothing can be read.
        ask: the next question; None for none.
        said: every decision, as it may be kept for files of the same shape.
        told: what was understood, and from what.
        shape_key: names files of the same headings.
        names, sample: of its columns, and its first lines.
        is_kept: whether an earlier file's decisions were used.
        problem: why nothing can be read.
    """

    reading: Reading | None
    ask: Ask | None
    said: Said
    told: tuple[Sentence, ...]
    shape_key: str
    names: tuple[str, ...] = ()
    sample: tuple[tuple[str, ...], ...] = ()
    is_kept: bool = False
    problem: InputProblem | None = None


class _Open(Exception):
    """Something that a person has to say."""

    def __init__(self, ask: Ask) -> None:
        super().__init__(ask.key)
        self.ask = ask


class _NoCountsError(Exception):
    """A table that holds no counts by day."""

    def __init__(self, sentence: str, **values: object) -> None:
        super().__init__(sentence)
        self.problem = InputProblem("header", sentence, values)


def look(
    table: TextTable,
    said: Said,
    today: date,
    kept: Callable[[str], Said | None] = lambda shape_key: None,
) -> Look:
    """How a table is to be read.

    Args:
        said: what somebody said of it.
        today: days after it were not counted.
        kept: finds what was decided of an earlier file of a shape; used where it fits and nobody
            says otherwise.
    """
    found = _Finder(table, said, today)
    earlier = kept(found.key) if said == Said(counted=said.counted) else None
    try:
        if earlier is not None:
            with_kept = replace(earlier, counted=said.counted or earlier.counted)
            try:
                return _Finder(table, with_kept, today).look(is_kept=True)
            except (_Open, _NoCountsError):
                pass
        return found.look()
    except _Open as open_:
        return found.seen(ask=open_.ask)
    except _NoCountsError as fault:
        return found.seen(problem=replace(fault.problem, where=table.name))


def shape_key(names: Sequence[str]) -> str:
    """Names all files of the same headings; a heading that is a date is any date."""
    parts = ("date" if stamp(name) else plain(name) for name in names)
    return hashlib.sha256("\x1f".join(dict.fromkeys(parts)).encode()).hexdigest()[:16]


class _Finder:
    """Looks at one table. Each step decides one thing or raises what is open."""

    def __init__(self, table: TextTable, said: Said, today: date) -> None:
        self.table, self.said, self.today = table, said, today
        self.told: list[Sentence] = []
        self.first, heads, self.is_down = first_line(table)
        cells = [row for _, row in table.rows[self.first :]]
        width = min(4 * MOST_COLUMNS, max((len(row) for row in (heads, *cells)), default=0))
        self.names = names_of(heads, width)
        self.columns = [
            Column(at, name, [row[at] if at < len(row) else "" for row in cells])
            for at, name in enumerate(self.names)
        ]
        self.heads = heads
        self.key = shape_key(heads or [f"{width}"])

    def seen(
        self,
        reading: Reading | None = None,
        ask: Ask | None = None,
        problem: InputProblem | None = None,
        is_kept: bool = False,
    ) -> Look:
        """What is known so far."""
        rows = self.table.rows[self.first : self.first + 3]
        sample = tuple(tuple(quoted(cell) for cell in row[:8]) for _, row in rows)
        return Look(
            reading, ask, self.said, tuple(self.told), self.key, self.names[:8], sample, is_kept,
            problem,
        )  # fmt: skip

    def look(self, is_kept: bool = False) -> Look:
        """Everything in turn."""
        reading = self.down() if self.is_down else self.lines()
        counted = self.counted(reading)
        self.said = replace(self.said, counted=counted)
        return self.seen(replace(reading, counted=counted), is_kept=is_kept)

    def tell(self, sentence: str, **values: object) -> None:
        """Say what was understood."""
        self.told.append(Sentence(sentence, values))

    def pick(
        self, key: str, found: Sequence[Column], words: str, *more: tuple[str, Sentence]
    ) -> str:
        """What somebody said of several columns; asks if nobody did."""
        said = str(getattr(self.said, key))
        choices = tuple((column.name, example(column)) for column in found) + more
        if said not in dict(choices):
            raise _Open(Ask(key, Sentence(words), choices))
        return said

    # ---- dates and times -------------------------------------------------------------------------

    def order(self, texts: Iterable[str]) -> str:
        """Month or day first, of the dates of a file in their order."""
        found = {text: s for text in texts if (s := stamp(text)) is not None}
        pairs = {text: s for text, s in found.items() if s.pair is not None}
        if not pairs:
            return "dmy"
        days = {order: [s.on(order) for s in pairs.values()] for order in ORDERS}
        if days["mdy"] == days["dmy"]:
            return "dmy"
        misfit = {order: sum(day is None for day in days[order]) for order in days}
        late = {
            order: sum(day is not None and day > self.today for day in days[order])
            for order in days
        }
        best = min(days, key=lambda order: misfit[order])
        if len(set(misfit.values())) == 2 and misfit[best] <= (1 - MOSTLY) * len(pairs):
            text = next(
                t for t, day in zip(pairs, days[other_order(best)], strict=True) if day is None
            )
            sentence = "Dates are month first: “{text}” fits no other way."
            if best == "dmy":
                sentence = "Dates are day first: “{text}” fits no other way."
            self.tell(sentence, text=quoted(text))
        elif self.said.order in days:
            best = self.said.order
            sentence = "Dates are month first, as was said."
            if best == "dmy":
                sentence = "Dates are day first, as was said."
            self.tell(sentence)
        elif 0 in late.values() and max(late.values()) > 0:
            best = min(days, key=lambda order: late[order])
            sentence = "Dates are month first; day first some would lie in the future."
            if best == "dmy":
                sentence = "Dates are day first; month first some would lie in the future."
            self.tell(sentence)
        elif (steps := {o: day_step(days[o]) for o in days}) and is_plain_step(steps):
            best = min(days, key=lambda order: steps[order])
            sentence = "Dates are month first: only so do the days follow one another."
            if best == "dmy":
                sentence = "Dates are day first: only so do the days follow one another."
            self.tell(sentence)
        else:
            text, one = next((t, s) for t, s in pairs.items() if s.on("mdy") != s.on("dmy"))
            words = Sentence("Which day is “{text}”?", {"text": quoted(text)})
            raise _Open(Ask("order", words, tuple(
                (order, Sentence("It is {day}.", {"day": one.on(order)})) for order in ORDERS
            )))  # fmt: skip
        self.said = replace(self.said, order=best)
        return best

    def date_column(self) -> Column:
        """The column of dates."""
        found = [column for column in self.columns if column.stamps >= MOSTLY]
        found = found or [max(self.columns, key=lambda column: column.stamps)]
        if found[0].stamps < 0.5:
            raise _NoCountsError(
                "No column of this file holds dates. Each line, or the heading, needs the day on "
                "which cars were counted, as in 2026-07-18, 7/18/2026 or 18.07.2026."
            )
        timed = [column for column in found if column.has_times]
        found = timed or found
        if len(found) > 1 and len({tuple(c.cells[:500]) for c in found}) > 1:
            said = self.pick("date", found, "Which column says when the car came?")
            return next(column for column in found if column.name == said)
        return found[0]

    def time_column(self, day: Column) -> Column | None:
        """The column of the hour beside a column of dates; None for totals a day."""
        others = [c for c in self.columns if c is not day and c.clocks >= MOSTLY]
        times = [c for c in others if not c.is_bare]
        if len(times) > 1:  # from and to: the first is where the hour begins
            times = times[:1]
        if times:
            return times[0]
        hours = [c for c in others if len(c.kinds) > 1 and runs(day.cells, c.wholes) >= MOSTLY]
        named = [c for c in others if c.says(HOUR_WORDS) and not c.says(COUNT_WORDS)]
        if len(hours) != 1:
            hours = named or hours
        if len(hours) > 1:
            said = self.pick("hour", hours, "Which column is the hour of the day?")
            hours = [c for c in hours if c.name == said]
        return hours[0] if hours else None

    # ---- shapes ----------------------------------------------------------------------------------

    def down(self) -> Reading:
        """An hour a line, days across."""
        order = self.order(head for head in self.heads if stamp(head))
        days = tuple(
            (at, day)
            for at, head in enumerate(self.heads)
            if (one := stamp(head)) and (day := one.on(order))
        )
        columns = [self.columns[at] for at, _ in days]
        beside = [column for column in self.columns if column not in columns]
        hour = max(beside, key=lambda column: column.clocks, default=None)
        if hour is None or hour.clocks < 0.5:
            raise _NoCountsError("No column of this file holds the hours of the days across.")
        self.tell("Each line is an hour, each column a day.")
        return Reading(
            "down", self.first, self.names, order, time=hour.place, days=days,
            comma=has_comma(columns), is_end=names_ends(hour),
        )  # fmt: skip

    def lines(self) -> Reading:
        """A line for a day, an hour or a car."""
        day = self.date_column()
        order = self.order(day.kinds)
        base = Reading("hours", self.first, self.names, order, date=day.place)
        across = hours_across(self.heads, self.columns, day)
        if across:
            self.tell("Each line is a day, with its hours across.")
            columns = [self.columns[at] for at, _ in across]
            rest = [c for c in self.columns if c is not day and c not in columns]
            part_column, part = self.parts([day], rest)
            return replace(
                base, shape="across", minutes=across, comma=has_comma(columns),
                part_column=part_column, part=part,
            )  # fmt: skip
        time = None if day.has_times else self.time_column(day)
        half = next(
            (c for c in self.columns if c.share(map(bool, map(half_of, c.kinds))) >= MOSTLY), None
        )
        base = replace(
            base, time=time.place if time else -1, half=half.place if half else -1,
            is_end=bool(time and names_ends(time)),
        )  # fmt: skip
        if not day.has_times and time is None:
            return self.counts(replace(base, shape="days"), day, [day])
        clocks = clocks_of(day, time)
        base = replace(
            base, bin_min=bin_of(clocks), turns=half is None and turns_over(day.cells, clocks)
        )
        if base.bin_min < 5:
            base = replace(base, shape="sales")
        return self.counts(base, day, [day, *([time] if time else []), *([half] if half else [])])

    def counts(self, base: Reading, day: Column, keys: list[Column]) -> Reading:
        """What is counted, and whether tills have to be added up."""
        rest = [c for c in self.columns if c not in keys and c.filled]
        by_site = [c for c in rest if c.says(SITE_WORDS)]
        part_column, part = self.parts(keys, by_site if base.shape == "sales" else rest)
        money = next((c for c in rest if c.says(MONEY_WORDS) and c.numbers >= MOSTLY), None)
        base = replace(base, money=money.place if money else -1, part_column=part_column, part=part)
        several = [
            c for c in rest
            if c.place != part_column
            and c.whole >= (LEAST if c.says(COUNT_WORDS) else MOSTLY)
            and not is_calendar(c, day, base.order) and not is_running(c)
        ]  # fmt: skip
        several = [c for c in several if len(c.kinds) > 1] or several
        plainly = [c for c in several if c.says(COUNT_WORDS) and not c.says(MONEY_WORDS)]
        said = self.said.count
        if base.shape == "sales":
            several = plainly = [c for c in plainly if len(c.kinds) > 1 and largest(c) <= 20]
        is_line_a_car = not several and (base.shape == "sales" or repeats(keys))
        chosen = [c for c in rest if c.name == said]
        if not chosen and said != LINES and not is_line_a_car:
            chosen = self.one_count(several, plainly, base.shape)
        if not chosen:
            self.said = replace(self.said, count=LINES)
            self.tell("Each line is one car, by its time in “{name}”.", name=quoted(day.name))
            return base
        named = ", ".join(f"“{quoted(c.name)}”" for c in chosen)
        sentence = "Cars are in {names}."
        if len(chosen) > 1:
            sentence = "Cars are the sum of {names}."
        elif base.shape == "days":
            sentence = "Cars of a whole day are in {names}."
        self.tell(sentence, names=named)
        return replace(base, counts=tuple(c.place for c in chosen), comma=has_comma(chosen))

    def one_count(self, several: list[Column], plainly: list[Column], shape: str) -> list[Column]:
        """The columns that count cars, of several with whole numbers of which some say so; none
        where each line is a car."""
        if not several:
            raise _NoCountsError(
                "No column of this file holds whole numbers that could be cars. Its columns are "
                "{names}.",
                names=", ".join(f"“{quoted(name)}”" for name in self.names[:8]),
            )
        total = sum_of_others(several)
        found = [total] if total is not None else plainly or several
        is_money = found[0].says(MONEY_WORDS) and total is None
        if len(found) == 1 and not is_money and shape != "sales":
            self.said = replace(self.said, count=found[0].name)
            return found
        more: list[tuple[str, Sentence]] = []
        if len(found) > 1:
            more.append((TOGETHER, Sentence("All of these together")))
        if shape != "days":
            more.append((LINES, Sentence("None of them: each line is one car")))
        said = self.pick("count", found, "Which column counts cars?", *more)
        if said == LINES:
            return []
        return found if said == TOGETHER else [c for c in found if c.name == said]

    def parts(self, keys: Sequence[Column], rest: Sequence[Column]) -> tuple[int, str]:
        """The column by which lines of the same hour differ, and the one name of it that counts;
        -1 for no column, an empty name for all of them."""
        several = [c for c in rest if 2 <= len(c.kinds) <= MOST_PARTS]
        found = [c for c in several if c.says(SITE_WORDS)]
        seen = list(zip(*(c.cells for c in keys), strict=True))
        if not found and len(set(seen)) < len(seen):
            differ = [
                c for c in several
                if len(set(zip(seen, c.cells, strict=True))) > max(0.98 * len(seen), len(set(seen)))
            ]  # fmt: skip
            found = [c for c in differ if c.says(TILL_WORDS)]
            found = found or [c for c in differ if c.numbers < MOSTLY]
        if not found:
            return -1, ""
        names = [name for name in found[0].kinds if plain(name) not in TOTAL_WORDS]
        shown = quoted(found[0].name)
        if found[0].says(TILL_WORDS):
            self.tell(
                "“{name}” has {count} names; their cars add up.", name=shown, count=len(names)
            )
            return found[0].place, ""
        choices = [(TOGETHER, Sentence("All of them: their cars add up"))]
        choices += [(name, Sentence("“{name}” alone", {"name": quoted(name)})) for name in names]
        if self.said.part not in dict(choices):
            words = "“{name}” holds {count} names. Which of them are this site?"
            values = {"name": shown, "count": len(names)}
            raise _Open(Ask("part", Sentence(words, values), tuple(choices)))
        return found[0].place, "" if self.said.part == TOGETHER else self.said.part

    def counted(self, reading: Reading) -> str:
        """What was counted: as was said, by the heading, else cars washed, which is less."""
        if self.said.counted in COUNTS_OF:
            return self.said.counted
        named = [self.columns[at] for at in reading.counts]
        if any(column.says(ARRIVED_WORDS) for column in named):
            return "arrived"
        self.tell("Nothing says what was counted, so these are taken for cars washed.")
        return "washed"

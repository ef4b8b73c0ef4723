"""The books of a site: their rows as CSV files, both ways, and all that is wrong with one.

What a row's cells can tell of it is in `sim.inputs.rows`; what else must hold, of each row alone
and then of them together, is here. A line of the table `BOOKS` is a book.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from app.files.csv_table import csv_text, read_table, shortened
from sim.checks import or_refusal
from sim.day.rules import parse_rule
from sim.errors import InputError, InputProblem, quoted
from sim.inputs import (
    BY_THE_DAY,
    CHECKS,
    EVENTS,
    HOODS,
    HOODS_COUNTED,
    INPUTS,
    INSPECTED,
    LAUNDERED,
    LOG,
    ON_A_SCALE,
    PEOPLE,
    PUT_ON,
    ROTATED,
    SETS,
    SHIFTS,
    SPIN,
    TAKEN_OFF,
    TOWEL,
    WEIGHED,
    AnyRows,
    CheckItem,
    ClothEvent,
    LogEntry,
    Person,
    PlannedShift,
    Rows,
    Site,
    SiteData,
    Weighing,
)
from sim.inputs.logbook import (
    COUNTED_IN,
    DAMP_HOODS,
    DEVICE,
    DEVICES,
    FELT,
    LONGEST_KEY,
    LONGEST_TEXT,
    NAMED,
    NOTE,
    STATES,
    STRIP,
    TIMED,
    WAIT,
)
from sim.inputs.roster import DAY_S
from sim.inputs.rows import Amount
from sim.inputs.timed import TIMED_THINGS, timed_cars
from sim.learn.expected_day import air_line, parse_override
from sim.units import quantity, show_clock

T = TypeVar("T")
Problems = tuple[InputProblem, ...]
Check = Callable[..., Iterable[InputProblem]]


# ---- rows as files -------------------------------------------------------------------------------


def csv_of(rows: Rows[T], items: Iterable[T]) -> str:
    """The text of a file of rows, from which the same ones are read to the last bit."""
    lines = ([cell.written(item) for cell in rows.columns.values()] for item in items)
    return csv_text(tuple(rows.columns), lines, "\n")


def read_rows(
    rows: Rows[T], raw: bytes | None, check: Check | None = None
) -> tuple[tuple[T, ...], Problems, Problems]:
    """Rows of a CSV file, which may be missing; nothing in it raises.

    Its columns are those of the cells; the needed ones must be there. An amount may have a unit of
    its own, as in 310 g; a bare number is in the unit that its column names.

    Args:
        check: what else than its shape can be wrong with a row by itself.

    Returns:
        The good lines, every line that was left out with its reason, and notes.
    """
    if raw is None:
        return (), (), ()
    table = read_table(raw, rows.file, tuple(rows.columns))
    missing = [name for name in rows.needed if name not in table.columns]
    if table.columns and missing and not table.is_broken:
        sentence = "No column gives {names}. The file needs {needed}."
        filling = {"names": " or ".join(missing), "needed": ", ".join(rows.needed)}
        table.problems.append(InputProblem("header", sentence, filling, rows.file))
    found: list[T] = []
    for line in () if missing or table.is_broken else table.rows:
        where = f"{rows.file}, line {line.line}"
        texts = {}
        for column, text in line.cells.items():
            cell = rows.columns.get(column)
            with_comma = table.decimal_comma and isinstance(cell, Amount)
            if cell is not None:
                texts[cell.name] = text.replace(",", ".", 1) if with_comma else text
        problems: list[InputProblem] = []
        item = rows.read(texts, problems, where=where)
        if item is not None:
            faults = [*rows.problems_of(item), *(check(item) if check else ())]
            problems = [replace(p, where=where) for p in faults]
            if not faults:
                found.append(item)
        table.problems += problems
    return tuple(found), shortened(table.problems, rows.file), tuple(table.notes)


# ---- weighings -----------------------------------------------------------------------------------

LONGEST_WEATHER = 60
WETTEST_KG_KG = 8.0
"""No cloth holds more water for its own weight: a larger weighing is in another unit."""


def weighing_problems(item: Weighing, site: Site | None = None) -> Iterable[InputProblem]:
    """Why a weighing can't be, though each field can; with a site also by its hours and classes."""
    dry = INPUTS["strip_dry_mass_kg"]
    if item.kind in ON_A_SCALE and dry.low <= item.dry_kg <= dry.high:
        yield from _weights(item)
    try:
        parse_rule(item.rule, None if site is None else [known.key for known in site.vehicles])
    except InputError as fault:
        yield from or_refusal("rule", item.rule, fault.problems)
    if item.kind == HOODS and item.cars == 0:
        sentence = "No cars can’t have been looked at. Enter how many hoods they were, 1 to 200."
        yield InputProblem("cars", sentence)
    elif (
        item.kind in (*BY_THE_DAY, TOWEL)
        and item.cars >= 0
        and not 0 <= item.damp_cars <= item.cars
    ):
        sentence = "{damp} damp cars of {cars} looked at can't be. Enter 0 to {cars}."
        yield InputProblem("damp_cars", sentence, {"cars": item.cars, "damp": item.damp_cars})
    yield from weather_line(item.weather, "si")[1] if item.weather else ()
    line = None if site is None else site.line
    if line and item.needs_day and not line.open_h <= item.at_s / 3600 <= line.close_h:
        sentence = "Time {time} is outside the opening hours. Enter {low} to {high}."
        filling = {
            "time": show_clock(item.at_s),
            "low": show_clock(3600 * line.open_h),
            "high": show_clock(3600 * line.close_h),
        }
        yield InputProblem("at_s", sentence, filling)


def _weights(item: Weighing) -> Iterable[InputProblem]:
    """Why the weights of a strip or a towel can't be, its dry one being possible."""
    weights = {"weight_kg": item.weight_kg}
    if item.kind == SPIN:
        weights["after_kg"] = item.after_kg
    for name, weight in weights.items():
        filling = {
            "value": quantity(weight, "small_mass", 4),
            "dry": quantity(item.dry_kg, "small_mass", 4),
            "most": f"{WETTEST_KG_KG:g}",
        }
        if item.kind == TOWEL and not item.dry_kg <= weight <= (1.0 + WETTEST_KG_KG) * item.dry_kg:
            sentence = (
                "Weight {value} can't be: a towel weighs no less after a hood than before it, "
                "{dry}, and none holds {most} times its own weight of water. Look at the unit."
            )
            yield InputProblem(name, sentence, filling)
        elif item.kind != TOWEL and not item.dry_kg < weight <= (1.0 + WETTEST_KG_KG) * item.dry_kg:
            sentence = (
                "Weight {value} can't be: a wet strip weighs more than {dry}, which it weighs dry, "
                "and no cloth holds {most} times its own weight of water. Look at the unit."
            )
            yield InputProblem(name, sentence, filling)


def weather_line(text: str, system: str) -> tuple[str, list[InputProblem]]:
    """What was noted of a weighed day's weather, with its units, and why it can't be used.

    Args:
        text: highest temperature and humidity then, as in 91 °F, 70 %; empty for nothing.
        system: units of a bare number.
    """
    if len(text) > LONGEST_WEATHER:
        sentence = "The weather of a weighing is too long. Enter at most {most} characters."
        return "", [InputProblem("weather", sentence, {"most": LONGEST_WEATHER})]
    try:
        found = parse_override(text, system)
    except InputError as fault:
        return "", [replace(p, field="weather") for p in fault.problems]
    if found.rain_mm is not None or found.event is not None:
        sentence = (
            "“{weather}” says more than can be used of a weighed day. Enter its highest "
            "temperature and the humidity then, as in 91 °F, 70 %; how many cars came is told by "
            "the cars so far."
        )
        return "", [InputProblem("weather", sentence, {"weather": text})]
    return air_line(found, system), []


# ---- sets and what happened to them --------------------------------------------------------------


def event_problems(event: ClothEvent) -> Iterable[InputProblem]:
    """Why an entry can't be, though each of its fields can."""
    seen = (name for name, cell in EVENTS.cells.items() if INSPECTED in cell.only)
    if event.kind == INSPECTED and all(getattr(event, name) is None for name in seen):
        sentence = "Nothing was measured. Enter length, dry weight or torn strips."
        yield InputProblem("length_m", sentence)
    if event.kind != HOODS_COUNTED:
        return
    hoods, damp = event.hoods, event.damp_hoods
    if hoods is None:
        sentence = "No hoods can’t have been looked at. Enter 1 to 1,000."
        yield InputProblem("hoods", sentence)
    elif damp is None or not 0 <= damp <= hoods:
        sentence = "{damp} damp hoods of {hoods} can’t be. Enter 0 to {hoods}."
        shown = "No" if damp is None else str(damp)
        yield InputProblem("damp_hoods", sentence, {"damp": shown, "hoods": hoods})


def cloth_story(data: SiteData) -> Iterable[InputProblem]:
    """Where the entries, each fine alone, do not fit one another."""
    book = data.cloth
    bought = {item.name: item.bought for item in book.sets}
    unknown = dict.fromkeys(event.name for event in book.events if event.name not in bought)
    for name in unknown:
        sentence = "There is no set “{name}”. Enter the set first, or choose one that there is."
        yield InputProblem("name", sentence, {"name": name})
    if unknown:
        return
    on_wheel: ClothEvent | None = None
    ended: dict[str, ClothEvent] = {}
    for event in book.in_order().events:
        filling: dict[str, object] = {"name": event.name, "when": when(event)}
        since = bought[event.name]
        if since is not None and event.day < since:
            sentence = "Set “{name}” was bought on {bought}, after {when}. Correct one of the two."
            yield InputProblem("day", sentence, {**filling, "bought": since})
        if event.kind == PUT_ON:
            if event.name in ended:
                sentence = (
                    "Set “{name}” can’t be put on on {when}: it came to its end on {end}. Enter a "
                    "new set, or correct why it was taken off."
                )
                yield InputProblem("name", sentence, {**filling, "end": when(ended[event.name])})
            elif on_wheel is not None:
                sentence = (
                    "Set “{name}” can’t be put on on {when}: set “{other}” has been on the wheel "
                    "since {since}. Enter first when that one was taken off."
                )
                filling |= {"other": on_wheel.name, "since": when(on_wheel)}
                yield InputProblem("name", sentence, filling)
            else:
                on_wheel = event
        elif event.kind == TAKEN_OFF:
            if on_wheel is None or on_wheel.name != event.name:
                sentence = (
                    "Set “{name}” can’t be taken off on {when}: it was not on the wheel then. "
                    "Enter first when it was put on, earlier than that."
                )
                yield InputProblem("day", sentence, filling)
            else:
                on_wheel = None
                if event.reason != ROTATED:
                    ended[event.name] = event
        elif event.kind == HOODS_COUNTED:
            if on_wheel is None or on_wheel.name != event.name:
                sentence = (
                    "Hoods can’t have been counted under set “{name}” on {when}: it was not on the "
                    "wheel then. Choose the set that was, or enter first when it was put on."
                )
                yield InputProblem("name", sentence, filling)
        elif event.kind == LAUNDERED and on_wheel is not None and on_wheel.name == event.name:
            sentence = (
                "Set “{name}” can’t be laundered on {when}: it was on the wheel. Enter first when "
                "it was taken off."
            )
            yield InputProblem("day", sentence, filling)


def when(event: ClothEvent) -> str:
    """Day and time of an entry, as messages write them."""
    return f"{event.day.isoformat()} {show_clock(event.at_s)}"


# ---- people and shifts ---------------------------------------------------------------------------

HALF_HOUR_S = 1800.0


def person_problems(person: Person) -> Iterable[InputProblem]:
    """Why somebody can't be stored, though each field can."""
    if len(set(person.roles)) < len(person.roles):
        sentence = "A role of “{name}” stands twice. Leave one."
        yield InputProblem("roles", sentence, {"name": person.name})
    if person.least_h > person.most_h:
        sentence = "“{name}” has at least {least} and at most {most} hours. Swap them."
        filling = {"name": person.name, "least": person.least_h, "most": person.most_h}
        yield InputProblem("least_h", sentence, filling)


def shift_problems(shift: PlannedShift) -> Iterable[InputProblem]:
    """Why a published shift can't be stored, though each field can."""
    times = (shift.start_s, shift.break_start_s, shift.break_end_s, shift.end_s)
    in_order = 0.0 <= times[0] <= times[1] <= times[2] <= times[3] <= DAY_S
    if not in_order or times[0] == times[3] or any(t % HALF_HOUR_S for t in times):
        sentence = (
            "The shift of “{name}” on {day}, {start} to {end}, can’t be. Give full or half hours, "
            "the break inside, the end later than the start and by 24:00."
        )
        clocks = {"start": show_clock(shift.start_s), "end": show_clock(shift.end_s)}
        filling = {"name": shift.name, "day": shift.day.isoformat(), **clocks}
        yield InputProblem("start_s", sentence, filling)


# ---- the logbook and the checks ------------------------------------------------------------------

SHORTEST_KEY = 8


def entry_problems(entry: LogEntry) -> Iterable[InputProblem]:
    """Why an entry of the logbook can't be, though each of its fields can."""
    if not (entry.key.isascii() and entry.key.replace("-", "").replace("_", "").isalnum()) or not (
        SHORTEST_KEY <= len(entry.key) <= LONGEST_KEY
    ):
        sentence = (
            "“{value}” names no entry. Use {least} to {most} letters, digits, hyphens, underscores."
        )
        filling: dict[str, object] = {"least": SHORTEST_KEY, "most": LONGEST_KEY}
        yield InputProblem("key", sentence, {**filling, "value": quoted(entry.key)})
    if len(entry.text) > LONGEST_TEXT:
        sentence = "The text is too long. Enter at most {most} characters."
        yield InputProblem("text", sentence, {"most": LONGEST_TEXT})
    yield from _missing(entry)
    states = STATES.get(entry.kind, ("",))
    if entry.word not in states:
        sentence = "“{value}” can’t be said of this entry. Use {known}."
        filling = {"value": entry.word, "known": ", ".join(states) or "nothing"}
        yield InputProblem("word", sentence, filling)
    if entry.kind == DEVICE and entry.name and entry.name not in DEVICES:
        sentence = "“{value}” is no device. Use {known}."
        yield InputProblem("name", sentence, {"value": entry.name, "known": ", ".join(DEVICES)})
    if entry.kind == DAMP_HOODS and None not in (entry.count, entry.of):
        damp, hoods = entry.count or 0, entry.of or 0
        if damp > hoods:
            sentence = "{damp} damp hoods of {hoods} can’t be. Enter 0 to {hoods}."
            yield InputProblem("count", sentence, {"damp": damp, "hoods": hoods})
    if entry.kind == TIMED and entry.name and entry.text:
        yield from _timing_problems(entry)
    if entry.kind == FELT and entry.text:
        yield from (replace(p, field="text") for p in weather_line(entry.text, "si")[1])


def _timing_problems(entry: LogEntry) -> Iterable[InputProblem]:
    """Why nothing can have been timed like that."""
    if entry.name not in TIMED_THINGS:
        sentence = "“{value}” is nothing that can be timed. Use {known}."
        filling = {"value": entry.name, "known": ", ".join(TIMED_THINGS)}
        yield InputProblem("name", sentence, filling)
        return
    try:
        timed_cars(entry.text, entry.name)
    except InputError as fault:
        yield from fault.problems


def _missing(entry: LogEntry) -> Iterable[InputProblem]:
    """What an entry of its kind lacks."""
    if entry.kind in (*COUNTED_IN, DAMP_HOODS) and entry.count is None:
        yield InputProblem("count", "Nothing was counted. Enter how many, 0 for none.")
    if entry.kind == DAMP_HOODS and entry.of is None:
        yield InputProblem("of", "No hoods were looked at. Enter how many, as in 20.")
    if entry.kind == STRIP and entry.weight_kg is None:
        yield InputProblem("weight_kg", "Nothing was weighed. Enter what the strip weighs.")
    if entry.kind == WAIT and entry.lasted_s is None:
        yield InputProblem("lasted_s", "No wait was given. Enter its minutes, 0 for none.")
    if entry.kind in NAMED and not entry.name:
        yield InputProblem("name", "This entry names nothing and nobody. Enter the name.")
    if entry.kind == TIMED and not entry.text:
        yield InputProblem("text", "No time was given. Enter seconds, a car each, as in 14 12 15.")
    if entry.kind in (FELT, NOTE) and not entry.text:
        yield InputProblem("text", "There is no text. Write it, or leave the entry out.")


def check_problems(check: CheckItem) -> Iterable[InputProblem]:
    """Why a check of a list can't be, though each of its fields can."""
    if len(check.how) > LONGEST_TEXT:
        sentence = "The text is too long. Enter at most {most} characters."
        yield InputProblem("how", sentence, {"most": LONGEST_TEXT})
    if not check.name:
        yield InputProblem("name", "A check needs a name. Enter what is looked at.")
    if (check.low, check.high) != (None, None) and not check.unit:
        sentence = "A range without a unit says nothing. Enter the unit of the reading, as in mm."
        yield InputProblem("unit", sentence)
    if check.low is not None and check.high is not None and check.low > check.high:
        sentence = "“{name}” has a range from {low} to {high}. Swap them."
        filling = {"name": check.name, "low": check.low, "high": check.high}
        yield InputProblem("low", sentence, filling)


# ---- the books -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Book:
    """A book: its rows, each kind with what else than its shape can be wrong with one by itself.

    Attributes:
        part: where a `SiteData` has it.
        story: where the rows of a site, each fine alone, don't fit one another.
    """

    part: str
    rows: Mapping[AnyRows, Check | None]
    story: Callable[[SiteData], Iterable[InputProblem]] | None = None

    def problems(self, data: SiteData, today: date | None = None) -> list[InputProblem]:
        """Every reason why a site's book can't be; with `today` also what lies in the future."""
        found: list[InputProblem] = []
        for rows, check in self.rows.items():
            items = rows.of(data)
            found += rows.problems(items, today)
            found += (p for item in items for p in check(item)) if check else ()
        return found or self._told_together(data)

    def _told_together(self, data: SiteData) -> list[InputProblem]:
        """Where rows that are fine together don't fit one another."""
        return list(self.story(data)) if self.story else []

    def in_order(self, data: SiteData) -> SiteData:
        """A site with the rows of this book in order."""
        for rows in self.rows:
            data = rows.into(data, rows.of(data))
        return data

    def read(
        self, files: Mapping[str, bytes | None], data: SiteData
    ) -> tuple[SiteData, Problems, Problems]:
        """A site with this book of its files, any of which may be missing; nothing raises.

        Returns:
            The site with the good lines, every problem with file and line, and notes.
        """
        problems: list[InputProblem] = []
        notes: list[InputProblem] = []
        for rows, check in self.rows.items():
            items, bad, told = read_rows(rows, files.get(rows.file), check)
            data = rows.into(data, items)
            problems += bad
            notes += told
        if not problems:
            last = list(self.rows)[-1].file
            kept = [p for rows in self.rows for p in rows.together(rows.of(data))]
            problems = [replace(p, where=last) for p in kept or self._told_together(data)]
        return data, tuple(problems), tuple(notes)


BOOKS: dict[str, Book] = {
    book.part: book
    for book in (
        Book("weighings", {WEIGHED: weighing_problems}),
        Book("cloth", {SETS: None, EVENTS: event_problems}, cloth_story),
        Book("staff", {PEOPLE: person_problems, SHIFTS: shift_problems}),
        Book("checks", {CHECKS: check_problems}),
        Book("log", {LOG: entry_problems}),
    )
}
"""Every book by the part of a `SiteData` that has it."""

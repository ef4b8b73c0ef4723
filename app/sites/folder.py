"""A site as a folder, the same both ways: `site.toml`, every fault named by its line, and files of
its past and its books beside it.
"""

from __future__ import annotations

import itertools
import re
import stat
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

from app.books import BOOKS, csv_of
from app.files.csv_table import LIMIT_BYTES, PROBLEMS_SHOWN, line_of, too_large
from app.files.hourly import counts_csv, iso_date, read_counts, read_weather, weather_csv
from app.sites.checks import check_storable
from app.sites.differences import head_of
from sim.checks import or_refusal
from sim.errors import InputError, InputProblem, nearest, quoted
from sim.inputs import (
    CLASS_INPUTS,
    DAY_KINDS,
    DEFAULT_CLASSES,
    GROUP_INPUTS,
    GROUP_OF,
    INPUTS,
    KEPT,
    LISTS,
    NOTED,
    ClassNumbers,
    DayNote,
    Entry,
    History,
    Site,
    SiteData,
    Value,
    VehicleClass,
    unknown_input,
)
from sim.units import BY_NAME, SYSTEMS, parse_clock, show_clock

FILE = "site.toml"
COUNTS_FILE = "counts.csv"
WEATHER_FILE = "weather.csv"


@dataclass(frozen=True, slots=True)
class FolderPreview:
    """What a folder holds: as much of the site as could be read, every problem, and notes."""

    data: SiteData
    problems: tuple[InputProblem, ...]
    notes: tuple[InputProblem, ...]


def read_folder(path: Path) -> SiteData:
    """The site that a folder holds. All but `site.toml` may be missing.

    Raises:
        InputError: with every problem of the files at once, each with file and line.
    """
    preview = look_into(path)
    if preview.problems:
        raise InputError(preview.problems)
    return preview.data


def look_into(path: Path) -> FolderPreview:
    """As `read_folder`, but problems are told instead of raised, and with notes on what is fine."""
    problems: list[InputProblem] = []
    raw = _read(path, FILE, problems)
    if raw is None:
        if not problems:
            sentence = "The folder {path} has no site.toml. A site is a folder with that file."
            if not path.is_dir():
                sentence = "There is no folder {path}. A site is a folder with a site.toml."
            problems.append(InputProblem("file", sentence, {"path": str(path)}, FILE))
        return FolderPreview(SiteData(Site(name="?")), tuple(problems), ())
    data, found = read_site_text(raw)
    problems += found
    notes: list[InputProblem] = []
    site = data.site
    # With a time zone that can't be used the hourly files are looked at all the same.
    bad_zone = any(p.field == "timezone" for p in check_storable(site))
    timezone = "UTC" if bad_zone else site.timezone
    history = data.history
    counts_raw = _read(path, COUNTS_FILE, problems)
    if counts_raw is not None:
        counts = read_counts(counts_raw, timezone, site.line.open_h, site.line.close_h)
        problems += counts.problems
        notes += counts.notes
        counted, hours = counts.history.counted, counts.history.counts
        history = replace(history, counted=counted, counts=hours)
    weather_raw = _read(path, WEATHER_FILE, problems)
    if weather_raw is not None:
        weather = read_weather(weather_raw, timezone, site.drying.pressure_pa)
        problems += weather.problems
        notes += weather.notes
        history = replace(history, weather=weather.history.weather)
    data = replace(data, history=history)
    for book in BOOKS.values():
        files = {rows.file: _read(path, rows.file, problems) for rows in book.rows}
        data, bad, told = book.read(files, data)
        problems += bad
        notes += told
    return FolderPreview(data, tuple(problems), tuple(notes))


def write_folder(path: Path, data: SiteData) -> None:
    """Writes a site as a folder, made if it is not there; its files are replaced.

    Raises:
        InputError: if the folder can't be written.
    """
    history, timezone = data.history, data.site.timezone
    texts = {
        FILE: site_text(data),
        COUNTS_FILE: counts_csv(history, timezone, by_hour=True),
        WEATHER_FILE: weather_csv(history, timezone, by_hour=True),
    }
    for rows in (*KEPT, *NOTED):
        items = rows.of(data)
        if items or (path / rows.file).exists():
            texts[rows.file] = csv_of(rows, items)
    try:
        path.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (path / name).write_bytes(text.encode("utf-8"))
    except OSError as fault:
        sentence = "The folder {path} can't be written: {fault}. Choose another one."
        filling = {"path": str(path), "fault": fault.strerror or "unknown"}
        raise InputError([InputProblem("file", sentence, filling)]) from fault


def _read(path: Path, name: str, problems: list[InputProblem]) -> bytes | None:
    """A file of the folder; None if it is not there, or with a problem if it can't be read."""
    try:
        # Looked at before it is opened, and never read to an end that may not come: a pipe waits
        # for somebody to write, and a link may lead to a device.
        found = (path / name).stat()
        if not stat.S_ISREG(found.st_mode) and not stat.S_ISDIR(found.st_mode):
            sentence = "This is no file with an end that could be read. Put a plain file there."
            problems.append(InputProblem("file", sentence, {}, name))
            return None
        with (path / name).open("rb") as file:
            raw = file.read(LIMIT_BYTES + 1)
        if len(raw) > LIMIT_BYTES:
            problems.append(too_large(max(found.st_size, len(raw)), name))
            return None
        return raw
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as fault:
        sentence = "The file can't be read: {fault}."
        filling = {"fault": fault.strerror or "unknown"}
        problems.append(InputProblem("file", sentence, filling, name))
        return None


# ---- the text of site.toml, read -----------------------------------------------------------------

Place = tuple[str, int, str]
"""Table ("" at the top), its number among tables of that name, and key ("" the table itself)."""


@dataclass(slots=True)
class TomlReading:
    """What has been understood so far."""

    lines: dict[Place, int]
    problems: list[InputProblem] = field(default_factory=list)

    @property
    def is_enough(self) -> bool:
        """Whether so much is wrong that the rest is looked at once this is mended."""
        return len(self.problems) > PROBLEMS_SHOWN

    def where(self, table: str, number: int, key: str) -> str:
        """File and line of a key, else of its table."""
        places = ((table, number, key), (table, number, ""), ("", 0, table))
        line = next((self.lines[place] for place in places if place in self.lines), None)
        return f"{FILE}, line {line}" if line else FILE

    def add(self, place: Place, name: str, sentence: str, /, **values: object) -> None:
        """Adds a problem about input `name` at a place of the file."""
        self.problems.append(InputProblem(name, sentence, values, self.where(*place)))


def _syntax_problem(fault: str, text: str) -> InputProblem:
    """What is said of a file that is not TOML, from what the parser said of it."""
    match = re.search(r"^(.*?) \(at (?:line (\d+), column \d+|end of document)\)$", fault)
    what = quoted(match.group(1) if match else fault, 120)
    line = match.group(2) if match else None
    at = line or str(text.rstrip("\n").count("\n") + 1)
    sentence = (
        "The file can't be read: {fault}. A line is a name, an equals sign and a value; text "
        "stands in quotation marks, decimals have a point."
    )
    filling = {"fault": what[:1].lower() + what[1:]}
    return InputProblem("file", sentence, filling, f"{FILE}, line {at}")


MOST_CHARACTERS = 1_000_000
"""Bytes of a `site.toml`; thirty years of marked days take half as much."""
MOST_POINTS = 32
"""Points between two other marks of a line: the parser's work grows with the square of the parts
of a name, and no name here has more than two."""
_MARKS = str.maketrans(dict.fromkeys(",[]{}#", "="))


def _size_problem(text: str) -> InputProblem | None:
    """What is said of a text that would take long to read; None for any other."""
    if len(text) > MOST_CHARACTERS:
        sentence = "The file has {count} characters; at most {most} can be read."
        filling = {"count": f"{len(text):,}", "most": f"{MOST_CHARACTERS:,}"}
        return InputProblem("file", sentence, filling, FILE)
    for at, line in enumerate(text.split("\n"), 1):
        if any(part.count(".") > MOST_POINTS for part in line.translate(_MARKS).split("=")):
            sentence = "“{line}” holds too many points. Write a name and its value on a line."
            return InputProblem("file", sentence, {"line": quoted(line)}, f"{FILE}, line {at}")
    return None


_TABLE = re.compile(r"\s*\[\[?\s*\"?([A-Za-z0-9_\-]+)\"?\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"\s*\"?([A-Za-z0-9_\-]+)\"?\s*(?:\.\s*\"?([A-Za-z0-9_\-]+)\"?\s*)?=")


def _key_lines(text: str) -> dict[Place, int]:
    """Where each table and key stands, found by looking at how lines begin."""
    lines: dict[Place, int] = {}
    table, number = "", 0
    begun: Counter[str] = Counter()
    for at, line in enumerate(text.split("\n"), 1):
        head = _TABLE.match(line)
        if head:
            table = head.group(1)
            number = begun[table]
            begun[table] += 1
            lines[table, number, ""] = at
            continue
        key = _KEY.match(line)
        if key and key.group(2) and table == "":
            lines.setdefault((key.group(1), 0, key.group(2)), at)
        if key:
            lines.setdefault((table, number, key.group(1)), at)
    return lines


def text_of(reading: TomlReading, place: Place, value: object, default: str) -> str:
    """A text; the default if there is none, or, with its problem noted, something else."""
    if isinstance(value, str):
        return value
    if value is not None:
        sentence = "{name} {value} is not text. Put it in quotation marks."
        reading.add(place, place[2], sentence, name=place[2], value=shown(value))
    return default


def value_of(reading: TomlReading, place: Place, row: Entry, value: object) -> Value | None:
    """The value of one input; None, with its problems noted, if it can't be used."""
    read: Value | None = None
    found: list[InputProblem] = []
    try:
        read = _shape(row, value)
    except InputError as fault:
        found = list(fault.problems)
    except ValueError as fault:
        sentence = "{label} {value}: {fault}"
        filling = {"label": row.label, "value": shown(value), "fault": str(fault)}
        found = [InputProblem(row.name, sentence, filling)]
    else:
        open_ = isinstance(value, str) and not value.strip()
        found = row.problems(read) if open_ else row.typed_problems(read)
    if isinstance(value, str) and found:
        found = list(or_refusal(row.name, value, found))
    reading.problems += [replace(p, where=reading.where(*place)) for p in found]
    return None if found else read


def _shape(row: Entry, value: object) -> Value:
    if isinstance(value, str):
        # With a unit or as a timetable in words if need be.
        return row.parse(value, BY_NAME)
    if row.kind in ("choice", "words", "address"):
        raise ValueError(f"put the {row.kind} in quotation marks.")
    if row.kind == "steps":
        return _steps(value)
    if row.kind in LISTS:
        if not isinstance(value, list):
            raise ValueError("write a list of numbers, as in [41, 38.5, 52].")
        return tuple(_float(x) for x in value)
    if row.kind == "flag":
        if not isinstance(value, bool):
            raise ValueError("write true or false.")
        return value
    number = _float(value)
    return int(number) if row.kind == "whole" and number.is_integer() else number


def _steps(value: object) -> Value:
    if not isinstance(value, list):
        return ((0.0, _float(value)),)
    rows: list[tuple[float, float]] = []
    for item in value:
        if not isinstance(item, list) or len(item) != 2:
            raise ValueError('write rows of time and value, as in [["0:00", 2], ["11:00", 3]].')
        moment, amount = item
        start = parse_clock(moment) if isinstance(moment, str) else _float(moment)
        rows.append((start, _float(amount)))
    starts = [start for start, _ in rows]
    follow = all(a < b for a, b in itertools.pairwise(starts))
    if starts and (starts[0] != 0.0 or not follow or starts[-1] > 86_400.0):
        raise ValueError("the times must begin at 0:00 and follow one another, up to 24:00.")
    return tuple(rows)


def _float(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("write a number.")
    try:
        return float(value)
    except OverflowError:
        raise ValueError("that is too large a number.") from None


def shown(value: object) -> str:
    """A value as messages repeat it: at most 60 characters, text in quotation marks."""
    return quoted(f"“{value}”" if isinstance(value, str) else str(value), 60)


TEXTS = {"name": "?", "timezone": "UTC", "units": "us", "reference_class": "sedan", "stands_on": ""}
"""Texts at the top of the file, with what stands in for one that is not there."""
DAY_KEYS = ("date", "kind", "note")
TOP_KEYS = (*TEXTS, *GROUP_INPUTS, "vehicle", "day")
VEHICLE_KEYS = ("key", "label", *CLASS_INPUTS)


def read_site_text(raw: bytes) -> tuple[SiteData, tuple[InputProblem, ...]]:
    """The site without counts and weather, and every problem of the file with its line.

    Where a value can't be used the default stands in, so that the rest can be looked at.
    """
    empty = SiteData(Site(name="?"))
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        sentence = "The file is not UTF-8 text. Save it as UTF-8."
        return empty, (InputProblem("file", sentence, {}, FILE),)
    too_much = _size_problem(text)
    if too_much is not None:
        return empty, (too_much,)
    try:
        tree = tomllib.loads(text)
    except (ValueError, RecursionError) as fault:  # also numbers and nesting beyond all measure
        return empty, (_syntax_problem(str(fault), text),)
    reading = TomlReading(_key_lines(text))
    if type(tree.get("stands_on")) is date:
        tree["stands_on"] = str(tree["stands_on"])
    texts = {
        key: text_of(reading, ("", 0, key), tree.get(key), default)
        for key, default in TEXTS.items()
    }
    if "name" not in tree:
        sentence = 'The site has no name. Begin the file with one, as in name = "Harbor Road".'
        reading.add(("", 0, "name"), "name", sentence)
    for key in tree:
        if key not in TOP_KEYS and not reading.is_enough:
            _unknown_top(reading, key)
    values = dict(_group_values(reading, tree))
    vehicles = _vehicles(reading, tree.get("vehicle"))
    days = _days(reading, tree.get("day"))
    site = Site(
        name=texts["name"],
        timezone=texts["timezone"],
        vehicles=vehicles or DEFAULT_CLASSES,
        reference_class=texts["reference_class"],
    ).with_values(values)
    units = texts["units"]
    if units not in SYSTEMS:
        sentence = 'units “{value}” are not known. Write "us" or "si".'
        reading.add(("", 0, "units"), "units", sentence, value=units)
    stands_on = iso_date(texts["stands_on"])
    if texts["stands_on"] and stands_on is None:
        sentence = "stands_on {value} is not a date. Write year-month-day, as in 2026-07-18."
        reading.add(("", 0, "stands_on"), "stands_on", sentence, value=shown(texts["stands_on"]))
    _add_checks(reading, site)
    given = frozenset(name for name, value in values.items() if not INPUTS[name].is_open(value))
    data = SiteData(site, units, given, History(days=days), stands_on=stands_on)
    problems = sorted(reading.problems, key=line_of)
    if reading.is_enough:
        sentence = "There may be more to mend; it is told once this is."
        problems = [*problems[:PROBLEMS_SHOWN], InputProblem("file", sentence, {}, FILE)]
    return data, tuple(problems)


def _unknown_top(reading: TomlReading, key: str) -> None:
    table = (key, 0, "") if (key, 0, "") in reading.lines else ("", 0, key)
    if key in INPUTS:
        sentence = "“{name}” stands outside its table. Put it under [{group}]."
        reading.add(table, key, sentence, name=key, group=GROUP_OF[key])
        return
    near = nearest(key, TOP_KEYS)
    sentence = "“{name}” is no part of this file; it may have {known}."
    if near:
        sentence = "“{name}” is no part of this file. Did you mean {near}?"
    reading.add(
        table, key, sentence, name=key, known=", ".join(TOP_KEYS), near=near[0] if near else ""
    )


def _group_values(reading: TomlReading, tree: Mapping[str, object]) -> Iterator[tuple[str, Value]]:
    for group, rows in GROUP_INPUTS.items():
        table = tree.get(group, {})
        if not isinstance(table, dict):
            sentence = "“{name}” must be a table: a line [{name}] and its inputs below."
            reading.add(("", 0, group), group, sentence, name=group)
            continue
        for name, value in table.items():
            place = (group, 0, name)
            if reading.is_enough:
                return
            if name in rows:
                read = value_of(reading, place, rows[name], value)
                if read is not None:
                    yield name, read
            elif name in INPUTS:
                sentence = "“{name}” stands in the wrong table. Put it under [{group}]."
                reading.add(place, name, sentence, name=name, group=GROUP_OF[name])
            else:
                reading.problems.append(unknown_input(name, reading.where(*place)))


def _tables(
    reading: TomlReading, name: str, found: object, keys: Sequence[str]
) -> Iterator[tuple[int, dict[str, object]]]:
    """Each table of an array of tables, unknown keys noted."""
    if found is None:
        return
    if not isinstance(found, list) or not all(isinstance(item, dict) for item in found):
        sentence = "“{name}” must be written as tables, each begun by a line [[{name}]]."
        place = (name, 0, "") if (name, 0, "") in reading.lines else ("", 0, name)
        reading.add(place, name, sentence, name=name)
        return
    for number, item in enumerate(found):
        if reading.is_enough:
            return
        for key in item:
            if key not in keys and not reading.is_enough:
                near = nearest(key, keys)
                sentence = "“{name}” is no part of a [[{table}]]; it may have {known}."
                if near:
                    sentence = "“{name}” is no part of a [[{table}]]. Did you mean {near}?"
                known = ", ".join(keys)
                reading.add(
                    (name, number, key), key, sentence,
                    name=key, table=name, known=known, near=near[0] if near else "",
                )  # fmt: skip
        yield number, item


def _vehicles(reading: TomlReading, found: object) -> tuple[VehicleClass, ...]:
    vehicles = []
    for number, item in _tables(reading, "vehicle", found, VEHICLE_KEYS):
        for needed in ("key", "share"):
            if needed not in item:
                sentence = "This [[vehicle]] has no {name}. Every class needs key and share."
                reading.add(("vehicle", number, ""), f"vehicle.{needed}", sentence, name=needed)
        key = text_of(reading, ("vehicle", number, "key"), item.get("key"), "")
        label = text_of(reading, ("vehicle", number, "label"), item.get("label"), key)
        numbers: dict[str, float] = {}
        for name, row in CLASS_INPUTS.items():
            if name in item:
                read = value_of(reading, ("vehicle", number, name), row, item[name])
                if isinstance(read, float):
                    numbers[name] = read
        vehicles.append(VehicleClass(key, label, ClassNumbers(**numbers)))
    return tuple(vehicles)


def _days(reading: TomlReading, found: object) -> tuple[DayNote, ...]:
    days: list[DayNote] = []
    seen: dict[tuple[date, str], int] = {}
    for number, item in _tables(reading, "day", found, DAY_KEYS):
        day, kind = item.get("date"), item.get("kind")
        if isinstance(day, str) or type(day) is date:
            day = iso_date(str(day))
        if isinstance(day, datetime) or not isinstance(day, date):
            sentence = "date {value} is not a date. Write year-month-day, as in 2026-07-18."
            place = ("day", number, "date")
            reading.add(place, "date", sentence, value=shown(item.get("date", "")))
            continue
        if kind not in DAY_KINDS:
            sentence = 'kind {value} is not known. Write "closed", "event" or "total".'
            reading.add(("day", number, "kind"), "kind", sentence, value=shown(kind or ""))
            continue
        if (day, kind) in seen:
            sentence = "{day} is marked {kind} on line {line} already. Mark it once."
            line = reading.lines.get(("day", seen[day, kind], ""), "?")
            reading.add(("day", number, ""), "date", sentence, day=str(day), kind=kind, line=line)
            continue
        seen[day, str(kind)] = number
        note = text_of(reading, ("day", number, "note"), item.get("note"), "")
        days.append(DayNote(day, str(kind), note))
    return tuple(sorted(days))


def _add_checks(reading: TomlReading, site: Site) -> None:
    """Rules that join inputs, each at the line of the input it is about."""
    told = {p.field for p in reading.problems}
    for p in check_storable(site):
        place = _place_of(p.field, site)
        if p.field in told or place[2] in told:
            continue
        reading.problems.append(replace(p, where=reading.where(*place)))


def _place_of(name: str, site: Site) -> Place:
    if name.startswith("vehicle."):
        _, key, part = name.split(".", 2)
        keys = [item.key for item in site.vehicles]
        return "vehicle", keys.index(key) if key in keys else 0, part
    if name == "vehicles":
        return "vehicle", 0, ""
    return GROUP_OF.get(name, ""), 0, name


# ---- and written ---------------------------------------------------------------------------------

_HEAD = """\
# A site as Clothcast keeps it; the guide has a page on this file.
# Numbers are in the unit that ends their name, shares are 0 to 1. What is left out has its default.
"""


def site_text(data: SiteData) -> str:
    """The text of `site.toml`; reading it gives the same site, to the last bit.

    Only inputs that were given are written. One that differs from its default without being
    marked as given is written too, so that no value is lost.
    """
    site, head = data.site, head_of(data)
    keys = (key for key in TEXTS if head[key] or key != "stands_on")
    parts = [_HEAD + "".join(f"{key} = {_toml(head[key])}\n" for key in keys)]
    for group, rows in GROUP_INPUTS.items():
        lines = []
        for name, row in rows.items():
            value = site.value(name)
            if name in data.given or value != row.default:
                lines.append(f"{name} = {_value_text(row, value)}\n")
        if lines:
            parts.append(f"[{group}]\n" + "".join(lines))
    if site.vehicles != DEFAULT_CLASSES:
        parts += [_vehicle_text(item) for item in site.vehicles]
    for note in data.history.days:
        lines = [f"date = {note.day.isoformat()}\n", f"kind = {_toml(note.kind)}\n"]
        if note.note:
            lines.append(f"note = {_toml(note.note)}\n")
        parts.append("[[day]]\n" + "".join(lines))
    return "\n".join(parts)


def _vehicle_text(item: VehicleClass) -> str:
    lines = [f"key = {_toml(item.key)}\n", f"label = {_toml(item.label)}\n"]
    lines += [f"{name} = {_toml(getattr(item.numbers, name))}\n" for name in CLASS_INPUTS]
    return "[[vehicle]]\n" + "".join(lines)


def _value_text(row: Entry, value: Value) -> str:
    if row.kind == "steps" and isinstance(value, tuple):
        cells = [f"[{_moment(r[0])}, {_toml(r[1])}]" for r in value if isinstance(r, tuple)]
        return "[" + ", ".join(cells) + "]"
    if row.kind in LISTS and isinstance(value, tuple):
        return "[" + ", ".join(_toml(x) for x in value) + "]"
    return _toml(value)


def _moment(seconds: float) -> str:
    """A time of day as text; seconds as a number where it is not a full minute."""
    return _toml(show_clock(seconds)) if seconds % 60.0 == 0.0 else _toml(seconds)


_ESCAPES = str.maketrans(
    {chr(code): f"\\u{code:04X}" for code in (*range(32), 127)}
    | {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r", '"': '\\"', "\\": "\\\\"}
)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value).removesuffix(".0")
    return f'"{str(value).translate(_ESCAPES)}"'

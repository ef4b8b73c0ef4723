"""Reads the text of `site.toml` and names everything that is wrong with the line it stands on."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime

from app.files.csv_table import PROBLEMS_SHOWN, line_of
from app.sites.checks import check_storable
from app.sites.toml_reading import (
    Place,
    Reading,
    iso_date,
    key_lines,
    shown,
    size_problem,
    syntax_problem,
    text_of,
    value_of,
)
from sim.errors import InputProblem, nearest
from sim.inputs import (
    CLASS_INPUTS,
    DEFAULT_CLASSES,
    GROUP_INPUTS,
    INPUTS,
    ClassNumbers,
    DayNote,
    History,
    Site,
    SiteData,
    Value,
    VehicleClass,
    unknown_input,
)
from sim.units import SYSTEMS

FILE = "site.toml"
TEXTS = {"name": "?", "timezone": "UTC", "units": "us", "reference_class": "sedan"}
"""Texts at the top of the file, with what stands in for one that is not there."""
DAY_KEYS = ("date", "kind", "note")
DAY_KINDS = ("closed", "event")
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
    too_much = size_problem(text, FILE)
    if too_much is not None:
        return empty, (too_much,)
    try:
        tree = tomllib.loads(text)
    except (ValueError, RecursionError) as fault:  # also numbers and nesting beyond all measure
        return empty, (syntax_problem(str(fault), text, FILE),)
    reading = Reading(FILE, key_lines(text))
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
    _add_checks(reading, site)
    given = frozenset(name for name, value in values.items() if not INPUTS[name].is_open(value))
    data = SiteData(site, units, given, History(days=days))
    problems = sorted(reading.problems, key=line_of)
    if reading.is_enough:
        sentence = "There may be more to mend; it is told once this is."
        problems = [*problems[:PROBLEMS_SHOWN], InputProblem("file", sentence, {}, FILE)]
    return data, tuple(problems)


def _unknown_top(reading: Reading, key: str) -> None:
    table = (key, 0, "") if (key, 0, "") in reading.lines else ("", 0, key)
    group = next((g for g, rows in GROUP_INPUTS.items() if key in rows), None)
    if group:
        sentence = "“{name}” stands outside its table. Put it under [{group}]."
        reading.add(table, key, sentence, name=key, group=group)
        return
    near = nearest(key, TOP_KEYS)
    sentence = "“{name}” is no part of this file; it may have {known}."
    if near:
        sentence = "“{name}” is no part of this file. Did you mean {near}?"
    reading.add(
        table, key, sentence, name=key, known=", ".join(TOP_KEYS), near=near[0] if near else ""
    )


def _group_values(reading: Reading, tree: Mapping[str, object]) -> Iterator[tuple[str, Value]]:
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
                home = next(g for g, names in GROUP_INPUTS.items() if name in names)
                sentence = "“{name}” stands in the wrong table. Put it under [{group}]."
                reading.add(place, name, sentence, name=name, group=home)
            else:
                reading.problems.append(unknown_input(name, reading.where(*place)))


def _tables(
    reading: Reading, name: str, found: object, keys: Sequence[str]
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


def _vehicles(reading: Reading, found: object) -> tuple[VehicleClass, ...]:
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


def _days(reading: Reading, found: object) -> tuple[DayNote, ...]:
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
            sentence = 'kind {value} is not known. Write "closed" or "event".'
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


def _add_checks(reading: Reading, site: Site) -> None:
    """Rules that join inputs, each at the line of the input it is about."""
    told = {p.field for p in reading.problems}
    for p in check_storable(site):
        place = _place_of(p.field, site)
        if p.field in told or place[2] in told:
            continue
        reading.problems.append(InputProblem(p.field, p.sentence, p.values, reading.where(*place)))


def _place_of(name: str, site: Site) -> Place:
    if name.startswith("vehicle."):
        _, key, part = name.split(".", 2)
        keys = [item.key for item in site.vehicles]
        return "vehicle", keys.index(key) if key in keys else 0, part
    if name == "vehicles":
        return "vehicle", 0, ""
    group = next((g for g, rows in GROUP_INPUTS.items() if name in rows), "")
    return group, 0, name

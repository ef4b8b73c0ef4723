"""What was changed at a site or in a plan: any field, row or scenario, worded for the reader."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TypedDict, cast

from app.catalogue import _, short_date
from app.sites.differences import PlanChange
from app.sites.put_back import may_put_back
from app.sites.reading import Change
from app.sites.rule_forms import words_of
from app.words.cloth import reason_words
from app.words.numbers import amount
from app.words.phrases import moment
from app.words.weighings import NAMES, strip_when, strip_words
from sim.inputs import (
    EVENTS,
    HOODS_COUNTED,
    INPUTS,
    INSPECTED,
    LAUNDERED,
    PEOPLE,
    PUT_ON,
    SETS,
    SHIFTS,
    TAKEN_OFF,
    WEIGHED,
    WEIGHINGS,
    AnyRows,
    ClothEvent,
    Entry,
    PlannedShift,
    Scenario,
    Value,
    Weighing,
)
from sim.inputs.rows import Amount
from sim.units import NBSP, format_number, quantity, show_clock

FIELD_NAMES = {
    "name": "Name",
    "timezone": "Time zone",
    "units": "Units",
    "counted": "What was counted",
    "reference_class": "Reference class",
    "vehicles": "Vehicle classes",
    "counts": "Counts",
    "weather": "Weather",
}
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One change: when, who, what, from, to; `number` of one whose row can be put back, else 0."""

    when: str
    who: str
    what: str
    old: str
    new: str
    number: int


def history_row(
    change: Change, timezone: str, system: str, now: datetime | None = None
) -> HistoryRow:
    """A change in the reader's units, on the site's clock; with the moment it is told whether what
    it took away can be put back."""
    row = INPUTS.get(change.field)
    rows: AnyRows
    if row is not None:
        label = input_label(row, system)
        old, new = (input_text(row, value, system) for value in (change.old, change.new))
    elif change.what == WEIGHED.what:
        label = _("Weighing: {which}", which=_which(WEIGHED, change))
        old, new = (_weighing(value, system) for value in (change.old, change.new))
    elif change.what == SETS.what:
        held = change.new or change.old
        rows = EVENTS if isinstance(held, dict) and "kind" in held else SETS
        label = _("Cloth: {which}", which=_which(rows, change))
        old, new = (_cloth(rows, value, system) for value in (change.old, change.new))
    elif change.what in (PEOPLE.what, SHIFTS.what):
        rows, said = (SHIFTS, _shift) if change.what == SHIFTS.what else (PEOPLE, _person)
        label = _("Staff: {which}", which=_which(rows, change))
        old, new = said(change.old), said(change.new)
    elif _DAY.fullmatch(change.field):
        label = short_date(date.fromisoformat(change.field))
        old, new = _marks(change.old), _marks(change.new)
    else:
        label = _(FIELD_NAMES.get(change.field, change.field or change.what))
        old, new = _part(change.what, change.old), _part(change.what, change.new)
    number = change.id if now is not None and may_put_back(change, now) else 0
    return HistoryRow(moment(change.at, timezone), change.person, label, old, new, number)


def plan_words(change: PlanChange, system: str) -> str:
    """One thing that was changed in a plan, in a sentence."""
    name, part, old, new = change.scenario, change.part, change.old, change.new
    if part == "scenario":
        sentence = "“{name}” is new: {rule}." if isinstance(new, Scenario) else "“{name}” is gone."
        rule = words_of(new.rule) if isinstance(new, Scenario) else ""
        return _(sentence, name=name, rule=_(rule))
    if part == "name":
        return _("“{old}” is now called “{new}”.", old=old, new=new)
    if part == "order":
        names = [_("“{name}”", name=one) for one in cast("list[str]", new)]
        return _("Their order is now {names}.", names=", ".join(names))
    if part == "expect":
        was, now = (str(text) or _("as expected") for text in (old, new))
        return _("What you expect instead: {new} in place of {old}.", old=was, new=now)
    if part == "rule":
        label, was, now = _("Wiping rule"), _(words_of(str(old))), _(words_of(str(new)))
    elif part == "cloth":
        label, was, now = _("Dry set put on"), *(str(text) or _("none") for text in (old, new))
    else:
        row = INPUTS[part]
        label = input_label(row, system)
        was, now = (
            _("as the site") if value is None else input_text(row, value, system)
            for value in (old, new)
        )
    sentence = "“{name}”, {label}: {new} in place of {old}."
    return _(sentence, name=name, label=label, old=was, new=now)


def _which(rows: AnyRows, change: Change) -> str:
    """Which row of a book was changed, named as its page names it; or that it was their order."""
    held = change.new or change.old
    if not isinstance(held, dict):
        return _("order")
    row = rows.of_plain(held)
    if isinstance(row, Weighing):
        return f"{_(NAMES[row.kind])}, {strip_when(row)}"
    if isinstance(row, ClothEvent):
        what = {
            PUT_ON: _("{name} put on", name=row.name),
            TAKEN_OFF: _("{name} taken off", name=row.name),
            LAUNDERED: _("{name} laundered", name=row.name),
            INSPECTED: _("{name} looked at", name=row.name),
            HOODS_COUNTED: _("damp hoods counted under {name}", name=row.name),
        }
        return f"{what[row.kind]}, {short_date(row.day)}, {show_clock(row.at_s)}"
    return f"{row.name}, {short_date(row.day)}" if isinstance(row, PlannedShift) else str(row.name)


def input_label(row: Entry, system: str) -> str:
    """What an input is called, with its unit if it is a number."""
    symbol = _(row.unit.symbol(system)) if row.is_number else ""
    return f"{_(row.label)}, {symbol}" if symbol else _(row.label)


def input_text(row: Entry, value: object, system: str) -> str:
    """A value of an input, without its unit; None is its default."""
    if value is None:
        return _("default")
    if row.kind == "choice":
        return _(dict(row.choices).get(str(value), str(value)))
    if isinstance(value, list):
        value = tuple(tuple(cell) if isinstance(cell, list) else cell for cell in value)
    if row.is_open(value):
        return _(row.follows)
    return row.text(cast("Value", value), system) or _("nothing")


def _person(value: object) -> str:
    """Somebody, or the order of people, in short."""
    if value is None or isinstance(value, list):
        return ", ".join(value or "–")
    person = PEOPLE.of_plain(value)
    said = _(
        "{least:g}–{most:g} h at {wage:g}, away {times} times",
        least=person.least_h,
        most=person.most_h,
        wage=person.wage_per_h,
        times=len(person.away),
    )
    return "; ".join([*person.roles, said])


def _shift(value: object) -> str:
    if value is None:
        return "–"
    shift = SHIFTS.of_plain(value)
    return f"{show_clock(shift.start_s)}–{show_clock(shift.end_s)} {shift.role}".strip()


def _weighing(value: object, system: str) -> str:
    if value is None:
        return "–"
    item = WEIGHED.of_plain(value)
    if item.kind not in WEIGHINGS:
        return strip_words(item, system)[2]
    weights = (item.weight_kg, item.dry_kg)
    wet, dry = (quantity(weight, "small_mass", 4).show(system) for weight in weights)
    return _("{wet} wet, {dry} dry", wet=wet, dry=dry)


def _cloth(rows: AnyRows, value: object, system: str) -> str:
    """A set, an entry of its record or the order of sets: what is there besides what names it, each
    part under the label of its field in the form."""
    if not isinstance(value, dict):
        return ", ".join(value) if isinstance(value, list) else "–"
    row, told = rows.of_plain(value), []
    for name, cell in rows.cells.items():
        part = getattr(row, name)
        if name in rows.named or part in (None, ""):
            continue
        if isinstance(cell, Amount):
            part = amount(part, cell.unit, system, 4)
        elif isinstance(part, date):
            part = short_date(part)
        else:
            part = reason_words().get(part, part)
        told.append(_("{label}: {value}", label=_(cell.label), value=part))
    return "; ".join(told) or _("entered")


def _marks(marks: object) -> str:
    """Marks of a day: closed or event, each with its note."""
    words = {"closed": _("closed"), "event": _("event")}
    held = marks if isinstance(marks, list) else []
    said = [f"{words.get(kind, kind)}: {note}" if note else words[kind] for kind, note in held]
    return ", ".join(said) or _("no mark")


def _part(what: str, value: object) -> str:
    if value is None:
        return "–"
    if what == "vehicles":
        return _classes(cast("Sequence[_ClassTold]", value))
    if what in ("counts", "weather"):
        return _hours(cast("_HoursTold", value))
    return str(value)


class _ClassTold(TypedDict):
    """A vehicle class as the history holds it."""

    label: str
    numbers: dict[str, float]


class _HoursTold(TypedDict, total=False):
    """Hours as the history holds them: how many came and went, or which other ones there were."""

    hours: list[object]
    added: int
    changed: int
    removed: int
    first: str
    last: str


def _classes(classes: Sequence[_ClassTold]) -> str:
    shares = [
        f"{item['label']} {format_number(100.0 * item['numbers']['share'])}{NBSP}%"
        for item in classes
    ]
    return ", ".join(shares) or _("none")


def _hours(value: _HoursTold) -> str:
    """How many hours were stored, or how many older ones they replaced."""
    if "hours" in value:
        return _("{count} other hours", count=f"{len(value['hours']):,}")
    return _(
        "{added} hours added, {changed} changed, {removed} removed, {first} to {last}",
        added=f"{value['added']:,}",
        changed=f"{value['changed']:,}",
        removed=f"{value['removed']:,}",
        first=short_date(date.fromisoformat(value["first"])),
        last=short_date(date.fromisoformat(value["last"])),
    )

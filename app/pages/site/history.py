"""What was changed at a site, in words: when, who, what, before, after."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.catalogue import _, short_date
from app.sites.reading import Change
from app.words.phrases import moment
from sim.inputs import INPUTS, Entry
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
    """One change: when, who, what, from, to."""

    when: str
    who: str
    what: str
    old: str
    new: str


def history_row(change: Change, timezone: str, system: str) -> HistoryRow:
    """A change in the reader's units, on the site's clock."""
    row = INPUTS.get(change.field)
    if row is not None:
        symbol = _(row.unit.symbol(system)) if row.is_number else ""
        label = f"{_(row.label)}, {symbol}" if symbol else _(row.label)
        old, new = (_input_text(row, value, system) for value in (change.old, change.new))
    elif change.what == "weighing":
        label = _("Weighing {which}", which=change.field)
        old, new = (_weighing(value, system) for value in (change.old, change.new))
    elif change.what == "cloth":
        label = _("Cloth: {which}", which=change.field)
        old, new = _cloth(change.old), _cloth(change.new)
    elif change.what == "staff":
        label = _("Staff: {which}", which=change.field)
        old, new = _staff(change.old), _staff(change.new)
    elif _DAY.fullmatch(change.field):
        label = short_date(date.fromisoformat(change.field))
        old, new = _marks(change.old), _marks(change.new)
    else:
        label = _(FIELD_NAMES.get(change.field, change.field or change.what))
        old, new = _part(change.what, change.old), _part(change.what, change.new)
    return HistoryRow(moment(change.at, timezone), change.person, label, old, new)


def _input_text(row: Entry, value: Any, system: str) -> str:
    if value is None:
        return _("default")
    if row.kind == "choice":
        return _(dict(row.choices).get(str(value), str(value)))
    if isinstance(value, list):
        value = tuple(tuple(cell) if isinstance(cell, list) else cell for cell in value)
    if row.is_open(value):
        return _(row.follows)
    return row.text(value, system) or _("nothing")


def _staff(value: Any) -> str:
    """Somebody, a shift or the order of people, in short."""
    if value is None:
        return "–"
    if isinstance(value, list):
        return ", ".join(value)
    if "start_s" in value:
        clocks = f"{show_clock(value['start_s'])}–{show_clock(value['end_s'])}"
        return f"{clocks} {value['role']}".strip()
    said = _(
        "{least:g}–{most:g} h at {wage:g}, away {times} times",
        least=value["least_h"],
        most=value["most_h"],
        wage=value["wage_per_h"],
        times=len(value["away"]),
    )
    return "; ".join([*value["roles"], said])


def _weighing(value: Any, system: str) -> str:
    if value is None:
        return "–"
    weights = (value["weight_kg"], value["dry_kg"])
    wet, dry = (quantity(weight, "small_mass", 4).show(system) for weight in weights)
    return _("{wet} wet, {dry} dry", wet=wet, dry=dry)


def _cloth(value: Any) -> str:
    """A set or an entry of its record: what stands there besides its name and time."""
    if value is None:
        return "–"
    named = {"name", "day", "at_s", "kind"}
    told = [f"{key} {v}" for key, v in value.items() if key not in named and v not in (None, "")]
    return ", ".join(told) or _("entered")


def _marks(marks: Sequence[Sequence[str]] | None) -> str:
    """Marks of a day: closed or event, each with its note."""
    words = {"closed": _("closed"), "event": _("event")}
    said = [
        f"{words.get(kind, kind)}: {note}" if note else words[kind] for kind, note in marks or ()
    ]
    return ", ".join(said) or _("no mark")


def _part(what: str, value: Any) -> str:
    if value is None:
        return "–"
    if what == "vehicles":
        return _classes(value)
    if what in ("counts", "weather"):
        return _hours(value)
    return str(value)


def _classes(classes: Sequence[dict[str, Any]]) -> str:
    shares = [
        f"{item['label']} {format_number(100.0 * item['numbers']['share'])}{NBSP}%"
        for item in classes
    ]
    return ", ".join(shares) or _("none")


def _hours(value: dict[str, Any]) -> str:
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

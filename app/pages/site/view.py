"""The Site page: every input in its group, vehicle classes, name, units, what was changed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TypedDict, cast

from app.catalogue import _, say, short_date
from app.pages.cautions import Notice, of_group
from app.pages.fields import FieldView, Summary, field_id, input_field, summary
from app.pages.forms import Typed, messages_by_field
from app.sites.reading import Change, StoredSite
from app.words.phrases import moment
from sim.errors import InputProblem
from sim.inputs import (
    CLASS_INPUTS,
    GROUP_INPUTS,
    GROUPS,
    INPUTS,
    PEOPLE,
    SETS,
    SHIFTS,
    WEIGHED,
    Entry,
    Value,
    VehicleClass,
)
from sim.units import NBSP, SYSTEMS, format_number, quantity, show_clock

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
    elif change.what == WEIGHED.what:
        label = _("Weighing {which}", which=change.field)
        old, new = (_weighing(value, system) for value in (change.old, change.new))
    elif change.what == SETS.what:
        label = _("Cloth: {which}", which=change.field)
        old, new = _cloth(change.old), _cloth(change.new)
    elif change.what in (PEOPLE.what, SHIFTS.what):
        label = _("Staff: {which}", which=change.field)
        said = _shift if change.what == SHIFTS.what else _person
        old, new = said(change.old), said(change.new)
    elif _DAY.fullmatch(change.field):
        label = short_date(date.fromisoformat(change.field))
        old, new = _marks(change.old), _marks(change.new)
    else:
        label = _(FIELD_NAMES.get(change.field, change.field or change.what))
        old, new = _part(change.what, change.old), _part(change.what, change.new)
    return HistoryRow(moment(change.at, timezone), change.person, label, old, new)


def _input_text(row: Entry, value: object, system: str) -> str:
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
    weights = (item.weight_kg, item.dry_kg)
    wet, dry = (quantity(weight, "small_mass", 4).show(system) for weight in weights)
    return _("{wet} wet, {dry} dry", wet=wet, dry=dry)


def _cloth(value: object) -> str:
    """A set, an entry of its record or the order of sets: what is there besides name and time."""
    if not isinstance(value, dict):
        return ", ".join(value) if isinstance(value, list) else "–"
    named = {"name", "day", "at_s", "kind"}
    told = [f"{key} {v}" for key, v in value.items() if key not in named and v not in (None, "")]
    return ", ".join(told) or _("entered")


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


GROUP_NOTES = {
    "line": "When the site is open, how fast the belt runs and how the cars follow one another.",
    "pay": "How long paying and loading take, who waits how long, how many cars may wait.",
    "water": "What is still on the car when it reaches the wheel.",
    "wiping": "How much of it the cloth takes, and from where on a car counts as damp.",
    "wheel": "The wheel, its strips, what they hold and how they throw it off.",
    "drying": "The air around the cloth, open and at night.",
    "wear": "How long cloth lives, how many sets there are, what a change takes.",
    "stock": "New sets in store and on order, deliveries, what an order and keeping a set cost.",
    "crew": "Who is there, and the work of each car.",
    "money": "Prices and costs of your own; they weigh one thing against another.",
    "wishes": "How many damp cars you allow, and from where on a difference matters to you.",
    "shifts": "Limits on shifts and hours for the roster. Check them against local labour law.",
    "degraded": "What the line does while a sensor that only shapes the wiping is down.",
}


@dataclass(frozen=True, slots=True)
class Hidden:
    """What travels with every form of the page, unseen."""

    version: int
    request_key: str
    units: str


@dataclass(frozen=True, slots=True)
class GroupView:
    """A group of inputs as one form."""

    key: str
    heading: str
    note: str
    yours: str
    fields: tuple[FieldView, ...]
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class ClassColumn:
    """A vehicle class as a column of the table."""

    key: str
    label: FieldView
    cells: tuple[FieldView, ...]
    removed: bool


@dataclass(frozen=True, slots=True)
class VehicleTable:
    """The vehicle classes: a row an input, a column a class.

    Attributes:
        rows: label and unit of each row.
        reference: field that chooses the class that damp limit and wear are stated for.
        messages: problems of the table as a whole.
    """

    rows: tuple[tuple[str, str], ...]
    columns: tuple[ClassColumn, ...]
    reference: FieldView
    messages: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SitePage:
    """The Site page; `done` is said beside the part that was stored, where the reader is."""

    slug: str
    answer: str
    sure: str
    done: str
    done_part: str
    stale: str
    summary: Summary | None
    hidden: Hidden
    identity: tuple[FieldView, ...]
    groups: tuple[GroupView, ...]
    vehicles: VehicleTable
    history: tuple[HistoryRow, ...]
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True)
class ClassesTyped:
    """Vehicle classes as a form holds them.

    Attributes:
        classes: keys and stored numbers of the columns, new ones included.
        labels: what was typed as name of each class, by key.
        removed: keys whose box "remove" was ticked.
        reference: key chosen as reference class.
    """

    classes: tuple[VehicleClass, ...]
    labels: Mapping[str, str]
    removed: frozenset[str]
    reference: str


@dataclass(frozen=True, slots=True)
class RejectedForm:
    """A form that could not be stored and is drawn again, or nothing at all.

    Attributes:
        part: key of the group, "vehicles" or "identity".
        stale: sentence about what somebody else stored meanwhile.
        units: units that the form was typed in.
    """

    part: str = ""
    typed: Typed = field(default_factory=Typed)
    problems: Sequence[InputProblem] = ()
    classes: ClassesTyped | None = None
    stale: str = ""
    units: str = ""


def vehicle_rows(classes: Sequence[VehicleClass]) -> dict[str, Entry]:
    """The inputs of every class under the names of their fields."""
    return {
        f"vehicle.{item.key}.{name}": row for item in classes for name, row in CLASS_INPUTS.items()
    }


def site_page(
    stored: StoredSite,
    changes: Sequence[Change],
    request_key: str,
    *,
    done: str = "",
    done_part: str = "",
    returned: RejectedForm | None = None,
) -> SitePage:
    """Fills the Site page; `returned` is a form that could not be stored."""
    back = returned or RejectedForm()
    data = stored.data
    system = back.units if back.units in SYSTEMS else data.units
    faults = messages_by_field(back.problems)
    own, guesses = _own_and_guesses(data.given)
    return SitePage(
        slug=stored.slug,
        answer=_answer(own, guesses),
        sure=_(
            "Every number has a default that makes the model behave sensibly; none was measured "
            "at your site. What you enter replaces it in every plan from then on."
        ),
        done=done,
        done_part=done_part,
        stale=back.stale,
        summary=summary(back.problems, system, {"vehicles": "#vehicles"}),
        hidden=Hidden(stored.version, request_key, system),
        identity=_identity(stored, system, back, faults),
        groups=tuple(_group(g.key, _(g.heading), stored, system, back, faults) for g in GROUPS),
        vehicles=_vehicles(stored, system, back, faults),
        history=tuple(history_row(c, data.site.timezone, system) for c in changes),
    )


def _own_and_guesses(given: frozenset[str]) -> tuple[int, int]:
    guesses = sum(1 for name, row in INPUTS.items() if row.is_guess and name not in given)
    return len(given), guesses


def _answer(own: int, guesses: int) -> str:
    if own == 0:
        return _("All of {guesses} numbers here are still guesses.", guesses=guesses)
    if guesses == 0:
        return _("Every number here is your own.")
    return _("{own} entries are your own, {guesses} are still guesses.", own=own, guesses=guesses)


def _group(
    key: str,
    heading: str,
    stored: StoredSite,
    system: str,
    back: RejectedForm,
    faults: Mapping[str, list[InputProblem]],
) -> GroupView:
    rows = GROUP_INPUTS[key]
    data = stored.data
    typed = back.typed if back.part == key else None
    fields = tuple(
        input_field(
            row,
            data.site.value(name),
            system,
            given=name in data.given,
            typed=typed,
            problems=faults.get(name, ()),
        )
        for name, row in rows.items()
    )
    own = sum(1 for name in rows if name in data.given)
    if own == 0:
        yours = _("None is your own yet.")
    elif own == 1:
        yours = _("1 of {count} is your own.", count=len(rows))
    else:
        yours = _("{own} of {count} are your own.", own=own, count=len(rows))
    return GroupView(key, heading, _(GROUP_NOTES[key]), yours, fields, of_group(key))


def _identity(
    stored: StoredSite, system: str, back: RejectedForm, faults: Mapping[str, list[InputProblem]]
) -> tuple[FieldView, ...]:
    site = stored.data.site
    typed = back.typed.texts if back.part == "identity" else {}

    def said(name: str) -> tuple[str, ...]:
        return tuple(say(p, system) for p in faults.get(name, ()))

    return (
        FieldView(
            field_id("name"), "name", _("Name"), typed.get("name", site.name), site.name,
            numeric=False, wide=True, messages=said("name"),
        ),
        FieldView(
            field_id("timezone"), "timezone", _("Time zone"),
            typed.get("timezone", site.timezone), site.timezone,
            hint=_("Its name in the time zone database, such as America/New_York."),
            numeric=False, wide=True, messages=said("timezone"),
        ),
        FieldView(
            field_id("units"), "site_units", _("Units"),
            typed.get("site_units", stored.data.units), stored.data.units,
            choices=(("us", _("US: feet, °F, pounds")), ("si", _("SI: metres, °C, kilograms"))),
            messages=said("units"),
        ),
    )  # fmt: skip


def _vehicles(
    stored: StoredSite, system: str, back: RejectedForm, faults: Mapping[str, list[InputProblem]]
) -> VehicleTable:
    site = stored.data.site
    held = back.classes if back.part == "vehicles" else None
    classes = held.classes if held else site.vehicles
    labels = held.labels if held else {}
    typed = back.typed if held else None
    columns = []
    for item in classes:
        name = f"vehicle.{item.key}.label"
        label = FieldView(
            field_id(name), name, _("Class"), labels.get(item.key, item.label), item.label,
            numeric=False, messages=tuple(say(p, system) for p in faults.get(name, ())),
        )  # fmt: skip
        cells = tuple(
            input_field(
                row,
                getattr(item.numbers, key),
                system,
                typed=typed,
                problems=faults.get(f"vehicle.{item.key}.{key}", ()),
                name=f"vehicle.{item.key}.{key}",
            )
            for key, row in CLASS_INPUTS.items()
        )
        removed = bool(held and item.key in held.removed)
        columns.append(ClassColumn(item.key, label, cells, removed))
    reference = FieldView(
        field_id("reference_class"), "reference_class", _("Reference class"),
        held.reference if held else site.reference_class,
        hint=_("Damp limit and wear are stated for this class."),
        choices=tuple((item.key, labels.get(item.key, item.label)) for item in classes),
        messages=tuple(say(p, system) for p in faults.get("reference_class", ())),
    )  # fmt: skip
    return VehicleTable(
        tuple((_(row.label), _(row.unit.symbol(system))) for row in CLASS_INPUTS.values()),
        tuple(columns),
        reference,
        tuple(say(p, system) for p in faults.get("vehicles", ())),
    )

"""The Site page: inputs, vehicle classes, name and units of one site, and what was changed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Required, TypedDict

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.answers.planning import newest_plan
from app.catalogue import _, _n
from app.pages.cautions import OF_GROUP, Notice
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import (
    Faults,
    FieldView,
    FormReading,
    Summary,
    Typed,
    faults_of,
    field_id,
    input_field,
    input_fields,
    read_fields,
    summary,
    text_of,
    units_choices,
    units_of,
    with_water_seen,
)
from app.pages.history import HistoryRow, history_row
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.checks import check_storable
from app.sites.reading import Gate, Outcome, StoredSite, changes_of
from app.words.leading import Leading, leading, level_share
from sim.decide.answer import Comparison
from sim.errors import InputProblem
from sim.inputs import (
    CLASS_INPUTS,
    GROUP_INPUTS,
    GROUPS,
    INPUTS,
    ClassNumbers,
    Entry,
    Site,
    Value,
    VehicleClass,
)
from sim.units import whole_number

router = APIRouter()
HISTORY_ROWS = 60
LEADING = "leading"
"""The form of the inputs that move answers most, from whatever groups."""
Rows = tuple[Leading, ...]
MOST_CLASSES = 12
_KEY = re.compile(r"[a-z0-9_]{1,40}")


@dataclass(frozen=True, slots=True)
class ClassesTyped:
    """Vehicle classes as a form holds them.

    Attributes:
        columns: keys and stored numbers of the columns, new ones included.
        labels: what was typed as name of each class, by key.
        removed: keys whose box "remove" was ticked.
        reference: key chosen as reference class.
        entered: the classes to be stored: with the numbers that were typed, removed ones left out.
    """

    columns: tuple[VehicleClass, ...]
    labels: Mapping[str, str]
    removed: frozenset[str]
    reference: str
    entered: tuple[VehicleClass, ...]


@dataclass(frozen=True, slots=True)
class RejectedForm:
    """A form that could not be stored and is drawn again, or nothing at all.

    Attributes:
        part: key of the group, "vehicles" or "identity".
        stale: sentence about what somebody else stored meanwhile.
        units: units that the form was typed in; empty for those of the site.
    """

    part: str = ""
    typed: Typed = field(default_factory=Typed)
    problems: Sequence[InputProblem] = ()
    classes: ClassesTyped | None = None
    stale: str = ""
    units: str = ""


# ---- what a form of the page says ----------------------------------------------------------------


class _Change(TypedDict, total=False):
    """What of a site is to be changed, as `Gate.set_inputs` takes it."""

    values: Required[dict[str, Value | None]]
    name: str
    timezone: str
    units: str
    vehicles: Sequence[VehicleClass]
    reference_class: str


def read_vehicles(form: FormData, site: Site, system: str) -> tuple[ClassesTyped, FormReading]:
    """Reads every column of the table; a column that the site hasn't got starts as its reference.

    Raises nothing: what can't be used, cells and names, is among the problems of the reading.
    """
    stored = {item.key: item for item in site.vehicles}
    keys = [k for k in dict.fromkeys(map(str, form.getlist("class"))) if _KEY.fullmatch(k)]
    columns = tuple(
        stored.get(key) or VehicleClass(key, "", blank_numbers(site)) for key in keys[:MOST_CLASSES]
    )
    read = read_fields(form, vehicle_rows(columns), system)
    labels = {item.key: text_of(form, f"vehicle.{item.key}.label").strip() for item in columns}
    removed = frozenset(map(str, form.getlist("remove"))) & set(labels)
    problems = [p for p in read.problems if p.field.split(".")[1] not in removed]
    for key, label in labels.items():
        if key not in removed and not 1 <= len(label) <= 40:
            sentence = "Name of a vehicle class “{label}” can't be used. Enter 1 to 40 characters."
            problems.append(InputProblem(f"vehicle.{key}.label", sentence, {"label": label}))
    typed: dict[str, dict[str, float]] = {key: {} for key in labels}
    for place, value in read.values.items():
        _vehicle, key, name = place.split(".")
        typed[key][name] = float(str(value))
    entered = tuple(
        VehicleClass(item.key, labels[item.key], replace(item.numbers, **typed[item.key]))
        for item in columns
        if item.key not in removed
    )
    held = ClassesTyped(columns, labels, removed, text_of(form, "reference_class"), entered)
    return held, replace(read, problems=tuple(problems))


def vehicle_rows(classes: Sequence[VehicleClass]) -> dict[str, Entry]:
    """The inputs of every class under the names of their fields."""
    return {
        f"vehicle.{item.key}.{name}": row for item in classes for name, row in CLASS_INPUTS.items()
    }


def blank_numbers(site: Site) -> ClassNumbers:
    """What a class begins with: the reference car's numbers and no share."""
    return replace(site.reference.numbers, share=0.0)


def _one_more(held: ClassesTyped, site: Site) -> ClassesTyped:
    """The table with one more column."""
    taken, number = {item.key for item in held.columns}, len(held.columns) + 1
    while (key := f"class_{number}") in taken:
        number += 1
    column = VehicleClass(key, "", blank_numbers(site))
    return replace(held, columns=(*held.columns, column), labels={**held.labels, key: ""})


def _others(site: Site, change: _Change) -> list[InputProblem]:
    """Problems of the entries that could be read, beside those that could not."""
    read = {
        name: INPUTS[name].default if value is None else value
        for name, value in change["values"].items()
    }
    return check_storable(
        replace(
            site.with_values(read),
            vehicles=tuple(change.get("vehicles", site.vehicles)),
            reference_class=change.get("reference_class", site.reference_class),
        )
    )


# ---- the page ------------------------------------------------------------------------------------

GROUP_NOTES = {
    "line": "When the site is open, how fast the belt runs and how the cars follow one another.",
    "climate": "What weather is typical of each month, where no hourly weather is stored.",
    "pay": "How long paying and loading take, who waits how long, how many cars may wait.",
    "water": "What is still on the car when it reaches the wheel.",
    "wiping": "How much of it the cloth takes, and from where on a car counts as damp.",
    "wheel": "The wheel, its strips, what they hold and how they throw it off.",
    "drying": "The air around the cloth, open and at night.",
    "wear": "How long cloth lives, how many sets there are, what a change takes.",
    "second": "Another cloth that you have tried or been offered, beside the usual one.",
    "stock": "New sets in store and on order, deliveries, what an order and keeping a set cost.",
    "crew": "Who is there, and the work of each car.",
    "money": "Prices and costs of your own; they weigh one thing against another.",
    "wishes": "How many cars you let leave damp, and from where on a difference matters to you.",
    "shifts": "Limits on shifts and hours for the roster. Check them against local labour law.",
    "degraded": "What the line does while a sensor that only shapes the wiping is down.",
}


@dataclass(frozen=True, slots=True)
class GroupView:
    """A group of inputs as one form; `yours` says how many of them the site has entered."""

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
    """The Site page; `done` is said beside the part that was stored, where the reader is.

    Attributes:
        leading: the inputs that move answers most, as fields, and how much each does.
        level: how much the cars expected do, which are no input; empty where nothing says.
        is_worked_out: whether a stored plan says so.
        groups: all other inputs.
    """

    site: StoredSite
    request_key: str
    units: str
    answer: str
    done: str
    done_part: str
    stale: str
    summary: Summary | None
    identity: tuple[FieldView, ...]
    leading: tuple[tuple[FieldView, str], ...]
    level: str
    is_worked_out: bool
    groups: tuple[GroupView, ...]
    vehicles: VehicleTable
    history: tuple[HistoryRow, ...]


def _page(
    request: Request,
    web: Web,
    stored: StoredSite,
    back: RejectedForm,
    *,
    done: str = "",
    done_part: str = "",
    status: int = 200,
) -> Response:
    """The page; `back` is a form that could not be stored."""
    data, system = stored.data, back.units or stored.data.units
    faults = faults_of(back.problems, system)
    changes = changes_of(web.database, stored.id, HISTORY_ROWS)
    found, first = _first(web, stored, back)
    page = SitePage(
        site=stored,
        request_key=new_request_key(),
        units=system,
        answer=_answer(data.given),
        done=done,
        done_part=done_part,
        stale=back.stale,
        summary=summary(back.problems, system, {"vehicles": "#vehicles"}),
        identity=_identity(stored, back, faults),
        leading=_leading(stored, system, back, first),
        level=level_share(found),
        is_worked_out=any(one.said for one in first),
        groups=tuple(
            _group(group.key, group.heading, stored, system, back, {one.name for one in first})
            for group in GROUPS
        ),
        vehicles=_vehicles(data.site, system, back, faults),
        history=tuple(history_row(c, data.site.timezone, system, web.now()) for c in changes),
    )
    return render(request, "site/site.html", page, current="site", site=stored, status=status)


def _answer(given: frozenset[str]) -> str:
    guesses = sum(1 for name, row in INPUTS.items() if row.is_guess and name not in given)
    if not given:
        return _("All of {guesses} numbers here are still guesses.", guesses=guesses)
    if guesses == 0:
        return _("Every number here is your own.")
    one, more = (
        "1 entry is your own, {guesses} are still guesses.",
        "{count} entries are your own, {guesses} are still guesses.",
    )
    return _n(one, more, len(given), guesses=guesses)


def _group(
    key: str, heading: str, stored: StoredSite, system: str, back: RejectedForm, led: set[str]
) -> GroupView:
    data = stored.data
    rows = {name: row for name, row in GROUP_INPUTS[key].items() if name not in led}
    typed = back.typed if back.part == key else None
    fields = with_water_seen(input_fields(rows, data, system, typed, back.problems), data.site)
    own = sum(1 for name in rows if name in data.given)
    yours = _("None is your own yet.")
    if own:
        one, more = "1 of {all} is your own.", "{count} of {all} are your own."
        yours = _n(one, more, own, all=len(rows))
    return GroupView(key, _(heading), _(GROUP_NOTES[key]), yours, fields, OF_GROUP.get(key, ()))


def _first(web: Web, stored: StoredSite, back: RejectedForm) -> tuple[Comparison | None, Rows]:
    """The newest plan and the inputs that lead; a form that is drawn again keeps its own."""
    plan = newest_plan(web.database, stored.id)
    found = None if plan is None else plan.comparison
    first = leading(found)
    if back.part == LEADING:
        said = {one.name: one.said for one in first}
        first = tuple(Leading(name, said.get(name, "")) for name in back.typed.texts)
    return found, first


def _leading(
    stored: StoredSite, system: str, back: RejectedForm, first: Rows
) -> tuple[tuple[FieldView, str], ...]:
    rows = {one.name: INPUTS[one.name] for one in first}
    typed = back.typed if back.part == LEADING else None
    fields = input_fields(rows, stored.data, system, typed, back.problems)
    seen = with_water_seen(fields, stored.data.site)
    return tuple((field, one.said) for field, one in zip(seen, first, strict=True))


def _identity(stored: StoredSite, back: RejectedForm, faults: Faults) -> tuple[FieldView, ...]:
    site, units = stored.data.site, stored.data.units
    typed = back.typed.texts if back.part == "identity" else {}
    return (
        FieldView(
            field_id("name"), "name", _("Name"), typed.get("name", site.name), site.name,
            numeric=False, wide=True, messages=faults.get("name", ()),
        ),
        FieldView(
            field_id("timezone"), "timezone", _("Time zone"),
            typed.get("timezone", site.timezone), site.timezone,
            hint=_("Its name in the time zone database, such as America/New_York."),
            numeric=False, wide=True, messages=faults.get("timezone", ()),
        ),
        FieldView(
            field_id("units"), "site_units", _("Units"), typed.get("site_units", units), units,
            choices=units_choices(), messages=faults.get("units", ()),
        ),
    )  # fmt: skip


def _vehicles(site: Site, system: str, back: RejectedForm, faults: Faults) -> VehicleTable:
    held = back.classes if back.part == "vehicles" else None
    classes = held.columns if held else site.vehicles
    labels = held.labels if held else {}
    columns = []
    for item in classes:
        name = f"vehicle.{item.key}.label"
        label = FieldView(
            field_id(name), name, _("Class"), labels.get(item.key, item.label), item.label,
            numeric=False, messages=faults.get(name, ()),
        )  # fmt: skip
        cells = tuple(
            input_field(
                row,
                getattr(item.numbers, name.split(".")[2]),
                system,
                typed=back.typed if held else None,
                messages=faults.get(name, ()),
                name=name,
            )
            for name, row in vehicle_rows([item]).items()
        )
        removed = bool(held and item.key in held.removed)
        columns.append(ClassColumn(item.key, label, cells, removed))
    reference = FieldView(
        field_id("reference_class"), "reference_class", _("Reference class"),
        held.reference if held else site.reference_class,
        hint=_("Damp limit and wear are stated for this class."),
        choices=tuple((item.key, labels.get(item.key, item.label)) for item in classes),
        messages=faults.get("reference_class", ()),
    )  # fmt: skip
    return VehicleTable(
        tuple((_(row.label), _(row.unit.symbol(system))) for row in CLASS_INPUTS.values()),
        tuple(columns),
        reference,
        faults.get("vehicles", ()),
    )


# ---- its addresses -------------------------------------------------------------------------------


@router.get("/{slug}/site")
def show_site(
    request: Request, site: SiteDep, web: WebDep, stored: str = "", part: str = ""
) -> Response:
    """The page as it is stored."""
    done = {
        "yes": _("Stored. Every plan made from now on uses it."),
        "same": _("Nothing was changed, so nothing was stored."),
    }.get(stored, "")
    return _page(request, web, site, RejectedForm(), done=done, done_part=part)


@router.post("/{slug}/site/identity")
def store_identity(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores name, time zone and units."""
    name, timezone, units = (
        text_of(form, name).strip() for name in ("name", "timezone", "site_units")
    )
    typed = Typed({"name": name, "timezone": timezone, "site_units": units})
    back = RejectedForm("identity", typed, units=units_of(form, site.data.units))
    change: _Change = {"values": {}, "name": name, "timezone": timezone, "units": units}
    return _store(request, web, site, form, back, change)


@router.post("/{slug}/site/vehicles")
def store_vehicles(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the vehicle classes; the button "add" draws one more column and stores nothing."""
    system = units_of(form, site.data.units)
    held, read = read_vehicles(form, site.data.site, system)
    back = RejectedForm("vehicles", read.typed, read.problems, held, units=system)
    if "add" in form:
        if len(held.columns) < MOST_CLASSES:
            back = replace(back, classes=_one_more(held, site.data.site), problems=())
        return _page(request, web, site, back)
    change: _Change = {
        "values": {}, "vehicles": held.entered, "reference_class": held.reference,
    }  # fmt: skip
    return _store(request, web, site, form, back, change)


@router.post("/{slug}/site/put-back")
def put_back(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Puts a row back into its book that was taken away."""
    number, version, key = (
        whole_number(text_of(form, "which")),
        version_of(form),
        request_key_of(form),
    )

    def again(
        fresh: StoredSite, problems: Sequence[InputProblem] = (), stale: str = "", status: int = 200
    ) -> Response:
        return _page(
            request, web, fresh, RejectedForm(problems=problems, stale=stale), status=status
        )

    try:
        return carry_out(
            web, site, lambda writes: writes.put_back(site.id, number or 0, version, key),
            again, f"/{site.slug}/site#history",
        )  # fmt: skip
    except LookupError:
        raise HTTPException(404) from None


@router.post("/{slug}/site/{group}")
def store_group(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, group: str
) -> Response:
    """Stores the inputs of one group."""
    if group not in (*GROUP_INPUTS, LEADING):
        raise HTTPException(404)
    system = units_of(form, site.data.units)
    read = read_fields(form, GROUP_INPUTS.get(group, INPUTS), system)
    values: dict[str, Value | None] = dict(read.values)
    problems = list(read.problems)
    refused = {problem.field for problem in problems}
    for name in read.typed.marks & site.data.given:
        if name in values or name in refused:
            sentence = "{label}: enter a value or go back to the default, not both."
            problems.append(InputProblem(name, sentence, {"label": INPUTS[name].label}))
        values[name] = None
    back = RejectedForm(group, read.typed, problems, units=system)
    return _store(request, web, site, form, back, {"values": values})


def _store(
    request: Request,
    web: Web,
    site: StoredSite,
    form: FormData,
    back: RejectedForm,
    change: _Change,
) -> Response:
    """Carries a change out; `back` is the form that asks for it."""
    if back.problems:
        # What could be read is checked all the same: every problem is named at once.
        known = {problem.field for problem in back.problems}
        others = [p for p in _others(site.data.site, change) if p.field not in known]
        back = replace(back, problems=[*back.problems, *others])
        return _page(request, web, site, back, status=422)

    def write(gate: Gate) -> Outcome:
        return gate.set_inputs(
            site.id,
            **change,
            expected_version=version_of(form),
            request_key=request_key_of(form),
        )

    def again(
        fresh: StoredSite,
        problems: Sequence[InputProblem] = (),
        stale: str = "",
        status: int = 200,
    ) -> Response:
        returned = replace(back, problems=problems, stale=stale)
        return _page(request, web, fresh, returned, status=status)

    def address(outcome: Outcome) -> str:
        stored = "yes" if outcome.changed else "same"
        return f"/{site.slug}/site?stored={stored}&part={back.part}#{back.part}"

    return carry_out(web, site, write, again, address)

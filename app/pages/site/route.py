"""The Site page: inputs, vehicle classes, name and units of one site, and what was changed."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Required, TypedDict

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.catalogue import _
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import FormReading, Typed, read_fields, text_of
from app.pages.site.view import ClassesTyped, RejectedForm, site_page, vehicle_rows
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.checks import check_storable
from app.sites.reading import Gate, Outcome, StoredSite, changes_of
from sim.errors import InputProblem
from sim.inputs import GROUP_INPUTS, INPUTS, ClassNumbers, Site, Value, VehicleClass
from sim.units import SYSTEMS

MOST_CLASSES = 12
_KEY = re.compile(r"[a-z0-9_]{1,40}")


@dataclass(frozen=True, slots=True)
class VehicleReading:
    """What the form says.

    Attributes:
        held: the columns as they were sent, to be drawn again.
        reading: typed texts and problems of single cells.
        vehicles, reference: classes to be stored, removed ones left out.
        problems: of cells and of names.
    """

    held: ClassesTyped
    reading: FormReading
    vehicles: tuple[VehicleClass, ...]
    reference: str
    problems: tuple[InputProblem, ...]


def read_vehicles(form: FormData, site: Site, system: str) -> VehicleReading:
    """Reads every column of the table; a column that the site hasn't got starts as its reference.

    Raises nothing: what can't be used is in `problems`.
    """
    stored = {item.key: item for item in site.vehicles}
    keys = [k for k in dict.fromkeys(map(str, form.getlist("class"))) if _KEY.fullmatch(k)]
    columns = tuple(
        stored.get(key) or VehicleClass(key, "", blank_numbers(site)) for key in keys[:MOST_CLASSES]
    )
    reading = read_fields(form, vehicle_rows(columns), system)
    labels = {item.key: text_of(form, f"vehicle.{item.key}.label").strip() for item in columns}
    removed = frozenset(map(str, form.getlist("remove"))) & set(labels)
    reference = text_of(form, "reference_class")
    problems = [p for p in reading.problems if p.field.split(".")[1] not in removed]
    problems += _label_problems(labels, removed)
    vehicles = tuple(_entered(item, labels, reading) for item in columns if item.key not in removed)
    held = ClassesTyped(columns, labels, removed, reference)
    return VehicleReading(held, reading, vehicles, reference, tuple(problems))


def blank_numbers(site: Site) -> ClassNumbers:
    """What a class begins with: the reference car's numbers and no share."""
    return dataclasses.replace(site.reference.numbers, share=0.0)


def new_key(taken: set[str]) -> str:
    """Key of one more class."""
    number = len(taken) + 1
    while f"class_{number}" in taken:
        number += 1
    return f"class_{number}"


def _entered(item: VehicleClass, labels: dict[str, str], reading: FormReading) -> VehicleClass:
    numbers = {
        name.split(".")[2]: value
        for name, value in reading.values.items()
        if name.split(".")[1] == item.key
    }
    changed = {name: float(str(value)) for name, value in numbers.items()}
    return VehicleClass(item.key, labels[item.key], dataclasses.replace(item.numbers, **changed))


def _label_problems(labels: dict[str, str], removed: frozenset[str]) -> list[InputProblem]:
    problems = []
    for key, label in labels.items():
        if key not in removed and not 1 <= len(label) <= 40:
            sentence = "Name of a vehicle class “{label}” can't be used. Enter 1 to 40 characters."
            field = f"vehicle.{key}.label"
            problems.append(InputProblem(field, sentence, {"label": label}))
    return problems


router = APIRouter()
HISTORY_ROWS = 60


class _Change(TypedDict, total=False):
    """What of a site is to be changed, as `Gate.set_inputs` takes it."""

    values: Required[dict[str, Value | None]]
    name: str
    timezone: str
    units: str
    vehicles: Sequence[VehicleClass]
    reference_class: str


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A change that a form asks for, or the form itself if it asks for none yet."""

    back: RejectedForm
    change: _Change


@router.get("/{slug}/site")
def show_site(
    request: Request, site: SiteDep, web: WebDep, stored: str = "", part: str = ""
) -> Response:
    """The page as it is stored."""
    done = {
        "yes": _("Stored. Every plan made from now on uses it."),
        "same": _("Nothing was changed, so nothing was stored."),
    }.get(stored, "")
    return _page(request, web, site, done=done, done_part=part)


@router.post("/{slug}/site/identity")
def store_identity(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores name, time zone and units."""
    names = ("name", "timezone", "site_units")
    texts = {name: text_of(form, name).strip() for name in names}
    wanted = _Wanted(
        RejectedForm("identity", Typed(texts), units=_units(form, site)),
        {
            "values": {},
            "name": texts["name"],
            "timezone": texts["timezone"],
            "units": texts["site_units"],
        },
    )
    return _store(request, web, site, form, wanted)


@router.post("/{slug}/site/vehicles")
def store_vehicles(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the vehicle classes; the button "add" draws one more column and stores nothing."""
    system = _units(form, site)
    read = read_vehicles(form, site.data.site, system)
    back = RejectedForm("vehicles", read.reading.typed, read.problems, read.held, units=system)
    if "add" in form:
        if len(read.held.classes) < MOST_CLASSES:
            back = replace(back, classes=_one_more(read.held, site), problems=())
        return _page(request, web, site, returned=back)
    change: _Change = {
        "values": {}, "vehicles": read.vehicles, "reference_class": read.reference,
    }  # fmt: skip
    return _store(request, web, site, form, _Wanted(back, change))


@router.post("/{slug}/site/{group}")
def store_group(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, group: str
) -> Response:
    """Stores the inputs of one group."""
    if group not in GROUP_INPUTS:
        raise HTTPException(404)
    system = _units(form, site)
    read = read_fields(form, GROUP_INPUTS[group], system)
    values: dict[str, Value | None] = dict(read.values)
    problems = list(read.problems)
    refused = {problem.field for problem in problems}
    for name in read.typed.marks & site.data.given:
        if name in values or name in refused:
            sentence = "{label}: enter a value or go back to the default, not both."
            problems.append(InputProblem(name, sentence, {"label": INPUTS[name].label}))
        values[name] = None
    back = RejectedForm(group, read.typed, problems, units=system)
    return _store(request, web, site, form, _Wanted(back, {"values": values}))


def _units(form: FormData, site: StoredSite) -> str:
    """The units that a form was typed in; they may have been changed in another window since."""
    units = text_of(form, "units")
    return units if units in SYSTEMS else site.data.units


def _one_more(held: ClassesTyped, site: StoredSite) -> ClassesTyped:
    key = new_key({item.key for item in held.classes})
    column = VehicleClass(key, "", blank_numbers(site.data.site))
    return replace(held, classes=(*held.classes, column), labels={**held.labels, key: ""})


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


def _store(
    request: Request, web: Web, site: StoredSite, form: FormData, wanted: _Wanted
) -> Response:
    back = wanted.back
    if back.problems:
        # What could be read is checked all the same: every problem is named at once.
        others = [
            p
            for p in _others(site.data.site, wanted.change)
            if p.field not in {q.field for q in back.problems}
        ]
        back = replace(back, problems=[*back.problems, *others])
        return _page(request, web, site, returned=back, status=422)

    def write(gate: Gate) -> Outcome:
        return gate.set_inputs(
            site.id,
            **wanted.change,
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
        return _page(request, web, fresh, returned=returned, status=status)

    def address(outcome: Outcome) -> str:
        stored = "yes" if outcome.changed else "same"
        return f"/{site.slug}/site?stored={stored}&part={back.part}#{back.part}"

    return carry_out(web, site, write, again, address)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    done: str = "",
    done_part: str = "",
    returned: RejectedForm | None = None,
    status: int = 200,
) -> Response:
    changes = changes_of(web.database, site.id, HISTORY_ROWS)
    page = site_page(
        site, changes, new_request_key(), done=done, done_part=done_part, returned=returned
    )
    return render(
        request, "site/site.html", page, title=_("Site"), current="site", site=site, status=status
    )

"""Reading the table of vehicle classes from a posted form."""

from __future__ import annotations

import dataclasses
import re
from dataclasses import dataclass

from starlette.datastructures import FormData

from app.pages.forms import Reading, read_fields, text_of
from app.pages.site.view import ClassesTyped, vehicle_rows
from sim.errors import InputProblem
from sim.inputs import ClassNumbers, Site, VehicleClass

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
    reading: Reading
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


def _entered(item: VehicleClass, labels: dict[str, str], reading: Reading) -> VehicleClass:
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

"""A site: every input in one frozen object, and the table of inputs that describes them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

from sim.errors import InputError, InputProblem, nearest
from sim.inputs.cloth import Drying, Stock, Water, Wear, Wheel, Wiping
from sim.inputs.entry import Entry, Value, entries_of
from sim.inputs.line import Degraded, Line, Pay
from sim.inputs.people import Crew, Money, Wishes
from sim.inputs.roster import HoursLimits
from sim.inputs.vehicles import DEFAULT_CLASSES, VehicleClass


@dataclass(frozen=True, slots=True)
class Group:
    """A group of inputs as pages head it: attribute of `Site`, heading, dataclass."""

    key: str
    heading: str
    type: type


GROUPS: tuple[Group, ...] = (
    Group("line", "Hours and belt", Line),
    Group("pay", "Pay, loading and demand", Pay),
    Group("water", "Water on the car", Water),
    Group("wiping", "Wiping", Wiping),
    Group("wheel", "Wheel and cloth", Wheel),
    Group("drying", "Drying", Drying),
    Group("wear", "Wear and sets", Wear),
    Group("stock", "Orders and stock", Stock),
    Group("crew", "People and damp cars", Crew),
    Group("shifts", "Shifts and hours", HoursLimits),
    Group("money", "Money", Money),
    Group("wishes", "What you want", Wishes),
    Group("degraded", "Running on with a failed shaping sensor", Degraded),
)
GROUP_INPUTS: dict[str, dict[str, Entry]] = {g.key: entries_of(g.type) for g in GROUPS}
INPUTS: dict[str, Entry] = {
    name: row for rows in GROUP_INPUTS.values() for name, row in rows.items()
}
_GROUP_OF: dict[str, str] = {name: key for key, rows in GROUP_INPUTS.items() for name in rows}


def unknown_input(name: str, where: str = "") -> InputProblem:
    """The problem of a name that the table of inputs does not have, with the nearest one."""
    near = nearest(name, INPUTS)
    if near:
        sentence = "“{name}” is not an input. Did you mean {near}?"
        return InputProblem(name, sentence, {"name": name, "near": near[0]}, where)
    sentence = "“{name}” is not an input; the Site page lists all of them."
    return InputProblem(name, sentence, {"name": name}, where)


@dataclass(frozen=True, slots=True)
class Site:
    """Every input of a site; anything not given has its default.

    Attributes:
        name: what the site is called, 1 to 60 characters.
        timezone: name in the IANA time zone database, such as ``America/New_York``.
        vehicles: at least one class; shares sum to 1.
        reference_class: key of the class that damp limit and wear are stated for.
    """

    name: str
    timezone: str = "UTC"
    line: Line = Line()
    pay: Pay = Pay()
    water: Water = Water()
    wiping: Wiping = Wiping()
    wheel: Wheel = Wheel()
    drying: Drying = Drying()
    wear: Wear = Wear()
    stock: Stock = Stock()
    crew: Crew = Crew()
    shifts: HoursLimits = HoursLimits()
    money: Money = Money()
    wishes: Wishes = Wishes()
    degraded: Degraded = Degraded()
    vehicles: tuple[VehicleClass, ...] = DEFAULT_CLASSES
    reference_class: str = "sedan"

    def value(self, name: str) -> Value:
        """The value of one input of the table; raises InputError for an unknown name."""
        if name not in INPUTS:
            raise InputError([unknown_input(name)])
        value: Value = getattr(getattr(self, _GROUP_OF[name]), name)
        return value

    def values(self) -> dict[str, Value]:
        """All inputs of the table by name, in the table's order."""
        return {name: self.value(name) for name in INPUTS}

    def with_values(self, values: Mapping[str, Value]) -> Site:
        """A copy with some inputs changed; nothing is range-checked here (see `sim.checks`).

        Raises:
            InputError: naming every unknown input at once.
        """
        unknown = [unknown_input(name) for name in values if name not in INPUTS]
        if unknown:
            raise InputError(unknown)
        changed: dict[str, dict[str, Value]] = {}
        for name, value in values.items():
            changed.setdefault(_GROUP_OF[name], {})[name] = value
        groups = {
            key: dataclasses.replace(getattr(self, key), **part) for key, part in changed.items()
        }
        return dataclasses.replace(self, **groups)

    @property
    def reference(self) -> VehicleClass:
        """The reference class; the first class if none has the key (`sim.checks` reports it)."""
        for item in self.vehicles:
            if item.key == self.reference_class:
                return item
        return self.vehicles[0]

    @property
    def cloth_mass_kg(self) -> float:
        """Dry mass of all strips, M [kg]."""
        return self.wheel.strip_count * self.wheel.strip_dry_mass_kg

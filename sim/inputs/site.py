"""A site, every input in one frozen object with the table of them; and what a plan is made for."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from sim.errors import InputError, InputProblem, nearest
from sim.inputs.climate import Climate
from sim.inputs.cloth import FIRST, Drying, SecondCloth, Stock, Water, Wear, Wheel, Wiping
from sim.inputs.entry import Entry, Value, entries_of
from sim.inputs.line import DEFAULT_CLASSES, Degraded, Line, Pay, VehicleClass
from sim.inputs.people import Crew, Money, Wishes
from sim.inputs.roster import HoursLimits


@dataclass(frozen=True, slots=True)
class Group:
    """A group of inputs as pages head it: attribute of `Site`, heading, dataclass."""

    key: str
    heading: str
    type: type


GROUPS: tuple[Group, ...] = (
    Group("line", "Hours and belt", Line),
    Group("climate", "Climate", Climate),
    Group("pay", "Pay, loading and demand", Pay),
    Group("water", "Water on the car", Water),
    Group("wiping", "Wiping", Wiping),
    Group("wheel", "Wheel and cloth", Wheel),
    Group("drying", "Drying", Drying),
    Group("wear", "Wear and sets", Wear),
    Group("second", "A second kind of cloth", SecondCloth),
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
GROUP_OF: dict[str, str] = {name: key for key, rows in GROUP_INPUTS.items() for name in rows}
"""The key of the group that an input is in."""


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
    climate: Climate = Climate()
    pay: Pay = Pay()
    water: Water = Water()
    wiping: Wiping = Wiping()
    wheel: Wheel = Wheel()
    drying: Drying = Drying()
    wear: Wear = Wear()
    second: SecondCloth = SecondCloth()
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
        value: Value = getattr(getattr(self, GROUP_OF[name]), name)
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
            changed.setdefault(GROUP_OF[name], {})[name] = value
        groups = {key: replace(getattr(self, key), **part) for key, part in changed.items()}
        return replace(self, **groups)

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


def has_second_cloth(site: Site) -> bool:
    """Whether a second kind of cloth is known, and the usual one hangs."""
    ratios = (
        getattr(site.second, name) for name in GROUP_INPUTS["second"] if name.endswith("_factor")
    )
    return site.second.cloth_kind == FIRST and any(ratio != 1.0 for ratio in ratios)


# ---- what a plan is made for: a day's conditions, and the scenarios compared on it ----------------

MOST_SCENARIOS = 6
"""So many can be told apart side by side."""

LEVEL = "cars_expected"
"""What the level of demand is called where inputs are named that widen an answer."""


TOGETHER = -1
"""What stands for the number of like days where all counts together tell what is expected."""


@dataclass(frozen=True, slots=True)
class DemandSpread:
    """How far the cars of a day come out from what is expected of it.

    It belongs to a day's expectation, not to the site: the site's own input holds where counts
    tell nothing.

    Attributes:
        day_cv: coefficient of variation of the day factor, which all hours share; None: the
            site's `day_factor_cv` holds.
        hour_cv: of a factor of each hour's own, given the day; None: `hour_factor_cv` holds.
        level_cv: of the truth about what is expected, all hours alike; not luck but what is not
            known, and the same on every such day.
        days: whole days of counts that it rests on, 0 for none.
        like_days: days whose mean is expected, 0 where nothing says, `TOGETHER` where all counts
            together do.
    """

    day_cv: float | None = None
    hour_cv: float | None = None
    level_cv: float = 0.0
    days: int = 0
    like_days: int = 0


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a day brings, hour by hour of the local clock (24 values each).

    Attributes:
        arrivals_per_h: expected cars arriving in the hour [cars].
        temp_c: outdoor dry-bulb temperature [°C].
        humidity: outdoor relative humidity, 0 to 1.
        opening_moisture_kg_kg: moisture of the cloth at opening [kg/kg]; None if still to be
            found from the previous day.
        spread: how far the cars come out from what is expected.
    """

    arrivals_per_h: tuple[float, ...]
    temp_c: tuple[float, ...]
    humidity: tuple[float, ...]
    opening_moisture_kg_kg: float | None = None
    spread: DemandSpread = DemandSpread()

    def with_inputs(self, changed: Collection[str]) -> Conditions:
        """The day for a site some of whose inputs were changed for it: what was set holds."""
        spread = self.spread
        if "day_factor_cv" in changed:
            spread = replace(spread, day_cv=None)
        if "hour_factor_cv" in changed:
            spread = replace(spread, hour_cv=None)
        return self if spread == self.spread else replace(self, spread=spread)


@dataclass(frozen=True, slots=True)
class Scenario:
    """One column of a comparison.

    Attributes:
        name: what the column is called.
        rule: wiping rule as text, see `sim.day.rules.parse_rule`.
        cloth: dry sets put on during the day as text, see `sim.day.rules.parse_changes`.
        changes: inputs of the table that differ from the site's.
    """

    name: str
    rule: str = "full"
    cloth: str = ""
    changes: Mapping[str, Value] = field(default_factory=dict)

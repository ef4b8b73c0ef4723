"""What a plan is made for: a day's conditions, and the scenarios that are compared on it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from sim.inputs.entry import Value

MOST_SCENARIOS = 6
"""So many can be told apart side by side."""

LEVEL = "cars_expected"
"""What the level of demand is called where inputs are named that widen an answer."""


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
        like_days: days whose mean is expected, 0 where nothing says.
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

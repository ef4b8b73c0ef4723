"""The places of a day's maps at the level of its plan: by how much more or less than now.

Maps are simulated with guesses at their middle, so they know by how much settings differ; how much
it is now they leave to the plan. What is told of a place is therefore the plan's figure and the
difference, and a map shows differences alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.words.beside import more_words, told_as
from app.words.figures import printed_step, row_step
from app.words.numbers import NOTHING, apart_as_shown, finest_of, shown, stepped
from sim.day.figures import FIGURES
from sim.decide.answer import Column, Comparison
from sim.decide.maps.answer import MapPoint, SettingsMap
from sim.units import NBSP, UNITS

MOVED = ("conveyor_speed_m_s", "car_spacing_m", "speed_timetable")
"""Changes of a scenario that a place of the first map is; a timetable steps aside there."""


@dataclass(frozen=True, slots=True)
class MapLevels:
    """A day's maps beside its plan.

    Attributes:
        plan: the comparison of the day's plan; None while it is not worked out, or where it is that
            of another first scenario.
    """

    found: SettingsMap
    plan: Comparison | None = None

    @classmethod
    def of(cls, found: SettingsMap, plan: Comparison | None) -> MapLevels:
        """Maps beside the plan that they were made for, else by themselves."""
        fits = plan is not None and plan.columns[0].scenario == found.scenario
        return cls(found, plan if fits else None)

    def column(self, place: MapPoint) -> Column | None:
        """The scenario of the plan that is a place of the map of speed and spacing: the first, at
        that speed and spacing all day."""
        if self.plan is None:
            return None
        if place == self.found.present:
            return self.plan.columns[0]
        first = self.plan.columns[0].scenario
        rest = {name: value for name, value in first.changes.items() if name not in MOVED}
        for column in (*self.plan.columns, *self.plan.unshown):
            one, changes = column.scenario, dict(column.scenario.changes)
            speed, spacing = (changes.pop(name, None) for name in MOVED[:2])
            changes.pop(MOVED[2], None)
            is_like = (one.rule, one.cloth, changes) == (first.rule, first.cloth, rest)
            if is_like and _is_at(speed, place.x) and _is_at(spacing, place.y):
                return column
        return None

    def at(self, place: MapPoint, name: str, *, is_setting: bool = True) -> float | None:
        """A figure of a place [SI]; None where the day has none.

        Args:
            is_setting: whether it is a place of speed and spacing, which the plan may have itself.
        """
        value, own = place.figures[name], self.found.present.figures[name]
        column = self.column(place) if is_setting else None
        if column is not None:
            return column.value(name)
        if self.plan is None or value is None or own is None:
            return value
        return self.plan.level(self.found.scenario.rule, name, value, own)

    def step(self, name: str) -> float:
        """To which power of ten a figure of a place and its difference are printed, so that they
        subtract [as shown]."""
        info, apart = FIGURES[name], self.found.differences.get(name)
        own = finest_of(info.unit, 0.0)
        if apart is not None and apart.value is not None and info.unit in ("money", "cars"):
            more = shown(apart.value, info.unit, "si", difference=True)
            own = printed_step(apart, info.unit, "si", more)
        if self.plan is None:
            return own
        other = self.found.other
        in_plan = other is not None and self.column(other) is not None
        ours = row_step(info, self.plan, "si")
        # of lost cars and money only the difference is told: it may be finer than both
        return min(ours, own) if info.unit in ("money", "cars") and not in_plan else ours

    def apart(self, place: MapPoint, name: str, *, is_setting: bool = True) -> float | None:
        """By how much more than now a figure is, both as printed [as shown]."""
        then, now = self.at(place, name, is_setting=is_setting), self.at(self.found.present, name)
        if then is None or now is None:
            return None
        seen = [shown(one, FIGURES[name].unit, "si") for one in (then, now)]
        return apart_as_shown(seen[0], seen[1], self.step(name))

    def apart_words(self, place: MapPoint, name: str, *, is_setting: bool = True) -> str:
        """The same with its sign, and that of money: `+$530`."""
        return more_words(name, self.apart(place, name, is_setting=is_setting), self.step(name))

    def now_words(self, name: str) -> str:
        """A figure of the setting now as the plan prints it; empty where there is no plan."""
        now = self.at(self.found.present, name)
        if self.plan is None or now is None:
            return ""
        said = told_as(self.plan, self.found.scenario.rule, name, now)
        unit = UNITS[FIGURES[name].unit].symbol("si")
        return said if unit in said or unit == "$" else f"{said}{NBSP}{unit}"

    def then_words(self, place: MapPoint, name: str) -> str:
        """A figure of a setting in the digits of the plan, with its unit."""
        value, kind = self.at(place, name), FIGURES[name].unit
        if value is None:
            return NOTHING
        said = stepped(shown(value, kind, "si"), self.step(name))
        return f"{said}{NBSP}{UNITS[kind].symbol('si')}"


def _is_at(value: object, place: float) -> bool:
    return isinstance(value, float) and math.isclose(value, place, rel_tol=1e-9)

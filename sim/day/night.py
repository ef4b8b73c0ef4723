"""The night: the cloth hangs still in the closed tunnel from when it came to rest to opening."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.kernel import closing
from sim.day.kernel.tables import Tables
from sim.day.rules import Rule, SetChange, parse_rule
from sim.day.setup import ClothNumbers, DayNumbers, prepare_day
from sim.inputs import Conditions, Site
from sim.physics.moisture import cloth_step

DAY_S = 86400.0
EVENING = 1_000_003
"""Index of the draws of evenings, which no day of a plan has."""
EVENINGS = 8
"""Evenings that are simulated for one site; of many drawn sites one each tells as much."""


@dataclass(frozen=True, slots=True)
class PreviousDay:
    """The last open day before the planned one, from which the cloth's moisture comes.

    Attributes:
        conditions: what that day was expected to bring.
        days_apart: days from it to the planned day, 1 unless days between were closed.
        day: which day it was.
    """

    conditions: Conditions
    days_apart: int
    day: date | None = None

    def as_wiped(self, rule: Rule) -> Rule:
        """How it was wiped: by the rule of such days."""
        return rule

    @property
    def sets(self) -> tuple[SetChange, ...]:
        """Dry sets put on during it."""
        return ()


@dataclass(frozen=True, slots=True)
class LoggedEvening(PreviousDay):
    """The last open day before, as its log has it; `conditions` has the cars that were counted.

    Attributes:
        rule: how it was wiped, as a rule is written; empty where no switch was noted.
        sets_s: when a dry set was put on [s after midnight].
    """

    rule: str = ""
    sets_s: tuple[float, ...] = ()

    def as_wiped(self, rule: Rule) -> Rule:
        """How it was wiped: as was switched, else by the rule of such days."""
        return parse_rule(self.rule) if self.rule else rule

    @property
    def sets(self) -> tuple[SetChange, ...]:
        """Dry sets put on during it."""
        return tuple(SetChange(at_s=at) for at in self.sets_s)


@dataclass(frozen=True, slots=True)
class Rest:
    """A site's cloth as evenings leave it.

    Attributes:
        cloth: the cloth of the evening.
        ends: moisture [kg/kg] and time [s] at which it came to rest, a pair a simulated evening.
    """

    cloth: ClothNumbers
    ends: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Night:
    """The evening before a day and the night after it, for any site that lived them.

    Attributes:
        evening: the last open day before, which starts with a dry set.
        rule: wiping rule of that day, where no log says how it was wiped.
        seed: root seed; the draws of evenings are streams of their own.
        evenings: how many are simulated; what the night leaves is their mean.
    """

    evening: PreviousDay
    rule: Rule
    seed: int
    evenings: int = EVENINGS

    def rest(self, site: Site) -> Rest:
        """How a site's evenings end."""
        expected = self.evening.conditions

        def cars_of(number: int) -> DayCars:
            return make_cars(DayDraw(self.seed, number, EVENING), site, expected)

        return self.rest_with(site, prepare_day(site, expected), cars_of)

    def rest_with(
        self,
        site: Site,
        before: DayNumbers,
        cars_of: Callable[[int], DayCars],
        tables: Tables | None = None,
    ) -> Rest:
        """How a site's evenings end that are ready.

        Args:
            before: the day before; cars_of: gives the cars of an evening by its number.
            tables: of that day, to spare working them out anew.
        """
        rule, sets = self.evening.as_wiped(self.rule), self.evening.sets
        ends = []
        for number in range(self.evenings):
            rest_s, moisture = closing(site, before, cars_of(number), rule, sets, tables=tables)
            ends.append((moisture, rest_s))
        return Rest(before.cloth, tuple(ends))

    def opening_moisture(self, rest: Rest, morning: DayNumbers) -> float:
        """Moisture at opening [kg/kg], the mean over the evenings."""
        opens = morning.open_s + self.evening.days_apart * DAY_S
        total = 0.0
        for moisture, rest_s in rest.ends:
            found, _ = dry_overnight(moisture, rest_s, opens, rest.cloth, morning.cloth)
            total += found
        return total / len(rest.ends)

    def opened(self, site: Site, conditions: Conditions) -> Conditions:
        """The day with what evening and night leave in a site's cloth; as it is where a dry set is
        hung every morning."""
        if site.wear.dry_set_at_opening:
            return conditions
        left = self.opening_moisture(self.rest(site), prepare_day(site, conditions))
        return replace(conditions, opening_moisture_kg_kg=left)


def dry_overnight(
    moisture: float, start_s: float, end_s: float, evening: ClothNumbers, morning: ClothNumbers
) -> tuple[float, float]:
    """Moisture and water evaporated [kg/kg] after hanging still, stepped hour by hour.

    Times are seconds after the evening's midnight; from 24:00 on the morning's air counts, on
    days between as well. Nothing is thrown off: the wheel stands.
    """
    dried, now = 0.0, start_s
    while now < end_s:
        until = min(end_s, (now // 3600 + 1) * 3600.0)
        air = evening if now < DAY_S else morning
        rate = air.night_rate[int(now // 3600) % 24]
        moisture, _, evaporated, _ = cloth_step(
            moisture, until - now, evening.bound, 0.0, rate, evening.critical, evening.bound
        )
        dried += evaporated
        now = until
    return moisture, dried

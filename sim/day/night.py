"""The night: the cloth hangs still in the closed tunnel from when it came to rest to opening."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import closing
from sim.day.rules import Rule, parse_rule
from sim.day.setup import ClothNumbers, prepare_day
from sim.inputs import Conditions, Scenario, Site
from sim.physics.moisture import cloth_step

DAY_S = 86400.0
EVENING = 1_000_003
"""Index of the draws of evenings, which no day of a plan has."""


@dataclass(frozen=True, slots=True)
class Evening:
    """The last open day before the planned one, from which the cloth's moisture comes.

    Attributes:
        conditions: what that day was expected to bring.
        days_apart: days from it to the planned day, 1 unless days between were closed.
        day: which day it was.
    """

    conditions: Conditions
    days_apart: int
    day: date | None = None


def hang(
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


def opening_moisture(
    site: Site, evening: Evening, morning: Conditions, rule: Rule, seed: int, days: int = 8
) -> float:
    """Moisture at opening [kg/kg], the mean over simulated days before.

    Args:
        evening: the last open day before, which starts with a dry set.
        morning: conditions of the day that opens.
        rule: wiping rule of the day before.
        seed: root seed; the draws of the night before are streams of their own.
        days: how many days before are simulated.
    """
    return after_night(site, evening, morning, evening_ends(site, evening, rule, seed, days))


def opened_after(
    site: Site,
    conditions: Conditions,
    evening: Evening | None,
    rule: Rule,
    seed: int,
    days: int = 8,
) -> Conditions:
    """The day with what the evening and the night leave in a site's cloth, see `opening_moisture`;
    as it is without an evening, or where a dry set is hung every morning."""
    if evening is None or site.wear.dry_set_at_opening:
        return conditions
    left = opening_moisture(site, evening, conditions, rule, seed, days)
    return replace(conditions, opening_moisture_kg_kg=left)


def mornings(
    site: Site,
    conditions: Conditions,
    scenarios: Sequence[Scenario],
    evening: Evening | None,
    seed: int,
    days: int = 8,
) -> list[Conditions]:
    """The day as the cloth of each scenario opens it.

    What a scenario changes of the site's inputs (equipment, cloth, people, settings) lasts: the
    evening before was lived with it too. What is for the day alone does not: the evening is wiped
    by the first scenario's rule in all of them, no dry set is put on, and the evening's weather
    and demand are its own.
    """
    rule = parse_rule(scenarios[0].rule)
    found: list[Conditions] = []
    for number, scenario in enumerate(scenarios):
        alike = (n for n in range(number) if scenarios[n].changes == scenario.changes)
        like = next(alike, number)
        if like < number:
            found.append(found[like])
        else:
            changed = site.with_values(scenario.changes)
            found.append(opened_after(changed, conditions, evening, rule, seed, days))
    return found


def evening_ends(
    site: Site, evening: Evening, rule: Rule, seed: int, days: int = 8
) -> tuple[tuple[float, float], ...]:
    """Moisture [kg/kg] and time [s] at which the cloth came to rest, a pair a simulated evening."""
    before = prepare_day(site, evening.conditions)
    ends = []
    for number in range(days):
        cars = make_cars(DayDraw(seed, number, EVENING), site, evening.conditions)
        rest_s, moisture = closing(site, before, cars, rule)
        ends.append((moisture, rest_s))
    return tuple(ends)


def after_night(
    site: Site, evening: Evening, morning: Conditions, ends: tuple[tuple[float, float], ...]
) -> float:
    """Moisture at opening [kg/kg], the mean over evenings that ended in `ends`."""
    before, after = prepare_day(site, evening.conditions), prepare_day(site, morning)
    opens = after.open_s + evening.days_apart * DAY_S
    total = 0.0
    for moisture, rest_s in ends:
        found, _ = hang(moisture, rest_s, opens, before.cloth, after.cloth)
        total += found
    return total / len(ends)

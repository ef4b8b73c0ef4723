"""The night: the cloth hangs still in the closed tunnel from when it came to rest to opening."""

from __future__ import annotations

from dataclasses import dataclass

from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import closing
from sim.day.rules import Rule
from sim.day.setup import ClothNumbers, prepare_day
from sim.inputs import Conditions, Site
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
        words: what a page calls it, such as "Friday 17 July".
    """

    conditions: Conditions
    days_apart: int
    words: str


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

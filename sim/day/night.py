"""The night: the cloth hangs still in the closed tunnel from when it came to rest to opening."""

from __future__ import annotations

from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import closing
from sim.day.rules import Rule
from sim.day.setup import ClothNumbers, prepare_day
from sim.inputs import Conditions, Site
from sim.physics.moisture import cloth_step

DAY_S = 86400.0


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
    site: Site,
    evening: Conditions,
    morning: Conditions,
    days_apart: int,
    rule: Rule,
    seed: int,
    days: int = 8,
) -> float:
    """Moisture at opening [kg/kg], the mean over simulated days before.

    Args:
        evening: conditions of the last open day before, which starts with a dry set.
        morning: conditions of the day that opens.
        days_apart: days from the one to the other, 1 unless days between were closed.
        rule: wiping rule of the day before.
        seed: root seed; the draws of the night before are streams of their own.
        days: how many days before are simulated.
    """
    before, after = prepare_day(site, evening), prepare_day(site, morning)
    total = 0.0
    for number in range(days):
        cars = make_cars(DayDraw(seed, number, 1), site, evening)
        rest_s, moisture = closing(site, before, cars, rule)
        opens = after.open_s + days_apart * DAY_S
        found, _ = hang(moisture, rest_s, opens, before.cloth, after.cloth)
        total += found
    return total / days

"""Makes the demo site beside it: `python -m demo_site.make_demo` from the project's root.

Everything is invented: the place, its people, its weather, every car. The year is 364 days from
Monday 2025-07-14, so that it can be laid anywhere by whole weeks and meets itself a year later.
Its first days are the middle of the busiest season: laid so that it ends in the week before today
(`app.sites.demo`), the demo always stands before its humid peak.

Random numbers are uniforms of `random.Random`, whose sequence Python promises to keep, turned
over by inverse distribution functions; so the same files come out everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from random import Random
from statistics import NormalDist

from scipy.stats import gamma, poisson

from app.files.site_clock import SiteClock
from app.sites.folder import write_folder
from demo_site.make_cloth import cloth_book
from demo_site.make_log import logbook
from demo_site.make_roster import week_in_place
from demo_site.make_weighings import weighings
from sim.inputs import (
    Away,
    DayNote,
    History,
    HourCount,
    HourWeather,
    Person,
    Site,
    SiteData,
    StaffBook,
    Value,
)
from sim.physics.air import saturation_pressure_pa

SEED = 20240101
TIMEZONE = "America/New_York"
BASE_START = date(2025, 7, 14)
YEAR_DAYS = 364
STANDS_ON = date(2026, 7, 18)
"""It always is this Saturday there, the first after the counts end."""
PEAK_DAY = 7
"""Day of the year, counted from 0, in the middle of the humid peak."""

OPEN_HOURS = range(7, 20)
HOURLY_SHARE = dict(
    zip(
        OPEN_HOURS,
        (0.024, 0.034, 0.050, 0.076, 0.106, 0.126, 0.130, 0.126, 0.114, 0.090, 0.060, 0.038, 0.026),
        strict=True,
    )
)
"""Share of a day's cars in each hour; sums to 1."""
WEEKDAY_FACTOR = (0.55, 0.50, 0.52, 0.58, 0.80, 1.00, 0.82)
DAY_FACTOR_CV = 0.09
RAIN_FACTOR, SURGE_FACTOR = 0.50, 1.30
HOTTEST_H, COOLEST_H = 15, 5


@dataclass(frozen=True, slots=True)
class Season:
    """A point of the invented climate; what lies between two is drawn straight.

    Attributes:
        day: days after the middle of the humid peak.
        saturday_cars: cars of a dry Saturday.
        high_c, low_c: highest and lowest temperature of a dry day [°C].
        humidity: relative humidity in the hottest hour of a dry day, 0 to 1.
        rain_chance: share of days with rain.
        swing_k: standard deviation of the days' highest temperature [K].
    """

    day: int
    saturday_cars: float
    high_c: float
    low_c: float
    humidity: float
    rain_chance: float
    swing_k: float


SEASONS = (
    Season(0, 1300, 33.0, 24.0, 0.61, 0.14, 0.8),  # humid peak, July and August
    Season(34, 1300, 33.0, 24.0, 0.61, 0.14, 0.8),
    Season(42, 1250, 35.6, 20.0, 0.20, 0.01, 1.0),  # hot dry peak, September
    Season(72, 1250, 35.6, 20.0, 0.20, 0.01, 1.0),
    Season(94, 900, 25.0, 11.0, 0.42, 0.15, 2.5),
    Season(150, 660, 15.5, 6.0, 0.52, 0.25, 2.0),  # quiet months, December to February
    Season(210, 660, 16.0, 6.0, 0.50, 0.25, 2.0),
    Season(255, 850, 23.5, 10.0, 0.42, 0.30, 2.5),
    Season(300, 1000, 29.0, 17.0, 0.48, 0.30, 2.0),
    Season(335, 1300, 33.0, 24.0, 0.61, 0.14, 0.8),
    Season(364, 1300, 33.0, 24.0, 0.61, 0.14, 0.8),
)
"""Like the inland south-east of North America: humid summers, mild winters; in early autumn a few
weeks of drought as some years have one."""

DAYS: dict[int, tuple[str, str, float]] = {
    58: ("event", "charity wash of the rowing club", 1.35),
    101: ("closed", "belt chain replaced", 0.0),
    152: ("event", "street fair", 1.30),
    185: ("event", "road works before the entrance", 0.60),
    248: ("closed", "holiday", 0.0),
    255: ("closed", "holiday", 0.0),
    318: ("closed", "storm, no power", 0.0),
    YEAR_DAYS + 13: ("event", "street fair, and our finishers have a stall there", 1.30),
    YEAR_DAYS + 16: ("closed", "belt and wheel serviced", 0.0),
}
"""Marked days: kind, note, what it did to the number of cars. The last two are still to come."""

GIVEN: dict[str, Value] = {
    "open_h": 7.0,
    "close_h": 20.0,
    "conveyor_speed_m_s": 0.25,
    "car_spacing_m": 6.0,
    "pay_lanes": ((0.0, 2.0), (9 * 3600.0, 3.0), (18 * 3600.0, 2.0)),
    "loaders": ((0.0, 1.0), (10 * 3600.0, 2.0), (17 * 3600.0, 1.0)),
    "people": ((0.0, 3.0), (9 * 3600.0, 5.0), (19 * 3600.0, 3.0)),
    "finishers": ((0.0, 0.0), (9 * 3600.0, 1.0), (19 * 3600.0, 0.0)),
    "finish_area_s_m2": 18.0,
    "stack_limit_cars": 20,
    "loading_line_cars": 7,
    "strip_count": 200,
    "strip_dry_mass_kg": 0.060,
    "film_after_rinse_kg_m2": 0.1,
    "blower_removal": 0.7,
    "contact_patch_m": 0.5,
    "film_cv": 0.17,
    "uptake_max": 0.92,
    "wipe_time_s": 0.8,
    "price_per_car": 12.0,
    "wage_per_h": 24.0,
    "damp_cost": 2.0,
    "zone_minded_roof": 0.25,
    "zone_minded_rear": 0.45,
    "reduce_wish": "cost",
    "allowed_damp_share": 0.05,
    "allowed_film_kg_m2": 0.0175,
}
"""What the invented site has entered itself; all else are defaults."""

LOADS, DRIES = ("loader",), ("finisher",)
BOTH = (*LOADS, *DRIES)
PEOPLE: tuple[tuple[str, tuple[str, ...], float, float, float, str], ...] = (
    ("Ada", BOTH, 22.0, 24.0, 40.0, "sun"),
    ("Ben", LOADS, 19.0, 0.0, 40.0, ""),
    ("Cleo", DRIES, 18.5, 0.0, 24.0, "mon; tue; wed 0:00-12:00"),
    ("Dov", BOTH, 20.0, 16.0, 40.0, ""),
    ("Eli", LOADS, 18.0, 0.0, 40.0, "sat"),
    ("Fay", BOTH, 20.5, 0.0, 32.0, "thu"),
    ("Gus", LOADS, 18.5, 0.0, 40.0, ""),
    ("Hana", DRIES, 19.0, 0.0, 40.0, "fri 16:00-24:00"),
    ("Ivo", LOADS, 18.0, 0.0, 20.0, "mon; tue; wed; thu 0:00-15:00"),
    ("Jun", BOTH, 19.5, 0.0, 40.0, ""),
    ("Kit", LOADS, 18.0, 0.0, 40.0, "tue"),
    ("Lea", DRIES, 18.5, 0.0, 32.0, ""),
    ("Mo", LOADS, 18.0, 0.0, 40.0, ""),
    ("Nia", BOTH, 20.0, 0.0, 40.0, "mon"),
    ("Oz", LOADS, 18.0, 0.0, 24.0, ""),
)
"""Invented people: name, what they can do, wage, least and most hours a week, when they can't."""


def season_at(day: int) -> Season:
    """The invented climate on a day of the year, counted from 0."""
    at = (day - PEAK_DAY) % YEAR_DAYS
    after = next(s for s in SEASONS if s.day > at)
    before = SEASONS[SEASONS.index(after) - 1]
    weight = (at - before.day) / (after.day - before.day)

    def mixed(name: str) -> float:
        low, high = getattr(before, name), getattr(after, name)
        return float(low + (high - low) * weight)

    names = ("saturday_cars", "high_c", "low_c", "humidity", "rain_chance", "swing_k")
    return Season(at, *(mixed(name) for name in names))


@dataclass(frozen=True, slots=True)
class _Weather:
    temp_c: list[float]
    humidity: list[float]
    rain_mm: list[float]


def make() -> SiteData:
    """The whole demo site, the same at every call."""
    uniform = Random(SEED).random
    clock = SiteClock(TIMEZONE)
    counts: list[HourCount] = []
    weather: list[HourWeather] = []
    anomaly = 0.0
    was_wet = False
    for index in range(YEAR_DAYS):
        day = BASE_START + timedelta(days=index)
        season = season_at(index)
        # Warm and cool spells last a few days.
        anomaly = 0.7 * anomaly + 0.714 * _normal(uniform())
        air = _air_of_day(season, anomaly, uniform)
        rain_open = sum(air.rain_mm[hour] for hour in OPEN_HOURS)
        mean = season.saturday_cars * WEEKDAY_FACTOR[day.weekday()]
        if rain_open >= 1.0:
            mean *= RAIN_FACTOR
        elif was_wet:
            mean *= SURGE_FACTOR
        was_wet = rain_open >= 1.0
        shape = DAY_FACTOR_CV**-2
        mean *= float(gamma.ppf(uniform(), shape, scale=1.0 / shape))
        mean *= DAYS.get(index, ("", "", 1.0))[2]
        for hour in range(24):
            # The hour that clocks skip is left out, the one that comes twice is written twice.
            weather += [
                HourWeather(
                    day, hour, fold, air.temp_c[hour], air.humidity[hour], air.rain_mm[hour]
                )
                for fold in range(clock.times(day, hour))
            ]
            if hour in OPEN_HOURS:
                draw = uniform()
                if mean > 0.0:
                    cars = int(poisson.ppf(draw, mean * HOURLY_SHARE[hour]))
                    counts.append(HourCount(day, hour, 0, cars))
    days = tuple(
        DayNote(BASE_START + timedelta(days=index), kind, note)
        for index, (kind, note, _) in sorted(DAYS.items())
    )
    site = Site(name="Harbor Road", timezone=TIMEZONE).with_values(GIVEN)
    history = History("arrived", tuple(counts), tuple(weather), days)
    data = SiteData(
        site, "us", frozenset(GIVEN), history, cloth=cloth_book(counts),
        staff=StaffBook(_people(), week_in_place()), stands_on=STANDS_ON,
    )  # fmt: skip
    data = replace(data, weighings=weighings(data))
    return replace(data, log=logbook(data))


def _people() -> tuple[Person, ...]:
    return tuple(
        Person(
            name, roles, wage, least, most, tuple(map(Away.read, filter(None, away.split("; "))))
        )
        for name, roles, wage, least, most, away in PEOPLE
    )


def _normal(uniform: float) -> float:
    return NormalDist().inv_cdf(min(max(uniform, 1e-12), 1.0 - 1e-12))


def _air_of_day(season: Season, anomaly: float, uniform: Callable[[], float]) -> _Weather:
    rains = uniform() < season.rain_chance
    begins, lasts, falls = uniform(), uniform(), uniform()
    rain = [0.0] * 24
    if rains:
        first = 8 + int(8 * begins)
        hours = 2 + int(4 * lasts)
        for hour in range(first, first + hours):
            rain[hour] = round((3.0 + 12.0 * falls) / hours, 1)
    high = season.high_c + season.swing_k * anomaly - (3.0 if rains else 0.0)
    low = season.low_c + 0.7 * season.swing_k * anomaly
    vapor = (
        season.humidity
        * math.exp(0.06 * _normal(uniform()))
        * saturation_pressure_pa(season.high_c)
    )
    temps, humid = [], []
    for hour in range(24):
        temp = low + (high - low) * _warmth(hour) + 0.3 * _normal(uniform())
        temp -= 5.0 if rain[hour] else 0.0
        most = 0.97 if rain[hour] else 0.95
        share = min(most, vapor / saturation_pressure_pa(temp))
        temps.append(round(temp, 1))
        humid.append(round(100.0 * max(share, 0.90 if rain[hour] else 0.05)) / 100.0)
    return _Weather(temps, humid, rain)


def _warmth(hour: int) -> float:
    """0 in the coolest hour, 1 in the hottest, half a cosine between."""
    since_cool = (hour - COOLEST_H) % 24
    rising = HOTTEST_H - COOLEST_H
    if since_cool <= rising:
        return 0.5 - 0.5 * math.cos(math.pi * since_cool / rising)
    return 0.5 + 0.5 * math.cos(math.pi * (since_cool - rising) / (24 - rising))


if __name__ == "__main__":
    write_folder(Path(__file__).parent, make())
    print(f"Wrote site.toml and the files of its past to {Path(__file__).parent}.")

"""Invented comparisons in the shape of `clothcast plan --json`, for the tests of pages.

Nothing here was computed by the model: the numbers only look like a day, so that words, units
and pictures can be tested without running one.
"""

from __future__ import annotations

import copy
from datetime import date, timedelta
from typing import Any

from sim.inputs import DayNote, History, HourCount, HourWeather, Site, SiteData

REPLICATIONS = 32


_HOURS = range(7, 20)


def _day(*values: float) -> list[float | None]:
    """24 values from the 13 of 7:00 to 20:00."""
    day: list[float | None] = [None] * 24
    for hour, value in zip(_HOURS, values, strict=True):
        day[hour] = value
    return day


ARRIVALS = [0.0] * 24
for _hour, _cars in zip(
    _HOURS, (55, 92, 128, 152, 175, 197, 208, 201, 182, 161, 137, 98, 61), strict=True
):
    ARRIVALS[_hour] = float(_cars)


def figure(value: float, error: float, low: float, high: float, unit: str = "") -> dict[str, Any]:
    """A figure of the comparison with its day range and its run error."""
    return {
        "value": value,
        "unit": unit,
        "intervals": [
            {"kind": "day range", "low": low, "high": high},
            {"kind": "run error", "low": value - error, "high": value + error},
        ],
    }


def difference(value: float, error: float, days_better: float, word: str) -> dict[str, Any]:
    """A paired difference to the first scenario."""
    return {
        "value": value,
        "unit": "",
        "intervals": [{"kind": "run error", "low": value - error, "high": value + error}],
        "days_better": days_better,
        "word": word,
    }


def _full() -> dict[str, Any]:
    return {
        "name": "Always full",
        "rule": "full",
        "cloth": "",
        "changes": {},
        "label": "every car wiped in full",
        "figures": {
            "cars_arrived": figure(1910, 40, 1680, 2140),
            "cars_washed": figure(1827, 28, 1600, 1960),
            "cars_lost": figure(83, 14, 7, 240),
            "cars_lost_full": figure(61, 12, 0, 190),
            "cars_lost_impatient": figure(22, 4, 5, 52),
            "wait_p95_s": figure(672, 40, 360, 900),
            "belt_use": figure(0.83, 0.01, 0.72, 0.9),
            "damp_share": figure(0.179, 0.016, 0.06, 0.31),
            "full_share": figure(1.0, 0.0, 1.0, 1.0),
            "saturation_max": figure(0.79, 0.01, 0.7, 0.86),
            "water_taken_kg": figure(118.2, 2.1, 101.0, 130.0),
            "wear_cars": figure(1830, 30, 1590, 1980),
            "margin": figure(9340, 180, 7700, 10600),
        },
        "hours": {
            "arrived": list(ARRIVALS),
            "washed": _day(54, 91, 126, 150, 172, 177, 173, 172, 173, 171, 145, 100, 63),
            "stack_mean": _day(1, 2, 3, 5, 9, 22, 30, 31, 30, 25, 13, 4, 1),
            "saturation_mean": _day(
                0.35, 0.4, 0.47, 0.56, 0.64, 0.71, 0.76, 0.79, 0.79, 0.77, 0.71, 0.6, 0.5
            ),
            "damp_share": _day(
                0.0, 0.0, 0.01, 0.02, 0.04, 0.12, 0.27, 0.36, 0.39, 0.33, 0.19, 0.04, 0.01
            ),
        },
        "differences": None,
        "widest": {},
    }


def _reduced() -> dict[str, Any]:
    return {
        "name": "Always reduced",
        "rule": "reduced",
        "cloth": "",
        "changes": {},
        "label": "hood and windshield only",
        "figures": {
            "cars_arrived": figure(1910, 40, 1680, 2140),
            "cars_washed": figure(1842, 28, 1620, 1970),
            "cars_lost": figure(68, 12, 5, 221),
            "cars_lost_full": figure(49, 10, 0, 175),
            "cars_lost_impatient": figure(19, 4, 4, 48),
            "wait_p95_s": figure(624, 38, 300, 900),
            "belt_use": figure(0.84, 0.01, 0.72, 0.9),
            "damp_share": figure(0.024, 0.004, 0.0, 0.06),
            "full_share": figure(0.0, 0.0, 0.0, 0.0),
            "saturation_max": figure(0.52, 0.01, 0.46, 0.6),
            "water_taken_kg": figure(61.0, 1.4, 52.0, 68.0),
            "wear_cars": figure(812, 12, 700, 880),
            "margin": figure(9210, 170, 8000, 10300),
        },
        "hours": {
            "arrived": list(ARRIVALS),
            "washed": _day(54, 91, 126, 150, 173, 180, 180, 180, 180, 172, 142, 98, 61),
            "stack_mean": _day(1, 2, 3, 5, 8, 19, 29, 30, 26, 16, 6, 2, 1),
            "saturation_mean": _day(
                0.33, 0.35, 0.38, 0.41, 0.45, 0.49, 0.51, 0.52, 0.52, 0.5, 0.46, 0.41, 0.36
            ),
            "damp_share": _day(
                0.0, 0.0, 0.0, 0.0, 0.01, 0.02, 0.04, 0.06, 0.05, 0.03, 0.02, 0.0, 0.0
            ),
        },
        "differences": {
            "cars_arrived": difference(0, 0, 0.0, "hardly differs"),
            "cars_washed": difference(15, 4, 0.9, "a little better"),
            "cars_lost": difference(-15, 4, 0.9, "a little better"),
            "cars_lost_full": difference(-12, 4, 0.84, "a little better"),
            "cars_lost_impatient": difference(-3, 1, 0.8, "hardly differs"),
            "wait_p95_s": difference(-48, 12, 0.8, "hardly differs"),
            "belt_use": difference(0.007, 0.002, 0.8, "hardly differs"),
            "damp_share": difference(-0.155, 0.015, 1.0, "clearly better"),
            "full_share": difference(-1.0, 0.0, 0.0, "clearly fewer"),
            "saturation_max": difference(-0.27, 0.01, 1.0, "clearly lower"),
            "water_taken_kg": difference(-57.2, 1.0, 0.0, "clearly lower"),
            "wear_cars": difference(-1018, 20, 1.0, "clearly better"),
            "margin": difference(-130, 90, 0.41, "can't tell"),
        },
        "widest": {},
    }


def _window() -> dict[str, Any]:
    return {
        "name": "Reduced 11:50–16:40",
        "rule": "clock 11:50-16:40",
        "cloth": "",
        "changes": {},
        "label": "reduced from 11:50 to 16:40, full before and after",
        "figures": {
            "cars_arrived": figure(1910, 40, 1680, 2140),
            "cars_washed": figure(1840, 28, 1620, 1970),
            "cars_lost": figure(70, 12, 5, 223),
            "cars_lost_full": figure(51, 10, 0, 177),
            "cars_lost_impatient": figure(19, 4, 4, 48),
            "wait_p95_s": figure(630, 38, 300, 900),
            "belt_use": figure(0.84, 0.01, 0.72, 0.9),
            "damp_share": figure(0.046, 0.006, 0.01, 0.1),
            "full_share": figure(0.53, 0.01, 0.48, 0.59),
            "saturation_max": figure(0.62, 0.01, 0.57, 0.67),
            "water_taken_kg": figure(88.0, 1.8, 75.0, 98.0),
            "wear_cars": figure(1352, 18, 1180, 1460),
            "margin": figure(9720, 170, 8300, 10800),
        },
        "hours": {
            "arrived": list(ARRIVALS),
            "washed": _day(54, 91, 126, 150, 173, 180, 179, 180, 180, 173, 141, 98, 61),
            "stack_mean": _day(1, 2, 3, 5, 8, 19, 29, 30, 27, 18, 8, 2, 1),
            "saturation_mean": _day(
                0.35, 0.4, 0.47, 0.56, 0.62, 0.61, 0.58, 0.55, 0.52, 0.51, 0.56, 0.53, 0.46
            ),
            "damp_share": _day(
                0.0, 0.0, 0.01, 0.02, 0.04, 0.08, 0.08, 0.07, 0.06, 0.04, 0.05, 0.03, 0.0
            ),
        },
        "differences": {
            "cars_arrived": difference(0, 0, 0.0, "hardly differs"),
            "cars_washed": difference(13, 4, 0.88, "a little better"),
            "cars_lost": difference(-13, 4, 0.88, "a little better"),
            "cars_lost_full": difference(-10, 4, 0.84, "a little better"),
            "cars_lost_impatient": difference(-3, 1, 0.8, "hardly differs"),
            "wait_p95_s": difference(-42, 12, 0.8, "hardly differs"),
            "belt_use": difference(0.006, 0.002, 0.8, "hardly differs"),
            "damp_share": difference(-0.133, 0.015, 1.0, "clearly better"),
            "full_share": difference(-0.47, 0.01, 0.0, "clearly fewer"),
            "saturation_max": difference(-0.17, 0.01, 1.0, "clearly lower"),
            "water_taken_kg": difference(-30.2, 1.0, 0.0, "clearly lower"),
            "wear_cars": difference(-478, 14, 1.0, "clearly better"),
            "margin": difference(380, 60, 0.97, "clearly better"),
        },
        "widest": {},
    }


def peak_day() -> dict[str, Any]:
    """A busy humid Saturday on which a window of reduced wiping is the best of three."""
    return {
        "schema": "clothcast.plan/1",
        "site": "Invented Lane",
        "date": "2026-07-18",
        "seed": 1,
        "replications": REPLICATIONS,
        "days": REPLICATIONS,
        "sites": 0,
        "libraries": {"numpy": "2"},
        "draw_hash": "invented",
        "conditions": {
            "arrivals_per_h": list(ARRIVALS),
            "temp_c": [24.0 + 0.4 * h for h in range(24)],
            "humidity": [0.8] * 24,
            "opening_saturation": 0.3,
            "opening_from": "the simulated night before",
            "origin": "Made of six Saturdays in July.",
        },
        "limits": {
            "damp_limit_saturation": 0.66,
            "no_wiping_needed": False,
            "allowed_damp_share": 0.05,
            "stack_limit_cars": 32,
            "belt_capacity_per_h": 181.0,
            "open_h": 7.0,
            "close_h": 20.0,
        },
        "scenarios": [_full(), _reduced(), _window()],
    }


SITES, DAYS = 128, 128
_SITE_RANGES: tuple[dict[str, tuple[float, float]], ...] = (
    {
        "cars_washed": (1770, 1870),
        "cars_lost": (52, 121),
        "wait_p95_s": (590, 775),
        "damp_share": (0.094, 0.271),
        "saturation_max": (0.7, 0.86),
        "margin": (8600, 9980),
    },
    {
        "cars_washed": (1786, 1884),
        "cars_lost": (41, 103),
        "wait_p95_s": (540, 725),
        "damp_share": (0.009, 0.052),
        "saturation_max": (0.44, 0.6),
        "margin": (8700, 9720),
    },
    {
        "cars_washed": (1784, 1882),
        "cars_lost": (43, 105),
        "wait_p95_s": (545, 730),
        "damp_share": (0.021, 0.083),
        "saturation_max": (0.53, 0.7),
        "margin": (9180, 10230),
    },
)
"""Site uncertainty of the figures that decide, a column each."""
_APART: tuple[dict[str, tuple[float, float, float, str]], ...] = (
    {},
    {
        "cars_lost": (-22, -7, 0.97, "a little better"),
        "damp_share": (-0.22, -0.08, 1.0, "clearly better"),
        "margin": (-640, 350, 0.36, "can’t tell"),
    },
    {
        "cars_lost": (-20, -6, 0.96, "a little better"),
        "damp_share": (-0.19, -0.07, 0.99, "clearly better"),
        "margin": (-90, 860, 0.87, "probably better"),
    },
)
"""Site uncertainty of some differences, the share of sites that are better, the word."""


def peak_day_over_sites() -> dict[str, Any]:
    """The peak day computed over drawn sites: site uncertainty, words over sites, what widens."""
    day = peak_day()
    day |= {"sites": SITES, "replications": 8 * SITES, "days": DAYS}
    for column, ranges, apart in zip(day["scenarios"], _SITE_RANGES, _APART, strict=True):
        for name, one in column["figures"].items():
            low, high = ranges.get(name, (one["value"], one["value"]))
            site = {"kind": "site uncertainty", "low": float(low), "high": float(high)}
            one["intervals"].insert(1, site)
        for name, one in (column["differences"] or {}).items():
            low, high, share, word = apart.get(
                name, (one["value"], one["value"], one["days_better"], one["word"])
            )
            one["intervals"].append(
                {"kind": "site uncertainty", "low": float(low), "high": float(high)}
            )
            one |= {"sites_better": share, "word": word}
        column["widest"] = {
            "damp_share": [
                {"input": "damp_limit_saturation", "share": 0.41},
                {"input": "throw_off_time_s", "share": 0.29},
                {"input": "throw_off_moisture_kg_kg", "share": 0.14},
            ],
            "cars_lost": [],
            "margin": [{"input": "damp_cost", "share": 0.5}],
        }
    return day


def one_scenario() -> dict[str, Any]:
    """Only the present rule."""
    day = peak_day()
    day["scenarios"] = day["scenarios"][:1]
    return day


def quiet_day() -> dict[str, Any]:
    """Nothing is damp, nobody is lost, and no rule differs from another by enough to matter."""
    day = peak_day()
    day["conditions"]["arrivals_per_h"] = [round(0.3 * cars) for cars in ARRIVALS]
    for number, scenario in enumerate(day["scenarios"]):
        figures = scenario["figures"]
        figures["cars_lost"] = figure(0, 0, 0, 0)
        figures["cars_lost_full"] = figure(0, 0, 0, 0)
        figures["cars_lost_impatient"] = figure(0, 0, 0, 0)
        figures["damp_share"] = figure(0.004 - 0.001 * number, 0.001, 0, 0.01)
        figures["margin"] = figure(2100 - 10 * number, 60, 1800, 2400)
        figures["cars_washed"] = figure(573, 12, 500, 640)
        for name in scenario["hours"]:
            if name in ("arrived", "washed"):
                scenario["hours"][name] = [
                    None if v is None else 0.3 * v for v in scenario["hours"][name]
                ]
            elif name in ("stack_mean", "damp_share"):
                scenario["hours"][name] = [
                    None if v is None else 0.01 * v for v in scenario["hours"][name]
                ]
            else:
                scenario["hours"][name] = [
                    None if v is None else 0.6 * v for v in scenario["hours"][name]
                ]
        for name in scenario["differences"] or {}:
            scenario["differences"][name] = difference(0.0, 0.0, 0.4, "hardly differs")
    return day


def no_cars() -> dict[str, Any]:
    """An open day on which no car is expected: shares have no value."""
    day = peak_day()
    day["conditions"]["arrivals_per_h"] = [0.0] * 24
    for scenario in day["scenarios"]:
        for name, one in scenario["figures"].items():
            share = name in ("damp_share", "wait_p95_s", "full_share")
            one["value"] = None if share else 0.0
            one["intervals"] = [] if share else figure(0, 0, 0, 0)["intervals"]
        for name in scenario["hours"]:
            scenario["hours"][name] = [None] * 24 if name == "damp_share" else [0.0] * 24
        for name in scenario["differences"] or {}:
            scenario["differences"][name] = difference(0.0, 0.0, 0.0, "hardly differs")
    return day


def all_lost() -> dict[str, Any]:
    """Cars come and not one of them gets through."""
    day = peak_day()
    for scenario in day["scenarios"]:
        figures = scenario["figures"]
        figures["cars_washed"] = figure(0, 0, 0, 0)
        figures["cars_lost"] = figure(1910, 40, 1680, 2140)
        figures["cars_lost_impatient"] = figure(1900, 40, 1670, 2130)
        figures["cars_lost_full"] = figure(10, 2, 5, 15)
        for name in ("damp_share", "wait_p95_s", "full_share"):
            figures[name] = {"value": None, "unit": "", "intervals": []}
        scenario["hours"]["washed"] = [0.0] * 24
        scenario["hours"]["damp_share"] = [None] * 24
    return day


def six_scenarios() -> dict[str, Any]:
    """Six columns, each a little different."""
    day = peak_day()
    for number in range(3):
        extra = copy.deepcopy(day["scenarios"][2])
        extra["name"] = f"Variant {number + 1}"
        for name in ("washed", "stack_mean", "saturation_mean", "damp_share"):
            factor = 0.95 - 0.05 * number
            extra["hours"][name] = [None if v is None else factor * v for v in extra["hours"][name]]
        extra["figures"]["margin"]["value"] -= 100 * (number + 1)
        day["scenarios"].append(extra)
    return day


PEAK = date(2026, 7, 18)
CLOSED = date(2026, 7, 20)


def small_site() -> SiteData:
    """A site with three weeks of equal days before `PEAK`, and one closed day after it."""
    days = [PEAK - timedelta(days=back) for back in range(21, 0, -1)]
    counts = tuple(HourCount(day, hour, 0, 80) for day in days for hour in _HOURS)
    weather = tuple(HourWeather(day, hour, 0, 25.0, 0.7, 0.0) for day in days for hour in range(24))
    notes = (DayNote(CLOSED, "closed", "stocktaking"),)
    history = History("arrived", counts, weather, notes)
    return SiteData(Site("Invented Lane"), "us", frozenset(), history)

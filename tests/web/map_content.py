"""Maps of a made-up day, small and told by formulas, as the service stores them."""

from __future__ import annotations

from typing import Any

SPEEDS = [round(0.15 + 0.01 * i, 2) for i in range(21)]
SPACINGS = [round(5.0 + 0.25 * i, 2) for i in range(21)]
DEMANDS = [round(0.5 + 0.05 * i, 2) for i in range(21)]
TEMPS = [float(20 + i) for i in range(21)]
ALLOWED = {"damp_share": 0.08, "wait_p90_s": 720.0, "cars_lost": 150.0}
FIGURES = ("cars_per_hour", "wait_p90_s", "cars_lost", "damp_share", "margin")


def at_setting(speed: float, spacing: float, demand: float = 1.0, temp: float = 30.0) -> list[Any]:
    """Figures and kept limits of a setting: faster and closer washes more and dries less."""
    cars = 2400.0 * speed / spacing * 1.5
    lost = max(0.0, 10.0 * (115.0 * demand - cars))
    damp = max(0.0, 1.6 * (speed - 0.2) + 0.004 * (30.0 - temp))
    wait = 120.0 + 3.0 * lost
    margin = 9.5 * (1500.0 * demand - lost) - 2000.0 * damp
    keeps = [damp <= 0.08, wait <= 720.0, lost <= 150.0]
    return [cars, wait, lost, damp, margin, *keeps]


def place(x: float, y: float, row: list[Any]) -> dict[str, Any]:
    """A point of a record."""
    return {
        "x": x,
        "y": y,
        "figures": dict(zip(FIGURES, row, strict=False)),
        "keeps": dict(zip(ALLOWED, row[5:], strict=True)),
    }


def difference(value: float, word: str) -> dict[str, Any]:
    """A paired difference of a record."""
    ends = {"kind": "run error", "low": value - 4.0, "high": value + 4.0}
    return {"value": value, "unit": "1", "intervals": [ends], "days_better": 0.875, "word": word}


def maps() -> dict[str, Any]:
    """At 0.24 m/s and 7 m damp cars fall and more are lost; the present setting allows too many."""
    now, best = at_setting(0.28, 8.0), at_setting(0.24, 7.0)
    columns = ["x", "y", "on_grid", *FIGURES, *(f"keeps_{name}" for name in ALLOWED)]
    settings = [[x, y, True, *at_setting(x, y)] for x in SPEEDS for y in SPACINGS]
    weather = [[d, t, True, *at_setting(0.28, 8.0, d, t)] for d in DEMANDS for t in TEMPS]
    between = [0.255, 5.125, False, *at_setting(0.255, 5.125)]

    def axis(name: str, unit: str, values: list[float], low: float, high: float) -> dict[str, Any]:
        return {"name": name, "unit": unit, "values": values, "low": low, "high": high}

    def row(speed: float, spacing: float) -> list[dict[str, Any]]:
        return [place(d, 30.0, at_setting(speed, spacing, d)) for d in DEMANDS]

    line = [[0.25, 5.0, 0.25, 10.0]]
    boundaries = {"all": line, "damp_share": line, "wait_p90_s": [], "cars_lost": line}
    return {
        "schema": "clothcast.map/1",
        "site": "Invented Lane",
        "date": "2026-07-18",
        "seed": 1,
        "replications": 16,
        "libraries": {"clothcast": "0.1.0"},
        "draw_hash": "0" * 16,
        "origin": "Cars: mean of 3 Saturdays.",
        "opening_from": "a weighing",
        "scenario": {"name": "Always full", "rule": "full", "label": "Always full"},
        "has_timetable": False,
        "expected": {"cars": 1040.0, "highest_temp_c": 30.0},
        "limits": [
            {"figure": name, "input": f"allowed_{name}", "allowed": value, "unit": "1"}
            for name, value in ALLOWED.items()
        ],
        "present": place(0.28, 8.0, now),
        "best": place(0.24, 7.0, best),
        "stays": False,
        "nearest": None,
        "differences": {
            "cars_per_hour": difference(-3.0, "a little worse"),
            "wait_p90_s": difference(best[1] - now[1], "hardly differs"),
            "cars_lost": difference(60.0, "clearly worse"),
            "damp_share": difference(best[3] - now[3], "clearly better"),
            "margin": difference(-180.0, "probably worse"),
        },
        "settings": {
            "x": axis("conveyor_speed_m_s", "m/s", SPEEDS, 0.15, 0.35),
            "y": axis("car_spacing_m", "m", SPACINGS, 4.85, 15.0),
            "columns": columns,
            "points": [*settings, between],
            "boundaries": boundaries,
        },
        "weather": {
            "x": axis("demand", "1", DEMANDS, 0.0, 4.0),
            "y": axis("highest_temp_c", "°C", TEMPS, 0.0, 55.0),
            "columns": columns,
            "points": weather,
            "boundaries": {name: [] for name in boundaries},
        },
        "demand_now": row(0.28, 8.0),
        "demand_best": row(0.24, 7.0),
    }

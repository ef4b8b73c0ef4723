"""When to reduce on a made-up day, in the shape that the service stores."""

from __future__ import annotations

from typing import Any

from tests.web.fixture_comparison import peak_day_over_sites

STARTS = [1800.0 * half for half in range(14, 40)]
COLUMNS = [
    "rule", "label", "damp_share", "full_share", "damp_cars", "full_cars", "cost", "draws",
    "keeps", "undominated",
]  # fmt: skip


def clock(*windows: tuple[float, float]) -> dict[str, Any]:
    """A rule by the clock; hours of the day."""
    pairs = [[3600.0 * a, 3600.0 * b] for a, b in windows]
    said = ",".join(f"{int(a)}:00-{int(b)}:00" for a, b in windows)
    term = {"kind": "clock", "windows": pairs}
    return rule(f"clock {said}", f"Reduced {said}", [[term]])


def band(upper: float, lower: float) -> dict[str, Any]:
    """A rule that follows the cloth."""
    text = f"band {100 * upper:g}-{100 * lower:g}"
    return rule(text, "Reduced by band", [[{"kind": "band", "upper": upper, "lower": lower}]])


def rule(text: str, label: str, either: list[Any], everyone: bool = False) -> dict[str, Any]:
    """A rule of a record."""
    return {"text": text, "label": label, "everyone": everyone, "either": either}


FULL = rule("full", "Always full", [])
REDUCED = rule("reduced", "Always reduced", [[{"kind": "service"}]], everyone=True)


def hours(reduced: list[float]) -> dict[str, Any]:
    """Half hours with a share of reduced cars each; the rest is the same all day but for noon."""
    wet = [0.3 + 0.01 * min(i, 25 - i) for i in range(26)]
    return {"cars": [60.0] * 26, "saturation": wet, "reduced": reduced, "damp": [0.04] * 26}


def point(one: dict[str, Any], damp: float, full: float, undominated: bool = True) -> list[Any]:
    """A row of the trade-off."""
    cars = [1840 * damp, 1840 * full]
    return [one["text"], one["label"], damp, full, *cars, 3100.0, 256, True, undominated]


def gain(value: float, low: float, high: float) -> dict[str, Any]:
    """A gain of the advice with where it may lie at the site."""
    ends = {"kind": "site uncertainty", "low": low, "high": high}
    return {"value": value, "intervals": [ends]}


def reasons() -> dict[str, Any]:
    """Why, what helps and how it moves, to be joined to a record."""
    gains = {
        "full_cars": gain(-640.0, -700.0, -600.0),
        "damp_cars": gain(-230.0, -320.0, -90.0),
        "damp_share": gain(-0.125, -0.17, -0.05),
        "cost": gain(-380.0, -700.0, 60.0),
    }
    less = {"full_cars": -640.0, "damp_cars": -10.0, "damp_share": -0.01, "cost": 95.0}
    second = {name: gain(one["value"] / 10, one["value"] / 5, 0.0) for name, one in gains.items()}
    return {
        "why": {
            "over_present": {"rule": FULL, "gains": gains, "better": 0.87, "worse": 0.11,
                             "cases": 192, "loss": less},
            "runner_up": {"rule": band(0.5, 0.4), "gains": second, "better": 0.5, "worse": 0.5,
                          "cases": 192, "loss": {}},
            "balance": {},
            "reliefs": [
                {"cause": "humid_air", "least": 0.4, "damp_share": 0.02},
                {"cause": "many_cars", "least": None, "damp_share": 0.1},
            ],
            "flips": [
                {"along": "temp_c", "now": 32.0, "below": 29.0, "above": None, "low": 20.0,
                 "high": 44.0},
                {"along": "cars", "now": 1840.0, "below": 1452.0, "above": None, "low": 460.0,
                 "high": 2900.0},
            ],
            "knowing": [{"input": "holding_capacity_kg_kg", "value": 12.0}],
            "unit": "full_cars",
            "doubts": ["guesses"],
            "runs": 9000,
        },
        "remedies": {
            "state": "rule_helps",
            "rows": [
                {"kind": "dry_set", "amount": 46800.0, "minutes": 35.0, "rule": FULL,
                 "keeps": True, "damp_share": 0.04, "spared": 20.0, "gained": 300.0,
                 "cost": 40.0, "net": -25.0},
                {"kind": "fewer_cars", "amount": 0.1, "minutes": 0.0, "rule": FULL, "keeps": False,
                 "damp_share": 0.06, "spared": 5.0, "gained": 100.0, "cost": 900.0, "net": 880.0},
            ],
        },
        "moves": [
            {"way": way, "highest_temp_c": top, "humidity": 0.7, "cars": 1840.0, "rule": rule_,
             "damp_share": 0.04, "keeps": keeps, "same": same}
            for way, top, rule_, keeps, same in (
                ("as_expected", 32.0, clock((12, 16)), True, True),
                ("cooler", 27.0, FULL, True, False),
                ("busier", 32.0, REDUCED, False, False),
            )
        ],
    }  # fmt: skip


def switch(chosen: dict[str, Any] | None = None) -> dict[str, Any]:
    """Reduced from 12:00 to 16:00 is the best of 2,125 rules, in 17 of 20 sites."""
    chosen = chosen or clock((12, 16))
    reduced = [1.0 if 43200 <= start < 57600 else 0.0 for start in STARTS]
    return {
        "schema": "clothcast.switch/1",
        "site": "Invented Lane",
        "date": "2026-07-18",
        "seed": 1,
        "libraries": {"numpy": "2"},
        "origin": "Made of six Saturdays in July.",
        "wish": {
            "kind": "mean",
            "allowed_damp_share": 0.05,
            "most_switches": 4,
            "least_between_switches_s": 900.0,
            "slack": 10.0,
        },
        "present": FULL,
        "chosen": chosen,
        "keeps": True,
        "probability": 0.97,
        "rules": 2125,
        "runs": 51400,
        "draws": {"first": 16, "chosen": 256},
        "strip": {"dry_kg": 0.25, "holding_kg_kg": 2.0},
        "comparison": peak_day_over_sites(),
        "columns": {"present": 0, "chosen": 2, "full": 0, "reduced": 1},
        "half_hours": {
            "start_s": list(STARTS),
            "chosen": hours(reduced),
            "full": hours([0.0] * 26),
        },
        "trade_off": {
            "columns": list(COLUMNS),
            "points": [
                point(FULL, 0.17, 1.0),
                point(REDUCED, 0.03, 0.0),
                point(chosen, 0.045, 0.6),
                point(clock((10, 17)), 0.04, 0.41),
                point(band(0.5, 0.4), 0.09, 0.5, undominated=False),
            ],
        },
        "bound": {
            "best_possible": 1300.0,
            "reached": 1105.0,
            "share": [0.85, 0.812, 0.888],
            "unit": "cars",
            "draws": 8,
            "without_rewash": True,
        },
    }

"""The maps of a day as CSV: a row a simulated point, in the reader's units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.files.csv_cells import Written, csv_text
from app.words.figures import shown
from sim.day.figures import FIGURES
from sim.units import UNITS

_AXES = (
    ("conveyor_speed_m_s", "conveyor speed", "speed"),
    ("car_spacing_m", "car spacing", "length"),
    ("demand", "cars of those expected", "share"),
    ("highest_temp_c", "highest temperature", "temperature"),
)


def map_csv(found: Mapping[str, Any], system: str) -> str:
    """Both maps: grid points and the closer ones along the limits, unrounded.

    Axes that a map does not move are empty: it stands at their present or expected value.
    """
    lines: list[list[object]] = []
    write = lines.append
    columns = found["settings"]["columns"]
    figures = [name for name in columns if name in FIGURES]
    keeps = [name for name in columns if name.startswith("keeps_")]
    units = [_with_unit(FIGURES[name].label, FIGURES[name].unit, system) for name in figures]
    write(
        [
            "map",
            *(_with_unit(label, kind, system) for _, label, kind in _AXES),
            "on grid",
            *units,
            *(f"keeps to {FIGURES[name.removeprefix('keeps_')].label.lower()}" for name in keeps),
        ]
    )
    for title, key in (("speed and spacing", "settings"), ("demand and temperature", "weather")):
        plane = found[key]
        at = {name: i for i, name in enumerate(plane["columns"])}
        axes = {plane["x"]["name"]: at["x"], plane["y"]["name"]: at["y"]}
        for row in plane["points"]:
            write(
                [
                    title,
                    *(
                        _plain(row[axes[name]], kind, system) if name in axes else ""
                        for name, _, kind in _AXES
                    ),
                    _yes(row[at["on_grid"]]),
                    *(_plain(row[at[name]], FIGURES[name].unit, system) for name in figures),
                    *(_yes(row[at[name]]) for name in keeps),
                ]
            )
    return csv_text([str(name) for name in lines[0]], lines[1:])


def _with_unit(label: str, kind: str, system: str) -> str:
    symbol = UNITS[kind].symbol(system)
    return f"{label} ({symbol})" if symbol else label


def _plain(value: float | None, kind: str, system: str) -> str:
    return "" if value is None else Written(f"{shown(value, kind, system):.6g}")


def _yes(value: object) -> str:
    return "yes" if value else "no"

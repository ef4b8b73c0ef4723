"""A comparison as CSV: its figures in the reader's units, and the figures by hour."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.files.csv_cells import Written, csv_text
from app.pages.plan.table import Figures
from app.words.columns import Comparison, difference_of, value_of
from app.words.figures import interval, shown
from sim.units import UNITS

KINDS = ("day range", "site uncertainty", "run error")


def comparison_csv(comparison: Comparison, figures: Figures, system: str) -> str:
    """Every figure of every scenario, unrounded, in the reader's units: a row each."""
    lines: list[list[object]] = []
    write = lines.append
    write(
        [
            "figure",
            "unit",
            "scenario",
            "value",
            "day range low",
            "day range high",
            "site uncertainty low",
            "site uncertainty high",
            "run error low",
            "run error high",
            "difference to first",
            "difference site uncertainty low",
            "difference site uncertainty high",
            "days better",
            "sites better",
            "word",
        ]
    )
    for name, info in figures.items():
        for column in comparison["scenarios"]:
            figure = column["figures"].get(name)
            if figure is None:
                continue
            other = difference_of(column, name)
            ends = [end for kind in KINDS for end in _ends(figure, kind)]
            apart = (other.get("value"), *_ends(other, "site uncertainty"))
            write(
                [
                    info.label,
                    UNITS[info.unit].symbol(system),
                    column["name"],
                    *(_plain(x, info.unit, system) for x in (value_of(column, name), *ends)),
                    *(_plain(x, info.unit, system, difference=True) for x in apart),
                    _share(other.get("days_better")),
                    _share(other.get("sites_better")),
                    other.get("word", ""),
                ]
            )
    return csv_text([str(name) for name in lines[0]], lines[1:])


def hourly_csv(comparison: Comparison) -> str:
    """The figures by hour, in stored (SI) units: a row an hour and scenario."""
    lines: list[list[object]] = []
    write = lines.append
    names = list(
        dict.fromkeys(name for column in comparison["scenarios"] for name in column["hours"])
    )
    write(["scenario", "hour", *names])
    for column in comparison["scenarios"]:
        for hour in range(24):
            values = [column["hours"].get(name, [None] * 24)[hour] for name in names]
            cells = [_share(v) for v in values]
            write([column["name"], hour, *cells])
    return csv_text([str(name) for name in lines[0]], lines[1:])


def _ends(figure: Mapping[str, Any], kind: str) -> tuple[float | None, float | None]:
    return interval(figure, kind) or (None, None)


def _plain(value: float | None, unit: str, system: str, difference: bool = False) -> str:
    return "" if value is None else Written(f"{shown(value, unit, system, difference):.6g}")


def _share(value: float | None) -> str:
    return "" if value is None else Written(f"{value:.6g}")

"""A comparison as CSV: its figures in the reader's units, and the figures by hour."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from app.services.sheets import as_text
from app.web.columns import Comparison, difference_of, value_of
from app.web.comparison import Figures
from app.web.figures import interval, shown
from sim.units import UNITS

KINDS = ("day range", "site uncertainty", "run error")


def comparison_csv(comparison: Comparison, figures: Figures, system: str) -> str:
    """Every figure of every scenario, unrounded, in the reader's units: a row each."""
    out = io.StringIO()
    write = csv.writer(out).writerow
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
                    as_text(info.label),
                    UNITS[info.unit].symbol(system),
                    as_text(column["name"]),
                    *(_plain(x, info.unit, system) for x in (value_of(column, name), *ends)),
                    *(_plain(x, info.unit, system, difference=True) for x in apart),
                    _share(other.get("days_better")),
                    _share(other.get("sites_better")),
                    other.get("word", ""),
                ]
            )
    return out.getvalue()


def hourly_csv(comparison: Comparison) -> str:
    """The figures by hour, in stored (SI) units: a row an hour and scenario."""
    out = io.StringIO()
    write = csv.writer(out).writerow
    names = list(
        dict.fromkeys(name for column in comparison["scenarios"] for name in column["hours"])
    )
    write(["scenario", "hour", *names])
    for column in comparison["scenarios"]:
        for hour in range(24):
            values = [column["hours"].get(name, [None] * 24)[hour] for name in names]
            cells = ["" if v is None else f"{v:.6g}" for v in values]
            write([as_text(column["name"]), hour, *cells])
    return out.getvalue()


def _ends(figure: Mapping[str, Any], kind: str) -> tuple[float | None, float | None]:
    return interval(figure, kind) or (None, None)


def _plain(value: float | None, unit: str, system: str, difference: bool = False) -> str:
    return "" if value is None else f"{shown(value, unit, system, difference):.6g}"


def _share(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"

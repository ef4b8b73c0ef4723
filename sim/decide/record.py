"""A comparison written down as plain content for JSON, versioned by `SCHEMA`; see the guide."""

from __future__ import annotations

import math
from typing import Any

from sim.day.figures import FIGURES, Difference, Figure, Range
from sim.decide.answer import Column, Comparison, Opening
from sim.inputs import DemandSpread, Site
from sim.units import UNITS, show_clock

SCHEMA = "clothcast.plan/1"


def record(
    comparison: Comparison, site: Site, date: str, origin: str, libraries: dict[str, str]
) -> dict[str, Any]:
    """A comparison as plain content for JSON: units are SI symbols.

    Args:
        date: the planned day, ISO 8601.
        origin: what the expected day was made of, in words.
        libraries: versions of what computed it.
    """
    conditions, limits, opening = comparison.conditions, comparison.limits, comparison.opening
    return {
        "schema": SCHEMA,
        "site": site.name,
        "date": date,
        "seed": comparison.seed,
        "replications": comparison.replications,
        "days": comparison.days,
        "sites": comparison.sites,
        "weighed": list(comparison.weighed),
        "libraries": libraries,
        "draw_hash": comparison.draw_hash,
        "conditions": {
            "arrivals_per_h": list(conditions.arrivals_per_h),
            "temp_c": list(conditions.temp_c),
            "humidity": list(conditions.humidity),
            "opening_saturation": None if opening is None else opening.saturation,
            "opening_from": "" if opening is None else opening_words(opening),
            "origin": origin,
            "spread": spread_content(site, conditions.spread),
        },
        "limits": {
            "damp_limit_saturation": limits.damp_limit_saturation,
            "no_wiping_needed": limits.no_wiping_needed,
            "allowed_damp_share": limits.allowed_damp_share,
            "stack_limit_cars": limits.stack_limit_cars,
            "belt_capacity_per_h": limits.belt_capacity_per_h,
            "open_h": limits.open_h,
            "close_h": limits.close_h,
        },
        "scenarios": [_column(column) for column in comparison.columns],
    }


def opening_words(opening: Opening) -> str:
    """Where the moisture at opening comes from, in words."""
    day = opening.evening
    before = "" if day is None else f"{day:%A} {day.day} {day:%B}"
    return {
        "weighing": "a weighing",
        "hung_dry": "a dry set hung in the morning",
        "put_on_dry": "a set put on dry; no day before it",
        "evening": f"{before}, simulated, and the night after it",
    }[opening.source]


def spread_content(site: Site, spread: DemandSpread) -> dict[str, Any]:
    """How far days come out from what is expected, as days are drawn, and what that rests on."""
    day, hour = spread.day_cv, spread.hour_cv
    return {
        "day_cv": site.pay.day_factor_cv if day is None else day,
        "hour_cv": site.pay.hour_factor_cv if hour is None else hour,
        "level_cv": spread.level_cv,
        "day_from": "inputs" if day is None else "counts",
        "hour_from": "inputs" if hour is None else "counts",
        "days": spread.days,
        "like_days": spread.like_days,
    }


def _column(column: Column) -> dict[str, Any]:
    scenario = column.scenario
    return {
        "name": scenario.name,
        "rule": scenario.rule,
        "cloth": scenario.cloth,
        "changes": {
            name: [[show_clock(row[0]), row[1]] if isinstance(row, tuple) else row for row in value]
            if isinstance(value, tuple)
            else value
            for name, value in scenario.changes.items()
        },
        "label": column.label,
        "figures": {name: _figure(name, f) for name, f in column.figures.items()},
        "hours": {name: list(row) for name, row in column.hours.items()},
        "differences": column.differences
        and {name: difference_content(name, d) for name, d in column.differences.items()},
        "widest": {
            name: [{"input": row.input, "share": row.share} for row in rows]
            for name, rows in column.widest.items()
        },
    }


def _figure(name: str, found: Figure) -> dict[str, Any]:
    content: dict[str, Any] = {
        "value": found.value,
        "unit": si_unit(name),
        "intervals": [_interval("day range", found.day_range)],
    }
    if found.site_uncertainty is not None:
        content["intervals"].append(_interval("site uncertainty", found.site_uncertainty))
    if found.run_error is not None:
        content["intervals"].append(_interval("run error", found.run_error))
    if found.fewer_than_one_in_days:
        content["event_days"] = found.event_days
        content["fewer_than_one_in_days"] = found.fewer_than_one_in_days
    return content


def difference_content(name: str, found: Difference) -> dict[str, Any]:
    """A paired difference of a figure as plain content."""
    content: dict[str, Any] = {
        "value": found.value,
        "unit": si_unit(name),
        "intervals": [_interval("run error", found.run_error)],
        "days_better": found.days_better,
        "word": found.word,
    }
    if found.site_uncertainty is not None:
        content["intervals"].append(_interval("site uncertainty", found.site_uncertainty))
        content["sites_better"] = found.sites_better
    return content


def _interval(kind: str, ends: Range | None) -> dict[str, Any]:
    low, high = (None, None) if ends is None else (ends.low, ends.high)
    return {"kind": kind, "low": low, "high": high}


_STORED_UNIT = {"share": "1", "minutes_from_s": "s", "number": "1"}


def si_unit(name: str) -> str:
    """Symbol of the unit in which a figure's value is written."""
    kind = FIGURES[name].unit
    return _STORED_UNIT.get(kind, UNITS[kind].si.symbol)


def number(value: float) -> float | None:
    """A value as JSON knows it: null where it is not a finite number."""
    return None if math.isnan(value) or math.isinf(value) else float(value)

"""A comparison written down as plain content for JSON, versioned by `SCHEMA`; see the guide."""

from __future__ import annotations

import math
from typing import Any

from sim.day.figures import FIGURES
from sim.day.replicate import Difference, Figure
from sim.day.rules import parse_changes, parse_rule
from sim.decide.compare import Column, Comparison
from sim.inputs import DemandSpread, Site
from sim.units import UNITS, show_clock

SCHEMA = "clothcast.plan/1"


def record(
    comparison: Comparison, date: str, origin: str, libraries: dict[str, str]
) -> dict[str, Any]:
    """A comparison as plain content for JSON: NaN becomes null, units are SI symbols.

    Args:
        date: the planned day, ISO 8601.
        origin: what the expected day was made of, in words.
        libraries: versions of what computed it.
    """
    question, day = comparison.question, comparison.day
    site, conditions = question.site, question.conditions
    return {
        "schema": SCHEMA,
        "site": site.name,
        "date": date,
        "seed": question.seed,
        "replications": question.replications,
        "days": question.different_days,
        "sites": 0 if question.shape is None else question.shape.sites,
        "weighed": [] if question.belief is None else list(question.belief.weighed),
        "libraries": libraries,
        "draw_hash": comparison.draw_hash,
        "conditions": {
            "arrivals_per_h": list(conditions.arrivals_per_h),
            "temp_c": list(conditions.temp_c),
            "humidity": list(conditions.humidity),
            "opening_saturation": number(day.opening_moisture / day.cloth.holding),
            "opening_from": comparison.opening_from,
            "origin": origin,
            "spread": spread_content(site, conditions.spread),
        },
        "limits": {
            "damp_limit_saturation": day.damp_limit,
            "no_wiping_needed": day.damp_limit >= 1.0,
            "allowed_damp_share": site.wishes.allowed_damp_share,
            "stack_limit_cars": site.pay.stack_limit_cars,
            "belt_capacity_per_h": day.capacity_per_s * 3600.0,
            "open_h": site.line.open_h,
            "close_h": site.line.close_h,
        },
        "scenarios": [_column(column, site) for column in comparison.columns],
    }


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


def _column(column: Column, site: Site) -> dict[str, Any]:
    scenario = column.scenario
    changed = site.with_values(scenario.changes)
    label = parse_rule(scenario.rule).words()
    sets = parse_changes(scenario.cloth, changed.wear.sets_owned)
    label = ", ".join([label, *(item.words() for item in sets)])
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
        "label": label,
        "figures": {name: _figure(name, f) for name, f in column.figures.items()},
        "hours": {name: [number(v) for v in row] for name, row in column.hours.items()},
        "differences": column.differences
        and {name: difference_content(name, d) for name, d in column.differences.items()},
        "widest": {
            name: [{"input": row.name, "share": number(row.share)} for row in rows]
            for name, rows in column.widest.items()
        },
    }


def _figure(name: str, found: Figure) -> dict[str, Any]:
    content: dict[str, Any] = {
        "value": number(found.value),
        "unit": si_unit(name),
        "intervals": [_interval("day range", found.low, found.high)],
    }
    if not math.isnan(found.site_low):
        site = _interval("site uncertainty", found.site_low, found.site_high)
        content["intervals"].append(site)
    if not math.isnan(found.error_low):
        content["intervals"].append(_interval("run error", found.error_low, found.error_high))
    if found.fewer_than_one_in:
        content["event_days"] = found.event_days
        content["fewer_than_one_in_days"] = found.fewer_than_one_in
    return content


def difference_content(name: str, found: Difference) -> dict[str, Any]:
    """A paired difference of a figure as plain content."""
    content: dict[str, Any] = {
        "value": number(found.value),
        "unit": si_unit(name),
        "intervals": [_interval("run error", found.error_low, found.error_high)],
        "days_better": number(found.days_better),
        "word": found.word,
    }
    if not math.isnan(found.site_low):
        site = _interval("site uncertainty", found.site_low, found.site_high)
        content["intervals"].append(site)
        content["sites_better"] = number(found.sites_better)
    return content


def _interval(kind: str, low: float, high: float) -> dict[str, Any]:
    return {"kind": kind, "low": number(low), "high": number(high)}


_STORED_UNIT = {"share": "1", "minutes_from_s": "s", "number": "1"}


def si_unit(name: str) -> str:
    """Symbol of the unit in which a figure's value is written."""
    kind = FIGURES[name].unit
    return _STORED_UNIT.get(kind, UNITS[kind].si.symbol)


def number(value: float) -> float | None:
    """A value as JSON knows it: null where it is not a finite number."""
    return None if math.isnan(value) or math.isinf(value) else float(value)

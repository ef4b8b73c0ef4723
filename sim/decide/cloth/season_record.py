"""A season written down as plain content for JSON, versioned by `SCHEMA`; see the guide."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from sim.day.figures import Difference
from sim.day.rules import parse_rule
from sim.decide.cloth.forecast import ExpectedChange
from sim.decide.cloth.options import OptionRow, cheapest
from sim.decide.cloth.outlook import FULL, PLANNED, Outlook, Rotation, figure_of
from sim.decide.cloth.rotation import Owned, Turned
from sim.decide.cloth.season import KEPT, RULES
from sim.decide.cloth.stock import StockPlan
from sim.decide.record import difference_content, number

SCHEMA = "clothcast.season/1"


def season_record(
    outlook: Outlook,
    rotation: Rotation,
    options: Sequence[OptionRow],
    peaks_simulated: Sequence[str],
    libraries: dict[str, str],
) -> dict[str, Any]:
    """A season as plain content: NaN and infinities become null, units are SI.

    Args:
        peaks_simulated: dates of the peak days that stand for all in the options.
        libraries: versions of what computed it.
    """
    run = outlook.run
    asked = run.asked
    best = cheapest(options)
    return {
        "schema": SCHEMA,
        "site": asked.site.name,
        "first": asked.days[0].day.isoformat(),
        "last": asked.days[-1].day.isoformat(),
        "seed": asked.seed,
        "replications": asked.replications,
        "libraries": libraries,
        "days": [_day(outlook, at) for at in range(len(asked.days))],
        "totals": {
            name: {rule: _total(outlook, name, i) for i, rule in enumerate(RULES)}
            for name in KEPT
            if not name.endswith("_share")
        },
        "months": [_month(row) for row in outlook.months],
        "lives": rotation.ended,
        "ages": list(rotation.ages),
        "planned_age": number(rotation.planned_age),
        "changes": [
            _change(outlook, change, quiet)
            for change, quiet in zip(outlook.changes, outlook.quiet, strict=True)
        ],
        "sets_per_year": float(outlook.futures.counts.mean()),
        "laundry_days": [
            one.day.isoformat()
            for one, is_due in zip(asked.days, outlook.laundered, strict=True)
            if is_due
        ],
        "orders": [
            {
                "by": (asked.days[0].day + timedelta(days=row.by)).isoformat(),
                "for_change": row.for_change,
                "quantity": row.quantity,
            }
            for row in outlook.orders
        ],
        "stock": None if outlook.stock is None else _stock(outlook.stock),
        "stock_problems": [str(problem) for problem in outlook.problems],
        "owned": [_owned(row) for row in outlook.owned],
        "options": [_option(row) for row in options],
        "peaks": list(peaks_simulated),
        "cheapest": None if best is None else list(options).index(best),
        "allowed": {
            "damp_share": asked.site.wishes.allowed_damp_share,
            "cars_lost": asked.site.wishes.allowed_lost_cars,
            "wait_p90_s": asked.site.wishes.allowed_wait_p90_s,
        },
    }


def _day(outlook: Outlook, at: int) -> dict[str, Any]:
    run = outlook.run
    one = run.asked.days[at]
    return {
        "day": one.day.isoformat(),
        "cars": sum(one.conditions.arrivals_per_h),
        "highest_temp_c": max(one.conditions.temp_c),
        "rule": one.planned.rule,
        "label": parse_rule(one.planned.rule).words(),
        "cloth": one.planned.cloth,
        "is_peak": bool(outlook.peaks[at]),
        "is_laundry": bool(outlook.laundered[at]),
        "figures": {
            name: {
                rule: [number(value) for value in figure_of(run, name, at, place)]
                for rule, place in zip(RULES, (FULL, PLANNED), strict=True)
            }
            for name in KEPT
        },
    }


def _total(outlook: Outlook, name: str, rule: int) -> dict[str, Any]:
    mean, low, high = outlook.run.total(name, rule)
    return {"value": number(mean), "low": number(low), "high": number(high)}


def _month(row: Any) -> dict[str, Any]:
    return {
        "first": row.first.isoformat(),
        "days": row.days,
        "figures": row.figures,
        "launderings": row.launderings,
        "laundry_cost": row.laundry_cost,
        "sets": row.sets,
        "worn": row.worn,
        "set_cost": row.set_cost,
        "running_cost": row.running_cost,
        "total": row.total,
    }


def _change(outlook: Outlook, change: ExpectedChange, quiet: int) -> dict[str, Any]:
    days = outlook.run.asked.days

    def day(at: float) -> str | None:
        return days[int(at)].day.isoformat() if math.isfinite(at) else None

    return {
        "number": change.number,
        "day": day(quiet),
        "low": day(change.low),
        "middle": day(change.middle),
        "high": day(change.high),
        "chance": change.chance,
        "worn_share": change.worn_share,
    }


def _stock(plan: StockPlan) -> dict[str, Any]:
    return {
        "demand_per_year": plan.demand_per_year,
        "lead_mean": plan.lead_mean,
        "lead_sd": plan.lead_sd,
        "exact_point": plan.exact_point,
        "safety": plan.safety,
        "reorder_at": plan.reorder_at,
        "service": plan.service,
        "asked_service": plan.asked_service,
        "cost_service": plan.cost_service,
        "quantity": int(plan.order.quantity),
        "price": plan.order.price,
        "cost_per_year": float(plan.order.cost_per_year),
        "position": plan.position,
        "order_now": plan.order_now,
    }


def _owned(row: Owned) -> dict[str, Any]:
    return {
        "sets": row.sets,
        "formula": _turned(row.formula),
        "fixed": _turned(row.fixed),
        "morning_ready": number(row.morning_ready),
        "peak_ready": number(row.peak_ready),
    }


def _turned(row: Turned) -> dict[str, float]:
    return {"none_ready": row.none_ready, "waited_share": row.waited_share}


def _option(row: OptionRow) -> dict[str, Any]:
    def apart(name: str, found: Difference | None) -> dict[str, Any] | None:
        return None if found is None else difference_content(name, found)

    option = row.option
    return {
        "key": option.key,
        "amount": option.amount,
        "rule": option.scenario.rule,
        "cloth": option.scenario.cloth,
        "once": option.once,
        "each_day": option.each_day,
        "each_year": option.each_year,
        "figures": {name: number(value) for name, value in row.figures.items()},
        "yearly": apart("cost", row.yearly),
        "damp": apart("damp_cars", row.damp),
        "lost": apart("cars_lost", row.lost),
        "keeps": row.keeps,
        "payback_years": number(row.payback_years),
        "payback_low": number(row.payback_low),
        "payback_high": number(row.payback_high),
    }

"""Tipping points, settings with their rule, and the days ahead as plain content for JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sim.decide.record import number
from sim.decide.switching.coming import DayPlan, Season
from sim.decide.switching.moved import LEAST_HUMIDITY, Border
from sim.decide.switching.reasons_record import rule_content
from sim.decide.switching.search import SwitchQuestion
from sim.decide.switching.wish import Wish
from sim.decide.switching.with_settings import SettingPlan, Together
from sim.inputs import Site

TOGETHER_SCHEMA = "clothcast.settings-and-rule/1"
COMING_SCHEMA = "clothcast.coming/1"


def tipping_content(found: Border, question: SwitchQuestion) -> dict[str, Any]:
    """Up to which humidity always full is enough: a part of the answer of when to reduce."""
    corners = {demand: found.corner(demand) for demand in found.demands}
    return {
        "highest_temp_c": list(found.temps_c),
        "demands": list(found.demands),
        "cars": [demand * sum(question.conditions.arrivals_per_h) for demand in found.demands],
        "humidity": [[number(value) for value in row] for row in found.humidity.tolist()],
        "not_from": [[number(value) for value in row] for row in found.not_from.tolist()],
        "least_humidity": LEAST_HUMIDITY,
        "corners": [
            None if corner is None else {"highest_temp_c": corner[0], "humidity": corner[1]}
            for corner in corners.values()
        ],
        "draws": found.draws,
        "most_draws": found.most_draws,
        "runs": found.runs,
    }


def together_content(
    found: Together, question: SwitchQuestion, day: str, libraries: dict[str, str]
) -> dict[str, Any]:
    """Speed, spacing and rule chosen together, beside the present setting.

    Args:
        day: the planned day, ISO 8601.
        libraries: versions of what computed it.
    """
    site, never = question.site, found.never_reduce
    return {
        "schema": TOGETHER_SCHEMA,
        "site": site.name,
        "date": day,
        "seed": question.seed,
        "libraries": libraries,
        "open_h": site.line.open_h,
        "close_h": site.line.close_h,
        "strip": strip_content(site),
        "wish": wish_content(question.wish),
        "present": _setting_plan(found.present, site),
        "chosen": _setting_plan(found.chosen, site),
        "never_reduce": None if never is None else _setting_plan(never, site),
        "stays": found.stays,
        "probability": found.probability,
        "runs": found.runs,
    }


def strip_content(site: Site) -> dict[str, float]:
    """Dry weight of a strip and holding capacity, from which rules are told as weights."""
    return {
        "dry_kg": site.wheel.strip_dry_mass_kg,
        "holding_kg_kg": site.wheel.holding_capacity_kg_kg,
    }


def wish_content(wish: Wish) -> dict[str, Any]:
    """What a rule is chosen by."""
    return {
        "kind": wish.kind,
        "allowed_damp_share": wish.allowed_share,
        "most_switches": int(wish.most_switches),
        "least_between_switches_s": wish.least_apart_s,
        "slack": wish.slack,
    }


def _setting_plan(plan: SettingPlan, site: Site) -> dict[str, Any]:
    return {
        "speeds": [[start, speed] for start, speed in plan.setting.speeds],
        "spacing_m": plan.setting.spacing_m,
        "rule": rule_content(plan.rule, site),
        "cars_washed": plan.cars_washed,
        "cars_washed_h": plan.cars_washed_h,
        "cars_lost": plan.cars_lost,
        "full_cars": plan.full_cars,
        "damp_cars": plan.damp_cars,
        "damp_share": plan.damp_share,
        "cost": plan.cost,
        "reduced_h": plan.reduced_h,
        "keeps": plan.keeps,
    }


def day_plan_content(plan: DayPlan, site: Site) -> dict[str, Any]:
    """The plan of a day ahead; `rule` is None where there is none."""
    return {
        "rule": None if plan.rule is None else rule_content(plan.rule, site),
        "switches": plan.switches,
        "keeps": plan.keeps,
        "probability": number(plan.probability),
        "damp_share": number(plan.damp_share),
        "full_damp_share": number(plan.full_share),
    }


def season_content(
    found: Season, days: Sequence[date], unplanned: Mapping[date, str], draws: int
) -> dict[str, Any]:
    """How many days need switching, in all and month by month.

    Args:
        days: those of `found`, in its order.
        unplanned: further days of the season on which there is nothing to plan: ``closed``,
            ``no cars``, or ``unknown`` where nothing can be expected.
        draws: simulated days of each.
    """
    needs = dict(zip(days, found.needs, strict=True))
    every = sorted([*days, *unplanned])
    months = dict.fromkeys((day.year, day.month) for day in every)
    return {
        "first": every[0].isoformat(),
        "last": every[-1].isoformat(),
        "days": found.days,
        "left_out": found.left_out,
        "closed": sum(why == "closed" for why in unplanned.values()),
        "no_cars": sum(why == "no cars" for why in unplanned.values()),
        "unknown": sum(why == "unknown" for why in unplanned.values()),
        "expected": found.expected,
        "draws": draws,
        "months": [
            {
                "year": year,
                "month": month,
                "days": len(known),
                "expected": sum(known),
            }
            for year, month in months
            for known in [_known(needs, year, month)]
        ],
    }


def _known(needs: Mapping[date, bool | None], year: int, month: int) -> list[bool]:
    """Whether each day of a month that could be simulated needs switching."""
    return [
        need
        for day, need in needs.items()
        if need is not None and (day.year, day.month) == (year, month)
    ]

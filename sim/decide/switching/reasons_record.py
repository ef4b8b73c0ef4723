"""Reasons, remedies and moved days as plain content for JSON: parts of `switch_record`."""

from __future__ import annotations

from typing import Any

from sim.day.cues import CrewCars, CrewClock, CrewStrip
from sim.day.rules import Band, Classes, Clock, Rule, Term
from sim.decide.record import number
from sim.decide.switching.advice import Advice, Against
from sim.decide.switching.moved import MovedPlan
from sim.decide.switching.remedies import Remedies
from sim.inputs import Site


def rule_content(rule: Rule, site: Site) -> dict[str, Any]:
    """A wiping rule as text, in words, and taken apart; times in seconds after midnight."""
    labels = {item.key: item.label for item in site.vehicles}
    return {
        "text": rule.text(),
        "label": rule.words(),
        "everyone": rule.everyone,
        "either": [[_term(term, labels) for term in row] for row in rule.either],
    }


def _term(term: Term, labels: dict[str, str]) -> dict[str, Any]:
    if isinstance(term, Clock):
        return {"kind": "clock", "windows": [list(window) for window in term.windows]}
    if isinstance(term, Band):
        return {"kind": "band", "upper": term.upper, "lower": term.lower}
    if isinstance(term, Classes):
        return {"kind": "class", "labels": [labels.get(key, key) for key in term.keys]}
    if isinstance(term, CrewClock):
        return {"kind": "crew_clock", "windows": [list(window) for window in term.windows]}
    if isinstance(term, CrewCars):
        return {"kind": "crew_cars", "upper": term.upper, "lower": term.lower}
    if isinstance(term, CrewStrip):
        return {"kind": "crew_strip", "upper_kg": term.upper, "lower_kg": term.lower}
    return {"kind": "service"}


def why_content(why: Advice, site: Site) -> dict[str, Any]:
    """The reasons of an answer."""
    return {
        "over_present": against_content(why.over_present, site),
        "runner_up": against_content(why.runner_up, site),
        "balance": {
            "hours": list(why.balance.hours),
            "reduced_h": why.balance.reduced_h,
            "taken_kg_h": why.balance.taken_kg_h,
            "thrown_kg_h": why.balance.thrown_kg_h,
            "evaporated_kg_h": why.balance.evaporated_kg_h,
            "saturation": why.balance.saturation,
            "limit": why.balance.limit,
            "highest": why.balance.highest,
            "over_limit": why.balance.over_limit,
        },
        "reliefs": [
            {"cause": one.cause, "least": number(one.least), "damp_share": number(one.damp_share)}
            for one in why.reliefs
        ],
        "flips": [
            {
                "along": one.along,
                "now": one.now,
                "below": number(one.below),
                "above": number(one.above),
                "low": one.low,
                "high": one.high,
            }
            for one in why.flips
        ],
        "knowing": [
            {"input": one.name, "value": one.value} for one in why.knowing if one.value > 0
        ],
        "unit": why.unit,
        "doubts": list(why.doubts),
        "runs": why.runs,
    }


def against_content(found: Against | None, site: Site) -> dict[str, Any] | None:
    """The advice, or a cue, against another rule."""
    if found is None:
        return None
    return {
        "rule": rule_content(found.rule, site),
        "gains": {
            name: {
                "value": gain.mean,
                "intervals": [
                    {
                        "kind": "run error",
                        "low": number(gain.error_low),
                        "high": number(gain.error_high),
                    },
                    {"kind": "site uncertainty", "low": gain.site_low, "high": gain.site_high},
                ],
            }
            for name, gain in found.gains.items()
        },
        "better": found.better,
        "worse": found.worse,
        "cases": found.cases,
        "loss": dict(found.loss),
    }


def remedies_content(found: Remedies, site: Site) -> dict[str, Any]:
    """Whether anything is needed, and what else would help, best first."""
    return {
        "state": found.state,
        "chance_full": found.chance_full,
        "chance_reduced": found.chance_reduced,
        "damp_share": found.damp_share,
        "rows": [
            {
                "kind": row.kind,
                "amount": row.amount,
                "minutes": row.minutes,
                "rule": rule_content(row.rule, site),
                "keeps": row.keeps,
                "damp_share": row.damp_share,
                "damp_cars": row.damp_cars,
                "cars_lost": row.cars_lost,
                "full_cars": row.full_cars,
                "spared": row.spared,
                "gained": row.gained,
                "cost": row.cost,
                "net": row.net,
            }
            for row in found.rows
        ],
        "runs": found.runs,
    }


def move_content(found: MovedPlan, site: Site) -> dict[str, Any]:
    """The plan for a day that is a little different."""
    return {
        "way": found.way,
        "highest_temp_c": found.highest_c,
        "humidity": found.humidity,
        "cars": found.cars,
        "rule": rule_content(found.rule, site),
        "damp_share": found.point.damp_share,
        "full_damp_share": found.full.damp_share,
        "full_cars": found.point.full_cars,
        "keeps": found.keeps,
        "probability": found.probability,
        "same": found.same,
    }

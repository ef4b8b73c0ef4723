"""The chosen rule in cues as plain content for JSON: a part of `switch_record`."""

from __future__ import annotations

from typing import Any

from sim.decide.record import number
from sim.decide.switching.cues import CueFound, Cues, Loss, Measured
from sim.decide.switching.reasons_record import against_content, rule_content
from sim.inputs import Site


def cues_content(found: Cues, site: Site) -> dict[str, Any]:
    """Each cue with its thresholds, what it gives and loses, and how its crew was simulated."""
    crew, wheel = site.crew, site.wheel
    return {
        "use": found.use,
        "unit": found.unit,
        "constant": _measured(found.constant, site),
        "chosen": _measured(found.chosen, site),
        "band": None if found.band is None else _measured(found.band, site),
        "found": [_cue(one, site) for one in found.found],
        "crew": {
            "delay_median_s": crew.cue_delay_median_s,
            "delay_log_sd": crew.cue_delay_log_sd,
            "count_every_s": 60.0 * crew.count_every_min,
            "count_log_sd": crew.count_log_sd,
            "weigh_every_s": 60.0 * crew.weigh_every_min,
            "weigh_log_sd": wheel.strip_log_sd,
        },
        "days": found.days,
        "runs": found.runs,
    }


def _cue(one: CueFound, site: Site) -> dict[str, Any]:
    return {
        "kind": one.kind,
        **_measured(one.measured, site),
        "to_chosen": _loss(one.to_chosen),
        "to_band": None if one.to_band is None else _loss(one.to_band),
        "over_chosen": against_content(one.over_chosen, site),
        "over_constant": against_content(one.over_constant, site),
        "gains": one.gains,
        "tried": one.tried,
    }


def _measured(one: Measured, site: Site) -> dict[str, Any]:
    return {
        "rule": rule_content(one.rule, site),
        "damp_cars": one.damp_cars,
        "damp_share": one.damp_share,
        "full_cars": one.full_cars,
        "cost": one.cost,
        "keeps": one.keeps,
        "nearly": one.nearly,
    }


def _loss(loss: Loss) -> dict[str, Any]:
    ends = {"low": number(loss.error_low), "high": number(loss.error_high)}
    return {"value": loss.mean, "intervals": [{"kind": "run error", **ends}]}

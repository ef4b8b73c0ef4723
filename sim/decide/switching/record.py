"""The answer of When to reduce as plain content: rules, reasons, cues, other days."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sim.day.cues import CrewCars, CrewClock, CrewStrip
from sim.day.rules import Band, Classes, Clock, Rule, Term
from sim.decide.record import number, record
from sim.decide.switching.advice import Advice, Against
from sim.decide.switching.cues import CueFound, Cues, Loss, Measured
from sim.decide.switching.figures import Place, SwitchStudy
from sim.decide.switching.hours import HalfHours, half_hour_starts
from sim.decide.switching.moved import LEAST_HUMIDITY, Border, MovedPlan
from sim.decide.switching.remedies import Remedies
from sim.decide.switching.search import SwitchQuestion
from sim.decide.switching.simplicity import kind_of
from sim.decide.switching.wish import Wish
from sim.decide.switching.with_settings import SettingPlan, Together
from sim.inputs import Site

SCHEMA = "clothcast.switch/1"
COLUMNS = (
    "rule", "label", "damp_share", "full_share", "damp_cars", "full_cars", "cost", "draws", "keeps",
    "undominated",
)  # fmt: skip
"""What a row of the trade-off holds."""
MOST_OTHERS = 160
"""So many dominated rules are kept at most, evenly spread over the candidates."""


def switch_record(
    found: SwitchStudy, date: str, origin: str, libraries: dict[str, str]
) -> dict[str, Any]:
    """A study as plain content: NaN becomes null, everything is in SI.

    Args:
        date: the planned day, ISO 8601.
        origin: what the expected day was made of, in words.
        libraries: versions of what computed it.
    """
    answer = found.answer
    question, selection, site = answer.asked, answer.selection, answer.asked.site
    roles = [
        next(at for at, kinds in enumerate(found.roles) if role in kinds)
        for role in ("present", "chosen", "full", "reduced")
    ]
    present, chosen, full, reduced = roles
    return {
        "schema": SCHEMA,
        "site": site.name,
        "date": date,
        "seed": question.seed,
        "libraries": libraries,
        "origin": origin,
        "wish": wish_content(question.wish),
        "present": rule_content(answer.rules[0], site),
        "chosen": rule_content(answer.chosen, site),
        "keeps": selection.keeps,
        "probability": selection.probability,
        "settled": selection.settled,
        "alternatives": [
            {
                "rule": rule_content(one.rule, site),
                "same_kind": kind_of(one.rule) == kind_of(answer.chosen),
                "chance": one.chance,
                "gains": {
                    name: {"value": getattr(one, name)}
                    for name in ("damp_cars", "full_cars", "cost")
                },
            }
            for one in found.alternatives
        ],
        "kept": None if found.kept is None else asdict(found.kept),
        "rules": len(answer.rules),
        "runs": selection.runs,
        "draws": {"first": int(selection.draws.min()), "chosen": len(_of_chosen(found))},
        "strip": strip_content(site),
        "comparison": record(found.comparison, site, date, origin, libraries),
        "columns": {"present": present, "chosen": chosen, "full": full, "reduced": reduced},
        "half_hours": {
            "start_s": half_hour_starts(question).tolist(),
            "chosen": _hours(found.hours[0]),
            "full": _hours(found.hours[1]),
        },
        "trade_off": {"columns": list(COLUMNS), "points": _points(found)},
        "bound": _bound(found),
        "why": None if found.why is None else why_content(found.why, site),
        "remedies": None if found.remedies is None else remedies_content(found.remedies, site),
        "moves": [move_content(one, site) for one in found.moves],
        "tipping": None if found.tipping is None else tipping_content(found.tipping, question),
        "cues": None if found.cues is None else cues_content(found.cues, site),
    }


def _of_chosen(found: SwitchStudy) -> Any:
    return found.answer.outcomes[found.answer.selection.chosen]


def _hours(hours: HalfHours) -> dict[str, list[float | None]]:
    return {
        name: [number(value) for value in getattr(hours, name)]
        for name in ("cars", "saturation", "reduced", "damp")
    }


def _points(found: SwitchStudy) -> list[list[Any]]:
    """Rows of the trade-off: always full, always reduced, present, chosen, the undominated, and
    a spread of the others."""
    rules = found.answer.rules
    marked = {0, found.answer.selection.chosen}
    marked |= {at for at, rule in enumerate(rules) if rule.everyone or not rule.either}
    kept = [p for p in found.places if p.undominated or p.rule in marked]
    others = [p for p in found.places if not p.undominated and p.rule not in marked]
    step = max(1, -(-len(others) // MOST_OTHERS))
    return [_row(place, rules[place.rule]) for place in (*kept, *others[::step])]


def _row(place: Place, rule: Rule) -> list[Any]:
    figures = (
        place.damp_share, place.full_share, place.damp_cars, place.full_cars, place.cost,
    )  # fmt: skip
    marks = [place.draws, place.keeps, place.undominated]
    return [rule.text, rule.words(), *(number(value) for value in figures), *marks]


def _bound(found: SwitchStudy) -> dict[str, Any] | None:
    bound, reached = found.bound, found.reached
    if bound is None or reached is None:
        return None
    return {
        "best_possible": bound.bound,
        "reached": reached.mean,
        "share": [number(reached.share), number(reached.low), number(reached.high)],
        "unit": "$" if found.answer.asked.wish.kind == "cost" else "cars",
        "draws": bound.days,
        "without_rewash": bound.without_rewash,
    }


def rule_content(rule: Rule, site: Site) -> dict[str, Any]:
    """A wiping rule as text, in words, and taken apart; times in seconds after midnight."""
    labels = {item.key: item.label for item in site.vehicles}
    return {
        "text": rule.text,
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


TOGETHER_SCHEMA = "clothcast.settings-and-rule/1"


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

"""The answer on a site's cloth as plain content, for pages and JSON."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

from sim.decide.cloth.answer import ClothAnswer, Due, SetForecast
from sim.decide.cloth.change import LEAST_SAVING, ChangeAge
from sim.learn.cloth_life import LifePosterior
from sim.learn.cloth_wear import ENDED, SetState
from sim.learn.life_fit import LifeFit
from sim.learn.uptake_loss import WORN

SCHEMA = "clothcast.cloth/2"


def cloth_record(found: ClothAnswer) -> dict[str, Any]:
    """Everything that was found; ages in full-wipe equivalents, money in the site's money.

    What is without end, such as the age of a set that waits for failure, is None.
    """
    ahead = {one.state.cloth.name: one for one in found.forecasts}
    ended = [one for one in found.states if one.state == ENDED]
    return {
        "schema": SCHEMA,
        "day": found.today.isoformat(),
        "sets": [_set(one, ahead.get(one.cloth.name)) for one in found.states],
        "life": {
            "beta": _belief(found.posterior, "beta"),
            "eta": _belief(found.posterior, "eta"),
            "mean": found.posterior.mean_life,
            "worn_out": sum(one.life.failed for one in found.states),
            "ended_otherwise": sum(not one.life.failed for one in ended),
            "looks": len(found.looks),
            "likelihood": None if found.fit is None else _fit(found.fit),
        },
        "prices": {
            "cloth": found.prices.cloth,
            "work": found.prices.work,
            "lost": found.prices.lost,
            "extra": found.prices.extra,
            "planned": found.prices.planned,
            "unplanned": found.prices.unplanned,
        },
        "damp": {
            "more_damp_share": list(found.more_damp),
            "cost_per_full_wipe": list(found.damp_cost),
        },
        "uptake_loss": {
            "is_known": found.loss.is_known,
            "median": found.loss.quantile(0.5),
            "low": found.loss.quantile(0.05),
            "high": found.loss.quantile(0.95),
            "counts": [
                {"hoods": one.hoods, "damp": one.damp, "wear_cars": one.wear_cars}
                for one in found.counts
            ],
            "worn_looked_at": sum(
                one.wear_cars >= WORN * found.posterior.quantile("eta", 0.5) for one in found.counts
            ),
        },
        "age_range": {
            "low": _finite(found.range.low),
            "high": _finite(found.range.high),
            "without_damp_cars": _finite(found.range.without_damp),
            "guesses": [
                {
                    "input": one.name,
                    "low": one.low,
                    "high": one.high,
                    "age_low": _finite(one.age_low),
                    "age_high": _finite(one.age_high),
                    "excess": one.excess,
                    "matters": one.matters,
                }
                for one in found.range.guesses
            ],
        },
        "change": _change(found.change),
        "in_parts": [
            {
                "parts": way.parts,
                "cost_rate": way.cost_rate,
                "planned_stops_per_life": way.planned_per_life,
                "uptake_loss": way.oldest_uptake_loss,
            }
            for way in found.ways
        ],
        "due": None if found.due is None else _due(found.due),
        "wear_per_day": found.soon_per_day,
        "wear_per_year": found.season_cars,
        "notes": [str(note) for note in found.notes],
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _belief(posterior: LifePosterior, name: str) -> dict[str, float]:
    low, high = posterior.interval(name)
    return {"median": posterior.quantile(name, 0.5), "low": low, "high": high}


def _fit(fit: LifeFit) -> dict[str, Any]:
    return {
        "beta": fit.beta,
        "beta_range": [_finite(end) for end in fit.beta_range],
        "eta": fit.eta,
        "eta_range": [_finite(end) for end in fit.eta_range],
        "failures": fit.failures,
        "censored": fit.censored,
        "approximate": fit.is_approximate,
    }


def _set(one: SetState, ahead: SetForecast | None) -> dict[str, Any]:
    last = one.spells[-1] if one.spells else None
    return {
        "name": one.cloth.name,
        "bought": _day(one.cloth.bought),
        "state": one.state,
        "reason": one.reason,
        "since": None if last is None else _day(last.on.day if last.off is None else last.off.day),
        "on_wheel_cars": sum(spell.cars for spell in one.spells),
        "all_counted": all(spell.origin != "expected" for spell in one.spells),
        "launderings": one.launderings,
        "age_cars": one.age_cars,
        "share": None if ahead is None else ahead.share,
        "worn_out": None if ahead is None else list(ahead.worn_out),
        "worn_out_days": None if ahead is None else [_day(day) for day in ahead.worn_out_days],
        "launderings_to_come": None if ahead is None else ahead.launderings,
    }


def _change(change: ChangeAge) -> dict[str, Any]:
    return {
        "waits": change.waits,
        "least_saving": LEAST_SAVING,
        "age": _finite(change.age),
        "cost_rate": change.cost_rate,
        "at_failure": change.at_failure,
        "every_year": change.every_season,
        "flat": [_finite(end) for end in change.flat],
        "curve": [
            [age, rate]
            for age, rate in zip(
                change.curve.age.tolist(), change.curve.cost_rate.tolist(), strict=True
            )
        ],
    }


def _due(due: Due) -> dict[str, Any]:
    busy, quiet = due.busy, due.quiet
    return {
        "name": due.name,
        "day": _day(due.day),
        "first": _day(due.first),
        "last": _day(due.last),
        "overdue": due.overdue,
        "busy": None if busy is None else {"day": _day(busy[0]), "cars": busy[1]},
        "quiet": None
        if quiet is None
        else {"day": _day(quiet.day), "morning_cars": quiet.cars, "cost": quiet.cost},
    }

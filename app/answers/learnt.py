"""What a site's counts are asked, and what was learnt of them where plans use it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from app.answers.serial import read
from app.sites.country import country_of
from app.sites.reading import Past
from sim.inputs import TYPED, Forecast, SiteData
from sim.learn.forecast.answer import SCHEMA, Arrivals
from sim.learn.forecast.judge import LEAST_DAYS
from sim.learn.full_hours import NEAR, capacity_by_hour
from sim.learn.like_days import SpreadGuess, open_hours


@dataclass(frozen=True, slots=True)
class ArrivalsAsked:
    """What is asked of a site's counts.

    Attributes:
        data: the site with its past, nothing learnt of that.
        decided: the site's date.
        country: whose public holidays are taken; empty for none.
        capacity: cars of each clock hour from which it was full; None where arrivals were counted.
        guess: how far days and hours differ.
        content: everything that the outcome depends on but the date; empty where the counts are too
            few to try anything.
    """

    data: SiteData
    decided: date
    country: str
    capacity: tuple[float, ...] | None
    guess: SpreadGuess
    content: tuple[object, ...]


def arrivals_asked(past: Past, data: SiteData, decided: date) -> ArrivalsAsked:
    """What is asked of the counts of a site.

    An hour with as many washed cars as the belt carries, or nearly, is full: no fewer came.
    """
    site, history = data.site, data.history
    pay, country = site.pay, country_of(site.timezone)
    entered = [f"{of}_factor_cv" in data.given for of in ("day", "hour")]
    guess = SpreadGuess(pay.day_factor_cv, pay.hour_factor_cv, *entered)
    hours = open_hours(site.line)
    if history.counted == TYPED or len(history.counts) < LEAST_DAYS * max(1, len(hours)):
        return ArrivalsAsked(data, decided, country, None, guess, ())
    capacity = None
    if history.counted == "washed":
        capacity = tuple((1.0 - NEAR) * cars for cars in capacity_by_hour(site))
    digest = past.digest(data, ("history",))
    parts = (digest, hours, country, capacity, pay.day_factor_cv, pay.hour_factor_cv)
    return ArrivalsAsked(data, decided, country, capacity, guess, parts)


@lru_cache(8)
def learnt(text: str) -> Arrivals:
    """What was learnt, of its stored text."""
    return read(Arrivals, text)


def used(text: str) -> Forecast | None:
    """The forecast of a stored answer; None where like days do as well."""
    found = learnt(text)
    return found.forecast if found.judged.is_used else None


__all__ = ["SCHEMA", "ArrivalsAsked", "arrivals_asked", "learnt", "used"]

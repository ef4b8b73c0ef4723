"""What a site is begun with where there is no file: typed days, and the belt as people set it."""

from __future__ import annotations

from dataclasses import dataclass

from app.sites.reading import Database, StoredSite, history_of
from sim.day.setup import belt_cars_per_h, speed_for
from sim.errors import InputProblem
from sim.inputs import TYPED, Site
from sim.inputs.entry import entries_of, number
from sim.learn.typed_days import HOUR_LISTS, TYPED_INPUTS, TypedDays, typed_days
from sim.units import quantity

__all__ = ["HOUR_LISTS", "TYPED_INPUTS", "TypedDays", "belt_cars_per_h"]


@dataclass(frozen=True, slots=True)
class _Belt:
    """The belt as people set it."""

    belt_cars_per_h: float = number(
        round(belt_cars_per_h(Site("any"))),
        "Belt setting",
        "cars_per_hour",
        10,
        400,
        "guess",
        advice="Cars an hour that it carries while it runs.",
    )


BELT_INPUT = entries_of(_Belt)


@dataclass(frozen=True, slots=True)
class Belt:
    """A belt setting as a speed [m/s], and why it can't be."""

    speed_m_s: float
    problems: tuple[InputProblem, ...]


def belt_of(site: Site, cars_per_h: float) -> Belt:
    """The belt that carries so many cars an hour at the site's spacing."""
    speed = speed_for(site, cars_per_h)
    slowest, fastest = site.line.slowest_belt_m_s, site.line.fastest_belt_m_s
    if slowest <= speed <= fastest:
        return Belt(speed, ())
    rates = (
        belt_cars_per_h(site.with_values({"conveyor_speed_m_s": end})) for end in (slowest, fastest)
    )
    sentence = (
        "Belt setting {value}: at a car spacing of {spacing} that is a belt of {speed}, which is "
        "outside what the manual allows as it is entered. Enter {low} to {high}."
    )
    low, high = rates
    filling: dict[str, object] = {
        "value": quantity(cars_per_h, "cars_per_hour", 3),
        "spacing": quantity(site.line.car_spacing_m, "length", 3),
        "speed": quantity(speed, "speed", 3),
        "low": quantity(low, "cars_per_hour", 3, "least"),
        "high": quantity(high, "cars_per_hour", 3, "most"),
    }
    return Belt(speed, (InputProblem("belt_cars_per_h", sentence, filling),))


def stored_days(database: Database, site: StoredSite) -> TypedDays | None:
    """The typed days of a site; None where cars were counted."""
    line, history = site.data.site.line, history_of(database, site.id)
    if history.counts and history.counted != TYPED:
        return None
    return typed_days(history, line.open_h, line.close_h)

"""What a weighing must be to be stored, beside its shape."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sim.checks import or_refusal
from sim.day.rules import parse_rule
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, SOAKED, Site, Weighing
from sim.learn.override import air_line, parse_override
from sim.units import quantity, show_clock

LONGEST_WEATHER = 60
WETTEST_KG_KG = 8.0
"""No cloth holds more water for its own weight: a larger weighing is in another unit."""


def weighing_problems(item: Weighing, site: Site | None = None) -> Iterable[InputProblem]:
    """Why a weighing can't be, though each field can; with a site also by its hours and classes."""
    filling: dict[str, object]
    dry = INPUTS["strip_dry_mass_kg"]
    is_dry = dry.low <= item.dry_kg <= dry.high
    if is_dry and not item.dry_kg < item.weight_kg <= (1.0 + WETTEST_KG_KG) * item.dry_kg:
        sentence = (
            "Weight {value} can't be: a wet strip weighs more than {dry}, which it weighs dry, and "
            "no cloth holds {most} times its own weight of water. Look at the unit."
        )
        filling = {
            "value": quantity(item.weight_kg, "small_mass", 4),
            "dry": quantity(item.dry_kg, "small_mass", 4),
            "most": f"{WETTEST_KG_KG:g}",
        }
        yield InputProblem("weight_kg", sentence, filling)
    try:
        parse_rule(item.rule, None if site is None else [known.key for known in site.vehicles])
    except InputError as fault:
        yield from or_refusal("rule", item.rule, fault.problems)
    if item.cars >= 0 and not 0 <= item.damp_cars <= item.cars and item.kind != SOAKED:
        sentence = "{damp} damp cars of {cars} looked at can't be. Enter 0 to {cars}."
        filling = {"cars": item.cars, "damp": item.damp_cars}
        yield InputProblem("damp_cars", sentence, filling)
    if item.kind != SOAKED:
        yield from weather_line(item.weather, "si")[1]
    line = None if site is None else site.line
    if line and item.needs_day and not line.open_h <= item.at_s / 3600 <= line.close_h:
        sentence = "Time {time} is outside the opening hours. Enter {low} to {high}."
        filling = {
            "time": show_clock(item.at_s),
            "low": show_clock(3600 * line.open_h),
            "high": show_clock(3600 * line.close_h),
        }
        yield InputProblem("at_s", sentence, filling)


def weather_line(text: str, system: str) -> tuple[str, list[InputProblem]]:
    """What was noted of a weighed day's weather, with its units, and why it can't be used.

    Args:
        text: highest temperature and humidity then, as in 91 °F, 70 %; empty for nothing.
        system: units of a bare number.
    """
    if len(text) > LONGEST_WEATHER:
        sentence = "The weather of a weighing is too long. Enter at most {most} characters."
        return "", [InputProblem("weather", sentence, {"most": LONGEST_WEATHER})]
    try:
        found = parse_override(text, system)
    except InputError as fault:
        return "", [replace(p, field="weather") for p in fault.problems]
    if found.rain_mm is not None or found.event is not None:
        sentence = (
            "“{weather}” says more than can be used of a weighed day. Enter its highest "
            "temperature and the humidity then, as in 91 °F, 70 %; how many cars came is told by "
            "the cars so far."
        )
        return "", [InputProblem("weather", sentence, {"weather": text})]
    return air_line(found, system), []

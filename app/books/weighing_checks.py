"""What a weighing must be to be stored: every problem at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sim.checks import or_refusal
from sim.day.rules import parse_rule
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, SOAKED, WEIGHINGS, Site, Weighing
from sim.learn.override import air_line, parse_override
from sim.units import quantity, show_clock

MOST_WEIGHINGS = 200
MOST_LOOKED_AT = 200
"""Cars after a weighing; with more of them the cloth is another by the last."""
MOST_SO_FAR = 5000
LONGEST_WEATHER = 60
WETTEST_KG_KG = 8.0
"""No cloth holds more water for its own weight: a larger weighing is in another unit."""


def check_weighings(weighings: Sequence[Weighing]) -> list[InputProblem]:
    """Every weighing that can't be stored; two strips may well weigh the same."""
    problems = [p for item in weighings for p in weighing_problems(item)]
    if len(weighings) > MOST_WEIGHINGS:
        sentence = "{count} weighings are more than the {most} that can be kept. Strike old ones."
        told: dict[str, object] = {"count": len(weighings), "most": MOST_WEIGHINGS}
        problems.append(InputProblem("weighing", sentence, told))
    return problems


def weighing_problems(item: Weighing, site: Site | None = None) -> list[InputProblem]:
    """Every reason why a weighing can't be; with the site also those of its hours and classes."""
    problems: list[InputProblem] = []
    filling: dict[str, object]
    if item.kind not in WEIGHINGS:
        sentence = "“{kind}” is no weighing. Use soaked, damp or afternoon."
        problems.append(InputProblem("kind", sentence, {"kind": item.kind}))
    if not 0 <= item.at_s < 86_400 or item.at_s % 60:
        sentence = "Time {seconds} is not a minute of the day. Write it as 15:20."
        problems.append(InputProblem("at", sentence, {"seconds": f"{item.at_s:g} s"}))
    dry = INPUTS["strip_dry_mass_kg"]
    if not dry.low <= item.dry_kg <= dry.high:
        sentence = "Dry weight {value} can't be that of a strip. Enter {low} to {high}."
        filling = {"value": dry.amount(item.dry_kg), **dry.limits()}
        problems.append(InputProblem("dry", sentence, filling))
    elif not item.dry_kg < item.weight_kg <= (1.0 + WETTEST_KG_KG) * item.dry_kg:
        sentence = (
            "Weight {value} can't be: a wet strip weighs more than {dry}, which it weighs dry, and "
            "no cloth holds {most} times its own weight of water. Look at the unit."
        )
        filling = {
            "value": quantity(item.weight_kg, "small_mass", 4),
            "dry": quantity(item.dry_kg, "small_mass", 4),
            "most": f"{WETTEST_KG_KG:g}",
        }
        problems.append(InputProblem("weight", sentence, filling))
    try:
        parse_rule(item.rule, None if site is None else [known.key for known in site.vehicles])
    except InputError as fault:
        problems += or_refusal("rule", item.rule, fault.problems)
    problems += _looked_problems(item) + _day_had_problems(item)
    line = None if site is None else site.line
    if line and item.needs_day and not line.open_h <= item.at_s / 3600 <= line.close_h:
        sentence = "Time {time} is outside the opening hours. Enter {low} to {high}."
        filling = {
            "time": show_clock(item.at_s),
            "low": show_clock(3600 * line.open_h),
            "high": show_clock(3600 * line.close_h),
        }
        problems.append(InputProblem("at", sentence, filling))
    return problems


def _looked_problems(item: Weighing) -> list[InputProblem]:
    """Why the cars that were looked at after a weighing can't be."""
    filling: dict[str, object] = {"cars": item.cars, "damp": item.damp_cars, "most": MOST_LOOKED_AT}
    if not 0 <= item.cars <= MOST_LOOKED_AT:
        sentence = "{cars} cars looked at can't be. Enter 1 to {most}, those right after the strip."
        return [InputProblem("cars", sentence, filling)]
    if item.cars and item.kind == SOAKED:
        sentence = "A soaked strip has no cars after it. Leave the {cars} cars out."
        return [InputProblem("cars", sentence, filling)]
    if not 0 <= item.damp_cars <= item.cars:
        sentence = "{damp} damp cars of {cars} looked at can't be. Enter 0 to {cars}."
        return [InputProblem("damp_cars", sentence, filling)]
    return []


def _day_had_problems(item: Weighing) -> list[InputProblem]:
    """Why what was noted of the day of a weighing can't be."""
    problems: list[InputProblem] = []
    filling: dict[str, object] = {"cars": item.cars_so_far, "most": MOST_SO_FAR}
    if not 0 <= item.cars_so_far <= MOST_SO_FAR:
        sentence = "{cars} cars washed so far can't be. Enter 1 to {most}, or nothing."
        problems.append(InputProblem("cars_so_far", sentence, filling))
    elif item.cars_so_far and item.kind == SOAKED:
        sentence = "A soaked strip needs no cars of its day. Leave the {cars} cars so far out."
        problems.append(InputProblem("cars_so_far", sentence, filling))
    if item.weather and item.kind == SOAKED:
        sentence = "A soaked strip needs no weather of its day. Leave “{weather}” out."
        told: dict[str, object] = {"weather": item.weather[:LONGEST_WEATHER]}
        return [*problems, InputProblem("weather", sentence, told)]
    return [*problems, *weather_line(item.weather, "si")[1]]


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

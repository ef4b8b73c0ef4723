"""Tipping points in words: up to which weather and how many cars always full is enough."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from app.catalogue import _
from app.words.phrases import about, whole_degrees
from app.words.why import Lines, percent

Found = Mapping[str, Any]


def tipping_of(found: Found, system: str) -> Lines | None:
    """The sentence, and a table of cars by temperature; None where it was not worked out."""
    tipping = found.get("tipping")
    if not tipping:
        return None
    temps = tipping["highest_temp_c"]
    heads = (
        _("Cars"),
        *(whole_degrees(temp, system) for temp in temps),
    )
    rows = tuple(
        (
            _cars_words(cars, demand),
            *(_humidity(*ends, tipping) for ends in zip(row, missed, strict=True)),
        )
        for cars, demand, row, missed in zip(
            tipping["cars"],
            tipping["demands"],
            tipping["humidity"],
            tipping.get("not_from") or [[math.nan] * len(temps)] * len(tipping["cars"]),
            strict=True,
        )
    )
    return Lines(_says(tipping, system), heads, rows)


def _cars_words(cars: float, demand: float) -> str:
    if demand == 1.0:
        return _("{cars}, as expected", cars=about(cars))
    share = percent(abs(demand - 1.0))
    if demand < 1.0:
        return _("{cars}, {share} fewer", cars=about(cars), share=share)
    return _("{cars}, {share} more", cars=about(cars), share=share)


def _humidity(value: float | None, missed: float | None, tipping: Found) -> str:
    """Up to which humidity it is enough; where more lies between that and the one at which it is
    surely not than the grid is fine, both, as what lies between is too close to tell."""
    if value is not None and value >= 1.0:
        return _("any")
    low = 0.0 if value is None else value
    if missed is not None and (math.isnan(missed) or missed - low <= tipping_step(tipping)):
        return _("none") if value is None else _at_most(value)
    start = _("none") if value is None else _at_most(value)
    end = _("any") if missed is None else percent(missed)
    return _("{low} to {high}?", low=start, high=end)


def tipping_step(tipping: Found) -> float:
    """Two humidities nearer than this are neighbours on the grid, bisected to the end."""
    return max(0.04, float(tipping["least_humidity"])) + 1e-9


def _at_most(humidity: float) -> str:
    """Rounded down, so that it holds."""
    return percent(math.floor(100.0 * humidity + 1e-9) / 100.0)


def _says(tipping: Found, system: str) -> str:
    """The sentence for as many cars as expected; where no weather does, for fewer as well."""
    temps = tipping["highest_temp_c"]
    by_demand = dict(zip(tipping["demands"], tipping["corners"], strict=True))
    now = by_demand[1.0]
    if now is not None:
        return _corner(now, temps, system)
    never = _(
        "With as many cars as expected you need a switch in all weather looked at, from {low} to "
        "{high} and down to {humidity} humidity.",
        low=whole_degrees(temps[0], system),
        high=whole_degrees(temps[-1], system),
        humidity=percent(tipping["least_humidity"]),
    )
    fewer = [demand for demand, corner in by_demand.items() if demand < 1.0 and corner is not None]
    if not fewer:
        return never
    busiest = max(fewer)
    otherwise = _("With {share} fewer cars it is otherwise.", share=percent(1.0 - busiest))
    return f"{never} {otherwise} {_corner(by_demand[busiest], temps, system)}"


def _corner(corner: Found, temps: list[float], system: str) -> str:
    humidity, temp = corner["humidity"], corner["highest_temp_c"]
    is_any, is_all = humidity >= 1.0, temp <= temps[0]
    if is_any and is_all:
        sentence = "From {low} to {high} you need no switch, however humid it is."
    elif is_any:
        sentence = "Above {temp} you need no switch, however humid it is."
    elif is_all:
        sentence = "From {low} to {high} you need no switch at {humidity} humidity or less."
    else:
        sentence = "Above {temp} and below {humidity} humidity you need no switch."
    return _(
        sentence,
        low=whole_degrees(temps[0], system),
        high=whole_degrees(temps[-1], system),
        temp=whole_degrees(temp, system),
        humidity=_at_most(humidity),
    )

"""The air of a day as somebody felt it, over what was expected of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sim.errors import InputError
from sim.inputs import Conditions, LogEntry
from sim.inputs.logbook import FELT
from sim.learn.expected_day import BOUNDS, parse_override
from sim.physics.air import saturation_pressure_pa

HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Felt:
    """What somebody felt at a time of day [s after midnight]; None where nothing was said.

    Attributes:
        temp_c: temperature [°C].
        humidity: relative humidity, above 0 to 1.
    """

    at_s: float
    temp_c: float | None
    humidity: float | None


def felt_in(entry: LogEntry) -> Felt | None:
    """What an entry tells of the air; None where it tells nothing of it.

    Rain and a change of cars, which its line may hold, are seen in the cars that are counted.
    """
    if entry.kind != FELT:
        return None
    try:
        told = parse_override(entry.text)
    except InputError:
        return None  # of a file of before, when another line could be read
    if told.highest_temp_c is None and told.humidity is None:
        return None
    return Felt(entry.at_s, told.highest_temp_c, told.humidity)


def as_felt(expected: Conditions, felt: Sequence[Felt]) -> Conditions:
    """A day whose air is as it was felt, from the hour in which it was on.

    As where a day's line is typed over it (`sim.learn.expected_day.day_air`): a temperature shifts
    every hour alike, a humidity gives the vapor pressure of all of them, without one the vapor
    pressures stay, and air that would hold more than it can is saturated.
    """
    temps, humid = list(expected.temp_c), list(expected.humidity)
    _, coldest, hottest, _ = BOUNDS["highest_temp_c"]
    for one in felt:
        begin = min(23, int(one.at_s // HOUR_S))
        temp = temps[begin] if one.temp_c is None else one.temp_c
        shift = temp - temps[begin]
        for hour in range(begin, 24):
            vapor = humid[hour] * saturation_pressure_pa(temps[hour])
            if one.humidity is not None:
                vapor = one.humidity * saturation_pressure_pa(temp)
            temps[hour] = min(hottest, max(coldest, temps[hour] + shift))
            humid[hour] = min(1.0, vapor / saturation_pressure_pa(temps[hour]))
    return replace(expected, temp_c=tuple(temps), humidity=tuple(humid))

"""A device is down: what may be done about it, and what each way makes of the day.

Only devices that shape the wiping or blow are planned around, by what the site reads in their
manual; nothing here knows of a way to run on without a safety device.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from app.answers.change import WhatIfCache, try_on_day
from app.answers.checks import is_safety
from app.answers.planning import DayInputs
from sim.decide.answer import Comparison
from sim.errors import InputProblem
from sim.inputs import Scenario, Site, Value
from sim.units import quantity

SHAPING = {"height_sensor": "height", "entry_sensor": "presence", "roller_sensor": "presence"}
"""Devices whose reading shapes the wiping, by what the model calls the reading."""
BLOWER, WHEEL_DRIVE = "blower", "wheel_drive"
REPAIR: Final = "repair"
RUN_ON: Final = "run_on"
Way = Literal["repair", "run_on"]
WAYS: tuple[Way, ...] = (REPAIR, RUN_ON)
LONGEST_REPAIR_S = 12.0 * 3600.0


@dataclass(frozen=True, slots=True)
class Allowed:
    """What the manual allows while a device is down, as the site read it there.

    Attributes:
        spacing_m: car spacing, nose to nose [m]; speed_m_s: of the belt [m/s].
        wiped_share: of each zone that is still wiped, 0 to 1; 1 where the device has no part in it.
    """

    spacing_m: float
    speed_m_s: float
    wiped_share: float = 1.0


@dataclass(frozen=True, slots=True)
class WayOut:
    """A way to go on, and what it makes of the day beside the day as planned.

    Attributes:
        found: the quick comparison of both; None where `problems` say why there is none.
    """

    way: Way
    scenario: Scenario
    found: Comparison | None
    problems: tuple[InputProblem, ...] = ()


def can_run_on(device: str) -> bool:
    """Whether a manual may allow to run on with a device down. No safety device is one of them,
    nor the drive of the wheel, without which nothing is wiped."""
    return not is_safety(device) and (device in SHAPING or device == BLOWER)


def repaired(base: Scenario, from_s: float, takes_s: float, name: str) -> Scenario:
    """A day on which the belt stands while something is repaired, from a time on [s]."""
    stands = ((0.0, 0.0), (from_s, 1.0), (from_s + takes_s, 0.0))
    return replace(base, name=name, changes={**base.changes, "belt_stands": stands})


def run_on(base: Scenario, device: str, allowed: Allowed, name: str) -> Scenario:
    """A whole day with a device down, run by what its manual allows.

    Raises:
        ValueError: for a device that nobody runs on without.
    """
    if not can_run_on(device):
        raise ValueError(f"nothing is planned on running without {device}")
    changes: dict[str, Value] = {
        "car_spacing_m": allowed.spacing_m,
        "conveyor_speed_m_s": allowed.speed_m_s,
        "speed_timetable": (),
    }
    if device == BLOWER:
        changes |= {"blowers_down": True}
    else:
        changes |= {
            "failed_sensor": SHAPING[device],
            "failed_spacing_factor": 1.0,
            "failed_speed_factor": 1.0,
            "failed_wiped_share": allowed.wiped_share,
        }
    return replace(base, name=name, changes={**base.changes, **changes})


def not_wider(site: Site, allowed: Mapping[str, float]) -> list[InputProblem]:
    """Why what was typed is no caution: a closer spacing or a faster belt than the day has.

    Args:
        allowed: what was typed, by the name of the input.
    """
    line, problems = site.line, list[InputProblem]()
    spacing = allowed.get("car_spacing_m", line.car_spacing_m)
    if spacing < line.car_spacing_m:
        sentence = "Car spacing {value} is closer than planned. Enter {low} or more."
        filling = {
            "value": quantity(spacing, "length"),
            "low": quantity(line.car_spacing_m, "length", 4, "least"),
        }
        problems.append(InputProblem("car_spacing_m", sentence, filling))
    speeds = [speed for _at, speed in line.speed_timetable] or [line.conveyor_speed_m_s]
    speed = allowed.get("conveyor_speed_m_s", min(speeds))
    if speed > min(speeds):
        sentence = "Conveyor speed {value} is faster than planned. Enter {high} or less."
        filling = {
            "value": quantity(speed, "speed"),
            "high": quantity(min(speeds), "speed", 4, "most"),
        }
        problems.append(InputProblem("conveyor_speed_m_s", sentence, filling))
    return problems


def way_out(
    plan: DayInputs, base: Scenario, way: Way, scenario: Scenario, tries: WhatIfCache
) -> WayOut | None:
    """What a way makes of a day that was to be run by a scenario; None for a day without a
    question."""
    tried = try_on_day(plan, base, scenario, tries)
    return None if tried is None else WayOut(way, scenario, *tried)

"""The page of speed and spacing: its sentences, its maps, and the grids beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.catalogue import _
from app.charts.marks import Chart, Key
from app.pages.cautions import Notice, belt, deference
from app.pages.studies.view import Waiting
from app.words.phrases import Spoken
from sim.day.figures import FIGURES
from sim.units import quantity

Map = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SettingsPage:
    """The page.

    Attributes:
        made_for: rule, day and cars that the maps are made for, in a sentence.
        allowed: what the manager allows, label and value.
        settings, weather: maps of speed and spacing, and of demand and temperature.
        weather_words: what follows from the second map.
        no_map: the belt has one speed only, so there is no map of settings.
        key: what is drawn on the maps of settings besides shades.
        can_retry: a computation failed and may be tried again.
        needs_plan: the day can't be planned as it stands; the plan's page says why.
    """

    slug: str
    day: str
    date_words: str
    weather_line: str
    answer: Spoken | None
    sure: Spoken | None
    waiting: Waiting | None
    made_for: tuple[str, ...]
    allowed: tuple[tuple[str, str], ...]
    settings: tuple[Chart, ...]
    weather: tuple[Chart, ...]
    weather_words: tuple[str, ...]
    no_map: bool
    key: tuple[Key, ...]
    can_retry: bool
    needs_plan: bool
    message: str
    typed: str
    notices: tuple[Notice, ...]


def cautions() -> tuple[Notice, ...]:
    """What stands on every such page."""
    return deference(), belt()


def made_for(found: Map) -> tuple[str, ...]:
    """What the maps are made for."""
    parts = [
        _(
            "Made for the plan’s first scenario, “{name}” ({label}); simulated days at each point: "
            "{days}. {origin}",
            name=found["scenario"]["name"],
            label=_(str(found["scenario"]["label"])),
            days=found["replications"],
            origin=_(str(found["origin"])),
        )
    ]
    if found["has_timetable"]:
        parts.append(
            _(
                "The present setting has a timetable of speeds: its figures are those of the "
                "timetable, its mark stands at the speed of the busiest hour. Every other point "
                "runs at one speed all day."
            )
        )
    return tuple(parts)


def allowed_lines(found: Map, system: str) -> tuple[tuple[str, str], ...]:
    """What the manager allows, as label and value."""
    return tuple(
        (
            _(FIGURES[one["figure"]].label),
            quantity(one["allowed"], FIGURES[one["figure"]].unit, 3).show(system),
        )
        for one in found["limits"]
    )

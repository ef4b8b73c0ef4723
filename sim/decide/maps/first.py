"""First maps within seconds: every other value of the grids, on few days, and nothing between."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import replace

from sim.decide.maps.answer import SettingsMap
from sim.decide.maps.lattice import Axis
from sim.decide.maps.points import MapQuestion, settings_map

DAYS = 4
"""Simulated days at each point."""


def first_maps(
    asked: MapQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> SettingsMap:
    """Both maps of a day, coarse: a quarter of the grid's points, on at most `DAYS` days; the
    advice is not held against its rival at drawn sites.

    Args:
        executor, progress: see `settings_map`.

    Raises:
        InputError: with every problem of the question.
    """
    question = replace(asked.question, replications=min(DAYS, asked.question.replications))
    few = replace(
        asked,
        question=question,
        speeds=every_other(asked.speeds),
        spacings=every_other(asked.spacings),
        demands=every_other(asked.demands),
        temps=every_other(asked.temps),
        known=None,
        belief=None,
    )
    return replace(settings_map(few, executor, progress, levels=0), coarse=True)


def every_other(axis: Axis) -> Axis:
    """Every other grid value, the first one too."""
    return replace(axis, values=axis.values[::2])

"""Paired runs, kept: one more scenario on the same draws costs its own days and nothing else.

`sim.decide.how_sure.run_blocks` draws sites, evenings and days anew each time. Whoever tries one
change after another keeps them instead, and finds the very same figures.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import Shape
from sim.day.draw import DayDraw
from sim.day.engine import DrawnSite, Experiment
from sim.day.figures import FIGURES, Figure, PairedDifference
from sim.day.replicate import (
    all_figures,
    matters,
    scenario_cell,
)
from sim.decide.how_sure import (
    Runs,
    crossed_draws,
    levels_of,
    runs_of,
    site_difference,
    site_figure,
)
from sim.inputs import Conditions, Scenario, Site

Floats = NDArray[np.float64]


class PairedRunCache:
    """Drawn sites with their evenings before, and the draws of their days.

    Evenings and mornings are kept by what scenarios change of the site, which they were lived
    with, for the last few of these.

    What it keeps grows as days need more variates, so one thread at a time may use it.
    """

    def __init__(self, experiment: Experiment, shape: Shape) -> None:
        """Draws the sites; their evenings are simulated when they are first asked for."""
        self.shape = shape
        self._experiment = experiment
        self._draws = crossed_draws(experiment.seed, shape)
        self._sites: dict[tuple[int, int], DrawnSite] = {
            (block, point): experiment.at(block, point)
            for block, point in np.ndindex(shape.blocks, shape.points)
        }
        self._streams: dict[tuple[int, ...], DayDraw] = {}

    def runs(self, scenario: Scenario, conditions: Conditions) -> Runs:
        """All days of a scenario at every drawn site, as `run_blocks` would have them."""
        variant, rules = scenario_cell(self._experiment.site, scenario)
        variant = replace(variant, conditions=conditions)
        rows = []
        for (block, point), draws in groupby(self._draws, key=lambda one: (one.block, one.point)):
            day = self._sites[block, point].prepare(variant)
            sets = day.sets(scenario.cloth)
            for draw in draws:
                streams = self._streams.get(draw.day)
                if streams is None:
                    streams = self._streams[draw.day] = draw.streams()
                rows.append(all_figures(day.replication(streams), rules, sets))
        return runs_of(np.concatenate(rows), self.shape, self._experiment.seed)

    def levels(self, conditions: Conditions) -> Floats:
        """Factor on what is expected of a day at each drawn site; shape (blocks · points,)."""
        return levels_of(self._experiment, self.shape, conditions)


def figures_of(runs: Runs, names: Iterable[str], level: Floats | None = None) -> dict[str, Figure]:
    """Some figures of a scenario with their intervals; `level` as `Ground.levels` has it."""
    return {name: site_figure(FIGURES[name], runs.day[name], level, runs.luck) for name in names}


def differences_of(
    site: Site, first: Runs, level: Mapping[str, Figure], other: Runs
) -> dict[str, PairedDifference]:
    """The paired differences to the first scenario in the figures `level` of it, with words."""
    return {
        name: site_difference(
            FIGURES[name],
            first.day[name],
            other.day[name],
            matters(site, FIGURES[name], found.value),
            other.luck,
        )
        for name, found in level.items()
    }

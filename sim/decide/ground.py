"""The ground of paired runs, kept: one more scenario on it costs its own days and nothing else.

`sim.decide.how_sure.run_blocks` draws sites, evenings and days anew each time. Whoever tries one
change after another keeps them instead, and finds the very same figures.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from sim.day.belief import Belief
from sim.day.blocks import Shape, day_block
from sim.day.draw import DayDraw
from sim.day.drawn import draw_block
from sim.day.figures import FIGURES, Difference, Figure
from sim.day.night import Evening, after_night, evening_ends
from sim.day.replicate import make_ready, matters, run_on
from sim.day.rules import parse_rule
from sim.decide.how_sure import (
    Runs,
    crossed_day,
    gather,
    levels_of,
    site_difference,
    site_figure,
)
from sim.inputs import Conditions, Scenario, Site, Value

Floats = NDArray[np.float64]
Ends = tuple[tuple[float, float], ...]
Changes = tuple[tuple[str, Value], ...]


KEPT_NIGHTS = 4
"""Of so many sets of changes the evenings are kept."""


@dataclass(slots=True)
class _Nights:
    """By block and point: how evenings ended, and what was asked of the last morning and came."""

    ends: dict[tuple[int, int], Ends] = field(default_factory=dict)
    mornings: dict[tuple[int, int], tuple[Conditions, Conditions]] = field(default_factory=dict)


class Ground:
    """Drawn sites, their evenings before, and the draws of their days.

    Evenings and mornings are kept by what scenarios change of the site, which they were lived
    with (`sim.day.night.mornings`), for the last few of these.

    What it keeps grows as days need more variates, so one thread at a time may use it.
    """

    def __init__(
        self,
        site: Site,
        known: frozenset[str] | None,
        shape: Shape,
        seed: int,
        evening: Evening | None = None,
        evening_rule: str = "full",
        belief: Belief | None = None,
    ) -> None:
        """Draws the sites; their evenings are simulated when they are first asked for.

        Args:
            known: inputs that are not drawn; None: no input is drawn.
            evening: the last open day before; None where the conditions say how wet the cloth is.
            evening_rule: wiping rule of that day, as text.
            belief: what weighings leave of the guesses, from which they are then drawn.
        """
        self.shape = shape
        self._seed = seed
        self._evening = evening
        self._rule = parse_rule(evening_rule)
        self._drawn = [
            draw_block(site, known, belief, shape.points, seed, block)
            for block in range(shape.blocks)
        ]
        self._nights: OrderedDict[Changes, _Nights] = OrderedDict()
        self._draws: dict[tuple[int, int], DayDraw] = {}

    def runs(self, scenario: Scenario, conditions: Conditions) -> Runs:
        """All days of a scenario at every drawn site, as `run_blocks` would have them."""
        cells = []
        nights = self._nights_of(scenario)
        for block, row in enumerate(self._drawn):
            for point, one in enumerate(row):
                changed = one.site.with_values(scenario.changes)
                morning = self._opened(nights, (block, point), changed, one.day(conditions))
                ready = make_ready(one.site, morning, [scenario])
                for day in range(self.shape.days):
                    at = day_block(block, point, day, self.shape.blocks), day
                    draw = self._draws.get(at)
                    if draw is None:
                        draw = crossed_day(self._seed, self.shape.blocks, block, point, day)
                        self._draws[at] = draw
                    cells += run_on(ready, draw)
        return gather(cells, self.shape, self._seed)

    def levels(self, conditions: Conditions) -> Floats:
        """Factor on what is expected of a day at each drawn site; shape (blocks · points,)."""
        return levels_of([one for row in self._drawn for one in row], conditions)

    def _nights_of(self, scenario: Scenario) -> _Nights:
        key = tuple(sorted(scenario.changes.items()))
        nights = self._nights.setdefault(key, _Nights())
        self._nights.move_to_end(key)
        while len(self._nights) > KEPT_NIGHTS:
            self._nights.popitem(last=False)
        return nights

    def _opened(
        self, nights: _Nights, place: tuple[int, int], site: Site, conditions: Conditions
    ) -> Conditions:
        """The conditions with what evening and night leave in the cloth of a drawn site.

        The evening does not depend on the day that is tried, so it is simulated once; the night
        does depend on the morning's air, and is kept while that stays the same.
        """
        evening = self._evening
        if evening is None or site.wear.dry_set_at_opening:
            return conditions
        asked, opened = nights.mornings.get(place, (None, conditions))
        if asked == conditions:
            return opened
        ends = nights.ends.get(place)
        if ends is None:
            ends = evening_ends(site, evening, self._rule, self._seed, days=1)
            nights.ends[place] = ends
        moisture = after_night(site, evening, conditions, ends)
        opened = replace(conditions, opening_moisture_kg_kg=moisture)
        nights.mornings[place] = conditions, opened
        return opened


def figures_of(runs: Runs, names: Iterable[str], level: Floats | None = None) -> dict[str, Figure]:
    """Some figures of a scenario with their intervals; `level` as `Ground.levels` has it."""
    return {name: site_figure(FIGURES[name], runs.day[name], level, runs.luck) for name in names}


def differences_of(
    site: Site, first: Runs, level: Mapping[str, Figure], other: Runs
) -> dict[str, Difference]:
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

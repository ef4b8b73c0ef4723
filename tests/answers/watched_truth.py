"""A watched day played once more by the readable model, and where its cars truly are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from app.answers import planning
from sim.day.draw import DayDraw
from sim.day.drawn import Belief
from sim.day.engine import PreparedDay
from sim.day.records import CarPass, DayResult
from sim.day.rules import parse_rule
from sim.day.tunnel import simulate_day
from sim.inputs import Scenario, SiteData

STEP_S = 0.01


@dataclass(frozen=True)
class Played:
    """A day as `simulate_day` left it."""

    here: PreparedDay
    result: DayResult

    def nose_m(self, car: CarPass, at_s: float) -> float:
        """Nose of a car on the belt from where cars are caught [m]: it was pushed from there, and
        the belt has moved since then whenever it did not stand, added up in hundredths of a second.
        """
        moments = np.arange(car.caught_s, at_s, STEP_S) + 0.5 * STEP_S
        starts, speeds = np.array(self.here.numbers.speeds).T
        moved = speeds[np.searchsorted(starts, moments, side="right") - 1]
        for start, end in self.result.stops:
            moved[(start <= moments) & (moments < end)] = 0.0
        kind = self.here.site.vehicles[car.class_index]
        return kind.numbers.pushed_wheel_m + float(moved.sum()) * STEP_S

    def riding(self, at_s: float) -> list[CarPass]:
        """Cars on the belt."""
        return [car for car in self.result.passes if car.caught_s <= at_s < car.exit_s]


def play(
    data: SiteData, day: date, scenario: Scenario, seed: int, belief: Belief | None = None
) -> Played:
    """The day that the command ``trace`` writes."""
    question, _expected = planning.make_question(data, day, "", (scenario,), 1, seed, belief=belief)
    here = question.first_day
    cars = here.replication(DayDraw(seed, 0)).cars
    rule, sets = parse_rule(scenario.rule), here.sets(scenario.cloth)
    return Played(here, simulate_day(here.site, here.numbers, cars, rule, sets))

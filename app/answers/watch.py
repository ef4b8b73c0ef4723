"""Watching a day: one simulated day of a plan for some of its scenarios, kept in memory, never
stored; a day takes about a tenth of a second.

It is the day that the command ``trace`` writes car by car.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from app.answers.planning import question_key
from sim.day.draw import DayDraw
from sim.day.replicate import scenario_cell
from sim.day.watched import Knots, WatchedCar, WatchedDay, WatchedScenario
from sim.day.watching import watch
from sim.decide.compare import Question
from sim.inputs import Scenario

DAMP, LEAVES_DAMP, AGAIN, ROUND = 1, 2, 4, 8
"""What is said of a car that is sent, as a sum."""
SEEDS = 64
"""So many days are looked at for one about as busy as expected."""
WIPED = ("", "full", "reduced", "locked out")


class WatchCache:
    """Days that were watched last."""

    DAYS = 8

    def __init__(self) -> None:
        self._kept: OrderedDict[str, WatchedDay] = OrderedDict()
        self._lock = threading.Lock()

    def days(self, question: Question, numbers: Sequence[int]) -> tuple[WatchedScenario, ...]:
        """The same cars on the same day, for scenarios of a plan by their numbers."""
        found, seed = [], None
        for number in numbers:
            scenario = question.scenarios[number - 1]
            asked = _alone(question, scenario)
            key = question_key(asked)
            with self._lock:  # whoever asks for the same meanwhile has it from here
                day = self._kept.pop(key, None)
                if day is None:
                    seed = seed_of(asked) if seed is None else seed
                    day = _play(replace(asked, seed=seed))
                self._kept[key] = day
                while len(self._kept) > self.DAYS:
                    self._kept.popitem(last=False)
            found.append(WatchedScenario(number, scenario.name, day))
        return tuple(found)


def _alone(question: Question, scenario: Scenario) -> Question:
    """What one scenario asks: the evening before is wiped as in the plan's first."""
    evening = Scenario("", question.scenarios[0].rule)
    return replace(question, scenarios=(evening, replace(scenario, name="")), replications=1)


def seed_of(question: Question) -> int:
    """Of some seeds, the one whose day brings most nearly as many cars as are expected."""
    here = question.first_day
    expected = sum(question.conditions.arrivals_per_h)

    def off(seed: int) -> float:
        return abs(len(here.replication(DayDraw(seed, 0)).cars.arrival_s) - expected)

    return min(range(question.seed, question.seed + SEEDS), key=off)


def _play(question: Question) -> WatchedDay:
    """The last scenario's day, guesses at their middle values."""
    scenario = question.scenarios[-1]
    here = question.day_of(scenario)
    _variant, (rule,) = scenario_cell(question.site, scenario)
    cars = here.replication(DayDraw(question.seed, 0)).cars
    return replace(watch(here, cars, rule, here.sets(scenario.cloth)), seed=question.seed)


# ---- as it is sent -------------------------------------------------------------------------------


def series(watched: Sequence[WatchedScenario]) -> list[dict[str, object]]:
    """Days in whole numbers, for the page's script.

    A car is a row of differences: when it joins, since the car before it joined; then its other
    times, each since the one before; when it meets the wheel, since it was caught; lane, length,
    pushed length, place of its wiping in `WIPED`, and the sum of what is said of it. Knots are
    differences too.
    """
    return [
        {
            "opens": one.day.opens,
            "closes": one.day.closes,
            "ends": one.day.ends,
            "travel": _steps(one.day.travel),
            "wet": _steps(one.day.wet),
            "cars": _rows(one.day.cars),
        }
        for one in watched
    ]


def _steps(knots: Knots) -> list[int]:
    moves = ((b[0] - a[0], b[1] - a[1]) for a, b in pairwise([(0, 0), *knots]))
    return [number for move in moves for number in move]


def _rows(cars: Sequence[WatchedCar]) -> list[list[int]]:
    rows, before = [], 0
    for car in cars:
        row = [car.joins - before]
        before = car.joins
        if not car.is_lost:
            said = DAMP * car.is_damp + LEAVES_DAMP * car.leaves_damp
            said += AGAIN * car.is_again + ROUND * car.goes_round
            row += [b - a for a, b in pairwise(car.times)]
            row += [car.wheel - car.times[4], car.lane, car.length, car.pushed]
            row += [WIPED.index(car.wiping), said]
        rows.append(row)
    return rows

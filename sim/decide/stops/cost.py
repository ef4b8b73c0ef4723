"""What the stops of a past day cost: the day planned with them and without those of each cause.

Each is a plan of the same day on the same draws, so that the same cars with the same moods come to
all of them; they differ in when the belt stood (`Line.belt_stands`). Stops by chance are in none of
them: what stopped the belt is known. Guesses stand at their middle values.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from sim.day.engine import Experiment
from sim.day.night import PreviousDay
from sim.day.rules import parse_rule
from sim.decide.compare import Question, compare
from sim.decide.stops.answer import CauseOfDay, StopCosts
from sim.inputs import MOST_SCENARIOS, Conditions, Scenario, Site, Steps, Value

AS_IT_WAS, WITHOUT_ANY, WITHOUT = "As it was", "Without any stop", "Without cause {number}"
"""Names of the plans; a cause has its number there, for its words may name a safety device."""
MOST_CAUSES = MOST_SCENARIOS - 2
"""Causes and groups of them that are told apart on a day."""


@dataclass(frozen=True, slots=True)
class DayStop:
    """A stop of a day: when it began and how long it lasted [s], and its cause."""

    start_s: float
    lasted_s: float
    cause: str


@dataclass(frozen=True, slots=True)
class StopQuestion:
    """Everything that the answer depends on.

    Attributes:
        site: with its guesses at their middle values.
        conditions: what the day brought; its cars without any spread where they were counted.
        rule: wiping rule as the crew switched.
        stops: by start; guessed: how many of them have the site's usual length.
        cars: what the day's cars are taken from.
        evening: the last open day before.
    """

    day: date
    site: Site
    conditions: Conditions
    rule: str
    stops: tuple[DayStop, ...]
    guessed: int
    cars: Literal["counts", "expected"]
    evening: PreviousDay | None
    seed: int
    draws: int

    def stood_s(self, causes: Collection[str]) -> float:
        """How long the belt stood for some causes [s]."""
        return math.fsum(one.lasted_s for one in self.stops if one.cause in causes)

    @property
    def causes(self) -> tuple[tuple[str, ...], ...]:
        """Causes told apart: those for which the belt stood longest, and the others in one."""
        names = sorted(
            dict.fromkeys(one.cause for one in self.stops),
            key=lambda name: (-self.stood_s((name,)), name),
        )
        if len(names) <= MOST_CAUSES:
            return tuple((name,) for name in names)
        return (*((name,) for name in names[: MOST_CAUSES - 1]), tuple(names[MOST_CAUSES - 1 :]))

    @property
    def question(self) -> Question:
        """The plans that are compared; each opens as wet as the evening before left the cloth."""
        rule = parse_rule(self.rule)
        opened = Experiment(self.site, self.conditions, self.seed, self.evening, rule)
        moisture = opened.at().prepare().numbers.opening_moisture
        day = replace(self.conditions, opening_moisture_kg_kg=moisture)
        plans = [self._plan(AS_IT_WAS, self.stops), self._plan(WITHOUT_ANY, ())]
        for number, causes in enumerate(self.causes, start=1):
            left = [one for one in self.stops if one.cause not in causes]
            plans.append(self._plan(WITHOUT.format(number=number), left))
        return Question(self.site, day, tuple(plans), self.draws, self.seed)

    def _plan(self, name: str, stops: Iterable[DayStop]) -> Scenario:
        changes: dict[str, Value] = {
            "stops_per_h": 0.0, "stops_per_car": 0.0, "belt_stands": standing(stops),
        }  # fmt: skip
        return Scenario(name, self.rule, changes=changes)

    def of(self, causes: Collection[str]) -> CauseOfDay:
        """Some causes of the day."""
        count = sum(one.cause in causes for one in self.stops)
        return CauseOfDay(tuple(causes), count, self.stood_s(causes))


def standing(stops: Iterable[DayStop]) -> Steps:
    """When the belt stood, as a timetable of 1 and 0; stops that overlap or touch are one."""
    spans: list[tuple[float, float]] = []
    for one in sorted(stops, key=lambda stop: (stop.start_s, stop.lasted_s)):
        start, end = one.start_s, one.start_s + one.lasted_s
        if end <= start:
            continue
        if spans and start <= spans[-1][1]:
            spans[-1] = spans[-1][0], max(spans[-1][1], end)
        else:
            spans.append((start, end))
    if not spans:
        return ()
    edges = [edge for start, end in spans for edge in ((start, 1.0), (end, 0.0))]
    return tuple(edges) if edges[0][0] <= 0.0 else ((0.0, 0.0), *edges)


def stop_costs(
    asked: StopQuestion,
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> StopCosts:
    """The answer; `told` hears how many of the draws are done.

    Raises:
        InputError: where the day can't be simulated.
    """
    every = tuple(dict.fromkeys(one.cause for one in asked.stops))
    return StopCosts(
        date=asked.day,
        cars=asked.cars,
        guessed=asked.guessed,
        together=asked.of(every),
        causes=tuple(asked.of(causes) for causes in asked.causes),
        comparison=compare(asked.question, executor, told),
    )

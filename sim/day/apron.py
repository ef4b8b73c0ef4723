"""The apron behind the wheel in the SimPy day: damp cars, and the people who dry them by hand.

A damp car that is not sent round again stands at the exit. A finisher dries hood and windshield
where they are damp, one car at a time; with none free the car waits as long as a car may stand
there, and then drives off damp. Nothing of this flows back to the line.

Finishers come and go by a timetable, at its very moments; outside opening hours those of opening or
of closing time are there, as long as there are cars. Who is at a car when a place is given up
finishes the car first.

Ties: the timetable first, then cars that are done, then whoever waits, by the site's order; a
finisher who becomes free at the very moment at which a car would drive off takes it.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

import simpy
from simpy.events import EventPriority
from simpy.resources.resource import PriorityRequest

from sim.day.draw import DayCars
from sim.day.records import FINISHED, LEFT, CarPass
from sim.day.setup import DayNumbers
from sim.inputs import Site, value_at

Process = Generator[simpy.Event, Any, Any]

BY_THE_CLOCK = EventPriority(0)
AFTER_DEPARTURES = EventPriority(2)
AFTER_RETURNS = EventPriority(3)
AFTER_PAYMENTS = EventPriority(4)
"""SimPy handles events of one instant by rising priority; its own timeouts have 1."""
GONE = -1
"""A place that its finisher gives up goes before every car."""


class PriorityTimeout(simpy.Event):
    """A timeout that comes after everything of lower priority in the same instant."""

    def __init__(self, env: simpy.Environment, delay: float, priority: EventPriority) -> None:
        super().__init__(env)
        self._ok = True
        self._value = None
        env.schedule(self, priority=priority, delay=max(0.0, delay))


class Apron:
    """Places at which a car is dried, one a finisher; the clock holds those that nobody has."""

    def __init__(self, env: simpy.Environment, site: Site, day: DayNumbers, cars: DayCars) -> None:
        self._env, self._site, self._day, self._cars = env, site, day, cars
        self._table = site.crew.finishers
        self._count = max(1, *(int(row[1]) for row in self._table))
        self._places = simpy.PriorityResource(env, self._count)
        self._unmanned: list[PriorityRequest] = []
        self._man(value_at(self._table, day.open_s))
        env.process(self._hours())

    def stand(self, car: CarPass) -> None:
        """A damp car stands at the exit; it drives off dry or damp."""
        car.fate = LEFT
        self._env.process(self._serve(car))

    def _hours(self) -> Process:
        for moment, people in self._table:
            if self._env.now < moment <= self._day.close_s:
                yield PriorityTimeout(self._env, moment - self._env.now, BY_THE_CLOCK)
                self._man(people)

    def _man(self, people: float) -> None:
        while len(self._unmanned) < self._count - people:
            self._unmanned.append(self._places.request(GONE))
        while len(self._unmanned) > self._count - people:
            # who has not yet left the last car stays
            place = next((one for one in self._unmanned if not one.triggered), self._unmanned[0])
            self._unmanned.remove(place)
            if place.triggered:
                self._places.release(place)
            else:
                place.cancel()

    def _serve(self, car: CarPass) -> Process:
        env, work_s = self._env, self.work_s(car)
        yield PriorityTimeout(env, 0.0, AFTER_DEPARTURES)
        place = self._places.request(self._turn(car))
        if not place.triggered:
            yield place | PriorityTimeout(env, self._site.crew.exit_patience_s, AFTER_DEPARTURES)
        if not place.triggered:
            place.cancel()
            return
        car.fate, car.finish_s = FINISHED, env.now
        yield env.timeout(work_s)
        car.finished_s = env.now
        self._places.release(place)

    def _damp(self, car: CarPass) -> tuple[bool, bool]:
        """Whether the hood is damp, and the windshield."""
        allowed = self._day.allowed_film
        return car.film_left[0] > allowed, car.film_left[1] > allowed

    def work_s(self, car: CarPass) -> float:
        """Time to dry a car [s]: by area of its damp zones, and by the water left on them."""
        crew, damp = self._site.crew, self._damp(car)
        zones = [zone for zone in self._day.zones[car.class_index] if zone.index < len(damp)]
        area = sum(zone.area_m2 for zone in zones if damp[zone.index])
        water = sum(car.film_left[z.index] * z.area_m2 for z in zones if damp[z.index])
        return float(area * crew.finish_area_s_m2 + water * crew.finish_film_s_kg)

    def _turn(self, car: CarPass) -> int:
        order = self._site.crew.finish_order
        if order == "hood":
            return 0 if self._damp(car)[0] else 1
        if order == "members":
            return 0 if self._cars.member[car.car] else 1
        return 0

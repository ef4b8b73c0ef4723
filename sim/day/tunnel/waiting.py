"""How cars wait for one another: order within an instant, handing over, the loading line."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import simpy
from simpy.events import EventPriority

from sim.day.records import CarPass

Entered = Callable[[CarPass], None]

BY_THE_CLOCK = EventPriority(0)
AFTER_DEPARTURES = EventPriority(2)
AFTER_RETURNS = EventPriority(3)
AFTER_PAYMENTS = EventPriority(4)
"""SimPy handles events of one instant by rising priority; its own timeouts have 1."""


class Later(simpy.Event):
    """A timeout that comes after everything of lower priority in the same instant."""

    def __init__(self, env: simpy.Environment, delay: float, priority: EventPriority) -> None:
        super().__init__(env)
        self._ok = True
        self._value = None
        env.schedule(self, priority=priority, delay=max(0.0, delay))


class Handover:
    """Cars handed from one process to the next, in order; the next one asks when it is ready."""

    def __init__(self, env: simpy.Environment) -> None:
        self._env = env
        self._cars: deque[CarPass] = deque()
        self._asked: simpy.Event | None = None

    def __len__(self) -> int:
        return len(self._cars)

    @property
    def wanted(self) -> bool:
        """Whether somebody waits for a car."""
        return self._asked is not None

    def put(self, car: CarPass) -> None:
        """Hand a car over, or leave it for whoever asks next."""
        if self._asked is None:
            self._cars.append(car)
        else:
            self._asked.succeed(car)
            self._asked = None

    def get(self) -> simpy.Event:
        """Ask for the next car; the event brings it."""
        asked = self._env.event()
        if self._cars:
            asked.succeed(self._cars.popleft())
        else:
            self._asked = asked
        return asked


class LoadingLine:
    """The places between pay lanes and loader; who finds none keeps waiting where they are."""

    def __init__(self, env: simpy.Environment, places: int) -> None:
        self._places = places
        self._line = Handover(env)
        self._blocked: deque[tuple[CarPass, Entered]] = deque()
        self._again: deque[tuple[CarPass, Entered]] = deque()

    @property
    def cars(self) -> int:
        """Cars in the line."""
        return len(self._line)

    @property
    def returning(self) -> int:
        """Re-washes waiting at the head of the stack for a place."""
        return len(self._again)

    def enter(self, car: CarPass, entered: Entered) -> None:
        """Ask for a place; `entered` is called when the car has it. Re-washes go first."""
        (self._again if car.turn > 1 else self._blocked).append((car, entered))
        self._settle()

    def next_car(self) -> simpy.Event:
        """The loader asks for a car; the event brings it."""
        asked = self._line.get()
        self._settle()
        return asked

    def _settle(self) -> None:
        # without any place cars go from hand to hand, to a loader that waits
        while (waiting := self._again or self._blocked) and (
            self._line.wanted or len(self._line) < self._places
        ):
            car, entered = waiting.popleft()
            self._line.put(car)
            entered(car)

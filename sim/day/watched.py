"""One simulated day as somebody watches it: where each car is at any moment, how wet the cloth is.

Times are whole tenths of a second after midnight, lengths whole centimetres, moisture whole tenths
of a percent of what the cloth can hold. That is small enough to be sent as it is, and a car on the
belt stands within 0.1 m of where the day had it.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, field
from itertools import pairwise
from operator import attrgetter, itemgetter

TENTHS = 10
"""Of a second in a second."""
STACK, LANE, LINE, LOADING, BELT, STANDS, DRIED = range(1, 8)
"""Where a car is: in the stack, in a pay lane, in the loading line, being loaded, on the belt, damp
at the exit, there with a finisher. Before and after all that it is not there."""
FULL, REDUCED, LOCKED_OUT = "full", "reduced", "locked out"
Knots = tuple[tuple[int, int], ...]
"""Moments and values, in order of time, with straight lines between them."""


@dataclass(frozen=True, slots=True)
class WatchedCar:
    """One pass of a car.

    Attributes:
        times: when it joins the stack, begins to pay, leaves its lane, begins to be loaded, is
            caught, has passed the wheel, is dried by a finisher, is gone. What it does not go
            through takes no time.
        wheel: when its hood meets the wheel.
        lane: pay lane from 0; −1 without one.
        pushed: from its nose to the pusher [cm].
        wiping: `FULL`, `REDUCED`, `LOCKED_OUT`; empty where it drove away at once.
        is_damp: hood or windshield is damp behind the wheel; leaves_damp: it drives off so.
        is_again: it is its second pass; goes_round: a second pass follows.
    """

    times: tuple[int, int, int, int, int, int, int, int]
    wheel: int
    lane: int
    length: int
    pushed: int
    wiping: str
    is_damp: bool = False
    leaves_damp: bool = False
    is_again: bool = False
    goes_round: bool = False

    @property
    def joins(self) -> int:
        """When it comes."""
        return self.times[0]

    @property
    def is_lost(self) -> bool:
        """Whether it drove away instead of joining."""
        return not self.wiping

    def where(self, at: int) -> int:
        """Where it is at a moment; 0 before it comes, `DRIED` + 1 when it is gone."""
        return bisect.bisect_right(self.times, at)


@dataclass(frozen=True, slots=True)
class Room:
    """Places of a line: cars in the stack and in the loading line, pay lanes at most open; from
    where cars are caught to the wheel [cm]."""

    stack: int
    lanes: int
    line: int
    wheel: int


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment of the day.

    Attributes:
        cars: those that are there, by where; those before others come first. The stack begins with
            cars that are sent round.
        wiping: how the last car was wiped; empty before the first.
        wet: water in the cloth [‰ of what it can hold].
        is_stopped: whether the belt stands.
        came, washed, left_damp, lost: cars so far.
    """

    at: int
    cars: dict[int, tuple[WatchedCar, ...]]
    wiping: str
    wet: int
    is_stopped: bool
    came: int
    washed: int
    left_damp: int
    lost: int

    def count(self, *places: int) -> int:
        """Cars at some places."""
        return sum(len(self.cars[place]) for place in places)

    @property
    def before_the_belt(self) -> int:
        """Cars that wait, pay or are loaded."""
        return self.count(STACK, LANE, LINE, LOADING)

    @property
    def at_the_exit(self) -> int:
        """Damp cars at the exit."""
        return self.count(STANDS, DRIED)


@dataclass(frozen=True, slots=True)
class WatchedDay:
    """A day.

    Attributes:
        opens, closes: opening hours; ends: when the last car has gone, or opening ended.
        cars: in the order in which they came.
        travel: of the belt since opening [cm].
        wet: water in the cloth [‰ of what it can hold], within 1 %; limit: from where on it leaves
            cars damp, 1000 where it never does.
        seed: of the draw that it was played on.
    """

    room: Room
    opens: int
    closes: int
    ends: int
    cars: tuple[WatchedCar, ...]
    travel: Knots
    wet: Knots
    limit: int
    seed: int = 0
    _wheels: tuple[tuple[int, str], ...] = field(default=(), init=False, repr=False)

    def __post_init__(self) -> None:
        wheels = sorted((car.wheel, car.wiping) for car in self.cars if not car.is_lost)
        object.__setattr__(self, "_wheels", tuple(wheels))

    @property
    def busiest(self) -> int:
        """The first moment at which most cars are before the belt."""
        steps = [
            step
            for car in self.cars
            if not car.is_lost
            for step in ((car.joins, 1), (car.times[BELT - 1], -1))
        ]
        there = most = 0
        found = self.opens
        for at, step in sorted(steps):
            there += step
            if there > most:
                found, most = at, there
        return found

    @property
    def switches(self) -> int | None:
        """When the first car is wiped otherwise than the one before it; None if none is."""
        pairs = pairwise(self._wheels)
        return next((at for (_, had), (at, has) in pairs if had != has), None)

    def nose(self, car: WatchedCar, at: float) -> float:
        """Where the nose of a car is that is on the belt, from where cars are caught [cm]."""
        return car.pushed + between(self.travel, at) - between(self.travel, car.times[LOADING])

    def moment(self, at: int) -> Moment:
        """What is to be seen at a moment."""
        there: dict[int, list[WatchedCar]] = {place: [] for place in range(STACK, DRIED + 1)}
        came = washed = damp = lost = 0
        for car in self.cars[: bisect.bisect_right(self.cars, at, key=attrgetter("joins"))]:
            place = car.where(at)
            came += not car.is_again
            lost += car.is_lost
            washed += place > BELT and not (car.is_lost or car.goes_round)
            damp += place > DRIED and car.leaves_damp
            if place in there:
                there[place].append(car)
        there[STACK].sort(key=attrgetter("is_again"), reverse=True)
        for place in (LINE, BELT, STANDS, DRIED):
            there[place].sort(key=lambda car: car.times[place - 1])
        wiped = bisect.bisect_right(self._wheels, at, key=itemgetter(0))
        return Moment(
            at=at,
            cars={place: tuple(cars) for place, cars in there.items()},
            wiping=self._wheels[wiped - 1][1] if wiped else "",
            wet=math.floor(between(self.wet, at) + 0.5),
            is_stopped=stands(self.travel, at),
            came=came,
            washed=washed,
            left_damp=damp,
            lost=lost,
        )


@dataclass(frozen=True, slots=True)
class WatchedScenario:
    """A day as one scenario of a plan has it; `number` is its place there, from 1."""

    number: int
    name: str
    day: WatchedDay


def between(knots: Knots, at: float) -> float:
    """The value at a moment; that of the first or last knot beyond them, the later of two knots
    of one moment."""
    after = bisect.bisect_right(knots, at, key=itemgetter(0))
    if after == 0:
        return float(knots[0][1])
    if after == len(knots):
        return float(knots[-1][1])
    (start, low), (end, high) = knots[after - 1], knots[after]
    return low + (high - low) * (at - start) / (end - start)


def stands(knots: Knots, at: float) -> bool:
    """Whether the value is the same for a while from a moment within them on."""
    after = bisect.bisect_right(knots, at, key=itemgetter(0))
    return 0 < after < len(knots) and knots[after - 1][1] == knots[after][1]

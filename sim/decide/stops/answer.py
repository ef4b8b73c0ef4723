"""What is told of belt stops and alarms: rates of each cause, and what it cost on a day."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import Literal

from sim.decide.answer import Comparison

SCHEMA = "clothcast.stops/1"


@dataclass(frozen=True, slots=True)
class Rate:
    """Events for so much of something: the estimate, and its exact 95 % limits.

    `high` and `value` are None where they are without bound, as one in N cars of no event.
    """

    value: float | None
    low: float
    high: float | None


@dataclass(frozen=True, slots=True)
class CauseRates:
    """A cause, or all of them together, over some days, in four ways that say the same.

    Attributes:
        cause: as it was noted; empty for all together.
        count: how often it came.
        stood_s: how long it lasted in all, where that was noted [s]; without: how often it was not.
        per_thousand_cars, per_day, per_open_hour: events.
        one_in_cars: cars from one to the next.
    """

    cause: str
    count: int
    stood_s: float
    without: int
    per_thousand_cars: Rate
    per_day: Rate
    per_open_hour: Rate
    one_in_cars: Rate


@dataclass(frozen=True, slots=True)
class ClassRate:
    """A class of vehicles: its key, stops that name it, and those for a thousand of its cars.

    How many of the cars were of the class follows from its share on the Site page.
    """

    vehicle: str
    count: int
    per_thousand_cars: Rate


@dataclass(frozen=True, slots=True)
class StopRates:
    """The causes over some days, the commonest first.

    Attributes:
        days, cars, open_h: days with a count of cars, their cars and open hours [h].
        together: all causes.
        left_out: events on days without a count, which no rate has.
        classes: of events that name one, the commonest first.
    """

    days: int
    cars: int
    open_h: float
    together: CauseRates
    causes: tuple[CauseRates, ...]
    left_out: int
    classes: tuple[ClassRate, ...]


@dataclass(frozen=True, slots=True)
class CauseOfDay:
    """A cause, or several together, on a day: as they were noted, their stops, and how long the
    belt stood for them [s]."""

    causes: tuple[str, ...]
    count: int
    stood_s: float


@dataclass(frozen=True, slots=True)
class StopCosts:
    """What the stops of a day cost: plans of that day, on the same draws, that differ in when the
    belt stood.

    Attributes:
        cars: what its cars are taken from: its counts, or what was expected.
        guessed: stops whose length was not noted, which have the site's usual one.
        together: all stops; causes: those for which the belt stood longest, one by one, and the
            others together.
        comparison: the day as it was, without any stop, and without each of `causes`. What they
            cost need not add up: while the belt stands for one, another can't stop it.
    """

    schema: str = field(default=SCHEMA, kw_only=True)
    date: datetime.date
    cars: Literal["counts", "expected"]
    guessed: int
    together: CauseOfDay
    causes: tuple[CauseOfDay, ...]
    comparison: Comparison

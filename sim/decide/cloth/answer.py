"""What is found out of a site's cloth: the answer on its sets, as it is stored, told and shown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from sim.decide.cloth.change import FLAT, LEAST_SAVING, ChangeAge
from sim.decide.cloth.guesses import AgeRange, Guess
from sim.decide.cloth.prices import ChangePrices, InParts
from sim.errors import Note
from sim.learn.cloth_wear import Place
from sim.learn.life_fit import LifeFit
from sim.learn.uptake_loss import DampCount

__all__ = [
    "FLAT",
    "LEAST_SAVING",
    "AgeRange",
    "Believed",
    "BusyDay",
    "ChangeAge",
    "ChangePrices",
    "ClothAnswer",
    "DampByWear",
    "DampCount",
    "Due",
    "Guess",
    "InParts",
    "LifeFit",
    "LifeFound",
    "LossFound",
    "Moved",
    "SetFound",
    "SetToCome",
]


@dataclass(frozen=True, slots=True)
class SetToCome:
    """What is to come of a set that still lives.

    Attributes:
        share: of the wheel's wear that it takes.
        worn_out: ages by which it has worn out with probability 10, 50 and 90 %, given that it has
            come to its present age [full-wipe equivalents].
        worn_out_days: the days on which it comes to these ages; None beyond the forecast.
        launderings: to come until the middle one, at the rate so far.
    """

    share: float
    worn_out: tuple[float, float, float]
    worn_out_days: tuple[date | None, date | None, date | None]
    launderings: float


@dataclass(frozen=True, slots=True)
class SetFound:
    """A set of the record.

    Attributes:
        bought: None where nobody wrote it down.
        reason: why its life ended; empty while it has not.
        since: when it was put on or taken off last; None for one that never was.
        on_wheel_cars: wear on the wheel; age_cars: all its wear, laundering and what it had before
            included [full-wipe equivalents].
        all_counted: whether none of its days on the wheel had to be expected.
        to_come: None for a set that has come to its end.
    """

    name: str
    bought: date | None
    state: Place
    reason: str
    since: date | None
    on_wheel_cars: float
    all_counted: bool
    launderings: int
    age_cars: float
    to_come: SetToCome | None


@dataclass(frozen=True, slots=True)
class Believed:
    """What is believed of a figure: its median, and between what it lies at 19 of 20 sites."""

    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LifeFound:
    """What is known of how long sets last.

    Attributes:
        beta: Weibull shape [–]; eta: scale, mean: expected life [full-wipe equivalents].
        worn_out, ended_otherwise: sets whose life has ended; looks: inspections that told of it.
        likelihood: from the sets alone, by maximum likelihood; None with too few.
    """

    beta: Believed
    eta: Believed
    mean: float
    worn_out: int
    ended_otherwise: int
    looks: int
    likelihood: LifeFit | None


@dataclass(frozen=True, slots=True)
class DampByWear:
    """What wear does to cars, at even steps of wear from new to the scale of life.

    Attributes:
        more_damp_share: share of cars damp above that with new cloth.
        cost_per_full_wipe: what that costs by a plan's items [money/full-wipe equivalent].
    """

    more_damp_share: tuple[float, ...]
    cost_per_full_wipe: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LossFound:
    """What is believed of the share of uptake that is lost at the scale of life.

    Attributes:
        is_known: the site entered it.
        median, low, high: low and high at 9 of 10 sites.
        counts: damp hoods that were counted; worn_looked_at: how many of them under a worn set.
    """

    is_known: bool
    median: float
    low: float
    high: float
    counts: tuple[DampCount, ...]
    worn_looked_at: int


@dataclass(frozen=True, slots=True)
class BusyDay:
    """A day and the cars that it expects."""

    day: date
    cars: float


@dataclass(frozen=True, slots=True)
class Moved:
    """A change moved to a quiet morning.

    Attributes:
        day: of that morning; morning_cars: expected before noon.
        cost: what moving adds to the cost of this one set's life, on average [money].
    """

    day: date
    morning_cars: float
    cost: float


@dataclass(frozen=True, slots=True)
class Due:
    """When the set on the wheel is due.

    Attributes:
        day: on which it comes to the age of change; None if it waits for failure, or beyond the
            forecast. It is today for a set that is past it.
        first, last: days between which a change costs at most 2 % more than the best; None beyond
            the forecast, or without end.
        overdue: whether the set has gone past the age of change already.
        busy: the busiest of the seven days from `day` on; None with `day`.
        quiet: the quietest morning of those near; None where none is quieter, or with `day`.
    """

    name: str
    day: date | None
    first: date | None
    last: date | None
    overdue: bool
    busy: BusyDay | None
    quiet: Moved | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothAnswer:
    """When to change cloth, and what that rests on; wear in full-wipe equivalents.

    Attributes:
        sets: every set, in the order of the book.
        age_range: how far the best age may lie elsewhere, and the guesses that it rests on.
        due: the set on the wheel; None where there is none.
        wear_per_day: mean of the coming four weeks' days; wear_per_year: of the coming 365 days.
        notes: what a reader should know.
    """

    schema: Literal["clothcast.cloth/3"] = "clothcast.cloth/3"
    day: date
    sets: tuple[SetFound, ...]
    life: LifeFound
    prices: ChangePrices
    damp: DampByWear
    uptake_loss: LossFound
    age_range: AgeRange
    change: ChangeAge
    in_parts: tuple[InParts, ...]
    due: Due | None
    wear_per_day: float
    wear_per_year: float
    notes: tuple[Note, ...]

    def find(self, name: str) -> SetFound:
        """A set by its name; raises KeyError for one that there is not."""
        for one in self.sets:
            if one.name == name:
                return one
        raise KeyError(name)

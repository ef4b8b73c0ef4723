"""What a site's counts have taught of its coming days: what is stored and told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sim.inputs.forecast import Forecast
from sim.learn.forecast.score import Paired

SCHEMA = "clothcast.arrivals/2"


@dataclass(frozen=True, slots=True)
class Score:
    """How a way to expect days did on days held back.

    Attributes:
        missed_by: mean absolute error of a day's cars [cars].
        scaled: the same beside what the same weekday a week before misses; None where that can't
            be told.
        crps: mean continuous ranked probability score of a day's cars [cars].
        hours_crps: the same of single hours, mean over open hours [cars].
        held_80, held_95: share of days within the middle 80 and 95 % that were expected.
    """

    missed_by: float
    scaled: float | None
    crps: float
    hours_crps: float
    held_80: float
    held_95: float


@dataclass(frozen=True, slots=True)
class Judged:
    """Two ways to expect days, held against days that neither had seen.

    Attributes:
        first, last: of the days held back; days, weeks: how many.
        like: mean of like days; together: all counts together.
        difference: of their scores, week by week, below 0 where all counts together are better.
        is_used: whether plans use all counts together.
    """

    first: date
    last: date
    days: int
    weeks: int
    like: Score
    together: Score
    difference: Paired
    is_used: bool


@dataclass(frozen=True, slots=True)
class Arrivals:
    """What is learnt of arrivals.

    Attributes:
        decided: the site's date on which it was.
        through: last day counted.
        country: whose public holidays were taken, two letters; empty for none.
        has_weather: whether there was any.
        cars: of each of the forecast's days, nothing said of its weather; like_cars: the same by
            like days, 0 where none are.
    """

    decided: date
    through: date
    country: str
    has_weather: bool
    forecast: Forecast
    judged: Judged
    cars: tuple[float, ...]
    like_cars: tuple[float, ...]

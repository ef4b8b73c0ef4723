"""What all counts of a site together lead to expect of its coming days, as far as that was tried."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

Hours = tuple[float, ...]
"""24 values by clock hour."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What something multiplies cars by, as the log of that: its mean, and how far it is sure."""

    log_mean: float
    log_sd: float

    @property
    def factor(self) -> float:
        """The middle of what it multiplies cars by."""
        return math.exp(self.log_mean)


@dataclass(frozen=True, slots=True)
class ForecastDay:
    """A coming day, its weather left open.

    Attributes:
        cars_per_h: cars expected on a dry day after a dry day, as warm as usual [cars].
        level_cv: coefficient of variation of the truth about them, all hours alike.
        holiday: name of the public holiday that it is; empty for none.
        wet_share: share of such days with rain in open hours.
        after_wet: whether it rained in the open hours of the day before; None: not known.
        usual_high_c: highest temperature that is usual [°C]; None where nothing says.
    """

    day: date
    cars_per_h: Hours
    level_cv: float
    holiday: str = ""
    wet_share: float = 0.0
    after_wet: bool | None = None
    usual_high_c: float | None = None


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is expected of the days that follow a site's counts.

    Attributes:
        days: in order, each once.
        day_cv, hour_cv: coefficients of variation of the day factor and of an hour's, as fitted.
        wet, after_rain, warmer: what rain, a day after rain, and 10 K more than usual do.
        high_sd_k: standard deviation of a day's highest temperature about what is usual [K].
        counted: whole days of counts that it rests on; wet_days: those with rain among them.
        full: counted hours that were taken as the least that can have come.
    """

    days: tuple[ForecastDay, ...]
    day_cv: float
    hour_cv: float
    wet: Effect
    after_rain: Effect
    warmer: Effect
    high_sd_k: float
    counted: int
    wet_days: int
    full: int = 0

    def of(self, day: date) -> ForecastDay | None:
        """A day; None where it is not among them."""
        return next((one for one in self.days if one.day == day), None)

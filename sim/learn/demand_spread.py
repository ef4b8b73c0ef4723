"""How far days come out from what counts lead to expect of them.

What is expected of a day is the mean of like days. Held against the past it is told in three
parts: the day factor, by which days of a season differ from one another; the factor of an hour,
by which hours differ given their day; and the level, by which the mean of like days itself is
off, be it by their own luck or because season and trade have moved on since.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from sim.errors import Sentence
from sim.inputs import DemandSpread
from sim.learn.like_days import SEASON_DAYS, YEAR_DAYS, LikeDays, days_apart
from sim.units import NBSP

Floats = NDArray[np.float64]

LEAST_DAYS = 6
"""Whole days below which counts tell nothing of a spread."""
NEAR_DAYS = 91
"""Past days that are held against their like days lie in the same half of the year."""
GUESS_DAYS = 4
"""Degrees of freedom that a guess of a spread is worth: a chi-square variance of so many spreads
by a factor of two either way, as the range of the input does (half to twice the guess)."""
GUESS_WEEKS = 2
"""Weeks of counts that the guess of how far a level moves is worth. Errors of neighbouring days
rest on nearly the same like days, so a week of them counts once."""


@dataclass(frozen=True, slots=True)
class SpreadGuess:
    """What a site's own inputs say of its spread, for want of counts.

    Attributes:
        day_cv, hour_cv: coefficients of variation of the day factor and of an hour's factor.
        day_entered, hour_entered: whether the site entered them itself; then they hold, whatever
            counts say.
    """

    day_cv: float
    hour_cv: float
    day_entered: bool = False
    hour_entered: bool = False


def demand_spread(
    past: LikeDays, day: date, like: Sequence[date], guess: SpreadGuess
) -> DemandSpread:
    """The spread of a day that is expected from the mean of `like` days.

    Every variance found is averaged with a guess that counts for a few days. That of a level's
    movement beyond the luck of its like days is guessed as large as that of single days: so it
    was, in the middle, in hourly counts of footfall, hired bicycles and telephone calls.
    """
    lags = [(day - other).days for other in like]
    ahead = hold_against_past(past, day, lags)
    # like days of a year ago say nothing of how trade moved unless the file is as long; hours
    # and days are then told from days held against those about their own time of year
    held = ahead if ahead.days else hold_against_past(past, day, _about_the_day(lags))
    hour = _mixed(held.hour_variance, held.days, guess.hour_cv**2, GUESS_DAYS)
    variance, freedom, days = day_variance(past, day)
    known = days >= LEAST_DAYS and freedom > 0
    single = max(0.0, variance - hour * held.concentration) if known else 0.0
    of_day = _mixed(single, freedom if known else 0, guess.day_cv**2, GUESS_DAYS)
    # what a day has by itself, and a mean of like days by so many of them
    alone = of_day + hour * held.concentration + held.of_cars
    beyond = ahead.total_variance - hour * ahead.concentration - of_day - alone * ahead.of_mean
    moved = _mixed(max(0.0, beyond), ahead.days / 7.0, of_day, GUESS_WEEKS)
    return DemandSpread(
        None if guess.day_entered or not known else of_day**0.5,
        None if guess.hour_entered or not held.days else hour**0.5,
        (moved + alone / len(like)) ** 0.5,
        max(days if known else 0, held.days),
        len(like),
    )


def _about_the_day(lags: Sequence[int]) -> list[int]:
    """Distances in the time of year, whatever the year, in place of distances in time."""
    half = YEAR_DAYS // 2
    near = {(lag + half) % YEAR_DAYS - half for lag in lags}
    return sorted(near - {0})


def _mixed(found: float, weight: float, guess: float, worth: float) -> float:
    return (weight * max(0.0, found) + worth * guess) / (weight + worth)


@dataclass(frozen=True, slots=True)
class Held:
    """Past days held against the mean of the days that were as like to them.

    Attributes:
        days: past days that could be held against enough others; 0: the rest says nothing.
        hour_variance: relative variance of an hour given its day, beyond the luck of whole cars.
        total_variance: mean square of the relative miss of a day's total, beyond that luck.
        concentration: Σ of squared shares of the hours: what of an hour's variance a total has.
        of_cars: relative variance of a total by the luck of whole cars, 1/expected.
        of_mean: mean of 1/n over the n like days of each.
    """

    days: int
    hour_variance: float
    total_variance: float
    concentration: float
    of_cars: float
    of_mean: float


def hold_against_past(past: LikeDays, day: date, lags: Sequence[int]) -> Held:
    """What a mean of days that lie so many days back, or ahead, missed in the past.

    Each whole day d of the file but `day` itself is held against the mean of the days d − lag, as
    far as they were counted; at least half of them, lest all lie to one side in the season. With
    expected cars λ_h of its hours, shares p_h = λ_h/Λ and a total T, the residuals
    r_h = n_h − T·p_h of independent hours of relative variance c² have

        Σ E r_h² = Σ T·p_h·(1 − p_h) + c²·T²·Σ p_h²·((1 − p_h)² + Σ_(j≠h) p_j²),

    from which c² follows by the method of moments, summed over days; so does the mean square of
    (T − Λ)² − Λ beside Λ². Both hold what is unsure in λ, as the coming day will.
    """
    ordinals, counts = past.whole()
    own = ordinals != day.toordinal()
    ordinals, counts = ordinals[own], counts[own]
    shares_only = Held(0, 0.0, 0.0, 1.0 / len(past.hours), 0.0, 0.0)
    if not len(ordinals):
        return shares_only
    total, seen = np.zeros_like(counts), np.zeros(len(ordinals))
    for lag in lags:
        sought = ordinals - lag
        at = np.minimum(np.searchsorted(ordinals, sought), len(ordinals) - 1)
        found = ordinals[at] == sought
        total[found] += counts[at[found]]
        seen[found] += 1
    expected = total / np.maximum(seen, 1.0)[:, None]
    enough = max(min(2, len(lags)), len(lags) / 2)
    usable = (seen >= enough) & (expected.sum(axis=1) > 0)
    apart = (day.toordinal() - ordinals) % YEAR_DAYS
    near = usable & (np.minimum(apart, YEAR_DAYS - apart) <= NEAR_DAYS)
    if near.sum() >= LEAST_DAYS:
        usable = near
    if usable.sum() < LEAST_DAYS:
        return shares_only
    expected, counts, seen = expected[usable], counts[usable], seen[usable]
    sums, came = expected.sum(axis=1), counts.sum(axis=1)
    p = expected / sums[:, None]
    square = p**2
    together = square.sum(axis=1)
    mean = came[:, None] * p
    above = ((counts - mean) ** 2 - mean * (1.0 - p)).sum()
    below = (came[:, None] ** 2 * square * ((1.0 - p) ** 2 + together[:, None] - square)).sum()
    of_cars = 1.0 / sums.mean()
    return Held(
        len(sums),
        float(above / below) if below > 0 else 0.0,
        float(((came - sums) ** 2 - sums).sum() / (sums**2).sum()),
        float(together.mean()),
        float(of_cars),
        float((1.0 / seen).mean()),
    )


def day_variance(past: LikeDays, day: date) -> tuple[float, int, int]:
    """Variance of the day factor in the season, its degrees of freedom, the days it rests on.

    Whole days within three weeks of the same time of year, all weekdays, each against the mean of
    its own weekday. With a day factor of variance c² the total of a day of mean m has variance
    m + c²m² (Poisson given the factor), so c² = Σ(SS_w − (n_w − 1)·m_w)/Σ(n_w − 1)·m_w² over the
    weekdays w (method of moments); below 0 where days differ less than by chance.
    """
    of_weekday: dict[int, list[float]] = {}
    for other, total in past.totals.items():
        if other != day and days_apart(day, other) <= SEASON_DAYS:
            of_weekday.setdefault(other.weekday(), []).append(total)
    count = sum(len(totals) for totals in of_weekday.values())
    above = below = 0.0
    for totals in of_weekday.values():
        mean = sum(totals) / len(totals)
        above += sum((t - mean) ** 2 for t in totals) - (len(totals) - 1) * mean
        below += (len(totals) - 1) * mean**2
    freedom = count - len(of_weekday) if below else 0
    return (above / below if below else 0.0), freedom, count


def told_spread(spread: DemandSpread, guess: SpreadGuess) -> tuple[Sentence, Sentence]:
    """How far days come out from what is expected of them, and how that is known, in words."""
    day_from = _source(spread.day_cv, guess.day_entered, spread.days)
    hour_from = _source(spread.hour_cv, guess.hour_entered, spread.days)
    told: dict[str, object] = {
        "days": _percent(guess.day_cv if spread.day_cv is None else spread.day_cv),
        "hours": _percent(guess.hour_cv if spread.hour_cv is None else spread.hour_cv),
        "source": day_from,
        "other": hour_from,
    }
    if day_from == hour_from:
        sentence = (
            "Days like this differ by about {days}, hours given the day by {hours} ({source})."
        )
    else:
        sentence = (
            "Days like this differ by about {days} ({source}), hours given the day by {hours} "
            "({other})."
        )
    mean = Sentence(
        "The one like day is itself uncertain by {level}."
        if spread.like_days == 1
        else "The mean of {count} days is itself uncertain by {level}.",
        {"count": spread.like_days, "level": _percent(spread.level_cv)},
    )
    return Sentence(sentence, told), mean


def _source(counted: float | None, entered: bool, days: int) -> Sentence:
    if counted is not None:
        return Sentence("from {count} whole days of counts", {"count": days})
    return Sentence("your own entry" if entered else "a guess: too few whole days of counts")


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}{NBSP}%"

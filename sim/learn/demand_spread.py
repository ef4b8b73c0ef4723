"""How far days come out from what counts lead to expect of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sim.inputs import DemandSpread
from sim.learn.like_days import SEASON_DAYS, LikeDays
from sim.learn.season import days_apart

LEAST_DAYS = 6
"""Whole days in the season below which counts tell nothing of their spread."""
GUESS_DAYS = 4
"""Degrees of freedom that a guess of a spread is worth: a chi-square variance of so many spreads
by a factor of two either way, as the range of the input does (half to twice the guess)."""


@dataclass(frozen=True, slots=True)
class SpreadGuess:
    """What a site's own inputs say of its spread, for want of counts.

    Attributes:
        day_cv: coefficient of variation of the day factor.
        entered: whether the site entered it itself; then it holds, whatever counts say.
    """

    day_cv: float
    entered: bool = False


def demand_spread(past: LikeDays, day: date, guess: SpreadGuess) -> DemandSpread:
    """The spread of a day that is expected from like days, from all whole days about its season.

    The variance found is averaged with the guess, which counts for `GUESS_DAYS`.
    """
    variance, freedom, days = day_variance(past, day)
    if guess.entered or days < LEAST_DAYS or not freedom:
        return DemandSpread()
    mixed = (freedom * max(0.0, variance) + GUESS_DAYS * guess.day_cv**2) / (freedom + GUESS_DAYS)
    return DemandSpread(mixed**0.5, days)


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


def told_spread(spread: DemandSpread, guess: SpreadGuess) -> str:
    """How far days come out from what is expected of them, and how that is known: a sentence."""
    if spread.day_cv is not None:
        source = f"from {spread.days} whole days of counts"
    else:
        source = "your own entry" if guess.entered else "a guess: too few whole days of counts"
    cv = guess.day_cv if spread.day_cv is None else spread.day_cv
    return f"Days like this differ by about {100.0 * cv:.0f} % ({source})."

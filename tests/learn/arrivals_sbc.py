"""Sites drawn from what is guessed of them, and their counts: what a fit is held against.

Simulation-based calibration (Talts et al. 2018, arXiv:1804.06788; from memory): where a site is
drawn from the guesses and its counts from the site, the rank of its true value among draws of what
the counts leave is uniform.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from sim.inputs import History, HourCount
from sim.learn.forecast.fit import Fitted, fit
from sim.learn.forecast.likelihood import Counted, Floats
from sim.learn.forecast.terms import DayWeather, Terms, terms_of
from sim.learn.like_days import LikeDays, SpreadGuess

GUESS = SpreadGuess(0.12, 0.1)
START = date(2025, 3, 3)
HOURS = (9, 12, 15)
BINS = 20
DRAWS = BINS * 10 - 1
"""Ranks 0 to 199, ten to a bin."""


def bare_terms(rng: np.random.Generator, weeks: int = 8) -> Terms:
    """Terms of some weeks with rain on every fifth day and two holidays; every count is 1."""
    days = [START + timedelta(days=one) for one in range(7 * weeks)]
    rows = tuple(HourCount(day, hour, 0, 1) for day in days for hour in HOURS)
    weather = {
        day: DayWeather(5.0 * (rng.random() < 0.2), 20.0 + 5.0 * rng.standard_normal())
        for day in days
    }
    holidays = {days[10]: "one", days[30]: "other"}
    past = LikeDays(History("arrived", rows), HOURS)
    return terms_of(past, weather, holidays, None, GUESS, days[-1] + timedelta(days=14))


@dataclass(frozen=True)
class Truth:
    """A site as it was drawn: terms and spreads."""

    terms: Floats
    spreads: Floats


def drawn_site(rng: np.random.Generator, terms: Terms) -> Truth:
    """A site drawn from the guesses."""
    guesses = terms.guesses
    spreads = guesses.spreads * np.exp(
        guesses.spread_sd * rng.standard_normal(len(guesses.spreads))
    )
    sd = np.where(guesses.moving, guesses.sd * spreads[2], guesses.sd)
    return Truth(guesses.middle + sd * rng.standard_normal(len(sd)), spreads)


def drawn_counts(rng: np.random.Generator, terms: Terms, truth: Truth) -> Counted:
    """Counts of its days; the midday hour is full from what it brings on a middling day on."""
    expected = np.exp(terms.layout.log_expected(truth.terms))
    day, hour = truth.spreads[0] ** -2, truth.spreads[1] ** -2
    factors = rng.gamma(day, 1.0 / day, (len(expected), 1)) * rng.gamma(
        hour, 1.0 / hour, expected.shape
    )
    cars = rng.poisson(expected * factors).astype(float)
    limit = np.full(expected.shape[1], np.inf)
    limit[1] = max(1.0, np.floor(np.median(expected[:, 1])))
    full = cars >= limit
    return Counted(np.minimum(cars, limit), np.ones_like(full), full)


Plant = Callable[[Counted], Counted]
"""What a fit is told of counts, in place of the truth."""


def ranks(
    rng: np.random.Generator,
    fits: int,
    plant: Plant | None = None,
    widths: Sequence[float] = (1.0,),
) -> NDArray[np.int64]:
    """Ranks of true values (widths, fits, terms, spreads and expectations) among draws.

    Args:
        plant: a wrong account of the counts. widths: factors on how far draws lie from the middle.
    """
    found = []
    for _ in range(fits):
        terms = bare_terms(rng)
        truth = drawn_site(rng, terms)
        counted = drawn_counts(rng, terms, truth)
        if plant is not None:
            counted = plant(counted)
        fitted = fit(counted, terms.layout, terms.guesses)
        draws = fitted.draws(rng, DRAWS)
        true = told(terms, truth.terms[None], truth.spreads[None])[0]
        found.append([
            (drawn_at(width, draws, fitted, terms) < true).sum(axis=0) for width in widths
        ])  # fmt: skip
    return np.array(found, dtype=np.int64).swapaxes(0, 1)


def drawn_at(width: float, draws: tuple[Floats, Floats], fitted: Fitted, terms: Terms) -> Floats:
    """What a fit leaves of all that is told (draws, values), so many times as far from the
    middle."""
    some, spreads = draws
    some = fitted.terms + width * (some - fitted.terms)
    spreads = fitted.spreads * (spreads / fitted.spreads) ** width
    return told(terms, some, spreads)


def told(terms: Terms, some: Floats, spreads: Floats) -> Floats:
    """Terms, logs of spreads, and logs of what is expected of the last hour to come, a row each."""
    ahead = terms.ahead.log_expected(some)[:, -1, :]
    return np.hstack([some, np.log(spreads), ahead])


def least_p(found: NDArray[np.int64]) -> float:
    """The least p value of a chi-square test of each column's ranks against uniform ones, as Holm
    corrects it: times the number of columns (Holm 1979, Scand. J. Stat. 6:65–70)."""
    counts = np.stack([
        np.bincount(column * BINS // (DRAWS + 1), minlength=BINS) for column in found.T
    ])  # fmt: skip
    expected = len(found) / BINS
    statistic = ((counts - expected) ** 2 / expected).sum(axis=1)
    return min(1.0, float(chi2.sf(statistic, BINS - 1).min()) * len(counts))

"""What counts leave of how many cars an hour may bring: the most probable, and how far it is sure.

The log of what is expected of an hour is a sum of terms, each with a Gaussian guess about 0 or a
middle value; a guess that is narrow holds a term back until counts say otherwise, which is what
pools weekdays, hours and holidays in part. Three numbers say how far days differ, hours given
their day, and how fast the level moves. Terms are integrated out for these by Laplace's
approximation, so that they are not fitted as if the terms were known (Tierney & Kadane 1986,
J. Am. Stat. Assoc. 81:82–86; Rue, Martino & Chopin 2009, J. R. Stat. Soc. B 71:319–392).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.learn.forecast.likelihood import Bools, Counted, DayTerms, Floats, day_terms

SPREADS = ("day_cv", "hour_cv", "level_step")
"""Spreads that are fitted: of days, of hours given their day, of the level from week to week."""
LEVEL = 2
"""Place of the level's step among them."""
BESIDE = 1.5
STEPS = 40
CLOSE = 1e-6
"""Gain of log-probability from which a step is worth taking."""
SHORTEST = 1e-3
"""Least part of a Newton step that is tried."""
FAR = 5.0
"""Spreads are looked for within so many sd of their guess."""
APART = 2.0
"""So many sd from the most probable spreads it is seen how fast they become improbable."""
LEAST_REACH, MOST_REACH = 0.5, 2.5
NUDGE = 0.02
"""Step by which the fit is told how a spread moves it, of the log of the spread."""


@dataclass(frozen=True, slots=True)
class Guesses:
    """What is thought of terms and spreads before anything is counted.

    Attributes:
        middle, sd: of each term, as logs; moving: terms whose sd is multiplied by `level_step`.
        spreads, spread_sd: middle of the `SPREADS`, and the sd of their logs.
    """

    middle: Floats
    sd: Floats
    moving: Bools
    spreads: Floats
    spread_sd: Floats


@dataclass(frozen=True, slots=True)
class Layout:
    """How terms make up an hour's expectation: log λ_dh = days[d]·(day terms) + hour term h +
    (hour term h of the weekday of d).

    Attributes:
        days: (days, day terms); weekday: 0 to 6 for each day; hours: open hours.
    """

    days: Floats
    weekday: NDArray[np.int64]
    hours: int

    @property
    def count(self) -> int:
        """Terms in all: of days, of hours, of hours by weekday."""
        return int(self.days.shape[1]) + 8 * self.hours

    def log_expected(self, terms: Floats) -> Floats:
        """(days, hours); with draws of the terms before it, where there are several."""
        first, hours = self.days.shape[1], self.hours
        of_day = terms[..., :first] @ self.days.T
        usual = terms[..., first : first + hours]
        own = terms[..., first + hours :].reshape((*terms.shape[:-1], 7, hours))
        found: Floats = of_day[..., None] + usual[..., None, :] + own[..., self.weekday, :]
        return found

    def gather(self, slope: Floats) -> Floats:
        """Slope by the terms, of one by the hours."""
        own = np.zeros((7, self.hours))
        np.add.at(own, self.weekday, slope)
        return np.concatenate([self.days.T @ slope.sum(axis=1), slope.sum(axis=0), own.ravel()])

    def gather_curve(self, curve: Floats) -> Floats:
        """Second derivatives by the terms, of those by the hours."""
        first, hours = self.days.shape[1], self.hours
        found = np.zeros((self.count, self.count))
        of_hour = curve.sum(axis=2)
        found[:first, :first] = self.days.T @ (of_hour.sum(axis=1)[:, None] * self.days)
        usual = slice(first, first + hours)
        found[:first, usual] = self.days.T @ of_hour
        found[usual, usual] = curve.sum(axis=0)
        for weekday in range(7):
            chosen = self.weekday == weekday
            own = slice(first + hours * (1 + weekday), first + hours * (2 + weekday))
            block = curve[chosen].sum(axis=0)
            found[:first, own] = self.days[chosen].T @ of_hour[chosen]
            found[usual, own] = block
            found[own, own] = block
        upper = np.triu(found)
        return upper + np.triu(upper, 1).T


@dataclass(frozen=True, slots=True)
class _Inner:
    """The most probable terms for given spreads, the Cholesky factor of the curvature there, and
    the log of what is left of the likelihood once they are integrated out."""

    terms: Floats
    factor: Floats
    value: float
    log_factor: Floats


@dataclass(frozen=True, slots=True)
class Fitted:
    """What counts leave.

    Attributes:
        terms: most probable terms; factor: upper Cholesky factor of their covariance inverted.
        beside: the same two for a level that moves `BESIDE` sd less, and so much more, than is most
            probable: how far terms may lie off hangs on that.
        spreads: most probable `SPREADS`; log_cov: covariance of their logs, by the curvature.
        moves: how the terms move with the log of each spread (spreads, terms).
        reach: how much further than that they may lie along each axis of that covariance, least
            first, the one way and the other (2, spreads): days that differ hardly at all are easily
            taken for days that don't, so small spreads are less improbable than the curvature says.
    """

    terms: Floats
    factor: Floats
    spreads: Floats
    log_cov: Floats
    moves: Floats
    reach: Floats
    beside: tuple[tuple[Floats, Floats], ...] = ()

    def draws(self, rng: np.random.Generator, count: int) -> tuple[Floats, Floats]:
        """Terms (count, terms) and spreads (count, spreads) as they may truly be."""
        sizes, ways = np.linalg.eigh(self.log_cov)
        # two halves of normal distributions that meet at the top, of different widths
        far = np.abs(rng.standard_normal((count, len(self.spreads))))
        down, up = self.reach
        is_up = rng.random(far.shape) < up / (down + up)
        off = (np.where(is_up, up, -down) * far * np.sqrt(sizes)) @ ways.T
        normal = rng.standard_normal((len(self.terms), count))
        found = self.terms + off @ self.moves + np.linalg.solve(self.factor, normal).T
        sd = float(self.log_cov[LEVEL, LEVEL]) ** 0.5
        for (terms, factor), side in zip(self.beside, (-BESIDE, BESIDE), strict=False):
            near = off[:, LEVEL] * side > 0.5 * side**2 * sd
            rest = off[near].copy()
            rest[:, LEVEL] -= side * sd
            loose = np.linalg.solve(factor, normal[:, near]).T
            found[near] = terms + rest @ self.moves + loose
        return found, self.spreads * np.exp(off)


def fit(
    counted: Counted, layout: Layout, guesses: Guesses, spreads: Floats | None = None
) -> Fitted:
    """The most probable terms and spreads, and how far they are sure.

    Args:
        spreads: taken as known where given, which spares most of the time.
    """
    from scipy.optimize import minimize  # slow to load; no page waits for it

    held = [_within(counted, layout, guesses, guesses.spreads, guesses.middle, None)]

    def miss(log_spreads: Floats) -> float:
        found = np.exp(log_spreads)
        last = held[0]
        inner = _within(counted, layout, guesses, found, last.terms, last.log_factor)
        held[0] = inner
        off = (log_spreads - np.log(guesses.spreads)) / guesses.spread_sd
        return -(inner.value - 0.5 * float(off @ off))

    best = np.log(guesses.spreads if spreads is None else spreads)
    if spreads is None:
        middle_log, sd = best, guesses.spread_sd
        off = minimize(
            lambda off: miss(middle_log + sd * off), np.zeros(len(sd)), method="L-BFGS-B",
            bounds=[(-FAR, FAR)] * len(sd), options={"eps": 1e-4, "ftol": 1e-7},
        ).x  # fmt: skip
        best = middle_log + sd * off
    middle = miss(best)
    there = held[0]
    if spreads is not None:
        none, sure = np.zeros((len(best), len(there.terms))), 1e-12 * np.eye(len(best))
        evenly = np.ones((2, len(best)))
        return Fitted(there.terms, there.factor, np.exp(best), sure, none, evenly)
    curve, moves = _curve(miss, held, best, middle)
    # a spread that the curve says nothing of is no less sure than half its guess
    sizes, ways = np.linalg.eigh(curve)
    sizes = np.maximum(sizes, 0.5 * guesses.spread_sd.max() ** -2)
    log_cov = (ways / sizes) @ ways.T
    beside = []
    for side in (-BESIDE, BESIDE):
        moved = best.copy()
        moved[LEVEL] += side * log_cov[LEVEL, LEVEL] ** 0.5
        miss(moved)
        beside.append((held[0].terms, held[0].factor))
    return Fitted(
        there.terms, there.factor, np.exp(best), log_cov, moves,
        _reach(miss, best, middle, log_cov), tuple(beside),
    )  # fmt: skip


def _within(
    counted: Counted,
    layout: Layout,
    guesses: Guesses,
    spreads: Floats,
    start: Floats,
    log_factor: Floats | None,
) -> _Inner:
    """The terms for given spreads, by Newton's method: the posterior is log-concave (Prékopa), so
    there is one top."""
    day_cv, hour_cv, level_step = spreads
    sd = np.where(guesses.moving, guesses.sd * level_step, guesses.sd)

    def at(terms: Floats, begin: Floats | None) -> tuple[float, DayTerms]:
        days = day_terms(counted, layout.log_expected(terms), day_cv, hour_cv, begin)
        off = (terms - guesses.middle) / sd
        return float(days.value.sum() - 0.5 * off @ off), days

    terms = start
    value, days = at(terms, log_factor)
    for _ in range(STEPS):
        slope = layout.gather(days.slope) - (terms - guesses.middle) / sd**2
        curve = layout.gather_curve(days.curve)
        curve[np.diag_indices_from(curve)] += sd**-2
        factor = _rooted(curve)
        step = np.linalg.solve(factor, np.linalg.solve(factor.T, slope))
        gain = float(slope @ step)
        if gain < CLOSE:
            break
        part = 1.0
        while True:
            tried, found = at(terms + part * step, days.log_factor)
            if tried >= value or part < SHORTEST:
                break
            part *= 0.5
        if tried < value:  # no more than rounding is left to gain
            break
        terms, value, days = terms + part * step, tried, found
    log_rest = np.log(np.diag(factor)).sum() + np.log(sd).sum()
    return _Inner(terms, factor, value - float(log_rest), days.log_factor)


def _reach(miss: Callable[[Floats], float], best: Floats, middle: float, log_cov: Floats) -> Floats:
    """How far spreads may lie off along each axis of their covariance, both ways, as a multiple of
    what it says there: 1 where what they miss grows as fast as it says (Martins, Simpson, Lindgren
    & Rue 2013, Comput. Stat. Data Anal. 67:68–83, from memory)."""
    sizes, ways = np.linalg.eigh(log_cov)
    found = np.empty((2, len(best)))
    for place, step in enumerate((APART * np.sqrt(sizes) * ways).T):
        for row, side in enumerate((-1.0, 1.0)):
            more = max(miss(best + side * step) - middle, 1e-3)
            found[row, place] = APART / (2.0 * more) ** 0.5
    return np.clip(found, LEAST_REACH, MOST_REACH)


def _rooted(curve: Floats) -> Floats:
    """Upper Cholesky factor. Far from the top, where a day's factor is spread so wide that five
    points don't tell its variance, the curvature may come out with a negative direction; that is
    taken for a steep one, since only the way up is asked there."""
    try:
        return np.asarray(np.linalg.cholesky(curve).T)
    except np.linalg.LinAlgError:
        sizes, ways = np.linalg.eigh(curve)
        return np.asarray(np.linalg.cholesky((ways * np.maximum(np.abs(sizes), 1.0)) @ ways.T).T)


def _curve(
    miss: Callable[[Floats], float], held: list[_Inner], best: Floats, middle: float
) -> tuple[Floats, Floats]:
    """Second derivatives of what the spreads miss, and how the terms move with each spread."""
    count, steps = len(best), NUDGE * np.eye(len(best))
    ups, downs, moves = np.zeros(count), np.zeros(count), []
    for place, step in enumerate(steps):
        ups[place] = miss(best + step)
        above = held[0].terms
        downs[place] = miss(best - step)
        moves.append((above - held[0].terms) / (2.0 * NUDGE))
    curve = np.diag(ups + downs - 2.0 * middle)
    for one in range(count):
        for other in range(one):
            both = miss(best + steps[one] + steps[other])
            curve[one, other] = curve[other, one] = both - ups[one] - ups[other] + middle
    return curve / NUDGE**2, np.array(moves)

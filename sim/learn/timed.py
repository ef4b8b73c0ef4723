"""How long paying, loading and hand work take, by the times that a crew took with a stopwatch.

Times of a kind are lognormal about their mean m with a coefficient of variation c, as a simulated
day draws them unless the site has chosen another kind of time:

    ln t normal with mean ln m − s²/2 and standard deviation s,    s² = ln(1 + c²)

(moments of the lognormal distribution, textbook). A time noted in whole seconds lay within half a
second of that. Where every car in turn was timed, quick payers among them are binomial. Hand work
that a class takes more of than others is that of the cars as they come, so its mean is divided by
the mean of that factor.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from sim.errors import InputError
from sim.inputs import INPUTS, LogEntry, Site
from sim.inputs.logbook import TIMED
from sim.inputs.timed import (
    EXIT_WORK,
    LOAD_WORK,
    LOADING,
    PAYING,
    PREPARE_WORK,
    REDUCED_WORK,
    TIMED_THINGS,
    TimedCar,
    timed_cars,
)
from sim.learn.answer import LogFinding
from sim.learn.belt_stops import LEAST_SHARE
from sim.learn.guesses import Guess, Left, finding, left_of, of_input, of_spread
from sim.special import ndtr

Floats = NDArray[np.float64]
CV_SD = 0.5
"""Sd of the logarithm of how far times of cars differ, about its default; a guess."""
WORK_SD = 0.5
"""The same of hand work per car where its input has no guess of its own; a guess."""
WORK_CV = 0.4
"""How far hand work differs from car to car, middle of the guess: no plan counts on it."""
DRAWN = {
    "quick": ("quick_pay_mean_s", "quick_pay_cv", "quick_pay_kind"),
    "slow": ("slow_pay_mean_s", "slow_pay_cv", "slow_pay_kind"),
    LOADING: ("load_mean_s", "load_cv", "load_kind"),
}
"""Mean, variation and kind of the times that a day draws."""
WORK = {
    PREPARE_WORK: "prep_work_s",
    LOAD_WORK: "load_work_s",
    EXIT_WORK: "exit_work_s",
    REDUCED_WORK: "reduced_work_s",
}
"""The input of each hand work."""


def cars_timed(entries: Iterable[LogEntry]) -> dict[str, list[TimedCar]]:
    """Cars that entries which count have timed, by what was timed."""
    found: dict[str, list[TimedCar]] = {thing: [] for thing in TIMED_THINGS}
    for one in entries:
        if one.kind != TIMED or not one.counts or one.name not in found:
            continue
        try:
            found[one.name] += timed_cars(one.text, one.name)
        except InputError:
            continue  # of a file of another time, when other lines could be read
    return found


def findings(site: Site, entries: Iterable[LogEntry]) -> tuple[LogFinding, ...]:
    """What the times of a log tell, those of paying first; measured times that plans draw
    themselves leave nothing to be told."""
    told = cars_timed(entries)
    paid = told[PAYING]
    of = {
        "quick": [one for one in paid if not one.is_slow],
        "slow": [one for one in paid if one.is_slow],
        LOADING: told[LOADING],
    }
    found = []
    if paid:
        quick = len(of["quick"])
        found.append(
            finding(site, TIMED, len(paid), 0, (share_left(site, quick, len(of["slow"])),))
        )
    for kind, (mean, cv, how) in DRAWN.items():
        if of[kind] and site.value(how) != "measured":
            guesses = (of_input(site, mean), of_spread(cv, CV_SD))
            found.append(finding(site, TIMED, len(of[kind]), 0, times_left(guesses, of[kind])))
    found += [
        finding(site, TIMED, len(told[work]), 0, (work_left(site, name, told[work]),))
        for work, name in WORK.items()
        if told[work]
    ]
    return tuple(found)


def share_left(site: Site, quick: int, slow: int) -> Left:
    """What so many quick and slow payers in turn leave of the share of quick ones."""

    def log_likelihood(share: Floats, _other: Floats) -> Floats:
        inside = np.clip(share, 1e-12, 1.0 - 1e-12)
        return np.asarray(quick * np.log(inside) + slow * np.log1p(-inside))

    share, _ = left_of((of_input(site, "quick_payer_share"), Guess("", np.exp)), log_likelihood)
    return share


def times_left(
    guesses: tuple[Guess, Guess], cars: Sequence[TimedCar], factor: float = 1.0
) -> tuple[Left, Left]:
    """What times leave of their mean [s] over a factor, and of their coefficient of variation."""
    noted = Counter((max(one.took_s - 0.5 * one.step_s, 0.0), one.took_s + 0.5 * one.step_s)
                    for one in cars)  # fmt: skip

    def log_likelihood(mean_s: Floats, cv: Floats) -> Floats:
        sd = np.sqrt(np.log1p(np.maximum(cv, 1e-3) ** 2))
        middle = np.log(np.maximum(mean_s * factor, 1e-3)) - 0.5 * sd**2
        value = np.zeros(mean_s.shape)
        for (low, high), count in noted.items():
            below = ndtr((np.log(low) - middle) / sd) if low > 0.0 else 0.0
            share = ndtr((np.log(high) - middle) / sd) - below
            value += count * np.log(np.maximum(share, LEAST_SHARE))
        return value

    return left_of(guesses, log_likelihood)


def work_left(site: Site, name: str, cars: Sequence[TimedCar]) -> Left:
    """What times of hand work leave of the seconds per car of an input."""
    own = of_spread(name, WORK_SD) if INPUTS[name].prior is None else of_input(site, name)
    differs = Guess("", lambda z: WORK_CV * np.exp(CV_SD * z))
    usual = sum(one.numbers.share * one.numbers.hand_work for one in site.vehicles)
    return times_left((own, differs), cars, usual)[0]

"""What the stops of a log leave of what is guessed of them: held against closed forms, and true."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from math import log

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import gamma, norm

from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import Z_975
from sim.day.kernel import run_day
from sim.day.rules import FULL
from sim.day.setup import prepare_day
from sim.inputs import INPUTS, LogEntry, Site
from sim.inputs.logbook import STOP
from sim.learn.belt_stops import (
    LENGTH_SD,
    StopDay,
    lengths_left,
    rates,
    rates_left,
    stop_days,
)
from sim.learn.guesses import Guess, left_of, of_input, of_spread
from tests.day.sites import conditions
from tests.learn.places import hold_places
from tests.seeds import generator
from tests.sizes import Size

Floats = NDArray[np.float64]
SITE = Site("Any")
MONDAY = date(2026, 5, 4)
RATES = ("stops_per_h", "stops_per_car")


def _log_poisson(count: int, over: float, mean: Floats, _other: Floats) -> Floats:
    """Of a count over so much, whatever the other guess."""
    return np.asarray(count * np.log(mean) - mean * over)


def test_a_gamma_guess_is_left_a_gamma() -> None:
    """Counts that are Poisson about a mean whose guess is gamma leave a gamma (conjugate; Gelman et
    al., Bayesian Data Analysis, 3rd ed., section 2.6, from memory): the grid has its 5th, 50th and
    95th percentile to 0.5 % of it, of few counts and of many. Beside it stands a guess that nothing
    is told of, which is left as it was."""
    shape, scale = 2.0, 0.5
    guesses = (
        Guess("mean", lambda z: np.asarray(gamma.ppf(norm.cdf(z), shape, scale=scale))),
        Guess("other", np.exp),
    )
    for count, over in ((0, 3.0), (2, 3.0), (900, 1_000.0)):
        mean, other = left_of(guesses, partial(_log_poisson, count, over))
        found = mean.guess.at(mean.quantiles((0.05, 0.5, 0.95)))
        known = gamma.ppf((0.05, 0.5, 0.95), shape + count, scale=1.0 / (1.0 / scale + over))
        assert found == pytest.approx(known, rel=0.005)
        assert other.quantiles((0.05, 0.95)) == pytest.approx(norm.ppf((0.05, 0.95)), abs=0.01)


def test_lengths_are_what_quadrature_says() -> None:
    """Of three stops noted as 1, 1 and 4 minutes the median length is less than a minute with the
    chance that Gauss–Legendre quadrature gives: each within half a minute of what was noted, median
    and spread lognormal as guessed."""
    row = INPUTS["stop_median_s"]
    assert row.prior is not None
    middle = log(float(str(row.default)))
    sd = (log(row.prior.high) - log(row.prior.low)) / (2.0 * Z_975)

    def likelihood(z: Floats, spread: Floats) -> Floats:
        median, log_sd = middle + sd * z, 0.8 * np.exp(LENGTH_SD * spread)
        chance = norm.pdf(z) * norm.pdf(spread)
        for low, high in ((30.0, 90.0), (30.0, 90.0), (210.0, 270.0)):
            ends = [norm.cdf((log(end) - median) / log_sd) for end in (low, high)]
            chance *= ends[1] - ends[0]
        return np.asarray(chance)

    def integral(upto: float) -> float:
        nodes, weights = np.polynomial.legendre.leggauss(80)
        half = 0.5 * (upto + 5.0)
        z, spread = half * (nodes + 1.0) - 5.0, 5.0 * nodes
        return half * float(weights @ likelihood(z[:, None], spread[None, :]) @ weights)

    below = integral((log(60.0) - middle) / sd) / integral(5.0)
    median, _ = lengths_left(SITE, [60.0, 60.0, 240.0])
    assert median.below(60.0) == pytest.approx(below, abs=0.002)


def test_without_telling_days_the_guess_is_left() -> None:
    """Of days all of whose chances are tiny nothing is told, given that there was a stop; and no
    stop on no day is no finding."""
    hour, car = rates_left(SITE, [StopDay(1e-9, 1, 1)], is_noted_for_one=True)
    for left in (hour, car):
        assert left.quantiles((0.05, 0.5, 0.95)) == pytest.approx(
            norm.ppf((0.05, 0.5, 0.95)), abs=0.3
        )
    assert rates(SITE, [StopDay(13.0, 300, 0)], is_noted_for_one=True) is None


def test_days_on_which_nobody_wrote_are_none_without_a_stop() -> None:
    """Counted days on which the log has nothing tell nothing; of a control's file alone the days
    between its first and its last stop do, given nothing."""
    cars = {MONDAY + timedelta(days=one): 300 for one in range(10)}
    stops = [LogEntry("", MONDAY + timedelta(days=one), 36_000.0, STOP) for one in (2, 2, 6)]
    kept = [MONDAY + timedelta(days=one) for one in (1, 2, 5, 11)]
    days, is_for_one = stop_days(SITE, stops, kept, cars)
    assert [one.stops for one in days] == [0, 2, 0]
    assert is_for_one
    days, is_for_one = stop_days(SITE, stops, [], cars)
    assert [one.stops for one in days] == [0, 0, 0]
    assert not is_for_one


def places(rng: np.random.Generator) -> list[float] | None:
    """How much of what is left lies below the truth, for both rates and both of the lengths, of
    four weeks at a site drawn from the guesses; None where nobody noted a stop."""
    hour, car, median_s, log_sd = (
        float(guess.at(rng.standard_normal(1))[0])
        for guess in (
            *(of_input(SITE, name) for name in (*RATES, "stop_median_s")),
            of_spread("stop_log_sd", LENGTH_SD),
        )
    )
    cars = rng.integers(100, 900, 28)
    stops = rng.poisson(13.0 * hour + car * cars)
    if not stops.sum():
        return None
    days = [StopDay(13.0, int(n), int(count)) for n, count in zip(cars, stops, strict=True)]
    lasted = median_s * np.exp(log_sd * rng.standard_normal(min(int(stops.sum()), 60)))
    noted = (60.0 * np.round(lasted / 60.0)).tolist()
    left = (*rates_left(SITE, days, is_noted_for_one=True), *lengths_left(SITE, noted))
    return [
        one.below(truth) for one, truth in zip(left, (hour, car, median_s, log_sd), strict=True)
    ]


@pytest.mark.soak
def test_truths_take_every_place_equally_often(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """At sites drawn from the guesses the truth of each of the four lies anywhere in what the log
    leaves alike: 20 bins, chi-square, p > 0.01 after Holm; draws half as wide fail the same."""
    rng = generator("stops told")
    found: list[list[float]] = []
    count = size(small=100, full=1_000)
    while len(found) < count:
        one = places(rng)
        if one is not None:
            found.append(one)
    hold_places(np.array(found), record_figure)


def test_a_simulated_site_is_found_again() -> None:
    """Of sixty simulated days at a site whose belt stands thrice as often and for twice as long as
    guessed, noted to the minute, each of the three values lies within what the log leaves."""
    truth = SITE.with_values({"stops_per_h": 0.9, "stops_per_car": 0.002, "stop_median_s": 90.0})
    entries, cars = [], {}
    rng = generator("days that stand")
    for place in range(60):
        day = MONDAY + timedelta(days=place)
        expected = conditions(float(rng.uniform(20.0, 60.0)))
        drawn = make_cars(DayDraw(int(rng.integers(2**31))), truth, expected)
        result = run_day(truth, prepare_day(truth, expected), drawn, FULL)
        cars[day] = sum(not one.lost for one in result.passes)
        entries += [
            LogEntry("", day, start, STOP, lasted_s=60.0 * round((end - start) / 60.0))
            for start, end in result.stops
            if start < 3600.0 * truth.line.close_h
        ]
    left = rates_left(SITE, *stop_days(SITE, entries, list(cars), cars))
    length, _ = lengths_left(SITE, [one.lasted_s for one in entries if one.lasted_s is not None])
    for one, name in zip((*left, length), (*RATES, "stop_median_s"), strict=True):
        assert 0.01 < one.below(float(str(truth.value(name)))) < 0.99
        assert one.below(float(str(SITE.value(name)))) < 0.01 or name == "stops_per_car"

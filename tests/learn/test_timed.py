"""What times with a stopwatch leave of pay, load and work times: held against closed forms, and
true."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from math import exp, log, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.special import logit
from scipy.stats import norm, t

from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import Z_975
from sim.errors import InputError
from sim.inputs import INPUTS, LogEntry, Site
from sim.inputs.logbook import TIMED
from sim.inputs.timed import TimedCar, timed_cars
from sim.learn.guesses import Guess, of_input, of_spread
from sim.learn.timed import CV_SD, findings, share_left, times_left, work_left
from tests.day.sites import conditions
from tests.learn.places import hold_places
from tests.seeds import generator
from tests.sizes import Size

Floats = NDArray[np.float64]
SITE = Site("Any")
DAY = date(2026, 5, 4)
FINEST_S = 1e-3
SHARES = (0.05, 0.5, 0.95)


def test_a_line_of_times_is_read() -> None:
    """Seconds, minutes and seconds as a phone shows them, a slow payer by the word before; what
    can't be a time is named with what would be right."""
    assert timed_cars("14 12.5s, slow 1:05 9", "pay") == (
        TimedCar(14.0), TimedCar(12.5, 0.1), TimedCar(65.0, is_slow=True), TimedCar(9.0),
    )  # fmt: skip
    for text, thing, wrong in (
        ("14,12", "load", "14,12"), ("14 twelve", "pay", "twelve"), ("0", "load", "0"),
        ("3601", "exit", "3601"), ("14 slow 12", "load", "slow"), ("1:5", "load", "1:5"),
        ("-4", "load", "-4"), ("١٢", "load", "١٢"), ("slow slow 4", "pay", "slow"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=f"“{wrong}” can’t be a time. Enter seconds from 0.5"):
            timed_cars(text, thing)
    for text in ("", "12 slow"):
        with pytest.raises(InputError, match="A time is missing"):
            timed_cars(text, "pay")


def test_a_known_spread_leaves_what_the_closed_form_says() -> None:
    """Logarithms of times are normal with a known standard deviation, their mean normal beforehand:
    the mean is left normal, by precisions that add up (Gelman et al., Bayesian Data Analysis, 3rd
    ed., section 2.5, from memory); 5th, 50th and 95th percentile to 0.5 %."""
    sd, prior_sd, middle = sqrt(log(1.0 + 0.3**2)), 0.4, 15.0
    guesses = (
        Guess("mean", lambda z: middle * np.exp(prior_sd * z)),
        Guess("cv", lambda z: np.full(z.shape, 0.3)),
    )
    took = [19.3, 22.1, 15.7, 30.2, 21.8, 17.4]
    left, _ = times_left(guesses, [TimedCar(one, FINEST_S) for one in took])
    precision = 1.0 / prior_sd**2 + len(took) / sd**2
    seen = sum(log(one) + 0.5 * sd**2 for one in took) / sd**2
    mean = (log(middle) / prior_sd**2 + seen) / precision
    known = np.exp(mean + norm.ppf(SHARES) / sqrt(precision))
    assert left.guess.at(left.quantiles(SHARES)) == pytest.approx(known, rel=0.005)


def test_an_unknown_spread_leaves_a_t() -> None:
    """Of thirty times with hardly anything guessed of mean and spread, the mean of the logarithms
    is left a t with 29 degrees of freedom about that seen (Gelman et al., section 3.2, from
    memory): the mean of the times, which is its exponential times what the spread adds, has that
    5th, 50th and 95th percentile to 1 %."""
    rng = generator("thirty times")
    took = np.exp(rng.normal(log(40.0), 0.08, 30))
    guesses = (
        Guess("mean", lambda z: 40.0 * np.exp(0.8 * z)),
        Guess("cv", lambda z: 0.1 * np.exp(0.8 * z)),
    )
    left, _ = times_left(guesses, [TimedCar(float(one), FINEST_S) for one in took])
    logs = np.log(took)
    sd = float(np.std(logs, ddof=1))
    known = np.exp(logs.mean() + 0.5 * sd**2 + t.ppf(SHARES, 29) * sd / sqrt(30.0))
    assert left.guess.at(left.quantiles(SHARES)) == pytest.approx(known, rel=0.01)


def test_the_share_of_quick_payers_is_what_quadrature_says() -> None:
    """Of seven quick and five slow payers in turn, the share guessed logit-normal."""
    row = INPUTS["quick_payer_share"]
    assert row.prior is not None
    middle = logit(row.default)
    sd = (logit(row.prior.high) - logit(row.prior.low)) / (2.0 * Z_975)

    def density(share: float) -> float:
        guessed = norm.pdf((logit(share) - middle) / sd) / (share * (1.0 - share))
        return float(guessed * share**7 * (1.0 - share) ** 5)

    below = quad(density, 1e-9, 0.55)[0] / quad(density, 1e-9, 1.0 - 1e-9)[0]
    assert share_left(SITE, 7, 5).below(0.55) == pytest.approx(below, abs=0.002)


def test_equal_times_leave_a_spread_of_what_a_second_hides() -> None:
    """Twenty times of 14 s lay within half a second of it: so surely does the mean, and the
    variation is surely below a twentieth."""
    guesses = (of_input(SITE, "load_mean_s"), of_spread("load_cv", CV_SD))
    mean, cv = times_left(guesses, [TimedCar(14.0)] * 20)
    assert mean.below(13.5) < 0.01
    assert mean.below(14.5) > 0.99
    assert cv.below(0.05) > 0.95


def test_hand_work_is_that_of_a_car_like_any_other() -> None:
    """Where every car takes twice the hand work, the input is half of what was timed."""
    took = [TimedCar(float(one)) for one in (22, 31, 18, 27, 24, 20, 26, 23)]
    slow = [replace(one, numbers=replace(one.numbers, hand_work=2.0)) for one in SITE.vehicles]
    plain = work_left(SITE, "reduced_work_s", took)
    for name in ("prep_work_s", "reduced_work_s"):
        alone = work_left(SITE, name, took)
        halved = work_left(replace(SITE, vehicles=tuple(slow)), name, took)
        middle, half = (one.guess.at(one.quantiles([0.5]))[0] for one in (alone, halved))
        assert half == pytest.approx(middle / 2.0, rel=0.1)
    assert 21.0 < plain.guess.at(plain.quantiles([0.5]))[0] < 25.0


def test_only_what_counts_and_can_be_told_is_told() -> None:
    """Nothing of entries that were taken back, nothing of times that plans draw as measured; each
    finding says how many cars told it."""
    entries = [
        LogEntry("", DAY, 36_000.0, TIMED, name="pay", text="14 12 slow 52"),
        LogEntry("", DAY, 36_000.0, TIMED, name="load", text="21 22", struck="yes"),
        LogEntry("", DAY, 36_000.0, TIMED, name="exit", text="5 6 7"),
        LogEntry("", DAY, 36_000.0, TIMED, name="exit", text="9"),
    ]
    found = findings(SITE, entries)
    told = [(tuple(row.name for row in one.inputs), one.entries) for one in found]
    quick, slow = ("quick_pay_mean_s", "quick_pay_cv"), ("slow_pay_mean_s", "slow_pay_cv")
    assert told == [
        (("quick_payer_share",), 3), (quick, 2), (slow, 1), (("exit_work_s",), 4),
    ]  # fmt: skip
    measured = SITE.with_values({"quick_pay_kind": "measured", "quick_pay_measured_s": (14.0,)})
    assert quick not in [
        tuple(row.name for row in one.inputs) for one in findings(measured, entries)
    ]


def places(rng: np.random.Generator) -> list[float]:
    """How much of what is left lies below the truth, of twelve cars timed in whole seconds at a
    site drawn from the guesses: share, mean and variation of quick payers, and hand work."""
    share_of, mean_of, cv_of = (
        of_input(SITE, "quick_payer_share"),
        of_input(SITE, "quick_pay_mean_s"),
        of_spread("quick_pay_cv", CV_SD),
    )
    work_of = of_input(SITE, "reduced_work_s")
    share, mean, cv, work = (
        float(one.at(rng.standard_normal(1))[0]) for one in (share_of, mean_of, cv_of, work_of)
    )

    def took(mean_s: float, cv: float) -> list[TimedCar]:
        sd = sqrt(log(1.0 + cv**2))
        every = mean_s * np.exp(sd * rng.standard_normal(12) - 0.5 * sd**2)
        return [TimedCar(max(float(round(one)), 0.5)) for one in every]

    quick = int(rng.binomial(12, share))
    differs = 0.4 * exp(CV_SD * float(rng.standard_normal()))
    left = (
        share_left(SITE, quick, 12 - quick),
        *times_left((mean_of, cv_of), took(mean, cv)),
        work_left(SITE, "reduced_work_s", took(work, differs)),
    )
    return [one.below(value) for one, value in zip(left, (share, mean, cv, work), strict=True)]


@pytest.mark.soak
def test_truths_take_every_place_equally_often(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """At sites drawn from the guesses the truth of each of the four lies anywhere in what the times
    leave alike: 20 bins, chi-square, p > 0.01 after Holm; draws half as wide fail the same."""
    rng = generator("times taken")
    count = size(small=40, full=1_000)
    hold_places(np.array([places(rng) for _ in range(count)]), record_figure)


def test_a_simulated_site_is_found_again() -> None:
    """A hundred cars of a simulated day, paying and loading timed in whole seconds, at a site that
    takes half as long again: both truths lie within what the times leave, the guesses don't."""
    truth = SITE.with_values(
        {"quick_pay_mean_s": 24.0, "quick_payer_share": 1.0, "load_mean_s": 21.0}
    )
    day = DayDraw(int(generator("timed day").integers(2**31)))
    drawn = make_cars(day, truth, conditions(30.0))
    for took_s, name, cv in (
        (drawn.pay_s, "quick_pay_mean_s", "quick_pay_cv"),
        (drawn.first.load_s, "load_mean_s", "load_cv"),
    ):
        cars = [TimedCar(float(round(one))) for one in took_s[:100]]
        mean, spread = times_left((of_input(SITE, name), of_spread(cv, CV_SD)), cars)
        assert 0.01 < mean.below(float(str(truth.value(name)))) < 0.99
        assert 0.01 < spread.below(float(str(truth.value(cv)))) < 0.99
        assert mean.below(float(str(SITE.value(name)))) < 0.01

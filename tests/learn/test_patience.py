"""What waits and cars driven away leave of patience: held against a closed form and the day's own
records, and true."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from math import sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm

from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import draw_site, uncertain
from sim.day.kernel import run_day
from sim.day.rules import FULL
from sim.day.setup import prepare_day
from sim.inputs import DemandSpread, LogEntry, Site
from sim.inputs.logbook import TURNED_AWAY, WAIT
from sim.learn import patience
from sim.learn.guesses import Guess, of_input
from sim.learn.patience import (
    NAME,
    OF_LINE,
    SITES,
    WaitDay,
    drawn_sites,
    left_by,
    lived,
    numbers_of,
    patience_told,
    wait_days,
)
from tests.day.sites import conditions
from tests.learn.places import half_as_wide, least_p
from tests.seeds import generator, seed
from tests.sizes import Size

Floats = NDArray[np.float64]
LOADERS = ((0.0, 1.0), (36_000.0, 2.0), (61_200.0, 1.0))
SITE = Site("Any").with_values({"pay_lanes": ((0.0, 3.0),), "loaders": LOADERS})
BUSY = (30, 45, 70, 100, 140, 165, 175, 175, 170, 150, 110, 60, 30)
"""Cars of each open hour of a day that is more than the belt takes."""
HOURS = (10, 12, 13, 14, 15, 16, 17, 19)
MONDAY = date(2026, 5, 4)


def busy_days(rng: np.random.Generator, days: int) -> tuple[WaitDay, ...]:
    """Busy days, some more so than others, with a wait to be noted at eight hours."""
    every = []
    for _ in range(days):
        level = rng.gamma(40.0, 1.0 / 40.0)
        came = (0.0,) * 7 + tuple(level * one for one in BUSY) + (0.0,) * 4
        every.append(WaitDay(came, 0, tuple((3600.0 * hour, 0.0) for hour in HOURS)))
    return tuple(every)


def test_a_normal_guess_is_left_a_normal() -> None:
    """Numbers that are normal about what is guessed, which is normal itself, leave a normal
    (conjugate; Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.5, from memory): middle
    and width of what is left to 0.05 of the guess's, of ten thousand draws."""
    rng = generator("normal about a guess")
    z, sd = rng.standard_normal(10_000), 0.5
    numbers = np.column_stack([z + sd * rng.standard_normal(len(z)), rng.standard_normal(len(z))])
    for seen in (-1.2, 0.0, 1.5):
        left = left_by(Guess("any", np.exp), z, numbers, np.array([seen, 0.3]))
        assert left is not None
        low, middle, high = left.quantiles((0.05, 0.5, 0.95))
        assert middle == pytest.approx(seen / (1.0 + sd**2), abs=0.05)
        width = 2.0 * norm.ppf(0.95) * sd / sqrt(1.0 + sd**2)
        assert high - low == pytest.approx(width, abs=0.1)
    assert left_by(Guess("any", np.exp), z, numbers, np.array([40.0, 0.3])) is None


def test_what_is_noted_is_what_the_day_has() -> None:
    """Cars driven away and the wait of the last car on the belt, to the minute, by a simulated
    day's own records, one car after the other, where no car is washed again."""
    (day,) = busy_days(generator("a day's records"), 1)
    number = seed("a day's records")
    site = SITE.with_values({"damp_rewash_share": 0.0})
    lost, waits = lived(site, day, number)
    expected = replace(
        conditions(1.0), arrivals_per_h=day.arrivals_per_h, spread=DemandSpread(0.0, 0.0)
    )
    cars = make_cars(DayDraw(number), site, expected)
    passes = run_day(site, prepare_day(site, expected), cars, FULL).passes
    assert lost == sum(bool(one.lost) for one in passes) > 20
    for (at_s, _), wait in zip(day.waits, waits.tolist(), strict=True):
        there = [one for one in passes if not one.lost and one.caught_s <= at_s]
        last = max(there, key=lambda one: one.caught_s)
        waited = last.caught_s - last.arrival_s - (last.paid_s - last.pay_start_s)
        assert abs(wait - waited) <= 30.0


def test_days_that_tell_are_found() -> None:
    """Days with waits, a note of who drove away, and counts; nothing that was taken back. Who drove
    away is among cars that arrived, not among cars washed."""
    cars = {
        MONDAY + timedelta(days=one): [0.0] * 12 + [60.0, 40.0] + [0.0] * 10 for one in range(3)
    }
    entries = [
        LogEntry("", MONDAY, 46_800.0, WAIT, lasted_s=600.0),
        LogEntry("", MONDAY, 43_200.0, WAIT, lasted_s=300.0),
        LogEntry("", MONDAY, 50_000.0, TURNED_AWAY, count=6),
        LogEntry("", MONDAY, 60_000.0, TURNED_AWAY, count=4),
        LogEntry("", MONDAY + timedelta(days=1), 46_800.0, WAIT, lasted_s=600.0),
        LogEntry("", MONDAY + timedelta(days=2), 46_800.0, WAIT, lasted_s=600.0, struck="yes"),
        LogEntry("", MONDAY + timedelta(days=2), 50_000.0, TURNED_AWAY, count=0),
        LogEntry("", MONDAY + timedelta(days=9), 46_800.0, WAIT, lasted_s=600.0),
        LogEntry("", MONDAY + timedelta(days=9), 50_000.0, TURNED_AWAY, count=0),
    ]
    (arrived,) = wait_days(entries, cars, is_washed=False)
    assert (arrived.lost, arrived.waits) == (10, ((43_200.0, 300.0), (46_800.0, 600.0)))
    assert arrived.arrivals_per_h[12:14] == (60.0, 40.0)
    (washed,) = wait_days(entries, cars, is_washed=True)
    assert washed.arrivals_per_h[12:14] == pytest.approx((66.0, 44.0))
    assert patience_told(SITE, (), (arrived,)) is None


def truths(rng: np.random.Generator, days: int, sites: int, count: int) -> Floats:
    """Of sites drawn from the guesses that live the same busy days: where the truth lies in what
    their logs leave, the middle of that less the truth, and how much of the guess is left."""
    noted, guess = busy_days(rng, days), of_input(SITE, NAME)
    names = tuple(one for one in uncertain(SITE, ()) if one in OF_LINE)
    came = sum(sum(one.arrivals_per_h) for one in noted)

    def log_of(site: Site, seeds: list[int]) -> Floats:
        found = [lived(site, day, one) for day, one in zip(noted, seeds, strict=True)]
        return numbers_of(sum(n for n, _ in found), came, np.concatenate([w for _, w in found]))

    z, drawn = drawn_sites(SITE, (), sites)
    numbers = np.array([patience._of_site((one, noted, at)) for at, one in enumerate(drawn)])
    rows = []
    for _ in range(count):
        truth = float(rng.standard_normal())
        site = draw_site(SITE, names, rng.uniform(size=len(names)))
        site = site.with_values({NAME: float(guess.at(np.array([truth]))[0])})
        left = left_by(guess, z, numbers, log_of(site, rng.integers(2**31, size=days).tolist()))
        if left is not None:
            low, middle, high = left.quantiles((0.05, 0.5, 0.95))
            place = float(np.interp(truth, left.z, np.cumsum(left.weights) - 0.5 * left.weights))
            rows.append((place, middle - truth, (high - low) / (2.0 * norm.ppf(0.95))))
    return np.array(rows)


@pytest.mark.soak
def test_truths_take_every_place_equally_often(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """At sites drawn from the guesses, whose other numbers are not known either, the truth lies
    anywhere in what a log of busy days leaves alike: 20 bins, chi-square, p > 0.01; draws half as
    wide fail the same. In the median it is not off by more than a tenth of what was guessed."""
    rng = generator("patience told")
    sets, days = size(small=1, full=6), size(small=3, full=6)
    each, sites = size(small=40, full=100), size(small=256, full=SITES)
    every = np.concatenate([truths(rng, days, sites, each) for _ in range(sets)])
    assert len(every) >= 0.98 * sets * each
    places, off, left = every.T
    p = least_p(places[:, None])
    half = half_as_wide(places[:, None])
    guess = of_input(SITE, NAME)
    ratio = float(guess.at(np.array([np.median(off)]))[0] / guess.at(np.zeros(1))[0])
    record_figure("probability of such places", p, "")
    record_figure("the same, half as wide", least_p(half), "")
    record_figure("truths in the range of 90 %", float(np.mean(np.abs(places - 0.5) < 0.45)), "")
    record_figure("patience told, of the true one, median", ratio, "")
    record_figure("left of the guess's width, median", float(np.median(left)), "")
    assert p > 0.01
    assert least_p(half) < 0.01
    assert abs(np.median(off)) < 0.1
    assert np.median(left) < 0.5

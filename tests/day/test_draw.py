"""Random numbers of a day: streams, pairing, and the distributions that a site makes of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from sim.day.draw import (
    PURPOSES,
    DayDraw,
    arrival_times,
    demand_factors,
    make_cars,
    time_quantile,
    with_other_arrivals,
)
from sim.day.streams import spawned
from sim.inputs import Conditions, Site
from tests.day.sites import SiteDay, conditions, flat, site_days
from tests.seeds import seed
from tests.sizes import Size, size_now

GRID = np.linspace(0.001, 0.999, 999)


def test_asking_for_more_never_changes_what_was_drawn() -> None:
    """The first variates of a stream are the same however many are asked for, and when."""
    slowly, at_once = DayDraw(7), DayDraw(7)
    for purpose in PURPOSES:
        first = slowly.take(purpose, 10).copy()
        many = slowly.take(purpose, 5_000)
        assert np.array_equal(first, many[:10])
        assert np.array_equal(many, at_once.take(purpose, 5_000))


@pytest.mark.parametrize(
    "seeds", [(0,), (7, 3), (2**32 - 1,), (2**32, 5), (1, 2, 3, 4), (2**70, 9, 8, 7, 6)]
)
def test_streams_are_those_that_numpy_spawns(seeds: tuple[int, ...]) -> None:
    """All children at once have the words that NumPy's `SeedSequence.spawn` gives each of them."""
    children = np.random.SeedSequence(seeds).spawn(len(PURPOSES))
    wanted = [child.generate_state(4, np.uint64) for child in children]
    assert np.array_equal(spawned(seeds, len(PURPOSES)), wanted)


def test_only_cars_that_may_come_back_have_a_second_pass_of_their_own() -> None:
    """A share of damp cars is washed again: cars that it can reach have numbers of their own for
    that, which don't depend on the share; the others keep those of their first pass."""
    site = Site("Back").with_values({"stops_per_car": 0.2})
    some, all_of_them = (
        make_cars(DayDraw(4), site.with_values({"damp_rewash_share": share}), conditions())
        for share in (0.3, 1.0)
    )
    reached = some.first.fate < 0.3
    assert 0 < reached.sum() < len(reached)
    for mine, whole, first in (
        (some.again.load_s, all_of_them.again.load_s, some.first.load_s),
        (some.again.film_noise, all_of_them.again.film_noise, some.first.film_noise),
        (some.again.stop_s, all_of_them.again.stop_s, some.first.stop_s),
    ):
        assert np.array_equal(mine[reached], whole[reached])
        assert not np.array_equal(mine[reached], first[reached])
        assert np.array_equal(mine[~reached], first[~reached])


def test_a_car_stops_the_belt_as_long_however_many_do() -> None:
    """A stop's length is that of its car: where every car stops the belt, those that did before
    stop it as long as they did."""
    some, every = (
        make_cars(DayDraw(4), Site("Stops").with_values({"stops_per_car": share}), conditions())
        for share in (0.2, 1.0)
    )
    stops = some.first.stop_s > 0.0
    assert 0 < stops.sum() < len(stops)
    assert np.array_equal(some.first.stop_s[stops], every.first.stop_s[stops])
    assert np.all(every.first.stop_s > 0.0)


@settings(max_examples=size_now(small=20, full=200))
@given(of=site_days(), scale=st.floats(0.05, 1.0))
def test_cars_arrive_at_other_times_as_if_made_anew(of: SiteDay, scale: float) -> None:
    """The first cars of a busier day with the arrivals of a quieter one are its very cars, to the
    last bit, on generated sites."""
    site, day = of.site, of.conditions
    quiet = replace(day, arrivals_per_h=tuple(scale * cars for cars in day.arrivals_per_h))
    fresh = make_cars(DayDraw(of.seed), site, quiet)
    kept = make_cars(DayDraw(of.seed), site, day)
    found = with_other_arrivals(kept, fresh.arrival_s)
    for one in fields(fresh):
        ours, theirs = getattr(found, one.name), getattr(fresh, one.name)
        if one.name in ("first", "again", "crew"):
            assert all(
                np.array_equal(getattr(ours, part.name), getattr(theirs, part.name))
                for part in fields(ours)
            )
        else:
            assert np.array_equal(ours, theirs)


def test_streams_are_unrelated_and_seeds_differ() -> None:
    """No two purposes share their numbers, and another seed gives another digest."""
    draw = DayDraw(1)
    heads = {tuple(draw.take(purpose, 4)) for purpose in PURPOSES}
    assert len(heads) == len(PURPOSES)
    assert DayDraw(1).digest() == DayDraw(1).digest() != DayDraw(2).digest()
    assert DayDraw(1, 2).digest() != DayDraw(2, 1).digest()


@pytest.mark.parametrize(
    ("kind", "reference"),
    [
        ("exponential", stats.expon(scale=20)),
        ("gamma", stats.gamma(a=1 / 0.36, scale=20 * 0.36)),
        ("lognormal", stats.lognorm(s=np.sqrt(np.log(1.36)), scale=20 / np.sqrt(1.36))),
    ],
)
def test_times_have_the_quantiles_of_their_distribution(kind: str, reference: Any) -> None:
    """Exponential, gamma and lognormal times agree with SciPy's distributions of equal moments."""
    ours = time_quantile(GRID, kind, 20.0, 0.6, ())
    assert np.allclose(ours, reference.ppf(GRID), rtol=1e-9)
    if kind != "exponential":
        assert reference.mean() == pytest.approx(20)
        assert reference.std() == pytest.approx(12)


def test_fixed_and_measured_times() -> None:
    """Fixed times are the mean; each measured time comes up equally often."""
    assert np.all(time_quantile(GRID, "fixed", 20.0, 0.6, ()) == 20.0)
    assert np.all(time_quantile(GRID, "gamma", 20.0, 0.0, ()) == 20.0)
    found = time_quantile(GRID, "measured", 99.0, 0.6, (30.0, 10.0, 20.0))
    values, counts = np.unique(found, return_counts=True)
    assert values.tolist() == [10.0, 20.0, 30.0]
    assert counts.tolist() == [333, 333, 333]


def test_factors_on_demand_are_gamma_with_mean_one() -> None:
    """Quantiles of the factors are SciPy's gamma with mean 1 and the given variation."""
    reference = stats.gamma(a=1 / 0.12**2, scale=0.12**2)
    ours = demand_factors(np.array([0.05, 0.5, 0.95]), 0.12)
    assert np.allclose(ours, reference.ppf([0.05, 0.5, 0.95]), rtol=1e-9)
    assert np.all(demand_factors(np.array([0.3, 0.9]), 0.0) == 1.0)


def hourly() -> Conditions:
    """A day with a steep morning, a flat noon and an empty hour."""
    cars = [0.0] * 24
    for hour, count in zip(
        range(7, 20), (5, 40, 90, 90, 30, 0, 60, 61, 60, 20, 20, 10, 3), strict=True
    ):
        cars[hour] = float(count)
    return Conditions(tuple(cars), flat(20.0), flat(0.5))


@pytest.mark.soak
@pytest.mark.parametrize("shape", ["constant", "linear"])
def test_hours_keep_their_means(
    shape: str, size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Cars per hour over many days agree with the day's hourly means, as Poisson counts do.

    Pearson's chi-square over the 13 open hours against its 99.9 % point, and the dispersion
    index of each hour's counts: a Poisson process, given the day factor.
    """
    days = size(small=300, full=5_000)
    site = Site("Arrivals").with_values({"day_factor_cv": 0.0, "arrival_shape": shape})
    wanted = np.array(hourly().arrivals_per_h)
    counts = np.zeros((days, 24))
    for number in range(days):
        times = arrival_times(DayDraw(seed(shape, number)), site, wanted)
        assert np.all(np.diff(times) >= 0)
        counts[number] = np.bincount((times // 3600).astype(int), minlength=24)
    busy = wanted > 0
    total = counts.sum(axis=0)
    assert np.all(total[~busy] == 0)
    chi = float(np.sum((total[busy] - days * wanted[busy]) ** 2 / (days * wanted[busy])))
    record_figure("chi-square over 12 hours", chi, "")
    assert chi < stats.chi2.ppf(0.999, int(busy.sum()))
    spread = counts[:, busy].var(axis=0, ddof=1) / counts[:, busy].mean(axis=0)
    limits = stats.chi2.ppf([0.0005 / 12, 1 - 0.0005 / 12], days - 1) / (days - 1)
    assert np.all((spread > limits[0]) & (spread < limits[1]))


def test_a_linear_rate_leans_towards_the_busier_neighbour() -> None:
    """Within a rising hour more cars come in its second half, none outside opening."""
    site = Site("x").with_values({"arrival_shape": "linear"})
    day = np.array(hourly().arrivals_per_h)
    times = np.concatenate([arrival_times(DayDraw(n), site, day) for n in range(200)])
    second = np.sum((times >= 8.5 * 3600) & (times < 9 * 3600))
    first = np.sum((times >= 8 * 3600) & (times < 8.5 * 3600))
    # from 40 cars, rising 35 over the hour: 24.4 in the second half, 15.6 in the first
    assert second / (first + second) == pytest.approx(24.375 / 40, abs=0.02)
    assert times.min() >= 7 * 3600
    assert times.max() < 20 * 3600


def test_scenarios_share_what_they_have_in_common() -> None:
    """More demand keeps every car's own numbers; longer loading changes loading alone."""
    site = Site("Paired")
    less = make_cars(DayDraw(3), site, conditions(30.0))
    more = make_cars(DayDraw(3), site, conditions(60.0))
    n = len(less.arrival_s)
    assert len(more.arrival_s) > n
    assert np.array_equal(less.length_m, more.length_m[:n])
    assert np.array_equal(less.first.film_noise, more.first.film_noise[:n])
    longer = make_cars(DayDraw(3), site.with_values({"load_mean_s": 28.0}), conditions(30.0))
    assert np.allclose(longer.first.load_s, 2 * less.first.load_s)
    assert np.array_equal(longer.pay_s, less.pay_s)


def test_opening_in_the_middle_of_an_hour_keeps_the_hours_cars() -> None:
    """Opening at 7:30 all cars of the hour come in its second half."""
    site = Site("Half").with_values({"open_h": 7.5, "day_factor_cv": 0.0})
    day = np.array(conditions(60.0).arrivals_per_h)
    times = np.concatenate([arrival_times(DayDraw(n), site, day) for n in range(100)])
    early = times[times < 8 * 3600]
    assert early.min() >= 7.5 * 3600
    assert len(early) / 100 == pytest.approx(60, abs=4)

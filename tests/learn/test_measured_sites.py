"""Spin tests, towels and looks at hoods on sites drawn from the priors: what is believed
afterwards, and how honestly."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.stats import binom

from sim.checks import site_kappa, site_median_film
from sim.day.blocks import sobol_points
from sim.day.drawn import are_strange, draw_site, prior_points, prior_quantile, uncertain
from sim.day.setup import damp_criterion
from sim.inputs import CALL_BACK, HOODS, LET_PASS, SPIN, TOWEL, Site, Weighing
from sim.learn.spin import NODES, SpinTest, spun
from sim.learn.weigh_in import DOUBTFUL, MISJUDGED, log_likelihood, weigh
from sim.learn.weighed_day import PredictedWeighings, WeighedDay, look_at, together
from sim.physics.water_film import film_sigma
from tests.day.sites import conditions
from tests.seeds import generator, seed

BASE = Site("Measured wash")
NAMES = uncertain(BASE, ())
DAY = date(2026, 7, 18)
AIR = conditions(0)
AT_S = 20 * 3600.0
Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def drawn_sites(count: int) -> tuple[list[Site], np.ndarray[tuple[int, ...], np.dtype[np.bool_]]]:
    """Sites that judge, usual and strange ones."""
    which = (len(NAMES), count, seed("measured"))
    return [draw_site(BASE, NAMES, row) for row in prior_points(*which)], are_strange(*which)


def true_sites(count: int) -> list[Site]:
    """Sites that are measured, none of them strange."""
    return [draw_site(BASE, NAMES, row) for row in sobol_points(len(NAMES), count, 6, 1)]


def seen_of(sites: list[Site], tests: list[SpinTest]) -> PredictedWeighings:
    """What drawn sites would weigh after idling, and let stay on a hood."""
    holding = np.array([one.wheel.holding_capacity_kg_kg for one in sites])
    film, limit = np.array([damp_criterion(one) for one in sites]).T
    hoods = np.array([one.reference.areas_m2[0] for one in sites])
    rows = np.stack([spun(one, tests) for one in sites]) if tests else np.empty((0, 0, 0))
    none = np.empty((len(sites), 0))
    waters = np.column_stack([holding, limit * holding])
    return PredictedWeighings(waters, none, none, film * hoods, rows)


def spin_test(site: Site, rng: np.random.Generator, minutes: tuple[float, ...]) -> SpinTest:
    """A soaked strip of a site followed through idling, each weighing with its error."""
    sd, held = BASE.wheel.weigh_in_log_sd, site.wheel.holding_capacity_kg_kg
    blank = Weighing(SPIN, DAY, AT_S, 0.1 * (1.0 + held), 0.1)
    rows = tuple(replace(blank, spun_s=60.0 * one) for one in minutes)
    after = spun(site, [SpinTest(rows, AIR)])[:, NODES // 2]
    first = 0.1 * (1.0 + held * math.exp(sd * rng.standard_normal()))
    return SpinTest(
        tuple(
            replace(
                row, weight_kg=first,
                after_kg=0.1 * (1.0 + float(x) * math.exp(sd * rng.standard_normal())),
            )
            for row, x in zip(rows, after, strict=True)
        ),
        AIR,
    )  # fmt: skip


def ten_towels(site: Site, rng: np.random.Generator) -> list[Weighing]:
    """Hoods of a site under cloth of any wetness, as they come off the wheel, judged and dried
    until there are five of each or 200 have gone by; crew and towel as they may be."""
    wet = rng.uniform(0.2, 0.9)
    left = site_median_film(site) * (1.0 - site_kappa(site) * (1.0 - wet))
    middle = math.log(left * site.reference.areas_m2[0])
    hoods = middle + film_sigma(site.water.film_cv) * rng.standard_normal(200)
    scatter, takes = (
        prior_quantile(BASE, name, rng.random()) for name in ("crew_damp_log_sd", "towel_takes")
    )
    limit = damp_criterion(site)[0] * site.reference.areas_m2[0]
    back = hoods + scatter * rng.standard_normal(200) > math.log(limit)
    off = BASE.wheel.towel_log_sd * rng.standard_normal(200)
    gains = takes * np.exp(hoods + off)
    found = [np.flatnonzero(one)[:5] for one in (back, ~back)]
    until = 200 if min(map(len, found)) < 5 else int(max(one[-1] for one in found)) + 1
    item = Weighing(TOWEL, DAY, 0.0, 0.0, 0.2, cars=until, damp_cars=int(back[:until].sum()))
    return [
        replace(item, weight_kg=0.2 + float(gains[place]), verdict=verdict)
        for places, verdict in zip(found, (CALL_BACK, LET_PASS), strict=True)
        for place in places
    ]


def interval(values: Floats, weights: Floats) -> tuple[float, float]:
    """The middle 90 % of weighted values."""
    order = np.argsort(values)
    sums = np.cumsum(weights[order]) - 0.5 * weights[order]
    low, high = np.interp([0.05, 0.95], sums, values[order])
    return float(low), float(high)


def judged(
    kind: str, sites: int, truths: int, minutes: tuple[float, ...] = (10.0,)
) -> tuple[int, float]:
    """How many truths lie in their 90 % interval of what the measurement tells, and how wide these
    are against that before it."""
    drawn, strange = drawn_sites(sites)
    seen = seen_of(drawn, [])
    if kind == SPIN:
        values = np.log([one.wheel.throw_off_time_s for one in drawn])
    else:
        values = np.log(seen.allowed_kg)
    before = interval(values, (~strange) / (~strange).sum())
    covered, widths = 0, []
    for number, site in enumerate(true_sites(truths)):
        rng = generator(f"{kind} {number}")
        if kind == SPIN:
            test = spin_test(site, rng, minutes)
            looked = seen_of(drawn, [test])
            log = log_likelihood(BASE, looked, [], [], strange, spins=[test])
            truth = math.log(site.wheel.throw_off_time_s)
        else:
            log = log_likelihood(BASE, seen, ten_towels(site, rng), [], strange)
            truth = math.log(damp_criterion(site)[0] * site.reference.areas_m2[0])
        low, high = interval(values, weigh(log, strange).weights)
        covered += low <= truth <= high
        widths.append(high - low)
    return covered, float(np.mean(widths)) / (before[1] - before[0])


MADE = {
    "spin": (SPIN, (10.0,), 1.0),
    "spin, two times": (SPIN, (10.0, 40.0), 0.9),
    "towel": (TOWEL, (), 0.95),
}
"""Measurements as they are made: kind, times of idling [min], and the width that they leave at
most, of that before."""


@pytest.mark.parametrize("name", MADE)
def test_what_is_measured_is_narrower_and_honest(name: str) -> None:
    """A spin test tells the time constant of throw-off, after ten minutes of idling a little and
    after forty more; ten towels the water that a hood may keep. Over sites drawn from the priors
    the 90 % interval is narrower, and holds the truth as often as it says (99.9 % binomial
    range)."""
    sites, truths = 512, 16
    kind, minutes, most = MADE[name]
    covered, width = judged(kind, sites, truths, minutes)
    low, high = binom.ppf([0.0005, 0.9995], truths, 0.9)
    assert low <= covered <= high
    assert width < most


def test_a_longer_spin_test_tells_more() -> None:
    """Weighed again after forty minutes, the strip tells the pace of throw-off more narrowly."""
    (_, short), (_, long) = (judged(SPIN, 512, 16, minutes) for minutes in ((10.0,), (10.0, 40.0)))
    assert long < short


def test_twenty_hoods_tell_the_share_of_damp_cars_honestly() -> None:
    """Twenty hoods looked at on a busy afternoon tell what share of them the wheel leaves damp.
    Over sites drawn from the priors, each on a day of its own and its hoods damp by chance, now
    and then misjudged, the 90 % interval is under a third as wide as before and holds the truth as
    often as it says (99.9 % binomial range); hardly any site is said to misfit."""
    sites, truths = 256, 32
    item = Weighing(HOODS, DAY, 13.0 * 3600.0, 0.0, 0.0, cars=20)
    day = WeighedDay((item,), conditions(50), None)
    drawn, strange = drawn_sites(sites)
    seen = together([look_at(one, [day], 5, number) for number, one in enumerate(drawn)])
    values = seen.damp[:, 0]
    before = interval(values, (~strange) / (~strange).sum())
    covered, misfits, widths = 0, 0, []
    for number, site in enumerate(true_sites(truths)):
        truth = float(look_at(site, [day], 6, sites + number).damp[0, 0])
        looks = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * truth
        damp = int(generator(f"hoods {number}").binomial(item.cars, looks))
        made = replace(day, weighings=(replace(item, damp_cars=damp),))
        log = log_likelihood(BASE, seen, [], [made], strange)
        found = weigh(log, strange)
        misfits += found.strange > DOUBTFUL
        low, high = interval(values, found.weights)
        covered += low <= truth <= high
        widths.append(high - low)
    low_count, high_count = binom.ppf([0.0005, 0.9995], truths, 0.9)
    assert low_count <= covered <= high_count
    assert np.mean(widths) < (before[1] - before[0]) / 3.0
    assert misfits <= truths // 8

"""Spin tests, towels and looks at hoods on sites drawn from the priors: what is believed
afterwards, and how honestly."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from sim.day.blocks import sobol_points
from sim.day.drawn import are_strange, draw_site, prior_points, uncertain
from sim.day.setup import cloth_numbers, damp_criterion
from sim.inputs import HOODS, SPIN, TOWEL, Site, Weighing
from sim.learn.weigh_in import DOUBTFUL, MISJUDGED, log_likelihood, weigh
from sim.learn.weighed_day import PredictedWeighings, WeighedDay, look_at, together
from tests.day.sites import conditions
from tests.learn.measured_sites import (
    RIGHT,
    assert_honest,
    followed_by_all,
    spin_test,
    ten_towels,
)
from tests.learn.weighed_sites import interval
from tests.seeds import generator, seed
from tests.sizes import Size

BASE = Site("Measured wash")
NAMES = uncertain(BASE, ())
DAY = date(2026, 7, 18)
AIR = conditions(0)
Record = Callable[[str, float, str], None]


def drawn_sites(count: int) -> tuple[list[Site], np.ndarray[tuple[int, ...], np.dtype[np.bool_]]]:
    """Sites that judge, usual and strange ones."""
    which = (len(NAMES), count, seed("measured"))
    return [draw_site(BASE, NAMES, row) for row in prior_points(*which)], are_strange(*which)


def true_sites(count: int) -> list[Site]:
    """Sites that are measured, none of them strange."""
    return [draw_site(BASE, NAMES, row) for row in sobol_points(len(NAMES), count, 6, 1)]


def seen_of(sites: list[Site]) -> PredictedWeighings:
    """What drawn sites would let stay on a hood."""
    holding = np.array([one.wheel.holding_capacity_kg_kg for one in sites])
    film, limit = np.array([damp_criterion(one) for one in sites]).T
    hoods = np.array([one.reference.areas_m2[0] for one in sites])
    none = np.empty((len(sites), 0))
    waters = np.column_stack([holding, limit * holding])
    return PredictedWeighings(waters, none, none, film * hoods)


def judged(
    kind: str, sites: int, truths: int, minutes: tuple[float, ...] = (10.0,)
) -> tuple[int, float]:
    """How many truths lie in their 90 % interval of what the measurement tells, and how wide these
    are against that before it."""
    drawn, strange = drawn_sites(sites)
    seen = seen_of(drawn)
    cloths = [cloth_numbers(one, AIR) for one in drawn]
    if kind == SPIN:
        values = np.log([one.wheel.throw_off_time_s for one in drawn])
    else:
        values = np.log(seen.allowed_kg)
    before = interval(values, (~strange) / (~strange).sum())
    covered, widths = 0, []
    for number, site in enumerate(true_sites(truths)):
        rng = generator(f"{kind} {number}")
        if kind == SPIN:
            test = spin_test(site, rng, minutes, AIR)
            looked = replace(seen, spun=followed_by_all(cloths, test))
            log = log_likelihood(BASE, looked, [], [], strange, spins=[test], known=RIGHT)
            truth = math.log(site.wheel.throw_off_time_s)
        else:
            towels = ten_towels(site, rng, rng.uniform(0.2, 0.9))
            log = log_likelihood(BASE, seen, towels, [], strange)
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


@pytest.mark.soak
@pytest.mark.parametrize("name", MADE)
def test_what_is_measured_is_narrower_and_honest(
    name: str, size: Size, record_figure: Record
) -> None:
    """A spin test tells the time constant of throw-off, after ten minutes of idling a little and
    after forty more; ten towels the water that a hood may keep. Over sites drawn from the priors
    the 90 % interval is narrower, and holds the truth as often as it says."""
    sites, truths = size(small=512, full=2_048), size(small=16, full=128)
    kind, minutes, most = MADE[name]
    covered, width = judged(kind, sites, truths, minutes)
    record_figure(f"covered, {name}", covered, f"of {truths}")
    record_figure(f"width left, {name}", width, "of before")
    assert_honest(covered, truths)
    assert width < most


def test_a_longer_spin_test_tells_more() -> None:
    """Weighed again after forty minutes, the strip tells the pace of throw-off more narrowly."""
    (_, short), (_, long) = (judged(SPIN, 512, 16, minutes) for minutes in ((10.0,), (10.0, 40.0)))
    assert long < short


@pytest.mark.soak
def test_twenty_hoods_tell_the_share_of_damp_cars_honestly(
    size: Size, record_figure: Record
) -> None:
    """Twenty hoods looked at on a busy afternoon tell what share of them the wheel leaves damp.
    Over sites drawn from the priors, each on a day of its own and its hoods damp by chance, now
    and then misjudged, the 90 % interval is under a third as wide as before and holds the truth as
    often as it says; hardly any site is said to misfit."""
    sites, truths = size(small=256, full=1_024), size(small=32, full=128)
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
    width = float(np.mean(widths)) / (before[1] - before[0])
    record_figure("covered, twenty hoods", covered, f"of {truths}")
    record_figure("width left, twenty hoods", width, "of before")
    record_figure("said to misfit, twenty hoods", misfits, f"of {truths}")
    assert_honest(covered, truths)
    assert width < 1.0 / 3.0
    assert misfits <= truths // 8

"""Scenarios over drawn sites: pairing, words, and which inputs widen a figure."""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri

from sim.day.blocks import Parts, Shape, at_runs, by_day, day_luck, sobol_points
from sim.day.drawn import Belief
from sim.day.engine import Draw
from sim.day.figures import FIGURES, HOURLY
from sim.day.rules import FULL
from sim.decide.how_sure import NestedRuns, Runs, run_blocks, site_difference, site_word, widest
from sim.inputs import INPUTS, Scenario, Site
from tests.day.sites import conditions, over_sites, replication
from tests.intervals import run_error
from tests.seeds import generator

SMALL = Shape(blocks=2, points=4, days=2)
SITE = Site("Unsure").with_values({"open_h": 10.0, "close_h": 12.0, "day_factor_cv": 0.3})
DAY = conditions(30.0)
SCENARIOS = (Scenario("full", "full"), Scenario("reduced", "reduced"))
EVERYTHING = frozenset(INPUTS)


def parts(mean: float, sites: list[float]) -> Parts:
    """Parts of a difference with the given drawn sites."""
    low, high = np.percentile(sites, [5, 95])
    return Parts(mean, mean, mean, float(low), float(high), mean, mean, 1.0, 1.0, np.array(sites))


def word(mean: float, sites: list[float]) -> str:
    """The word of a difference in cars washed where 10 cars matter."""
    return site_word(FIGURES["cars_washed"], parts(mean, sites), 10.0)


def test_every_word_has_its_definition() -> None:
    """Clearly 19 of 20 sites, probably 16, else can't tell; small ones hardly differ."""
    assert word(30, [30.0] * 20) == "clearly better"
    assert word(-30, [-30.0] * 20) == "clearly worse"
    assert word(30, [40.0] * 17 + [-20.0] * 3) == "probably better"
    assert word(30, [60.0] * 12 + [-20.0] * 8) == "can’t tell"
    assert word(5, [7.0] * 20) == "hardly differs"
    assert word(8, [8.0] * 16 + [14.0] * 4) == "a little better"
    assert site_word(FIGURES["water_taken_kg"], parts(30, [30.0] * 20), 1.0) == "clearly more"
    nothing = Parts(0, 0, 0, 0, 0, 0, 0, 0, 0, np.zeros(4))
    assert site_word(FIGURES["margin"], nothing, 1.0) == "the same"
    assert site_word(FIGURES["margin"], parts(math.nan, [1.0]), 1.0) == ""


def test_scenarios_share_sites_and_days() -> None:
    """Cars arrived are the same under every rule, site by site and day by day."""
    crossed = run_blocks(over_sites(SITE, DAY, 5, frozenset()), SCENARIOS, SMALL)
    full, reduced = crossed.runs
    assert np.array_equal(full.day["cars_arrived"], reduced.day["cars_arrived"])
    assert full.day["left_damp_share"].shape == (2, 4, 2)
    assert crossed.u.shape == (8, len(crossed.names))
    # drawn sites differ in what the cloth takes, on the very same days
    assert len(np.unique(by_day(full.day["water_taken_kg"])[0, :, 0])) == 4


def test_a_site_that_knows_everything_is_one_site() -> None:
    """With no guess left every drawn site is the site itself, and the runs are plain days, each
    as busy as its place among all of them says."""
    crossed = run_blocks(over_sites(SITE, DAY, 5, EVERYTHING), SCENARIOS, SMALL)
    taken = by_day(crossed.runs[0].day["water_taken_kg"])
    assert np.all(taken == taken[:, :1, :])
    luck = day_luck(SMALL.blocks, SMALL.days, 5)
    experiment = over_sites(SITE, DAY, 5, EVERYTHING)
    plain = replication(experiment, Draw(0, 0, (5, 1, 1), luck[1, 1])).figures(FULL)
    assert taken[1, 0, 1] == plain.day["water_taken_kg"]


@pytest.mark.parametrize(
    ("fewer", "told"),
    [
        (replace(SMALL, points=2), [10, 12, 14, 16]),
        (replace(SMALL, days=1), [9, 10, 11, 12, 13, 14, 15, 16]),
        (replace(SMALL, points=2, days=1), [5, 6, 8, 10, 11, 12, 14, 16]),
    ],
    ids=["sites", "days", "both"],
)
def test_more_runs_go_on_from_fewer(fewer: Shape, told: list[int]) -> None:
    """Runs that go on from those of fewer sites or days equal runs at once; none is run twice."""
    heard: list[int] = []
    few = run_blocks(over_sites(SITE, DAY, 5, frozenset()), SCENARIOS, fewer)
    more = run_blocks(
        over_sites(SITE, DAY, 5, frozenset()), SCENARIOS, SMALL, progress=heard.append, before=few
    )
    at_once = run_blocks(over_sites(SITE, DAY, 5, frozenset()), SCENARIOS, SMALL)
    assert heard == told
    assert np.array_equal(more.u, at_once.u)
    for one, other in zip(more.runs, at_once.runs, strict=True):
        for name in FIGURES:
            assert np.array_equal(one.day[name], other.day[name], equal_nan=True)
        for name in HOURLY:
            assert np.array_equal(one.hours[name], other.hours[name], equal_nan=True)


def test_workers_do_not_change_a_figure(two_processes: Executor) -> None:
    """Runs by two processes equal those by none, bit for bit."""
    alone = run_blocks(over_sites(SITE, DAY, 5, frozenset()), SCENARIOS, SMALL)
    asked = over_sites(SITE, DAY, 5, frozenset())
    shared = run_blocks(asked, SCENARIOS, SMALL, executor=two_processes)
    for one, other in zip(alone.runs, shared.runs, strict=True):
        for name in FIGURES:
            assert np.array_equal(one.day[name], other.day[name], equal_nan=True)


def test_a_difference_is_paired_in_site_and_day() -> None:
    """A constant gain over wildly different sites and days is known exactly."""
    rng = generator("paired")
    first = rng.normal(500, 100, (8, 4, 1)) + rng.normal(0, 50, (8, 1, 8))
    found = site_difference(FIGURES["cars_washed"], first, first + 20.0, 10.0)
    assert found.value == pytest.approx(20.0)
    assert run_error(found).width < 1e-6
    assert (found.days_better, found.sites_better, found.word) == (1.0, 1.0, "clearly better")


def test_the_inputs_that_widen_a_figure_are_found() -> None:
    """Of 20 inputs the two that make the figure are named with their shares of variance.

    The figure is 3·z₃ + 1·z₇ + noise of days, so the shares are 9/10 and 1/10.
    """
    shape = Shape(points=8, days=8)
    u = np.concatenate([sobol_points(20, shape.points, 11, b) for b in range(shape.blocks)])
    z = ndtri(u)
    rng = generator("widest")
    sites = 50.0 + 3.0 * z[:, 3] + 1.0 * z[:, 7]
    size = (shape.blocks, shape.points, shape.days)
    days = at_runs(rng.normal(0, 1, (shape.blocks, shape.days)), shape.points)
    values = sites.reshape(*size[:2], 1) + days + rng.normal(0, 0.5, size)
    names = tuple(list(INPUTS)[:20])
    crossed = NestedRuns(shape, names, u, np.ones(128), (Runs({}, {}),), np.empty(0))
    found = widest(crossed, values)
    assert [row.input for row in found[:2]] == [names[3], names[7]]
    assert found[0].share == pytest.approx(0.9, abs=0.05)
    assert found[1].share == pytest.approx(0.1, abs=0.04)


def test_too_few_sites_name_no_input() -> None:
    """With fewer drawn sites than a regression needs nothing is claimed."""
    crossed = run_blocks(over_sites(SITE, DAY, 5, frozenset()), SCENARIOS[:1], SMALL)
    assert widest(crossed, crossed.runs[0].day["left_damp_share"]) == ()


# ---- sites that weighings have chosen ------------------------------------------------------------


def test_a_belief_is_what_sites_are_drawn_from() -> None:
    """Points of every block are members of its ensemble, the same members come back for the same
    seed, and what widens the answer is told by shares of what inputs explain together."""
    names = ("holding_capacity_kg_kg", "allowed_film_kg_m2")
    belief = Belief(names, 3, 256, tuple(range(40, 168)), ("soaked",), 120.0)
    asked, shape = over_sites(SITE, DAY, 5, frozenset(), belief=belief), Shape(points=4, days=2)
    first, again = (run_blocks(asked, SCENARIOS[:1], shape) for _ in range(2))
    assert first.names == names
    members = {tuple(row) for row in belief.u}
    assert {tuple(row) for row in first.u} <= members
    np.testing.assert_array_equal(first.u, again.u)
    values = np.broadcast_to(
        first.u[:, 1].reshape(shape.blocks, shape.points, 1), (shape.blocks, shape.points, 2)
    )
    (top, *_) = widest(first, np.asarray(ndtri(values)))
    assert top.input == "allowed_film_kg_m2"
    assert top.share > 0.95

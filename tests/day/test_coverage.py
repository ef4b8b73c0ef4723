"""What intervals of crossed runs hold: the run error, and the bound of a rare event."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import binom

from sim.day.blocks import Shape, at_runs, shapes_to
from sim.day.figures import FIGURES
from sim.day.replicate import Difference, Figure, mean_interval
from sim.decide.how_sure import site_difference, site_figure
from sim.decide.stages import is_fine
from tests.day import crossings
from tests.day.crossings import FIRST, KNOWN, REFINED, Floats, day_stream
from tests.sizes import Size

Note = Callable[[str, float, str], None]
LEAST, MOST = 0.93, 0.97
"""Coverage of a 95 % interval that passes."""
FULL = 1_000
CHANCE = 5e-4


def check_coverage(hits: int, count: int) -> None:
    """The share itself at full counts; with fewer, that chance alone does not explain it."""
    if count >= FULL:
        assert LEAST <= hits / count <= MOST, hits / count
    else:
        least, most = binom.ppf(CHANCE, count, LEAST), binom.ppf(1.0 - CHANCE, count, MOST)
        assert least <= hits <= most, hits / count


def shown(what: str, runs: Floats) -> Figure | Difference:
    """What a page makes of such runs."""
    info = FIGURES[KNOWN[what].figure]
    if what == "paired difference":
        return site_difference(info, np.zeros_like(runs), runs, 1.0)
    return site_figure(info, runs)


def part(whole: Floats, shape: Shape) -> Floats:
    """The runs that an answer of a coarser shape has."""
    return whole[:, : shape.points, : shape.days]


def runs_of(what: str, stages: str, number: int) -> Floats:
    """The runs of an experiment that its answer rests on.

    “until sure”: as a page ends to refine, were this its only figure; others only make it end
    later.
    """
    whole = KNOWN[what].runs(number)
    if stages == "first":
        return part(whole, FIRST)
    if stages == "refined":
        return whole
    for shape in shapes_to(REFINED.runs):
        runs = part(whole, shape)
        if is_fine(KNOWN[what].figure, shown(what, runs)):
            return runs
    return whole


@pytest.mark.soak
@pytest.mark.parametrize("stages", ["first", "refined", "until sure"])
@pytest.mark.parametrize("what", KNOWN)
def test_the_run_error_covers(what: str, stages: str, size: Size, record_figure: Note) -> None:
    """The 95 % run error holds the known expected value in 93 to 97 % of experiments, and where
    it does not, misses it about as often above as below."""
    count = size(small=150, full=FULL)
    known, above, below, few = KNOWN[what], 0, 0, 0
    for number in range(count):
        runs = runs_of(what, stages, number)
        found = shown(what, runs)
        above += known.truth > found.error_high
        below += known.truth < found.error_low
        few += runs.size == FIRST.runs
    record_figure(f"{what}, {stages}: coverage", 100 * (1 - (above + below) / count), "%")
    record_figure("interval too low", 100 * above / count, "%")
    record_figure("interval too high", 100 * below / count, "%")
    record_figure("ended at 256 runs", 100 * few / count, "%")
    check_coverage(count - above - below, count)
    assert max(above, below) <= binom.ppf(1.0 - CHANCE, count, 0.04)


@pytest.mark.parametrize("what", KNOWN)
def test_known_values_are_those_of_the_runs(what: str) -> None:
    """Over 100 experiments of 1,024 runs their mean is the known one to 4 standard errors."""
    known = KNOWN[what]
    means = np.array([known.runs(number).mean() for number in range(100)])
    error = means.std(ddof=1) / 10.0
    assert abs(means.mean() - known.truth) < 4.0 * error
    assert error < 0.05 * abs(known.truth)


def test_a_fifth_of_days_lose_cars() -> None:
    """The lost share is what it says: some on a fifth of the runs, none on the others."""
    lost = np.array([(KNOWN["lost share"].runs(n) > 0).mean() for n in range(100)])
    assert lost.mean() == pytest.approx(crossings.LOSING_DAYS, abs=4 * lost.std(ddof=1) / 10)


@pytest.mark.parametrize("what", ["mean wait", "paired difference", "p90", "lost share"])
def test_runs_taken_for_independent_would_be_seen(what: str) -> None:
    """An interval that takes 1,024 crossed runs for as many independent days fails the check
    where days differ as much as sites do."""
    known, count = KNOWN[what], 150
    hits = 0
    for number in range(count):
        runs = runs_of(what, "refined", number)
        _, low, high = mean_interval(runs.ravel())
        hits += low <= known.truth <= high
    with pytest.raises(AssertionError):
        check_coverage(hits, count)


@pytest.mark.soak
@pytest.mark.parametrize("one_in", [20, 40])
@pytest.mark.parametrize("shape", [FIRST, REFINED], ids=["first", "refined"])
def test_the_bound_of_a_rare_event_holds(
    one_in: int, shape: Shape, size: Size, record_figure: Note
) -> None:
    """“Fewer than 1 in N days” is false in at most 5 % of experiments, where the day decides and
    every drawn site sees the same. Runs counted singly would make it false in a fifth of them."""
    count, wrong, bounds = size(small=300, full=FULL), 0, 0
    for number in range(count):
        days = (shape.blocks, shape.days)
        happens = day_stream(f"rare {one_in}", number).random(days) < 1.0 / one_in
        found = site_figure(
            FIGURES["cars_lost"], at_runs(np.where(happens, 3.0, 0.0), shape.points)
        )
        bounds += found.fewer_than_one_in > 0
        wrong += found.fewer_than_one_in > one_in
    record_figure(f"1 in {one_in}: bound given", 100 * bounds / count, "%")
    record_figure("bound false", 100 * wrong / count, "%")
    assert bounds > 0
    assert wrong <= binom.ppf(1.0 - CHANCE, count, 0.05)


def test_days_of_a_rare_event_are_counted_once() -> None:
    """One day on which all of its 4 drawn sites lose cars is one of 64 days, not 4 of 256."""
    days = np.zeros((FIRST.blocks, FIRST.days))
    days[2, 3] = 7.0
    found = site_figure(FIGURES["cars_lost"], at_runs(days, FIRST.points))
    # Clopper–Pearson: the chance of at most one event in 64 days is 5 % at 1 in 13.9
    assert (found.event_days, found.fewer_than_one_in) == (1, 13)
    assert binom.cdf(1, 64, 1 / 13) < 0.05 < binom.cdf(1, 64, 1 / 14)
    assert np.isnan(found.error_low)

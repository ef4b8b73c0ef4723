"""What three weighings are worth, over sites drawn from the prior."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest
from scipy.stats import binom

from sim.inputs import Site
from tests.learn.weighed_sites import judge, look
from tests.seeds import generator, seed
from tests.sizes import Size

BASE = Site("Weighed wash")


@pytest.mark.soak
def test_three_weighings_narrow_the_damp_car_answer_and_stay_honest(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Over sites drawn from the prior, each weighed with errors at one strip each time, and with
    twenty cars looked at after those from the wheel, the weighings cut the mean width of the 90 %
    interval of the share of damp cars by half and more, and the regret of the rule of least cost
    then chosen by a third and more; intervals still cover the truth as often as they say (99.9 %
    binomial range; 84 to 96 of 100). Regret and cover are held at the full count alone: among few
    drawn sites too few are left. The weights without the cars are worth less in both.

    The damp cars looked at are those of the truth's own simulated day, and the moment of the
    second weighing is when that day had seen three of them; what judges them is a formula and
    days of its own.
    """
    count, truths = size(small=256, full=4_096), size(small=32, full=128)
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        ensemble = look(BASE, count, 0, seed("ensemble"), pool)
        of_truths = look(BASE, truths, 1, seed("truths"), pool)
    ways = {"weights alone": (1, False), "with cars": (1, True), "three strips": (3, True)}
    found, left = {}, {}
    for name, (strips, with_cars) in ways.items():
        one = judge(BASE, ensemble, of_truths, generator(f"weighed {name}"), strips, with_cars)
        found[name] = one
        record_figure(f"width left, {name}", one.narrowed, "of before")
        record_figure(f"covered, {name}", one.covered / truths, "of truths")
        record_figure(f"effective sites, {name}", float(np.median(one.effective)), "sites")
        left[name], low_left, high_left = one.regret_left(generator("regret"))
        record_figure(f"regret left, {name}", left[name], "of before")
        record_figure(f"regret left, {name}, 95 %, low", low_left, "of before")
        record_figure(f"regret left, {name}, 95 %, high", high_left, "of before")
    low, high = binom.ppf([0.0005, 0.9995], truths, 0.9)
    counted, alone = found["with cars"], found["weights alone"]
    assert counted.narrowed < 0.5 < alone.narrowed
    assert left["with cars"] < 1.0
    # where few sites were drawn, few are left by what tells much: their intervals run short
    if count > 1_000:
        assert left["with cars"] < min(2.0 / 3.0, left["weights alone"])
        assert low <= counted.covered <= high
        assert 0.84 <= counted.covered / truths <= 0.96


def test_weighings_without_error_leave_nothing_but_what_they_do_not_tell() -> None:
    """The sharper the scale, the narrower the answer, down to what no strip can tell."""
    ensemble, truths = look(BASE, 128, 0, 1, None), look(BASE, 16, 1, 2, None)
    widths = [
        judge(
            BASE.with_values({"weigh_in_log_sd": sd, "strip_place_log_sd": 0.0}),
            ensemble,
            truths,
            np.random.Generator(np.random.PCG64(4)),
            with_cars=False,
        ).after
        for sd in (0.4, 0.1)
    ]
    assert widths[1] < widths[0]

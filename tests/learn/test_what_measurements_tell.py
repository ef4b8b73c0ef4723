"""What measurements leave open of damp cars, and what they save, on simulated sites."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.inputs import HOODS, MEASURED, SPIN, TOWEL
from tests.learn.measured_sites import THREE, answered, assert_honest, paired, told_by
from tests.learn.weighed_sites import PRICED, true_sites, world
from tests.sizes import Size

Record = Callable[[str, float, str], None]
WAYS = {
    "nothing": (),
    "three weighings": THREE,
    "and a spin test": (*THREE, SPIN),
    "and towels": (*THREE, TOWEL),
    "and twenty hoods": (*THREE, HOODS),
    "all": MEASURED,
}
"""What is measured, beside nothing and the three weighings alone: these and one kind more."""


@pytest.mark.soak
def test_more_than_three_weighings_narrows_the_answer_and_stays_honest(
    size: Size, record_figure: Record
) -> None:
    """Over sites drawn from the prior, each measured with errors, the 90 % interval of the share of
    damp cars of a busy day holds the truth as often as it says, whatever was measured.

    The three weighings cut its width to a fourth and the regret of the rule of least cost then
    chosen by half and more. Held against them on the same sites, twenty hoods narrow it by more
    than the 95 % interval of the difference, and nothing that is measured beside them widens it or
    costs more regret by more than that.
    """
    count, number = size(small=128, full=8_192), size(small=8, full=128)
    drawn, some = world(count, 4 * PRICED), true_sites(number, "model")
    told = [told_by(drawn, truth, place) for place, truth in enumerate(some)]
    found = {name: answered(drawn, some, told, kinds) for name, kinds in WAYS.items()}
    nothing, alone = found["nothing"], found["three weighings"]
    differs = {}
    for name, one in found.items():
        widths, regrets = (100.0 * one.width, 100.0 * alone.width), (one.regret, alone.regret)
        differs[name] = paired(*widths), paired(*regrets)
        record_figure(f"covered, {name}", float(one.covered.sum()), f"of {number}")
        record_figure(f"effective sites, {name}", float(np.median(one.effective)), "sites")
        for what, (values, _), (apart, half), unit in (
            ("width", widths, differs[name][0], "points"),
            ("regret", regrets, differs[name][1], "$ a day"),
        ):
            record_figure(f"{what}, {name}", float(values.mean()), unit)
            record_figure(f"{what} less that of the three, {name}", apart, unit)
            record_figure(f"95 % of it, {name}", half, f"{unit} either way")
    assert alone.width.mean() < nothing.width.mean()
    if count > 1_000:  # few drawn sites tell little apart
        assert alone.width.mean() < nothing.width.mean() / 4.0
        assert alone.regret.sum() < nothing.regret.sum() / 2.0
        for name in (name for name in WAYS if name != "nothing"):
            assert_honest(int(found[name].covered.sum()), number)
            assert all(apart <= half for apart, half in differs[name])
        apart, half = differs["and twenty hoods"][0]
        assert apart < -half

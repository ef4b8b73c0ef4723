"""The demo holds a real decision: when to wipe reduced, and when not to.

The demo is invented, so these are checks of the demo, not of the model.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from app.answers.planning import make_question
from app.sites.demo import demo_data, demo_days
from demo_site.make_weighings import TRUTH
from sim.day.engine import Experiment
from sim.day.replicate import Days, mean_interval, run_days
from sim.inputs import Scenario
from tests.seeds import seed
from tests.sizes import Size

pytestmark = pytest.mark.soak
Floats = NDArray[np.float64]
FULL, REDUCED, WINDOW = (
    Scenario("full", "full"),
    Scenario("reduced", "reduced"),
    Scenario("window", "clock 10:00-17:00"),
)
FASTER = Scenario("faster", "full", changes={"conveyor_speed_m_s": 0.29})


def simulate(kind: str, days: int, *scenarios: Scenario) -> list[Days]:
    """Days of one kind at the demo as it really is, under some scenarios, on the same draws."""
    data = replace(demo_data(), site=demo_data().site.with_values(TRUTH))
    question, _ = make_question(data, demo_days()[kind], "", scenarios, days, seed(f"demo {kind}"))
    # the moisture at opening is that of a dry set, which favours full wiping
    return run_days(Experiment(question.site, question.conditions, question.seed), scenarios, days)


def leaving_damp(days: Days) -> Floats:
    """Share of the cars washed that leave damp, one figure a day."""
    return np.asarray(days.day["left_damp"] / days.day["cars_washed"])


def above(values: Floats, limit: float) -> bool:
    """Whether the mean is above a limit by its 95 % interval."""
    return mean_interval(values)[1] > limit


def below(values: Floats, limit: float) -> bool:
    """Whether the mean is below a limit by its 95 % interval."""
    return mean_interval(values)[2] < limit


def test_the_humid_peak_needs_a_switch(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Always full lets more than 10 % of cars leave damp, always reduced fewer than 5 %, a window
    costs less than either; cars are lost, and fewer on a faster belt."""
    count = size(small=64, full=256)
    full, reduced, window, faster = simulate("humid_peak", count, FULL, REDUCED, WINDOW, FASTER)
    record_figure("leaving damp, always full", float(leaving_damp(full).mean()), "share")
    record_figure("leaving damp, always reduced", float(leaving_damp(reduced).mean()), "share")
    assert above(leaving_damp(full), 0.10)
    assert below(leaving_damp(reduced), 0.05)
    for other in (full, reduced):
        assert below(window.day["cost"] - other.day["cost"], 0.0)
    assert full.day["cars_lost_full"].sum() > 0
    assert above(full.day["cars_lost"] - faster.day["cars_lost"], 0.0)


@pytest.mark.parametrize("kind", ["quiet", "hot_dry_peak"])
def test_other_days_stay_on_full(
    kind: str, size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """On a quiet Tuesday and on a hot dry peak any reducing costs more than it saves."""
    count = size(small=8, full=64)
    full, reduced, window = simulate(kind, count, FULL, REDUCED, WINDOW)
    for other in (reduced, window):
        dearer = other.day["cost"] - full.day["cost"]
        record_figure(f"{kind}: dearer than always full", float(dearer.mean()), "$")
        assert above(dearer, 0.0)
    most = 0.01 if kind == "quiet" else 0.05
    assert below(leaving_damp(full), most)

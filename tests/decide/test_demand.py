"""More cars never make for drier cloth: paired over days that differ in demand alone."""

from __future__ import annotations

import itertools
import math
from datetime import date

import numpy as np
import pytest
from scipy.special import stdtrit

from app.answers.planning import make_question
from app.sites.demo import demo_data, demo_days
from sim.day.engine import Experiment
from sim.day.replicate import run_days
from sim.decide.maps.points import at_demand
from sim.inputs import Scenario
from tests.seeds import seed
from tests.sizes import Size

TODAY = date(2026, 7, 6)
DEMANDS = (0.4, 0.6, 0.8, 1.0, 1.2)
FULL = Scenario("Always full")


@pytest.mark.soak
@pytest.mark.parametrize("kind", ["humid_peak", "hot_dry_peak", "quiet"])
def test_cloth_of_always_full_is_no_drier_on_a_busier_day(kind: str, size: Size) -> None:
    """From each demand to the next the mean saturation does not fall (paired, 99 %), and from the
    least to the most it rises."""
    data = demo_data()
    asked, _ = make_question(data, demo_days()[kind], "", (FULL,), 1)
    days = size(small=16, full=256)
    means = [
        run_days(
            Experiment(asked.site, at_demand(asked.conditions, demand), seed(kind)), (FULL,), days
        )[0].day["saturation_mean"]
        for demand in DEMANDS
    ]

    def lower_limit(apart: np.ndarray) -> float:
        error = float(apart.std(ddof=1)) / math.sqrt(len(apart))
        return float(apart.mean()) - float(stdtrit(len(apart) - 1, 0.99)) * error

    for before, after in itertools.pairwise(means):
        assert -lower_limit(-(after - before)) >= 0.0, "falls, surely"
    assert lower_limit(means[-1] - means[0]) > 0.0

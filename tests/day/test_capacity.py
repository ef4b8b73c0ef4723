"""The capacity that pages and formulas use, against a line that is never out of cars."""

from __future__ import annotations

import numpy as np
import pytest

from sim.day.engine import Experiment
from sim.day.replicate import run_days
from sim.day.setup import prepare_day
from sim.inputs import Scenario, Site, Value
from tests.day.sites import conditions
from tests.seeds import seed

LINE: dict[str, Value] = {
    "open_h": 8.0, "close_h": 20.0, "day_factor_cv": 0.0, "patience_median_s": 7_200.0,
    "patience_log_sd": 0.0, "stack_limit_cars": 40, "pay_lanes": ((0.0, 12.0),),
    "quick_pay_mean_s": 5.0, "slow_pay_mean_s": 5.0, "load_mean_s": 3.0, "load_cv": 0.0,
    "stop_median_s": 60.0, "stop_log_sd": 0.8, "stops_per_h": 0.0, "stops_per_car": 0.0,
    "damp_rewash_share": 0.0,
}  # fmt: skip
DAYS = 40
T_999 = 3.56
"""Student's t, 99.9 % two-sided, 39 degrees of freedom."""


@pytest.mark.parametrize(
    "stops",
    [
        {},
        {"stops_per_h": 20.0},
        {"stops_per_car": 0.08},
        {"stops_per_h": 12.0, "stops_per_car": 0.05},
    ],
    ids=["none", "overlapping", "by cars", "both"],
)
@pytest.mark.parametrize("spacing_m", [5.4, 6.0])
def test_the_capacity_is_that_of_a_saturated_line(
    stops: dict[str, float], spacing_m: float
) -> None:
    """Cars washed in ten full hours of a line with cars waiting all day are as many as the
    capacity says, in a 99.9 % interval of 40 days no wider than 3 % of it."""
    site = Site("Saturated").with_values({**LINE, **stops, "car_spacing_m": spacing_m})
    day = conditions(400.0)
    (found,) = run_days(Experiment(site, day, seed("saturated")), [Scenario("full")], DAYS)
    washed = found.hours["washed"][:, 9:19].mean(axis=1)
    half = T_999 * washed.std(ddof=1) / np.sqrt(DAYS)
    capacity = 3_600.0 * prepare_day(site, day).capacity_per_s
    assert half < 0.03 * capacity
    assert washed.mean() == pytest.approx(capacity, abs=half + 1e-3 * capacity)


def test_a_belt_that_is_known_to_stand_washes_nothing_meanwhile() -> None:
    """Of a saturated line without other stops an hour of which the belt stands three quarters
    washes a quarter of what any other hour does, by the definition of capacity: to half a car in
    the mean, no day by more than the two cars that its ends cut; the stop is one of the day's."""
    stands = ((0.0, 0.0), (36_000.0, 1.0), (38_700.0, 0.0))
    site = Site("Saturated").with_values({**LINE, "belt_stands": stands})
    day = conditions(400.0)
    (found,) = run_days(Experiment(site, day, seed("standing")), [Scenario("full")], DAYS)
    by_hour = found.hours["washed"]
    usual = 3_600.0 * prepare_day(site, day).capacity_per_s
    assert by_hour[:, 10].mean() == pytest.approx(0.25 * usual, abs=0.5)
    assert np.abs(by_hour[:, 10] - 0.25 * usual).max() <= 2.0
    assert by_hour[:, 12].mean() == pytest.approx(usual, abs=1.0)
    assert found.day["stops"].tolist() == [1.0] * DAYS

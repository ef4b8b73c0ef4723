"""How far the cars of a day come out from what is expected of it, as days are drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.day.draw import DayDraw, make_cars
from sim.day.replicate import run_days
from sim.inputs import Conditions, DemandSpread, Scenario, Site
from tests.seeds import seed

SITE = Site("Spread").with_values({"day_factor_cv": 0.12})
DAY = Conditions((40.0,) * 24, (20.0,) * 24, (0.5,) * 24, 0.3)


def totals(
    site: Site, day: Conditions, days: int = 400
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Cars that come on each of many days."""
    return np.array(
        [len(make_cars(DayDraw(seed("spread"), n), site, day).arrival_s) for n in range(days)],
        dtype=float,
    )


@pytest.mark.parametrize(("counted", "wanted"), [(0.25, 0.25), (0.0, 0.0), (None, 0.12)])
def test_days_differ_by_what_counts_told(counted: float | None, wanted: float) -> None:
    """Beside the luck of whole cars the totals of drawn days have the day's own variation; the
    site's input holds only where the day says nothing. To 4 standard errors of 400 days."""
    found = totals(SITE, replace(DAY, spread=DemandSpread(counted, 30)))
    mean = found.mean()
    apart = found.var(ddof=1) / mean**2 - 1.0 / mean
    assert apart == pytest.approx(wanted**2, abs=4 * (wanted**2 + 1 / mean) * (2 / 400) ** 0.5)


def test_a_scenario_that_sets_the_variation_has_its_own() -> None:
    """What a scenario sets holds against the counts, and the others keep what was counted."""
    day = replace(DAY, spread=DemandSpread(0.0, 30))
    wild = Scenario("wild", changes={"day_factor_cv": 0.6})
    calm, own = run_days(SITE, day, [Scenario("as counted"), wild], 24, 3)
    assert calm.day["cars_arrived"].std() < 0.1 * calm.day["cars_arrived"].mean()
    assert own.day["cars_arrived"].std() > 0.35 * own.day["cars_arrived"].mean()

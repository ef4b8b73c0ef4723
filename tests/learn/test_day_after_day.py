"""A site that lives day after day leaves damp what it would have on each day alone, to the bit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from sim.day.blocks import sobol_points
from sim.day.drawn import draw_site, uncertain
from sim.day.night import LoggedEvening, PreviousDay
from sim.inputs import HOODS, Site, Value, Weighing
from sim.inputs.site import DemandSpread
from sim.learn.day_after_day import LivingSite
from sim.learn.logged_hoods import believed_of, looked_at
from sim.learn.weighed_day import Cars, WeighedDay, look_at
from tests.day.sites import conditions
from tests.seeds import seed

BASE = Site("Wash that lives on")
NAMES = uncertain(BASE, ())
FIRST = date(2025, 3, 3)


def looks(rule: str, *hours: float) -> tuple[Weighing, ...]:
    """Twenty hoods looked at at some hours; before opening there is none to look at."""
    return tuple(
        Weighing(HOODS, FIRST, hour * 3600.0, 0.0, 0.0, rule, cars=20, damp_cars=3)
        for hour in hours
    )


BUSY, QUIET, WINTER = (
    replace(conditions(cars, temp_c, humidity), opening_moisture_kg_kg=None)
    for cars, temp_c, humidity in ((60.0, 24.0, 0.7), (8.0, 28.0, 0.4), (35.0, -2.0, 0.8))
)
UNSURE = replace(BUSY, spread=DemandSpread(0.2))
SO_FAR = Cars("so far", (), ((12.0 * 3600.0, 90), (15.0 * 3600.0, 210)))
DAYS = (
    WeighedDay(looks("full", 11.0, 14.0), QUIET, PreviousDay(QUIET, 1)),
    WeighedDay(looks("clock 12:00-16:00", 13.0, 17.5), BUSY, PreviousDay(QUIET, 1)),
    WeighedDay(
        looks("full", 12.0), UNSURE, LoggedEvening(BUSY, 2, None, "clock 13:00-18:00", (5e4,))
    ),
    WeighedDay(looks("full", 15.0, 16.0), WINTER, None),
    WeighedDay(looks("reduced", 15.5), BUSY, PreviousDay(WINTER, 1), SO_FAR),
    WeighedDay(
        looks("full", 8.5),
        replace(BUSY, opening_moisture_kg_kg=0.9),
        PreviousDay(replace(QUIET, opening_moisture_kg_kg=0.3), 1),
    ),
    # before the first car there is nothing to look at
    WeighedDay(looks("full", BASE.line.open_h + 0.001), BUSY, PreviousDay(BUSY, 1)),
)  # fmt: skip
SITES: tuple[dict[str, Value], ...] = (
    {},
    {"damp_rewash_share": 0.3, "stops_per_car": 0.05},
    {"dry_set_at_opening": True},
    {"cloth_kind": "second"},
    {"speed_timetable": ((0.0, 0.25), (13.0 * 3600.0, 0.2)), "spin_change_s": 4.0},
)


@pytest.mark.parametrize("changes", SITES, ids=lambda changes: ",".join(changes) or "as it is")
def test_each_day_is_as_if_it_were_lived_alone(changes: dict[str, Value]) -> None:
    """Days in another order, evenings logged or expected, cars counted or told so far, frost, and
    a day without anything to look at: as the reference does each for itself."""
    site = BASE.with_values(changes)
    living = LivingSite(site, 11, 3)
    alone = [look_at(site, [day], 11, 3).damp[0] for day in DAYS]
    for order in (range(len(DAYS)), reversed(range(len(DAYS)))):
        for place in order:
            assert np.array_equal(living.damp(DAYS[place]), alone[place]), place
    shares = np.concatenate(alone)
    assert np.ptp(shares) > 0.03, "days that are all alike tell nothing"


def test_sites_are_told_apart() -> None:
    """What is believed of looks is the mean of what each site leaves of them by itself."""
    points = sobol_points(len(NAMES), 4, seed("beside"), 1)
    sites = [draw_site(BASE, NAMES, row) for row in points]
    shares = np.concatenate([
        np.array([look_at(one, [day], 5, number).damp[0] for number, one in enumerate(sites)]).T
        for day in DAYS
    ])  # fmt: skip
    items = [item for day in DAYS for item in day.weighings]
    assert believed_of(sites, DAYS, 5) == looked_at(items, shares)

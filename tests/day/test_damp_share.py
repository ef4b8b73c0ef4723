"""The share of damp cars by formula, against days simulated car by car."""

from __future__ import annotations

import numpy as np
import pytest

from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import run
from sim.day.kernel import tables as r
from sim.day.kernel.tables import make_tables
from sim.day.rules import parse_rule
from sim.day.setup import prepare_day
from sim.inputs import Site, Value
from sim.learn.weighed_day import damp_share
from tests.day.sites import conditions

DAYS = 60


@pytest.mark.parametrize(
    ("values", "opening", "cars_per_h"),
    [
        ({}, 0.4, 60.0),
        ({}, 1.2, 80.0),
        ({"film_factor_windshield": 1.3}, 0.6, 60.0),
        ({"film_cv": 0.15, "damp_limit_saturation": 0.3}, 0.8, 60.0),
        ({"film_cv": 0.4, "cloth_wear_cars": 20_000.0}, 1.0, 60.0),
        ({"speed_timetable": ((0.0, 0.22), (43_200.0, 0.3))}, 0.9, 60.0),
    ],
)
def test_the_share_is_what_days_leave_damp(
    values: dict[str, Value], opening: float, cars_per_h: float
) -> None:
    """Over all cars of some days, each at the moisture that it met, damp cars lie within 4.5
    standard errors of the sum of their shares, and a share that is a fifth off would not."""
    site = Site("Damp wash").with_values(values)
    day = conditions(cars_per_h, opening=opening)
    numbers = prepare_day(site, day)
    tables = make_tables(site, numbers)
    expected = spread = damp = 0.0
    for number in range(DAYS):
        cars = make_cars(DayDraw(31, number), site, day)
        done = run(site, numbers, cars, parse_rule("full"), tables=tables)
        count = int(done.flow.rows.counts[r.ROWS])
        washed = np.isfinite(done.flow.rows.times[:count, r.EXIT])
        met = done.wiped.moisture[:count, r.BEFORE][washed]
        hoods = done.flow.rows.times[:count, r.HOOD][washed]
        share = damp_share(site, tables, met, hoods, np.argsort(np.argsort(hoods)).astype(float))
        damp += float(done.wiped.marks[:count, r.DAMP][washed].sum())
        expected += float(share.sum())
        spread += float((share * (1.0 - share)).sum())
    assert abs(damp - expected) < 4.5 * spread**0.5
    assert abs(damp - 1.2 * expected) > 4.5 * spread**0.5
    assert damp > 100


def test_the_edges_are_right() -> None:
    """Saturated cloth takes nothing: the share is that of films above the allowed one; drier
    cloth leaves fewer damp; cars that are all alike are damp or not."""
    site = Site("Damp wash")
    numbers = prepare_day(site, conditions(30))
    tables, at = make_tables(site, numbers), np.full(40, 36_000.0)
    wet = np.linspace(0.0, 2.0 * site.wheel.holding_capacity_kg_kg, 40)
    share = damp_share(site, tables, wet, at)
    assert np.all(np.diff(share) >= 0.0)
    assert share[-1] == pytest.approx(share[20], abs=0.0)  # nothing is wetter than saturated
    alike = damp_share(site.with_values({"film_cv": 0.0}), tables, wet, at)
    assert set(np.round(alike, 12)) == {0.0, 1.0}

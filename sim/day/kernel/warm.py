"""Compiles everything once, so that no request has to wait for it."""

from __future__ import annotations

import numpy as np

from sim.day.draw import DayDraw, make_cars
from sim.day.kernel.days import figures, flow, run_day
from sim.day.kernel.searching import best_of_plans, foresight, tallies
from sim.day.rules import FULL
from sim.day.setup import prepare_day
from sim.inputs import Conditions, Site


def warm() -> None:
    """Run a short day each way; what is compiled is kept on disk for every later process."""
    conditions = Conditions((6.0,) * 24, (20.0,) * 24, (0.5,) * 24, 0.3)
    for rewashed in (0.0, 0.1):
        site = Site("warm").with_values({"damp_rewash_share": rewashed, "close_h": 9.0})
        day, cars = prepare_day(site, conditions), make_cars(DayDraw(1), site, conditions)
        figures(site, day, cars, FULL)
        run_day(site, day, cars, FULL)
        tallies(site, day, cars, [FULL])
    nodes = foresight(flow(site.with_values({"damp_rewash_share": 0.0}), day, cars), site, 2)
    best_of_plans(nodes, np.zeros((len(nodes.low), 2)), np.zeros(len(nodes.low)), 2)

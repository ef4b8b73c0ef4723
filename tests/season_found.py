"""A season's answer for tests of its words and its calendar: one open day, one of everything."""

from __future__ import annotations

import math
from datetime import date

from sim.day.figures import PairedDifference, Range
from sim.decide.cloth.answer import (
    ByRule,
    DayFound,
    ExpectedChange,
    LeftOut,
    Month,
    Option,
    OptionRow,
    OrderBy,
    SeasonAnswer,
)
from sim.decide.cloth.season import KEPT
from sim.decide.cloth.stock import Availability, Order, Owned, StockPlan
from sim.decide.firm import Standing
from sim.inputs import Scenario

DAY = date(2026, 7, 15)
FIGURES = {name: ByRule((100.0, 90.0, 110.0), (80.0, 70.0, 90.0)) for name in KEPT}
PLANNED = OptionRow(
    Option("planned", 0.0, Scenario("planned", "clock 10:00-17:00")),
    {"cost": 3e3, "left_damp": 140.0, "left_damp_share": 0.1, "cars_lost": 50.0,
     "wait_p90_s": 400.0},
    None, None, None, False, 0.0, 0.0, 0.0,
)  # fmt: skip
DIFFERENCE = PairedDifference(
    -470.0, Range(-500.0, -400.0), 0.9, "clearly better", Range(-900.0, 100.0), 0.8
)
MORE = OptionRow(
    Option("one_more_set", 2.0, Scenario("planned", "clock 10:00-17:00", "11:00; 15:00"), 900.0),
    {"cost": 2.9e3, "left_damp": 90.0, "left_damp_share": 0.08, "cars_lost": 90.0,
     "wait_p90_s": 300.0},
    DIFFERENCE, DIFFERENCE, DIFFERENCE, False, 2.0, 1.0, math.inf,
)  # fmt: skip
SEASON = SeasonAnswer(
    site="Harbor Road",
    first=DAY,
    last=date(2027, 7, 14),
    seed=1,
    replications=2,
    lived=1,
    libraries={"numpy": "2"},
    weighed=(),
    days=(DayFound(DAY, 815.0, 33.0, "full", "Always full", "", True, False, FIGURES),),
    left_out=(LeftOut(date(2026, 7, 29), None),),
    totals=FIGURES,
    months=(
        Month(DAY, 1, dict.fromkeys(KEPT, 80.0), 1, 15.0, 1.4, 0.1, 1_335.0, 39_800.0),
    ),
    lives=0,
    ages=(14_000.0, 14_400.0),
    planned_age=20_700.0,
    rival_age=30_000.0,
    standing=Standing(64, 0.02, 0.02),
    changes=(
        ExpectedChange(
            1, date(2026, 8, 4), date(2026, 7, 30), date(2026, 8, 5), date(2026, 8, 20), 1.0, 0.07
        ),
    ),
    sets_per_year=16.0,
    launder_every=7,
    launder_advised=False,
    laundry_days=(date(2026, 7, 25),),
    orders=(OrderBy(date(2026, 7, 10), 1, 2),),
    stock=StockPlan(
        16.0, 0.6, 0.8, 1.9, 1.3, 2, 0.97, 0.95, 0.94, Order(3, 900.0, 15_000.0), 1, True
    ),
    stock_problems=(),
    owned=(Owned(2, Availability(0.2, 0.1, 0), Availability(0.0, 0.0, 200), 1.0, None),),
    options=(PLANNED, MORE),
    peaks=(DAY,),
    peak_days=36,
    allowed={"left_damp_share": 0.05, "cars_lost": 60.0, "wait_p90_s": 720.0},
)  # fmt: skip

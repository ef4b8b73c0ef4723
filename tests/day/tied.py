"""Generated days on a grid of times and lengths, so that much of it happens in one instant."""

from __future__ import annotations

import dataclasses

import numpy as np
from hypothesis import strategies as st

from sim.checks import check_site
from sim.day.crew import CrewDay
from sim.day.draw import DayCars, Passes
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import prepare_day
from sim.inputs import DEFAULT_CLASSES, Site, Value
from tests.day.agreement import Case
from tests.day.sites import conditions, prompt_crew

OPEN_S = 8 * 3600.0
STEP_S = 4.0
"""Everything takes a multiple of this; the belt does a quarter of a metre a second."""
HALF_HOUR = 450
"""Steps of the time by which waits are judged."""
PATIENCE_S = (48, 200, 300, 330, 360, 400, 450, 500, 600, 750, 900, 1_200, 1_800, 10**9)
"""Waits put up with [s]: so many cars ahead, of so many caught in half an hour, and between."""
FINISHERS = (
    ((0.0, 0.0),), ((0.0, 1.0),), ((0.0, 2.0),), ((0.0, 1.0), (OPEN_S + 400.0, 0.0)),
    ((0.0, 2.0), (OPEN_S + 160.0, 0.0), (OPEN_S + 200.0, 1.0), (OPEN_S + 280.0, 2.0)),
)  # fmt: skip
RULES = (
    "full",
    "reduced",
    "band 50-25",
    "clock 8:01-8:02,8:03-8:04,8:05-8:06,8:31-8:32",
    "class sedan or band 30-20",
    "crew clock 8:00-8:02,8:03-8:04,8:05-8:31",
    "crew cars 6-4",
    "crew strip 150-130 or crew cars 3-2 and class van",
    "crew hoods 3-1",
)


def gridded_site(values: dict[str, Value]) -> Site:
    """A site whose lengths are binary fractions and whose belt does 1 m a step."""
    sedan = next(item for item in DEFAULT_CLASSES if item.key == "sedan")
    van = next(item for item in DEFAULT_CLASSES if item.key == "van")
    zones = {"hood_wiped_m": 1.0, "windshield_wiped_m": 1.0, "roof_wiped_m": 1.0}
    numbers = [
        dataclasses.replace(
            item.numbers, **zones, share=0.5, length_m=length, length_sd_m=0.0,
            hood_area_m2=1.0, windshield_area_m2=1.0,
            pushed_wheel_m=1.0, hood_start_m=0.0, rear_wiped_m=1.0,
        )
        for item, length in ((sedan, 5.0), (van, 6.0))
    ]  # fmt: skip
    classes = tuple(
        dataclasses.replace(item, numbers=one)
        for item, one in zip((sedan, van), numbers, strict=True)
    )
    base = Site("Grid", vehicles=classes).with_values(
        {
            "open_h": 8.0, "close_h": 9.0, "conveyor_speed_m_s": 0.25, "pusher_pitch_m": 1.0,
            "car_spacing_m": 6.0, "least_gap_m": 1.0, "wheel_position_m": 12.0,
            "patience_median_s": 14_400.0, "second_loader_factor": 0.5, "loaders": ((0.0, 1.0),),
            "set_change_min": 5.0, "damp_limit_saturation": 0.25,
        }
    )  # fmt: skip
    site = base.with_values(values)
    assert not check_site(site), [str(problem) for problem in check_site(site)]
    return site


def steps(low: int, high: int) -> st.SearchStrategy[float]:
    """A multiple of the step."""
    return st.integers(low, high).map(lambda count: count * STEP_S)


def _crew(draw: st.DrawFn, site: Site) -> CrewDay:
    """A crew that is off by halves, and looks and acts after multiples of a car's time."""
    apart = st.integers(0, 5).map(lambda cars: cars * 6 * STEP_S)
    factors = st.lists(st.sampled_from((0.5, 1.0, 1.5)), min_size=5, max_size=5)
    return prompt_crew(
        site,
        delay_s=np.array(draw(st.lists(apart, min_size=1, max_size=5))),
        count_factor=np.array(draw(factors)),
        weigh_factor=np.array(draw(factors)),
        hood_misjudged=np.array(draw(st.lists(st.booleans(), min_size=7, max_size=7))),
        count_every_s=draw(apart),
        weigh_every_s=draw(apart),
        hoods_every_s=draw(apart),
        count_takes_s=draw(apart),
        hoods_take_s=draw(apart),
        weighing_takes_s=draw(apart),
    )


@st.composite
def tied_cases(draw: st.DrawFn, early: int = 40, late: int = 8, within: int = 50) -> Case:
    """Up to so many cars that come, pay, load and stop the belt at multiples of one step.

    Late ones come when the first half hour, by which waits are judged, is just over; either come
    within so many steps.
    """
    n = draw(st.integers(1, early))
    late = draw(st.integers(0, late))
    site = gridded_site(
        {
            "pay_lanes": draw(
                st.sampled_from(
                    (((0.0, 1.0),), ((0.0, 3.0),), ((0.0, 1.0), (OPEN_S + 60.0, 3.0)),
                     ((0.0, 3.0), (OPEN_S + 100.0, 1.0), (OPEN_S + 200.0, 2.0)))
                )
            ),
            "loading_line_cars": draw(st.sampled_from((0, 1, 2, 7))),
            "stack_limit_cars": draw(st.sampled_from((0, 1, 3, 20))),
            "loaders": draw(st.sampled_from((((0.0, 1.0),), ((0.0, 1.0), (OPEN_S + 80.0, 2.0))))),
            "set_change_cars": draw(st.sampled_from(("wait", "unwiped"))),
            "wheel_during_stop": draw(st.sampled_from(("idle", "off"))),
            "spin_change_s": draw(st.sampled_from((0.0, 2.0, 4.0, 30.0))),
            "damp_rewash_share": draw(st.sampled_from((0.0, 0.6))),
            "finishers": draw(st.sampled_from(FINISHERS)),
            "finish_area_s_m2": draw(st.sampled_from((0.0, STEP_S, 3 * STEP_S))),
            "finish_film_s_kg": 0.0,
            "exit_patience_s": draw(steps(0, 15)),
            "finish_order": draw(st.sampled_from(("first", "hood", "members"))),
            "rewash_return_s": draw(steps(0, 6)),
            "film_after_rinse_kg_m2": draw(st.sampled_from((0.05, 0.3))),
        }
    )  # fmt: skip
    arrivals = draw(st.lists(steps(0, within), min_size=n, max_size=n))
    after = st.integers(-3, within).map(lambda count: (HALF_HOUR + count) * STEP_S)
    arrivals += draw(st.lists(after, min_size=late, max_size=late))
    arrivals, n = sorted(arrivals), n + late
    starts = sorted(draw(st.lists(st.one_of(steps(0, 100), steps(445, 505)), max_size=4)))

    def column(values: st.SearchStrategy[float]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.array(draw(st.lists(values, min_size=n, max_size=n)))

    def passes() -> Passes:
        stops = st.sampled_from((0.0, 0.0, 0.0, STEP_S, 5 * STEP_S))
        fate = st.sampled_from((0.1, 0.5, 0.9))
        return Passes(column(steps(0, 6)), np.ones(n), column(stops), column(fate))

    kinds = np.array(draw(st.lists(st.integers(0, 1), min_size=n, max_size=n)))
    cars = DayCars(
        OPEN_S + np.array(arrivals),
        kinds,
        np.where(kinds == 0, 5.0, 6.0),
        np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n))),
        column(steps(0, 12)),
        column(st.sampled_from(PATIENCE_S).map(float)),
        passes(),
        passes(),
        tuple((OPEN_S + start, OPEN_S + start + draw(steps(1, 8))) for start in starts),
        _crew(draw, site),
        np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n))),
    )
    cloth = draw(st.sampled_from(("", "8:02", "30 %", "8:01; 40 %")))
    rule = parse_rule(draw(st.sampled_from(RULES)))
    day = prepare_day(site, conditions(opening=0.5))
    return Case(site, day, cars, rule, parse_changes(cloth, site.wear.sets_owned))

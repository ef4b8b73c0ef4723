"""What Numba compiles is the same as plain Python, in which it can be stepped through."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np

from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import best_of_plans, figures, flow, foresight, tallies_by_hands
from sim.day.kernel.hands import PLAN_TALLY, HandPlans
from sim.day.rules import FULL, REDUCED
from sim.day.setup import prepare_day
from sim.inputs import Site
from tests import lines_run
from tests.day.sites import conditions

CLAIMS = (
    "tests/day/test_plain.py::test_each_timetable_of_finishers_is_a_day_of_its_own",
    "tests/day/test_plain.py::test_fewer_cells_promise_no_less",
    "tests/day/test_kernel.py::test_a_band_and_a_dry_set_act_where_they_are_just_met",
    "tests/day/test_kernel.py::test_a_band_ends_where_its_lower_end_is_just_met",
    "tests/day/test_kernel.py::test_a_crew_looks_and_acts_where_its_moment_is_just_met",
    "tests/day/test_kernel.py::test_a_flow_is_not_used_where_the_cloth_moves_cars",
    "tests/day/test_kernel.py::test_both_models_agree_on_the_demo[quiet]",
    "tests/day/test_kernel.py::test_an_empty_day_agrees",
    "tests/day/test_many.py::test_a_crew_forgets_from_one_rule_to_the_next",
    "tests/day/test_many.py::test_rules_whose_lines_part_are_alone_too[0]",
    "tests/day/test_many.py::test_switches_are_changes_of_the_wiping",
    "tests/day/test_cues.py::test_a_cue_acts_at_its_limits",
    "tests/day/test_cues.py::test_a_strip_is_weighed_only_so_often",
    "tests/day/test_cues.py::test_a_weighing_stops_the_belt_unless_the_line_has_a_gap",
    "tests/day/test_cues.py::test_what_is_read_while_an_act_is_due_is_not_heeded",
    "tests/day/test_cues.py::test_hoods_are_looked_at_only_so_often",
    "tests/day/test_hands.py::test_a_car_waits_as_long_as_it_may",
    "tests/day/test_hands.py::test_those_of_closing_time_stay_until_the_last_car",
    "tests/day/test_hands.py::test_whose_turn_it_is",
    "tests/decide/test_best_possible.py::test_least_cost_equals_enumeration",
    "tests/decide/test_best_possible.py::test_moisture_after_a_car_is_never_overstated",
    "tests/decide/test_best_possible.py::test_re_washes_and_dry_sets_are_spoken_of",
    "tests/physics/test_wear.py",
)
"""Short claims that between them reach nearly every line of what is compiled."""


def test_what_is_compiled_holds_its_claims_in_plain_python() -> None:
    """These claims hold without Numba too; lines of what it compiles count here alone, as compiled
    code can bear no marks."""
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1"}
    if lines_run.is_counting():
        environment[lines_run.ASKED] = "compiled"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *CLAIMS],
        cwd=lines_run.ROOT,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]


def short_day() -> Site:
    """Two hours of wet cars, of which nothing is sent round again."""
    return Site("Short").with_values(
        {"close_h": 9.0, "damp_rewash_share": 0.0, "damp_limit_saturation": 0.3, "strip_count": 40}
    )


def test_each_timetable_of_finishers_is_a_day_of_its_own() -> None:
    """Damp cars of two rules under three timetables, run together: as many leave damp, and as many
    are dried, as at a site that has those finishers."""
    site, told = short_day(), conditions(60.0, opening=0.8)
    people = np.array([[0, 0], [2, 2], [0, 3]], np.int64)
    plans = HandPlans(np.array([7.0 * 3600.0, 8.0 * 3600.0]), people)
    day, cars = prepare_day(site, told), make_cars(DayDraw(5), site, told)
    _, by_plan = tallies_by_hands(site, day, cars, [FULL, REDUCED], plans)
    left = []
    for rule, found in zip((FULL, REDUCED), by_plan, strict=True):
        for (early, late), row in zip(people.tolist(), found.tolist(), strict=True):
            held = site.with_values({"finishers": ((0.0, float(early)), (28_800.0, float(late)))})
            alone = figures(held, prepare_day(held, told), cars, rule).day
            got = dict(zip(PLAN_TALLY, row, strict=True))
            assert got["left_damp"] == alone["left_damp"]
            assert got["finished_cars"] == alone["finished_cars"]
            left.append(got["left_damp"])
    assert left[3] > left[5] > left[4]


def test_fewer_cells_promise_no_less() -> None:
    """Plans that end in one cell are made one in favour of the bound: with fewer cells the best of
    plans can only look better."""
    site, told = short_day(), conditions(30.0, opening=0.8)
    cars = make_cars(DayDraw(6), site, told)
    nodes = foresight(flow(site, prepare_day(site, told), cars), site, 8)
    count = len(nodes.low)
    gain = np.column_stack([np.ones(count), np.zeros(count)])  # for each full wipe
    values = [best_of_plans(nodes, gain, np.full(count, 2.0), cells)[0] for cells in (1, 2, 8, 64)]
    assert values == sorted(values, reverse=True)
    assert values[0] > values[-1]

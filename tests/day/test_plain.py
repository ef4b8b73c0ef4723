"""What Numba compiles is the same as plain Python, in which it can be stepped through."""

from __future__ import annotations

import os
import subprocess
import sys

from tests import lines_run

CLAIMS = (
    "tests/day/test_kernel.py::test_a_band_and_a_dry_set_act_where_they_are_just_met",
    "tests/day/test_kernel.py::test_a_band_ends_where_its_lower_end_is_just_met",
    "tests/day/test_kernel.py::test_a_crew_looks_and_acts_where_its_moment_is_just_met",
    "tests/day/test_kernel.py::test_a_flow_is_not_used_where_the_cloth_moves_cars",
    "tests/day/test_kernel.py::test_both_models_agree_on_the_demo[quiet]",
    "tests/day/test_many.py::test_a_crew_forgets_from_one_rule_to_the_next",
    "tests/day/test_many.py::test_rules_whose_lines_part_are_alone_too[0]",
    "tests/day/test_many.py::test_switches_are_changes_of_the_wiping",
    "tests/day/test_cues.py::test_a_cue_acts_at_its_limits",
    "tests/day/test_cues.py::test_a_strip_is_weighed_only_so_often",
    "tests/day/test_cues.py::test_a_weighing_stops_the_belt_unless_the_line_has_a_gap",
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

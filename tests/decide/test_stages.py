"""A comparison in stages: the same answers as at once, and when more days are not needed."""

from __future__ import annotations

from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import replace

import pytest

from app.answers.serial import write
from sim.day.figures import Figure, Range, range_of
from sim.decide.compare import Question, compare, compare_in_stages, first_stage, is_sure_enough
from sim.errors import InputError
from sim.inputs import INPUTS, Scenario, Site
from tests.day.sites import conditions
from tests.seeds import seed

SITE = Site("One Hour").with_values({"open_h": 8.0, "close_h": 9.0})
SCENARIOS = (Scenario("Always full"), Scenario("Always reduced", "reduced"))
ASKED = Question(SITE, conditions(20.0), SCENARIOS, 1_024, seed("stages"), known=frozenset())
TWO_STAGES = replace(ASKED, replications=512)


@pytest.fixture(scope="module")
def at_once() -> dict[int, str]:
    """The answers of 256, 512 and 1,024 runs, each computed at once and in one process."""
    return {days: write(compare(replace(ASKED, replications=days))) for days in (256, 512, 1_024)}


def test_stages_equal_answers_at_once(at_once: dict[int, str]) -> None:
    """Every stage is, bit for bit, the answer that its runs give at once."""
    found = {one.replications: write(one) for one in compare_in_stages(ASKED)}
    assert found == at_once


def test_workers_do_not_change_a_stage(at_once: dict[int, str], two_processes: Executor) -> None:
    """Two processes give the bits that one gives."""
    found = list(compare_in_stages(TWO_STAGES, two_processes, two_processes))
    assert [write(one) for one in found] == [at_once[256], at_once[512]]


@pytest.mark.parametrize("workers", [1, 8])
def test_the_order_of_ending_does_not_change_a_stage(at_once: dict[int, str], workers: int) -> None:
    """However many pieces are computed at a time, and whichever ends first, the bits stay."""
    with ThreadPoolExecutor(workers) as pool:
        found = list(compare_in_stages(TWO_STAGES, pool, pool))
    assert [write(one) for one in found] == [at_once[256], at_once[512]]


def test_progress_goes_on_from_stage_to_stage() -> None:
    """Each stage counts on from the runs before it, to its own total; none is run twice. The
    second and the third add days to the sites there are."""
    told: list[tuple[int, int]] = []
    stages = compare_in_stages(ASKED, progress=lambda done, total: told.append((done, total)))
    assert [one.replications for one in stages] == [256, 512, 1_024]
    done = [row[0] for row in told]
    assert done == [*range(2, 513, 2), *range(516, 1_025, 4)]
    assert [total for runs, total in told if runs in (256, 258, 512, 516)] == [256, 512, 512, 1_024]


def test_few_days_are_one_stage() -> None:
    """A question of fewer days than the first stage has is answered at once, as by `compare`."""
    few = replace(ASKED, replications=3)
    assert first_stage(few) == few
    (only,) = compare_in_stages(few)
    assert write(only) == write(compare(few))
    assert first_stage(ASKED) == replace(ASKED, replications=256)


def test_a_day_without_chance_needs_one_stage() -> None:
    """Without cars and belt stops days do not differ, and the first stage is the last."""
    still = SITE.with_values({"stops_per_h": 0.0})
    known = frozenset(INPUTS)
    calm = replace(ASKED, site=still, conditions=conditions(0.0), known=known)
    assert [one.replications for one in compare_in_stages(calm)] == [256]


def test_a_question_with_problems_is_refused() -> None:
    """Before anything is run, every problem of the question is raised."""
    with pytest.raises(InputError, match="0 scenarios"):
        next(compare_in_stages(replace(ASKED, scenarios=())))


@pytest.mark.parametrize(
    ("error", "site", "is_enough"),
    [
        (0.49, 0.0, True),  # below half a car, the last digit printed
        (0.51, 0.0, False),
        (4.9, 50.0, True),  # below a tenth of the site uncertainty's width
        (5.1, 50.0, False),
        (5.1, float("nan"), False),  # guesses not drawn: the digits alone decide
        (float("nan"), 50.0, True),  # a rare event has no run error to bring down
    ],
)
def test_the_rule_to_stop_by(error: float, site: float, is_enough: bool) -> None:
    """Half the run error against half the last digit, or a tenth of the site's width."""
    (found,) = compare_in_stages(replace(ASKED, replications=2, known=None))
    row = Figure(
        100.0, Range(90.0, 110.0), range_of(100.0 - error, 100.0 + error),
        range_of(100.0 - site / 2, 100.0 + site / 2),
    )  # fmt: skip
    column = replace(found.columns[0], figures={"cars_washed": row}, differences=None)
    assert is_sure_enough(replace(found, columns=(column,))) is is_enough


def test_a_difference_keeps_a_comparison_going() -> None:
    """Fine figures are not enough while a difference between them is coarse."""
    (found,) = compare_in_stages(replace(ASKED, replications=2, known=None))
    fine = Figure(100.0, Range(90.0, 110.0), Range(99.9, 100.1))
    columns = [replace(one, figures={"cars_washed": fine}) for one in found.columns]
    apart = columns[1].differences
    assert apart is not None
    coarse = replace(apart["cars_washed"], run_error=Range(-3.0, 3.0))
    assert is_sure_enough(replace(found, columns=(columns[0],)))
    columns[1] = replace(columns[1], differences={"cars_washed": coarse})
    assert not is_sure_enough(replace(found, columns=tuple(columns)))

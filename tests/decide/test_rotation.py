"""Sets in rotation: the event loop against the finite-source queue, and against calendars by hand.

The queue itself is held against a textbook in `tests/published/test_finite_source.py`.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from sim.decide.cloth.stock import (
    Want,
    away_hours,
    compare_owned,
    finite_source,
    follow,
    short_by_formula,
    turn_over,
)
from sim.inputs import Site
from tests.queue_sites import Verdict, hold
from tests.seeds import generator
from tests.sizes import Size

ON_H, AWAY_H = 30.0, 40.0
PLANTED = 1.15


def rounds(sets: int, count: int, length: int, on_h: float) -> tuple[list[float], list[float]]:
    """Shares of changes without a dry set, and of time waited, of independent rounds with every
    time exponential."""
    rng = generator(f"rotation {sets}")
    none, waited = [], []
    for _ in range(count):
        found = turn_over(
            sets,
            rng.exponential(on_h, length).tolist(),
            rng.exponential(AWAY_H, length).tolist(),
        )
        none.append(found.none_ready)
        waited.append(found.waited_share)
    return none, waited


def check(verdict: Verdict, wrong: Verdict) -> None:
    """Theory holds, the interval proves something, and the planted error is noticed."""
    assert verdict.inside
    assert verdict.tight
    assert not wrong.inside


@pytest.mark.soak
@pytest.mark.parametrize("sets", [2, 3])
def test_exponential_times_turn_over_as_the_queue_says(sets: int, size: Size) -> None:
    """With every time exponential the event loop finds no dry set as often, and waits as long, as
    the finite-source queue says (99.9 % intervals), and not with sets that stay 15 % longer."""
    count, length = size(small=40, full=400), 6_000
    theory = short_by_formula(sets, ON_H, AWAY_H)
    none, waited = rounds(sets, count, length, ON_H)
    wrong_none, wrong_waited = rounds(sets, count, length, ON_H * PLANTED)
    check(hold(theory.none_ready, np.array(none)), hold(theory.none_ready, np.array(wrong_none)))
    check(
        hold(theory.waited_share, np.array(waited)),
        hold(theory.waited_share, np.array(wrong_waited)),
    )


def test_one_set_always_waits() -> None:
    """A single set never has another one ready, and waits for all of its time away."""
    found = turn_over(1, [30.0] * 50, [40.0] * 50)
    assert found.none_ready == 1.0
    assert found.waited_share == pytest.approx(40.0 / 70.0, rel=1e-12)
    theory = short_by_formula(1, 30.0, 40.0)
    assert theory.none_ready == pytest.approx(1.0)
    assert theory.waited_share == pytest.approx(40.0 / 70.0, rel=1e-12)


@pytest.mark.parametrize(("sets", "short"), [(2, 0.5), (3, 0.0)])
def test_fixed_times_need_no_more_sets_than_the_sum_says(sets: int, short: float) -> None:
    """Away 40 h and 30 h on the wheel: two sets take 70 h for two turns of 30, so every second
    change waits 10 h; with three none does (1 + ⌈40/30⌉ = 3)."""
    found = turn_over(sets, [30.0] * 100, [40.0] * 100)
    assert found.none_ready == short
    assert found.waited_share == pytest.approx(short * 2 * 10.0 / 70.0, abs=1e-12)


def test_the_formula_goes_down_with_more_sets() -> None:
    """Each set more makes it rarer that none is ready; probabilities stay probabilities."""
    shares = [short_by_formula(sets, ON_H, AWAY_H).none_ready for sets in range(1, 8)]
    assert all(b < a for a, b in itertools.pairwise(shares))
    for sets in range(1, 8):
        p = finite_source(sets, 1 / AWAY_H, 1 / ON_H).p
        assert p.min() >= 0.0
        assert p.sum() == pytest.approx(1.0, abs=1e-12)


def test_a_calendar_is_followed_by_hand() -> None:
    """Two sets, a dry one at noon of three days running, 16 h to dry: the third noon after a
    laundry of 40 h finds none, and what finds none is left out."""
    noons = [Want(24.0 * day + 12.0, 16.0, True) for day in range(3)]
    assert follow(2, noons) == [True, True, True]
    laundry = Want(24.0 + 7.0, 40.0, False)
    mixed = sorted([*noons, laundry], key=lambda want: want.at_h)
    # noon of day 0 → dry again at 28:00, laundry at 31:00 takes it until 71:00
    assert follow(2, mixed) == [True, True, False, False]
    assert follow(1, noons) == [False, False, False]
    assert follow(3, mixed) == [True, True, True, True]


def test_rows_say_what_sets_are_good_for() -> None:
    """One row a number of sets up to two more than are owned; a calendar without peak days says
    nothing of them."""
    site = Site("Sets").with_values({"sets_owned": 2, "launder_turn_h": 24.0, "set_dry_h": 16.0})
    assert away_hours(site, laundered=True) == 40.0
    assert away_hours(site, laundered=False) == 16.0
    rows = compare_owned(site, [Want(7.0 + 24.0 * n, 40.0, False) for n in range(5)], 24.0, 40.0)
    assert [row.sets for row in rows] == [1, 2, 3, 4]
    assert [row.morning_ready for row in rows] == [0.0, 0.6, 1.0, 1.0]
    assert all(row.peak_ready is None for row in rows)

"""Which measurement to make tomorrow: what it is expected to save against closed forms, and what
is offered."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from sim.decide.next_measurement import (
    AT_AN_HOUR,
    LEAST_PART,
    NextMeasurement,
    Option,
    WhatNext,
    expected_saving,
    next_measurements,
    options,
    ranked,
)
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import EFFORT, HOODS, INPUTS, MEASURED, SOAKED, SPIN, Site
from tests.day.sites import conditions
from tests.small_wash import PLANNED

SITE = Site("Next wash")
QUESTION = SwitchQuestion(SITE, conditions(40), Wish.of(SITE, "cost"), 7, known=frozenset())


# ---- what a measurement is expected to save


def test_a_measurement_that_tells_two_kinds_apart() -> None:
    """Half of the sites are of each of two kinds. The first rule costs 0 at the first kind and 20
    at the other, the second 10 and 0, and is best before. After a measurement that tells the first
    kind for sure it is 10 dearer there (expected value of perfect information, Raiffa & Schlaifer
    1961, from memory); after one that tells the other kind nothing changes, nor after nothing."""
    count = 400
    first = np.arange(count) < count // 2
    loss = np.where(first[:, None], [0.0, 10.0], [20.0, 0.0])
    none = np.zeros(count)
    sure = np.where(first, 0.0, -1e3)
    assert expected_saving(loss, none, sure) == (pytest.approx(10.0), 1.0)
    assert expected_saving(loss, none, sure[::-1]) == (pytest.approx(0.0), 0.0)
    assert expected_saving(loss, none, none) == (0.0, 0.0)
    assert expected_saving(loss, sure, none) == (0.0, 0.0)


def test_a_normal_measurement_is_worth_what_the_unit_loss_integral_says(
    rng: np.random.Generator,
) -> None:
    """A rule costs x more than another at a site, x normal with mean m and standard deviation s;
    x is measured with an error of standard deviation e. The expected value of such sample
    information is s*·(φ(k) − k·Φ(−k)), s* = s²/√(s² + e²), k = m/s* (Raiffa & Schlaifer 1961,
    section 5.4, from memory), by 2,400 measurements among 4,096
    sites."""
    middle, apart, error, count = 3.0, 10.0, 8.0, 4_096
    x = middle + apart * norm.ppf((np.arange(count) + 0.5) / count)
    loss = np.column_stack([np.zeros(count), x])
    none, found = np.zeros(count), []
    for truth in x[rng.permutation(count)[:2400]]:
        seen = truth + error * rng.standard_normal()
        found.append(expected_saving(loss, none, -0.5 * ((seen - x) / error) ** 2)[0])
    star = apart**2 / np.hypot(apart, error)
    k = middle / star
    worth = star * (norm.pdf(k) - k * norm.sf(k))
    half = 3.3 * np.std(found, ddof=1) / np.sqrt(len(found))
    assert abs(np.mean(found) - worth) < half
    assert half < 0.2 * worth


def test_what_is_tried() -> None:
    """Hoods and strips every two hours while the wash is open, the others once."""
    every = options(SITE)
    for kind in MEASURED:
        times = [one.at_s for one in every if one.kind == kind]
        if kind not in AT_AN_HOUR:
            assert times == [None]
            continue
        assert len(times) > 3
        line = SITE.line
        assert all(at and 3600.0 * line.open_h < at < 3600.0 * line.close_h for at in times)
        assert np.diff([at for at in times if at is not None]) == pytest.approx(7200.0)


def measured(kind: str, money: float, at_s: float | None = None) -> NextMeasurement:
    """A measurement that is expected to save so much."""
    return NextMeasurement(Option(kind, at_s), money, 1.0, 0.5)


def test_what_is_offered() -> None:
    """A kind once, at its best hour, by what it saves for a minute; at most three, none that saves
    a tenth of the best or less, or less than a coin."""
    rows = np.zeros((4, 4, 2))
    rows[:, :, 0] = [[30.0, 20.0, 25.0, 0.5]] * 4
    every = ranked([Option(HOODS, 9.0), Option(HOODS, 11.0), Option(SPIN), Option(SOAKED)], rows)
    told = WhatNext(PLANNED, PLANNED, 4, every)
    offered = [(one.option.kind, one.option.at_s) for one in told.offered]
    assert offered == [(HOODS, 9.0), (SPIN, None)]
    assert told.offered[0].per_minute == pytest.approx(30.0 / EFFORT[HOODS][0])
    assert [one.option.at_s for one in told.hours(HOODS)] == [9.0, 11.0]
    small = WhatNext(PLANNED, PLANNED, 4, (measured(HOODS, 0.9),))
    assert small.offered == ()
    assert WhatNext(PLANNED, PLANNED, 4, ()).offered == ()
    low = LEAST_PART * 30.0 / EFFORT[HOODS][0] * EFFORT[SPIN][0]
    few = WhatNext(PLANNED, PLANNED, 4, (measured(HOODS, 30.0), measured(SPIN, 0.9 * low)))
    assert [one.option.kind for one in few.offered] == [HOODS]


def test_measured_tomorrow_for_another_day() -> None:
    """Both days draw the same sites; what is offered comes with its luck and a share of changes,
    by the same seeds again the same; where nothing is guessed nothing is offered."""
    tomorrow = replace(QUESTION, conditions=conditions(25))
    np.testing.assert_array_equal(
        QUESTION.experiment.points(0, 8), tomorrow.experiment.points(0, 8)
    )
    told: list[tuple[int, int]] = []
    found = next_measurements(
        QUESTION, tomorrow, None, lambda done, of: told.append((done, of)),
        sites=16, truths=4, kinds=(HOODS, SOAKED),
    )  # fmt: skip
    again = next_measurements(QUESTION, tomorrow, sites=16, truths=4, kinds=(HOODS, SOAKED))
    assert found == again
    worth = [one.per_minute for one in found]
    assert worth == sorted(worth, reverse=True)
    assert all(one.money >= 0.0 and 0.0 <= one.changes <= 1.0 for one in found)
    assert told[-1] == (36, 36)
    assert sorted(told) == told
    known = frozenset(name for name, row in INPUTS.items() if row.prior is not None)
    asked = replace(QUESTION, known=known)
    assert next_measurements(asked, asked) == ()

"""What a measurement is worth before anybody makes it: against what is known in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from sim.day.rules import FULL
from sim.day.setup import cloth_numbers
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion
from sim.decide.worth import (
    Floats,
    LookedAt,
    _of_truth,
    busy_s,
    likelihood_of,
    times_of,
    worth_of_measuring,
)
from sim.inputs import EFFORT, HOODS, INPUTS, MEASURED, SOAKED, SPIN, TOWEL, Site
from sim.learn.answer import MeasurementWorth, WorthOfMeasuring
from sim.learn.weigh_in import TOO_FEW
from tests.day.sites import conditions
from tests.small_wash import PLANNED

SITE = Site("Worth wash").with_values({"weigh_in_log_sd": 0.02, "towel_log_sd": 0.05})
QUESTION = SwitchQuestion(SITE, conditions(40), Wish.of(SITE, "cost"), 7, known=frozenset())
COUNT = 40
FIRST = np.arange(COUNT) < COUNT // 2
"""Of two kinds of site, which are of the first."""


def two_kinds(name: str, low: float, high: float, count: int = COUNT) -> LookedAt:
    """Sites that differ in one input alone. The first rule costs 0 at those of the first kind and
    20 at the others; the second one 10 and 0."""
    first = np.arange(count) < count // 2
    sites = tuple(SITE.with_values({name: low if one else high}) for one in first)
    grid = len(times_of(SITE))
    none = np.zeros((count, grid))
    cars: Floats = np.arange(60.0) * 60.0 + 3600.0 * SITE.line.open_h
    holding = np.array([one.wheel.holding_capacity_kg_kg for one in sites])
    return LookedAt(
        sites=sites,
        u=np.linspace(0.1, 0.9, count)[:, None],
        loss=np.where(first[:, None], [0.0, 10.0], [20.0, 0.0]),
        damp=np.where(first[:, None], [1.0, 5.0], [9.0, 2.0]),
        holding=holding,
        limit=0.5 * holding,
        allowed=np.array([0.02 if one else 0.06 for one in first]),
        moistures=none + 0.4,
        shares=np.where(first[:, None], 0.05, 0.9) + none,
        last=np.where(first[:, None], 0.05, 0.9) + none,
        before=none,
        left=(cars,) * count,
        was_damp=tuple((np.arange(60) % 20 < (1 if one else 18)).astype(float) for one in first),
        cloths=tuple(cloth_numbers(site, QUESTION.conditions) for site in sites),
    )


@pytest.mark.parametrize(
    ("kind", "name", "low", "high"),
    [
        (SOAKED, "holding_capacity_kg_kg", 1.5, 3.2),
        (SPIN, "throw_off_time_s", 200.0, 9_000.0),
        (HOODS, "film_cv", 0.24, 0.26),
    ],
)
def test_what_tells_two_kinds_apart_is_worth_what_perfect_knowledge_is(
    kind: str, name: str, low: float, high: float
) -> None:
    """Half of the sites are of each kind. Without the measurement the second rule costs 5 in the
    mean, the first one 10; who knows the kind pays nothing. So a measurement that tells the kinds
    apart is worth 5 (Raiffa & Schlaifer 1961, expected value of perfect information, from memory):
    10 at each site of the first kind and nothing at the others. Four cars fewer leave damp where
    the rule changes. One that tells nothing is worth nothing."""
    looked = two_kinds(name, low, high)
    rows = np.array([_of_truth((QUESTION, looked, truth, (kind,))) for truth in range(COUNT)])
    saved, more, changed = rows[:, 0].T
    np.testing.assert_allclose(saved, np.where(FIRST, 10.0, 0.0), atol=1e-9)
    np.testing.assert_allclose(more, np.where(FIRST, -4.0, 0.0), atol=1e-9)
    assert changed.mean() == pytest.approx(0.5)
    if kind != SOAKED:
        return
    blind = np.array([_of_truth((QUESTION, looked, t, (TOWEL,)))[0][0] for t in range(COUNT)])
    assert np.abs(blind).max() <= 10.0


def test_few_sites_are_told_apart_as_well_as_many() -> None:
    """Of sites as few as weights must leave of many, hoods that tell the two kinds apart are worth
    what perfect knowledge is, as above; so they are under every wish."""
    few = int(TOO_FEW) + 2
    for kind in ("cost", "mean", "days"):
        asked = replace(QUESTION, wish=Wish.of(SITE, kind))
        looked = two_kinds("film_cv", 0.24, 0.26, few)
        rows = [_of_truth((asked, looked, truth, (HOODS,)))[0] for truth in range(few)]
        saved = np.array(rows)[:, 0]
        np.testing.assert_allclose(saved, np.where(np.arange(few) < few // 2, 10.0, 0.0), atol=1e-9)


def test_a_measured_site_explains_its_own_measurement() -> None:
    """Over errors of measuring, a site that was measured is on average likelier than one of the
    other kind; so is one that is alike."""
    looked = two_kinds("throw_off_time_s", 200.0, 9_000.0)
    for kind in (SPIN, HOODS, TOWEL):
        for truth in (0, COUNT - 1):
            log = np.mean([
                likelihood_of(QUESTION, looked, truth, kind, Generator(PCG64(seed)))
                for seed in range(12)
            ], axis=0)  # fmt: skip
            own = FIRST if FIRST[truth] else ~FIRST
            assert log[own].mean() > log[~own].mean()


def test_where_nothing_is_guessed_nothing_is_worth_measuring() -> None:
    """A site that entered every guess itself has no drawn input, and no measurement is offered by
    worth; those that are not told from luck stand by their work, the least first."""
    known = frozenset(name for name, row in INPUTS.items() if row.prior is not None)
    asked = SwitchQuestion(SITE, conditions(40), Wish.of(SITE, "cost"), 7, known=known)
    assert worth_of_measuring(asked) == ()
    each = tuple(
        MeasurementWorth(kind, money, 5.0, 0.0, 0.1)
        for kind, money in zip(MEASURED, (9.0, 0.0, 0.0, 0.0, 30.0, 1.0), strict=True)
    )
    told = WorthOfMeasuring(PLANNED, 8, tuple(sorted(each, key=lambda one: -one.money)))
    assert told.order[:2] == (TOWEL, SOAKED)
    assert set(told.order) == set(MEASURED)
    works = [EFFORT[kind] for kind in told.order[2:]]
    assert works == sorted(works)


def test_the_busy_strip_is_weighed_while_the_wash_is_open() -> None:
    """At the end of the busiest three hours."""
    at_s = busy_s(SITE, QUESTION.conditions)
    assert SITE.line.open_h * 3600.0 < at_s < SITE.line.close_h * 3600.0
    assert QUESTION.rules[0] == FULL

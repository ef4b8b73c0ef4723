"""When an advice is firm: shares of sites, what does not matter, and what luck may have made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.day.blocks import Shape, take_apart
from sim.day.figures import FIGURES
from sim.decide.answer import Comparison, Standing
from sim.decide.compare import Question, compare
from sim.decide.firm import Contest, Floats, Measure, strongest
from sim.decide.how_sure import run_blocks, site_word
from sim.inputs import INPUTS, Scenario, Site
from tests import seeds
from tests.day.sites import conditions

OWN = np.zeros(100)


def measure(apart: Floats, slack: float, base: Floats = OWN, error: float = 0.0) -> Measure:
    """Something of which the advice has so much more at each site, the mean known to ± an error."""
    mean = float(apart.mean())
    return Measure(np.stack([base + apart, base]), mean - error, mean + error, slack)


def share(count: int, value: float, rest: float) -> Floats:
    """At so many of 100 sites a value, at the others the rest."""
    return np.where(np.arange(100) < count, value, rest)


def stands(
    worth: Floats, damp: Floats = OWN, cost: Floats = OWN, base: Floats = OWN, error: float = 0.0
) -> Standing:
    """An advice whose worth matters from 10 on, whose burden from 0.01 on and its cost from 50."""
    burden = measure(damp, 0.01, base)
    return Contest(measure(worth, 10.0, error=error), (burden,), measure(cost, 50.0)).standing


def test_nineteen_of_twenty_are_asked_for() -> None:
    """Bettered by enough to matter at 5 of 100 sites it is firm, at 6 it is not."""
    for count, is_firm in ((0, True), (5, True), (6, False), (60, False)):
        found = stands(share(count, -11.0, 100.0))
        assert (found.sites, found.bettered, found.is_firm) == (100, count / 100, is_firm)


def test_what_does_not_matter_speaks_for_neither() -> None:
    """Less worth by what does not matter is no site against the advice, nor is a condition missed
    by a slack more, nor money within what matters."""
    found = stands(share(60, -10.0, 100.0), damp=share(40, 0.01, 0.0), cost=share(90, 50.0, 0.0))
    assert (found.bettered, found.loses) == (0.0, 0.0)


def test_conditions_come_before_worth() -> None:
    """Where one breaks the condition by more than matters beyond the other, worth says nothing;
    within it, or where neither breaks it, worth decides."""
    assert stands(share(0, 0, 500.0), damp=share(30, 0.02, 0.0)).bettered == pytest.approx(0.3)
    assert stands(share(30, -500.0, 0.0), damp=share(100, -0.02, 0.0), base=OWN + 0.03).is_firm
    below = stands(share(30, -500.0, 20.0), damp=share(100, 0.02, 0.0), base=OWN - 0.05)
    assert below.bettered == pytest.approx(0.3)


def test_money_may_be_lost_at_one_site_of_five() -> None:
    """However clear the advice is by the wish: at 21 of 100 sites it loses too much."""
    for count, is_firm in ((20, True), (21, False)):
        found = stands(share(0, 0, 100.0), cost=share(count, 51.0, -10.0))
        assert (found.loses, found.is_firm) == (count / 100, is_firm)


def test_luck_alone_makes_nothing_firm() -> None:
    """A difference whose run error holds zero and more than matters is not told, so not firm; one
    that is surely too small to matter is."""
    assert not stands(share(0, 0, 20.0), error=21.0).is_firm
    assert stands(share(0, 0, 22.0), error=21.0).is_firm
    assert stands(share(0, 0, 1.0), error=8.0).is_firm


def test_less_than_twenty_sites_tell_nothing() -> None:
    """19 of 20 can't be told of 19 sites."""
    clear = Standing(20, 0.0, 0.0)
    assert clear.is_firm
    assert not replace(clear, sites=19).is_firm


def test_the_strongest_rival_leaves_it_least_firm() -> None:
    """By sites, by money at their own border, and by luck; the first of equals."""
    clear, money = Standing(100, 0.02, 0.0), Standing(100, 0.0, 0.5)
    luck = replace(clear, told=False)
    assert strongest([(0, clear), (1, money), (2, clear)]) == (1, money)
    assert strongest([(0, clear), (2, luck)]) == (2, luck)
    assert strongest([(3, clear), (2, clear)]) == (3, clear)
    assert strongest([]) is None


# ---- columns that differ by luck alone -----------------------------------------------------------


def test_columns_that_differ_by_luck_alone_are_not_called_better(rng: np.random.Generator) -> None:
    """Of 400 pairs without any true difference 5 % are called better or worse by chance, by a run
    error of 95 %; with a true difference as large as a day's noise all are."""
    info, shape, shift = FIGURES["margin"], Shape(), 160.0
    called = []
    for truth in (0.0, shift):
        noise = truth + rng.normal(0.0, 160.0, (400, shape.blocks, shape.points, shape.days))
        words = [site_word(info, take_apart(values), 1.0) for values in noise]
        called.append(sum(word.endswith(("better", "worse")) for word in words))
    assert called[0] <= 36  # binomial, 400 at 5 %: 99.9 % below 36 (statistical tables)
    assert called[1] == 400


# ---- a comparison --------------------------------------------------------------------------------

SITE = Site("Two Hours").with_values({"open_h": 8.0, "close_h": 10.0, "matters_money": 5.0})


ASKED = Question(
    SITE, conditions(60.0, opening=0.9),
    (Scenario("Full"), Scenario("Less", "reduced"), Scenario("Too", "reduced")), 256,
    seeds.seed("firm"),
    known=frozenset(INPUTS) - {"holding_capacity_kg_kg", "throw_off_time_s", "damp_cost"},
)  # fmt: skip


@pytest.fixture(scope="module")
def compared() -> Comparison:
    """Full and reduced wiping twice of a short day over 128 sites, a few guesses drawn."""
    return compare(ASKED)


def test_each_column_stands_against_each(compared: Comparison) -> None:
    """Over all drawn sites; equal columns are never better than one another, and of two different
    ones at no site each is the better one."""
    assert compared.sites == 128
    for at, column in enumerate(compared.columns):
        assert len(column.against) == len(compared.columns)
        assert column.against[at] == Standing(128, 0.0, 0.0)
        for other, found in enumerate(column.against):
            assert found.sites == 128
            assert found.bettered + compared.columns[other].against[at].bettered <= 1.0 + 1e-9
            assert bool(found.turns) <= (not found.is_firm)
    assert compared.columns[1].against[2] == Standing(128, 0.0, 0.0)
    assert compared.columns[1].against[0] == compared.columns[2].against[0]


def test_shares_are_what_a_recount_finds(compared: Comparison) -> None:
    """Counted site by site in a loop: who misses the allowed share by less, by more than matters,
    else who earns more by more than matters."""
    runs = run_blocks(ASKED.over_sites, ASKED.scenarios, Shape()).runs
    allowed, share = SITE.wishes.allowed_damp_share, SITE.wishes.matters_share
    first = take_apart(runs[0].day["left_damp_share"], luck=runs[0].luck).sites
    damp = take_apart(
        runs[1].day["left_damp_share"] - runs[0].day["left_damp_share"], luck=runs[0].luck
    ).sites
    earns = take_apart(runs[0].day["margin"] - runs[1].day["margin"], luck=runs[0].luck).sites
    bettered = 0
    for own, more, money in zip(first, damp, earns, strict=True):
        mine, other = max(0.0, own - allowed), max(0.0, own + more - allowed)
        if abs(mine - other) > share:
            bettered += mine > other
        else:
            bettered += money < -SITE.wishes.matters_money
    assert 0 < bettered < 128
    assert compared.columns[0].against[1].bettered == pytest.approx(bettered / 128)


def test_the_rival_is_another_column(compared: Comparison) -> None:
    """Never the advised one itself; alone there is none."""
    for at in range(3):
        found = compared.rival(at)
        assert found is not None
        assert found[0] != at
        assert found[1] == compared.columns[at].against[found[0]]
    alone = replace(compared, columns=(replace(compared.columns[0], against=()),))
    assert alone.rival(0) is None

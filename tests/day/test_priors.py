"""Sites drawn from priors: medians, ranges, and never an impossible site."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import lognorm, norm

from sim.checks import check_site, dry_cloth_leaves
from sim.day.drawn import draw_site, uncertain
from sim.day.setup import damp_criterion
from sim.inputs import INPUTS, Site
from tests.sizes import size_now

SITE = Site("Priors")
NAMES = uncertain(SITE, frozenset())
JOINED = {"throw_off_moisture_kg_kg", "critical_moisture_kg_kg"}


def only(name: str, u: float) -> float:
    """One input at a quantile, all others at their medians."""
    return float(str(draw_site(SITE, (name,), np.array([u])).value(name)))


def test_what_the_site_entered_is_not_drawn() -> None:
    """Only inputs with a prior are uncertain, and none that the site has entered itself."""
    assert all(INPUTS[name].prior for name in NAMES)
    assert "blower_removal" in NAMES
    assert "blower_removal" not in uncertain(SITE, frozenset({"blower_removal"}))
    assert "allowed_film_kg_m2" in NAMES
    by_limit = SITE.with_values({"damp_limit_saturation": 0.6})
    assert "allowed_film_kg_m2" not in uncertain(by_limit, frozenset())
    by_film = by_limit.with_values({"damp_limit_from": "film"})
    assert "allowed_film_kg_m2" in uncertain(by_film, frozenset())


@pytest.mark.parametrize("name", [n for n in NAMES if n not in JOINED])
def test_the_quantiles_of_a_prior(name: str) -> None:
    """The median is the table's value, 2.5 and 97.5 % are the prior's ends, to 6 %.

    Ends stated to two digits are not exactly symmetric about the median, and what the table
    allows cuts a little off.
    """
    row = INPUTS[name]
    assert row.prior is not None
    span = row.prior.high - row.prior.low
    assert only(name, 0.5) == pytest.approx(float(str(row.default)), rel=0.02, abs=0.02 * span)
    assert only(name, 0.025) == pytest.approx(row.prior.low, rel=0.2, abs=0.06 * span)
    assert only(name, 0.975) == pytest.approx(row.prior.high, rel=0.2, abs=0.06 * span)


def test_throw_off_is_drawn_as_a_share_of_the_capacity() -> None:
    """With twice the capacity the moisture where throw-off ends doubles too."""
    names = ("holding_capacity_kg_kg", "throw_off_moisture_kg_kg")
    for u in (0.05, 0.5, 0.9):
        site = draw_site(SITE, names, np.array([u, 0.5]))
        share = site.wheel.throw_off_moisture_kg_kg / site.wheel.holding_capacity_kg_kg
        assert share == pytest.approx(0.55 / 2.2, rel=1e-5)  # the cut at 1


@settings(max_examples=size_now(small=150, full=2_000))
@given(u=st.lists(st.floats(1e-9, 1 - 1e-9), min_size=len(NAMES), max_size=len(NAMES)))
def test_no_impossible_site_is_drawn(u: list[float]) -> None:
    """Whatever the quantiles, the drawn site passes every check of a site."""
    assert check_site(draw_site(SITE, NAMES, np.array(u))) == []


@given(u=st.floats(0.01, 0.98), name=st.sampled_from(NAMES))
def test_quantiles_rise(u: float, name: str) -> None:
    """A higher quantile never gives a lower value."""
    assert only(name, u) <= only(name, u + 0.01)


@given(u=st.lists(st.floats(0.01, 0.99), min_size=4, max_size=4))
def test_dry_cloth_reaches_what_is_allowed(u: list[float]) -> None:
    """The allowed film is drawn as an independent lognormal, given that it lies above what dry
    cloth leaves at the drawn site: the distribution function of what was drawn, by SciPy's
    lognormal, is the quantile that was asked for."""
    names = ("film_after_rinse_kg_m2", "blower_removal", "uptake_max", "allowed_film_kg_m2")
    site = draw_site(SITE, names, np.array(u))
    row = INPUTS["allowed_film_kg_m2"]
    assert row.prior is not None
    sigma = math.log(row.prior.high / row.prior.low) / (2 * norm.ppf(0.975))
    believed = lognorm(s=sigma, scale=0.015)
    least = dry_cloth_leaves(site)
    found = site.wiping.allowed_film_kg_m2
    assert found > least
    below = believed.cdf(max(least * 1.001, row.low))
    asked = (believed.cdf(found) - below) / (believed.cdf(row.high) - below)
    assert asked == pytest.approx(u[3], abs=1e-6)
    assert 0.0 < damp_criterion(site)[1] <= 1.0


def test_without_blowers_the_film_is_drawn_all_the_same() -> None:
    """With the blowers down dry cloth may not reach the allowed film: the site passes, its damp
    limit is 0, and what people mind is drawn as ever."""
    down = SITE.with_values({"blower_removal": 0.0, "film_after_rinse_kg_m2": 0.2})
    assert check_site(down) == []
    assert damp_criterion(down)[1] == 0.0
    drawn = draw_site(down, ("allowed_film_kg_m2",), np.array([0.3]))
    same = draw_site(SITE, ("allowed_film_kg_m2",), np.array([0.3]))
    assert drawn.wiping.allowed_film_kg_m2 == pytest.approx(
        same.wiping.allowed_film_kg_m2, rel=0.05
    )


def test_a_drawn_capacity_keeps_the_rest_possible() -> None:
    """With the smallest capacity, moistures that were not drawn are brought down to it."""
    site = SITE.with_values({"critical_moisture_kg_kg": 2.0, "dry_set_moisture_kg_kg": 1.0})
    drawn = draw_site(site, ("holding_capacity_kg_kg",), np.array([1e-9]))
    assert check_site(drawn) == []
    assert drawn.drying.critical_moisture_kg_kg <= drawn.wheel.holding_capacity_kg_kg

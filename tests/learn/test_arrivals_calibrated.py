"""What counts leave of a site's arrivals is neither too sure nor too vague."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sim.learn.forecast.fit import fit
from sim.learn.forecast.likelihood import Counted
from tests.learn.arrivals_sbc import bare_terms, drawn_counts, drawn_site, least_p, ranks
from tests.remembering import kept
from tests.seeds import generator
from tests.sizes import Size, size_now

PLANTED, FULL = 60, 1_000
"""Fits that tell a planted mistake, which are as many as the small form makes; and in full."""


def both_widths(fits: int) -> NDArray[np.int64]:
    """Ranks among draws as they are and among draws half as wide, of the same fits."""
    return kept(
        ("arrivals calibrated", fits),
        lambda: ranks(generator("arrivals calibrated"), fits, widths=(1.0, 0.5)),
    )


@pytest.mark.soak
def test_ranks_of_true_values_are_uniform(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Of sites drawn from the guesses each term, each spread and what is expected two weeks ahead
    has its rank anywhere alike: 20 bins, chi-square, p > 0.01 after Holm."""
    found = both_widths(size(small=PLANTED, full=FULL))[0]
    p = least_p(found)
    record_figure("values ranked", found.shape[1], "")
    record_figure("least probability of such ranks", p, "after Holm")
    assert p > 0.01


def test_a_wrong_account_of_full_hours_is_found() -> None:
    """Full hours taken for what came, instead of for the least: the same test fails."""

    def as_if_all_came(counted: Counted) -> Counted:
        return replace(counted, full=np.zeros_like(counted.full))

    p = least_p(ranks(generator("wrong likelihood"), PLANTED, as_if_all_came)[0])
    assert p < 0.01


def test_draws_half_as_wide_are_found() -> None:
    """Draws half as far from the middle, of the same fits: the same test fails."""
    p = least_p(both_widths(size_now(small=PLANTED, full=FULL))[1])
    assert p < 0.01


def test_without_counts_the_guesses_are_left() -> None:
    """Where no hour was counted, terms and spreads are what was guessed, to half a percent of a
    guess's width."""
    rng = generator("no counts")
    terms = bare_terms(rng)
    counted = drawn_counts(rng, terms, drawn_site(rng, terms))
    nothing = replace(counted, seen=np.zeros_like(counted.seen))
    found = fit(nothing, terms.layout, terms.guesses)
    guesses = terms.guesses
    assert found.terms == pytest.approx(guesses.middle, abs=0.005)
    assert np.log(found.spreads / guesses.spreads) == pytest.approx(0.0, abs=0.005)
    assert np.sqrt(np.diag(found.log_cov)) == pytest.approx(guesses.spread_sd, rel=0.005)
    covariance = np.linalg.inv(found.factor.T @ found.factor)
    sd = np.where(guesses.moving, guesses.sd * found.spreads[2], guesses.sd)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(sd, rel=0.005)

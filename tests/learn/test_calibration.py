"""Beliefs mean what they say: over sites drawn from the very prior, truths take every place among
the sites that measurements leave equally often, and 90 % intervals hold them as often as they say.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import chi2, chisquare

from sim.inputs import AFTERNOON, DAMP, SOAKED
from tests.learn.calibration import (
    DRAWS,
    NAMES,
    fits,
    half_as_wide,
    of_wetter_cloth,
    uneven,
)
from tests.seeds import generator
from tests.sizes import Size

Record = Callable[[str, float, str], None]
PLANTED = 60
"""Fits that tell a planted mistake, and so many that the small form makes of the right ones."""
LIKELY = 0.01
"""Ranks that chance makes as uneven as that in one of a hundred such tests are called uneven."""


@pytest.mark.soak
def test_truths_take_every_place_equally_often(size: Size, record_figure: Record) -> None:
    """Ranks of the truth of each input among 19 sites drawn of what measurements leave: no input's
    are uneven over twenty bins (chi-squared, p > 0.01 after Holm), whatever of soaked strips, a
    strip at the damp limit or of an afternoon, hoods, spin tests and towels was measured. Strange
    sites are among the truths as often as is believed."""
    count, sites = size(small=PLANTED, full=1_000), size(small=1_024, full=2_048)
    found = fits(count, sites)
    chance = uneven(found.ranks)
    record_figure("fits", count, "fits")
    record_figure("least probability of such ranks", float(chance.min()), "after Holm")
    record_figure("effective sites", float(np.median(found.effective)), "sites")
    record_figure("said to misfit", float(found.warned.mean()), "of fits")
    assert found.ranks.shape == (count, len(NAMES))
    assert chance.min() > LIKELY


@pytest.mark.parametrize("mistake", ["a wrong likelihood", "half the width"])
def test_a_planted_mistake_fails_the_same_test(mistake: str) -> None:
    """Cloth that is taken to hold half as much again, and sites drawn half as far from their mean:
    as many fits as are made with every run call each uneven, by far."""
    wrong = mistake == "a wrong likelihood"
    found = fits(PLANTED, 1_024, likelihood=of_wetter_cloth) if wrong else fits(
        PLANTED, 1_024, left=half_as_wide
    )  # fmt: skip
    chance = uneven(found.ranks)
    assert chance.min() < LIKELY / 10.0
    if wrong:
        assert NAMES[int(chance.argmin())] == "holding_capacity_kg_kg"
    else:
        assert (chance < LIKELY).mean() > 0.5


@pytest.mark.soak
def test_intervals_hold_sites_of_the_prior_as_often_as_they_say(
    size: Size, record_figure: Record
) -> None:
    """Of 400 sites drawn from the prior, each weighed three times, the 90 % interval of the share
    of damp cars at the busiest hour holds 344 to 375 (99 % binomial range); of fewer likewise."""
    count, sites = size(small=60, full=400), size(small=1_024, full=4_096)
    found = fits(count, sites, made=((SOAKED, DAMP, AFTERNOON),))
    held = int(found.covered.sum())
    record_figure("held", held, f"of {count}")
    record_figure("effective sites", float(np.median(found.effective)), "sites")
    low, high = (344, 375) if count == 400 else (round(0.78 * count), count - 1)
    assert low <= held <= high


def test_unevenness_is_that_of_a_general_library() -> None:
    """Pearson's test by SciPy, and Holm's rule by hand: the smallest probability counts as often as
    there are inputs, the next once less."""
    ranks = generator("ranks").integers(DRAWS + 1, size=(300, 4))
    ranks[:90, 2] = 3
    alone = [chisquare(np.bincount(one, minlength=DRAWS + 1)).pvalue for one in ranks.T]
    order = np.argsort(alone)
    by_hand, least = {}, 0.0
    for place, which in enumerate(order.tolist()):
        least = max(least, min(1.0, alone[which] * (4 - place)))
        by_hand[which] = least
    assert uneven(ranks) == pytest.approx([by_hand[i] for i in range(4)])
    assert chi2.sf(chi2.isf(0.02, DRAWS), DRAWS) == pytest.approx(0.02)

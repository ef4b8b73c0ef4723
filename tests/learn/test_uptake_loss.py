"""What damp hoods tell of the uptake that wear takes: against plain sums and known truths."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from sim.inputs import Site
from sim.learn.cloth_looks import (
    DAY_SD,
    SITE_SD,
    DampCount,
    LossBelief,
    loss_belief,
    loss_prior,
)
from tests.seeds import generator
from tests.sizes import Size

Floats = NDArray[np.float64]
ETA = 60_000.0
SITE = Site("Hoods")
PRIOR = loss_prior(SITE, frozenset())


def share_of(loss: Floats) -> Floats:
    """A share of damp cars that grows with the uptake lost, as a steep model might have it."""
    return np.asarray(1.0 / (1.0 + np.exp(-(-3.0 + 12.0 * loss))))


def told(*counts: DampCount) -> LossBelief:
    """The belief after some counts."""
    return loss_belief(PRIOR, counts, ETA, share_of)


def test_before_any_count_the_belief_is_the_table_of_inputs() -> None:
    """Its median is the site's value, its 95 % range that of the prior; a loss that the site
    entered is known, and no count moves it."""
    assert PRIOR.quantile(0.5) == pytest.approx(0.2, abs=0.002)
    assert PRIOR.quantile(0.025) == pytest.approx(0.08, abs=0.01)
    assert PRIOR.quantile(0.975) == pytest.approx(0.42, abs=0.02)
    known = loss_prior(SITE.with_values({"uptake_loss_at_life": 0.3}), {"uptake_loss_at_life"})
    assert (known.is_known, known.mean) == (True, 0.3)
    assert loss_belief(known, [DampCount(20, 20, ETA)], ETA, share_of) is known


def test_the_belief_is_the_sum_that_it_stands_for() -> None:
    """Weights equal prior times likelihood with SciPy's binomial, both offsets added up on a fine
    even grid of normal quantiles instead of at Gauss and Hermite's places."""
    counts = (DampCount(20, 2, 1_000.0), DampCount(18, 9, 45_000.0))
    found = told(*counts)
    places = stats.norm.ppf((np.arange(400) + 0.5) / 400)
    wanted = []
    for loss in PRIOR.value:
        over_sites = np.ones(400)
        for count in counts:
            base = float(share_of(np.array([loss * count.wear_cars / ETA]))[0])
            logit = math.log(base / (1.0 - base)) + SITE_SD * places[:, None] + DAY_SD * places
            chance = 1.0 / (1.0 + np.exp(-logit))
            over_sites *= stats.binom.pmf(count.damp, count.hoods, chance).mean(axis=1)
        wanted.append(over_sites.mean())
    weight = np.array(wanted) / np.sum(wanted)
    assert found.weight == pytest.approx(weight, rel=5e-3)


def test_old_beside_new_tells_and_either_alone_tells_less() -> None:
    """Seventeen of twenty damp under old cloth and one under new raise the loss; as many damp under
    both lower it. A count under new cloth alone leaves the range as it was."""

    def width(belief: LossBelief) -> float:
        return belief.quantile(0.95) - belief.quantile(0.05)

    new, old = DampCount(20, 1, 0.0), DampCount(20, 17, ETA)
    assert told(new, old).mean > PRIOR.mean + 0.03
    assert told(DampCount(20, 3, 0.0), DampCount(20, 3, ETA)).mean < PRIOR.mean - 0.03
    assert width(told(new)) == pytest.approx(width(PRIOR), rel=0.02)
    assert told(new).mean == pytest.approx(PRIOR.mean, abs=0.002)
    assert width(told(new, old)) < width(PRIOR)


def test_more_damp_hoods_under_old_cloth_mean_more_loss() -> None:
    """The mean grows with each further damp hood under the old set."""
    means = [told(DampCount(20, 2, 0.0), DampCount(20, k, ETA)).mean for k in range(0, 21, 2)]
    assert all(a < b for a, b in itertools.pairwise(means))


@pytest.mark.soak
def test_truths_lie_where_the_belief_says(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Of sites drawn from the prior with offsets as believed, and hoods counted under a new and an
    old set, 90 % intervals hold the true loss in 86 to 94 %, either side missing alike."""
    rng, count = generator("uptake loss"), size(small=300, full=4_000)
    below = above = 0
    narrowed = []
    for _ in range(count):
        truth = float(np.interp(rng.random(), (np.arange(60) + 0.5) / 60, PRIOR.value))
        site = SITE_SD * rng.standard_normal()
        seen = []
        for wear in (2_000.0, 50_000.0):
            base = float(share_of(np.array([truth * wear / ETA]))[0])
            logit = math.log(base / (1.0 - base)) + site + DAY_SD * rng.standard_normal()
            damp = int(rng.binomial(20, 1.0 / (1.0 + math.exp(-logit))))
            seen.append(DampCount(20, damp, wear))
        found = told(*seen)
        below += truth < found.quantile(0.05)
        above += truth > found.quantile(0.95)
        narrowed.append(found.quantile(0.95) - found.quantile(0.05))
    held = 1.0 - (below + above) / count
    slack = 3.3 * math.sqrt(0.9 * 0.1 / count)
    assert 0.9 - slack - 0.01 < held < 0.9 + slack + 0.01
    assert below / count < 0.05 + slack
    assert above / count < 0.05 + slack
    record_figure("held by 90 % intervals", 100.0 * held, "%")
    wide = PRIOR.quantile(0.95) - PRIOR.quantile(0.05)
    record_figure("mean width, of the prior's", 100.0 * float(np.mean(narrowed)) / wide, "%")

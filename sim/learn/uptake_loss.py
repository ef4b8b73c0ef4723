"""What wear takes of the cloth's uptake: a guess, until damp cars were counted under old cloth.

A crew looks at so many hoods of cars behind the wheel and counts the damp ones, under a new set
and under an old one. The model says what share comes out damp for each loss of uptake; what it
does not know of the site and of the day moves that share up or down,

    logit P(damp) = logit share(loss) + site + day,

`site` the same in all counts, `day` in each count its own, both normal about 0. So a count under
old cloth alone tells little, and one under old beside one under new cloth tells the loss. Given
these, the number of damp cars is binomial. Both are averaged over (Gauss and Hermite).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from sim.day.drawn import draw_site
from sim.inputs import Site
from sim.learn.cloth_wear import SetState

Floats = NDArray[np.float64]
LOSS: Final = "uptake_loss_at_life"
POINTS = 60
"""Values that stand for the belief, equally probable before any count."""
SITE_SD, DAY_SD = 1.0, 0.4
"""Standard deviations of a logit: of the model at a site, and of a count's hour (guesses)."""
NODES = np.polynomial.hermite_e.hermegauss(21)
WORN = 0.5
"""From this share of the scale of life on a set counts as worn."""


@dataclass(frozen=True, slots=True)
class DampCount:
    """Hoods looked at and how many were damp.

    Attributes:
        wear_cars: of the set on the wheel then [full-wipe equivalents].
    """

    hoods: int
    damp: int
    wear_cars: float


@dataclass(frozen=True, slots=True)
class LossBelief:
    """What is believed of the share of uptake lost at the scale of life; shape (points,).

    Attributes:
        value: ascending; weight: of each, summing to 1.
        is_known: the site entered it.
    """

    value: Floats
    weight: Floats
    is_known: bool

    @property
    def mean(self) -> float:
        """The mean."""
        return float(self.value @ self.weight)

    def quantile(self, share: float) -> float:
        """A quantile, straight between the middles of the points' weights."""
        upto = np.cumsum(self.weight) - 0.5 * self.weight
        return float(np.interp(share, upto, self.value))


def counts_of(states: Sequence[SetState]) -> tuple[DampCount, ...]:
    """All damp counts of a site's sets, each with the wear that the set had then."""
    return tuple(
        DampCount(event.hoods, event.damp_hoods, age)
        for one in states
        for event, age in one.inspections
        if event.hoods is not None and event.damp_hoods is not None
    )


def loss_prior(site: Site, known: Collection[str]) -> LossBelief:
    """What is believed before any count: the prior about the site's value, or the value entered."""
    if LOSS in known:
        return LossBelief(np.array([site.wear.uptake_loss_at_life]), np.ones(1), True)
    middles = (np.arange(POINTS) + 0.5) / POINTS
    value = [draw_site(site, (LOSS,), np.array([u])).wear.uptake_loss_at_life for u in middles]
    return LossBelief(np.array(value), np.full(POINTS, 1.0 / POINTS), False)


def loss_belief(
    prior: LossBelief,
    counts: Sequence[DampCount],
    life_scale_cars: float,
    share_of: Callable[[Floats], Floats],
) -> LossBelief:
    """The belief after some counts.

    Args:
        life_scale_cars: wear at which the whole loss has come about [full-wipe equivalents].
        share_of: share of cars that come out damp by share of uptake lost, any shape.
    """
    if not counts or len(prior.value) == 1:
        return prior
    nodes, weights = NODES
    weights = weights / weights.sum()
    site = SITE_SD * nodes[:, None]  # (sites, days)
    logs = np.zeros((len(prior.value), len(nodes)))
    for count in counts:
        worn = min(1.0, count.wear_cars / life_scale_cars)
        share = np.clip(share_of(prior.value * worn), 1e-4, 1.0 - 1e-4)
        logit = np.log(share / (1.0 - share))[:, None, None] + site + DAY_SD * nodes
        each = -count.damp * np.logaddexp(0.0, -logit)
        each -= (count.hoods - count.damp) * np.logaddexp(0.0, logit)
        logs += np.asarray(logsumexp(each, b=weights, axis=2))
    found = np.log(prior.weight) + np.asarray(logsumexp(logs, b=weights, axis=1))
    weight = np.exp(found - logsumexp(found))
    return LossBelief(prior.value, weight, False)

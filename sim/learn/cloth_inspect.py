"""What looking at a set tells of its life: strips that got shorter, lighter, torn.

Every figure here is a guess, made so that an inspection may move the answer but never alone
decide it: nobody has published how cloth on a wheel fails. The share lost of what a strip was new
is taken to grow in proportion to wear,

    lost = loss at life · wear/η + error,

with the loss at life lognormal about the figure in `CHANNELS`, the same for all sets of a site,
and an error that is normal. What is unknown of the loss at life is averaged over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from sim.inputs import Site
from sim.learn.cloth_wear import SetState

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Channel:
    """One thing that can be looked at.

    Attributes:
        at_life: share lost when the wear is η, median (guess).
        error: standard deviation of a share (guess).
    """

    at_life: float
    error: float


CHANNELS = {
    "length": Channel(0.10, 0.03),
    "mass": Channel(0.20, 0.04),
    "torn": Channel(0.10, 0.03),
}
LOSS_LOG_SD = 0.5
"""Standard deviation of the logarithm of a loss at life, between sites (guess)."""
NODES = np.polynomial.hermite_e.hermegauss(15)
"""Places and weights that average over it: Gauss and Hermite."""


@dataclass(frozen=True, slots=True)
class Inspection:
    """One look at one thing: which of `CHANNELS`, share lost (0 to 1, a new strip 0; errors may
    make it negative), and the wear at that time [full-wipe equivalents]."""

    channel: str
    lost: float
    wear_cars: float


def looks_of(site: Site, states: Sequence[SetState]) -> tuple[Inspection, ...]:
    """All looks at a site's sets."""
    wheel = site.wheel
    found = []
    for event, age in (row for one in states for row in one.inspections):
        if event.length_m is not None:
            found.append(Inspection("length", 1.0 - event.length_m / wheel.strip_length_m, age))
        if event.dry_kg is not None:
            found.append(Inspection("mass", 1.0 - event.dry_kg / wheel.strip_dry_mass_kg, age))
        if event.torn is not None:
            found.append(Inspection("torn", event.torn / wheel.strip_count, age))
    return tuple(found)


def looks_log_likelihood(looks: Sequence[Inspection], log_eta: Floats) -> Floats:
    """Logarithm of the likelihood of looks at each ln η; shape of `log_eta`."""
    total = np.zeros(log_eta.shape)
    nodes, weights = NODES
    for name, channel in CHANNELS.items():
        own = [look for look in looks if look.channel == name]
        if not own:
            continue
        at_life = channel.at_life * np.exp(LOSS_LOG_SD * nodes)
        each = np.zeros((*log_eta.shape, len(nodes)))
        for look in own:
            share = look.wear_cars * np.exp(-log_eta)
            off = (look.lost - share[..., None] * at_life) / channel.error
            each -= 0.5 * off**2
        total += np.asarray(logsumexp(each, b=weights / weights.sum(), axis=-1))
    return total

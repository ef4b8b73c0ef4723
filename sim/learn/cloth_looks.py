"""What looking at sets tells: strips of their life, damp hoods of the uptake that wear takes.

Strips get shorter, lighter, torn. Every figure of that is a guess, made so that an inspection may
move the answer but never alone decide it: nobody has published how cloth on a wheel fails. The
share lost of what a strip was new is taken to grow in proportion to wear,

    lost = loss at life · wear/η + error,

with the loss at life lognormal about the figure in `CHANNELS`, the same for all sets of a site,
and an error that is normal. What is unknown of the loss at life is averaged over.

A crew looks at so many hoods of cars behind the wheel and counts the damp ones, under a new set
and under an old one. The model says what share comes out damp for each loss of uptake; what it
does not know of the site and of the day moves that share up or down,

    logit P(damp) = logit share(loss) + site + day,

`site` the same in all counts, `day` in each count its own, both normal about 0. So a count under
old cloth alone tells little, and one under old beside one under new cloth tells the loss. Given
these, the number of damp cars is binomial. All averages are by Gauss and Hermite.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.day.drawn import draw_site
from sim.inputs import Site
from sim.learn.cloth_wear import SetState
from sim.special import logsumexp

Floats = NDArray[np.float64]


class Channel(NamedTuple):
    """What can be looked at: median share lost when the wear is η, and the standard deviation of a
    share (guesses)."""

    at_life: float
    error: float


CHANNELS = {
    "length": Channel(0.10, 0.03),
    "mass": Channel(0.20, 0.04),
    "torn": Channel(0.10, 0.03),
}
LOSS_LOG_SD = 0.5
"""Standard deviation of the logarithm of a loss at life, between sites (guess)."""
LOSS_NODES = np.polynomial.hermite_e.hermegauss(15)
"""Places and weights that average over it."""


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
    nodes, weights = LOSS_NODES
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


# ---- damp hoods ----------------------------------------------------------------------------------


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
        value: ascending, one alone where the site entered it; weight: of each, summing to 1.
    """

    value: Floats
    weight: Floats

    @property
    def is_known(self) -> bool:
        """Whether the site entered it."""
        return len(self.value) == 1

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


def guessed(site: Site, name: str, known: Collection[str], points: int) -> Floats:
    """Equally probable values of a guess about the site's value, ascending; the value alone where
    the site entered it itself."""
    middles = np.array([]) if name in known else (np.arange(points) + 0.5) / points
    drawn = [draw_site(site, (name,), np.array([u])) for u in middles] or [site]
    return np.array([float(str(one.value(name))) for one in drawn])


def loss_prior(site: Site, known: Collection[str]) -> LossBelief:
    """What is believed before any count."""
    value = guessed(site, LOSS, known, POINTS)
    return LossBelief(value, np.full(len(value), 1.0 / len(value)))


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
    if not counts or prior.is_known:
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
    return LossBelief(prior.value, weight)

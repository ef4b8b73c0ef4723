"""Whether a belief means what it says: fits to sites drawn from the very prior that it begins with.

A site is drawn from the mixture of usual and strange ones that is believed in, a few measurements
are made on it with the errors that are believed of it, and it is asked where the truth of each
input lies among `DRAWS` sites drawn from what the measurements leave. If model, likelihood and
weights are right, every rank is equally likely, whatever was measured (simulation-based
calibration: Talts, Betancourt, Simpson, Vehtari and Gelman 2018, arXiv 1804.06788; Cook, Gelman and
Rubin 2006, J. Comput. Graph. Stat. 15:675–692; both from memory). The many chi-squared tests are
held together by Holm's rule (1979, Scand. J. Statist. 6:65–70, from memory).

Truths live through days of their own, unlike those of the sites that judge them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, ndtr, ndtri

from sim.day.drawn import (
    EDGE,
    FURTHER_OUT,
    are_strange,
    draw_site,
    prior_points,
    prior_quantile,
    uncertain,
)
from sim.day.setup import ClothNumbers, cloth_numbers, damp_criterion
from sim.inputs import (
    AFTERNOON,
    CALL_BACK,
    DAMP,
    HOODS,
    LET_PASS,
    SOAKED,
    SPIN,
    TOWEL,
    DemandSpread,
    Site,
    Weighing,
)
from sim.learn.spin import NODES, SpinTest, followed
from sim.learn.towel import SPREADS
from sim.learn.weigh_in import (
    BETA_SIZE,
    MISJUDGED,
    STRANGE,
    WIDER_ERRORS,
    Weights,
    log_likelihood,
    systematic,
    weigh,
)
from sim.learn.weighed_day import PredictedWeighings, WeighedDay, look_at, shown, together
from tests.day.sites import conditions
from tests.remembering import kept
from tests.seeds import generator, seed

Floats = NDArray[np.float64]
BASE = Site("Calibrated wash")
NAMES = uncertain(BASE, ())
DRAWS = 19
"""Sites drawn of what is left, so that a truth has one of twenty ranks among them."""
NOON_S, LATER_S, CLOSED_S = 13.0 * 3600.0, 15.5 * 3600.0, 20.5 * 3600.0
DAY = date(2026, 7, 18)
AIR = replace(conditions(45), spread=DemandSpread(0.2))
"""A busy day whose level is not known."""
LOOKS = (
    Weighing(AFTERNOON, DAY, LATER_S, 0.1, 0.1, cars=20),
    Weighing(HOODS, DAY, NOON_S, 0.0, 0.0, cars=20),
)
LOOKED = WeighedDay(LOOKS, AIR, None)
DRIEST, WETTEST = 0.5, 1.5
"""Moistures from which a spin test begins [kg/kg]: evenly between, by ratio, as it is believed."""
LEAST_HOOD_KG, MOST_HOOD_KG = 0.004, 0.08
"""Water on the middle hood that towels meet [kg]: likewise."""
HOODS_DRIED = 10
MADE = (
    (SOAKED,), (SOAKED, DAMP), (SOAKED, HOODS), (AFTERNOON,), (SOAKED, SPIN), (SOAKED, TOWEL),
)  # fmt: skip
"""What is measured, one set after the other: few enough that many drawn sites are left."""


@dataclass(frozen=True, slots=True)
class Judges:
    """Sites that judge: at which quantiles they were drawn, which are strange, what they would
    have weighed and seen, and their cloth."""

    u: Floats
    strange: NDArray[np.bool_]
    looked: PredictedWeighings
    cloths: tuple[ClothNumbers, ...]

    @property
    def share(self) -> Floats:
        """Share of damp cars among the last twenty at one o'clock, on each one's own day."""
        return np.asarray(self.looked.damp[:, 1])


def judges(count: int) -> Judges:
    """`count` drawn sites, a power of two; once a run."""
    return kept(("calibration", count), lambda: _judges(count))


def _judges(count: int) -> Judges:
    which = (len(NAMES), count, seed("calibration"))
    u = prior_points(*which)
    sites = [draw_site(BASE, NAMES, row) for row in u]
    seen = [look_at(one, [LOOKED], seed("judges"), place) for place, one in enumerate(sites)]
    cloths = tuple(cloth_numbers(one, AIR) for one in sites)
    return Judges(u, are_strange(*which), together(seen), cloths)


@dataclass(frozen=True, slots=True)
class Truth:
    """A site that is measured: its quantiles, whether it is strange, and what it really has."""

    u: Floats
    strange: bool
    site: Site
    looked: PredictedWeighings

    @property
    def wider(self) -> float:
        """How many times as far off its measurements are."""
        return WIDER_ERRORS if self.strange else 1.0


def truth_of(number: int) -> Truth:
    """A site drawn from the prior, strange as often as is believed."""
    rng = generator(f"calibrated site {number}")
    u, strange = rng.random(len(NAMES)), bool(rng.random() < STRANGE)
    if strange:
        u = np.clip(ndtr(FURTHER_OUT * ndtri(u)), EDGE, 1.0 - EDGE)
    site = draw_site(BASE, NAMES, u)
    return Truth(u, strange, site, look_at(site, [LOOKED], seed("truth days"), number))


# ---- measurements of a truth ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Made:
    """Measurements, as `log_likelihood` takes them."""

    at_once: tuple[Weighing, ...]
    days: tuple[WeighedDay, ...]
    spins: tuple[SpinTest, ...]
    places: tuple[int, ...]
    """Of the looks that were taken, among `LOOKS`."""


def measure(truth: Truth, kinds: Collection[str], rng: np.random.Generator) -> Made:
    """Measurements of some kinds, with their errors."""
    at_once: list[Weighing] = []
    wheel, bias = BASE.wheel, prior_quantile(BASE, "scale_bias", rng.random())
    holding, limit = shown(truth.looked.moistures[0, :2], bias).tolist()
    if SOAKED in kinds:
        at_once.append(_strip(SOAKED, holding, truth.wider * wheel.weigh_in_log_sd, rng))
    if DAMP in kinds:
        at_once.append(_strip(DAMP, limit, truth.wider * wheel.strip_log_sd, rng))
    if TOWEL in kinds:
        at_once += towels(truth, rng)
    places = tuple(place for place, look in enumerate(LOOKS) if look.kind in kinds)
    items = []
    for place in places:
        look = LOOKS[place]
        if look.kind == AFTERNOON:
            moisture = float(shown(truth.looked.moistures[0, 2 + place], bias))
            strip = _strip(AFTERNOON, moisture, truth.wider * wheel.strip_log_sd, rng)
            look = replace(look, weight_kg=strip.weight_kg)
        share = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * truth.looked.damp[0, place]
        if truth.strange:
            share = rng.beta(BETA_SIZE * share, BETA_SIZE * (1.0 - share))
        items.append(replace(look, damp_cars=int(rng.binomial(look.cars, share))))
    days = (replace(LOOKED, weighings=tuple(items)),) if items else ()
    spins = (_spin(truth, bias, rng),) if SPIN in kinds else ()
    return Made(tuple(at_once), days, spins, places)


def _strip(kind: str, moisture: float, sd: float, rng: np.random.Generator) -> Weighing:
    weighed = moisture * math.exp(sd * rng.standard_normal())
    return Weighing(kind, DAY, LATER_S, 0.1 * (1.0 + weighed), 0.1)


def _spin(truth: Truth, bias: float, rng: np.random.Generator) -> SpinTest:
    """A strip that is as wet as it happens to be, followed through forty minutes of idling."""
    sd = truth.wider * BASE.wheel.weigh_in_log_sd
    begins = math.exp(rng.uniform(math.log(DRIEST), math.log(WETTEST)))
    begins = min(begins, truth.site.wheel.holding_capacity_kg_kg)
    blank = Weighing(SPIN, DAY, CLOSED_S, 0.1 * (1.0 + begins), 0.1)
    rows = tuple(replace(blank, spun_s=60.0 * minutes) for minutes in (10.0, 40.0))
    test = SpinTest(rows, AIR)
    after = followed([cloth_numbers(truth.site, AIR)], [test], sd)[:, NODES // 2]
    weighed = np.exp(sd * rng.standard_normal(3)) * shown(np.array([begins, *after]), bias)
    weights = (0.1 * (1.0 + weighed)).tolist()
    return replace(
        test,
        weighings=tuple(
            replace(row, weight_kg=weights[0], after_kg=after_kg)
            for row, after_kg in zip(rows, weights[1:], strict=True)
        ),
    )


def towels(truth: Truth, rng: np.random.Generator) -> list[Weighing]:
    """The next ten hoods, each judged and dried."""
    scatter, takes = (
        prior_quantile(BASE, name, rng.random()) for name in ("crew_damp_log_sd", "towel_takes")
    )
    middle = rng.uniform(math.log(LEAST_HOOD_KG), math.log(MOST_HOOD_KG))
    hoods = middle + rng.choice(SPREADS) * rng.standard_normal(HOODS_DRIED)
    limit = damp_criterion(truth.site)[0] * truth.site.reference.areas_m2[0]
    looks = hoods + truth.wider * scatter * rng.standard_normal(HOODS_DRIED)
    back = looks > math.log(limit)
    off = truth.wider * BASE.wheel.towel_log_sd * rng.standard_normal(HOODS_DRIED)
    gains = takes * np.exp(hoods + off)
    item = Weighing(TOWEL, DAY, 0.0, 0.0, 0.2, cars=HOODS_DRIED, damp_cars=int(back.sum()))
    return [
        replace(item, weight_kg=0.2 + float(gain), verdict=CALL_BACK if one else LET_PASS)
        for gain, one in zip(gains, back, strict=True)
    ]


# ---- and what they leave -------------------------------------------------------------------------


Likelihood = Callable[[Judges, Made], Floats]
"""Logarithm of the likelihood of measurements at each of the judges."""


def as_believed(some: Judges, made: Made) -> Floats:
    """By the very functions of the product."""
    looked = some.looked
    columns = list(made.places)
    taken = replace(
        looked,
        moistures=looked.moistures[:, [0, 1, *(2 + place for place in columns)]],
        damp=looked.damp[:, columns],
        damp_before=looked.damp_before[:, columns],
    )
    if made.spins:
        sd = BASE.wheel.weigh_in_log_sd
        spun = np.stack([followed([one], made.spins, sd) for one in some.cloths])
        taken = replace(taken, spun=spun)
    return log_likelihood(BASE, taken, made.at_once, made.days, some.strange, spins=made.spins)


def of_wetter_cloth(some: Judges, made: Made) -> Floats:
    """A mistake: all cloth is taken to hold half as much again."""
    wetter = replace(some.looked, moistures=1.5 * some.looked.moistures)
    return as_believed(replace(some, looked=wetter), made)


Left = Callable[[Floats, Weights, np.random.Generator], Floats]
"""`DRAWS` sites of what measurements leave: normal scores of their quantiles, a row a site."""


def drawn(scores: Floats, weights: Weights, rng: np.random.Generator) -> Floats:
    """As the product draws its ensemble."""
    order = rng.permutation(len(scores))
    return np.asarray(scores[order[systematic(weights.weights[order], DRAWS, rng)]])


def half_as_wide(scores: Floats, weights: Weights, rng: np.random.Generator) -> Floats:
    """A mistake: the same, half as far from their mean."""
    middle = weights.weights @ scores
    return np.asarray(middle + 0.5 * (drawn(scores, weights, rng) - middle))


@dataclass(frozen=True, slots=True)
class Fits:
    """What came of some fits, a row a fit.

    Attributes:
        ranks: of each input's truth among the sites drawn of what is left, 0 to `DRAWS`.
        covered: whether the share of damp cars lies in its 90 % interval.
        warned: whether the measurements are said not to fit.
        effective: effective number of sites left.
    """

    ranks: NDArray[np.int64]
    covered: NDArray[np.bool_]
    warned: NDArray[np.bool_]
    effective: Floats


def fits(
    count: int,
    sites: int,
    made: Sequence[Collection[str]] = MADE,
    likelihood: Likelihood = as_believed,
    left: Left = drawn,
) -> Fits:
    """`count` truths, each measured and judged by `sites` drawn sites."""
    some = judges(sites)
    scores = ndtri(some.u)
    rows = []
    for number in range(count):
        truth = kept(("calibrated", number), partial(truth_of, number))
        rng = generator(f"calibrated measurements {number}")
        found = measure(truth, made[number % len(made)], rng)
        # whoever draws otherwise from what is left begins with the same likelihoods
        question = (likelihood.__name__, sites, number, tuple(made[number % len(made)]))
        weights = weigh(kept(question, partial(likelihood, some, found)), some.strange)
        among = left(scores, weights, rng)
        ranks = (among < ndtri(truth.u)).sum(axis=0)
        low, high = interval(some.share, weights.weights)
        share = float(truth.looked.damp[0, 1])
        rows.append((ranks, low <= share <= high, not weights.fits, weights.effective))
    ranks, covered, warned, effective = zip(*rows, strict=True)
    return Fits(np.array(ranks), np.array(covered), np.array(warned), np.array(effective))


def interval(values: Floats, weights: Floats) -> tuple[float, float]:
    """The middle 90 % of weighted values, ends included."""
    order = np.argsort(values)
    sums = np.cumsum(weights[order])
    low, high = np.searchsorted(sums, [0.05, 0.95])
    last = len(values) - 1
    return float(values[order[min(low, last)]]), float(values[order[min(high, last)]])


def uneven(ranks: NDArray[np.int64]) -> Floats:
    """Probability of ranks at least as uneven as these by chance alone, an input each, by Pearson's
    chi-squared test over twenty bins; then as Holm's rule has them, which multiplies the smallest
    by how many there are."""
    many = np.array([np.bincount(column, minlength=DRAWS + 1) for column in ranks.T])
    expected = len(ranks) / (DRAWS + 1)
    found = chdtrc(DRAWS, ((many - expected) ** 2 / expected).sum(axis=1))
    order = np.argsort(found)
    held = np.maximum.accumulate(found[order] * (len(found) - np.arange(len(found))))
    back = np.empty_like(held)
    back[order] = np.minimum(1.0, held)
    return back

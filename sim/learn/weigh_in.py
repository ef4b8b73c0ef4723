"""What measurements tell of a site: drawn sites weighted by how well each explains them.

Sobol points of the priors are weighted by the likelihood of the weighings and resampled. The
weighed moisture is lognormal about that of the model,

    ln(weighed) = ln(model) + error,   error normal with mean 0,

with the weigh-in's standard deviation for a soaked strip, and that of a strip's place on the
wheel added (in squares) for a strip from the wheel. The scale may be biased, the same in all
weighings: it shows 1 + b times what hangs on it, beside a dry weight that is right, so that the
model's moisture x is weighed as (1 + b)·(1 + x) − 1. The likelihood of all of them together is
averaged over the prior of b, which is what drawing b with each site comes to. Of a towel, whose
own error is wider, the bias is left out. The model's moisture is

- soaked: the holding capacity;
- damp, afternoon: the cloth of the compiled day at that time. Each drawn site lives through days
  of its own, with the cars that the day had as far as they are known (`sim.learn.weighed_day`),
  so that all of them average over what is not known of the day.

Cars that were looked at after a strip was weighed are counts of a binomial distribution, whose
probability is the share of cars that the model leaves damp with its cloth of that time. They tell
most: they are what is asked for. A strip at the damp limit is weighed when cars begin to come out
damp: that only few had until then is a Poisson probability of as many as the model leaves damp.
Without a count such a strip is taken as damp limit × holding capacity, as if half the cars had
come out damp then. Of the last hoods before some time, looked at without any scale, the share is
that which the model leaves damp of those very cars. Spin tests are judged in `sim.learn.spin`,
towels in `sim.learn.towel`.

The model may not hold at a site: another law of uptake, a scale that is off, a cloth unlike any
that was thought of. So one site in so many (`STRANGE`) is believed to be a strange one: its
inputs lie further out than believed (`sim.day.drawn`), and what it weighs and leaves damp is off
the model by more: errors of the logarithm are wider, those of crew and towel as well, and the
share of damp cars is beta about that of the model, which makes the count beta-binomial; how many
had come out damp before a strip was weighed says nothing there. Where the usual sites explain what
was seen, the strange ones hardly count; where they don't, the strange ones take over: what was
counted then still moves the answer, with a wider range. How probable a strange site has become
tells how far to trust the model.

A site moves, and what was measured long before the newest measurement counts less, at a rate that
is learnt as well (`sim.learn.fading`).

Importance weights, their effective number (Kish 1965, Survey Sampling), systematic resampling
(Kitagawa 1996, J. Comput. Graph. Stat. 5:1–25) and the beta-binomial distribution are from
memory.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.drawn import (
    Belief,
    are_strange,
    draw_site,
    prior_points,
    prior_values,
    uncertain,
)
from sim.day.engine import parallel_map
from sim.inputs import DAMP, HOODS, MEASURED, MISFIT, SOAKED, SPIN, TOWEL, Site, Weighing
from sim.learn import spin, towel
from sim.learn.answer import CheckedWeighing, Posterior, PosteriorShift, Three
from sim.learn.fading import RATES, Moved, known_as_by, rates_of
from sim.learn.spin import SpinTest
from sim.learn.weighed_day import (
    DAYS,
    LEAST_MOISTURE,
    PredictedWeighings,
    WeighedDay,
    look_at,
    shown,
    together,
)
from sim.special import betaln, logsumexp, pdtr, xlog1py, xlogy

Floats = NDArray[np.float64]

FIRST_SIZE, MOST_SIZE = 2_048, 32_768
"""Points of the prior that are weighted: at first, and at most."""
ENOUGH = 200.0
"""Effective number from which on no more points are drawn."""
TOO_FEW = 30.0
"""Weights that leave a lower effective number are evened out until they leave as many."""
STRANGE = 0.05
"""One site in so many is a strange one before anything was weighed; a guess."""
DOUBTFUL = 0.5
"""The model does not fit where a strange site has become more probable than that."""
WIDER_ERRORS = 3.0
"""So many times as far off is a strip, a towel or a crew's look of a strange site; a guess."""
BETA_SIZE = 4.0
"""Sum of the two parameters of the beta distribution of a strange site's share of damp cars: the
share is known as well as by so many cars; a guess."""
KEPT = 1_024
"""Members of the ensemble."""
LEAST_PROBABILITY = 1e-12
"""Of anything that a crew says: it may have waited, whatever the model says."""
MISJUDGED = 0.01
"""Share of cars that whoever looks takes for damp or dry by mistake; a guess."""
FEW = 10
"""Damp cars that may go by, at most, until a crew says that cars begin to; a guess."""
HALVINGS = 30
"""Steps in which the power is found that leaves enough sites."""
PIECE = 16
"""Drawn sites that a worker looks at in one go."""
LEAST_NARROWER, LEAST_SHIFT = 0.1, 0.1
"""An input counts as touched if its 90 % range, in quantiles of the prior, got narrower by so much,
or its median moved by so much."""


@dataclass(frozen=True, slots=True)
class Weights:
    """Weights of drawn sites.

    Attributes:
        weights: summing to 1; evened out where too few sites would have been left.
        effective, strange: effective number and weight of the strange sites, before evening out.
        is_evened: whether they were evened out.
    """

    weights: Floats
    effective: float
    strange: float
    is_evened: bool = False

    @property
    def fits(self) -> bool:
        """Whether enough drawn sites come near, and usual ones rather than strange ones."""
        return self.effective >= TOO_FEW and self.strange <= DOUBTFUL


@dataclass(frozen=True, slots=True)
class Reweighed:
    """Points of the prior, `size` of them, weighted by the likelihood of weighings.

    Attributes:
        names: inputs that are drawn.
        at_once: weighings that need no day.
        strange: which of the points are strange sites; shape (size,).
        moves: probability of each rate of `sim.learn.fading.RATES`, or 1 of standing still.
    """

    names: tuple[str, ...]
    size: int
    at_once: tuple[Weighing, ...]
    looked: PredictedWeighings
    strange: NDArray[np.bool_]
    weights: Weights
    moves: tuple[float, ...]


def posterior(
    site: Site,
    known: Collection[str],
    weighings: Sequence[Weighing],
    days: Sequence[WeighedDay],
    seed: int,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    first_size: int = FIRST_SIZE,
    most_size: int = MOST_SIZE,
    spins: Sequence[SpinTest] = (),
) -> Posterior:
    """What a site's weighings leave of its guesses; see `reweigh` for what is given.

    Raises:
        InputError: if a rule of a weighing can't be used at the site.
    """
    found = reweigh(
        site, known, weighings, days, seed, executor, progress, first_size, most_size, spins
    )
    looked, weights = found.looked, found.weights
    # strange sites beside each other, so that there are as many as their weight says
    order = np.argsort(found.strange, kind="stable")
    stream = Generator(PCG64(SeedSequence([seed, 11])))
    kept = order[systematic(weights.weights[order], KEPT, stream)]
    # equal parts of the ensemble shall be alike: how wet the cloth is beside its damp limit
    moistures = looked.moistures[kept]
    wetness = moistures[:, -1] / moistures[:, 1] if days else moistures[:, 1]
    kept = kept[np.argsort(wetness, kind="stable")]
    kinds = {w.kind for w in found.at_once} | ({SPIN} if spins else set())
    kinds |= {w.kind for day in days for w in day.weighings}
    weighed = tuple(kind for kind in MEASURED if kind in kinds)
    if not weights.fits:
        weighed = (*weighed, MISFIT)
    places = tuple(kept.tolist())
    belief = Belief(found.names, seed, found.size, places, weighed, weights.effective)
    judged = judge(
        looked, found.at_once, days, np.flatnonzero(~found.strange), kept, spins,
        site.wheel.towel_takes,
    )  # fmt: skip
    moves = math.fsum(p * rate for p, rate in zip(found.moves, RATES, strict=False))
    return Posterior(belief, weights.strange, STRANGE, judged, touched(site, belief), moves)


def reweigh(
    site: Site,
    known: Collection[str],
    weighings: Sequence[Weighing],
    days: Sequence[WeighedDay],
    seed: int,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    first_size: int = FIRST_SIZE,
    most_size: int = MOST_SIZE,
    spins: Sequence[SpinTest] = (),
) -> Reweighed:
    """Weights of the prior of a site's guesses by its weighings.

    Args:
        known: inputs that the site entered itself; they are not drawn.
        weighings: all of them; those that need their day count only where one of `days` holds
            them.
        spins: the strips of spin tests, each with the air of its day.
        progress: told how many drawn sites were looked at, of how many so far.
        first_size: a power of two; doubled up to `most_size` while the effective number is low.

    Raises:
        InputError: if a rule of a weighing can't be used at the site.
    """
    names = uncertain(site, known)
    at_once = [w for w in weighings if w.at_once]
    parts: list[PredictedWeighings] = []
    size, seen = first_size, 0
    while True:
        rows = prior_points(len(names), size, seed)
        pieces = [
            (site, names, rows[i : min(size, i + PIECE)], i, tuple(days), tuple(spins), seed)
            for i in range(seen, size, PIECE)
        ]
        already = seen

        def told(done: int, already: int = already, size: int = size) -> None:
            progress(min(size, already + done * PIECE), size)

        parts += parallel_map(_look, pieces, executor, told)
        looked, strange = together(parts), are_strange(len(names), size, seed)
        each = by_rate(site, looked, at_once, days, strange, spins=spins, known=known)
        log = averaged(each)
        found = weigh(log, strange)
        seen = size
        if found.effective >= ENOUGH or size >= most_size:
            moves = tuple((np.exp(each - log) / len(each) @ found.weights).tolist())
            return Reweighed(names, size, tuple(at_once), looked, strange, found, moves)
        size *= 2


def weigh(log: Floats, strange: NDArray[np.bool_], few: float = TOO_FEW) -> Weights:
    """Weights of drawn sites, usual and strange ones, from their log-likelihoods.

    More strange sites are drawn than there are believed to be, so that there are enough where
    they are needed: as a group each has its share of the prior, `STRANGE` and the rest. Weights
    that leave fewer than `few` sites are raised to a power below 1 (tempering), the largest that
    leaves so many.

    Args:
        log: logarithm of the likelihood; shape (sites,).
        strange: which of the sites are strange ones; the same shape.
        few: well below the number of sites, or nothing could be told by any measurement.
    """
    many = np.maximum(1, np.where(strange, strange.sum(), (~strange).sum()))
    prior = np.log(np.where(strange, STRANGE, 1.0 - STRANGE) / many)

    def at(power: float) -> Floats:
        total = prior + power * log
        found = np.exp(total - total.max())
        return np.asarray(found / found.sum())

    weights = at(1.0)
    effective, of_strange = _effective(weights), float(weights[strange].sum())
    low, high = 0.0, 1.0
    if effective < few and _effective(at(0.0)) > few:
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if _effective(at(middle)) >= few else (low, middle)
        return Weights(at(low), effective, of_strange, is_evened=True)
    return Weights(weights, effective, of_strange)


def _effective(weights: Floats) -> float:
    """Effective number of weighted members (Kish)."""
    return 1.0 / float((weights**2).sum())


Piece = tuple[Site, tuple[str, ...], Floats, int, tuple[WeighedDay, ...], tuple[SpinTest, ...], int]


def _look(piece: Piece) -> PredictedWeighings:
    site, names, u, first, days, spins, seed = piece
    found = []
    for number, row in enumerate(u):
        drawn = draw_site(site, names, row)
        one = look_at(drawn, days, seed, first + number)
        found.append(replace(one, spun=spin.spun(drawn, spins)[None]) if spins else one)
    return together(found)


def log_likelihood(
    site: Site,
    looked: PredictedWeighings,
    at_once: Sequence[Weighing],
    days: Sequence[WeighedDay],
    strange: NDArray[np.bool_] | None = None,
    draws: int = DAYS,
    spins: Sequence[SpinTest] = (),
    known: Collection[str] = (),
) -> Floats:
    """Logarithm of the likelihood of measurements at drawn sites, in the mean over how fast a site
    may move (`sim.learn.fading`); shape (sites,).

    Args:
        site: says how far off a weighing may be.
        looked: by `look_at`, a row a drawn site.
        at_once: those that need no day.
        strange: which of the drawn sites are strange ones; None for none of them.
        spins: of which `looked` has the strips.
        known: inputs that the site entered itself.
    """
    return averaged(by_rate(site, looked, at_once, days, strange, draws, spins, known))


def averaged(each: Floats) -> Floats:
    """Logarithm of the mean of likelihoods over the first axis, such as the rates of `by_rate`."""
    return np.asarray(logsumexp(each, axis=0)) - math.log(len(each))


def by_rate(
    site: Site,
    looked: PredictedWeighings,
    at_once: Sequence[Weighing],
    days: Sequence[WeighedDay],
    strange: NDArray[np.bool_] | None = None,
    draws: int = DAYS,
    spins: Sequence[SpinTest] = (),
    known: Collection[str] = (),
) -> Floats:
    """The same at each rate at which the site may move, of `rates_of`; shape (rates, sites)."""
    odd = np.zeros(len(looked.moistures), bool) if strange is None else strange
    tests = (item for test in spins for item in test.weighings)
    seen = (item for day in days for item in day.weighings)
    rates = rates_of(item.day for item in (*at_once, *seen, *tests))
    given = site, looked, at_once, days, odd, draws, spins, known
    return np.array([_at_rate(moved, *given) for moved in rates])


def _at_rate(
    moved: Moved,
    site: Site,
    looked: PredictedWeighings,
    at_once: Sequence[Weighing],
    days: Sequence[WeighedDay],
    odd: NDArray[np.bool_],
    draws: int,
    spins: Sequence[SpinTest],
    known: Collection[str],
) -> Floats:
    # where even dry cloth leaves cars damp no moisture does so: no strip weighed is explained
    model = np.maximum(looked.moistures, LEAST_MOISTURE)
    biases = np.array(prior_values(site, "scale_bias", known))
    total, weighed = np.zeros(len(model)), np.zeros((len(biases), len(model)))
    towels = defaultdict[float, list[Weighing]](list)
    for item in at_once:
        since = moved.since(item.day)
        if item.kind == TOWEL:
            towels[since].append(item)
            continue
        column = 0 if item.kind == SOAKED else 1
        weighed += _log_density(site, item, model[:, column], odd, since, biases)
    for since, group in towels.items():
        for wider, some in ((1.0, ~odd), (WIDER_ERRORS, odd)):
            if not some.any():
                continue
            limits = looked.allowed_kg[some]
            total[some] += towel.log_likelihood(site, group, limits, known, wider, since)
    first = 0
    for test in spins:
        rows = looked.spun[:, first : first + len(test.weighings)]
        wider_by = np.where(odd, WIDER_ERRORS, 1.0)
        since = moved.since(test.weighings[0].day)
        holding = looked.moistures[:, 0]
        weighed += [
            spin.log_likelihood(site, test, rows, holding, wider_by, since, bias)
            for bias in biases.tolist()
        ]
        first += len(test.weighings)
    start = 0
    for day in days:
        count, seen = len(day.weighings), counted(day)
        since = moved.since(day.weighings[0].day) if count else 0.0
        of_draws = np.zeros((draws, len(biases), len(model)))
        for draw in range(draws):
            for i, item in enumerate(day.weighings):
                column = start + draw * count + i
                if item.kind != HOODS:
                    then = model[:, 2 + column]
                    of_draws[draw] += _log_density(site, item, then, odd, since, biases)
                if i in seen:
                    of_draws[draw] += _of_count(item, looked.damp[:, column], odd, since)
                    if item.kind == DAMP:
                        of_draws[draw] += _of_few(looked.damp_before[:, column], odd, since)
        weighed += averaged(of_draws)
        start += draws * count
    return np.asarray(total + averaged(weighed))


def counted(day: WeighedDay) -> tuple[int, ...]:
    """Places of the measurements whose cars count: one a time and count, however many strips; the
    last cars before a time are others than the next ones."""
    first: dict[tuple[float, int, int, bool], int] = {}
    for place, item in enumerate(day.weighings):
        if item.cars:
            first.setdefault((item.at_s, item.cars, item.damp_cars, item.kind == HOODS), place)
    return tuple(first.values())


def _of_count(item: Weighing, share: Floats, strange: NDArray[np.bool_], since: float) -> Floats:
    """Log-probability of damp cars among those looked at, without the binomial coefficient; the
    shares of strange sites, and of any that have moved since, are known only about."""
    seen, dry = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * share, item.cars - item.damp_cars
    size = np.where(strange, BETA_SIZE, np.inf)
    if since:
        size = np.minimum(size, known_as_by(seen, since))
    a, b = size * seen, size * (1.0 - seen)
    sure = np.isinf(size)
    a, b = np.where(sure, 1.0, a), np.where(sure, 1.0, b)
    binomial = xlogy(item.damp_cars, seen) + xlog1py(dry, -seen)
    beta_binomial = betaln(a + item.damp_cars, b + dry) - betaln(a, b)
    return np.asarray(np.where(sure, binomial, beta_binomial))


def _of_few(damp_before: Floats, strange: NDArray[np.bool_], since: float) -> Floats:
    """Log-probability that few cars had come out damp before it was said that they begin to; as
    many more as the site may have moved. At a strange site it is 0: where the model doesn't hold it
    is trusted least with how damp cars become more, and held to that it would outweigh counts."""
    few = pdtr(math.floor(FEW * math.exp(since)), damp_before)
    return np.asarray(np.where(strange, 0.0, np.log(np.maximum(few, LEAST_PROBABILITY))))


def _log_density(
    site: Site,
    item: Weighing,
    model: Floats,
    strange: NDArray[np.bool_],
    since: float,
    biases: Floats,
) -> Floats:
    """Log-density of what was weighed for each bias of the scale; shape (biases, sites)."""
    wheel = site.wheel
    usual = wheel.weigh_in_log_sd if item.kind == SOAKED else wheel.strip_log_sd
    sd = np.hypot(np.where(strange, WIDER_ERRORS * usual, usual), since)
    at = np.log(shown(model, biases[:, None]))
    off = (math.log(max(item.moisture_kg_kg, LEAST_MOISTURE)) - at) / sd
    return np.asarray(-0.5 * off**2 - np.log(sd * math.sqrt(2.0 * math.pi)))


def judge(
    looked: PredictedWeighings,
    at_once: Sequence[Weighing],
    days: Sequence[WeighedDay],
    before: NDArray[np.int64],
    after: NDArray[np.int64],
    spins: Sequence[SpinTest] = (),
    takes: float = 1.0,
) -> tuple[CheckedWeighing, ...]:
    """Each measurement beside what was expected of it, by drawn sites before and after; of towels
    the first one stands for all.

    Args:
        before, after: numbers of the drawn sites, some more than once.
        takes: share of a hood's water that a towel takes.
    """
    places = [(i, 0 if i.kind == SOAKED else 1, -1) for i in at_once if i.kind != TOWEL]
    start = 0
    for day in days:
        places += [(item, 2 + start + i, start + i) for i, item in enumerate(day.weighings)]
        start += DAYS * len(day.weighings)
    rows = []
    for item, column, of_damp in places:
        water = share = NEITHER
        if item.kind != HOODS:
            water = _both(looked.moistures[:, column], before, after)
        if of_damp >= 0 and item.cars:
            share = _both(looked.damp[:, of_damp], before, after)
        rows.append(CheckedWeighing(item, *water, *share))
    first = 0
    for test in spins:
        for item in test.weighings:
            # from the moisture that was weighed first
            spun = looked.spun[:, first, spin.NODES // 2]
            rows.append(CheckedWeighing(item, *_both(spun, before, after)))
            first += 1
    towels = tuple(item for item in at_once if item.kind == TOWEL)
    if towels:
        limits = _both(looked.allowed_kg, before, after)
        between = towel.middle_kg(towels, takes)
        rows.append(CheckedWeighing(towels[0], *NEITHER, *NEITHER, *limits, between))
    return tuple(rows)


BeforeAfter = tuple[Three | None, Three | None]
NEITHER: BeforeAfter = (None, None)


def _both(values: Floats, before: NDArray[np.int64], after: NDArray[np.int64]) -> BeforeAfter:
    """What two ensembles have of some values of all drawn sites."""
    return _three(values[before]), _three(values[after])


def _three(values: Floats | Sequence[float]) -> Three:
    low, middle, high = np.percentile(values, [5, 50, 95])
    return float(low), float(middle), float(high)


def systematic(weights: Floats, count: int, stream: Generator) -> NDArray[np.int64]:
    """Systematic resampling: numbers of `count` members, each expected count · weight times, by one
    uniform number of the stream; the weights sum to 1."""
    places = (np.arange(count) + stream.random()) / count
    sums = np.cumsum(weights)
    found = np.searchsorted(sums, places * sums[-1], side="right")
    return np.asarray(np.minimum(found, len(weights) - 1), dtype=np.int64)


def touched(site: Site, belief: Belief) -> tuple[PosteriorShift, ...]:
    """Inputs that a belief tells something of, those that it tells most of first."""
    u = belief.u
    low, middle, high = np.percentile(u, [5, 50, 95], axis=0)
    narrower = 1.0 - (high - low) / 0.9
    told = np.maximum(narrower, 2.0 * np.abs(middle - 0.5))
    felt = (narrower >= LEAST_NARROWER) | (np.abs(middle - 0.5) >= LEAST_SHIFT)
    order = [i for i in np.argsort(-told) if felt[i]]
    which = (len(belief.names), belief.size, belief.seed)
    prior = prior_points(*which)[~are_strange(*which)][: len(u)]
    before = [draw_site(site, belief.names, row) for row in prior]
    members = dict(zip(belief.kept, u, strict=True))
    drawn = {place: draw_site(site, belief.names, row) for place, row in members.items()}
    after = [drawn[place] for place in belief.kept]

    def lies(sites: Sequence[Site], name: str) -> Three:
        return _three([float(str(one.value(name))) for one in sites])

    names = [belief.names[i] for i in order]
    return tuple(PosteriorShift(name, lies(before, name), lies(after, name)) for name in names)

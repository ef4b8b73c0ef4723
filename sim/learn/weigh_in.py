"""What weighings of a strip tell of a site: drawn sites weighted by how well each explains them.

Sobol points of the priors are weighted by the likelihood of the weighings and resampled. The
weighed moisture is lognormal about that of the model,

    ln(weighed) = ln(model) + error,   error normal with mean 0,

with the weigh-in's standard deviation for a soaked strip, and that of a strip's place on the
wheel added (in squares) for a strip from the wheel. The model's moisture is

- soaked: the holding capacity;
- damp, afternoon: the cloth of the compiled day at that time, with the day's own chance in the
  likelihood: it is averaged over days, those weighings of one day together.

Cars that were looked at after a strip was weighed are counts of a binomial distribution, whose
probability is the share of cars that the model leaves damp with its cloth of that time. They tell
most: they are what is asked for. A strip at the damp limit without a count is taken as
damp limit × holding capacity, as if half the cars had come out damp then.

Importance weights, their effective number (Kish 1965, Survey Sampling) and systematic resampling
(Kitagawa 1996, J. Comput. Graph. Stat. 5:1–25) are from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray
from scipy.special import logsumexp, xlog1py, xlogy

from sim.day.belief import Belief, prior_points
from sim.day.damp_share import damp_share
from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import make_tables
from sim.day.night import Evening, opening_moisture
from sim.day.priors import draw_site, uncertain
from sim.day.rules import Rule, parse_rule
from sim.day.setup import damp_criterion, prepare_day
from sim.day.spread import spread
from sim.day.strip import strip_moistures, until
from sim.inputs import SOAKED, WEIGHINGS, Conditions, Site, Weighing

Floats = NDArray[np.float64]

FIRST_SIZE, MOST_SIZE = 2_048, 32_768
"""Points of the prior that are weighted: at first, and at most."""
ENOUGH = 200.0
"""Effective number from which on no more points are drawn."""
TOO_FEW = 30.0
"""Below this effective number the weighings do not fit the model: no drawn site comes near."""
WORST = 3.5
"""So many standard deviations, over all weighings together, the best drawn site may be off."""
KEPT = 1_024
"""Members of the ensemble."""
DAYS = 2
"""Simulated days over which the likelihood of a weighed day is averaged."""
MISJUDGED = 0.01
"""Share of cars that whoever looks takes for damp or dry by mistake; a guess."""
PIECE = 16
"""Drawn sites that a worker looks at in one go."""
LEAST_MOISTURE = 1e-6
"""A cloth as dry as that is as good as bone dry; logarithms need something [kg/kg]."""
WEIGHED_DAY = 1_000_007
"""Index of the draws of weighed days, which no day of a plan has."""


@dataclass(frozen=True, slots=True)
class WeighedDay:
    """The weighings of one day and rule, with what the day was expected to bring.

    Attributes:
        evening: the last open day before, from which the morning's moisture comes; None for a
            dry set in the morning, or the moisture of the conditions.
    """

    weighings: tuple[Weighing, ...]
    conditions: Conditions
    evening: Evening | None


@dataclass(frozen=True, slots=True)
class Looked:
    """What drawn sites would weigh and see, a row a site.

    Attributes:
        moistures: holding capacity; moisture at the damp limit; then for each weighed day, and
            for each of the simulated ones, the moisture at each of its weighings [kg/kg].
        damp: the share of cars left damp at each of those, without the first two columns.
    """

    moistures: Floats
    damp: Floats


@dataclass(frozen=True, slots=True)
class Posterior:
    """What came out.

    Attributes:
        belief: the ensemble; of the prior itself where there was nothing to weigh by.
        weights: of the points that were looked at, summing to 1; shape (size,).
        misfit: standard deviations by which the best drawn site misses all weighings together.
    """

    belief: Belief
    weights: Floats
    misfit: float

    @property
    def fits(self) -> bool:
        """Whether some drawn sites explain the weighings; where none does, nothing was learnt."""
        return self.belief.effective >= TOO_FEW and self.misfit <= WORST


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
) -> Posterior:
    """Re-weight the prior of a site's guesses by its weighings.

    Args:
        known: inputs that the site entered itself; they are not drawn.
        weighings: all of them; those that need their day count only where one of `days` holds
            them.
        progress: told after each piece how many drawn sites were looked at, of how many so far.
        first_size: a power of two; doubled up to `most_size` while the effective number is low.

    Raises:
        InputError: if a rule of a weighing can't be used at the site.
    """
    names = uncertain(site, known)
    at_once = [w for w in weighings if not w.needs_day]
    of_days = [w for day in days for w in day.weighings]
    parts: list[Looked] = []
    size, seen = first_size, 0
    while True:
        rows = prior_points(len(names), size, seed)[seen:]
        pieces = [
            (site, names, rows[i : i + PIECE], tuple(days), seed)
            for i in range(0, len(rows), PIECE)
        ]
        already = seen

        def told(done: int, already: int = already, size: int = size) -> None:
            progress(min(size, already + done * PIECE), size)

        parts += spread(_look, pieces, executor, told)
        looked = together(parts)
        log = log_likelihood(site, looked, at_once, days)
        weights = np.exp(log - logsumexp(log))
        effective = 1.0 / float((weights**2).sum())
        seen = size
        if effective >= ENOUGH or size >= most_size:
            break
        size *= 2
    kinds = {w.kind for w in (*at_once, *of_days)}
    kept = systematic(weights, KEPT, Generator(PCG64(SeedSequence([seed, 11]))))
    # equal parts of the ensemble shall be alike: how wet the cloth is beside its damp limit
    moistures = looked.moistures[kept]
    wetness = moistures[:, -1] / moistures[:, 1] if days else moistures[:, 1]
    kept = kept[np.argsort(wetness, kind="stable")]
    weighed = tuple(kind for kind in WEIGHINGS if kind in kinds)
    belief = Belief(names, seed, size, tuple(kept.tolist()), weighed, effective)
    peak = sum(
        -math.log(_sd(site, w.kind) * math.sqrt(2.0 * math.pi)) for w in (*at_once, *of_days)
    )
    for day in days:
        for place in counted(day):
            item = day.weighings[place]
            share = np.clip(item.damp_cars / item.cars, MISJUDGED, 1.0 - MISJUDGED)
            peak += float(_of_count(item, (share - MISJUDGED) / (1.0 - 2.0 * MISJUDGED)))
    return Posterior(belief, weights, math.sqrt(max(0.0, 2.0 * (peak - float(log.max())))))


def _sd(site: Site, kind: str) -> float:
    """Standard deviation of ln(weighed moisture) about the model's."""
    return site.wheel.weigh_in_log_sd if kind == SOAKED else site.wheel.strip_log_sd


Piece = tuple[Site, tuple[str, ...], Floats, tuple[WeighedDay, ...], int]


def _look(piece: Piece) -> Looked:
    site, names, u, days, seed = piece
    return together([look_at(draw_site(site, names, row), days, seed) for row in u])


def together(parts: Sequence[Looked]) -> Looked:
    """The rows of all parts."""
    moistures = np.concatenate([part.moistures for part in parts])
    return Looked(moistures, np.concatenate([part.damp for part in parts]))


def look_at(site: Site, days: Sequence[WeighedDay], seed: int, draws: int = DAYS) -> Looked:
    """What a site without any doubt would weigh and see: one row."""
    holding = site.wheel.holding_capacity_kg_kg
    found, damp = [np.array([holding, damp_criterion(site)[1] * holding])], [np.empty(0)]
    for number, day in enumerate(days):
        times = [w.at_s for w in day.weighings]
        rule = parse_rule(day.weighings[0].rule, [item.key for item in site.vehicles])
        conditions = until(_morning(site, day, rule, seed + number), max(times))
        numbers = prepare_day(site, conditions)
        tables = make_tables(site, numbers)
        for draw in range(draws):
            cars = make_cars(DayDraw(seed, number, draw, WEIGHED_DAY), site, conditions)
            found.append(strip_moistures(site, numbers, cars, rule, tables, times))
            damp.append(damp_share(site, tables, found[-1], np.array(times)))
    moistures = np.maximum(np.concatenate(found), LEAST_MOISTURE)
    return Looked(moistures[None, :], np.concatenate(damp)[None, :])


def _morning(site: Site, day: WeighedDay, rule: Rule, seed: int) -> Conditions:
    """The day with the moisture at which it opens."""
    if day.evening is None or site.wear.dry_set_at_opening:
        return day.conditions
    opening = opening_moisture(site, day.evening, day.conditions, rule, seed, days=1)
    return replace(day.conditions, opening_moisture_kg_kg=opening)


def log_likelihood(
    site: Site,
    looked: Looked,
    at_once: Sequence[Weighing],
    days: Sequence[WeighedDay],
    draws: int = DAYS,
) -> Floats:
    """Logarithm of the likelihood of weighings at drawn sites; shape (sites,).

    Args:
        site: says how far off a weighing may be.
        looked: by `look_at`, a row a drawn site.
        at_once: weighings that need no day.
    """
    model = np.log(looked.moistures)
    total = np.zeros(len(model))
    for item in at_once:
        column = 0 if item.kind == SOAKED else 1
        total += _log_density(site, item, model[:, column])
    start = 0
    for day in days:
        count, seen = len(day.weighings), counted(day)
        of_draws = np.zeros((len(model), draws))
        for draw in range(draws):
            for i, item in enumerate(day.weighings):
                column = start + draw * count + i
                of_draws[:, draw] += _log_density(site, item, model[:, 2 + column])
                if i in seen:
                    of_draws[:, draw] += _of_count(item, looked.damp[:, column])
        total += np.asarray(logsumexp(of_draws, axis=1)) - math.log(draws)
        start += draws * count
    return total


def counted(day: WeighedDay) -> tuple[int, ...]:
    """Places of the weighings whose cars count: one a time and count, however many strips."""
    found: dict[tuple[float, int, int], int] = {}
    for place, item in enumerate(day.weighings):
        if item.cars:
            found.setdefault((item.at_s, item.cars, item.damp_cars), place)
    return tuple(found.values())


def _of_count(item: Weighing, share: Floats) -> Floats:
    """Log-probability of damp cars among those looked at, without the binomial coefficient."""
    seen = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * share
    return np.asarray(xlogy(item.damp_cars, seen) + xlog1py(item.cars - item.damp_cars, -seen))


def _log_density(site: Site, item: Weighing, log_model: Floats) -> Floats:
    sd = _sd(site, item.kind)
    off = (math.log(max(item.moisture_kg_kg, LEAST_MOISTURE)) - log_model) / sd
    return np.asarray(-0.5 * off**2 - math.log(sd * math.sqrt(2.0 * math.pi)))


LEAST_NARROWER, LEAST_SHIFT = 0.1, 0.1
"""An input counts as touched if its 90 % range, in quantiles of the prior, got narrower by so much,
or its median moved by so much."""


@dataclass(frozen=True, slots=True)
class Touched:
    """An input of which weighings told something.

    Attributes:
        before, after: 5th percentile, median and 95th percentile, in SI.
    """

    name: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]


def touched(site: Site, belief: Belief) -> tuple[Touched, ...]:
    """Inputs that a belief tells something of, those that it tells most of first."""
    u = belief.u
    low, middle, high = np.percentile(u, [5, 50, 95], axis=0)
    narrower = 1.0 - (high - low) / 0.9
    told = np.maximum(narrower, 2.0 * np.abs(middle - 0.5))
    felt = (narrower >= LEAST_NARROWER) | (np.abs(middle - 0.5) >= LEAST_SHIFT)
    order = [i for i in np.argsort(-told) if felt[i]]
    prior = prior_points(len(belief.names), belief.size, belief.seed)[: len(u)]
    before = [draw_site(site, belief.names, row) for row in prior]
    after = [draw_site(site, belief.names, row) for row in u]
    return tuple(
        Touched(belief.names[i], _range(before, belief.names[i]), _range(after, belief.names[i]))
        for i in order
    )


def _range(sites: Sequence[Site], name: str) -> tuple[float, float, float]:
    values = [float(str(site.value(name))) for site in sites]
    low, middle, high = np.percentile(values, [5, 50, 95])
    return float(low), float(middle), float(high)


def systematic(weights: Floats, count: int, stream: Generator) -> NDArray[np.int64]:
    """Systematic resampling: numbers of `count` members, each expected count · weight times.

    Args:
        weights: summing to 1.
        stream: gives the one uniform number that it takes.
    """
    places = (np.arange(count) + stream.random()) / count
    sums = np.cumsum(weights)
    found = np.searchsorted(sums, places * sums[-1], side="right")
    return np.asarray(np.minimum(found, len(weights) - 1), dtype=np.int64)


__all__ = ["Looked", "Posterior", "Touched", "WeighedDay", "posterior", "touched"]

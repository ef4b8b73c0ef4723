"""Every kind of measurement, made with its errors on sites drawn from the priors, and what drawn
sites make of each.

Truths and drawn sites are those of `tests.learn.weighed_sites`, on its busy day. Kinds are taken as
made on days of their own, so that what several of them tell is added up.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import binom

from sim.checks import site_kappa, site_median_film
from sim.day.drawn import prior_quantile
from sim.day.setup import ClothNumbers, cloth_numbers, damp_criterion
from sim.inputs import (
    AFTERNOON,
    CALL_BACK,
    CARS_LOOKED_AT,
    DAMP,
    HOODS,
    LET_PASS,
    SOAKED,
    SPIN,
    TOWEL,
    Conditions,
    Site,
    Weighing,
)
from sim.learn.spin import NODES, SpinTest, followed
from sim.learn.weigh_in import MISJUDGED, log_likelihood
from sim.learn.weigh_in import weigh as weights_of
from sim.learn.weighed_day import PredictedWeighings, WeighedDay
from sim.physics.water_film import film_sigma
from tests.learn.weighed_sites import (
    AS_EXPECTED,
    BASE,
    BUSY,
    DAY,
    GRID_S,
    Drawn,
    Floats,
    Truth,
    interval,
    look,
    weigh,
)
from tests.seeds import generator

THREE = (SOAKED, DAMP, AFTERNOON)
"""The three weighings, the last two with the cars looked at after them."""
AFTER_CLOSING_S = 20 * 3600.0
HOODS_S = 14 * 3600.0
"""When hoods are looked at and towels used: at the end of the busiest three hours."""
OF_EACH, MOST_CARS = 5, 200
"""Hoods that are dried of each verdict, and cars after which a crew gives up."""
RIGHT = frozenset({"scale_bias"})
"""Measurements of each kind are told by themselves, so their scale is one that is known to be
right: a bias would be the same in all of them."""


# ---- a measurement is made -----------------------------------------------------------------------


def spin_test(
    site: Site, rng: np.random.Generator, minutes: Sequence[float] = (10.0,),
    air: Conditions = BUSY,
) -> SpinTest:  # fmt: skip
    """A soaked strip of a site followed through idling, each weighing with its error."""
    sd, held = BASE.wheel.weigh_in_log_sd, site.wheel.holding_capacity_kg_kg
    blank = Weighing(SPIN, DAY, AFTER_CLOSING_S, 0.1 * (1.0 + held), 0.1)
    rows = tuple(replace(blank, spun_s=60.0 * one) for one in minutes)
    after = followed([cloth_numbers(site, air)], [SpinTest(rows, air)], sd)[:, NODES // 2]
    first = 0.1 * (1.0 + held * math.exp(sd * rng.standard_normal()))
    return SpinTest(
        tuple(
            replace(
                row, weight_kg=first,
                after_kg=0.1 * (1.0 + float(x) * math.exp(sd * rng.standard_normal())),
            )
            for row, x in zip(rows, after, strict=True)
        ),
        air,
    )  # fmt: skip


def ten_towels(site: Site, rng: np.random.Generator, saturation: float) -> list[Weighing]:
    """Hoods of a site as they come off a wheel so wet, judged and dried until there are five of
    each verdict or 200 have gone by; crew and towel as they may be."""
    left = site_median_film(site) * (1.0 - site_kappa(site) * (1.0 - saturation))
    middle = math.log(left * site.reference.areas_m2[0])
    hoods = middle + film_sigma(site.water.film_cv) * rng.standard_normal(MOST_CARS)
    scatter, takes = (
        prior_quantile(BASE, name, rng.random()) for name in ("crew_damp_log_sd", "towel_takes")
    )
    limit = damp_criterion(site)[0] * site.reference.areas_m2[0]
    back = hoods + scatter * rng.standard_normal(MOST_CARS) > math.log(limit)
    off = BASE.wheel.towel_log_sd * rng.standard_normal(MOST_CARS)
    gains = takes * np.exp(hoods + off)
    found = [np.flatnonzero(one)[:OF_EACH] for one in (back, ~back)]
    whole = min(map(len, found)) == OF_EACH
    until = int(max(one[-1] for one in found)) + 1 if whole else MOST_CARS
    item = Weighing(TOWEL, DAY, 0.0, 0.0, 0.2, cars=until, damp_cars=int(back[:until].sum()))
    return [
        replace(item, weight_kg=0.2 + float(gains[place]), verdict=verdict)
        for places, verdict in zip(found, (CALL_BACK, LET_PASS), strict=True)
        for place in places
    ]


def twenty_hoods(truth: Truth, rng: np.random.Generator) -> Weighing:
    """The last twenty cars of a truth's own day before a time, now and then misjudged."""
    met = truth.met[AS_EXPECTED]
    gone = int(np.searchsorted(met.left, HOODS_S, side="right"))
    damp = met.is_damp[max(0, gone - CARS_LOOKED_AT) : gone] > 0.5
    seen = damp ^ (rng.random(len(damp)) < MISJUDGED)
    return Weighing(HOODS, DAY, HOODS_S, 0.0, 0.0, "full", len(seen), int(seen.sum()), gone)


# ---- and tells something -------------------------------------------------------------------------


def told_by(drawn: Drawn, truth: Truth, number: int) -> dict[str, Floats]:
    """Log-likelihood of every drawn site by each kind of measurement made at a truth; the errors
    are those of its number, whoever asks."""
    rng, found = generator(f"measured {number}"), dict[str, Floats]()
    met, strange = truth.met[AS_EXPECTED], drawn.strange
    soaked, *strips = weigh(BASE, truth, met, rng, 1, True, lambda kg: kg)
    for item in (*strips, twenty_hoods(truth, rng)):
        day = WeighedDay((item,), BUSY, None)
        seen = look(drawn, [item], None)
        found[item.kind] = log_likelihood(BASE, seen, [], [day], strange, known=RIGHT)
    none = np.empty((len(strange), 0))
    waters = np.column_stack([drawn.holding, drawn.limit])
    seen = PredictedWeighings(waters, none, none, drawn.allowed)
    found[SOAKED] = log_likelihood(BASE, seen, [soaked], [], strange, known=RIGHT)
    wet = float(np.interp(HOODS_S, GRID_S, met.moisture)) / truth.holding
    towels = ten_towels(truth.site, rng, min(1.0, wet))
    found[TOWEL] = log_likelihood(BASE, seen, towels, [], strange)
    test = spin_test(truth.site, rng)
    spun = followed_by_all(drawn.cloths, test)
    found[SPIN] = log_likelihood(
        BASE, replace(seen, spun=spun), [], [], strange, spins=[test], known=RIGHT
    )
    return found


def followed_by_all(cloths: Sequence[ClothNumbers], test: SpinTest) -> Floats:
    """What the strip of a spin test would weigh at drawn sites; see `sim.learn.spin.spun`."""
    sd = BASE.wheel.weigh_in_log_sd
    return np.stack([followed([cloth], [test], sd) for cloth in cloths])


@dataclass(frozen=True, slots=True)
class Answered:
    """What is believed of truths after some measurements, a row a truth.

    Attributes:
        low, high: of the 90 % interval of the share of damp cars.
        covered: whether it holds the truth's.
        regret: what the rule of least expected cost costs more at the truth than the best one
            for it [$ a day].
        effective: effective number of drawn sites.
    """

    low: Floats
    high: Floats
    covered: Floats
    regret: Floats
    effective: Floats

    @property
    def width(self) -> Floats:
        """Of the intervals [share of cars]."""
        return self.high - self.low


def answered(
    drawn: Drawn, some: Sequence[Truth], told: Sequence[dict[str, Floats]], kinds: Collection[str]
) -> Answered:
    """Damp cars and rule after measurements of some kinds at every truth.

    Args:
        told: by `told_by`, of each truth.
    """
    rows, priced = [], len(drawn.cost)
    for truth, of_kind in zip(some, told, strict=True):
        log = sum((of_kind[kind] for kind in kinds), np.zeros(len(drawn.strange)))
        found = weights_of(log, drawn.strange)
        low, high = interval(drawn.damp, found.weights)
        rule = int(np.argmin(found.weights[:priced] @ drawn.cost))
        regret = truth.cost[rule] - truth.cost.min()
        rows.append((low, high, low <= truth.damp <= high, regret, found.effective))
    return Answered(*np.array(rows, dtype=float).T)


def paired(one: Floats, other: Floats) -> tuple[float, float]:
    """Mean difference over truths, and half of its 95 % interval."""
    apart = one - other
    return float(apart.mean()), 1.96 * float(apart.std(ddof=1)) / math.sqrt(len(apart))


def assert_honest(covered: int, truths: int) -> None:
    """As many truths lie in their 90 % intervals as these say: of 128 sites 107 to 122, which is
    what 98 of 100 honest ones do; of fewer the 99.9 % binomial range."""
    low, high = (107, 122) if truths == 128 else binom.ppf([0.0005, 0.9995], truths, 0.9)
    assert low <= covered <= high

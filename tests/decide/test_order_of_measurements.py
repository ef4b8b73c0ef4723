"""The order in which the page offers measurements, followed on simulated sites, against orders that
are the same everywhere."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from functools import cache
from itertools import permutations
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
from numpy.random import PCG64, Generator
from numpy.typing import NDArray
from scipy.special import stdtrit

from sim.day.drawn import Drawn
from sim.day.engine import DrawnSite
from sim.decide import worth
from sim.decide.switching.candidates import coarse_rules
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion
from sim.decide.worth import (
    SITES,
    TRUTHS,
    Floats,
    LookedAt,
    likelihood_of,
    look_at,
    looked_at,
    worth_among,
)
from sim.inputs import EFFORT, MEASURED, Site
from sim.learn.answer import WorthOfMeasuring
from sim.learn.weigh_in import systematic, weigh
from tests.learn.measured_sites import paired, told_by
from tests.learn.weighed_sites import (
    BASE,
    BUSY,
    DAY,
    KNOWN,
    sites_of_world,
    true_sites,
    world,
)
from tests.seeds import generator, seed
from tests.sizes import Size, size_now

Record = Callable[[str, float, str], None]
QUESTION = SwitchQuestion(BASE, BUSY, Wish.of(BASE, "cost"), seed("order"), known=KNOWN)
RULES = coarse_rules(BASE)
STEPS = 3
ORDERS = tuple(permutations(MEASURED, STEPS))
"""Every order that knows nothing of a site."""
NAMED = {
    "the guide's order": MEASURED[:STEPS],
    "the least work first": tuple(sorted(MEASURED, key=lambda kind: EFFORT[kind]))[:STEPS],
}


def looked(site: Site, u: Floats, number: int) -> worth.Row:
    """What the product sees of a site on the busy day."""
    prepared = DrawnSite(Drawn(site), BUSY, None).prepare()
    return look_at(QUESTION, RULES, prepared, u, number)


class Page:
    """The page over a pool of drawn sites, each of which is looked at and measured once.

    Args:
        sites, truths: see `worth_of_measuring`.
    """

    def __init__(self, pool: LookedAt, sites: int, truths: int) -> None:
        self.pool, self.sites, self.truths = pool, sites, truths
        self.measured = cache(self._measured)

    def _measured(self, place: int, kind: str) -> Floats:
        stream = Generator(PCG64(seed(f"order {kind}", place)))
        return likelihood_of(QUESTION, self.pool, place, kind, stream)

    def order(
        self, weights: Floats, kinds: Sequence[str], rng: np.random.Generator
    ) -> tuple[str, ...]:
        """Kinds as the page offers them to somebody who believes in the pool by these weights."""
        places = rng.permutation(systematic(weights, self.sites, rng))
        some = LookedAt(*(_taken(getattr(self.pool, one.name), places) for one in fields(LookedAt)))

        def likelihood(
            _question: SwitchQuestion, _some: LookedAt, truth: int, kind: str, _stream: Generator
        ) -> Floats:
            return np.asarray(self.measured(int(places[truth]), kind)[places])

        with patch.object(worth, "likelihood_of", likelihood):
            each = worth_among(QUESTION, some, self.truths, kinds)
        return WorthOfMeasuring(DAY, self.sites, each).order


def _taken(values: Any, places: NDArray[np.int64]) -> Any:
    return values[places] if isinstance(values, np.ndarray) else tuple(values[i] for i in places)


class Measured:
    """A true site, measured as one order has it or another.

    Args:
        told: log-likelihood of each site of the pool by each kind of measurement.
        loss: of each rule there [$ a day].
    """

    def __init__(
        self, page: Page, number: int, told: dict[str, Floats], strange: NDArray[np.bool_],
        loss: Floats,
    ) -> None:  # fmt: skip
        self._page, self._number, self._told, self._strange = page, number, told, strange
        self._loss = loss
        self._weights, self._next = cache(self._weigh), cache(self._offered)

    def _weigh(self, made: frozenset[str]) -> Floats:
        log = sum((self._told[kind] for kind in sorted(made)), np.zeros(len(self._strange)))
        return weigh(log, self._strange).weights

    def _offered(self, made: frozenset[str]) -> tuple[str, ...]:
        left = [kind for kind in MEASURED if kind not in made]
        rng = generator(f"page {self._number} {sorted(made)}")
        return self._page.order(self._weights(made), left, rng)

    def regret(self, made: frozenset[str]) -> float:
        """What the rule chosen after measurements costs more than the best one [$ a day]."""
        rule = int(np.argmin(self._weights(made) @ self._page.pool.loss))
        return float(self._loss[rule] - self._loss.min())

    def followed(self, fixed: tuple[str, ...]) -> list[str]:
        """Kinds in the order in which they are made: some fixed ones, then those that the page
        offers first each time."""
        made = list(fixed[:STEPS])
        while len(made) < STEPS:
            made.append(self._next(frozenset(made))[0])
        return made

    def at_once(self) -> tuple[str, ...]:
        """The page's order as it is before anything is measured."""
        return self._next(frozenset())

    def regrets(self, made: Sequence[str]) -> list[float]:
        """After each measurement of an order."""
        return [self.regret(frozenset(made[: step + 1])) for step in range(STEPS)]


@pytest.mark.soak
def test_no_order_that_is_the_same_everywhere_beats_the_page(
    size: Size, record_figure: Record
) -> None:
    """Who makes three measurements one after another, each time the one that the page then offers
    first, chooses rules of no more regret, summed over one, two and three of them, than who begins
    with one kind at every site, or follows one of the 120 orders of three kinds there: none of
    these is better by more than its interval (99.99 % by Student's t on the same sites, so 99 % of
    all). Who takes what the page offers last does worse by more than that.

    The page forecasts by measurements that the product simulates; those at the true sites are
    simulated by tests, from cars of the sites' own days.
    """
    count, number = size(small=64, full=1_024), size(small=4, full=128)
    sites, truths = size_now(small=48, full=SITES), size_now(small=8, full=TRUTHS)
    drawn = world(count)
    rows = [looked(site, u, place) for place, (site, u) in enumerate(sites_of_world(count))]
    page = Page(looked_at(rows), sites, truths)
    found: dict[str, list[list[float]]] = {}
    for place, truth in enumerate(true_sites(number, "model")):
        loss = looked(truth.site, np.empty(0), place)[2]
        one = Measured(page, place, told_by(drawn, truth, place), drawn.strange, loss)
        ways = {"the page": (), "what the page offers last": one.at_once()[::-1]}
        ways |= {f"{kind} first": (kind,) for kind in MEASURED}
        ways |= {", ".join(order): order for order in ORDERS}
        for name, fixed in ways.items():
            found.setdefault(name, []).append(one.regrets(one.followed(fixed)))
    regrets = {name: np.array(values) for name, values in found.items()}
    page_s = regrets.pop("the page")
    for step in range(STEPS):
        record_figure(f"regret of the page after {step + 1}", page_s[:, step].mean(), "$ a day")
    widest, against = float(stdtrit(number - 1, 0.9999)), dict[str, tuple[float, float]]()
    for name, other in regrets.items():
        mean, half = paired(page_s.sum(axis=1), other.sum(axis=1))
        against[name] = mean, half * widest / 1.96
    best = max((", ".join(order) for order in ORDERS), key=lambda name: against[name][0])
    told = {name: ", ".join(order) for name, order in NAMED.items()}
    told |= {f"the best in hindsight, {best}": best}
    told |= {name: name for name in against if name not in {", ".join(one) for one in ORDERS}}
    for words, name in told.items():
        mean, half = against[name]
        record_figure(f"the page less {words}", mean, "$ a day")
        record_figure(f"95 % of it, {words}", half * 1.96 / widest, "$ either way")
    assert all(mean <= half for mean, half in against.values())
    if number == 128:
        mean, half = against["what the page offers last"]
        assert mean < -half

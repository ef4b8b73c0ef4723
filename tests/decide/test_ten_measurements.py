"""Ten measurements made one after another on drawn sites, each the one that the page then offers
first, against ten that are spread evenly."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.random import PCG64, Generator, SeedSequence
from scipy.stats import bootstrap

from sim.day.drawn import Drawn, draw_site, prior_points, uncertain
from sim.day.engine import DrawnSite
from sim.decide.next_measurement import expected_saving, options
from sim.decide.switching.candidates import coarse_rules
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion
from sim.decide.worth import FEW_LEFT, Floats, likelihood_of, look_at, looked_at
from sim.inputs import AFTERNOON, EFFORT, HOODS, SOAKED, SPIN, Site
from sim.learn.weigh_in import weigh
from tests.day.sites import conditions
from tests.seeds import generator, seed
from tests.sizes import Size, size_now

Record = Callable[[str, float, str], None]
SITE = Site("Next wash")
QUESTION = SwitchQuestion(SITE, conditions(40), Wish.of(SITE, "cost"), 7, known=frozenset())
MADE = 10
"""Measurements that are made at each site."""
TRIED = 16
"""Sites taken to be the true one at each choice."""
CHEAP = (HOODS, AFTERNOON, SOAKED, SPIN)
"""Kinds among which is chosen here; ten towels of each verdict take the test too long."""


class Pool:
    """Drawn sites, each looked at and measured once by every option.

    Args:
        count: sites; behind them stand as many true ones as are to be measured.
    """

    def __init__(self, count: int, truths: int) -> None:
        names = uncertain(SITE, frozenset())
        u = [
            *prior_points(len(names), count, seed("pool of measurements")),
            *prior_points(len(names), 1 << (truths - 1).bit_length(), seed("measured"))[:truths],
        ]
        rules = coarse_rules(SITE)
        rows = []
        for number, row in enumerate(u):
            site = draw_site(SITE, names, row)
            prepared = DrawnSite(Drawn(site), QUESTION.conditions, None).prepare()
            rows.append(look_at(QUESTION, rules, prepared, row, number))
        self.looked, self.count = looked_at(rows), count
        self.options = options(SITE, CHEAP)
        self._told: dict[tuple[int, int], Floats] = {}

    @property
    def loss(self) -> Floats:
        """Of each rule at each site of the pool."""
        return self.looked.loss[: self.count]

    def measure(self, place: int, option: int, turn: int = 0) -> Floats:
        """Log-likelihood of the pool after a measurement at a site, the same for each turn."""
        one = self.options[option]
        stream = Generator(PCG64(SeedSequence([seed("measured"), place, option, turn])))
        return likelihood_of(QUESTION, self.looked, place, one.kind, stream, one.at_s)[: self.count]

    def forecast(self, place: int, option: int) -> Floats:
        """The same of a site of the pool, worked out once."""
        key = place, option
        if key not in self._told:
            self._told[key] = self.measure(place, option)
        return self._told[key]

    def choice(self, known: Floats, rng: np.random.Generator) -> int:
        """The option that the page would offer first to somebody who knows so much."""
        weights = weigh(known, np.zeros(self.count, bool), FEW_LEFT * self.count).weights
        truths = rng.choice(self.count, size_now(small=4, full=TRIED), p=weights)
        worth = []
        for place, option in enumerate(self.options):
            saved = [self._saving(known, int(truth), place) for truth in truths]
            worth.append(float(np.mean(saved)) / EFFORT[option.kind][0])
        return int(np.argmax(worth))

    def _saving(self, known: Floats, truth: int, option: int) -> float:
        others = np.arange(self.count) != truth
        log = self.forecast(truth, option)[others]
        return expected_saving(self.loss[others], known[others], log)[0]

    def regret(self, known: Floats, truth: int) -> float:
        """What the rule that is best by what is known costs more than the best one of a site."""
        weights = weigh(known, np.zeros(self.count, bool), FEW_LEFT * self.count).weights
        loss = self.looked.loss[truth]
        return float(loss[int(np.argmin(weights @ self.loss))] - loss.min())


def spaced(pool: Pool, turn: int) -> int:
    """Evenly spaced: kinds by turns, and each kind's hours spread evenly over the day."""
    kind = CHEAP[turn % len(CHEAP)]
    places = [at for at, one in enumerate(pool.options) if one.kind == kind]
    step = turn // len(CHEAP)
    return places[(step * len(places)) // (MADE // len(CHEAP) + 1)]


@pytest.mark.soak
def test_ten_measurements_chosen_by_the_page(size: Size, record_figure: Record) -> None:
    """At sites drawn from the priors, ten measurements, each the one that the page would then offer
    first for a minute of work, leave at most half of the regret of the rule: the ratio of mean
    regrets with its 95 % interval (bootstrap over sites). Their regret is no more than that of ten
    evenly spaced ones, kinds by turns and hours spread over the day, by more than the interval of
    the paired difference; and they take less work."""
    truths, count = size(small=2, full=100), size_now(small=32, full=256)
    pool = Pool(count, truths)
    before, chosen, even = list[float](), list[float](), list[float]()
    work = [0.0, 0.0]
    for number in range(truths):
        truth, rng = count + number, generator(f"choice {number}")
        none = np.zeros(count)
        before.append(pool.regret(none, truth))
        for found, at in ((chosen, 0), (even, 1)):
            known = none
            for turn in range(MADE):
                option = pool.choice(known, rng) if at == 0 else spaced(pool, turn)
                known = known + pool.measure(truth, option, turn)
                work[at] += EFFORT[pool.options[option].kind][0] / truths
            found.append(pool.regret(known, truth))
    rows = np.array([before, chosen, even])
    record_figure("regret before", rows[0].mean(), "$ a day")
    record_figure("after ten chosen by the page", rows[1].mean(), "$ a day")
    record_figure("after ten evenly spaced", rows[2].mean(), "$ a day")
    record_figure("minutes of work, the page", work[0], "")
    record_figure("minutes of work, evenly spaced", work[1], "")
    assert (rows >= 0.0).all()
    apart = rows[1] - rows[2]
    half = 1.96 * apart.std(ddof=1) / np.sqrt(truths)
    record_figure("the page less evenly spaced", apart.mean(), "$ a day")
    record_figure("95 % of it", half, "$ either way")
    assert apart.mean() <= max(half, 1e-9) or truths < 100
    if truths == 100:
        ratio = bootstrap(
            (rows[1], rows[0]), lambda a, b, axis=-1: a.mean(axis=axis) / b.mean(axis=axis),
            paired=True, vectorized=True, rng=generator("ratio of regrets"),
        )  # fmt: skip
        low, high = ratio.confidence_interval
        record_figure("left of the regret", 100.0 * rows[1].mean() / rows[0].mean(), "%")
        record_figure("95 % of that, low", 100.0 * low, "%")
        record_figure("95 % of that, high", 100.0 * high, "%")
        assert high <= 0.5
        assert work[0] < work[1]

"""What knowing more would be worth: signs of measurements, and what narrows an answer."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial.hermite_e import hermevander
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.rules import FULL, REDUCED, Band, Clock, Rule, Service, Term
from sim.decide.switching.candidates import COARSE, COARSE_BANDS, allowed_windows
from sim.decide.switching.selection import Effort
from sim.inputs import Site

Floats = NDArray[np.float64]


def best_action(payoffs: Floats, chances: Floats) -> tuple[int, float]:
    """The action with the highest expected payoff, the first of equals, and that payoff.

    Args:
        payoffs: shape (actions, states); chances: of each state, shape (states,), sum 1.
    """
    expected = payoffs @ chances
    best = int(np.argmax(expected))
    return best, float(expected[best])


def with_foresight(payoffs: Floats, chances: Floats) -> float:
    """Expected payoff if the state is known before the action is chosen; shapes as above."""
    return float(payoffs.max(axis=0) @ chances)


SMALL = Effort(first=16, sure=32, most=32)
"""Draws of a search among some hundred rules."""
EDGE_STEPS_S = (-3600.0, -1800.0, 1800.0, 3600.0)
BAND_STEPS = (-0.1, -0.05, 0.05, 0.1)
DAY_END_S = 86400.0


def narrowed(site: Site, rule: Rule) -> tuple[Rule, ...]:
    """The rule, always full and always reduced, the rule's neighbours, coarse windows and bands.

    A neighbour has one edge of one window moved by up to an hour, or a band moved by up to a
    tenth of saturation.
    """
    coarse: list[Term] = [*allowed_windows(site, COARSE), *(Band(*pair) for pair in COARSE_BANDS)]
    grid = [Rule(((term,),)) for term in coarse]
    if site.pay.full_service_share > 0:
        grid.append(Rule(((Service(),),)))
    return tuple(dict.fromkeys((rule, FULL, REDUCED, *neighbours(site, rule), *grid)))


def neighbours(site: Site, rule: Rule) -> Iterator[Rule]:
    """Rules that differ from one in one number, each once, within the hours open."""
    return iter(dict.fromkeys(_each_moved(site, rule)))


def _each_moved(site: Site, rule: Rule) -> Iterator[Rule]:
    for row, terms in enumerate(rule.either):
        for place, term in enumerate(terms):
            for other in _moved(site, term):
                if other == term:
                    continue
                changed = (*terms[:place], other, *terms[place + 1 :])
                yield replace(rule, either=(*rule.either[:row], changed, *rule.either[row + 1 :]))


def _moved(site: Site, term: Term) -> Iterable[Term]:
    if isinstance(term, Clock):
        return _windows(site, term)
    if isinstance(term, Band):
        bands = (
            Band(round(term.upper + step, 4), round(term.lower + step, 4)) for step in BAND_STEPS
        )
        return (band for band in bands if band.lower > 0.0 and band.upper < 1.0)
    return ()


def _windows(site: Site, term: Clock) -> Iterator[Clock]:
    opens = site.line.open_h * 3600.0
    edges = list(itertools.chain.from_iterable(term.windows))
    for place, step in itertools.product(range(len(edges)), EDGE_STEPS_S):
        moved = edges[:]
        if moved[place] >= DAY_END_S and step > 0:
            continue
        # an edge at the end of the day stands for closing time
        base = min(moved[place], site.line.close_h * 3600.0)
        moved[place] = max(opens, base + step)
        if all(a < b for a, b in itertools.pairwise(moved)):
            yield Clock(tuple(zip(moved[::2], moved[1::2], strict=True)))


DEGREE = 3
DRAWS_A_SLOPE = 2
"""Draws that each straight line in another input asks for."""
SHUFFLES = 40
FALSE_ALARMS = 0.05
"""Expected number of inputs that tell nothing and yet seem to be worth knowing."""
STREAM = 13
TINY = 1e-9
"""Keeps the equations solvable where an input does not vary."""


@dataclass(frozen=True, slots=True)
class Worth:
    """What knowing one input would be worth.

    Attributes:
        value: expected gain of the best decision with it over the best without, less what a
            shuffled input seems to be worth; 0 where it can't be told from luck.
    """

    input: str
    value: float


def value_of_all(payoffs: Floats) -> float:
    """Worth of knowing everything that was drawn; payoffs of shape (decisions, draws)."""
    chances = np.full(payoffs.shape[1], 1.0 / payoffs.shape[1])
    return with_foresight(payoffs, chances) - best_action(payoffs, chances)[1]


def values_of_knowing(
    payoffs: Floats, scores: Floats, names: tuple[str, ...], seed: int
) -> tuple[Worth, ...]:
    """Worth of each input, the largest first.

    Args:
        payoffs: what each decision gives on each draw, shape (decisions, draws).
        scores: standard normal scores of the inputs, drawn independently; shape (draws, names).
    """
    stream = Generator(PCG64(SeedSequence([seed, STREAM])))
    draws, count = scores.shape
    with_others = draws >= DRAWS_A_SLOPE * (count + DEGREE + 1)
    best = int(np.argmax(payoffs.mean(axis=1)))
    # only differences to the best decide, and they are far less noisy
    apart = payoffs - payoffs[best]
    seen: list[float] = []
    lucky: list[Floats] = []
    for place in range(count):
        others = np.delete(scores, place, axis=1) if with_others else np.empty((draws, 0))
        # what lines in the others explain is taken out once (Frisch & Waugh 1933)
        rest = _Rest(np.linalg.qr(np.column_stack([np.ones(draws), others]))[0], apart)
        own = scores[:, place]
        tried = np.stack([own, *(stream.permutation(own) for _ in range(SHUFFLES))])
        seeming = rest.seeming(tried)
        seen.append(float(seeming[0]))
        lucky.append(seeming[1:])
    luck = np.array(lucky)
    # so many inputs are looked at that the luckiest of them must be allowed for
    threshold = float(np.quantile(luck, 1.0 - FALSE_ALARMS / max(1, count))) if count else 0.0
    most = value_of_all(payoffs)
    found = [
        Worth(name, min(most, one - float(noise.mean())) if one > threshold else 0.0)
        for name, one, noise in zip(names, seen, luck, strict=True)
    ]
    return tuple(sorted(found, key=lambda worth: -worth.value))


class _Rest:
    """What is left of the payoffs for one input to explain."""

    def __init__(self, basis: Floats, apart: Floats) -> None:
        self._basis, self._means = basis, apart.mean(axis=1)
        self._left = self._without(apart.T)

    def _without(self, columns: Floats) -> Floats:
        return np.asarray(columns - self._basis @ (self._basis.T @ columns))

    def seeming(self, tried: Floats) -> Floats:
        """Worth by fitted values, noise included, of the input in several orders of its draws.

        All orders at once: many small products one by one would take far longer.

        Args:
            tried: shape (orders, draws).
        """
        curves = hermevander(tried, DEGREE)[..., 1:]
        curves = curves - curves.mean(axis=1, keepdims=True)
        orders, draws, terms = curves.shape
        flat = curves.transpose(1, 0, 2).reshape(draws, orders * terms)
        left = self._without(flat).reshape(draws, orders, terms).transpose(1, 2, 0)
        gram = left @ left.transpose(0, 2, 1) + TINY * np.eye(terms)
        slopes = np.linalg.solve(gram, left @ self._left)  # (orders, terms, decisions)
        fitted = self._means + curves @ slopes  # (orders, draws, decisions)
        return np.asarray(fitted.max(axis=2).mean(axis=1) - fitted.mean(axis=1).max(axis=1))

"""What it is worth to know an input before deciding, from draws of all inputs together.

The expected value of partial perfect information of an input, by regression: what each decision
gives is regressed on the input, and the best decision is taken draw by draw by the fitted values
(Strong, Oakley & Brennan 2014, Estimating multiparameter partial expected value of perfect
information from a probabilistic sensitivity analysis sample: a nonparametric regression approach,
Medical Decision Making 34:311–326, from memory). The fit is a cubic in the input's normal score,
beside straight lines in all others where there are draws enough for them. Noise in a fit makes
decisions look better than they are; how much it does so for inputs that tell nothing is measured
by shuffling the input, and taken off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.hermite_e import hermevander
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.decide.switching.information import best_action, with_foresight

Floats = NDArray[np.float64]

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
    """What knowing an input exactly is worth.

    Attributes:
        value: expected gain of the best decision with it over the best without, less what a
            shuffled input seems to be worth; 0 where it can't be told from luck.
    """

    name: str
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

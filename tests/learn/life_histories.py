"""Invented lives of sets with a known truth, and censoring that tells nothing of it."""

from __future__ import annotations

import numpy as np

from sim.inputs import Site
from sim.learn.cloth_life import Life, LifePrior, life_priors

SETS, CENSORED = 8, 3
PRIORS = life_priors(Site(name="Mill Lane"))
"""Of shape and scale, as every site begins."""


def draw_prior(prior: LifePrior, rng: np.random.Generator) -> float:
    """A value from a prior, drawn again while it is outside what is allowed."""
    while True:
        value = float(np.exp(np.log(prior.median) + prior.log_sd * rng.standard_normal()))
        if prior.least <= value <= prior.most:
            return value


def lives_of(beta: float, eta: float, rng: np.random.Generator) -> list[Life]:
    """Eight sets, exactly three of them censored, whatever the truth.

    Progressive censoring: all begin at age zero; after failures that are chosen beforehand, a set
    that still lives, any of them alike, is taken away at the age of that failure. Who is taken
    and when follows from the past alone, so the likelihood is that of independent censoring
    (Balakrishnan & Aggarwala 2000, Progressive Censoring, from memory).
    """
    living = np.sort(eta * rng.weibull(beta, SETS)).tolist()
    taken_after = rng.integers(0, SETS - CENSORED, CENSORED).tolist()
    found: list[Life] = []
    for number in range(SETS - CENSORED):
        age = living.pop(0)
        found.append(Life(age, True))
        for _ in range(taken_after.count(number)):
            living.pop(int(rng.integers(len(living))))
            found.append(Life(age, False))
    return found

"""When to act on a probability, and what it is worth to know more before deciding."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def act_above(cost: float, loss: float) -> float:
    """Probability of the event above which protecting against it costs less than it saves.

    Cost–loss ratio (Murphy 1977, Monthly Weather Review 105:803–816): act when p > cost ÷ loss.

    Args:
        cost: of acting, whether the event comes or not, ≥ 0.
        loss: if it comes and nobody has acted, > 0; all of it is spared by acting.
    """
    return cost / loss


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


def posteriors(chances: Floats, likelihood: Floats) -> tuple[Floats, Floats]:
    """Bayes' rule: chance of each sign, and of each state once a sign has been seen.

    Args:
        likelihood: chance of each sign in each state, shape (signs, states), columns sum to 1.

    Returns:
        Shapes (signs,) and (signs, states); a sign that can't come leaves the chances as they are.
    """
    joint = likelihood * chances
    signs = joint.sum(axis=1)
    seen = np.where(signs > 0, signs, 1.0)[:, None]
    return signs, np.where(signs[:, None] > 0, joint / seen, chances)


def with_sign(payoffs: Floats, chances: Floats, likelihood: Floats) -> float:
    """Expected payoff if a sign is seen before the action is chosen, the sign's own cost apart.

    Less the payoff of `best_action` it is the value of the information (Hillier & Lieberman,
    Introduction to Operations Research, chapter on decision analysis).
    """
    signs, after = posteriors(chances, likelihood)
    return float(sum(p * best_action(payoffs, row)[1] for p, row in zip(signs, after, strict=True)))

"""Where truths lie in what is left of a guess: anywhere alike, if that is honest."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chisquare, norm

Floats = NDArray[np.float64]
BINS = 20


def hold_places(every: Floats, record_figure: Callable[[str, float, str], None]) -> None:
    """Fails unless truths lie anywhere alike, and the test finds draws half as wide.

    Args:
        every: probability of less than the truth, a row a site and a column an input.
    """
    p, narrow = least_p(every), least_p(half_as_wide(every))
    record_figure("least probability of such places", p, "after Holm")
    record_figure("the same, half as wide", narrow, "after Holm")
    assert p > 0.01
    assert narrow < 0.01


def half_as_wide(every: Floats) -> Floats:
    """Where they would lie if what is left were told half as wide, about its middle."""
    return np.asarray(norm.cdf(2.0 * norm.ppf(np.clip(every, 1e-9, 1.0 - 1e-9))))


def least_p(every: Floats) -> float:
    """The least p value of the columns, as Holm corrects it."""
    counts = [np.histogram(column, BINS, (0.0, 1.0))[0] for column in every.T]
    return min(1.0, len(counts) * min(float(chisquare(one).pvalue) for one in counts))

"""How figures of a comparison are printed: to which digit, and which interval is meant."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from app.words.numbers import (
    about_dollars,
    finest_of,
    hour_range,
    one_in,
    plain_number,
    range_step,
    share_words,
    shown,
    signed,
    span,
    step_of,
    stepped,
)

money = about_dollars
__all__ = [
    "finest_of",
    "half_width",
    "hour_range",
    "interval",
    "money",
    "one_in",
    "plain_number",
    "printed_step",
    "range_step",
    "share_words",
    "shown",
    "signed",
    "span",
    "step_of",
    "stepped",
]


def printed_step(figure: Mapping[str, Any], kind: str, system: str, value: float) -> float:
    """Power of ten to which a figure of a comparison deserves to be printed [as shown].

    Neither finer than the run error's first digit, see `step_of`, nor than a tenth of the site
    uncertainty (the power of ten nearest to a tenth of half its range).

    Args:
        value: the figure as shown.
    """
    step = step_of(half_width(figure, "run error", kind, system), kind, value)
    site = half_width(figure, "site uncertainty", kind, system)
    if site <= 0.0:
        return step
    return float(max(step, 10.0 ** round(math.log10(site / 10.0))))


def half_width(figure: Mapping[str, Any], name: str, kind: str, system: str) -> float:
    """Half the width of a figure's interval, as shown; 0 where it has none of that name."""
    ends = interval(figure, name)
    if ends is None:
        return 0.0
    return abs(shown(ends[1] - ends[0], kind, system, difference=True)) / 2.0


def interval(figure: Mapping[str, Any], kind: str) -> tuple[float, float] | None:
    """Low and high of the interval of a kind, such as ``day range``; None when there is none."""
    for one in figure.get("intervals", ()):
        if one["kind"] == kind and one["low"] is not None and one["high"] is not None:
            return float(one["low"]), float(one["high"])
    return None

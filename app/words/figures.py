"""How figures are written: numbers without false precision, ranges, clock hours, shares in words.

Rules of the house: a no-break space between number and unit, U+2212 for minus, an en dash in a
range, thousands set apart by commas.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from app.catalogue import _
from sim.units import FINEST, FINEST_ELSE, MINUS, NBSP, UNITS


def plain_number(value: float, decimals: int) -> str:
    """A number with a fixed count of decimals, commas and a typographic minus; never −0."""
    text = f"{value:,.{decimals}f}"
    if text.strip("-0.,") == "":
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def stepped(value: float, step: float) -> str:
    """A number rounded to a power of ten, written with just the decimals that it keeps."""
    decimals = max(0, -round(math.log10(step)))
    return plain_number(round(value / step) * step, decimals)


def money(amount: float, digits: int = 0) -> str:
    """An amount such as ``$3,900``: two digits that count, three from ten thousand on, or as many
    as are given; whole units in any case."""
    size = abs(amount)
    digits = digits or (2 if size < 1e4 else 3)
    step = 1.0 if size < 1.0 else 10.0 ** max(0, math.floor(math.log10(size)) - digits + 1)
    whole = round(size / step) * step
    return f"{MINUS if amount < 0.0 and whole else ''}${whole:,.0f}"


def signed(value: float, step: float) -> str:
    """A difference: `stepped` with its sign; no sign on a zero."""
    text = stepped(value, step)
    return text if text.startswith(MINUS) or not text.strip("0.") else f"+{text}"


def finest_of(kind: str, value: float) -> float:
    """Smallest step worth printing of a value of a kind of unit, both as shown."""
    finest = FINEST.get(kind, FINEST_ELSE)
    return max(finest, 1.0) if kind == "share" and abs(value) >= 10.0 else finest


def step_of(half_width: float | None, kind: str, value: float = 0.0) -> float:
    """Power of ten to which a figure deserves to be printed [as shown].

    The first digit of the error is the last one printed, and never finer than what a reader of
    that kind of figure can use.

    Args:
        half_width: half the interval of the run error, as shown; None or 0 when there is none.
        kind: kind of unit, see `sim.units`.
        value: the figure itself, as shown; a share of ten percent or more has no decimals.
    """
    finest = finest_of(kind, value)
    if not half_width or not math.isfinite(half_width):
        return finest
    return float(max(finest, 10.0 ** math.floor(math.log10(half_width) + 1e-9)))


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


def span(low: float, high: float, step: float) -> str:
    """The two ends of a range, with words between them where a dash would be read as a minus."""
    first, last = stepped(low, step), stepped(high, step)
    dash = f"{NBSP}to{NBSP}" if first.startswith(MINUS) or last.startswith(MINUS) else "–"
    return f"{first}{dash}{last}"


def range_step(low: float, high: float, kind: str) -> float:
    """Power of ten for the two ends of a day range, a fifth of its width or finer."""
    finest = finest_of(kind, high)
    if high <= low:
        return finest
    return float(max(finest, 10.0 ** math.floor(math.log10((high - low) / 5.0) + 1e-9)))


def shown(value: float, kind: str, system: str, difference: bool = False) -> float:
    """A stored value as the reader sees it; a difference has no offset."""
    edge = UNITS[kind].edge(system)
    return value * edge.factor + (0.0 if difference else edge.offset)


def interval(figure: Mapping[str, Any], kind: str) -> tuple[float, float] | None:
    """Low and high of the interval of a kind, such as ``day range``; None when there is none."""
    for one in figure.get("intervals", ()):
        if one["kind"] == kind and one["low"] is not None and one["high"] is not None:
            return float(one["low"]), float(one["high"])
    return None


def hour_range(first: int, end: int) -> str:
    """Clock hours such as ``12:00–16:00``."""
    return f"{first}:00–{end}:00"


def one_in(share: float) -> str:
    """A share of cars in words: ``about 1 car in 22``; percentages where that is plainer."""
    if share <= 0:
        return _("no car")
    if share < 0.002:
        return _("fewer than 1 car in 500")
    if share > 0.4:
        return _("{percent} % of cars", percent=plain_number(100 * share, 0)).replace(
            " %", f"{NBSP}%"
        )
    count = 1.0 / share
    said = (
        round(count)
        if count < 25
        else round(count / 5) * 5
        if count < 100
        else (round(count / 50) * 50)
    )
    return _("about {share}", share=_("1 car in {count}", count=said).replace(" ", NBSP))


def share_words(share: float) -> str:
    """A share of the day's cars in words, plain where a plain word fits."""
    for low, high, words in (
        (0.995, 1.01, _("all")),
        (0.9, 0.995, _("nearly all")),
        (0.72, 0.78, _("about three quarters")),
        (0.64, 0.69, _("about two thirds")),
        (0.51, 0.57, _("just over half")),
        (0.49, 0.51, _("half")),
        (0.43, 0.49, _("just under half")),
        (0.31, 0.36, _("about a third")),
        (0.22, 0.28, _("about a quarter")),
    ):
        if low <= share < high:
            return words
    if share < 0.01:
        return _("hardly any")
    return f"{plain_number(100 * share, 0)}{NBSP}%"

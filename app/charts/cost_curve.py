"""The cost of changing at each age, drawn: positions in percent across and pixels down."""

from __future__ import annotations

import bisect
import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import _
from app.charts.marks import grid_values
from app.charts.switching import Tick
from app.words.numbers import plain_number
from sim.decide.cloth.answer import ClothAnswer

TOP, FLOOR = 14.0, 228.0
LEFT, RIGHT = 9.0, 97.0
"""Frame of the curve: down [px], across [%]."""
WIDE, HIGH = 1000, 200
"""The line is drawn in a frame of these units, stretched to the chart's."""
REACH = 3.0
"""The chart ends at so many times the best age, or the scale of life where there is none."""
HIGHEST = 2.2
"""And at so many times the least cost."""
ROWS = (0.4, 0.6, 0.8, 1.0, 1.25, 1.5, 2.0)
"""Ages of the table beside it, as shares of the best."""


@dataclass(frozen=True, slots=True)
class CostCurve:
    """The chart and its table.

    Attributes:
        line: path in the frame of `WIDE` by `HIGH`.
        flat_x, flat_width: the band of ages that cost at most 2 % more.
        best_x, best_y, best_words: the advised age; empty where the answer is to wait.
        now_x, now_words: the age of the set on the wheel; empty for none.
        failure_y, failure_words: the cost of waiting until sets wear out; empty if above.
    """

    label: str
    line: str
    flat_x: str
    flat_width: str
    best_x: str
    best_y: str
    best_words: str
    best_anchor: str
    now_x: str
    now_words: str
    now_anchor: str
    failure_y: str
    failure_words: str
    up: tuple[Tick, ...]
    across: tuple[Tick, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def cost_curve(found: ClothAnswer) -> CostCurve:
    """Draws the curve of an answer on cloth."""
    change = found.change
    points = [(age, 1000.0 * rate) for age, rate in change.curve]
    best = None if change.waits else change.age
    centre = best or found.life.eta.median
    least = 1000.0 * change.cost_rate
    last = REACH * centre
    top = HIGHEST * least
    drawn = [(a, r) for a, r in points if a <= last and r <= top]
    now = next((one.age_cars for one in found.sets if one.state == "on"), None)
    failure = 1000.0 * change.at_failure
    low, high = change.flat

    def x(age: float) -> float:
        return LEFT + (RIGHT - LEFT) * min(age, last) / last

    def y(rate: float) -> float:
        return FLOOR - (FLOOR - TOP) * rate / top

    band = low < last
    path = " ".join(
        f"{'L' if n else 'M'}{WIDE * a / last:.1f} {HIGH * (1.0 - r / top):.1f}"
        for n, (a, r) in enumerate(drawn)
    )
    return CostCurve(
        label=_label(found),
        line=path,
        flat_x=_at(x(low)) if band else "",
        flat_width=_at(x(high) - x(low)) if band else "",
        best_x="" if best is None else _at(x(best)),
        best_y="" if best is None else f"{y(least):.1f}",
        best_words="" if best is None else _("best: {age}", age=_cars(best)),
        best_anchor="start",
        now_x="" if now is None or now > last else _at(x(now)),
        now_words="" if now is None or now > last else _("now: {age}", age=_cars(now)),
        now_anchor="start" if now is not None and now < 0.75 * last else "end",
        failure_y=f"{y(failure):.1f}" if failure <= top else "",
        failure_words=_("when it fails: {rate}", rate=plain_number(failure, 0)),
        up=tuple(Tick(f"{y(v):.1f}", plain_number(v, 0)) for v in grid_values(top)),
        across=tuple(Tick(_at(x(v)), _cars(v)) for v in grid_values(last)),
        heads=(
            _("Changed after, full wipes"),
            _("Cost per 1,000 full wipes"),
            _("Above the best, %"),
        ),
        rows=tuple(_row(points, share * centre, least) for share in ROWS),
    )


def _row(points: Sequence[tuple[float, float]], age: float, least: float) -> tuple[str, ...]:
    rate = _rate_at(points, age)
    above = 100.0 * (rate / least - 1.0)
    return _cars(age), plain_number(rate, 1), plain_number(max(0.0, above), 1)


def _rate_at(points: Sequence[tuple[float, float]], age: float) -> float:
    """The curve between its points, straight in the logarithm of age; its end beyond them."""
    after = bisect.bisect([point[0] for point in points], age)
    if after in (0, len(points)):
        return points[min(after, len(points) - 1)][1]
    (a, low), (b, high) = points[after - 1], points[after]
    return low + (high - low) * math.log(age / a) / math.log(b / a)


def _cars(age: float) -> str:
    step = 100 if age < 100_000 else 1000
    return plain_number(step * round(age / step), 0)


def _at(percent: float) -> str:
    return f"{percent:.2f}%"


def _label(found: ClothAnswer) -> str:
    change = found.change
    rates = {
        "least": plain_number(1000.0 * change.cost_rate, 0),
        "failure": plain_number(1000.0 * change.at_failure, 0),
    }
    if change.waits:
        return _(
            "Cost per 1,000 full wipes by the age at which a set is changed: it falls to "
            "{failure}, the cost of waiting until a set wears out.",
            **rates,
        )
    return _(
        "Cost per 1,000 full wipes by the age at which a set is changed: least at {age} full wipes "
        "with {least}; {failure} if sets are left on until they wear out.",
        age=_cars(change.age),
        **rates,
    )

"""The charts of a plan by hour: what is drawn, what is said of it, and the figures beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from app.catalogue import _
from app.charts.drawing import SEPARATOR, Limit, Series, picture, top_of
from app.words.figures import hour_range, plain_number
from sim.inputs import MOST_SCENARIOS

Comparison = Mapping[str, Any]

SOME_DAMP = 2.0
"""Damp cars of an hour [%] from which it needs a word why there are any."""


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart with everything that stands around it.

    Attributes:
        key: short name, unique on the page.
        title: figure and unit.
        says: the line under the title, what is seen.
        label: what the picture is, for those who do not see it.
        svg: the picture, inline.
        hours: the hours drawn; value i belongs to hours[i] to hours[i] + 1.
        series: one a scenario, in their order.
        front: a thin line behind them (cars arriving), or None.
        rows: the same figures as shown text, one row a series (front first).
    """

    key: str
    title: str
    says: str
    label: str
    svg: Markup
    hours: tuple[int, ...]
    series: tuple[Series, ...]
    front: Series | None
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def hours_of(comparison: Comparison) -> tuple[int, ...]:
    """The hours worth drawing: open hours, and later ones in which cars are still washed."""
    limits = comparison["limits"]
    first = max(0, math.floor(limits["open_h"]))
    last = min(24, math.ceil(limits["close_h"]))
    for scenario in comparison["scenarios"]:
        washed = scenario["hours"].get("washed", ())
        last = max([last, *(hour + 1 for hour, cars in enumerate(washed) if (cars or 0) >= 0.5)])
    return tuple(range(first, max(last, first + 1)))


def hourly_charts(comparison: Comparison) -> tuple[Chart, ...]:
    """The four charts of a plan: cars per hour, stack, saturation, damp cars."""
    limits = comparison["limits"]
    hours = hours_of(comparison)
    arrivals = comparison["conditions"]["arrivals_per_h"]
    front = Series(_("cars arriving"), tuple(float(arrivals[hour]) for hour in hours))
    stack_limit = Limit(
        float(limits["stack_limit_cars"]),
        _("stack limit {cars}", cars=plain_number(limits["stack_limit_cars"], 0)),
    )
    damp_percent = 100.0 * float(limits["damp_limit_saturation"])
    damp_limit = None
    if not limits["no_wiping_needed"]:
        said = _("damp limit {percent}", percent=plain_number(damp_percent, 0))
        damp_limit = Limit(damp_percent, said)
    cars = _series(comparison, "washed", hours)
    stack = _series(comparison, "stack_mean", hours)
    wet = _series(comparison, "saturation_mean", hours, 100.0)
    damp = _series(comparison, "damp_share", hours, 100.0)
    belt = float(limits["belt_capacity_per_h"])
    return (
        _chart("cars", _("Cars per hour"), _says_cars(hours, front, belt), hours, cars, front),
        _chart(
            "stack",
            _("Stack, cars"),
            _says_stack(hours, stack, stack_limit.value),
            hours,
            stack,
            limit=stack_limit,
        ),
        _chart(
            "saturation",
            _("Saturation, % of holding capacity"),
            _says_saturation(wet, damp_limit, max(map(top_of, damp))),
            hours,
            wet,
            limit=damp_limit,
        ),
        _chart("damp", _("Damp cars, % of the hour’s cars"), _says_damp(hours, damp), hours, damp),
    )


def _series(
    comparison: Comparison, name: str, hours: Sequence[int], factor: float = 1.0
) -> tuple[Series, ...]:
    found = []
    for scenario in comparison["scenarios"][:MOST_SCENARIOS]:
        values = scenario["hours"].get(name, [None] * 24)
        found.append(
            Series(
                str(scenario["name"]),
                tuple(None if values[h] is None else float(values[h]) * factor for h in hours),
            )
        )
    return tuple(found)


# ---- the line under the title: what is seen ----------------------------------------------------


def _stretch(hours: Sequence[int], marked: Sequence[bool]) -> tuple[str, str]:
    """Clock times at which the first marked hour begins and the last one ends."""
    chosen = [hour for hour, is_in in zip(hours, marked, strict=True) if is_in]
    return f"{chosen[0]}:00", f"{chosen[-1] + 1}:00"


def _says_cars(hours: Sequence[int], front: Series, belt: float) -> str:
    over = [(cars or 0.0) > belt for cars in front.values]
    if not any(front.values):
        return _("No cars are expected.")
    if any(over):
        first, end = _stretch(hours, over)
        return _("From {first} to {end} more arrive than the belt takes.", first=first, end=end)
    return _(
        "The belt could take {belt} an hour; never so many arrive.", belt=plain_number(belt, 0)
    )


def _says_stack(hours: Sequence[int], series: Sequence[Series], limit: float) -> str:
    worst = max(series, key=top_of)
    full = [(cars or 0.0) >= 0.85 * limit for cars in worst.values]
    said = plain_number(limit, 0)
    if any(full):
        first, end = _stretch(hours, full)
        return _(
            "Close to its limit of {limit} from {first} to {end}, with {name}.",
            limit=said,
            first=first,
            end=end,
            name=worst.name,
        )
    if top_of(worst) < 0.1:
        return _("Hardly a car waits here; {limit} have room.", limit=said)
    return _(
        "Mean of the hour; at most {most}, where {limit} have room.",
        most=plain_number(top_of(worst), 0 if top_of(worst) >= 10 else 1),
        limit=said,
    )


def _says_saturation(series: Sequence[Series], limit: Limit | None, most_damp: float) -> str:
    if limit is None:
        return _("Even without wiping hardly a car is damp: no wiping is needed.")
    worst = max(series, key=top_of)
    over = sum((percent or 0.0) > limit.value for percent in worst.values)
    if over == 0 and most_damp >= SOME_DAMP:
        return _("Below the damp limit in every hour; cars wetter than most are damp before it.")
    if over == 0:
        return _("Below the damp limit in every hour.")
    if over == 1:
        return _("{name} is above the damp limit for an hour.", name=worst.name)
    return _("{name} is above the damp limit for {count} hours.", name=worst.name, count=over)


def _says_damp(hours: Sequence[int], series: Sequence[Series]) -> str:
    worst = max(series, key=top_of)
    if top_of(worst) < 0.5:
        return _("Hardly a car leaves damp at any hour.")
    peak = max(range(len(hours)), key=lambda i: worst.values[i] or 0.0)
    return _(
        "Most in {hours}: {percent}\u00a0% with {name}.",
        hours=hour_range(hours[peak], hours[peak] + 1),
        percent=plain_number(top_of(worst), 0 if top_of(worst) >= 2 else 1),
        name=worst.name,
    )


# ---- one chart ---------------------------------------------------------------------------------


def _chart(
    key: str,
    title: str,
    says: str,
    hours: tuple[int, ...],
    series: tuple[Series, ...],
    front: Series | None = None,
    limit: Limit | None = None,
) -> Chart:
    drawn = (*series, front) if front else series
    decimals = 0 if max(map(top_of, drawn)) >= 10 else 1
    rows = tuple(
        (one.name, tuple("–" if v is None else plain_number(v, decimals) for v in one.values))
        for one in ((front, *series) if front else series)
    )
    texts = tuple(
        SEPARATOR.join(
            [hour_range(hour, hour + 1), *(f"{name}: {cells[i]}" for name, cells in rows)]
        )
        for i, hour in enumerate(hours)
    )
    label = _("{title}, hour by hour; the same figures are in the table below.", title=title)
    svg = Markup(  # noqa: S704  our own rendering, stripped of all but shapes and text
        picture(hours, series, front, limit, texts, label)
    )
    return Chart(key, title, says, label, svg, hours, series, front, rows)

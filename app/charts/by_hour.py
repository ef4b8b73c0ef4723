"""The charts of a plan by hour: what is drawn, what is said of it, and the figures beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from app.catalogue import _
from app.charts import marks
from app.charts.marks import Chart, Key, Place, Scale
from app.words.numbers import hour_range, plain_number, whole
from sim.decide.answer import Comparison
from sim.inputs import MOST_SCENARIOS

TITLES = {
    "cars": "Cars per hour",
    "stack": "Stack, cars",
    "saturation": "Saturation, % of holding capacity",
    "damp": "Damp at the wheel, % of the hour’s cars",
}
SOME_DAMP = 2.0
"""Cars damp at the wheel in an hour [%] from which it needs a word why there are any."""
LEAST_REACH = 4.0
"""The vertical axis reaches at least so far, that a tenth of a car does not look like a crowd."""
TOP, FLOOR = 6.0, 140.0
"""Where the vertical axis ends and begins [px down]."""


@dataclass(frozen=True, slots=True)
class Series:
    """One scenario's values, one an hour drawn; None where there is none."""

    name: str
    values: tuple[float | None, ...]

    @property
    def top(self) -> float:
        """Largest value; 0 where there is none."""
        return max((value for value in self.values if value is not None), default=0.0)

    @property
    def peak(self) -> int:
        """Which of the hours drawn has it."""
        return max(range(len(self.values)), key=lambda at: self.values[at] or 0.0)


@dataclass(frozen=True, slots=True)
class Limit:
    """A named line at a value of the vertical axis."""

    value: float
    name: str


def hours_of(found: Comparison) -> range:
    """The hours worth drawing: open hours, and later ones in which cars are still washed."""
    washed = [column.hour("washed") for column in found.columns]
    late = (hour + 1 for cars in washed for hour, count in enumerate(cars) if (count or 0) >= 0.5)
    first = max(0, math.floor(found.limits.open_h))
    last = max([min(24, math.ceil(found.limits.close_h)), *late])
    return range(first, max(last, first + 1))


def hourly_charts(found: Comparison) -> tuple[Chart, ...]:
    """The four charts of a plan: cars per hour, stack, saturation, cars damp at the wheel."""
    limits, hours = found.limits, hours_of(found)

    def series(figure: str, factor: float = 1.0) -> tuple[Series, ...]:
        shown = ((one.name, one.hour(figure)) for one in found.columns[:MOST_SCENARIOS])
        return tuple(
            Series(name, tuple(None if v is None else factor * v for v in (of[h] for h in hours)))
            for name, of in shown
        )

    arrivals = found.conditions.arrivals_per_h
    front = Series(_("cars arriving"), tuple(arrivals[hour] for hour in hours))
    most, damp_percent = limits.stack_limit_cars, 100.0 * limits.damp_limit_saturation
    full = Limit(most, _("stack limit {cars}", cars=whole(most)))
    said = _("damp limit {percent}", percent=whole(damp_percent))
    wet_limit = None if limits.no_wiping_needed else Limit(damp_percent, said)
    stack, damp = series("stack_mean"), series("damp_share", 100.0)
    wet, most_damp = series("saturation_mean", 100.0), max(one.top for one in damp)
    cars_say = _says_cars(hours, front, limits.belt_capacity_per_h)
    wet_says = _says_saturation(wet, wet_limit, most_damp)
    return (
        _chart(hours, "cars", cars_say, series("washed"), front=front),
        _chart(hours, "stack", _says_stack(hours, stack, most), stack, limit=full),
        _chart(hours, "saturation", wet_says, wet, limit=wet_limit),
        _chart(hours, "damp", _says_damp(hours, damp), damp),
    )


def typed_chart(open_h: float, usual: Sequence[float], busy: Sequence[float]) -> Chart:
    """Cars of each open hour of a usual and of a busy day, as somebody typed them."""
    first = math.floor(open_h)
    series = (Series(_("Usual day"), tuple(usual)), Series(_("Busy day"), tuple(busy)))
    says = _("{usual} cars on a usual day, {busy} on a busy one.",
             usual=whole(sum(usual)), busy=whole(sum(busy)))  # fmt: skip
    return _chart(range(first, first + len(usual)), "cars", says, series)


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
    sentence = "The belt could take {belt} an hour; never so many arrive."
    return _(sentence, belt=plain_number(belt, 0))


def _says_stack(hours: Sequence[int], series: Sequence[Series], limit: float) -> str:
    worst = max(series, key=lambda one: one.top)
    full = [(cars or 0.0) >= 0.85 * limit for cars in worst.values]
    said, most = plain_number(limit, 0), plain_number(worst.top, 0 if worst.top >= 10 else 1)
    if any(full):
        first, end = _stretch(hours, full)
        sentence = "Close to its limit of {limit} from {first} to {end}, with {name}."
        return _(sentence, limit=said, first=first, end=end, name=worst.name)
    if worst.top < 0.1:
        return _("Hardly a car waits here; {limit} have room.", limit=said)
    return _("Mean of the hour; at most {most}, where {limit} have room.", most=most, limit=said)


def _says_saturation(series: Sequence[Series], limit: Limit | None, most_damp: float) -> str:
    if limit is None:
        return _("Even without wiping hardly a car is damp: no wiping is needed.")
    worst = max(series, key=lambda one: one.top)
    over = sum((percent or 0.0) > limit.value for percent in worst.values)
    if over == 0 and most_damp >= SOME_DAMP:
        return _("Below the damp limit in every hour; cars wetter than most are damp before it.")
    if over == 0:
        return _("Below the damp limit in every hour.")
    if over == 1:
        return _("{name} is above the damp limit for an hour.", name=worst.name)
    return _("{name} is above the damp limit for {count} hours.", name=worst.name, count=over)


def _says_damp(hours: Sequence[int], series: Sequence[Series]) -> str:
    worst = max(series, key=lambda one: one.top)
    if worst.top < 0.5:
        return _("Hardly a car is damp at the wheel at any hour.")
    when = hour_range(hours[worst.peak], hours[worst.peak] + 1)
    most = plain_number(worst.top, 0 if worst.top >= 2 else 1)
    sentence = "Most in {hours}: {percent}\u00a0% with {name}."
    return _(sentence, hours=when, percent=most, name=worst.name)


# ---- one chart ---------------------------------------------------------------------------------


def _chart(
    hours: range,
    name: str,
    says: str,
    series: tuple[Series, ...],
    *,
    front: Series | None = None,
    limit: Limit | None = None,
) -> Chart:
    """A chart; `front` is a line of its own before the scenarios', whose peak is named."""
    told, title = (front, *series) if front else series, _(TITLES[name])
    decimals = 0 if max(one.top for one in told) >= 10 else 1
    rows = tuple(
        (one.name, *("–" if v is None else plain_number(v, decimals) for v in one.values))
        for one in told
    )
    label = _("{title}, hour by hour; the same figures are in the table below.", title=title)
    heads = (_("From"), *(f"{hour}:00" for hour in hours))
    key = tuple(Key(marks.scenario_mark(n), one.name) for n, one in enumerate(series, 1))
    highest = max([*(one.top for one in told), LEAST_REACH])
    # A limit far above the lines would squash them; the line under the title names it instead.
    shown = limit if limit and highest >= 0.3 * limit.value else None
    top = 1.14 * max(highest, shown.value if shown else 0.0)
    x = Scale(hours.start - 1.1, hours.stop + 0.3)
    y = Scale(0.0, top, FLOOR, TOP)

    def places(one: Series) -> list[Place | None]:
        """Values stand at the middle of their hour."""
        of_hours = zip(hours, one.values, strict=True)
        return [None if v is None else (x(hour + 0.5), y(v)) for hour, v in of_hours]

    classes = [*(["line front"] if front else []), *(f"line s{n + 1}" for n in range(len(series)))]
    lines = ((kind, marks.line_of(places(one))) for kind, one in zip(classes, told, strict=True))
    every = 4 if len(hours) > 7 else 2
    clock = [(x(h), f"{h}:00") for h in range(hours.start, hours.stop + 1) if h % every == 0]
    svg = marks.picture(
        label,
        FLOOR + marks.FOOT_PX,
        marks.grid(y, marks.grid_values(top, shown.value if shown else None)),
        marks.floor(FLOOR, clock),
        marks.stretched(FLOOR, *lines),
        *(
            marks.point(place, marks.SHAPES[n])
            for n, one in enumerate(series)
            for k, place in enumerate(places(one))
            if place is not None and _has_marker(k, n, len(series))
        ),
        *([_peak_named(hours, front, x, y)] if front and front.top > 0.0 else []),
        *([_limit_named(series, shown, y)] if shown else []),
        *(
            marks.bar("hour", (x(hour), x(hour + 1), 0.0, FLOOR), _tells(hour, rows, k))
            for k, hour in enumerate(hours)
        ),
    )
    return Chart(name, title, says, svg, heads, rows, key=key)


def _has_marker(position: int, scenario: int, count: int) -> bool:
    """Markers are staggered, so that lines on one spot still show who is there."""
    return (position - scenario) % max(4, count) == 1 % max(4, count)


def _peak_named(hours: range, front: Series, x: Scale, y: Scale) -> Markup:
    place = (x(hours[front.peak] + 0.5), y(front.top) - marks.ABOVE - 1.0)
    return marks.words(front.name, place, "say halo", "middle")


def _limit_named(series: Sequence[Series], limit: Limit, y: Scale) -> Markup:
    """A limit's line, named at the end of the day at which the lines leave more room."""
    third = max(1, len(series[0].values) // 3)

    def highest(part: slice) -> float:
        return max((v for one in series for v in one.values[part] if v is not None), default=0.0)

    is_left = highest(slice(-third, None)) > highest(slice(0, third)) + 0.1 * limit.value
    return marks.limit(y(limit.value), limit.name, is_left)


def _tells(hour: int, rows: Sequence[Sequence[str]], position: int) -> str:
    """What an hour says: its time, then every line's value."""
    values = (f"{name}: {cells[position]}" for name, *cells in rows)
    return "\n".join([hour_range(hour, hour + 1), *values])

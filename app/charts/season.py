"""The season in a picture: wear by week, and above it the windows of changes and the orders.

Positions are percentages across and pixels down, so that text keeps its size on every screen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from app.catalogue import _, short_date
from app.charts.switching import Tick
from app.words.numbers import plain_number
from sim.decide.cloth.answer import ExpectedChange, SeasonAnswer

TOP, LANE, FLOOR = 22.0, 22.0, 250.0
"""Where the first window lies, how far the next one is below, where bars stand [px]."""
HIGHEST = 110.0
"""Of the tallest bar [px]."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MOST_WINDOWS = 5
Across = Callable[[date], float]


@dataclass(frozen=True, slots=True)
class Bar:
    """A week: place, width [%], top and height [px]."""

    x: str
    width: str
    y: str
    height: str
    says: str


@dataclass(frozen=True, slots=True)
class Window:
    """When a change falls in 8 of 10 futures, from x to x2 [%], and its best morning."""

    x: str
    x2: str
    middle: str
    y: str
    text_y: str
    words: str
    says: str


@dataclass(frozen=True, slots=True)
class YearChart:
    """The season; `orders` are places across [%]."""

    label: str
    bars: tuple[Bar, ...]
    windows: tuple[Window, ...]
    orders: tuple[tuple[str, str], ...]
    months: tuple[Tick, ...]
    says: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def year_chart(found: SeasonAnswer) -> YearChart:
    """The picture of a season."""
    first, last = found.first, found.last
    span = (last - first).days + 1

    def across(day: date) -> float:
        return min(100.0, max(0.0, 100.0 * (day - first).days / span))

    weeks: dict[int, float] = {}
    for one in found.days:
        week = (one.day - first).days // 7
        weeks[week] = weeks.get(week, 0.0) + one.figures["wear_cars"].planned[0]
    top = max(weeks.values(), default=1.0) or 1.0
    bars = tuple(_bar(first + timedelta(days=7 * week), wear, top, across, span)
                 for week, wear in sorted(weeks.items()))  # fmt: skip
    windows = tuple(
        _window(change, at, last, across) for at, change in enumerate(found.changes[:MOST_WINDOWS])
    )
    orders = tuple(
        (_pc(across(row.by)), _("order by {day}", day=short_date(row.by))) for row in found.orders
    )
    return YearChart(
        label=_("Wear by week from {first} to {last}, with the windows of changes",
                first=short_date(first), last=short_date(last)),
        bars=bars,
        windows=windows,
        orders=orders,
        months=tuple(_months(first, last, across)),
        says=_("The week that wears most does so by {most} full wipes.",
               most=plain_number(round(top, -2), 0)),
        heads=(_("Week from"), _("Wear, full wipes")),
        rows=tuple(
            (short_date(first + timedelta(days=7 * week)), plain_number(wear, 0))
            for week, wear in sorted(weeks.items())
        ),
    )  # fmt: skip


def _bar(start: date, wear: float, top: float, across: Across, span: int) -> Bar:
    height, left = HIGHEST * wear / top, across(start) + 0.12 * 700.0 / span
    return Bar(
        _pc(left),
        _pc(min(0.76 * 700.0 / span, 100.0 - left)),
        _px(FLOOR - height),
        _px(height),
        _("Week from {day}: {wear} full wipes", day=short_date(start), wear=plain_number(wear, 0)),
    )


def _window(change: ExpectedChange, at: int, last: date, across: Across) -> Window:
    y = TOP + LANE * at
    return Window(
        _pc(across(change.low)),
        _pc(across(change.high or last)),
        _pc(across(change.day)),
        _px(y),
        _px(y - 6.0),
        str(change.number),
        _("Change {number}: about {day}", number=change.number, day=short_date(change.day)),
    )


def _months(first: date, last: date, across: Across) -> list[Tick]:
    found: list[Tick] = []
    year, month = first.year, first.month
    while True:
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
        start = date(year, month, 1)
        if start > last:
            return found
        found.append(Tick(_pc(across(start)), _(MONTHS[month - 1])))


def _pc(value: float) -> str:
    return f"{value:.2f}%"


def _px(value: float) -> str:
    return f"{value:.1f}"

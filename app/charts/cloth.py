"""Both charts of cloth: the cost of changing at each age; a season's wear, changes and orders."""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from markupsafe import Markup

from app.catalogue import _, short_date
from app.charts import marks
from app.charts.marks import Chart, Key, Scale
from app.words.numbers import plain_number, whole
from sim.decide.cloth.answer import ClothAnswer, ExpectedChange, SeasonAnswer

# ---- the cost of changing at each age ------------------------------------------------------------

TOP, FLOOR, LEFT, RIGHT = 14.0, 228.0, 9.0, 97.0
"""Frame of the curve: down [px], across [%]."""
REACH = 3.0
"""The chart ends at so many times the best age, or the scale of life where there is none."""
HIGHEST = 2.2
"""And at so many times the least cost."""
ROWS = (0.4, 0.6, 0.8, 1.0, 1.25, 1.5, 2.0)
"""Ages of the table beside it, as shares of the best."""


def cost_curve(found: ClothAnswer) -> Chart:
    """The cost by age at change of an answer on cloth: the best age in the band of those that cost
    hardly more, the set on the wheel, and the cost of waiting until sets wear out."""
    change = found.change
    points = [(age, 1000.0 * rate) for age, rate in change.curve]
    least, failure = 1000.0 * change.cost_rate, 1000.0 * change.at_failure
    centre = found.life.eta.median if change.waits else change.age
    last, top = REACH * centre, HIGHEST * least
    x, y = Scale(0.0, last, LEFT, RIGHT), Scale(0.0, top, FLOOR, TOP)
    low, high = change.flat
    now = next((one.age_cars for one in found.sets if one.state == "on"), None)
    drawn = [
        marks.floor(FLOOR, [(x(age), _cars(age)) for age in marks.grid_values(last)]),
        marks.grid(y, marks.grid_values(top)),
    ]
    if low < last:
        drawn.insert(0, marks.bar("flat", (x(low), x(min(high, last)), TOP, FLOOR)))
    if failure <= top:
        said = _("when it fails: {rate}", rate=whole(failure))
        drawn.append(marks.limit(y(failure), said))
    curve = marks.line_of((x(age), y(rate)) for age, rate in points if age <= last and rate <= top)
    drawn.append(marks.stretched(FLOOR, ("line best", curve)))
    if now is not None and now <= last:
        is_left = now < 0.75 * last
        said = _("now: {age}", age=_cars(now))
        anchor, aside = ("start", 5.0) if is_left else ("end", -5.0)
        drawn += [
            marks.upright("turn", x(now), TOP, FLOOR),
            # down where no curve comes; on top, the cost of waiting stands
            marks.words(said, (x(now), FLOOR - 8.0), "say halo", anchor, aside),
        ]
    if not change.waits:
        place = (x(change.age), y(least))
        said = _("best: {age}", age=_cars(change.age))
        drawn += [
            marks.point(place, marks.SHAPES[0]),
            marks.words(said, (place[0], place[1] + 24.0), "strong halo"),
        ]
    return Chart(
        "cost",
        _("Cost per 1,000 full wipes, $"),
        _("by the age at which a set is changed, in full wipes"),
        marks.picture(_curve_label(found), FLOOR + marks.FOOT_PX, *drawn),
        (_("Changed after, full wipes"), _("Cost per 1,000 full wipes"), _("Above the best, %")),
        tuple(_row(points, share * centre, least) for share in ROWS),
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
    return whole(step * round(age / step))


def _curve_label(found: ClothAnswer) -> str:
    change = found.change
    failure = whole(1000.0 * change.at_failure)
    if change.waits:
        return _(
            "Cost per 1,000 full wipes by the age at which a set is changed: it falls to "
            "{failure}, the cost of waiting until a set wears out.",
            failure=failure,
        )
    return _(
        "Cost per 1,000 full wipes by the age at which a set is changed: least at {age} full wipes "
        "with {least}; {failure} if sets are left on until they wear out.",
        age=_cars(change.age),
        least=whole(1000.0 * change.cost_rate),
        failure=failure,
    )


# ---- the season ----------------------------------------------------------------------------------

FIRST_LANE, LANE, BASE = 22.0, 22.0, 250.0
"""Where the first window lies, how far the next one is below, where bars stand [px]."""
HIGHEST_PX = 110.0
"""Of the tallest bar."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MOST_WINDOWS = 5
ORDER = Markup('<path class="order" d="M0-11l6 10h-12z"/>')
DAY = Markup('<path class="day" d="M-3-4h6v8h-6z"/>')


def year_chart(found: SeasonAnswer) -> Chart:
    """The picture of a season: wear by week, above it windows of changes, and days of orders."""
    first, last = found.first, found.last
    span = (last - first).days + 1
    x = Scale(0.0, span)

    def across(day: date) -> float:
        return x(min(span, max(0, (day - first).days)))

    wear = {
        first + timedelta(days=7 * week): sum(one.figures["wear_cars"].planned[0] for one in days)
        for week, days in itertools.groupby(found.days, lambda one: (one.day - first).days // 7)
    }
    top = max(wear.values(), default=1.0) or 1.0
    y = Scale(0.0, top, BASE, BASE - HIGHEST_PX)

    def bar(start: date, cars: float) -> Markup:
        left = (start - first).days
        box = (x(left + 0.84), min(100.0, x(left + 6.16)), y(cars), BASE)
        said = _("Week from {day}: {wear} full wipes", day=short_date(start), wear=whole(cars))
        return marks.bar("wet", box, said)

    def window(change: ExpectedChange, lane: int) -> Markup:
        down, at = FIRST_LANE + LANE * lane, across(change.day)
        said = _("Change {number}: about {day}", number=change.number, day=short_date(change.day))
        return marks.told(
            said,
            marks.across("window", down, across(change.low), across(change.high or last)),
            marks.point((at, down), DAY),
            marks.words(str(change.number), (at, down - 6.0), "strong halo", "start", 8.0),
        )

    months = [(across(day), _(MONTHS[day.month - 1])) for day in _months(first, last)]
    svg = marks.picture(
        _(
            "Wear by week from {first} to {last}, with the windows of changes",
            first=short_date(first),
            last=short_date(last),
        ),
        BASE + marks.FOOT_PX,
        *(bar(start, cars) for start, cars in wear.items()),
        marks.floor(BASE, months, is_thinned=True),
        *(window(change, lane) for lane, change in enumerate(found.changes[:MOST_WINDOWS])),
        *(
            marks.told(
                _("order by {day}", day=short_date(row.by)),
                marks.point((across(row.by), BASE), ORDER),
            )
            for row in found.orders
        ),
    )
    key = (
        Key(marks.BAR, _("wear of a week")),
        Key(marks.swatch(marks.stroke("window"), DAY), _("a change: 8 of 10 futures, and its day")),
        Key(marks.swatch(marks.stroke("order", "M0-5l6 10h-12z")), _("order by")),
    )
    return Chart(
        "year",
        _("Wear of the cloth by week, full wipes of a sedan"),
        _("The week that wears most does so by {most} full wipes.", most=whole(round(top, -2))),
        svg,
        (_("Week from"), _("Wear, full wipes")),
        tuple((short_date(start), whole(cars)) for start, cars in wear.items()),
        key,
    )


def _months(first: date, last: date) -> Iterator[date]:
    """The first days of months within a season."""
    start = first.replace(day=1)
    while (start := (start + timedelta(days=32)).replace(day=1)) <= last:
        yield start

"""Nine of ten coming days fall into the range that is told of them, on open hourly counts.

Rolling origin: eight weeks of counts in, the seven days after them out, then further along. Each
range is of days drawn as a plan draws them, from what `expected_day` leads to expect. The counts
are of people on foot and of aeroplanes; open counts of cars at a wash there are none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from sim.day.draw import DayDraw, arrival_times, as_it_comes
from sim.inputs import Conditions, DemandSpread, History, HourCount, Site, SiteData
from sim.learn.expected_day import Override, expected_day
from tests.learn.open_counts import FLYING, ON_FOOT, Days, departures, on_foot
from tests.seeds import seed
from tests.sizes import Size

WEEKS_IN, DAYS_OUT = 8, 7
DRAWS = 160
AIR = Override(highest_temp_c=25.0, humidity=0.5)
SENSORS = {
    "street of shops": "2 High Street",
    "railway station": "Te Ara Tahuhu Walkway",
    "street of cafés": "150 K Road",
}
OF_OLD = DemandSpread(0.12, 0.0)
"""What every plan had before: the guess for days, and nothing else."""


@cache
def sensors() -> dict[str, Days]:
    """All three sensors, read once."""
    return on_foot(tuple(SENSORS.values()))


@cache
def draws() -> list[DayDraw]:
    """The draws of days, which every range shares; they grow as far as they are asked for."""
    return [DayDraw(seed("open counts"), number) for number in range(DRAWS)]


@dataclass(frozen=True)
class Coming:
    """A day held out: what was expected of it, and what came in each hour."""

    site: Site
    conditions: Conditions
    hours: range
    came: tuple[int, ...]

    def drawn(self, spread: DemandSpread | None = None) -> np.ndarray[tuple[int, int]]:
        """Counts of drawn days, shape (DRAWS, hours); with another spread than was told."""
        day = self.conditions if spread is None else replace(self.conditions, spread=spread)
        rows = []
        for draw in draws():
            times = arrival_times(draw, self.site, as_it_comes(draw, self.site, day))
            rows.append(np.bincount((times // 3600.0).astype(int), minlength=24)[list(self.hours)])
        return np.array(rows)

    def held(self, spread: DemandSpread | None = None) -> tuple[bool, bool]:
        """Whether total and count of the hour expected busiest lay in their ranges, 5th to 95th
        percentile."""
        drawn = self.drawn(spread)
        cars = self.conditions.arrivals_per_h
        busiest = max(range(len(self.hours)), key=lambda at: cars[self.hours[at]])
        found = []
        for counts, came in (
            (drawn.sum(axis=1), sum(self.came)),
            (drawn[:, busiest], self.came[busiest]),
        ):
            low, high = np.percentile(counts, [5, 95])
            found.append(bool(low <= came <= high))
        return found[0], found[1]


def coming_days(days: Days, hours: range, origins: int) -> Iterator[Coming]:
    """Days held out after each of so many origins, spread evenly over the series."""
    site = Site("Open").with_values({"open_h": float(hours[0]), "close_h": float(hours[-1] + 1)})
    first, last = min(days), max(days)
    weeks = ((last - first).days + 1 - DAYS_OUT) // 7 - WEEKS_IN
    for week in np.linspace(0, weeks, origins).astype(int).tolist():
        origin = first + timedelta(days=7 * (week + WEEKS_IN))
        start = origin - timedelta(days=7 * WEEKS_IN)
        counts = tuple(
            HourCount(day, hour, 0, cars)
            for day, row in days.items()
            if start <= day < origin
            for hour, cars in zip(hours, row, strict=True)
        )
        data = SiteData(site, history=History("arrived", counts))
        for ahead in range(DAYS_OUT):
            day = origin + timedelta(days=ahead)
            if day in days:
                expected = expected_day(data, day, AIR)
                yield Coming(site, expected.conditions, hours, days[day])


def coverage(
    name: str, days: Days, hours: range, origins: int, record: Callable[[str, float, str], None]
) -> tuple[float, float, int]:
    """Shares of totals and of busiest hours held, and days; written down beside those of old."""
    coming = list(coming_days(days, hours, origins))
    for words, spread in (("before", OF_OLD), ("now", None)):
        shares = np.mean([one.held(spread) for one in coming], axis=0)
        record(f"{name}, {words}: totals held", 100.0 * float(shares[0]), "%")
        record(f"{name}, {words}: busiest hours held", 100.0 * float(shares[1]), "%")
    return float(shares[0]), float(shares[1]), len(coming)


def allowed(days: int) -> tuple[float, float]:
    """85 to 95 %, wider by what so few days leave to luck; days of a week are alike, so each week
    counts as two days."""
    weeks = days / DAYS_OUT
    luck = 3.0 * (0.9 * 0.1 / (2.0 * weeks)) ** 0.5 if weeks < 20 else 0.0
    return 0.85 - luck, 0.95 + luck


@pytest.mark.soak
@pytest.mark.parametrize("place", SENSORS)
def test_nine_of_ten_coming_days_are_held_on_foot(
    place: str, size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Of people on foot 85 to 95 % of totals and of busiest hours lie in the ranges told."""
    days = sensors()[SENSORS[place]]
    totals, busiest, count = coverage(place, days, ON_FOOT, size(small=3, full=24), record_figure)
    low, high = allowed(count)
    assert low <= totals <= high
    assert low <= busiest <= high


@pytest.mark.soak
def test_departures_by_timetable_vary_less_than_chance(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Aeroplanes leave by timetable, so an hour differs less than by chance alone, which is the
    least that the model knows: at least 85 % of totals and hours are held, and ranges of hours
    are rather too wide."""
    totals, busiest, count = coverage(
        "departures", departures(), FLYING, size(small=3, full=24), record_figure
    )
    low, high = allowed(count)
    assert low <= totals <= high
    assert busiest >= low

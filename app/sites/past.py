"""The past of sites: kept in memory while it stays the same, in short, and as files."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Generic, TypeVar

from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.files.csv_table import Written, csv_text
from app.files.hourly import Hour, SiteClock
from app.sites.reading import with_history
from sim.inputs import History, HourCount, HourWeather, Site, SiteData
from sim.learn.expected_day import ExpectedDay, Override, expected_day, past_of
from sim.learn.like_days import LikeDays

T = TypeVar("T")


@dataclass(frozen=True)
class _Version(Generic[T]):
    """A version of a site, and how what is kept of it is read if it has not been."""

    site_id: int
    version: int
    read: Callable[[], T] = field(compare=False)


@dataclass(frozen=True, eq=False)
class _Same:
    """A site with its past that equals itself alone: a year of hours takes long to compare."""

    data: SiteData

    def __hash__(self) -> int:
        return id(self.data)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.data is self.data


class Past:
    """Sites with their past and the days expected from it, kept while their version stays.

    Reading a year and going through it for one expected day takes longer than drawing a page.
    """

    KEPT = 8
    KEPT_DAYS = 400

    def __init__(self) -> None:
        @lru_cache(self.KEPT)
        def site(version: _Version[StoredSite]) -> StoredSite:
            return version.read()

        @lru_cache(self.KEPT)
        def data(version: _Version[SiteData]) -> SiteData:
            return version.read()

        @lru_cache(self.KEPT)
        def counts(same: _Same) -> LikeDays:
            return past_of(same.data)

        @lru_cache(self.KEPT_DAYS)
        def look(same: _Same, day: date, override: Override) -> ExpectedDay:
            return expected_day(same.data, day, override, counts(same))

        self._site, self._data, self._look = site, data, look

    def site(self, session: Session, slug: str) -> StoredSite | None:
        """The site at an address, from memory if this version of it was read before; None if
        there is none."""
        line = next((one for one in store.list_sites(session) if one.slug == slug), None)
        if line is None:
            return None
        return self._site(_Version(line.id, line.version, lambda: store.get_site(session, line.id)))

    def data(self, session: Session, stored: StoredSite) -> SiteData:
        """The site with its past, from memory if this version of it was read before."""
        read = _Version(stored.id, stored.version, lambda: with_history(session, stored))
        return self._data(read)

    def look(self, data: SiteData, day: date, override: Override) -> ExpectedDay:
        """`expected_day`, from memory if it was asked of this very data before."""
        return self._look(_Same(data), day, override)


@dataclass(frozen=True, slots=True)
class CountedDay:
    """A day of counts: hours counted, cars in all, the busiest hour and its cars."""

    day: date
    hours: int
    cars: int
    busiest_hour: int
    busiest_cars: int


@dataclass(frozen=True, slots=True)
class WeatherDay:
    """A day of weather: hours, lowest and highest temperature [°C], mean humidity, rain [mm]."""

    day: date
    hours: int
    low_c: float
    high_c: float
    humidity: float
    rain_mm: float


@dataclass(frozen=True, slots=True)
class PastInShort:
    """What is stored of the past.

    Attributes:
        count_days, weather_days: days in order; empty where nothing is stored.
        hours: open clock hours, ascending.
        means: cars, mean over all such days, for each weekday (Monday first) and open hour;
            None where no such hour was counted.
        day_means: cars a day, mean over whole days of each weekday; None where there is none.
    """

    count_days: tuple[CountedDay, ...]
    weather_days: tuple[WeatherDay, ...]
    hours: tuple[int, ...]
    means: tuple[tuple[float | None, ...], ...]
    day_means: tuple[float | None, ...]

    @property
    def cars(self) -> int:
        """Cars counted in all."""
        return sum(item.cars for item in self.count_days)

    @property
    def temps_c(self) -> tuple[float, float]:
        """Lowest and highest temperature; there has to be weather."""
        days = self.weather_days
        return min(item.low_c for item in days), max(item.high_c for item in days)


def in_short(history: History, site: Site) -> PastInShort:
    """The stored past in short."""
    line = site.line
    hours = tuple(h for h in range(24) if h < line.close_h and h + 1 > line.open_h)
    days = counted_days(history.counts)
    return PastInShort(
        days,
        weather_days(history.weather),
        hours,
        _means(history.counts, hours),
        _day_means(days, len(hours)),
    )


def counted_days(counts: Iterable[HourCount]) -> tuple[CountedDay, ...]:
    """Counts day by day."""
    of_day: dict[date, list[HourCount]] = {}
    for item in counts:
        of_day.setdefault(item.day, []).append(item)
    found = []
    for day, items in sorted(of_day.items()):
        busiest = max(items, key=lambda item: item.cars)
        cars = sum(item.cars for item in items)
        found.append(CountedDay(day, len(items), cars, busiest.hour, busiest.cars))
    return tuple(found)


def weather_days(weather: Iterable[HourWeather]) -> tuple[WeatherDay, ...]:
    """Weather day by day."""
    of_day: dict[date, list[HourWeather]] = {}
    for item in weather:
        of_day.setdefault(item.day, []).append(item)
    return tuple(
        WeatherDay(
            day,
            len(items),
            min(i.temp_c for i in items),
            max(i.temp_c for i in items),
            sum(i.humidity for i in items) / len(items),
            sum(i.rain_mm for i in items),
        )
        for day, items in sorted(of_day.items())
    )


def _means(
    counts: Sequence[HourCount], hours: tuple[int, ...]
) -> tuple[tuple[float | None, ...], ...]:
    sums: dict[tuple[int, int], list[int]] = {}
    for item in counts:
        sums.setdefault((item.day.weekday(), item.hour), []).append(item.cars)
    return tuple(
        tuple(_mean(sums.get((weekday, hour), [])) for hour in hours) for weekday in range(7)
    )


def _day_means(days: Iterable[CountedDay], open_hours: int) -> tuple[float | None, ...]:
    whole = [item for item in days if item.hours >= open_hours]
    return tuple(
        _mean([item.cars for item in whole if item.day.weekday() == weekday])
        for weekday in range(7)
    )


def _mean(values: Sequence[int]) -> float | None:
    return sum(values) / len(values) if values else None


def counts_csv(history: History, timezone: str, by_hour: bool = False) -> str:
    """The counts as a file that can be brought in again; `by_hour` as in `_hours_csv`."""
    cells = ((row.cars,) for row in history.counts)
    return _hours_csv(
        (f"cars_{history.counted}",), _hours(history.counts), cells, timezone, by_hour
    )


def weather_csv(history: History, timezone: str, by_hour: bool = False) -> str:
    """The weather as a file that can be brought in again; by the hour with all of its digits."""
    heads = ("temp_c", "humidity_pct", "rain_mm")
    cells = (
        (_short(row.temp_c), _percent(row.humidity), _short(row.rain_mm))
        if by_hour
        else (float(row.temp_c), f"{100.0 * row.humidity:.10g}", float(row.rain_mm))
        for row in history.weather
    )
    return _hours_csv(heads, _hours(history.weather), cells, timezone, by_hour)


def _hours(rows: Sequence[HourCount] | Sequence[HourWeather]) -> list[Hour]:
    return [(row.day, row.hour, row.fold) for row in rows]


def _short(value: float) -> Written:
    return Written(repr(float(value)).removesuffix(".0"))


def _percent(share: float) -> str:
    # Shifting the decimal point keeps every digit; multiplying by 100 would not.
    return format(Decimal(repr(share)).scaleb(2).normalize(), "f")


def _hours_csv(
    heads: tuple[str, ...],
    hours: Sequence[Hour],
    cells: Iterable[tuple[object, ...]],
    timezone: str,
    by_hour: bool,
) -> str:
    """Hours in order of time, each by its local time with the UTC offset, or by date and hour.

    Only where the second of two equal hours stands without the first is the order of lines not
    enough to tell them apart by date and hour; then every line has its local time.
    """
    clock, there = SiteClock(timezone), set(hours)
    by_hour &= not any(fold and (day, hour, 0) not in there for day, hour, fold in there)
    begun = ("date", "hour") if by_hour else ("start",)
    times = (hour[:2] if by_hour else (clock.offset_text(hour),) for hour in hours)
    lines = ((*time, *rest) for time, rest in zip(times, cells, strict=True))
    return csv_text((*begun, *heads), lines, "\n")

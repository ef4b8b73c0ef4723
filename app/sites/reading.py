"""Sites as they are read: by address or by name, whole or in lines, with their past and in short;
and the way to the gate.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import lru_cache
from typing import Generic, TypeVar

from app.db import pages, store
from app.db.session import CannotOpen, Database, Session
from app.db.store import Change, KnownExport, Phone, SiteLine, StoredPlan, StoredSite
from app.sites.changes import Gate, Outcome
from app.sites.stale import Stale, label_of
from sim.errors import InputError, InputProblem, nearest
from sim.inputs import Forecast, History, HourCount, HourWeather, LogEntry, Site, SiteData
from sim.learn.expected_day import ExpectedDay, Override, expected_day, past_of
from sim.learn.full_hours import capacity_notes
from sim.learn.like_days import LikeDays

__all__ = [
    # what pages name of the rooms behind
    "CannotOpen",
    "Change",
    "Database",
    "Gate",
    "KnownExport",
    "Outcome",
    "Phone",
    "SiteLine",
    "Stale",
    "StoredPlan",
    "StoredSite",
    "label_of",
]

T = TypeVar("T")
HourRow = TypeVar("HourRow", HourCount, HourWeather)


def sites_of(database: Database) -> tuple[SiteLine, ...]:
    """Every site, by name."""
    with database.session() as session:
        return store.list_sites(session)


def history_of(database: Database, site_id: int) -> History:
    """The past of a site."""
    with database.session() as session:
        return store.load_history(session, site_id)


def exports_of(database: Database, site_id: int) -> tuple[KnownExport, ...]:
    """The shapes of export that a site knows."""
    with database.session() as session:
        return store.load_exports(session, site_id)


def changes_of(database: Database, site_id: int, limit: int) -> tuple[Change, ...]:
    """The newest changes to a site."""
    with database.session() as session:
        return store.input_history(session, site_id, limit)


def shift_changes_of(database: Database, site_id: int, days: Sequence[date]) -> tuple[Change, ...]:
    """Every change of the shifts of some days, newest first."""
    with database.session() as session:
        return store.shift_changes(session, site_id, days)


def phones_of(database: Database, site_id: int) -> tuple[Phone, ...]:
    """The phones that were let in at a site, those whose link was taken back among them."""
    with database.session() as session:
        return store.load_phones(session, site_id)


def phone_with(database: Database, digest: str) -> Phone | None:
    """The phone whose secret has a digest; None where there is none any more."""
    with database.session() as session:
        return store.find_phone(session, digest)


@contextmanager
def gate(database: Database, now: datetime) -> Iterator[Gate]:
    """The one gate for writes, for whoever the database is open for, at a moment; whoever listens
    at the database hears afterwards that something may have changed."""
    with database.session() as session:
        yield Gate(session, store.get_person(session, database.person_id), now)
    database.on_written()


def find(session: Session, name_or_slug: str) -> StoredSite:
    """A site without its past, by name or slug.

    Raises:
        InputError: naming the nearest site, or all of them if they are few.
    """
    site = store.find_site(session, name_or_slug)
    if site is None:
        raise InputError([no_such_site(name_or_slug, store.list_sites(session))])
    return site


def load(session: Session, name_or_slug: str) -> SiteData:
    """A whole site, by name or slug; raises InputError as `find` does."""
    return whole_site(session, find(session, name_or_slug))


def with_history(session: Session, site: StoredSite) -> SiteData:
    """The data of a found site with its past."""
    return replace(site.data, history=store.load_history(session, site.id))


def whole_site(session: Session, site: StoredSite) -> SiteData:
    """The data of a found site with its past and its logbook: all that a folder holds."""
    return replace(with_history(session, site), log=store.load_log(session, site.id))


def log_of(
    database: Database, site_id: int, first: date, last: date | None = None
) -> tuple[LogEntry, ...]:
    """The logbook of a site from one day to another, both included; of one day without a last."""
    with database.session() as session:
        return store.load_log(session, site_id, first, first if last is None else last)


def whole_log_of(database: Database, site_id: int) -> tuple[LogEntry, ...]:
    """The whole logbook of a site, in order of time."""
    with database.session() as session:
        return store.load_log(session, site_id)


def log_page_of(
    database: Database, site_id: int, first: date, last: date, behind: str, limit: int
) -> tuple[LogEntry, ...]:
    """Entries of some days in the order of their keys, those behind a key, at most so many."""
    with database.session() as session:
        return pages.log_page(session, site_id, first, last, behind, limit)


def names_of_log(
    database: Database, site_id: int, first: date, last: date
) -> tuple[tuple[str, str], ...]:
    """Kind and name of what entries of some days were named, the newest first."""
    with database.session() as session:
        return pages.names_of_log(session, site_id, first, last)


def counts_page_of(
    database: Database,
    site_id: int,
    first: date,
    last: date,
    behind: tuple[date, int, int],
    limit: int,
) -> tuple[HourCount, ...]:
    """Counts of some days in order of time, those behind an hour, at most so many."""
    with database.session() as session:
        return pages.counts_page(session, site_id, first, last, behind, limit)


def entries_of(database: Database, site_id: int, keys: Collection[str]) -> dict[str, LogEntry]:
    """Entries of a site's logbook by their keys, those that there are."""
    with database.session() as session:
        return store.find_entries(session, site_id, keys)


def log_changes_of(
    database: Database, site_id: int, keys: Collection[str]
) -> dict[str, tuple[Change, ...]]:
    """Every change of some entries of a site's logbook by their keys, newest first."""
    with database.session() as session:
        found = store.log_changes(session, site_id, keys)
    told: dict[str, list[Change]] = {}
    for change in found:
        told.setdefault(change.field, []).append(change)
    return {key: tuple(changes) for key, changes in told.items()}


def bring_in(session: Session, gate: Gate, data: SiteData, request_key: str) -> Outcome:
    """Store a site that came from outside: new, or in place of the one that has its name.

    Raises:
        InputError: with every problem of the data.
        Stale: if somebody changed the site of that name in the meantime.
    """
    there = store.find_site(session, data.site.name)
    if there is None or there.data.site.name.casefold() != data.site.name.casefold():
        return gate.create_site(data, request_key)
    return gate.replace_site(there.id, data, there.version, request_key)


def no_such_site(reference: str, sites: tuple[SiteLine, ...]) -> InputProblem:
    """The problem of a name that no site has, with names that come near."""
    filling: dict[str, object] = {"name": reference}
    if not sites:
        sentence = (
            "There is no site “{name}”: the database holds none yet, and no folder is called so. "
            "Give a folder that holds a site.toml."
        )
        return InputProblem("site", sentence, filling)
    spelled = {text.casefold(): line.name for line in sites for text in (line.slug, line.name)}
    near = nearest(reference.casefold(), spelled, most=3, cutoff=0.5)
    if near:
        filling["near"] = _quoted(dict.fromkeys(spelled[text] for text in near))
        sentence = "There is no site “{name}”, and no folder is called so. Did you mean {near}?"
    else:
        filling["known"] = _quoted(line.name for line in sites[:8])
        sentence = "There is no site “{name}”, and no folder is called so. There is {known}."
    return InputProblem("site", sentence, filling)


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(f"“{name}”" for name in names)


# ---- the past: kept in memory while it stays the same, and in short ------------------------------


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

        @lru_cache(self.KEPT)
        def digest(same: _Same, parts: tuple[str, ...]) -> str:
            held = [(part, getattr(same.data, part)) for part in parts]
            if "history" in parts and same.data.forecast is not None:
                held.append(("forecast", same.data.forecast))  # days follow from both
            return hashlib.sha256(repr(held).encode()).hexdigest()[:32]

        @lru_cache(self.KEPT)
        def with_forecast(same: _Same, forecast: Forecast) -> SiteData:
            return replace(same.data, forecast=forecast)

        self._site, self._data, self._look, self._digest = site, data, look, digest
        self._with_forecast = with_forecast

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

    def with_forecast(self, data: SiteData, forecast: Forecast | None) -> SiteData:
        """The same site with what its counts were found to tell: the very same data each time."""
        return data if forecast is None else self._with_forecast(_Same(data), forecast)

    def digest(self, data: SiteData, parts: tuple[str, ...]) -> str:
        """Names what some parts of a site hold, such as ``history``: the same where they are."""
        return self._digest(_Same(data), parts)

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
        notes: what the counts say beside what the belt carries.
    """

    count_days: tuple[CountedDay, ...]
    weather_days: tuple[WeatherDay, ...]
    hours: tuple[int, ...]
    means: tuple[tuple[float | None, ...], ...]
    day_means: tuple[float | None, ...]
    notes: tuple[InputProblem, ...]

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
        capacity_notes(site, history),
    )


def _by_day(hours: Iterable[HourRow]) -> list[tuple[date, list[HourRow]]]:
    of_day: dict[date, list[HourRow]] = {}
    for item in hours:
        of_day.setdefault(item.day, []).append(item)
    return sorted(of_day.items())


def counted_days(counts: Iterable[HourCount]) -> tuple[CountedDay, ...]:
    """Counts day by day."""
    found = []
    for day, items in _by_day(counts):
        busiest = max(items, key=lambda item: item.cars)
        cars = sum(item.cars for item in items)
        found.append(CountedDay(day, len(items), cars, busiest.hour, busiest.cars))
    return tuple(found)


def weather_days(weather: Iterable[HourWeather]) -> tuple[WeatherDay, ...]:
    """Weather day by day."""
    return tuple(
        WeatherDay(
            day,
            len(items),
            min(i.temp_c for i in items),
            max(i.temp_c for i in items),
            sum(i.humidity for i in items) / len(items),
            sum(i.rain_mm for i in items),
        )
        for day, items in _by_day(weather)
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

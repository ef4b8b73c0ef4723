"""What the crew of the invented site wrote into its logbook: a year of entries.

No number is written down by hand. Cars come from the site's own counts; how many hoods are damp
follows from its past days, simulated with the program's own model and what the site is really like
(`demo_site.make_weighings`). In spring a blower lost power, little by little: cars came out wetter
under the same cloth. Nobody noticed, so no entry speaks of it.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import accumulate
from random import Random
from statistics import NormalDist
from typing import Any

from demo_site.make_weighings import TRUTH
from sim.day.draw import DayDraw
from sim.day.engine import Experiment, PreparedDay, Variant
from sim.day.night import PreviousDay
from sim.day.rules import FULL as ALWAYS_FULL
from sim.day.rules import parse_rule
from sim.inputs import PUT_ON, Conditions, DemandSpread, LogEntry, Site, SiteData
from sim.inputs.logbook import (
    ALARM,
    CAME,
    CARS,
    CHECK,
    CLAIM,
    COMPLAINT,
    DAMAGE,
    DAMP_HOODS,
    DEFAULT_CHECKS,
    FELT,
    FINE,
    FULL,
    HOUR,
    LEFT,
    MONTHLY,
    NOTE,
    OPEN,
    OPENING,
    REDUCED,
    SET_CHANGED,
    SOMEBODY,
    STOP,
    TIMED,
    TURNED_AWAY,
    WEEKLY,
    WIPING,
)
from sim.inputs.timed import LOADING, PAYING, REDUCED_WORK, SLOW
from sim.learn.expected_day import expected_day, past_of
from sim.learn.like_days import LikeDays
from sim.learn.logged import rule_of

SEED = 20260712
WEAKENS, WEAK = date(2026, 4, 6), date(2026, 5, 4)
"""From when to when the blower lost its power."""
REMOVAL_THEN = 0.68
"""Share of the water that the blowers take off since; before, as the site has entered it."""
LAST = date(2026, 7, 17)
"""The last day of the log: the eve of the day on which the demo stands."""
LISTS_SINCE = date(2026, 6, 15)
"""Since then the whole list is noted every morning; before, the self-test alone."""

CAUSES = (
    ("driver braked", 0.30, ""),
    ("car crosswise", 0.22, "pickup"),
    ("pusher missed the wheel", 0.18, "small"),
    ("roller did not rise", 0.14, ""),
    ("hitch in the way", 0.09, "pickup"),
    ("somebody at the pull cord", 0.07, ""),
)
"""What stopped the belt: how often, and the class of car that it is mostly about."""
STOPS_PER_H, STOPS_PER_CAR = 0.06, 0.0012
STOP_MEDIAN_S, STOP_LOG_SD, STOP_STEP_S = 60.0, 0.8, 15.0
ALARMS = (("rinse pump warm", 0.012), ("air pressure low", 0.02), ("height reading lost", 0.01))
"""Alarms, and how often a day."""
BUSY_CARS, VERY_BUSY_CARS, HUMID = 950, 1_150, 0.45
SEEN_DAMP = 0.3
"""From this share of damp hoods on, the crew reduces by itself."""
OFF_PLAN = 0.15
REASONS = (
    "cars came out damp earlier",
    "we got to it late",
    "few cars just then",
    "it began to rain",
)
WINDOWS = ((12.0, 15.5), (11.5, 16.5))
"""Hours of the day in which wiping is reduced as planned, on busy and on very busy days."""
TIMED_ON, CARS_TIMED = date(2026, 7, 11), 12
"""When somebody stood there with a stopwatch, and how many cars of each kind were timed."""
REDUCED_WORK_S = 18.0
"""Extra hand work that a reduced car really takes there."""
NOTES = (
    "new soap in the drum", "card reader in lane 2 slow", "towels came late from the laundry",
    "drain at the exit cleaned", "a regular asked for wax",
)  # fmt: skip


class _Luck:
    """Chance of one day, by uniform numbers turned over."""

    def __init__(self, day: date) -> None:
        self.uniform = Random(SEED * 10_000 + day.toordinal()).random

    def normal(self) -> float:
        """A standard normal number."""
        return NormalDist().inv_cdf(min(max(self.uniform(), 1e-12), 1.0 - 1e-12))

    def count(self, mean: float) -> int:
        """A Poisson number."""
        left, found = math.exp(-mean), 0
        at = self.uniform()
        while at > left:
            at *= self.uniform()
            found += 1
        return found

    def happens(self, chance: float) -> bool:
        """Whether something of a chance happens."""
        return self.uniform() < chance

    def of(self, choices: Sequence[str]) -> str:
        """One of some, each as likely."""
        return choices[int(self.uniform() * len(choices))]


def logbook(data: SiteData) -> tuple[LogEntry, ...]:
    """The log of the whole year, in order of time; `data` holds counts, weather and people."""
    found: list[LogEntry] = []
    before: PreviousDay | None = None
    cars, past = _cars(data), past_of(data)
    first = min(cars)
    for ahead in range((LAST - first).days + 1):
        day = first + timedelta(days=ahead)
        hours = cars.get(day)
        conditions = _conditions(data, day, hours, past)
        if conditions is None:
            continue
        if before is not None and before.day is not None:
            before = replace(before, days_apart=(day - before.day).days)
        lived = _Lived(data, day, conditions, before)
        told = sorted(lived.entries(), key=lambda one: (one.at_s, one.kind, one.name))
        found += [
            replace(one, key=f"log-{day:%Y%m%d}-{number:02}") for number, one in enumerate(told, 1)
        ]
        before = PreviousDay(conditions, 1, day)
    return tuple(sorted(found, key=lambda one: one.place))


def _cars(data: SiteData) -> dict[date, list[int]]:
    found: dict[date, list[int]] = {}
    for row in data.history.counts:
        found.setdefault(row.day, [0] * 24)[row.hour] += row.cars
    return found


def _conditions(
    data: SiteData, day: date, hours: list[int] | None, past: LikeDays
) -> Conditions | None:
    """What a day brought: its counts; after the last of them, about what was to be expected. None
    for a closed day."""
    expected = expected_day(data, day, past=past)
    if expected.closed:
        return None
    luck = _Luck(day)
    arrived: Sequence[float] = hours or [
        float(luck.count(mean)) for mean in expected.conditions.arrivals_per_h
    ]
    return replace(
        expected.conditions,
        arrivals_per_h=tuple(float(one) for one in arrived),
        spread=DemandSpread(0.0, 0.0),
    )


def removal_on(day: date, entered: float) -> float:
    """Share of the water that the blowers really took off on a day."""
    gone = (day - WEAKENS).days / (WEAK - WEAKENS).days
    return entered + (REMOVAL_THEN - entered) * min(1.0, max(0.0, gone))


@dataclass(frozen=True, slots=True)
class _Hours:
    """By hour: cars washed, driven away, and the share damp at the wheel."""

    washed: tuple[int, ...]
    lost: tuple[int, ...]
    damp: tuple[float, ...]


class _Lived:
    """A day as the crew lived through it."""

    def __init__(
        self, data: SiteData, day: date, conditions: Conditions, before: PreviousDay | None
    ) -> None:
        self.data, self.day, self.conditions = data, day, conditions
        self.luck = _Luck(day + timedelta(days=100_000))
        self._known: dict[str, _Hours] = {}
        entered = data.site.water.blower_removal
        truth = {**TRUTH, "blower_removal": removal_on(day, entered)}
        self.site: Site = data.site.with_values(truth)
        line = self.site.line
        self.opens, self.closes = int(line.open_h), int(line.close_h)
        experiment = Experiment(self.site, conditions, SEED, before, evenings=1)
        self.prepared: PreparedDay = experiment.at().prepare(Variant(own_night=True))

    def entry(self, at_s: float, kind: str, **more: Any) -> LogEntry:
        """An entry at a time, to the minute; its key comes later."""
        return LogEntry("", self.day, 60.0 * (at_s // 60.0), kind, **more)

    def entries(self) -> Iterator[LogEntry]:
        """All of the day's."""
        switches = list(self._switches())
        yield from switches
        hours = self._hours(rule_of(_windows(switches, 3600.0 * self.closes)))
        yield from self._checks()
        yield from self._weather()
        yield from self._counts(hours)
        yield from self._hoods(hours)
        yield from self._stops(hours)
        yield from self._people()
        yield from self._claims(hours)
        yield from self._times()
        for event in self.data.cloth.events:
            if event.day == self.day and event.kind == PUT_ON:
                yield self.entry(event.at_s, SET_CHANGED, name=event.name)

    def _hours(self, rule: str) -> _Hours:
        if rule not in self._known:
            self._known[rule] = self._live(rule)
        return self._known[rule]

    def _live(self, rule: str) -> _Hours:
        """The day under a rule: damp cars by the model; cars by what was counted, as far as the
        belt took them."""
        replication = self.prepared.replication(DayDraw(SEED, self.day.toordinal()))
        shares = replication.figures(parse_rule(rule)).hours["damp_share"]
        capacity = 3600.0 * self.prepared.numbers.capacity_per_s
        room = self.site.pay.stack_limit_cars + self.site.pay.loading_line_cars
        waiting, washed, lost = 0, [0] * 24, [0] * 24
        for hour in range(self.opens, self.closes):
            there = waiting + int(self.conditions.arrivals_per_h[hour])
            washed[hour] = min(there, int(capacity))
            waiting = min(room, there - washed[hour])
            lost[hour] = there - washed[hour] - waiting
        washed[self.closes] = waiting
        damp = [0.0 if math.isnan(share) else float(share) for share in shares]
        return _Hours(tuple(washed), tuple(lost), tuple(damp))

    def _switches(self) -> Iterator[LogEntry]:
        """Planned on busy humid days, seldom otherwise; on other days where cars came out damp."""
        luck = self.luck
        cars = sum(self.conditions.arrivals_per_h)
        is_humid = self.conditions.humidity[14] >= HUMID
        if cars >= BUSY_CARS and is_humid:
            start, end = (60.0 * edge for edge in WINDOWS[cars >= VERY_BUSY_CARS])
            reason = ""
            start, end = start + abs(4.0 * luck.normal()), end + abs(4.0 * luck.normal())
            if luck.happens(OFF_PLAN):
                reason = luck.of(REASONS)
                start += 60.0 if "late" in reason or "few" in reason else -50.0
            yield self.entry(60.0 * round(start), WIPING, word=REDUCED, text=reason)
            yield self.entry(60.0 * round(end), WIPING, word=FULL)
            return
        damp = self._hours(ALWAYS_FULL.text).damp
        seen = [hour for hour in range(11, 17) if damp[hour] >= SEEN_DAMP]
        if seen and cars >= 0.6 * BUSY_CARS:
            start = 3600.0 * seen[0] + 60.0 * int(40.0 * luck.uniform())
            yield self.entry(start, WIPING, word=REDUCED, text="cars came out damp")
            yield self.entry(3600.0 * max(16.5, seen[-1] + 1.5), WIPING, word=FULL)

    def _checks(self) -> Iterator[LogEntry]:
        day, luck = self.day, self.luck
        at = 60.0 * (6 * 60 + 30)
        for item in DEFAULT_CHECKS:
            due = item.when == OPENING and (day >= LISTS_SINCE or item.name == "Self-test")
            due |= item.when == WEEKLY and day.weekday() == 0
            due |= item.when == MONTHLY and day.weekday() == 0 and day.day <= 7
            if not due:
                continue
            at += 60.0 * (1 + int(2.0 * luck.uniform()))
            is_fine = not (item.when == OPENING and luck.happens(0.01))
            text = "" if is_fine else "put right before opening"
            yield self.entry(
                at, CHECK, name=item.name, word=FINE if is_fine else OPEN,
                reading=self._reading(item.name), text=text,
            )  # fmt: skip

    def _reading(self, name: str) -> float | None:
        """Of the checks that have one: the height reading drifts, the cloth gets shorter."""
        weeks = (self.day - date(2025, 7, 14)).days / 7.0
        if name == "Height reading":
            return round(2.0 + 0.004 * weeks + 0.03 * self.luck.normal(), 2)
        if name == "Length of the cloth":
            return round(34.0 - 0.05 * (weeks % 26.0) + 0.1 * self.luck.normal(), 1)
        return None

    def _weather(self) -> Iterator[LogEntry]:
        at_s = 8.25 * 3600.0
        temp, humidity = (of[int(at_s // 3600.0)] for of in (
            self.conditions.temp_c, self.conditions.humidity,
        ))  # fmt: skip
        felt_f = round(1.8 * (temp + 0.8 * self.luck.normal()) + 32.0)
        air = min(95, max(10, 5 * round(20.0 * humidity)))
        yield self.entry(at_s, FELT, text=f"{felt_f} °F, {air} %")

    def _counts(self, hours: _Hours) -> Iterator[LogEntry]:
        driven = 0
        for hour in range(self.opens, self.closes):
            ends = 3600.0 * (hour + 1)
            yield self.entry(ends, HOUR, count=hours.washed[hour])
            driven += hours.lost[hour]
            if driven and (hour + 1) % 3 == 0:
                yield self.entry(ends + 120.0, TURNED_AWAY, count=driven)
                driven = 0
        ends = 3600.0 * self.closes
        if driven:
            yield self.entry(ends + 120.0, TURNED_AWAY, count=driven)
        yield self.entry(ends + 900.0, CARS, count=sum(hours.washed))

    def _hoods(self, hours: _Hours) -> Iterator[LogEntry]:
        busy = sum(hours.washed) >= 0.6 * BUSY_CARS
        for hour in (11, 13, 15, 17) if busy else (12, 16):
            damp = sum(self.luck.happens(hours.damp[hour]) for _ in range(20))
            at = 3600.0 * hour + 60.0 * int(50.0 * self.luck.uniform())
            yield self.entry(at, DAMP_HOODS, count=damp, of=20)

    def _stops(self, hours: _Hours) -> Iterator[LogEntry]:
        luck = self.luck
        open_h = self.closes - self.opens
        for _ in range(luck.count(STOPS_PER_H * open_h + STOPS_PER_CAR * sum(hours.washed))):
            at = 3600.0 * (self.opens + open_h * luck.uniform())
            cause, vehicle = _cause(luck.uniform())
            length = STOP_MEDIAN_S * math.exp(STOP_LOG_SD * luck.normal())
            lasted = STOP_STEP_S * max(1, round(length / STOP_STEP_S))
            vehicle = vehicle if luck.happens(0.6) else ""
            yield self.entry(at, STOP, name=cause, lasted_s=lasted, vehicle=vehicle)
        for name, chance in ALARMS:
            if luck.happens(chance):
                at = 3600.0 * (self.opens + open_h * luck.uniform())
                yield self.entry(
                    at, ALARM, name=name, lasted_s=60.0 * (1 + int(20 * luck.uniform()))
                )

    def _people(self) -> Iterator[LogEntry]:
        luck = self.luck
        shifts = self.data.staff.on_day(self.day)
        for shift in shifts:
            late = luck.happens(0.12)
            at = shift.start_s + (60.0 * (8 + int(35.0 * luck.uniform())) if late else -300.0)
            yield self.entry(at, SOMEBODY, name=shift.name, word=CAME)
        if not shifts and luck.happens(0.08):
            name = luck.of([person.name for person in self.data.staff.people])
            if luck.happens(0.6):
                at = 3600.0 * 9 + 60.0 * (10 + int(40.0 * luck.uniform()))
                yield self.entry(at, SOMEBODY, name=name, word=CAME, text="late")
            else:
                yield self.entry(3600.0 * 15.5, SOMEBODY, name=name, word=LEFT, text="unwell")

    def _claims(self, hours: _Hours) -> Iterator[LogEntry]:
        luck, cars = self.luck, sum(hours.washed)
        at = 3600.0 * (self.opens + 2 + 9.0 * luck.uniform())
        if luck.happens(0.00004 * cars):
            what = luck.of(("antenna bent", "mirror folded over", "wiper lifted"))
            yield self.entry(at, CLAIM, word=DAMAGE, text=what, vehicle="utility")
        damp = sum(n * share for n, share in zip(hours.washed, hours.damp, strict=True))
        if luck.happens(1.0 - math.exp(-0.002 * damp)):
            yield self.entry(at + 600.0, CLAIM, word=COMPLAINT, text="hood still wet")
        if luck.happens(0.03):
            yield self.entry(3600.0 * 20.5, NOTE, text=luck.of(NOTES))

    def _times(self) -> Iterator[LogEntry]:
        """With a stopwatch, before the second loader comes; of cars that were reduced in the
        afternoon."""
        if self.day != TIMED_ON:
            return
        luck = _Luck(self.day + timedelta(days=200_000))
        pay = self.site.pay

        def time(mean_s: float, cv: float) -> str:
            sd = math.sqrt(math.log1p(cv**2))
            return str(round(mean_s * math.exp(sd * luck.normal() - 0.5 * sd**2)))

        paid = [
            time(pay.quick_pay_mean_s, pay.quick_pay_cv)
            if luck.happens(pay.quick_payer_share)
            else f"{SLOW} {time(pay.slow_pay_mean_s, pay.slow_pay_cv)}"
            for _ in range(CARS_TIMED)
        ]
        loaded = [time(pay.load_mean_s, pay.load_cv) for _ in range(CARS_TIMED)]
        worked = [time(REDUCED_WORK_S, 0.3) for _ in range(CARS_TIMED)]
        yield self.entry(3600.0 * 9.25, TIMED, name=PAYING, text=" ".join(paid))
        yield self.entry(3600.0 * 9.5, TIMED, name=LOADING, text=" ".join(loaded))
        yield self.entry(3600.0 * 15.75, TIMED, name=REDUCED_WORK, text=" ".join(worked))


def _cause(quantile: float) -> tuple[str, str]:
    """What stopped the belt at a quantile of all stops, and the class that it is mostly about."""
    ends = list(accumulate(share for _, share, _ in CAUSES))
    name, _, vehicle = CAUSES[min(bisect_right(ends, quantile), len(CAUSES) - 1)]
    return name, vehicle


def _windows(switches: Sequence[LogEntry], closes_s: float) -> tuple[tuple[float, float], ...]:
    if not switches:
        return ()
    start, end = switches
    return ((start.at_s, min(end.at_s, closes_s)),)

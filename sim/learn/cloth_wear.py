"""Wear of cloth sets: from the cars that passed while each was on the wheel, and its launderings.

A day's wear by clock hour is that of its cars, by class and wiping rule, and of spinning between
them, at contact speed first and then at idle speed (`sim.physics.wear`, `sim.day.setup`). Cars are
those counted; an hour that nobody counted has the mean of like days (`sim.learn.like_days`). A rule
that goes by saturation counts as full wiping here, which is most wear; wet cloth counts with the
wet factor at `TYPICAL_SATURATION`, a guess.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from sim.day.crew import make_crew
from sim.day.rules import FULL, Band, Rule, RuleState, Watched
from sim.errors import InputError
from sim.inputs import (
    LAUNDERED,
    PUT_ON,
    ROTATED,
    TAKEN_OFF,
    WORN,
    ClothBook,
    ClothEvent,
    ClothSet,
    Site,
    SiteData,
    value_at,
)
from sim.learn.cloth_life import Life
from sim.learn.like_days import LikeDays, mean_counts, open_hours
from sim.physics.water_film import soil_after_laundering
from sim.physics.wear import idle_wear_at, sliding_distance_m, spinning_wear, wear_equivalents

Floats = NDArray[np.float64]
TYPICAL_SATURATION = 0.5
ROTATION_DAYS = 56
"""How far back it is looked how sets share the wheel [days]."""
QUARTERS = (0.125, 0.375, 0.625, 0.875)
"""Where in an hour a rule is asked whom it reduces."""
DAY_S = 86_400.0

Place = Literal["on", "off", "ended", "new"]
"""Where a set is: on the wheel, off it, at its end, or never put on so far."""
ON: Final = "on"
OFF: Final = "off"
ENDED: Final = "ended"
NEW: Final = "new"


def wear_of_car(site: Site, wiped_m: Sequence[float], speed_m_s: float) -> float:
    """Wear of a car by the lengths of its wiped zones [m] [full-wipe equivalents]."""
    surface = 2.0 * math.pi * site.wheel.wheel_radius_m * site.wheel.contact_speed_rev_s
    usual = site.water.blower_reference_speed_m_s
    reference = sliding_distance_m(surface, usual, math.fsum(site.reference.wiped_m) / usual)
    wet = 1.0 + (site.wear.wet_wear_factor - 1.0) * TYPICAL_SATURATION
    sliding = sliding_distance_m(surface, speed_m_s, math.fsum(wiped_m) / speed_m_s)
    return wear_equivalents(sliding, reference, wet)


def wear_by_hour(site: Site, cars: Sequence[float], rule: Rule = FULL) -> Floats:
    """Wear of a day by clock hour [full-wipe equivalents]; shape (24,).

    Args:
        cars: by clock hour, shape (24,).
        rule: how they are wiped; what goes by the cloth or by a count never reduces here, and the
            clock of a crew is late by its median.
    """
    line, hours = site.line, open_hours(site.line)
    table = line.speed_timetable or ((0.0, line.conveyor_speed_m_s),)
    crew = make_crew(site, lambda _, count: np.zeros(count))
    state = RuleState(_foreseen(rule), [item.key for item in site.vehicles], crew)
    close_s = line.close_h * 3600.0
    idle_per_h, slow_per_h = (
        idle_wear_at(
            speed,
            site.wheel.reference_speed_rev_s,
            site.wear.idle_wear_per_h,
            site.wear.idle_wear_speed_exponent,
        )
        for speed in (site.wheel.idle_speed_rev_s, site.wheel.contact_speed_rev_s)
    )
    found = np.zeros(24)
    for hour in range(24):
        speed = value_at(table, hour * 3600.0)
        worn = contact_s = 0.0
        for kind, item in enumerate(site.vehicles):
            whole, part = list(item.wiped_m), list(item.wiped_m[:2])
            times = [(hour + quarter) * 3600.0 for quarter in QUARTERS]
            reduced = _share_reduced(site, state, times, kind)
            for wiped, share in ((whole, 1.0 - reduced), (part, reduced)):
                passes = cars[hour] * item.numbers.share * share
                worn += passes * wear_of_car(site, wiped, speed)
                contact_s += passes * math.fsum(wiped) / speed
        begins, ends = line.open_h * 3600.0, close_s + site.drying.close_spin_s
        spins = min(ends, (hour + 1) * 3600.0) - max(begins, hour * 3600.0) if hours else 0.0
        off_car_s = max(0.0, max(0.0, spins) - contact_s)
        slow_s = min(off_car_s, cars[hour] * 2.0 * site.wheel.spin_change_s)
        worn += spinning_wear(slow_s, slow_per_h)
        found[hour] = worn + spinning_wear(off_car_s - slow_s, idle_per_h)
    return found


def _foreseen(rule: Rule) -> Rule:
    """What is known of a rule before the day: without what depends on how it goes."""
    seen = (row for row in rule.either if not any(isinstance(t, Band | Watched) for t in row))
    return replace(rule, either=tuple(seen))


def _share_reduced(site: Site, state: RuleState, times: Sequence[float], kind: int) -> float:
    sold = site.pay.full_service_share
    of_sold = sum(state.reduced(at, 0.0, kind, True) for at in times) / len(times)
    of_rest = sum(state.reduced(at, 0.0, kind, False) for at in times) / len(times)
    return sold * of_sold + (1.0 - sold) * of_rest


class WearDays:
    """The wear of any day of a site, past or to come.

    Args:
        rules: of days that were planned; any other day is wiped in full.
    """

    def __init__(self, data: SiteData, rules: Mapping[date, Rule] | None = None) -> None:
        self.site, self._rules = data.site, dict(rules or {})
        self._hours = open_hours(data.site.line)
        self._closed = {note.day for note in data.history.days if note.kind == "closed"}
        self._counted: dict[date, defaultdict[int, float]] = {}
        for row in data.history.counts:
            self._counted.setdefault(row.day, defaultdict(float))[row.hour] += row.cars
        self._past = LikeDays(data.history, self._hours)
        self._kept: dict[date, Floats] = {}
        self._per_rule: dict[str, tuple[Floats, Floats]] = {}

    def is_counted(self, day: date) -> bool:
        """Whether cars of that day were counted."""
        return day in self._counted

    def cars(self, day: date) -> Floats:
        """Cars by clock hour, counted or else expected; shape (24,).

        Raises:
            InputError: if there is no count to expect anything from.
        """
        if day in self._closed or not self._hours:
            return np.zeros(24)
        counted: Mapping[int, float] = self._counted.get(day, {})
        is_whole = counted.keys() >= set(self._hours)
        expected = (0.0,) * 24 if is_whole else mean_counts(self._past, day)
        return np.array([counted.get(hour, expected[hour]) for hour in range(24)])

    def wear(self, day: date) -> Floats:
        """Wear by clock hour [full-wipe equivalents], shape (24,); raises as `cars` does."""
        if day not in self._kept:
            self._kept[day] = self._wear(day)
        return self._kept[day]

    def _wear(self, day: date) -> Floats:
        cars = self.cars(day)
        if not cars.any() and day in self._closed:
            return np.zeros(24)
        # wear is a straight line in cars but where idling would fall below nothing
        rule = self._rules.get(day, FULL)
        key = rule.text
        if key not in self._per_rule:
            none = wear_by_hour(self.site, [0.0] * 24, rule)
            self._per_rule[key] = none, wear_by_hour(self.site, [1.0] * 24, rule) - none
        idle, per_car = self._per_rule[key]
        return np.asarray(np.maximum(idle + cars * per_car, cars * per_car))

    def between(self, first: date, first_s: float, last: date, last_s: float) -> float:
        """Wear between two moments of the site's clock [full-wipe equivalents]."""
        return self._sum(self.wear, first, first_s, last, last_s)

    def cars_between(self, first: date, first_s: float, last: date, last_s: float) -> float:
        """Cars between two moments of the site's clock."""
        return self._sum(self.cars, first, first_s, last, last_s)

    @staticmethod
    def _sum(
        of_day: Callable[[date], Floats], first: date, first_s: float, last: date, last_s: float
    ) -> float:
        total, day = 0.0, first
        while day <= last:
            begin = first_s / 3600.0 if day == first else 0.0
            end = last_s / 3600.0 if day == last else 24.0
            hours = np.arange(24.0)
            part = np.clip(np.minimum(end, hours + 1.0) - np.maximum(begin, hours), 0.0, 1.0)
            total += float(np.sum(part * of_day(day)))
            day += timedelta(days=1)
        return total


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch on the wheel.

    Attributes:
        off: None while it lasts.
        cars: its wear [full-wipe equivalents], ``known`` where that was written down, ``counted``
            where all its days have counts, else ``expected`` (`origin`).
    """

    on: ClothEvent
    off: ClothEvent | None
    cars: float
    origin: Literal["known", "counted", "expected"]


@dataclass(frozen=True, slots=True)
class SetState:
    """A set as it is now.

    Attributes:
        reason: why its life ended; empty while it has not.
        spells: on the wheel, in order.
        age_cars: all its wear, laundering included [full-wipe equivalents].
        inspections: what was looked at, each with the age it had then.
        soil_cars: cars whose soil it holds, see `sim.physics.water_film.soil_after_laundering`;
            those before the record begins are not known.
    """

    cloth: ClothSet
    state: Place
    reason: str
    spells: tuple[Spell, ...]
    launderings: int
    age_cars: float
    inspections: tuple[tuple[ClothEvent, float], ...] = ()
    soil_cars: float = 0.0

    @property
    def life(self) -> Life:
        """What it tells of a set's life; anything but worn out is censored."""
        return Life(self.age_cars, self.reason == WORN)


def set_states(
    book: ClothBook, days: WearDays, today: date, now_s: float = DAY_S
) -> tuple[SetState, ...]:
    """Every set as it is at a moment; later entries are left out.

    Raises:
        InputError: if wear is asked of a day that nothing can be expected of.
    """
    events = [e for e in book.in_order().events if (e.day, e.at_s) <= (today, now_s)]
    return tuple(_state(item, events, days, today, now_s) for item in book.sets)


def _state(
    item: ClothSet, events: Sequence[ClothEvent], days: WearDays, today: date, now_s: float
) -> SetState:
    launder_wear, soil = days.site.wear.launder_wear, 0.0
    age, launderings, reason = item.cars_before, 0, ""
    spells: list[Spell] = []
    inspections: list[tuple[ClothEvent, float]] = []
    since: ClothEvent | None = None
    for event in (e for e in events if e.name == item.name):
        if event.kind == PUT_ON:
            since = event
        elif event.kind == TAKEN_OFF and since is not None:
            spells.append(_spell(since, event, days, event.day, event.at_s))
            soil += days.cars_between(since.day, since.at_s, event.day, event.at_s)
            age, since = age + spells[-1].cars, None
            reason = "" if event.reason == ROTATED else event.reason
        elif event.kind == LAUNDERED:
            launderings, age = launderings + 1, age + launder_wear
            soil = soil_after_laundering(soil, days.site.wear.launder_restores)
        else:  # looked at, itself or the hoods behind it
            running = 0.0
            if since is not None:
                running = days.between(since.day, since.at_s, event.day, event.at_s)
            inspections.append((event, age + running))
    if since is not None:
        spells.append(_spell(since, None, days, today, now_s))
        soil += days.cars_between(since.day, since.at_s, today, now_s)
        age += spells[-1].cars
    state: Place = ENDED if reason else ON if since is not None else OFF if spells else NEW
    return SetState(item, state, reason, tuple(spells), launderings, age, tuple(inspections), soil)


def _spell(
    on: ClothEvent, off: ClothEvent | None, days: WearDays, last: date, last_s: float
) -> Spell:
    if off is not None and off.cars is not None:
        return Spell(on, off, off.cars, "known")
    cars = days.between(on.day, on.at_s, last, last_s)
    span = [on.day + timedelta(days=n) for n in range((last - on.day).days + 1)]
    is_counted = all(days.is_counted(day) for day in span)
    return Spell(on, off, cars, "counted" if is_counted else "expected")


def wheel_share(states: Sequence[SetState], name: str, today: date) -> float:
    """Share of the wheel's wear that a set takes, 0 to 1, as sets have rotated of late.

    By the spells that began in the last `ROTATION_DAYS`; 1 where no other living set took turns.
    """
    since = today - timedelta(days=ROTATION_DAYS)
    recent = {
        one.cloth.name: sum(spell.cars for spell in one.spells if spell.on.day >= since)
        for one in states
        if one.state in (ON, OFF)
    }
    total, own = sum(recent.values()), recent.get(name, 0.0)
    return own / total if total > 0.0 and own > 0.0 else 1.0


def wear_per_car_with_launderings(states: Sequence[SetState], launder_wear: float) -> float:
    """How much a set ages for each full-wipe equivalent on the wheel, laundering included."""
    worn = sum(spell.cars for one in states for spell in one.spells)
    launderings = sum(one.launderings for one in states)
    return 1.0 + launderings * launder_wear / worn if worn > 0.0 else 1.0


def day_of_age(
    days: WearDays, today: date, wanted_cars: float, share: float, most_days: int = 1_100
) -> date | None:
    """The first day, tomorrow the earliest, by whose evening a set has taken so much more wear;
    None beyond `most_days` or where nothing can be expected.

    Args:
        wanted_cars: full-wipe equivalents still to go; at or below 0 it is today.
        share: how much of a day's wear the set takes.
    """
    if wanted_cars <= 0.0:
        return today
    total = 0.0
    for ahead in range(1, most_days + 1):
        day = today + timedelta(days=ahead)
        try:
            total += share * float(days.wear(day).sum())
        except InputError:
            return None
        if total >= wanted_cars:
            return day
    return None

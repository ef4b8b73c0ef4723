"""What has to be written, and told in the history, to turn one state of a site into another."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any, Generic, TypeVar

from app.db.codec import encode_numbers
from app.db.staff import plain_away
from app.db.store import NewChange
from sim.inputs import (
    INPUTS,
    ClothBook,
    ClothEvent,
    ClothSet,
    DayNote,
    HourCount,
    HourWeather,
    Person,
    PlannedShift,
    Scenario,
    SiteData,
    StaffBook,
    Value,
    VehicleClass,
    Weighing,
)
from sim.units import show_clock

Hour = TypeVar("Hour", HourCount, HourWeather)


@dataclass(frozen=True, slots=True)
class HoursToWrite(Generic[Hour]):
    """Hours to store.

    Attributes:
        put: hours that are new or differ.
        afresh: whether every stored hour is removed first, because some are gone.
    """

    put: tuple[Hour, ...]
    afresh: bool


@dataclass(frozen=True, slots=True)
class Difference:
    """What to write; None or nothing for a part that stays.

    Attributes:
        head: columns of the site itself.
        values: inputs; None forgets the stored value.
        changes: rows of the history.
    """

    head: dict[str, str]
    values: dict[str, Value | None]
    vehicles: tuple[VehicleClass, ...] | None
    counts: HoursToWrite[HourCount] | None
    weather: HoursToWrite[HourWeather] | None
    days: tuple[DayNote, ...] | None
    weighings: tuple[Weighing, ...] | None
    cloth: ClothBook | None
    staff: StaffBook | None
    changes: tuple[NewChange, ...]


def difference(old: SiteData, new: SiteData) -> Difference:
    """The difference between two states of a site, each complete."""
    changes: list[NewChange] = []
    before, after = head_of(old), head_of(new)
    head = {name: text for name, text in after.items() if text != before[name]}
    changes += [NewChange("site", name, before[name], text) for name, text in head.items()]
    values: dict[str, Value | None] = {}
    for name in INPUTS:
        was, now = _stored(old, name), _stored(new, name)
        if (was, name in old.given) != (now, name in new.given):
            values[name] = now
            changes.append(NewChange("inputs", name, was, now))
    vehicles = None
    if old.site.vehicles != new.site.vehicles:
        vehicles = new.site.vehicles
        was_classes, now_classes = _classes(old.site.vehicles), _classes(vehicles)
        changes.append(NewChange("vehicles", "vehicles", was_classes, now_classes))
    counts = _hours("counts", old.history.counts, new.history.counts, changes)
    weather = _hours("weather", old.history.weather, new.history.weather, changes)
    days = None
    if set(old.history.days) != set(new.history.days):
        days = new.history.days
        for day in sorted({note.day for note in set(old.history.days) ^ set(days)}):
            was_marks, now_marks = (_marks(part.history.days, day) for part in (old, new))
            changes.append(NewChange("day", day.isoformat(), was_marks, now_marks))
    weighings = None
    if old.weighings != new.weighings:
        weighings = new.weighings
        was_there, is_there = Counter(old.weighings), Counter(weighings)
        gone, fresh = (was_there - is_there).elements(), (is_there - was_there).elements()
        changes += [NewChange("weighing", _weighed(w), _weighing(w), None) for w in sorted(gone)]
        changes += [NewChange("weighing", _weighed(w), None, _weighing(w)) for w in sorted(fresh)]
    cloth = None
    if old.cloth != new.cloth:
        cloth = new.cloth
        changes += _cloth_changes(old.cloth, cloth)
    staff = None
    if old.staff != new.staff:
        staff = new.staff
        changes += _staff_changes(old.staff, staff)
    return Difference(
        head, values, vehicles, counts, weather, days, weighings, cloth, staff, tuple(changes)
    )


def _staff_changes(old: StaffBook, new: StaffBook) -> list[NewChange]:
    """People and published shifts that are gone, new or changed, a row each."""
    found = []
    was, now = ({one.name: _person(one) for one in book.people} for book in (old, new))
    for name in dict.fromkeys([*was, *now]):
        if was.get(name) != now.get(name):
            found.append(NewChange("staff", name, was.get(name), now.get(name)))
    had, has = ({(s.day, s.name): _shift(s) for s in book.shifts} for book in (old, new))
    for day, name in sorted({*had, *has}):
        if had.get((day, name)) != has.get((day, name)):
            field = f"{name} {day.isoformat()}"
            change = had.get((day, name)), has.get((day, name))
            found.append(NewChange("staff", field, *change))
    if not found:
        found.append(NewChange("staff", "order", list(was), list(now)))
    return found


def _person(person: Person) -> dict[str, Any]:
    return {
        **asdict(person),
        "roles": list(person.roles),
        "away": [plain_away(away) for away in person.away],
    }


def _shift(shift: PlannedShift) -> dict[str, Any]:
    return {**asdict(shift), "day": shift.day.isoformat()}


def _cloth_changes(old: ClothBook, new: ClothBook) -> list[NewChange]:
    """Sets and entries that are gone or new, a row each; the order of sets alone is no change."""
    found = []
    was_sets, now_sets = ({item.name: item for item in book.sets} for book in (old, new))
    for name in dict.fromkeys([*was_sets, *now_sets]):
        was, now = was_sets.get(name), now_sets.get(name)
        if was != now:
            found.append(NewChange("cloth", name, was and _plain(was), now and _plain(now)))
    was_log, now_log = Counter(old.events), Counter(new.events)
    for items, is_new in ((was_log - now_log, False), (now_log - was_log, True)):
        for event in sorted(items.elements(), key=lambda one: one.place):
            field = f"{event.name} {event.kind} {event.day.isoformat()} {show_clock(event.at_s)}"
            plain = _plain(event)
            change = (None, plain) if is_new else (plain, None)
            found.append(NewChange("cloth", field, *change))
    return found


def _plain(item: ClothSet | ClothEvent) -> dict[str, Any]:
    """As JSON has it."""
    held = asdict(item).items()
    return {name: v.isoformat() if isinstance(v, date) else v for name, v in held}


def head_of(data: SiteData) -> dict[str, str]:
    """The columns of the site itself."""
    return {
        "name": data.site.name,
        "timezone": data.site.timezone,
        "units": data.units,
        "reference_class": data.site.reference_class,
        "counted": data.history.counted,
    }


def _stored(data: SiteData, name: str) -> Value | None:
    value = data.site.value(name)
    return value if name in data.given or value != INPUTS[name].default else None


def _classes(vehicles: tuple[VehicleClass, ...]) -> list[Any]:
    return [
        {"key": item.key, "label": item.label, "numbers": json.loads(encode_numbers(item.numbers))}
        for item in vehicles
    ]


def _weighed(item: Weighing) -> str:
    return f"{item.kind} {item.day.isoformat()} {show_clock(item.at_s)}"


def _weighing(item: Weighing) -> dict[str, Any]:
    return {**asdict(item), "day": item.day.isoformat()}


def _marks(notes: tuple[DayNote, ...], day: object) -> list[list[str]]:
    return [[note.kind, note.note] for note in notes if note.day == day]


def _hours(
    what: str, old: tuple[Hour, ...], new: tuple[Hour, ...], changes: list[NewChange]
) -> HoursToWrite[Hour] | None:
    """One row of the history for all hours: how many, and every old value that is gone."""
    if old == new:
        return None
    was = {(item.day, item.hour, item.fold): item for item in old}
    now = {(item.day, item.hour, item.fold): item for item in new}
    put: tuple[Hour, ...] = tuple(item for at, item in now.items() if was.get(at) != item)
    replaced: list[Hour] = [item for at, item in was.items() if now.get(at) != item]
    afresh = any(at not in now for at in was)
    if not put and not afresh:
        return None  # the same hours in another order
    changed = sum(1 for item in put if (item.day, item.hour, item.fold) in was)
    days = [item.day for item in (*put, *replaced)]
    summary = {
        "first": min(days).isoformat(),
        "last": max(days).isoformat(),
        "added": len(put) - changed,
        "changed": changed,
        "removed": len(replaced) - changed,
    }
    gone = {"hours": [_row(item) for item in replaced]} if replaced else None
    changes.append(NewChange(what, what, gone, summary))
    return HoursToWrite(tuple(new) if afresh else put, afresh)


def _row(item: HourCount | HourWeather) -> list[Any]:
    at: list[Any] = [item.day.isoformat(), item.hour, item.fold]
    if isinstance(item, HourCount):
        return [*at, item.cars]
    return [*at, item.temp_c, item.humidity, item.rain_mm]


def whole(data: SiteData) -> object:
    """A site's data with its set in order: equal data has equal text."""
    return replace(data, given=frozenset()), sorted(data.given)


def told(expect: str, scenarios: Sequence[Scenario]) -> dict[str, Any]:
    """What the history tells of a plan."""
    columns = [
        {"name": s.name, "rule": s.rule, "cloth": s.cloth, "changes": dict(s.changes)}
        for s in scenarios
    ]
    return {"expect": expect, "scenarios": columns}


def without(stored: Sequence[Hour], fresh: Mapping[tuple[date, int, int], Hour]) -> list[Hour]:
    """Stored hours but for those that fresh ones take the place of."""
    return [item for item in stored if (item.day, item.hour, item.fold) not in fresh]

"""What has to be written, and told in the history, to turn one state of a site into another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import TypeVar

from app.db.store import NewChange
from sim.inputs import (
    COUNTS,
    DAYS,
    INPUTS,
    KEPT,
    LOG,
    TOTAL,
    WEATHER,
    AnyRows,
    History,
    HourCount,
    HourWeather,
    LogEntry,
    Rows,
    Scenario,
    SiteData,
    Value,
    VehicleClass,
)

Hour = TypeVar("Hour", HourCount, HourWeather)


@dataclass(frozen=True, slots=True)
class RowsToWrite:
    """Rows to store.

    Attributes:
        afresh: whether every stored row of the kind is removed first.
    """

    rows: AnyRows
    items: tuple[object, ...]
    afresh: bool = True


@dataclass(frozen=True, slots=True)
class SiteChange:
    """What to write; None or nothing for a part that stays.

    Attributes:
        head: columns of the site itself.
        values: inputs; None forgets the stored value.
        changes: rows of the history.
    """

    head: dict[str, str]
    values: dict[str, Value | None]
    vehicles: tuple[VehicleClass, ...] | None
    rows: tuple[RowsToWrite, ...]
    changes: tuple[NewChange, ...]


def difference(old: SiteData, new: SiteData) -> SiteChange:
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
        classes = ([asdict(one) for one in part] for part in (old.site.vehicles, vehicles))
        changes.append(NewChange("vehicles", "vehicles", *classes))
    rows: list[RowsToWrite] = []
    rows += [*_hours(COUNTS, old, new, changes), *_hours(WEATHER, old, new, changes)]
    marked = set(old.history.days) ^ set(new.history.days)
    for day in sorted({note.day for note in marked if note.kind != TOTAL}):
        marks = (
            [[note.kind, note.note] for note in part.history.days if note.day == day]
            for part in (old, new)
        )
        changes.append(NewChange("day", day.isoformat(), *marks))
    if marked:
        rows.append(RowsToWrite(DAYS, new.history.days))
    for kind in KEPT:
        if kind.of(old) != kind.of(new):
            rows.append(RowsToWrite(kind, kind.of(new)))
            changes += row_changes(kind, kind.of(old), kind.of(new))
    rows += _entries(old.log, new.log, changes)
    return SiteChange(head, values, vehicles, tuple(rows), tuple(changes))


def _entries(
    old: Sequence[LogEntry], new: Sequence[LogEntry], changes: list[NewChange]
) -> list[RowsToWrite]:
    """Entries of the logbook that came in with a whole site: one row of the history for all new
    ones, and one for each that changed."""
    was = {entry.key: entry for entry in old}
    put = tuple(entry for entry in new if was.get(entry.key) != entry)
    fresh = [entry.day for entry in put if entry.key not in was]
    if fresh:
        span = {"first": min(fresh).isoformat(), "last": max(fresh).isoformat()}
        changes.append(NewChange(LOG.what, "logbook", None, {**span, "added": len(fresh)}))
    changes += [
        NewChange(LOG.what, entry.key, LOG.plain(was[entry.key]), LOG.plain(entry))
        for entry in put
        if entry.key in was
    ]
    return [RowsToWrite(LOG, put, afresh=False)] if put else []


def with_entries(old: Sequence[LogEntry], fresh: Sequence[LogEntry]) -> tuple[LogEntry, ...]:
    """A logbook with fresh entries, each in place of the one of its key, in order."""
    held = {entry.key: entry for entry in (*old, *fresh)}
    return tuple(sorted(held.values(), key=lambda entry: entry.place))


def row_changes(rows: AnyRows, old: Sequence[object], new: Sequence[object]) -> list[NewChange]:
    """Rows of a book that are gone, new or changed, a change each; else their order, if they have
    one of their own.

    Only rows that have a name of their own are told as changed; of others one is gone, one is new.
    """
    if rows.twice:
        same = set(old) & set(new)
        was, now = (
            {rows.name_of(one): one for one in part if one not in same} for part in (old, new)
        )
        pairs = [(was.get(name), now.get(name)) for name in dict.fromkeys([*was, *now])]
    else:
        gone, fresh = Counter(old) - Counter(new), Counter(new) - Counter(old)
        pairs = [(one, None) for one in gone.elements()]
        pairs += [(None, one) for one in fresh.elements()]
    order = rows.order
    if order is not None:
        pairs.sort(key=lambda pair: (pair[0] is None and not rows.twice, order(pair[0] or pair[1])))
    found = [
        NewChange(rows.what, rows.name_of(a or b), a and rows.plain(a), b and rows.plain(b))
        for a, b in pairs
        if a != b
    ]
    if not found and order is None:
        names = [[rows.name_of(one) for one in part] for part in (old, new)]
        found.append(NewChange(rows.what, "order", *names))
    return found


def head_of(data: SiteData) -> dict[str, str]:
    """The columns of the site itself."""
    return {
        "name": data.site.name,
        "timezone": data.site.timezone,
        "units": data.units,
        "reference_class": data.site.reference_class,
        "counted": data.history.counted,
        "stands_on": data.stands_on.isoformat() if data.stands_on else "",
    }


def _stored(data: SiteData, name: str) -> Value | None:
    value = data.site.value(name)
    return value if name in data.given or value != INPUTS[name].default else None


def _at(item: HourCount | HourWeather) -> tuple[date, int, int]:
    return item.day, item.hour, item.fold


def _hours(
    rows: Rows[Hour], old: SiteData, new: SiteData, changes: list[NewChange]
) -> list[RowsToWrite]:
    """One row of the history for all hours: how many, and every old value that is gone."""
    was, now = ({_at(item): item for item in rows.of(part)} for part in (old, new))
    put: tuple[Hour, ...] = tuple(item for at, item in now.items() if was.get(at) != item)
    replaced: list[Hour] = [item for at, item in was.items() if now.get(at) != item]
    afresh = any(at not in now for at in was)
    if not put and not afresh:
        return []
    changed = sum(1 for item in put if _at(item) in was)
    days = [item.day for item in (*put, *replaced)]
    summary = {
        "first": min(days).isoformat(),
        "last": max(days).isoformat(),
        "added": len(put) - changed,
        "changed": changed,
        "removed": len(replaced) - changed,
    }
    gone = [list(rows.plain(item).values()) for item in replaced]
    changes.append(NewChange(rows.table, rows.table, {"hours": gone} if gone else None, summary))
    return [RowsToWrite(rows, rows.of(new) if afresh else put, afresh)]


def whole(data: SiteData) -> object:
    """A site's data with its set in order: equal data has equal text."""
    return replace(data, given=frozenset()), sorted(data.given)


def told(expect: str, scenarios: Sequence[Scenario]) -> dict[str, object]:
    """What the history tells of a plan."""
    return {"expect": expect, "scenarios": [asdict(scenario) for scenario in scenarios]}


@dataclass(frozen=True, slots=True)
class PlanChange:
    """One thing by which two states of a plan differ.

    Attributes:
        scenario: its name as it is now, the old one where it is gone; empty for the plan itself.
        part: ``expect`` or ``order`` of the plan; ``scenario`` (one that is new or gone), ``name``,
            ``rule``, ``cloth``, or the name of an input.
        old, new: None for what is not there, such as an input that is as the site has it.
    """

    scenario: str
    part: str
    old: object
    new: object


def plan_difference(
    old: tuple[str, Sequence[Scenario]], new: tuple[str, Sequence[Scenario]]
) -> tuple[PlanChange, ...]:
    """What turns one state of a plan, its line of the day and its scenarios, into another.

    A scenario is known again by its name, else by all the rest of it, else by its place.
    """
    (old_line, was), (new_line, now) = old, new
    found = [PlanChange("", "expect", old_line, new_line)] if old_line != new_line else []
    pairs = _same_scenarios(was, now)
    for before, after in pairs:
        if before is None or after is None:
            one = after or before
            name = "" if one is None else one.name
            found.append(PlanChange(name, "scenario", before, after))
            continue
        for part in ("name", "rule", "cloth"):
            a, b = getattr(before, part), getattr(after, part)
            if a != b:
                found.append(PlanChange(after.name, part, a, b))
        for part in dict.fromkeys((*before.changes, *after.changes)):
            a, b = before.changes.get(part), after.changes.get(part)
            if a != b:
                found.append(PlanChange(after.name, part, a, b))
    kept = [(a, b) for a, b in pairs if a is not None and b is not None]
    stood = sorted(kept, key=lambda pair: was.index(pair[0]))
    if stood != sorted(kept, key=lambda pair: now.index(pair[1])):
        found.append(PlanChange("", "order", [a.name for a in was], [b.name for b in now]))
    return tuple(found)


def _same_scenarios(
    was: Sequence[Scenario], now: Sequence[Scenario]
) -> list[tuple[Scenario | None, Scenario | None]]:
    """Which scenario of one state is which of another, in the order of the new one."""
    before: dict[int, Scenario] = {}
    left = list(was)
    places = {id(one): at for at, one in enumerate(was)}

    def pair(is_same: Callable[[int, Scenario, Scenario], bool]) -> None:
        for at, one in enumerate(now):
            same = next((old for old in left if at not in before and is_same(at, old, one)), None)
            if same is not None:
                before[at] = same
                left.remove(same)

    pair(lambda _at, old, new: old.name == new.name)
    pair(lambda _at, old, new: replace(old, name=new.name) == new)
    pair(lambda at, old, _new: places[id(old)] == at)
    return [*((before.get(at), one) for at, one in enumerate(now)), *((one, None) for one in left)]


def with_counts(past: History, fresh: History, replace_all: bool) -> History:
    """The past with fresh counts, each hour in place of the same.

    Hours of which only the day's total was counted are a guess: they never take the place of
    counted ones, and go as a whole where their day is counted or its total given anew.
    """
    old, new = _totals(past), _totals(fresh)
    stays = set() if replace_all else {row.day for row in past.counts} - old
    counts = tuple(row for row in fresh.counts if row.day not in new & stays)
    gone = {row.day for row in counts} & old
    if replace_all and counts:
        gone = old
    held = tuple(row for row in past.counts if row.day not in gone)
    marks = (one for one in past.days if one.kind != TOTAL or one.day not in gone)
    days = {*marks, *(one for one in fresh.days if one.day not in stays)}
    return replace(past, counts=merged(held, counts, replace_all), days=tuple(sorted(days)))


def _totals(history: History) -> set[date]:
    return {note.day for note in history.days if note.kind == TOTAL}


def merged(
    stored: tuple[Hour, ...], fresh: tuple[Hour, ...], replace_all: bool
) -> tuple[Hour, ...]:
    """Fresh hours, if there are any, with those stored that they don't take the place of."""
    if not fresh:
        return stored
    there = set(map(_at, fresh))
    found: list[Hour] = list(fresh)
    if not replace_all:
        found += [one for one in stored if _at(one) not in there]
    return tuple(sorted(found))

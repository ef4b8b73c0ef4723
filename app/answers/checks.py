"""Checks and devices: what of a site's lists is due, and what is down, by what its logbook says."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal

from app.answers.answer import Desk
from app.db import store
from sim.errors import InputProblem, quoted
from sim.inputs import CheckItem, LogEntry, SiteData
from sim.inputs.logbook import (
    CHECK,
    CHECK_DAYS,
    DEVICE,
    DEVICES,
    DOWN,
    FINE,
    GUARD,
    OPEN,
    OPENING,
    SAFETY_DEVICES,
    TIMES_OF_CHECKS,
)

LOOK_BACK_DAYS = 100
"""How far back the logbook is read for what was done last."""
READINGS = 5
"""Readings of a check that are told, the last ones."""


@dataclass(frozen=True, slots=True)
class CheckState:
    """A check as it stands on a day.

    Attributes:
        last: the entry by which it was done last; None if it was not in `LOOK_BACK_DAYS`.
        due: the first day on which it is due again; the day itself if it never was done.
        stands: ``open`` if it was found not to be fine, else ``due`` or ``done``.
        readings: its last readings, the newest last.
    """

    item: CheckItem
    last: LogEntry | None
    due: date
    stands: Literal["open", "due", "done"]
    readings: tuple[LogEntry, ...]


@dataclass(frozen=True, slots=True)
class Readiness:
    """Every check of a site on a day, and the devices that are down."""

    day: date
    checks: tuple[CheckState, ...]
    down: tuple[LogEntry, ...]

    def of(self, when: str) -> tuple[CheckState, ...]:
        """The checks of one of the lists."""
        return tuple(one for one in self.checks if one.item.when == when)

    def count(self, stands: str, when: str = "") -> int:
        """How many checks stand so, of one list or of all."""
        among = self.of(when) if when else self.checks
        return sum(1 for one in among if one.stands == stands)

    @property
    def is_ready(self) -> bool:
        """Whether nothing is open, due or down."""
        return not self.down and all(one.stands == "done" for one in self.checks)

    @property
    def must_stop(self) -> bool:
        """Whether something has failed without which a line does not run."""
        return bool(self.failed)

    @property
    def failed(self) -> tuple[LogEntry, ...]:
        """Safety devices that are down, and checks of guards and stops that were not fine."""
        guards = [one.last for one in self.checks if one.item.caution == GUARD and one.last]
        bad = [entry for entry in guards if entry.word == OPEN]
        return (*(entry for entry in self.down if is_safety(entry.name)), *bad)


def is_safety(device: str) -> bool:
    """Whether nothing is planned on running without a device; one that nobody knows counts as
    such, as its manual alone can say otherwise."""
    return device in SAFETY_DEVICES or device not in DEVICES or device == "other_device"


def readiness(desk: Desk, day: date) -> Readiness:
    """What is due and what is down on a day, from the site's lists and its logbook; a device is
    down however long ago that was noted."""
    first = day - timedelta(days=LOOK_BACK_DAYS)
    log = store.load_log(desk.session, desk.site.id, first, day, (CHECK,), always=(DEVICE,))
    return readiness_of(desk.site.data.check_list, log, day)


def readiness_of(checks: Sequence[CheckItem], log: Sequence[LogEntry], day: date) -> Readiness:
    """The same from entries in order of time; those that were taken back count for nothing."""
    held = [entry for entry in log if entry.counts and entry.day <= day]
    listed = sorted(checks, key=lambda item: TIMES_OF_CHECKS.index(item.when))
    return Readiness(day, tuple(_state(item, held, day) for item in listed), devices_down(held))


def devices_down(log: Iterable[LogEntry]) -> tuple[LogEntry, ...]:
    """The entries by which devices are down that nobody has said to work again, by time."""
    last: dict[str, LogEntry] = {}
    for entry in log:
        if entry.kind == DEVICE and entry.counts:
            since = last.get(entry.name)
            if entry.word != DOWN or since is None or since.word != DOWN:
                last[entry.name] = entry
    found = [entry for entry in last.values() if entry.word == DOWN]
    return tuple(sorted(found, key=lambda entry: entry.place))


def _state(item: CheckItem, log: Sequence[LogEntry], day: date) -> CheckState:
    done = [entry for entry in log if entry.kind == CHECK and entry.name == item.name]
    readings = tuple(entry for entry in done if entry.reading is not None)[-READINGS:]
    if not done:
        return CheckState(item, None, day, "due", readings)
    last = done[-1]
    due = last.day + timedelta(days=CHECK_DAYS[item.when])
    if last.word == OPEN:
        return CheckState(item, last, due, "open", readings)
    return CheckState(item, last, due, "done" if day < due else "due", readings)


def is_out_of_range(item: CheckItem, reading: float) -> bool:
    """Whether a reading lies outside what the site entered from the manual."""
    low = item.low is not None and reading < item.low
    return low or (item.high is not None and reading > item.high)


def named_problems(
    kind: str, name: str, vehicle: str, data: SiteData, is_correction: bool
) -> Iterable[InputProblem]:
    """Why an entry of a kind can't be of the car or the check that it names."""
    if vehicle and vehicle not in {one.key for one in data.site.vehicles}:
        sentence = "“{value}” is no kind of car of this site. Choose one of the list."
        yield InputProblem("vehicle", sentence, {"value": quoted(vehicle)})
    if kind == CHECK and not is_correction and name not in {one.name for one in data.check_list}:
        sentence = "“{name}” is on no list any more. Look at the lists as they are now."
        yield InputProblem("name", sentence, {"name": quoted(name)})


def reading_problems(entry: LogEntry, data: SiteData) -> Iterable[InputProblem]:
    """Why a check that has a reading can't be said to be fine."""
    named = (one for one in data.check_list if one.name == entry.name)
    item = next(named, None) if entry.kind == CHECK else None
    if item is None or not item.unit or entry.word != FINE:
        return
    if entry.reading is None:
        sentence = (
            "“{name}” has no reading. Enter what the device shows, or say that it is not fine."
        )
        yield InputProblem("reading", sentence, {"name": item.name})
    elif is_out_of_range(item, entry.reading):
        sentence = (
            "A reading of {value} is not in the range by the manual. Correct it, or say that the "
            "check is not fine."
        )
        yield InputProblem("reading", sentence, {"value": f"{entry.reading:g}"})


def moves_one_way(readings: Sequence[LogEntry]) -> Literal["up", "down", ""]:
    """Whether the last readings, four or more, went one way each time."""
    values = [entry.reading for entry in readings if entry.reading is not None]
    steps = [b - a for a, b in pairwise(values)]
    if len(steps) < 3:
        return ""
    if all(step > 0.0 for step in steps):
        return "up"
    return "down" if all(step < 0.0 for step in steps) else ""


def due_before_opening(found: Readiness) -> tuple[CheckState, ...]:
    """What keeps a day from being ready: whatever is open, and what is due of the opening list."""
    return tuple(
        one
        for one in found.checks
        if one.stands == "open" or (one.stands == "due" and one.item.when == OPENING)
    )

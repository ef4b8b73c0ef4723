"""A plan of people by half-hour, and how it becomes inputs of a site."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sim.inputs import Site, Steps, Value, value_at

HALF_HOURS = 48
HALF_HOUR_S = 1800.0
MOST_LOADERS = 2
"""The model of the line knows one loader or two."""

Counts = tuple[int, ...]
"""Whole numbers by half-hour from midnight; shape (48,)."""


@dataclass(frozen=True, slots=True)
class StaffPlan:
    """Who is there: people in all, and of them loaders, by half-hour."""

    people: Counts
    loaders: Counts

    @property
    def changes(self) -> tuple[tuple[str, Value], ...]:
        """The inputs of the site that say the same."""
        return (("loaders", steps_of(self.loaders)), ("people", steps_of(self.people)))


def steps_of(counts: Sequence[int]) -> Steps:
    """Numbers by half-hour as a timetable."""
    rows = [(0.0, float(counts[0]))]
    for at in range(1, len(counts)):
        if counts[at] != counts[at - 1]:
            rows.append((at * HALF_HOUR_S, float(counts[at])))
    return tuple(rows)


def counts_of(table: Steps, least: int = 0) -> Counts:
    """A timetable as numbers by half-hour: the most that holds within each."""
    found = []
    for at in range(HALF_HOURS):
        start, end = at * HALF_HOUR_S, (at + 1) * HALF_HOUR_S
        within = [amount for moment, amount in table if start < moment < end]
        found.append(max(least, *(round(v) for v in [value_at(table, start), *within])))
    return tuple(found)


def open_half_hours(site: Site) -> range:
    """The half-hours in which the site is open."""
    first = math.floor(site.line.open_h * 2.0 + 1e-9)
    last = math.ceil(site.line.close_h * 2.0 - 1e-9)
    return range(first, max(first + 1, min(HALF_HOURS, last)))


def planned_by(site: Site) -> StaffPlan:
    """What the site's own timetables say; nobody outside opening hours."""
    is_open = open_half_hours(site)
    people, loaders = counts_of(site.crew.people), counts_of(site.pay.loaders, 1)
    shown = tuple(count if at in is_open else 0 for at, count in enumerate(people))
    return StaffPlan(shown, loaders)

"""Why a week has no roster, and the cheapest ways out.

The rules in conflict are found by letting rules go one after another for as long as it stays
proved that no roster exists (the deletion filter, Chinneck & Dravnieks 1991, ORSA Journal on
Computing 3:157–168): of those left, none can be spared. A way out breaks rules at least price.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.decide.staff.assign import (
    AWAY,
    COVER,
    DAYS_OFF,
    LEAST,
    MOST,
    REST,
    SKILL,
    WEEKEND,
    Assignment,
    Breach,
)
from sim.decide.staff.week import DAYS, Duty, Week

RULES = (REST, WEEKEND, DAYS_OFF, LEAST, MOST, SKILL, AWAY, COVER)
"""In the order in which they are let go: what is seldom to blame first."""


@dataclass(frozen=True, slots=True)
class WayOut:
    """A roster that breaks some rules: which, and its shifts."""

    breaches: tuple[Breach, ...]
    duties: tuple[Duty, ...]
    price: float


@dataclass(frozen=True, slots=True)
class Conflict:
    """Why there is no roster.

    Attributes:
        rules: rules that can't all be met; none of them can be spared.
        days: weekdays whose cover, or skills, are part of it.
        ways: ways out, the least unwelcome first; then by one rule each, where that is enough.
    """

    rules: tuple[str, ...]
    days: tuple[int, ...]
    ways: tuple[WayOut, ...]


def explain(week: Week, most_s: float = 5.0) -> Conflict | None:
    """Rules in conflict and ways out; None where it isn't proved that there is no roster.

    Args:
        week: the question.
        most_s: time for each step [s].
    """
    shifts = tuple(week.shifts(day) for day in range(DAYS))
    whole = Assignment(week, shifts)
    if not whole.solve(most_s, just_any=True).impossible:
        return None
    tried = whole
    for rule in RULES:
        without = replace(tried, free=tried.free | {rule})
        if without.solve(most_s, just_any=True).impossible:
            tried = without
    if not {COVER, SKILL} <= tried.free:
        for day in range(DAYS):
            without = replace(tried, cover_days=tried.cover_days - {day})
            if without.solve(most_s, just_any=True).impossible:
                tried = without
    rules = tuple(rule for rule in RULES if rule not in tried.free)
    days = tuple(sorted(tried.cover_days)) if {COVER, SKILL} & set(rules) else ()
    return Conflict(rules, days, _ways(whole, rules, most_s))


def _ways(whole: Assignment, rules: tuple[str, ...], most_s: float) -> tuple[WayOut, ...]:
    ways: list[WayOut] = []
    for relaxed in (frozenset(RULES), *(frozenset({rule}) for rule in rules)):
        found = replace(whole, relaxed=relaxed).solve(most_s)
        if found.duties is None:
            continue
        way = WayOut(found.breaches, found.duties, found.price)
        if all(way.breaches != other.breaches for other in ways):
            ways.append(way)
    return tuple(ways)

"""Why a week has no roster, and the cheapest ways out.

The rules in conflict are found by letting rules go one after another for as long as it stays
proved that no roster exists (the deletion filter, Chinneck & Dravnieks 1991, ORSA Journal on
Computing 3:157–168): of those left, none can be spared. A way out is a roster that breaks rules at
least price. It is told by what is really broken in it, and it is tried whether any is cheaper.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

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
from sim.decide.staff.faults import faults_of
from sim.decide.staff.neighbours import Found, search
from sim.decide.staff.week import DAYS, Duty, Week, cost_of

RULES = (REST, WEEKEND, DAYS_OFF, LEAST, MOST, SKILL, AWAY, COVER)
"""In the order in which they are let go: what is seldom to blame first."""
FILTER_SHARE = 0.25
"""Of the time left to that, for each rule that is let go to see whether there is a roster then."""
FOR_WAYS = 0.6
"""Of the time left, what the rules in conflict leave to the ways out."""
FINER = 0.25
"""Prices closer than this are the same: the least that half an hour or one of anything makes."""


@dataclass(frozen=True, slots=True)
class WayOut:
    """A roster that breaks some rules: which, and its shifts.

    Attributes:
        price: of what is broken, see `sim.decide.staff.assign.PRICES`.
        least: whether it is proved that nothing less than this, by the same rules, is enough.
    """

    breaches: tuple[Breach, ...]
    duties: tuple[Duty, ...]
    price: float
    least: bool


@dataclass(frozen=True, slots=True)
class Conflict:
    """Why there is no roster.

    Attributes:
        rules: rules that can't all be met.
        minimal: whether it is proved that none of them can be spared.
        days: weekdays whose cover, or skills, are part of it.
        ways: ways out, the least unwelcome first; then by one rule each, where that is enough.
    """

    rules: tuple[str, ...]
    days: tuple[int, ...]
    ways: tuple[WayOut, ...]
    minimal: bool = True


def some_time() -> float:
    """Seconds left where nobody counts them: each step has its share of so many."""
    return 30.0


def explain(
    week: Week,
    left_s: Callable[[], float] = some_time,
    nearest: tuple[Duty, ...] = (),
    is_proved: bool = False,
) -> Conflict | None:
    """Rules in conflict and ways out; None where it isn't proved that there is no roster.

    Args:
        week: the question.
        left_s: seconds left.
        nearest: shifts that came nearest to a roster.
        is_proved: whether it has been proved already that there is none.
    """
    shifts = tuple(week.shifts(day) for day in range(DAYS))
    whole = Assignment(week, shifts)
    if not (is_proved or whole.solve(left_s() / 2.0, just_any=True).impossible):
        return None
    tried, minimal = whole, True
    filter_s = _until(left_s, FOR_WAYS * left_s())
    for rule in RULES:
        without = replace(tried, free=tried.free | {rule})
        found = without.solve(FILTER_SHARE * filter_s(), just_any=True)
        tried = without if found.impossible else tried
        minimal = minimal and (found.impossible or found.duties is not None)
    if not {COVER, SKILL} <= tried.free:
        for day in range(DAYS):
            without = replace(tried, cover_days=tried.cover_days - {day})
            if without.solve(FILTER_SHARE * filter_s(), just_any=True).impossible:
                tried = without
    rules = tuple(rule for rule in RULES if rule not in tried.free)
    days = tuple(sorted(tried.cover_days)) if {COVER, SKILL} & set(rules) else ()
    return Conflict(rules, days, _ways(whole, rules, left_s, nearest), minimal)


def _ways(
    whole: Assignment,
    rules: tuple[str, ...],
    left_s: Callable[[], float],
    nearest: tuple[Duty, ...],
) -> tuple[WayOut, ...]:
    """By all the rules in conflict, then by one each; by any rule where those are not enough."""
    ways: list[WayOut] = []
    tries = list(dict.fromkeys([frozenset(rules), *(frozenset({rule}) for rule in rules)]))
    for number, relaxed in enumerate(tries):
        if any(way.least and {one.rule for one in way.breaches} <= relaxed for way in ways):
            continue  # the least of all is one by these rules alone
        share = 1.0 / (len(tries) + 1 - number)  # one more for any rule
        until_s = (1.0 - share) * left_s()
        found = _way(replace(whole, relaxed=relaxed), _until(left_s, until_s), nearest)
        ways += [] if found is None else [found]
    if not ways:
        found = _way(replace(whole, relaxed=frozenset(RULES)), left_s, nearest)
        ways += [] if found is None else [found]
    return tuple(sorted(ways, key=lambda way: way.price))


def _until(left_s: Callable[[], float], until_s: float) -> Callable[[], float]:
    return lambda: left_s() - until_s


def _way(
    asked: Assignment, left_s: Callable[[], float], nearest: tuple[Duty, ...]
) -> WayOut | None:
    """The cheapest way out that breaks the relaxed rules alone; None where none was found.

    The whole program is asked for one that is cheaper than the last, until it is proved that there
    is none; where it doesn't come to an end in its time, the last one is bettered bit by bit first.
    """
    week, proved = asked.week, False
    best: Found | None = None
    start = Found(nearest, np.inf, np.inf) if nearest else None
    while not proved and left_s() > 0.0:
        cap = np.inf if best is None else best.price - FINER
        found = replace(asked, price_at_most=cap).solve(left_s() / 4.0, just_any=True)
        proved = found.impossible or found.optimal
        before = best
        if found.duties is not None:
            best = Found(found.duties, found.price, cost_of(week, found.duties))
        if not proved:
            bettered = search(asked, _until(left_s, left_s() / 2.0), best or start, patience=1)
            best = bettered if best is None or bettered.beats(best) else best
            if before is not None and best.price > before.price - FINER:
                break
    if best is None or best.price == np.inf:
        return None  # where no step came to an end, the start is no way out
    breaches = faults_of(week, best.duties)
    if not breaches or not {one.rule for one in breaches} <= asked.relaxed:
        return None
    return WayOut(breaches, best.duties, best.price, proved)

"""How simple a rule is for the people who carry it out, as a rank: the simplest is lowest.

The order of kinds: always full; the same all day; one clock window; a plain band; several windows;
windows and bands combined; anything by vehicle class. A cue that a crew can see counts as what it
stands for, a clock window or a band. Of one kind the rounder numbers are simpler: a time on the
full hour before one on the half, a saturation in tens of percent before one in fives.
"""

from __future__ import annotations

from sim.day.cues import CrewClock
from sim.day.rules import Band, Classes, Clock, Rule, Service, Term

FULL_DAY, SAME_ALL_DAY, ONE_WINDOW, BAND, WINDOWS, COMBINED, BY_CLASS = range(7)
"""Kinds of rules, the simplest first."""
ROUGHEST = 1000
"""Roughness of numbers is below this within a kind."""
DAY_END_S = 86400.0


def kind_of(rule: Rule) -> int:
    """Its kind, one of those above."""
    if not rule.either:
        return FULL_DAY
    terms = dict.fromkeys(term for row in rule.either for term in row)
    if any(isinstance(term, Classes) for term in terms):
        return BY_CLASS
    when = [term for term in terms if not isinstance(term, Service)]
    if rule.everyone or not when:
        return SAME_ALL_DAY
    if len(when) > 1:
        return COMBINED
    if isinstance(when[0], Clock | CrewClock):
        return ONE_WINDOW if len(when[0].windows) == 1 else WINDOWS
    return BAND


def rank_of(rule: Rule) -> int:
    """Rank among rules: by kind, then by how round its numbers are."""
    rough = sum(_roughness(term) for row in rule.either for term in row)
    return kind_of(rule) * ROUGHEST + min(rough, ROUGHEST - 1)


def _roughness(term: Term) -> int:
    if isinstance(term, Clock | CrewClock):
        edges = (edge for window in term.windows for edge in window if edge < DAY_END_S)
        return sum(_steps_off(edge, (3600.0, 1800.0, 900.0)) for edge in edges)
    if isinstance(term, Band):
        ends = (100.0 * term.upper, 100.0 * term.lower)
        return sum(_steps_off(end, (10.0, 5.0, 2.5)) for end in ends)
    return 0


def _steps_off(value: float, steps: tuple[float, ...]) -> int:
    """Number of the first of the steps of which a value is a multiple."""
    fits = (abs(value - step * round(value / step)) < 1e-6 for step in steps)
    return next((place for place, fit in enumerate(fits) if fit), len(steps))

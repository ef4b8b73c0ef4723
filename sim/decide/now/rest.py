"""What a log tells of the rest of a day beside cars, cloth and wiping: air, people, a belt that
stands. Every followed site lives its day with it.

What nobody notes is assumed, and told: the air stays as much warmer and as damp as it was felt;
somebody who left before their time is missing until the plan has as few; a belt that stands goes on
standing as long again as it has stood, and at least for the usual length of a stop.
"""

from __future__ import annotations

from sim.day.engine import Variant
from sim.decide.now.so_far import DAY_END_S, SoFar
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import Site, Steps, Value, between_times, fewer, value_at
from sim.learn.felt import as_felt

DUE_S = 1_800.0
"""Who leaves so soon after the plan has fewer people leaves as planned [s]; a guess."""
MOST_STOOD_S = 3_600.0
"""A stop that began longer ago, and of which nobody noted that it ended, is taken for over [s]; a
guess."""


def as_noted(question: SwitchQuestion, so_far: SoFar) -> Variant:
    """What differs from the day as it was planned."""
    site, changes = question.site, dict[str, Value]()
    end = stands_until(so_far, site)
    if so_far.stands_s is not None and end is not None:
        table = site.line.belt_stands or ((0.0, 0.0),)
        changes["belt_stands"] = between_times(table, so_far.stands_s, end, lambda _stands: 1.0)
    missing = missing_from(so_far, site)
    if missing:
        people, finishers = site.crew.people, site.crew.finishers
        for at in missing:
            people, finishers = _without_one(people, at), _without_one(finishers, at)
        changes |= {"people": people, "finishers": finishers}
    conditions = as_felt(question.conditions, so_far.felt) if so_far.felt else None
    return Variant(tuple(sorted(changes.items())), conditions)


def stands_until(so_far: SoFar, site: Site) -> float | None:
    """Until when the belt is taken to stand [s]; None where it runs."""
    if so_far.stands_s is None or so_far.now_s - so_far.stands_s > MOST_STOOD_S:
        return None
    stood = so_far.now_s - so_far.stands_s
    return so_far.now_s + max(site.line.stop_median_s, stood)


def missing_from(so_far: SoFar, site: Site) -> tuple[float, ...]:
    """Since when somebody is missing whom the plan counts on [s], one time a person.

    Each is taken for one of those who dry cars, where there are any.
    """
    people = site.crew.people
    return tuple(
        at for at in so_far.left_s if value_at(people, at) >= value_at(people, max(0.0, at - DUE_S))
    )


def _without_one(table: Steps, from_s: float) -> Steps:
    """One fewer from a time on until the timetable has fewer by itself."""
    count = value_at(table, from_s)
    ends = (start for start, then in table if start > from_s and then < count)
    return fewer(table, from_s, min(ends, default=DAY_END_S), 0.0)

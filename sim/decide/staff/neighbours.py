"""From a roster to a better one: a few days or people at a time, the rest held.

Large neighbourhood search (Shaw 1998, CP98, Lecture Notes in Computer Science 1520:417–431): what
is let go is small enough for the integer program to be solved whole, again and again. It begins
with nobody at work, which breaks only cover, skills and least hours; these are let be on the way at
a high price, so the first rosters are there at once and become whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from sim.decide.staff.assign import COVER, LEAST, SKILL, Assigned, Assignment
from sim.decide.staff.shifts import Shift
from sim.decide.staff.week import DAYS, Duty, cost_of

PASSING_RULES = frozenset({COVER, SKILL, LEAST})
"""What a roster with nobody at work breaks."""
COLUMNS = 700
"""Shifts of people and days that are let go at once, more or less."""
STEP_S = 15.0
"""Most time of one step [s]."""
NODES = 100
"""Most branches of one step: it ends there on any machine."""
GAP = 1e-4
"""How near to its best a step is solved."""
NO_BETTER = 2
"""Rounds without anything better after which it ends."""
SURE = 1e-6


@dataclass(frozen=True, slots=True)
class Found:
    """The best roster met: its shifts, what its broken rules are priced at, what it costs."""

    duties: tuple[Duty, ...]
    price: float
    cost: float

    def beats(self, other: Found) -> bool:
        """Whether it breaks less, or as little at less cost."""
        if abs(self.price - other.price) > SURE:
            return self.price < other.price
        return self.cost < other.cost - SURE


def search(
    asked: Assignment,
    left_s: Callable[[], float],
    start: Found | None = None,
    enough: float = -np.inf,
    patience: int = NO_BETTER,
) -> Found:
    """The best roster found in the time that is left, or until rounds find nothing better.

    Args:
        asked: its relaxed rules stay broken at their price; cover, skills and least hours may be
            on the way.
        left_s: seconds left.
        start: a roster to begin with; else nobody is at work.
        enough: a cost at which it ends, once no rule is broken [money].
        patience: rounds without anything better after which it ends.
    """
    passing = replace(asked, passing=PASSING_RULES - asked.relaxed)
    best = start or Found((), np.inf, np.inf)
    rng = np.random.Generator(np.random.PCG64(0))
    idle = 0
    while idle < patience:
        before = best
        for let_go in _round(asked, rng, is_first=start is None and before.price == np.inf):
            if left_s() <= 0.0 or (best.price <= SURE and best.cost <= enough):
                return best
            is_whole = best.price <= SURE
            tried = _step(asked if is_whole else passing, best, let_go, left_s)
            if tried.duties is not None:
                found = Found(tried.duties, tried.price, cost_of(asked.week, tried.duties))
                best = found if found.beats(best) else best
        idle = 0 if best.beats(before) else idle + 1
    return best


def _step(
    asked: Assignment,
    best: Found,
    let_go: frozenset[tuple[str, int]],
    left_s: Callable[[], float],
) -> Assigned:
    has = {(duty.name, duty.day): duty.shift for duty in best.duties}
    held: dict[tuple[str, int], Shift | None] = {
        (person.name, day): has.get((person.name, day))
        for person in asked.week.people
        for day in range(DAYS)
        if (person.name, day) not in let_go
    }
    return replace(asked, held=held).solve(min(STEP_S, left_s()), GAP, nodes=NODES)


def _round(
    asked: Assignment, rng: np.random.Generator, is_first: bool
) -> Iterator[frozenset[tuple[str, int]]]:
    """What is let go, one after another: each day, then people for the week, then pairs of days."""
    week, shifts = asked.week, [len(some) for some in asked.shifts]
    names = [person.name for person in week.people]
    days = [day for day in range(DAYS) if shifts[day]]
    order = days if is_first else [days[at] for at in rng.permutation(len(days))]
    for day in order:
        yield frozenset((name, day) for name in names)
    some = max(2, round(COLUMNS / max(1, sum(shifts))))
    for _ in range(1 if is_first else 2):
        shuffled = [names[at] for at in rng.permutation(len(names))]
        for at in range(0, len(names), some):
            yield frozenset((name, day) for name in shuffled[at : at + some] for day in days)
    for first in rng.permutation(len(days)).tolist():
        pair = (days[first], days[(first + 1) % len(days)])
        many = max(2, round(COLUMNS / max(1, sum(shifts[day] for day in pair))))
        chosen = rng.permutation(len(names))[:many].tolist()
        yield frozenset((names[at], day) for at in chosen for day in pair)

"""The work of a day by role, and how many people it takes beside those who load.

Greeting (preparation before loading), finishing (after the wheel, with what reduced wipes and
towels add), and fixed work with changes of set are shared: people go where most work is left a
head and help each other out. One alone does all of it, as a floater. Loading is a post: whoever
loads does nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from sim.decide.staff.answer import Bound
from sim.decide.staff.measure import HALF_HOUR_S, HALF_HOURS, Counts, Measured, open_half_hours
from sim.inputs import Site
from sim.inputs.people import ROLES, Role

Floats = NDArray[np.float64]

CONFIDENCE = 0.95
"""One-sided: how sure it is that a target is met."""
MINUTE_S = 60.0


def upper(values: Floats) -> Floats:
    """Upper end of the one-sided interval of the mean over days; shape (days, …) → (…)."""
    days = len(values)
    spread = values.std(axis=0, ddof=1) / math.sqrt(days)
    return np.asarray(values.mean(axis=0) + float(stdtrit(days - 1, CONFIDENCE)) * spread)


def lower(values: Floats) -> Floats:
    """Lower end of the same."""
    return -upper(-values)


@dataclass(frozen=True, slots=True)
class Crewed:
    """People by half-hour, with why.

    Attributes:
        people: in all; roles: by role of `ROLES`, summing to it.
        whole, shared: work of all, and of all but loading, by half-hour, upper end [person-s];
            shape (48,).
        bound: what asks for that many, by half-hour.
    """

    people: Counts
    roles: dict[Role, Counts]
    whole: Floats
    shared: Floats
    bound: tuple[Bound, ...]

    def use(self, at: int, people: int, loaders: int) -> float:
        """Share of their time that work takes of so many people in a half-hour.

        That of all or of those who don’t load, whichever is more; ∞ where nobody is there for it.
        """
        found = 0.0
        for work, count in ((self.whole[at], people), (self.shared[at], people - loaders)):
            if work > 0.0:
                found = max(found, work / (count * HALF_HOUR_S) if count > 0 else math.inf)
        return found


def fixed_work_s(site: Site) -> Floats:
    """Fixed work by half-hour [person-s]; shape (48,)."""
    work = np.zeros(HALF_HOURS)
    work[list(open_half_hours(site))] = site.crew.fixed_work_min_per_h * MINUTE_S / 2.0
    return work


def crew_of(site: Site, loaders: Counts, measured: Measured) -> Crewed:
    """People needed beside so many loaders, by what was measured with them.

    The work of each half-hour, upper end over days, may take no more than `target_use` of the
    time of those who do it; the work of all no more than that of all.
    """
    half = measured.half_hours
    greet, leave = upper(half["greet_s"]), upper(half["leave_s"])
    others = half["greet_s"] + half["leave_s"] + half["change_s"] + fixed_work_s(site)
    shared, whole = upper(others), upper(others + half["load_s"])
    room = HALF_HOUR_S * site.crew.target_use
    people, bound = [0] * HALF_HOURS, list[Bound]([""]) * HALF_HOURS
    roles = {role: [0] * HALF_HOURS for role in ROLES}
    for at in _manned(site, whole):
        loading = loaders[at] if at in open_half_hours(site) else min(loaders[at], 1)
        asked: dict[Bound, int] = {
            "loading": loading,
            "use": max(loading + _ceil(shared[at] / room), _ceil(whole[at] / room)),
            "fewest": site.crew.min_crew,
        }
        bound[at] = max(asked, key=lambda name: asked[name])  # the first of equals
        people[at] = asked[bound[at]]
        rest = max(0.0, shared[at] - greet[at] - leave[at])
        shares = shared_out(people[at] - loading, (greet[at], leave[at], rest))
        roles["greeter"][at], roles["finisher"][at], roles["floater"][at] = shares
        roles["loader"][at] = loading
    _outside(site, people, roles, bound)
    return Crewed(
        tuple(people),
        {role: tuple(counts) for role, counts in roles.items()},
        whole,
        shared,
        tuple(bound),
    )


def shared_out(people: int, work: tuple[float, float, float]) -> tuple[int, int, int]:
    """Greeters, finishers and floaters by their work: a person each, then where most is a head.

    One alone is a floater.
    """
    counts = [0, 0, 0]
    if people == 1:
        return 0, 0, 1
    for _ in range(people):
        a_head = [(not n and w > 0.0, w / max(n, 1)) for w, n in zip(work, counts, strict=True)]
        counts[a_head.index(max(a_head))] += 1
    return counts[0], counts[1], counts[2]


def _ceil(amount: float) -> int:
    return math.ceil(amount - 1e-9)


def _manned(site: Site, work: Floats) -> Sequence[int]:
    """Half-hours with people on the line: open ones, and later ones while cars are washed."""
    is_open = open_half_hours(site)
    late = [at for at in range(is_open.stop, HALF_HOURS) if work[at] > MINUTE_S]
    return [*is_open, *late]


def _outside(
    site: Site, people: list[int], roles: dict[Role, list[int]], bound: list[Bound]
) -> None:
    """Opening and closing work: no more than the fewest people, over as many half-hours."""
    manned = [at for at in range(HALF_HOURS) if bound[at]]
    for minutes, step, edge in (
        (site.crew.opening_work_min, -1, manned[0]),
        (site.crew.closing_work_min, 1, manned[-1]),
    ):
        half_hours = _ceil(minutes / (30.0 * site.crew.min_crew))
        count = _ceil(minutes / (30.0 * half_hours)) if half_hours else 0
        for number in range(1, half_hours + 1):
            at = edge + step * number
            if 0 <= at < HALF_HOURS:
                people[at] = roles["floater"][at] = count
                bound[at] = "opening"

"""An integer program as it is made, the part of it that counts shifts and breaks, and their cover.

A column counts the shifts of each day, group of people, start and end; another the breaks that
begin in each half-hour. People with the same skills, of those asked for, are a group. Every shift
finds its break if and only if, for every stretch of the day, at least as many breaks begin in it
as there are shifts whose break must begin in it (Hall's theorem for intervals; implicit breaks
after Bechtold & Jacobs 1990, Management Science 36:1339–1351). A break too many only takes
somebody off the count of people at work, so nothing forbids it.

How many of each shift cover what is needed at least cost is set covering with general covers
(Dantzig 1954, Operations Research 2:339–341): the least Σ cost·count with Σ cover·count ≥ needed,
counts whole and ≥ 0. Solved by HiGHS.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.optimize import LinearConstraint, milp
from scipy.sparse import csr_array

from sim.decide.staff.week import (
    DAYS,
    Duty,
    Group,
    Shift,
    Week,
    break_window,
    counts_for,
    shift_with_break,
    slots_of,
)

Kinds = Sequence[Sequence[Shift]]
"""Shifts that may be used, by weekday."""
Used = Mapping[tuple[int, Group], Collection[Shift]]
"""The same by weekday and group."""


@dataclass(slots=True)
class Constraints:
    """Rows low ≤ Σ coefficient·column ≤ high."""

    _entries: list[tuple[int, int, float]] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, terms: Mapping[int, float], low: float, high: float) -> None:
        """One more row."""
        self._entries += [(len(self.low), column, value) for column, value in terms.items()]
        self.low.append(low)
        self.high.append(high)

    def made(self, columns: int) -> LinearConstraint:
        """All of them over so many columns."""
        at = np.array(self._entries, dtype=float).reshape(-1, 3)
        places = (at[:, 0].astype(int), at[:, 1].astype(int))
        matrix = csr_array((at[:, 2], places), shape=(len(self.low), columns))
        return LinearConstraint(matrix, np.array(self.low), np.array(self.high))


@dataclass(slots=True)
class Program:
    """Columns and rows; `covers` are the rows of people at work, `rules` all others."""

    cost: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    most: list[float] = field(default_factory=list)
    covers: Constraints = field(default_factory=Constraints)
    rules: Constraints = field(default_factory=Constraints)
    counts: dict[tuple[int, Group, Shift], int] = field(default_factory=dict)
    breaks: dict[tuple[int, Group, int], int] = field(default_factory=dict)

    def column(self, cost: float = 0.0, whole: bool = False, most: float = np.inf) -> int:
        """A new column; its number."""
        self.cost.append(cost)
        self.whole.append(int(whole))
        self.most.append(most)
        return len(self.cost) - 1

    def count(self, week: Week, kinds: Kinds, used: Used | None = None) -> None:
        """Columns of shifts and breaks, and the rows by which breaks fit into shifts.

        Args:
            used: by weekday and group the shifts that may be used, where they are fewer.
        """
        for day in range(DAYS):
            for group in week.groups:
                may = kinds[day] if used is None else sorted(used.get((day, group), ()))
                shifts = {shift: self.column(whole=True) for shift in may}
                self.counts |= {(day, group, shift): at for shift, at in shifts.items()}
                windows = {
                    at: window
                    for shift, at in shifts.items()
                    if (window := break_window(shift.start, shift.end, week.limits)) is not None
                }
                if windows:
                    self._fit_breaks(day, group, windows)

    def _fit_breaks(self, day: int, group: Group, windows: Mapping[int, tuple[int, int]]) -> None:
        firsts = sorted({first for first, _ in windows.values()})
        lasts = sorted({last for _, last in windows.values()})
        begun = {slot: self.column(whole=True) for slot in range(firsts[0], lasts[-1] + 1)}
        self.breaks |= {(day, group, slot): at for slot, at in begun.items()}
        for first in firsts:
            for last in lasts:
                inside = [at for at, (a, b) in windows.items() if first <= a and b <= last]
                if not inside:
                    continue
                terms = {begun[slot]: 1.0 for slot in range(first, last + 1)}
                terms |= dict.fromkeys(inside, -1.0)
                self.rules.add(terms, 0.0, np.inf)

    def cover(self, week: Week) -> Iterator[tuple[Group, int, dict[int, float], float]]:
        """For each thing asked for: skills, weekday, coefficients of people at work, how many."""
        at_work: dict[tuple[Group, int, int], dict[int, float]] = {}
        for (day, group, shift), column in self.counts.items():
            for slot in range(shift.start, shift.end):
                at_work.setdefault((group, day, slot), {})[column] = 1.0
        for (day, group, first), column in self.breaks.items():
            for slot in range(first, first + slots_of(week.limits.break_h)):
                at_work.setdefault((group, day, slot), {})[column] = -1.0
        groups = week.groups
        for skills, day, slot, count in week.asked():
            terms: dict[int, float] = {}
            for group in groups:
                if counts_for(skills, group):
                    terms |= at_work.get((group, day, slot), {})
            yield skills, day, terms, float(count)


def with_breaks_placed(
    week: Week, duties: Sequence[Duty], begun: Mapping[tuple[int, Group, int], int]
) -> tuple[Duty, ...]:
    """The duties with the breaks that begin in each half-hour given to them.

    Breaks in order of time go to the shift whose break must begin soonest, by which every shift
    finds one whenever that can be; breaks too many are left out.

    Raises:
        ValueError: if a shift finds none.
    """
    placed: list[Duty] = []
    of_person = {person.name: week.group_of(person) for person in week.people}
    groups: dict[tuple[int, Group], list[Duty]] = {}
    for duty in sorted(duties):
        groups.setdefault((duty.day, of_person[duty.name]), []).append(duty)
    for (day, group), mine in groups.items():
        waiting = []
        for duty in mine:
            window = break_window(duty.shift.start, duty.shift.end, week.limits)
            if window is None:
                placed.append(duty)
            else:
                waiting.append((window[1], window[0], duty))
        starts = [
            slot
            for (d, g, slot), count in sorted(begun.items())
            if (d, g) == (day, group)
            for _ in range(count)
        ]
        for slot in starts:
            can = [one for one in waiting if one[1] <= slot <= one[0]]
            if not can:
                continue
            one = min(can)
            waiting.remove(one)
            shift = shift_with_break(one[2].shift.start, one[2].shift.end, week.limits, slot)
            placed.append(replace(one[2], shift=shift))
        if waiting:
            raise ValueError("breaks and shifts of a program do not fit together")
    return tuple(sorted(placed))


# ---- counts of shifts that cover -----------------------------------------------------------------

OPTIMAL = 0
"""Status by which the solver says that it has proved its answer the best."""
INFEASIBLE = 2
"""Status by which the solver says that it has proved that there is no answer."""


@dataclass(frozen=True, slots=True)
class Counts:
    """How many of each shift.

    Attributes:
        counts: shape (columns,); whole numbers where they have to be.
        cost: of them all, in the unit of the costs given.
        lp_bound: the same with counts that need not be whole; nothing can cost less.
        bound: the solver's own, at least `lp_bound`; nothing can cost less either.
    """

    counts: np.ndarray
    cost: float
    lp_bound: float
    bound: float


def cover_counts(
    cost: np.ndarray,
    covers: np.ndarray | csr_array,
    needed: np.ndarray,
    side: LinearConstraint | None = None,
    whole: np.ndarray | None = None,
    most_s: float = 60.0,
) -> Counts | None:
    """The cheapest counts that cover; None where none were found.

    Args:
        cost: shape (columns,), of one shift each.
        covers: shape (periods, columns), people that one of a shift gives to a period.
        needed: shape (periods,).
        side: further rows that the counts must meet.
        whole: shape (columns,), 1 where a count is a whole number; everywhere if not given.
        most_s: time after which the best counts so far are taken [s].
    """
    rows = [LinearConstraint(covers, needed, np.inf)]
    if side is not None:
        rows.append(side)
    free = milp(cost, constraints=rows)
    if free.x is None:
        return None
    kinds = np.ones(len(cost)) if whole is None else whole
    options = {"mip_rel_gap": 0.0, "time_limit": max(0.1, most_s)}
    found = milp(cost, constraints=rows, integrality=kinds, options=options)
    if found.x is None:
        return None
    counts = np.where(kinds > 0, np.rint(found.x), found.x)
    bound = max(float(free.fun), float(found.mip_dual_bound))
    return Counts(counts, float(cost @ counts), float(free.fun), bound)

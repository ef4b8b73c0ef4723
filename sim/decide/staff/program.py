"""Rosters as integer programs, solved by HiGHS: counts of shifts that cover, and people to shifts.

A column counts the shifts of each day, group of people, start and end; another the breaks that
begin in each half-hour. People with the same skills, of those asked for, are a group. Every shift
finds its break if and only if, for every stretch of the day, at least as many breaks begin in it
as there are shifts whose break must begin in it (Hall's theorem for intervals; implicit breaks
after Bechtold & Jacobs 1990, Management Science 36:1339–1351). A break too many only takes
somebody off the count of people at work, so nothing forbids it.

How many of each shift cover what is needed at least cost is set covering with general covers
(Dantzig 1954, Operations Research 2:339–341): the least Σ cost·count with Σ cover·count ≥ needed,
counts whole and ≥ 0.

People to shifts: a column for each person, day and shift; every rule a few rows. A rule that is let
go has a slack column, at the price of `PRICES`; one roster and the reasons for none come of one
model.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from sim.decide.staff.answer import Rule
from sim.decide.staff.week import (
    DAYS,
    SATURDAY,
    SLOTS,
    Duty,
    Group,
    Shift,
    Week,
    break_window,
    counts_for,
    shift_with_break,
    slots_of,
)
from sim.inputs.roster import Person

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint
    from scipy.sparse import csr_array

Kinds = Sequence[Sequence[Shift]]
"""Shifts that may be used, by weekday."""
OPTIMAL = 0
"""Status by which the solver says that it has proved its answer the best."""
INFEASIBLE = 2
"""Status by which the solver says that it has proved that there is no answer."""


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
        from scipy.optimize import LinearConstraint  # slow to load; no page waits for it
        from scipy.sparse import csr_array

        at = np.array(self._entries, dtype=float).reshape(-1, 3)
        places = (at[:, 0].astype(int), at[:, 1].astype(int))
        matrix = csr_array((at[:, 2], places), shape=(len(self.low), columns))
        return LinearConstraint(matrix, np.array(self.low), np.array(self.high))


@dataclass(slots=True)
class Program:
    """Columns and rows; `covers` are the rows of people at work, `rules` all others.

    Attributes:
        counts, breaks: columns by weekday, group, and shift or half-hour in which breaks begin.
        duties, price: what columns of people mean, and prices of columns that break a rule.
    """

    cost: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    most: list[float] = field(default_factory=list)
    covers: Constraints = field(default_factory=Constraints)
    rules: Constraints = field(default_factory=Constraints)
    counts: dict[tuple[int, Group, Shift], int] = field(default_factory=dict)
    breaks: dict[tuple[int, Group, int], int] = field(default_factory=dict)
    duties: dict[int, Duty] = field(default_factory=dict)
    price: dict[int, float] = field(default_factory=dict)

    def column(self, cost: float = 0.0, whole: bool = False, most: float = np.inf) -> int:
        """A new column; its number."""
        self.cost.append(cost)
        self.whole.append(int(whole))
        self.most.append(most)
        return len(self.cost) - 1

    def slack(self, price: float, whole: bool = True) -> int:
        """A column that breaks a rule."""
        column = self.column(whole=whole)
        self.price[column] = price
        return column

    def count(self, week: Week, day: int, group: Group, may: Sequence[Shift]) -> None:
        """Columns of shifts that a group may have on a day and of their breaks, and the rows by
        which breaks fit into shifts."""
        windows = {}
        for shift in may:
            column = self.counts[day, group, shift] = self.column(whole=True)
            window = break_window(shift.start, shift.end, week.limits)
            if window is not None:
                windows[column] = window
        if not windows:
            return
        firsts = sorted({first for first, _ in windows.values()})
        lasts = sorted({last for _, last in windows.values()})
        begun = {slot: self.column(whole=True) for slot in range(firsts[0], lasts[-1] + 1)}
        self.breaks |= {(day, group, slot): at for slot, at in begun.items()}
        for first in firsts:
            for last in lasts:
                inside = [at for at, (a, b) in windows.items() if first <= a and b <= last]
                if inside:
                    terms = {begun[slot]: 1.0 for slot in range(first, last + 1)}
                    self.rules.add(terms | dict.fromkeys(inside, -1.0), 0.0, np.inf)

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
    waiting: dict[tuple[int, Group], list[tuple[int, int, Duty]]] = {}
    for duty in sorted(duties):
        window = break_window(duty.shift.start, duty.shift.end, week.limits)
        if window is None:
            placed.append(duty)
        else:
            mine = waiting.setdefault((duty.day, of_person[duty.name]), [])
            mine.append((window[1], window[0], duty))
    for (day, group, slot), count in sorted(begun.items()):
        mine = waiting.get((day, group), [])
        for _ in range(count):
            can = [one for one in mine if one[1] <= slot <= one[0]]
            if can:
                mine.remove(min(can))
                duty = min(can)[2]
                shift = shift_with_break(duty.shift.start, duty.shift.end, week.limits, slot)
                placed.append(replace(duty, shift=shift))
    if any(waiting.values()):
        raise ValueError("breaks and shifts of a program do not fit together")
    return tuple(sorted(placed))


# ---- counts of shifts that cover -----------------------------------------------------------------


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
        cost: of one shift each, shape (columns,); needed: shape (periods,).
        covers: shape (periods, columns), people that one of a shift gives to a period.
        side: further rows that the counts must meet.
        whole: shape (columns,), 1 where a count is a whole number; everywhere if not given.
        most_s: time after which the best counts so far are taken [s].
    """
    from scipy.optimize import LinearConstraint, milp

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


# ---- people to shifts ----------------------------------------------------------------------------

PRICES: dict[Rule, float] = {
    "cover": 2.0, "away": 8.0, "skill": 1.0, "most_hours": 1.5, "least_hours": 1.0,
    "days_off": 4.0, "rest": 4.0, "weekend": 3.0,
}  # fmt: skip
"""What breaking a rule by one is priced at [mean hourly wages]: a person's half-hour without cover,
a shift of somebody who can't work then, a half-hour without somebody with the skill, an hour too
many, an hour too few, a day of work too many, a rest cut short, a weekend day too many. All are
guesses of how unwelcome each is; they choose among ways out and are never part of a cost that is
shown."""

COST_BESIDE = 1e-4
"""What money weighs beside the price of a broken rule."""
PASSING = 100.0
"""A rule that must be met in the end is priced at so many times `PRICES` on the way there."""


@dataclass(frozen=True, slots=True)
class Assigned:
    """What the solver said: duties, the price of the rules they break, whether "none" was proved.

    Attributes:
        bound: the solver's own: nothing has a lower goal; −∞ where it has none.
        optimal: whether it is proved that nothing has a lower goal than this.
    """

    duties: tuple[Duty, ...] | None
    price: float = 0.0
    impossible: bool = False
    bound: float = -np.inf
    optimal: bool = False


@dataclass(frozen=True, slots=True)
class Assignment:
    """The program of one week.

    Attributes:
        shifts: that may be used, by weekday.
        relaxed: rules that may be broken at their price; passing: on the way, at `PASSING` times
            their price; free: rules that need not be met at all, and are not priced.
        cover_days: weekdays whose cover is asked for.
        held: by person and weekday what they keep, a shift with those times or none; who is not
            among them may have any shift. A shift that is held can be dropped, but not moved.
        price_at_most: no rules broken at a higher price than this [mean hourly wages].
    """

    week: Week
    shifts: Kinds
    relaxed: frozenset[Rule] = frozenset()
    free: frozenset[Rule] = frozenset()
    cover_days: frozenset[int] = frozenset(range(DAYS))
    passing: frozenset[Rule] = frozenset()
    held: Mapping[tuple[str, int], Shift | None] = field(default_factory=dict)
    price_at_most: float = np.inf

    def model(self) -> Program:
        """Columns and rows."""
        made, week = Program(), self.week
        for day in range(DAYS):
            for group in week.groups:
                mine = [person for person in week.people if week.group_of(person) == group]
                may = [s for s in self.shifts[day] if any(self._may_have(p, day, s) for p in mine)]
                made.count(week, day, group, may)
        given: dict[int, dict[int, float]] = {column: {} for column in made.counts.values()}
        for person in week.people:
            days = self._columns(made, person, given)
            for day in range(DAYS):
                made.rules.add({c: 1.0 for c, d in days.items() if d == day}, 0.0, 1.0)
            self._hours(made, person, days)
            self._days(made, person, days)
            self._rest(made, person, days)
        for column, people in given.items():
            made.rules.add({column: -1.0, **people}, 0.0, 0.0)
        self._cover(made)
        return made

    def _may_have(self, person: Person, day: int, shift: Shift) -> bool:
        """Whether somebody may choose a shift, or holds it."""
        key = person.name, day
        kept = self.held.get(key)
        return key not in self.held or (kept is not None and kept.same_time(shift))

    def _price(self, rule: Rule) -> float:
        if rule in self.free:
            return 0.0
        return PRICES[rule] * (1.0 if rule in self.relaxed else PASSING)

    def _has_slack(self, rule: Rule) -> bool:
        return rule in self.relaxed or rule in self.passing

    def _may_break(self, rule: Rule) -> bool:
        return self._has_slack(rule) or rule in self.free

    def _slacken(
        self, made: Program, rule: Rule, terms: dict[int, float], sign: float, whole: bool = True
    ) -> None:
        """Let a row give way at the price of its rule, if that may be broken."""
        if self._has_slack(rule):
            terms[made.slack(self._price(rule), whole)] = sign

    def _columns(
        self, made: Program, person: Person, given: dict[int, dict[int, float]]
    ) -> dict[int, int]:
        """Columns of one person, with the weekday of each."""
        days = {}
        mine_too = self.week.group_of(person)
        for (day, group, shift), counted in made.counts.items():
            away = self.week.is_away(person, day, shift)
            if group != mine_too or (away and not self._may_break("away")):
                continue
            if self._may_have(person, day, shift):
                cost = person.wage_per_h * shift.paid_h(self.week.limits)
                column = made.column(cost, whole=True, most=1.0)
                made.price[column] = away * self._price("away")
                made.duties[column] = Duty(person.name, day, "", shift)
                given[counted][column] = 1.0
                days[column] = day
        return days

    def _cover(self, made: Program) -> None:
        """In every half-hour as many people at work as are needed, and of each skill."""
        for skills, day, terms, need in made.cover(self.week):
            rule: Rule = "skill" if skills else "cover"
            if day in self.cover_days and rule not in self.free:
                self._slacken(made, rule, terms, 1.0)
                made.covers.add(terms, need, np.inf)

    def _hours(self, made: Program, person: Person, days: Mapping[int, int]) -> None:
        """Least and most hours of the week; what is beyond is paid as overtime."""
        limits = self.week.limits
        hours = {c: made.duties[c].shift.paid_h(limits) for c in days}
        most = self.week.most_h(person)
        if "most_hours" not in self.free:
            terms = dict(hours)
            self._slacken(made, "most_hours", terms, -1.0, whole=False)
            made.rules.add(terms, -np.inf if self._has_slack("most_hours") else 0.0, most)
        if person.least_h > 0.0 and "least_hours" not in self.free:
            terms = dict(hours)
            self._slacken(made, "least_hours", terms, 1.0, whole=False)
            made.rules.add(terms, person.least_h, np.inf)
        if most > limits.overtime_after_h or self._may_break("most_hours"):
            premium = person.wage_per_h * (limits.overtime_factor - 1.0)
            over = made.column(premium)
            made.rules.add({**hours, over: -1.0}, -np.inf, limits.overtime_after_h)

    def _days(self, made: Program, person: Person, days: Mapping[int, int]) -> None:
        """Days of work in the week, and weekend days in two weeks."""
        most_of: tuple[tuple[Rule, int, int], ...] = (
            ("days_off", 0, self.week.limits.most_days_week),
            ("weekend", SATURDAY, self.week.most_weekend_days(person)),
        )
        for rule, first, most in most_of:
            if rule not in self.free and most < DAYS - first:
                terms = {c: 1.0 for c, day in days.items() if day >= first}
                self._slacken(made, rule, terms, -1.0)
                made.rules.add(terms, -np.inf, float(most))

    def _rest(self, made: Program, person: Person, days: Mapping[int, int]) -> None:
        """Rest between one day's shift and the next day's, last Sunday's among them."""
        if "rest" in self.free:
            return
        rest = slots_of(self.week.limits.rest_h)
        sunday = [shift.end for shift in self.week.last_sunday(person)]
        for day in range(-1, DAYS - 1):
            late = {c: made.duties[c].shift.end for c, d in days.items() if d == day}
            early = {c: made.duties[c].shift.start for c, d in days.items() if d == day + 1}
            ends = sunday if day < 0 else sorted(set(late.values()))
            slack: int | None = None
            for end in ends:
                soon = {c: 1.0 for c, start in early.items() if start + SLOTS - end < rest}
                if soon:
                    terms = soon | {c: 1.0 for c, e in late.items() if e >= end}
                    if self._has_slack("rest"):
                        slack = made.slack(self._price("rest")) if slack is None else slack
                        terms[slack] = -1.0
                    made.rules.add(terms, -np.inf, 0.0 if day < 0 else 1.0)

    def solve(
        self,
        most_s: float,
        gap: float = 0.0,
        stay_worth: float = 0.0,
        cost_at_most: float | None = None,
        just_any: bool = False,
        nodes: int | None = None,
    ) -> Assigned:
        """Solve it: least price, then least cost; with `cost_at_most` the least change instead.

        Args:
            most_s, nodes: time [s] and branches after which the best so far is taken.
            gap: relative gap at which the solver may stop.
            stay_worth: what a shift as last week is worth beside the cost [mean hourly wages].
            cost_at_most: no roster above this cost [money]; the most of last week's shifts stay.
            just_any: any roster of the least price will do, whatever it costs.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        made = self.model()
        cost = np.array(made.cost)
        price = np.zeros(len(cost))
        price[list(made.price)] = list(made.price.values())
        rates = [person.wage_per_h for person in self.week.people]
        mean = max(sum(rates) / max(1, len(rates)), 1.0)
        rows = [made.covers.made(len(cost)), made.rules.made(len(cost))]
        goal = np.zeros(len(cost))
        if cost_at_most is not None:
            rows.append(LinearConstraint(csr_array(cost[None, :]), -np.inf, cost_at_most))
            stay_worth = 1.0 / mean
        elif just_any:
            goal = price * mean
        else:
            goal = cost * (COST_BESIDE if price.any() else 1.0) + price * mean
        if self.price_at_most < np.inf:
            rows.append(LinearConstraint(csr_array(price[None, :]), -np.inf, self.price_at_most))
        if stay_worth:
            stay = [column for column, duty in made.duties.items() if self.week.stays(duty)]
            goal[stay] -= stay_worth * mean
        found = milp(
            goal,
            constraints=rows,
            integrality=np.array(made.whole),
            bounds=Bounds(0.0, np.array(made.most)),
            options={"time_limit": max(0.1, most_s), "mip_rel_gap": gap}
            | ({} if nodes is None else {"node_limit": nodes}),
        )
        told_bound = getattr(found, "mip_dual_bound", None)
        bound = -np.inf if told_bound is None or np.isnan(told_bound) else float(told_bound)
        if found.x is None:
            return Assigned(None, impossible=found.status == INFEASIBLE, bound=bound)
        chosen = [duty for column, duty in made.duties.items() if found.x[column] > 0.5]
        begun = {key: round(float(found.x[column])) for key, column in made.breaks.items()}
        taken = with_breaks_placed(self.week, chosen, begun)
        return Assigned(taken, float(price @ found.x), False, bound, found.status == OPTIMAL)

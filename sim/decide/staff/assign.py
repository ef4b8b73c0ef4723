"""People to shifts: one integer program, in which rules can be let go at a price.

A column for each person, day and shift; every rule a few rows. A rule that is let go has
a slack column, at the price of `PRICES`; one roster and the reasons for none come of one model.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp
from scipy.sparse import csr_array

from sim.decide.staff.cover import INFEASIBLE, OPTIMAL
from sim.decide.staff.program import Kinds, Program, with_breaks_placed
from sim.decide.staff.shifts import SLOTS, Shift, slots_of
from sim.decide.staff.week import DAYS, SATURDAY, Duty, Group, Week
from sim.inputs.roster import Person

COVER, AWAY, SKILL, MOST, LEAST = "cover", "away", "skill", "most_hours", "least_hours"
DAYS_OFF, REST, WEEKEND = "days_off", "rest", "weekend"
PRICES = {
    COVER: 2.0, AWAY: 8.0, SKILL: 1.0, MOST: 1.5, LEAST: 1.0, DAYS_OFF: 4.0, REST: 4.0,
    WEEKEND: 3.0,
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
_ANY = Shift(-1, -1, -1, -1)
"""Stands for any shift."""


@dataclass(frozen=True, slots=True)
class Breach:
    """One rule broken: by whom ("" for cover), on which weekday (-1: in the week), by how much.

    `amount` is in hours for `COVER`, `SKILL`, `MOST` and `LEAST`, else a count; `skills` are those
    of which too few are there.
    """

    rule: str
    name: str
    day: int
    amount: float
    skills: Group = ()


@dataclass(frozen=True, slots=True)
class Assigned:
    """What the solver said: duties, the rules broken, and whether "none" was proved.

    Attributes:
        bound: the solver's own: nothing has a lower goal; −∞ where it has none.
        optimal: whether it is proved that nothing has a lower goal than this.
    """

    duties: tuple[Duty, ...] | None
    breaches: tuple[Breach, ...]
    price: float
    impossible: bool
    bound: float = -np.inf
    optimal: bool = False


@dataclass(slots=True)
class Model(Program):
    """The program with people: prices of broken rules, what columns mean."""

    price: dict[int, float] = field(default_factory=dict)
    duties: dict[int, Duty] = field(default_factory=dict)
    slacks: dict[int, Breach] = field(default_factory=dict)

    def slack(self, breach: Breach, price: float, whole: bool, most: float = np.inf) -> int:
        """A column that breaks a rule, by the amount of the breach for each one of it."""
        column = self.column(0.0, whole, most)
        self.price[column] = price
        self.slacks[column] = breach
        return column


@dataclass(frozen=True, slots=True)
class Assignment:
    """The program of one week.

    Attributes:
        week: the question.
        shifts: shifts that may be used, by weekday.
        relaxed: rules that may be broken at their price.
        free: rules that need not be met at all, and are not priced.
        cover_days: weekdays whose cover is asked for.
        passing: rules that may be broken on the way, at `PASSING` times their price.
        held: by person and weekday what they keep, a shift with those times or none; who is not
            among them may have any shift. A shift that is held can be dropped, but not moved.
        price_at_most: no rules broken at a higher price than this [mean hourly wages].
    """

    week: Week
    shifts: Kinds
    relaxed: frozenset[str] = frozenset()
    free: frozenset[str] = frozenset()
    cover_days: frozenset[int] = frozenset(range(DAYS))
    passing: frozenset[str] = frozenset()
    held: Mapping[tuple[str, int], Shift | None] = field(default_factory=dict)
    price_at_most: float = np.inf

    def model(self) -> Model:
        """Columns and rows."""
        made = Model()
        made.count(self.week, self.shifts, self._used() if self.held else None)
        given: dict[int, dict[int, float]] = {column: {} for column in made.counts.values()}
        for person in self.week.people:
            mine = self._columns(made, person, given)
            for day in range(DAYS):
                today = {c: 1.0 for c, d in mine.items() if d == day}
                made.rules.add(today, 0.0, 1.0)
            self._hours(made, person, mine)
            self._days(made, person, mine)
            self._rest(made, person, mine)
        for column, people in given.items():
            made.rules.add({column: -1.0, **people}, 0.0, 0.0)
        self._cover(made)
        return made

    def _used(self) -> dict[tuple[int, Group], set[Shift]]:
        """By weekday and group the shifts that its people hold, or any where one may choose."""
        found: dict[tuple[int, Group], set[Shift]] = {}
        for person in self.week.people:
            group = self.week.group_of(person)
            for day in range(DAYS):
                kept = self.held.get((person.name, day), _ANY)
                may = (s for s in self.shifts[day] if _may_have(kept, s))
                found.setdefault((day, group), set()).update(may)
        return found

    def _price(self, rule: str) -> float:
        if rule in self.free:
            return 0.0
        return PRICES[rule] * (1.0 if rule in self.relaxed else PASSING)

    def _has_slack(self, rule: str) -> bool:
        return rule in self.relaxed or rule in self.passing

    def _may_break(self, rule: str) -> bool:
        return self._has_slack(rule) or rule in self.free

    def _columns(
        self, made: Model, person: Person, given: dict[int, dict[int, float]]
    ) -> dict[int, int]:
        """Columns of one person, with the weekday of each."""
        mine = {}
        mine_too = self.week.group_of(person)
        for (day, group, shift), counted in made.counts.items():
            away = self.week.is_away(person, day, shift)
            if group != mine_too or (away and not self._may_break(AWAY)):
                continue
            if not _may_have(self.held.get((person.name, day), _ANY), shift):
                continue
            cost = person.wage_per_h * shift.paid_h(self.week.limits)
            column = made.column(cost, True, 1.0)
            made.price[column] = away * self._price(AWAY)
            made.duties[column] = Duty(person.name, day, "", shift)
            given[counted][column] = 1.0
            mine[column] = day
        return mine

    def _cover(self, made: Model) -> None:
        """In every half-hour as many people at work as are needed, and of each skill."""
        for skills, day, terms, need in made.cover(self.week):
            rule = SKILL if skills else COVER
            if day not in self.cover_days or rule in self.free:
                continue
            if self._has_slack(rule):
                breach = Breach(rule, "", day, 0.5, skills)
                terms[made.slack(breach, self._price(rule), True)] = 1.0
            made.covers.add(terms, need, np.inf)

    def _hours(self, made: Model, person: Person, mine: Mapping[int, int]) -> None:
        """Least and most hours of the week; what is beyond is paid as overtime."""
        limits = self.week.limits
        hours = {c: made.duties[c].shift.paid_h(limits) for c in mine}
        most = self.week.most_h(person)
        if MOST not in self.free:
            terms = dict(hours)
            if self._has_slack(MOST):
                breach = Breach(MOST, person.name, -1, 1.0)
                terms[made.slack(breach, self._price(MOST), False)] = -1.0
            made.rules.add(terms, -np.inf if self._has_slack(MOST) else 0.0, most)
        if person.least_h > 0.0 and LEAST not in self.free:
            terms = dict(hours)
            if self._has_slack(LEAST):
                breach = Breach(LEAST, person.name, -1, 1.0)
                terms[made.slack(breach, self._price(LEAST), False)] = 1.0
            made.rules.add(terms, person.least_h, np.inf)
        if most > limits.overtime_after_h or self._may_break(MOST):
            premium = person.wage_per_h * (limits.overtime_factor - 1.0)
            over = made.column(premium)
            made.rules.add({**hours, over: -1.0}, -np.inf, limits.overtime_after_h)

    def _days(self, made: Model, person: Person, mine: Mapping[int, int]) -> None:
        """Days of work in the week, and weekend days in two weeks."""
        had = sum(duty.day >= SATURDAY for duty in self.week.last_of(person))
        limits = self.week.limits
        for rule, first, most in (
            (DAYS_OFF, 0, limits.most_days_week),
            (WEEKEND, SATURDAY, max(0, limits.most_weekend_days - had)),
        ):
            terms = {c: 1.0 for c, day in mine.items() if day >= first}
            if rule in self.free or most >= DAYS - first:
                continue
            if self._has_slack(rule):
                breach = Breach(rule, person.name, -1, 1.0)
                terms[made.slack(breach, self._price(rule), True)] = -1.0
            made.rules.add(terms, -np.inf, float(most))

    def _rest(self, made: Model, person: Person, mine: Mapping[int, int]) -> None:
        """Rest between one day's shift and the next day's, last Sunday's among them."""
        if REST in self.free:
            return
        rest = slots_of(self.week.limits.rest_h)
        sunday = [duty.shift.end for duty in self.week.last_of(person) if duty.day == DAYS - 1]
        for day in range(-1, DAYS - 1):
            late = {c: made.duties[c].shift.end for c, d in mine.items() if d == day}
            early = {c: made.duties[c].shift.start for c, d in mine.items() if d == day + 1}
            ends = sunday if day < 0 else sorted(set(late.values()))
            slack = -1
            for end in ends:
                soon = {c: 1.0 for c, start in early.items() if start + SLOTS - end < rest}
                if not soon:
                    continue
                terms = soon | {c: 1.0 for c, e in late.items() if e >= end}
                if self._has_slack(REST):
                    if slack < 0:
                        breach = Breach(REST, person.name, day + 1, 1.0)
                        slack = made.slack(breach, self._price(REST), True)
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
            most_s: time after which the best so far is taken [s].
            gap: relative gap at which the solver may stop.
            stay_worth: what a shift as last week is worth beside the cost [mean hourly wages].
            cost_at_most: no roster above this cost [money]; the most of last week's shifts stay.
            just_any: any roster of the least price will do, whatever it costs.
            nodes: branches after which the best so far is taken.
        """
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
            stays = {column: _stays(duty, self.week) for column, duty in made.duties.items()}
            goal[list(stays)] -= stay_worth * mean * np.array(list(stays.values()), dtype=float)
        found = milp(
            goal,
            constraints=rows,
            integrality=np.array(made.whole),
            bounds=Bounds(0.0, np.array(made.most)),
            options={"time_limit": max(0.1, most_s), "mip_rel_gap": gap}
            | ({} if nodes is None else {"node_limit": nodes}),
        )
        return self._read(made, found, price)

    def _read(self, made: Model, found: OptimizeResult, price: np.ndarray) -> Assigned:
        told_bound = getattr(found, "mip_dual_bound", None)
        bound = -np.inf if told_bound is None or np.isnan(told_bound) else float(told_bound)
        if found.x is None:
            return Assigned(None, (), 0.0, found.status == INFEASIBLE, bound)
        chosen = [duty for column, duty in made.duties.items() if found.x[column] > 0.5]
        begun = {key: round(float(found.x[column])) for key, column in made.breaks.items()}
        taken = with_breaks_placed(self.week, chosen, begun)
        breaches: dict[tuple[str, str, int, Group], float] = {}
        for column, breach in made.slacks.items():
            if found.x[column] > 1e-6:
                key = (breach.rule, breach.name, breach.day, breach.skills)
                breaches[key] = breaches.get(key, 0.0) + breach.amount * float(found.x[column])
        by_name = {person.name: person for person in self.week.people}
        for duty in taken:
            if self.week.is_away(by_name[duty.name], duty.day, duty.shift):
                breaches[AWAY, duty.name, duty.day, ()] = 1.0
        told = tuple(
            Breach(rule, name, day, amount, skills)
            for (rule, name, day, skills), amount in sorted(breaches.items())
        )
        return Assigned(taken, told, float(price @ found.x), False, bound, found.status == OPTIMAL)


def _may_have(kept: Shift | None, shift: Shift) -> bool:
    return kept is _ANY or (kept is not None and kept.same_time(shift))


def _stays(duty: Duty, week: Week) -> bool:
    return any(
        (old.name, old.day) == (duty.name, duty.day) and old.shift.same_time(duty.shift)
        for old in week.last
    )

"""People to shifts: one integer program, in which rules can be let go at a price; and bit by bit.

A column for each person, day and shift; every rule a few rows. A rule that is let go has
a slack column, at the price of `PRICES`; one roster and the reasons for none come of one model.

Bit by bit a roster becomes a better one, a few days or people at a time, the rest held. Large
neighbourhood search (Shaw 1998, CP98, Lecture Notes in Computer Science 1520:417–431): what is let
go is small enough for the integer program to be solved whole, again and again. It begins with
nobody at work, which breaks only cover, skills and least hours; these are let be on the way at a
high price, so the first rosters are there at once and become whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp
from scipy.sparse import csr_array

from sim.decide.staff.answer import Breach, Rule
from sim.decide.staff.program import INFEASIBLE, OPTIMAL, Kinds, Program, with_breaks_placed
from sim.decide.staff.week import (
    DAYS,
    SATURDAY,
    SLOTS,
    Duty,
    Group,
    Shift,
    Week,
    cost_of,
    slots_of,
)
from sim.inputs.roster import Person

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
_ANY = Shift(-1, -1, -1, -1)
"""Stands for any shift."""


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
    relaxed: frozenset[Rule] = frozenset()
    free: frozenset[Rule] = frozenset()
    cover_days: frozenset[int] = frozenset(range(DAYS))
    passing: frozenset[Rule] = frozenset()
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

    def _price(self, rule: Rule) -> float:
        if rule in self.free:
            return 0.0
        return PRICES[rule] * (1.0 if rule in self.relaxed else PASSING)

    def _has_slack(self, rule: Rule) -> bool:
        return rule in self.relaxed or rule in self.passing

    def _may_break(self, rule: Rule) -> bool:
        return self._has_slack(rule) or rule in self.free

    def _columns(
        self, made: Model, person: Person, given: dict[int, dict[int, float]]
    ) -> dict[int, int]:
        """Columns of one person, with the weekday of each."""
        mine = {}
        mine_too = self.week.group_of(person)
        for (day, group, shift), counted in made.counts.items():
            away = self.week.is_away(person, day, shift)
            if group != mine_too or (away and not self._may_break("away")):
                continue
            if not _may_have(self.held.get((person.name, day), _ANY), shift):
                continue
            cost = person.wage_per_h * shift.paid_h(self.week.limits)
            column = made.column(cost, True, 1.0)
            made.price[column] = away * self._price("away")
            made.duties[column] = Duty(person.name, day, "", shift)
            given[counted][column] = 1.0
            mine[column] = day
        return mine

    def _cover(self, made: Model) -> None:
        """In every half-hour as many people at work as are needed, and of each skill."""
        for skills, day, terms, need in made.cover(self.week):
            rule: Rule = "skill" if skills else "cover"
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
        if "most_hours" not in self.free:
            terms = dict(hours)
            if self._has_slack("most_hours"):
                breach = Breach("most_hours", person.name, -1, 1.0)
                terms[made.slack(breach, self._price("most_hours"), False)] = -1.0
            made.rules.add(terms, -np.inf if self._has_slack("most_hours") else 0.0, most)
        if person.least_h > 0.0 and "least_hours" not in self.free:
            terms = dict(hours)
            if self._has_slack("least_hours"):
                breach = Breach("least_hours", person.name, -1, 1.0)
                terms[made.slack(breach, self._price("least_hours"), False)] = 1.0
            made.rules.add(terms, person.least_h, np.inf)
        if most > limits.overtime_after_h or self._may_break("most_hours"):
            premium = person.wage_per_h * (limits.overtime_factor - 1.0)
            over = made.column(premium)
            made.rules.add({**hours, over: -1.0}, -np.inf, limits.overtime_after_h)

    def _days(self, made: Model, person: Person, mine: Mapping[int, int]) -> None:
        """Days of work in the week, and weekend days in two weeks."""
        had = sum(duty.day >= SATURDAY for duty in self.week.last_of(person))
        limits = self.week.limits
        most_of: tuple[tuple[Rule, int, int], ...] = (
            ("days_off", 0, limits.most_days_week),
            ("weekend", SATURDAY, max(0, limits.most_weekend_days - had)),
        )
        for rule, first, most in most_of:
            terms = {c: 1.0 for c, day in mine.items() if day >= first}
            if rule in self.free or most >= DAYS - first:
                continue
            if self._has_slack(rule):
                breach = Breach(rule, person.name, -1, 1.0)
                terms[made.slack(breach, self._price(rule), True)] = -1.0
            made.rules.add(terms, -np.inf, float(most))

    def _rest(self, made: Model, person: Person, mine: Mapping[int, int]) -> None:
        """Rest between one day's shift and the next day's, last Sunday's among them."""
        if "rest" in self.free:
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
                if self._has_slack("rest"):
                    if slack < 0:
                        breach = Breach("rest", person.name, day + 1, 1.0)
                        slack = made.slack(breach, self._price("rest"), True)
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
        breaches: dict[tuple[Rule, str, int, Group], float] = {}
        for column, breach in made.slacks.items():
            if found.x[column] > 1e-6:
                key = (breach.rule, breach.name, breach.weekday, breach.skills)
                breaches[key] = breaches.get(key, 0.0) + breach.amount * float(found.x[column])
        by_name = {person.name: person for person in self.week.people}
        for duty in taken:
            if self.week.is_away(by_name[duty.name], duty.day, duty.shift):
                breaches["away", duty.name, duty.day, ()] = 1.0
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


# ---- bit by bit ----------------------------------------------------------------------------------

PASSING_RULES: frozenset[Rule] = frozenset({"cover", "skill", "least_hours"})
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

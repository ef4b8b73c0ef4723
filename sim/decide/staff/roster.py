"""A week's roster at least cost, then with the least change; or why there is none, and ways out.

Shift counts come first, then people. The first step decides how many of each shift there are,
together with hours and days that each person could give, as numbers that need not be whole; skills
wait for the second. Everything that a real roster meets, that step meets too, so its bound holds
for every roster. The second step gives people to the shifts of the first; where that is not good
enough, to any shift allowed.

Where there is none, the rules in conflict are found by letting rules go one after another for as
long as it stays proved that no roster exists (the deletion filter, Chinneck & Dravnieks 1991, ORSA
Journal on Computing 3:157–168): of those left, none can be spared. A way out is a roster that
breaks rules at least price. It is told by what is really broken in it, and it is tried whether any
is cheaper.

Bit by bit a roster becomes a better one, a few days or people at a time, the rest held. Large
neighbourhood search (Shaw 1998, CP98, Lecture Notes in Computer Science 1520:417–431): what is let
go is small enough for the integer program to be solved whole, again and again. It begins with
nobody at work, which breaks only cover, skills and least hours; these are let be on the way at a
high price, so the first rosters are there at once and become whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sim.decide.staff.answer import Breach, Conflict, Roster, RosterAnswer, Rule, WayOut
from sim.decide.staff.program import Assigned, Assignment, Counts, Kinds, Program, cover_counts
from sim.decide.staff.week import (
    DAYS,
    PER_H,
    SATURDAY,
    SLOTS,
    Duty,
    Group,
    Shift,
    Week,
    cost_by_day,
    cost_of,
    counts_for,
    hours_of,
    planned_shifts,
    slots_of,
)
from sim.inputs import Person

CENT = 1e-6
"""Costs closer than this are the same [money]."""
GOOD_GAP = 0.01
"""Share of the cost by which a roster of many people may lie above the bound."""
FEW_PEOPLE = 12
"""Up to this many people the best roster is sought, not only a good one."""
STAY_WORTH = 0.001
"""What a shift that stays as last week is worth among many people [mean hourly wages]."""
SHARES = (0.25, 0.12, 0.3, 0.3, 0.15, 0.35)
"""Of the time that is left at each step: counts, each round of counts among shifts near those,
people to the shifts found, people to any shift; of all the time what is kept for least change, and,
without a roster so far, for the proof that there is none. What a step does not use is left to those
after it."""
SOON = 0.06
"""Of all the time what a first roster is sought bit by bit, where the shifts found have none."""
ROUNDS = 2
"""Most rounds of counts among shifts near those of the round before."""
NEAR = 2
"""Half-hours by which start and end of a shift lie near those of another."""


@dataclass(frozen=True, slots=True)
class NoRoster:
    """There is none: `proved`, or none was found in the time allowed; `nearest` came shifts that
    break some rules."""

    proved: bool
    nearest: tuple[Duty, ...] = ()


def countdown(most_s: float, clock: Callable[[], float]) -> Callable[[], float]:
    """How many seconds are left of so many, by a clock."""
    ends_s = clock() + most_s
    return lambda: ends_s - clock()


def roster_answer(
    week: Week, left_s: Callable[[], float], early: Callable[[RosterAnswer], None] | None = None
) -> RosterAnswer:
    """The roster of a week, or the rules in conflict and ways out.

    Args:
        left_s: seconds left.
        early: handed the first roster that breaks no rule, where a better one is looked for.
    """

    def told(roster: Roster) -> None:
        if early is not None:
            early(RosterAnswer(week.monday, roster, None, coarse=True))

    found = make_roster(week, left_s, None if early is None else told)
    if isinstance(found, Roster):
        return RosterAnswer(week.monday, found, None)
    conflict = explain(week, left_s, found.nearest, True) if found.proved else None
    return RosterAnswer(week.monday, None, conflict)


def make_roster(
    week: Week,
    left_s: Callable[[], float],
    early: Callable[[Roster], None] | None = None,
) -> Roster | NoRoster:
    """The roster of a week; where time runs out, the best so far, so that a slower machine may find
    a dearer one. `early` is handed the first one where it may not be the last."""
    most_s = left_s()
    every = tuple(week.shifts(day) for day in range(DAYS))
    first = _counted(replace(week, skilled={}), every, left_s)
    few = len(week.people) <= FEW_PEOPLE
    worth = 0.0 if few else STAY_WORTH
    bound = 0.0 if first is None else first[0].bound
    tries: list[Assigned] = []
    pool: Kinds = every
    if first is not None:
        pool = _with_last(week, every, first[1])
        tries.append(Assignment(week, pool).solve(SHARES[2] * left_s(), 0.0, worth))
    whole, impossible = Assignment(week, every), False
    if early is not None:
        soon = tries[0].duties if tries else None
        if soon is None:
            for_the_rest_s = left_s() - SOON * most_s
            soon = search(whole, _until(left_s, for_the_rest_s), enough=np.inf).duties
            soon = None if faults_of(week, soon) else soon
            tries.append(Assigned(soon))
        if soon is not None and (week.last or not _is_good(week, soon, bound)):
            early(_told(week, soon, bound, first))
    nearest: tuple[Duty, ...] = ()
    if not tries or not _is_good(week, tries[0].duties, bound):
        tried = whole.solve(SHARES[3] * left_s(), 0.0, worth)
        impossible, bound = tried.impossible, max(bound, tried.bound)
        tries.append(tried)
    found = [one.duties for one in tries if one.duties is not None]
    best = min(found, key=lambda duties: cost_of(week, duties)) if found else None
    if not (impossible or _is_good(week, best, bound)):
        start = None if best is None else Found(best, 0.0, cost_of(week, best))
        for_the_rest_s = (SHARES[4] if start else SHARES[5]) * most_s
        enough = bound + _gap_allowed(week, bound)
        nearest = search(whole, _until(left_s, for_the_rest_s), start, enough).duties
        if not faults_of(week, nearest):
            best = nearest
    if best is None:
        if not impossible:
            impossible = whole.solve(left_s() / 2.0, just_any=True).impossible
        return NoRoster(impossible, nearest)
    if week.last:
        best = _calm(week, best, every if few else _with(pool, best), left_s)
    return _told(week, best, bound, first)


def _told(
    week: Week,
    best: tuple[Duty, ...],
    bound: float,
    first: tuple[Counts, list[set[Shift]]] | None,
) -> Roster:
    """A roster with what it costs; `bound` holds for every one, `first` are the counts."""
    cost = cost_of(week, best)
    lp_bound = 0.0 if first is None else first[0].lp_bound
    return Roster(
        cost=cost,
        lp_bound=min(lp_bound, cost),
        bound=min(bound, cost),
        kept=kept_of(week, best),
        last_week=len(week.last),
        cost_by_day=cost_by_day(week, best),
        shifts=planned_shifts(week.monday, best),
    )


def _calm(
    week: Week, best: tuple[Duty, ...], pool: Kinds, left_s: Callable[[], float]
) -> tuple[Duty, ...]:
    """As many of last week's shifts as can be at the same cost."""
    top = cost_of(week, best) + CENT
    calm = Assignment(week, pool).solve(left_s(), cost_at_most=top)
    # The solver's own slack on a row may let a fraction of a cent through.
    if calm.duties is None or cost_of(week, calm.duties) > top + CENT:
        return best
    return max(best, calm.duties, key=lambda duties: kept_of(week, duties))


def _counted(
    week: Week, every: Kinds, left_s: Callable[[], float]
) -> tuple[Counts, list[set[Shift]]] | None:
    """Counts of shifts, then, for as long as that is cheaper, of those near the ones used.

    Among few shifts the solver soon finds good counts; the bound stays that of all of them.
    """
    found = count_shifts(week, every, SHARES[0] * left_s())
    for _round in range(ROUNDS):
        if found is None or found[0].cost - found[0].bound <= CENT:
            break
        near = count_shifts(week, _near(every, found[1]), SHARES[1] * left_s())
        if near is None or near[0].cost >= found[0].cost - CENT:
            break
        found = replace(near[0], lp_bound=found[0].lp_bound, bound=found[0].bound), near[1]
    return found


def _near(every: Kinds, used: list[set[Shift]]) -> Kinds:
    """Shifts that begin and end near one that is used that day."""
    return tuple(
        tuple(
            shift
            for shift in shifts
            if any(
                abs(shift.start - one.start) <= NEAR and abs(shift.end - one.end) <= NEAR
                for one in day
            )
        )
        for shifts, day in zip(every, used, strict=True)
    )


def kept_of(week: Week, duties: tuple[Duty, ...]) -> int:
    """How many shifts are as last week, by person, day, start and end."""
    return sum(map(week.stays, duties))


def _is_good(week: Week, duties: tuple[Duty, ...] | None, bound: float) -> bool:
    return duties is not None and cost_of(week, duties) - bound <= _gap_allowed(week, bound)


def _gap_allowed(week: Week, bound: float) -> float:
    return CENT if len(week.people) <= FEW_PEOPLE else GOOD_GAP * bound


def _with(kinds: Kinds, duties: tuple[Duty, ...]) -> Kinds:
    """Shifts that may be used, and those of a roster among them, each once by its times."""
    found = [{(shift.start, shift.end): shift for shift in shifts} for shifts in kinds]
    for duty in duties:
        found[duty.day].setdefault((duty.shift.start, duty.shift.end), duty.shift)
    return tuple(tuple(sorted(day.values())) for day in found)


def _with_last(week: Week, every: Kinds, chosen: list[set[Shift]]) -> Kinds:
    """The shifts chosen, and those of last week that are still allowed."""
    for old in week.last:
        chosen[old.day] |= {shift for shift in every[old.day] if shift.same_time(old.shift)}
    return tuple(tuple(sorted(shifts)) for shifts in chosen)


def count_shifts(week: Week, every: Kinds, most_s: float) -> tuple[Counts, list[set[Shift]]] | None:
    """The first step: counts of shifts, and the shifts used by weekday; None where there are none.

    Beside the counts each person has, by day, hours and a share of a day's work.
    """
    limits = week.limits
    made = Program()
    for day in range(DAYS):
        for group in week.groups:
            made.count(week, day, group, every[day])
    hours_in: dict[tuple[int, Group], dict[int, float]] = {}
    people_in: dict[tuple[int, Group], dict[int, float]] = {}
    for (day, group, shift), column in made.counts.items():
        hours_in.setdefault((day, group), {})[column] = -shift.paid_h(limits)
        people_in.setdefault((day, group), {})[column] = -1.0
    for person in week.people:
        hours: dict[int, float] = {}
        share: dict[int, int] = {}
        for day in range(DAYS):
            can = [s.paid_h(limits) for s in every[day] if not week.is_away(person, day, s)]
            if not can:
                continue
            group = week.group_of(person)
            at, part = made.column(person.wage_per_h), made.column()
            hours[at], share[part] = 1.0, day
            hours_in[day, group][at] = people_in[day, group][part] = 1.0
            made.rules.add({at: 1.0, part: -max(can)}, -np.inf, 0.0)
            made.rules.add({at: 1.0, part: -min(can)}, 0.0, np.inf)
            made.rules.add({part: 1.0}, 0.0, 1.0)
        made.rules.add(dict.fromkeys(share, 1.0), 0.0, float(limits.most_days_week))
        weekend = {column: 1.0 for column, day in share.items() if day >= SATURDAY}
        made.rules.add(weekend, 0.0, float(week.most_weekend_days(person)))
        made.rules.add(hours, person.least_h, week.most_h(person))
        over = made.column(person.wage_per_h * (limits.overtime_factor - 1.0))
        made.rules.add({**hours, over: -1.0}, -np.inf, limits.overtime_after_h)
    for terms in (*hours_in.values(), *people_in.values()):
        # As many hours and people as the shifts take, or more: rounding up finds an answer fast.
        made.rules.add(terms, 0.0, np.inf)
    for _skills, _day, terms, need in made.cover(week):
        made.covers.add(terms, need, np.inf)
    size = len(made.cost)
    covers = made.covers.made(size)
    found = cover_counts(
        np.array(made.cost), covers.A, covers.lb,
        side=made.rules.made(size), whole=np.array(made.whole), most_s=most_s,
    )  # fmt: skip
    if found is None:
        return None
    used: list[set[Shift]] = [set() for _ in range(DAYS)]
    for (day, _group, shift), column in made.counts.items():
        if found.counts[column] > 0:
            used[day].add(shift)
    return found, used


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
            tried = _step(asked if best.price <= SURE else passing, best, let_go, left_s())
            if tried.duties is not None:
                found = Found(tried.duties, tried.price, cost_of(asked.week, tried.duties))
                best = found if found.beats(best) else best
        idle = 0 if best.beats(before) else idle + 1
    return best


def _step(
    asked: Assignment, best: Found, let_go: frozenset[tuple[str, int]], most_s: float
) -> Assigned:
    has = {(duty.name, duty.day): duty.shift for duty in best.duties}
    held: dict[tuple[str, int], Shift | None] = {
        (person.name, day): has.get((person.name, day))
        for person in asked.week.people
        for day in range(DAYS)
        if (person.name, day) not in let_go
    }
    return replace(asked, held=held).solve(min(STEP_S, most_s), GAP, nodes=NODES)


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


# ---- why there is none ---------------------------------------------------------------------------

RULES: tuple[Rule, ...] = (
    "rest", "weekend", "days_off", "least_hours", "most_hours", "skill", "away", "cover",
)  # fmt: skip
"""In the order in which they are let go: what is seldom to blame first."""
FILTER_SHARE = 0.25
"""Of the time left to that, for each rule that is let go to see whether there is a roster then."""
FOR_WAYS = 0.6
"""Of the time left, what the rules in conflict leave to the ways out."""
FINER = 0.25
"""Prices closer than this are the same: the least that half an hour or one of anything makes."""


def explain(
    week: Week,
    left_s: Callable[[], float],
    nearest: tuple[Duty, ...] = (),
    is_proved: bool = False,
) -> Conflict | None:
    """Rules in conflict and ways out; None where it isn't proved that there is no roster.

    Args:
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
    if not {"cover", "skill"} <= tried.free:
        for day in range(DAYS):
            without = replace(tried, cover_days=tried.cover_days - {day})
            if without.solve(FILTER_SHARE * filter_s(), just_any=True).impossible:
                tried = without
    rules = tuple(rule for rule in RULES if rule not in tried.free)
    days = tuple(sorted(tried.cover_days)) if {"cover", "skill"} & set(rules) else ()
    return Conflict(rules, days, _ways(whole, rules, left_s, nearest), minimal)


def _ways(
    whole: Assignment, rules: Sequence[Rule], left_s: Callable[[], float], nearest: tuple[Duty, ...]
) -> tuple[WayOut, ...]:
    """By all the rules in conflict, then by one each; by any rule where those are not enough."""
    ways: list[WayOut] = []
    tries = list(dict.fromkeys([frozenset(rules), *(frozenset([rule]) for rule in rules)]))
    for number, relaxed in enumerate(tries):
        if any(way.least and {one.rule for one in way.breaches} <= relaxed for way in ways):
            continue  # the least of all is one by these rules alone
        share = 1.0 / (len(tries) + 1 - number)  # one more for any rule
        until_s = (1.0 - share) * left_s()
        ways += _way(replace(whole, relaxed=relaxed), _until(left_s, until_s), nearest)
    if not ways:
        ways += _way(replace(whole, relaxed=frozenset(RULES)), left_s, nearest)
    return tuple(sorted(ways, key=lambda way: way.price))


def _until(left_s: Callable[[], float], until_s: float) -> Callable[[], float]:
    return lambda: left_s() - until_s


def _way(asked: Assignment, left_s: Callable[[], float], nearest: tuple[Duty, ...]) -> list[WayOut]:
    """The cheapest way out that breaks the relaxed rules alone, if one was found.

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
        return []  # where no step came to an end, the start is no way out
    breaches = faults_of(week, best.duties)
    if not breaches or not {one.rule for one in breaches} <= asked.relaxed:
        return []
    return [WayOut(breaches, planned_shifts(week.monday, best.duties), best.price, proved)]


# ---- faults of a roster --------------------------------------------------------------------------


def faults_of(week: Week, duties: Sequence[Duty]) -> tuple[Breach, ...]:
    """Every rule that a roster breaks, cover first, then by person in the week's order; shifts of
    people who have left are let be."""
    names = {person.name for person in week.people}
    duties = [duty for duty in duties if duty.name in names]
    found: dict[tuple[Group, int], float] = {}
    for (day, _), short in _too_few(week, duties).items():
        for skills, people in short.items():
            found[skills, day] = found.get((skills, day), 0.0) + people / PER_H
    told = [
        Breach("skill" if skills else "cover", "", day, hours, skills)
        for (skills, day), hours in sorted(found.items())
    ]
    for person in week.people:
        mine = sorted((d for d in duties if d.name == person.name), key=lambda duty: duty.day)
        told += _of_person(week, person, mine)
    return tuple(told)


def _too_few(week: Week, duties: Sequence[Duty]) -> dict[tuple[int, int], dict[Group, int]]:
    """People short by weekday and half-hour: without skills, by one skill, by several together.

    Posts without somebody are as many as the set of skills that is short by most says (Hall's
    theorem as Ore gave it, 1955); what the skills of that set lack each by itself is told first.
    """
    groups = {person.name: week.group_of(person) for person in week.people}
    found: dict[tuple[int, int], dict[Group, int]] = {}
    for skills, day, slot, need in week.asked():
        here = sum(
            int(duty.shift.covered[slot])
            for duty in duties
            if duty.day == day and counts_for(skills, groups[duty.name])
        )
        if here < need:
            found.setdefault((day, slot), {})[skills] = need - here
    for short in found.values():
        together = {skills: people for skills, people in short.items() if len(skills) > 1}
        alone = sum(people for skills, people in short.items() if len(skills) == 1)
        worst = max(together, key=lambda skills: (together[skills], -len(skills)), default=())
        for skills in together:
            del short[skills]
        if worst and together[worst] > alone:
            short[worst] = together[worst] - alone
    return found


def _of_person(week: Week, person: Person, mine: Sequence[Duty]) -> list[Breach]:
    name, limits = person.name, week.limits
    hours = hours_of(mine, name, limits)
    at_weekend = sum(duty.day >= SATURDAY for duty in mine)
    beyond: tuple[tuple[Rule, float], ...] = (
        ("most_hours", hours - week.most_h(person)),
        ("least_hours", person.least_h - hours),
        ("days_off", float(len(mine) - limits.most_days_week)),
        ("weekend", float(at_weekend - week.most_weekend_days(person))),
    )
    spans = [(-1, shift) for shift in week.last_sunday(person)]
    spans += [(duty.day, duty.shift) for duty in mine]
    return [
        *(Breach("away", name, d.day, 1.0) for d in mine if week.is_away(person, d.day, d.shift)),
        *(
            Breach("longest", name, duty.day, over / PER_H)
            for duty in mine
            if (over := duty.shift.end - duty.shift.start - slots_of(limits.longest_shift_h)) > 0
        ),
        *(Breach(rule, name, -1, amount) for rule, amount in beyond if amount > 0.0),
        *(
            Breach("rest", name, next_day, 1.0)
            for (day, earlier), (next_day, later) in pairwise(spans)
            if (next_day - day) * SLOTS + later.start - earlier.end < slots_of(limits.rest_h)
        ),
    ]

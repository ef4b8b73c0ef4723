"""Rosters: every rule met, the cost added up another way, the least cost by trying everything."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date
from time import process_time
from typing import Any

import numpy as np
import pytest

from sim.decide.staff import roster
from sim.decide.staff.answer import Roster
from sim.decide.staff.program import Counts, Kinds
from sim.decide.staff.roster import (
    NoRoster,
    count_shifts,
    countdown,
    faults_of,
    kept_of,
    make_roster,
)
from sim.decide.staff.week import (
    Duty,
    Week,
    break_window,
    cost_of,
    duties_of,
    shift_with_break,
    shifts_of_day,
)
from sim.inputs.roster import Away, HoursLimits, Person
from tests.decide.roster_checker import (
    MONDAY,
    NOBODY,
    asked,
    broken_rules,
    clock_cost,
    drawn_week,
    people_of,
    soon,
)
from tests.remembering import kept
from tests.seeds import generator
from tests.sizes import Size


def made(week: Week) -> Roster:
    """A roster that must exist."""
    found = make_roster(week, soon)
    assert isinstance(found, Roster)
    return found


def settled(week: Week) -> Roster | NoRoster:
    """A roster, or the proof that there is none, in ever more time: which weeks have one is then
    no matter of what else the machine does."""

    def looked_for() -> Roster | NoRoster:
        most_s = 0.5
        found = make_roster(week, countdown(most_s, process_time))
        while isinstance(found, NoRoster) and not found.proved and most_s < 32.0:
            most_s *= 2.0
            found = make_roster(week, countdown(most_s, process_time))
        return found

    return kept(("settled", week), looked_for)


@pytest.mark.soak
def test_drawn_weeks_meet_every_rule(size: Size) -> None:
    """Each roster of a drawn week, and of every third one's next week, breaks no rule of
    the checker, costs what its shifts add up to, and lies at or above its bounds."""
    rosters = 0
    for number in range(size(small=12, full=300)):
        week = drawn_week(generator(f"roster week {number}"))
        found = settled(week)
        if isinstance(found, NoRoster):
            continue
        asked: list[tuple[Week, Roster | NoRoster]] = [(week, found)]
        if number % 3 == 0:
            again = replace(week, last=duties_of(found.shifts))
            asked.append((again, settled(again)))
        for question, one in asked:
            if isinstance(one, Roster):
                rosters += 1
                assert broken_rules(question, duties_of(one.shifts)) == []
                assert one.cost == pytest.approx(
                    clock_cost(question, duties_of(one.shifts)), abs=1e-6
                )
                assert one.lp_bound <= one.bound + 1e-6
                assert one.bound <= one.cost + 1e-6
    assert rosters >= size(small=10, full=150)


def cheapest_by_trying(week: Week) -> float:
    """The least cost of any roster, by trying every shift with every break for everybody."""
    limits = week.limits
    choices = []
    for person in week.people:
        for day in range(7):
            options: list[Duty | None] = [None]
            for shift in shifts_of_day(week.needed[day], limits):
                window = break_window(shift.start, shift.end, limits)
                places = [None] if window is None else list(range(window[0], window[1] + 1))
                options += [
                    Duty(person.name, day, "", shift_with_break(shift.start, shift.end, limits, at))
                    for at in places
                ]
            choices.append(options)
    best = float("inf")
    for chosen in itertools.product(*choices):
        duties = tuple(duty for duty in chosen if duty is not None)
        if clock_cost(week, duties) < best and not broken_rules(week, duties):
            best = clock_cost(week, duties)
    return best


SMALL = HoursLimits(
    shortest_shift_h=3, longest_shift_h=6, shift_step_h=3, start_every_h=3, break_after_h=4,
)  # fmt: skip


@pytest.mark.parametrize("number", range(6))
def test_small_weeks_equal_trying_everything(number: int) -> None:
    """Two or three people and two days: the cost is the least of all rosters that can be."""
    rng = generator(f"small roster {number}")
    people = tuple(
        Person(
            f"Person {at}", ("loader", "finisher") if at else ("loader",),
            float(rng.integers(15, 30)), 0.0, float(rng.choice([6.0, 12.0])),
            (Away(4, 0.0, 9 * 3600.0),) if rng.random() < 0.3 else (),
        )
        for at in range(2 + number % 2)
    )  # fmt: skip
    rows = {"loader": [(4, 8, 14, 1)] if number % 2 else [(4, 8, 14, 1), (5, 8, 11, 1)]}
    if number % 2:
        rows["finisher"] = [(4, 8, 11, 1)]
    # Half an hour of break needs somebody else: an hour in the middle may be short of one.
    week = asked(Week(MONDAY, people, SMALL, NOBODY), rows)
    week.skilled["loader"][4, 21:23] = 0
    week.needed[4, 21:23] -= 1
    found, least = make_roster(week, soon), cheapest_by_trying(week)
    if isinstance(found, NoRoster):
        assert found.proved
        assert np.isinf(least)
    else:
        assert found.cost == pytest.approx(least, abs=1e-6)


def team(count: int, most_h: float = 40.0) -> tuple[Person, ...]:
    """People who differ in their wage alone, by a little."""
    return tuple(
        Person(f"Person {at + 1}", (), 20.0 + at / 4, most_h=most_h) for at in range(count)
    )


EVERY_DAY = people_of([(day, 8, 16, 1) for day in range(7)])


def test_overtime_is_paid_and_avoided() -> None:
    """One person over 40 hours costs half a wage more an hour; a second one at a like wage takes
    the hours over."""
    limits = HoursLimits(most_days_week=7, most_weekend_days=4, break_after_h=8)
    lone = made(Week(MONDAY, team(1, most_h=60.0), replace(limits, most_h_week=60), EVERY_DAY))
    assert lone.cost == pytest.approx(20.0 * (40 + 1.5 * 16))
    two = made(Week(MONDAY, team(2, most_h=60.0), replace(limits, most_h_week=60), EVERY_DAY))
    assert two.cost == pytest.approx(20.0 * 40 + 20.25 * 16)


def test_weekends_are_fair_over_two_weeks() -> None:
    """Whoever worked both days of last weekend has one day of the next at most."""
    week = Week(MONDAY, team(3), HoursLimits(break_after_h=8), EVERY_DAY)
    first = made(week)
    both = [n for n in {d.name for d in duties_of(first.shifts)}
            if sum(d.name == n and d.day >= 5 for d in duties_of(first.shifts)) == 2]  # fmt: skip
    assert both
    second = made(replace(week, last=duties_of(first.shifts)))
    for name in both:
        assert sum(d.name == name and d.day >= 5 for d in duties_of(second.shifts)) <= 1


def test_as_little_as_can_be_is_changed_at_the_least_cost() -> None:
    """Among rosters of the same cost the one with the most shifts of last week is taken."""
    people = tuple(replace(person, wage_per_h=20.0) for person in team(4))
    limits = HoursLimits(break_after_h=8, most_weekend_days=4)
    week = Week(MONDAY, people, limits, EVERY_DAY)
    old = duties_of(made(week).shifts)
    renamed = {person.name: people[(at + 1) % 4].name for at, person in enumerate(people)}
    turned = tuple(sorted(replace(duty, name=renamed[duty.name]) for duty in old))
    again = made(replace(week, last=turned))
    assert again.cost == pytest.approx(cost_of(week, old))
    assert kept_of(replace(week, last=turned), duties_of(again.shifts)) == len(old)
    assert again.kept == len(old)


def test_a_shift_stays_where_the_same_person_had_it() -> None:
    """The same hours of somebody else are another shift, and so are other hours of one's own."""
    duty = Duty("Person 1", 2, "", shift_with_break(16, 32, HoursLimits()))
    week = Week(MONDAY, team(2), HoursLimits(), EVERY_DAY, last=(duty,))
    assert week.stays(duty)
    later = shift_with_break(18, 34, HoursLimits())
    for other in (
        replace(duty, name="Person 2"), replace(duty, day=3), replace(duty, shift=later),
    ):  # fmt: skip
        assert not week.stays(other)


def test_who_is_missing_for_either_skill_is_missed_once() -> None:
    """Where nobody is there, one loader and one finisher are short: that the two together are
    short as well is said already."""
    one = people_of([(0, 8, 16, 1)])
    people = tuple(replace(p, roles=("loader", "finisher")) for p in team(2))
    week = Week(MONDAY, people, HoursLimits(), 2 * one, {"loader": one, "finisher": one})
    told = {(fault.rule, fault.skills): fault.amount for fault in faults_of(week, ())}
    assert told == {
        ("cover", ()): 16.0, ("skill", ("loader",)): 8.0, ("skill", ("finisher",)): 8.0,
    }  # fmt: skip


def test_last_sunday_counts_for_rest() -> None:
    """Whoever worked until midnight on Sunday doesn't begin at 8 on Monday."""
    limits = HoursLimits(shortest_shift_h=8, break_after_h=8)
    week = Week(MONDAY, team(2), limits, people_of([(0, 8, 16, 1)]))
    assert [one.name for one in made(week).shifts] == ["Person 1"]
    late = Duty("Person 1", 6, "", shift_with_break(40, 48, week.limits))
    assert [duty.name for duty in duties_of(made(replace(week, last=(late,))).shifts)] == [
        "Person 2"
    ]


def test_breaks_lie_inside_and_are_covered() -> None:
    """Two people whose shifts have breaks never pause at once where one must be there."""
    limits = HoursLimits(shortest_shift_h=8)
    found = made(Week(MONDAY, team(2), limits, people_of([(0, 8, 16, 1)])))
    assert len(duties_of(found.shifts)) == 2
    assert broken_rules(Week(MONDAY, team(2), limits, people_of([(0, 8, 16, 1)])),
                        duties_of(found.shifts)) == []  # fmt: skip
    assert len({duty.shift.pause for duty in duties_of(found.shifts)}) == 2


def test_a_large_team_lies_near_its_bound() -> None:
    """25 people, two skills, every day of the week: every rule met, and no roster could be 1 %
    cheaper. Shifts begin every other hour, so that the time allowed, which a machine that does
    other work may need, is not what ends the search."""
    rng = generator("large team")
    people = tuple(
        Person(
            f"Person {at + 1}", ("loader", "finisher") if at % 3 == 0 else ("loader",),
            18.0 + float(rng.integers(0, 9)) / 2, 20.0 if at % 5 == 0 else 0.0, 40.0,
            (Away(int(rng.integers(7))),),
        )
        for at in range(25)
    )  # fmt: skip
    rows = {
        "loader": [(day, 7, 20, 2) for day in range(7)] + [(day, 10, 18, 2) for day in range(7)],
        "finisher": [(day, 10, 18, 1) for day in range(7)],
    }
    rows["loader"] += [(day, 10, 18, 2) for day in (4, 5, 6)]
    week = asked(Week(MONDAY, people, HoursLimits(start_every_h=2), NOBODY), rows)
    found = make_roster(week, countdown(40.0, process_time))
    assert isinstance(found, Roster)
    assert broken_rules(week, duties_of(found.shifts)) == []
    assert found.gap < 0.01
    assert found.cost - found.lp_bound < 0.02 * found.cost


def test_when_a_shift_has_a_break() -> None:
    """Up to the longest work without one there is none; beyond, after an hour at least, with at
    most that longest work before and after it."""
    limits = HoursLimits(break_after_h=5, break_h=0.5)
    assert break_window(16, 26, limits) is None
    assert break_window(16, 27, limits) == (18, 24)
    assert break_window(16, 32, limits) == (21, 26)


def test_days_off_and_dates_away() -> None:
    """Nobody works more days than allowed, nor on a date on which they can't."""
    limits = HoursLimits(break_after_h=8, most_days_week=4)
    first, second = team(2)
    week = Week(MONDAY, (first, second), limits, EVERY_DAY)
    days = [d.name for d in duties_of(made(week).shifts)]
    assert sorted(days.count(person.name) for person in week.people) == [3, 4]
    gone = replace(first, away=(Away(date(2026, 12, 1)),))
    found = made(replace(week, people=(gone, second)))
    assert [d.name for d in duties_of(found.shifts) if d.day == 1] == ["Person 2"]


def test_a_poor_first_step_is_made_good(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the shifts of the first step cost too much, every shift is tried, and the cheaper
    roster is taken."""
    limits = HoursLimits(break_after_h=8)
    week = Week(MONDAY, team(2), limits, people_of([(0, 8, 12, 1)]))
    assert made(week).cost == pytest.approx(80.0)
    wide = replace(week, needed=people_of([(0, 8, 14, 1), (0, 8, 12, 1)]))
    least = made(wide).cost
    counts = count_shifts(wide, tuple(wide.shifts(day) for day in range(7)), 5.0)
    assert counts is not None
    only_long = [{s for s in wide.shifts(day) if s.end - s.start == 12} for day in range(7)]
    monkeypatch.setattr(roster, "count_shifts", lambda *_: (counts[0], only_long))
    assert least == pytest.approx(20.0 * 6 + 20.25 * 4)
    assert made(wide).cost == pytest.approx(least)


def test_the_bound_is_that_of_all_shifts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counts among shifts near the first ones are taken where they are cheaper, and asked for once
    more then; the bounds stay those of the first step: what bounds few shifts does not bound all.
    """
    week = Week(MONDAY, team(2), HoursLimits(), EVERY_DAY)
    every = tuple(week.shifts(day) for day in range(7))
    used = [{every[day][0]} for day in range(7)]
    for cost, held in ((90.0, 90.0), (110.0, 100.0)):
        steps = iter(
            [
                (Counts(np.ones(1), 100.0, 40.0, 50.0), used),
                (Counts(np.ones(1), cost, 80.0, 85.0), used),
                (Counts(np.ones(1), cost, 80.0, 85.0), used),
            ]
        )
        asked_for: list[Kinds] = []

        def step(
            _week: Week, kinds: Kinds, _most_s: float, steps: Any = steps, seen: Any = asked_for
        ) -> Any:
            seen.append(kinds)
            return next(steps)

        monkeypatch.setattr(roster, "count_shifts", step)
        found = roster._counted(week, every, lambda: 1.0)
        assert found is not None
        assert (found[0].cost, found[0].lp_bound, found[0].bound) == (held, 40.0, 50.0)
        assert asked_for[0] == every
        assert len(asked_for) == (3 if cost < 100.0 else 2)
        near = every[0][0]
        assert all(
            abs(s.start - near.start) <= 2 and abs(s.end - near.end) <= 2
            for day in asked_for[1]
            for s in day
        )
        assert 0 < sum(len(day) for day in asked_for[1]) < sum(len(day) for day in every)

"""Weeks without a roster: the rules in conflict are named, and the ways out work."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from sim.decide.staff.answer import Roster
from sim.decide.staff.program import Assigned, Assignment
from sim.decide.staff.roster import RULES, NoRoster, explain, faults_of, make_roster
from sim.decide.staff.week import Duty, Shift, Week, duties_of
from sim.inputs.roster import Away, HoursLimits, Person
from tests.decide.roster_checker import (
    MONDAY,
    NOBODY,
    asked,
    broken_rules,
    drawn_week,
    needed_of,
    people_of,
    some_time,
    soon,
)
from tests.decide.test_roster import settled
from tests.seeds import generator

LIMITS = HoursLimits(break_after_h=8)
WEEK = Week(
    MONDAY,
    tuple(Person(f"Person {at}", ("loader",)) for at in range(1, 4)),
    LIMITS,
    people_of([(day, 8, 16, 1) for day in range(7)]),
)


def test_nothing_to_explain() -> None:
    """A week that has a roster has no conflict."""
    assert isinstance(make_roster(WEEK, soon), Roster)
    assert explain(WEEK, some_time) is None


def test_everyone_off_on_saturday() -> None:
    """Cover and absence are in conflict, on Saturday alone; someone comes, or eight hours stay
    uncovered."""
    people = tuple(replace(person, away=(Away(5),)) for person in WEEK.people)
    week = replace(WEEK, people=people)
    assert make_roster(week, soon) == NoRoster(proved=True)
    found = explain(week, some_time)
    assert found is not None
    assert set(found.rules) == {"away", "cover"}
    assert found.days == (5,)
    assert [(b.rule, b.weekday, b.amount) for b in found.ways[0].breaches] == [("away", 5, 1.0)]
    uncovered = [way for way in found.ways if {b.rule for b in way.breaches} == {"cover"}]
    assert sum(b.amount for b in uncovered[0].breaches) == pytest.approx(8.0)


def test_too_few_hours() -> None:
    """56 hours are needed and 48 allowed: eight more, from somebody, or eight uncovered."""
    people = tuple(replace(person, most_h=16.0) for person in WEEK.people)
    week = replace(WEEK, people=people)
    assert make_roster(week, soon) == NoRoster(proved=True)
    found = explain(week, some_time)
    assert found is not None
    assert set(found.rules) == {"most_hours", "cover"}
    for rule in ("most_hours", "cover"):
        alone = [way for way in found.ways if {b.rule for b in way.breaches} == {rule}]
        assert sum(b.amount for b in alone[0].breaches) == pytest.approx(8.0)


def test_no_one_with_the_skill() -> None:
    """Nobody is a finisher: the skill alone is to blame, on its day, for as long as it is asked;
    the way out leaves those hours to somebody without it and nothing else undone."""
    week = replace(WEEK, skilled=needed_of({"finisher": [(2, 10, 14, 1)]}))
    assert make_roster(week, soon) == NoRoster(proved=True)
    found = explain(week, some_time)
    assert found is not None
    assert found.rules == ("skill",)
    assert found.days == (2,)
    first = found.ways[0].breaches
    assert [(b.rule, b.weekday, b.amount, b.skills) for b in first] == [
        ("skill", 2, 4.0, ("finisher",))
    ]
    said = broken_rules(week, duties_of(found.ways[0].shifts))
    assert said == [f"0 skilled for 1 posts at 2 {half_hour}" for half_hour in range(20, 28)]


def test_two_skills_of_one_person_are_one_person() -> None:
    """One who can load and finish, one who can do neither: both posts at once are one skilled
    person short, though each skill by itself is there."""
    both = Person("Person 8", ("loader", "finisher"))
    people = (both, Person("Person 9", ()))
    spans = [(2, 10, 14, 1)]
    week = asked(replace(WEEK, people=people), {"loader": spans, "finisher": spans})
    assert make_roster(week, soon) == NoRoster(proved=True)
    found = explain(week, some_time)
    assert found is not None
    assert found.rules == ("skill",)
    assert [(b.rule, b.amount, b.skills) for b in found.ways[0].breaches] == [
        ("skill", 4.0, ("finisher", "loader"))
    ]
    one = asked(replace(WEEK, people=people), {"loader": spans}, beside=1)
    assert isinstance(make_roster(one, soon), Roster)


def test_what_skills_lack_together_beside_what_one_lacks() -> None:
    """One who can do both at two posts of one and one of the other: two posts are empty, one for
    want of a finisher, the other for want of either. By the matching of people to posts too."""
    both = Person("Person 8", ("loader", "finisher"))
    needed = {"finisher": [(2, 10, 14, 2)], "loader": [(2, 10, 14, 1)]}
    week = replace(WEEK, people=(both,), needed=NOBODY, skilled=needed_of(needed))
    duties = (shift_of("Person 8", 2, 20, 28),)
    told = [(b.rule, b.weekday, b.amount, b.skills) for b in faults_of(week, duties)]
    assert told == [("skill", 2, 4.0, ("finisher",)), ("skill", 2, 4.0, ("finisher", "loader"))]
    assert broken_rules(week, duties)[0] == "1 skilled for 3 posts at 2 20"


def test_hours_promised_that_nobody_needs() -> None:
    """Least hours of somebody who can never work: both rules are named, no cover is."""
    idle = Person("Person 9", ("loader",), least_h=20.0, away=tuple(Away(d) for d in range(7)))
    week = replace(WEEK, people=(*WEEK.people, idle))
    found = explain(week, some_time)
    assert found is not None
    assert set(found.rules) == {"least_hours", "away"}
    assert found.days == ()


def test_ways_out_keep_their_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no step of the solver comes to an end, three fifths of the time are left when the first
    way out is asked for, and some when ways out by any rule at all are, as a last resort."""
    left = [100.0]
    asked_for: list[tuple[frozenset[str], float]] = []

    def unsettled(asked: Assignment, most_s: float, *_: object, **__: object) -> Assigned:
        if asked.relaxed:
            asked_for.append((asked.relaxed, left[0]))
        left[0] -= max(0.1, most_s)
        return Assigned(None)

    monkeypatch.setattr(Assignment, "solve", unsettled)
    found = explain(WEEK, lambda: left[0], is_proved=True)
    assert found is not None
    assert not found.minimal
    assert asked_for[0][1] >= 59.0
    assert asked_for[-1][0] == frozenset(RULES)
    assert asked_for[-1][1] > 0.0


def test_a_way_out_breaks_only_what_it_says() -> None:
    """The checker finds in each way out the rules it names, and every half-hour it leaves open."""
    people = tuple(replace(person, away=(Away(5),)) for person in WEEK.people)
    week = replace(WEEK, people=people, needed=WEEK.needed)
    found = explain(week, some_time)
    assert found is not None
    for way in found.ways:
        said = broken_rules(week, duties_of(way.shifts))
        halves = 2 * sum(b.amount for b in way.breaches if b.rule == "cover")
        others = sum(b.amount for b in way.breaches if b.rule != "cover")
        assert len(said) == pytest.approx(halves + others)


def test_the_faults_shown_are_those_of_the_checker() -> None:
    """In rosters of drawn weeks with shifts taken out, given to others and moved, the faults told
    are as many, by kind, as the checker finds; both see nothing in a roster left as it was."""
    broken = 0
    for number in range(12):
        rng = generator(f"changed roster {number}")
        week = drawn_week(generator(f"roster week {number}"))
        found = settled(week)
        if not isinstance(found, Roster):
            continue
        assert faults_of(week, duties_of(found.shifts)) == ()
        duties = list(duties_of(found.shifts))
        for _ in range(3):
            at = int(rng.integers(len(duties)))
            whom = week.people[int(rng.integers(len(week.people)))].name
            day = int(rng.integers(7))
            if not any((d.name, d.day) == (whom, day) for d in duties):
                duties[at] = replace(duties[at], name=whom, day=day)
        told, said = faults_of(week, duties), broken_rules(week, tuple(duties))
        broken += bool(said)
        assert bool(told) == bool(said)
        people = {one.name for one in told if one.name}
        assert people == {p.name for p in week.people if any(p.name in text for text in said)}
        open_h = sum(one.amount for one in told if one.rule == "cover")
        short = [text.split() for text in said if " of " in text and " at " in text]
        assert open_h == sum(int(text[2]) - int(text[0]) for text in short) / 2
        unskilled = sum(one.amount for one in told if one.rule == "skill")
        posts = [text.split() for text in said if " skilled for " in text]
        assert unskilled == sum(int(text[3]) - int(text[0]) for text in posts) / 2
    assert broken >= 5


def shift_of(name: str, day: int, start: int, end: int) -> Duty:
    """A shift without a break, in half-hours."""
    return Duty(name, day, "", Shift(start, end, end, end))


@pytest.mark.parametrize(
    ("limits", "person", "last", "mine", "told"),
    [
        ({"most_h_week": 20}, {}, (), ((0, 16, 36), (2, 16, 38)), ("most_hours", -1, 1.0)),
        ({}, {"most_h": 12.0}, (), ((0, 16, 36), (2, 16, 28)), ("most_hours", -1, 4.0)),
        ({}, {"least_h": 20.0}, (), ((0, 16, 36),), ("least_hours", -1, 10.0)),
        ({"most_days_week": 2}, {}, (), ((0, 16, 24), (1, 16, 24), (2, 16, 24)),
         ("days_off", -1, 1.0)),
        ({"most_weekend_days": 2}, {}, ((5, 16, 24),), ((5, 16, 24), (6, 16, 24)),
         ("weekend", -1, 1.0)),
        ({"longest_shift_h": 10}, {}, (), ((3, 16, 38),), ("longest", 3, 1.0)),
        ({"rest_h": 11}, {}, (), ((0, 20, 40), (1, 13, 30)), ("rest", 1, 1.0)),
        ({"rest_h": 11}, {}, ((6, 30, 44),), ((0, 16, 30),), ("rest", 0, 1.0)),
    ],
)  # fmt: skip
def test_each_rule_of_a_person_is_told(
    limits: dict[str, Any],
    person: dict[str, Any],
    last: tuple[tuple[int, int, int], ...],
    mine: tuple[tuple[int, int, int], ...],
    told: tuple[str, int, float],
) -> None:
    """Worked by hand: the rule, the day and by how much; one half-hour less of it is no fault."""
    somebody = replace(Person("Person 1"), **person)
    week = Week(
        MONDAY,
        (somebody,),
        replace(HoursLimits(most_h_week=60, break_after_h=12, longest_shift_h=12), **limits),
        NOBODY,
        last=tuple(shift_of("Person 1", *one) for one in last),
    )
    (found,) = faults_of(week, [shift_of("Person 1", *one) for one in mine])
    assert (found.rule, found.name, found.weekday, found.amount) == (told[0], "Person 1", *told[1:])
    if told[0] == "rest":
        later = tuple((day, start + 9, end + 9) if day == told[1] else (day, start, end)
                      for day, start, end in mine)  # fmt: skip
        assert faults_of(week, [shift_of("Person 1", *one) for one in later]) == ()

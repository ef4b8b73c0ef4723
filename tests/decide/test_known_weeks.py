"""Weeks whose truth is known: rosters found within every rule, and ways out that are ways out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import perf_counter, process_time

import numpy as np
import pytest

from sim.decide.staff.answer import Breach, RosterAnswer, Rule, WayOut
from sim.decide.staff.program import PRICES, Assignment
from sim.decide.staff.roster import countdown, faults_of, roster_answer, search
from sim.decide.staff.week import Duty, Week, duties_of, planned_shifts
from tests.decide.roster_checker import broken_rules, clock_cost, some_time
from tests.decide.roster_weeks import Drawn, known_week, spoil_of
from tests.seeds import generator
from tests.sizes import Size

WITHOUT = (47,)
WITH = (8, 2)
"""Numbers of weeks of few people, which take few seconds."""
SOON = (*WITH, *WITHOUT)
FIFTY = 50


def drawn(number: int) -> Drawn:
    """The week of a number."""
    return known_week(generator(f"known week {number}"), spoil_of(number))


def price_of(breaches: tuple[Breach, ...]) -> float:
    """What broken rules are priced at, by half-hour of cover and skill."""
    return sum(
        PRICES[one.rule] * one.amount * (2.0 if one.rule in ("cover", "skill") else 1.0)
        for one in breaches
    )


def unaccounted(week: Week, way: WayOut) -> list[str]:
    """What the checker finds broken in a way out that it doesn't name, and what it names too much.

    Hours without people, and without people of a skill, must be as many by day; people whose rules
    are broken the same people.
    """
    said = broken_rules(week, duties_of(way.shifts))
    wrong = []
    kinds: tuple[tuple[str, Rule], ...] = ((" of ", "cover"), (" skilled for ", "skill"))
    for words, rule in kinds:
        found, told = np.zeros(7), np.zeros(7)
        for text in said:
            parts = text.split()
            if words in text and " at " in text and parts[0].isdigit():
                need, day = (parts[2], parts[4]) if rule == "cover" else (parts[3], parts[6])
                found[int(day)] += (int(need) - int(parts[0])) / 2.0
        for one in way.breaches:
            if one.rule == rule:
                told[one.weekday] += one.amount
        if not np.allclose(found, told):
            wrong.append(f"{rule}: {told} told, {found} found")
    names = {person.name for person in week.people if any(person.name in text for text in said)}
    if names != {one.name for one in way.breaches if one.name}:
        wrong.append(f"{names} found")
    return wrong


def without(duties: tuple[Duty, ...], name: str) -> tuple[Duty, ...]:
    """A roster without somebody."""
    return tuple(duty for duty in duties if duty.name != name)


def test_a_way_out_that_hides_something_is_seen() -> None:
    """The accounting itself: a roster less somebody, told as whole, or one fault too many told."""
    whole = drawn(8)
    name = whole.hidden[0].name
    less = without(whole.hidden, name)
    faults = faults_of(whole.week, less)
    assert faults
    monday = whole.week.monday
    some, every = planned_shifts(monday, less), planned_shifts(monday, whole.hidden)
    assert unaccounted(whole.week, WayOut(faults, some, 1.0, True)) == []
    assert unaccounted(whole.week, WayOut((), some, 1.0, True))
    assert unaccounted(whole.week, WayOut(faults, every, 1.0, True))


def is_right(case: Drawn, found: RosterAnswer) -> None:
    """Asserts that an answer says nothing false about a week of known truth."""
    week = case.week
    if not case.spoiled:
        assert found.conflict is None
        if found.roster is not None:
            duties = duties_of(found.roster.shifts)
            assert broken_rules(week, duties) == []
            cost = clock_cost(week, duties)
            assert found.roster.cost == pytest.approx(cost, abs=1e-6)
            assert found.roster.bound <= cost + 1e-6
        return
    assert found.roster is None
    if found.conflict is not None:
        for way in found.conflict.ways:
            assert unaccounted(week, way) == []
        best = next(iter(found.conflict.ways), None)
        if best is not None and best.least:
            assert best.price <= price_of(faults_of(week, case.hidden)) + 1e-6


@pytest.mark.parametrize("number", WITHOUT)
def test_a_week_without_a_roster_is_proved_and_its_ways_out_are_ways_out(number: int) -> None:
    """Weeks that one thing was changed in so that no roster can be: proved; each way out breaks
    just what it says by the checker, and the least unwelcome is proved to be the least and no more
    so than what the roster breaks that the week was drawn from."""
    case = drawn(number)
    found = roster_answer(case.week, lambda: 60.0)
    is_right(case, found)
    assert found.conflict is not None
    assert found.conflict.minimal
    assert found.conflict.ways[0].least


@pytest.mark.parametrize("number", WITH)
def test_a_first_roster_is_found_where_the_shifts_counted_have_none(number: int) -> None:
    """In weeks whose shifts by count can't be given to people: the first roster handed on breaks no
    rule by the checker, says that it is a first one, and its bound holds for the roster that the
    week was drawn from."""
    week, told = drawn(number).week, list[RosterAnswer]()

    class Enough(Exception):
        """Nothing further is waited for."""

    def early(found: RosterAnswer) -> None:
        told.append(found)
        raise Enough

    with pytest.raises(Enough):
        roster_answer(week, some_time, early)
    (first,) = told
    assert first.coarse
    assert first.roster is not None
    duties = duties_of(first.roster.shifts)
    assert broken_rules(week, duties) == []
    assert first.roster.cost == pytest.approx(clock_cost(week, duties), abs=1e-6)
    assert first.roster.bound <= clock_cost(week, drawn(number).hidden) + 1e-6


@pytest.mark.parametrize("number", WITH)
def test_a_week_drawn_from_a_roster_has_one(number: int) -> None:
    """Found bit by bit, from nobody at work, without any other step: within every rule, and no
    dearer than the roster that the week was drawn from."""
    case = drawn(number)
    whole = Assignment(case.week, tuple(case.week.shifts(day) for day in range(7)))
    found = search(whole, some_time, enough=clock_cost(case.week, case.hidden))
    assert found.price == pytest.approx(0.0, abs=1e-6)
    assert broken_rules(case.week, found.duties) == []
    assert found.cost == pytest.approx(clock_cost(case.week, found.duties), abs=1e-6)
    assert found.cost <= clock_cost(case.week, case.hidden) + 1e-6


@dataclass(frozen=True, slots=True)
class Looked:
    """What an answer said of a week of known truth, nothing of it false.

    Attributes:
        told: "found", "proved none", or "not in time", which is never told as impossible.
        gap: share of the cost above the best bound; of a roster.
        took_s: processor time [s].
        ways: ways out, each held against the checker.
    """

    told: str
    gap: float
    took_s: float
    ways: int


def pace() -> float:
    """Seconds of the clock that a second of processor time takes, as the machine is loaded now.

    The solver ends its steps by the clock: with so much more of it, it has the processor time that
    it would have alone on the machine.
    """
    clock_s, used_s = perf_counter(), process_time()
    while process_time() - used_s < 0.3:
        pass
    return max(1.0, (perf_counter() - clock_s) / (process_time() - used_s))


def looked_at(number: int, most_s: float = 12.0) -> Looked:
    """Asks for the roster of a week, in so much processor time, and asserts that what is said of it
    is right."""
    case, slower = drawn(number), pace()
    before_s = process_time()
    found = roster_answer(case.week, countdown(slower * most_s, lambda: slower * process_time()))
    took_s = process_time() - before_s
    is_right(case, found)
    if found.roster is not None:
        return Looked("found", found.roster.gap, took_s, 0)
    if found.conflict is not None:
        return Looked("proved none", 0.0, took_s, len(found.conflict.ways))
    return Looked("not in time", 0.0, took_s, 0)


@pytest.mark.soak
def test_nothing_false_is_said_of_fifty_weeks(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """Of fifty weeks, eight of which have no roster: every roster meets every rule of the checker
    and lies above its bound, no roster is told of a week without one and no proof of a week with
    one, and each way out breaks just what it says. What is not found in time is told so, and is
    less than half."""
    count, most_s = size(small=len(SOON), full=FIFTY), float(size(small=2, full=12))
    numbers = SOON if count < FIFTY else range(FIFTY)
    looked = {number: looked_at(number, most_s) for number in numbers}
    for name, value, unit in figures(looked):
        record_figure(name, value, unit)
    settled = sum(one.told != "not in time" for one in looked.values())
    assert settled >= len(looked) / 2
    # of few weeks the only one without a roster may not be proved in time; above it has more
    assert count < FIFTY or sum(one.ways for one in looked.values()) > 0


def figures(looked: dict[int, Looked]) -> list[tuple[str, float, str]]:
    """What was said of weeks, for the record."""
    with_none = {number for number in looked if spoil_of(number)}
    told = {number: one.told for number, one in looked.items()}
    found = [one.gap for one in looked.values() if one.told == "found"]
    proved = [one for one in looked.values() if one.told == "proved none"]
    late = {number for number in looked if told[number] == "not in time"}
    took = [one.took_s for one in looked.values()]
    return [
        ("found", len(found), f"of {len(looked.keys() - with_none)} with a roster"),
        ("with a roster, not found in time", len(late - with_none), "weeks"),
        ("proved none", len(proved), f"of {len(with_none)} without"),
        ("without one, not proved in time", len(late & with_none), "weeks"),
        ("median gap to the bound", 100.0 * median(found), "%"),
        ("worst gap to the bound", 100.0 * max(found), "%"),
        ("ways out, each held by the checker", sum(one.ways for one in proved), "ways"),
        ("proved none without a way out in time", sum(not one.ways for one in proved), "weeks"),
        ("processor time, median", median(took), "s"),
        ("processor time, most", max(took), "s"),
    ]

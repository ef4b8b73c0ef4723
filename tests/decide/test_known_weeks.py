"""Weeks whose truth is known: rosters found within every rule, and ways out that are ways out."""

from __future__ import annotations

import numpy as np
import pytest

from app.services.roster import Answer, answer
from sim.decide.staff.assign import COVER, PRICES, SKILL, Assignment, Breach
from sim.decide.staff.conflicts import WayOut, some_time
from sim.decide.staff.faults import faults_of
from sim.decide.staff.neighbours import search
from sim.decide.staff.roster import stopped
from sim.decide.staff.week import Duty, Week
from tests.decide.roster_checker import broken_rules, clock_cost
from tests.decide.roster_weeks import Drawn, known_week, spoil_of
from tests.seeds import generator

WITHOUT = (47,)
WITH = (8, 2)
"""Numbers of weeks of few people, which take few seconds."""


def drawn(number: int) -> Drawn:
    """The week of a number."""
    return known_week(generator(f"known week {number}"), spoil_of(number))


def price_of(breaches: tuple[Breach, ...]) -> float:
    """What broken rules are priced at, by half-hour of cover and skill."""
    return sum(
        PRICES[one.rule] * one.amount * (2.0 if one.rule in (COVER, SKILL) else 1.0)
        for one in breaches
    )


def unaccounted(week: Week, way: WayOut) -> list[str]:
    """What the checker finds broken in a way out that it doesn't name, and what it names too much.

    Hours without people, and without people of a skill, must be as many by day; people whose rules
    are broken the same people.
    """
    said = broken_rules(week, way.duties)
    wrong = []
    for words, rule in ((" of ", COVER), (" skilled for ", SKILL)):
        found, told = np.zeros(7), np.zeros(7)
        for text in said:
            parts = text.split()
            if words in text and " at " in text and parts[0].isdigit():
                need, day = (parts[2], parts[4]) if rule == COVER else (parts[3], parts[6])
                found[int(day)] += (int(need) - int(parts[0])) / 2.0
        for one in way.breaches:
            if one.rule == rule:
                told[one.day] += one.amount
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
    assert unaccounted(whole.week, WayOut(faults, less, 1.0, True)) == []
    assert unaccounted(whole.week, WayOut((), less, 1.0, True))
    assert unaccounted(whole.week, WayOut(faults, whole.hidden, 1.0, True))


def is_right(case: Drawn, found: Answer) -> None:
    """Asserts that an answer says nothing false about a week of known truth."""
    week = case.week
    if not case.spoiled:
        assert found.conflict is None
        if found.roster is not None:
            assert broken_rules(week, found.roster.duties) == []
            cost = clock_cost(week, found.roster.duties)
            assert found.roster.cost == pytest.approx(cost, abs=1e-6)
            assert found.roster.bound <= cost + 1e-6
        return
    assert found.roster is None
    if found.conflict is not None:
        for way in found.conflict.ways:
            assert unaccounted(week, way) == []
        best = found.conflict.ways[0]
        if best.least:
            assert best.price <= price_of(faults_of(week, case.hidden)) + 1e-6


@pytest.mark.parametrize("number", WITHOUT)
def test_a_week_without_a_roster_is_proved_and_its_ways_out_are_ways_out(number: int) -> None:
    """Weeks that one thing was changed in so that no roster can be: proved; each way out breaks
    just what it says by the checker, and the least unwelcome is proved to be the least and no more
    so than what the roster breaks that the week was drawn from."""
    case = drawn(number)
    found = answer(case.week, 60.0, stopped)
    is_right(case, found)
    assert found.conflict is not None
    assert found.conflict.minimal
    assert found.conflict.ways[0].least


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

"""Counts beside what the belt carries: more than it can, and hours in which it was often full."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from sim.inputs import TOTAL, DayNote, History, HourCount, Site
from sim.learn.full_hours import capacity_notes, full_hours

SATURDAY = date(2026, 7, 11)
PITCH_M, APART_M, SPEED_M_S = 1.0, 8.0, 0.2
CARRIED = 3600.0 * SPEED_M_S / APART_M
"""90 cars an hour: speed by the way from car to car, in whole pushers."""


def site() -> Site:
    """A belt whose cars all stand eight pushers of a metre apart: longer ones don't fit closer."""
    plain = Site("x")
    one = plain.vehicles[1]
    numbers = replace(one.numbers, share=1.0, length_sd_m=0.0)
    settings = {
        "pusher_pitch_m": PITCH_M, "conveyor_speed_m_s": SPEED_M_S, "car_spacing_m": APART_M,
        "open_h": 8.0, "close_h": 18.5,
    }  # fmt: skip
    return replace(plain.with_values(settings), vehicles=(replace(one, numbers=numbers),))


def saturdays(*cars: int, hour: int = 12, counted: str = "washed") -> History:
    """An hour of Saturdays, one after the other."""
    rows = [HourCount(SATURDAY + timedelta(weeks=week), hour, 0, n) for week, n in enumerate(cars)]
    return History(counted, tuple(rows))


def test_what_the_belt_carries_is_speed_by_the_way_between_cars() -> None:
    """3,600 · v / d, as any belt of things that stand d apart."""
    assert full_hours(site(), History()).capacity_per_h == pytest.approx(CARRIED)


def test_more_than_the_belt_can_is_told_with_what_may_be_wrong() -> None:
    """162 washed cars over a belt of 90: the hour, both numbers, and the two things to look at."""
    notes = [
        str(note).replace("\u00a0", " ") for note in capacity_notes(site(), saturdays(40, 162))
    ]
    assert len(notes) == 1
    assert "belt can carry: 1, the most 162 on 2026-07-18 at 12:00." in notes[0]
    assert "it carries 90 cars/h" in notes[0]
    assert "Either the belt runs otherwise than is entered there" in notes[0]


@pytest.mark.parametrize(
    ("cars", "is_full"),
    [((88, 90, 40), True), ((88, 90, 40, 40, 40, 40), True), ((88, 90, 40, 40, 40, 40, 40), False),
     ((88, 40, 40), False), ((87, 87, 87), False), ((90, 90), False), ((162, 162, 162), False)],
)  # fmt: skip
def test_an_hour_is_full_on_a_third_of_its_days(cars: tuple[int, ...], is_full: bool) -> None:
    """Within 3 % of 90 on two of three Saturdays, and a third of more: demand is higher than the
    count. What the belt can't do says nothing of when it was full."""
    found = full_hours(site(), saturdays(*cars))
    assert found.full == (((5, (12,)),) if is_full else ())
    notes = [str(note) for note in capacity_notes(site(), saturdays(*cars))]
    full = [note for note in notes if "people were probably turned away" in note]
    assert len(full) == is_full
    assert all("often full: Saturdays at 12:00." in note for note in full)


def test_arrivals_and_guessed_hours_say_nothing_of_the_belt() -> None:
    """More may arrive than the belt carries; hours spread from a total were not counted."""
    assert capacity_notes(site(), saturdays(95, 96, 162, counted="arrived")) == ()
    guessed = saturdays(95, 96, 162)
    marks = tuple(DayNote(row.day, TOTAL) for row in guessed.counts)
    assert capacity_notes(site(), replace(guessed, days=marks)) == ()


def test_a_timetable_and_an_hour_open_in_part_are_allowed_for() -> None:
    """In an hour in which the belt runs faster it carries more; in half an hour half as much."""
    faster = site().with_values({"speed_timetable": ((0.0, 0.2), (12.5 * 3600.0, 0.4))})
    assert full_hours(faster, saturdays(170, 170, 170)).above == ()
    assert full_hours(faster, saturdays(100, 100, 100, hour=11)).above != ()
    assert full_hours(site(), saturdays(44, 44, 45, hour=18)).full == ((5, (18,)),)

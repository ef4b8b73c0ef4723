"""One person fewer for some hours: what the timetables become, and whom the roster lacks."""

from __future__ import annotations

from datetime import date

import pytest

from app.answers.short_handed import ANYBODY, DRYER, LOADER, Missing, jobs_of, without_one
from app.answers.today import cover_of
from sim.decide.staff.week import SLOTS
from sim.inputs import PlannedShift, Scenario, Site, Steps, fewer, value_at

DAY = date(2026, 7, 18)
HOUR_S = 3600.0
TABLES: tuple[Steps, ...] = (
    ((0.0, 2.0),),
    ((0.0, 1.0), (10 * HOUR_S, 2.0), (17 * HOUR_S, 1.0)),
    ((0.0, 3.0), (9 * HOUR_S, 5.0), (14 * HOUR_S, 2.5)),
)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("least", [0.0, 1.0])
def test_one_fewer_between_two_times_and_never_below_the_least(table: Steps, least: float) -> None:
    """At each minute of the day one fewer within the hours, as before outside, never below."""
    start, end = 8.5 * HOUR_S, 14 * HOUR_S
    found = fewer(table, start, end, least)
    assert found[0][0] == 0.0
    assert [at for at, _count in found] == sorted({at for at, _count in found})
    for minute in range(24 * 60):
        at = 60.0 * minute
        was, now = value_at(table, at), value_at(found, at)
        inside = start <= at < end
        assert now == (max(least, was - 1.0) if inside else was)


def test_who_is_missing_is_missing_on_the_line_too() -> None:
    """A loader or a finisher fewer is a person fewer; a lone loader is stood in for."""
    site = Site("Mill Lane").with_values({
        "people": ((0.0, 4.0),), "loaders": ((0.0, 1.0), (10 * HOUR_S, 2.0)),
        "finishers": ((0.0, 1.0),),
    })  # fmt: skip
    base = Scenario("As planned", "clock 10:00-17:00", "13:00", {"conveyor_speed_m_s": 0.3})
    for job, inside in (
        (LOADER, (3.0, 1.0, 1.0)),
        (DRYER, (3.0, 2.0, 0.0)),
        (ANYBODY, (3.0, 2.0, 1.0)),
    ):
        one = without_one(base, site, Missing(job, 7 * HOUR_S, 14 * HOUR_S), "One fewer")
        run = site.with_values(one.changes)
        tables = (run.crew.people, run.pay.loaders, run.crew.finishers)
        assert tuple(value_at(table, 11 * HOUR_S) for table in tables) == inside
        assert value_at(run.pay.loaders, 8 * HOUR_S) == 1.0
        assert value_at(run.crew.people, 15 * HOUR_S) == 4.0
        assert (one.rule, one.cloth) == (base.rule, base.cloth)
        assert one.changes["conveyor_speed_m_s"] == 0.3


def test_a_site_without_finishers_lacks_none() -> None:
    """Somebody who dries cars can be missing only where somebody does."""
    assert DRYER not in jobs_of(Site("Mill Lane"))
    assert DRYER in jobs_of(
        Site("Mill Lane").with_values({"finishers": ((0.0, 0.0), (HOUR_S, 1.0))})
    )


def shift(name: str, start_h: float, end_h: float, pause_h: float) -> PlannedShift:
    """A shift with half an hour of break, without one where it would begin at its end."""
    pause = min(end_h, pause_h), min(end_h, pause_h + 0.5)
    times = (HOUR_S * at for at in (start_h, end_h, *pause))
    return PlannedShift(DAY, name, "", *times)


def test_a_roster_is_held_against_who_is_needed_by_the_half_hour() -> None:
    """Breaks are gaps; a day without a roster lacks nobody by name, one without need has none."""
    needed = [2 if 14 <= at < 40 else 0 for at in range(SLOTS)]
    shifts = (shift("Ann", 7, 15, 11), shift("Bea", 7, 20, 20), shift("Cy", 14, 20, 20))
    found = cover_of(shifts, needed, is_worked_out=True)
    assert found is not None
    assert (found.short, found.missing) == ((22,), 1), "Ann’s break, at 11:00"
    assert [one.name for one in found.shifts] == ["Ann", "Bea", "Cy"]
    assert (found.least, found.most) == (2, 2)
    nobody = cover_of((), needed, is_worked_out=True)
    assert nobody is not None
    assert (nobody.short, nobody.missing) == ((), 0)
    assert cover_of(shifts, [0] * SLOTS, is_worked_out=True) is None

"""The gate for counts, weather, marked days and whole sites."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.db import store
from app.db.session import Session
from app.sites import reading
from app.sites.changes import Gate
from sim.errors import InputError
from sim.inputs import (
    DayNote,
    History,
    HourCount,
    HourWeather,
    Site,
    SiteData,
)
from tests.world import DAY, NAME, hours


def test_a_year_of_counts_is_one_row_of_history(session: Session, gate: Gate, site_id: int) -> None:
    """A bulk import is told once, with how many hours it brought."""
    year = tuple(
        HourCount(date(2025, 7, 13) + timedelta(days=n // 24), n % 24, 0, n % 90)
        for n in range(8_760)
    )
    gate.store_hours(site_id, History("arrived", year), 1, "a")
    assert store.load_history(session, site_id).counts == year
    rows = [change for change in store.input_history(session, site_id) if change.version == 2]
    assert [(row.what, row.old) for row in rows] == [("counts", None)]
    assert rows[0].new == {
        "first": "2025-07-13",
        "last": "2026-07-12",
        "added": 8_760,
        "changed": 0,
        "removed": 0,
    }


def test_counts_replace_the_same_hours_and_keep_the_others(
    session: Session, gate: Gate, site_id: int
) -> None:
    """An hour that comes again replaces the stored one, whose old value stays in the history."""
    gate.store_hours(site_id, History("arrived", hours(DAY, [10, 20, 30])), 1, "a")
    gate.store_hours(
        site_id, History("arrived", (HourCount(DAY, 8, 0, 25), HourCount(DAY, 1, 1, 4))), 2, "b"
    )
    assert store.load_history(session, site_id).counts == (
        HourCount(DAY, 1, 1, 4),
        HourCount(DAY, 7, 0, 10),
        HourCount(DAY, 8, 0, 25),
        HourCount(DAY, 9, 0, 30),
    )
    newest = store.input_history(session, site_id, limit=1)[0]
    assert newest.old == {"hours": [["2026-07-18", 8, 0, 20]]}
    told = newest.new
    assert isinstance(told, dict)
    assert (told["added"], told["changed"], told["removed"]) == (1, 1, 0)


def test_all_counts_can_be_replaced(session: Session, gate: Gate, site_id: int) -> None:
    """Told to, an import removes what it does not bring and keeps the old values in the history."""
    gate.store_hours(site_id, History("arrived", hours(DAY, [10, 20])), 1, "a")
    gate.store_hours(site_id, History("washed", hours(DAY, [11])), 2, "b", replace_all=True)
    past = store.load_history(session, site_id)
    assert (past.counted, past.counts) == ("washed", hours(DAY, [11]))
    counts = next(c for c in store.input_history(session, site_id) if c.field == "counts")
    assert counts.old == {"hours": [["2026-07-18", 7, 0, 10], ["2026-07-18", 8, 0, 20]]}
    assert isinstance(counts.new, dict)
    assert counts.new["removed"] == 1


def test_cars_arrived_and_cars_washed_are_not_mixed(gate: Gate, site_id: int) -> None:
    """Counts of the other kind are refused while counts of the first kind would stay."""
    gate.store_hours(site_id, History("arrived", hours(DAY, [10, 20])), 1, "a")
    with pytest.raises(InputError, match="of cars arrived, these are of cars washed"):
        gate.store_hours(site_id, History("washed", hours(DAY, [9])), 2, "b")
    outcome = gate.store_hours(site_id, History("washed", hours(DAY, [10, 20])), 2, "c")
    assert outcome.changed == ("counted",)


def test_weather_is_stored_to_the_last_bit(session: Session, gate: Gate, site_id: int) -> None:
    """Temperature, humidity and rain come back as they were, the hour of the fold apart."""
    air = (
        HourWeather(DAY, 1, 0, 0.1 + 0.2, 1 / 3, 5e-324),
        HourWeather(DAY, 1, 1, -12.3456789012345, 1.0, 0.0),
    )
    gate.store_hours(site_id, History(weather=air), 1, "a")
    assert store.load_history(session, site_id).weather == air
    gate.store_hours(site_id, History(weather=air[1:]), 2, "b", replace_all=True)
    assert store.load_history(session, site_id).weather == air[1:]
    assert store.input_history(session, site_id, 1)[0].old == {
        "hours": [["2026-07-18", 1, 0, 0.1 + 0.2, 1 / 3, 5e-324]]
    }


def test_bad_hours_are_all_named(gate: Gate, site_id: int) -> None:
    """Each bad hour has a problem of its own, and an hour given twice is told."""
    bad = (HourCount(DAY, 9, 0, -3), HourCount(DAY, 24, 0, 5), HourCount(DAY, 9, 0, 7))
    with pytest.raises(InputError) as caught:
        gate.store_hours(site_id, History("arrived", bad), 1, "a")
    said = [str(problem) for problem in caught.value.problems]
    assert said == [
        "2026-07-18 9:00: \u22123 cars can't be. Enter a whole number, 0 to 5,000.",
        "Hour 24 of 2026-07-18 is none. Use hours 0 to 23, and fold 0 or 1.",
        "2026-07-18 9:00 stands there 2 times. Give every hour once.",
    ]


def test_a_day_is_marked_and_unmarked(session: Session, gate: Gate, site_id: int) -> None:
    """A mark replaces earlier marks of its day, and an empty one takes them away."""
    gate.mark_day(site_id, DAY, "closed", "fair", expected_version=1, request_key="a")
    gate.mark_day(site_id, DAY, "event", "parade", expected_version=2, request_key="b")
    assert store.load_history(session, site_id).days == (DayNote(DAY, "event", "parade"),)
    newest = store.input_history(session, site_id, limit=1)[0]
    assert (newest.old, newest.new) == ([["closed", "fair"]], [["event", "parade"]])
    gate.mark_day(site_id, DAY, "", expected_version=3, request_key="c")
    assert store.load_history(session, site_id).days == ()
    with pytest.raises(InputError, match="can't be marked “holiday”"):
        gate.mark_day(site_id, DAY, "holiday", expected_version=4, request_key="d")


def test_a_site_replaced_is_the_new_one(session: Session, gate: Gate, site_id: int) -> None:
    """An import over a site replaces inputs and past, and tells each input that changed."""
    gate.set_inputs(site_id, {"load_mean_s": 15.0}, expected_version=1, request_key="a")
    gate.store_hours(site_id, History("arrived", hours(DAY, [10, 20])), 2, "b")
    data = SiteData(
        Site(NAME).with_values({"open_h": 8.0}),
        "si",
        frozenset({"open_h"}),
        History("washed", hours(DAY, [12]), days=(DayNote(DAY, "closed"),)),
    )
    outcome = gate.replace_site(site_id, data, 3, "c")
    assert outcome.version == 4
    assert reading.load(session, NAME) == data
    assert set(outcome.changed) == {
        "units",
        "counted",
        "open_h",
        "load_mean_s",
        "counts",
        "2026-07-18",
    }

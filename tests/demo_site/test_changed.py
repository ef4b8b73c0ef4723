"""The demo's year of log, in which a blower lost power in spring and nobody noticed."""

from __future__ import annotations

from datetime import date

from app.answers.drift import DriftAsked, changes_of
from app.sites.demo import demo_data
from demo_site.make_log import WEAK, WEAKENS
from sim.learn.logged_hoods import hoods_noted

FIRST, LAST = date(2026, 2, 15), date(2026, 5, 10)


def test_the_blower_that_lost_power_is_found() -> None:
    """Of all that the damp hoods of a spring say, by what is believed before anything was measured,
    one change alone is told: cars leave wetter since some day of the month in which the blower lost
    its power, noticed before that was two days over."""
    data = demo_data()
    line = data.site.line
    hoods = hoods_noted(data.log, 3600.0 * line.open_h, 3600.0 * line.close_h)
    noted = tuple(item for item in hoods if FIRST <= item.day <= LAST)
    found = changes_of(DriftAsked(data, noted, None, ""))
    assert [one.direction for one in found.changes] == ["wetter"]
    (change,) = found.changes
    assert WEAKENS <= change.since <= change.noticed
    assert (change.noticed - WEAK).days < 2
    assert change.after > 1.4 * change.before

"""The last open day before a day, from which the cloth's moisture in the morning comes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from sim.day.night import Evening
from sim.errors import InputError
from sim.inputs import SiteData
from sim.learn.expected_day import ExpectedDay, Override

Look = Callable[[SiteData, date, Override], ExpectedDay]
"""Gives the expected day of a site, a date and what was typed over it; may raise InputError."""
LOOK_BACK_DAYS = 7
"""How far back the last open day is looked for; after more the cloth counts as dry."""


def evening_before(data: SiteData, day: date, look: Look) -> Evening | None:
    """The last open day before, by what is expected of it."""
    for back in range(1, LOOK_BACK_DAYS + 1):
        before = day - timedelta(days=back)
        try:
            expected = look(data, before, Override())
        except InputError:
            return None
        if not expected.closed and expected.expected_cars > 0:
            return Evening(expected.conditions, back, before)
    return None

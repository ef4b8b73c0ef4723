"""What a season puts into a calendar, and how any entry follows what was exported before.

An entry keeps its identity for as long as it is about the same thing, and counts up each time it
changes, so that whoever imports the file again sees days move instead of doubling. What is taken
away stays in the file as cancelled until its day has passed (RFC 5545, 3.8.7.4 and 3.8.1.11).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime

from app.catalogue import _, short_date
from app.db.calendars import Entry, Kept
from sim.decide.cloth.answer import SeasonAnswer
from sim.inputs import Site
from sim.units import show_clock

ABOUT = ("laundry-", "change-", "order-")
"""How keys of a season's entries begin."""


def entries_of(found: SeasonAnswer, site: Site, today: date) -> tuple[Entry, ...]:
    """The laundry days, changes and orders of a season, in order of time.

    An order that should have gone out before today is put on today.
    """
    minutes = site.wear.set_change_min
    before_opening = max(0.0, site.line.open_h * 3600.0 - 60.0 * minutes)
    rows = [
        Entry(
            f"laundry-{day.isoformat()}",
            day,
            before_opening,
            minutes,
            _("Cloth: set to the laundry, hang the next dry one"),
            _("Before opening at {time}.", time=show_clock(site.line.open_h * 3600.0)),
        )
        for day in found.laundry_days
    ]
    for change in found.changes:
        words = _(
            "Look at the set before. 8 of 10 futures have this change between {low} and {high}.",
            low=short_date(change.low),
            high=_("after the season") if change.high is None else short_date(change.high),
        )
        rows.append(
            Entry(
                f"change-{change.number}",
                change.day,
                before_opening,
                minutes,
                _("Cloth: change a worn set, about now"),
                words,
            )
        )
    for order in found.orders:
        words = _("For change {number}.", number=order.for_change)
        if order.by < today:
            words = _(
                "For change {number}. It should have gone out by {day}.",
                number=order.for_change,
                day=short_date(order.by),
            )
        rows.append(
            Entry(
                f"order-{order.for_change}",
                max(order.by, today),
                None,
                0.0,
                _("Cloth: order {count} new", count=order.quantity),
                words,
            )
        )
    return tuple(sorted(rows, key=lambda row: (row.day, row.key)))


def of_calendar(rows: Sequence[Kept], about: tuple[str, ...]) -> tuple[Kept, ...]:
    """Entries of one calendar: those whose keys begin so; all of them for no beginnings."""
    return tuple(row for row in rows if not about or row.entry.key.startswith(about))


def follow(
    kept: Sequence[Kept],
    wanted: Sequence[Entry],
    today: date,
    now: datetime,
    new_uid: Callable[[], str],
) -> tuple[Kept, ...]:
    """What is to be kept and exported now, in order of time.

    What lies before today is done with and stays as it was; a thing of the same key is then a new
    one. An entry that is as it was keeps number and moment, so an unchanged season gives an
    unchanged file.
    """
    past = [row for row in kept if row.entry.day < today]
    held = {row.entry.key: row for row in kept if row.entry.day >= today}
    rows = list(past)
    for entry in wanted:
        before = held.pop(entry.key, None)
        if before is None:
            rows.append(Kept(new_uid(), entry, 0, False, now))
        elif before.entry == entry and not before.is_cancelled:
            rows.append(before)
        else:
            rows.append(Kept(before.uid, entry, before.sequence + 1, False, now))
    rows += [
        row
        if row.is_cancelled
        else replace(row, sequence=row.sequence + 1, is_cancelled=True, at=now)
        for row in held.values()
    ]
    return tuple(sorted(rows, key=lambda row: (row.entry.day, row.entry.key, row.uid)))

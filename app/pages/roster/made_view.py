"""Pages on the way to a roster: people being worked out, and the roster that was made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.answers.roster import duties_in, duties_of
from app.answers.roster_study import RosterView
from app.answers.staff import StaffView
from app.catalogue import _, long_date, short_date
from app.pages.roster.grid import Grid, grid_of
from app.pages.studies.view import Waiting, waiting
from app.sites.reading import StoredSite
from app.words.roster import LAW, cost_words, kept_words, not_found, ways_out, why_none


@dataclass(frozen=True, slots=True)
class MadePage:
    """A roster that was made, or is being made.

    Attributes:
        lead, rest: the answer; empty while it is made.
        waiting: how far it is, while it is made.
        grid: the roster proposed; None where there is none.
        ways: ways out where there is no roster.
        takes_place: whether the week has shifts already, which it would replace.
        stale: why the roster was not put in place; empty for nothing.
    """

    slug: str
    monday: str
    week_words: str
    version: int
    request_key: str
    key: str
    lead: str
    rest: str
    law: str
    waiting: Waiting | None
    grid: Grid | None
    ways: tuple[str, ...]
    takes_place: bool
    can_retry: bool
    stale: str


def made_page(site: StoredSite, view: RosterView, request_key: str, stale: str = "") -> MadePage:
    """Fills the page."""
    lead, rest, grid = "", "", None
    ways: tuple[str, ...] = ()
    found = view.result
    if found is not None and view.week is not None:
        if "shifts" in found:
            lead = cost_words(found)
            rest = kept_words(found)
            grid = grid_of(view.week, duties_in(found))
        elif "conflict" in found:
            lead = _("There is no roster for this week.")
            rest = why_none(found["conflict"])
            ways = tuple(ways_out(found["conflict"]))
        else:
            lead = not_found()
            rest = _("Fewer starts and lengths of shifts make it easier to find.")
    elif view.failed:
        lead = view.failed
    elif view.running is None:
        lead = _("No roster has been made of what is asked now.")
    running = view.running if found is None and not view.failed else None
    return MadePage(
        site.slug,
        view.monday.isoformat(),
        _("Week from {day}", day=short_date(view.monday)),
        site.version,
        request_key,
        view.key,
        lead,
        rest,
        _(LAW),
        None if running is None else waiting(running, view.key),
        grid,
        ways,
        bool(duties_of(site.data.staff, view.monday)),
        found is None and running is None,
        stale,
    )


@dataclass(frozen=True, slots=True)
class DayNeeds:
    """A day whose people are worked out: its name, how far that is, and its page."""

    day: str
    state: str
    waiting: Waiting | None
    href: str


@dataclass(frozen=True, slots=True)
class NeedsPage:
    """People of a week's days, while they are worked out."""

    slug: str
    monday: str
    week_words: str
    days: tuple[DayNeeds, ...]
    is_waiting: bool


def needs_page(site: StoredSite, view: RosterView, days: Sequence[StaffView]) -> NeedsPage:
    """Fills the page, a line a day on which somebody is needed."""
    rows = []
    for one in days:
        if one.plan.day not in view.open_days:
            continue
        is_open = one.result is None and not one.failed
        running = one.running if is_open and one.running and one.running.done else None
        if one.result is not None:
            state = _("Worked out.")
        elif one.failed:
            state = one.failed
        elif one.asked is None:
            state = _("Can’t be worked out; the page of the day says why.")
        else:
            state = _("Waits for its turn.") if running is None else _("Being worked out.")
        rows.append(
            DayNeeds(
                long_date(one.plan.day),
                state,
                None if running is None else waiting(running, one.key),
                f"/{site.slug}/staff/{one.plan.day.isoformat()}",
            )
        )
    return NeedsPage(
        site.slug,
        view.monday.isoformat(),
        _("Week from {day}", day=short_date(view.monday)),
        tuple(rows),
        any(one.running is not None and one.result is None for one in days),
    )

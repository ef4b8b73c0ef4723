"""The tour: six sentences, each at a page of an invented site, carried by the address alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from app.catalogue import _

TITLE = "A tour in six sentences"
QUERY = "tour"


@dataclass(frozen=True, slots=True)
class _Stop:
    """One sentence.

    Attributes:
        place: its page within a site; ``{day}`` is the day on which the site stands, ``{monday}``
            begins its week.
        name: words of the link to it.
        says: what to look at there.
        part: anchor of what is meant where that is not on top; empty for none.
    """

    place: str
    name: str
    says: str
    part: str = ""


_STOPS = (
    _Stop(
        "today",
        "Today",
        "Today says in one sentence what to do; below it stand the belt’s setting and the "
        "hours to come.",
    ),
    _Stop(
        "plan/{day}",
        "The comparison",
        "The plan runs the same cars through several ways to wipe: compare damp cars and "
        "money, and read how sure each difference is.",
        "side-by-side",
    ),
    _Stop(
        "reduce/{day}",
        "When to reduce",
        "When to reduce says from when to when only hood and windshield are wiped; its cues say "
        "by what your crew notices the moment.",
        "cues",
    ),
    _Stop(
        "weighings",
        "Measurements",
        "Measurements say what to weigh or count first: what would change the advice most stands "
        "on top.",
    ),
    _Stop(
        "roster/{monday}",
        "Roster",
        "The roster says who comes when, so that each half-hour has the people whom the page "
        "Staff asks for.",
    ),
    _Stop(
        "sheet/{day}",
        "Day sheet",
        "The day sheet has cues, speeds and people on one page, to print and to hang up at the "
        "line.",
    ),
)


@dataclass(frozen=True, slots=True)
class Stop:
    """One sentence of the tour as a page shows it.

    Attributes:
        at: which one, from 1; of: how many there are.
        name, says: of its page, and what to look at there.
        href: its page; part: anchor within it, empty for the top.
        next: the stop after it; None for the last. leave: the page without the tour.
    """

    at: int
    of: int
    name: str
    says: str
    href: str
    part: str
    next: Stop | None
    leave: str


def stops(slug: str, day: date) -> tuple[Stop, ...]:
    """The tour of a site that always stands on a day."""
    found: tuple[Stop, ...] = ()
    dates = {"day": day.isoformat(), "monday": (day - timedelta(days=day.weekday())).isoformat()}
    for at, one in reversed([*enumerate(_STOPS, 1)]):
        path = f"/{slug}/{one.place.format(**dates)}"
        stop = Stop(
            at,
            len(_STOPS),
            _(one.name),
            _(one.says),
            f"{path}?{QUERY}={at}",
            one.part,
            found[0] if found else None,
            path,
        )
        found = (stop, *found)
    return found


def stop_at(path: str, query: Mapping[str, str], slug: str, day: date) -> Stop | None:
    """The stop that an address names; None for any other address, and at a stop's number on
    another page than its own."""
    number = query.get(QUERY, "")
    named = (one for one in stops(slug, day) if str(one.at) == number and one.leave == path)
    return next(named, None)

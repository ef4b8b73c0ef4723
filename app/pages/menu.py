"""The pages line: every page by its name, led to for the day that is looked at, and the days beside
that day.

An address names its day; a cookie of the visit carries it over pages that have none. So no click in
the line begins work for another day than the one looked at.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from urllib.parse import unquote

from app.access.table import HERE, Visitor
from app.answers.staff import monday_of
from app.catalogue import _, long_date

DAY_COOKIE = "clothcast_day"
NAMES = {
    "today": "Today",
    "logbook": "Logbook",
    "plan": "Plan a day",
    "settings": "Speed and spacing",
    "reduce": "When to reduce",
    "cloth": "Cloth",
    "staff": "Staff",
    "roster": "Roster",
    "studies": "Work in hand",
    "counts": "Counts",
    "site": "Site",
    "sites": "Sites",
    "guide": "Guide",
}
"""Pages by their key, which is their place in an address too."""
OF_A_SITE = tuple(NAMES)[:-2]
OF_THE_CREW = {"checks": "Checks", "sheet": "Day sheet", "shifts": "My shifts"}
"""What stands in the line beside the logbook for those who have no Today."""
OF_A_DAY = ("plan", "settings", "reduce", "staff")
"""Of these, pages that there are one of for each day."""
STEPPED = (*OF_A_DAY, "sheet", "watch")
"""Pages beside which the same page of the day before and after stands."""
ONE = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class PageLink:
    """An entry of the pages line."""

    key: str
    label: str
    href: str
    later: bool = False


@dataclass(frozen=True, slots=True)
class DaySteps:
    """The same page of the day before, and of the day after."""

    before: PageLink
    after: PageLink


def pages_line(slug: str, day: date | None = None, visitor: Visitor = HERE) -> tuple[PageLink, ...]:
    """The pages line of a site on a day, or of no site, as far as somebody may open it."""
    own = OF_A_SITE if slug else ("sites",)
    crew = OF_THE_CREW if slug and not visitor.may("today") else {}
    names = {key: NAMES[key] for key in own} | crew
    return (
        *(
            PageLink(key, _(name), _place(key, slug, day))
            for key, name in names.items()
            if visitor.may(key)
        ),
        PageLink("guide", _(NAMES["guide"]), "/guide", later=True),
    )


def _place(key: str, slug: str, day: date | None) -> str:
    if not slug:
        return f"/{key}"
    if day is None or key not in (*OF_A_DAY, "roster"):
        return f"/{slug}/{key}"
    return f"/{slug}/{key}/{monday_of(day) if key == 'roster' else day}"


def steps_of(path: str, slug: str, day: date | None) -> DaySteps | None:
    """The days beside the one that an address is of; None for any other page."""
    if day is None or path not in {f"/{slug}/{key}/{day}" for key in STEPPED}:
        return None
    place = path.removesuffix(day.isoformat())
    before, after = (
        PageLink(key, long_date(other), f"{place}{other}")
        for key, other in (("before", day - ONE), ("after", day + ONE))
    )
    return DaySteps(before, after)


def looked_at(params: Mapping[str, object], held: str, slug: str, today: date) -> date:
    """The day that is looked at: that of the address, else the one carried along, else today.

    Args:
        params: gaps of the route, as the address fills them.
        held: what the cookie says, see `carried`.
    """
    site, _colon, text = unquote(held).partition(":")
    kept = _date(text) if site == slug else None
    week = _date(str(params.get("week", "")))
    named = _date(str(params.get("day", "")))
    if named is not None:
        return named
    if week is not None:
        return kept if kept is not None and monday_of(kept) == monday_of(week) else week
    return today if kept is None else max(kept, today)


def carried(slug: str, day: date) -> str:
    """What the cookie holds of a day that is looked at."""
    return f"{slug}:{day.isoformat()}"


def _date(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None

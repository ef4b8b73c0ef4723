"""The page My shifts: when somebody who signed in works, by the rosters published."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.catalogue import _, long_date
from app.pages.deps import SiteDep, WebDep, render, visitor_of
from app.words.staff import shift_words
from sim.inputs import PlannedShift

router = APIRouter()
AHEAD = timedelta(days=28)
"""How far ahead shifts are shown: rosters are made a week or a few before."""


@dataclass(frozen=True, slots=True)
class ShiftLine:
    """A shift: its day, from when to when and what for."""

    day: date
    says: str


@dataclass(frozen=True, slots=True)
class ShiftsPage:
    """The page; `name` is how the roster has to write the reader."""

    name: str
    answer: str
    lines: tuple[ShiftLine, ...]


@router.get("/{slug}/shifts")
def show_shifts(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The reader's own shifts from today on; nobody else's."""
    name, today = visitor_of(request).name, web.today(site)
    mine = own_shifts(site.data.staff.shifts, name, today)
    lines = tuple(ShiftLine(one.day, shift_words(one)) for one in mine)
    answer = _("No shift of yours is on a roster from today on.")
    if lines:
        answer = _("You work on {day}, {says}.", day=long_date(lines[0].day), says=lines[0].says)
    page = ShiftsPage(name, answer, lines)
    return render(
        request, "roster/shifts.html", page, title=_("My shifts"), current="shifts", site=site,
        kind="hand",
    )  # fmt: skip


def own_shifts(shifts: Sequence[PlannedShift], name: str, today: date) -> tuple[PlannedShift, ...]:
    """Shifts of a name, however it is written large or small, from a day on; the next first."""
    until = today + AHEAD
    mine = (
        one for one in shifts
        if one.name.casefold() == name.casefold() and today <= one.day <= until
    )  # fmt: skip
    return tuple(sorted(mine, key=lambda one: (one.day, one.start_s)))

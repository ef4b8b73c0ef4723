"""Days in addresses and in the field where one is chosen."""

from __future__ import annotations

from datetime import date

from fastapi import HTTPException, Request
from fastapi.responses import Response

from app.catalogue import _

FIRST_YEAR, LAST_YEAR = 2000, 2100
"""Years of days that may be planned."""
REFRESH_S = 2
"""How often a page that waits for its answer asks again."""


def ask_again(request: Request, response: Response, seconds: int = REFRESH_S) -> None:
    """Lets the browser ask for the page again by itself.

    The address is told, without the part of the page that a link led to: a browser that stands at
    such a part would else go to it once more instead of asking.
    """
    address = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    told = f"; url={address}" if request.method == "GET" else ""
    response.headers["Refresh"] = f"{seconds}{told}"


def date_of(text: str) -> date | None:
    """A date that may be planned, as addresses write it; None for anything else."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if FIRST_YEAR <= found.year <= LAST_YEAR else None


def wanted(day: str) -> date:
    """The day of an address; a 404 page where it is none."""
    found = date_of(day)
    if found is None:
        raise HTTPException(404, _("There is no such day."))
    return found


def no_date_words(typed: str) -> str:
    """What is wrong with a typed day that is none."""
    return _("“{typed}” is not a date. Write it as 2026-07-18.", typed=typed)

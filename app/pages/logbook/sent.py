"""The logbook on a phone without network: what lets it be opened there, and what it kept and sends
later, each entry once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.datastructures import FormData

from app.catalogue import _, _n, say
from app.pages.advice import opened_gate
from app.pages.deps import STATIC, SiteDep, Web, WebDep, asset
from app.pages.logbook.taken import Clock, address_of, forms_in, taken
from app.pages.writing import request_key_of
from app.sites.reading import Gate, StoredSite
from app.words.phrases import moment
from sim.errors import InputError

router = APIRouter()
MOST_ENTRIES = 100
LAST_MS = 4_102_444_800_000
"""The year 2100, in thousandths of a second since 1970 UTC."""
WRONG_S = 120.0
"""A clock that is further off than this is spoken of [s]."""
SCRIPT, MANIFEST = "text/javascript", "application/manifest+json"
PAPER = "#f3f5f0"
"""The colour of paper, as the style sheet has it."""
STORED, REFUSED = "arrived", "refused"
Moment = Annotated[int, Field(ge=0, le=LAST_MS)]


# ---- to be opened without network ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KeptHere:
    """What the page tells the script that keeps entries.

    Attributes:
        zone: the site's time zone. drawn: when the page was drawn, on the site's clock.
        lacks: why a phone can keep nothing; empty where it can.
    """

    zone: str
    drawn: str
    lacks: str


def kept_here(request: Request, web: Web, site: StoredSite) -> KeptHere:
    """The same for a request."""
    zone = site.data.site.timezone
    lacks = ""
    if web.outside and request.url.scheme != "https":
        lacks = _("Served without HTTPS, a phone writes only while it reaches the server.")
    return KeptHere(zone, moment(web.now(), zone), lacks)


@router.get("/{slug}/logbook/app.webmanifest")
def manifest(site: SiteDep) -> Response:
    """What a phone needs to have the logbook on its first screen (W3C Web Application Manifest)."""
    page, scope = f"/{site.slug}/logbook", f"/{site.slug}/"
    icons = [
        {"src": asset(f"icon-{side}.png"), "sizes": f"{side}x{side}", "type": "image/png", **more}
        for side in (192, 512)
        for more in ({}, {"purpose": "maskable"})
    ]
    told = {
        "name": _("Logbook · {site}", site=site.data.site.name),
        "short_name": _("Logbook"),
        "id": page,
        "start_url": page,
        "scope": scope,
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": icons,
    }
    return JSONResponse(told, media_type=MANIFEST)


@router.get("/{slug}/logbook/worker.js")
def worker(site: SiteDep) -> Response:
    """The script that keeps a page on a phone: each of the crew's pages asks for it for itself."""
    scope = {"Service-Worker-Allowed": f"/{site.slug}/"}
    return FileResponse(STATIC / "worker.js", media_type=SCRIPT, headers=scope)


# ---- what a phone kept ---------------------------------------------------------------------------


class SentEntry(BaseModel):
    """A form that a phone kept.

    Attributes:
        id: by which the phone knows it. at_ms: when it was pressed, by the phone's clock.
        pairs: names and texts of its fields.
    """

    model_config = ConfigDict(extra="forbid")

    id: str = Field(max_length=200)
    at_ms: Moment
    pairs: list[tuple[str, str]] = Field(max_length=200)


class Sent(BaseModel):
    """What a phone sends at once, by its own clock."""

    model_config = ConfigDict(extra="forbid")

    sent_ms: Moment
    entries: list[SentEntry] = Field(max_length=MOST_ENTRIES)


@router.get("/{slug}/logbook/token")
def form_token(request: Request, site: SiteDep, web: WebDep) -> Response:
    """A form token for this browser, which a page that was opened without network has not."""
    return JSONResponse({"token": web.seals.token(request.state.visit)})


@router.post("/{slug}/logbook/send")
def take_sent(site: SiteDep, web: WebDep, sent: Sent) -> Response:
    """Stores what a phone kept, and says of each entry whether it has arrived.

    How long ago something was pressed follows from two looks at one clock, whatever that shows: a
    time that was left open is the server's, less that. Where the disk takes nothing, all of it
    stays on the phone; what was stored before is found by its key when it comes again.
    """
    outcomes = []
    with opened_gate(web, site) as writes:
        for entry in sent.entries:
            ago_ms = max(0, sent.sent_ms - entry.at_ms)
            at = _clock_before(web, site, timedelta(milliseconds=ago_ms))
            outcomes.append({"id": entry.id, **_store(web, site, writes, entry, at)})
    return JSONResponse({"entries": outcomes, "clock": " ".join(_clock_words(web, sent))})


def _clock_before(web: Web, site: StoredSite, ago: timedelta) -> Clock:
    """The date at a site some time ago, and what its clock showed."""
    zone, now = ZoneInfo(site.data.site.timezone), web.now()
    then = (now - ago).astimezone(zone)
    day = web.today(site) - (now.astimezone(zone).date() - then.date())
    return day, 60.0 * (60 * then.hour + then.minute)


def _store(web: Web, site: StoredSite, writes: Gate, entry: SentEntry, at: Clock) -> dict[str, str]:
    """What becomes of an entry: its state, the problem, and the address that it leads to."""
    form, units = FormData([*entry.pairs]), site.data.units
    today = web.today(site)
    every = [taken(web, site, one, at) for one in forms_in(form)]
    held = [stored for one in every for stored in [one.entry or one.there] if stored is not None]
    fresh = [one.entry for one in every if one.entry is not None]
    problems = [problem for one in every for problem in one.problems]
    try:
        if fresh:
            writes.enter(site.id, fresh, request_key_of(form), today)
    except InputError as fault:
        problems += fault.problems
    if len(held) == len(every) and not problems:
        return _said(STORED, address=address_of(site, held, today, form))
    words = dict.fromkeys(say(problem, units) for problem in problems)
    messages = (one.message for one in every)
    return _said(REFUSED, " ".join(filter(None, (*words, *messages))))


def _said(state: str, problem: str = "", address: str = "") -> dict[str, str]:
    return {"state": state, "problem": problem, "address": address}


def _clock_words(web: Web, sent: Sent) -> Iterator[str]:
    """What is to be said of a phone's clock, where entries went by it."""
    open_ms = [one.at_ms for one in sent.entries if not dict(one.pairs).get("at_s")]
    if not open_ms:
        return
    fast_s = sent.sent_ms / 1000.0 - web.settings.clock().timestamp()
    minutes = round(abs(fast_s) / 60.0)
    if fast_s > WRONG_S:
        fast = (
            "This phone’s clock is {count} minute fast: times left open are the server’s.",
            "This phone’s clock is {count} minutes fast: times left open are the server’s.",
        )
        yield _n(*fast, minutes)
    elif fast_s < -WRONG_S:
        slow = (
            "This phone’s clock is {count} minute slow: times left open are the server’s.",
            "This phone’s clock is {count} minutes slow: times left open are the server’s.",
        )
        yield _n(*slow, minutes)
    if max(open_ms) > sent.sent_ms + 1000.0 * WRONG_S:
        yield _(
            "This phone’s clock was set back after an entry was made: look at the entry’s time."
        )

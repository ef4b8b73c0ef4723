"""Who asks for a page, and whether the one table of who may do what lets him.

People are known by the session of their cookie, phones and screens by the secret of their link,
which a cookie holds too; of both a digest is stored. Where nobody has to sign in, as in the demo, a
browser on the machine itself is a manager, and another machine needs a link.
"""

from __future__ import annotations

from fastapi import HTTPException, Request
from starlette.datastructures import Headers
from starlette.responses import Response

from app.access.codes import digest_of
from app.access.sessions import SEEN_EVERY, is_over
from app.access.table import (
    BY_ACT,
    BY_ROUTE,
    HERE,
    NOBODY,
    OWNER,
    PHONE,
    ROLES,
    SCREEN,
    STRANGER,
    Visitor,
    may_ask,
)
from app.catalogue import _
from app.pages.security import LOCAL_HOSTS, key_name
from app.settings import Settings
from app.sites.people import people_gate, signed_in
from app.sites.reading import Database, phone_with, sites_of

__all__ = ["ADVICE", "LinkRefused", "SignInNeeded", "admit", "digest_of", "is_here"]

PHONE_COOKIE = "clothcast_phone"
SESSION_COOKIE = "clothcast_session"
COOKIE_AGE_S = 400 * 86_400
"""How long a phone keeps its secret: the most that browsers allow (the present draft of RFC 6265,
section 5.5, from memory)."""
OPENING = BY_ACT["phones", "open"]
"""What a link itself asks for, whoever has it."""
LOCAL_ADDRESSES = ("127.0.0.1", "::1")
NOT_ITS_PAGE = "This phone’s link opens the logbook and the checks alone."
NOT_ITS_SCREEN = "This screen’s link opens the day sheet alone."
NOT_HIS = "This is not for you to open."
REVOKED = "This phone’s link was taken back."
NO_LINK = "From another machine Clothcast opens only by the link of a phone."
ADVICE = {
    NOT_ITS_PAGE: "Nothing was stored. The rest is for the computer on which Clothcast runs.",
    NOT_ITS_SCREEN: "Nothing was stored. The rest is for those who sign in.",
    NOT_HIS: "Nothing was stored. Ask the manager if you need it.",
    REVOKED: "Nothing was stored. Ask whoever looks after Clothcast for another link.",
    NO_LINK: "Nothing was stored. Ask whoever looks after Clothcast for one.",
}
REFUSALS = {PHONE: NOT_ITS_PAGE, SCREEN: NOT_ITS_SCREEN}


class LinkRefused(Exception):
    """A request that is not allowed to whoever asks.

    Attributes:
        sentence: one of `ADVICE`.
    """

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class SignInNeeded(Exception):
    """A request of somebody who has to sign in first."""


def is_here(request: Request) -> bool:
    """Whether a browser on this very machine asks, by a name that the machine alone has; what
    another program hands on from the network names another host."""
    client = request.client.host if request.client else ""
    return client in LOCAL_ADDRESSES and _host(request.headers) in LOCAL_HOSTS


def _host(headers: Headers) -> str:
    """The Host header without its port, in small letters (RFC 9110 section 4.2.3: hosts are the
    same in any case)."""
    host = headers.get("host", "").lower()
    bare, colon, port = host.rpartition(":")
    return bare if colon and port.isdigit() else host


# ---- cookies that open something -----------------------------------------------------------------


def _name(name: str, request: Request) -> str:
    return key_name(name, request.headers, request.url.scheme)


def set_key(answer: Response, request: Request, name: str, secret: str, age_s: int | None) -> None:
    """Hands a browser a secret that opens something; without an age until the browser is shut."""
    answer.set_cookie(
        _name(name, request), secret, max_age=age_s, httponly=True, samesite="lax",
        secure=request.url.scheme == "https",
    )  # fmt: skip


def drop_key(answer: Response, request: Request, name: str) -> None:
    """Takes it away again."""
    answer.delete_cookie(
        _name(name, request), httponly=True, samesite="lax",
        secure=request.url.scheme == "https",
    )  # fmt: skip


def _key(request: Request, name: str) -> str:
    return request.cookies.get(_name(name, request), "")


# ---- who asks, and whether he may ----------------------------------------------------------------


def phone_of(request: Request, database: Database) -> Visitor | None:
    """The phone or screen that came by its link; None for any other browser.

    Raises:
        LinkRefused: if the link was taken back.
    """
    secret = _key(request, PHONE_COOKIE)
    if not secret:
        return None
    phone = phone_with(database, digest_of(secret))
    if phone is None:
        raise LinkRefused(REVOKED)
    slugs = {line.id: line.slug for line in sites_of(database)}
    role = SCREEN if phone.may == "see" else PHONE
    return Visitor(role, frozenset({slugs[phone.site_id]}), phone.name, phone_id=phone.id)


def _person(request: Request, database: Database, settings: Settings) -> Visitor | None:
    """Whoever is signed in in this browser; None if nobody is, or has to sign in again."""
    digest = digest_of(_key(request, SESSION_COOKIE))
    found = signed_in(database, digest)
    if found is None:
        return None
    session, one = found
    now = settings.clock()
    if is_over(one.role, session.made_at, session.seen_at, now):
        return None
    if session.phone_id is not None:
        by = phone_of(request, database)
        if by is None or by.phone_id != session.phone_id:
            return None
    if now - session.seen_at >= SEEN_EVERY:
        with people_gate(database, now) as gate:
            gate.see(digest)
    slugs = None
    if one.role != OWNER:
        slugs = frozenset(line.slug for line in sites_of(database) if line.id in one.site_ids)
    return Visitor(one.role, slugs, one.name, one.id, session.phone_id, digest)


def visitor_of(request: Request, database: Database, settings: Settings) -> Visitor:
    """Who asks.

    Raises:
        LinkRefused: if it is a phone or screen whose link was taken back.
    """
    if not settings.sign_in and is_here(request):
        return HERE
    if _key(request, SESSION_COOKIE):
        person = _person(request, database, settings)
        if person is not None:
            return person
    return phone_of(request, database) or STRANGER


def admit(request: Request, database: Database, settings: Settings) -> Visitor:
    """Whoever asks, if the table lets him.

    Raises:
        SignInNeeded: of somebody who may have to sign in first.
        LinkRefused: for what he may not, or if he needs a link.
        HTTPException: 404 for a site that is not his own, as for one that is not there.
    """
    route = f"{request.method} {request.scope['route'].path}"
    row = BY_ROUTE.get(route)
    if row is OPENING or (row is not None and row.is_open_here and is_here(request)):
        return STRANGER
    needs_link = (settings.links_only or not settings.sign_in) and not is_here(request)
    try:
        if needs_link and phone_of(request, database) is None:
            raise LinkRefused(NO_LINK)
        visitor = visitor_of(request, database, settings)
    except LinkRefused as fault:
        if fault.sentence == NO_LINK or row is None or row.roles != ROLES:
            raise
        visitor = STRANGER  # what is open to all is so to a phone whose link was taken back
    slug = request.path_params.get("slug")
    if may_ask(visitor, route, slug):
        return visitor
    if visitor.role == NOBODY:
        raise SignInNeeded
    if row is not None and visitor.role in row.roles and slug is not None:
        raise HTTPException(404, _("There is no site at this address."))
    raise LinkRefused(REFUSALS.get(visitor.role, NOT_HIS))

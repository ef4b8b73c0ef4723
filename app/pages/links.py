"""What a phone may do that came by its link: logbook and checks of its site and nothing else.

The link holds a secret of 256 bits, which the phone keeps in a cookie; a digest of it is stored. A
browser on the machine itself may do everything, and so may one of another machine that came by no
link, unless the server is told to let in nobody without one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import Request
from starlette.datastructures import Headers

from app.catalogue import _
from app.pages.menu import PageLink
from app.pages.security import LOCAL_HOSTS, READING, cookie_name
from app.sites.reading import Database, Phone, phone_with, sites_of

PHONE_COOKIE = "clothcast_phone"
COOKIE_AGE_S = 400 * 86_400
"""How long a phone keeps its secret: the most that browsers allow (the present draft of RFC 6265,
section 5.5, from memory)."""
OPENING = "phone"
"""The place of an address that is a link."""
LOCAL_ADDRESSES = ("127.0.0.1", "::1")
NOT_ITS_PAGE = "This phone’s link opens the logbook and the checks alone."
REVOKED = "This phone’s link was taken back."
NO_LINK = "From another machine Clothcast opens only by the link of a phone."
_OPEN_TO_ALL = ("guide", "about")
"""Places whose pages hold nothing of a site."""
_OF_A_PHONE = ("logbook", "checks")
"""The crew's pages. What is done on them is an entry, sent to the logbook; the lists of checks are
changed at addresses below theirs."""
ADVICE = {
    NOT_ITS_PAGE: "Nothing was stored. The rest is for the computer on which Clothcast runs.",
    REVOKED: "Nothing was stored. Ask whoever looks after Clothcast for another link.",
    NO_LINK: "Nothing was stored. Ask whoever looks after Clothcast for one.",
}


class LinkRefused(Exception):
    """A request that a link does not allow, or that lacks one.

    Attributes:
        sentence: one of `ADVICE`.
        logbook: the address that the phone may open; empty for none.
    """

    def __init__(self, sentence: str, logbook: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.logbook = logbook


@dataclass(frozen=True, slots=True)
class Guest:
    """A phone that came by its link, and the address of the site of its logbook."""

    phone: Phone
    slug: str

    @property
    def logbook(self) -> str:
        """Address of the logbook."""
        return f"/{self.slug}/logbook"

    @property
    def pages(self) -> tuple[PageLink, ...]:
        """Its pages line."""
        checks = PageLink("checks", _("Checks"), f"/{self.slug}/checks")
        return PageLink("logbook", _("Logbook"), self.logbook), checks

    def may_open(self, parts: Sequence[str]) -> bool:
        """Whether it may open an address, given by its parts."""
        if parts[1] in ("", *_OPEN_TO_ALL):
            return True
        page, below = (*parts[2:3], "")[0], parts[3:]
        return parts[1] == self.slug and page in _OF_A_PHONE and (page == "logbook" or not below)


def digest_of(secret: str) -> str:
    """What is stored of the secret of a link; being random, it needs no salt."""
    return hashlib.sha256(secret.encode()).hexdigest()


def is_here(request: Request) -> bool:
    """Whether a browser on this very machine asks, by a name that the machine alone has; what
    another program hands on from the network names another host."""
    client = request.client.host if request.client else ""
    return client in LOCAL_ADDRESSES and _host(request.headers) in LOCAL_HOSTS


def _host(headers: Headers) -> str:
    """The Host header without its port."""
    host = headers.get("host", "")
    bare, colon, port = host.rpartition(":")
    return bare if colon and port.isdigit() else host


def guest_of(request: Request, database: Database, *, links_only: bool) -> Guest | None:
    """The phone that asks; None for a browser that may do everything.

    Raises:
        LinkRefused: if the phone may not open that address, or needs a link.
    """
    parts = request.url.path.split("/")
    is_link = len(parts) == 4 and parts[2] == OPENING and request.method in READING
    if is_link or is_here(request):
        return None
    secret = request.cookies.get(cookie_name(PHONE_COOKIE, request.headers), "")
    if not secret:
        if links_only:
            raise LinkRefused(NO_LINK)
        return None
    phone = phone_with(database, digest_of(secret))
    slugs = {line.id: line.slug for line in sites_of(database)} if phone else {}
    if phone is None or phone.site_id not in slugs:
        raise LinkRefused(REVOKED)
    guest = Guest(phone, slugs[phone.site_id])
    if not guest.may_open(parts):
        raise LinkRefused(NOT_ITS_PAGE, guest.logbook)
    return guest

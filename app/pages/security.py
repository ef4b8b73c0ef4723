"""What every answer and every posted form must pass: headers, hosts, sizes and tokens.

No form is believed because of its cookie alone: each carries a signed token that is bound to the
visit cookie of the browser it was drawn for.
"""

from __future__ import annotations

import base64
import hashlib
import ipaddress
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from itsdangerous import BadSignature, SignatureExpired, URLSafeSerializer, URLSafeTimedSerializer
from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.access.table import API, BY_ROUTE, NEVER_KEPT

KB = 1024
FORM_LIMIT_BYTES = 256 * KB
UPLOAD_LIMIT_BYTES = 6 * KB * KB
DRAIN_LIMIT_BYTES = 64 * KB * KB
FORM_FIELDS = 2000
TOKEN_FIELD = "form_token"  # noqa: S105 - the name of a field, no secret
SCRIPT_HEADER = "X-Form-Token"
"""Where a script of ours, which sends no form, has the token."""
VISIT_COOKIE = "clothcast_visit"
TOKEN_AGE_S = 12 * 3600.0
MOST_PORT_DIGITS = 5
SEALED_S = 365 * 24 * 3600
"""How long a browser that came by HTTPS opens that host in no other way [s]: a year, the least that
OWASP ASVS 5.0 asks for (3.4.1)."""
READING = ("GET", "HEAD", "OPTIONS")
"""Methods that carry no form."""
LOCAL_HOSTS = ("127.0.0.1", "localhost", "[::1]")

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "connect-src 'self'",
        "img-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


def cookie_name(name: str, headers: Headers) -> str:
    """A cookie's name at the address that a browser used: with its port, if it has one.

    Browsers send the cookies of a host to every port of it (RFC 6265 section 8.5), so that two
    programs at 127.0.0.1 would else overwrite each other's.
    """
    host, colon, port = headers.get("host", "").rpartition(":")
    is_port = colon and host and port.isascii() and port.isdigit() and len(port) <= MOST_PORT_DIGITS
    return f"{name}_{port}" if is_port else name


def key_name(name: str, headers: Headers, scheme: str) -> str:
    """The name of a cookie that proves something: by HTTPS one that no other host and no plain HTTP
    can set (``__Host-``, section 4.1.3.2 of the present draft of RFC 6265, from memory)."""
    own = cookie_name(name, headers)
    return f"__Host-{own}" if scheme == "https" else own


def is_own_page(headers: Headers) -> bool:
    """Whether the browser says that a page of this very address sends the request.

    By Fetch Metadata where it is told; else, over plain HTTP to another machine, where browsers
    leave that out, by the origin or the page that they name. No page of another site can set
    these headers.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site == "same-origin"
    said = headers.get("origin") or headers.get("referer") or ""
    scheme, mark, rest = said.partition("://")
    host = rest.partition("/")[0]
    return bool(mark) and scheme in ("http", "https") and host == headers.get("host")


def may_begin_work(method: str, headers: Headers) -> bool:
    """Whether a request may begin a computation.

    A posted form may: it carries a token of ours. A page that is only looked at may if a page of
    ours led to it or if its reader opened it himself, by its address or a bookmark; not if another
    site, a program or a browser on a guess asks for it.
    """
    if method not in READING:
        return True
    if "sec-purpose" in headers:  # fetched ahead, before anybody wants to see it
        return False
    return is_own_page(headers) or headers.get("sec-fetch-site") == "none"


class FormRefused(Exception):
    """A posted form without the token that was drawn for this browser.

    Attributes:
        expired: the token was ours and this browser's, but drawn too long ago.
    """

    def __init__(self, expired: bool) -> None:
        super().__init__("form token expired" if expired else "form token missing or wrong")
        self.expired = expired


def _masked(text: str) -> str:
    """A text under random bytes that stand before it."""
    held = text.encode("ascii")
    mask = secrets.token_bytes(len(held))
    return base64.urlsafe_b64encode(mask + _under(held, mask)).decode("ascii")


def _unmasked(token: str) -> str:
    """What `_masked` made a token of; raises BadSignature for what it can't have made."""
    try:
        held = base64.b64decode(token.encode("ascii"), altchars=b"-_", validate=True)
        half = len(held) // 2
        return _under(held[half:], held[:half]).decode("ascii")
    except ValueError as fault:
        raise BadSignature("no token of ours") from fault


def _under(held: bytes, mask: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(held, mask, strict=True))


@dataclass(frozen=True)
class Seals:
    """Signs visit cookies and form tokens with the secret of this installation."""

    secret: str
    token_age_s: float = TOKEN_AGE_S

    def _visits(self) -> URLSafeSerializer:
        return URLSafeSerializer(self.secret, salt="visit")

    def _tokens(self) -> URLSafeTimedSerializer:
        return URLSafeTimedSerializer(self.secret, salt="form")

    def new_visit(self) -> tuple[str, str]:
        """A fresh visit and the signed text that its cookie holds."""
        visit = secrets.token_urlsafe(18)
        return visit, str(self._visits().dumps(visit))

    def visit_of(self, cookie: str) -> str | None:
        """The visit that a cookie was signed for; None if it wasn't signed here."""
        try:
            visit = self._visits().loads(cookie)
        except BadSignature:
            return None
        return visit if isinstance(visit, str) else None

    def token(self, visit: str) -> str:
        """The token of a form that is drawn now for a visit, in other letters each time.

        Answers are compressed, and their size could tell a stranger, guess by guess, what stands
        in them beside a text of his (BREACH, 2013). What never looks the same can't be guessed so.
        """
        return _masked(str(self._tokens().dumps(visit)))

    def check_token(self, token: str, visit: str) -> None:
        """Raises FormRefused unless `token` was drawn for `visit` and is not too old."""
        try:
            drawn_for = self._tokens().loads(_unmasked(token), max_age=int(self.token_age_s))
        except SignatureExpired as fault:
            genuine = fault.payload is not None and self._tokens().load_payload(fault.payload)
            raise FormRefused(expired=bool(genuine) and genuine == visit) from None
        except BadSignature:
            raise FormRefused(expired=False) from None
        if not (isinstance(drawn_for, str) and secrets.compare_digest(drawn_for, visit)):
            raise FormRefused(expired=False)


class KnownHosts(TrustedHostMiddleware):
    """Answers to the names it is told and, where the pages are open to the network, to addresses.

    What is kept out is a name of somebody else that was made to lead to this machine: its pages
    would then be that site's own. A request that names a bare address can't come from such a page.
    """

    def __init__(self, app: ASGIApp, allowed_hosts: Sequence[str], addresses: bool) -> None:
        super().__init__(app, allowed_hosts, www_redirect=False)
        self.addresses = addresses

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if self.addresses and scope["type"] == "http":
            host = Headers(scope=scope).get("host", "")
            if _is_address(host):
                await self.app(scope, receive, send)
                return
        await super().__call__(scope, receive, send)


def _is_address(host: str) -> bool:
    """Whether a Host header names an IP address, with or without a port."""
    bare, colon, port = host.rpartition(":")
    if host.endswith("]") or not colon:
        bare, port = host, "0"
    elif not port.isascii() or not port.isdigit():
        return False
    bracketed = bare.startswith("[") and bare.endswith("]")
    try:
        address = ipaddress.ip_address(bare[1:-1] if bracketed else bare)
    except ValueError:
        return False
    return bracketed == (address.version == 6)


def asker_of(who: str) -> str:
    """Names a browser or a person where work waits in line, without saying who it is."""
    return hashlib.sha256(who.encode()).hexdigest()[:16]


class Visit:
    """Gives every browser a signed visit cookie and the request its `state.visit`; `state.asker`
    names whose it is where work waits in line, without saying who that is."""

    def __init__(self, app: ASGIApp, seals: Seals) -> None:
        self.app = app
        self.seals = seals

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        # The framework's reading takes any cookie as it comes; that of `http.cookies` raises for
        # names that other programs of this host may well give theirs.
        if scope["path"].startswith(f"{API}/"):  # programs have no visit, and no cookie of one
            await self.app(scope, receive, send)
            return
        name = key_name(VISIT_COOKIE, Headers(scope=scope), scope["scheme"])
        visit = self.seals.visit_of(HTTPConnection(scope).cookies.get(name, ""))
        fresh = ""
        if visit is None:
            visit, fresh = self.seals.new_visit()
        state = scope.setdefault("state", {})
        state["visit"] = visit
        # A browser that brings no cookie of ours is one with all others at its address.
        who = f"at {(scope.get('client') or ('', 0))[0]}" if fresh else visit
        state["asker"] = asker_of(who)

        async def send_with_cookie(message: Message) -> None:
            if message["type"] == "http.response.start" and fresh:
                sealed = "; Secure" if scope["scheme"] == "https" else ""
                cookie = f"{name}={fresh}; Path=/; HttpOnly; SameSite=Lax{sealed}"
                MutableHeaders(scope=message).append("Set-Cookie", cookie)
            await send(message)

        await self.app(scope, receive, send_with_cookie)


class Outermost:
    """Headers on every answer; bare refusals of the libraries become pages of the house.

    `page` makes type and body of such a page from address and status. A body that is too large is
    read to its end (up to a limit) and thrown away first, because a browser that is still
    sending never shows an answer.
    """

    def __init__(self, app: ASGIApp, page: Callable[[str, int], tuple[str, bytes]]) -> None:
        self.app = app
        self.page = page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        is_head = scope["method"] == "HEAD"  # the same as a page that is read, but for the page
        if is_head:
            scope = {**scope, "method": "GET"}
        finished = False
        replacing: bytes | None = None

        async def receive_watched() -> Message:
            nonlocal finished
            message = await receive()
            finished = finished or not message.get("more_body", False)
            return message

        async def send_dressed(message: Message) -> None:
            nonlocal replacing
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                status = int(message["status"])
                bare = headers.get("content-type", "").startswith("text/plain")
                if status == 413:
                    await self._drain(receive, finished)
                    headers["connection"] = "close"
                if status >= 400 and bare:
                    headers["content-type"], replacing = self.page(scope["path"], status)
                    headers["content-length"] = str(len(replacing))
                for name, value in HEADERS.items():
                    headers[name] = value
                headers["Cache-Control"] = _caching(scope, status)
                if _stays_sealed(scope):
                    headers["Strict-Transport-Security"] = f"max-age={SEALED_S}"
            elif message["type"] == "http.response.body" and replacing is not None:
                more = message.get("more_body", False)
                message = {**message, "body": b"" if more else replacing}
            if is_head and message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        await self.app(scope, receive_watched, send_dressed)

    async def _drain(self, receive: Receive, finished: bool) -> None:
        read = 0
        while not finished and read < DRAIN_LIMIT_BYTES:
            message = await receive()
            read += len(message.get("body", b""))
            finished = message["type"] != "http.request" or not message.get("more_body", False)


def _stays_sealed(scope: Scope) -> bool:
    """Whether browsers are told to open this host by HTTPS alone (RFC 6797). Not the machine's own
    names, at which other programs may be served without."""
    host = Headers(scope=scope).get("host", "").lower()
    is_local = any(host == name or host.startswith(f"{name}:") for name in LOCAL_HOSTS)
    return scope["scheme"] == "https" and not is_local


def _caching(scope: Scope, status: int) -> str:
    """A static file asked for by its content hash never changes; a page is always asked again, and
    one of people or ways in is never kept, whatever is answered at its address."""
    hashed = scope["path"].startswith("/static/") and b"v=" in scope.get("query_string", b"")
    if hashed and status < 400:
        return "public, max-age=31536000, immutable"
    row = BY_ROUTE.get(f"{scope['method']} {scope.get('state', {}).get('route', '')}")
    return "no-store" if row is not None and row.page in NEVER_KEPT else "private, no-cache"

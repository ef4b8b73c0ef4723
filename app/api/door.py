"""Which program asks, by its token, and whether the one table lets it; and the app's parts as it
may use them.

A program is known by a bearer token (RFC 6750) alone: cookies count for nothing here, so no page of
anybody can have a browser ask. What a token opens is never more than whoever made it may open now.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from math import ceil
from time import thread_time
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response
from fastapi.routing import APIRoute
from fastapi.security import HTTPBearer

from app.access.codes import digest_of
from app.access.table import API, BY_ROUTE, COMPUTE, OWNER, PROGRAM, ROLES, Visitor, may_ask
from app.answers.studies.book import asker_of_token
from app.answers.studies.runner import Runner
from app.api.problems import Refused
from app.catalogue import _
from app.pages.deps import Web, get_web
from app.pages.links import is_here
from app.sites.programs import programs_gate, spent_today, token_with
from app.sites.reading import StoredSite, sites_of

BEARER = HTTPBearer(
    auto_error=False, scheme_name="token", description="A token made on the page Programs."
)
MOST_S = 1_800.0
"""Processor time that what a token asks for may take a day [s]; a guess."""
MOST_WAITING = 3
"""Pieces of work of a token that may wait or run at once; a guess."""
WAIT_S = 30
"""After so many seconds a program may ask again where too much of its work waits [s]; a guess."""
UNKNOWN = {"WWW-Authenticate": 'Bearer realm="Clothcast"'}
UNSIGNED = "Send a token in the header Authorization: Bearer, a space, the token."
OPENS_NOTHING = (
    "This token opens nothing: it is not known, has ended or was taken back. Ask whoever looks "
    "after Clothcast for another."
)


class Door(APIRoute):
    """A route at whose door a program is looked at before anything of what it sends is read."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """What answers a request."""
        handle = super().get_route_handler()

        async def behind(request: Request) -> Response:
            sent = await BEARER(request)
            await run_in_threadpool(let_in, request, "" if sent is None else sent.credentials)
            return await handle(request)

        return behind


def let_in(request: Request, secret: str) -> None:
    """For every request: which program asks, and whether the table lets it.

    Raises:
        Refused: 401 without a token that opens something, 403 for what it is not for, 404 for a
            site that is not its own, as for one that is not there.
    """
    request.state.route = f"{API}{request.scope['route'].path}"
    route = f"{request.method} {request.state.route}"
    row = BY_ROUTE.get(route)
    if row is not None and row.roles == ROLES:
        return
    web = get_web(request)
    needs_link = (web.settings.links_only or not web.settings.sign_in) and not is_here(request)
    if needs_link:
        raise Refused(403, _("From another machine Clothcast opens only by the link of a phone."))
    visitor = _program(web, secret)
    request.state.visitor = visitor
    slug = request.path_params.get("slug")
    if may_ask(visitor, route, slug):
        return
    if row is not None and row.scope in visitor.scopes:
        raise Refused(404, _("There is no site at this address."))
    may = 'Bearer error="insufficient_scope"'
    raise Refused(
        403,
        _("This token is for {scopes}. Make one that may do this.", scopes=_named(visitor.scopes)),
        headers={"WWW-Authenticate": may + (f', scope="{row.scope}"' if row else "")},
    )


def _named(scopes: frozenset[str]) -> str:
    return ", ".join(sorted(scopes))


def _program(web: Web, secret: str) -> Visitor:
    """The program of a token."""
    if not secret:
        raise Refused(401, _(UNSIGNED), headers=UNKNOWN)
    now = web.settings.clock()
    found = token_with(web.database, digest_of(secret))
    if found is None or not found[0].holds(now) or (found[1] is None and web.settings.sign_in):
        told = {"WWW-Authenticate": f'{UNKNOWN["WWW-Authenticate"]}, error="invalid_token"'}
        raise Refused(401, _(OPENS_NOTHING), headers=told)
    token, maker = found
    if token.seen_on != now.date():
        with programs_gate(web.database, now) as gate:
            gate.see(token)
    has_all = maker is None or maker.role == OWNER
    its = token.site_ids if has_all or maker is None else token.site_ids & maker.site_ids
    slugs = frozenset(line.slug for line in sites_of(web.database) if line.id in its)
    return Visitor(
        PROGRAM, slugs, token.name, token.person_id, token_id=token.id, scopes=token.scopes
    )


# ---- what a request may use ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Asking:
    """A program's request: who asks, and the app's parts as it may use them.

    Attributes:
        web: for reading, which begins nothing.
        runner: begins work for the program; only what was looked at with `may_begin` is handed it.
    """

    web: Web
    visitor: Visitor
    runner: Runner

    @property
    def token_id(self) -> int:
        """The number of its token."""
        if self.visitor.token_id is None:
            raise ValueError("a program has a token")
        return self.visitor.token_id

    def left_s(self) -> float:
        """Processor time that it has left today [s]."""
        now = self.web.settings.clock()
        return MOST_S - spent_today(self.web.database, self.token_id, now)

    def working(self, scope: str = COMPUTE) -> Web:
        """The app's parts for what may take long; those of reading where its token is not for that,
        and once its day is used up."""
        if scope not in self.visitor.scopes or self.left_s() <= 0.0:
            return self.web
        return replace(self.web, runner=self.runner)

    @contextmanager
    def counted(self) -> Iterator[None]:
        """What is done within counts as processor time of the token's day."""
        began_s = thread_time()
        try:
            yield
        finally:
            now = self.web.settings.clock()
            with programs_gate(self.web.database, now) as gate:
                gate.spend(self.token_id, max(0.0, thread_time() - began_s))

    def may_begin(self) -> None:
        """Raises Refused, with when to ask again, where it has asked for too much."""
        now = self.web.settings.clock()
        if self.left_s() <= 0.0:
            tomorrow = datetime.combine(now.date() + timedelta(days=1), time(), UTC)
            wait_s = ceil((tomorrow - now).total_seconds())
            words = _(
                "This token’s {most} processor seconds of today are used up. Ask again tomorrow "
                "(UTC).",
                most=f"{MOST_S:,.0f}",
            )
            raise Refused(429, words, headers={"Retry-After": str(wait_s)})
        if self.runner.book.open_of(self.runner.asker) >= MOST_WAITING:
            words = _(
                "{most} pieces of work of this token wait or run already. Wait for one of them.",
                most=MOST_WAITING,
            )
            raise Refused(429, words, headers={"Retry-After": str(WAIT_S)})


def asking(request: Request) -> Asking:
    """The request of a program, as `let_in` found it."""
    visitor: Visitor = request.state.visitor
    web = get_web(request)
    database = web.database
    if visitor.person_id is not None:
        database = database.for_person(visitor.person_id)
    runner = web.runner.asked_by(asker_of_token(visitor.token_id or 0))
    return Asking(replace(web, runner=web.runner.onlooker(), database=database), visitor, runner)


AskingDep = Annotated[Asking, Depends(asking)]


def site_of(slug: str, program: AskingDep) -> StoredSite:
    """The site named in the address."""
    site = program.web.site_at(slug)
    if site is None:
        raise Refused(404, _("There is no site at this address."))
    return site


SiteDep = Annotated[StoredSite, Depends(site_of)]

"""The web app, put together: nothing happens at import."""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache, partial
from http import HTTPStatus

from fastapi import APIRouter, Depends, FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.gzip import DEFAULT_EXCLUDED_CONTENT_TYPES, GZipMiddleware
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles
from starlette.templating import Jinja2Templates
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.access.table import API
from app.answers import kinds
from app.answers.apart import Apart
from app.answers.studies.runner import Runner
from app.db.session import open_database
from app.loading import loading
from app.pages import errors, running, sites, today
from app.pages.deps import SPREADSHEET, STATIC, Web, guard, let_in, make_templates
from app.pages.security import FORM_LIMIT_BYTES, LOCAL_HOSTS, KnownHosts, Outermost, Seals, Visit
from app.running.asked import Asked
from app.running.log import tell
from app.settings import VERSION, Settings
from app.sites.keeping import Nightly

HTML = "text/html; charset=utf-8"
PACKED = 6
"""How hard answers are compressed, 1 to 9: more takes longer and saves a hundredth."""


FIRST = (running.router, sites.router, today.router)
"""What a start opens, and all that is loaded before it can be answered."""


def is_first(path: str) -> bool:
    """Whether an address needs none of the other rooms."""
    of_running = path == "/metrics" or path.startswith("/health/")
    of_a_start = path in ("/", "/sites") or path.endswith("/today")
    return of_running or of_a_start or path.startswith("/static/")


def other_rooms() -> tuple[APIRouter, ...]:
    """Every other room, loaded."""
    with loading():
        from app.pages import (
            checks,
            cloth,
            counts,
            down,
            guide,
            happened,
            phones,
            reduce,
            roster,
            setup,
            shifts,
            site,
            staff,
            stops,
            stops_file,
            studies,
            watch,
            weighings,
        )
        from app.pages import settings as settings_map
        from app.pages import sheet as day_sheet
        from app.pages.logbook import files as log_files
        from app.pages.logbook import route as logbook
        from app.pages.logbook import sent as log_sent
        from app.pages.people import first, me, people, programs, sign_in
        from app.pages.plan import change, file, versions
        from app.pages.plan import route as plan

    # Fixed addresses first: /guide/… would else be read as a page of a site called “guide”.
    rooms = (
        sign_in, first, me, people, programs, setup, guide, log_sent, logbook, log_files, checks,
        down, stops_file, stops, happened, plan, file, versions, change, settings_map, reduce,
        staff, day_sheet, shifts, watch, studies, cloth, counts, weighings, roster, phones, site,
    )  # fmt: skip
    return tuple(room.router for room in rooms)


@cache
def routes_of(of_start: bool) -> tuple[BaseRoute, ...]:
    """The routes of the first rooms, or of the others, each behind what is asked of everybody who
    comes.

    What FastAPI makes of them at their first request takes a seventh of a second, so all apps of a
    process have the same.
    """
    guarded = APIRouter(dependencies=[Depends(let_in), Depends(guard)])
    for room in FIRST if of_start else other_rooms():
        guarded.include_router(room, max_body_size=FORM_LIMIT_BYTES)
    return tuple(guarded.routes)


def interface_of(app: FastAPI) -> Mount:
    """The interface for programs, loaded; every address below its own is told by it, one with a
    line break too."""
    with loading():
        from app.api import interface

    mount = Mount(API, interface.make(app.state.web))
    mount.path_regex = re.compile(mount.path_regex.pattern, re.DOTALL)
    return mount


def _others(app: FastAPI) -> tuple[BaseRoute, ...]:
    return *routes_of(of_start=False), interface_of(app)


class Later:
    """The other rooms of a server that has just started: loaded once somebody asks for one of them,
    else as soon as the first page has been answered."""

    def __init__(self, inner: ASGIApp, app: FastAPI) -> None:
        self._inner, self._app = inner, app
        self._task: asyncio.Task[None] | None = None
        self._is_there = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        is_page = False

        async def watched(message: Message) -> None:
            nonlocal is_page
            is_page = is_page or message.get("status") == HTTPStatus.OK
            await send(message)

        if scope["type"] != "http" or self._is_there:
            await self._inner(scope, receive, send)
            return
        if not is_first(scope["path"]):
            await asyncio.shield(self._begun())
        await self._inner(scope, receive, watched)
        if is_page:
            self._begun()

    def _begun(self) -> asyncio.Task[None]:
        if self._task is None:
            self._task = asyncio.create_task(self._load())
        return self._task

    async def _load(self) -> None:
        self._app.router.routes.extend(await run_in_threadpool(_others, self._app))
        self._is_there = True


class ClothcastApp(FastAPI):
    """FastAPI with `Outermost` around everything, the framework's own refusals included, and what
    comes of it compressed."""

    def build_middleware_stack(self) -> ASGIApp:
        web: Web = self.state.web
        templates: Jinja2Templates = web.templates

        def page(path: str, status: int) -> tuple[str, bytes]:
            if path.startswith(f"{API}/"):
                from app.api import problems  # no page needs it

                return problems.KIND, problems.problem(status)
            return HTML, errors.draw(templates, errors.bare_page(status)).encode()

        dressed = Outermost(super().build_middleware_stack(), page)
        unpacked = (*DEFAULT_EXCLUDED_CONTENT_TYPES, SPREADSHEET)
        packed = GZipMiddleware(dressed, compresslevel=PACKED, exclude_content_types=unpacked)
        whole = packed if self.state.is_whole else Later(packed, self)
        return Asked(whole, web.requests, web.seals.secret, web.settings.clock)


def create_app(settings: Settings, apart: Apart | None = None, *, is_whole: bool = True) -> FastAPI:
    """The app for some settings; opens the database and brings it up to date.

    Args:
        apart: the process that computes, and works answers out before anybody asks as far as the
            settings' budget goes; None: this one does, and nothing is begun ahead.
        is_whole: whether every room is loaded at once, rather than `Later`.

    Raises:
        app.db.session.CannotOpen, app.settings.BadSettings: with a sentence for the operator.
    """
    database = open_database(settings.database_path)
    runner = Runner(database, settings.workers, settings.now, settings.clock)
    runner.on_asked = partial(kinds.drop_stale, database, runner)
    nightly = Nightly(database, settings) if apart is not None else None
    if apart is not None:
        runner.elsewhere, database.on_written = apart, apart.changed

    @asynccontextmanager
    async def running(app: FastAPI) -> AsyncIterator[None]:
        if apart is not None:
            apart.start()
        if nightly is not None:
            nightly.start()
        runner.aside(lambda: kinds.take_up(database, runner))
        tell("started", version=VERSION)
        yield
        if nightly is not None:
            nightly.close()
        if apart is not None:
            apart.close()
        runner.close()
        database.close()
        tell("ended")

    templates = make_templates()
    seals = Seals(settings.secret_key())
    allowed = [*LOCAL_HOSTS, f"[{settings.host}]" if ":" in settings.host else settings.host]
    outside = "" if allowed[-1] in LOCAL_HOSTS else settings.host
    if settings.is_open:
        outside = settings.own_name()
        allowed.append(outside)
    if settings.certificate is not None:
        from app.certificates import served_by  # loaded only where it is needed

        served = served_by(settings)
        if served is not None:
            allowed += [f"[{name}]" if ":" in name else name for name in served.names]
            outside = served.name if outside else ""
    app = ClothcastApp(
        title="Clothcast",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        lifespan=running,
        max_body_size=FORM_LIMIT_BYTES,
        middleware=[
            Middleware(KnownHosts, allowed_hosts=allowed, addresses=settings.is_open),
            Middleware(Visit, seals=seals),
        ],
    )
    app.state.web = Web(settings, database, templates, seals, runner, apart, outside)
    errors.install(app, templates)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.state.is_whole = is_whole
    app.router.routes.extend(routes_of(of_start=True))
    if is_whole:
        app.router.routes.extend(_others(app))
    return app

"""What every route shares: the running app's parts, the site, posted forms, pages and files."""

from __future__ import annotations

import hashlib
from collections.abc import AsyncIterator, Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Annotated
from urllib.parse import quote, unquote
from zoneinfo import ZoneInfo

import jinja2
from fastapi import Depends, HTTPException, Request
from fastapi.responses import HTMLResponse, Response
from starlette.datastructures import FormData
from starlette.templating import Jinja2Templates

from app.access.challenges import Challenges
from app.access.limits import Tries
from app.access.passwords import Passwords
from app.access.table import HERE, NOBODY, PHONE, Visitor
from app.answers.answer import Answer, Asked, Found, Kind, open_answer, open_or_begin, with_earlier
from app.answers.apart import Apart
from app.answers.change import WhatIfCache
from app.answers.now import NowCache
from app.answers.planning import DayInputs, compared
from app.answers.studies.runner import Runner
from app.answers.switching import SwitchView, by_plan
from app.answers.watch import WatchCache
from app.catalogue import FILTERS as DATES
from app.catalogue import _, _n, say
from app.charts.marks import scenario_mark
from app.files.sheets import Sheet, sheet_csv, workbook
from app.pages import terms
from app.pages.compiled import OPTIONS, Kept
from app.pages.links import admit
from app.pages.menu import (
    DAY_COOKIE,
    NAMES,
    DaySteps,
    PageLink,
    carried,
    looked_at,
    pages_line,
    steps_of,
)
from app.pages.security import (
    FORM_FIELDS,
    READING,
    SCRIPT_HEADER,
    TOKEN_FIELD,
    Seals,
    asker_of,
    cookie_name,
    may_begin_work,
)
from app.pages.tour import Stop, stop_at, stops
from app.pages.waiting import Before
from app.running.numbers import Requests
from app.settings import Settings
from app.sites.reading import Database, StoredSite, sites_of
from app.words import (
    belt_stops,
    cloth,
    coming,
    cues,
    drift,
    dry,
    hands,
    happened,
    measuring,
    phrases,
    rules,
    scored,
    season,
    staff,
    staff_costs,
    switching,
    weighings,
    why,
)
from app.words.numbers import FILTERS, shown
from app.words.phrases import first_sentence, joined
from sim.decide.answer import Comparison
from sim.inputs import GROUP_OF, TYPED
from sim.units import format_number, show_clock

ROOT = Path(__file__).resolve().parent.parent.parent
STATIC = ROOT / "app" / "static"
TEMPLATES = ROOT / "templates"
SITE_COOKIE = "clothcast_site"
SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True)
class Web:
    """The parts of a running app, made by `create_app` and held in ``app.state.web``; `outside` is
    the name by which other machines reach it, empty where they don't."""

    settings: Settings
    database: Database
    templates: Jinja2Templates
    seals: Seals
    runner: Runner
    apart: Apart | None = None
    outside: str = ""
    tries: WhatIfCache = field(default_factory=WhatIfCache)
    watched: WatchCache = field(default_factory=WatchCache)
    nows: NowCache = field(default_factory=NowCache)
    passwords: Passwords = field(default_factory=Passwords)
    sign_ins: Tries = field(default_factory=Tries)
    challenges: Challenges = field(default_factory=Challenges)
    requests: Requests = field(default_factory=Requests)

    def now(self) -> datetime:
        """The moment that dates what is stored now."""
        return self.settings.now()

    def today(self, site: StoredSite) -> date:
        """The date at a site."""
        return self.settings.today_at(site.data.site.timezone, site.data.stands_on)

    def clock_at(self, site: StoredSite) -> tuple[date, float]:
        """The date at a site, and the minute that its clock shows [s after midnight]."""
        local = self.now().astimezone(ZoneInfo(site.data.site.timezone))
        return self.today(site), 60.0 * (60 * local.hour + local.minute)

    def site_at(self, slug: str) -> StoredSite | None:
        """The site whose pages lie at an address; None if there is none."""
        with self.database.session() as session:
            return self.runner.past.site(session, slug)

    def open(self, site: StoredSite, kind: Kind[Asked, Found], day: date) -> Answer[Asked, Found]:
        """A day's answer, as far as it is known."""
        return open_answer(self.database, self.runner, site, kind, day)

    def stand(self, answer: Answer[Asked, Found]) -> Answer[Asked, Found]:
        """The answer to a question that is at hand, as it stands now."""
        with self.database.session() as session:
            return answer.now(session, self.runner)

    def by_plan(self, view: SwitchView) -> SwitchView:
        """When to reduce with the figures of the day's plan, where that has them."""
        with self.database.session() as session:
            return by_plan(session, view)

    def compared(self, site: StoredSite, asked: DayInputs) -> Comparison | None:
        """The comparison of a day's plan, see `app.answers.planning.compared`."""
        with self.database.session() as session:
            return compared(session, site.id, asked)

    def begun(self, site: StoredSite, kind: Kind[Asked, Found], day: date) -> Answer[Asked, Found]:
        """The same; what is missing is begun, unless it failed or is under way."""
        return open_or_begin(self.database, self.runner, site, kind, day)

    def shown(self, site: StoredSite, kind: Kind[Asked, Found], day: date) -> Answer[Asked, Found]:
        """The same; until it is there, what was worked out before its question changed."""
        view = self.begun(site, kind, day)
        if view.result is not None:
            return view
        with self.database.session() as session:
            return with_earlier(session, view)


@dataclass(frozen=True, slots=True)
class Frame:
    """What `base.html` draws around a page.

    Attributes:
        title: name of the page, for the window's title.
        current: key of the page in the pages line.
        site_name, site_slug: empty where there is no site yet.
        when: words beside the site's name, such as "Saturday 18 July".
        kind: class of the body; "hand" for a page made for a phone.
        pages: the pages line. may: whether the reader may do something, by page and act.
        steps: the days beside the page's; None where it has none.
        next_step: what a site that is being set up without a file still lacks, and where it is
            entered; None for any other.
        led: why a set-up led to this day, in a sentence; empty for no reason.
        token: form token of this browser; templates draw it with `form_token()`.
        stands_on: the day that it always is at an invented site, which is then said; else None.
        tour: where the tour of an invented site stands; None while nobody takes it. begin_tour: its
            first page; empty at any other site.
        before: what is said over an answer of before; None over the present one.
        again: how often a page that waits asks for its answer [s]; 0 where it does not wait.
            again_from: the address that a browser without script then loads, empty for the same.
        signed_in: the name of whoever is. may_sign_in: whether somebody can do so here.
            is_open_here: whether nobody has to, on this machine alone.
    """

    title: str
    current: str
    site_name: str
    site_slug: str
    when: str
    kind: str
    pages: tuple[PageLink, ...]
    may: Callable[..., bool]
    steps: DaySteps | None
    next_step: PageLink | None
    led: str
    token: str
    stands_on: date | None = None
    tour: Stop | None = None
    begin_tour: str = ""
    before: Before | None = None
    again: int = 0
    again_from: str = ""
    signed_in: str = ""
    may_sign_in: bool = False
    is_open_here: bool = False


@cache
def _content_hash(path: Path, changed_ns: int) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:10]


def asset(name: str) -> str:
    """Address of a static file with a hash of its content, so that it may be cached for ever."""
    path = STATIC / name
    return f"/static/{name}?v={_content_hash(path, path.stat().st_mtime_ns)}"


@cache
def make_templates() -> Jinja2Templates:
    """The templates: autoescape everywhere, and an unknown name is an error, never a blank.

    They hold nothing of an app, so every app of a process has the same, compiled once. What is said
    of an answer they ask of its words: ``{{ tell.cloth.pace_words(found) }}``.
    """
    env = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        bytecode_cache=Kept(TEMPLATES / "__pycache__"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        **OPTIONS,
    )
    env.globals["_"] = _
    env.globals["_n"] = _n
    more = {
        one.__name__: one for one in (first_sentence, format_number, joined, say, show_clock, shown)
    }
    env.filters.update(FILTERS | DATES | more)
    env.globals["asset"] = asset
    words = (
        belt_stops, cloth, coming, cues, drift, dry, hands, happened, measuring, phrases, rules,
        scored, season, staff, staff_costs, switching, weighings, why,
    )  # fmt: skip
    env.globals["tell"] = {one.__name__.rpartition(".")[2]: one for one in words}
    env.globals["scenario_mark"] = scenario_mark
    env.globals |= {"opens": terms.opens, "opened": terms.opened}
    return Jinja2Templates(env=env)


def get_web(request: Request) -> Web:
    """The parts of the running app."""
    web: Web = request.app.state.web
    return web


def get_web_for(request: Request) -> Web:
    """The same with what this request may do: see `may_begin_work`."""
    web = get_web(request)
    person_id = visitor_of(request).person_id
    # Whoever is signed in is one, in however many browsers.
    asker = request.state.asker if person_id is None else asker_of(f"person {person_id}")
    runner = web.runner.asked_by(asker)
    if not may_begin_work(request.method, request.headers):
        runner = runner.onlooker()
    database = web.database if person_id is None else web.database.for_person(person_id)
    return replace(web, runner=runner, database=database)


WebDep = Annotated[Web, Depends(get_web_for)]


def current_site(slug: str, web: WebDep) -> StoredSite:
    """The site named in the address; a 404 page where there is none."""
    site = web.site_at(slug)
    if site is None:
        raise HTTPException(404, _("There is no site at this address."))
    return site


SiteDep = Annotated[StoredSite, Depends(current_site)]


def let_in(request: Request) -> None:
    """For every request: who asks, and whether the table of who may do what lets him.

    Raises:
        SignInNeeded, LinkRefused, HTTPException: see `links.admit`.
    """
    web = get_web(request)
    request.state.route = request.scope["route"].path
    request.state.visitor = admit(request, web.database, web.settings)


def visitor_of(request: Request) -> Visitor:
    """Who asks, as `let_in` found."""
    visitor: Visitor = request.state.visitor
    return visitor


async def guard(request: Request, web: WebDep) -> AsyncIterator[FormData | None]:
    """For every request: a form is read once, its token checked, its files closed at the end.

    Raises:
        FormRefused: for any unsafe method whose form lacks this browser's token.
    """
    if request.method in READING:
        yield None
        return
    form = await request.form(max_fields=FORM_FIELDS, max_files=2)
    request.state.form = form
    try:
        # No page of another site can set the header of our scripts.
        token = str(form.get(TOKEN_FIELD, "")) or request.headers.get(SCRIPT_HEADER, "")
        web.seals.check_token(token, request.state.visit)
        yield form
    finally:
        await form.close()


def posted(request: Request) -> FormData:
    """The form that `guard` has read and checked."""
    form: FormData = request.state.form
    return form


FormDep = Annotated[FormData, Depends(posted)]


AFTER, FROST = "after", "frost"
"""What an address says of a day that a set-up leads to: the first fortnight without frost."""
LATER = (
    "In the weeks before, frost is expected on every open day, and ice is not in the model: this "
    "is the busiest day of the first two weeks that have one without."
)
LED_ON = frozenset({
    "today/today.html", "plan/choose.html", "plan/plan.html", "reduce/reduce.html",
    "reduce/coming.html", "counts/counts.html", "site/site.html",
})  # fmt: skip
"""Pages that lead on through a set-up; those that ask for something themselves do not."""


def next_step(site: StoredSite) -> PageLink | None:
    """The step that a site with typed days still lacks.

    The second step counts as made once an input of wheel, people or money is the site's own.
    """
    if site.data.history.counted != TYPED:
        return None
    of_second = {GROUP_OF[name] for name in site.data.given} & {"wheel", "crew", "money", "wear"}
    if not of_second:
        return PageLink("setup", _("Step 2 of 3: wheel, cloth and exit"), f"/{site.slug}/setup")
    if not site.data.weighings:
        return PageLink("setup", _("Step 3 of 3: the measurements"), f"/{site.slug}/weighings")
    return None


def remembered_site(request: Request, web: Web) -> StoredSite | None:
    """The site this browser looked at last, else the first; None where there is none."""
    visitor = visitor_of(request)
    slugs = [item.slug for item in sites_of(web.database) if visitor.has(item.slug)]
    if not slugs:
        return None
    held = unquote(request.cookies.get(cookie_name(SITE_COOKIE, request.headers), ""))
    return web.site_at(held if held in slugs else slugs[0])


def _looked_at(request: Request, web: Web, site: StoredSite) -> date:
    """The day that pages of the line are led to for."""
    held = request.cookies.get(cookie_name(DAY_COOKIE, request.headers), "")
    today = web.today(site)
    if request.url.path == f"/{site.slug}/today":
        return today
    return looked_at(request.path_params, held, site.slug, today)


def _asked(request: Request) -> str:
    """The address of a page without the part that a link led to: a browser that stands at such a
    part would else go to it once more instead of asking. Empty for an answer to a form."""
    if request.method != "GET":
        return ""
    return request.url.path + (f"?{request.url.query}" if request.url.query else "")


def render(
    request: Request,
    template: str,
    page: object,
    *,
    current: str,
    title: str = "",
    site: StoredSite | None = None,
    when: str = "",
    kind: str = "",
    status: int = 200,
    again: int = 0,
    before: Before | None = None,
) -> HTMLResponse:
    """A page: `template` sees the page's context as ``page`` and its surroundings as ``frame``.

    Pages that belong to no site (the guide) pass no `site` and show the remembered one's pages.

    Args:
        current: key of the page in the pages line, whose name is the title unless one is given.
        again: it waits for its answer, and asks for it so often [s]; 0: it does not.
        before: what is said over it where its answer is one of before.
    """
    if before is not None:
        again = again or before.again
    web = get_web(request)
    visitor = visitor_of(request)
    shown = site or remembered_site(request, web)
    slug = shown.slug if shown else ""
    day = site.data.stands_on if site else None
    at = None if shown is None else _looked_at(request, web, shown)
    frame = Frame(
        title=title or _(NAMES[current]),
        current=current,
        site_name=shown.data.site.name if shown else "",
        site_slug=slug,
        when=when,
        kind=kind,
        pages=pages_line(slug, at, visitor),
        may=visitor.may,
        steps=steps_of(request.url.path, slug, at),
        next_step=next_step(site) if site and template in LED_ON else None,
        led=_(LATER) if request.query_params.get(AFTER) == FROST else "",
        token=web.seals.token(request.state.visit),
        stands_on=day,
        tour=stop_at(request.url.path, request.query_params, slug, day) if day else None,
        begin_tour=stops(slug, day)[0].href if day else "",
        before=before,
        again=again,
        again_from=_asked(request) if again else "",
        signed_in=visitor.name if visitor.session else "",
        may_sign_in=visitor.role in (NOBODY, PHONE) and current != "sign-in",
        is_open_here=visitor is HERE,
    )
    context = {"frame": frame, "page": page}
    with terms.noting():
        response = web.templates.TemplateResponse(request, template, context, status_code=status)
    if site is not None:
        kept = {SITE_COOKIE: slug, **({DAY_COOKIE: carried(slug, at)} if at else {})}
        for cookie, said in kept.items():
            name = cookie_name(cookie, request.headers)
            is_sealed = request.url.scheme == "https"
            response.set_cookie(name, quote(said), httponly=True, samesite="lax", secure=is_sealed)
    return response


# ---- files that a page offers ------------------------------------------------------------------


def file_answer(content: bytes, name: str, kind: str) -> Response:
    """A file to be kept under a name."""
    return Response(
        content,
        media_type=kind,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def csv_file(text: str, name: str) -> Response:
    """A text as a CSV file."""
    # The mark at the front tells spreadsheets that the file is UTF-8.
    return file_answer(f"\ufeff{text}".encode(), name, "text/csv; charset=utf-8")


def csv_answer(sheet: Sheet, name: str) -> Response:
    """A table as CSV."""
    return csv_file(sheet_csv(sheet), name)


def book_answer(sheets: Sequence[Sheet], made_at: datetime, name: str) -> Response:
    """Tables as a spreadsheet."""
    return file_answer(workbook(sheets, made_at), name, SPREADSHEET)


def calendar_answer(content: bytes, name: str) -> Response:
    """A calendar file."""
    return file_answer(content, name, "text/calendar; charset=utf-8")

"""The page Programs: tokens by which programs of the owner use the interface for programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.access.codes import digest_of, new_secret
from app.access.table import API, OWNER, READ, SCOPES, Visitor
from app.catalogue import _, _n
from app.pages.deps import FormDep, Web, WebDep, render, visitor_of
from app.pages.forms import Choices, Summary, summary, text_of
from app.pages.people.fields import KeyField, messages_of
from app.pages.phones import base_of
from app.sites.programs import Token, programs_gate, tokens_of
from app.sites.reading import SiteLine, sites_of
from app.words.phrases import joined, moment
from app.words.roles import scope_may
from sim.errors import InputProblem, quoted
from sim.inputs.rows import Name
from sim.units import whole_number

router = APIRouter()
UTC = "UTC"
NAME = Name(name="name", label="Name", longest=40)
DAYS = (30, 90, 365)
"""How many days a token may last; guesses."""
NO_SITE = "Choose a site at least: without one there is nothing to open."
NO_SCOPE = "Choose at least one thing that it may do."
NO_DAYS = "Choose how long it lasts."


@dataclass(frozen=True, slots=True)
class ProgramLine:
    """A program that was let in; `says` are sentences, `is_open` whether its token still holds."""

    id: int
    name: str
    says: tuple[str, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class ProgramsPage:
    """The page.

    Attributes:
        token: what was made just now and is shown once; empty for nothing. address: where the
            interface begins.
        may, days: to choose from; chosen: what is chosen of each.
    """

    answer: str
    token: str
    named: str
    address: str
    programs: tuple[ProgramLine, ...]
    name: KeyField
    may: Choices
    chosen_may: frozenset[str]
    may_says: tuple[str, ...]
    sites: tuple[SiteLine, ...]
    chosen: frozenset[int]
    site_says: tuple[str, ...]
    days: Choices
    chosen_days: str
    days_says: tuple[str, ...]
    summary: Summary | None


@dataclass(frozen=True, slots=True)
class Typed:
    """What a form asks for."""

    name: str = ""
    may: frozenset[str] = frozenset({READ})
    sites: frozenset[int] = frozenset()
    days: int | None = DAYS[1]


@router.get("/people/programs")
def show_programs(request: Request, web: WebDep) -> Response:
    """Every program whose sites the reader has, and a form for one more."""
    return _page(request, web)


@router.post("/people/programs")
def make(request: Request, web: WebDep, form: FormDep) -> Response:
    """Makes a token, which is shown on this answer alone."""
    own = {line.id for line in _sites(web, visitor_of(request))}
    numbers = {whole_number(one) for one in form.getlist("site") if isinstance(one, str)}
    typed = Typed(
        " ".join(text_of(form, "name").split()),
        frozenset(one for one in SCOPES if one in form.getlist("may")),
        frozenset(one for one in numbers if one in own),
        whole_number(text_of(form, "days")),
    )
    problems = list(_problems(typed))
    if problems:
        return _page(request, web, typed=typed, problems=problems, status=422)
    secret, now = new_secret(), web.settings.clock()
    until = now + timedelta(days=typed.days or 0)
    with programs_gate(web.database, now) as gate:
        gate.make(typed.name, digest_of(secret), typed.may, typed.sites, until)
    return _page(request, web, token=secret, named=typed.name)


def _problems(typed: Typed) -> Sequence[InputProblem]:
    """What is wrong with what was typed."""
    found = []
    if not typed.name or NAME.wrong(typed.name, None):
        sentence = "“{name}” can’t be a name. Enter 1 to {most} characters, the first not “=”."
        filling = {"name": quoted(typed.name), "most": NAME.longest}
        found.append(InputProblem("name", sentence, filling))
    if not typed.may:
        found.append(InputProblem("may", NO_SCOPE, {}))
    if not typed.sites:
        found.append(InputProblem("site", NO_SITE, {}))
    if typed.days not in DAYS:
        found.append(InputProblem("days", NO_DAYS, {}))
    return found


@router.post("/people/programs/take-back")
def take_back(request: Request, web: WebDep, form: FormDep) -> Response:
    """Lets a token open nothing any more."""
    visitor, number = visitor_of(request), whole_number(text_of(form, "program"))
    for one in _seen(web, visitor):
        if one.id == number:
            with programs_gate(web.database, web.settings.clock()) as gate:
                gate.take_back(one.id)
            return RedirectResponse("/people/programs", 303)
    raise HTTPException(404, _("There is no such program."))


# ---- what the page shows -------------------------------------------------------------------------


def _sites(web: Web, visitor: Visitor) -> tuple[SiteLine, ...]:
    return tuple(line for line in sites_of(web.database) if visitor.has(line.slug))


def _seen(web: Web, visitor: Visitor) -> tuple[Token, ...]:
    """Tokens that a visitor may take back: all of them, or those of his own sites alone."""
    own = {line.id for line in _sites(web, visitor)}
    every = tokens_of(web.database)
    has_all = visitor.role == OWNER or visitor.slugs is None
    return tuple(one for one in every if has_all or one.site_ids <= own)


def _page(
    request: Request,
    web: Web,
    *,
    token: str = "",
    named: str = "",
    typed: Typed | None = None,
    problems: Sequence[InputProblem] = (),
    status: int = 200,
) -> Response:
    visitor, typed = visitor_of(request), typed or Typed()
    sites = _sites(web, visitor)
    names = {line.id: line.name for line in sites_of(web.database)}
    now = web.settings.clock()
    every = [(one, one.holds(now)) for one in reversed(_seen(web, visitor))]
    lines = [ProgramLine(one.id, one.name, _told(one, names), is_open) for one, is_open in every]
    count = sum(line.is_open for line in lines)
    own = frozenset(line.id for line in sites)
    page = ProgramsPage(
        answer=_n("One program has a token.", "{count} programs have a token.", count)
        if count
        else _("No program has a token."),
        token=token,
        named=named,
        address=f"{base_of(request, web)}{API}",
        programs=tuple(sorted(lines, key=lambda line: not line.is_open)),
        name=KeyField("name", _("Name"), value=typed.name, messages=messages_of(problems, "name"),
                      hint=_("What the program is, such as the till.")),
        may=tuple((one, scope_may(one)) for one in SCOPES),
        chosen_may=typed.may,
        may_says=messages_of(problems, "may"),
        sites=sites,
        chosen=typed.sites or (own if len(own) == 1 else frozenset()),
        site_says=messages_of(problems, "site"),
        days=tuple((str(one), _("{count} days", count=one)) for one in DAYS),
        chosen_days="" if typed.days is None else str(typed.days),
        days_says=messages_of(problems, "days"),
        summary=summary(problems, "us"),
    )  # fmt: skip
    return render(
        request, "people/programs.html", page, title=_("Programs"), current="people",
        status=status,
    )  # fmt: skip


def _told(one: Token, names: dict[int, str]) -> tuple[str, ...]:
    """A program in sentences: what it may do, where, until when, and when it was used last."""
    where = joined(sorted(names[number] for number in one.site_ids if number in names))
    ends = _("Until {moment}.", moment=moment(one.until, UTC))
    if one.revoked_at is not None:
        ends = _("Taken back {moment}.", moment=moment(one.revoked_at, UTC))
    used = _("Never used.")
    if one.seen_on is not None:
        used = _("Last used {day}.", day=one.seen_on.isoformat())
    may = " ".join(scope_may(scope) for scope in SCOPES if scope in one.scopes)
    return may, _("At {sites}.", sites=where) if where else "", ends, used

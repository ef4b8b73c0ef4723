"""The page People: who has an account, invitations, short codes of attendants, and letting go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from app.access.codes import digest_of, new_secret, new_short_code
from app.access.sessions import INVITED
from app.access.table import ATTENDANT, MANAGER, OWNER, Visitor
from app.catalogue import _, _n
from app.charts.code import code_picture
from app.pages.deps import FormDep, Web, WebDep, render, visitor_of
from app.pages.forms import Choices, Summary, summary, text_of
from app.pages.people.fields import KeyField, messages_of, name_typed
from app.pages.phones import base_of
from app.sites.people import (
    LastOwner,
    Member,
    NameTaken,
    members_of,
    passkeys_of,
    people_gate,
    people_history,
    seen_of,
)
from app.sites.reading import SiteLine, sites_of
from app.words.phrases import moment
from app.words.roles import role_may, role_words
from sim.errors import InputProblem, quoted
from sim.units import whole_number

router = APIRouter()
UTC = "UTC"
TAKEN = "There is somebody of the name “{name}”. Enter another, or let that one go first."
NO_SITE = "Choose a site at least: without one there is nothing to open."
NO_ROLE = "Choose what they are."


@dataclass(frozen=True, slots=True)
class PersonLine:
    """Somebody with an account.

    Attributes:
        sites: where; second: how signing in is kept safe; seen: when last; each a sentence.
        renews: what gives a new way in; empty where the reader may not. may_go: whether he may let
            this one go.
    """

    id: int
    name: str
    role: str
    sites: str
    second: str
    seen: str
    renews: str
    may_go: bool


@dataclass(frozen=True, slots=True)
class Given:
    """What was made just now and is shown once: a link and its picture, or a short code."""

    name: str
    address: str
    picture: Markup
    code: str


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """The page; `told` is the newest history, a sentence each."""

    answer: str
    given: Given | None
    people: tuple[PersonLine, ...]
    name: KeyField
    role: str
    roles: Choices
    chosen: frozenset[int]
    sites: tuple[SiteLine, ...]
    role_says: tuple[str, ...]
    site_says: tuple[str, ...]
    summary: Summary | None
    told: tuple[str, ...]


@router.get("/people")
def show_people(request: Request, web: WebDep) -> Response:
    """Everybody whom the reader looks after, and a form for one more."""
    return _page(request, web)


@router.post("/people")
def invite(request: Request, web: WebDep, form: FormDep) -> Response:
    """Gives somebody an account; the link or the code is shown on this answer alone."""
    visitor, problems = visitor_of(request), list[InputProblem]()
    name, role = name_typed(form, problems), text_of(form, "role")
    own = {line.id: line for line in _sites(web, visitor)}
    typed = {whole_number(one) for one in form.getlist("site") if isinstance(one, str)}
    sites = frozenset(number for number in typed if number in own)
    if role not in roles_given_by(visitor.role):
        problems.append(InputProblem("role", NO_ROLE, {}))
    elif role != OWNER and not sites:
        problems.append(InputProblem("site", NO_SITE, {}))
    if problems:
        return _page(request, web, name=name, role=role, chosen=sites, problems=problems)
    secret, code, now = new_secret(), new_short_code(), web.settings.clock()
    is_crew = role == ATTENDANT
    held = web.passwords.hash(code) if is_crew else ""
    try:
        with people_gate(web.database, now) as gate:
            gate.invite(
                name, role, () if role == OWNER else sites, digest=digest_of(secret),
                until=None if is_crew else now + INVITED, password=held,
            )  # fmt: skip
    except NameTaken:
        problems.append(InputProblem("name", TAKEN, {"name": quoted(name)}))
        return _page(request, web, name=name, role=role, chosen=sites, problems=problems)
    return _page(request, web, given=_given(request, web, name, "" if is_crew else secret, code))


@router.post("/people/renew")
def renew(request: Request, web: WebDep, form: FormDep) -> Response:
    """Gives somebody a new link to choose a password by, or an attendant a new code."""
    one = _named(request, web, form)
    secret, code, now = new_secret(), new_short_code(), web.settings.clock()
    is_crew = one.role == ATTENDANT
    held = web.passwords.hash(code) if is_crew else ""
    with people_gate(web.database, now) as gate:
        if is_crew:
            gate.set_password(one.id, held)
        else:
            gate.give_code(one.id, digest_of(secret), now + INVITED)
    return _page(
        request, web, given=_given(request, web, one.name, "" if is_crew else secret, code)
    )


@router.post("/people/sign-out")
def sign_out(request: Request, web: WebDep, form: FormDep) -> Response:
    """Ends every session of somebody."""
    one = _named(request, web, form)
    with people_gate(web.database, web.settings.clock()) as gate:
        gate.sign_out(one.id)
    return RedirectResponse("/people", 303)


@router.post("/people/let-go")
def let_go(request: Request, web: WebDep, form: FormDep) -> Response:
    """Ends somebody's account."""
    one = _named(request, web, form)
    try:
        with people_gate(web.database, web.settings.clock()) as gate:
            gate.let_go(one.id)
    except LastOwner:
        sentence = "{name} is the only owner. Invite another one first."
        problem = InputProblem("name", sentence, {"name": quoted(one.name)})
        return _page(request, web, problems=[problem], status=409)
    return RedirectResponse("/people", 303)


# ---- whom somebody looks after -------------------------------------------------------------------


def roles_given_by(role: str) -> tuple[str, ...]:
    """Roles that somebody may give: a manager lets in attendants, the owner everybody."""
    return (MANAGER, ATTENDANT, OWNER) if role == OWNER else (ATTENDANT,)


def looks_after(visitor: Visitor, one: Member, own: frozenset[int]) -> bool:
    """Whether a visitor may give somebody a new way in, or let him go.

    Args:
        own: the visitor's sites. An attendant of other sites as well is the owner's.
    """
    if visitor.role == OWNER:
        return True
    return one.role == ATTENDANT and bool(one.site_ids) and one.site_ids <= own


def _sites(web: Web, visitor: Visitor) -> tuple[SiteLine, ...]:
    return tuple(line for line in sites_of(web.database) if visitor.has(line.slug))


def _named(request: Request, web: Web, form: FormDep) -> Member:
    """The person that a press is about; a 404 page for nobody whom the reader looks after."""
    visitor, number = visitor_of(request), whole_number(text_of(form, "person"))
    own = frozenset(line.id for line in _sites(web, visitor))
    for one in members_of(web.database):
        if one.id == number and looks_after(visitor, one, own):
            return one
    raise HTTPException(404, _("There is nobody of that number here."))


# ---- what the page shows -------------------------------------------------------------------------


def _given(request: Request, web: Web, name: str, secret: str, code: str) -> Given:
    if not secret:
        return Given(name, "", Markup(), code)
    address = f"{base_of(request, web)}/invited/{secret}"
    return Given(name, address, code_picture(address, _("A code that opens the link")), "")


def _page(
    request: Request,
    web: Web,
    *,
    given: Given | None = None,
    name: str = "",
    role: str = "",
    chosen: frozenset[int] = frozenset(),
    problems: Sequence[InputProblem] = (),
    status: int = 200,
) -> Response:
    visitor = visitor_of(request)
    sites = _sites(web, visitor)
    own, names = frozenset(line.id for line in sites), {line.id: line.name for line in sites}
    seen, keys = seen_of(web.database), {held.person_id for held in passkeys_of(web.database)}
    everybody = members_of(web.database)
    lines = tuple(
        _line(visitor, one, own, names, moment(seen[one.id], UTC) if one.id in seen else "", keys)
        for one in everybody
        if visitor.role == OWNER or one.site_ids & own or one.id == visitor.person_id
    )
    roles = roles_given_by(visitor.role)
    if problems and status == 200:
        status = 422
    page = PeoplePage(
        answer=_n("One person has an account.", "{count} people have an account.", len(lines))
        if lines
        else _("Nobody has an account yet."),
        given=given,
        people=lines,
        name=KeyField("name", _("Name"), value=name, messages=messages_of(problems, "name"),
                      hint=_("An attendant’s as the roster writes it, so that shifts are found.")),
        role=role or roles[-1 if len(roles) == 1 else 1],
        roles=tuple((one, f"{role_words(one)}: {role_may(one)}") for one in roles),
        chosen=chosen or (own if len(own) == 1 else frozenset()),
        sites=sites,
        role_says=messages_of(problems, "role"),
        site_says=messages_of(problems, "site"),
        summary=summary(problems, "us"),
        told=_history(web) if visitor.role == OWNER else (),
    )  # fmt: skip
    return render(
        request, "people/people.html", page, title=_("People"), current="people", status=status
    )


def _line(
    visitor: Visitor,
    one: Member,
    own: frozenset[int],
    names: dict[int, str],
    seen: str,
    keys: set[int],
) -> PersonLine:
    mine = looks_after(visitor, one, own)
    if one.role == ATTENDANT:
        second, renews = _("A short code, on a phone that was let in."), _("New code")
    else:
        second = _("A password alone.")
        if one.id in keys or one.one_time:
            second = _("A passkey.") if one.id in keys else _("Password and one-time password.")
        if not one.password:
            second = _("Has not chosen a password yet.")
        renews = _("New link to choose a password")
    where = ", ".join(sorted(names[number] for number in one.site_ids if number in names))
    return PersonLine(
        id=one.id,
        name=one.name,
        role=role_words(one.role),
        sites=_("Every site.") if one.role == OWNER else where,
        second=second,
        seen=_("Seen {moment}.", moment=seen) if seen else _("Not signed in."),
        renews=renews if mine else "",
        may_go=mine and one.id != visitor.person_id,
    )


def _history(web: Web) -> tuple[str, ...]:
    """The newest changes of people, in sentences."""
    return tuple(_told(moment(at, UTC), who, name, new) for at, who, name, new in
                 people_history(web.database))  # fmt: skip


def _told(at: str, who: str, name: str, new: object) -> str:
    filling = {"at": at, "who": who, "name": name}
    if new is None:
        return _("{at}, {who}: {name} was let go.", **filling)
    held = new if isinstance(new, dict) else {}
    if "role" in held:
        role = role_words(str(held["role"]))
        return _("{at}, {who}: {name} was let in as {role}.", role=role, **filling)
    if "password" in held:
        return _("{at}, {who}: a new password or code of {name}.", **filling)
    if "code" in held:
        return _("{at}, {who}: a link or code for {name}.", **filling)
    return _("{at}, {who}: passkeys or one-time passwords of {name} were changed.", **filling)

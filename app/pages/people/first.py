"""The pages First start and Choose a password: a code, typed or in a link, and what is chosen by
it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.access.codes import digest_of, digest_of_code
from app.catalogue import _
from app.pages.deps import FormDep, Web, WebDep, render
from app.pages.forms import Summary, summary, text_of
from app.pages.people.fields import (
    KeyField,
    begin_session,
    begin_try,
    counted_for,
    messages_of,
    name_typed,
    new_password,
    password_typed,
)
from app.sites.people import NameTaken, NoCode, has_owner, invitation_with, members_of, people_gate
from sim.errors import InputProblem, quoted

router = APIRouter()
NO_CODE = "This code is not right, was used already, or is too old. Ask for another one."
NO_FIRST = (
    "This code is not right or too old. Type the newest one that the terminal shows; starting "
    "Clothcast again makes another."
)
TAKEN = "“{name}” is the name of somebody who is here already. Enter another."


@dataclass(frozen=True, slots=True)
class CodePage:
    """A page on which a password is chosen.

    Attributes:
        is_first: whether it makes the first owner.
        who: whose account it is, where a link says so; empty else.
        secret: of the link; empty where a code is typed.
        gone: why there is nothing to choose; empty else.
    """

    is_first: bool
    who: str
    secret: str
    gone: str
    fields: tuple[KeyField, ...]
    summary: Summary | None


@router.get("/first")
def show_first(request: Request, web: WebDep) -> Response:
    """The form that makes the owner; where there is one, the way to sign in."""
    if has_owner(web.database):
        return RedirectResponse("/sign-in", 303)
    return _first(request, web)


@router.post("/first")
def make_owner(request: Request, web: WebDep, form: FormDep) -> Response:
    """Makes the owner by the code of the terminal, and signs him in."""
    problems: list[InputProblem] = []
    name = name_typed(form, problems)
    password = password_typed(form, name, problems)
    code = text_of(form, "code")
    if problems:
        return _first(request, web, code, name, problems, 422)
    wait = begin_try(web, counted_for(request, ""), "code")
    if wait is not None:
        return _first(request, web, code, name, [wait], 429)
    digest, now = digest_of_code(code), web.settings.clock()
    if invitation_with(web.database, digest, now) is None:
        return _first(request, web, code, name, [InputProblem("code", NO_FIRST, {})], 403)
    held = web.passwords.hash(password)
    try:
        with people_gate(web.database, now) as gate:
            person_id = gate.make_owner(digest, name, held)
    except NoCode:
        return _first(request, web, code, name, [InputProblem("code", NO_FIRST, {})], 403)
    except NameTaken:
        problem = InputProblem("name", TAKEN, {"name": quoted(name)})
        return _first(request, web, code, name, [problem], 422)
    web.sign_ins.succeeded(counted_for(request, ""))
    return begin_session(request, web, person_id, "/me")


@router.get("/invited")
def show_code(request: Request, web: WebDep) -> Response:
    """The form for a code that the command line printed."""
    return _chosen(request, web, "")


@router.get("/invited/{secret}")
def show_invited(request: Request, web: WebDep, secret: str) -> Response:
    """The form of a link."""
    return _chosen(request, web, secret)


@router.post("/invited")
def choose(request: Request, web: WebDep, form: FormDep) -> Response:
    """Sets the password that somebody chose by a code or a link, and signs him in."""
    secret, problems = text_of(form, "secret"), list[InputProblem]()
    code = text_of(form, "code")
    wait = begin_try(web, counted_for(request, ""), "code")
    if wait is not None:
        return _chosen(request, web, secret, code, [wait], 429)
    digest, now = _digest(secret, code), web.settings.clock()
    found = invitation_with(web.database, digest, now)
    if found is None or found.person_id is None:
        return _chosen(request, web, secret, code, [InputProblem("code", NO_CODE, {})], 403)
    password = password_typed(form, _name_of(web, found.person_id), problems)
    if problems:
        web.sign_ins.succeeded(counted_for(request, ""))
        return _chosen(request, web, secret, code, problems, 422)
    held = web.passwords.hash(password)
    try:
        with people_gate(web.database, now) as gate:
            person_id = gate.choose_password(digest, held)
    except NoCode:
        return _chosen(request, web, secret, code, [InputProblem("code", NO_CODE, {})], 403)
    web.sign_ins.succeeded(counted_for(request, ""))
    return begin_session(request, web, person_id, "/me")


def _digest(secret: str, code: str) -> str:
    return digest_of(secret) if secret else digest_of_code(code)


def _name_of(web: Web, person_id: int) -> str:
    return next((one.name for one in members_of(web.database) if one.id == person_id), "")


def _first(
    request: Request,
    web: Web,
    code: str = "",
    name: str = "",
    problems: Sequence[InputProblem] = (),
    status: int = 200,
) -> Response:
    told = messages_of(problems, "name")
    hint = _("The terminal in which Clothcast runs shows it.")
    page = CodePage(
        is_first=True,
        who="",
        secret="",
        gone="",
        fields=(
            KeyField(
                "code", _("Code"), hint=hint, value=code, messages=messages_of(problems, "code")
            ),
            KeyField("name", _("Your name"), fills="username", value=name, messages=told),
            *new_password(problems),
        ),
        summary=summary(problems, "us"),
    )
    return render(
        request, "people/first.html", page, title=_("First start"), current="sign-in",
        status=status,
    )  # fmt: skip


def _chosen(
    request: Request,
    web: Web,
    secret: str,
    code: str = "",
    problems: Sequence[InputProblem] = (),
    status: int = 200,
) -> Response:
    now = web.settings.clock()
    found = invitation_with(web.database, digest_of(secret), now) if secret else None
    who = _name_of(web, found.person_id) if found and found.person_id is not None else ""
    typed = () if secret else (
        KeyField(
            "code", _("Code"), hint=_("As it was printed on the machine of Clothcast."),
            value=code, messages=messages_of(problems, "code"),
        ),
    )  # fmt: skip
    page = CodePage(
        is_first=False,
        who=who,
        secret=secret,
        gone=_(NO_CODE) if secret and not who else "",
        fields=(*typed, *new_password(problems)),
        summary=summary(problems, "us"),
    )
    if page.gone:
        status = 403
    return render(
        request, "people/first.html", page, title=_("Choose a password"), current="sign-in",
        status=status,
    )  # fmt: skip

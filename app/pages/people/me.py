"""The page My sign-in: password, one-time passwords, passkeys, and where one is signed in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from itsdangerous import BadSignature, URLSafeTimedSerializer
from markupsafe import Markup

from app.access.one_time import address_of, new_secret, step_of
from app.access.table import ATTENDANT
from app.catalogue import _, say
from app.charts.code import code_picture
from app.pages.deps import FormDep, Web, WebDep, render, visitor_of
from app.pages.forms import Summary, summary, text_of
from app.pages.people.fields import (
    KeyField,
    begin_try,
    counted_for,
    messages_of,
    new_password,
    password_typed,
)
from app.sites.people import Member, members_of, passkeys_of, people_gate, sessions_of
from app.words.phrases import moment
from app.words.roles import role_words
from sim.errors import InputProblem

router = APIRouter()
UTC = "UTC"
NOT_YOURS = "This is not your present password."
NOT_NOW = "This is not the password that the app shows now. Look whether both clocks are right."
SET_UP_S = 900
"""How long a secret of one-time passwords that is shown may be confirmed [s]; a guess."""
LONGEST_NAME = 40


@dataclass(frozen=True, slots=True)
class SessionLine:
    """A browser in which one is signed in: what it calls itself, since when, last seen, and whether
    it is this one."""

    where: str
    since: str
    seen: str
    is_this: bool


@dataclass(frozen=True, slots=True)
class PasskeyLine:
    """A passkey: its id, name, and since when it is known."""

    key: str
    name: str
    since: str


@dataclass(frozen=True, slots=True)
class SetUp:
    """One-time passwords being set up: the secret to type or to take from a picture, and the same
    sealed for the form."""

    secret: str
    code: Markup
    sealed: str
    field: KeyField


@dataclass(frozen=True, slots=True)
class MePage:
    """The page.

    Attributes:
        answer: who is signed in as what. is_crew: whether by a short code, with nothing to set.
        has_one_time: whether one-time passwords are asked for. set_up: while they are set up.
    """

    answer: str
    is_crew: bool
    has_one_time: bool
    set_up: SetUp | None
    passkeys: tuple[PasskeyLine, ...]
    sessions: tuple[SessionLine, ...]
    fields: tuple[KeyField, ...]
    present: KeyField
    summary: Summary | None


@router.get("/me")
def show_me(request: Request, web: WebDep) -> Response:
    """The page."""
    return _page(request, web)


@router.post("/me/password")
def change_password(request: Request, web: WebDep, form: FormDep) -> Response:
    """Changes one's password; every other session ends."""
    problems = _check(request, web, form)
    one = _me(request, web)
    password = "" if problems else password_typed(form, one.name, problems)
    if problems:
        return _page(request, web, problems, 422)
    held = web.passwords.hash(password)
    with people_gate(web.database, web.settings.clock()) as gate:
        gate.set_password(one.id, held, visitor_of(request).session)
    return RedirectResponse("/me", 303)


@router.post("/me/one-time")
def set_one_time(request: Request, web: WebDep, form: FormDep) -> Response:
    """Shows a secret, takes the password that follows from it, or asks for none any more."""
    one, sealed = _me(request, web), text_of(form, "sealed")
    if not sealed:
        problems = _check(request, web, form)
        if problems:
            return _page(request, web, problems, 422)
        if text_of(form, "do") == "off":
            with people_gate(web.database, web.settings.clock()) as gate:
                gate.set_one_time(one.id, "")
            return RedirectResponse("/me", 303)
        return _page(request, web, set_up=_set_up(web, one, new_secret()))
    try:
        secret = str(_seal(web, one).loads(sealed, max_age=SET_UP_S))
    except BadSignature:
        return RedirectResponse("/me", 303)
    now = web.settings.clock()
    step = step_of(secret, text_of(form, "code"), now)
    if step is None:
        problems = [InputProblem("code", NOT_NOW, {})]
        return _page(request, web, problems, 422, _set_up(web, one, secret, problems))
    with people_gate(web.database, now) as gate:
        gate.set_one_time(one.id, secret, step)
    return RedirectResponse("/me", 303)


@router.post("/me/passkey/ask")
def ask_passkey(request: Request, web: WebDep, form: FormDep) -> Response:
    """What the browser is asked to make a passkey by."""
    from app.access import passkeys  # slow to load, and few ask for it

    problems = _check(request, web, form)
    if problems:
        return JSONResponse({"problem": say(problems[0], "us")}, 422)
    url, one = request.url, _me(request, web)
    place = passkeys.place_of(url.scheme, url.hostname or "", url.port)
    if place is None:
        words = _("Passkeys need HTTPS and a name in place of a bare address.")
        return JSONResponse({"problem": words}, 422)
    known = [held.key for held in passkeys_of(web.database, one.id)]
    asked, challenge = passkeys.ask_to_make(place, one.id, one.name, known)
    web.challenges.keep(request.state.visit, challenge, f"make {one.id}", web.settings.clock())
    return Response(asked, media_type="application/json")


@router.post("/me/passkey")
def keep_passkey(request: Request, web: WebDep, form: FormDep) -> Response:
    """Keeps the passkey that a browser has made."""
    from app.access import passkeys

    url, one, now = request.url, _me(request, web), web.settings.clock()
    place = passkeys.place_of(url.scheme, url.hostname or "", url.port)
    challenge = web.challenges.take(request.state.visit, f"make {one.id}", now)
    try:
        if place is None or challenge is None:
            raise passkeys.BadPasskey
        made = passkeys.made(place, challenge, text_of(form, "answer"))
    except passkeys.BadPasskey:
        words = _("This passkey did not answer as it should. Try once more.")
        return JSONResponse({"problem": words}, 422)
    name = " ".join(text_of(form, "name").split())[:LONGEST_NAME] or _("Passkey")
    with people_gate(web.database, now) as gate:
        gate.add_passkey(one.id, made.key, made.public, made.count, name)
    return JSONResponse({"then": "/me"})


@router.post("/me/passkey/forget")
def forget_passkey(request: Request, web: WebDep, form: FormDep) -> Response:
    """Lets one of one's passkeys open nothing any more, with the present password."""
    problems = _check(request, web, form)
    if problems:
        return _page(request, web, problems, 422)
    with people_gate(web.database, web.settings.clock()) as gate:
        gate.forget_passkey(_me(request, web).id, text_of(form, "key"))
    return RedirectResponse("/me", 303)


@router.post("/me/sign-out")
def sign_out_elsewhere(request: Request, web: WebDep, _form: FormDep) -> Response:
    """Ends every session of one's own but this."""
    visitor = visitor_of(request)
    with people_gate(web.database, web.settings.clock()) as gate:
        gate.sign_out(_me(request, web).id, but=visitor.session)
    return RedirectResponse("/me", 303)


# ---- what is shared ------------------------------------------------------------------------------


def _me(request: Request, web: Web) -> Member:
    """Whoever is signed in."""
    own = visitor_of(request).person_id
    for one in members_of(web.database):
        if one.id == own:
            return one
    raise HTTPException(404, _("Nobody is signed in here."))


def _check(request: Request, web: Web, form: FormDep) -> list[InputProblem]:
    """What is wrong with the present password, which is asked for before a way in changes."""
    one = _me(request, web)
    keys = counted_for(request, one.name)
    wait = begin_try(web, keys, "present")
    if wait is not None:
        return [wait]
    if not web.passwords.match(one.password, text_of(form, "present")):
        return [InputProblem("present", NOT_YOURS, {})]
    web.sign_ins.succeeded(keys)
    return []


def _seal(web: Web, one: Member) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(web.settings.secret_key(), salt=f"one-time {one.id}")


def _set_up(web: Web, one: Member, secret: str, problems: Sequence[InputProblem] = ()) -> SetUp:
    picture = code_picture(
        address_of(secret, one.name), _("A code for the app that shows one-time passwords")
    )
    field = KeyField(
        "code", _("Six digits that the app shows"), fills="one-time-code",
        messages=messages_of(problems, "code"),
    )  # fmt: skip
    return SetUp(secret, picture, str(_seal(web, one).dumps(secret)), field)


def _page(
    request: Request,
    web: Web,
    problems: Sequence[InputProblem] = (),
    status: int = 200,
    set_up: SetUp | None = None,
) -> Response:
    one, own = _me(request, web), visitor_of(request).session
    sessions = tuple(
        SessionLine(
            held.where or _("a browser"), moment(held.made_at, UTC), moment(held.seen_at, UTC),
            held.digest == own,
        )
        for held in sessions_of(web.database, one.id)
    )  # fmt: skip
    held_keys = passkeys_of(web.database, one.id)
    page = MePage(
        answer=_("{name}, {role}.", name=one.name, role=role_words(one.role)),
        is_crew=one.role == ATTENDANT,
        has_one_time=bool(one.one_time),
        set_up=set_up,
        passkeys=tuple(
            PasskeyLine(held.key, held.name, moment(held.made_at, UTC)) for held in held_keys
        ),
        sessions=sessions,
        fields=new_password(problems),
        present=KeyField(
            "present", _("Present password"), "password", "current-password",
            messages=messages_of(problems, "present"),
        ),
        summary=summary(problems, "us"),
    )  # fmt: skip
    return render(
        request, "people/me.html", page, title=_("My sign-in"), current="me", status=status
    )

"""The page Sign in: with name and password, with a passkey, or with a short code on a phone that
was let in; and its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from app.access.one_time import step_of
from app.access.table import ATTENDANT, MANAGER, OWNER
from app.catalogue import _, say
from app.pages.deps import FormDep, Web, WebDep, render, visitor_of
from app.pages.forms import text_of
from app.pages.links import SESSION_COOKIE, LinkRefused, drop_key, is_here, phone_of
from app.pages.people.fields import (
    WRONG,
    KeyField,
    begin_session,
    begin_try,
    counted_for,
    safe_way,
)
from app.sites.people import Member, has_owner, members_of, passkeys_of, people_gate

router = APIRouter()
WRONG_CODE = "This name and code do not belong together."


@dataclass(frozen=True, slots=True)
class SignInPage:
    """The page.

    Attributes:
        then: where it leads on. wrong: why nobody was signed in; empty at first.
        crew: names of attendants to choose from, on a phone that was let in; else empty.
        fields: of the form. begins: whether nobody has an account yet.
        is_here: whether it is open on the machine itself. has_passkeys: whether one can be used.
    """

    then: str
    wrong: str
    crew: tuple[str, ...]
    fields: tuple[KeyField, ...]
    begins: bool
    is_here: bool
    has_passkeys: bool


@router.get("/sign-in")
def show_sign_in(request: Request, web: WebDep, then: str = "/") -> Response:
    """The page; whoever need not sign in is led on."""
    if visitor_of(request).role in (OWNER, MANAGER, ATTENDANT):
        return RedirectResponse(safe_way(then), 303)
    return _page(request, web, then)


@router.post("/sign-in")
def sign_in(request: Request, web: WebDep, form: FormDep) -> Response:
    """Signs somebody in; what was wrong of name, password and one-time password is not told."""
    name, then = " ".join(text_of(form, "name").split()), text_of(form, "then")
    phone_id = _phone_id(request, web)
    as_crew = phone_id is not None and "code" not in form and "pin" in form
    keys = counted_for(request, name, phone_id if as_crew else None)
    wait = begin_try(web, keys, "name")
    if wait is not None:
        return _page(request, web, then, name, say(wait, "us"), 429)
    one = _named(web, name)
    if as_crew:
        one = (
            one if one is not None and one.role == ATTENDANT and _is_at(web, request, one) else None
        )
        is_right = web.passwords.match(one.password if one else "", text_of(form, "pin"))
    else:
        one = one if one is not None and one.role != ATTENDANT else None
        is_right = web.passwords.match(one.password if one else "", text_of(form, "password"))
        is_right = is_right and one is not None and _second(web, one, text_of(form, "code"))
    if one is None or not is_right:
        return _page(request, web, then, name, _(WRONG_CODE if as_crew else WRONG), 403)
    web.sign_ins.succeeded(keys)
    return begin_session(request, web, one.id, then, phone_id if as_crew else None)


@router.post("/sign-out")
def sign_out(request: Request, web: WebDep, _form: FormDep) -> Response:
    """Ends this session."""
    visitor = visitor_of(request)
    if visitor.person_id is not None:
        with people_gate(web.database, web.settings.clock()) as gate:
            gate.sign_out(visitor.person_id, visitor.session)
    answer = RedirectResponse("/sign-in", 303)
    drop_key(answer, request, SESSION_COOKIE)
    # What a browser kept of pages goes too, but no entry that a phone has yet to send.
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer


# ---- passkeys ------------------------------------------------------------------------------------


@router.post("/sign-in/passkey/ask")
def ask_passkey(request: Request, web: WebDep, _form: FormDep) -> Response:
    """What the browser is asked to use a passkey by."""
    from app.access import passkeys  # slow to load, and few ask for it

    url = request.url
    place = passkeys.place_of(url.scheme, url.hostname or "", url.port)
    if place is None:
        return _refused(_("Passkeys need HTTPS and a name in place of a bare address."))
    asked, challenge = passkeys.ask_to_use(place)
    web.challenges.keep(request.state.visit, challenge, "use", web.settings.clock())
    return Response(asked, media_type="application/json")


@router.post("/sign-in/passkey")
def use_passkey(request: Request, web: WebDep, form: FormDep) -> Response:
    """Signs in whoever's passkey answered."""
    from app.access import passkeys

    now, answer = web.settings.clock(), text_of(form, "answer")
    keys = counted_for(request, "")
    wait = begin_try(web, keys, "name")
    if wait is not None:
        return _refused(say(wait, "us"), 429)
    url = request.url
    place = passkeys.place_of(url.scheme, url.hostname or "", url.port)
    challenge = web.challenges.take(request.state.visit, "use", now)
    held = {one.key: one for one in passkeys_of(web.database)}.get(passkeys.key_of(answer))
    if place is None or challenge is None or held is None:
        return _refused(_("No account here knows this passkey, or it was asked for too long ago."))
    try:
        count = passkeys.used(place, challenge, answer, held.public, held.count)
    except passkeys.BadPasskey:
        return _refused(_("This passkey did not answer as it should. Try once more."))
    with people_gate(web.database, now) as gate:
        gate.count_passkey(held.key, count)
    web.sign_ins.succeeded(keys)
    signed = begin_session(request, web, held.person_id, text_of(form, "then"))
    led = JSONResponse({"then": signed.headers["location"]})
    for cookie in signed.headers.getlist("set-cookie"):
        led.headers.append("set-cookie", cookie)
    return led


def _refused(words: str, status: int = 403) -> Response:
    return JSONResponse({"problem": words}, status)


# ---- what is shared ------------------------------------------------------------------------------


def _named(web: Web, name: str) -> Member | None:
    folded = name.casefold()
    return next((one for one in members_of(web.database) if one.name.casefold() == folded), None)


def _phone_id(request: Request, web: Web) -> int | None:
    """The phone by whose link this browser came; None for none."""
    try:
        phone = phone_of(request, web.database)
    except LinkRefused:
        return None
    return phone.phone_id if phone is not None and phone.may("logbook", "log") else None


def _is_at(web: Web, request: Request, one: Member) -> bool:
    """Whether somebody was let in at the site of this phone."""
    return one.name in _crew(web, request)


def _crew(web: Web, request: Request) -> tuple[str, ...]:
    """Names of attendants at the site of this phone; empty for another browser."""
    phone = None if _phone_id(request, web) is None else phone_of(request, web.database)
    if phone is None:
        return ()
    sites = {
        site.id for slug in phone.slugs or () for site in [web.site_at(slug)] if site is not None
    }
    crew = (one for one in members_of(web.database) if one.role == ATTENDANT)
    return tuple(one.name for one in crew if one.site_ids & sites)


def _second(web: Web, one: Member, typed: str) -> bool:
    """Whether the second means is right, where somebody has one; it is used up then."""
    if not one.one_time:
        return True
    step = step_of(one.one_time, typed, web.settings.clock(), one.one_time_step)
    if step is None:
        return False
    with people_gate(web.database, web.settings.clock()) as gate:
        return gate.take_step(one.id, step)


def _fields(name: str, wrong: str) -> tuple[KeyField, ...]:
    told = (wrong,) if wrong else ()
    hint = _("Six digits of your app; empty if you have not set that up.")
    return (
        KeyField("name", _("Name"), fills="username", value=name, messages=told),
        KeyField("password", _("Password"), "password", "current-password"),
        KeyField("code", _("One-time password"), fills="one-time-code", hint=hint),
    )


def _page(
    request: Request, web: Web, then: str, name: str = "", wrong: str = "", status: int = 200
) -> Response:
    crew: Sequence[str] = _crew(web, request)
    page = SignInPage(
        then=safe_way(then),
        wrong=wrong,
        crew=tuple(crew),
        fields=_fields(name, wrong),
        begins=not has_owner(web.database),
        is_here=is_here(request),
        has_passkeys=bool(passkeys_of(web.database)),
    )
    return render(
        request, "people/sign_in.html", page, title=_("Sign in"), current="sign-in", status=status
    )

"""Fields of forms to sign in by, what may be typed in them, and a session begun."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.access.codes import digest_of, new_secret
from app.access.limits import keys_of
from app.access.passwords import LEAST, MOST, faults_of
from app.access.sessions import LONGEST
from app.catalogue import _, say
from app.pages.deps import Web
from app.pages.forms import field_id, text_of
from app.pages.links import SESSION_COOKIE, is_here, set_key
from app.pages.security import VISIT_COOKIE
from app.sites.people import people_gate
from sim.errors import InputProblem, quoted
from sim.inputs.rows import Name

NAME = Name(name="name", label="Name", longest=60)
WRONG = "Name, password or one-time password is not right, or this account is not there."
TOO_MANY = "Too many tries were wrong. Try again in {seconds} seconds."
MISMATCH = "The two passwords are not the same."


@dataclass(frozen=True, slots=True)
class KeyField:
    """A field that a browser may fill in by itself: `kind` of its input, `fills` what with."""

    name: str
    label: str
    kind: str = "text"
    fills: str = "off"
    hint: str = ""
    value: str = ""
    messages: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """Anchor of the field."""
        return field_id(self.name)


def messages_of(problems: Sequence[InputProblem], field: str) -> tuple[str, ...]:
    """What is wrong with a field."""
    return tuple(say(one, "us") for one in problems if one.field == field)


def name_typed(form: FormData, problems: list[InputProblem]) -> str:
    """The name that a form gives somebody; a problem is added for what can be none."""
    name = " ".join(text_of(form, "name").split())
    if not name or NAME.wrong(name, None):
        sentence = "“{name}” can’t be a name. Enter 1 to {most} characters, the first not “=”."
        problems.append(
            InputProblem("name", sentence, {"name": quoted(name), "most": NAME.longest})
        )
    return name


def password_typed(form: FormData, name: str, problems: list[InputProblem]) -> str:
    """A new password, typed twice; a problem is added for what can be none."""
    typed = text_of(form, "password")
    for sentence in faults_of(typed, name):
        problems.append(InputProblem("password", sentence, {"least": LEAST, "most": MOST}))
    if not problems and typed != text_of(form, "again"):
        problems.append(InputProblem("again", MISMATCH, {}))
    return typed


def new_password(problems: Sequence[InputProblem]) -> tuple[KeyField, KeyField]:
    """The fields to choose a password in; what was typed is not sent back to the page."""
    hint = _("{least} characters or more; four or five words will do.", least=LEAST)
    return (
        KeyField(
            "password", _("New password"), "password", "new-password", hint,
            messages=messages_of(problems, "password"),
        ),
        KeyField(
            "again", _("The same once more"), "password", "new-password",
            messages=messages_of(problems, "again"),
        ),
    )  # fmt: skip


# ---- limits and sessions -------------------------------------------------------------------------


def counted_for(request: Request, account: str, phone_id: int | None = None) -> tuple[str, ...]:
    """What a try of this request counts for."""
    address = request.client.host if request.client else ""
    told = address if phone_id is None else f"phone {phone_id}"
    return keys_of(account, told, is_here=is_here(request))


def begin_try(web: Web, keys: Sequence[str], field: str) -> InputProblem | None:
    """Counts a try; a problem of a field if it may not be made yet."""
    left = web.sign_ins.begin(keys, web.settings.clock())
    if not left:
        return None
    return InputProblem(field, TOO_MANY, {"seconds": math.ceil(left.total_seconds())})


def begin_session(
    request: Request, web: Web, person_id: int, then: str, phone_id: int | None = None
) -> Response:
    """Signs somebody in and leads on; session and visit are new, so nothing of before is worth
    anything."""
    secret, now = new_secret(), web.settings.clock()
    where = request.headers.get("user-agent", "")
    with people_gate(web.database, now) as gate:
        gate.sign_in(person_id, digest_of(secret), where, phone_id=phone_id, over=now - LONGEST)
    answer = RedirectResponse(safe_way(then), 303)
    set_key(answer, request, SESSION_COOKIE, secret, None)
    set_key(answer, request, VISIT_COOKIE, web.seals.new_visit()[1], None)
    return answer


def safe_way(then: str) -> str:
    """Where a form leads on, if it is a page of this server; the first page else."""
    plain = then.startswith("/") and not then.startswith("//")
    return then if plain and then.isascii() and then.isprintable() and "\\" not in then else "/"

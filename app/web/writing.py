"""What every route that stores something shares: request keys, versions, somebody else's change."""

from __future__ import annotations

import secrets

from starlette.datastructures import FormData

from app.catalogue import _
from app.services.reading import Stale, label_of
from app.web.contexts.words import joined, moment
from app.web.forms import text_of


def new_request_key() -> str:
    """A key for one form: sent twice, it is carried out once."""
    return secrets.token_urlsafe(18)


def request_key_of(form: FormData) -> str:
    """The key that a form was drawn with; a fresh one if it has none."""
    return text_of(form, "request_key").strip()[:80] or new_request_key()


def version_of(form: FormData) -> int:
    """The version that a form was drawn from; -1, which is never current, if it names none."""
    text = text_of(form, "version").strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else -1


def stale_words(stale: Stale, timezone: str) -> str:
    """What somebody else changed since the form was drawn, and what to do."""
    if stale.at is None:
        return _("What you saw is not what is stored. Look at it as it is now, then store again.")
    return _(
        "{person} changed {fields} at {at}. What you typed is still here; look at it beside what "
        "is stored now, then store again.",
        person=stale.person,
        fields=joined([_(label_of(name)) for name in stale.fields[:6]]),
        at=moment(stale.at, timezone),
    )

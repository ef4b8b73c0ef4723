"""Pages for what can't be shown: plain sentences in the house style, never a traceback."""

from __future__ import annotations

import errno
from dataclasses import dataclass

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, Response
from starlette.exceptions import HTTPException
from starlette.templating import Jinja2Templates

from app.catalogue import _
from app.files.csv_table import LIMIT_BYTES
from app.pages.security import TOKEN_FIELD, FormRefused, is_own_page
from app.sites.reading import CannotOpen


@dataclass(frozen=True, slots=True)
class ErrorPage:
    """What an error page says.

    Attributes:
        title: window title and page name.
        answer: one sentence, what happened.
        advice: what to do now.
        resend: address to send a form to again, with what was typed; empty for none.
        typed: names and values of that form.
        token: a fresh form token for it.
    """

    title: str
    answer: str
    advice: str
    resend: str = ""
    typed: tuple[tuple[str, str], ...] = ()
    token: str = ""


def page_for(status: int, detail: str = "") -> ErrorPage:
    """The page of a status; `detail` is a sentence of our own that says it better."""
    megabytes = LIMIT_BYTES // 1_000_000
    if status == 404:
        return ErrorPage(
            _("Not here"),
            detail or _("There is no page at this address."),
            _("It may have been renamed, or the address was mistyped."),
        )
    if status == 405:
        return ErrorPage(
            _("Not this way"),
            _("This address can’t be used that way."),
            _("Nothing was stored. Open the page and use its own buttons."),
        )
    if status == 413:
        return ErrorPage(
            _("Too large"),
            _("What was sent is larger than can be taken. Nothing was stored."),
            _(
                "A file may have up to {size} MB; ten years of hourly counts need 2 MB. Check "
                "that you chose the right file, or split it by year.",
                size=megabytes,
            ),
        )
    if status == 422:
        return ErrorPage(
            _("Not understood"),
            _("This address asks for something that can’t be read."),
            _("Nothing was stored. Open the page again and use its own links and buttons."),
        )
    if status < 500:
        return ErrorPage(
            _("Not understood"),
            detail or _("This request can’t be answered."),
            _("Nothing was stored."),
        )
    return ErrorPage(
        _("Something broke"),
        _("Clothcast made a mistake here. Nothing was stored."),
        _(
            "Go back and try again. If it happens again, the window in which Clothcast runs shows "
            "what went wrong; keep that text for whoever looks after it."
        ),
    )


def bare_page(status: int) -> ErrorPage:
    """The page in place of a bare refusal of the libraries, which come before any route."""
    if status != 400:
        return page_for(status)
    return ErrorPage(
        _("Not understood"),
        _("Clothcast does not answer to this name."),
        _(
            "Open it by the address that it printed when it started. To be reached by another "
            "name or address, start it with that in CLOTHCAST_HOST."
        ),
    )


def refused_form(request: Request, refused: FormRefused, token: str) -> ErrorPage:
    """The page for a form whose token didn't hold; what a page of ours sent can be sent again.

    A form is ours if its token was once this browser's, or if the browser says that a page of
    this address sent it; the token may then be of another secret or of a visit that is forgotten.
    What another site made up is never offered, or a press would be all that it still needs.
    """
    form = getattr(request.state, "form", None)
    if form is None or not (refused.expired or is_own_page(request.headers)):
        return ErrorPage(
            _("Not stored"),
            _("This form did not come from a page that is open in this browser."),
            _("Nothing was stored. Open the page again and send the form from there."),
        )
    typed = tuple((k, v) for k, v in form.multi_items() if isinstance(v, str) and k != TOKEN_FIELD)
    has_file = any(not isinstance(v, str) for _name, v in form.multi_items())
    title = _("Not stored yet")
    answer = _("This page was open too long. Nothing was stored.")
    if not refused.expired:
        answer = _(
            "This page was open before Clothcast or this browser was set up anew. Nothing was "
            "stored."
        )
    if has_file:
        return ErrorPage(title, answer, _("Go back, load the page anew and choose the file again."))
    return ErrorPage(
        title,
        answer,
        _("What you typed is kept. Send it again, or leave it."),
        request.url.path,
        typed,
        token,
    )


DISK_FAULTS = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EPERM, errno.EIO)
"""What a disk may refuse; anything else that a file can do is a fault of the program."""


def disk_page(request: Request, words: str, token: str) -> ErrorPage:
    """The page where a disk or the database took nothing; a form can be sent again as typed.

    Args:
        words: a sentence of what is wrong and what to do.
    """
    title, form = _("Not stored yet"), getattr(request.state, "form", None)
    if form is None:
        return ErrorPage(_("Not to be had now"), words, _("What was stored before is as it was."))
    typed = tuple((k, v) for k, v in form.multi_items() if isinstance(v, str) and k != TOKEN_FIELD)
    if any(not isinstance(v, str) for _name, v in form.multi_items()):
        advice = _("What was stored before is as it was. Go back then, and choose the file again.")
        return ErrorPage(title, words, advice)
    advice = _("What was stored before is as it was, and what you typed is kept. Send it again.")
    return ErrorPage(title, words, advice, request.url.path, typed, token)


def disk_words(fault: OSError) -> str:
    """What is wrong with a disk, and what to do about it, in a sentence."""
    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return _("The disk is full, so nothing was stored: make room on it, then try again.")
    reason = (fault.strerror or str(fault)).lower()
    return _(
        "The data folder can’t be written ({reason}), so nothing was stored: allow writing in it, "
        "then try again.",
        reason=reason,
    )


def draw(templates: Jinja2Templates, page: ErrorPage) -> str:
    """The page as HTML; it needs neither the database nor a site, so it can always be drawn."""
    return templates.get_template("error.html").render(page=page)


def install(app: FastAPI, templates: Jinja2Templates) -> None:
    """Registers the handlers of every error with an app."""

    def answer(status: int, page: ErrorPage) -> Response:
        return HTMLResponse(draw(templates, page), status_code=status)

    async def on_http(request: Request, fault: Exception) -> Response:
        if not isinstance(fault, HTTPException):
            raise fault
        status = fault.status_code
        own_words = fault.detail if status == 404 and fault.detail != "Not Found" else ""
        response = answer(status, page_for(status, own_words))
        response.headers.update(fault.headers or {})
        return response

    async def on_invalid(request: Request, fault: Exception) -> Response:
        return answer(422, page_for(422))

    async def on_refused(request: Request, fault: Exception) -> Response:
        if not isinstance(fault, FormRefused):
            raise fault
        token = request.app.state.web.seals.token(request.state.visit)
        return answer(403, refused_form(request, fault, token))

    async def on_unusable(request: Request, fault: Exception) -> Response:
        if isinstance(fault, OSError):
            if fault.errno not in DISK_FAULTS:
                raise fault
            words = disk_words(fault)
        elif isinstance(fault, CannotOpen):
            words = _(fault.sentence, **fault.values)
        else:
            raise fault
        token = request.app.state.web.seals.token(request.state.visit)
        return answer(507, disk_page(request, words, token))

    async def on_broken(request: Request, fault: Exception) -> Response:
        # The server itself writes the traceback to the window in which it runs.
        return answer(500, page_for(500))

    app.add_exception_handler(HTTPException, on_http)
    app.add_exception_handler(RequestValidationError, on_invalid)
    app.add_exception_handler(FormRefused, on_refused)
    app.add_exception_handler(CannotOpen, on_unusable)
    app.add_exception_handler(OSError, on_unusable)
    app.add_exception_handler(Exception, on_broken)

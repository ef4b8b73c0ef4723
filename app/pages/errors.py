"""Pages for what can't be shown: plain sentences in the house style, never a traceback."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.templating import Jinja2Templates

from app.access.passwords import TooBusy
from app.catalogue import _
from app.files.csv_table import LIMIT_BYTES
from app.pages.links import ADVICE, LinkRefused, SignInNeeded
from app.pages.security import READING, TOKEN_FIELD, FormRefused, is_own_page
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


JSON = "application/json"
"""What a script of ours asks for, which shows a refusal itself."""
WORDS = {
    404: (
        "Not here",
        "There is no page at this address.",
        "It may have been renamed, or the address was mistyped.",
    ),
    405: (
        "Not this way",
        "This address can’t be used that way.",
        "Nothing was stored. Open the page and use its own buttons.",
    ),
    413: (
        "Too large",
        "What was sent is larger than can be taken. Nothing was stored.",
        "A file may have up to {size} MB; ten years of hourly counts need 2 MB. Check "
        "that you chose the right file, or split it by year.",
    ),
    414: (
        "Too long",
        "This link is longer than any that Clothcast makes.",
        "Nothing was stored. Ask whoever sent it to store the plan and send the link of that.",
    ),
    422: (
        "Not understood",
        "This address asks for something that can’t be read.",
        "Nothing was stored. Open the page again and use its own links and buttons.",
    ),
}
"""Title, answer and advice by status."""
REFUSED = ("Not understood", "This request can’t be answered.", "Nothing was stored.")
BROKEN = (
    "Something broke",
    "Clothcast made a mistake here. Nothing was stored.",
    "Go back and try again. If it happens again, the window in which Clothcast runs shows "
    "what went wrong; keep that text for whoever looks after it.",
)
OTHER_NAME = (
    "Not understood",
    "Clothcast does not answer to this name.",
    "Open it by the address that it printed when it started. To be reached by another "
    "name or address, start it with that in CLOTHCAST_HOST.",
)


SIGN_IN = (
    "Nothing was stored. Sign in in another window, then go back and send what you typed again."
)
BUSY = (
    "Not now",
    "Too many people sign in at this moment.",
    "Nothing was stored. Try again in ten seconds.",
)


def page_for(status: int, detail: str = "") -> ErrorPage:
    """The page of a status; `detail` is a sentence of our own that says it better."""
    return _worded(WORDS.get(status, REFUSED if status < 500 else BROKEN), detail)


def bare_page(status: int) -> ErrorPage:
    """The page in place of a bare refusal of the libraries, which come before any route."""
    return _worded(OTHER_NAME) if status == 400 else page_for(status)


def _worded(words: tuple[str, str, str], detail: str = "") -> ErrorPage:
    title, answer, advice = words
    return ErrorPage(_(title), detail or _(answer), _(advice, size=LIMIT_BYTES // 1_000_000))


def refused_form(request: Request, refused: FormRefused) -> ErrorPage:
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
    answer = _("This page was open too long. Nothing was stored.")
    if not refused.expired:
        answer = _(
            "This page was open before Clothcast or this browser was set up anew. Nothing was "
            "stored."
        )
    with_file = _("Go back, load the page anew and choose the file again.")
    kept = _("What you typed is kept. Send it again, or leave it.")
    return _to_send_again(request, form, answer, with_file, kept)


def disk_page(request: Request, words: str) -> ErrorPage:
    """The page where a disk or the database took nothing; a form can be sent again as typed.

    Args:
        words: a sentence of what is wrong and what to do.
    """
    form = getattr(request.state, "form", None)
    if form is None:
        return ErrorPage(_("Not to be had now"), words, _("What was stored before is as it was."))
    with_file = _("What was stored before is as it was. Go back then, and choose the file again.")
    kept = _("What was stored before is as it was, and what you typed is kept. Send it again.")
    return _to_send_again(request, form, words, with_file, kept)


def _to_send_again(
    request: Request, form: FormData, answer: str, with_file: str, kept: str
) -> ErrorPage:
    """A form that was not stored, to be sent again; advice `with_file` where it had a file."""
    title, items = _("Not stored yet"), form.multi_items()
    if any(not isinstance(value, str) for _name, value in items):
        return ErrorPage(title, answer, with_file)
    typed = tuple((k, v) for k, v in items if isinstance(v, str) and k != TOKEN_FIELD)
    token = request.app.state.web.seals.token(request.state.visit)
    return ErrorPage(title, answer, kept, request.url.path, typed, token)


DISK_FAULTS = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EPERM, errno.EIO)
"""What a disk may refuse; anything else that a file can do is a fault of the program."""


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

    def answer(request: Request, status: int, page: ErrorPage) -> Response:
        if request.headers.get("accept") == JSON:
            return JSONResponse({"problem": f"{page.answer} {page.advice}"}, status)
        return HTMLResponse(draw(templates, page), status_code=status)

    @app.exception_handler(HTTPException)
    async def on_http(request: Request, fault: HTTPException) -> Response:
        status = fault.status_code
        own_words = fault.detail if status == 404 and fault.detail != "Not Found" else ""
        response = answer(request, status, page_for(status, own_words))
        response.headers.update(fault.headers or {})
        return response

    @app.exception_handler(RequestValidationError)
    async def on_invalid(request: Request, fault: RequestValidationError) -> Response:
        return answer(request, 422, page_for(422))

    @app.exception_handler(FormRefused)
    async def on_refused(request: Request, fault: FormRefused) -> Response:
        return answer(request, 403, refused_form(request, fault))

    @app.exception_handler(LinkRefused)
    async def on_guest(request: Request, fault: LinkRefused) -> Response:
        words = _("Not for this phone"), _(fault.sentence), _(ADVICE[fault.sentence])
        return answer(request, 403, ErrorPage(*words))

    @app.exception_handler(SignInNeeded)
    async def on_stranger(request: Request, fault: SignInNeeded) -> Response:
        wants_page = request.headers.get("accept") != JSON
        if request.method in READING and wants_page:
            asked = request.url.path + (f"?{request.url.query}" if request.url.query else "")
            way = "" if asked == "/" else f"?then={quote(asked, safe='')}"
            return RedirectResponse(f"/sign-in{way}", 303)
        words = "Not signed in", "Nobody is signed in in this browser any more.", SIGN_IN
        return answer(request, 401, _worded(words))

    @app.exception_handler(TooBusy)
    async def on_busy(request: Request, fault: TooBusy) -> Response:
        response = answer(request, 503, _worded(BUSY))
        response.headers["Retry-After"] = "10"
        return response

    @app.exception_handler(CannotOpen)
    async def on_closed(request: Request, fault: CannotOpen) -> Response:
        return answer(request, 507, disk_page(request, _(fault.sentence, **fault.values)))

    @app.exception_handler(OSError)
    async def on_disk(request: Request, fault: OSError) -> Response:
        if fault.errno not in DISK_FAULTS:
            raise fault
        return answer(request, 507, disk_page(request, disk_words(fault)))

    @app.exception_handler(Exception)
    async def on_broken(request: Request, fault: Exception) -> Response:
        # The server itself writes the traceback to the window in which it runs.
        return answer(request, 500, page_for(500))

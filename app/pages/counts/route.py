"""The Counts page: hourly counts and weather in from a CSV file and out again, marked days."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData, UploadFile

from app.answers.file_study import FileView, begin_reading, drop_file, open_file
from app.catalogue import _
from app.files.hourly import Preview
from app.files.uploads import Pending, Waiting, WaitingFile
from app.pages.counts.view import counts_page, preview_page, reading_page
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.downloads import file_answer
from app.pages.forms import text_of
from app.pages.security import UPLOAD_LIMIT_BYTES
from app.pages.writing import new_request_key, read_day, request_key_of, stale_words, version_of
from app.sites.past import counts_csv, in_short, weather_csv
from app.sites.reading import Outcome, Stale, StoredSite, gate, history_of, site_at
from sim.errors import InputError, InputProblem

router = APIRouter()
KINDS = ("counts", "weather")
CSV = "text/csv; charset=utf-8"


@router.get("/{slug}/counts")
def show_counts(
    request: Request, site: SiteDep, web: WebDep, stored: str = "", file: str = ""
) -> Response:
    """What is stored, and the form for a file; or, with `file`, what a waiting file would bring."""
    if file:
        view = _waiting_file(web, site, file)
        if view.preview is None:
            return _reading(request, site, view)
        return _preview(request, web, site, view.file.pending, view.preview)
    done = {
        "yes": _("Stored."),
        "same": _("All of it was stored already, so nothing was changed."),
        "dropped": _("The file was let go. Nothing of it was stored."),
        "marked": _("The day is marked."),
    }.get(stored, "")
    return _page(request, web, site, done=done)


@router.get("/{slug}/counts.csv")
def download_counts(site: SiteDep, web: WebDep) -> Response:
    """The stored counts as a CSV file."""
    text = counts_csv(history_of(web.database, site.id), site.data.site.timezone)
    return file_answer(text.encode(), f"{site.slug}-counts.csv", CSV)


@router.get("/{slug}/weather.csv")
def download_weather(site: SiteDep, web: WebDep) -> Response:
    """The stored weather as a CSV file."""
    text = weather_csv(history_of(web.database, site.id), site.data.site.timezone)
    return file_answer(text.encode(), f"{site.slug}-weather.csv", CSV)


@router.post("/{slug}/counts/preview", max_body_size=UPLOAD_LIMIT_BYTES)
def take_file(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Keeps a file apart and shows what it would bring; stores nothing."""
    sent = form.get("file")
    kind, counted = text_of(form, "kind"), text_of(form, "counted")
    typed = {"kind": kind, "counted": counted}
    problems = []
    raw = sent.file.read() if isinstance(sent, UploadFile) and sent.filename else None
    if raw is None:
        problems.append(InputProblem("file", _("No file was chosen. Choose a CSV file.")))
    if kind not in KINDS:
        sentence = "“{kind}” is not what a file can hold. Choose counts or weather."
        problems.append(InputProblem("kind", sentence, {"kind": kind}))
    if problems or raw is None or not isinstance(sent, UploadFile):
        return _page(request, web, site, problems=problems, typed=typed, status=422)
    name = (sent.filename or "")[-80:]
    pending = _waiting(web).keep(raw, site.id, kind, counted, name, web.now())
    return RedirectResponse(f"/{site.slug}/counts?file={pending.token}", 303)


@router.post("/{slug}/counts/confirm")
def confirm(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores a waiting file, or lets it go."""
    token = text_of(form, "file")
    if "drop" in form:
        _let_go(web, site, token)
        return RedirectResponse(f"/{site.slug}/counts?stored=dropped", 303)
    view = _waiting_file(web, site, token)
    pending, preview = view.file.pending, view.preview
    if preview is None:  # forgotten meanwhile, or of another version of the site: read it first
        return RedirectResponse(f"/{site.slug}/counts?file={pending.token}", 303)
    try:
        outcome = _store(web, site, preview, form)
    except InputError as fault:
        return _preview(request, web, site, pending, preview, fault.problems, 422)
    except Stale as fault:
        words = stale_words(fault, site.data.site.timezone)
        problem = InputProblem("file", "{words}", {"words": words})
        fresh = site_at(web.database, site.slug) or site
        return _preview(request, web, fresh, pending, preview, [problem], 409)
    _let_go(web, site, token)
    stored = "yes" if outcome.changed else "same"
    return RedirectResponse(f"/{site.slug}/counts?stored={stored}", 303)


@router.post("/{slug}/counts/again")
def read_again(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Reads a waiting file anew where that failed or was stopped."""
    view = _waiting_file(web, site, text_of(form, "file"))
    if view.preview is None:
        begin_reading(site, view.file, web.runner)
    return RedirectResponse(f"/{site.slug}/counts?file={view.file.pending.token}", 303)


@router.post("/{slug}/counts/days")
def mark_day(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Marks a day as closed or as an event, or takes its mark away."""
    typed = {name: text_of(form, name).strip() for name in ("day", "day_kind", "day_note")}
    problems: list[InputProblem] = []
    day = read_day("day", typed["day"], problems)
    if day is None:
        return _page(request, web, site, problems=problems, typed=typed, status=422)
    try:
        with gate(web.database, web.now()) as writes:
            writes.mark_day(
                site.id,
                day,
                typed["day_kind"],
                typed["day_note"],
                expected_version=version_of(form),
                request_key=request_key_of(form),
            )
    except InputError as fault:
        return _page(request, web, site, problems=fault.problems, typed=typed, status=422)
    except Stale as fault:
        words = stale_words(fault, site.data.site.timezone)
        fresh = site_at(web.database, site.slug) or site
        return _page(request, web, fresh, stale=words, typed=typed, status=409)
    return RedirectResponse(f"/{site.slug}/counts?stored=marked", 303)


def _waiting(web: Web) -> Waiting:
    return Waiting(web.settings.data_dir / "pending")


def _let_go(web: Web, site: StoredSite, token: str) -> None:
    found = _waiting(web).find(token, site.id, web.now())
    if found is not None:
        drop_file(site, WaitingFile(*found), web.runner)
        _waiting(web).drop(token)


def _waiting_file(web: Web, site: StoredSite, token: str) -> FileView:
    """A waiting file, as far as it is read; a 404 page where it waits no longer."""
    found = _waiting(web).find(token, site.id, web.now())
    if found is None:
        raise HTTPException(
            404, _("This file waits no longer: it was stored, let go, or kept for over two hours.")
        )
    return open_file(site, WaitingFile(*found), web.runner)


def _store(web: Web, site: StoredSite, preview: Preview, form: FormData) -> Outcome:
    given = version_of(form), request_key_of(form), "replace_all" in form
    found = preview.history
    if not (found.counts or found.weather):
        nothing = InputProblem("file", "The file names columns but has no line below them.")
        raise InputError(preview.problems or [nothing])
    with gate(web.database, web.now()) as writes:
        if found.counts:
            return writes.store_counts(site.id, found.counted, found.counts, *given)
        return writes.store_weather(site.id, found.weather, *given)


def _reading(request: Request, site: StoredSite, view: FileView) -> Response:
    """The page that waits until a large file is read."""
    page = reading_page(site, view)
    response = render(
        request, "counts/reading.html", page, title=_("Counts"), current="counts", site=site
    )
    if page.waiting is not None:
        ask_again(request, response)
    return response


def _preview(
    request: Request,
    web: Web,
    site: StoredSite,
    pending: Pending,
    preview: Preview,
    problems: Sequence[InputProblem] = (),
    status: int = 200,
) -> Response:
    history = history_of(web.database, site.id)
    held = history.counts if pending.kind == "counts" else history.weather
    page = preview_page(site, pending, preview, new_request_key(), bool(held), problems)
    return render(
        request, "counts/preview.html", page,
        title=_("Counts"), current="counts", site=site, status=status,
    )  # fmt: skip


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    done: str = "",
    stale: str = "",
    problems: Sequence[InputProblem] = (),
    typed: dict[str, str] | None = None,
    status: int = 200,
) -> Response:
    history = history_of(web.database, site.id)
    page = counts_page(
        site,
        in_short(history, site.data.site),
        history.days,
        new_request_key(),
        done=done,
        stale=stale,
        problems=problems,
        typed=typed,
    )
    return render(
        request, "counts/counts.html", page,
        title=_("Counts"), current="counts", site=site, status=status,
    )  # fmt: skip

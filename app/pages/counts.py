"""The Counts page: hourly counts and weather in from a CSV file and out again, marked days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import UploadFile

from app.answers.file_study import FileView, begin_reading, drop_file, open_file
from app.catalogue import WEEKDAYS, _, say
from app.files import uploads
from app.files.hourly import Preview, counts_csv, weather_csv
from app.files.uploads import Pending
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, file_answer, render
from app.pages.forms import Faults, FieldView, Summary, faults_of, field_id, summary, text_of
from app.pages.security import UPLOAD_LIMIT_BYTES
from app.pages.studies import StudyProgress, waiting
from app.pages.writing import (
    carry_out,
    new_request_key,
    read_day,
    request_key_of,
    version_of,
)
from app.sites.reading import (
    CountedDay,
    Gate,
    Outcome,
    PastInShort,
    StoredSite,
    WeatherDay,
    counted_days,
    history_of,
    in_short,
    weather_days,
)
from sim.errors import InputError, InputProblem
from sim.inputs import DayNote
from sim.units import UNITS, format_number

router = APIRouter()
KINDS = ("counts", "weather")
CSV = "text/csv; charset=utf-8"
SHOWN_PROBLEMS = 100
SHOWN_MARKS = 40


@dataclass(frozen=True, slots=True)
class CountsPage:
    """The Counts page.

    Attributes:
        what: what was counted, as a noun; why: what that means for every plan.
        means: cars by weekday and hour, a row a weekday; empty where nothing is stored.
        marked: days that stand out, newest first.
        kind, counted: fields of the form that takes a file; `counted` chooses what a column "cars"
            counted. file_faults: what is wrong with the file sent.
        marks: fields of the form that marks a day.
    """

    site: StoredSite
    request_key: str
    done: str
    stale: str
    summary: Summary | None
    past: PastInShort
    what: str
    why: str
    means: tuple[tuple[str, tuple[str, ...]], ...]
    marked: tuple[DayNote, ...]
    kind: FieldView
    counted: FieldView
    file_faults: tuple[str, ...]
    marks: tuple[FieldView, ...]


@dataclass(frozen=True, slots=True)
class ReadingPage:
    """How far a file is read; nothing of it is stored.

    Attributes:
        waiting: how far; None where it is not read.
        failed: why it is not.
    """

    slug: str
    pending: Pending
    waiting: StudyProgress | None
    failed: str


@dataclass(frozen=True, slots=True)
class PreviewPage:
    """What a file would bring; nothing of it is stored.

    Attributes:
        what, why: as of `CountsPage`; hours: that can be stored.
        counts, weather: days of the file, of which one is empty.
        units: symbols of temperature and rain as the reader has them.
        has_stored: whether anything of the kind is stored so far.
        refused: why it was not stored.
    """

    site: StoredSite
    request_key: str
    pending: Pending
    preview: Preview
    what: str
    why: str
    hours: int
    counts: tuple[CountedDay, ...]
    weather: tuple[WeatherDay, ...]
    units: tuple[str, str]
    problems: Sequence[InputProblem]
    has_stored: bool
    refused: Sequence[str]


def counted_words(counted: str) -> str:
    """What was counted, as a noun."""
    return _("cars washed") if counted == "washed" else _("cars arrived")


def why_it_matters(counted: str) -> str:
    """What the kind of count means for every plan made from it."""
    if counted == "washed":
        return _(
            "These are cars washed. In an hour in which the line was full, more came than were "
            "washed; such hours are a lower bound, and plans made from them see fewer lost cars "
            "than there are. Count arrivals at the entrance for a week if you can."
        )
    return _(
        "These are cars arrived, lost ones included: what plans need. A count of cars washed "
        "would leave out those that drove away."
    )


def _means(past: PastInShort) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple(
        (_(name), tuple("–" if v is None else format_number(v, 2) for v in (*cells, day)))
        for name, cells, day in zip(WEEKDAYS, past.means, past.day_means, strict=True)
    )


def _marks(typed: Mapping[str, str], faults: Faults) -> tuple[FieldView, ...]:
    return (
        FieldView(
            field_id("day"), "day", _("Date"), typed.get("day", ""),
            hint=_("Year-month-day, as in 2026-12-25."), numeric=False, wide=True,
            messages=faults.get("day", ()),
        ),
        FieldView(
            field_id("day_kind"), "day_kind", _("What it is"), typed.get("day_kind", "closed"),
            choices=(
                ("closed", _("closed")),
                ("event", _("an event")),
                ("", _("nothing special: take the mark away")),
            ),
            messages=faults.get("kind", ()) if "day_kind" in typed else (),
        ),
        FieldView(
            field_id("day_note"), "day_note", _("Note"), typed.get("day_note", ""),
            numeric=False, wide=True, messages=faults.get("note", ()),
        ),
    )  # fmt: skip


@router.get("/{slug}/counts")
def show_counts(
    request: Request, site: SiteDep, web: WebDep, stored: str = "", file: str = ""
) -> Response:
    """What is stored, and the form for a file; or, with `file`, what a waiting file would bring."""
    if file:
        view = _waiting_file(web, site, file)
        if view.preview is None:
            return _reading(request, site, view)
        return _preview(request, web, view.file.pending, view.preview, site)
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
    brought = preview.history
    given = version_of(form), request_key_of(form), "replace_all" in form

    def write(gate: Gate) -> Outcome:
        if not (brought.counts or brought.weather):
            nothing = InputProblem("file", "The file names columns but has no line below them.")
            raise InputError(preview.problems or [nothing])
        return gate.store_hours(site.id, brought, *given)

    def address(outcome: Outcome) -> str:
        _let_go(web, site, token)
        return f"/{site.slug}/counts?stored={'yes' if outcome.changed else 'same'}"

    return carry_out(web, site, write, partial(_preview, request, web, pending, preview), address)


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

    def write(gate: Gate) -> Outcome:
        return gate.mark_day(
            site.id,
            day,
            typed["day_kind"],
            typed["day_note"],
            expected_version=version_of(form),
            request_key=request_key_of(form),
        )

    again = partial(_page, request, web, typed=typed)
    return carry_out(web, site, write, again, f"/{site.slug}/counts?stored=marked")


def _waiting(web: Web) -> uploads.UploadFolder:
    return uploads.UploadFolder(web.settings.data_dir / "pending")


def _let_go(web: Web, site: StoredSite, token: str) -> None:
    found = _waiting(web).find(token, site.id, web.now())
    if found is not None:
        drop_file(site, found, web.runner)
        _waiting(web).drop(token)


def _waiting_file(web: Web, site: StoredSite, token: str) -> FileView:
    """A waiting file, as far as it is read; a 404 page where it waits no longer."""
    found = _waiting(web).find(token, site.id, web.now())
    if found is None:
        raise HTTPException(
            404, _("This file waits no longer: it was stored, let go, or kept for over two hours.")
        )
    return open_file(site, found, web.runner)


def _reading(request: Request, site: StoredSite, view: FileView) -> Response:
    """The page that waits until a large file is read."""
    running = None if view.running is None else waiting(view.running, view.key)
    failed = view.failed
    if running is None and not failed:
        failed = _("The file has not been read yet.")
    page = ReadingPage(site.slug, view.file.pending, running, failed)
    response = render(request, "counts/reading.html", page, current="counts", site=site)
    if running is not None:
        ask_again(request, response)
    return response


def _preview(
    request: Request,
    web: Web,
    pending: Pending,
    preview: Preview,
    site: StoredSite,
    *,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page of what a file would bring; `problems` or `stale` are why it was not stored."""
    system, past, brought = site.data.units, history_of(web.database, site.id), preview.history
    is_weather = pending.kind == "weather"
    hours = len(brought.weather if is_weather else brought.counts)
    page = PreviewPage(
        site=site,
        request_key=new_request_key(),
        pending=pending,
        preview=preview,
        what=_("weather") if is_weather else counted_words(brought.counted),
        why=why_it_matters(brought.counted) if hours and not is_weather else "",
        hours=hours,
        counts=() if is_weather else counted_days(brought.counts),
        weather=weather_days(brought.weather) if is_weather else (),
        units=(UNITS["temperature"].symbol(system), UNITS["rain"].symbol(system)),
        problems=preview.problems[: SHOWN_PROBLEMS + 1],
        has_stored=bool(past.weather if is_weather else past.counts),
        refused=[say(problem, system) for problem in problems] or ([stale] if stale else []),
    )
    return render(request, "counts/preview.html", page, current="counts", site=site, status=status)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    done: str = "",
    stale: str = "",
    problems: Sequence[InputProblem] = (),
    typed: Mapping[str, str] = {},
    status: int = 200,
) -> Response:
    """The page; `problems` and `typed` are of a form that could not be stored."""
    history = history_of(web.database, site.id)
    past, counted = in_short(history, site.data.site), site.data.history.counted
    faults = faults_of(problems, site.data.units)
    page = CountsPage(
        site=site,
        request_key=new_request_key(),
        done=done,
        stale=stale,
        summary=summary(problems, site.data.units),
        past=past,
        what=counted_words(counted),
        why=why_it_matters(counted),
        means=_means(past) if past.count_days else (),
        marked=tuple(sorted(history.days, reverse=True)[:SHOWN_MARKS]),
        kind=FieldView(
            "in-kind", "kind", _("What the file holds"), typed.get("kind", "counts"),
            choices=(("counts", _("Counts of cars")), ("weather", _("Weather"))),
        ),
        counted=FieldView(
            "in-counted", "counted", _("If its column is just “cars”, they are"),
            typed.get("counted", ""),
            hint=_("Arrived counts the lost ones too; washed is cut off when the line is full."),
            choices=(
                ("", _("the column’s name says it")),
                ("arrived", _("cars arrived")),
                ("washed", _("cars washed")),
            ),
        ),
        file_faults=faults.get("file", ()),
        marks=_marks(typed, faults),
    )  # fmt: skip
    return render(request, "counts/counts.html", page, current="counts", site=site, status=status)

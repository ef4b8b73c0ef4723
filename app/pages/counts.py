"""The Counts page: counts of any export and hourly weather in, both out again, marked days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import UploadFile

from app.answers.arrivals import ARRIVALS
from app.answers.file_study import FileView, begin_reading, drop_file, open_file
from app.catalogue import WEEKDAYS, _, say
from app.files import uploads
from app.files.hourly import Preview, counts_csv, weather_csv
from app.files.look import LINES, Look, Said
from app.files.stamps import ORDERS
from app.files.stops_file import SHAPE
from app.files.uploads import Pending
from app.pages.deps import FormDep, SiteDep, Web, WebDep, file_answer, render
from app.pages.forms import (
    Choices,
    Faults,
    FieldView,
    Summary,
    faults_of,
    field_id,
    summary,
    text_of,
)
from app.pages.security import UPLOAD_LIMIT_BYTES
from app.pages.waiting import REFRESH_S, StudyProgress, waiting
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
    KnownExport,
    Outcome,
    PastInShort,
    StoredSite,
    WeatherDay,
    counted_days,
    exports_of,
    gate,
    history_of,
    in_short,
    weather_days,
)
from app.words.counts import counted_hours
from app.words.expected import ExpectedWords, expected_words
from sim.errors import InputError, InputProblem
from sim.inputs import COUNTS_OF, TOTAL, TYPED, DayNote
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
            counted. file_faults: what is wrong with the file sent. pasted: lines in its place.
        known: shapes of export that are read without a question.
        marks: fields of the form that marks a day.
        expected: what is told of the coming days; None where there are no counts.
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
    pasted: str
    known: tuple[KnownExport, ...]
    marks: tuple[FieldView, ...]
    expected: ExpectedWords | None


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
class QuestionPage:
    """What a file leaves open.

    Attributes:
        question: what is asked; choices: answers and their words.
        seen: how the file was understood so far.
    """

    slug: str
    pending: Pending
    seen: Look
    key: str
    question: str
    choices: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PreviewPage:
    """What a file would bring; nothing of it is stored.

    Attributes:
        what, why: as of `CountsPage`; hours: that can be stored.
        counts, weather: days of the file, of which one is empty.
        units: symbols of temperature and rain as the reader has them.
        has_stored: whether anything of the kind is stored so far.
        refused: why it was not stored.
        examples: hours of an export in words; told: how it was understood; otherwise: fields by
            which that can be put right.
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
    examples: tuple[str, ...]
    told: tuple[str, ...]
    otherwise: tuple[FieldView, ...]


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
        if view.preview.look is not None and view.preview.look.ask is not None:
            return _question(request, site, view.file.pending, view.preview.look)
        return _preview(request, web, view.file.pending, view.preview, site)
    done = {
        "yes": _("Stored."),
        "same": _("All of it was stored already, so nothing was changed."),
        "dropped": _("The file was let go. Nothing of it was stored."),
        "marked": _("The day is marked."),
        "forgotten": _("The next file of that shape is read afresh."),
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
    typed = {"kind": kind, "counted": counted, "pasted": text_of(form, "pasted")}
    problems = []
    raw, name = None, _("pasted text")
    if isinstance(sent, UploadFile) and sent.filename:
        raw, name = sent.file.read(), sent.filename[-80:]
    elif typed["pasted"].strip():
        raw = typed["pasted"].encode()
    else:
        sentence = "No file was chosen. Choose one, or paste the lines of a table."
        problems.append(InputProblem("file", sentence))
    if kind not in KINDS:
        sentence = "“{kind}” is not what a file can hold. Choose counts or weather."
        problems.append(InputProblem("kind", sentence, {"kind": kind}))
    if problems or raw is None:
        return _page(request, web, site, problems=problems, typed=typed, status=422)
    said = Said(counted=counted if counted in COUNTS_OF else "")
    pending = _waiting(web).keep(raw, site.id, kind, said, name, web.now(), web.runner.asker)
    return RedirectResponse(f"/{site.slug}/counts?file={pending.token}", 303)


@router.post("/{slug}/counts/say")
def say_of_file(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Takes what somebody says of a waiting file, and reads it so."""
    view = _waiting_file(web, site, text_of(form, "file"))
    held = view.file.pending.said
    seen = view.preview.look if view.preview else None
    if seen is not None and seen.ask is None:
        held = seen.said
    keys = [key for key in asdict(held) if key in form]
    said = replace(held, **{key: text_of(form, key)[:200] for key in keys})
    _waiting(web).say(view.file, said)
    return RedirectResponse(f"/{site.slug}/counts?file={view.file.pending.token}", 303)


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
        outcome = gate.store_hours(site.id, brought, *given)
        seen = preview.look
        if seen is not None:
            gate.keep_export(site.id, seen.shape_key, pending.name, asdict(seen.said))
        return outcome

    def address(outcome: Outcome) -> str:
        _let_go(web, site, token)
        return f"/{site.slug}/counts?stored={'yes' if outcome.changed else 'same'}"

    return carry_out(web, site, write, partial(_preview, request, web, pending, preview), address)


@router.post("/{slug}/counts/forget")
def forget(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Forgets how files of a shape are read; a waiting one is then read afresh."""
    with gate(web.database, web.now()) as opened:
        opened.forget_export(site.id, text_of(form, "shape"))
    token = text_of(form, "file")
    found = _waiting(web).find(token, site.id, web.now()) if token else None
    if found is None:
        return RedirectResponse(f"/{site.slug}/counts?stored=forgotten", 303)
    _waiting(web).say(found, Said())
    return RedirectResponse(f"/{site.slug}/counts?file={token}", 303)


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
    running = waiting(view)
    failed = view.failed
    if running is None and not failed:
        failed = _("The file has not been read yet.")
    page = ReadingPage(site.slug, view.file.pending, running, failed)
    again = REFRESH_S if running is not None else 0
    return render(request, "counts/reading.html", page, current="counts", site=site, again=again)


def _question(request: Request, site: StoredSite, pending: Pending, seen: Look) -> Response:
    """The page that asks what a file leaves open."""
    if seen.ask is None:
        raise ValueError("nothing is open")
    system, ask = site.data.units, seen.ask
    choices = tuple((value, say(words, system)) for value, words in ask.choices)
    page = QuestionPage(site.slug, pending, seen, ask.key, say(ask.words, system), choices)
    return render(request, "counts/question.html", page, current="counts", site=site)


def _otherwise(seen: Look) -> tuple[FieldView, ...]:
    """Fields by which somebody says that a file is to be read otherwise."""
    said, reading = seen.said, seen.reading
    counted = FieldView(
        field_id("counted"), "counted", _("What was counted"), said.counted,
        choices=(("washed", _("cars washed")), ("arrived", _("cars arrived"))),
    )  # fmt: skip
    fields = [counted]
    if said.order in ORDERS:
        words: Choices = (("mdy", _("month, day, year")), ("dmy", _("day, month, year")))
        order = FieldView(
            field_id("order"), "order", _("Order of dates"), said.order, choices=words
        )
        fields.append(order)
    if said.count and reading is not None and reading.shape in ("hours", "days", "sales"):
        columns = [(LINES, _("Each line is one car")), *((name, name) for name in reading.names)]
        if said.count not in dict(columns):
            columns.insert(0, (said.count, _("as it is")))
        fields.append(
            FieldView(
                field_id("count"), "count", _("Column of cars"), said.count, choices=tuple(columns)
            )
        )
    return tuple(fields)


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
    seen = preview.look
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
        has_stored=bool(past.weather if is_weather else past.counted != TYPED and past.counts),
        refused=[say(problem, system) for problem in problems] or ([stale] if stale else []),
        examples=counted_hours(brought.counts) if seen else (),
        told=tuple(say(sentence, system) for sentence in seen.told) if seen else (),
        otherwise=_otherwise(seen) if seen and seen.reading else (),
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
    today = web.today(site)
    arrivals = web.begun(site, ARRIVALS, today)
    history = history_of(web.database, site.id)
    counted = site.data.history.counted
    shown = replace(history, counts=()) if counted == TYPED else history
    past = in_short(shown, site.data.site)
    faults = faults_of(problems, site.data.units)
    marked = sorted((one for one in history.days if one.kind != TOTAL), reverse=True)
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
        marked=tuple(marked[:SHOWN_MARKS]),
        kind=FieldView(
            "in-kind", "kind", _("What the file holds"), typed.get("kind", "counts"),
            choices=(("counts", _("Counts of cars")), ("weather", _("Weather"))),
        ),
        counted=FieldView(
            "in-counted", "counted", _("What was counted"),
            typed.get("counted", ""),
            hint=_("Arrived counts the lost ones too; washed is cut off when the line is full."),
            choices=(
                ("", _("the file says it; else cars washed")),
                ("arrived", _("cars arrived")),
                ("washed", _("cars washed")),
            ),
        ),
        file_faults=faults.get("file", ()),
        pasted=typed.get("pasted", ""),
        known=tuple(
            one for one in exports_of(web.database, site.id) if not one.shape.startswith(SHAPE)
        ),
        marks=_marks(typed, faults),
        expected=expected_words(arrivals, today) if past.count_days else None,
    )  # fmt: skip
    return render(request, "counts/counts.html", page, current="counts", site=site, status=status)

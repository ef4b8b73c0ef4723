"""The Counts page: what is stored, a file to bring in, and the preview of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.answers.file_study import FileView
from app.catalogue import WEEKDAYS, _, say
from app.files.hourly import Preview
from app.files.uploads import Pending
from app.pages.fields import FieldView, Summary, field_id, summary
from app.pages.studies.view import Waiting, waiting
from app.sites.past import CountedDay, PastInShort, WeatherDay, counted_days, weather_days
from app.sites.reading import StoredSite
from sim.errors import InputProblem
from sim.inputs import DayNote
from sim.units import UNITS, format_number

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
    refused: tuple[InputProblem, ...]


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


def counts_page(
    site: StoredSite,
    past: PastInShort,
    marked: Sequence[DayNote],
    request_key: str,
    *,
    done: str = "",
    stale: str = "",
    problems: Sequence[InputProblem] = (),
    typed: dict[str, str] | None = None,
) -> CountsPage:
    """Fills the page; `problems` and `typed` are of a form that could not be stored."""
    system, counted, typed = site.data.units, site.data.history.counted, typed or {}
    faults: dict[str, tuple[str, ...]] = {}
    for problem in problems:
        faults[problem.field] = (*faults.get(problem.field, ()), say(problem, system))
    return CountsPage(
        site=site,
        request_key=request_key,
        done=done,
        stale=stale,
        summary=summary(problems, system),
        past=past,
        what=counted_words(counted),
        why=why_it_matters(counted),
        means=_means(past) if past.count_days else (),
        marked=tuple(sorted(marked, reverse=True)[:SHOWN_MARKS]),
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


def _means(past: PastInShort) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple(
        (_(name), tuple("–" if v is None else format_number(v, 2) for v in (*cells, day)))
        for name, cells, day in zip(WEEKDAYS, past.means, past.day_means, strict=True)
    )


def _marks(typed: dict[str, str], faults: dict[str, tuple[str, ...]]) -> tuple[FieldView, ...]:
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
            messages=faults.get("days", ()),
        ),
        FieldView(
            field_id("day_note"), "day_note", _("Note"), typed.get("day_note", ""),
            numeric=False, wide=True, messages=faults.get("note", ()),
        ),
    )  # fmt: skip


def preview_page(
    site: StoredSite,
    pending: Pending,
    preview: Preview,
    request_key: str,
    has_stored: bool,
    refused: Sequence[InputProblem] = (),
) -> PreviewPage:
    """Fills the preview of a file."""
    system, problems = site.data.units, preview.problems[: SHOWN_PROBLEMS + 1]
    units = UNITS["temperature"].symbol(system), UNITS["rain"].symbol(system)
    given = site, request_key, pending, preview
    rest = units, problems, has_stored, tuple(refused)
    found = preview.history
    if pending.kind != "weather":
        hours, days = len(found.counts), counted_days(found.counts)
        what = counted_words(found.counted)
        why = why_it_matters(found.counted) if hours else ""
        return PreviewPage(*given, what, why, hours, days, (), *rest)
    weather = weather_days(found.weather)
    return PreviewPage(*given, _("weather"), "", len(found.weather), (), weather, *rest)


@dataclass(frozen=True, slots=True)
class ReadingPage:
    """How far a file is read; nothing of it is stored.

    Attributes:
        waiting: how far; None where it is not read.
        failed: why it is not.
    """

    slug: str
    token: str
    file: str
    waiting: Waiting | None
    failed: str


def reading_page(site: StoredSite, view: FileView) -> ReadingPage:
    """Fills the page of a file that is not read yet."""
    pending = view.file.pending
    running = None if view.running is None else waiting(view.running, view.key)
    failed = view.failed
    if running is None and not failed:
        failed = _("The file has not been read yet.")
    return ReadingPage(site.slug, pending.token, pending.name, running, failed)

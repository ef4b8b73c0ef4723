"""The Counts page: what is stored, a file to bring in, and the preview of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import WEEKDAYS, _, say, short_date, weekday
from app.files.hourly import CountsPreview, WeatherPreview
from app.files.uploads import Pending
from app.pages.fields import FieldView, Summary, field_id, summary
from app.sites.past import (
    CountedDay,
    PastInShort,
    WeatherDay,
    counted_days,
    weather_days,
)
from app.sites.reading import StoredSite
from app.words.phrases import whole
from sim.errors import InputProblem
from sim.inputs import DayNote
from sim.units import UNITS, format_number, quantity

ROWS_OPEN = 14
"""Days of a preview that are shown at once; the rest opens on demand."""
SHOWN_PROBLEMS = 100


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: heads of its columns, then rows of a head and cells."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class UploadForm:
    """The form that takes a file; `counted` chooses what a column "cars" counted."""

    request_key: str
    kind: FieldView
    counted: FieldView
    messages: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MarkedDay:
    """A day that stands out: its date as words and for the form, what it is, a note."""

    words: str
    iso: str
    kind: str
    note: str


@dataclass(frozen=True, slots=True)
class CountsPage:
    """The Counts page.

    Attributes:
        means: cars by weekday and hour; None where nothing is stored.
        marks: fields of the form that marks a day.
    """

    slug: str
    version: int
    request_key: str
    done: str
    stale: str
    answer: str
    sure: str
    counted_note: str
    summary: Summary | None
    means: Grid | None
    means_note: str
    weather: str
    has_counts: bool
    has_weather: bool
    upload: UploadForm
    days: tuple[MarkedDay, ...]
    marks: tuple[FieldView, ...]


@dataclass(frozen=True, slots=True)
class PreviewPage:
    """What a file would bring; nothing of it is stored.

    Attributes:
        problems: a line and a reason for each row that is left out.
        confirm: words of the button; empty when nothing could be stored.
        replace: words of the box that replaces everything stored; empty when nothing is.
    """

    slug: str
    version: int
    request_key: str
    token: str
    file: str
    answer: str
    sure: str
    days: Grid | None
    more_days: Grid | None
    problems: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    confirm: str
    replace: str
    messages: tuple[str, ...]


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
    system = site.data.units
    counted = site.data.history.counted
    typed = typed or {}
    by_field: dict[str, list[str]] = {}
    for problem in problems:
        by_field.setdefault(problem.field, []).append(say(problem, system))
    return CountsPage(
        slug=site.slug,
        version=site.version,
        request_key=request_key,
        done=done,
        stale=stale,
        answer=_answer(past, counted),
        sure=_sure(past),
        counted_note=why_it_matters(counted) if past.count_days else "",
        summary=summary(problems, system),
        means=_means(past) if past.count_days else None,
        means_note=_("Mean {what} of all such hours stored.", what=counted_words(counted)),
        weather=_weather_words(past.weather_days, system),
        has_counts=bool(past.count_days),
        has_weather=bool(past.weather_days),
        upload=_upload(request_key, typed, tuple(by_field.get("file", ()))),
        days=tuple(
            MarkedDay(
                f"{weekday(note.day)} {short_date(note.day)}",
                note.day.isoformat(),
                _("closed") if note.kind == "closed" else _("event"),
                note.note,
            )
            for note in sorted(marked, reverse=True)[:40]
        ),
        marks=_marks(typed, by_field),
    )


def _answer(past: PastInShort, counted: str) -> str:
    days = past.count_days
    if not days:
        return _("No counts are stored yet.")
    total = sum(item.cars for item in days)
    return _(
        "{cars} {what} are stored, on {days}.",
        cars=whole(total),
        what=counted_words(counted),
        days=_days(len(days)),
    )


def _days(count: int) -> str:
    return _("1 day") if count == 1 else _("{count} days", count=whole(count))


def _sure(past: PastInShort) -> str:
    days = past.count_days
    if not days:
        return _(
            "Every plan starts from how many cars come in each hour. A year of hourly counts is "
            "best, four weeks are a start."
        )
    first, last = days[0].day, days[-1].day
    return _("From {first} to {last}.", first=short_date(first), last=short_date(last))


def _means(past: PastInShort) -> Grid:
    heads = (*(f"{hour}:00" for hour in past.hours), _("Day"))
    rows = tuple(
        (
            _(WEEKDAYS[index]),
            tuple("–" if v is None else format_number(v, 2) for v in (*cells, day)),
        )
        for index, (cells, day) in enumerate(zip(past.means, past.day_means, strict=True))
    )
    return Grid(heads, rows)


def _weather_words(days: Sequence[WeatherDay], system: str) -> str:
    if not days:
        return _("No weather is stored yet. Without it each day’s weather has to be typed.")
    low = quantity(min(d.low_c for d in days), "temperature").show(system)
    high = quantity(max(d.high_c for d in days), "temperature").show(system)
    return _(
        "Weather of {days} is stored, from {first} to {last}, between {low} and {high}.",
        days=_days(len(days)),
        first=short_date(days[0].day),
        last=short_date(days[-1].day),
        low=low,
        high=high,
    )


def _upload(request_key: str, typed: dict[str, str], messages: tuple[str, ...]) -> UploadForm:
    kind = FieldView(
        "in-kind", "kind", _("What the file holds"), typed.get("kind", "counts"),
        choices=(("counts", _("Counts of cars")), ("weather", _("Weather"))),
    )  # fmt: skip
    counted = FieldView(
        "in-counted", "counted", _("If its column is just “cars”, they are"),
        typed.get("counted", ""),
        hint=_("Arrived counts the lost ones too; washed is cut off when the line is full."),
        choices=(
            ("", _("the column’s name says it")),
            ("arrived", _("cars arrived")),
            ("washed", _("cars washed")),
        ),
    )  # fmt: skip
    return UploadForm(request_key, kind, counted, messages)


def _marks(typed: dict[str, str], faults: dict[str, list[str]]) -> tuple[FieldView, ...]:
    return (
        FieldView(
            field_id("day"), "day", _("Date"), typed.get("day", ""),
            hint=_("Year-month-day, as in 2026-12-25."), numeric=False, wide=True,
            messages=tuple(faults.get("day", ())),
        ),
        FieldView(
            field_id("day_kind"), "day_kind", _("What it is"), typed.get("day_kind", "closed"),
            choices=(
                ("closed", _("closed")),
                ("event", _("an event")),
                ("", _("nothing special: take the mark away")),
            ),
            messages=tuple(faults.get("days", ())),
        ),
        FieldView(
            field_id("day_note"), "day_note", _("Note"), typed.get("day_note", ""),
            numeric=False, wide=True, messages=tuple(faults.get("note", ())),
        ),
    )  # fmt: skip


def preview_page(
    site: StoredSite,
    pending: Pending,
    preview: CountsPreview | WeatherPreview,
    request_key: str,
    has_stored: bool,
    messages: Sequence[InputProblem] = (),
) -> PreviewPage:
    """Fills the preview of a file."""
    system = site.data.units
    if isinstance(preview, CountsPreview):
        rows, days = _counts_rows(counted_days(preview.counts))
        good = len(preview.counts)
        what = _amount(good, "counts", preview.counted)
        sure = why_it_matters(preview.counted) if good else ""
    else:
        rows, days = _weather_rows(weather_days(preview.weather), system)
        good, sure = len(preview.weather), ""
        what = _amount(good, "weather", "")
    heads = days.heads
    return PreviewPage(
        slug=site.slug,
        version=site.version,
        request_key=request_key,
        token=pending.token,
        file=pending.name,
        answer=_preview_answer(good, len(rows), len(preview.problems), what),
        sure=sure,
        days=Grid(heads, rows[:ROWS_OPEN]) if rows else None,
        more_days=Grid(heads, rows[ROWS_OPEN:]) if len(rows) > ROWS_OPEN else None,
        problems=tuple((p.where, say(p, system)) for p in preview.problems[: SHOWN_PROBLEMS + 1]),
        notes=tuple(say(p, system) for p in preview.notes),
        confirm=_("Store {what}", what=what) if good else "",
        replace=_("Replace everything of this kind that is stored so far") if has_stored else "",
        messages=tuple(say(p, system) for p in messages),
    )


def _preview_answer(good: int, days: int, bad: int, what: str) -> str:
    if not good:
        return _("Nothing in this file can be used.")
    said = _("{what} on {days} can be stored", what=what, days=_days(days))
    if not bad:
        return said + "."
    if bad == 1:
        return _("{said}; 1 problem is named below.", said=said)
    return _("{said}; {bad} problems are named below.", said=said, bad=bad)


def _amount(good: int, kind: str, counted: str) -> str:
    """How many hours of what."""
    what = _("weather") if kind == "weather" else counted_words(counted)
    if good == 1:
        return _("1 hour of {what}", what=what)
    return _("{count} hours of {what}", count=whole(good), what=what)


def _counts_rows(
    days: Sequence[CountedDay],
) -> tuple[tuple[tuple[str, tuple[str, ...]], ...], Grid]:
    heads = (_("Hours"), _("Cars"), _("Busiest hour"))
    rows = tuple(
        (
            f"{weekday(d.day)} {short_date(d.day)}",
            (str(d.hours), whole(d.cars), f"{d.busiest_hour}:00, {d.busiest_cars}"),
        )
        for d in days
    )
    return rows, Grid(heads, ())


def _weather_rows(
    days: Sequence[WeatherDay], system: str
) -> tuple[tuple[tuple[str, tuple[str, ...]], ...], Grid]:
    degrees, rain = UNITS["temperature"].symbol(system), UNITS["rain"].symbol(system)
    heads = (
        _("Hours"),
        _("Lowest, {unit}", unit=degrees),
        _("Highest, {unit}", unit=degrees),
        _("Mean humidity, %"),
        _("Rain, {unit}", unit=rain),
    )
    rows = tuple(
        (
            f"{weekday(d.day)} {short_date(d.day)}",
            (
                str(d.hours),
                format_number(UNITS["temperature"].to_edge(d.low_c, system), 2),
                format_number(UNITS["temperature"].to_edge(d.high_c, system), 2),
                format_number(UNITS["share"].to_edge(d.humidity, system), 2),
                format_number(UNITS["rain"].to_edge(d.rain_mm, system), 2),
            ),
        )
        for d in days
    )
    return rows, Grid(heads, ())

"""Three weighings: steps with what each tells, forms, what is stored, what it changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from app.answers.weighings import WeighingsView
from app.catalogue import _, _n, long_date, say
from app.pages.cautions import Notice, deference, ladder, lock_out
from app.pages.fields import FieldView, Summary, summary
from app.pages.rows import RowForm
from app.pages.weighings.form import WeighingRead, cells_of
from app.sites.reading import StoredSite
from app.words.weighings import (
    NAMES,
    EffectWords,
    answer,
    day_taken_words,
    effect_words,
    fit_words,
    input_row,
    judged_rows,
    strip_when,
    strip_words,
    waiting_words,
)
from sim.errors import InputProblem
from sim.inputs import AFTERNOON, CARS_LOOKED_AT, DAMP, WEIGHED, WEIGHINGS
from sim.inputs.rows import Word
from sim.units import UNITS, format_number


@dataclass(frozen=True, slots=True)
class Step:
    """One of the three weighings.

    Attributes:
        cars: to be looked at afterwards.
        done: how many strips of it are stored, in words; empty for none.
        is_open: whether its form is open.
    """

    kind: str
    heading: str
    cars: int
    done: str
    fields: tuple[FieldView, ...]
    is_open: bool


def make_step(
    kind: str,
    stored: StoredSite,
    today: date,
    count: int,
    missing: Sequence[str],
    read: WeighingRead | None,
    problems: Sequence[InputProblem],
) -> Step:
    """A weighing with its form; what was typed in it stays, and what is wrong is beside it."""
    is_typed = read is not None and read.kind == kind
    typed = dict(read.typed) if read is not None and is_typed else {}
    form = RowForm(kind, stored.data.units, typed, problems if is_typed else ())
    return Step(
        kind,
        _(NAMES[kind]),
        CARS_LOOKED_AT,
        _n("In: {count} strip.", "In: {count} strips.", count) if count else "",
        _fields(form, stored, today),
        is_typed or (read is None and missing[:1] == [kind]),
    )


def _fields(form: RowForm, stored: StoredSite, today: date) -> tuple[FieldView, ...]:
    kind, system = form.name, stored.data.units
    dry_kg = stored.data.site.wheel.strip_dry_mass_kg
    dry = format_number(UNITS["small_mass"].to_edge(dry_kg, system), 4)
    values = {"dry_kg": dry, "day": today.isoformat(), "cars": str(CARS_LOOKED_AT)}
    hints = {
        "damp_cars": "" if kind == DAMP else _("Leave it empty if nobody looked."),
        "weather": _(
            "Highest temperature and humidity, as in {example}. Empty for the weather stored.",
            example="33 °C, 70 %" if system == "si" else "91 °F, 70 %",
        ),
    }
    found = [
        form.field(
            WEIGHED.cells[name], values.get(name, ""), hint=hints.get(name, ""),
            numeric=False if name == "weight_kg" else None,
        )
        for name in cells_of(kind)
    ]  # fmt: skip
    if kind == AFTERNOON:
        ways = (
            ("full", _("all in full")),
            ("reduced", _("all reduced")),
            ("clock", _("reduced between two times")),
        )
        only = _("Only if reduced between two times.")
        found += [
            form.field(
                Word(name="wiped", label="How cars had been wiped that day"), "full", choices=ways
            ),
            form.field(Word(name="from", label="Reduced from", hint=only)),
            form.field(Word(name="to", label="Reduced until")),
        ]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Strip:
    """A stored weighing: its place among all, what it was, and what it says."""

    place: int
    what: str
    when: str
    says: str


@dataclass(frozen=True, slots=True)
class WeighingsPage:
    """The page.

    Attributes:
        lead, rest: how many are in and what that means.
        told: how well drawn sites fit, in a sentence; empty where nothing was worked out.
        days: what each weighed day is taken to have been, a sentence each.
        judged: weighing, found, expected before, believed now; a row each.
        inputs: input, before, after; a row each.
        waiting: what is being worked out, in a sentence; empty for nothing.
        reasons: weighings that could not be used, and what went wrong, a sentence each.
    """

    slug: str
    version: int
    request_key: str
    lead: str
    rest: str
    done: str
    stale: str
    summary: Summary | None
    notices: tuple[Notice, ...]
    steps: tuple[Step, ...]
    strips: tuple[Strip, ...]
    waiting: str
    reasons: tuple[str, ...]
    told: str
    days: tuple[str, ...]
    judged: tuple[tuple[str, str, str, str], ...]
    inputs: tuple[tuple[str, str, str], ...]
    effect: EffectWords | None
    day: str
    day_words: str


def weighings_page(
    stored: StoredSite,
    view: WeighingsView,
    today: date,
    request_key: str,
    *,
    read: WeighingRead | None = None,
    problems: Sequence[InputProblem] = (),
    done: str = "",
    stale: str = "",
) -> WeighingsPage:
    """Fills the page; `read` is a form to be drawn again with what was typed."""
    data, system = stored.data, stored.data.units
    held = view.asked.plan.held
    kinds = [item.kind for item in data.weighings]
    missing = [kind for kind in WEIGHINGS if kind not in kinds]
    lead, rest = answer(missing, held)
    kind = read.kind if read else ""
    hrefs = {p.field: f"#in-{kind}-{p.field}" if kind else "" for p in problems}
    reasons = [say(p, system) for p in held.asked.problems]
    reasons += [words for words in (held.failed, view.failed) if words]
    told = held.result
    return WeighingsPage(
        slug=stored.slug,
        version=stored.version,
        request_key=request_key,
        lead=lead,
        rest=rest,
        done=done,
        stale=stale,
        summary=summary(problems, system, hrefs),
        notices=(lock_out(), ladder(), deference()),
        steps=tuple(
            make_step(kind, stored, today, kinds.count(kind), missing, read, problems)
            for kind in WEIGHINGS
        ),
        strips=tuple(
            Strip(place, _(NAMES[item.kind]), strip_when(item), strip_words(item, system))
            for place, item in enumerate(data.weighings)
        ),
        waiting=waiting_words(view),
        reasons=tuple(dict.fromkeys(reasons)),
        told="" if told is None else fit_words(told),
        days=tuple(day_taken_words(day) for day in held.asked.taken),
        judged=()
        if told is None
        else tuple(row for one in told.judged for row in judged_rows(one)),
        inputs=() if told is None else tuple(input_row(row, system) for row in told.inputs),
        effect=None if view.result is None else effect_words(view.result),
        day=view.day.isoformat(),
        day_words=long_date(view.day),
    )

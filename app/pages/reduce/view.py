"""The page When to reduce: its sentences, charts, the table beside them, and the wish's form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import _
from app.charts.marks import Chart
from app.charts.switching import strip_chart, trade_chart
from app.pages.cautions import Notice, deference, set_change, wheel
from app.pages.fields import FieldView, Summary, input_field, summary
from app.pages.forms import Typed, messages_by_field
from app.pages.plan.table import Table, comparison_table
from app.pages.reduce.together_view import TogetherPart
from app.pages.studies.view import Waiting
from app.sites.reading import StoredSite
from app.words.columns import Spoken
from app.words.cues import CuePart, cues_of
from app.words.how_sure import Narrow, narrow_words
from app.words.numbers import whole
from app.words.rules import wish_words
from app.words.switching import choice_words
from app.words.why import Lines, helps_of, moves_of, tipping_of, why_facts
from sim.decide.switching.answer import WhenToReduce
from sim.errors import InputProblem
from sim.inputs import INPUTS

WISHES = (
    "reduce_wish", "allowed_damp_share", "most_switches", "least_between_switches_min",
    "matters_cars",
)  # fmt: skip
"""Inputs of the wish, in the order of the form."""


@dataclass(frozen=True, slots=True)
class Returned:
    """A form that comes back: as it was sent, what is wrong with it, and the units it was in."""

    typed: Typed | None = None
    problems: Sequence[InputProblem] = ()
    units: str = ""
    stale: str = ""


@dataclass(frozen=True, slots=True)
class WishForm:
    """The form of the wish."""

    fields: tuple[FieldView, ...]
    version: int
    request_key: str
    units: str


@dataclass(frozen=True, slots=True)
class Told:
    """What is drawn of an answer.

    Attributes:
        wish: what the rule was chosen by.
        choice: among how many, how close foresight comes.
        why: label and sentence of each reason; empty where none was worked out.
        helps, moves, tipping: what else would help, the plan for days a little different, and up to
            which day no switch is needed.
        cues: the rule in cues that the crew can see; None where they were not looked for.
        made_for: what the answer rests on.
        narrow: what widens the answer most and what would narrow it; None where unknown.
        in_plan: the plan has the rule already.
    """

    wish: str
    strips: Chart
    trade: Chart
    table: Table
    choice: tuple[str, ...]
    why: tuple[tuple[str, str], ...]
    cues: CuePart | None
    helps: Lines | None
    moves: Lines | None
    tipping: Lines | None
    made_for: tuple[str, ...]
    narrow: Narrow | None
    in_plan: bool


@dataclass(frozen=True, slots=True)
class SwitchPage:
    """The page.

    Attributes:
        told: what is drawn of the answer; None while there is none.
        together: speed, spacing and rule together; None with `told`.
        form: the wish; None where the day can't be decided.
        plan_version: of the stored plan, for the button that puts the rule into it.
        done: what has just been stored, in a sentence.
        no_room: the plan is full, in a sentence.
        message, typed: of the form that asks for another day.
    """

    slug: str
    day: str
    date_words: str
    weather_line: str
    answer: Spoken | None
    sure: Spoken | None
    waiting: Waiting | None
    told: Told | None
    together: TogetherPart | None
    form: WishForm | None
    problems: Summary | None
    stale: str
    plan_version: int
    plan_key: str
    done: str
    no_room: str
    can_retry: bool
    needs_plan: bool
    message: str
    typed: str
    notices: tuple[Notice, ...]


def told_of(answer: WhenToReduce, system: str, in_plan: bool) -> Told:
    """What is drawn of an answer."""
    comparison, chosen = answer.comparison, answer.columns.chosen
    return Told(
        wish=wish_words(answer.wish),
        strips=strip_chart(answer),
        trade=trade_chart(answer),
        table=comparison_table(comparison, system, chosen),
        choice=choice_words(answer),
        why=why_facts(answer, system),
        cues=cues_of(answer, system),
        helps=helps_of(answer, system),
        moves=moves_of(answer, system),
        tipping=None if answer.tipping is None else tipping_of(answer.tipping, system),
        made_for=made_for(answer),
        narrow=narrow_words(comparison, chosen),
        in_plan=in_plan,
    )


def made_for(answer: WhenToReduce) -> tuple[str, ...]:
    """What the answer rests on."""
    sites = answer.comparison.sites
    parts = [
        _(
            "Made for the plan of this day; its first scenario says what is done now, and its "
            "settings and dry sets are kept. {origin}",
            origin=_(answer.origin),
        ),
        _(
            "Every rule met the same {first} simulated days at first, and each half that was worse "
            "was dropped as they grew; the advised one met {days}. {runs} days were simulated.",
            first=answer.draws.first,
            days=answer.draws.chosen,
            runs=whole(answer.runs),
        ),
    ]
    if sites:
        parts.append(
            _(
                "Guesses were drawn from their ranges, a site anew for every simulated day; the "
                "table rests on {sites} such sites.",
                sites=sites,
            )
        )
    else:
        parts.append(_("Every guess about the site stands at its middle value."))
    return tuple(parts)


def wish_form(stored: StoredSite, back: Returned, request_key: str) -> WishForm:
    """The form of the wish; what was typed in a form that comes back stays."""
    data, system = stored.data, back.units or stored.data.units
    said = messages_by_field(back.problems)
    fields = tuple(
        input_field(
            INPUTS[name],
            data.site.value(name),
            system,
            given=name in data.given,
            typed=back.typed,
            problems=said.get(name, ()),
        )
        for name in WISHES
    )
    return WishForm(fields, stored.version, request_key, system)


def wish_problems(back: Returned, system: str) -> Summary | None:
    """The list on top for a form that comes back."""
    return summary(back.problems, back.units or system)


def notices(is_answered: bool, cloth: str) -> tuple[Notice, ...]:
    """The cautions that the advice calls for."""
    told = [deference()]
    if is_answered:
        told.append(wheel())
    if cloth.strip():
        told.append(set_change())
    return tuple(told)

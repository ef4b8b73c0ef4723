"""The page When to reduce: its sentences, charts, the table beside them, the wish's form; and the
part Speed, spacing and rule together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from app.answers.switching import SwitchView, TogetherView, with_setting
from app.charts.marks import Chart
from app.charts.switching import strip_chart, trade_chart
from app.pages.cautions import Notice
from app.pages.forms import FieldView, Summary, Typed, input_fields
from app.pages.plan.table import ComparisonTable, comparison_table
from app.pages.studies import StudyProgress
from app.pages.writing import new_request_key
from app.sites.reading import StoredSite
from app.words.answer import Narrow, narrow_words
from app.words.cues import CuePart, cues_of
from app.words.phrases import Statement, TextTable
from app.words.rules import wish_words
from app.words.switching import choice_words
from app.words.together import together_answer, together_sure, together_table
from app.words.why import helps_of, moves_of, tipping_of, why_facts
from sim.decide.switching.answer import WhenToReduce
from sim.errors import InputProblem
from sim.inputs import INPUTS

WISHES = (
    "reduce_wish", "allowed_damp_share", "most_switches", "least_between_switches_min",
    "matters_cars",
)  # fmt: skip
"""Inputs of the wish, in the order of the form."""


@dataclass(frozen=True, slots=True)
class RejectedForm:
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
class AnswerView:
    """What is drawn of an answer.

    Attributes:
        wish: what the rule was chosen by.
        choice: among how many, how close foresight comes.
        why: label and sentence of each reason; empty where none was worked out.
        helps, moves, tipping: what else would help, the plan for days a little different, and up to
            which day no switch is needed.
        cues: the rule in cues that the crew can see; None where they were not looked for.
        narrow: what widens the answer most and what would narrow it; None where unknown.
        in_plan: the plan has the rule already.
    """

    wish: str
    strips: Chart
    trade: Chart
    table: ComparisonTable
    choice: tuple[str, ...]
    why: tuple[tuple[str, str], ...]
    cues: CuePart | None
    helps: TextTable | None
    moves: TextTable | None
    tipping: TextTable | None
    narrow: Narrow | None
    in_plan: bool


@dataclass(frozen=True, slots=True)
class SwitchPage:
    """The page.

    Attributes:
        says, sure: what to do, or why there is no answer, and how sure that is.
        told: what is drawn of the answer; None while there is none.
        together: speed, spacing and rule together; None with `told`.
        form: the wish; None where the day can't be decided.
        plan_key: for the button that puts the rule into the plan.
        done: what has just been stored, in a sentence.
        no_room: the plan is full, in a sentence.
        message, typed: of the form that asks for another day.
    """

    slug: str
    view: SwitchView
    weather_line: str
    origin: str
    says: Statement | None
    sure: Statement | None
    waiting: StudyProgress | None
    told: AnswerView | None
    together: TogetherPart | None
    form: WishForm | None
    problems: Summary | None
    stale: str
    plan_key: str
    done: str
    no_room: str
    needs_plan: bool
    message: str
    typed: str
    notices: tuple[Notice, ...]

    @property
    def day(self) -> date:
        """The day that it is about."""
        return self.view.day


def told_of(answer: WhenToReduce, system: str, in_plan: bool) -> AnswerView:
    """What is drawn of an answer."""
    comparison, chosen = answer.comparison, answer.columns.chosen
    return AnswerView(
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
        narrow=narrow_words(comparison, chosen),
        in_plan=in_plan,
    )


def wish_form(stored: StoredSite, back: RejectedForm) -> WishForm:
    """The form of the wish; what was typed in a form that comes back stays."""
    data, system = stored.data, back.units or stored.data.units
    rows = {name: INPUTS[name] for name in WISHES}
    fields = input_fields(rows, data, system, back.typed, back.problems)
    return WishForm(fields, stored.version, new_request_key(), system)


# ---- speed, spacing and rule together ------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TogetherPart:
    """The part.

    Attributes:
        says, sure, table: what came out; None and empty while nothing has.
        can_put: whether another setting was found that the plan does not have yet.
        plan_key: for the button that puts it there.
    """

    view: TogetherView
    says: Statement | None
    sure: str
    table: TextTable | None
    can_put: bool
    plan_key: str


@dataclass(frozen=True, slots=True)
class TogetherWait:
    """The page that waits for it, or says what went wrong."""

    slug: str
    view: TogetherView
    waiting: StudyProgress | None


def together_part(view: TogetherView, system: str) -> TogetherPart:
    """What is shown of a day whose rule is known."""
    both, plan_key = view.result, new_request_key()
    if both is None:
        return TogetherPart(view, None, "", None, False, plan_key)
    is_new = not both.stays and with_setting(view) != view.asked.asked.plan.scenarios
    return TogetherPart(
        view, together_answer(both, system), together_sure(both), together_table(both, system),
        is_new, plan_key,
    )  # fmt: skip

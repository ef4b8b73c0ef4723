"""The part Speed, spacing and rule together of When to reduce."""

from __future__ import annotations

from dataclasses import dataclass

from app.answers.together import TogetherView, with_setting
from app.catalogue import long_date
from app.pages.studies.view import Waiting, waiting
from app.pages.writing import new_request_key
from app.words.columns import Spoken
from app.words.together import together_answer, together_sure, together_table
from app.words.why import Lines


@dataclass(frozen=True, slots=True)
class TogetherPart:
    """The part.

    Attributes:
        answer, sure, table: what came out; None and empty while nothing has.
        is_running: whether it is being computed.
        can_put: whether another setting was found that the plan does not have yet.
        plan_key: for the button that puts it there.
    """

    answer: Spoken | None
    sure: str
    table: Lines | None
    is_running: bool
    can_put: bool
    plan_key: str


@dataclass(frozen=True, slots=True)
class TogetherWait:
    """The page that waits for it, or says what went wrong."""

    slug: str
    day: str
    date_words: str
    waiting: Waiting | None
    failed: str


def together_wait(slug: str, view: TogetherView) -> TogetherWait:
    """Fills the page that waits."""
    day, running = view.day, None if view.failed else view.running
    told = None if running is None else waiting(running, view.key)
    return TogetherWait(slug, day.isoformat(), long_date(day), told, view.failed)


def together_part(view: TogetherView, system: str) -> TogetherPart | None:
    """What is shown; None while the day's rule isn't known."""
    if not view.key:
        return None
    found, plan_key = view.result, new_request_key()
    if found is None:
        is_running = view.running is not None and not view.failed
        return TogetherPart(None, "", None, is_running, False, plan_key)
    is_new = not found.stays and with_setting(view) != view.asked.asked.plan.scenarios
    return TogetherPart(
        together_answer(found, system), together_sure(found), together_table(found, system),
        False, is_new, plan_key,
    )  # fmt: skip

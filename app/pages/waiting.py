"""A page that waits for its answer: how far that is, in words, and what is said over an answer of
before that is shown until then.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.answers.answer import Answer, Asked, Earlier, Found
from app.answers.file_study import FileView
from app.answers.studies.runner import Progress
from app.answers.studies.stages import Stage, stage_at
from app.catalogue import _, _n, long_date
from app.pages.history import history_row
from app.sites.reading import StoredSite
from app.words.numbers import whole

REFRESH_S = 2
"""How often a page that waits for its answer asks again."""


@dataclass(frozen=True, slots=True)
class StudyProgress:
    """How far a computation is, on the page that waits for it.

    Attributes:
        done, total: parts.
        now: what is done now and which of how many stages that is, in a sentence; empty while it
            waits. doing: the first of these alone, where an answer stands over it.
        key: names the study, for the button that stops it.
        left: how long it still takes, in words; empty while that isn't known.
        turn: how many come before it, in a sentence; empty where it runs.
    """

    done: int
    total: int
    now: str
    key: str = ""
    left: str = ""
    turn: str = ""
    doing: str = ""


def waiting(view: Answer[Asked, Found] | FileView) -> StudyProgress | None:
    """How far the study of a page is; None where it isn't under way."""
    progress = view.running
    if progress is None:
        return None
    left, turn = left_words(progress.left_s), turn_words(progress.ahead)
    now, doing = (
        "" if turn else stage_words(view.kind.stages, progress, counted)
        for counted in (True, False)
    )
    return StudyProgress(progress.done, progress.total, now, view.key, left, turn, doing)


def stage_words(stages: Sequence[Stage], progress: Progress, counted: bool = True) -> str:
    """What a study does now, and which of its stages that is where they are to be counted."""
    if not stages:
        return ""
    at, count = stage_at(stages, progress.done, progress.total), len(stages)
    doing = _(stages[at].words)
    if count == 1 or not counted:
        return _("Now: {doing}.", doing=doing)
    return _("{number} of {count}: {doing}.", number=at + 1, count=count, doing=doing)


def turn_words(ahead: int) -> str:
    """How many studies come before one that waits; empty for none."""
    one = "Waits for its turn: one answer of its kind comes before it."
    many = "Waits for its turn: {count} answers of its kind come before it."
    return _n(one, many, ahead) if ahead else ""


def left_words(left_s: float | None) -> str:
    """Time left without digits that nobody can know: ``about 20 s left``; empty for None."""
    if left_s is None:
        return ""
    if left_s <= 5.0:
        return _("a few seconds left")
    if left_s < 60.0:
        step = 5 if left_s < 30.0 else 10
        return _("about {count} s left", count=step * math.ceil(left_s / step))
    minutes = math.ceil(left_s / 60.0)
    if minutes <= 90:
        return _("about {count} min left", count=minutes if minutes < 20 else 5 * -(-minutes // 5))
    return _("about {count} h left", count=math.ceil(left_s / 3600.0))


def refining_words(progress: Progress | None, failed: str, days: int) -> str:
    """The quiet line under a first answer, which a finer one will replace."""
    if failed:
        return _(
            "These figures come from {days} simulated days. They were to be refined: {failed} "
            "Compute begins it again.",
            days=whole(days),
            failed=failed,
        )
    if progress is None:
        return ""
    return _(
        "Being refined: these figures come from {days} simulated days, at your next visit from "
        "more.",
        days=whole(days),
    )


# ---- an answer of before -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Before:
    """What `base.html` says over a page whose answer was worked out before something changed.

    Attributes:
        words: before which change, and what becomes of the new answer.
        waiting: how far the new one is; None while nothing works it out.
        again: how often the page asks for it [s]; 0 where it does not.
        retry: where a button begins it once more; empty for no button.
    """

    words: str
    waiting: StudyProgress | None
    again: int
    retry: str


def before(
    site: StoredSite, view: Answer[Asked, Found], *, asks: bool = True, retry: str = ""
) -> Before | None:
    """What is said over an answer; None where it is that of the present question.

    Args:
        asks: whether the page may ask again by itself.
        retry: where a form begins what has failed or was stopped.
    """
    if view.earlier is None:
        return None
    lead, progress = _lead(site, view.earlier), None if view.failed else waiting(view)
    if view.failed:
        words = _("{lead} {failed}", lead=lead, failed=view.failed)
    elif progress is not None:
        sentence = "{lead} The new one is being worked out and takes its place by itself."
        words = _(sentence, lead=lead)
    else:
        words = _("{lead} The new one is worked out once the plan is opened.", lead=lead)
    again = REFRESH_S if progress is not None and asks else 0
    return Before(words, progress, again, retry if view.failed else "")


def _lead(site: StoredSite, earlier: Earlier) -> str:
    if earlier.day is not None:
        return _("This is the answer as of {day}.", day=long_date(earlier.day))
    if earlier.is_unmeasured:
        return _("This was worked out without what was measured at the site.")
    if not earlier.changes:
        return _("This was worked out before the program or the forecast of the day changed.")
    change = earlier.changes[0]
    row = history_row(change, site.data.site.timezone, site.data.units)
    what = _("the plan of the day") if change.what == "plan" else row.what
    return _("This was worked out before a change: {what}, {at}.", what=what, at=row.when)

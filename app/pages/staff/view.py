"""The page Staff: who is needed on a day, hour by hour."""

from __future__ import annotations

from dataclasses import dataclass

from app.answers.staff import StaffView
from app.catalogue import _, long_date
from app.charts.marks import Chart
from app.charts.staff import staff_chart
from app.pages.cautions import Notice, deference, lock_out
from app.pages.studies.view import Waiting, waiting
from app.words.phrases import Lines, Spoken
from app.words.staff import (
    answer,
    costs_table,
    effects_table,
    formula_table,
    how_sure,
    people_table,
    timetable_words,
    wiping_words,
)


@dataclass(frozen=True, slots=True)
class StaffPart:
    """What was computed, in words, pictures and tables."""

    chart: Chart
    people: Lines
    formula: Lines
    effects: Lines
    wiping: str
    timetable: str
    costs: Lines


@dataclass(frozen=True, slots=True)
class StaffPage:
    """The page.

    Attributes:
        answer, sure: the answer and how sure it is, or what is said instead.
        waiting: how far it is, while it is computed.
        part: None while nothing has been computed.
        needs_plan: whether the day’s plan has to be mended first.
        message, typed: what is wrong with a typed day, and that day.
    """

    slug: str
    day: str
    date_words: str
    answer: Spoken | None
    sure: str
    waiting: Waiting | None
    part: StaffPart | None
    can_retry: bool
    needs_plan: bool
    message: str
    typed: str
    notices: tuple[Notice, ...]


def staff_page(
    slug: str,
    view: StaffView,
    instead: tuple[Spoken | None, bool],
    message: str = "",
    typed: str = "",
) -> StaffPage:
    """Fills the page.

    Args:
        instead: what is said where there is no answer, and whether the plan has to be mended.
    """
    found, running = view.result, None if view.failed else view.running
    said, needs_plan = instead
    part = None
    if found is not None:
        said = answer(found)
        part = StaffPart(
            staff_chart(found.half_hours),
            people_table(found),
            formula_table(found),
            effects_table(found),
            wiping_words(found),
            timetable_words(found),
            costs_table(found),
        )
    is_waiting = found is None and running is not None
    return StaffPage(
        slug,
        view.day.isoformat(),
        long_date(view.day),
        said,
        how_sure(found) if found is not None else "",
        waiting(running, view.key) if is_waiting and running is not None else None,
        part,
        bool(view.failed) and found is None,
        needs_plan and found is None,
        message,
        typed,
        (lock_out(), labour_law(), deference()),
    )


def labour_law() -> Notice:
    """What the program does not know of hours and breaks."""
    return Notice(
        "caution",
        _(
            "Nothing here knows your labour law. Check hours, breaks, rest, minors and the fewest "
            "people who may work alone against it before you tell anybody when to come. The people "
            "counted here have no break; add whoever stands in."
        ),
    )

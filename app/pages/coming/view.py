"""The page The coming days."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from app.answers.coming_plans import ComingView
from app.catalogue import _
from app.pages.cautions import Notice, deference, wheel
from app.pages.studies.view import Waiting, waiting
from app.words.columns import Spoken
from app.words.coming import (
    DayAhead,
    coming_answer,
    coming_sure,
    days_of,
    year_lines,
    year_rests_on,
)
from app.words.why import Lines


@dataclass(frozen=True, slots=True)
class ComingPage:
    """The page.

    Attributes:
        days: a line a day; empty while nothing has been computed.
        year: how many days of it need switching, by month; None while that has not been counted.
            rests_on: what the count rests on.
        waiting: how far it is, while it is computed.
        can_retry: whether it failed or was stopped before it was whole.
        is_empty: whether nothing can be planned.
    """

    slug: str
    answer: Spoken | None
    sure: Spoken | None
    waiting: Waiting | None
    days: tuple[DayAhead, ...]
    year: Lines | None
    rests_on: tuple[str, ...]
    can_retry: bool
    is_empty: bool
    notices: tuple[Notice, ...]


def coming_page(slug: str, view: ComingView, given: Collection[str], system: str) -> ComingPage:
    """Fills the page from what is stored."""
    found = view.result
    answer: Spoken | None = None
    sure: Spoken | None = None
    if not view.key:
        answer = Spoken(_("No plan yet."), _("Nothing can be planned of any of the coming days."))
        sure = Spoken(
            "",
            _("Either nothing is known of such days, or no car is let in. A day is expected from "
              "hourly counts and weather of earlier days."),
        )  # fmt: skip
    elif found is not None:
        answer, sure = coming_answer(found), coming_sure(found, given)
        if view.failed:
            sure = Spoken(sure.lead, f"{sure.rest} {view.failed}")
    elif view.failed:
        answer = Spoken(view.failed, _("“Work it out” begins it."))
    year = None if found is None else found.year
    is_waiting = view.running is not None and not view.failed
    return ComingPage(
        slug=slug,
        answer=answer,
        sure=sure,
        waiting=waiting(view.running, view.key) if view.running and is_waiting else None,
        days=() if found is None else days_of(found, system),
        year=year_lines(year) if year else None,
        rests_on=year_rests_on(year) if year else (),
        can_retry=bool(view.failed),
        is_empty=not view.key,
        notices=(deference(), wheel()),
    )

"""The page The coming days."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

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
    season_rests_on,
    season_table,
    season_words,
)
from app.words.why import Lines


@dataclass(frozen=True, slots=True)
class SeasonPart:
    """The days of a year that need switching: a sentence, month by month, what it rests on."""

    says: str
    table: Lines
    rests_on: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ComingPage:
    """The page.

    Attributes:
        days: a line a day; empty while nothing has been computed.
        season: None while that part has not been computed.
        waiting: how far it is, while it is computed.
        can_retry: whether it failed or was stopped before it was whole.
        is_empty: whether nothing can be planned.
    """

    slug: str
    answer: Spoken | None
    sure: Spoken | None
    waiting: Waiting | None
    days: tuple[DayAhead, ...]
    season: SeasonPart | None
    can_retry: bool
    is_empty: bool
    notices: tuple[Notice, ...]


def coming_page(slug: str, view: ComingView, given: Collection[str], system: str) -> ComingPage:
    """Fills the page from what is stored."""
    found = view.result
    answer: Spoken | None = None
    sure: Spoken | None = None
    if view.asked is None:
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
    is_waiting = view.running is not None and not view.failed
    return ComingPage(
        slug=slug,
        answer=answer,
        sure=sure,
        waiting=waiting(view.running, view.key) if view.running and is_waiting else None,
        days=() if found is None else days_of(found, system),
        season=None if found is None else _season(found["season"]),
        can_retry=bool(view.failed),
        is_empty=view.asked is None,
        notices=(deference(), wheel()),
    )


def _season(season: Mapping[str, Any] | None) -> SeasonPart | None:
    if season is None:
        return None
    return SeasonPart(season_words(season), season_table(season), season_rests_on(season))

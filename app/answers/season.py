"""The season: a year of expected days, when sets are changed and ordered, and what else helps."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from datetime import date, datetime, timedelta

from app.answers.answer import Answer, Desk, Kind
from app.answers.beliefs import belief_in, weighings_of
from app.answers.cloth import planned_rules
from app.answers.libraries import answer_key, libraries
from app.answers.planning import SEED
from app.answers.season_basis import REPLICATIONS, SEASON_DAYS, SeasonBasis
from app.answers.studies.runner import Report
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.sites.calendar import ABOUT, calendar_file, entries_of, new_uid, of_calendar
from app.sites.changes import Gate
from sim.day.belief import Belief
from sim.decide.cloth.answer import SeasonAnswer
from sim.decide.cloth.options import PEAKS, SHAPE
from sim.decide.cloth.outlook import SeasonAsked, season_answer

__all__ = ["REPLICATIONS", "SEASON_DAYS"]

SCHEMA = "clothcast.season/2"
STEPS = SEASON_DAYS + PEAKS * SHAPE.runs


SeasonView = Answer[SeasonBasis, SeasonAnswer]
"""A season as far as it is known."""


def answer_season(
    asked: SeasonAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> SeasonAnswer:
    """The answer, with the versions of the libraries that it is computed with."""
    return season_answer(asked, libraries(), executor, progress)


def ask_season(desk: Desk, first: date) -> SeasonBasis:
    """What a stored site's season rests on, as it is now."""
    held = weighings_of(desk)
    belief = belief_in(held)
    return basis_of(desk, first, belief, held.key if belief is not None else "")


def basis_of(
    desk: Desk,
    first: date,
    belief: Belief | None,
    belief_key: str = "",
    replications: int = REPLICATIONS,
) -> SeasonBasis:
    """The same by a belief that is at hand."""
    last = first + timedelta(days=SEASON_DAYS)
    plans = {day: plan for day, plan in desk.plans.items() if first <= day < last}
    return SeasonBasis(
        desk.site, desk.data, first, plans, planned_rules(desk), desk.look, belief, belief_key,
        replications,
    )  # fmt: skip


def season_key(basis: SeasonBasis) -> str:
    """A hash of everything that a season depends on, the model's version included.

    A version of a site is never changed, so it stands for inputs, past and sets; a year of days
    need not be gone through to find an answer that is stored.
    """
    stored = basis.stored
    versions = [(day.isoformat(), plan.version) for day, plan in sorted(basis.plans.items())]
    asked = [stored.id, stored.version, basis.first.isoformat(), versions, basis.belief_key]
    return answer_key(SCHEMA, REPLICATIONS, SEED, asked)


def _work(basis: SeasonBasis, executor: Executor | None, report: Report) -> SeasonAnswer:
    report(0, STEPS)
    return answer_season(basis.ask(), executor, report)


SEASON: Kind[SeasonBasis, SeasonAnswer] = Kind(
    name="season",
    label="The season",
    steps="steps",
    page="cloth/season",
    found=SeasonAnswer,
    ask=ask_season,
    key=season_key,
    size=lambda basis: (STEPS, 2 * SEASON_DAYS * basis.replications),
    work=_work,
    failed="The season could not be worked out: {fault}",
    refuse=SeasonBasis.problems,
)


def export_calendar(
    session: Session, now: datetime, stored: StoredSite, found: SeasonAnswer, today: date
) -> bytes:
    """A season's calendar file; what it holds is kept for the next one to follow."""
    site = stored.data.site
    entries = entries_of(found, site, today)
    gate = Gate(session, store.built_in_person(session), now)
    gate.keep_calendar(stored.id, entries, today, new_uid, ABOUT)
    rows = of_calendar(store.load_calendar(session, stored.id), ABOUT)
    return calendar_file(rows, f"{site.name}: cloth", site.timezone, today)

"""Every kind of study: how its job is made anew from site and day, and what was left behind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from app.answers import (
    beliefs,
    cloth,
    coming_plans,
    file_study,
    planning,
    roster,
    season,
    settings_map,
    staff,
    switching,
    together,
    weighings,
)
from app.answers.studies.failure import ended_words
from app.answers.studies.runner import Job, Progress, Runner
from app.db import store, studies
from app.db.session import Database, Session
from app.db.store import StoredSite
from app.db.studies import StoredStudy

Make = Callable[[Session, StoredSite, date, Runner], Job | None]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of study.

    Attributes:
        label: what people call it.
        steps: what it counts.
        page: the page that shows its answer, as an address within the site, ``{day}`` where it
            has one for each day.
        make: the job that a day of a site asks for as things stand; None if it asks for none.
    """

    label: str
    steps: str
    page: str
    make: Make

    def page_of(self, day: date) -> str:
        """The page that shows a day's answer."""
        return self.page.format(day=day.isoformat())


KINDS: dict[str, Kind] = {
    "plan": Kind("Plan of a day", "simulated days", "plan/{day}", planning.job_of_day),
    "maps": Kind("Speed and spacing", "settings", "settings/{day}", settings_map.job_of_day),
    "switch": Kind("When to reduce", "simulated days", "reduce/{day}", switching.job_of_day),
    cloth.KIND: Kind("Cloth", "steps", "cloth", cloth.job_of_day),
    season.KIND: Kind("The season", "steps", "cloth/season", season.job_of_day),
    together.KIND: Kind(
        "Speed, spacing and rule", "simulated days", "reduce/{day}/together", together.job_of_day
    ),
    coming_plans.KIND: Kind("The coming days", "steps", "coming", coming_plans.job_of_day),
    staff.KIND: Kind("Staff", "simulated days", "staff/{day}", staff.job_of_day),
    roster.KIND: Kind("Roster", "steps", "roster/{day}/made", roster.job_of_day),
    file_study.KIND: Kind("A file of hours", "lines", "counts", file_study.job_of_day),
    beliefs.KIND: Kind("Three weighings", "drawn sites", "weighings", beliefs.job_of_day),
    weighings.KIND: Kind(
        "What weighings change", "simulated days", "weighings", weighings.job_of_day
    ),
}
"""Every kind by the name that a study has in the database."""


UNKNOWN = Kind("A computation of another version", "steps", "plan/{day}", lambda *_given: None)
"""Stands for a kind that this program does not have."""
LISTED = 40
"""Studies in a list."""


@dataclass(frozen=True, slots=True)
class StudyLine:
    """A study in a list.

    Attributes:
        progress: how far it is; None where nobody is at work on it.
        is_open: whether it waits or runs.
        ended: why it has no answer though it has come to an end, in a sentence; else empty.
        label, steps: of its `Kind`; page: that of its answer, within the site.
    """

    study: StoredStudy
    progress: Progress | None
    is_open: bool
    ended: str
    label: str
    steps: str
    page: str


def list_studies(database: Database, runner: Runner, site_id: int) -> tuple[StudyLine, ...]:
    """A site's studies, asked last first; what was left behind is taken up."""
    take_up(database, runner)
    with database.session() as session:
        found = studies.list_studies(session, site_id, LISTED)
        return tuple(_line(runner, session, study) for study in found)


def _line(runner: Runner, session: Session, study: StoredStudy) -> StudyLine:
    kind = KINDS.get(study.kind, UNKNOWN)
    progress = runner.glance(study.key, session) if study.is_open else None
    ended = ended_words(study)
    return StudyLine(
        study, progress, study.is_open, ended, kind.label, kind.steps, kind.page_of(study.day)
    )


def cancel(database: Database, runner: Runner, site_id: int, key: str) -> StoredStudy | None:
    """Stop a study of a site; None if the site has no such study."""
    with database.session() as session:
        study = studies.find_study(session, key)
    if study is None or study.site_id != site_id:
        return None
    runner.cancel(key)
    return study


def cancel_all(database: Database, runner: Runner, site_id: int) -> None:
    """Stop every study of a site that waits or runs."""
    for study in _open_of(database, site_id):
        runner.cancel(study.key)


def drop_stale(database: Database, runner: Runner, site_id: int) -> None:
    """Break off what answers no question of a site any longer, so that what does need not wait.

    That is what its day, site and plan as they stand now would ask otherwise, and all but the
    newest question of one page.
    """
    pages = set()
    found = _open_of(database, site_id)
    for study in sorted(found, key=lambda one: (one.asked_at, one.day), reverse=True):
        page = study.kind, KINDS.get(study.kind, UNKNOWN).page_of(study.day)
        if page in pages or _job_of(database, runner.blind(), study) is None:
            runner.break_off(study.key)
        else:
            pages.add(page)


def _open_of(database: Database, site_id: int) -> tuple[StoredStudy, ...]:
    with database.session() as session:
        return tuple(one for one in studies.open_studies(session) if one.site_id == site_id)


def _job_of(database: Database, runner: Runner, study: StoredStudy) -> Job | None:
    """The job of a study, made anew; None where its site and day ask that question no more."""
    kind = KINDS.get(study.kind, UNKNOWN)
    with database.session() as session:
        job = kind.make(session, store.get_site(session, study.site_id), study.day, runner)
    return job if job is not None and job.key == study.key else None


def take_up(database: Database, runner: Runner) -> None:
    """Go on with studies that waited or ran in a server that is there no more.

    Each is made anew from its site and day. Where that is the very question that was asked, it is
    begun anew; else it is broken off, because nobody asks that question any longer.
    """
    for study in runner.book.left_behind():
        if runner.has(study.key):
            continue
        job = _job_of(database, runner, study)
        if job is not None:
            runner.begin(job)
        else:
            runner.book.break_off(study.key)

"""Every kind of study: how its job is made anew from site and day, and what was left behind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import cast

from app.answers.answer import Desk, Kind
from app.answers.arrivals import ARRIVALS
from app.answers.beliefs import BELIEF
from app.answers.cloth import CLOTH
from app.answers.coming_plans import COMING
from app.answers.drift import DRIFT
from app.answers.file_study import FILE
from app.answers.happened import AFTERWARDS
from app.answers.next_measurement import NEXT
from app.answers.patience import PATIENCE
from app.answers.planning import PLAN
from app.answers.scored import SCORE
from app.answers.season import SEASON
from app.answers.settings_map import MAPS
from app.answers.staff import ROSTER, STAFF
from app.answers.stops import STOPS
from app.answers.studies.runner import Job, Progress, Runner
from app.answers.studies.stages import Stage
from app.answers.switching import SWITCH, TOGETHER
from app.answers.weighings import EFFECT, WORTH
from app.db import store, studies
from app.db.session import Database
from app.db.studies import StoredStudy

KINDS = {
    kind.name: cast("Kind[object, object]", kind)
    for kind in (
        PLAN, MAPS, SWITCH, CLOTH, SEASON, TOGETHER, COMING, STAFF, ROSTER, FILE, BELIEF, EFFECT,
        WORTH, STOPS, AFTERWARDS, DRIFT, ARRIVALS, SCORE, NEXT,
        PATIENCE,
    )
}  # fmt: skip
"""Every kind by the name that a study has in the database."""


UNKNOWN = "A computation of another version", (), PLAN.page
"""Label, stages and page of a kind that this program does not have."""
LISTED = 40
"""Studies in a list."""


@dataclass(frozen=True, slots=True)
class StudyLine:
    """A study in a list.

    Attributes:
        progress: how far it is; None where nobody is at work on it.
        label, stages: of its `Kind`; page: that of its answer, within the site.
    """

    study: StoredStudy
    progress: Progress | None
    label: str
    stages: tuple[Stage, ...]
    page: str


def list_studies(database: Database, runner: Runner, site_id: int) -> tuple[StudyLine, ...]:
    """A site's studies, asked last first; what was left behind is taken up."""
    take_up(database, runner)
    with database.session() as session:
        return _lines(runner, studies.list_studies(session, site_id, LISTED))


def studies_page(
    database: Database, runner: Runner, site_id: int, behind: str, limit: int
) -> tuple[StudyLine, ...]:
    """A site's studies in the order of their keys, those behind a key, at most so many; what was
    left behind is taken up."""
    take_up(database, runner)
    with database.session() as session:
        return _lines(runner, studies.studies_page(session, site_id, behind, limit))


def study_line(database: Database, runner: Runner, site_id: int, key: str) -> StudyLine | None:
    """A study of a site; None if the site has no such study. What was left behind is taken up."""
    take_up(database, runner)
    with database.session() as session:
        study = studies.find_study(session, key)
    if study is None or study.site_id != site_id:
        return None
    return _lines(runner, (study,))[0]


def _lines(runner: Runner, found: Iterable[StoredStudy]) -> tuple[StudyLine, ...]:
    return tuple(
        StudyLine(study, runner.glance(study) if study.is_open else None, *_named(study))
        for study in found
    )


def _named(study: StoredStudy) -> tuple[str, tuple[Stage, ...], str]:
    kind = KINDS.get(study.kind)
    label, stages, page = UNKNOWN if kind is None else (kind.label, kind.stages, kind.page)
    return label, stages, page.format(day=study.day.isoformat())


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

    That is what its day, site and plan now would ask otherwise, and all but a page's newest."""
    found, pages, stale = _open_of(database, site_id), set(), []
    with database.session() as session:
        desk = Desk(session, store.get_site(session, site_id), runner.blind())
        for study in sorted(found, key=lambda one: (one.asked_at, one.day), reverse=True):
            page = study.kind, _named(study)[2]
            if page in pages or _job_of(desk, study) is None:
                stale.append(study.key)
            else:
                pages.add(page)
    for key in stale:
        runner.break_off(key)


def _open_of(database: Database, site_id: int) -> tuple[StoredStudy, ...]:
    with database.session() as session:
        return tuple(one for one in studies.open_studies(session) if one.site_id == site_id)


def _job_of(desk: Desk, study: StoredStudy) -> Job | None:
    """The job of a study, made anew; None where its site and day ask that question no more."""
    kind = KINDS.get(study.kind)
    job = None if kind is None else desk.open(kind, study.day).job
    return job if job is not None and job.key == study.key else None


def take_up(database: Database, runner: Runner) -> None:
    """Go on with studies that waited or ran in a server that is there no more.

    Each is made anew from its site and day. Where that is the very question that was asked, it is
    begun anew; else it is broken off, because nobody asks that question any longer.
    """
    if runner.elsewhere is not None:
        runner.elsewhere.look()
    for study in runner.book.left_behind():
        kind = KINDS.get(study.kind)
        is_others = runner.is_apart if kind is FILE else runner.elsewhere is not None
        if is_others or runner.has(study.key):
            continue
        if study.reason:  # what was begun ahead is looked for anew, see `app.answers.ahead`
            runner.book.forget_ahead(study.key, study.holder)
            continue
        with database.session() as session:
            job = _job_of(Desk(session, store.get_site(session, study.site_id), runner), study)
        if job is not None:
            runner.asked_by(study.asker).begin(job, is_written=True)
        else:
            runner.book.break_off(study.key)

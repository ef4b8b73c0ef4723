"""Work in hand for programs: what is to be worked out of a day, within what a token may ask for."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import Annotated, cast

from fastapi import APIRouter, Path
from fastapi.responses import Response

from app.access.table import API
from app.answers.answer import Kind
from app.answers.happened import AFTERWARDS
from app.answers.kinds import StudyLine, studies_page, study_line
from app.answers.planning import PLAN
from app.answers.staff import STAFF
from app.answers.studies.runner import ended_words
from app.answers.switching import SWITCH
from app.api.door import Asking, AskingDep, Door, SiteDep
from app.api.problems import Refused
from app.api.read import why_nothing
from app.api.shapes import After, Limit, Paged, WorkSent, WorkShown, paged, place_of, shown
from app.catalogue import _
from app.sites.reading import StoredSite

router = APIRouter(route_class=Door)
KINDS = {
    name: cast("Kind[object, object]", kind)
    for name, kind in (("plan", PLAN), ("rule", SWITCH), ("staff", STAFF), ("happened", AFTERWARDS))
}
"""What may be asked for, by its name here."""
NAMES = {kind.name: name for name, kind in KINDS.items()}
KeyOf = Annotated[str, Path(max_length=80, description="The key of a piece of work")]
_ONE_AT_A_TIME = threading.Lock()
"""Held while it is looked whether a token may begin something more, until that is begun."""


@router.get("/sites/{slug}/work", response_model=Paged[WorkShown])
def work(program: AskingDep, site: SiteDep, limit: Limit = 100, after: After = None) -> Response:
    """The pieces of work of a site that are kept, whoever asked for them, by their keys."""
    place = place_of(after, 1)
    behind = str(place[0]) if place else ""
    lines = studies_page(program.web.database, program.web.runner, site.id, behind, limit + 1)
    return shown(paged([_shown(one) for one in lines], limit, lambda one: [one.key]))


@router.get("/sites/{slug}/work/{key}", response_model=WorkShown)
def piece(program: AskingDep, site: SiteDep, key: KeyOf) -> Response:
    """A piece of work, and how far it is."""
    found = _find(program, site, key)
    if found is None:
        raise Refused(404, _("There is no such piece of work, or none any more."))
    return shown(_shown(found))


@router.post(
    "/sites/{slug}/work", response_model=WorkShown, status_code=202,
    responses={200: {"model": WorkShown, "description": "It is there already"}},
)  # fmt: skip
def ask(program: AskingDep, site: SiteDep, sent: WorkSent) -> Response:
    """Has an answer worked out; nothing is begun anew that is there or under way already."""
    kind = KINDS[sent.kind]
    view = program.web.open(site, kind, sent.day)
    if not view.key or view.problems:
        raise Refused(422, why_nothing(view))
    if view.job is None:
        return shown(WorkShown(view.key, sent.kind, sent.day, None, "done", 1, 1, None, ""))
    if view.running is None:
        with _ONE_AT_A_TIME:
            program.may_begin()
            replace(program.web, runner=program.runner).begun(site, kind, sent.day)
    begun = _find(program, site, view.key)
    if begun is None or not begun.study.is_open:
        raise Refused(
            429, _("Too much is being worked out for everybody."), headers={"Retry-After": "30"}
        )
    where = f"{API}/sites/{site.slug}/work/{view.key}"
    return shown(_shown(begun), 202, Location=where)


def _find(program: Asking, site: StoredSite, key: str) -> StudyLine | None:
    return study_line(program.web.database, program.web.runner, site.id, key)


def _shown(line: StudyLine) -> WorkShown:
    study, progress = line.study, line.progress
    done, total = (study.done, study.total) if progress is None else (progress.done, progress.total)
    return WorkShown(
        study.key, NAMES.get(study.kind, study.kind), study.day, study.asked_at, study.state,
        done, total,
        None if progress is None else progress.left_s, ended_words(study),
    )  # fmt: skip

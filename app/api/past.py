"""Counts and weighings for programs: read, and entered by the version of the site that was read."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import cast

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.access.codes import new_secret
from app.answers.serial import write
from app.api.door import AskingDep, Door, SiteDep
from app.api.log import EARLIEST, LATEST, First, Last
from app.api.once import Key, name_of, once
from app.api.problems import Fault, Refused
from app.api.shapes import (
    After,
    CountsSent,
    Limit,
    Paged,
    WeighingsSent,
    WeighingsShown,
    Written,
    paged,
    place_of,
    shown,
)
from app.books import weighing_problems
from app.catalogue import _
from app.pages.advice import opened_gate
from app.sites.reading import Outcome, counts_page_of
from sim.errors import InputError
from sim.inputs import History, HourCount, Weighing

router = APIRouter(route_class=Door)
DIGITS = 16
"""Of a digest, which tells weighings of one minute apart."""


@router.get("/sites/{slug}/counts", response_model=Paged[HourCount])
def counts(
    program: AskingDep,
    site: SiteDep,
    first: First = None,
    last: Last = None,
    limit: Limit = 100,
    after: After = None,
) -> Response:
    """Cars of each counted hour of some days, in order of time; all without days."""
    behind = _hour(place_of(after, 3))
    found = counts_page_of(
        program.web.database, site.id, first or EARLIEST, last or LATEST, behind, limit + 1
    )
    return shown(paged(found, limit, lambda one: [one.day, one.hour, one.fold]))


def _hour(place: list[object] | None) -> tuple[date, int, int]:
    """The hour that a mark names; one before all others for none."""
    if place is None:
        return date.min, 0, 0
    day, hour, fold = place
    try:
        if isinstance(day, str) and type(hour) is int and type(fold) is int:
            return date.fromisoformat(day), hour, fold
    except ValueError:
        pass
    raise Refused(422, faults=[Fault("after", _("This is no place in this list."))])


@router.put("/sites/{slug}/counts", response_model=Written)
def put_counts(program: AskingDep, site: SiteDep, sent: CountsSent) -> Response:
    """Stores hours of counts, each in place of the same one; the others stay."""
    rows = tuple(HourCount(**one.model_dump()) for one in sent.counts)
    fresh = History(sent.counted, tuple(sorted(rows)))
    with opened_gate(program.web, site) as gate:
        outcome = gate.store_hours(site.id, fresh, sent.version, new_secret())
    return _written(outcome)


@router.get("/sites/{slug}/weighings", response_model=WeighingsShown)
def weighings(
    program: AskingDep, site: SiteDep, limit: Limit = 100, after: After = None
) -> Response:
    """Weighings of a site in order of time; those of one minute in an order that never changes."""
    behind = _weighed(place_of(after, 4))
    found = [one for one in _places(site.data.weighings) if one[0] > behind]
    page = paged(found, limit, lambda one: one[0])
    items = [weighing for _place, weighing in page.items]
    return shown({"items": items, "after": page.after, "version": site.version})


Place = tuple[str, float, str, int]
"""Where a weighing stands: day, time, digest of what it says, which of those that say the same."""


def _places(found: Sequence[Weighing]) -> list[tuple[Place, Weighing]]:
    """Weighings in order, each with its place, which follows from what it says alone."""
    same, places = Counter[str](), list[tuple[Place, Weighing]]()
    for one in found:
        digest = hashlib.sha256(write(one).encode()).hexdigest()[:DIGITS]
        places.append(((one.day.isoformat(), one.at_s, digest, same[digest]), one))
        same[digest] += 1
    return sorted(places)


def _weighed(place: list[object] | None) -> Place:
    """The place that a mark names; one before all others for none."""
    if place is None:
        return "", 0.0, "", 0
    day, at_s, digest, number = place
    is_time = type(at_s) in (int, float)
    if isinstance(day, str) and is_time and isinstance(digest, str) and type(number) is int:
        return day, cast("float", at_s), digest, number
    raise Refused(422, faults=[Fault("after", _("This is no place in this list."))])


@router.post("/sites/{slug}/weighings", response_model=Written, status_code=201)
def add_weighings(
    request: Request, program: AskingDep, site: SiteDep, sent: WeighingsSent, idempotency_key: Key
) -> Response:
    """Adds weighings; the same request twice adds them once."""
    more = tuple(Weighing(**one.model_dump()) for one in sent.weighings)

    def work() -> Response:
        problems = [one for item in more for one in weighing_problems(item, site.data.site)]
        if problems:
            raise InputError(problems)
        book = (*site.data.weighings, *more)
        key, today = name_of(program.token_id, idempotency_key), program.web.today(site)
        with opened_gate(program.web, site) as gate:
            outcome = gate.set_book(site.id, "weighings", book, sent.version, key, today)
        return _written(outcome, 201)

    return once(program, request, idempotency_key, sent, work)


def _written(outcome: Outcome, status: int = 200) -> Response:
    return shown({"version": outcome.version, "changed": outcome.changed}, status)

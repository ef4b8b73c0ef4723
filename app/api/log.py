"""The logbook for programs: its entries, one more, corrected, taken back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from app.access.codes import new_secret
from app.access.table import LOG
from app.answers.checks import named_problems, reading_problems
from app.api.door import Asking, AskingDep, Door, SiteDep
from app.api.once import OTHER, Key, entry_key, name_of, once
from app.api.problems import Refused
from app.api.shapes import (
    After,
    AnyEntry,
    Day,
    Limit,
    Paged,
    Strict,
    Struck,
    paged,
    place_of,
    shown,
)
from app.catalogue import _
from app.pages.advice import opened_gate
from app.sites.reading import StoredSite, entries_of, log_page_of
from sim.errors import InputError, InputProblem
from sim.inputs import LogEntry
from sim.inputs.logbook import ADVICE
from sim.units import FIRST_YEAR, LAST_YEAR

router = APIRouter(route_class=Door)
KeyOf = Annotated[str, Path(max_length=64, description="The key of an entry")]
First = Annotated[Day | None, Query(description="The first day")]
Last = Annotated[Day | None, Query(description="The last day")]
EARLIEST, LATEST = date(FIRST_YEAR, 1, 1), date(LAST_YEAR, 12, 31)


@router.get("/sites/{slug}/log", response_model=Paged[LogEntry])
def entries(
    program: AskingDep,
    site: SiteDep,
    first: First = None,
    last: Last = None,
    limit: Limit = 100,
    after: After = None,
) -> Response:
    """Entries of some days, those that were taken back among them; all without days.

    They come by their keys, not by time: so an entry that is corrected while somebody reads on is
    neither left out nor told twice.
    """
    place = place_of(after, 1)
    behind = str(place[0]) if place else ""
    found = log_page_of(
        program.web.database, site.id, first or EARLIEST, last or LATEST, behind, limit + 1
    )
    return shown(paged(found, limit, lambda entry: [entry.key]))


@router.get("/sites/{slug}/log/{key}", response_model=LogEntry)
def entry(program: AskingDep, site: SiteDep, key: KeyOf) -> Response:
    """An entry."""
    return shown(_held(program, site, key))


@router.post("/sites/{slug}/log", response_model=LogEntry, status_code=201)
def add(
    request: Request, program: AskingDep, site: SiteDep, entry: AnyEntry, idempotency_key: Key
) -> Response:
    """Stores an entry, of now where it has no time; the same request twice stores it once."""
    sent, own = idempotency_key, entry_key(program.token_id, idempotency_key)

    def work() -> Response:
        held = entries_of(program.web.database, site.id, [own]).get(own)
        made = _read(program, site, entry, own, held)
        if held is None:
            _enter(program, site, made, name_of(program.token_id, sent))
        elif made != held:
            raise Refused(422, _(OTHER))
        where = f"{request.url.path}/{own}"
        return shown(made, 201, Location=where)

    return once(program, request, sent, entry, work)


@router.put("/sites/{slug}/log/{key}", response_model=LogEntry)
def correct(program: AskingDep, site: SiteDep, key: KeyOf, entry: AnyEntry) -> Response:
    """Corrects an entry: all of it anew but its kind; day and time that are left out stay."""
    held = _changeable(program, site, key)
    made = _read(program, site, entry, key, held)
    if made.kind != held.kind:
        sentence = "This entry is of another kind. Take it back, and enter what happened."
        raise InputError([InputProblem("kind", sentence)])
    made = replace(made, struck=held.struck)
    _enter(program, site, made)
    return shown(made)


@router.put("/sites/{slug}/log/{key}/struck", response_model=LogEntry)
def strike(program: AskingDep, site: SiteDep, key: KeyOf, sent: Struck) -> Response:
    """Takes an entry back, or puts it back; the history keeps both."""
    made = replace(_changeable(program, site, key), struck="yes" if sent.struck else "")
    _enter(program, site, made)
    return shown(made)


# ---- what is shared ------------------------------------------------------------------------------


def _held(program: Asking, site: StoredSite, key: str) -> LogEntry:
    found = entries_of(program.web.database, site.id, [key]).get(key)
    if found is None:
        raise Refused(404, _("There is no entry of this key."))
    return found


def _changeable(program: Asking, site: StoredSite, key: str) -> LogEntry:
    held = _held(program, site, key)
    if held.kind == ADVICE:
        words = "An advice stays as it was given. Enter what happened as an entry of its own."
        raise Refused(409, _(words))
    return held


def _read(
    program: Asking, site: StoredSite, sent: Strict, key: str, held: LogEntry | None
) -> LogEntry:
    """The entry that was sent; of now, or of when the held one is, where it has no time."""
    told: dict[str, Any] = sent.model_dump()
    today, now_s = program.web.clock_at(site)
    day, at_s = told.pop("day"), told.pop("at_s")
    if at_s is None and held is None and day not in (None, today):
        raise InputError([InputProblem("at_s", "No time was given. Enter when it happened.")])
    if held is not None:
        today, now_s = held.day, held.at_s
    entry = LogEntry(key, day or today, now_s if at_s is None else at_s, **told)
    is_correction = held is not None
    problems = [
        *named_problems(entry.kind, entry.name, entry.vehicle, site.data, is_correction),
        *reading_problems(entry, site.data),
    ]
    if problems:
        raise InputError(problems)
    return entry


def _enter(program: Asking, site: StoredSite, entry: LogEntry, request_key: str = "") -> None:
    """Through the gate of every page; what follows for now is noted while the token's day lasts."""
    web = program.working(LOG)
    with program.counted(), opened_gate(web, site) as gate:
        gate.enter(site.id, [entry], request_key or new_secret(), web.today(site))

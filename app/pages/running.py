"""What a server tells whoever operates it: whether it lives, whether it is ready, and its numbers.

A program on the machine itself may ask without signing in, and an owner from anywhere. Nothing of
a person, a site or a path is told.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

from fastapi import APIRouter
from fastapi.responses import JSONResponse, Response

from app.pages.deps import Web, WebDep
from app.running.numbers import CONTENT_TYPE, Family, by_label, exposition, gauge
from app.settings import VERSION
from app.sites.keeping import can_keep, has_newest_shape, kept_of, standing
from app.sites.reading import CannotOpen

router = APIRouter()
WELL, ILL = "well", "ill"


@dataclass(frozen=True, slots=True)
class Ready:
    """Whether a server can do its work, part by part: ``well`` or ``ill``.

    Attributes:
        is_ready: whether all three parts are well. An old copy hinders nobody, so copies are told
            beside it.
        database: reachable, and of the newest shape. disk: the data folder can be written.
        computing: the process that computes is there.
        copies: whether the last copy of the database could be made.
        copy_age_s: age of the newest copy [s]; None where there is none.
    """

    is_ready: bool
    database: str
    disk: str
    computing: str
    copies: str
    copy_age_s: float | None


def readiness(web: Web) -> Ready:
    """How the parts of a running app are."""
    try:
        has_shape = has_newest_shape(web.database)
    except CannotOpen:
        has_shape = False
    can_write = can_keep(web.settings.data_dir)
    computes = web.apart is None or web.apart.is_alive()
    return Ready(
        has_shape and can_write and computes,
        _how(has_shape),
        _how(can_write),
        _how(computes),
        _how(not kept_of(web.database).fault),
        copy_age_s(web),
    )


def copy_age_s(web: Web) -> float | None:
    """Age of the newest copy of the database [s]; None where there is none."""
    newest = kept_of(web.database).newest
    return None if newest is None else (web.settings.clock() - newest).total_seconds()


def _how(is_well: bool) -> str:
    return WELL if is_well else ILL


@router.get("/health/live")
def live() -> Response:
    """That the server answers at all."""
    return JSONResponse({"is_live": True})


@router.get("/health/ready")
def ready(web: WebDep) -> Response:
    """Whether it can do its work; 503 where it can't."""
    found = readiness(web)
    return JSONResponse(asdict(found), 200 if found.is_ready else 503)


@router.get("/metrics")
def metrics(web: WebDep) -> Response:
    """Its numbers, as a monitor collects them."""
    return Response(exposition(families(web)), media_type=CONTENT_TYPE)


def families(web: Web) -> list[Family]:
    """The numbers of a running app."""
    counted = standing(web.database, web.settings.clock().date())
    kept = kept_of(web.database)
    age_s = copy_age_s(web)
    version = Family("", "info", "This Clothcast.", (("_info", (("version", VERSION),), 1),))
    found = [
        version,
        *web.requests.families(),
        by_label("studies", "Computations that wait or run.", "state", counted.studies),
        gauge(
            "ahead_spent_seconds",
            "Processor time that work ahead took today (UTC).", counted.ahead_s, "seconds",
        ),
        gauge(
            "ahead_budget_seconds",
            "Processor time a day that work ahead may take.", web.settings.ahead_s, "seconds",
        ),
        gauge("logbook_entries", "Entries of all logbooks.", counted.entries),
        gauge("copies", "Copies of the database beside it.", kept.count),
    ]  # fmt: skip
    if age_s is not None:
        words = "Age of the newest copy of the database."
        found.append(gauge("copy_age_seconds", words, age_s, "seconds"))
    return found

"""Three weighings: a guided page, and what came of them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.answers.weighings import open_weighings
from app.catalogue import _
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.weighings.view import WeighingRead, read_weighing, weighings_page
from app.pages.writing import carry_out, place_in, request_key_of, version_of
from app.sites.reading import Gate, Outcome, StoredSite
from sim.errors import InputProblem
from sim.inputs import Weighing

router = APIRouter()


@router.get("/{slug}/weighings")
def show_weighings(request: Request, site: SiteDep, web: WebDep, stored: str = "") -> Response:
    """The page; what is not worked out yet is begun, and the page asks again by itself."""
    done = {"yes": _("Stored."), "struck": _("Struck out. The history keeps it.")}.get(stored, "")
    return _page(request, web, site, done=done)


@router.post("/{slug}/weighings")
def store_weighing(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the strips of one weighing."""
    today = web.today(site.data.site.timezone)
    read = read_weighing(form, site.data, today)
    if read.problems:
        return _page(request, web, site, read=read, problems=read.problems, status=422)
    return _store(request, web, site, form, (*site.data.weighings, *read.weighings), read, "yes")


@router.post("/{slug}/weighings/strike")
def strike_weighing(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Strikes a weighing out; it stays in the history."""
    held = site.data.weighings
    which = place_in(form, len(held))
    if which is None:
        problem = InputProblem("weighing", "There is no such weighing any more.")
        return _page(request, web, site, problems=[problem], status=422)
    left = (*held[:which], *held[which + 1 :])
    return _store(request, web, site, form, left, None, "struck")


def _store(
    request: Request,
    web: Web,
    site: StoredSite,
    form: FormDep,
    weighings: Sequence[Weighing],
    read: WeighingRead | None,
    done: str,
) -> Response:
    def write(gate: Gate) -> Outcome:
        key = request_key_of(form)
        return gate.set_book(site.id, "weighings", tuple(weighings), version_of(form), key)

    again = partial(_page, request, web, read=read)
    address = f"/{site.slug}/weighings?stored={done}"
    return carry_out(web, site, write, again, address)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    read: WeighingRead | None = None,
    problems: Sequence[InputProblem] = (),
    done: str = "",
    stale: str = "",
    status: int = 200,
) -> Response:
    today = web.today(site.data.site.timezone)
    view = open_weighings(web.database, site, today, web.runner)
    page = weighings_page(site, view, today, read=read, problems=problems, done=done, stale=stale)
    response = render(
        request, "weighings/weighings.html", page,
        title=_("Three weighings"), current="weighings", site=site, kind="hand", status=status,
    )  # fmt: skip
    # a page that asks again by itself must not take away what is being typed
    if page.waiting and not problems and not stale:
        ask_again(request, response)
    return response

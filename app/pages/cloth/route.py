"""Cloth: the sets of a site, when to change, and the forms that keep their record."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import partial

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.cloth import CLOTH, ClothView, time_of_day
from app.answers.serial import write
from app.catalogue import _
from app.pages.cloth.form import ClothRead, read_cloth_form
from app.pages.cloth.view import cloth_page
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.writing import carry_out, new_request_key, place_in, request_key_of, version_of
from app.sites.reading import Gate, Outcome, StoredSite
from sim.errors import InputProblem
from sim.inputs import ClothBook

router = APIRouter()


@router.get("/{slug}/cloth")
def show_cloth(request: Request, site: SiteDep, web: WebDep, stored: str = "") -> Response:
    """The page."""
    done = {"yes": _("Stored."), "struck": _("Struck out. The history keeps it.")}.get(stored, "")
    return _page(request, web, site, done=done)


@router.get("/{slug}/cloth.json")
def cloth_json(site: SiteDep, web: WebDep) -> Response:
    """The answer as `clothcast cloth --json` writes it; where there is none, 422 and why."""
    found = _view(web, site).result
    if found is None:
        raise HTTPException(404, _("When to change cloth has not been worked out yet."))
    if found.answer is None:
        said = {"problems": [problem.say(site.data.units) for problem in found.problems]}
        return Response(json.dumps(said, ensure_ascii=False), 422, media_type="application/json")
    return Response(write(found.answer, indent=1), media_type="application/json")


@router.post("/{slug}/cloth")
def store_entry(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores what one of the forms enters."""
    today = web.today(site.data.site.timezone)
    read = read_cloth_form(form, site.data, today)
    if read.problems:
        return _page(request, web, site, read=read, problems=read.problems, status=422)
    return _store(request, web, site, form, read.book, read, "yes")


@router.post("/{slug}/cloth/anew")
def try_again(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins what was not begun, has failed or was stopped."""
    web.open(site, CLOTH, web.today(site.data.site.timezone)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/cloth", 303)


@router.post("/{slug}/cloth/strike")
def strike_entry(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Strikes an entry of the record out; it stays in the history."""
    book = site.data.cloth
    which = place_in(form, len(book.events))
    if which is None:
        problem = InputProblem("entry", "There is no such entry any more.")
        return _page(request, web, site, problems=[problem], status=422)
    left = (*book.events[:which], *book.events[which + 1 :])
    return _store(request, web, site, form, ClothBook(book.sets, left), None, "struck")


def _store(
    request: Request,
    web: Web,
    site: StoredSite,
    form: FormDep,
    book: ClothBook,
    read: ClothRead | None,
    done: str,
) -> Response:
    today = web.today(site.data.site.timezone)

    def write(gate: Gate) -> Outcome:
        return gate.set_book(site.id, "cloth", book, version_of(form), request_key_of(form), today)

    again = partial(_page, request, web, read=read)
    address = f"/{site.slug}/cloth?stored={done}"
    return carry_out(web.database, web.now(), site, write, again, address)


def _view(web: Web, site: StoredSite) -> ClothView:
    """The answer; what has not been worked out is begun."""
    today = web.today(site.data.site.timezone)
    return web.begun(site, CLOTH, today)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    read: ClothRead | None = None,
    problems: Sequence[InputProblem] = (),
    done: str = "",
    stale: str = "",
    status: int = 200,
) -> Response:
    view = _view(web, site)
    page = cloth_page(
        site,
        view,
        time_of_day(site, web.now(), view.day),
        new_request_key(),
        read=read,
        problems=problems,
        done=done,
        stale=stale,
    )
    response = render(
        request, "cloth/cloth.html", page,
        title=_("Cloth"), current="cloth", site=site, status=status,
    )  # fmt: skip
    # a page that asks again by itself must not take away what is being typed
    if page.waiting is not None and not page.forms:
        ask_again(request, response)
    return response

"""The list of sites, and the set-up of a new one in three steps."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.catalogue import _
from app.pages.deps import FormDep, SiteDep, Web, WebDep, remembered_site, render
from app.pages.forms import Typed, read_fields, text_of
from app.pages.sites.view import SETUP_INPUTS, setup_page, sites_page
from app.pages.writing import new_request_key, request_key_of, stale_words, version_of
from app.sites.reading import Outcome, Stale, gate, sites_of
from sim.errors import InputError, InputProblem
from sim.inputs import Site, SiteData
from sim.profiles import STARTS, USUAL
from sim.units import SYSTEMS

router = APIRouter()


@router.get("/")
def first_page(request: Request, web: WebDep) -> Response:
    """Today at the site that was looked at last; the list of sites where there is none."""
    site = remembered_site(request, web)
    return RedirectResponse(f"/{site.slug}/today" if site else "/sites", 303)


@router.get("/sites")
def show_sites(request: Request, web: WebDep) -> Response:
    """Every site, and the form for a new one."""
    return _sites(request, web, Typed(), ())


@router.post("/sites")
def make_site(request: Request, web: WebDep, form: FormDep) -> Response:
    """Stores a new site with the inputs it starts from; the line's figures come next."""
    texts = {name: text_of(form, name).strip() for name in ("name", "timezone", "units", "start")}
    units = texts["units"] if texts["units"] in SYSTEMS else "us"
    start = STARTS.get(texts["start"], USUAL)
    site = Site(texts["name"], texts["timezone"]).with_values(start.values)
    data = SiteData(site, units)
    try:
        with gate(web.database, web.now()) as writes:
            made: Outcome = writes.create_site(data, request_key_of(form))
    except InputError as fault:
        return _sites(request, web, Typed(texts), fault.problems, 422)
    line = next(line for line in sites_of(web.database) if line.id == made.site_id)
    return RedirectResponse(f"/{line.slug}/setup", 303)


@router.get("/{slug}/setup")
def show_setup(request: Request, site: SiteDep) -> Response:
    """The second step: the figures of the line that matter most."""
    page = setup_page(site, new_request_key())
    return render(request, "sites/setup.html", page, title=_("Set up"), current="site", site=site)


@router.post("/{slug}/setup")
def store_setup(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the figures of the line; the counts come next."""
    units = text_of(form, "units")
    system = units if units in SYSTEMS else site.data.units
    read = read_fields(form, SETUP_INPUTS, system)
    problems, stale, shown, status = read.problems, "", site, 422
    if not problems:
        try:
            with gate(web.database, web.now()) as writes:
                writes.set_inputs(
                    site.id,
                    read.values,
                    expected_version=version_of(form),
                    request_key=request_key_of(form),
                )
            return RedirectResponse(f"/{site.slug}/counts", 303)
        except InputError as fault:
            problems = fault.problems
        except Stale as fault:
            stale = stale_words(fault, site.data.site.timezone)
            shown, status = web.site_at(site.slug) or site, 409
    page = replace(setup_page(shown, new_request_key(), read.typed, problems, system), stale=stale)
    return render(
        request, "sites/setup.html", page,
        title=_("Set up"), current="site", site=site, status=status,
    )  # fmt: skip


def _sites(
    request: Request,
    web: Web,
    typed: Typed,
    problems: tuple[InputProblem, ...],
    status: int = 200,
) -> Response:
    page = sites_page(sites_of(web.database), new_request_key(), typed, problems)
    return render(
        request, "sites/sites.html", page, title=_("Sites"), current="sites", status=status
    )

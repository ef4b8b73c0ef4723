"""The list of sites, and the set-up of a new one in three steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.catalogue import _, _n
from app.pages.cautions import BELT, Notice
from app.pages.deps import FormDep, SiteDep, Web, WebDep, remembered_site, render
from app.pages.forms import (
    FieldView,
    RowForm,
    Summary,
    Typed,
    input_fields,
    read_fields,
    summary,
    text_of,
    units_choices,
    units_of,
    with_water_seen,
)
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import Gate, Outcome, SiteLine, StoredSite, gate, sites_of
from app.words.dry import damp_words
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, Site, SiteData
from sim.inputs.rows import Word
from sim.profiles import STARTS, USUAL

SETUP_NAMES = (
    "open_h",
    "close_h",
    "slowest_belt_m_s",
    "fastest_belt_m_s",
    "conveyor_speed_m_s",
    "car_spacing_m",
    "pusher_pitch_m",
    "wheel_position_m",
    "pay_lanes",
    "loading_line_cars",
    "stack_limit_cars",
    "loaders",
    "people",
    "price_per_car",
    "wage_per_h",
)
MINDED_NAMES = (
    "allowed_film_kg_m2",
    "damp_cost",
    "zone_minded_roof",
    "zone_minded_rear",
    "reduced_cost",
    "member_share",
    "member_margin_year",
)
LINE_INPUTS, MINDED_INPUTS = (
    {name: INPUTS[name] for name in names} for names in (SETUP_NAMES, MINDED_NAMES)
)
SETUP_INPUTS = LINE_INPUTS | MINDED_INPUTS
"""What a new site enters first: without these no plan resembles it."""

TIMEZONES = (
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Toronto",
    "Europe/London",
    "Europe/Berlin",
    "Australia/Sydney",
    "UTC",
)
"""Time zones that are offered; any other name may be typed."""

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SitesPage:
    """The list of sites and the form for a new one."""

    answer: str
    sites: Sequence[SiteLine]
    summary: Summary | None
    request_key: str
    fields: tuple[FieldView, ...]
    zones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetupPage:
    """The second step of a set-up.

    Attributes:
        fields, minded: of the line, and of what customers mind.
        dry: which car counts as damp, and how to find out.
    """

    site: StoredSite
    stale: str
    summary: Summary | None
    request_key: str
    units: str
    fields: tuple[FieldView, ...]
    minded: tuple[FieldView, ...]
    dry: str
    notices: tuple[Notice, ...]


@router.get("/")
def first_page(request: Request, web: WebDep) -> Response:
    """Today at the site that was looked at last; the list of sites where there is none."""
    site = remembered_site(request, web)
    return RedirectResponse(f"/{site.slug}/today" if site else "/sites", 303)


@router.get("/sites")
def show_sites(request: Request, web: WebDep) -> Response:
    """Every site, and the form for a new one."""
    return _sites(request, web, {}, ())


@router.post("/sites")
def make_site(request: Request, web: WebDep, form: FormDep) -> Response:
    """Stores a new site with the inputs it starts from; the line's figures come next."""
    texts = {name: text_of(form, name).strip() for name in ("name", "timezone", "units", "start")}
    start = STARTS.get(texts["start"], USUAL)
    site = Site(texts["name"], texts["timezone"]).with_values(start.values)
    try:
        with gate(web.database, web.now()) as writes:
            data = SiteData(site, units_of(form, "us"))
            made: Outcome = writes.create_site(data, request_key_of(form))
    except InputError as fault:
        return _sites(request, web, texts, fault.problems, 422)
    line = next(line for line in sites_of(web.database) if line.id == made.site_id)
    return RedirectResponse(f"/{line.slug}/setup", 303)


def _sites(
    request: Request,
    web: Web,
    typed: dict[str, str],
    problems: Sequence[InputProblem],
    status: int = 200,
) -> Response:
    """The page; `typed` and `problems` are of a new site that could not be stored."""
    sites, form = sites_of(web.database), RowForm("", "us", typed, problems)
    name = Word(
        name="name",
        label="Name of the site",
        hint="What your people call it, up to 60 characters.",
    )
    zone = Word(
        name="timezone",
        label="Time zone",
        hint="Choose one, or type its name in the time zone database.",
    )
    start = Word(
        name="start",
        label="Start from",
        hint="Guesses that come near; your own figures replace them in the next step.",
    )
    starts = tuple((one.key, _(one.label)) for one in STARTS.values())
    fields = (
        form.field(name),
        form.field(zone, TIMEZONES[0]),
        form.field(Word(name="units", label="Units"), "us", choices=units_choices()),
        form.field(start, USUAL.key, choices=starts),
    )
    answer = _("No site is stored here yet.")
    if sites:
        answer = _n("One site is stored here.", "{count} sites are stored here.", len(sites))
    page = SitesPage(answer, sites, summary(problems, "us"), new_request_key(), fields, TIMEZONES)
    return render(request, "sites/sites.html", page, current="sites", status=status)


@router.get("/{slug}/setup")
def show_setup(request: Request, site: SiteDep) -> Response:
    """The second step: the figures of the line that matter most."""
    return _setup(request, None, site.data.units, site)


@router.post("/{slug}/setup")
def store_setup(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the figures of the line; the counts come next."""
    system = units_of(form, site.data.units)
    read = read_fields(form, SETUP_INPUTS, system)
    again = partial(_setup, request, read.typed, system)
    if read.problems:
        return again(site, problems=read.problems, status=422)

    def write(gate: Gate) -> Outcome:
        return gate.set_inputs(
            site.id,
            read.values,
            expected_version=version_of(form),
            request_key=request_key_of(form),
        )

    return carry_out(web, site, write, again, f"/{site.slug}/counts")


def _setup(
    request: Request,
    typed: Typed | None,
    system: str,
    site: StoredSite,
    *,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page; `typed` and what follows are of a form that could not be stored."""
    page = SetupPage(
        site,
        stale,
        summary(problems, system),
        new_request_key(),
        system,
        input_fields(LINE_INPUTS, site.data, system, typed, problems),
        with_water_seen(
            input_fields(MINDED_INPUTS, site.data, system, typed, problems), site.data.site
        ),
        damp_words(site.data.site, site.data.given, site.data.weighings, system),
        (BELT,),
    )
    return render(
        request, "sites/setup.html", page,
        title=_("Set up"), current="site", site=site, status=status,
    )  # fmt: skip

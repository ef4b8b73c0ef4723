"""Speed and spacing: a day's maps, begun in the background and read when they are there; as CSV."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers import settings_map
from app.answers.settings_map import MapView
from app.catalogue import _, long_date
from app.charts.maps import maps_key, settings_charts, weather_charts
from app.charts.marks import Chart
from app.files.csv_table import Written, csv_text
from app.pages.days import ask_again, date_of, no_date_words, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.plan.view import (
    closed_words,
    no_cars_words,
    plan_title,
    unknown_words,
    weather_words,
)
from app.pages.settings.view import (
    SettingsPage,
    allowed_lines,
    cautions,
    made_for,
)
from app.pages.studies.view import Waiting
from app.pages.studies.view import waiting as waiting_of
from app.sites.reading import StoredSite
from app.words.columns import Spoken
from app.words.figures import shown
from app.words.maps import answer_words, bearing_words
from sim.day.figures import FIGURES
from sim.units import UNITS

_AXES = (
    ("conveyor_speed_m_s", "conveyor speed", "speed"),
    ("car_spacing_m", "car spacing", "length"),
    ("demand", "cars of those expected", "share"),
    ("highest_temp_c", "highest temperature", "temperature"),
)


def map_csv(found: Mapping[str, Any], system: str) -> str:
    """Both maps: grid points and the closer ones along the limits, unrounded.

    Axes that a map does not move are empty: it stands at their present or expected value.
    """
    lines: list[list[object]] = []
    write = lines.append
    columns = found["settings"]["columns"]
    figures = [name for name in columns if name in FIGURES]
    keeps = [name for name in columns if name.startswith("keeps_")]
    units = [_with_unit(FIGURES[name].label, FIGURES[name].unit, system) for name in figures]
    write(
        [
            "map",
            *(_with_unit(label, kind, system) for _, label, kind in _AXES),
            "on grid",
            *units,
            *(f"keeps to {FIGURES[name.removeprefix('keeps_')].label.lower()}" for name in keeps),
        ]
    )
    for title, key in (("speed and spacing", "settings"), ("demand and temperature", "weather")):
        plane = found[key]
        at = {name: i for i, name in enumerate(plane["columns"])}
        axes = {plane["x"]["name"]: at["x"], plane["y"]["name"]: at["y"]}
        for row in plane["points"]:
            write(
                [
                    title,
                    *(
                        _plain(row[axes[name]], kind, system) if name in axes else ""
                        for name, _, kind in _AXES
                    ),
                    _yes(row[at["on_grid"]]),
                    *(_plain(row[at[name]], FIGURES[name].unit, system) for name in figures),
                    *(_yes(row[at[name]]) for name in keeps),
                ]
            )
    return csv_text([str(name) for name in lines[0]], lines[1:])


def _with_unit(label: str, kind: str, system: str) -> str:
    symbol = UNITS[kind].symbol(system)
    return f"{label} ({symbol})" if symbol else label


def _plain(value: float | None, kind: str, system: str) -> str:
    return "" if value is None else Written(f"{shown(value, kind, system):.6g}")


def _yes(value: object) -> str:
    return "yes" if value else "no"


router = APIRouter()


@router.get("/{slug}/settings")
def choose(request: Request, site: SiteDep, web: WebDep, day: str = "") -> Response:
    """On to the maps of a day: the one typed, else the busiest of the coming ones."""
    typed = day.strip()
    today = web.today(site.data.site.timezone)
    found = date_of(typed) if typed else None
    busiest = settings_map.busiest_day(web.database, site, today, web.runner)
    if typed and found is None:
        message = no_date_words(typed)
        return _page(request, site, _open(web, site, busiest), typed, message)
    return RedirectResponse(f"/{site.slug}/settings/{(found or busiest).isoformat()}", 303)


@router.get("/{slug}/settings/{day}")
def show_maps(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """A day's maps; what has not been computed is begun, and the page asks again by itself."""
    view = _open(web, site, wanted(day))
    if view.asked is not None and view.result is None and not view.failed and not view.running:
        settings_map.begin_map(web.runner, site.id, view)
        view = _open(web, site, wanted(day))
    return _page(request, site, view)


@router.post("/{slug}/settings/{day}")
def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed."""
    view = _open(web, site, wanted(day))
    settings_map.begin_map(web.runner, site.id, view)
    return RedirectResponse(f"/{site.slug}/settings/{day}", 303)


@router.get("/{slug}/settings/{day}/map.csv")
def maps_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """Every point of both maps, unrounded."""
    view = _open(web, site, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("The maps of this day have not been computed yet."))
    name = f"{site.slug}-{day}-map.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    # The mark at the front tells spreadsheets that the file is UTF-8.
    text = "\ufeff" + map_csv(view.result, site.data.units)
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


def _open(web: Web, site: StoredSite, day: date) -> MapView:
    with web.database.session() as session:
        return settings_map.open_map(session, site, day, web.runner)


def _page(
    request: Request, site: StoredSite, view: MapView, typed: str = "", message: str = ""
) -> Response:
    plan, system = view.plan, site.data.units
    expected, found = plan.expected, view.result
    date_words = long_date(plan.day)
    answer: Spoken | None = None
    sure: Spoken | None = None
    waiting: Waiting | None = None
    settings: tuple[Chart, ...] = ()
    weather: tuple[Chart, ...] = ()
    told: dict[str, Any] = {"made_for": (), "allowed": (), "weather_words": (), "key": ()}
    needs_plan = False
    if expected is None:
        answer, sure = unknown_words(plan.problems, system)
        needs_plan = True
    elif expected.closed:
        answer, sure = closed_words(date_words)
    elif expected.expected_cars <= 0:
        answer, sure = no_cars_words()
    elif view.asked is None:
        answer = Spoken(_("No map yet."), _("The plan of this day can’t be computed as it stands."))
        needs_plan = True
    elif found is not None:
        answer, sure = answer_words(found, system)
        settings, weather = settings_charts(found, system), weather_charts(found, system)
        told = {
            "made_for": made_for(found),
            "allowed": allowed_lines(found, system),
            "weather_words": bearing_words(found, system),
            "key": maps_key(found),
        }
    elif view.failed:
        answer = Spoken(view.failed, _("“Work it out” begins it."))
    elif view.running is not None:
        waiting = waiting_of(view.running, view.key)
    page = SettingsPage(
        slug=site.slug,
        day=plan.day.isoformat(),
        date_words=date_words,
        weather_line="" if expected is None else weather_words(expected, system),
        answer=answer,
        sure=sure,
        waiting=waiting,
        settings=settings,
        weather=weather,
        can_retry=bool(view.failed) and found is None,
        needs_plan=needs_plan,
        no_map=found is not None and not settings,
        message=message,
        typed=typed,
        notices=cautions(),
        **told,
    )
    response = render(
        request, "settings/settings.html", page, title=_("Speed and spacing"), current="settings",
        site=site, when=plan_title(plan.day), status=422 if message else 200,
    )  # fmt: skip
    if waiting is not None:
        ask_again(request, response)
    return response

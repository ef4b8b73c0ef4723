"""Speed and spacing: a day's maps, begun in the background and read when they are there; as CSV."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from app.answers.settings_map import MAPS, MapView
from app.catalogue import _, long_date
from app.charts.maps import maps_key, settings_charts, weather_charts
from app.charts.marks import Chart
from app.files.csv_table import Written, csv_text
from app.pages.days import add_day_pages, ask_again, wanted
from app.pages.deps import SiteDep, Web, WebDep, render
from app.pages.plan.view import instead_of, plan_title, weather_words
from app.pages.settings.view import (
    SettingsPage,
    allowed_lines,
    cautions,
    made_for,
)
from app.pages.studies.view import Waiting
from app.pages.studies.view import waiting as waiting_of
from app.sites.reading import StoredSite
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


@router.get("/{slug}/settings/{day}/map.csv")
def maps_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """Every point of both maps, unrounded."""
    view = web.open(site, MAPS, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("The maps of this day have not been computed yet."))
    name = f"{site.slug}-{day}-map.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    # The mark at the front tells spreadsheets that the file is UTF-8.
    text = "\ufeff" + map_csv(view.result, site.data.units)
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    view: MapView,
    *,
    typed: str = "",
    message: str = "",
) -> Response:
    plan, system = view.asked.plan, site.data.units
    expected, found = plan.expected, view.result
    waiting: Waiting | None = None
    settings: tuple[Chart, ...] = ()
    weather: tuple[Chart, ...] = ()
    told: dict[str, Any] = {"made_for": (), "allowed": (), "weather_words": (), "key": ()}
    answer, sure, needs_plan = instead_of(view, system, _("No map yet."))
    if found is not None:
        answer, sure = answer_words(found, system)
        settings, weather = settings_charts(found, system), weather_charts(found, system)
        told = {
            "made_for": made_for(found),
            "allowed": allowed_lines(found, system),
            "weather_words": bearing_words(found, system),
            "key": maps_key(found),
        }
    elif view.running is not None and not view.failed:
        waiting = waiting_of(view.running, view.key)
    page = SettingsPage(
        slug=site.slug,
        day=view.day.isoformat(),
        date_words=long_date(view.day),
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
        site=site, when=plan_title(view.day), status=422 if message else 200,
    )  # fmt: skip
    if waiting is not None:
        ask_again(request, response)
    return response


add_day_pages(router, MAPS, _page)

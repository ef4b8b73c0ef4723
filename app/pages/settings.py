"""Speed and spacing: a day's maps, begun in the background and read when they are there; as CSV."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from app.answers.settings_map import MAPS, MapView, with_best
from app.catalogue import _
from app.charts.maps import maps_key, settings_charts, weather_charts
from app.charts.marks import Chart, Key
from app.files.csv_table import table_csv
from app.pages.cautions import BELT, DEFERENCE, Notice
from app.pages.days import (
    add_day_pages,
    instead_of,
    origin_words,
    plan_title,
    wanted,
    weather_words,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, csv_file, render
from app.pages.waiting import REFRESH_S, StudyProgress, before
from app.pages.waiting import waiting as waiting_of
from app.pages.writing import new_request_key, store_scenarios, told_again
from app.sites.reading import StoredSite
from app.words.map_levels import MapLevels
from app.words.maps import answer_words, bearing_words, setting_words
from app.words.numbers import amount, shown
from app.words.phrases import Statement
from sim.day.figures import FIGURES
from sim.decide.maps.answer import Map, SettingsMap
from sim.inputs import Scenario
from sim.units import UNITS

router = APIRouter()


@dataclass(frozen=True, slots=True)
class MapsPart:
    """What is shown of a day's maps.

    Attributes:
        origin: what the expected day was made of.
        allowed: what the manager allows, label and value.
        settings, weather: maps of speed and spacing, and of demand and temperature; no settings
            where the belt has one speed only.
        bears: what follows from the second map.
        key: what is drawn on the maps of settings besides shades.
    """

    found: SettingsMap
    origin: str
    allowed: tuple[tuple[str, str], ...]
    settings: tuple[Chart, ...]
    weather: tuple[Chart, ...]
    bears: tuple[str, ...]
    key: tuple[Key, ...]


@dataclass(frozen=True, slots=True)
class SettingsPage:
    """The page.

    Attributes:
        maps: None while there are none.
        can_retry: a computation failed and may be tried again.
        needs_plan: the day can't be planned as it stands; the plan's page says why.
        message, typed: what is wrong with a typed day, and that day.
        version, plan_key: of the plan, and for the button that puts the best setting into it; no
            key where it has it, or none is better. stale, no_room: why it did not.
    """

    slug: str
    day: datetime.date
    weather: str
    answer: Statement | None
    sure: Statement | None
    waiting: StudyProgress | None
    maps: MapsPart | None
    can_retry: bool
    needs_plan: bool
    message: str
    typed: str
    version: int
    plan_key: str
    stale: str
    no_room: str
    notices: tuple[Notice, ...]


def maps_part(levels: MapLevels, origin: str, system: str) -> MapsPart:
    """What is shown of a day's maps in the reader's units ("si" or "us")."""
    found = levels.found
    allowed = (
        (_(FIGURES[name].label), amount(most, FIGURES[name].unit, system))
        for name, most in found.allowed.items()
    )
    charts, weather = settings_charts(levels, system), weather_charts(levels, system)
    bears, key = bearing_words(found, system), maps_key(found)
    return MapsPart(found, origin, tuple(allowed), charts, weather, bears=bears, key=key)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    view: MapView,
    *,
    typed: str = "",
    message: str = "",
    stale: str = "",
    no_room: str = "",
    status: int = 200,
) -> Response:
    system, found, expected = site.data.units, view.result, view.asked.plan.expected
    answer, sure, needs_plan = instead_of(view, system, _("No map yet."))
    maps, is_waiting = None, view.is_awaited and not view.earlier
    if found is not None:
        levels = _levels(web, site, view, found)
        answer, sure = answer_words(levels, system, site.data.given)
        maps = maps_part(levels, origin_words(expected, system), system)
    page = SettingsPage(
        slug=site.slug,
        day=view.day,
        weather=weather_words(expected, system),
        answer=answer,
        sure=sure,
        waiting=waiting_of(view) if is_waiting else None,
        maps=maps,
        can_retry=view.is_wanting and bool(view.failed) and not view.earlier,
        needs_plan=needs_plan,
        message=message,
        typed=typed,
        version=view.asked.plan.version,
        plan_key=new_request_key() if _is_new(view, system) else "",
        stale=stale,
        no_room=no_room,
        notices=(DEFERENCE, BELT),
    )
    return render(
        request, "settings/settings.html", page, title=_("Speed and spacing"), current="settings",
        site=site, when=plan_title(view.day), status=422 if message else status,
        again=REFRESH_S if page.waiting is not None else 0,
        before=before(site, view, retry=f"/{site.slug}/settings/{view.day}"),
    )  # fmt: skip


def _levels(web: Web, site: StoredSite, view: MapView, found: SettingsMap) -> MapLevels:
    """Maps beside the plan of their day; those of before stand by themselves."""
    return MapLevels.of(found, None if view.earlier else web.compared(site, view.asked.plan))


def _is_new(view: MapView, system: str) -> bool:
    """Whether a better setting was found that the plan does not have."""
    if view.result is None or view.result.better is None or not view.is_final or view.earlier:
        return False
    return _with_best(view, system) != view.asked.plan.scenarios


def _with_best(view: MapView, system: str) -> tuple[Scenario, ...] | None:
    """The plan's scenarios with the best setting, which is called by its speed and spacing."""
    if view.result is None or view.result.better is None:
        raise HTTPException(404, _("No better setting of this day is known."))
    return with_best(view, setting_words(view.result.better, system))


add_day_pages(router, MAPS, _page)


@router.post("/{slug}/settings/{day}/plan")
def put_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the best setting as one more scenario of the day's plan."""
    view = web.open(site, MAPS, wanted(day))

    def draw(fresh: StoredSite, stale: str, no_room: str, status: int) -> Response:
        now = web.shown(fresh, MAPS, view.day)
        return _page(request, web, fresh, now, stale=stale, no_room=no_room, status=status)

    scenarios = _with_best(view, site.data.units)
    return store_scenarios(web, site, view.asked.plan, scenarios, form, told_again(draw))


# ---- the file ------------------------------------------------------------------------------------

AXES = (
    ("conveyor_speed_m_s", "conveyor speed", "speed"),
    ("car_spacing_m", "car spacing", "length"),
    ("demand", "cars of those expected", "share"),
    ("highest_temp_c", "highest temperature", "temperature"),
)


@router.get("/{slug}/settings/{day}/map.csv")
def maps_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """Every point of both maps at the level of the day's plan, unrounded."""
    view = web.open(site, MAPS, wanted(day))
    if view.result is None or view.result.coarse:
        raise HTTPException(404, _("The maps of this day have not been computed yet."))
    levels = _levels(web, site, view, view.result)
    return csv_file(map_csv(levels, site.data.units), f"{site.slug}-{day}-map.csv")


def map_csv(levels: MapLevels, system: str) -> str:
    """Both maps: grid points and the closer ones along the limits, unrounded.

    Axes that a map does not move are empty: it stands at their present or expected value.
    """
    found = levels.found
    figures = [FIGURES[name] for name in found.present.figures]
    heads = [
        "map",
        *(_with_unit(label, kind, system) for _, label, kind in AXES),
        "on grid",
        *(_with_unit(info.label, info.unit, system) for info in figures),
        *(
            f"{FIGURES[name].label.lower()} within what is allowed, guesses at their middle"
            for name in found.allowed
        ),
    ]
    first = _file_rows("speed and spacing", levels, found.settings, system)
    second = _file_rows("demand and temperature", levels, found.weather, system)
    return table_csv(heads, [*first, *second])


def _file_rows(title: str, levels: MapLevels, plane: Map, system: str) -> Iterator[list[object]]:
    on_grid = {(point.x, point.y) for point in plane.grid}
    for point in plane.points:
        at = {plane.x.name: point.x, plane.y.name: point.y}
        axes = (shown(at[name], kind, system) if name in at else None for name, _, kind in AXES)
        values = (
            (name, levels.at(point, name, is_setting=plane is levels.found.settings))
            for name in point.figures
        )
        figures = (
            None if value is None else shown(value, FIGURES[name].unit, system)
            for name, value in values
        )
        yield [title, *axes, (point.x, point.y) in on_grid, *figures, *point.keeps.values()]


def _with_unit(label: str, kind: str, system: str) -> str:
    symbol = UNITS[kind].symbol(system)
    return f"{label} ({symbol})" if symbol else label

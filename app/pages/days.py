"""Pages of a day: days in addresses and in the field where one is chosen, routes that every such
page has, and what is said of a day that has no answer.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.answer import Answer, Asked, Found, Kind
from app.answers.planning import DayAsked, DayInputs, ExpectedDay, Posed
from app.answers.settings_map import busiest_day
from app.catalogue import _, long_date, say
from app.pages.deps import FormDep, SiteDep, WebDep
from app.words.numbers import about, degrees
from app.words.phrases import Statement

LOCAL_DATE = re.compile(r"([0-9]{1,2})([./])([0-9]{1,2})([./])([0-9]{4})")
FIRST_YEAR, LAST_YEAR = 2000, 2100
"""Years of days that may be planned."""
RAIN_MM = 2.0
"""Less rain than this a day is not worth a word in a line."""


def add_day_pages(
    router: APIRouter, kind: Kind[Asked, Found], show: Callable[..., Response]
) -> None:
    """The routes of a page that shows an answer for each day: choose a day, show it, try again.

    Args:
        show: the page, of request, web, site and answer; ``typed`` and ``message`` are a day that
            is none and what is wrong with it.
    """
    place = kind.page.removesuffix("/{day}")

    @router.get(f"/{{slug}}/{place}")
    def choose(request: Request, site: SiteDep, web: WebDep, day: str = "") -> Response:
        """On to a day: the one typed, else the busiest of the coming ones."""
        typed = day.strip()
        chosen, today = typed_date(typed, site.data.units), web.today(site)
        when = chosen or busiest_day(web.database, site, today, web.runner)
        if typed and chosen is None:
            view = web.shown(site, kind, when)
            return show(request, web, site, view, typed=typed, message=no_date_words(typed))
        return RedirectResponse(f"/{site.slug}/{place}/{when.isoformat()}", 303)

    @router.get(f"/{{slug}}/{place}/{{day}}")
    def show_day(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
        """A day's answer; what has not been worked out is begun, and the page asks again."""
        return show(request, web, site, web.shown(site, kind, wanted(day)))

    @router.post(f"/{{slug}}/{place}/{{day}}")
    def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
        """Begins anew what has failed or was stopped."""
        web.open(site, kind, wanted(day)).begin(web.runner)
        return RedirectResponse(f"/{site.slug}/{place}/{day}", 303)


def date_of(text: str) -> date | None:
    """A date that may be planned, as addresses write it; None for anything else."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if FIRST_YEAR <= day.year <= LAST_YEAR else None


def typed_date(text: str, system: str) -> date | None:
    """A date as people of a site write it, or as addresses do: 18.7.2026 anywhere, 7/18/2026 where
    feet are read and 18/7/2026 elsewhere; None for anything else."""
    local = LOCAL_DATE.fullmatch(text.strip())
    if local is None or local[2] != local[4]:
        return date_of(text)
    first, mark, second, _again, year = local.groups()
    month, day = (first, second) if mark == "/" and system == "us" else (second, first)
    return date_of(f"{year}-{int(month):02d}-{int(day):02d}")


def wanted(day: str) -> date:
    """The day of an address; a 404 page where it is none."""
    when = date_of(day)
    if when is None:
        raise HTTPException(404, _("There is no such day."))
    return when


def no_date_words(typed: str) -> str:
    """What is wrong with a typed day that is none."""
    return _("“{typed}” is not a date. Write it as 2026-07-18.", typed=typed)


# ---- a day without an answer ---------------------------------------------------------------------


def plan_title(day: date) -> str:
    """Words beside the site's name."""
    return long_date(day)


def origin_words(expected: ExpectedDay | None, system: str) -> str:
    """What an expected day was made of; empty where there is none."""
    return "" if expected is None else " ".join(say(one, system) for one in expected.made_of)


def weather_words(expected: ExpectedDay | None, system: str) -> str:
    """What a day is expected to bring, in a line; empty where nothing is known of it."""
    if expected is None:
        return ""
    if expected.closed:
        return _("Closed.")
    temp = degrees(expected.highest_temp_c, system)
    said = _("About {cars} cars, {temp} at most.", cars=about(expected.expected_cars), temp=temp)
    return f"{said} {_('Rain is expected.')}" if expected.rain_mm >= RAIN_MM else said


def nothing_to_plan(plan: DayInputs, system: str) -> tuple[Statement, Statement] | None:
    """What is said of a day of which nothing is known, or that brings no car: what is missing and
    where it goes; None of any other day."""
    expected = plan.expected
    if expected is None:
        reasons = " ".join(dict.fromkeys(say(problem, system) for problem in plan.problems))
        where = _("Counts and weather are brought in on the Counts page, from a file.")
        return Statement(_("No plan yet."), reasons), Statement("", where)
    if expected.closed:
        day = long_date(plan.day)
        rest = _("no car is let in on {day}, so there is nothing to plan.", day=day)
        other = _("Choose another day, or change the opening hours or the day’s mark first.")
        return Statement(_("Closed:"), rest), Statement("", other)
    if not plan.has_cars:
        rest = _("no car is expected on this day.")
        come = _("If cars will come all the same, the counts of like days have to say so.")
        return Statement(_("Nothing to decide:"), rest), Statement("", come)
    return None


def instead_of(
    view: Answer[DayAsked[Posed], Found], system: str, nothing: str | None = None
) -> tuple[Statement | None, Statement | None, bool]:
    """What is said while a day has no answer, and whether its plan has to be mended; `nothing` is
    said of a plan that can't be computed as it stands."""
    plan = view.asked.plan
    told = nothing_to_plan(plan, system)
    if told is not None:
        return (*told, plan.expected is None)
    if view.asked.question is None:
        rest = _("The plan of this day can’t be computed as it stands.")
        return Statement(nothing or _("No answer yet."), rest), None, True
    if view.failed:
        return Statement(view.failed, _("“Work it out” begins it.")), None, False
    return None, None, False

"""Plan a day: choose it, put scenarios side by side, wait for the answer, read it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.coming_days import coming_days, days_with_notes, demo_highlights
from app.answers.planning import PLAN, PlanView, check_scenarios
from app.catalogue import _, long_date, say
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.days import ask_again, date_of, no_date_words, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.downloads import csv_file
from app.pages.plan.change import change_part
from app.pages.plan.form import (
    PlanTyped,
    changed,
    form_view,
    placed,
    posted_plan,
    posted_tried,
    problem_summary,
    read_plan,
    typed_from,
    wish_of,
)
from app.pages.plan.table import Table, comparison_csv, comparison_table, hourly_csv
from app.pages.plan.view import (
    PlanPage,
    choose_page,
    closed_words,
    no_cars_words,
    opening_line,
    plan_notices,
    plan_title,
    unknown_words,
    weather_words,
)
from app.pages.studies.view import Waiting, refining_words
from app.pages.studies.view import waiting as waiting_of
from app.pages.writing import new_request_key, request_key_of, stale_words, version_of
from app.sites.checks import check_expect
from app.sites.reading import Stale, StoredSite, gate
from app.words.answer import answer_sentences
from app.words.how_sure import Narrow, narrow_words
from app.words.phrases import Spoken
from app.words.weighings import weighed_words
from sim.decide.answer import Comparison
from sim.errors import InputError, InputProblem
from sim.inputs import Scenario
from sim.units import SYSTEMS

router = APIRouter()


@router.get("/{slug}/plan")
def choose(request: Request, site: SiteDep, web: WebDep, day: str = "") -> Response:
    """The page on which a day is chosen; with ``?day=`` on to its plan."""
    message = ""
    if day.strip():
        found = date_of(day.strip())
        if found is not None:
            return RedirectResponse(f"/{site.slug}/plan/{found.isoformat()}", 303)
        message = no_date_words(day.strip())
    page = _choose_page(web, site, day.strip(), message)
    status = 422 if message else 200
    return render(
        request, "plan/choose.html", page, title=_("Plan a day"), current="plan", site=site,
        status=status,
    )  # fmt: skip


@router.get("/{slug}/plan/{day}")
def show_plan(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """A day's plan; what has not been computed is begun, and the page asks again by itself."""
    when = wanted(day)
    view = web.begun(site, PLAN, when)
    plan = view.asked
    typed = typed_from(plan.expect, plan.scenarios, site.data.units)
    return _page(request, site, view, typed, placed(plan.problems, typed))


@router.post("/{slug}/plan/{day}")
def store_plan(request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Stores the plan and begins to compute it; other buttons change the form alone."""
    when = wanted(day)
    view = web.open(site, PLAN, when)
    units = form.get("units")
    typed = posted_plan(
        form, units if isinstance(units, str) and units in SYSTEMS else site.data.units
    )
    other = changed(typed, wish_of(form), posted_tried(form))
    if other is not None:
        return _page(request, site, view, other, (), form_first=True)
    read = read_plan(typed, view.asked.scenarios)
    problems: list[InputProblem] = [*check_expect(typed.expect, typed.units), *read.problems]
    refused = {p.field for p in problems}
    problems += [
        p
        for p in placed(check_scenarios(site.data.site, read.scenarios), typed)
        if p.field not in refused
    ]
    if problems:
        return _page(request, site, view, typed, problems, form_first=True, status=422)
    return _store(request, web, site, view, typed, read.scenarios, form)


@router.get("/{slug}/plan/{day}/figures.csv")
def figures_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """Every figure of the comparison, unrounded."""
    found = _computed(web, site, day)
    return csv_file(comparison_csv(found, site.data.units), f"{site.slug}-{day}-figures.csv")


@router.get("/{slug}/plan/{day}/hours.csv")
def hours_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """The figures by hour."""
    return csv_file(hourly_csv(_computed(web, site, day)), f"{site.slug}-{day}-hours.csv")


# ---- parts ---------------------------------------------------------------------------------------


def _refining(view: PlanView) -> str:
    question = view.asked.question
    if view.is_final or view.result is None or question is None:
        return ""
    days, most = view.result.comparison.days, question.different_days
    return refining_words(view.running, view.failed, days, most)


def _choose_page(web: Web, site: StoredSite, typed: str, message: str) -> Any:
    today = web.today(site.data.site.timezone)
    past = web.runner.past
    with web.database.session() as session:
        data = past.data(session, site)
    days = coming_days(data, today, look=past.look)
    demo = [(_(name), day) for name, day in demo_highlights(data, today, past.look)]
    shown = {day.day for _name, day in demo}
    later = days_with_notes(data, days[-1].day, past.look)
    marked = [(_("Marked"), day) for day in later if day.day not in shown]
    return choose_page(site.slug, days, [*demo, *marked], site.data.units, typed, message)


def _store(
    request: Request,
    web: Web,
    site: StoredSite,
    view: PlanView,
    typed: PlanTyped,
    scenarios: Sequence[Scenario],
    form: Any,
) -> Response:
    try:
        with gate(web.database, web.now()) as writes:
            writes.store_plan(
                site.id,
                view.day,
                " ".join(typed.expect.split()),
                scenarios,
                expected_version=version_of(form),
                request_key=request_key_of(form),
            )
    except InputError as fault:
        problems = placed(fault.problems, typed)
        return _page(request, site, view, typed, problems, form_first=True, status=422)
    except Stale as fault:
        words = stale_words(fault, site.data.site.timezone)
        return _page(request, site, view, typed, (), form_first=True, stale=words, status=409)
    fresh = web.open(site, PLAN, view.day)
    if view.running is not None and fresh.key != view.key:
        web.runner.cancel(view.key)  # nobody asks that any more, and the new question waits for it
    fresh.begin(web.runner)
    return RedirectResponse(f"/{site.slug}/plan/{view.day.isoformat()}", 303)


def _computed(web: Web, site: StoredSite, day: str) -> Comparison:
    view = web.open(site, PLAN, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been computed yet."))
    return view.result.comparison


def _page(
    request: Request,
    site: StoredSite,
    view: PlanView,
    typed: PlanTyped,
    problems: Sequence[InputProblem],
    *,
    form_first: bool = False,
    stale: str = "",
    status: int = 200,
) -> Response:
    date_words = long_date(view.day)
    plan = view.asked
    expected = plan.expected
    answer: Spoken | None = None
    sure: Spoken | None = None
    narrow: Narrow | None = None
    table: Table | None = None
    charts: tuple[Chart, ...] = ()
    waiting: Waiting | None = None
    was_sent = status >= 400
    needs_counts = expected is None and not form_first
    if needs_counts:
        answer, sure = unknown_words(plan.problems, site.data.units)
        problems = ()
    elif expected is not None and expected.closed:
        answer, sure = closed_words(date_words)
    elif expected is not None and not plan.has_cars:
        answer, sure = no_cars_words()
    elif form_first:
        pass
    elif view.result is not None:
        found = view.result.comparison
        answer, sure = answer_sentences(found, site.data.given)
        table = comparison_table(found, site.data.units)
        if any(found.conditions.arrivals_per_h):
            narrow, charts = narrow_words(found), hourly_charts(found)
    elif view.failed:
        answer = Spoken(view.failed, _("Press Compute to work it out."))
    elif view.running is not None:
        waiting = waiting_of(view.running, view.key)
    is_closed = expected is not None and expected.closed
    form = None
    # A page that asks again by itself must not take away what is being typed.
    if not is_closed and waiting is None:
        form = form_view(typed, site.data.site, plan.version, new_request_key(), problems)
    page = PlanPage(
        slug=site.slug,
        day=view.day.isoformat(),
        date_words=date_words,
        weather="" if expected is None else weather_words(expected, site.data.units),
        opening=""
        if table is None or view.result is None
        else opening_line(view.result.comparison.opening),
        origin="" if expected is None else _(expected.origin),
        notes=() if expected is None else tuple(say(p, site.data.units) for p in expected.notes),
        answer=answer,
        sure=sure,
        narrow=narrow,
        waiting=waiting,
        table=table,
        charts=charts,
        form=form,
        form_first=form_first or bool(problems),
        needs_counts=needs_counts,
        problems=problem_summary(problems, typed.units, site.slug, len(typed.scenarios), was_sent),
        stale=stale,
        notices=plan_notices(typed.scenarios) if form else (),
        change=None if table is None else change_part(request, site, plan),
        refining="" if table is None else _refining(view),
        weighed=weighed_words(plan.held),
    )
    if page.change is not None and page.change.is_refused:
        status = 422
    response = render(
        request, "plan/plan.html", page, title=_("Plan a day"), current="plan", site=site,
        when=plan_title(view.day), status=status,
    )  # fmt: skip
    if waiting is not None:
        ask_again(request, response)
    return response

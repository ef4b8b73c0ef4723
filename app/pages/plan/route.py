"""Plan a day: choose it, put scenarios side by side, wait for the answer, read it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.coming_days import ComingDay, coming_days, days_with_notes, demo_highlights
from app.answers.planning import PLAN, ExpectedDay, PlanView, check_scenarios
from app.catalogue import _
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.cautions import DEFERENCE, Notice, of_plan
from app.pages.days import (
    ask_again,
    date_of,
    no_date_words,
    nothing_to_plan,
    plan_title,
    wanted,
    weather_words,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, csv_file, render
from app.pages.forms import Summary, units_of
from app.pages.plan.change import ChangePart, change_part
from app.pages.plan.form import (
    FormView,
    PlanTyped,
    ScenarioTyped,
    changed,
    form_view,
    placed,
    posted,
    posted_plan,
    problem_summary,
    read_plan,
    typed_from,
    wish_of,
)
from app.pages.plan.table import ComparisonTable, comparison_csv, comparison_table, hourly_csv
from app.pages.studies import StudyProgress, refining_words
from app.pages.studies import waiting as waiting_of
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.checks import check_expect
from app.sites.reading import Outcome, StoredSite
from app.words.answer import Narrow, answer_sentences, narrow_words, opening_words, turning_words
from app.words.dry import damp_words
from app.words.phrases import Statement
from app.words.weighings import weighed_words
from sim.decide.answer import Comparison, Opening
from sim.errors import InputProblem

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ChoosePage:
    """Choosing a day: the date field as typed with what is wrong with it, the coming days, and
    days that are worth a look, such as the busiest of the demo site, by what they are."""

    slug: str
    units: str
    typed: str
    message: str
    days: tuple[ComingDay, ...]
    special: tuple[tuple[str, ComingDay], ...]


@dataclass(frozen=True, slots=True)
class PlanTold:
    """What is shown of a plan that has been computed.

    Attributes:
        narrow: what widens the answer most and what would narrow it; None where that isn't known.
        origin: where the moisture of the cloth at opening comes from.
        refining: what becomes of the answer shown, while or because it is not the last one.
        dry: which car counts as damp; priced: which guesses its money turns on.
        change: the part “Try a change”.
    """

    table: ComparisonTable
    narrow: Narrow | None
    charts: tuple[Chart, ...]
    origin: str
    opening: Opening | None
    refining: str
    dry: str
    priced: str
    change: ChangePart | None


@dataclass(frozen=True, slots=True)
class PlanPage:
    """The plan of a day.

    Attributes:
        weather: what it is expected to bring, in a line.
        answer, sure: the sentences on top; None while there is nothing to say.
        waiting: set while the plan is being computed.
        told: None while there is no answer.
        form_first: the form stands on top, because it has problems or was changed.
        needs_counts: nothing is known of such a day; the way leads to the Counts page.
        weighed: why the site's weighings are not in the plan; empty where they are, or are none.
    """

    slug: str
    day: date
    units: str
    expected: ExpectedDay | None
    weather: str
    answer: Statement | None
    sure: Statement | None
    waiting: StudyProgress | None
    told: PlanTold | None
    form: FormView | None
    form_first: bool
    needs_counts: bool
    problems: Summary | None
    stale: str
    notices: tuple[Notice, ...]
    weighed: str


@router.get("/{slug}/plan")
def choose(request: Request, site: SiteDep, web: WebDep, day: str = "") -> Response:
    """The page on which a day is chosen; with ``?day=`` on to its plan."""
    typed = day.strip()
    when = date_of(typed)
    if when is not None:
        return RedirectResponse(f"/{site.slug}/plan/{when.isoformat()}", 303)
    message = no_date_words(typed) if typed else ""
    past, today = web.runner.past, web.today(site)
    with web.database.session() as session:
        data = past.data(session, site)
    days = coming_days(data, today, look=past.look)
    demo = [(_(name), one) for name, one in demo_highlights(data, past.look)]
    shown = {one.day for _name, one in demo}
    later = days_with_notes(data, days[-1].day, past.look)
    marked = [(_("Marked"), one) for one in later if one.day not in shown]
    page = ChoosePage(site.slug, site.data.units, typed, message, days, (*demo, *marked))
    return render(
        request, "plan/choose.html", page, title=_("Plan a day"), current="plan", site=site,
        status=422 if message else 200,
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
    typed = posted_plan(form, units_of(form, site.data.units))
    other = changed(typed, wish_of(form), posted(form))
    if other is not None:
        return _page(request, site, view, other, (), form_first=True)
    scenarios, unread = read_plan(typed, view.asked.scenarios)
    problems = [*check_expect(typed.expect, typed.units), *unread]
    refused = {p.field for p in problems}
    unusable = placed(check_scenarios(site.data.site, scenarios), typed)
    problems += [p for p in unusable if p.field not in refused]

    def again(
        _fresh: StoredSite, *, problems: Sequence[InputProblem] = (), stale: str = "", status: int
    ) -> Response:
        told = placed(problems, typed)
        return _page(request, site, view, typed, told, form_first=True, stale=stale, status=status)

    if problems:
        return _page(request, site, view, typed, problems, form_first=True, status=422)
    expect, version, key = " ".join(typed.expect.split()), version_of(form), request_key_of(form)

    def begun(_outcome: Outcome) -> str:
        """The page of the day, whose new question is begun."""
        fresh = web.open(site, PLAN, when)
        if view.running is not None and fresh.key != view.key:
            web.runner.cancel(view.key)  # nobody asks that any more, and the new one waits for it
        fresh.begin(web.runner)
        return f"/{site.slug}/plan/{when.isoformat()}"

    return carry_out(
        web, site,
        lambda writes: writes.store_plan(
            site.id, when, expect, scenarios, expected_version=version, request_key=key
        ),
        again, begun,
    )  # fmt: skip


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


def plan_notices(scenarios: Sequence[ScenarioTyped]) -> tuple[Notice, ...]:
    """The cautions that a plan calls for."""
    inputs = [one.inputs for one in scenarios]
    belt = ("conveyor_speed_m_s", "car_spacing_m")
    called_for = of_plan(
        belt_moves=any(held.get(name) for held in inputs for name in belt),
        sets_change=any(one.cloth.strip() for one in scenarios),
        sensor_fails=any((held.get("failed_sensor") or "none") != "none" for held in inputs),
        blowers_down=any((held.get("blowers_down") or "no") == "yes" for held in inputs),
    )
    return DEFERENCE, *called_for


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
    plan, units, was_sent = view.asked, site.data.units, status >= 400
    needs_counts = plan.expected is None and not form_first
    is_closed = plan.expected is not None and plan.expected.closed
    answer, sure, told, waiting = None, None, None, None
    nothing = None if plan.expected is None and form_first else nothing_to_plan(plan, units)
    if nothing is not None:
        answer, sure = nothing
        problems = () if needs_counts else problems
    elif not form_first and view.result is not None:
        answer, sure = answer_sentences(view.result.comparison, site.data.given)
        told = _told(request, site, view, view.result.comparison)
    elif not form_first and view.failed:
        answer = Statement(view.failed, _("Press Compute to work it out."))
    elif not form_first and view.running is not None:
        waiting = waiting_of(view.running, view.key)
    form = None
    # A page that asks again by itself must not take away what is being typed.
    if not is_closed and waiting is None:
        form = form_view(typed, site.data.site, plan.version, new_request_key(), problems)
    page = PlanPage(
        slug=site.slug,
        day=view.day,
        units=units,
        expected=plan.expected,
        weather=weather_words(plan.expected, units),
        answer=answer,
        sure=sure,
        waiting=waiting,
        told=told,
        form=form,
        form_first=form_first or bool(problems),
        needs_counts=needs_counts,
        problems=problem_summary(problems, typed.units, site.slug, len(typed.scenarios), was_sent),
        stale=stale,
        notices=plan_notices(typed.scenarios) if form else (),
        weighed=weighed_words(plan.held),
    )
    if told is not None and told.change is not None and told.change.is_refused:
        status = 422
    response = render(
        request, "plan/plan.html", page, title=_("Plan a day"), current="plan", site=site,
        when=plan_title(view.day), status=status,
    )  # fmt: skip
    if waiting is not None:
        ask_again(request, response)
    return response


def _told(request: Request, site: StoredSite, view: PlanView, found: Comparison) -> PlanTold:
    has_cars, question = any(found.conditions.arrivals_per_h), view.asked.question
    refining = ""
    if question is not None and not view.is_final:
        most = question.different_days
        refining = refining_words(view.running, view.failed, found.days, most)
    return PlanTold(
        table=comparison_table(found, site.data.units),
        narrow=narrow_words(found) if has_cars else None,
        charts=hourly_charts(found) if has_cars else (),
        origin="" if found.opening is None else opening_words(found.opening),
        opening=found.opening,
        refining=refining,
        dry=damp_words(site.data.site, site.data.given, site.data.weighings, site.data.units),
        priced=turning_words("money", site.data.given),
        change=change_part(request, site, view.asked),
    )

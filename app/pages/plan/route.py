"""Plan a day: choose it, put scenarios side by side, wait for the answer, read it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.answer import Desk
from app.answers.coming_days import ComingDay, coming_days, days_with_notes, demo_highlights
from app.answers.planning import (
    PLAN,
    ExpectedDay,
    PlanView,
    check_scenarios,
    planned_day,
    planned_with,
)
from app.catalogue import _
from app.pages.cautions import DEFERENCE, Notice, of_plan
from app.pages.days import (
    no_date_words,
    nothing_to_plan,
    plan_title,
    typed_date,
    wanted,
    weather_words,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, csv_file, render
from app.pages.forms import Summary, units_of
from app.pages.plan.change import change_part
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
from app.pages.plan.link import LONGEST_LINK, asked_of, typed_in
from app.pages.plan.table import comparison_csv, hourly_csv
from app.pages.plan.told import PlanTold, told_of
from app.pages.waiting import REFRESH_S, StudyProgress, before, refining_words
from app.pages.waiting import waiting as waiting_of
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.checks import check_expect
from app.sites.reading import StoredSite
from app.words.answer import answer_sentences
from app.words.phrases import Statement
from app.words.weighings import weighed_words
from sim.decide.answer import Comparison
from sim.errors import InputProblem
from sim.units import SYSTEMS

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
    special: tuple[tuple[str, str, ComingDay], ...]


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
        is_draft: it came with a link and is not the stored one.
        link: opens what is shown here at any later time; empty where none is short enough.
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
    is_draft: bool
    link: str


@router.get("/{slug}/plan")
def choose(request: Request, site: SiteDep, web: WebDep, day: str = "") -> Response:
    """The page on which a day is chosen; with ``?day=`` on to its plan."""
    typed = day.strip()
    when = typed_date(typed, site.data.units)
    if when is not None:
        return RedirectResponse(f"/{site.slug}/plan/{when.isoformat()}", 303)
    message = no_date_words(typed) if typed else ""
    past, today = web.runner.past, web.today(site)
    with web.database.session() as session:
        data = Desk(session, site, web.runner).data
    days = coming_days(data, today, look=past.look)
    demo = [(_(name), _(line), one) for name, line, one in demo_highlights(data, past.look)]
    shown = {one.day for _name, _line, one in demo}
    later = days_with_notes(data, days[-1].day, past.look)
    marked = [(_("Marked"), "", one) for one in later if one.day not in shown]
    page = ChoosePage(site.slug, site.data.units, typed, message, days, (*demo, *marked))
    return render(
        request, "plan/choose.html", page, title=_("Plan a day"), current="plan", site=site,
        status=422 if message else 200,
    )  # fmt: skip


@router.get("/{slug}/plan/{day}")
def show_plan(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """A day's plan; what has not been computed is begun, and the page asks again by itself."""
    when = wanted(day)
    view = web.shown(site, PLAN, when)
    plan = view.asked
    typed = typed_from(plan.expect, plan.scenarios, site.data.units)
    return _page(request, site, view, typed, placed(plan.problems, typed))


@router.post("/{slug}/plan/{day}")
def store_plan(request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Stores the plan and begins to compute it; other buttons change the form alone."""
    when = wanted(day)
    view = web.open(site, PLAN, when)
    typed = posted_plan(form, units_of(form, site.data.units))
    if wish_of(form) == "link":
        return _as_link(request, site, view, typed)
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

    return carry_out(
        web, site,
        lambda writes: writes.store_plan(
            site.id, when, expect, scenarios, expected_version=version, request_key=key
        ),
        again, lambda _outcome: begun_again(web, site, view),
    )  # fmt: skip


def begun_again(web: Web, site: StoredSite, before: PlanView) -> str:
    """The page of a day whose plan was stored; its new question is begun."""
    fresh = web.open(site, PLAN, before.day)
    if before.running is not None and fresh.key != before.key:
        web.runner.cancel(before.key)  # nobody asks that any more, and the new one waits for it
    fresh.begin(web.runner)
    return plan_page(site, before.day)


def plan_page(site: StoredSite, day: date) -> str:
    """The address of a day's plan."""
    return f"/{site.slug}/plan/{day.isoformat()}"


# ---- a plan in a link ----------------------------------------------------------------------------


@router.get("/{slug}/plan/{day}/draft")
def show_draft(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """The form with a plan that stands in the address; its answer where that happens to be stored.
    Nothing is stored or begun."""
    when = wanted(day)
    if len(request.url.query) > LONGEST_LINK:
        raise HTTPException(414)
    asked = dict(request.query_params)
    units = asked.get("units", "")
    typed = typed_in(asked, units if units in SYSTEMS else site.data.units)
    with web.database.session() as session:
        desk = Desk(session, site, web.runner.onlooker())
        stored = planned_day(desk, when)
        scenarios, unread = read_plan(typed, stored.scenarios)
        problems = [*check_expect(typed.expect, typed.units), *unread]
        problems += check_scenarios(site.data.site, scenarios)
        view = PLAN.of(site.id, when, stored)
        if not problems:
            draft = planned_with(desk, when, typed.expect, scenarios, stored.version)
            view, problems = PLAN.of(site.id, when, draft), list(draft.problems)
            view = view.now(session, web.runner)
    return _page(
        request, site, view, typed, placed(problems, typed),
        form_first=bool(problems) or view.result is None, is_draft=True,
    )  # fmt: skip


def _as_link(request: Request, site: StoredSite, view: PlanView, typed: PlanTyped) -> Response:
    """On to the address that opens the form as it stands; the form again if that is too long."""
    address = draft_page(site, view.day, typed)
    if address:
        return RedirectResponse(address, 303)
    sentence = (
        "This plan is too long for a link, which holds {most} characters: store it and copy the "
        "link of what is stored."
    )
    problem = InputProblem("scenarios", sentence, {"most": f"{LONGEST_LINK:,}"})
    return _page(request, site, view, typed, [problem], form_first=True, status=422)


def draft_page(site: StoredSite, day: date, typed: PlanTyped) -> str:
    """The address that opens a plan's form as it stands; empty where it would be too long."""
    asked = asked_of(typed)
    return f"{plan_page(site, day)}/draft?{asked}" if len(asked) <= LONGEST_LINK else ""


# ---- files ---------------------------------------------------------------------------------------


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
    is_draft: bool = False,
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
        told = _told(request, site, view, view.result.comparison, is_draft)
    elif not form_first and view.failed:
        answer = Statement(view.failed, _("Press Compute to work it out."))
    elif not form_first:
        waiting = waiting_of(view)
    form = None
    # A page that asks again by itself must not take away what is being typed.
    over = before(site, view)
    if not is_closed and waiting is None and (over is None or over.waiting is None):
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
        is_draft=is_draft,
        link=_link(site, view, typed, is_draft or form_first),
    )
    if told is not None and told.change is not None and told.change.is_refused:
        status = 422
    return render(
        request, "plan/plan.html", page, title=_("Plan a day"), current="plan", site=site,
        when=plan_title(view.day), status=status,
        again=REFRESH_S if waiting is not None else 0, before=over,
    )  # fmt: skip


def _told(
    request: Request, site: StoredSite, view: PlanView, found: Comparison, is_draft: bool
) -> PlanTold:
    if is_draft or view.earlier is not None:
        return told_of(site, found)
    question, refining = view.asked.question, ""
    if question is not None and not view.is_final:
        refining = refining_words(view.running, view.failed, found.days)
    return told_of(site, found, refining=refining, change=change_part(request, site, view.asked))


def _link(site: StoredSite, view: PlanView, typed: PlanTyped, is_form: bool) -> str:
    """What opens a page at any later time: a state that was stored, or what stands in the form."""
    if view.asked.version and not is_form:
        return f"{plan_page(site, view.day)}/versions/{view.asked.version}"
    return draft_page(site, view.day, typed)

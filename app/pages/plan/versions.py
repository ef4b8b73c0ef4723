"""The history of a day's plan: its versions, each as it was, and the way back to one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from app.answers.answer import Desk
from app.answers.planning import PLAN, ExpectedDay, PlanView, answer_then, planned_with
from app.catalogue import _
from app.pages.cautions import Notice
from app.pages.days import plan_title, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import Summary, summary
from app.pages.history import plan_words
from app.pages.plan.form import typed_from
from app.pages.plan.route import begun_again, plan_notices
from app.pages.plan.told import PlanTold, ScenarioTold, scenarios_told, told_of
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.plan_states import PlanState, plan_states
from app.sites.reading import StoredSite
from app.words.answer import answer_sentences
from app.words.phrases import Statement, moment
from sim.decide.answer import Plan
from sim.errors import InputProblem
from sim.units import whole_number

router = APIRouter()


@dataclass(frozen=True, slots=True)
class VersionLine:
    """A version in the list: its number, when it was stored and by whom, and what it changed, in
    sentences."""

    number: int
    when: str
    who: str
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VersionsPage:
    """The versions of a day's plan, newest first."""

    slug: str
    day: date
    versions: tuple[VersionLine, ...]


@dataclass(frozen=True, slots=True)
class StatePage:
    """A version of a day's plan as it was.

    Attributes:
        newest: number of the version that holds now; `version` its form was drawn from.
        expect: what was typed over the expected day.
        answer, sure, told: None where no answer is stored.
        source: of which site that answer is: the present one, or the site as it was.
        expected: the day that it is computed for; None where the answer is of another site.
        lacks: inputs that it changed and that are none any more.
    """

    slug: str
    day: date
    units: str
    line: VersionLine
    newest: int
    request_key: str
    expect: str
    scenarios: tuple[ScenarioTold, ...]
    answer: Statement | None
    sure: Statement | None
    told: PlanTold | None
    source: str
    expected: ExpectedDay | None
    lacks: tuple[str, ...]
    problems: Summary | None
    stale: str
    notices: tuple[Notice, ...]


@router.get("/{slug}/plan/{day}/versions")
def show_versions(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """Who changed the plan of a day, when and what."""
    when = wanted(day)
    states = _states(web, site, when)
    page = VersionsPage(site.slug, when, tuple(_line(one, site) for one in states))
    return render(
        request, "plan/versions.html", page, title=_("Who changed this plan"), current="plan",
        site=site, when=plan_title(when),
    )  # fmt: skip


@router.get("/{slug}/plan/{day}/versions/{number}")
def show_state(request: Request, site: SiteDep, web: WebDep, day: str, number: str) -> Response:
    """The plan of a day as a version held it, with its answer if that is stored."""
    return _page(request, web, site, *_found(web, site, wanted(day), number))


@router.post("/{slug}/plan/{day}/versions/{number}")
def use_again(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str, number: str
) -> Response:
    """Stores an earlier version as the newest, and begins to compute it."""
    when = wanted(day)
    state, _newest = _found(web, site, when, number)
    if state.lacks:
        raise HTTPException(404, _("This version can’t be used any more."))
    before = web.open(site, PLAN, when)

    def again(
        fresh: StoredSite, *, problems: Sequence[InputProblem] = (), stale: str = "", status: int
    ) -> Response:
        found = _found(web, fresh, when, number)
        return _page(request, web, fresh, *found, problems=problems, stale=stale, status=status)

    version, key = version_of(form), request_key_of(form)
    return carry_out(
        web, site,
        lambda writes: writes.store_plan(
            site.id, when, state.expect, state.scenarios, expected_version=version, request_key=key
        ),
        again, lambda _outcome: begun_again(web, site, before),
    )  # fmt: skip


def _states(web: Web, site: StoredSite, day: date) -> tuple[PlanState, ...]:
    with web.database.session() as session:
        return plan_states(session, site.id, day)


def _found(web: Web, site: StoredSite, day: date, number: str) -> tuple[PlanState, int]:
    """The version that an address names, and the number of the newest one."""
    states, wanted_one = _states(web, site, day), whole_number(number)
    for one in states:
        if one.version == wanted_one:
            return one, states[0].version
    raise HTTPException(404, _("The plan of this day has no such version."))


def _answers(
    web: Web, site: StoredSite, state: PlanState
) -> tuple[PlanView, tuple[datetime, Plan] | None]:
    """The answer to a version for the present site, and else the one that it had in its time."""
    with web.database.session() as session:
        desk = Desk(session, site, web.runner.onlooker())
        asked = planned_with(desk, state.day, state.expect, state.scenarios, state.version)
        view = PLAN.of(site.id, state.day, asked).now(session, web.runner)
        then = answer_then(session, site.id, state) if view.result is None else None
    return view, then


def _line(state: PlanState, site: StoredSite) -> VersionLine:
    says = tuple(plan_words(one, site.data.units) for one in state.changes)
    when = moment(state.at, site.data.site.timezone)
    return VersionLine(state.version, when, state.person, says)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    state: PlanState,
    newest: int,
    *,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    units, given = site.data.units, site.data.given
    view, then = _answers(web, site, state)
    found, source, expected = None, "", None
    if view.result is not None:
        found, expected = view.result.comparison, view.asked.expected
        source = _("The answer is for the site as it is entered now.")
    elif then is not None:
        at, plan = then
        found = plan.comparison
        when = moment(at, site.data.site.timezone)
        source = _(
            "The answer is of {when}, for the site as it was entered then; words of how sure and "
            "which guesses go by what is your own now.",
            when=when,
        )
    answer, sure = (None, None) if found is None else answer_sentences(found, given)
    page = StatePage(
        slug=site.slug,
        day=state.day,
        units=units,
        line=_line(state, site),
        newest=newest,
        request_key=new_request_key(),
        expect=state.expect,
        scenarios=scenarios_told(state.scenarios, units),
        answer=answer,
        sure=sure,
        told=None if found is None else told_of(site, found),
        source=source,
        expected=expected,
        lacks=state.lacks,
        problems=summary(problems, units, {p.field: "" for p in problems}),
        stale=stale,
        notices=plan_notices(typed_from(state.expect, state.scenarios, units).scenarios),
    )
    return render(
        request, "plan/version.html", page, title=_("Version {number}", number=state.version),
        current="plan", site=site, when=plan_title(state.day), status=status,
    )  # fmt: skip

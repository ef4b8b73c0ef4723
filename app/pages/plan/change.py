"""Try a change: a quick answer on the page of a day, whole or in parts as its script asks."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.answers.answer import Desk
from app.answers.change import (
    DAY_FIELDS,
    Tried,
    day_as_changed,
    problems_of,
    read_day,
)
from app.answers.planning import PlannedDay, planned_day
from app.catalogue import _
from app.pages.days import wanted
from app.pages.deps import SiteDep, Web, WebDep, get_web_for, render
from app.pages.forms import text_of
from app.pages.plan.change_form import (
    ChangeRead,
    ChangeTyped,
    day_field,
    read_change,
    renamed,
    start_of,
    typed_change,
    unchanged,
)
from app.pages.plan.change_view import (
    ChangeAnswer,
    ChangePart,
    change_answer,
    change_page,
    nothing_changed,
)
from app.sites.reading import StoredSite
from sim.errors import InputError, InputProblem
from sim.units import NBSP, SYSTEMS, UNITS, whole_number

router = APIRouter()
LONGEST_NUMBER = 12


@router.get("/{slug}/plan/{day}/change/figures")
def figures_part(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """What a change does to the figures, as a part of the page."""
    return _part(request, site, web, day, "figures")


@router.get("/{slug}/plan/{day}/change/charts")
def charts_part(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """What a change does hour by hour, as a part of the page."""
    return _part(request, site, web, day, "charts")


def change_part(request: Request, site: StoredSite, plan: PlannedDay) -> ChangePart | None:
    """The part of the plan's page; its button asks for the page again, with an answer in it."""
    if plan.question is None:
        return None
    form, web = _query(request), get_web_for(request)
    is_asked = text_of(form, "do") == "try" and web.runner.may_begin
    return _tried(web, site, plan, form, is_asked, True)


def _query(request: Request) -> FormData:
    """What the address asks for, read as a form is."""
    return FormData([(name, text) for name, text in request.query_params.multi_items()])


def _part(request: Request, site: StoredSite, web: Web, day: str, what: str) -> Response:
    if not web.runner.may_begin:
        raise HTTPException(403, _("Only the page of the day asks for this."))
    when = wanted(day)
    with web.database.session() as session:
        plan = planned_day(Desk(session, site, web.runner), when)
    if plan.to_compare is None:
        raise HTTPException(404, _("Nothing can be tried on this day."))
    form = _query(request)
    page = _tried(web, site, plan, form, True, what == "charts")
    return render(
        request, f"plan/change_{what}.html", page, title=_("Try a change"), current="plan",
        site=site, status=422 if page.is_refused else 200,
    )  # fmt: skip


def _tried(
    web: Web, site: StoredSite, plan: PlannedDay, form: FormData, asked: bool, with_charts: bool
) -> ChangePart:
    """The part with its fields as sent and, where it was asked for, an answer."""
    sent = text_of(form, "units")
    units = sent if sent in SYSTEMS else site.data.units
    drawn = unchanged(plan, site.data.site, start_of(form, plan), units)
    typed = typed_change(form, drawn) if asked else drawn
    number = text_of(form, "n")
    number = number if whole_number(number) is not None else "0"
    answer, problems = _answer(web, site, plan, typed, drawn, with_charts) if asked else (None, ())
    return change_page(
        site.slug, plan, site.data.site, typed, number[:LONGEST_NUMBER], answer, problems
    )


def _answer(
    web: Web,
    site: StoredSite,
    plan: PlannedDay,
    typed: ChangeTyped,
    drawn: ChangeTyped,
    with_charts: bool,
) -> tuple[ChangeAnswer | None, tuple[InputProblem, ...]]:
    """The answer to what was typed, or every reason why there is none."""
    question, expected = plan.question, plan.expected
    if question is None or expected is None:
        return None, ()
    read = read_change(typed, drawn, plan, site.data.site)
    override, of_day = read_day(read.day, plan.expect, typed.units)
    problems = [*read.problems, *_placed(of_day)]
    if problems:
        return None, tuple(problems)
    try:
        if read.day:
            expected = day_as_changed(web.database, site, plan, override, web.runner)
    except InputError as fault:
        return None, tuple(_placed([replace(p, field="temp") for p in fault.problems]))
    tried = Tried(read.first, read.changed, expected)
    if not tried.changes_something(question):
        web.tries.warm(question, read.first)
        return nothing_changed(), ()
    problems = _placed(problems_of(question, tried))
    if problems:
        return None, tuple(problems)
    found = web.tries.answer(question, tried)
    line = _day_line(read, typed) if tried.has_other_day(question) else ""
    return (
        change_answer(found, read, line, len(plan.scenarios), typed.units, with_charts),
        (),
    )


def _placed(problems: list[InputProblem] | tuple[InputProblem, ...]) -> list[InputProblem]:
    """Problems under the names that their fields have here."""
    found: list[InputProblem] = []
    for problem in problems:
        if problem.field in DAY_FIELDS:
            found.append(InputProblem(day_field(problem.field), problem.sentence, problem.values))
        else:
            found += renamed((problem,))
    return found


def _day_line(read: ChangeRead, typed: ChangeTyped) -> str:
    """What was typed over the day, in the one line that the plan's own form takes."""
    symbols = {"temp": UNITS["temperature"].symbol(typed.units), "humidity": "%", "cars": "%"}
    parts = []
    for name, text in read.day.items():
        written = text.strip()
        if name == "cars" and written[:1] not in "+-\u2212":
            written = f"+{written}"
        bare = not written[-1:].isalpha() and not written.endswith("%")
        parts.append(f"{written}{NBSP}{symbols[name]}" if bare else written)
    return ", ".join(parts)

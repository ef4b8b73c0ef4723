"""When to reduce: a day's answer, begun in the background and read when it is there; as CSV."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.answers import switching
from app.answers.switching import SWITCH, TOGETHER, SwitchView
from app.catalogue import _
from app.files.csv_table import table_csv
from app.pages.cautions import deference, set_change, wheel
from app.pages.days import (
    add_day_pages,
    ask_again,
    instead_of,
    origin_words,
    plan_title,
    wanted,
    weather_words,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.downloads import csv_file
from app.pages.forms import Typed, read_fields, summary, units_of
from app.pages.reduce.view import (
    WISHES,
    RejectedForm,
    SwitchPage,
    TogetherWait,
    together_part,
    told_of,
    wish_form,
)
from app.pages.studies import waiting as waiting_of
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import Outcome, StoredSite
from app.words.switching import answer_words, switch_sure
from sim.decide.switching.answer import WhenToReduce
from sim.errors import InputProblem
from sim.inputs import INPUTS, Scenario

HEADS = (
    "rule",
    "in words",
    "damp cars, share of cars washed",
    "cars fully wiped, share of cars washed",
    "damp cars a day",
    "cars fully wiped a day",
    "cost of the day ($)",
    "simulated days",
    "keeps to the limits of switching",
    "no other rule is better in both",
    "advised",
)
"""Columns of the file of rules."""


def switch_csv(answer: WhenToReduce) -> str:
    """Every rule kept of the trade-off, unrounded, and whether it is the advised one."""
    rows = (
        (
            one.rule.text, one.rule.words(), one.damp_share, one.full_share, one.damp_cars,
            one.full_cars, one.cost, one.draws, one.keeps, one.undominated,
            one.rule == answer.chosen,
        )
        for one in answer.trade_off
    )  # fmt: skip
    return table_csv(HEADS, rows)


router = APIRouter()


@router.post("/{slug}/reduce/{day}/wish")
def store_wish(request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Stores what a rule is chosen by; what can't be read comes back as it was typed."""
    when = wanted(day)
    system = units_of(form, site.data.units)
    read = read_fields(form, {name: INPUTS[name] for name in WISHES}, system)
    again = _again(request, web, when, read.typed, system)
    if read.problems:
        return again(site, problems=read.problems, status=422)
    values = {**read.values, **dict.fromkeys(read.typed.marks)}
    version, key = version_of(form), request_key_of(form)

    def address(outcome: Outcome) -> str:
        return f"/{site.slug}/reduce/{day}?stored={'yes' if outcome.changed else 'same'}"

    return carry_out(
        web, site,
        lambda writes: writes.set_inputs(
            site.id, values, expected_version=version, request_key=key
        ),
        again, address,
    )  # fmt: skip


@router.post("/{slug}/reduce/{day}/plan")
def put_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the advised rule as one more scenario of the day's plan."""
    view = web.open(site, SWITCH, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been computed yet."))
    return store_scenarios(request, web, site, view, switching.with_chosen(view), form)


def store_scenarios(
    request: Request,
    web: Web,
    site: StoredSite,
    view: SwitchView,
    scenarios: tuple[Scenario, ...] | None,
    form: FormData,
) -> Response:
    """Stores a day's plan with one more scenario; None: it has no room for one."""
    plan, address = view.asked.plan, f"/{site.slug}/plan/{view.day.isoformat()}"
    if scenarios is None:
        words = _("The plan of this day has six scenarios already. Take one away there first.")
        view = web.begun(site, SWITCH, view.day)
        return _page(request, web, site, view, no_room=words, status=409)
    if scenarios == plan.scenarios:
        return RedirectResponse(address, 303)
    version, key = version_of(form), request_key_of(form)
    return carry_out(
        web, site,
        lambda writes: writes.store_plan(
            site.id, view.day, plan.expect, scenarios, expected_version=version, request_key=key
        ),
        _again(request, web, view.day), address,
    )  # fmt: skip


@router.get("/{slug}/reduce/{day}/rules.csv")
def rules_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """The trade-off, a row a rule, unrounded."""
    view = web.open(site, SWITCH, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been computed yet."))
    return csv_file(switch_csv(view.result), f"{site.slug}-{day}-rules.csv")


# ---- the page ------------------------------------------------------------------------------------


def _again(
    request: Request, web: Web, day: date, typed: Typed | None = None, units: str = ""
) -> Callable[..., Response]:
    """Draws the page once more, with what was typed and why it was not stored."""

    def again(
        site: StoredSite, problems: Sequence[InputProblem] = (), stale: str = "", status: int = 422
    ) -> Response:
        view = web.begun(site, SWITCH, day)
        back = RejectedForm(typed, problems, units, stale)
        return _page(request, web, site, view, back=back, status=status)

    return again


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    view: SwitchView,
    *,
    back: RejectedForm | None = None,
    no_room: str = "",
    typed: str = "",
    message: str = "",
    status: int = 200,
) -> Response:
    system, back = site.data.units, back or RejectedForm()
    plan, answer = view.asked.plan, view.result
    done = {
        "yes": _("Stored. Every answer from now on goes by it."),
        "same": _("Nothing was changed, so nothing was stored."),
    }.get(request.query_params.get("stored", ""), "")
    says, sure, needs_plan = instead_of(view, system)
    told, waiting, part = None, None, None
    if answer is not None:
        says = answer_words(answer, system)
        sure = switch_sure(answer, site.data.given, system)
        scenarios = switching.with_chosen(view)
        told = told_of(answer, system, scenarios == plan.scenarios)
        part = together_part(web.stand(TOGETHER.of(site.id, view.day, view)), system)
    elif view.running is not None and not view.failed:
        waiting = waiting_of(view.running, view.key)
    # A page that asks again by itself must not take away what is being typed.
    is_back = back.typed is not None
    form = None
    if is_back or (view.key and waiting is None):
        form = wish_form(site, back)
    mind = [deference()]
    if answer is not None:
        mind.append(wheel())
    if plan.scenarios[0].cloth.strip():
        mind.append(set_change())
    page = SwitchPage(
        slug=site.slug,
        view=view,
        weather_line="" if plan.expected is None else weather_words(plan.expected, system),
        origin=origin_words(plan.expected, system),
        says=says,
        sure=sure,
        waiting=waiting,
        told=told,
        together=part,
        form=form,
        problems=summary(back.problems, back.units or system),
        stale=back.stale,
        plan_key=new_request_key(),
        done=done,
        no_room=no_room,
        needs_plan=needs_plan,
        message=message,
        typed=typed,
        notices=tuple(mind),
    )
    response = render(
        request, "reduce/reduce.html", page, title=_("When to reduce"), current="reduce",
        site=site, when=plan_title(plan.day), status=422 if message else status,
    )  # fmt: skip
    if waiting is not None and not is_back:
        ask_again(request, response)
    return response


add_day_pages(router, SWITCH, _page)


# ---- speed, spacing and rule together ------------------------------------------------------------


@router.get("/{slug}/reduce/{day}/together")
def wait_for_settings(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """Waits for the answer, begun if it was not, and leads on to the page where it stands."""
    view = web.begun(site, TOGETHER, wanted(day))
    if not view.key or view.result is not None:
        return RedirectResponse(f"/{site.slug}/reduce/{day}#together", 303)
    running = None if view.failed else view.running
    told = None if running is None else waiting_of(running, view.key)
    page = TogetherWait(site.slug, view, told)
    response = render(
        request, "reduce/together.html", page, title=_("Speed, spacing and rule together"),
        current="reduce", site=site, when=plan_title(view.day),
    )  # fmt: skip
    if page.waiting is not None:
        ask_again(request, response)
    return response


@router.post("/{slug}/reduce/{day}/together")
def try_settings_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed or was stopped."""
    web.open(site, TOGETHER, wanted(day)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/reduce/{day}/together", 303)


@router.post("/{slug}/reduce/{day}/together/plan")
def put_setting_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the found setting and its rule as one more scenario of the day's plan."""
    parts = web.open(site, TOGETHER, wanted(day))
    if parts.result is None:
        raise HTTPException(404, _("This day’s settings have not been computed yet."))
    return store_scenarios(request, web, site, parts.asked, switching.with_setting(parts), form)

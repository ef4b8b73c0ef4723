"""When to reduce: a day's answer, begun in the background and read when it is there; as CSV."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.answers import switching, together
from app.answers.settings_map import busiest_day
from app.answers.switching import SwitchView
from app.answers.together import TogetherView
from app.catalogue import _, long_date
from app.files.csv_table import Written, csv_text
from app.pages.days import ask_again, date_of, no_date_words, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import read_fields, text_of
from app.pages.plan.view import (
    closed_words,
    no_cars_words,
    plan_title,
    unknown_words,
    weather_words,
)
from app.pages.reduce.together_view import together_part
from app.pages.reduce.view import (
    WISHES,
    Returned,
    SwitchPage,
    notices,
    told_of,
    wish_form,
    wish_problems,
)
from app.pages.studies.view import waiting as waiting_of
from app.pages.writing import new_request_key, request_key_of, stale_words, version_of
from app.sites.reading import Stale, StoredSite, gate
from app.words.columns import Spoken
from app.words.switching import answer_words, switch_sure
from sim.decide.switching.answer import WhenToReduce
from sim.errors import InputError
from sim.inputs import INPUTS, Scenario
from sim.units import SYSTEMS

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
    return csv_text(HEADS, (tuple(map(_plain, row)) for row in rows))


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return Written(f"{value:.6g}")
    return "" if value is None else str(value)


router = APIRouter()


@router.get("/{slug}/reduce")
def choose(request: Request, site: SiteDep, web: WebDep, day: str = "") -> Response:
    """On to a day: the one typed, else the busiest of the coming ones."""
    typed = day.strip()
    found = date_of(typed) if typed else None
    busiest = busiest_day(web.database, site, web.today(site.data.site.timezone), web.runner)
    if typed and found is None:
        message = no_date_words(typed)
        return _page(request, web, site, busiest, typed=typed, message=message)
    return RedirectResponse(f"/{site.slug}/reduce/{(found or busiest).isoformat()}", 303)


@router.get("/{slug}/reduce/{day}")
def show_switch(
    request: Request, site: SiteDep, web: WebDep, day: str, stored: str = ""
) -> Response:
    """When to reduce on a day; what has not been computed is begun, and the page asks again."""
    done = {
        "yes": _("Stored. Every answer from now on goes by it."),
        "same": _("Nothing was changed, so nothing was stored."),
    }.get(stored, "")
    return _page(request, web, site, wanted(day), done=done)


@router.post("/{slug}/reduce/{day}")
def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed."""
    switching.begin_switch(web.runner, site.id, open_view(web, site, wanted(day)))
    return RedirectResponse(f"/{site.slug}/reduce/{day}", 303)


@router.post("/{slug}/reduce/{day}/wish")
def store_wish(request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Stores what a rule is chosen by; what can't be read comes back as it was typed."""
    when = wanted(day)
    units = text_of(form, "units")
    system = units if units in SYSTEMS else site.data.units
    read = read_fields(form, {name: INPUTS[name] for name in WISHES}, system)
    marked = dict.fromkeys(read.typed.marks)
    back = Returned(read.typed, read.problems, system)
    if not read.problems:
        try:
            with gate(web.database, web.now()) as writes:
                outcome = writes.set_inputs(
                    site.id,
                    {**read.values, **marked},
                    expected_version=version_of(form),
                    request_key=request_key_of(form),
                )
        except InputError as fault:
            back = Returned(read.typed, fault.problems, system)
        except Stale as fault:
            words = stale_words(fault, site.data.site.timezone)
            back = Returned(read.typed, (), system, words)
            return _page(request, web, site, when, back=back, status=409)
        else:
            word = "yes" if outcome.changed else "same"
            return RedirectResponse(f"/{site.slug}/reduce/{day}?stored={word}", 303)
    return _page(request, web, site, when, back=back, status=422)


@router.post("/{slug}/reduce/{day}/plan")
def put_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores the advised rule as one more scenario of the day's plan."""
    view = open_view(web, site, wanted(day))
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
    when = view.plan.day
    if scenarios is None:
        words = _("The plan of this day has six scenarios already. Take one away there first.")
        return _page(request, web, site, when, no_room=words, status=409)
    if scenarios != view.plan.scenarios:
        try:
            with gate(web.database, web.now()) as writes:
                writes.store_plan(
                    site.id,
                    when,
                    view.plan.expect,
                    scenarios,
                    expected_version=version_of(form),
                    request_key=request_key_of(form),
                )
        except Stale as fault:
            back = Returned(stale=stale_words(fault, site.data.site.timezone))
            return _page(request, web, site, when, back=back, status=409)
    return RedirectResponse(f"/{site.slug}/plan/{when.isoformat()}", 303)


@router.get("/{slug}/reduce/{day}/rules.csv")
def rules_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """The trade-off, a row a rule, unrounded."""
    view = open_view(web, site, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been computed yet."))
    name = f"{site.slug}-{day}-rules.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    # The mark at the front tells spreadsheets that the file is UTF-8.
    text = "\ufeff" + switch_csv(view.result)
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


# ---- parts ---------------------------------------------------------------------------------------


def open_view(web: Web, site: StoredSite, day: date) -> SwitchView:
    """When to reduce on a day, as it is stored."""
    with web.database.session() as session:
        return switching.open_switch(session, site, day, web.runner)


def open_parts(web: Web, site: StoredSite, day: date) -> tuple[SwitchView, TogetherView]:
    """The same, and what is known of speed, spacing and rule together."""
    with web.database.session() as session:
        view = switching.open_switch(session, site, day, web.runner)
        return view, together.open_together(session, view, web.runner)


def open_or_begin(web: Web, site: StoredSite, day: date) -> SwitchView:
    """The same; what has not been computed is begun."""
    view = open_view(web, site, day)
    if view.asked is not None and view.result is None and not view.failed and not view.running:
        switching.begin_switch(web.runner, site.id, view)
        view = open_view(web, site, day)
    return view


def spoken_of(view: SwitchView, system: str) -> tuple[Spoken | None, Spoken | None, bool]:
    """What is said while there is no answer, and whether the day's plan has to be mended."""
    plan = view.plan
    if plan.expected is None:
        return (*unknown_words(plan.problems, system), True)
    if plan.expected.closed:
        return (*closed_words(long_date(plan.day)), False)
    if plan.expected.expected_cars <= 0:
        return (*no_cars_words(), False)
    if view.asked is None:
        rest = _("The plan of this day can’t be computed as it stands.")
        return Spoken(_("No answer yet."), rest), None, True
    if view.failed:
        return Spoken(view.failed, _("“Work it out” begins it.")), None, False
    return None, None, False


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    day: date,
    *,
    back: Returned | None = None,
    done: str = "",
    no_room: str = "",
    typed: str = "",
    message: str = "",
    status: int = 200,
) -> Response:
    view, system = open_or_begin(web, site, day), site.data.units
    plan, found, back = view.plan, view.result, back or Returned()
    lead, sure, needs_plan = spoken_of(view, system)
    told, waiting, part = None, None, None
    if found is not None:
        lead = answer_words(found, system)
        sure = switch_sure(found, site.data.given, system)
        scenarios = switching.with_chosen(view)
        told = told_of(found, system, scenarios == plan.scenarios)
        with web.database.session() as session:
            part = together_part(together.open_together(session, view, web.runner), system)
    elif view.running is not None and not view.failed:
        waiting = waiting_of(view.running, view.key)
    # A page that asks again by itself must not take away what is being typed.
    is_back = back.typed is not None
    form = None
    if is_back or (view.asked is not None and waiting is None):
        form = wish_form(site, back, new_request_key())
    page = SwitchPage(
        slug=site.slug,
        day=plan.day.isoformat(),
        date_words=long_date(plan.day),
        weather_line="" if plan.expected is None else weather_words(plan.expected, system),
        answer=lead,
        sure=sure,
        waiting=waiting,
        told=told,
        together=part,
        form=form,
        problems=wish_problems(back, system),
        stale=back.stale,
        plan_version=plan.version,
        plan_key=new_request_key(),
        done=done,
        no_room=no_room,
        can_retry=bool(view.failed) and found is None,
        needs_plan=needs_plan,
        message=message,
        typed=typed,
        notices=notices(found is not None, plan.scenarios[0].cloth),
    )
    response = render(
        request, "reduce/reduce.html", page, title=_("When to reduce"), current="reduce",
        site=site, when=plan_title(plan.day), status=422 if message else status,
    )  # fmt: skip
    if waiting is not None and not is_back:
        ask_again(request, response)
    return response

"""When to reduce: a day's answer, begun in the background and read when it is there, the form of
the wish and the rules as CSV; speed, spacing and rule from there; and the coming days."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.answer import Desk
from app.answers.coming_plans import COMING, own_plans, with_own
from app.answers.switching import (
    SWITCH,
    TOGETHER,
    SwitchView,
    TogetherView,
    keep_telling,
    with_chosen,
    with_remedy,
    with_setting,
)
from app.catalogue import _
from app.charts.marks import Chart
from app.charts.switching import strip_chart, trade_chart
from app.files.csv_table import table_csv
from app.pages.cautions import DEFERENCE, SET_CHANGE, WHEEL, Notice
from app.pages.days import (
    add_day_pages,
    instead_of,
    origin_words,
    plan_title,
    wanted,
    weather_words,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, csv_file, render
from app.pages.forms import (
    FieldView,
    Summary,
    Typed,
    input_fields,
    read_fields,
    summary,
    units_of,
)
from app.pages.plan.table import ComparisonTable, comparison_table
from app.pages.waiting import REFRESH_S, StudyProgress, before, waiting
from app.pages.writing import (
    carry_out,
    new_request_key,
    place_in,
    request_key_of,
    store_scenarios,
    version_of,
)
from app.sites.reading import Outcome, StoredSite, gate
from app.words.answer import Narrow, narrow_words, turning_words
from app.words.coming import coming_answer, coming_sure
from app.words.dry import damp_words
from app.words.phrases import Statement
from app.words.switching import answer_words, coarse_sure, missing_words, switch_sure
from app.words.why import usable
from sim.decide.answer import Comparison
from sim.decide.switching.answer import ComingAnswer, DayPlan, WhenToReduce
from sim.errors import InputProblem
from sim.inputs import INPUTS

HEADS = (
    "rule",
    "in words",
    "cars leaving damp, share of cars washed",
    "cars fully wiped, share of cars washed",
    "cars leaving damp a day",
    "cars fully wiped a day",
    "cost of the day ($)",
    "simulated days",
    "within the limits of switching",
    "no other rule is better in both",
    "advised",
)
"""Columns of the file of rules."""
WISHES = (
    "reduce_wish", "allowed_damp_share", "most_switches", "least_between_switches_min",
    "matters_cars",
)  # fmt: skip
"""Inputs of the wish, in the order of the form."""

router = APIRouter()


# ---- what the templates get ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RejectedForm:
    """A form that comes back: as it was sent, what is wrong with it, and the units it was in."""

    typed: Typed | None = None
    problems: Sequence[InputProblem] = ()
    units: str = ""
    stale: str = ""


@dataclass(frozen=True, slots=True)
class WishForm:
    """The form of the wish."""

    fields: tuple[FieldView, ...]
    version: int
    request_key: str
    units: str


@dataclass(frozen=True, slots=True)
class DrawnAnswer:
    """What is drawn of an answer, beside what its words say of it.

    Attributes:
        compared: the day's comparison, beside which other figures are told.
        narrow: what widens the answer most and what would narrow it; None where unknown.
        in_plan: the plan has the rule already.
        dry: which car counts as damp; priced: which guesses its money turns on.
        together: speed, spacing and rule together; can_put: another setting was found that the
            plan does not have yet; setting_key: for the button that puts it there.
    """

    strips: Chart
    trade: Chart
    table: ComparisonTable
    compared: Comparison
    narrow: Narrow | None
    in_plan: bool
    dry: str
    priced: str
    together: TogetherView
    can_put: bool
    setting_key: str


@dataclass(frozen=True, slots=True)
class SwitchPage:
    """The page.

    Attributes:
        says, sure: what to do, or why there is no answer, and how sure that is.
        missing: what of the answer is not there yet, in a sentence.
        told: what is drawn of the answer; None while there is none.
        form: the wish; None where the day can't be decided.
        plan_key: for the button that puts the rule into the plan.
        done: what has just been stored, in a sentence.
        no_room: the plan is full, in a sentence.
        message, typed: of the form that asks for another day.
    """

    slug: str
    units: str
    day: date
    view: SwitchView
    weather_line: str
    origin: str
    says: Statement | None
    sure: Statement | None
    missing: str
    waiting: StudyProgress | None
    told: DrawnAnswer | None
    form: WishForm | None
    problems: Summary | None
    stale: str
    plan_key: str
    done: str
    no_room: str
    needs_plan: bool
    message: str
    typed: str
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class TogetherWait:
    """The page that waits for speed, spacing and rule, or says what went wrong."""

    slug: str
    view: TogetherView
    waiting: StudyProgress | None


@dataclass(frozen=True, slots=True)
class ComingPage:
    """The page of the coming days.

    Attributes:
        found: the answer; None while nothing has been computed.
        crewed: days whose plan says who dries cars.
        own: plans of days whose page has its answer.
        waiting: how far it is, while it is computed.
        can_retry: whether it failed or was stopped before it was whole.
        is_empty: whether nothing can be planned.
    """

    site: StoredSite
    answer: Statement | None
    sure: Statement | None
    waiting: StudyProgress | None
    found: ComingAnswer | None
    crewed: frozenset[date]
    own: dict[date, DayPlan]
    can_retry: bool
    is_empty: bool
    notices: tuple[Notice, ...]


# ---- the wish, and the rule into the plan --------------------------------------------------------


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
    view, _answer = _known(web, site, day)
    again = _again(request, web, view.day)
    response = store_scenarios(web, site, view.asked.plan, with_chosen(view), form, again)
    stored = web.site_at(site.slug) if response.status_code == 303 else None
    if stored is not None:
        now = web.open(stored, SWITCH, view.day)
        with gate(web.database, web.now()) as opened:
            keep_telling(opened, view, now)
    return response


def _known(web: Web, site: StoredSite, day: str) -> tuple[SwitchView, WhenToReduce]:
    """A day's answer; a 404 page where there is none, or it is not whole yet."""
    view = web.open(site, SWITCH, wanted(day))
    if view.result is None or not view.is_final:
        raise HTTPException(404, _("This day has not been computed yet."))
    return view, view.result


@router.post("/{slug}/reduce/{day}/remedy/plan")
def put_remedy_into_plan(
    request: Request, site: SiteDep, web: WebDep, form: FormDep, day: str
) -> Response:
    """Stores a remedy and the rule that is best with it as one more scenario of the day's plan."""
    view, answer = _known(web, site, day)
    rows = () if answer.remedies is None else answer.remedies.rows
    which = place_in(form, len(rows))
    names = dict(usable(answer, site.data.units))
    if which is None or which not in names:
        raise HTTPException(404, _("There is no such remedy to put into a plan."))
    again, scenarios = _again(request, web, view.day), with_remedy(view, rows[which], names[which])
    return store_scenarios(web, site, view.asked.plan, scenarios, form, again)


@router.get("/{slug}/reduce/{day}/rules.csv")
def rules_csv(site: SiteDep, web: WebDep, day: str) -> Response:
    """Every rule kept of the trade-off, unrounded, and whether it is the advised one."""
    view, answer = _known(web, site, day)
    answer = web.by_plan(view).result or answer
    rows = (
        (
            one.rule.text, one.rule.words(), one.left_damp_share, one.full_share, one.left_damp,
            one.full_cars, one.cost, one.draws, one.keeps, one.undominated,
            one.rule == answer.chosen,
        )
        for one in answer.trade_off
    )  # fmt: skip
    return csv_file(table_csv(HEADS, rows), f"{site.slug}-{day}-rules.csv")


# ---- the page of a day ---------------------------------------------------------------------------


def _again(
    request: Request, web: Web, day: date, typed: Typed | None = None, units: str = ""
) -> Callable[..., Response]:
    """Draws the page once more, with what was typed and why it was not stored."""

    def again(
        site: StoredSite,
        problems: Sequence[InputProblem] = (),
        stale: str = "",
        status: int = 422,
        no_room: str = "",
    ) -> Response:
        view = web.shown(site, SWITCH, day)
        back = RejectedForm(typed, problems, units, stale)
        return _page(request, web, site, view, back=back, no_room=no_room, status=status)

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
    view = web.by_plan(view)
    plan, answer = view.asked.plan, view.result
    done = {
        "yes": _("Stored. Every answer from now on goes by it."),
        "same": _("Nothing was changed, so nothing was stored."),
    }.get(request.query_params.get("stored", ""), "")
    says, sure, needs_plan = instead_of(view, system)
    told, waits, missing = None, None, ""
    mind = [DEFERENCE]
    if answer is not None:
        says = answer_words(answer, system)
        given = site.data.given
        sure = coarse_sure(answer) if answer.coarse else switch_sure(answer, given, system)
        told = _drawn(web, site, view, answer)
        mind.append(WHEEL)
    is_back = back.typed is not None
    over = before(site, view, asks=not is_back)
    if answer is not None and not view.is_final and over is None:
        missing = " ".join(filter(None, (view.failed, missing_words(answer, bool(view.failed)))))
    if not view.failed and not view.is_final and over is None:
        waits = waiting(view)
    if plan.scenarios[0].cloth.strip():
        mind.append(SET_CHANGE)
    # A page that asks again by itself must not take away what is being typed.
    is_waiting = waits is not None or (over is not None and over.waiting is not None)
    page = SwitchPage(
        slug=site.slug,
        units=system,
        day=view.day,
        view=view,
        weather_line="" if plan.expected is None else weather_words(plan.expected, system),
        origin=origin_words(plan.expected, system),
        says=says,
        sure=sure,
        missing=missing,
        waiting=waits,
        told=told,
        form=_wish_form(site, back) if is_back or (view.key and not is_waiting) else None,
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
    return render(
        request, "reduce/reduce.html", page, title=_("When to reduce"), current="reduce",
        site=site, when=plan_title(plan.day), status=422 if message else status,
        again=REFRESH_S if waits is not None and not is_back else 0, before=over,
    )  # fmt: skip


def _drawn(web: Web, site: StoredSite, view: SwitchView, answer: WhenToReduce) -> DrawnAnswer:
    comparison, told = answer.comparison, answer.columns.told
    scenarios = view.asked.plan.scenarios
    both = web.stand(TOGETHER.of(site.id, view.day, view))
    is_new = both.result is not None and not both.result.stays
    return DrawnAnswer(
        strips=strip_chart(answer),
        trade=trade_chart(answer),
        table=comparison_table(comparison, site.data.units, told),
        compared=comparison,
        narrow=narrow_words(comparison, told),
        in_plan=with_chosen(view) == scenarios,
        dry=damp_words(site.data.site, site.data.given, site.data.weighings, site.data.units),
        priced=turning_words("money", site.data.given),
        together=both,
        can_put=is_new and with_setting(both) != scenarios,
        setting_key=new_request_key(),
    )


def _wish_form(stored: StoredSite, back: RejectedForm) -> WishForm:
    """The form of the wish; what was typed in a form that comes back stays."""
    data, system = stored.data, back.units or stored.data.units
    rows = {name: INPUTS[name] for name in WISHES}
    fields = input_fields(rows, data, system, back.typed, back.problems)
    return WishForm(fields, stored.version, new_request_key(), system)


add_day_pages(router, SWITCH, _page)


# ---- speed, spacing and rule together ------------------------------------------------------------


@router.get("/{slug}/reduce/{day}/together")
def wait_for_settings(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """Waits for the answer, begun if it was not, and leads on to the page where it stands."""
    view = web.begun(site, TOGETHER, wanted(day))
    if not view.key or view.result is not None:
        return RedirectResponse(f"/{site.slug}/reduce/{day}#together", 303)
    page = TogetherWait(site.slug, view, None if view.failed else waiting(view))
    return render(
        request, "reduce/together.html", page, title=_("Speed, spacing and rule together"),
        current="reduce", site=site, when=plan_title(view.day),
        again=REFRESH_S if page.waiting is not None else 0,
    )  # fmt: skip


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
    both = web.open(site, TOGETHER, wanted(day))
    if both.result is None:
        raise HTTPException(404, _("This day’s settings have not been computed yet."))
    plan, again = both.asked.asked.plan, _again(request, web, both.day)
    return store_scenarios(web, site, plan, with_setting(both), form, again)


# ---- the coming days -----------------------------------------------------------------------------


@router.get("/{slug}/coming")
def show_coming(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page; what has not been computed is begun, and the page asks again by itself."""
    view = web.shown(site, COMING, _first(web, site))
    found = view.result
    answer: Statement | None = None
    own: dict[date, DayPlan] = {}
    if found is not None:
        with web.database.session() as session:
            own = own_plans(Desk(session, site, web.runner), found)
    sure: Statement | None = None
    if not view.key:
        answer = Statement(
            _("No plan yet."), _("Nothing can be planned of any of the coming days.")
        )
        sure = Statement(
            "",
            _("Either nothing is known of such days, or no car is let in. A day is expected from "
              "hourly counts and weather of earlier days."),
        )  # fmt: skip
    elif found is not None:
        told = with_own(found, own)
        answer, sure = coming_answer(told), coming_sure(told, site.data.given, own)
        if view.failed and view.earlier is None:
            sure = Statement(sure.lead, f"{sure.rest} {view.failed}")
    elif view.failed:
        answer = Statement(view.failed, _("“Work it out” begins it."))
    page = ComingPage(
        site=site,
        answer=answer,
        sure=sure,
        waiting=None if view.failed or view.earlier else waiting(view),
        found=found,
        crewed=view.asked.crewed,
        own=own,
        can_retry=bool(view.failed),
        is_empty=not view.key,
        notices=(DEFERENCE, WHEEL),
    )
    return render(
        request, "reduce/coming.html", page, title=_("The coming days"), current="reduce",
        site=site,
        again=REFRESH_S if page.waiting is not None else 0, before=before(site, view),
    )  # fmt: skip


@router.post("/{slug}/coming")
def try_again(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins anew what has failed or was stopped."""
    web.open(site, COMING, _first(web, site)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/coming", 303)


def _first(web: Web, site: StoredSite) -> date:
    return web.today(site) + timedelta(days=1)

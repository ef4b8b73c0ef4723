"""Watch the day: one simulated day of a plan, drawn car by car, for one scenario or two in step."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from app.answers.answer import Desk
from app.answers.planning import PLAN, DayInputs, PlanView
from app.answers.serial import write
from app.answers.watch import series
from app.catalogue import _
from app.charts.marks import Chart, Key
from app.charts.watch import stage_of, still, watch_key
from app.pages.cautions import DEFERENCE, LOCK_OUT, Notice
from app.pages.days import nothing_to_plan, plan_title, wanted
from app.pages.deps import SiteDep, WebDep, render
from app.words import watch as words
from app.words.phrases import Statement, TextTable
from sim.day.watched import WatchedDay, WatchedScenario

router = APIRouter()
ABOVE, BELOW, NONE = "above", "below", "none"
"""Fields of the address: the scenario that is drawn above, and the one below or none."""


@dataclass(frozen=True, slots=True)
class Still:
    """Still pictures of one moment: when and why, and a picture a scenario."""

    title: str
    pictures: tuple[Chart, ...]


@dataclass(frozen=True, slots=True)
class WatchPage:
    """The page.

    Attributes:
        answer, sure: what came of the day, or why there is none to watch.
        names: the plan's scenarios; above, below: numbers of those watched, below 0 for none.
        is_held: whether nothing was simulated, since the page was opened from elsewhere.
        drawn: which of many days it is; busiest: when most cars wait.
        players: what the script begins with, a picture a scenario.
        begins: the moment at which the script begins; opens, ends: first and last [1/10 s].
    """

    slug: str
    day: date
    answer: Statement | None
    sure: tuple[str, ...]
    names: tuple[str, ...]
    above: int
    below: int
    is_held: bool
    drawn: str
    busiest: str
    players: tuple[Chart, ...]
    begins: int
    opens: int
    ends: int
    stills: tuple[Still, ...]
    key: tuple[Key, ...]
    tables: tuple[tuple[str, TextTable], ...]
    notices: tuple[Notice, ...]


@router.get("/{slug}/watch/{day}")
def show_day(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """The page; the day is simulated as it is asked for."""
    when = wanted(day)
    with web.database.session() as session:
        view = Desk(session, site, web.runner.onlooker()).open(PLAN, when)
    plan = view.asked
    question, watched = plan.to_compare, tuple[WatchedScenario, ...]()
    above, below = _chosen(request.query_params, len(plan.scenarios), _rival(view))
    if question is not None and web.runner.may_begin:
        watched = web.watched.days(question, tuple(filter(None, (above, below))))
    page = _page(site.slug, plan, watched, above, below, site.data.units)
    return render(
        request, "watch/watch.html", page, title=_("Watch the day"), current="plan", site=site,
        when=plan_title(when),
    )  # fmt: skip


@router.get("/{slug}/watch/{day}/series.json")
def day_series(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """What the script draws the day from: stages, words and cars."""
    if not web.runner.may_begin:
        raise HTTPException(403, _("Only the page of the day asks for this."))
    when = wanted(day)
    with web.database.session() as session:
        plan = Desk(session, site, web.runner.onlooker()).open(PLAN, when).asked
    if plan.to_compare is None:
        raise HTTPException(404, _("There is nothing to watch on this day."))
    numbers = tuple(filter(None, _chosen(request.query_params, len(plan.scenarios), 0)))
    watched = web.watched.days(plan.to_compare, numbers)
    sent = {
        "stages": [stage_of(one.day.room) for one in watched],
        "here": {where: _(text) for where, text in words.HERE.items()},
        "stopped": _(words.STOPPED),
        "riding": [_(text) for text in words.RIDING],
        "strips": _(words.STRIPS),
        "said": _(words.SAID),
        "wiping": [_(text) for text in words.WIPING.values()],
        "days": series(watched),
    }
    return Response(write(sent), media_type="application/json")


def _rival(view: PlanView) -> int:
    """The scenario that is drawn below the first unless another is asked for: the advised one, else
    the second; 0 where the plan has but one."""
    count = len(view.asked.scenarios)
    if count < 2:
        return 0
    best = 0 if view.result is None else view.result.comparison.best
    return best + 1 if 0 < best < count else 2


def _chosen(asked: Mapping[str, str], count: int, rival: int) -> tuple[int, int]:
    """Numbers of the scenarios above and below; what an address says that no plan has is left out
    of it."""

    numbers = {str(one): one for one in range(1, count + 1)}
    above = numbers.get(asked.get(ABOVE, ""), 1)
    below = numbers.get(asked.get(BELOW, ""), rival)
    if asked.get(BELOW) == NONE:
        below = 0
    return above, 0 if below == above else below


def _whole_minutes(days: Sequence[WatchedDay]) -> int:
    """The last moment that the script shows: every car has gone."""
    if not days:
        return 0
    opens, ends = days[0].opens, max(one.ends for one in days)
    return opens + words.MINUTE * math.ceil((ends - opens) / words.MINUTE)


def _page(
    slug: str,
    plan: DayInputs,
    watched: tuple[WatchedScenario, ...],
    above: int,
    below: int,
    system: str,
) -> WatchPage:
    nothing = nothing_to_plan(plan, system)
    answer, sure = nothing or (None, None)
    told = tuple(words.outcome_words(one) for one in watched)
    days = tuple(one.day for one in watched)
    if watched:
        answer = words.day_words(days[0])
    elif nothing is None and plan.question is None:
        answer = Statement(
            _("Nothing to watch yet."), _("The plan of this day can’t be computed as it stands.")
        )
    return WatchPage(
        slug=slug,
        day=plan.day,
        answer=answer,
        sure=told or ((sure.rest,) if sure else ()),
        names=tuple(one.name for one in plan.scenarios),
        above=above,
        below=below,
        is_held=not watched and plan.to_compare is not None,
        drawn=words.drawn_words(days[0], plan.expected.expected_cars)
        if days and plan.expected
        else "",
        busiest=words.busiest_words(watched[0]) if watched else "",
        players=tuple(
            still(f"play-{one.number}", words.name_words(one), one.day, days[0].busiest)
            for one in watched
        ),
        begins=days[0].busiest if days else 0,
        opens=days[0].opens if days else 0,
        ends=_whole_minutes(days),
        stills=tuple(
            Still(
                _("{why}, {time}", time=words.time_words(at), why=why),
                tuple(
                    still(f"at-{at}-{one.number}", words.name_words(one), one.day, at)
                    for one in watched
                ),
            )
            for at, why in words.moments_to_draw(watched).items()
        )
        if watched
        else (),
        key=watch_key(days),
        tables=tuple((words.name_words(one), words.hours_table(one)) for one in watched),
        notices=(LOCK_OUT, DEFERENCE),
    )

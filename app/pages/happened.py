"""What was planned, what happened: a day, and the days of a month."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.answer import Desk
from app.answers.drift import known_changes
from app.answers.happened import AFTERWARDS, AfterwardsView, DayBeside, day_beside, days_beside
from app.answers.scored import SCORE, ScoreView
from app.catalogue import _, month_of
from app.pages.cautions import DEFERENCE, WHEEL, Notice
from app.pages.days import FIRST_YEAR, LAST_YEAR, plan_title, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.waiting import REFRESH_S, StudyProgress
from app.pages.waiting import waiting as waiting_of
from app.sites.reading import StoredSite
from app.words.drift import change_lead
from app.words.happened import Rows, answer, held_rows, month_answer, month_rows, switch_rows
from app.words.phrases import Statement
from sim.learn.happened import InRange

router = APIRouter()
SET_BESIDE = "The day is being set beside the plan that it would have had."
MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")


@dataclass(frozen=True, slots=True)
class HappenedPage:
    """A day beside its plan.

    Attributes:
        answer: whether the plan was right and followed.
        beside: what was planned and what happened.
        held, switches: their tables.
        waiting: how far the plan is that is worked out afterwards; None where it isn't.
        failed: why that could not be worked out; can_retry: whether a button begins it.
        month: the month of the day, as its address has it.
    """

    slug: str
    day: date
    answer: Statement
    beside: DayBeside
    held: Rows
    switches: Rows
    waiting: StudyProgress | None
    failed: str
    can_retry: bool
    month: str
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class MonthPage:
    """The days of a month.

    Attributes:
        name: of the month; before, after: addresses of the months beside it, empty for none.
        days: each with its row.
        share: how often the days lay inside what was told.
        changed: changes of the site that began in this month, a sentence each.
        score: how good the advice of the last days was, as far as it is known.
    """

    slug: str
    name: str
    before: str
    after: str
    answer: Statement
    share: InRange
    changed: tuple[str, ...]
    days: tuple[tuple[date, tuple[str, ...]], ...]
    score: ScoreView


@router.get("/{slug}/happened")
def latest(site: SiteDep, web: WebDep) -> Response:
    """On to the month of yesterday."""
    yesterday = web.today(site) - timedelta(days=1)
    return RedirectResponse(f"/{site.slug}/happened/{yesterday:%Y-%m}", 303)


@router.get("/{slug}/happened/{day}")
def show(request: Request, site: SiteDep, web: WebDep, day: str) -> Response:
    """A day beside its plan; or a month, where the address names one."""
    month = _month(day)
    if month is not None:
        return _month_page(request, web, site, month)
    when = wanted(day)
    if when > web.today(site):
        raise HTTPException(404, _("This day is still to come."))
    return _day_page(request, web, site, when)


@router.post("/{slug}/happened/{day}")
def try_again(site: SiteDep, web: WebDep, form: FormDep, day: str) -> Response:
    """Begins anew what has failed or was stopped."""
    web.open(site, AFTERWARDS, wanted(day)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/happened/{day}", 303)


def _month(text: str) -> date | None:
    """The first day of a month as addresses name it; None for anything else."""
    found = MONTH.fullmatch(text)
    if found is None:
        return None
    year, number = int(found[1]), int(found[2])
    if not FIRST_YEAR <= year <= LAST_YEAR or not 1 <= number <= 12:
        return None
    return date(year, number, 1)


def _beside(web: Web, site: StoredSite, day: date) -> tuple[DayBeside, AfterwardsView | None]:
    with web.database.session() as session:
        beside = day_beside(Desk(session, site, web.runner.onlooker()), day)
    if beside.found.planned.source == "stored":
        return beside, None
    view = web.begun(site, AFTERWARDS, day)
    if view.result is None:
        return beside, view
    with web.database.session() as session:
        desk = Desk(session, site, web.runner.onlooker())
        return day_beside(desk, day, view.result), view


def _day_page(request: Request, web: Web, site: StoredSite, day: date) -> Response:
    beside, view = _beside(web, site, day)
    waiting = None if view is None or view.failed else waiting_of(view)
    page = HappenedPage(
        slug=site.slug,
        day=day,
        answer=answer(beside.found) if waiting is None else Statement(_(SET_BESIDE), ""),
        beside=beside,
        held=held_rows(beside.found),
        switches=switch_rows(beside.found),
        waiting=waiting,
        failed="" if view is None else view.failed,
        can_retry=view is not None and bool(view.failed),
        month=f"{day:%Y-%m}",
        notices=(DEFERENCE, WHEEL),
    )
    return render(
        request, "happened/day.html", page, title=_("What happened"), current="happened", site=site,
        when=plan_title(day), again=REFRESH_S if waiting is not None else 0,
    )  # fmt: skip


def _month_page(request: Request, web: Web, site: StoredSite, first: date) -> Response:
    today = web.today(site)
    length = calendar.monthrange(first.year, first.month)[1]
    days = [first + timedelta(days=ahead) for ahead in range(length)]
    with web.database.session() as session:
        desk = Desk(session, site, web.runner.onlooker())
        every = days_beside(desk, [day for day in days if day <= today])
        known = known_changes(session, site.id)
    found = [(one.found, one.wet) for one in every.days]
    after = first + timedelta(days=length)
    page = MonthPage(
        slug=site.slug,
        name=month_of(first),
        before=f"{first - timedelta(days=1):%Y-%m}" if first.year > FIRST_YEAR else "",
        after=f"{after:%Y-%m}" if after <= today else "",
        answer=month_answer(every.share, every.wet),
        share=every.share,
        changed=tuple(
            change_lead(one) for one in (known.changes if known else ()) if one.since in days
        ),
        days=tuple((one.day, row) for one, row in zip(every.days, month_rows(found), strict=True)),
        score=web.shown(site, SCORE, today),
    )
    return render(
        request, "happened/month.html", page, title=_("What happened"), current="happened",
        site=site, when=page.name,
    )  # fmt: skip

"""Measurements: a guided page with their forms, what is stored, and what came of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.answers.answer import Desk
from app.answers.drift import DriftView, open_change
from app.answers.next_measurement import NextView
from app.answers.patience import PATIENCE, PatienceView
from app.answers.told_by_log import times_told
from app.answers.weighings import WeighingsView, open_measuring
from app.catalogue import _, say
from app.pages.cautions import DEFERENCE, LADDER, LOCK_OUT, Notice
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import FieldView, RowForm, Summary, summary
from app.pages.weighing_forms import WeighingRead, fields_of, read_weighing
from app.pages.writing import (
    carry_out,
    new_request_key,
    place_in,
    request_key_of,
    version_of,
)
from app.sites.reading import Gate, Outcome, StoredSite
from app.words.drift import change_words
from app.words.phrases import Statement
from app.words.told_by_log import Offer, offers, told_line
from app.words.weighings import NAMES, answer, effort_words, waiting_words, worth_words
from sim.errors import InputProblem
from sim.inputs import CARS_LOOKED_AT, MEASURED, Weighing
from sim.learn.answer import LogFinding
from sim.learn.drift import DriftFound

router = APIRouter()


# ---- the page ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Step:
    """One of the measurements, how many rows of it are stored, what it would be worth and what work
    it is, and its form."""

    kind: str
    heading: str
    count: int
    worth: str
    effort: str
    fields: tuple[FieldView, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class WeighingsPage:
    """The page.

    Attributes:
        answer: how many are in and what that means.
        cars: to be looked at after a weighing.
        waiting: what is being worked out, in a sentence; empty for nothing.
        reasons: weighings that could not be used, and what went wrong, a sentence each.
        drift: whether the site has changed; changes: what has, the last one first, as long as its
            log tells anything.
        times, times_line: what times that were taken say of what plans count on; patience,
            patience_line: what the log says of how long people are willing to wait.
        tomorrow: what to measure then.
    """

    site: StoredSite
    view: WeighingsView
    request_key: str
    answer: tuple[str, str]
    done: str
    stale: str
    summary: Summary | None
    notices: tuple[Notice, ...]
    steps: tuple[Step, ...]
    next: Step | None
    cars: int
    waiting: str
    reasons: tuple[str, ...]
    drift: DriftView
    tomorrow: NextView
    changes: tuple[Statement, ...]
    times: tuple[Offer, ...]
    times_line: str
    patience: tuple[Offer, ...]
    patience_line: str


# ---- the routes ----------------------------------------------------------------------------------


@router.get("/{slug}/weighings")
def show_weighings(request: Request, site: SiteDep, web: WebDep, stored: str = "") -> Response:
    """The page; what is not worked out yet is begun. It never asks again by itself, lest it take
    away what is being typed: a button does."""
    done = {"yes": _("Stored."), "struck": _("Struck out. The history keeps it.")}.get(stored, "")
    return _page(request, web, site, done=done)


@router.post("/{slug}/weighings")
def store_weighing(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the strips of one weighing."""
    today = web.today(site)
    read = read_weighing(form, site.data, today)
    again = partial(_page, request, web, read=read)
    if read.problems:
        return again(site, problems=read.problems, status=422)
    return _store(web, site, form, (*site.data.weighings, *read.weighings), again, "yes")


@router.post("/{slug}/weighings/strike")
def strike_weighing(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Strikes a weighing out; it stays in the history."""
    held = site.data.weighings
    which = place_in(form, len(held))
    if which is None:
        problem = InputProblem("weighing", "There is no such weighing any more.")
        return _page(request, web, site, problems=[problem], status=422)
    left = (*held[:which], *held[which + 1 :])
    return _store(web, site, form, left, partial(_page, request, web), "struck")


def _store(
    web: Web,
    site: StoredSite,
    form: FormDep,
    weighings: tuple[Weighing, ...],
    again: Callable[..., Response],
    done: str,
) -> Response:
    def write(gate: Gate) -> Outcome:
        key = request_key_of(form)
        return gate.set_book(site.id, "weighings", weighings, version_of(form), key)

    return carry_out(web, site, write, again, f"/{site.slug}/weighings?stored={done}")


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    read: WeighingRead | None = None,
    problems: Sequence[InputProblem] = (),
    done: str = "",
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page; `read` is a form to be drawn again with what was typed."""
    today = web.today(site)
    view, worth, drift, tomorrow = open_measuring(web.database, site, today, web.runner)
    data, system, held = site.data, site.data.units, view.asked.plan.held
    with web.database.session() as session:
        times = times_told(Desk(session, site, web.runner.onlooker()), today)
    waits = web.begun(site, PATIENCE, today)
    patience = _patience_of(waits)
    kinds = [item.kind for item in data.weighings]
    told = {} if worth.result is None else {one.kind: one for one in worth.result.each}
    order = MEASURED if worth.result is None else worth.result.order or MEASURED
    missing = [kind for kind in order if kind not in kinds]
    typed_kind = read.kind if read else ""
    hrefs = {p.field: f"#in-{typed_kind}-{p.field}" if typed_kind else "" for p in problems}
    reasons = [say(p, system) for p in held.asked.problems] + [
        held.failed,
        view.failed,
        worth.failed,
    ]
    steps = []
    for kind in order:
        is_typed = read is not None and kind == read.kind
        typed = read.typed if read is not None and is_typed else {}
        form = RowForm(kind, system, typed, problems if is_typed else ())
        fields = fields_of(form, data, today)
        said = worth_words(told[kind], view.day) if kind in told else ""
        effort = effort_words(kind)
        steps.append(Step(kind, _(NAMES[kind]), kinds.count(kind), said, effort, fields, is_typed))
    page = WeighingsPage(
        site=site,
        view=view,
        request_key=new_request_key(),
        answer=answer(set(kinds), held),
        done=done,
        stale=stale,
        summary=summary(problems, system, hrefs),
        notices=(LOCK_OUT, LADDER, DEFERENCE),
        steps=tuple(steps),
        next=next((step for step in steps if missing[:1] == [step.kind]), None),
        cars=CARS_LOOKED_AT,
        waiting=waiting_words(view, worth),
        reasons=tuple(dict.fromkeys(filter(None, reasons))),
        drift=drift,
        tomorrow=tomorrow,
        changes=_changes(site, drift.result),
        times=offers(times, system),
        times_line=told_line(times),
        patience=offers(patience, system),
        patience_line=_patience_line(waits, patience),
    )
    return render(
        request, "weighings/weighings.html", page,
        title=_("Measurements"), current="weighings", site=site, kind="hand", status=status,
    )  # fmt: skip


def _patience_of(view: PatienceView) -> tuple[LogFinding, ...]:
    """What was found, if it was."""
    found = None if view.result is None else view.result.finding
    return () if found is None else (found,)


def _patience_line(view: PatienceView, found: Sequence[LogFinding]) -> str:
    """What is told, or why nothing is."""
    if found:
        return told_line(found)
    if view.result is not None:
        return _("The log fits no site that is believed in. Look at its counts and waits.")
    if view.failed:
        return view.failed
    if view.key:
        return _("It is being worked out.")
    return _("Too little is noted yet: a dozen waits on three days at least.")


def _changes(site: StoredSite, found: DriftFound | None) -> tuple[Statement, ...]:
    open_ = open_change(found, site.data.weighings)
    every = found.changes if found else ()
    return tuple(change_words(one, is_open=one == open_) for one in reversed(every))

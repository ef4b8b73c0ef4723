"""What to do with the rest of today: a part of two pages, and the advice as given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from fastapi import Request

from app.answers.answer import Desk, with_earlier
from app.answers.checks import Readiness, readiness
from app.answers.now import NowFound, find_now, made_ready
from app.answers.planning import PLAN, PlanView
from app.answers.switching import SWITCH, SwitchView
from app.catalogue import _
from app.pages.cautions import SAFETY_DEVICE, Notice
from app.pages.deps import Web
from app.pages.logbook.entries import EntryForm, Of, switch_form
from app.pages.writing import new_request_key
from app.sites.reading import StoredSite, gate, log_of
from app.words.now import NowWords, act_words, now_words
from sim.inputs import LogEntry
from sim.inputs.logbook import ADVICE, FULL, REDUCED
from sim.units import parse_clock


@dataclass(frozen=True, slots=True)
class NowPart:
    """The part of a page.

    Attributes:
        at_s: as of when it is [s after midnight].
        switch: one press that says that the crew has switched; None where nothing is to be
            switched.
        notices: where a safety device is down.
    """

    says: NowWords
    at_s: float
    switch: EntryForm | None
    notices: tuple[Notice, ...]


def now_part(
    request: Request,
    web: Web,
    site: StoredSite,
    log: Sequence[LogEntry],
    view: SwitchView,
    plan: PlanView,
    checks: Readiness,
    back: str = "",
) -> NowPart | None:
    """What to do now; None before opening, after closing, and on a day without a plan.

    Args:
        log: of today. checks: as they stand.
        view: when to reduce today. plan: today's, with the answer of before where there is none
            of now.
        back: the page that the press leads back to; empty for the logbook.
    """
    _today, now_s = web.clock_at(site)
    if site.data.stands_on is not None:
        now_s = _asked_s(request.query_params.get("at", ""), now_s)
    found = find_now(web.nows, view, plan, checks, log, now_s, may_compute=web.runner.may_begin)
    ready = made_ready(web.nows, view, plan, now_s) if web.runner.may_begin else None
    if ready is not None and not checks.must_stop and not web.runner.is_closing:
        web.runner.aside(ready)  # the page does not wait for it, nor does the first entry then
    says = None if found is None else now_words(found)
    if found is None or says is None:
        return None
    switch = None
    if found.answer is not None:
        word = FULL if found.answer.told.act.reduced else REDUCED
        switch = switch_form(word, Of(site.data, None, {}, web.settings.clock(), ""))
        if back:
            switch = replace(switch, fixed=(*switch.fixed, ("back", back)))
    return NowPart(says, now_s, switch, (SAFETY_DEVICE,) if found.stops else ())


def day_so_far(web: Web, site: StoredSite, day: date) -> tuple[SwitchView, PlanView, Readiness]:
    """When to reduce on a day and its plan, as far as they are known, and the checks."""
    with web.database.session() as session:
        desk = Desk(session, site, web.runner)
        view, plan = desk.open(SWITCH, day), with_earlier(session, desk.open(PLAN, day))
        return view, plan, readiness(desk, day)


def _asked_s(text: str, now_s: float) -> float:
    """The time of day that an address asks for [s]; an invented site has none of its own."""
    try:
        return parse_clock(text)
    except ValueError:
        return now_s


def keep_advice(web: Web, site: StoredSite, day: date) -> None:
    """Note what is advised after an entry, where that is something else than was advised last.

    The advice is kept as it was given, so that it can be held against what was done.
    """
    today, now_s = web.clock_at(site)
    if day != today or not web.runner.may_begin:
        return
    view, plan, checks = day_so_far(web, site, today)
    log = log_of(web.database, site.id, today)
    found = find_now(web.nows, view, plan, checks, log, now_s)
    entry = None if found is None else advice_of(found, today, now_s)
    if entry is not None:
        with gate(web.database, web.now()) as opened:
            opened.enter(site.id, [entry], entry.key, today)


def advice_of(found: NowFound, day: date, now_s: float) -> LogEntry | None:
    """What is advised as an entry; None where the last one says the same, or nothing is advised."""
    if found.answer is None:
        return None
    text = act_words(found.answer)
    if found.advised is not None and found.advised.text == text:
        return None
    word = found.answer.told.act.word
    return LogEntry(new_request_key(), day, now_s, ADVICE, word=word, text=text, by=_("Clothcast"))

"""What to do with the rest of today: a part of two pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fastapi import Request

from app.answers.checks import Readiness
from app.answers.now import find_now, made_ready
from app.answers.planning import PlanView
from app.answers.switching import SwitchView
from app.pages.cautions import SAFETY_DEVICE, Notice
from app.pages.deps import Web
from app.pages.logbook.entries import EntryForm, Of, switch_form
from app.sites.reading import StoredSite
from app.words.now import NowWords, now_words
from sim.inputs import LogEntry
from sim.inputs.logbook import FULL, REDUCED
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


def _asked_s(text: str, now_s: float) -> float:
    """The time of day that an address asks for [s]; an invented site has none of its own."""
    try:
        return parse_clock(text)
    except ValueError:
        return now_s

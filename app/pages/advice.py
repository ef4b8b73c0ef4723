"""The way of every page to the gate: whatever stores an entry of today, the advice that follows is
noted where it is another than before."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

from app.answers.answer import Desk, with_earlier
from app.answers.checks import Readiness, readiness
from app.answers.now import NowFound, find_now
from app.answers.planning import PLAN, PlanView
from app.answers.switching import SWITCH, SwitchView
from app.catalogue import _
from app.pages.deps import Web
from app.sites.reading import Gate, StoredSite, gate, log_of
from app.words.now import act_words
from sim.inputs import LogEntry
from sim.inputs.logbook import ADVICE


@contextmanager
def opened_gate(web: Web, site: StoredSite) -> Iterator[Gate]:
    """The gate at this moment. Once it has stored entries of today, what is advised now is noted.

    However an entry comes, typed, from a phone, by a check or in a file, it is an entry.
    """
    with gate(web.database, web.now()) as opened:
        yield opened
    if any(entry.day == web.today(site) for entry in opened.entered):
        _keep_advice(web, site)


def day_so_far(web: Web, site: StoredSite, day: date) -> tuple[SwitchView, PlanView, Readiness]:
    """When to reduce on a day and its plan, as far as they are known, and the checks."""
    with web.database.session() as session:
        desk = Desk(session, site, web.runner)
        view, plan = desk.open(SWITCH, day), with_earlier(session, desk.open(PLAN, day))
        return view, plan, readiness(desk, day)


def _keep_advice(web: Web, site: StoredSite) -> None:
    """Notes what is advised now, where that is something else than was advised last.

    The advice is kept as it was given, so that it can be held against what was done.
    """
    if not web.runner.may_begin:
        return
    today, now_s = web.clock_at(site)
    view, plan, checks = day_so_far(web, site, today)
    log = log_of(web.database, site.id, today)
    found = find_now(web.nows, view, plan, checks, log, now_s)
    entry = None if found is None else _advice_of(found, today, now_s)
    if entry is not None:
        with gate(web.database, web.now()) as opened:
            opened.enter(site.id, [entry], entry.key, today)


def _advice_of(found: NowFound, day: date, now_s: float) -> LogEntry | None:
    """What is advised as an entry; None where the last one says the same, or nothing is advised."""
    if found.answer is None:
        return None
    text = act_words(found.answer)
    if found.advised is not None and found.advised.text == text:
        return None
    key, word = secrets.token_urlsafe(18), found.answer.told.act.word
    return LogEntry(key, day, now_s, ADVICE, word=word, text=text, by=_("Clothcast"))

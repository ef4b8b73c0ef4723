"""The Logbook page: what happened on a day, entered at a press, corrected and taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from urllib.parse import quote, unquote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.answers.switching import SWITCH
from app.catalogue import _
from app.pages.advice import day_so_far
from app.pages.cautions import DEFERENCE, LOCK_OUT, Notice
from app.pages.days import plan_title, wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import Summary, summary, text_of
from app.pages.logbook.entries import (
    ENTERED,
    NOTICES,
    QUICK,
    RARER,
    EntryForm,
    EntryRead,
    Of,
    forms_of,
    switch_form,
    texts_of,
    whole_form,
)
from app.pages.logbook.files import NO_FILE, brought_words, waiting_file
from app.pages.logbook.sent import KeptHere, kept_here
from app.pages.logbook.taken import BACK, address_of, forms_in, taken
from app.pages.now import NowPart, now_part
from app.pages.security import cookie_name
from app.pages.writing import carry_out, new_request_key, request_key_of
from app.sites.reading import (
    Change,
    Gate,
    Outcome,
    StoredSite,
    log_changes_of,
    log_of,
    names_of_log,
)
from app.words.logbook import (
    REASONS,
    day_words,
    entry_at,
    entry_words,
    is_off_plan,
    kind_name,
    planned_switches,
)
from app.words.phrases import Statement, moment
from sim.errors import InputProblem
from sim.inputs import LOG, LogEntry
from sim.inputs.logbook import ADVICE, CHECK, COMMON, DEVICE, FULL, REDUCED, STOP, WIPING
from sim.units import whole_number

router = APIRouter()
ONE = timedelta(days=1)
BY_COOKIE = "clothcast_by"
BY_S = 12 * 3600
"""How long a browser keeps who noted an entry, for the next one: half a day, as a shift is."""
UNDO_S = 60.0
"""How long after an entry a press undoes it on top of the page; later it is taken back below."""
OTHERS = {CHECK: "Open, or with a reading", DEVICE: "It works again"}
"""What leads to the second form of a kind, where it is no other number or name."""
IN_VIEW, FOLDED = 6, 94
"""Entries of a day in view, and of those before how many are folded below them; what lies further
back is shown when asked for, since each has its history and its presses on the page."""
ALL = "all"
"""What an address says under `entries` that wants every entry of a day."""
LATELY = timedelta(days=60)
"""So long back names of stops and alarms are looked for, to have a button each."""


# ---- the page ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KindPart:
    """A kind of entry to be made.

    Attributes:
        forms: the quickest first. other: what leads to the second one. is_open: whether it stands
            open.
    """

    kind: str
    name: str
    forms: tuple[EntryForm, ...]
    other: str
    notices: tuple[Notice, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class EntryLine:
    """An entry of the list.

    Attributes:
        at, says: its time, and what it says in a sentence.
        told: its history, a sentence each, the newest first.
        may_change: whether people may correct it and take it back; runs: whether the belt, whose
            stop it is, can be said to run again.
        request_key: for a press that changes it.
    """

    entry: LogEntry
    at: str
    says: str
    told: tuple[str, ...]
    is_corrected: bool
    may_change: bool
    runs: bool
    request_key: str


@dataclass(frozen=True, slots=True)
class DoneLine:
    """What a press did.

    Attributes:
        says: in a sentence. also: what is odd about it; empty for nothing.
        line: the entry. undo: the change that a press takes back, for a minute; 0 for none.
        reasons: to choose from where a switch was none of the plan's; empty elsewhere.
    """

    says: str
    also: str
    line: EntryLine
    undo: int
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LogbookPage:
    """The page of a day.

    Attributes:
        day: of it; today: whether it is the day that it is at the site.
        answer: how many entries, and the last. told: what became of a file; message: why an entry
            was not stored.
        whole: a form with every field, for an entry that is corrected or was refused; None.
        whole_says: what that form is for.
        switch: the one press that says that the crew has switched. common, rarer: other kinds.
        lines, earlier: entries, the newest first. others: how many more the day has.
        before, after: the days beside it; after is None today. is_early: whether it is before
            opening, when somebody may mean the day before.
        now: what to do with the rest of today; None on other days and while it is closed.
    """

    site: StoredSite
    day: date
    is_today: bool
    is_to_come: bool
    answer: Statement
    done: DoneLine | None
    told: str
    message: str
    summary: Summary | None
    whole: EntryForm | None
    whole_says: str
    whole_notices: tuple[Notice, ...]
    switch: EntryForm
    common: tuple[KindPart, ...]
    rarer: tuple[KindPart, ...]
    rarer_open: bool
    lines: tuple[EntryLine, ...]
    earlier: tuple[EntryLine, ...]
    others: int
    before: date
    after: date | None
    is_early: bool
    notices: tuple[Notice, ...]
    kept: KeptHere
    now: NowPart | None


# ---- the routes ----------------------------------------------------------------------------------


@router.get("/{slug}/logbook")
def show_logbook(
    request: Request,
    site: SiteDep,
    web: WebDep,
    kind: str = "",
    done: str = "",
    correct: str = "",
    file: str = "",
    nothing: str = "",
    brought: str = "",
    entries: str = "",
) -> Response:
    """Today's entries; with `file` what a waiting file would bring."""
    if file:
        return waiting_file(request, web, site, file)
    count = whole_number(brought)
    told = "" if count is None else brought_words(count)
    problems = [NO_FILE] if nothing else []
    return _page(
        request, web, site, kind=kind, done=done, correct=correct, told=told, problems=problems,
        has_all=entries == ALL,
    )  # fmt: skip


@router.get("/{slug}/logbook/{day}")
def show_day(
    request: Request,
    site: SiteDep,
    web: WebDep,
    day: str,
    kind: str = "",
    done: str = "",
    correct: str = "",
    entries: str = "",
) -> Response:
    """The entries of a day."""
    return _page(
        request, web, site, wanted(day), kind=kind, done=done, correct=correct,
        has_all=entries == ALL,
    )  # fmt: skip


@router.post("/{slug}/logbook")
def store_entry(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores an entry, or a correction of one; without a kind, what a press says of a stored one.

    A form that is sent twice is stored once, by the key that its entry was drawn with.
    """
    at = web.clock_at(site)
    every = [taken(web, site, one, at) for one in forms_in(form)]
    took = next((one for one in every if one.there is None and one.entry is None), every[0])
    back = text_of(form, "back")
    again = partial(
        _page, request, web, read=took.read, corrects=took.corrects,
        back=back if back in BACK else "",
    )  # fmt: skip
    if took.message:
        return again(site, message=took.message, status=409)
    if took.there is None and took.entry is None:
        return again(site, problems=took.problems, status=422)
    held = [entry for one in every for entry in [one.entry or one.there] if entry is not None]
    fresh = [one.entry for one in every if one.entry is not None]
    address = address_of(site, held, at[0], form)
    if not fresh:
        return RedirectResponse(address, 303)

    def write(gate: Gate) -> Outcome:
        return gate.enter(site.id, fresh, request_key_of(form), at[0])

    answer = carry_out(web, site, write, again, address)
    if fresh[0].by:
        name = cookie_name(BY_COOKIE, request.headers)
        is_sealed = request.url.scheme == "https"
        answer.set_cookie(
            name, quote(fresh[0].by), BY_S, httponly=True, samesite="lax", secure=is_sealed
        )
    return answer


def who(request: Request) -> str:
    """Who noted the entry before from this browser; empty where nobody said."""
    held = unquote(request.cookies.get(cookie_name(BY_COOKIE, request.headers), ""))
    return "" if LOG.cells["by"].wrong(held, None) else held


# ---- what the page shows -------------------------------------------------------------------------


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    day: date | None = None,
    *,
    read: EntryRead | None = None,
    corrects: LogEntry | None = None,
    problems: Sequence[InputProblem] = (),
    kind: str = "",
    done: str = "",
    correct: str = "",
    message: str = "",
    told: str = "",
    back: str = "",
    stale: str = "",
    has_all: bool = False,
    status: int = 200,
) -> Response:
    """The page of a day; `read` is a form to be drawn again with what was typed, `back` the page
    that it leads back to, `has_all` whether it lists every entry, however many."""
    today, now_s = web.clock_at(site)
    day = _day_of(read, today) if day is None else day
    entries = log_of(web.database, site.id, day)
    listed = entries[::-1] if has_all else entries[: -(IN_VIEW + FOLDED) - 1 : -1]
    told_of = [*listed, *(one for one in entries if one.key == done and one not in listed)]
    changes = log_changes_of(web.database, site.id, [entry.key for entry in told_of])
    lines = {e.key: _line(site, e, changes.get(e.key, ()), today) for e in told_of}
    if corrects is None:
        may_be = (one for one in entries if one.key == correct and one.kind != ADVICE)
        corrects = next(may_be, None)
    drawn_for, names = None if day == today else day, _lately(web, site, day)
    of = Of(site.data, drawn_for, names, web.settings.clock(), who(request))
    counting = [entry for entry in entries if entry.counts]
    wiping = next((e.word for e in reversed(counting) if e.kind == WIPING), FULL)
    whole, says = _whole(of, read, corrects, problems)
    if whole and back:
        whole = replace(whole, fixed=(*whole.fixed, ("back", back)))
    kind = "" if whole else kind
    parts = {one: _part(one, of, one == kind) for one in ENTERED if one != WIPING}
    switch = replace(_part(WIPING, of, kind == WIPING), name=_("A switch, then or back"))
    shown = tuple(lines[entry.key] for entry in listed)
    page = LogbookPage(
        site=site,
        day=day,
        is_today=day == today,
        is_to_come=day > today,
        answer=day_words(counting, day == today, site.data.units, site.data.site.vehicles),
        done=_done(web, site, lines.get(done), changes.get(done, ()), today, now_s),
        told=told,
        message=message or stale,
        summary=summary(problems, site.data.units, _places(problems, whole)),
        whole=whole,
        whole_says=says,
        whole_notices=NOTICES.get(whole.kind, ()) if whole else (),
        switch=switch_form(FULL if wiping == REDUCED else REDUCED, of),
        common=tuple(parts[one] for one in COMMON if one != WIPING),
        rarer=(*(parts[one] for one in RARER), switch),
        rarer_open=kind in (*RARER, WIPING),
        lines=shown[:IN_VIEW],
        earlier=shown[IN_VIEW:],
        others=len(entries) - len(listed),
        before=day - ONE,
        after=day + ONE if day < today else None,
        is_early=day == today and now_s < 3600.0 * site.data.site.line.open_h,
        notices=(LOCK_OUT, DEFERENCE),
        kept=kept_here(request, web, site),
        now=now_part(request, web, site, entries, *day_so_far(web, site, day))
        if day == today
        else None,
    )
    return render(
        request, "logbook/logbook.html", page, current="logbook", site=site,
        when="" if day == today else plan_title(day), kind="hand notebook", status=status,
    )  # fmt: skip


def _places(problems: Sequence[InputProblem], whole: EntryForm | None) -> dict[str, str]:
    """Where the field of each problem is; nowhere for what has none."""
    ids = {} if whole is None else {row.name: f"#{row.id}" for row in whole.fields}
    ids["file"] = "#in-file"
    return {one.field: ids.get(one.field, "") for one in problems}


def _day_of(read: EntryRead | None, today: date) -> date:
    """The day that a form was drawn for."""
    try:
        return today if read is None else date.fromisoformat(read.texts["day"])
    except ValueError:
        return today


def _whole(
    of: Of, read: EntryRead | None, corrects: LogEntry | None, problems: Sequence[InputProblem]
) -> tuple[EntryForm | None, str]:
    """The form with every field, filled in, and what it is for; None where none is asked for."""
    if read is not None and read.kind:
        form = whole_form(read.kind, of, read.texts, problems, corrects)
    elif corrects is not None:
        texts = texts_of(corrects, of.data.units)
        form = whole_form(corrects.kind, of, texts, corrects=corrects)
    else:
        return None, ""
    says = "Correct: {name}" if corrects else "Enter: {name}"
    return form, _(says, name=kind_name(form.kind))


def _part(kind: str, of: Of, is_open: bool) -> KindPart:
    other = _(OTHERS.get(kind, "Another number" if kind in QUICK else "Another name"))
    forms, notices = forms_of(kind, of), NOTICES.get(kind, ())
    return KindPart(kind, kind_name(kind), forms, other, notices, is_open)


def _lately(web: Web, site: StoredSite, day: date) -> Mapping[str, tuple[str, ...]]:
    """What entries of each kind were named of late, the newest first."""
    found: dict[str, tuple[str, ...]] = {}
    for kind, name in names_of_log(web.database, site.id, day - LATELY, day):
        found[kind] = (*found.get(kind, ()), name)
    return found


def _line(site: StoredSite, entry: LogEntry, changes: Sequence[Change], today: date) -> EntryLine:
    may_change = entry.kind != ADVICE
    return EntryLine(
        entry=entry,
        at=entry_at(entry),
        says=entry_words(entry, site.data.units, site.data.site.vehicles),
        told=tuple(_told(site, change) for change in changes) or (_("It came in with a file."),),
        is_corrected=sum(1 for change in changes if _is_of_content(change)) > 1,
        may_change=may_change,
        runs=entry.kind == STOP and entry.counts and entry.lasted_s is None and entry.day == today,
        request_key=new_request_key(),
    )


def _is_of_content(change: Change) -> bool:
    """Whether a change says more than that an entry was taken back, or was so no longer."""
    if change.old is None:
        return True
    old, new = LOG.of_plain(change.old), LOG.of_plain(change.new)
    return replace(old, struck="") != replace(new, struck="")


def _told(site: StoredSite, change: Change) -> str:
    """A change of an entry in a sentence: when, by whom, from what to what."""
    filling = {"at": moment(change.at, site.data.site.timezone), "who": change.person}
    new = _as_told(site, change.new)
    if change.old is None:
        return _("{at}, {who} entered: {new}", new=new, **filling)
    if not _is_of_content(change):
        if LOG.of_plain(change.new).struck:
            return _("{at}, {who} took it back.", **filling)
        return _("{at}, {who} put it back.", **filling)
    old = _as_told(site, change.old)
    return _("{at}, {who} corrected: {new} In place of: {old}", old=old, new=new, **filling)


def _as_told(site: StoredSite, held: object) -> str:
    entry = LOG.of_plain(held)
    said = entry_words(entry, site.data.units, site.data.site.vehicles)
    return f"{entry.day} {entry_at(entry)} {said}"


def _done(
    web: Web,
    site: StoredSite,
    line: EntryLine | None,
    changes: Sequence[Change],
    today: date,
    now_s: float,
) -> DoneLine | None:
    """What the press before did; None where the address names no entry of the day."""
    if line is None or not changes:
        return None
    entry, also = line.entry, ""
    if (entry.day, entry.at_s) > (today, now_s):
        also = _("{time} is still to come at the site. Correct it if that is wrong.", time=line.at)
    lead = _("Stored:") if entry.counts else _("Taken back:")
    is_fresh = (web.now() - changes[0].at).total_seconds() <= UNDO_S
    return DoneLine(
        says=f"{lead} {line.says}",
        also=also,
        line=line,
        undo=changes[0].id if is_fresh and line.may_change else 0,
        reasons=_reasons(web, site, entry) if is_fresh else (),
    )


def _reasons(web: Web, site: StoredSite, entry: LogEntry) -> tuple[str, ...]:
    """Why a switch was made that the plan has not; empty where it has it, or says no times."""
    if entry.kind != WIPING or entry.text or not entry.counts:
        return ()
    told = web.open(site, SWITCH, entry.day).result
    if told is None:
        return ()
    line = site.data.site.line
    planned = planned_switches(told.told, 3600.0 * line.open_h, 3600.0 * line.close_h)
    if planned is None or not is_off_plan(entry, planned):
        return ()
    return tuple(_(reason) for reason in REASONS)

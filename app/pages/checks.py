"""Checks: the lists of a site, what is due of them, a press for each that was done, and the lists
themselves to be changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.answers.answer import Desk
from app.answers.checks import CheckState, Readiness, is_out_of_range, readiness
from app.books import check_problems
from app.catalogue import _
from app.pages.cautions import (
    DEFERENCE,
    ELECTRICITY,
    GUARDS,
    LADDER,
    LOCK_OUT,
    SAFETY_DEVICE,
    Notice,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import Choices, FieldView, RowForm, Summary, summary, text_of
from app.pages.logbook.entries import new_entry_key
from app.pages.writing import (
    carry_out,
    new_request_key,
    request_key_of,
    version_of,
)
from app.sites.reading import Gate, Outcome, StoredSite, entries_of
from app.words.checks import (
    CAUTIONS,
    LISTS,
    list_words,
    minds_words,
    range_words,
    readings_words,
    ready_words,
    state_words,
)
from app.words.phrases import Statement
from sim.errors import InputError, InputProblem
from sim.inputs import CHECKS, LOG, CheckItem, LogEntry
from sim.inputs import logbook as log

router = APIRouter()
OF_CHECK: dict[str, Notice] = {
    log.GUARD: GUARDS,
    log.LADDER: LADDER,
    log.LOCK_OUT: LOCK_OUT,
    log.ELECTRIC: ELECTRICITY,
}
"""The caution of a check, by its key; others have the one of the page."""


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check on the page.

    Attributes:
        how, state, range, readings: sentences; empty for nothing.
        minds: which of the list's cautions is its own, in a sentence; empty for none.
        key, request_key: of the entry that a press makes.
        fields: what may be typed with it, the reading first if it has one.
        is_open: whether these stand open, because something is wrong with them.
    """

    item: CheckItem
    stands: str
    how: str
    state: str
    range: str
    readings: str
    minds: str
    key: str
    request_key: str
    fields: tuple[FieldView, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class CheckList:
    """A list of checks: its name, how it stands, the cautions of its checks, and these."""

    when: str
    name: str
    says: str
    cautions: tuple[Notice, ...]
    lines: tuple[CheckLine, ...]


@dataclass(frozen=True, slots=True)
class ChecksPage:
    """The page.

    Attributes:
        done: what was stored, in a sentence; undo: its key, while it can be taken back here.
        is_own: whether the site keeps lists of its own.
        fields: of a check to be added or changed.
    """

    slug: str
    version: int
    answer: Statement
    done: str
    undo: str
    stale: str
    summary: Summary | None
    lists: tuple[CheckList, ...]
    is_own: bool
    request_key: str
    fields: tuple[FieldView, ...]
    is_editing: bool
    notices: tuple[Notice, ...]


# ---- routes --------------------------------------------------------------------------------------


@router.get("/{slug}/checks")
def show_checks(request: Request, site: SiteDep, web: WebDep, stored: str = "") -> Response:
    """The page; `stored` is the key of an entry that has just been made."""
    done, undo = "", ""
    held = entries_of(web.database, site.id, [stored]).get(stored) if stored else None
    if stored == "list":
        done = _("The lists are stored.")
    elif held is not None and held.kind == log.CHECK:
        undo = stored if held.counts else ""
        sentence = "Stored: {name}." if held.counts else "Taken back: {name}."
        done = _(sentence, name=held.name)
    return _page(request, web, site, done=done, undo=undo)


@router.post("/{slug}/checks")
def do_check(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores that a check was done, and how it went."""
    entry, problems = _entry(form, web, site)
    again = partial(_page, request, web, typed=form, of=text_of(form, "name"))
    if entry is None or problems:
        return again(site, problems=problems, status=422)
    today = web.today(site)
    return carry_out(
        web, site,
        lambda gate: gate.enter(site.id, [entry], request_key_of(form), today),
        again, f"/{site.slug}/checks?stored={entry.key}",
    )  # fmt: skip


@router.post("/{slug}/checks/back")
def take_back(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Takes an entry back that was made here."""
    key = text_of(form, "entry")
    held = entries_of(web.database, site.id, [key]).get(key)
    if held is None or held.kind != log.CHECK:
        return RedirectResponse(f"/{site.slug}/checks", 303)
    struck = replace(held, struck="yes")
    return carry_out(
        web, site, lambda gate: gate.enter(site.id, [struck], request_key_of(form)),
        partial(_page, request, web), f"/{site.slug}/checks?stored={key}",
    )  # fmt: skip


@router.post("/{slug}/checks/list")
def store_check(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Adds a check to a list, or changes the one of its name."""
    texts = {name: text_of(form, name).strip() for name in CHECKS.cells}
    problems: list[InputProblem] = []
    item = CHECKS.read(texts, problems, site.data.units)
    if item is not None:
        problems += [*CHECKS.problems_of(item), *check_problems(item)]
    again = partial(_page, request, web, typed=form, is_editing=True)
    if item is None or problems:
        return again(site, problems=problems, status=422)
    held = site.data.check_list
    others = [one for one in held if one.name != item.name]
    at = next((place for place, one in enumerate(held) if one.name == item.name), len(others))
    return _store(web, site, form, (*others[:at], item, *others[at:]), again)


@router.post("/{slug}/checks/remove")
def remove_check(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Takes a check off its list; what was done of it stays in the logbook."""
    name = text_of(form, "name")
    left = tuple(one for one in site.data.check_list if one.name != name)
    again = partial(_page, request, web, is_editing=True)
    if not left:
        sentence = "“{name}” is the last check. Keep one, or go back to the lists of Clothcast."
        return again(site, problems=[InputProblem("name", sentence, {"name": name})], status=422)
    return _store(web, site, form, left, again)


@router.post("/{slug}/checks/ours")
def back_to_ours(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Lets go of the site's own lists."""
    return _store(web, site, form, (), partial(_page, request, web))


def _store(
    web: Web,
    site: StoredSite,
    form: FormData,
    checks: tuple[CheckItem, ...],
    again: Callable[..., Response],
) -> Response:
    def write(gate: Gate) -> Outcome:
        return gate.set_book(site.id, "checks", checks, version_of(form), request_key_of(form))

    return carry_out(web, site, write, again, f"/{site.slug}/checks?stored=list")


# ---- what was typed ------------------------------------------------------------------------------


def _entry(
    form: FormData, web: Web, site: StoredSite
) -> tuple[LogEntry | None, tuple[InputProblem, ...]]:
    """The entry of a check that was done; None, with every problem, where it can't be."""
    name = text_of(form, "name")
    item = next((one for one in site.data.check_list if one.name == name), None)
    if item is None:
        sentence = "“{name}” is on no list any more. Look at the lists as they are now."
        return None, (InputProblem("name", sentence, {"name": name}),)
    problems: list[InputProblem] = []
    reading = _reading(text_of(form, "reading").strip(), site.data.units, problems)
    word = text_of(form, "word")
    if item.unit and reading is None and not problems and word == log.FINE:
        sentence = (
            "“{name}” has no reading. Enter what the device shows, or say that it is not fine."
        )
        problems.append(InputProblem("reading", sentence, {"name": item.name}))
    elif reading is not None and word == log.FINE and is_out_of_range(item, reading):
        sentence = (
            "A reading of {value} is not in the range by the manual. Correct it, or say that the "
            "check is not fine."
        )
        problems.append(InputProblem("reading", sentence, {"value": f"{reading:g}"}))
    today, now_s = web.clock_at(site)
    entry = LogEntry(
        text_of(form, "key"), today, now_s, log.CHECK, word=word, name=item.name,
        reading=reading, text=text_of(form, "text").strip(), by=text_of(form, "by").strip(),
    )  # fmt: skip
    return entry, tuple(problems)


def _reading(text: str, system: str, problems: list[InputProblem]) -> float | None:
    cell = LOG.cells["reading"]
    if not text:
        return None
    try:
        value: float = cell.read(text, system)
    except (ValueError, InputError):
        problems.append(cell.unread(text))
        return None
    return value


# ---- the page ------------------------------------------------------------------------------------


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    done: str = "",
    undo: str = "",
    typed: FormData | None = None,
    of: str = "",
    is_editing: bool = False,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page; `typed` is a form to be drawn again: of the check named `of`, else of the lists."""
    with web.database.session() as session:
        found = readiness(Desk(session, site, web.runner), web.today(site))
    texts = {} if typed is None else {name: text_of(typed, name) for name in typed}
    lists = tuple(
        _list(found, when, of, texts, problems, site, web) for when in log.TIMES_OF_CHECKS
    )
    form = RowForm("list", site.data.units, texts if is_editing else {},
                   problems if is_editing else ())  # fmt: skip
    of_field = {p.field: f"#in-{_anchor(of)}-{p.field}" if of else f"#in-list-{p.field}"
                for p in problems}  # fmt: skip
    page = ChecksPage(
        slug=site.slug,
        version=site.version,
        answer=ready_words(found),
        done=done,
        undo=undo,
        stale=stale,
        summary=summary(problems, site.data.units, of_field),
        lists=lists,
        is_own=bool(site.data.checks),
        request_key=new_request_key(),
        fields=_list_fields(form),
        is_editing=is_editing,
        notices=(SAFETY_DEVICE, DEFERENCE),
    )
    return render(
        request, "checks/checks.html", page, title=_("Checks"), current="logbook", site=site,
        kind="hand", status=status,
    )  # fmt: skip


def _list(
    found: Readiness,
    when: str,
    of: str,
    texts: Mapping[str, str],
    problems: Sequence[InputProblem],
    site: StoredSite,
    web: Web,
) -> CheckList:
    lines = tuple(
        _line(
            one,
            texts if one.item.name == of else {},
            problems if one.item.name == of else (),
            site.data.units,
            new_entry_key(web.settings.clock()),
        )
        for one in found.of(when)
    )
    own = dict.fromkeys(OF_CHECK[one.item.caution] for one in found.of(when) if one.item.caution)
    cautions = (LOCK_OUT, *(notice for notice in own if notice != LOCK_OUT))
    return CheckList(when, _(LISTS[when]), list_words(found, when), cautions, lines)


def _line(
    one: CheckState,
    texts: Mapping[str, str],
    problems: Sequence[InputProblem],
    system: str,
    key: str,
) -> CheckLine:
    item = one.item
    form = RowForm(_anchor(item.name), system, texts, problems)
    cells = LOG.cells
    fields = [form.field(cells[name]) for name in ("text", "by")]
    if item.unit:
        label = _("Reading, {unit}", unit=_(item.unit))
        fields.insert(0, replace(form.field(cells["reading"], label=label), unit=""))
    return CheckLine(
        item=item,
        stands=one.stands,
        how=_(item.how) if item.how else "",
        state=state_words(one),
        range=range_words(item),
        readings=readings_words(one),
        minds=minds_words(item),
        key=key,
        request_key=new_request_key(),
        fields=tuple(fields),
        is_open=bool(problems) or bool(item.unit),
    )


def _anchor(name: str) -> str:
    """The name of a check as part of an id."""
    return "".join(letter if letter.isalnum() else "-" for letter in name.lower())


def _list_fields(form: RowForm) -> tuple[FieldView, ...]:
    """The fields of a check to be added or changed."""
    lists: Choices = tuple((key, _(words)) for key, words in LISTS.items())
    cautions: Choices = tuple((key, _(words)) for key, words in CAUTIONS.items())
    cells = CHECKS.cells
    return (
        form.field(cells["name"], hint=_("A name that there is, is changed.")),
        form.field(cells["when"], choices=lists),
        form.field(cells["how"]),
        form.field(cells["caution"], choices=cautions),
        form.field(cells["unit"], hint=_("Empty for a check without a reading.")),
        form.field(cells["low"], hint=_("From the equipment’s own manual.")),
        form.field(cells["high"], hint=_("From the equipment’s own manual.")),
    )

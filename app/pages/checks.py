"""Checks: the lists of a site, what is due of them, a press for each that was done, and the lists
themselves to be changed. What is done is an entry of the logbook, whose forms these are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.answers.answer import Desk
from app.answers.checks import CheckState, Readiness, readiness
from app.books import check_problems
from app.catalogue import _, _n
from app.pages.cautions import (
    DEFERENCE,
    ELECTRICITY,
    GUARDS,
    LADDER,
    LOCK_OUT,
    SAFETY_DEVICE,
    Notice,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render, visitor_of
from app.pages.forms import Choices, FieldView, RowForm, Summary, summary, text_of
from app.pages.logbook.entries import EntryForm, Of, check_form, fine_form
from app.pages.logbook.route import who
from app.pages.logbook.sent import KeptHere, kept_here
from app.pages.writing import carry_out, new_request_key, request_key_of, version_of
from app.sites.reading import Gate, Outcome, StoredSite, entries_of
from app.words.checks import (
    CAUTIONS,
    LISTS,
    done_words,
    list_words,
    minds_words,
    range_words,
    readings_words,
    ready_words,
    state_words,
)
from app.words.phrases import Statement
from sim.errors import InputProblem
from sim.inputs import CHECKS, CheckItem
from sim.inputs import logbook as log
from sim.units import whole_number

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
        fine: one press that says that it is; None where it has a reading.
        form: of an entry that says more.
        entry: key of the entry by which it was done today, to be taken back; empty for none.
    """

    item: CheckItem
    stands: str
    how: str
    state: str
    range: str
    readings: str
    minds: str
    fine: EntryForm | None
    form: EntryForm
    entry: str


@dataclass(frozen=True, slots=True)
class CheckList:
    """A list of checks: its name, how it stands, the cautions of its checks, and these.

    Attributes:
        due: checks that are due or were not fine; done: the others. done_says: how many these are.
        rest: one press for all that are due and have no reading; None where fewer than two are.
        rest_says: when.
    """

    when: str
    name: str
    says: str
    cautions: tuple[Notice, ...]
    due: tuple[CheckLine, ...]
    done: tuple[CheckLine, ...]
    done_says: str
    rest: EntryForm | None
    rest_says: str


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
    kept: KeptHere


# ---- routes --------------------------------------------------------------------------------------


@router.get("/{slug}/checks")
def show_checks(
    request: Request, site: SiteDep, web: WebDep, done: str = "", count: str = "", stored: str = ""
) -> Response:
    """The page; `done` is the key of an entry that has just been made or taken back, the first of
    `count`."""
    says, undo = "", ""
    held = entries_of(web.database, site.id, [done]).get(done)
    several = whole_number(count) or 1
    if stored == "list":
        says = _("The lists are stored.")
    elif held is not None and held.kind == log.CHECK:
        undo = done if held.counts and several == 1 else ""
        says = done_words(held, several)
    return _page(request, web, site, done=says, undo=undo)


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


# ---- the page ------------------------------------------------------------------------------------


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    done: str = "",
    undo: str = "",
    typed: FormData | None = None,
    is_editing: bool = False,
    problems: Sequence[InputProblem] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page; `typed` is a form of the lists, to be drawn again."""
    with web.database.session() as session:
        found = readiness(Desk(session, site, web.runner), web.today(site))
    texts = {} if typed is None else {name: text_of(typed, name) for name in typed}
    of = Of(site.data, None, {}, web.settings.clock(), who(request))
    form = RowForm("list", site.data.units, texts, problems)
    of_field = {p.field: f"#in-list-{p.field}" for p in problems}
    page = ChecksPage(
        slug=site.slug,
        version=site.version,
        answer=ready_words(found),
        done=done,
        undo=undo,
        stale=stale,
        summary=summary(problems, site.data.units, of_field),
        lists=tuple(_list(found, when, of) for when in log.TIMES_OF_CHECKS),
        is_own=bool(site.data.checks),
        request_key=new_request_key(),
        fields=_list_fields(form),
        is_editing=is_editing,
        notices=(SAFETY_DEVICE, DEFERENCE),
        kept=kept_here(request, web, site),
    )
    return render(
        request, "checks/checks.html", page, title=_("Checks"),
        current="logbook" if visitor_of(request).may("today") else "checks", site=site,
        kind="hand", status=status,
    )  # fmt: skip


def _list(found: Readiness, when: str, of: Of) -> CheckList:
    among = found.of(when)
    lines = [_line(one, of, found) for one in among]
    due = tuple(line for line in lines if line.stands != "done")
    done = tuple(line for line in lines if line.stands == "done")
    own = dict.fromkeys(OF_CHECK[one.item.caution] for one in among if one.item.caution)
    cautions = (LOCK_OUT, *(notice for notice in own if notice != LOCK_OUT))
    rest = [line.item.name for line in due if line.stands == "due" and not line.item.unit]
    return CheckList(
        when=when,
        name=_(LISTS[when]),
        says=list_words(found, when),
        cautions=cautions,
        due=due,
        done=done,
        done_says=_n("1 done", "{count} done", len(done)),
        rest=fine_form(rest, of) if len(rest) > 1 else None,
        rest_says=_n(
            "Only after looking at it.", "Only after looking at each of the {count}.", len(rest)
        ),
    )


def _line(one: CheckState, of: Of, found: Readiness) -> CheckLine:
    item, last = one.item, one.last
    return CheckLine(
        item=item,
        stands=one.stands,
        how=_(item.how) if item.how else "",
        state=state_words(one),
        range=range_words(item),
        readings=readings_words(one),
        minds=minds_words(item),
        fine=None if item.unit else fine_form([item.name], of),
        form=check_form(item, _anchor(item.name), of),
        entry=last.key if last is not None and last.day == found.day else "",
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

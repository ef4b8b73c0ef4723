"""Cloth: when to change the set on the wheel, its record and the forms that keep it, the season."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.answers.cloth import CLOTH, time_of_day
from app.answers.season import SEASON, SEASON_DAYS, days_sheet, export_calendar, season_sheets
from app.answers.serial import write
from app.books import BOOKS
from app.catalogue import _, say, short_date
from app.charts.cloth import cost_curve, year_chart
from app.charts.marks import Chart
from app.pages.cautions import DEFERENCE, LADDER, LOCK_OUT, SET_CHANGE, WHEEL, Notice
from app.pages.deps import (
    FormDep,
    SiteDep,
    Web,
    WebDep,
    book_answer,
    calendar_answer,
    csv_answer,
    render,
)
from app.pages.forms import Choices, FieldView, RowForm, Summary, summary, text_of
from app.pages.waiting import REFRESH_S, StudyProgress, before
from app.pages.waiting import waiting as waiting_of
from app.pages.writing import carry_out, new_request_key, place_in, request_key_of, version_of
from app.sites.reading import Gate, Outcome, StoredSite
from app.words.cloth import answer, how_sure, launder_sure, reason_words
from app.words.phrases import Statement
from app.words.season import season_answer, season_sure
from sim.decide.cloth.answer import ClothAnswer, SeasonAnswer
from sim.errors import InputProblem
from sim.inputs import (
    EVENTS,
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    ROTATED,
    SETS,
    TAKEN_OFF,
    ClothBook,
    ClothEvent,
    SiteData,
)
from sim.units import show_clock

router = APIRouter()

# ---- the forms -----------------------------------------------------------------------------------

BOUGHT = "bought"
"""The form that enters a new set."""
ACTS = {
    PUT_ON: (
        "A set was put on",
        "Put on with wheel and belt stopped, locked out, and the start tried.",
    ),
    TAKEN_OFF: (
        "The set was taken off",
        "Why it came off tells how long sets last: only “worn out” counts as the end of its life. "
        "One that comes off to dry or be laundered comes back.",
    ),
    LAUNDERED: ("A set was laundered", ""),
    INSPECTED: (
        "A set was looked at",
        "One of the three is enough. Measure and weigh a strip only off the locked wheel.",
    ),
    HOODS_COUNTED: (
        "Damp hoods were counted",
        "Look at some twenty hoods of cars behind the wheel, wiped in full, and count the damp "
        "ones; once under a new set and once under an old one, at about the same hour of like "
        "days. It tells what wear takes of the cloth, which no other entry does.",
    ),
    BOUGHT: ("A new set", ""),
}
"""What can be entered: heading and hint of each form."""


def fields_of(act: str) -> tuple[str, ...]:
    """Fields of a form, in order; putting a set on may also say why another came off."""
    if act == BOUGHT:
        return tuple(SETS.cells)
    if act == PUT_ON:
        return "name", "day", "at_s", "reason"
    told = (name for name, cell in EVENTS.cells.items() if act in cell.only)
    return "name", "day", "at_s", *told


@dataclass(frozen=True, slots=True)
class ClothRead:
    """A form of the page.

    Attributes:
        act: which one, of `ACTS`; empty for none that there is.
        typed: the texts as they were typed, by the name of their field.
        book: the record with what was entered; as it was with problems.
    """

    act: str
    typed: Mapping[str, str]
    book: ClothBook
    problems: tuple[InputProblem, ...]


def on_wheel(book: ClothBook) -> str:
    """The set on the wheel at the end of the record; empty for none."""
    moved = [one for one in book.in_order().events if one.kind in (PUT_ON, TAKEN_OFF)]
    return moved[-1].name if moved and moved[-1].kind == PUT_ON else ""


def read_cloth_form(form: FormData, data: SiteData, today: date) -> ClothRead:
    """Reads a form; a bare number is in the small units that the site's people read."""
    act, book = text_of(form, "act"), data.cloth
    if act not in ACTS:
        sentence = "“{act}” is nothing that can be entered here. Use one of the forms."
        problem = InputProblem("act", sentence, {"act": act})
        return ClothRead("", {}, book, (problem,))
    typed = {name: text_of(form, name).strip() for name in fields_of(act)}
    problems: list[InputProblem] = []
    longer = book
    if act == BOUGHT:
        made = SETS.read(typed, problems, data.units)
        if made is not None:
            longer = ClothBook((*book.sets, made), book.events)
    else:
        longer = ClothBook(book.sets, (*book.events, *_events(act, typed, data, problems)))
    problems = problems or BOOKS["cloth"].problems(data.with_book("cloth", longer), today)
    return ClothRead(act, typed, book if problems else longer.in_order(), tuple(problems))


def _events(
    act: str, typed: Mapping[str, str], data: SiteData, problems: list[InputProblem]
) -> tuple[ClothEvent, ...]:
    """What happened; the set that came off, where there was one, before the one put on."""
    if not typed["name"]:
        problems.append(InputProblem("name", "No set was chosen. Choose one."))
    reason = typed.get("reason", "")
    told = {**typed, "kind": act, "reason": "" if act == PUT_ON else reason}
    event = EVENTS.read(told, problems, data.units)
    if event is None:
        return ()
    before = on_wheel(data.cloth)
    if act == PUT_ON and before and reason:
        return ClothEvent(event.day, event.at_s, TAKEN_OFF, before, reason), event
    return (event,)


@dataclass(frozen=True, slots=True)
class ClothForm:
    """A form: what it enters, its fields, whether it is open."""

    act: str
    heading: str
    hint: str
    button: str
    fields: tuple[FieldView, ...]
    is_open: bool


def cloth_forms(
    book: ClothBook,
    states: Mapping[str, str],
    today: date,
    now_s: float,
    system: str,
    *,
    read: ClothRead | None,
    problems: Sequence[InputProblem],
) -> tuple[ClothForm, ...]:
    """Every form; what was typed in one stays, and what is wrong is beside its field.

    Args:
        states: where each set is, by its name.
    """
    usual = on_wheel(book)
    acts = [act for act in ACTS if act == BOUGHT or book.sets]
    if not usual and TAKEN_OFF in acts:
        acts.remove(TAKEN_OFF)
    found = []
    for act in acts:
        is_typed = read is not None and read.act == act
        typed = dict(read.typed) if read is not None and is_typed else {}
        form = RowForm(act, system, typed, problems if is_typed else ())
        if act == BOUGHT:
            fields = tuple(form.field(cell) for cell in SETS.cells.values())
        else:
            names = _names(act, book, states, usual, typed.get("name", ""))
            fields = _event_fields(form, names, usual, today, now_s)
        heading, hint = ACTS[act]
        button = _("Enter the set") if act == BOUGHT else _("Store it")
        is_open = is_typed or (not book.sets and act == BOUGHT)
        hint = _(hint) if hint else ""
        found.append(ClothForm(act, _(heading), hint, button, fields, is_open))
    return tuple(found)


def _names(
    act: str, book: ClothBook, states: Mapping[str, str], usual: str, typed: str
) -> list[str]:
    """Sets that an act may be about; what was typed stays among them."""
    names = [item.name for item in book.sets]
    if act == TAKEN_OFF:
        names = [usual]
    elif act in (PUT_ON, LAUNDERED):
        names = [name for name in names if states.get(name, "new") in ("new", "off")]
    if typed and typed not in names:
        names.append(typed)
    return names


def _event_fields(
    form: RowForm, names: Sequence[str], usual: str, today: date, now_s: float
) -> tuple[FieldView, ...]:
    act = form.name
    is_looked = act in (INSPECTED, HOODS_COUNTED)
    first = usual if is_looked and usual else names[0] if names else ""
    values = {"name": first, "day": today.isoformat(), "at_s": show_clock(now_s), "reason": ROTATED}
    choices: dict[str, Choices] = {
        "name": tuple((one, one) for one in names), "reason": tuple(reason_words().items())
    }  # fmt: skip
    found = []
    for name in fields_of(act):
        label, hint = "", ""
        if act == PUT_ON and name == "reason":
            if not usual:
                continue
            label = _("Why {name} came off", name=usual)
            hint = _("It is stored as taken off at the same time.")
        found.append(
            form.field(
                EVENTS.cells[name], values.get(name, ""), label=label, hint=hint,
                choices=choices.get(name, ()),
            )
        )  # fmt: skip
    return tuple(found)


# ---- the page ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ClothPage:
    """The page.

    Attributes:
        answer: what to do, or what has become of the question.
        reasons: why nothing can be said.
        waiting: how far it is, while it is worked out; can_retry: whether a button begins that.
        found: the answer; None while there is none. sure, laundry_sure: how firm the age and the
            interval are; curve: its picture.
        forms: none on a page that asks again by itself, which must not take away what is typed.
    """

    site: StoredSite
    request_key: str
    done: str
    stale: str
    summary: Summary | None
    answer: Statement
    reasons: tuple[str, ...]
    waiting: StudyProgress | None
    can_retry: bool
    found: ClothAnswer | None
    sure: Statement | None
    laundry_sure: str
    curve: Chart | None
    notices: tuple[Notice, ...]
    forms: tuple[ClothForm, ...]


@router.get("/{slug}/cloth")
def show_cloth(request: Request, site: SiteDep, web: WebDep, stored: str = "") -> Response:
    """The page."""
    done = {"yes": _("Stored."), "struck": _("Struck out. The history keeps it.")}.get(stored, "")
    return _page(request, web, site, done=done)


@router.get("/{slug}/cloth.json")
def cloth_json(site: SiteDep, web: WebDep) -> Response:
    """The answer as `clothcast cloth --json` writes it; where there is none, 422 and why."""
    found = web.begun(site, CLOTH, web.today(site)).result
    if found is None:
        raise HTTPException(404, _("When to change cloth has not been worked out yet."))
    if found.answer is None:
        said = {"problems": [say(problem, site.data.units) for problem in found.problems]}
        return Response(json.dumps(said, ensure_ascii=False), 422, media_type="application/json")
    return Response(write(found.answer, indent=1), media_type="application/json")


@router.post("/{slug}/cloth")
def store_entry(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores what one of the forms enters."""
    today = web.today(site)
    read = read_cloth_form(form, site.data, today)
    again = partial(_page, request, web, read=read)
    if read.problems:
        return again(site, problems=read.problems, status=422)
    return _store(web, site, form, read.book, again, "yes")


@router.post("/{slug}/cloth/anew")
def try_again(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins what was not begun, has failed or was stopped."""
    web.open(site, CLOTH, web.today(site)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/cloth", 303)


@router.post("/{slug}/cloth/strike")
def strike_entry(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Strikes an entry of the record out; it stays in the history."""
    book = site.data.cloth
    which = place_in(form, len(book.events))
    if which is None:
        problem = InputProblem("entry", "There is no such entry any more.")
        return _page(request, web, site, problems=[problem], status=422)
    left = (*book.events[:which], *book.events[which + 1 :])
    again = partial(_page, request, web)
    return _store(web, site, form, ClothBook(book.sets, left), again, "struck")


def _store(
    web: Web,
    site: StoredSite,
    form: FormDep,
    book: ClothBook,
    again: Callable[..., Response],
    done: str,
) -> Response:
    today = web.today(site)

    def write(gate: Gate) -> Outcome:
        return gate.set_book(site.id, "cloth", book, version_of(form), request_key_of(form), today)

    return carry_out(web, site, write, again, f"/{site.slug}/cloth?stored={done}")


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    read: ClothRead | None = None,
    problems: Sequence[InputProblem] = (),
    done: str = "",
    stale: str = "",
    status: int = 200,
) -> Response:
    """The page; `read` is a form to be drawn again with what was typed."""
    view, system = web.shown(site, CLOTH, web.today(site)), site.data.units
    found, faults = (view.result.answer, view.result.problems) if view.result else (None, ())
    act = read.act if read else ""
    hrefs = {p.field: f"#in-{act}-{p.field}" if act else "" for p in problems}
    said = Statement(_("When to change cloth can’t be worked out yet."), "")
    if found is not None:
        said = answer(found)
    elif view.failed:
        said = Statement(view.failed, _("“Work it out” begins it."))
    over = before(site, view)
    waiting = None if view.failed or over is not None else waiting_of(view)
    forms: tuple[ClothForm, ...] = ()
    is_waiting = waiting is not None or (over is not None and over.waiting is not None)
    if not is_waiting or read is not None or problems or stale:
        places = {one.name: one.state for one in found.sets} if found else {}
        now_s = time_of_day(site, web.now(), view.day)
        forms = cloth_forms(
            site.data.cloth, places, view.day, now_s, system, read=read, problems=problems
        )
    weighed = {item.kind for item in site.data.weighings}
    page = ClothPage(
        site=site,
        request_key=new_request_key(),
        done=done,
        stale=stale,
        summary=summary(problems, system, hrefs),
        answer=said,
        reasons=tuple(say(one, system) for one in faults),
        waiting=waiting,
        can_retry=bool(view.failed),
        found=found,
        sure=how_sure(found, weighed, site.data.given) if found else None,
        laundry_sure=str(launder_sure(found.laundering, weighed, site.data.given))
        if found and found.laundering
        else "",
        curve=cost_curve(found) if found else None,
        notices=(LOCK_OUT, SET_CHANGE, LADDER, DEFERENCE),
        forms=forms,
    )
    # a page that asks again by itself must not take away what is being typed
    return render(
        request, "cloth/cloth.html", page,
        title=_("Cloth"), current="cloth", site=site, status=status,
        again=REFRESH_S if waiting is not None and not forms else 0,
        before=over if over is None or not forms else replace(over, again=0),
    )  # fmt: skip


# ---- the season ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """The page.

    Attributes:
        span: first and last day in words.
        reasons: why there is nothing to show, a sentence each.
        found: the answer; None while there is none. year: its picture.
        can_retry: a computation failed and may be tried again.
    """

    slug: str
    span: str
    answer: Statement | None
    sure: Statement | None
    reasons: tuple[str, ...]
    waiting: StudyProgress | None
    found: SeasonAnswer | None
    year: Chart | None
    today: date
    units: str
    can_retry: bool
    notices: tuple[Notice, ...]


@router.get("/{slug}/cloth/season")
def show_season(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The season from today on; what has not been computed is begun, and the page asks again."""
    view = web.shown(site, SEASON, web.today(site))
    found, system, today = view.result, site.data.units, view.day
    last = today + timedelta(days=SEASON_DAYS - 1)
    is_waiting = view.is_awaited and not view.earlier
    said, waiting = None, waiting_of(view) if is_waiting else None
    if found is not None:
        said = season_answer(found, today)
    elif view.problems:
        said = Statement(_("No season yet."), _("Nothing can be expected of its days."))
    elif view.failed:
        said = Statement(view.failed, _("“Work it out” begins it."))
    page = SeasonPage(
        slug=site.slug,
        span=_("{first} to {last}", first=short_date(today), last=short_date(last)),
        answer=said,
        sure=season_sure(found, site.data.given) if found else None,
        reasons=tuple(dict.fromkeys(say(problem, system) for problem in view.problems)),
        waiting=waiting,
        found=found,
        year=year_chart(found) if found else None,
        today=today,
        units=system,
        can_retry=view.is_wanting and bool(view.failed) and not view.earlier,
        notices=(DEFERENCE, WHEEL, SET_CHANGE),
    )
    return render(
        request, "cloth/season.html", page, title=_("The season"), current="cloth", site=site,
        again=REFRESH_S if waiting is not None else 0,
        before=before(site, view, retry=f"/{site.slug}/cloth/season"),
    )  # fmt: skip


@router.post("/{slug}/cloth/season")
def try_season_again(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Begins anew what has failed."""
    web.open(site, SEASON, web.today(site)).begin(web.runner)
    return RedirectResponse(f"/{site.slug}/cloth/season", 303)


@router.get("/{slug}/cloth/season/days.csv")
def days_csv(site: SiteDep, web: WebDep) -> Response:
    """A row an open day, unrounded."""
    sheet = days_sheet(_found(web, site), site.data.units)
    return csv_answer(sheet, f"{site.slug}-season-days.csv")


@router.get("/{slug}/cloth/season/season.xlsx")
def spreadsheet(site: SiteDep, web: WebDep) -> Response:
    """Every table as a spreadsheet."""
    sheets = season_sheets(_found(web, site), site.data.units)
    return book_answer(sheets, web.now(), f"{site.slug}-season.xlsx")


@router.post("/{slug}/cloth/season/calendar.ics")
def calendar(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """The calendar file. What it holds is kept, so that the next one can say what has changed."""
    found, today = _found(web, site), web.today(site)
    with web.database.session() as session:
        text = export_calendar(session, web.now(), site, found, today)
    return calendar_answer(text, f"{site.slug}-cloth.ics")


def _found(web: Web, site: StoredSite) -> SeasonAnswer:
    found = web.open(site, SEASON, web.today(site)).result
    if found is None or not found.options:
        raise HTTPException(404, _("The season has not been computed yet."))
    return found

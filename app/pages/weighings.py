"""Three weighings: a guided page with their forms, what is stored, and what came of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.answers.weighings import WeighingsView, open_weighings
from app.books import weather_line, weighing_problems
from app.catalogue import _, say
from app.pages.cautions import DEFERENCE, LADDER, LOCK_OUT, Notice
from app.pages.days import ask_again
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import FieldView, RowForm, Summary, summary, text_of
from app.pages.writing import (
    carry_out,
    new_request_key,
    place_in,
    read_clock,
    request_key_of,
    version_of,
)
from app.sites.reading import Gate, Outcome, StoredSite
from app.words.weighings import NAMES, answer, waiting_words
from sim.errors import InputProblem, quoted
from sim.inputs import (
    AFTERNOON,
    CARS_LOOKED_AT,
    DAMP,
    SOAKED,
    WEIGHED,
    WEIGHINGS,
    SiteData,
    Weighing,
)
from sim.inputs.rows import Word
from sim.units import UNITS, format_number

router = APIRouter()
WIPED = ("full", "reduced", "clock")
"""How cars had been wiped until then: in full, reduced, or reduced between two times."""
MOST_STRIPS = 12
LONGEST_WEIGHTS = 400
"""Characters of the weights of strips."""
MASS_UNITS = ("kg", "g", "oz", "lb")


# ---- the page ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Step:
    """One of the three weighings, how many strips of it are stored, and its form."""

    kind: str
    heading: str
    count: int
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
    cars: int
    waiting: str
    reasons: tuple[str, ...]


# ---- its forms -----------------------------------------------------------------------------------


def cells_of(kind: str) -> tuple[str, ...]:
    """Fields of the form of a weighing that are cells of its row, in order."""
    told = (name for name, cell in WEIGHED.cells.items() if kind in cell.only)
    return "weight_kg", "dry_kg", "day", *(() if kind == SOAKED else ("at_s", *told))


def fields_of(form: RowForm, data: SiteData, today: date) -> tuple[FieldView, ...]:
    """The fields of the form of a weighing."""
    kind, system = form.name, data.units
    dry_kg = data.site.wheel.strip_dry_mass_kg
    dry = format_number(UNITS["small_mass"].to_edge(dry_kg, system), 4)
    values = {"dry_kg": dry, "day": today.isoformat(), "cars": str(CARS_LOOKED_AT)}
    hints = {
        "damp_cars": "" if kind == DAMP else _("Leave it empty if nobody looked."),
        "weather": _(
            "Highest temperature and humidity, as in {example}. Empty for the weather stored.",
            example="33 °C, 70 %" if system == "si" else "91 °F, 70 %",
        ),
    }
    found = [
        form.field(
            WEIGHED.cells[name], values.get(name, ""), hint=hints.get(name, ""),
            numeric=False if name == "weight_kg" else None,
        )
        for name in cells_of(kind)
    ]  # fmt: skip
    if kind == AFTERNOON:
        ways = (
            ("full", _("all in full")),
            ("reduced", _("all reduced")),
            ("clock", _("reduced between two times")),
        )
        only = _("Only if reduced between two times.")
        found += [
            form.field(
                Word(name="wiped", label="How cars had been wiped that day"), "full", choices=ways
            ),
            form.field(Word(name="from", label="Reduced from", hint=only)),
            form.field(Word(name="to", label="Reduced until")),
        ]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class WeighingRead:
    """A form of a weighing.

    Attributes:
        kind: which weighing it is; empty for none that there is.
        typed: the texts as they were typed, by the name of their field.
        weighings: one a strip; empty with problems.
    """

    kind: str
    typed: Mapping[str, str]
    weighings: tuple[Weighing, ...]
    problems: tuple[InputProblem, ...]


def read_weighing(form: FormData, data: SiteData, today: date) -> WeighingRead:
    """Reads a form; a bare weight is in the small unit of the site's people, grams or ounces."""
    kind, system = text_of(form, "kind"), data.units
    names = (*cells_of(kind), "wiped", "from", "to")
    typed = {name: text_of(form, name).strip() for name in names}
    if kind not in WEIGHINGS:
        sentence = "“{kind}” is no weighing. Use soaked, damp or afternoon."
        return WeighingRead("", typed, (), (InputProblem("kind", sentence, {"kind": kind}),))
    problems: list[InputProblem] = []
    strips = _strips(typed["weight_kg"], system, problems)
    texts = {"at_s": "0:00", **typed, "kind": kind}
    if kind == AFTERNOON:
        texts["rule"] = _rule(typed, problems)
    if kind != SOAKED:
        texts |= _looked(kind, typed, problems)
        texts["weather"], wrong = weather_line(typed["weather"], system)
        problems += wrong
    read = (WEIGHED.read({**texts, "weight_kg": one}, problems, system) for one in strips or ["1"])
    found = tuple(item for item in list(read) if item is not None)
    if not problems:
        for item in found:
            problems += WEIGHED.problems_of(item, today)
            problems += weighing_problems(item, data.site)
    told = tuple(
        replace(p, field="wiped") if p.field == "rule" else p
        for p in {str(p): p for p in problems}.values()
    )
    return WeighingRead(kind, typed, () if told else found, told)


def _strips(text: str, system: str, problems: list[InputProblem]) -> list[str]:
    """The text of each strip, a number and what follows it."""
    strips: list[str] = []
    for word in text.replace(";", " ").split() if len(text) <= LONGEST_WEIGHTS else ():
        if any(letter.isdecimal() for letter in word):
            strips.append(word)
        elif strips and word.lower() in MASS_UNITS:
            strips[-1] += f" {word}"
        else:
            strips = []
            break
    if not 1 <= len(strips) <= MOST_STRIPS:
        sentence = (
            "Weight “{typed}” can’t be read. Enter the weight of a strip, or of up to {most} "
            "strips with a space between, as in {example}."
        )
        example = "310 295 322" if system == "si" else "10.9 10.4 11.4"
        filling = {"typed": quoted(text), "most": MOST_STRIPS, "example": example}
        problems.append(InputProblem("weight_kg", sentence, filling))
        return []
    return strips


def _looked(kind: str, typed: Mapping[str, str], problems: list[InputProblem]) -> Mapping[str, str]:
    """Cars looked at, and damp ones among them; none where nobody looked."""
    if not typed["damp_cars"] and kind != DAMP:
        return {"cars": "", "damp_cars": ""}
    for name in ("cars", "damp_cars"):
        if not typed[name] or (name == "cars" and not typed[name].strip("0")):
            problems.append(WEIGHED.cells[name].unread(typed[name]))
            break
    return {}


def _rule(typed: Mapping[str, str], problems: list[InputProblem]) -> str:
    wiped = typed["wiped"] or "full"
    if wiped not in WIPED:
        sentence = "“{typed}” is no way of wiping. Choose one of the list."
        problems.append(InputProblem("wiped", sentence, {"typed": wiped}))
        return "full"
    if wiped != "clock":
        return wiped
    count = len(problems)
    read_clock("from", typed["from"], problems)
    read_clock("to", typed["to"], problems)
    return "full" if len(problems) > count else f"clock {typed['from']}-{typed['to']}"


# ---- the routes ----------------------------------------------------------------------------------


@router.get("/{slug}/weighings")
def show_weighings(request: Request, site: SiteDep, web: WebDep, stored: str = "") -> Response:
    """The page; what is not worked out yet is begun, and the page asks again by itself."""
    done = {"yes": _("Stored."), "struck": _("Struck out. The history keeps it.")}.get(stored, "")
    return _page(request, web, site, done=done)


@router.post("/{slug}/weighings")
def store_weighing(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the strips of one weighing."""
    today = web.today(site.data.site.timezone)
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
    today = web.today(site.data.site.timezone)
    view = open_weighings(web.database, site, today, web.runner)
    data, system, held = site.data, site.data.units, view.asked.plan.held
    kinds = [item.kind for item in data.weighings]
    missing = [kind for kind in WEIGHINGS if kind not in kinds]
    typed_kind = read.kind if read else ""
    hrefs = {p.field: f"#in-{typed_kind}-{p.field}" if typed_kind else "" for p in problems}
    reasons = [say(p, system) for p in held.asked.problems] + [held.failed, view.failed]
    steps = []
    for kind in WEIGHINGS:
        is_typed = read is not None and kind == read.kind
        typed = read.typed if read is not None and is_typed else {}
        form = RowForm(kind, system, typed, problems if is_typed else ())
        is_open = is_typed or (read is None and missing[:1] == [kind])
        fields = fields_of(form, data, today)
        steps.append(Step(kind, _(NAMES[kind]), kinds.count(kind), fields, is_open))
    page = WeighingsPage(
        site=site,
        view=view,
        request_key=new_request_key(),
        answer=answer(missing, held),
        done=done,
        stale=stale,
        summary=summary(problems, system, hrefs),
        notices=(LOCK_OUT, LADDER, DEFERENCE),
        steps=tuple(steps),
        cars=CARS_LOOKED_AT,
        waiting=waiting_words(view),
        reasons=tuple(dict.fromkeys(filter(None, reasons))),
    )
    response = render(
        request, "weighings/weighings.html", page,
        title=_("Three weighings"), current="weighings", site=site, kind="hand", status=status,
    )  # fmt: skip
    # a page that asks again by itself must not take away what is being typed
    if page.waiting and not problems and not stale:
        ask_again(request, response)
    return response

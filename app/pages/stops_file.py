"""Stops and alarms from a file: how its columns are read, what it would bring, and storing that."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from functools import partial

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData, QueryParams, UploadFile

from app.catalogue import _, _n, long_date, say
from app.files.look import NOTHING_SAID
from app.files.stamps import ORDERS
from app.files.stops_file import (
    COLUMNS,
    KINDS,
    LENGTHS,
    NONE,
    SAID,
    SHAPE,
    StopsLook,
    StopsSaid,
    look_at_stops,
)
from app.files.text_table import text_table
from app.files.uploads import UploadFolder, WaitingFile
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import Choices, FieldView, field_id, text_of
from app.pages.writing import carry_out, new_request_key, request_key_of
from app.sites.reading import Gate, Outcome, StoredSite, exports_of, log_of
from app.words.belt_stops import entry_words
from app.words.numbers import whole
from sim.errors import InputError, InputProblem
from sim.inputs import LogEntry
from sim.inputs.logbook import ALARM
from sim.units import show_clock

router = APIRouter()
SHOWN_PROBLEMS = 100
EXAMPLES = 5
LABELS = {
    "kind": "What each line is",
    "date": "Column of the date",
    "order": "Month or day first",
    "time": "Column of the time",
    "cause": "Column of the cause, or of which alarm it was",
    "lasted": "Column of how long it lasted",
    "unit": "A bare number there is in",
    "vehicle": "Column of the kind of car",
}


@dataclass(frozen=True, slots=True)
class StopsFilePage:
    """What a file would bring; nothing of it is stored.

    Attributes:
        token, name: of the waiting file. said: how it is read, as it goes on into the form.
        answer: how much can be stored.
        fresh: entries that are not there yet.
        examples: lines as they were understood.
        fields: by which that can be put right.
        refused: why it was not stored.
    """

    slug: str
    units: str
    version: int
    request_key: str
    token: str
    name: str
    said: tuple[tuple[str, str], ...]
    answer: str
    fresh: int
    examples: tuple[tuple[str, str, str, str], ...]
    fields: tuple[FieldView, ...]
    look: StopsLook
    problems: tuple[InputProblem, ...]
    refused: tuple[str, ...]


def folder(web: Web) -> UploadFolder:
    """Where files of stops wait, apart from those of counts."""
    return UploadFolder(web.settings.data_dir / "pending_stops")


def take_file_form(
    web: Web, site: StoredSite, form: FormData
) -> tuple[str, list[InputProblem], str]:
    """Keeps the file of a form, or the lines pasted in its place: its token, else what is wrong;
    and what was pasted."""
    sent, pasted = form.get("file"), text_of(form, "pasted")
    raw, name = None, _("pasted text")
    if isinstance(sent, UploadFile) and sent.filename:
        raw, name = sent.file.read(), sent.filename[-80:]
    elif pasted.strip():
        raw = pasted.encode()
    if raw is None:
        sentence = "No file was chosen. Choose one, or paste the lines of a table."
        return "", [InputProblem("file", sentence)], pasted
    pending = folder(web).keep(
        raw, site.id, "stops", NOTHING_SAID, name, web.now(), web.runner.asker
    )
    return pending.token, [], pasted


def file_page(request: Request, site: StoredSite, web: Web) -> Response:
    """What a waiting file would bring, read as the address says."""
    given = request.query_params
    return _page(request, web, _waiting(web, site, given.get("file", "")), _said(given), site)


@router.post("/{slug}/stops/confirm")
def confirm(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores a waiting file, or lets it go."""
    token = text_of(form, "file")
    if "drop" in form:
        folder(web).drop(token)
        return RedirectResponse(f"/{site.slug}/stops?stored=dropped", 303)
    file, said = _waiting(web, site, token), _said(form)
    look = _look(web, site, file, said)
    fresh = _fresh(web, site, look)

    def write(gate: Gate) -> Outcome:
        if not look.entries:
            nothing = InputProblem("file", "No line of this file can be stored.")
            raise InputError([*look.problems[:SHOWN_PROBLEMS], nothing])
        outcome = gate.enter(site.id, fresh, request_key_of(form), web.today(site))
        gate.keep_export(site.id, look.shape, file.pending.name, asdict(look.said))
        return outcome

    def address(outcome: Outcome) -> str:
        folder(web).drop(token)
        return f"/{site.slug}/stops?stored={'yes' if outcome.changed else 'same'}"

    return carry_out(web, site, write, partial(_page, request, web, file, said), address)


def _waiting(web: Web, site: StoredSite, token: str) -> WaitingFile:
    found = folder(web).find(token, site.id, web.now())
    if found is None:
        raise HTTPException(
            404, _("This file waits no longer: it was stored, let go, or kept for over two hours.")
        )
    return found


def _said(given: FormData | QueryParams) -> StopsSaid | None:
    """How somebody wants a file read; None where nothing is said."""
    told = {name: str(given.get(name, ""))[:200] for name in SAID if name in given}
    if not told:
        return None
    allowed = {"kind": KINDS, "order": ORDERS, "unit": LENGTHS}
    known = {name: text for name, text in told.items() if text in allowed.get(name, (text,))}
    return replace(StopsSaid(), **known)


def _look(web: Web, site: StoredSite, file: WaitingFile, said: StopsSaid | None) -> StopsLook:
    known = {
        one.shape: StopsSaid(**one.said)
        for one in exports_of(web.database, site.id)
        if one.shape.startswith(SHAPE) and set(one.said) == set(SAID)
    }
    classes = tuple((item.key, item.label) for item in site.data.site.vehicles)
    table = text_table(file.raw, file.pending.name)
    return look_at_stops(table, said, known.get, site.data.units, web.today(site), classes)


def _fresh(web: Web, site: StoredSite, look: StopsLook) -> tuple[LogEntry, ...]:
    """Entries that are not there yet: what was corrected or taken back since stays as it is."""
    if not look.entries:
        return ()
    held = log_of(web.database, site.id, look.entries[0].day, look.entries[-1].day)
    keys = {one.key for one in held}
    return tuple(one for one in look.entries if one.key not in keys)


def _page(
    request: Request,
    web: Web,
    file: WaitingFile,
    said: StopsSaid | None,
    site: StoredSite,
    *,
    problems: tuple[InputProblem, ...] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    look, system = _look(web, site, file, said), site.data.units
    fresh = _fresh(web, site, look)
    classes = {item.key: item.label for item in site.data.site.vehicles}
    examples = tuple(
        (f"{long_date(one.day, year=True)}, {show_clock(one.at_s)}", *entry_words(one, classes))
        for one in look.entries[:EXAMPLES]
    )
    told = asdict(look.said)
    page = StopsFilePage(
        slug=site.slug,
        units=system,
        version=site.version,
        request_key=new_request_key(),
        token=file.pending.token,
        name=file.pending.name,
        said=tuple(told.items()),
        answer=_answer(look, len(fresh)),
        fresh=len(fresh),
        examples=examples,
        fields=_fields(look),
        look=look,
        problems=look.problems[:SHOWN_PROBLEMS],
        refused=(*(say(one, system) for one in problems), *([stale] if stale else [])),
    )
    return render(
        request, "stops/file.html", page, title=_("Look at a file"), current="stops", site=site,
        status=status,
    )  # fmt: skip


def _answer(look: StopsLook, fresh: int) -> str:
    if not look.entries:
        return _("Nothing in this file can be used.")
    if not fresh:
        return _("All of its lines are stored already.")
    count = whole(fresh)
    said = _n("1 stop can be stored.", "{amount} stops can be stored.", fresh, amount=count)
    if look.said.kind == ALARM:
        said = _n("1 alarm can be stored.", "{amount} alarms can be stored.", fresh, amount=count)
    there = len(look.entries) - fresh
    if there:
        more = _n(
            "1 is stored already.", "{amount} are stored already.", there, amount=whole(there)
        )
        said = f"{said} {more}"
    return said


def _fields(look: StopsLook) -> tuple[FieldView, ...]:
    """How the file is read, each part with what else it could be."""
    none = ((NONE, _("none of them")),)
    of_columns: Choices = (*none, *((name, name) for name in look.names))
    choices: dict[str, Choices] = {
        "kind": (("stop", _("a belt stop")), ("alarm", _("an alarm"))),
        "order": (("mdy", _("month first")), ("dmy", _("day first"))),
        "unit": (("minutes", _("minutes")), ("seconds", _("seconds"))),
        **dict.fromkeys(COLUMNS, of_columns),
    }
    told = asdict(look.said)
    return tuple(
        FieldView(field_id(name), name, _(label), told[name], choices=choices[name])
        for name, label in LABELS.items()
    )

"""The logbook as a file: given out, and brought in once a preview was confirmed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import UploadFile

from app.books import csv_of, entry_problems, read_rows
from app.catalogue import _, _n
from app.files.look import NOTHING_SAID
from app.files.uploads import Pending, UploadFolder
from app.pages.days import wanted
from app.pages.deps import FormDep, SiteDep, Web, WebDep, csv_file, render
from app.pages.forms import Summary, summary, text_of
from app.pages.security import UPLOAD_LIMIT_BYTES
from app.pages.writing import carry_out, new_request_key, request_key_of
from app.sites.reading import Gate, Outcome, StoredSite, entries_of, log_of, whole_log_of
from app.words.logbook import entry_at, entry_words
from sim.errors import InputProblem
from sim.inputs import LOG, LogEntry

router = APIRouter()
KIND = "log"
"""Of waiting files, by which one of the logbook is told from counts."""
EXAMPLES = 8
SHOWN_PROBLEMS = 100
NO_FILE = InputProblem("file", "No file was chosen. Choose one, or paste the lines of a table.")


@dataclass(frozen=True, slots=True)
class LogFile:
    """What a file would bring to a logbook.

    Attributes:
        entries: the good lines that are not stored just so already.
        fresh, changed, same: how many are new, take the place of a stored one, are stored so.
        problems: why lines are left out; notes: what a reader should know.
    """

    entries: tuple[LogEntry, ...]
    fresh: int
    changed: int
    same: int
    problems: tuple[InputProblem, ...]
    notes: tuple[InputProblem, ...]


@dataclass(frozen=True, slots=True)
class LogFilePage:
    """A waiting file; nothing of it is stored.

    Attributes:
        says: what it would bring, in a sentence. examples: entries of it, in words.
        summary: why it was not stored.
    """

    site: StoredSite
    pending: Pending
    request_key: str
    found: LogFile
    says: str
    examples: tuple[str, ...]
    summary: Summary | None
    problems: tuple[InputProblem, ...]
    stale: str


@router.get("/{slug}/logbook.csv")
def download_log(site: SiteDep, web: WebDep, day: str = "") -> Response:
    """The logbook as a CSV file, or a day of it."""
    if not day:
        held, name = whole_log_of(web.database, site.id), "logbook"
    else:
        when = wanted(day)
        held, name = log_of(web.database, site.id, when), f"logbook-{when}"
    return csv_file(csv_of(LOG, held), f"{site.slug}-{name}.csv")


@router.post("/{slug}/logbook/preview", max_body_size=UPLOAD_LIMIT_BYTES)
def take_log(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Keeps a file apart and shows what it would bring; stores nothing."""
    sent, pasted = form.get("file"), text_of(form, "pasted")
    raw, name = b"", _("pasted text")
    if isinstance(sent, UploadFile) and sent.filename:
        raw, name = sent.file.read(), sent.filename[-80:]
    elif pasted.strip():
        raw = pasted.encode()
    if not raw:
        return RedirectResponse(f"/{site.slug}/logbook?nothing=file#bring-in", 303)
    pending = _folder(web).keep(raw, site.id, KIND, NOTHING_SAID, name, web.now(), web.runner.asker)
    return RedirectResponse(f"/{site.slug}/logbook?file={pending.token}", 303)


@router.post("/{slug}/logbook/confirm")
def confirm_log(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stores the good lines of a waiting file, or lets it go."""
    token = text_of(form, "file")
    if "drop" in form:
        _folder(web).drop(token)
        return RedirectResponse(f"/{site.slug}/logbook", 303)
    pending, found = _found(web, site, token)
    today = web.today(site)

    def write(gate: Gate) -> Outcome:
        return gate.enter(site.id, found.entries, request_key_of(form), today)

    def address(outcome: Outcome) -> str:
        _folder(web).drop(token)
        return f"/{site.slug}/logbook?brought={len(outcome.changed)}"

    return carry_out(web, site, write, partial(_draw, request, pending, found), address)


def waiting_file(request: Request, web: Web, site: StoredSite, token: str) -> Response:
    """The page of a waiting file."""
    pending, found = _found(web, site, token)
    return _draw(request, pending, found, site)


def _folder(web: Web) -> UploadFolder:
    return UploadFolder(web.settings.data_dir / "pending")


def _found(web: Web, site: StoredSite, token: str) -> tuple[Pending, LogFile]:
    """A waiting file and what it would bring; a 404 page where it waits no longer."""
    held = _folder(web).find(token, site.id, web.now())
    if held is None or held.pending.kind != KIND:
        raise HTTPException(
            404, _("This file waits no longer: it was stored, let go, or kept for over two hours.")
        )
    entries, problems, notes = read_rows(LOG, held.raw, entry_problems)
    today = web.today(site)
    to_come = tuple(
        replace(problem, where=_("{date} {time}", date=one.day, time=entry_at(one)))
        for one in entries
        for problem in LOG.problems_of(one, today)
    )
    good = {one.key: one for one in entries if one.day <= today}
    stored = entries_of(web.database, site.id, good)
    changed = {key: one for key, one in good.items() if stored.get(key) != one}
    fresh = sum(1 for key in changed if key not in stored)
    return held.pending, LogFile(
        tuple(changed.values()), fresh, len(changed) - fresh, len(good) - len(changed),
        (*problems, *to_come), notes,
    )  # fmt: skip


def _draw(
    request: Request,
    pending: Pending,
    found: LogFile,
    site: StoredSite,
    *,
    problems: tuple[InputProblem, ...] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    system, vehicles = site.data.units, site.data.site.vehicles
    examples = tuple(
        f"{one.day} {entry_at(one)} {entry_words(one, system, vehicles)}"
        for one in found.entries[:EXAMPLES]
    )
    page = LogFilePage(
        site, pending, new_request_key(), found, brings_words(found), examples,
        summary(problems, system), found.problems[:SHOWN_PROBLEMS], stale,
    )  # fmt: skip
    return render(
        request, "logbook/file.html", page, title=_("Look at a file"), current="logbook",
        site=site, status=status,
    )  # fmt: skip


def brings_words(found: LogFile) -> str:
    """What a file would bring, in a sentence or two."""
    if not found.entries:
        return _("Nothing of it would be stored that is not stored already.")
    said = [_n("1 new entry.", "{count} new entries.", found.fresh)]
    if found.changed:
        one, many = "1 takes the place of a stored one.", "{count} take the place of stored ones."
        said.append(_n(one, many, found.changed))
    if found.same:
        said.append(_n("1 is stored already.", "{count} are stored already.", found.same))
    return " ".join(said)


def brought_words(count: int) -> str:
    """What became of a file that was confirmed."""
    return _n("1 entry of the file was stored.", "{count} entries of the file were stored.", count)

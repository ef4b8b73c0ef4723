"""What becomes of a form of the logbook: an entry to store, one that is there already, or why
neither; the same whether it is sent at once or a phone kept it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from starlette.datastructures import FormData

from app.catalogue import _
from app.pages.deps import Web
from app.pages.forms import text_of
from app.pages.logbook.entries import EntryRead, is_same, read_entry
from app.pages.writing import new_request_key
from app.sites.reading import StoredSite, entries_of, log_changes_of
from app.words.logbook import entry_words
from sim.errors import InputProblem
from sim.inputs import LOG, LogEntry
from sim.inputs.logbook import ADVICE, CHECK, OPENING, STOP
from sim.units import parse_clock, whole_number

Clock = tuple[date, float]
"""A date at a site, and what its clock shows [s after midnight]."""
BACK = ("today", "checks")
"""Pages that an entry leads back to where its form says so."""
GONE = "There is no such entry that could be changed. Look at the list as it is now."


@dataclass(frozen=True, slots=True)
class Taken:
    """What becomes of a form.

    Attributes:
        entry: to be stored; None for none.
        there: the entry that the form made before; None for none.
        problems: why it can't be stored; message: why it was not, where no field is at fault.
        read: the form, to be drawn again; corrects: the entry that it corrects. None of a press.
    """

    entry: LogEntry | None = None
    there: LogEntry | None = None
    problems: tuple[InputProblem, ...] = ()
    message: str = ""
    read: EntryRead | None = None
    corrects: LogEntry | None = None


def forms_in(form: FormData) -> tuple[FormData, ...]:
    """The forms that one stands for: a form that says of several checks that they are fine is one a
    check, each with a key of its own, the same each time that it comes."""
    names = form.getlist("name")
    if text_of(form, "kind") != CHECK or len(names) < 2:
        return (form,)
    key = text_of(form, "key").strip() or new_request_key()
    shared = [(name, value) for name, value in form.multi_items() if name not in ("name", "key")]
    return tuple(
        FormData([*shared, ("name", name), ("key", f"{key}-{number}")])
        for number, name in enumerate(names)
    )


def taken(web: Web, site: StoredSite, form: FormData, at: Clock) -> Taken:
    """What becomes of a form that was sent, or pressed on a phone, at a time.

    A form that is sent twice is stored once, by the key that its entry was drawn with.
    """
    key = text_of(form, "key").strip()
    held = entries_of(web.database, site.id, [key]).get(key)
    if held is not None and held.kind != ADVICE and "undo" in form:
        return _undone(web, site, form, held)
    if "kind" not in form:
        return _pressed(form, held, at)
    today, now_s = at
    read = read_entry(form, site.data, today, now_s, held)
    corrects = held if read.is_correction else None
    if held is not None and held.kind == ADVICE:
        sentence = "An advice stays as it was given. Enter what happened as an entry of its own."
        return Taken(problems=(InputProblem("kind", sentence),), read=read, corrects=corrects)
    if read.entry is None:
        return Taken(problems=read.problems, read=read, corrects=corrects)
    if held is None or read.is_correction:
        return Taken(read.entry, read=read, corrects=corrects)
    if _was_so(web, site, read.entry, held, read.is_now):
        return Taken(there=held, read=read)
    words = _(
        "This form was stored before, as “{says}” Nothing was stored now. Store it if it is "
        "another entry; to correct the first one, open it in the list.",
        says=entry_words(held, site.data.units, site.data.site.vehicles),
    )
    return Taken(message=words, read=replace(read, texts={**read.texts, "key": ""}))


def _pressed(form: FormData, held: LogEntry | None, at: Clock) -> Taken:
    """What one press says of a stored entry: taken back or not, the belt runs again, or why."""
    today, now_s = at
    if held is None or held.kind == ADVICE:
        return Taken(problems=(InputProblem("key", GONE),))
    if "struck" in form:
        return Taken(replace(held, struck="yes" if text_of(form, "struck") else ""))
    if "reason" in form:
        return Taken(replace(held, text=text_of(form, "reason").strip()))
    if "ended" in form and held.kind == STOP:
        lasted_s = _ended_s(text_of(form, "ended"), now_s) - held.at_s
        if held.day != today or lasted_s < 0.0:
            sentence = (
                "How long the belt stood can’t be told from now. Correct the entry, with minutes."
            )
            return Taken(problems=(InputProblem("key", sentence),))
        return Taken(replace(held, lasted_s=lasted_s))
    return Taken(held)


def _undone(web: Web, site: StoredSite, form: FormData, held: LogEntry) -> Taken:
    """An entry as it was before a change that a form names; taken back if it was none then. Pressed
    twice it is done once, and what somebody changed since stays."""
    changes = log_changes_of(web.database, site.id, [held.key]).get(held.key, ())
    named = whole_number(text_of(form, "undo"))
    undone = next((change for change in changes if change.id == named), None)
    if undone is None:
        return Taken(problems=(InputProblem("key", GONE),))
    before = replace(held, struck="yes") if undone.old is None else LOG.of_plain(undone.old)
    if before == held:
        return Taken(there=held)
    if undone is not changes[0]:
        return Taken(problems=(InputProblem("key", GONE),))
    return Taken(before)


def _ended_s(text: str, now_s: float) -> float:
    """When a press says that the belt ran again: the clock of the phone, else now."""
    try:
        return parse_clock(text)
    except ValueError:
        return now_s


def _was_so(web: Web, site: StoredSite, entry: LogEntry, held: LogEntry, is_now: bool) -> bool:
    """Whether an entry is stored, or was before somebody changed it: a form comes twice where a
    phone did not hear that it had arrived."""
    if is_same(entry, held, is_now):
        return True
    changes = log_changes_of(web.database, site.id, [entry.key]).get(entry.key, ())
    olds = [LOG.of_plain(change.new) for change in changes]
    return any(is_same(entry, old, is_now) for old in olds)


def address_of(site: StoredSite, entries: Sequence[LogEntry], today: date, form: FormData) -> str:
    """Where the entries of a form lead to: their day, or the page that they were made on."""
    back, first = text_of(form, "back"), entries[0]
    if back == "checks":
        return f"/{site.slug}/checks?done={first.key}&count={len(entries)}#{OPENING}"
    if back in BACK:
        return f"/{site.slug}/{back}"
    day = "" if first.day == today else f"/{first.day}"
    return f"/{site.slug}/logbook{day}?done={first.key}"

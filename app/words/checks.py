"""How checks and devices are told: ready or what is open, when a check is due, how it went."""

from __future__ import annotations

from app.answers.checks import (
    CheckState,
    Readiness,
    due_before_opening,
    is_out_of_range,
    moves_one_way,
)
from app.catalogue import _, _n, long_date
from app.words.logbook import device_name
from app.words.phrases import Statement, joined
from sim.inputs import CheckItem, LogEntry
from sim.inputs.logbook import (
    DEVICE,
    ELECTRIC,
    GUARD,
    LADDER,
    LOCK_OUT,
    MONTHLY,
    OPENING,
    WEEKLY,
)
from sim.units import format_number

LISTS = {OPENING: "Before opening", WEEKLY: "Every week", MONTHLY: "Every month"}
CAUTIONS = {
    "": "the usual one",
    GUARD: "guards and emergency stops",
    LADDER: "a ladder",
    LOCK_OUT: "wheel and belt",
    ELECTRIC: "electricity",
}
"""What the cautions of checks are called, to choose from."""
SHOWN = 3
"""Names that stand in a sentence; more are counted."""


def ready_words(found: Readiness) -> Statement:
    """Ready, or what is open: the answer of the page, and what Today says of it."""
    if found.must_stop:
        return Statement(
            _("Stop the line."),
            _(
                "Failed: {names}. Lock out and call licensed service.",
                names=joined([_failed(one) for one in found.failed]),
            ),
        )
    due = due_before_opening(found)
    bad = [one.item.name for one in due if one.stands == "open"]
    to_do = [one for one in due if one.stands == "due"]
    parts = [
        _("Not fine: {names}.", names=_names(bad)) if bad else "",
        _n(
            "1 check is due before opening.",
            "{count} checks are due before opening.",
            len(to_do),
        )
        if to_do
        else "",
        _("Down: {names}.", names=joined([device_name(one.name) for one in found.down]))
        if found.down
        else "",
    ]
    said = [part for part in parts if part]
    if said:
        return Statement(said[0], " ".join(said[1:]))
    return Statement(_("Ready."), _later(found))


def _later(found: Readiness) -> str:
    """What is due of the lists that no morning waits for."""
    late = [one for one in found.checks if one.stands == "due"]
    if not late:
        return _("Nothing is due.")
    return _n(
        "1 weekly or monthly check is due.",
        "{count} weekly and monthly checks are due.",
        len(late),
    )


def list_words(found: Readiness, when: str) -> str:
    """How a list stands, in a line."""
    among = found.of(when)
    if not among:
        return _("No check.")
    bad, due = found.count("open", when), found.count("due", when)
    if bad:
        return _n("1 is not fine.", "{count} are not fine.", bad)
    if due:
        return _("{due} of {count} due.", due=due, count=len(among))
    first = min(one.due for one in among)
    return _("All done; due again on {day}.", day=long_date(first))


def state_words(one: CheckState) -> str:
    """When a check was done last, how it went, and when it is due."""
    if one.last is None:
        return _("Not done in 100 days.")
    when, who = long_date(one.last.day), one.last.by
    sentence = "Done on {day}." if not who else "Done on {day} by {who}."
    if one.stands == "open":
        sentence = "Not fine on {day}." if not who else "Not fine on {day}, noted by {who}."
    said = _(sentence, day=when, who=who)
    note = _("“{text}”", text=one.last.text) if one.last.text else ""
    again = "" if one.stands == "open" else _("Due on {day}.", day=long_date(one.due))
    return " ".join(filter(None, (said, note, again)))


def done_words(entry: LogEntry, count: int) -> str:
    """What a press has stored or taken back: a check, or so many at once."""
    if count > 1:
        return _("Stored: {count} checks, fine.", count=count)
    sentence = "Stored: {name}." if entry.counts else "Taken back: {name}."
    return _(sentence, name=entry.name)


def minds_words(item: CheckItem) -> str:
    """Which caution a check has."""
    return _("Caution: {what}.", what=_(CAUTIONS[item.caution])) if item.caution else ""


def range_words(item: CheckItem) -> str:
    """The range of a reading by the manual; that it is missing where nobody entered it."""
    if not item.unit:
        return ""
    if item.low is None and item.high is None:
        return _(
            "The range of the reading is missing: enter it below from the equipment’s own manual."
        )
    low, high = (None if end is None else format_number(end) for end in (item.low, item.high))
    if low is None:
        return _("By the manual at most {high} {unit}.", high=high, unit=_(item.unit))
    if high is None:
        return _("By the manual at least {low} {unit}.", low=low, unit=_(item.unit))
    return _("By the manual {low} to {high} {unit}.", low=low, high=high, unit=_(item.unit))


def readings_words(one: CheckState) -> str:
    """The last readings of a check, and where they go."""
    if not one.readings:
        return ""
    values = [format_number(entry.reading or 0.0) for entry in one.readings]
    told = _("Last readings: {values} {unit}.", values=", ".join(values), unit=_(one.item.unit))
    way = {
        "up": _("Each was higher than the one before: have it looked at."),
        "down": _("Each was lower than the one before: have it looked at."),
        "": "",
    }[moves_one_way(one.readings)]
    newest = one.readings[-1].reading or 0.0
    out = _("The last one is outside the range.") if is_out_of_range(one.item, newest) else ""
    return " ".join(filter(None, (told, out, way)))


def _names(names: list[str]) -> str:
    if len(names) <= SHOWN:
        return joined(names)
    return _("{names} and {count} more", names=", ".join(names[:SHOWN]), count=len(names) - SHOWN)


def _failed(entry: LogEntry) -> str:
    return device_name(entry.name) if entry.kind == DEVICE else entry.name

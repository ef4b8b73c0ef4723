"""Words of what a log says of inputs that plans count on: beside them, and to be taken over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import _, _n
from sim.inputs import GROUP_OF, INPUTS, Entry
from sim.inputs.logbook import TIMED, WAIT
from sim.learn.answer import LogFinding
from sim.units import NBSP, format_number

Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Offer:
    """What is told together.

    Attributes:
        what: the inputs. rows: an input, what plans stand on, the guess, by the log, by how much.
        group: of the inputs; values: names and what may be entered for them, none if not offered.
    """

    what: str
    rows: Rows
    group: str
    values: tuple[tuple[str, str], ...]


def offers(findings: Sequence[LogFinding], system: str) -> tuple[Offer, ...]:
    """What a log says of inputs, those together that are taken over together."""
    return tuple(_offer(one, system) for one in findings)


def _offer(found: LogFinding, system: str) -> Offer:
    rows, values = [], []
    for one in found.inputs:
        entry = INPUTS[one.name]
        rows.append((
            _(entry.label), _with_unit(entry, one.now, system),
            range_words(entry, one.before, system), range_words(entry, one.after, system),
            _told_by(found),
        ))  # fmt: skip
        if found.is_offered:
            values.append((one.name, entry.with_unit(rounded(entry, one.after[1]), system)))
    what = "; ".join(row[0] for row in rows)
    return Offer(what, tuple(rows), GROUP_OF[found.inputs[0].name], tuple(values))


def _told_by(found: LogFinding) -> str:
    """Entries, and the counted days on which one would have been noted, where that matters."""
    if found.kind == TIMED:
        return _n("1 car", "{count} cars", found.entries)
    if found.kind == WAIT:
        waits = _n("1 wait", "{count} waits", found.entries)
        return _("{waits}, {days}", waits=waits, days=_n("1 day", "{count} days", found.days))
    said = _n("1 stop", "{count} stops", found.entries)
    if not found.days:
        return said
    return _("{stops}, {days}", stops=said, days=_n("1 day", "{count} days", found.days))


def rounded(entry: Entry, value: float) -> float:
    """A value to two digits that count, within what may be entered."""
    return min(max(float(f"{value:.2g}"), entry.low), entry.high)


def range_words(entry: Entry, values: tuple[float, float, float], system: str) -> str:
    """A middle value and where nine in ten lie, with the unit."""
    low, middle, high = (format_number(entry.unit.to_edge(one, system), 2) for one in values)
    return _unit(entry, _("{middle} ({low}–{high})", middle=middle, low=low, high=high), system)


def _with_unit(entry: Entry, value: float, system: str) -> str:
    return _unit(entry, format_number(entry.unit.to_edge(value, system), 2), system)


def _unit(entry: Entry, said: str, system: str) -> str:
    symbol = _(entry.unit.symbol(system))
    return f"{said}{NBSP}{symbol}" if symbol else said


def told_line(findings: Sequence[LogFinding]) -> str:
    """Whether plans count on about what was noted, in a line; empty where nothing was."""
    if not findings:
        return ""
    if any(one.is_offered for one in findings):
        return _("The log says otherwise than plans count on.")
    if all(one.is_near for one in findings):
        return _("Plans count on what the log says, as far as it does.")
    return _("The log says too little yet to change what plans count on.")

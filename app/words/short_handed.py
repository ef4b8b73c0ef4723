"""What is said where somebody can't come: what is missing, and what that does to the day."""

from __future__ import annotations

from app.answers.short_handed import ANYBODY, DRYER, LOADER, Missing, ShortHanded
from app.catalogue import _
from app.words.moved import moved_words, quickly
from app.words.phrases import Statement
from sim.units import show_clock

JOBS = {LOADER: "A loader", DRYER: "Somebody who dries cars", ANYBODY: "Anybody else"}
"""What the jobs are called of which one may be missing."""
NAMES = {
    LOADER: "One loader fewer, {start} to {end}",
    DRYER: "One fewer who dries cars, {start} to {end}",
    ANYBODY: "One person fewer, {start} to {end}",
}
MARGIN = (
    "the day earns {amount} more, with one wage less",
    "the day earns {amount} less, with one wage less",
)


def name_of(missing: Missing) -> str:
    """What is missing, which names the scenario too."""
    times = {"start": show_clock(missing.from_s), "end": show_clock(missing.until_s)}
    return _(NAMES[missing.job], **times)


def effect(one: ShortHanded, system: str) -> Statement:
    """What is missing, and what it does: only what moves by enough to matter."""
    lead = _("{what}.", what=name_of(one.missing))
    if one.found is None:
        return Statement(lead, "")
    said = moved_words(one.found, system, MARGIN)
    return Statement(lead, " ".join(filter(None, (said, _stands_in(one)))), quickly(one.found))


def _stands_in(one: ShortHanded) -> str:
    if not one.stands_in:
        return ""
    if one.missing.job == LOADER:
        return _("While one loader is planned, somebody else has to load.")
    return _("Where nobody is planned for it, nobody is missing.")

"""What is said where a device is down: what each way does to the day."""

from __future__ import annotations

from app.answers.down import REPAIR, RUN_ON, WayOut
from app.catalogue import _
from app.words.logbook import device_name
from app.words.moved import moved_words, quickly
from app.words.phrases import Statement
from sim.units import show_clock

WAYS = {REPAIR: "Repair now", RUN_ON: "Run on until closing, repair tonight"}


def scenario_name(way: str, device: str, from_s: float = 0.0, takes_s: float = 0.0) -> str:
    """What the day is called in the plan."""
    if way == REPAIR:
        end = show_clock(from_s + takes_s)
        return _("Belt stands {start} to {end}", start=show_clock(from_s), end=end)
    return _("Without the {device}", device=device_name(device))


def way_words(one: WayOut, system: str) -> Statement:
    """A way and what it does to the day; only what moves by enough to matter."""
    lead = _("{way}.", way=_(WAYS[one.way]))
    if one.found is None:
        return Statement(lead, "")
    return Statement(lead, moved_words(one.found, system), quickly(one.found))

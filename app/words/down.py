"""What is said where a device is down: what each way does to the day."""

from __future__ import annotations

from app.answers.down import REPAIR, RUN_ON, WayOut
from app.catalogue import _
from app.words.logbook import device_name
from app.words.moved import margin_moved, moved_words, quickly
from app.words.numbers import dollars
from app.words.phrases import Statement
from sim.units import show_clock

WAYS = {REPAIR: "Repair now", RUN_ON: "Run on until closing, repair tonight"}


def scenario_name(way: str, device: str, from_s: float = 0.0, takes_s: float = 0.0) -> str:
    """What the day is called in the plan."""
    if way == REPAIR:
        end = show_clock(from_s + takes_s)
        return _("Belt stands {start} to {end}", start=show_clock(from_s), end=end)
    return _("Without the {device}", device=device_name(device))


def way_words(one: WayOut, system: str, repair: float | None) -> Statement:
    """A way and what it does to the day, only what moves by enough to matter; and what it comes to
    with the repair.

    Args:
        repair: what the repair costs then [money]; None where nobody said.
    """
    lead = _("{way}.", way=_(WAYS[one.way]))
    if one.found is None:
        return Statement(lead, "")
    rest = moved_words(one.found, system)
    costs = cost_of(one, system, repair)
    if repair is not None and costs is not None:
        sentence = "With the repair at {repair} it costs {amount} beside the day as planned."
        if costs < 0.0:
            sentence = "With the repair at {repair} it saves {amount} beside the day as planned."
        rest += " " + _(sentence, repair=dollars(repair), amount=dollars(abs(costs)))
    return Statement(lead, rest, quickly(one.found))


def cost_of(one: WayOut, system: str, repair: float | None) -> float | None:
    """What a way costs beside the day as planned, its repair with it: a sum of what is printed
    [money]; None where something of it is not known."""
    if one.found is None or repair is None:
        return None
    return repair - margin_moved(one.found, system)


def cheaper_words(now: float, on: float) -> str:
    """Which of the two costs less, by what stands there of them."""
    if now == on:
        return _("By these numbers both cost the same.")
    amount = dollars(abs(now - on))
    if now < on:
        return _(
            "By these numbers a repair now costs {amount} less than running on.", amount=amount
        )
    return _("By these numbers running on costs {amount} less than a repair now.", amount=amount)

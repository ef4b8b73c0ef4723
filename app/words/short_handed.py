"""What is said where somebody can't come: what is missing, and what that does to the day."""

from __future__ import annotations

from app.answers.short_handed import ANYBODY, DRYER, LOADER, Missing, ShortHanded
from app.catalogue import _, _n
from app.words.figures import printed_step
from app.words.numbers import dollars, shown, stepped
from app.words.phrases import Statement
from sim.day.figures import FIGURES
from sim.decide.answer import PairedDifference
from sim.units import show_clock

JOBS = {LOADER: "A loader", DRYER: "Somebody who dries cars", ANYBODY: "Anybody else"}
"""What the jobs are called of which one may be missing."""
NAMES = {
    LOADER: "One loader fewer, {start} to {end}",
    DRYER: "One fewer who dries cars, {start} to {end}",
    ANYBODY: "One person fewer, {start} to {end}",
}
MOVES = {
    "cars_lost": ("{amount} more cars are lost", "{amount} fewer cars are lost"),
    "wait_p90_s": (
        "9 of 10 cars wait up to {amount} minutes longer",
        "9 of 10 cars wait up to {amount} minutes less",
    ),
    "left_damp_share": (
        "{amount} more cars in 100 leave damp",
        "{amount} fewer cars in 100 leave damp",
    ),
    "margin": (
        "the day earns {amount} more, with one wage less",
        "the day earns {amount} less, with one wage less",
    ),
}
"""What moves: by more, and by less."""


def name_of(missing: Missing) -> str:
    """What is missing, which names the scenario too."""
    times = {"start": show_clock(missing.from_s), "end": show_clock(missing.until_s)}
    return _(NAMES[missing.job], **times)


def effect(one: ShortHanded, system: str) -> Statement:
    """What is missing, and what it does: only what moves by enough to matter."""
    lead = _("{what}.", what=name_of(one.missing))
    if one.found is None:
        return Statement(lead, "")
    apart = one.found.columns[1].apart
    moved = [
        _moves(name, apart(name), system)
        for name in MOVES
        if apart(name).matters and apart(name).value is not None
    ]
    said = "; ".join(moved)
    rest = f"{said[:1].upper()}{said[1:]}." if said else _("Hardly anything changes.")
    made = _n(
        "A quick answer from 1 day; nothing is stored.",
        "A quick answer from {count} days; nothing is stored.",
        one.found.days,
    )
    return Statement(lead, " ".join(filter(None, (rest, _stands_in(one)))), made)


def _moves(name: str, apart: PairedDifference, system: str) -> str:
    value, unit = apart.value or 0.0, FIGURES[name].unit
    size = abs(shown(value, unit, system, difference=True))
    step = printed_step(apart, unit, system, size)
    amount = dollars(size, step) if unit == "money" else stepped(size, step)
    more, less = MOVES[name]
    return _(more if value > 0.0 else less, amount=amount)


def _stands_in(one: ShortHanded) -> str:
    if not one.stands_in:
        return ""
    if one.missing.job == LOADER:
        return _("While one loader is planned, somebody else has to load.")
    return _("Where nobody is planned for it, nobody is missing.")

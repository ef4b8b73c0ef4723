"""Wiping rules in words: as orders to the crew, in clock times, counts and weights and without any
percentage; and what they were chosen by."""

from __future__ import annotations

from typing import NamedTuple

from app.catalogue import _
from app.words.numbers import amount, percent, plain_number
from app.words.phrases import either, joined
from sim.decide.switching.answer import (
    Band,
    Classes,
    Clock,
    CrewClock,
    CrewStrip,
    CrewTerms,
    Cue,
    Rule,
    Term,
    Watched,
    Wish,
)
from sim.units import NBSP, format_number, show_clock

Windows = tuple[tuple[float, float], ...]
"""From when until when to reduce [s after midnight]."""


def act_words(rule: Rule, terms: CrewTerms, system: str) -> str:
    """A rule as an order."""
    return _("{order}.", order=order_of(rule, terms, system))


def order_of(rule: Rule, terms: CrewTerms, system: str) -> str:
    """The order without its full stop, to be quoted within a sentence."""
    if rule.everyone:
        return _("Reduce all day")
    if not rule.either:
        return _("Wipe in full all day")
    windows = windows_of(rule)
    if windows:
        orders = [_window(window, terms, bool(at)) for at, window in enumerate(windows)]
        return ". ".join(orders)
    rows = [joined([_term(term, terms, system) for term in row]) for row in rule.either]
    return _("Reduce {when}", when=either(rows))


def windows_of(rule: Rule) -> Windows:
    """The windows of a rule that goes by the clock alone; empty for any other."""
    terms = [term for row in rule.either for term in row]
    if len(terms) == 1 and isinstance(terms[0], Clock | CrewClock):
        return terms[0].windows
    return ()


def cue_of(rule: Rule) -> Cue | None:
    """The first cue of a rule, which the crew carries out; None where it has none."""
    terms = (term for row in rule.either for term in row)
    return next((t for t in terms if isinstance(t, Cue)), None)


# ---- by the clock --------------------------------------------------------------------------------


def turns(windows: Windows, terms: CrewTerms) -> list[tuple[str, str]]:
    """Clock times at which windows begin and end to reduce."""
    late = _("not before closing")
    return [
        (_start(start, terms), late if _to_closing(end, terms) else show_clock(end))
        for start, end in windows
    ]


def _start(start_s: float, terms: CrewTerms) -> str:
    return _("opening") if _from_opening(start_s, terms) else show_clock(start_s)


def _from_opening(start_s: float, terms: CrewTerms) -> bool:
    return start_s <= 3600.0 * terms.open_h


def _to_closing(end_s: float, terms: CrewTerms) -> bool:
    return end_s >= 3600.0 * terms.close_h


def _window(window: tuple[float, float], terms: CrewTerms, is_again: bool) -> str:
    start, end = map(show_clock, window)
    is_early, is_late = _from_opening(window[0], terms), _to_closing(window[1], terms)
    if is_again and is_late:
        return _("Reduce again at {start} until closing", start=start)
    if is_again:
        return _("Reduce again at {start}, go back at {end}", start=start, end=end)
    if is_early and is_late:
        return _("Reduce all day")
    if is_early:
        return _("Reduce from opening, go back at {end}", end=end)
    if is_late:
        return _("Reduce at {start} until closing", start=start)
    return _("Reduce at {start}, go back at {end}", start=start, end=end)


def _within(window: tuple[float, float], terms: CrewTerms) -> str:
    start, end = window
    last = _("closing") if _to_closing(end, terms) else show_clock(end)
    return _("from {first} to {last}", first=_start(start, terms), last=last)


def _term(term: Term, terms: CrewTerms, system: str) -> str:
    if isinstance(term, Clock | CrewClock):
        return joined([_within(window, terms) for window in term.windows])
    if isinstance(term, Band | Watched):
        up, down = readings(term, terms, system)
        return _(READ[term.kind].order, up=up, down=down)
    if isinstance(term, Classes):
        names = [_(terms.classes.get(key, key)).lower() for key in term.keys]
        return _("for {classes} only", classes=joined(names))
    return _("every car but those sold the full wipe")


# ---- by what the crew counts and weighs ----------------------------------------------------------


def weight_words(saturation: float, terms: CrewTerms, system: str) -> str:
    """What one strip weighs at a saturation, water and dry cloth together."""
    return amount(terms.dry_kg * (1.0 + terms.holding_kg_kg * saturation), "small_mass", system, 2)


class Read(NamedTuple):
    """How the limits of a reading are said: as an order, the upper one, and the lower one."""

    order: str
    up: str
    down: str


READ = {
    "band": Read("when a strip weighs {up}, until it is down to {down}", "{reading}", "{reading}"),
    "crew_cars": Read(
        "when {up} cars were washed in the last hour, until {down} were",
        "{reading} or more",
        "{reading} or fewer",
    ),
    "crew_hoods": Read(
        "when {up} of the last twenty hoods are damp, until {down} are",
        "{reading} or more",
        "{reading} or fewer",
    ),
    "crew_strip": Read(
        "when a strip weighs {up}, until it weighs {down}",
        "{reading} or more",
        "{reading} or less",
    ),
}


def readings(cue: Band | Watched, terms: CrewTerms, system: str) -> tuple[str, str]:
    """The reading at which to reduce, and the one at which to go back."""

    def shown(at: float) -> str:
        if isinstance(cue, Band):
            return weight_words(at, terms, system)
        return _scale(at, system) if isinstance(cue, CrewStrip) else format_number(at)

    said = READ[cue.kind]
    return _(said.up, reading=shown(cue.upper)), _(said.down, reading=shown(cue.lower))


def _scale(weight_kg: float, system: str) -> str:
    """A strip's weight as a scale shows it; grams beside ounces, since scales have them too."""
    said = amount(weight_kg, "small_mass", system)
    return said if system == "si" else f"{said} ({format_number(1000 * weight_kg)}{NBSP}g)"


# ---- what they were chosen by --------------------------------------------------------------------


def wish_words(wish: Wish) -> str:
    """What a rule was chosen by, such as "at most 5 % of cars leaving damp on average"."""
    if wish.kind == "cost":
        return _("the least cost of the day")
    allowed = amount(wish.allowed_damp_share, "share", "si")
    if wish.kind == "days":
        return _("at most {percent} of cars leaving damp on 9 days of 10", percent=allowed)
    return _("at most {percent} of cars leaving damp on average", percent=allowed)


def damp_percent(share: float, wish: Wish) -> str:
    """A share of damp cars in whole percent, with a decimal where only that shows on which side
    of the allowed share it is."""
    allowed = wish.allowed_damp_share
    if share != allowed and round(100 * share) == round(100 * allowed):
        return f"{plain_number(100 * share, 1)}{NBSP}%"
    return percent(share)

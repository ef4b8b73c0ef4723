"""How stops and alarms are worded: rates in four ways, what those of a day cost, the recorder."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from urllib.parse import urlsplit

from app.catalogue import _, _n
from app.words.figures import FigureCell, cells_of
from app.words.numbers import NOTHING, about, minutes, plain_number, whole
from app.words.phrases import Statement
from sim.day.figures import FIGURES
from sim.decide.stops.answer import CauseOfDay, CauseRates, Rate, StopCosts, StopRates
from sim.inputs import LogEntry
from sim.units import NBSP, show_clock

Rows = tuple[tuple[str, ...], ...]
FINEST_DECIMALS = 5
TOLD = ("cars_lost", "wait_p90_s", "overtime_minutes", "left_damp", "margin")
"""Figures of a day that are told with and without its stops."""


def rate_words(rate: Rate) -> str:
    """A rate with its exact limits, to two digits that count: ``1.9 (1.6–2.2)``."""
    if rate.value is None:
        return _("at least {low}", low=_two(rate.low))
    if rate.high is None:
        return _("{value} (at least {low})", value=_two(rate.value), low=_two(rate.low))
    return f"{_two(rate.value)} ({_two(rate.low)}–{_two(rate.high)})"


def one_in_words(rate: Rate) -> str:
    """One in so many cars, with its limits."""
    low = about(rate.low)
    if rate.value is None:
        return _("none; at most 1 in {low}", low=low)
    if rate.high is None:
        return _("1 in {value} (at most 1 in {low})", value=about(rate.value), low=low)
    return _("1 in {value} ({low}–{high})", value=about(rate.value), low=low, high=about(rate.high))


def _two(value: float) -> str:
    """A number to two digits that count."""
    if value == 0.0:
        return "0"
    decimals = 1 - math.floor(math.log10(float(f"{value:.2g}")))
    return plain_number(value, min(max(decimals, 0), FINEST_DECIMALS))


def length_words(seconds: float | None) -> str:
    """How long something lasted: whole minutes, seconds below two of them; a dash for None."""
    if seconds is None:
        return NOTHING
    if seconds < 120.0:
        return f"{whole(seconds)}{NBSP}s"
    return minutes(seconds)


def stood_words(one: CauseRates) -> str:
    """How long a cause lasted in all, as far as that was noted."""
    if one.count == one.without:
        return NOTHING
    if one.without:
        return _("{length}, {count} not noted", length=length_words(one.stood_s), count=one.without)
    return length_words(one.stood_s)


def cause_rows(found: StopRates) -> Rows:
    """A row a cause, then all of them: times and the four ways of stating how often."""
    rows = [(one.cause, one) for one in found.causes]
    if len(rows) > 1:
        rows.append((_("All together"), found.together))
    return tuple(
        (
            name, whole(one.count), rate_words(one.per_thousand_cars), rate_words(one.per_day),
            rate_words(one.per_open_hour), one_in_words(one.one_in_cars), stood_words(one),
        )
        for name, one in rows
    )  # fmt: skip


def class_rows(found: StopRates, classes: Mapping[str, str]) -> Rows:
    """A row a class of cars; `classes` has their labels."""
    return tuple(
        (
            _(classes.get(one.vehicle, one.vehicle)), whole(one.count),
            rate_words(one.per_thousand_cars),
        )
        for one in found.classes
    )  # fmt: skip


def answer(found: StopRates | None, count: int) -> Statement:
    """How often the belt stood, and for what most."""
    if not count:
        rest = _("Note each stop as it happens, or bring in a file of your control’s.")
        return Statement(_("No stop is noted in these days."), rest)
    lead = _n("The belt stood once.", "The belt stood {count} times.", count)
    if found is None or not found.together.count:
        rest = _("How often that is can’t be said: the cars of these days were not counted.")
        return Statement(lead, rest)
    rate, top = found.together.per_thousand_cars, found.causes[0]
    rest = _(
        "That is {rate} stops in 1,000 cars. Most often: {cause}.",
        rate=_two(rate.value or 0.0), cause=top.cause,
    )  # fmt: skip
    return Statement(lead, rest)


def left_out_words(found: StopRates) -> str:
    """How many stops no rate has; empty for none."""
    if not found.left_out:
        return ""
    return _n(
        "1 was on a day whose cars were not counted: no rate has it.",
        "{count} were on days whose cars were not counted: no rate has them.",
        found.left_out,
    )


def planned_words(planned: float, found: StopRates) -> str:
    """How many stops the site's plans count on in the same days, beside those that were noted."""
    return _(
        "Plans count on {planned} stops in these days; {noted} were noted.",
        planned=about(planned), noted=whole(found.together.count),
    )  # fmt: skip


def causes_line(found: StopRates) -> str:
    """The commonest causes in a line."""
    return ", ".join(f"{one.cause} {one.count}" for one in found.causes[:3])


# ---- what the stops of a day cost ----------------------------------------------------------------


def cost_answer(found: StopCosts) -> Statement:
    """What all stops of a day cost, in cars and money."""
    cars = _apart(found, "cars_lost")
    money = _apart(found, "margin")
    stood = length_words(found.together.stood_s)
    lead = _n(
        "One stop, {stood} in all.", "{count} stops, {stood} in all.", found.together.count,
        stood=stood,
    )  # fmt: skip
    rest = _(
        "Without them: {cars} cars lost, {money} margin.", cars=cars.difference,
        money=money.difference,
    )  # fmt: skip
    also = _("That is hardly a difference.") if cars.plain and money.plain else ""
    return Statement(lead, f"{rest} {also}".strip())


def _apart(found: StopCosts, name: str) -> FigureCell:
    return cells_of(FIGURES[name], found.comparison, "si")[1]


def cost_words(found: StopCosts) -> str:
    """What the figures rest on."""
    cars = _("The cars are those that were counted.")
    if found.cars == "expected":
        cars = _("The cars of this day were not counted: those to be expected stand for them.")
    days = _(
        "{days} simulated days, the same in each column; guesses stand at their middle values.",
        days=whole(found.comparison.days),
    )
    if not found.guessed:
        return f"{cars} {days}"
    usual = _n(
        "The length of 1 stop was not noted: it has your usual one.",
        "The length of {count} stops was not noted: they have your usual one.",
        found.guessed,
    )
    return f"{cars} {days} {usual}"


def cause_name(one: CauseOfDay) -> str:
    """A cause of a day, or the others together."""
    if len(one.causes) == 1:
        return one.causes[0]
    return _("{count} other causes", count=len(one.causes))


def cost_rows(found: StopCosts, system: str) -> Rows:
    """A row a plan: its stops, how long the belt stood, and each figure of `TOLD`, with what it
    differs from the day as it was."""
    told = [cells_of(FIGURES[name], found.comparison, system) for name in TOLD]
    heads = [
        (_("As it was"), found.together),
        (_("Without any stop"), None),
        *((_("Without: {cause}", cause=cause_name(one)), one) for one in found.causes),
    ]
    rows = []
    for at, (name, one) in enumerate(heads):
        count = NOTHING if one is None else whole(one.count)
        stood = NOTHING if one is None else length_words(one.stood_s)
        cells = [_with_difference(row[at], at) for row in told]
        rows.append((name, count, stood, *cells))
    return tuple(rows)


def _with_difference(cell: FigureCell, at: int) -> str:
    if at == 0 or not cell.difference:
        return cell.value
    return f"{cell.value} ({cell.difference})"


# ---- the recorder --------------------------------------------------------------------------------


def recorder_link(pattern: str, day: date, at_s: float) -> str:
    """The recorder's page at a minute; empty without a pattern, or where it is none of the web."""
    if urlsplit(pattern).scheme not in ("http", "https"):
        return ""
    time = show_clock(at_s).zfill(5)
    filled = {
        "date": day.isoformat(), "time": time, "year": f"{day:%Y}", "month": f"{day:%m}",
        "day": f"{day:%d}", "hour": time[:2], "minute": time[3:],
    }  # fmt: skip
    for gap, text in filled.items():
        pattern = pattern.replace(f"{{{gap}}}", text)
    return pattern


def entry_words(one: LogEntry, classes: Mapping[str, str]) -> tuple[str, str, str]:
    """What an entry says: its cause, how long it lasted, and the class of the car."""
    vehicle = classes.get(one.vehicle, one.vehicle)
    return one.name, length_words(one.lasted_s), _(vehicle) if vehicle else NOTHING

"""What the record of cloth sets must be to be stored: every problem at once, in order of time."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from datetime import date

from sim.errors import InputProblem
from sim.inputs import (
    CLOTH_EVENTS,
    HOODS_COUNTED,
    INPUTS,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    REASONS,
    ROTATED,
    TAKEN_OFF,
    ClothBook,
    ClothEvent,
    ClothSet,
)
from sim.units import quantity, show_clock

MOST_SETS, MOST_EVENTS = 200, 5_000
LONGEST_SET_NAME = 40
MOST_CARS = 1_000_000.0
MOST_HOODS = 1_000


def cloth_problems(book: ClothBook, today: date | None = None) -> list[InputProblem]:
    """Every reason why a record can't be; with `today` also what lies in the future."""
    problems: list[InputProblem] = []
    for what, count, most in (
        ("sets", len(book.sets), MOST_SETS), ("entries", len(book.events), MOST_EVENTS)
    ):  # fmt: skip
        if count > most:
            sentence = "{count} {what} are too many; at most {most} can be kept."
            filling: dict[str, object] = {"count": count, "what": what, "most": most}
            problems.append(InputProblem("set", sentence, filling))
    names = Counter(item.name for item in book.sets)
    for name, times in names.items():
        if times > 1:
            sentence = "There are {times} sets “{name}”. Give each a name of its own."
            problems.append(InputProblem("name", sentence, {"times": times, "name": name}))
    problems += [p for item in book.sets for p in set_problems(item, today)]
    problems += [p for event in book.events for p in event_problems(event, today)]
    unknown = dict.fromkeys(e.name for e in book.events if e.name not in names)
    for name in unknown:
        sentence = "There is no set “{name}”. Enter the set first, or choose one that there is."
        problems.append(InputProblem("set", sentence, {"name": name}))
    return problems or list(_story(book))


def set_problems(item: ClothSet, today: date | None = None) -> list[InputProblem]:
    """Every reason why a set can't be."""
    problems = []
    plain = item.name == item.name.strip() and item.name.isprintable() and item.name[:1] != "="
    if not (plain and 1 <= len(item.name) <= LONGEST_SET_NAME):
        sentence = "Name “{name}” can’t be used. Enter 1 to {most} characters, the first not “=”."
        filling: dict[str, object] = {"name": item.name, "most": LONGEST_SET_NAME}
        problems.append(InputProblem("name", sentence, filling))
    if today is not None and item.bought is not None and item.bought > today:
        sentence = "{day} is still to come. Enter the day on which the set was bought."
        problems.append(InputProblem("bought", sentence, {"day": item.bought}))
    return problems + _cars("cars_before", item.cars_before)


def _cars(field: str, cars: float) -> list[InputProblem]:
    if math.isfinite(cars) and 0.0 <= cars <= MOST_CARS:
        return []
    sentence = "{cars} cars can’t be the wear of a set. Enter 0 to {most}."
    filling = {"cars": f"{cars:g}", "most": f"{MOST_CARS:,.0f}"}
    return [InputProblem(field, sentence, filling)]


def event_problems(event: ClothEvent, today: date | None = None) -> list[InputProblem]:
    """Every reason why an entry can't be, looked at alone."""
    problems: list[InputProblem] = []
    if event.kind not in CLOTH_EVENTS:
        sentence = "“{kind}” is nothing that happens to a set. Use {known}."
        filling: dict[str, object] = {"kind": event.kind, "known": ", ".join(CLOTH_EVENTS)}
        problems.append(InputProblem("kind", sentence, filling))
    if not 0 <= event.at_s < 86_400 or event.at_s % 60:
        sentence = "Time {seconds} is not a minute of the day. Write it as 15:20."
        problems.append(InputProblem("at", sentence, {"seconds": f"{event.at_s:g} s"}))
    if today is not None and event.day > today:
        sentence = "{day} is still to come. Enter the day on which it happened."
        problems.append(InputProblem("day", sentence, {"day": event.day}))
    wrong = event.reason not in REASONS if event.kind == TAKEN_OFF else event.reason != ""
    if wrong:
        sentence = "“{reason}” is no reason to take a set off. Use {known}."
        if event.kind != TAKEN_OFF:
            sentence = "Reason “{reason}”: only a set that is taken off has one. Leave it empty."
        filling = {"reason": event.reason, "known": ", ".join(REASONS)}
        problems.append(InputProblem("reason", sentence, filling))
    if event.cars is not None:
        problems += _cars("cars", event.cars)
        if event.kind != TAKEN_OFF:
            sentence = "Cars belong to a set that is taken off. Leave them empty."
            problems.append(InputProblem("cars", sentence))
    return [*problems, *_inspection(event), *_hoods(event)]


def _inspection(event: ClothEvent) -> Iterable[InputProblem]:
    seen = (event.length_m, event.dry_kg, event.torn)
    if event.kind != INSPECTED:
        if seen != (None, None, None):
            sentence = "Length, weight and torn strips belong to an inspection. Leave them empty."
            yield InputProblem("length", sentence)
        return
    if seen == (None, None, None):
        sentence = "Nothing was measured. Enter length, dry weight or torn strips."
        yield InputProblem("length", sentence)
    rows = (
        ("length", "length_m", event.length_m, "strip_length_m", "short_length"),
        ("dry", "dry_kg", event.dry_kg, "strip_dry_mass_kg", "small_mass"),
    )
    labels = {"length": "Length", "dry": "Dry weight"}
    for field, _, value, name, kind in rows:
        row = INPUTS[name]
        if value is not None and not 0.0 < value <= row.high:
            sentence = "{label} {value} can’t be that of a strip. Enter more than 0, up to {high}."
            filling = {
                "label": labels[field], "value": quantity(value, kind, 4), **row.limits()
            }  # fmt: skip
            yield InputProblem(field, sentence, filling)
    most = int(INPUTS["strip_count"].high)
    if event.torn is not None and not 0 <= event.torn <= most:
        sentence = "{torn} torn strips can’t be. Enter 0 to {most}."
        yield InputProblem("torn", sentence, {"torn": event.torn, "most": most})


def _hoods(event: ClothEvent) -> Iterable[InputProblem]:
    """What is wrong with a count of damp hoods."""
    seen = (event.hoods, event.damp_hoods)
    if event.kind != HOODS_COUNTED:
        if seen != (None, None):
            sentence = "Hoods and damp hoods belong to a count of hoods. Leave them empty."
            yield InputProblem("hoods", sentence)
        return
    hoods, damp = seen
    if hoods is None or not 1 <= hoods <= MOST_HOODS:
        sentence = "{hoods} hoods can’t have been looked at. Enter 1 to {most}."
        shown = "No" if hoods is None else str(hoods)
        yield InputProblem("hoods", sentence, {"hoods": shown, "most": MOST_HOODS})
    elif damp is None or not 0 <= damp <= hoods:
        sentence = "{damp} damp hoods of {hoods} can’t be. Enter 0 to {hoods}."
        shown = "No" if damp is None else str(damp)
        yield InputProblem("damp_hoods", sentence, {"damp": shown, "hoods": hoods})


def _story(book: ClothBook) -> Iterable[InputProblem]:
    """Where the entries, each fine alone, do not fit one another."""
    bought = {item.name: item.bought for item in book.sets}
    on_wheel: ClothEvent | None = None
    ended: dict[str, ClothEvent] = {}
    for event in book.in_order().events:
        filling: dict[str, object] = {"name": event.name, "when": when(event)}
        since = bought[event.name]
        if since is not None and event.day < since:
            sentence = "Set “{name}” was bought on {bought}, after {when}. Correct one of the two."
            yield InputProblem("day", sentence, {**filling, "bought": since})
        if event.kind == PUT_ON:
            if event.name in ended:
                sentence = (
                    "Set “{name}” can’t be put on on {when}: it came to its end on {end}. Enter a "
                    "new set, or correct why it was taken off."
                )
                yield InputProblem("set", sentence, {**filling, "end": when(ended[event.name])})
            elif on_wheel is not None:
                sentence = (
                    "Set “{name}” can’t be put on on {when}: set “{other}” has been on the wheel "
                    "since {since}. Enter first when that one was taken off."
                )
                filling |= {"other": on_wheel.name, "since": when(on_wheel)}
                yield InputProblem("set", sentence, filling)
            else:
                on_wheel = event
        elif event.kind == TAKEN_OFF:
            if on_wheel is None or on_wheel.name != event.name:
                sentence = (
                    "Set “{name}” can’t be taken off on {when}: it was not on the wheel then. "
                    "Enter first when it was put on, earlier than that."
                )
                yield InputProblem("day", sentence, filling)
            else:
                on_wheel = None
                if event.reason != ROTATED:
                    ended[event.name] = event
        elif event.kind == HOODS_COUNTED:
            if on_wheel is None or on_wheel.name != event.name:
                sentence = (
                    "Hoods can’t have been counted under set “{name}” on {when}: it was not on the "
                    "wheel then. Choose the set that was, or enter first when it was put on."
                )
                yield InputProblem("set", sentence, filling)
        elif event.kind == LAUNDERED and on_wheel is not None and on_wheel.name == event.name:
            sentence = (
                "Set “{name}” can’t be laundered on {when}: it was on the wheel. Enter first when "
                "it was taken off."
            )
            yield InputProblem("day", sentence, filling)


def when(event: ClothEvent) -> str:
    """Day and time of an entry, as messages write them."""
    return f"{event.day.isoformat()} {show_clock(event.at_s)}"

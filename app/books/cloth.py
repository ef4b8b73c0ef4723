"""What the record of cloth sets must be to be stored, beside its shape: in order of time."""

from __future__ import annotations

from collections.abc import Iterable

from sim.errors import InputProblem
from sim.inputs import (
    EVENTS,
    HOODS_COUNTED,
    INSPECTED,
    LAUNDERED,
    PUT_ON,
    ROTATED,
    TAKEN_OFF,
    ClothEvent,
    SiteData,
)
from sim.units import show_clock


def event_problems(event: ClothEvent) -> Iterable[InputProblem]:
    """Why an entry can't be, though each of its fields can."""
    seen = (name for name, cell in EVENTS.cells.items() if INSPECTED in cell.only)
    if event.kind == INSPECTED and all(getattr(event, name) is None for name in seen):
        sentence = "Nothing was measured. Enter length, dry weight or torn strips."
        yield InputProblem("length_m", sentence)
    if event.kind != HOODS_COUNTED:
        return
    hoods, damp = event.hoods, event.damp_hoods
    if hoods is None:
        sentence = "No hoods can’t have been looked at. Enter 1 to 1,000."
        yield InputProblem("hoods", sentence)
    elif damp is None or not 0 <= damp <= hoods:
        sentence = "{damp} damp hoods of {hoods} can’t be. Enter 0 to {hoods}."
        shown = "No" if damp is None else str(damp)
        yield InputProblem("damp_hoods", sentence, {"damp": shown, "hoods": hoods})


def cloth_story(data: SiteData) -> Iterable[InputProblem]:
    """Where the entries, each fine alone, do not fit one another."""
    book = data.cloth
    bought = {item.name: item.bought for item in book.sets}
    unknown = dict.fromkeys(event.name for event in book.events if event.name not in bought)
    for name in unknown:
        sentence = "There is no set “{name}”. Enter the set first, or choose one that there is."
        yield InputProblem("name", sentence, {"name": name})
    if unknown:
        return
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
                yield InputProblem("name", sentence, {**filling, "end": when(ended[event.name])})
            elif on_wheel is not None:
                sentence = (
                    "Set “{name}” can’t be put on on {when}: set “{other}” has been on the wheel "
                    "since {since}. Enter first when that one was taken off."
                )
                filling |= {"other": on_wheel.name, "since": when(on_wheel)}
                yield InputProblem("name", sentence, filling)
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
                yield InputProblem("name", sentence, filling)
        elif event.kind == LAUNDERED and on_wheel is not None and on_wheel.name == event.name:
            sentence = (
                "Set “{name}” can’t be laundered on {when}: it was on the wheel. Enter first when "
                "it was taken off."
            )
            yield InputProblem("day", sentence, filling)


def when(event: ClothEvent) -> str:
    """Day and time of an entry, as messages write them."""
    return f"{event.day.isoformat()} {show_clock(event.at_s)}"

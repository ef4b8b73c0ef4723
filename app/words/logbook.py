"""Words of the logbook: what its kinds of entry and its devices are called, a sentence an entry."""

from __future__ import annotations

from collections.abc import Sequence

from app.catalogue import _, _n
from app.words.numbers import amount, minutes, whole
from app.words.phrases import Statement
from app.words.rules import windows_of
from sim.decide.switching.answer import Rule
from sim.inputs import LogEntry, VehicleClass
from sim.inputs.logbook import (
    ADVICE,
    ALARM,
    CAME,
    CARS,
    CHECK,
    CLAIM,
    COMPLAINT,
    DAMAGE,
    DAMP_HOODS,
    DEVICE,
    DOWN,
    FELT,
    FINE,
    FULL,
    HOUR,
    LEFT,
    NOTE,
    OPEN,
    REDUCED,
    REPAIRED,
    SET_CHANGED,
    SOMEBODY,
    STOP,
    STRIP,
    TIMED,
    TURNED_AWAY,
    WAIT,
    WIPING,
)
from sim.inputs.timed import (
    EXIT_WORK,
    LOAD_WORK,
    LOADING,
    PAYING,
    PREPARE_WORK,
    REDUCED_WORK,
)
from sim.units import format_number, show_clock

KINDS = {
    CARS: "Cars so far",
    DAMP_HOODS: "Damp hoods",
    WIPING: "We have switched",
    STOP: "Belt stopped",
    TURNED_AWAY: "Drove away",
    HOUR: "Cars in the last hour",
    WAIT: "Wait of the last car",
    STRIP: "Strip weighed",
    SET_CHANGED: "Set changed",
    ALARM: "Alarm",
    DEVICE: "A device is down",
    CLAIM: "Damage or complaint",
    FELT: "Weather as felt",
    TIMED: "Times taken",
    SOMEBODY: "Somebody came or left",
    CHECK: "Check done",
    NOTE: "In your words",
    ADVICE: "Advice as given",
}
"""What kinds of entry are called, on buttons and in lists."""

DEVICES = {
    "emergency_stop": "emergency stop",
    "pull_cord": "pull cord",
    "guard_switch": "switch of a guard",
    "exit_sensor": "sensor at the exit",
    "entry_sensor": "sensor at the entry",
    "height_sensor": "height sensor",
    "roller_sensor": "sensor of the rollers",
    "wheel_drive": "drive of the wheel",
    "blower": "blower",
    "other_device": "another device",
}
"""What devices are called within a sentence."""

TIMED_NAMES = {
    PAYING: "paying",
    LOADING: "loading, with one loader",
    PREPARE_WORK: "work of preparing a car",
    LOAD_WORK: "work of loading a car",
    EXIT_WORK: "work at the exit",
    REDUCED_WORK: "extra hand work on a reduced car",
}
"""What was timed, within a sentence."""

SAID = {
    FULL: "Switched to full",
    REDUCED: "Switched to reduced",
    CAME: "Came",
    LEFT: "Left",
    FINE: "Fine",
    OPEN: "Open",
    DOWN: "It is down",
    REPAIRED: "It works again",
    DAMAGE: "Claim of damage",
    COMPLAINT: "Complaint",
}
"""The word of an entry, as a button has it."""

REASONS = (
    "Cars left damp", "The cloth was too wet", "The line was too long", "Fewer cars than expected",
    "The weather was otherwise", "Somebody was missing",
)  # fmt: skip
"""Why a crew switched off its plan, to choose from; common practice, no source."""
NEAR_PLAN_S = 900.0
"""A switch that is no further than this from a planned one was planned [s]; a guess."""


def kind_name(kind: str) -> str:
    """What a kind of entry is called."""
    return _(KINDS.get(kind, kind))


def device_name(key: str) -> str:
    """What a device is called, as a word of a sentence."""
    return _(DEVICES.get(key, key))


def timed_name(thing: str) -> str:
    """What was timed, as a word of a sentence."""
    return _(TIMED_NAMES.get(thing, thing))


def entry_words(entry: LogEntry, system: str, vehicles: Sequence[VehicleClass] = ()) -> str:
    """An entry in a sentence, without its time and who noted it.

    Args:
        system: the reader's units, "si" or "us".
        vehicles: classes of the site, by which a car's kind is named.
    """
    said, kind = _said(entry, system), entry.kind
    named = {one.key: one.label for one in vehicles}
    more = [
        minutes(entry.lasted_s) if entry.lasted_s is not None and kind != WAIT else "",
        named.get(entry.vehicle, entry.vehicle),
        "" if kind in (NOTE, FELT, ADVICE) else entry.text,
    ]
    told = "; ".join(filter(None, more))
    return f"{said.removesuffix('.')}: {told}" if told else said


def _said(entry: LogEntry, system: str) -> str:
    """What an entry says by its kind alone."""
    kind, count, name = entry.kind, entry.count or 0, entry.name
    if kind == CARS:
        return _n("1 car so far.", "{count} cars so far.", count)
    if kind == HOUR:
        return _n("1 car in the hour before.", "{count} cars in the hour before.", count)
    if kind == TURNED_AWAY:
        if count == 0:
            return _("Nobody drove away.")
        return _n("1 car drove away.", "{count} cars drove away.", count)
    if kind == DAMP_HOODS:
        damp, hoods = whole(count), whole(entry.of or 0)
        return _("{damp} of the last {hoods} hoods damp.", damp=damp, hoods=hoods)
    if kind == WAIT:
        return _("The last car waited {minutes}.", minutes=minutes(entry.lasted_s or 0.0))
    if kind == STRIP:
        weight = amount(entry.weight_kg or 0.0, "small_mass", system, 4)
        return _("A strip weighed {weight}.", weight=weight)
    if kind == WIPING:
        return _("Switched to full.") if entry.word == FULL else _("Switched to reduced.")
    if kind == SET_CHANGED:
        return _("Set “{name}” put on.", name=name)
    if kind == DEVICE:
        sentence = "Down: {device}." if entry.word == DOWN else "Works again: {device}."
        return _(sentence, device=device_name(name))
    if kind == CLAIM:
        return _("Claim of damage.") if entry.word == DAMAGE else _("Complaint.")
    return _of_a_name(entry)


def _of_a_name(entry: LogEntry) -> str:
    """The same of the kinds whose name or text is the crew's own."""
    kind, name, text = entry.kind, entry.name, entry.text
    if kind == STOP:
        return _("Belt stopped, {cause}.", cause=name)
    if kind == ALARM:
        return _("Alarm {name}.", name=name)
    if kind == FELT:
        return _("The weather as felt: {text}.", text=text)
    if kind == TIMED:
        return _("Timed, {what}.", what=timed_name(name))
    if kind == SOMEBODY:
        return _("{name} came.", name=name) if entry.word == CAME else _("{name} left.", name=name)
    if kind == CHECK:
        state = _("fine") if entry.word == FINE else _("open")
        if entry.reading is None:
            return _("Check “{name}”: {state}.", name=name, state=state)
        reading = format_number(entry.reading)
        sentence = "Check “{name}”: {state}, reading {reading}."
        return _(sentence, name=name, state=state, reading=reading)
    if kind == ADVICE:
        return _("Clothcast advised: {text}", text=text)
    return text


def day_words(
    entries: Sequence[LogEntry],
    is_today: bool,
    system: str,
    vehicles: Sequence[VehicleClass] = (),
) -> Statement:
    """How many entries a day has that count, and the last of them."""
    if not entries:
        lead = _("Nothing is noted yet.") if is_today else _("Nothing was noted.")
        return Statement(lead, _("A press or two will do.") if is_today else "")
    last = entries[-1]
    said = entry_words(last, system, vehicles)
    return Statement(
        _n("1 entry.", "{count} entries.", len(entries)),
        _("Last, at {time}: {said}", time=entry_at(last), said=said),
    )


def entry_at(entry: LogEntry) -> str:
    """The time of an entry on the site's clock: ``13:20``."""
    return show_clock(entry.at_s)


# ---- beside the plan -----------------------------------------------------------------------------


def planned_switches(rule: Rule, opens_s: float, closes_s: float) -> dict[float, str] | None:
    """When a rule switches, with the wiping from then on; None for a rule that goes by more
    than the clock.

    Args:
        opens_s, closes_s: hours of the site; what is so from opening on is no switch.
    """
    windows = windows_of(rule)
    if rule.either and not rule.everyone and not windows:
        return None
    starts = {start: REDUCED for start, _end in windows}
    ends = {end: FULL for _start, end in windows if end not in starts}
    return {at: word for at, word in {**starts, **ends}.items() if opens_s < at < closes_s}


def is_off_plan(entry: LogEntry, planned: dict[float, str]) -> bool:
    """Whether a switch is none of those that were planned."""
    return not any(
        word == entry.word and abs(at - entry.at_s) <= NEAR_PLAN_S for at, word in planned.items()
    )

"""What must be said where a page talks of the wheel, the belt, a ladder or a failed sensor.

Three weights: a note, a caution, and "Stop." for safety only. One module, so that the same
danger is never told in two ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from app.catalogue import _

Weight = Literal["note", "caution", "stop"]


@dataclass(frozen=True, slots=True)
class Notice:
    """A note of some weight, drawn by `_cautions.html`."""

    weight: Weight
    text: str


def lock_out() -> Notice:
    """Before anybody reaches into the wheel or the belt."""
    return Notice(
        "stop",
        _(
            "Before a hand goes near the wheel or the belt: stop it, lock it out, try the start. "
            "Guards stay on while anything can turn."
        ),
    )


def safety_device() -> Notice:
    """A failed safety device is never planned around."""
    return Notice(
        "stop",
        _(
            "If an emergency stop, a guard, an interlock, a collision sensor or anything that the "
            "equipment’s own manual calls a safety device has failed: stop the line, lock it out, "
            "call licensed service. Clothcast makes no plan for running on without one."
        ),
    )


def shaping_sensor() -> Notice:
    """Running on with a failed height or presence reading."""
    return Notice(
        "caution",
        _(
            "Only a height or presence reading that shapes the wiping is meant here. Whether a "
            "site may run on with it failed is for the equipment’s own manual, the local code and "
            "whoever is licensed to service it to say. Widen the spacing, slow the belt, and have "
            "somebody watch each car."
        ),
    )


def wheel() -> Notice:
    """Speeds of the wheel and weighing its strips."""
    return Notice(
        "caution",
        _(
            "Take the allowed speeds of the wheel from the equipment’s own manual. A strip is "
            "measured, weighed or changed only with the wheel stopped and locked out."
        ),
    )


def ladder() -> Notice:
    """Work at the height of the wheel."""
    return Notice(
        "caution",
        _(
            "The wheel hangs high and the floor is wet: use a platform or a ladder that somebody "
            "holds, with wheel and belt locked out, as the local code asks."
        ),
    )


def belt() -> Notice:
    """Speeds and spacings of the belt."""
    return Notice(
        "caution",
        _(
            "Stay within the belt speeds of the equipment’s own manual. A closer spacing or a "
            "faster belt is tried with the crew warned and the emergency stops tested."
        ),
    )


def set_change() -> Notice:
    """Changing a cloth set during the day."""
    return Notice(
        "caution",
        _(
            "A set is changed with wheel and belt locked out. Whether cars may pass under a "
            "locked-out wheel is for the equipment’s own manual and the local code to say."
        ),
    )


def deference() -> Notice:
    """What stands above every figure of the program."""
    return Notice(
        "note",
        _(
            "Local codes, the equipment’s own manual and licensed practice stand above every "
            "figure here."
        ),
    )


def of_plan(*, belt_moves: bool, sets_change: bool, sensor_fails: bool) -> tuple[Notice, ...]:
    """The cautions that scenarios call for, by what is done in one of them."""
    return (
        *([belt()] if belt_moves else ()),
        *([set_change()] if sets_change else ()),
        *([shaping_sensor(), safety_device()] if sensor_fails else ()),
    )


def of_group(key: str) -> tuple[Notice, ...]:
    """The cautions of a group of inputs on the Site page."""
    return {
        "line": (belt(),),
        "wheel": (wheel(), ladder()),
        "wear": (set_change(),),
        "degraded": (shaping_sensor(), safety_device()),
    }.get(key, ())

"""What must be said where a page talks of the wheel, the belt, a ladder or a failed sensor.

Three weights: a note, a caution, and "Stop." for safety only. One module, so that the same
danger is never told in two ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Notice:
    """A note of some weight, said in the reader's language by `_cautions.html`."""

    weight: Literal["note", "caution", "stop"]
    text: str


LOCK_OUT = Notice(
    "stop",
    "Before a hand goes near the wheel or the belt: stop it, lock it out, try the start. "
    "Guards stay on while anything can turn.",
)
"""Before anybody reaches into the wheel or the belt."""

SAFETY_DEVICE = Notice(
    "stop",
    "If an emergency stop, a guard, an interlock, a collision sensor or anything that the "
    "equipment’s own manual calls a safety device has failed: stop the line, lock it out, "
    "call licensed service. Clothcast makes no plan for running on without one.",
)
"""A failed safety device is never planned around."""

SHAPING_SENSOR = Notice(
    "caution",
    "Only a height or presence reading that shapes the wiping is meant here. Whether a "
    "site may run on with it failed is for the equipment’s own manual, the local code and "
    "whoever is licensed to service it to say. Widen the spacing, slow the belt, and have "
    "somebody watch each car.",
)
"""Running on with a failed height or presence reading."""

WHEEL = Notice(
    "caution",
    "Take the allowed speeds of the wheel from the equipment’s own manual. A strip is "
    "measured, weighed or changed only with the wheel stopped and locked out.",
)
"""Speeds of the wheel and weighing its strips."""

LADDER = Notice(
    "caution",
    "The wheel hangs high and the floor is wet: use a platform or a ladder that somebody "
    "holds, with wheel and belt locked out, as the local code asks.",
)
"""Work at the height of the wheel."""

BELT = Notice(
    "caution",
    "Stay within the belt speeds of the equipment’s own manual. A closer spacing or a "
    "faster belt is tried with the crew warned and the emergency stops tested.",
)
"""Speeds and spacings of the belt."""

SET_CHANGE = Notice(
    "caution",
    "A set is changed with wheel and belt locked out. Whether cars may pass under a "
    "locked-out wheel is for the equipment’s own manual and the local code to say.",
)
"""Changing a cloth set during the day."""

BLOWERS = Notice(
    "caution",
    "Blowers that are down are put right by whoever is licensed to service them, by the "
    "equipment’s own manual. Nobody reaches into a fan, its belt or its wiring before it is "
    "stopped, locked out and tried.",
)
"""A day with the blowers down."""

GUARDS = Notice(
    "caution",
    "Guards, emergency stops and pull cords are tried as their manual says, with nobody at the "
    "belt. One that does not do its work is a failed safety device: stop, lock out, call licensed "
    "service, as the local code asks.",
)
"""Trying guards and stops."""

ELECTRICITY = Notice(
    "caution",
    "A cabinet is opened by whoever is licensed for it, by the local electrical code and the "
    "equipment’s own manual. Everybody else looks at its lights from outside.",
)
"""Looking after what has current in it."""

LABOUR_LAW = Notice(
    "caution",
    "Nothing here knows your labour law. Check hours, breaks, rest, minors and the fewest "
    "people who may work alone against it before you tell anybody when to come. The people "
    "counted here have no break; add whoever stands in.",
)
"""What the program does not know of hours and breaks."""

DEFERENCE = Notice(
    "note",
    "Local codes, the equipment’s own manual and licensed practice stand above every figure here.",
)
"""What stands above every figure of the program."""

OF_GROUP = {
    "line": (BELT,),
    "wheel": (WHEEL, LADDER),
    "water": (BLOWERS,),
    "wear": (SET_CHANGE,),
    "second": (SET_CHANGE,),
    "degraded": (SHAPING_SENSOR, SAFETY_DEVICE),
}
"""The cautions of a group of inputs on the Site page."""


def of_plan(
    *, belt_moves: bool, sets_change: bool, sensor_fails: bool, blowers_down: bool
) -> tuple[Notice, ...]:
    """The cautions that scenarios call for, by what is done in one of them."""
    return (
        *([BELT] if belt_moves else ()),
        *([SET_CHANGE] if sets_change else ()),
        *([BLOWERS] if blowers_down else ()),
        *([SHAPING_SENSOR, SAFETY_DEVICE] if sensor_fails else ()),
    )

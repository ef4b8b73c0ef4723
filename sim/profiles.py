"""Named starting points for a site: some inputs of the table, set together for a reason.

None was measured. The first three are guesses to begin a set-up from, to be replaced by the
site's own numbers; the last one is no car wash but the line reduced to a textbook queue.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sim.inputs import Value


@dataclass(frozen=True, slots=True)
class Profile:
    """A starting point.

    Attributes:
        key: short name; label: what pages call it.
        values: the inputs that it sets, by name, in SI; all others have their defaults.
        source: where the values come from, in words.
    """

    key: str
    label: str
    values: Mapping[str, Value]
    source: str


USUAL = Profile("usual", "A usual tunnel", {}, "the defaults of the table, nearly all guesses")

SHORT = Profile(
    "short",
    "A short tunnel with one pay lane",
    {
        "wheel_position_m": 18.0,
        "conveyor_speed_m_s": 0.18,
        "blower_reference_speed_m_s": 0.18,
        "pay_lanes": ((0.0, 1.0),),
        "loading_line_cars": 3,
        "stack_limit_cars": 10,
        "strip_count": 120,
        "people": ((0.0, 2.0),),
    },
    "guess; slower belt, fewer strips and places, so that each car meets the wheel as long",
)

LONG = Profile(
    "long",
    "A long tunnel with three pay lanes",
    {
        "wheel_position_m": 45.0,
        "conveyor_speed_m_s": 0.3,
        "blower_reference_speed_m_s": 0.3,
        "pay_lanes": ((0.0, 3.0),),
        "loading_line_cars": 10,
        "stack_limit_cars": 30,
        "loaders": ((0.0, 2.0),),
        "strip_count": 300,
        "people": ((0.0, 6.0),),
    },
    "guess; faster belt, more strips, places and people",
)

STARTS: dict[str, Profile] = {profile.key: profile for profile in (USUAL, SHORT, LONG)}
"""Starting points that a set-up offers."""

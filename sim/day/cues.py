"""Cues that a crew can see, as terms of a wiping rule, each carried out as a crew does on one day.

``crew clock`` is a clock window whose edges the crew carries out late (`late_windows`).

``crew cars`` and ``crew strip`` are *watched*: there is a reading, the cars whose hood met the
wheel in the 60 minutes before this car's, or the weight of one strip. At the first car, and then
at the first car after each interval of the site, the crew takes the reading, each time off by a
factor of its own. While it wipes in full, a reading at or above the upper one decides to reduce;
while it wipes reduced, one at or below the lower one decides to go back. The k-th decision is
carried out the k-th delay later, from the first car on that comes then; until that is done,
readings are taken and not heeded.

An act comes some time after the cue was reached, and no act overtakes the one before it. The k-th
act of a cue has the k-th delay of the day, whatever the cue: rules stay paired in their crew.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.inputs import Site
from sim.units import format_number, show_clock

Floats = NDArray[np.float64]
Windows = tuple[tuple[float, float], ...]

MOST_ACTS, MOST_LOOKS = 64, 256
"""Delays and errors drawn a day; a cue that acts or is looked at more often begins anew."""


@dataclass(frozen=True, slots=True)
class CrewDay:
    """A crew on one day.

    Attributes:
        delay_s: from a cue to the act, by act of a cue; shape (MOST_ACTS,) [s], ≥ 0.
        count_factor: factor on the cars counted, by look; shape (MOST_LOOKS,).
        weigh_factor: factor on the water of the strip weighed, likewise.
        count_every_s, weigh_every_s: from one look to the next [s]; 0: at every car.
        opens_s: opening time [s after midnight]; what is due until then is done on time.
        strip_dry_kg, strip_holding_kg: a dry strip, and the water in a saturated one [kg].
    """

    delay_s: Floats
    count_factor: Floats
    weigh_factor: Floats
    count_every_s: float
    weigh_every_s: float
    opens_s: float
    strip_dry_kg: float
    strip_holding_kg: float


def make_crew(site: Site, take: Callable[[str, int], Floats]) -> CrewDay:
    """A site's crew; `take` gives standard normal variates by purpose and count.

    Delays and counts are lognormal about the median and the truth. What a strip weighs is off as
    a weigh-in of a strip from the wheel is (`sim.learn.weigh_in`): in its water, lognormal.
    """
    crew, wheel = site.crew, site.wheel
    return CrewDay(
        crew.cue_delay_median_s * np.exp(crew.cue_delay_log_sd * take("cue_delay", MOST_ACTS)),
        np.exp(crew.count_log_sd * take("car_count", MOST_LOOKS)),
        np.exp(wheel.strip_log_sd * take("strip_weight", MOST_LOOKS)),
        crew.count_every_min * 60.0,
        crew.weigh_every_min * 60.0,
        site.line.open_h * 3600.0,
        float(wheel.strip_dry_mass_kg),
        float(wheel.strip_dry_mass_kg * wheel.holding_capacity_kg_kg),
    )


def late_windows(windows: Windows, crew: CrewDay) -> Windows:
    """Clock windows [s after midnight] as the crew carries them out.

    Each edge comes late by the next delay, and not before the edge ahead of it; edges until
    opening are on time, since nobody is at the wheel yet.
    """
    done: list[float] = []
    delays = itertools.cycle(crew.delay_s.tolist())
    for edge in itertools.chain.from_iterable(windows):
        act = edge if edge <= crew.opens_s else edge + next(delays)
        done.append(max(act, done[-1]) if done else act)
    return tuple(_pairs(done))


def _pairs(edges: list[float]) -> Iterable[tuple[float, float]]:
    return zip(edges[::2], edges[1::2], strict=True)


HOUR_S = 3600.0
GRAMS = 1000.0


@dataclass(frozen=True, slots=True)
class CrewClock:
    """Clock windows [s after midnight] as the crew carries them out; see the module."""

    windows: tuple[tuple[float, float], ...]
    kind: Literal["crew_clock"] = "crew_clock"

    def text(self) -> str:
        """As the rule is written."""
        said = ",".join(f"{show_clock(a)}-{show_clock(b)}" for a, b in self.windows)
        return f"crew clock {said}"

    def words(self) -> str:
        """As a page says it."""
        said = " and ".join(f"{show_clock(a)}–{show_clock(b)}" for a, b in self.windows)
        return f"{said} as the crew gets to it"


@dataclass(frozen=True, slots=True)
class CrewCars:
    """Cars washed in the last hour [cars], as the crew counts them; see the module."""

    upper: float
    lower: float
    kind: Literal["crew_cars"] = "crew_cars"

    def text(self) -> str:
        """As the rule is written."""
        return f"crew cars {format_number(self.upper, 6)}-{format_number(self.lower, 6)}"

    def words(self) -> str:
        """As a page says it."""
        upper, lower = format_number(self.upper, 6), format_number(self.lower, 6)
        return f"from {upper} cars counted in the last hour down to {lower}"


@dataclass(frozen=True, slots=True)
class CrewStrip:
    """Weight of one strip [kg], as the crew weighs it; see the module."""

    upper: float
    lower: float
    kind: Literal["crew_strip"] = "crew_strip"

    def _grams(self) -> tuple[str, str]:
        return format_number(GRAMS * self.upper, 6), format_number(GRAMS * self.lower, 6)

    def text(self) -> str:
        """As the rule is written, in grams."""
        upper, lower = self._grams()
        return f"crew strip {upper}-{lower}"

    def words(self) -> str:
        """As a page says it."""
        upper, lower = self._grams()
        return f"from {upper} g that a strip weighs down to {lower} g"


Watched = CrewCars | CrewStrip
Cue = CrewClock | CrewCars | CrewStrip


class Watch:
    """A watched cue in use on one day."""

    def __init__(self, cue: Watched, crew: CrewDay) -> None:
        self._cue, self._crew = cue, crew
        self.reducing = False
        self._due_s = math.inf
        self._next_look_s = -math.inf
        self._looks = self._acts = 0
        self._hoods: deque[float] = deque()

    def see(self, now_s: float, saturation: float) -> None:
        """A car's hood meets the wheel; what that leads to holds for this car already."""
        while self._hoods and self._hoods[0] <= now_s - HOUR_S:
            self._hoods.popleft()
        self._act_if_due(now_s)
        if now_s >= self._next_look_s:
            reading = self._look(now_s, saturation)
            if self._due_s == math.inf and self._is_reached(reading):
                delays = self._crew.delay_s
                self._due_s = now_s + float(delays[self._acts % len(delays)])
                self._acts += 1
                self._act_if_due(now_s)
        self._hoods.append(now_s)

    def _act_if_due(self, now_s: float) -> None:
        if self._due_s <= now_s:
            self.reducing = not self.reducing
            self._due_s = math.inf

    def _is_reached(self, reading: float) -> bool:
        return reading <= self._cue.lower if self.reducing else reading >= self._cue.upper

    def _look(self, now_s: float, saturation: float) -> float:
        crew, look = self._crew, self._looks
        self._looks += 1
        if isinstance(self._cue, CrewCars):
            self._next_look_s = now_s + crew.count_every_s
            return len(self._hoods) * float(crew.count_factor[look % len(crew.count_factor)])
        self._next_look_s = now_s + crew.weigh_every_s
        off = float(crew.weigh_factor[look % len(crew.weigh_factor)])
        return crew.strip_dry_kg + crew.strip_holding_kg * saturation * off


_PAIR = re.compile(r"(\d+(?:\.\d+)?)\s*[-–]\s*(\d+(?:\.\d+)?)")


def read_watched(word: str, rest: str) -> Watched:
    """The cue of a text such as ``cars 118-95`` or ``strip 640-560``, split at its first word.

    Raises:
        ValueError: with what would be right.
    """
    if word == "cars":
        upper, lower = _pair(rest, "crew cars 118-95, cars washed in the last hour")
        return CrewCars(upper, lower)
    if word == "strip":
        upper, lower = _pair(rest, "crew strip 640-560, weight of one strip in g")
        return CrewStrip(upper / GRAMS, lower / GRAMS)
    raise ValueError("a cue is crew clock 12:00-15:30, crew cars 118-95 or crew strip 640-560")


def _pair(text: str, example: str) -> tuple[float, float]:
    match = _PAIR.fullmatch(text.strip())
    if not match:
        raise ValueError(f"this cue is written {example}")
    upper, lower = float(match.group(1)), float(match.group(2))
    if not lower < upper:
        raise ValueError(f"the larger number comes first: {example}")
    return upper, lower

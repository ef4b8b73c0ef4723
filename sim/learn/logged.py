"""What the logbook of a day says, put together from its entries: cars, switches, hoods, stops."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sim.day.rules import Clock
from sim.inputs import LogEntry
from sim.inputs.logbook import (
    CAME,
    CARS,
    DAMP_HOODS,
    HOUR,
    LEFT,
    REDUCED,
    SET_CHANGED,
    SOMEBODY,
    STOP,
    TURNED_AWAY,
    WAIT,
    WIPING,
)

HOUR_S = 3600.0
LATEST_COUNT_S = HOUR_S
"""A count of the cars so far stands for the day if it was noted within this of closing [s]."""
Windows = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Switch:
    """The crew switched: when [s after midnight], to which wiping, and the reason that it gave."""

    at_s: float
    to: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class LoggedDay:
    """A day as its entries have it; None where none of the kind was made.

    Attributes:
        cars: washed all day.
        turned_away: drove away without a wash.
        damp, looked_at: of hoods; looks: clock hour of each look, and its hoods.
        waits: clock hour of each wait that was noted, and how long it was [s].
        switches: of the wiping, in order.
        came, left: people by name and time [s after midnight].
        sets: put on during the day, by time.
        stops: how often the belt stood; stood_s: how long in all, as far as noted [s].
        entries: that count.
    """

    cars: int | None = None
    turned_away: int | None = None
    damp: int | None = None
    looked_at: int | None = None
    looks: tuple[tuple[int, int], ...] = ()
    waits: tuple[tuple[int, float], ...] = ()
    switches: tuple[Switch, ...] = ()
    came: tuple[tuple[str, float], ...] = ()
    left: tuple[tuple[str, float], ...] = ()
    sets: tuple[tuple[float, str], ...] = ()
    stops: int = 0
    stood_s: float = 0.0
    entries: int = 0


def logged_day(entries: Iterable[LogEntry], opens_s: float, closes_s: float) -> LoggedDay:
    """What the entries of one day say; those that were taken back say nothing."""
    told = sorted((one for one in entries if one.counts), key=lambda one: one.place)
    of = {kind: [one for one in told if one.kind == kind] for kind in {one.kind for one in told}}
    away, hoods = of.get(TURNED_AWAY, []), of.get(DAMP_HOODS, [])
    stops = of.get(STOP, [])
    people = of.get(SOMEBODY, [])
    return LoggedDay(
        cars=_cars(of.get(CARS, []), of.get(HOUR, []), opens_s, closes_s),
        turned_away=sum(one.count or 0 for one in away) if away else None,
        damp=sum(one.count or 0 for one in hoods) if hoods else None,
        looked_at=sum(one.of or 0 for one in hoods) if hoods else None,
        looks=tuple((int(one.at_s // HOUR_S), one.of or 0) for one in hoods),
        waits=tuple((int(one.at_s // HOUR_S), one.lasted_s or 0.0) for one in of.get(WAIT, [])),
        switches=tuple(Switch(one.at_s, one.word, one.text) for one in of.get(WIPING, [])),
        came=tuple((one.name, one.at_s) for one in people if one.word == CAME),
        left=tuple((one.name, one.at_s) for one in people if one.word == LEFT),
        sets=tuple((one.at_s, one.name) for one in of.get(SET_CHANGED, [])),
        stops=len(stops),
        stood_s=sum(one.lasted_s or 0.0 for one in stops),
        entries=len(told),
    )


def _cars(
    so_far: Sequence[LogEntry], by_hour: Sequence[LogEntry], opens_s: float, closes_s: float
) -> int | None:
    """Cars of the day: the last count so far if it is late enough, else hours if there are all."""
    late = [one.count for one in so_far if one.at_s >= closes_s - LATEST_COUNT_S]
    if late and late[-1] is not None:
        return late[-1]
    counted = {int(one.at_s // HOUR_S): one.count or 0 for one in by_hour}
    open_hours = -int(-(closes_s - opens_s) // HOUR_S)
    return sum(counted.values()) if len(counted) >= open_hours else None


def reduced_windows(switches: Sequence[Switch], closes_s: float) -> Windows:
    """When the wiping was reduced; a day begins on full, and what was not switched back lasts."""
    windows, since = [], None
    for one in switches:
        if one.to == REDUCED and since is None:
            since = one.at_s
        elif one.to != REDUCED and since is not None:
            if one.at_s > since:
                windows.append((since, one.at_s))
            since = None
    if since is not None and since < closes_s:
        windows.append((since, closes_s))
    return tuple(windows)


def rule_of(windows: Windows) -> str:
    """Windows of reduced wiping as a wiping rule is written."""
    return Clock(windows).text() if windows else "full"

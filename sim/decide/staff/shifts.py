"""Shifts that a site's limits allow on one day, their breaks inside, in half-hours.

A shift is paid for its length less an unpaid break, and covers every half-hour but its break.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.inputs.roster import HoursLimits

SLOTS = 48
"""Half-hours of a day."""
PER_H = 2
"""Half-hours of an hour."""


@dataclass(frozen=True, slots=True, order=True)
class Shift:
    """Work of one person on one day, in half-hours after midnight.

    Attributes:
        start: first half-hour worked.
        end: first half-hour after work; above `start`.
        pause: first half-hour of the break; equal to `end` if there is none.
        pause_end: first half-hour after the break.
    """

    start: int
    end: int
    pause: int
    pause_end: int

    @property
    def covered(self) -> np.ndarray:
        """Shape (48,): 1 in half-hours at work, else 0."""
        here = np.zeros(SLOTS, dtype=int)
        here[self.start : self.end] = 1
        here[self.pause : self.pause_end] = 0
        return here

    def paid_h(self, limits: HoursLimits) -> float:
        """Hours that are paid and count as worked [h]."""
        unpaid = 0 if limits.break_paid else self.pause_end - self.pause
        return (self.end - self.start - unpaid) / PER_H

    def same_time(self, other: Shift) -> bool:
        """Whether start and end agree; a moved break is no change to anybody's day."""
        return (self.start, self.end) == (other.start, other.end)


def slots_of(hours: float) -> int:
    """Half-hours of a time that is set in hours, the nearest whole number of them."""
    return round(hours * PER_H)


def lengths(limits: HoursLimits) -> tuple[int, ...]:
    """Lengths of shifts [half-hours], the longest always among them."""
    least, most = slots_of(limits.shortest_shift_h), slots_of(limits.longest_shift_h)
    return tuple(sorted({*range(least, most + 1, slots_of(limits.shift_step_h)), most}))


def break_window(start: int, end: int, limits: HoursLimits) -> tuple[int, int] | None:
    """First and last half-hour in which a shift's break may begin; None if it needs none.

    A shift no longer than the longest work without a break has none. Before and after a break
    there is at least an hour and at most that longest work. Where one break is not enough the
    first lies after the last.
    """
    most, pause = slots_of(limits.break_after_h), slots_of(limits.break_h)
    if end - start <= most:
        return None
    first = max(start + PER_H, end - pause - most)
    return first, min(end - pause - PER_H, start + most)


def shift_with_break(start: int, end: int, limits: HoursLimits, at: int | None = None) -> Shift:
    """A shift with its break begun at `at`, or as early as may be."""
    window = break_window(start, end, limits)
    if window is None:
        return Shift(start, end, end, end)
    pause = window[0] if at is None else at
    return Shift(start, end, pause, pause + slots_of(limits.break_h))


def shifts_of_day(needed: np.ndarray, limits: HoursLimits) -> tuple[Shift, ...]:
    """Every shift allowed on a day on which people are needed in the half-hours given.

    One for each start and end, with its break as early as may be.

    Args:
        needed: shape (48,), people needed in each half-hour, of all roles together.
        limits: of the site.

    Shifts lie between the first and the last half-hour in which somebody is needed; a day that
    is shorter than the shortest shift has that shift from its first half-hour on.
    """
    at = np.flatnonzero(needed)
    if not at.size:
        return ()
    first, last = int(at[0]), int(at[-1]) + 1
    step = slots_of(limits.start_every_h)
    found: set[Shift] = set()
    for length in lengths(limits):
        starts = set(range(first, last - length + 1, step))
        if last - length >= first:
            starts.add(last - length)
        if not starts and length == lengths(limits)[0]:
            starts = {min(first, SLOTS - length)}
        for start in starts:
            window = break_window(start, start + length, limits)
            if window is None or window[0] <= window[1]:
                found.add(shift_with_break(start, start + length, limits))
    return tuple(sorted(found))

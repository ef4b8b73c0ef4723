"""Travel of the belt against time: speeds by timetable, frozen by stops.

Travel x(t) = ∫ v dt. Stops by the clock are known from the start; a car may add one when it is
caught. Stops only ever delay, so a position found to be reached at some time is reached then or
later, never earlier.
"""

from __future__ import annotations

import bisect
import math

from sim.inputs import Steps

TIME_TOLERANCE_S = 1e-9
"""Whoever waits for the belt to reach a point goes on this early [s]: rounding is no wait."""
REACHED_M = 1e-9
"""Nearer than this a point is reached, so that rounding cannot make it wait out a stop that
begins just there [m]."""


class BeltTime:
    """The belt's position over a day.

    `stops` holds every stop that has begun, joined where they overlap, as (start, end) [s].
    """

    def __init__(
        self, start_s: float, speeds: Steps, clock_stops: tuple[tuple[float, float], ...]
    ) -> None:
        self._speeds = speeds
        self._changes = [row[0] for row in speeds]
        self._ahead = clock_stops  # by start; those before `_next` have begun
        self._next = 0
        # The state is known up to `_now`, ahead of the clock while the belt stands until then;
        # from there the belt moves at `_speed` until `_until`.
        self._now = start_s
        self._travel = 0.0
        self._speed, self._until = self._stretch(start_s, 0)
        self.stops: list[tuple[float, float]] = []

    def speed(self, now_s: float) -> float:
        """Speed that the timetable gives [m/s], stops apart."""
        return self._speeds[bisect.bisect_right(self._changes, now_s) - 1][1]

    def travel(self, now_s: float) -> float:
        """Travel since opening [m]; times asked for must not go back."""
        self._forward(now_s)
        return self._travel

    def stop(self, now_s: float, duration_s: float) -> None:
        """Stop the belt now; a stop under way is lengthened if this one ends later."""
        self._forward(now_s)
        self._stand(now_s, now_s + duration_s)

    def time_at(self, travel_m: float, now_s: float) -> float:
        """Time [s] when the belt reaches a travel, by what is known now; not before now."""
        self._forward(now_s)
        now, travel, following = self._now, self._travel, self._next
        if travel >= travel_m - REACHED_M:
            return now_s
        speed, until = self._speed, self._until
        while travel + speed * (until - now) < travel_m - REACHED_M:
            travel += speed * (until - now)
            now = until
            while following < len(self._ahead) and self._ahead[following][0] <= now:
                now = max(now, self._ahead[following][1])
                following += 1
            speed, until = self._stretch(now, following)
        return min(until, now + max(0.0, travel_m - travel) / speed)

    def _stretch(self, now: float, following: int) -> tuple[float, float]:
        """Speed from now on, and until when: the timetable's next row or the next stop."""
        row = bisect.bisect_right(self._changes, now)
        change = self._changes[row] if row < len(self._changes) else math.inf
        stop = self._ahead[following][0] if following < len(self._ahead) else math.inf
        return self._speeds[row - 1][1], min(change, stop)

    def _forward(self, now_s: float) -> None:
        while self._now < now_s or self._until <= self._now:
            until = min(now_s, self._until)
            if until > self._now:
                self._travel += self._speed * (until - self._now)
                self._now = until
            while self._next < len(self._ahead) and self._ahead[self._next][0] <= self._now:
                self._next += 1
                self._stand(*self._ahead[self._next - 1])
            if self._until <= self._now:
                self._speed, self._until = self._stretch(self._now, self._next)

    def _stand(self, start_s: float, end_s: float) -> None:
        if self.stops and start_s <= self.stops[-1][1]:
            start, end = self.stops[-1]
            self.stops[-1] = (start, max(end, end_s))
        else:
            self.stops.append((start_s, end_s))
        if end_s > self._now:
            self._now = end_s
            self._until = min(self._until, end_s)  # looked at afresh by the next `_forward`

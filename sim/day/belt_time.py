"""Travel of the belt against time: speeds by timetable, frozen by stops.

Travel x(t) = ∫ v dt. Stops by the clock are known from the start; a car may add one when it is
caught. Stops only ever delay, so a position found to be reached at some time is reached then or
later, never earlier.
"""

from __future__ import annotations

import bisect
import math

from sim.inputs import Steps


class BeltTime:
    """The belt's position over a day.

    `stops` holds every stop that has begun, joined where they overlap, as (start, end) [s].
    """

    def __init__(
        self, start_s: float, speeds: Steps, clock_stops: tuple[tuple[float, float], ...]
    ) -> None:
        self._speeds = speeds
        self._changes = [row[0] for row in speeds]
        self._ahead = list(clock_stops)  # not yet begun, by start
        self._next = 0
        self._now = start_s  # the belt's state is known up to here; it stands if this lies ahead
        self._travel = 0.0
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
        while travel < travel_m:
            while following < len(self._ahead) and self._ahead[following][0] <= now:
                now = max(now, self._ahead[following][1])
                following += 1
            speed = self.speed(now)
            until = self._until(now, following)
            if travel + speed * (until - now) >= travel_m:
                return now + (travel_m - travel) / speed
            travel += speed * (until - now)
            now = until
        return max(now_s, now) if travel == travel_m and now > now_s else now_s

    def _until(self, now: float, following: int) -> float:
        """When speed next changes: the timetable's next row or the next stop."""
        row = bisect.bisect_right(self._changes, now)
        change = self._changes[row] if row < len(self._changes) else math.inf
        stop = self._ahead[following][0] if following < len(self._ahead) else math.inf
        return min(change, stop)

    def _forward(self, now_s: float) -> None:
        while True:
            while self._next < len(self._ahead) and self._ahead[self._next][0] <= self._now:
                self._stand(*self._ahead[self._next])
                self._next += 1
            if self._now >= now_s:
                return
            until = min(now_s, self._until(self._now, self._next))
            self._travel += self.speed(self._now) * (until - self._now)
            self._now = until

    def _stand(self, start_s: float, end_s: float) -> None:
        if self.stops and start_s <= self.stops[-1][1]:
            start, end = self.stops[-1]
            self.stops[-1] = (start, max(end, end_s))
        else:
            self.stops.append((start_s, end_s))
        self._now = max(self._now, end_s)

"""The clock of a site: which hours a day has, which come twice, and an hour as text."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

Hour = tuple[date, int, int]
"""Day, clock hour 0 to 23, and fold: 1 for the second of two equal hours, else 0."""


@lru_cache(maxsize=20_000)
def _times(zone: ZoneInfo, day: date) -> tuple[int, ...]:
    """How often each clock hour comes on a day: 1, or 0 or 2 when clocks change."""

    def offset(naive: datetime, fold: int = 0) -> timedelta | None:
        return naive.replace(tzinfo=zone, fold=fold).utcoffset()

    def times_of(naive: datetime) -> int:
        # Two readings of one clock time differ both in the hour left out and in the one repeated;
        # only the hour left out does not come back from universal time as it was.
        if offset(naive) == offset(naive, 1):
            return 1
        there = naive.replace(tzinfo=zone).astimezone(UTC).astimezone(zone)
        return 2 if there.replace(tzinfo=None, fold=0) == naive else 0

    hours = [datetime.combine(day, time(hour)) for hour in range(24)]
    try:
        is_plain = offset(hours[0] - timedelta(hours=1)) == offset(hours[-1])
    except OverflowError:
        is_plain = True
    return (1,) * 24 if is_plain else tuple(map(times_of, hours))


class SiteClock:
    """The clock of a site: which hours a day has, and which come twice."""

    def __init__(self, timezone: str) -> None:
        self.zone = ZoneInfo(timezone)

    def times(self, day: date, hour: int) -> int:
        """How often a clock hour comes on a day: 1, or 0 or 2 when clocks change."""
        return _times(self.zone, day)[hour]

    def offset_text(self, hour: Hour) -> str:
        """An hour as local time with its distance from universal time."""
        day, clock, fold = hour
        moment = datetime.combine(day, time(clock)).replace(tzinfo=self.zone, fold=fold)
        return moment.isoformat(timespec="minutes")

"""Which hour a line of an hourly file means, on the site's own clock."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.files.csv_table import Row
from sim.errors import InputProblem, quoted
from sim.units import parse_day

_ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_HOUR = re.compile(r"([0-9]{1,2})(?::00(?::00)?)?")
_START = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]([0-9]{2}:[0-9]{2}(?::[0-9]{2})?)"
    r"(Z|[+-][0-9]{2}:?[0-9]{2})?",
    re.IGNORECASE,
)

DAYS_REMEMBERED = 1_000
"""Texts of days that are remembered: lines of one day stand together."""

Hour = tuple[date, int, int]
"""Day, clock hour 0 to 23, and fold: 1 for the second of two equal hours, else 0."""


class SiteClock:
    """The clock of a site: which hours a day has, and which come twice."""

    def __init__(self, timezone: str) -> None:
        self.zone = ZoneInfo(timezone)
        self._times: dict[date, tuple[int, ...]] = {}

    def times(self, day: date, hour: int) -> int:
        """How often a clock hour comes on a day: 1, or 0 or 2 when clocks change."""
        if day not in self._times:
            self._times[day] = self._count(day)
        return self._times[day][hour]

    def _count(self, day: date) -> tuple[int, ...]:
        naive = [datetime.combine(day, time(hour)) for hour in range(24)]
        try:
            ends = (self._offset(naive[0] - timedelta(hours=1)), self._offset(naive[-1]))
        except OverflowError:
            return (1,) * 24
        if ends[0] == ends[1]:
            return (1,) * 24
        return tuple(self._times_of(moment) for moment in naive)

    def _offset(self, naive: datetime, fold: int = 0) -> timedelta | None:
        return naive.replace(tzinfo=self.zone, fold=fold).utcoffset()

    def _times_of(self, naive: datetime) -> int:
        # Two readings of one clock time differ both in the hour left out and in the one repeated;
        # only the hour left out does not come back from universal time as it was.
        if self._offset(naive) == self._offset(naive, 1):
            return 1
        there = naive.replace(tzinfo=self.zone).astimezone(UTC).astimezone(self.zone)
        return 2 if there.replace(tzinfo=None, fold=0) == naive else 0

    def offset_text(self, hour: Hour) -> str:
        """An hour as local time with its distance from universal time."""
        day, clock, fold = hour
        moment = datetime.combine(day, time(clock)).replace(tzinfo=self.zone, fold=fold)
        return moment.isoformat(timespec="minutes")


class HourReader:
    """Reads the hour of each line in turn and refuses an hour that is there already.

    A clock hour that comes twice when clocks go back may be given twice: the first line is the
    first of the two unless the time has a UTC offset.
    """

    def __init__(self, clock: SiteClock, file: str) -> None:
        self.clock = clock
        self.file = file
        self._days: dict[str, date | None] = {}
        self._named: dict[date, int] = {}
        self._lines: dict[int, int] = {}

    def hours_of(self, day: date) -> list[int]:
        """The clock hours of a day that some line named."""
        return [hour for hour in range(24) if self._named[day] >> hour & 1]

    @property
    def days(self) -> list[date]:
        """The days of which a line named an hour, in order."""
        return sorted(self._named)

    def _name(self, day: date, hour: int) -> None:
        self._named[day] = self._named.get(day, 0) | 1 << hour

    def read(self, row: Row) -> Hour | InputProblem:
        """The hour of a line, or why it has none."""
        where = f"{self.file}, line {row.line}"
        read = self._start(row, where) if "start" in row.cells else self._date_hour(row, where)
        if isinstance(read, InputProblem):
            return read
        day, hour, fold = read
        self._name(day, hour)
        times = self.clock.times(day, hour)
        if times == 0:
            sentence = (
                "{hour}:00 on {day} does not exist: clocks went forward over it. Leave this line "
                "out."
            )
            return InputProblem("hour", sentence, {"hour": hour, "day": str(day)}, where)
        wanted = range(times) if fold is None else (fold,)
        place = 48 * day.toordinal() + 2 * hour
        free = [f for f in wanted if place + f not in self._lines]
        if not free:
            first = self._lines[place + wanted[0]]
            sentence = "{hour}:00 on {day} is on line {first} already. Keep one of the two lines."
            if times == 2 and fold is None:
                sentence = (
                    "{hour}:00 on {day} came twice when clocks went back, and both are on earlier "
                    "lines, the first on {first}. Leave one out."
                )
            filling = {"hour": hour, "day": str(day), "first": first}
            return InputProblem("hour", sentence, filling, where)
        self._lines[place + free[0]] = row.line
        return day, hour, free[0]

    def mention(self, row: Row) -> None:
        """Take note of a line that is left out for another reason: its hour is not missing."""
        read = self._start(row, "") if "start" in row.cells else self._date_hour(row, "")
        if not isinstance(read, InputProblem):
            self._name(*read[:2])

    def _date_hour(self, row: Row, where: str) -> tuple[date, int, int | None] | InputProblem:
        cell = row.cells["date"]
        if cell not in self._days:
            if len(self._days) > DAYS_REMEMBERED:
                self._days.clear()
            self._days[cell] = _iso_date(cell)
        day = self._days[cell]
        if day is None:
            sentence = "date “{value}” is not a date. Write year-month-day, as in 2026-07-18."
            return InputProblem("date", sentence, {"value": quoted(cell)}, where)
        match = _HOUR.fullmatch(row.cells["hour"])
        if match is None or int(match.group(1)) > 23:
            sentence = (
                "hour “{value}” is not an hour of the day. Write 0 to 23 for the hour in which "
                "counting began; 7 means 7:00 to 8:00."
            )
            return InputProblem("hour", sentence, {"value": quoted(row.cells["hour"])}, where)
        return day, int(match.group(1)), None

    def _start(self, row: Row, where: str) -> tuple[date, int, int | None] | InputProblem:
        cell = row.cells["start"]
        match = _START.fullmatch(cell)
        moment = None
        if match:
            offset = (match.group(3) or "").upper().replace("Z", "+00:00")
            try:
                parse_day(match.group(1))
                moment = datetime.fromisoformat(f"{match.group(1)}T{match.group(2)}{offset}")
                if moment.tzinfo is not None:
                    moment = moment.astimezone(self.clock.zone)
            except (ValueError, OverflowError):
                moment = None
        if moment is None:
            sentence = (
                "start “{value}” is not a time. Write it as 2026-07-18T07:00 on the site’s clock, "
                "or with its UTC offset as in 2026-07-18T07:00-04:00."
            )
            return InputProblem("start", sentence, {"value": quoted(cell)}, where)
        if moment.minute or moment.second:
            sentence = (
                "start “{value}” is not a full hour of the site’s clock. Add up to whole hours "
                "first."
            )
            return InputProblem("start", sentence, {"value": quoted(cell)}, where)
        fold = None if moment.tzinfo is None else moment.fold
        return moment.date(), moment.hour, fold


def _iso_date(cell: str) -> date | None:
    if not _ISO_DATE.fullmatch(cell):
        return None
    try:
        return parse_day(cell)
    except ValueError:
        return None

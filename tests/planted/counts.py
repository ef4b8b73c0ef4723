"""Faults to plant where files of counts are read."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

EXPORTS = ("tests/files/test_exports.py",)

FAULTS: list[Fault] = [
    *faults_in(
        "app/files/look.py",
        EXPORTS,
        ("elif 0 in late.values() and max(late.values()) > 0:", "elif False:"),
        ("is_plain_step(steps):", "False:"),
        ("and not is_calendar(c, day, base.order) and not is_running(c)", ""),
        ("total = sum_of_others(several)", "total = None"),
        ("turns=half is None and turns_over(day.cells, clocks)", "turns=False"),
    ),
    *faults_in(
        "app/files/columns.py",
        EXPORTS,
        ("    if 1440 in minutes and 0 not in minutes:", "    if False:"),
        ("return (1440 in times and 0 not in times) or", "return"),
        ('return marks == ({","} if zeros else {"."})', "return False"),
    ),
    *faults_in(
        "app/files/export.py",
        EXPORTS,
        ("self.doubled.add((day, hour))", "pass"),
        ("        if day > self.today:", "        if False:"),
        ("            first = min(hours) if day == begin else 0", "            first = 0"),
        ("        elif held[0] == cars:", "        elif True:"),
        ("        if reading.is_end and minute > 0:", "        if False:"),
        ("        if reading.part and part != reading.part:", "        if False:"),
    ),
    *faults_in(
        "sim/learn/full_hours.py",
        ("tests/learn/test_full_hours.py",),
        ("if len(found) >= LEAST_DAYS and", "if"),
        (" and not is_above", ""),
        ('    if history.counted != "washed":', "    if False:"),
        (
            "within = [speed for start, speed in steps if 0.0 < start / 3600.0 - hour < 1.0]",
            "within = []",
        ),
    ),
    *faults_in(
        "sim/learn/day_totals.py",
        ("tests/learn/test_day_totals.py",),
        ("some = own if len(own) >= ENOUGH_DAYS and own.sum() > 0 else counts", "some = counts"),
        (
            "so_far = [round(cars * part / come[-1]) for part in come]",
            "so_far = [int(cars * part / come[-1]) for part in come]",
        ),
    ),
    *faults_in(
        "sim/learn/like_days.py",
        ("tests/learn/test_day_totals.py",),
        ("days = sorted(self.totals.keys() - self.spread)", "days = sorted(self.totals)"),
    ),
    *faults_in(
        "app/sites/differences.py",
        ("tests/learn/test_day_totals.py",),
        ("if row.day not in new & stays)", ")"),
        ("gone = {row.day for row in counts} & old\n", "gone = set()\n"),
    ),
]

"""Faults to plant where stops are counted and priced, and where days are held against plans."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

FAULTS: list[Fault] = [
    *faults_in(
        "sim/decide/stops/rates.py",
        ("tests/published/test_poisson_limits.py",),
        ("gammaincinv(count + 1, 1.0 - tail)", "gammaincinv(count, 1.0 - tail)"),
        ("tail = 0.5 * (1.0 - level)", "tail = 1.0 - level"),
        ("cars / high, cars / low if low else None)", "cars / high, cars / high)"),
    ),
    *faults_in(
        "sim/decide/stops/cost.py",
        ("tests/decide/test_stops.py",),
        ("if spans and start <= spans[-1][1]:", "if False:"),
        ("if one.cause not in causes]", "if one.cause in causes]"),
        ('"stops_per_h": 0.0, "stops_per_car": 0.0, ', ""),
    ),
    *faults_in(
        "app/files/stops_file.py",
        ("tests/files/test_stops_files.py",),
        ("self._seen[line] += 1", "pass"),
        ("        if day > self._today:", "        if False:"),
        ("(misfits(order), order != usual)", "order != usual"),
    ),
    *faults_in(
        "sim/learn/happened.py",
        ("tests/learn/test_happened.py",),
        ("(1.0 + all_day) * (mean**2 + hours)", "(1.0 + all_day) * mean**2"),
        ("    if was.high < days.low:", "    if False:"),
        ("if abs(apart) > SWITCH_SLACK_S:", "if apart > SWITCH_SLACK_S:"),
        ("min(1.0, end * there / expected)", "end"),
    ),
    *faults_in(
        "app/answers/happened.py",
        ("tests/learn/test_happened.py", "tests/pages/test_happened_page.py"),
        ("counts=tuple(row for row in past.counts if row.day < day)", "counts=past.counts"),
        ("return stored.data.stands_on is not None or at < opens", "return True"),
    ),
    *faults_in(
        "sim/learn/scored.py",
        ("tests/learn/test_scored.py",),
        ("one.came * (1.0 - one.told) ** 2", "one.came * (1.0 - one.told)"),
        ("brier - recalibrated, uncertainty", "recalibrated - brier, uncertainty"),
        ("max(1.0, math.fsum(squares) / freedom)", "1.0 + 0.0 * math.fsum(squares) / freedom"),
        ("count = float(days)", "count = float(of)"),
        ("if days < FEWEST_DAYS:", "if days < 2:"),
        ("    if logged.turned_away is None and logged.cars is None:", "    if False:"),
        ("_within(reduced, start, end) > 0.5 * HOUR_S", "_within(reduced, start, end) > 0.0"),
        ("if 0 <= (last - one.day).days < length]", "if 0 <= (last - one.day).days]"),
    ),
    *faults_in(
        "app/answers/scored.py",
        ("tests/pages/test_happened_page.py",),
        ('if one.planned.source != "stored":', "if True:"),
    ),
    *faults_in(
        "sim/learn/logged.py",
        ("tests/learn/test_happened.py",),
        ("(one for one in entries if one.counts)", "entries"),
        ("if late and late[-1] is not None:", "if False:"),
    ),
]

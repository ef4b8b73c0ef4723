"""A day that has ended, as its log has it: the evening before the next morning.

The cars are those that were counted, in each stretch between two counts; the wiping is as it was
switched, the air as it was felt, and a dry set is put on when one was. Every site then lives that
evening in place of the expected one (`sim.day.night`), so the next morning opens as wet as that
day left its cloth. Which sites are likely, what was counted and seen on the day does not tell here:
that is for measurements (`sim.learn.weigh_in`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sim.day.night import LoggedEvening, PreviousDay
from sim.decide.now.follow import parts_of_hours, with_cars_times
from sim.decide.now.so_far import DAY_END_S, HOUR_S, SoFar, so_far
from sim.inputs import Conditions, DemandSpread, LogEntry, Site
from sim.inputs.logbook import FULL, REDUCED
from sim.learn.felt import as_felt
from sim.learn.logged import LATEST_COUNT_S, Switch, reduced_windows, rule_of
from sim.learn.weighed_day import cars_until


def evening_as_logged(
    expected: PreviousDay, entries: Sequence[LogEntry], site: Site
) -> PreviousDay:
    """The last open day before as its log has it; as it was expected, where that was not kept until
    closing: an entry within the last hour or later that tells of cars, cloth or wiping.

    Args:
        entries: of that day.
    """
    conditions, line = expected.conditions, site.line
    known = so_far(entries, DAY_END_S, site, conditions.arrivals_per_h)
    if known.last_s is None or known.last_s < HOUR_S * line.close_h - LATEST_COUNT_S:
        return expected
    switches = [Switch(at, REDUCED if on else FULL) for at, on in known.switched]
    return LoggedEvening(
        _as_counted(as_felt(conditions, known.felt), known),
        expected.days_apart,
        expected.day,
        rule_of(reduced_windows(switches, DAY_END_S)) if switches else "",
        # one that was put on before opening is the dry set with which such a day begins
        tuple(at for at in known.sets_s if at > HOUR_S * line.open_h),
    )


def _as_counted(expected: Conditions, known: SoFar) -> Conditions:
    """The day with the cars that were washed: between two counts as many as the difference, and
    after the last one as many more or fewer than expected as before it."""
    times, totals = [at for at, _ in known.washed], [float(cars) for _, cars in known.washed]
    usual = np.array([cars_until(expected.arrivals_per_h, at) for at in times])
    if not times or usual[-1] <= 0.0:
        return expected
    between = np.diff(usual, prepend=0.0)
    factors = np.diff(totals, prepend=0.0) / np.where(between > 0.0, between, np.inf)
    factors = np.append(factors, totals[-1] / usual[-1])
    lived = with_cars_times(expected, parts_of_hours(times), factors)
    return replace(lived, spread=DemandSpread(0.0, 0.0))

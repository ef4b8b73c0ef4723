"""Damp hoods of the log as measurements of their day: what is believed of those very hoods.

An entry that of the last twenty hoods five were damp is a measurement like that of twenty hoods on
the page of measurements, of its day, wiped as the log says. What drawn sites would have left damp
of them on that day, with the cars that it had, is the share that is believed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from datetime import date

import numpy as np

from sim.day.engine import parallel_map
from sim.inputs import HOODS, LogEntry, Site, Weighing
from sim.inputs.logbook import DAMP_HOODS
from sim.learn.drift import Looked
from sim.learn.logged import logged_day, reduced_windows, rule_of
from sim.learn.weighed_day import WeighedDay, look_at


def hoods_noted(
    entries: Iterable[LogEntry], opens_s: float, closes_s: float
) -> tuple[Weighing, ...]:
    """Looks at hoods in some entries, as measurements, in order of time.

    Args:
        entries: of any days, with the switches of the wiping; those that were taken back count not.
        opens_s, closes_s: when the site opens and closes [s after midnight].
    """
    of_day = defaultdict[date, list[LogEntry]](list)
    for one in entries:
        if one.counts:
            of_day[one.day].append(one)
    found = []
    for day, noted in sorted(of_day.items()):
        switches = logged_day(noted, opens_s, closes_s).switches
        rule = rule_of(reduced_windows(switches, closes_s))
        found += [
            Weighing(HOODS, day, one.at_s, 0.0, 0.0, rule, one.of, min(one.count or 0, one.of))
            for one in sorted(noted, key=lambda one: one.place)
            if one.kind == DAMP_HOODS and one.of and one.at_s > opens_s
        ]
    return tuple(found)


def believed_of(
    sites: Sequence[Site],
    days: Sequence[WeighedDay],
    seed: int,
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> tuple[Looked, ...]:
    """Each look of some days with the share of damp hoods that is believed of it: the mean over
    drawn sites, each of which lives through the day once.

    Args:
        told: told how many days are done.
    """
    pieces = [(tuple(sites), day, seed) for day in days]
    found: list[Looked] = []
    for looks in parallel_map(_of_day, pieces, executor, told):
        found += looks
    return tuple(found)


def _of_day(piece: tuple[tuple[Site, ...], WeighedDay, int]) -> list[Looked]:
    sites, day, seed = piece
    seen = [look_at(site, [day], seed, number).damp[0] for number, site in enumerate(sites)]
    shares = np.mean(seen, axis=0).tolist()
    return [
        Looked(item.day, item.cars, item.damp_cars, share)
        for item, share in zip(day.weighings, shares, strict=True)
    ]

"""Damp hoods of the log as measurements of their day: what is believed of those very hoods.

An entry that of the last twenty hoods five were damp is a measurement like that of twenty hoods on
the page of measurements, of its day, wiped as the log says. What drawn sites would have left damp
of them on that day, with the cars that it had, is the share that is believed.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sim.day.engine import parallel_map
from sim.inputs import HOODS, LogEntry, Site, Weighing
from sim.inputs.logbook import DAMP_HOODS
from sim.learn.day_after_day import LivingSite
from sim.learn.drift import CERTAIN, Looked
from sim.learn.logged import logged_day, reduced_windows, rule_of
from sim.learn.weighed_day import WeighedDay
from sim.special import logit

Floats = NDArray[np.float64]
PATTERNS = 5
"""Main patterns in which drawn sites differ over all looks (principal components); a guess."""
SITES_KEPT = 16
"""Sites whose cars and tables a process keeps from day to day, as many as a log is held against."""


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
    items = [item for day in days for item in day.weighings]
    found = list(parallel_map(_of_day, pieces, executor, told))
    return looked_at(items, np.concatenate(found)) if found else ()


def _of_day(piece: tuple[tuple[Site, ...], WeighedDay, int]) -> Floats:
    sites, day, seed = piece
    seen = [_living(site, seed, number).damp(day) for number, site in enumerate(sites)]
    return np.array(seen).T


@lru_cache(maxsize=SITES_KEPT)
def _living(site: Site, seed: int, number: int) -> LivingSite:
    """Each day of a log comes back to the same sites."""
    return LivingSite(site, seed, number)


def looked_at(items: Sequence[Weighing], shares: Floats) -> tuple[Looked, ...]:
    """Looks with the mean of what drawn sites leave damp, and the main patterns in which these
    differ.

    Args:
        shares: of damp hoods; shape (looks, sites).
    """
    odds = logit(np.clip(shares, CERTAIN, 1.0 - CERTAIN))
    apart = odds - odds.mean(axis=1, keepdims=True)
    main, sizes, _ = np.linalg.svd(apart, full_matrices=False)
    ways = (main * sizes)[:, :PATTERNS] / math.sqrt(shares.shape[1])
    rows = zip(items, shares.mean(axis=1).tolist(), ways.tolist(), strict=True)
    return tuple(
        Looked(item.day, item.cars, item.damp_cars, share, tuple(differs))
        for item, share, differs in rows
    )

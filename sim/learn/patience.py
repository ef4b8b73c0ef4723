"""How long people are willing to wait, by the waits and the cars driven away of a log.

A noted wait is that of the last car on the belt; who drives away judged the line ahead of him, a
full stack turns others away, and a belt that stands lengthens both. No closed form has all of that,
but a simulated day has. So many sites as yours might be live the days that were noted, with the
cars that came; each would have noted waits at the same minutes and lost so many cars. What is left
of the guess is what made sites note about what was noted (approximate Bayesian computation):

- four numbers stand for a log: the share of cars that drove away, the means of the lower and of the
  upper half of the waits, and the wait that one in ten exceeds, logarithms all;
- a quadratic regression of the patience on them makes one number of the four (Fearnhead & Prangle
  2012, J. R. Stat. Soc. B 74:419–474, from memory);
- the nearest quarter of the sites counts by how near that number is, each moved along a straight
  line to where it were alike (Beaumont, Zhang & Balding 2002, Genetics 162:2025–2035, from memory).

Cars that are washed again are left out. Patience is on the standard normal scale of its guess
throughout.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import sobol_points
from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import draw_site, uncertain
from sim.day.engine import parallel_map
from sim.day.kernel import flow
from sim.day.kernel import tables as r
from sim.day.setup import prepare_day
from sim.inputs import Conditions, DemandSpread, LogEntry, Site
from sim.inputs.logbook import TURNED_AWAY, WAIT
from sim.learn.answer import LogFinding
from sim.learn.guesses import Guess, Left, finding, of_input
from sim.special import ndtri

Floats = NDArray[np.float64]
NAME = "patience_median_s"
OF_LINE = (
    "stops_per_h", "stops_per_car", "stop_median_s", "quick_payer_share", "quick_pay_mean_s",
    "slow_pay_mean_s", "load_mean_s", "second_loader_factor",
)  # fmt: skip
"""What else is not known of how fast a line is; drawn where the site has not entered it."""
SITES = 512
"""Drawn sites, a power of two."""
NEAREST = 0.25
"""Share of the sites that count."""
DAYS_MOST = 8
"""Days that each site lives: those of most noted waits, the newest first among like ones."""
WAITS_LEAST, DAYS_LEAST = 12, 3
"""With fewer nothing is told."""
SEED, BLOCK = 20261202, 0
AIR_C, AIR_HUMIDITY = 20.0, 0.5
"""Air of the days, which moves no car."""
LEAST_SHARE, LEAST_S = 0.002, 30.0
"""Added to the share of cars driven away and to waits before their logarithms are taken."""
MINUTE_S = 60.0
RIDGE = 1.0
FURTHER = 1.5
"""So many times as far out as the furthest drawn site lies what no site notes; a guess."""


@dataclass(frozen=True, slots=True)
class WaitDay:
    """A day on which waits and cars driven away were noted.

    Attributes:
        arrivals_per_h: cars that came, 24 hours; lost: of those, driven away.
        waits: time of each entry [s after midnight] and the wait noted [s], by time.
    """

    arrivals_per_h: tuple[float, ...]
    lost: int
    waits: tuple[tuple[float, float], ...]


def wait_days(
    entries: Sequence[LogEntry], cars: Mapping[date, Sequence[float]], is_washed: bool
) -> tuple[WaitDay, ...]:
    """Days that tell of patience, by entries that count.

    Args:
        cars: of counted days, by hour. is_washed: whether those were cars washed; then who drove
            away is added in proportion.
    """
    of: dict[date, tuple[list[tuple[float, float]], list[int]]] = {}
    for one in sorted(entries, key=lambda one: one.place):
        waits, lost = of.setdefault(one.day, ([], []))
        if one.kind == WAIT and one.counts and one.lasted_s is not None:
            waits.append((one.at_s, one.lasted_s))
        elif one.kind == TURNED_AWAY and one.counts:
            lost.append(one.count or 0)
    told = sorted(
        (day for day, (waits, lost) in of.items() if waits and lost and sum(cars.get(day, ()))),
        key=lambda day: (-len(of[day][0]), -day.toordinal()),
    )
    days = []
    for day in sorted(told[:DAYS_MOST]):
        waits, lost = of[day]
        share = sum(lost) / sum(cars[day]) if is_washed else 0.0
        came = tuple((1.0 + share) * one for one in cars[day])
        days.append(WaitDay(came, sum(lost), tuple(waits)))
    return tuple(days)


def is_enough(days: Sequence[WaitDay]) -> bool:
    """Whether days tell anything."""
    return len(days) >= DAYS_LEAST and sum(len(one.waits) for one in days) >= WAITS_LEAST


def lived(site: Site, day: WaitDay, seed: int) -> tuple[int, Floats]:
    """Cars driven away and waits [s] that somebody would have noted at a site on such a day."""
    conditions = Conditions(
        day.arrivals_per_h, (AIR_C,) * 24, (AIR_HUMIDITY,) * 24, 0.0, DemandSpread(0.0, 0.0)
    )
    cars = make_cars(DayDraw(seed), site, conditions)
    rows = flow(site, prepare_day(site, conditions), cars).rows
    count = int(rows.counts[r.ROWS])
    is_lost = rows.line[:count, r.LOST] != 0
    times = rows.times[:count][~is_lost]
    caught = times[:, r.CAUGHT]
    waited = caught - times[:, r.ARRIVAL] - (times[:, r.PAID] - times[:, r.PAY_START])
    order = np.argsort(caught)
    before = np.searchsorted(caught[order], [at_s for at_s, _ in day.waits], side="right")
    noted = np.append(0.0, waited[order])[before]
    return int(is_lost.sum()), MINUTE_S * np.round(noted / MINUTE_S)


def numbers_of(lost: float, came: float, waits: Floats) -> Floats:
    """The four numbers that stand for a log."""
    ordered = np.sort(waits)
    half = len(ordered) // 2
    long = [ordered[:half].mean(), ordered[half:].mean(), np.quantile(ordered, 0.9)]
    return np.log([lost / came + LEAST_SHARE, *(one + LEAST_S for one in long)])


def _of_site(piece: tuple[Site, tuple[WaitDay, ...], int]) -> Floats:
    """The four numbers of a site that lives the days."""
    site, days, number = piece
    found = [lived(site, day, SEED + 1000 * number + at) for at, day in enumerate(days)]
    came = sum(sum(day.arrivals_per_h) for day in days)
    return numbers_of(sum(lost for lost, _ in found), came, np.concatenate([w for _, w in found]))


def drawn_sites(
    site: Site, known: Collection[str], sites: int = SITES
) -> tuple[Floats, list[Site]]:
    """Patience on its scale, and sites as this one might be; what it entered of its line is known,
    but for patience, so that what the log told once is not counted twice."""
    names = tuple(one for one in uncertain(site, known) if one in OF_LINE)
    points = sobol_points(len(names) + 1, sites, SEED, BLOCK)
    z = np.asarray(ndtri(points[:, -1]))
    values = of_input(site, NAME).at(z).tolist()
    drawn = [draw_site(site, names, row) for row in points[:, :-1]]
    return z, [one.with_values({NAME: value}) for one, value in zip(drawn, values, strict=True)]


def patience_told(
    site: Site,
    known: Collection[str],
    days: tuple[WaitDay, ...],
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
    sites: int = SITES,
) -> LogFinding | None:
    """What the log tells of patience; None where there is too little, or where no drawn site notes
    anything like it.

    Args:
        known: inputs that the site entered itself. told: told how many sites are done.
    """
    if not is_enough(days):
        return None
    z, drawn = drawn_sites(site, known, sites)
    pieces = [(one, days, number) for number, one in enumerate(drawn)]
    numbers = np.array(list(parallel_map(_of_site, pieces, executor, told)))
    waits = np.array([wait for day in days for _, wait in day.waits])
    came = sum(sum(day.arrivals_per_h) for day in days)
    left = left_by(of_input(site, NAME), z, numbers,
                   numbers_of(sum(one.lost for one in days), came, waits))  # fmt: skip
    if left is None:
        return None
    return finding(site, WAIT, len(waits), len(days), (left,))


def left_by(guess: Guess, z: Floats, numbers: Floats, seen: Floats) -> Left | None:
    """What is left of a guess; None where what was seen is `FURTHER` times as far from the middle
    of the drawn sites as any of them.

    Args:
        z: of each drawn site, on the guess's scale; numbers: shape (sites, numbers); seen: its row.
    """
    middle, spread = numbers.mean(axis=0), numbers.std(axis=0) + 1e-9
    apart, here = (numbers - middle) / spread, (seen - middle) / spread
    inverse = np.linalg.pinv(np.cov(apart.T) + 1e-3 * np.eye(len(seen)))
    far = np.einsum("ij,jk,ik->i", apart, inverse, apart)
    if here @ inverse @ here > FURTHER**2 * far.max():
        return None
    terms = _quadratic(apart)
    weights = np.linalg.solve(terms.T @ terms + RIDGE * np.eye(terms.shape[1]), terms.T @ z)
    one, at = terms @ weights, float((_quadratic(here[None, :]) @ weights)[0])
    off = one - at
    reach = np.quantile(np.abs(off), NEAREST) + 1e-9
    near = np.maximum(1.0 - (off / reach) ** 2, 0.0)
    slope = np.cov(off, z, aweights=near)
    moved = z - slope[0, 1] / max(slope[0, 0], 1e-9) * off
    order = np.argsort(moved)
    order = order[near[order] > 0.0]
    return Left(guess, moved[order], near[order] / near.sum())


def _quadratic(x: Floats) -> Floats:
    """One, each number, and each product of two; a row a site."""
    count = x.shape[1]
    pairs = [x[:, i] * x[:, j] for i in range(count) for j in range(i, count)]
    return np.column_stack([np.ones(len(x)), x, *pairs])

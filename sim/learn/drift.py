"""Whether a site has changed: damp hoods of day after day against what is believed of it.

Each day on which hoods were looked at is held against the shares that the model leaves damp of
those very hoods. No belief is exact, so what is followed is not whether more hoods are damp than
believed, but whether that has changed. The site's own offset, the same on every day on a scale of
log odds, and how much further days scatter than luck of the draw alone are learnt from the days
before; each day is judged by those alone,

    z = Φ⁻¹(T(S / √(φ·V + V²·u))),   S = Σ (damp − n·p),   V = Σ n·p·(1 − p)

with p moved by the offset so far, u the square of its standard error, φ the scatter and T Student's
distribution with as many degrees of freedom as there are days behind it. While nothing changes z is
about standard normal and independent, whatever site it is (a self-starting chart; Hawkins 1987, The
Statistician 36:299–315, from memory). What z adds up to is watched by the two-sided cumulative sum
of Page (1954, Biometrika 41:100–115, from memory),

    C⁺ = max(0, C⁺ + z − k),   C⁻ = max(0, C⁻ − z − k),   alarm where one is above h.

With k = ½ and h = 5 it gives a false alarm once in 465 days in the mean, and finds a shift by one
standard deviation after 10.4 (Montgomery, Introduction to Statistical Quality Control, from
memory). A change is dated to the day after its sum was last zero. After an alarm the site is
learnt anew from that day on.

Few damp hoods are no normal number. Days are put together until the hoods of a judgement carry a
variance of `LEAST_VARIANCE`, so in months when hardly any car leaves damp hardly anything is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby, pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.special import expit, logit, ndtr, ndtri, stdtr

Floats = NDArray[np.float64]
Direction = Literal["wetter", "drier"]

SCHEMA = "clothcast.drift/1"
ALLOWANCE, LIMIT = 0.5, 5.0
"""k and h of the cumulative sum, in standard deviations."""
LEARNT = 20
"""Judgements of which a site's offset and scatter are learnt before any counts; a guess."""
LEAST_VARIANCE = 2.0
"""Variance of damp hoods from which on they are judged [hoods²]; a guess."""
CERTAIN = 0.01
"""Shares believed nearer to 0 or 1 than this are taken as so near: who looks errs as often."""
OFFSET_SD = 1.0
"""How far a site may be off what is believed of it, in log odds; a guess."""
SAME_WITHIN = timedelta(days=45)
"""An alarm that follows another within this, the same way, is of the same change; a guess."""
STEPS = 3
"""Newton steps from one day's offset to the next."""
LONGEST_STEP = 0.5
"""None of them goes further, or one might lead away [log odds]."""


@dataclass(frozen=True, slots=True)
class Looked:
    """Hoods looked at on a day: how many, how many were damp, and the share of damp ones that is
    believed of those very hoods, 0 to 1."""

    day: date
    hoods: int
    damp: int
    believed: float


@dataclass(frozen=True, slots=True)
class Judged:
    """Hoods of one day, or of some that were put together: the last day, and how far more (above
    zero) or fewer of them were damp than before, in standard deviations; both sums after it."""

    day: date
    off: float
    wetter: float
    drier: float


@dataclass(frozen=True, slots=True)
class Change:
    """Something changed.

    Attributes:
        since: the day from which on; noticed: the day on which the sum passed its limit.
        direction: more hoods are damp since, or fewer.
        before, after: mean share of damp hoods that a site like that before the change, and as it
            is since, leaves of the hoods looked at since; 0 to 1.
    """

    since: date
    noticed: date
    direction: Direction
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class DriftFound:
    """What a log of damp hoods tells of changes.

    Attributes:
        days, hoods: that were looked at.
        judged: judgements that were made, without those that a site was learnt from.
        changes: what was found, in order.
    """

    schema: str = field(default=SCHEMA, kw_only=True)
    first: date | None
    last: date | None
    days: int
    hoods: int
    judged: int
    changes: tuple[Change, ...]


def find_changes(looked: Iterable[Looked]) -> DriftFound:
    """Changes in a log of damp hoods.

    Args:
        looked: any number of looks a day, in any order.
    """
    by_day = [tuple(group) for _day, group in groupby(sorted(looked, key=_of_day), key=_of_day)]
    points = list(_together(by_day))
    changes: list[Change] = []
    start, judged = 0, 0
    while True:
        found = _first_alarm(points[start:])
        judged += max(0, len(found) - LEARNT)
        if not found or max(found[-1].wetter, found[-1].drier) <= LIMIT:
            break
        began = start + _began(found)
        _note(changes, points, start, began, found[-1])
        start = max(began, start + 1)
    every = [one for day in by_day for one in day]
    return DriftFound(
        every[0].day if every else None, every[-1].day if every else None,
        len(by_day), sum(one.hoods for one in every), judged, tuple(changes),
    )  # fmt: skip


def _of_day(one: Looked) -> date:
    return one.day


Point = tuple[Looked, ...]
"""Looks that are judged as one."""


def _together(by_day: Sequence[Point]) -> Iterable[Point]:
    """Looks of as many days as tell enough; a rest that tells too little is left for later."""
    waiting: list[Looked] = []
    for day in by_day:
        waiting += day
        hoods, share, _damp = _numbers(waiting)
        if (hoods * expit(share) * expit(-share)).sum() >= LEAST_VARIANCE:
            yield tuple(waiting)
            waiting = []


def _numbers(looks: Sequence[Looked]) -> tuple[Floats, Floats, Floats]:
    """Hoods, log odds of the share believed, and damp ones of some looks."""
    rows = np.array([(one.hoods, one.believed, one.damp) for one in looks], float)
    return rows[:, 0], logit(np.clip(rows[:, 1], CERTAIN, 1.0 - CERTAIN)), rows[:, 2]


@dataclass(slots=True)
class _Learnt:
    """A site's offset and scatter as they are known from the judgements before."""

    hoods: Floats
    odds: Floats
    damp: Floats
    ends: list[int] = field(default_factory=list)
    offset: float = 0.0

    def fit(self) -> tuple[float, float]:
        """Scatter φ, at least 1, and the squared standard error of the offset, which is fitted to
        all that was taken in."""
        first = slice(0, self.ends[-1] if self.ends else 0)
        hoods, odds, damp = self.hoods[first], self.odds[first], self.damp[first]
        information = 1.0 / OFFSET_SD**2
        for _ in range(STEPS):
            share = expit(odds + self.offset)
            information = float((hoods * share * (1.0 - share)).sum()) + 1.0 / OFFSET_SD**2
            slope = float((damp - hoods * share).sum()) - self.offset / OFFSET_SD**2
            self.offset += min(max(slope / information, -LONGEST_STEP), LONGEST_STEP)
        share = expit(odds + self.offset)
        off, variance = damp - hoods * share, hoods * share * (1.0 - share)
        scatter = [
            float(off[a:b].sum()) ** 2 / float(variance[a:b].sum())
            for a, b in pairwise([0, *self.ends])
        ]
        phi = max(1.0, math.fsum(scatter) / max(1, len(scatter) - 1)) if scatter else 1.0
        return phi, phi / information


def _first_alarm(points: Sequence[Point]) -> list[Judged]:
    """Judgements in order until the first alarm; those that the site is learnt from are zero."""
    if not points:
        return []
    hoods, odds, damp = _numbers([one for point in points for one in point])
    ends = np.cumsum([len(point) for point in points]).tolist()
    learnt = _Learnt(hoods, odds, damp)
    found: list[Judged] = []
    wetter = drier = 0.0
    for number, point in enumerate(points):
        off = 0.0
        phi, unsure = learnt.fit()
        if number >= LEARNT:
            now = slice(ends[number - 1], ends[number])
            share = expit(odds[now] + learnt.offset)
            variance = float((hoods[now] * share * (1.0 - share)).sum())
            score = float((damp[now] - hoods[now] * share).sum())
            ratio = score / math.sqrt(phi * variance + variance**2 * unsure)
            off = normal_score(ratio, number - 1)
            wetter = max(0.0, wetter + off - ALLOWANCE)
            drier = max(0.0, drier - off - ALLOWANCE)
        found.append(Judged(point[-1].day, off, wetter, drier))
        if max(wetter, drier) > LIMIT:
            break
        learnt.ends.append(ends[number])
    return found


def normal_score(ratio: float, freedom: int) -> float:
    """The standard normal number of the same probability as one of Student's t."""
    tail = float(stdtr(freedom, -abs(ratio)))
    return math.copysign(-float(ndtri(max(tail, 1e-300))), ratio)


def _began(found: Sequence[Judged]) -> int:
    """The judgement after the one at which the sum that passed its limit was last zero."""
    is_wetter = found[-1].wetter > LIMIT
    sums = [one.wetter if is_wetter else one.drier for one in found]
    return max((i + 1 for i, value in enumerate(sums) if value == 0.0), default=0)


def _note(
    changes: list[Change], points: Sequence[Point], start: int, began: int, alarm: Judged
) -> None:
    """Adds a change, or widens the one before, of which it is a part."""
    direction: Direction = "wetter" if alarm.wetter > LIMIT else "drier"
    since = points[began][0].day
    now = [one for point in points[began:] for one in point if one.day <= alarm.day]
    hoods, odds, damp = _numbers(now)
    before = [one for point in points[start:began] for one in point]
    offset = 0.0
    if before:
        learnt = _Learnt(*_numbers(before), ends=[len(before)])
        learnt.fit()
        offset = learnt.offset
    usual = float((hoods * expit(odds + offset)).sum() / hoods.sum())
    change = Change(since, alarm.day, direction, usual, float(damp.sum() / hoods.sum()))
    last = changes[-1] if changes else None
    if last and last.direction == direction and since - last.noticed <= SAME_WITHIN:
        changes[-1] = Change(last.since, last.noticed, direction, last.before, change.after)
        return
    changes.append(change)


# ---- how long such a chart runs ------------------------------------------------------------------

STATES = 300
"""States of the chain by which run lengths are worked out."""


def run_length(shift: float, allowance: float = ALLOWANCE, limit: float = LIMIT) -> float:
    """Mean number of judgements until an alarm of the two-sided cumulative sum, where each is
    normal with standard deviation 1 and a mean of `shift`.

    By the Markov chain of Brook and Evans (1972, Biometrika 59:539–549, from memory), a chain a
    side; the two sides of a sum of k and h alike never add up before one is at zero, so that their
    rates of alarms do (Van Dobben de Bruyn 1968, Cumulative Sum Tests, from memory).
    """
    sides = (_one_sided(sign * shift, allowance, limit) for sign in (1.0, -1.0))
    return 1.0 / math.fsum(1.0 / one for one in sides)


def _one_sided(shift: float, allowance: float, limit: float) -> float:
    width = 2.0 * limit / (2 * STATES - 1)
    at = np.arange(STATES) * width
    step = at[None, :] - at[:, None] + allowance - shift
    upper, lower = ndtr(step + 0.5 * width), ndtr(step - 0.5 * width)
    lower[:, 0] = 0.0
    return float(np.linalg.solve(np.eye(STATES) - (upper - lower), np.ones(STATES))[0])

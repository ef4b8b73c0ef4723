"""Whether a site has changed: damp hoods of day after day against what is believed of it.

Each day on which hoods were looked at is held against the shares that the model leaves damp of
those very hoods. No belief is exact, so what is followed is not whether more hoods are damp than
believed, but whether that has changed. The site's own offset, the same on every day on a scale of
log odds, and how much further days scatter than luck of the draw alone are learnt from the days
before; each day is judged by those alone,

    z = Φ⁻¹(T(S / √(φ·V + g′Ug))),   S = Σ (damp − n·p),   V = Σ n·p·(1 − p)

with p moved by the offset so far, U the covariance of what is known, g what S moves by with it, φ
the scatter and T Student's distribution with as many degrees of freedom as there are days behind
it. A season can be unlike what is believed of it, and sites as they might be differ in just that:
the main patterns in which they do are learnt like the offset, and where they differ much on days
unlike all before, U is wide and little is said. While nothing changes z is
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
    """Hoods looked at on a day.

    Attributes:
        hoods, damp: how many, and how many of them were damp.
        believed: share of damp ones that is believed of those very hoods, 0 to 1.
        differs: how far sites as they might be differ in that, in log odds: one standard deviation
            along each of the patterns in which they do over all looks; as many in every look.
    """

    day: date
    hoods: int
    damp: int
    believed: float
    differs: tuple[float, ...] = ()


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
        some = _numbers(waiting)
        if (some.hoods * expit(some.odds) * expit(-some.odds)).sum() >= LEAST_VARIANCE:
            yield tuple(waiting)
            waiting = []


@dataclass(frozen=True, slots=True)
class _Looks:
    """Some looks as numbers: hoods, log odds of the share believed, damp ones; and how far each
    moves with the offset (1) and with each pattern; shapes (looks,) and (looks, 1 + patterns)."""

    hoods: Floats
    odds: Floats
    damp: Floats
    ways: Floats


def _numbers(looks: Sequence[Looked]) -> _Looks:
    rows = np.array([(one.hoods, one.believed, one.damp) for one in looks], float)
    odds = logit(np.clip(rows[:, 1], CERTAIN, 1.0 - CERTAIN))
    ways = np.array([(1.0, *one.differs) for one in looks])
    return _Looks(rows[:, 0], np.asarray(odds), rows[:, 2], ways)


@dataclass(slots=True)
class _Learnt:
    """What is known of a site from the judgements before: its offset, and how far it lies along
    each pattern in which sites differ.

    Attributes:
        ends: how many looks each judgement that was taken in ends at.
        at: log odds for the offset, standard deviations for the patterns.
    """

    looks: _Looks
    ends: list[int] = field(default_factory=list)
    at: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.at = np.zeros(self.looks.ways.shape[1])

    def share(self, some: slice) -> Floats:
        """Share of damp hoods that is to be expected of some looks."""
        return np.asarray(expit(self.looks.odds[some] + self.looks.ways[some] @ self.at))

    def fit(self) -> tuple[float, Floats]:
        """Scatter φ, at least 1, and the covariance of what is known, fitted to all that was taken
        in: the greatest posterior, by Newton's steps."""
        some = slice(0, self.ends[-1] if self.ends else 0)
        hoods, damp, ways = self.looks.hoods[some], self.looks.damp[some], self.looks.ways[some]
        prior = np.eye(len(self.at))
        prior[0, 0] = 1.0 / OFFSET_SD**2
        information = prior
        for _ in range(STEPS):
            share = self.share(some)
            weight = hoods * share * (1.0 - share)
            information = ways.T @ (weight[:, None] * ways) + prior
            slope = ways.T @ (damp - hoods * share) - prior @ self.at
            step = np.linalg.solve(information, slope)
            self.at = self.at + np.clip(step, -LONGEST_STEP, LONGEST_STEP)
        share = self.share(some)
        off, variance = damp - hoods * share, hoods * share * (1.0 - share)
        scatter = [
            float(off[a:b].sum()) ** 2 / float(variance[a:b].sum())
            for a, b in pairwise([0, *self.ends])
        ]
        phi = max(1.0, math.fsum(scatter) / max(1, len(scatter) - 1)) if scatter else 1.0
        return phi, np.asarray(phi * np.linalg.inv(information), float)


def _first_alarm(points: Sequence[Point]) -> list[Judged]:
    """Judgements in order until the first alarm; those that the site is learnt from are zero."""
    if not points:
        return []
    looks = _numbers([one for point in points for one in point])
    ends = np.cumsum([len(point) for point in points]).tolist()
    learnt = _Learnt(looks)
    found: list[Judged] = []
    wetter = drier = 0.0
    for number, point in enumerate(points):
        off = 0.0
        phi, covariance = learnt.fit()
        if number >= LEARNT:
            now = slice(ends[number - 1], ends[number])
            share = learnt.share(now)
            weight = looks.hoods[now] * share * (1.0 - share)
            score = float((looks.damp[now] - looks.hoods[now] * share).sum())
            moves = weight @ looks.ways[now]
            unsure = float(moves @ covariance @ moves)
            ratio = score / math.sqrt(phi * float(weight.sum()) + unsure)
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
    before = [one for point in points[start:began] for one in point]
    looks = _numbers([*before, *now])
    learnt = _Learnt(looks, [len(before)] if before else [])
    learnt.fit()
    then = slice(len(before), None)
    hoods = looks.hoods[then]
    usual = float((hoods * learnt.share(then)).sum() / hoods.sum())
    change = Change(since, alarm.day, direction, usual, float(looks.damp[then].sum() / hoods.sum()))
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

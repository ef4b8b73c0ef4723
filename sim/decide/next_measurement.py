"""Which measurement to make tomorrow, and when, so that it helps a coming day most for its work.

As in `sim.decide.worth` sites are drawn from what is believed now, and each in turn is taken to be
the true one. Tomorrow it lives a day of its own; there each measurement is made at several hours,
with its errors, and the other sites are weighed by it. What counts is the expected value of sample
information (Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, from memory): by how much
the rule that is then best is expected to cost less than the one that is best now, by those weights,

    V = mean over what may be measured of (Σ w·loss(rule now) − min over rules of Σ w·loss(rule)).

This is what the choice is expected to save by what is known after the measurement, and has half the
luck of what it saves at the true sites themselves, which `worth` tells of each kind. It is never
below zero and a little too large where few sites are drawn, so a small one means nothing: offered
is what is worth a good part of the best, for each minute of its work.

Counting cars is no such measurement: how many come is luck of the day and no guess of the site's.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray

from sim.day.blocks import MOST_POINTS
from sim.day.engine import parallel_map
from sim.decide.switching.candidates import coarse_rules
from sim.decide.switching.question import SwitchQuestion
from sim.decide.worth import (
    FEW_LEFT,
    Lived,
    LookedAt,
    likelihood_of,
    look_at_all,
    measured_day,
)
from sim.inputs import AFTERNOON, EFFORT, HOODS, MEASURED, Site
from sim.learn.weigh_in import weigh

Floats = NDArray[np.float64]
SCHEMA = "clothcast.next/1"
STREAM = 31
SITES, TRUTHS = 128, 48
"""Sites drawn, a multiple of the points of a block, and how many are taken to be the true one."""
TOGETHER = 8
"""True sites of a piece of work."""
APART_S = 7_200.0
"""Hours at which hoods and strips are tried lie so far apart [s]."""
OFFERED = 3
"""So many kinds are offered at most."""
LEAST_PART = 0.1
"""Offered is what is worth at least this part of the best, for each minute; a guess."""
AT_AN_HOUR = (HOODS, AFTERNOON)
"""Kinds whose hour can be chosen, and matters."""


@dataclass(frozen=True, slots=True)
class Option:
    """A kind of measurement, and when [s after midnight]; None where its time isn't chosen."""

    kind: str
    at_s: float | None = None


@dataclass(frozen=True, slots=True)
class NextMeasurement:
    """What a measurement of tomorrow is expected to save on the day that it is for.

    Attributes:
        option: what and when.
        money: expected saving [$ a day]; run_error: half of its 95 % interval.
        changes: share of drawn sites at which it would change the rule, 0 to 1.
    """

    option: Option
    money: float
    run_error: float
    changes: float

    @property
    def per_minute(self) -> float:
        """For each minute of a person's work [$/min]."""
        return self.money / EFFORT[self.option.kind][0]


@dataclass(frozen=True, slots=True)
class WhatNext:
    """What to measure.

    Attributes:
        tomorrow: the day of the measurement; busy: the day whose advice it is for.
        sites: drawn.
        every: each kind at each hour, that of most worth a minute first.
    """

    schema: str = field(default=SCHEMA, kw_only=True)
    tomorrow: date
    busy: date
    sites: int
    every: tuple[NextMeasurement, ...]

    @property
    def offered(self) -> tuple[NextMeasurement, ...]:
        """The few kinds to make, each at its best hour; none where nothing saves a coin."""
        best: dict[str, NextMeasurement] = {}
        for one in self.every:
            best.setdefault(one.option.kind, one)
        least = LEAST_PART * self.every[0].per_minute if self.every else 0.0
        good = [one for one in best.values() if one.money >= 1.0 and one.per_minute >= least]
        return tuple(good[:OFFERED])

    def hours(self, kind: str) -> tuple[NextMeasurement, ...]:
        """A kind at each of its hours, in order of time."""
        some = [one for one in self.every if one.option.kind == kind]
        return tuple(sorted(some, key=lambda one: one.option.at_s or 0.0))


def options(site: Site, kinds: Sequence[str] = MEASURED) -> tuple[Option, ...]:
    """Every kind, those whose hour matters at several hours while the wash is open."""
    opens, closes = site.line.open_h * 3600.0, site.line.close_h * 3600.0
    hours = np.arange(opens + APART_S, closes - 0.25 * APART_S, APART_S).tolist()
    found = []
    for kind in kinds:
        found += [Option(kind, at) for at in hours] if kind in AT_AN_HOUR else [Option(kind)]
    return tuple(found)


def next_measurements(
    question: SwitchQuestion,
    tomorrow: SwitchQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    *,
    sites: int = SITES,
    truths: int = TRUTHS,
    kinds: Sequence[str] = MEASURED,
) -> tuple[NextMeasurement, ...]:
    """Every kind of measurement at each of its hours, the one worth most a minute first.

    Args:
        question: of the day that it is for; tomorrow: of the day on which it is made, at the same
            site.
        progress: told how many sites were looked at, of all to be looked at thrice over.
    """
    if not question.drawn:
        return ()
    rules = tuple(dict.fromkeys((question.rules[0], *coarse_rules(question.site))))
    total = 2 * sites + truths
    looked = look_at_all(question, rules, sites, executor, lambda n: progress(n, total))
    pieces = [(tomorrow, *divmod(number, MOST_POINTS)) for number in range(sites)]
    lived = list(parallel_map(_live, pieces, executor, lambda n: progress(sites + n, total)))
    ahead = on_another_day(looked, lived)
    every = options(tomorrow.site, kinds)
    jobs = [
        (tomorrow, ahead, range(first, min(truths, first + TOGETHER)), every)
        for first in range(0, truths, TOGETHER)
    ]
    rows = parallel_map(
        _of_truths, jobs, executor,
        lambda n: progress(2 * sites + min(truths, n * TOGETHER), total),
    )  # fmt: skip
    return ranked(every, np.concatenate(list(rows)))


def ranked(every: Sequence[Option], rows: Floats) -> tuple[NextMeasurement, ...]:
    """Options by what each is expected to save.

    Args:
        rows: saving and whether the rule changes; shape (truths, options, 2).
    """
    count = len(rows)
    found = [
        NextMeasurement(
            option, float(saved.mean()), 1.96 * float(saved.std(ddof=1)) / math.sqrt(count),
            float(changed.mean()),
        )
        for option, saved, changed in zip(every, rows[:, :, 0].T, rows[:, :, 1].T, strict=True)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: -one.per_minute))


def on_another_day(looked: LookedAt, lived: Sequence[Lived]) -> LookedAt:
    """The same sites and rules, measured on another day."""
    moistures, shares, last, before, left, was_damp = zip(*lived, strict=True)
    return replace(
        looked, moistures=np.array(moistures), shares=np.array(shares), last=np.array(last),
        before=np.array(before), left=left, was_damp=was_damp,
    )  # fmt: skip


def _live(piece: tuple[SwitchQuestion, int, int]) -> Lived:
    tomorrow, block, point = piece
    prepared = tomorrow.experiment.at(block, point).prepare()
    return measured_day(tomorrow, prepared, block * MOST_POINTS + point)


def _of_truths(job: tuple[SwitchQuestion, LookedAt, range, tuple[Option, ...]]) -> Floats:
    """Of some true sites what each option is expected to save and whether it changes the rule;
    shape (truths, options, 2)."""
    tomorrow, ahead, truths, every = job
    found = np.empty((len(truths), len(every), 2))
    for row, truth in zip(found, truths, strict=True):
        others = ~np.all(ahead.u == ahead.u[truth], axis=1)
        loss = ahead.loss[others]
        for place, option in enumerate(every):
            stream = Generator(PCG64(SeedSequence([tomorrow.seed, STREAM, truth, place])))
            log = likelihood_of(tomorrow, ahead, truth, option.kind, stream, option.at_s)[others]
            row[place] = expected_saving(loss, np.zeros(len(loss)), log)
    return found


def expected_saving(loss: Floats, known: Floats, log: Floats) -> tuple[float, float]:
    """What the rule that is best after a measurement is expected to save against the one that was
    best before it, and whether that is another one.

    Args:
        loss: of each rule at each site; shape (sites, rules).
        known, log: log-likelihood of the sites by what was known before, and by the measurement.
    """
    usual, few = np.zeros(len(loss), bool), FEW_LEFT * len(loss)
    now = int(np.argmin(weigh(known, usual, few).weights @ loss))
    after = weigh(known + log, usual, few).weights @ loss
    then = int(np.argmin(after))
    return float(after[now] - after[then]), float(then != now)

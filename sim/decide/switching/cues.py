"""The chosen rule in cues that a crew can see, each carried out as a crew does, and what it loses.

The cloth's saturation can't be seen. What says *when* to reduce in the chosen rule is therefore
replaced by one cue at a time: clock times, cars counted in the last hour, the weight of one strip
(`sim.day.cues`). Thresholds are found among a few (`cue_grid`) on fresh draws, and measured on
others, fresh again, beside the chosen rule and the ideal band, which act at once and know the
saturation. Weights are those of the site's own strip: at a drawn site that holds more or less
water the same weight is another saturation, as it would be for the crew.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import MOST_POINTS, Shape, take_apart
from sim.day.rules import Band, Clock, Rule
from sim.decide.switching.advice import (
    SITES,
    Against,
    Unit,
    compare_rules,
    price_of,
    standing,
)
from sim.decide.switching.cue_grid import CARS, CLOCK, STRIP, grids, read_off, time_terms, with_term
from sim.decide.switching.search import SwitchAnswer, SwitchQuestion
from sim.decide.switching.selection import excesses
from sim.decide.switching.variants import AS_IT_IS, Told, crossed_draws, outcomes, quiet
from sim.decide.switching.wish import COST, OUTCOMES, column, damp_share

Floats = NDArray[np.float64]

READ = 16
"""Draws on which thresholds are read off."""
TRIED = Shape(blocks=2, points=16, days=1)
ONE_SITE_TRIED = Shape(blocks=2, points=1, days=16)
"""Draws on which thresholds are chosen, with inputs drawn and without."""
MEASURED = Shape(blocks=8, points=16, days=2)
ONE_SITE_MEASURED = Shape(blocks=8, points=1, days=32)
"""Draws on which the chosen thresholds are measured."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A rule on the draws of `Cues`, means a day.

    Attributes:
        keeps: to the wish, within what does not matter: the chosen rule's own mean in the search
            and the difference to it here.
        loss: what it loses to the chosen rule by the wish, in `Cues.unit`; error_low, error_high:
            run error of that, 95 %.
    """

    rule: Rule
    damp_cars: float
    damp_share: float
    full_cars: float
    cost: float
    keeps: bool
    loss: float
    error_low: float
    error_high: float


@dataclass(frozen=True, slots=True)
class CueFound:
    """One cue with the thresholds found.

    Attributes:
        kind: `CLOCK`, `CARS` or `STRIP`.
        over_chosen, over_band: against the chosen rule, and against the ideal band (None where
            there is none, or where it is the chosen rule).
        tried: how many thresholds.
    """

    kind: str
    measured: Measured
    over_chosen: Against
    over_band: Against | None
    tried: int

    @property
    def rule(self) -> Rule:
        """As the crew carries it out."""
        return self.measured.rule


@dataclass(frozen=True, slots=True)
class Cues:
    """The chosen rule in cues.

    Attributes:
        found: at most one cue of each kind, in the order clock, cars, strip; a kind is left out
            where nothing told where its thresholds may lie.
        use: the kind that loses least by the wish; empty without any.
        chosen, band: the chosen rule and the ideal band on the same draws.
        unit: of losses: cars wiped in full, damp ones at the price at which the wish just asks
            for the chosen rule; damp cars, where no rule keeps to the wish; money.
        runs: simulated days, counted over rules; days: on which each cue was measured.
    """

    found: tuple[CueFound, ...]
    use: str
    chosen: Measured
    band: Measured | None
    unit: Unit
    runs: int
    days: int


def in_cues(
    answer: SwitchAnswer,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    tried: Shape | None = None,
    measured: Shape | None = None,
) -> Cues | None:
    """The chosen rule of an answer in cues; None where it does not say when to reduce.

    Args:
        progress: told of runs done and how many there will be about; it may raise to cancel.
        tried, measured: draws on which thresholds are chosen and measured.
    """
    question, chosen = answer.asked, answer.chosen
    if not time_terms(chosen):
        return None
    drawn = bool(question.drawn)
    tried = tried or (TRIED if drawn else ONE_SITE_TRIED)
    measured = measured or (MEASURED if drawn else ONE_SITE_MEASURED)
    band, windows = ideal(answer, Band), ideal(answer, Clock)
    sources = list(dict.fromkeys(rule for rule in (band, windows) if rule is not None))
    readings = read_off(question, sources, READ, executor, lambda done: progress(done, READ))
    clocks = [term for rule in sources for term in time_terms(rule) if isinstance(term, Clock)]
    tries = {
        kind: tuple(dict.fromkeys(with_term(chosen, cue) for cue in of_kind))
        for kind, of_kind in grids(question.site, clocks, readings).items()
    }
    value = _Value(answer)
    first = math.ceil(max(len(t) for t in answer.outcomes) / MOST_POINTS) + SITES.blocks
    draws = crossed_draws(question, tried, first)
    rules = (chosen, *(rule for kind in (CLOCK, CARS, STRIP) for rule in tries[kind]))
    table = outcomes(question, [(AS_IT_IS, rules)], draws, executor, progress)
    runs, at, best = READ * len(sources) + table.shape[0] * table.shape[1], 1, {}
    for kind in (CLOCK, CARS, STRIP):
        own = table[at : at + len(tries[kind])]
        at += len(tries[kind])
        if len(own):
            best[kind] = tries[kind][value.order(own, table[0])[0]]

    rules = tuple(dict.fromkeys((chosen, *([] if band is None else [band]), *best.values())))
    draws = crossed_draws(question, measured, first + tried.blocks)
    table = outcomes(question, [(AS_IT_IS, rules)], draws, executor, progress)
    runs += table.shape[0] * table.shape[1]
    shape = (measured.blocks, measured.points, measured.days, len(OUTCOMES))
    of = dict(zip(rules, table, strict=True))

    def against(rule: Rule, other: Rule) -> Against:
        return compare_rules(question, other, of[rule].reshape(shape), of[other].reshape(shape))

    seen = {rule: value.measure(rule, of[rule], of[chosen], shape[:3]) for rule in rules}
    found = tuple(
        CueFound(
            kind,
            seen[rule],
            against(rule, chosen),
            None if band is None or band == chosen else against(rule, band),
            len(tries[kind]),
        )
        for kind, rule in best.items()
    )
    least = min(found, key=lambda one: (not one.measured.keeps, one.measured.loss), default=None)
    return Cues(
        found,
        "" if least is None else least.kind,
        seen[chosen],
        None if band is None else seen[band],
        value.unit,
        runs,
        table.shape[1],
    )


def ideal(answer: SwitchAnswer, kind: type[Band] | type[Clock]) -> Rule | None:
    """The best candidate that says by one band, or by clock windows alone, when to reduce.

    It spares whom the chosen rule spares; where no candidate does, it spares nobody. Candidates
    with less than half the draws of the one with most are not looked at: with few draws some
    look better than they are.
    """
    chosen = answer.chosen
    if [type(term) for term in time_terms(chosen)] == [kind]:
        return chosen
    order, _ = standing(answer)
    for like in (chosen, Rule(((Clock(()),),))):
        wanted = with_term(like, Clock(()))
        fitting = [
            place
            for place in order
            if [type(term) for term in time_terms(answer.rules[place])] == [kind]
            and with_term(answer.rules[place], Clock(())) == wanted
        ]
        most = max((len(answer.outcomes[place]) for place in fitting), default=0)
        for place in fitting:
            if 2 * len(answer.outcomes[place]) >= most:
                return answer.rules[place]
    return None


class _Value:
    """What a rule is worth by the wish, in one number, beside the chosen rule."""

    def __init__(self, answer: SwitchAnswer) -> None:
        question, chosen = answer.asked, answer.selection.chosen
        self._question: SwitchQuestion = question
        self._own = answer.selection.burdens[:, chosen]
        self.unit: Unit = "full_cars" if answer.selection.keeps else "damp_cars"
        self._price = 0.0
        if question.wish.kind == "cost":
            self.unit = "money"
        elif self.unit == "full_cars":
            few = min(len(table) for table in answer.outcomes)
            common = np.stack([table[:few] for table in answer.outcomes])
            self._price = price_of(question, common, chosen)

    def of(self, table: Floats) -> Floats:
        """Worth of rules on draws, shape (rules, draws), more is better."""
        if self.unit == "money":
            return -column(table, COST)
        if self.unit == "damp_cars":
            return -column(table, "damp_cars")
        seen = self._question.wish.seen(table)
        return np.asarray(seen.worth - self._price * seen.burdens[1])

    def burdens(self, table: Floats, chosen: Floats) -> Floats:
        """Means of the wish's conditions: the search's of the chosen rule, and the differences."""
        seen = self._question.wish.seen(np.concatenate([chosen[None], table])).burdens.mean(axis=2)
        return np.asarray(self._own[:, None] + seen[:, 1:] - seen[:, :1])

    def order(self, table: Floats, chosen: Floats) -> Sequence[int]:
        """Rules in order of the wish, the best first.

        Those that keep to it come before those that miss it by less than matters; beyond that
        less is missed first.
        """
        excess = excesses(self.burdens(table, chosen), self._question.wish.aim)
        excess = np.where((excess > 0.0) & (excess < 1.0), 1.0, excess)
        worth = self._question.wish.seen(table).worth.mean(axis=1)
        found: list[int] = np.lexsort((-worth, excess)).tolist()
        return found

    def measure(
        self, rule: Rule, own: Floats, chosen: Floats, shape: tuple[int, int, int]
    ) -> Measured:
        """A rule's figures, and what it loses to the chosen one."""
        apart = (self.of(chosen[None]) - self.of(own[None]))[0].reshape(shape)
        parts = take_apart(apart)
        excess = excesses(self.burdens(own[None], chosen), self._question.wish.aim)
        return Measured(
            rule,
            float(column(own, "damp_cars").mean()),
            float(damp_share(own).mean()),
            float(column(own, "full_cars").mean()),
            float(column(own, COST).mean()),
            bool(excess[0] <= 1.0),
            parts.mean,
            parts.error_low,
            parts.error_high,
        )

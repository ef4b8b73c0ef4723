"""What is asked when a rule is chosen, and its days: outcomes on common draws.

A *draw* is a site as it might be on one of its days: a Sobol point over the guesses, sixteen to a
scrambling, each with a day of its own; or, with guesses at their middle values, a day alone.

A variant changes a drawn site after it was drawn, so that what it sets stays set; the evening
before stays what it was, so that the cloth opens equally wet unless the variant dries it.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from sim.checks import check_conditions, check_site
from sim.day.blocks import MOST_POINTS, Shape, day_block
from sim.day.drawn import Belief, drawn_names, prior_values
from sim.day.engine import Cell, Draw, Experiment, Replication, Told, Variant, quiet, simulate
from sim.day.figures import HOURLY, Prices, money_of
from sim.day.kernel.many import TALLY
from sim.day.night import EVENINGS, PreviousDay
from sim.day.rules import FULL, REDUCED, Rule, SetChange, parse_changes, parse_rule
from sim.decide.switching.candidates import candidates, coarse_rules, to_the_letter
from sim.decide.switching.choice import COST, Floats, Wish
from sim.errors import InputError, problems_of
from sim.inputs import Conditions, Site

WATER = ("water_taken_kg", "water_thrown_kg", "water_evaporated_kg")


@dataclass(frozen=True, slots=True)
class SwitchQuestion:
    """Everything that the answer depends on.

    Attributes:
        site: with its settings of the day.
        conditions, evening, cloth, known, belief: see `Experiment`.
        present: rule in use now, which the evening before was wiped by; a candidate as well, and
            the one taken among equals.
        among: candidates beside the present rule; None: those of `candidates`.
        planned: rules that stand in the day's plan; candidates as well, and kept to where nothing
            is better by what matters.
    """

    site: Site
    conditions: Conditions
    wish: Wish
    seed: int
    present: str = "full"
    cloth: str = ""
    evening: PreviousDay | None = None
    known: frozenset[str] | None = None
    belief: Belief | None = None
    among: tuple[Rule, ...] | None = None
    planned: tuple[str, ...] = ()

    @property
    def in_plan(self) -> tuple[Rule, ...]:
        """The rules of the plan; clock times for the crew as the windows that they stand for, from
        which the crew's clock times follow."""
        keys = [item.key for item in self.site.vehicles]
        return tuple(dict.fromkeys(to_the_letter(parse_rule(one, keys)) for one in self.planned))

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The candidates, each once, the present rule first."""
        present = parse_rule(self.present, [item.key for item in self.site.vehicles])
        among = candidates(self.site) if self.among is None else self.among
        return tuple(dict.fromkeys((present, *self.in_plan, FULL, REDUCED, *among)))

    @property
    def rivals(self) -> tuple[Rule, ...]:
        """Always full, and what it must be held against to say that it is enough.

        A wish for few damp cars says by itself when always full keeps to it; least cost needs
        others.
        """
        return coarse_rules(self.site) if self.wish.kind == "cost" else (FULL,)

    @property
    def drawn(self) -> tuple[str, ...]:
        """Names of the inputs that are drawn."""
        return drawn_names(self.site, self.known, self.belief)

    @property
    def scale_biases(self) -> list[float]:
        """Biases that the site's scale may have, each as likely as another; the one entered."""
        return prior_values(self.site, "scale_bias", self.known or frozenset())

    @property
    def middle(self) -> Site:
        """The site with its guesses at their middle values."""
        return self.site if self.belief is None else self.belief.middle(self.site)

    @property
    def experiment(self) -> Experiment:
        """Its days; the level of demand comes with each."""
        drawn = bool(self.drawn)
        return Experiment(
            self.site, self.conditions, self.seed, self.evening, parse_rule(self.present),
            self.known, self.belief, self.cloth,
            # one evening tells what the night leaves in the cloth of a drawn site
            evenings=1 if drawn else EVENINGS, evening_a_block=drawn,
        )  # fmt: skip


def check(question: SwitchQuestion) -> None:
    """Raise InputError with every problem of a question."""
    site = question.site
    problems = check_site(site)
    if not problems:
        problems += check_conditions(site, question.conditions)
    problems += problems_of(
        lambda: parse_rule(question.present, [item.key for item in site.vehicles], "present"),
        lambda: question.in_plan,
        lambda: parse_changes(question.cloth, site.wear.sets_owned),
    )
    if problems:
        raise InputError(problems)


# ---- draws ---------------------------------------------------------------------------------------


def search_draws(question: SwitchQuestion, count: int, first: int = 0) -> list[Draw]:
    """Draws as the question's own search numbers them, from a number on."""
    seed, numbers = question.seed, range(first, first + count)
    if not question.drawn:
        return [Draw(0, 0, (seed, number)) for number in numbers]
    places = (divmod(number, MOST_POINTS) for number in numbers)
    return [Draw(block, point, (seed, block, point)) for block, point in places]


def crossed_draws(question: SwitchQuestion, shape: Shape, first_block: int) -> list[Draw]:
    """Drawn sites crossed with days, in blocks from `first_block` on: draws not yet seen.

    In order of (block, point, day); see `sim.day.blocks`.
    """
    found = []
    for block, point, day in np.ndindex(shape.blocks, shape.points, shape.days):
        at = first_block + day_block(block, point, day, shape.blocks)
        seeds = (question.seed, at, MOST_POINTS + day)
        found.append(Draw(first_block + block, point, seeds))
    return found


def with_opening(question: SwitchQuestion) -> SwitchQuestion:
    """The question with its moisture at opening, where that is the same on every draw."""
    question = replace(question, among=None)
    if question.conditions.opening_moisture_kg_kg is not None or question.drawn:
        return question
    if (night := question.experiment.night(0)) is None:
        return question
    return replace(question, conditions=night.opened(question.middle, question.conditions))


def outcomes(
    question: SwitchQuestion,
    cells: Sequence[Cell],
    draws: Sequence[Draw],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> Floats:
    """Outcomes of every rule of every cell on every draw; shape (rules, draws, OUTCOMES)."""
    return simulate(question.experiment, cells, draws, read_outcomes, executor, progress)


def read_outcomes(day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]) -> Floats:
    """Outcomes of rules on one draw; shape (rules, OUTCOMES)."""
    found = day.tallies(rules, sets)
    return np.column_stack([found, costs_of(day.of.prices, found)])


def costs_of(prices: Prices, found: Floats) -> Floats:
    """Cost of a day under each of many rules from their tallies, shape (rules, len(TALLY))."""
    counts = dict(zip(TALLY, found.T, strict=True))
    return np.asarray(money_of(prices, counts, np.maximum(counts["last_s"], prices.close_s))[COST])


class Trials:
    """Days of a question that are run, and how many have been, counted over rules.

    Args:
        executor: runs pieces side by side; no figure depends on it.
        progress: told of runs done and in all; it may raise to give up.
        expected: runs that there will be in all, at least; None: each computation tells its own.
    """

    def __init__(
        self,
        question: SwitchQuestion,
        executor: Executor | None = None,
        progress: Told = quiet,
        expected: int | None = None,
    ) -> None:
        self.question, self.executor, self.runs = question, executor, 0
        self._progress, self._expected = progress, expected

    def _counting(self) -> Told:
        before = self.runs

        def told(done: int, total: int) -> None:
            self.runs = before + done
            if self._expected is None:
                self._progress(done, total)
            else:
                self._progress(self.runs, max(self.runs, self._expected))

        return told

    def outcomes(self, cells: Sequence[Cell], draws: Sequence[Draw]) -> Floats:
        """Outcomes of every rule of every cell on every draw; shape (rules, draws, OUTCOMES)."""
        return outcomes(self.question, cells, draws, self.executor, self._counting())

    def variants(
        self, variants: Sequence[Variant], rules: tuple[Rule, ...], draws: Sequence[Draw]
    ) -> Floats:
        """Outcomes of the same rules on each; shape (variants, rules, draws, OUTCOMES)."""
        table = self.outcomes([(one, rules) for one in variants], draws)
        return table.reshape(len(variants), len(rules), *table.shape[1:])

    def hours(self, cells: Sequence[Cell], draws: Sequence[Draw]) -> dict[str, Floats]:
        """Figures by clock hour of every rule of every cell, shape (rules, draws, 24), by name.

        Beside `HOURLY`: ``highest`` [saturation] and ``limit``, the site's damp limit, both with
        the same value in every hour.
        """
        days, told = self.question.experiment, self._counting()
        cube = simulate(days, cells, draws, _read_hours, self.executor, told)
        return {name: cube[:, :, at] for at, name in enumerate((*HOURLY, "highest", "limit"))}


def _read_hours(day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]) -> Floats:
    rows = []
    for rule in rules:
        found = day.figures(rule, sets)
        highest = np.full(24, found.day["saturation_max"])
        limit = np.full(24, day.of.numbers.damp_limit)
        rows.append([*(found.hours[name] for name in HOURLY), highest, limit])
    return np.array(rows)

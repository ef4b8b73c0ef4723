"""When to reduce wiping and when to go back: a search among rules on common draws.

A *draw* is a site as it might be on one of its days: a Sobol point over the guesses, sixteen to a
scrambling, each with a day of its own; or, with guesses at their middle values, a day alone. Every
rule meets the same draws. Where the cloth moves no car the line of a draw is computed once and
then the cloth alone a rule; else each rule has its whole day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sim.checks import check_conditions, check_site
from sim.day.belief import Belief, block_points
from sim.day.blocks import MOST_POINTS
from sim.day.costs import money_of, prices_of
from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.drawn import drawn_names
from sim.day.kernel import TALLY, Tables, make_tables, tallies
from sim.day.night import Evening, opened_after
from sim.day.priors import draw_site
from sim.day.rules import FULL, REDUCED, Rule, parse_changes, parse_rule
from sim.day.setup import DayNumbers, prepare_day
from sim.day.spread import spread
from sim.decide.switching.candidates import candidates, rank_of
from sim.decide.switching.choice import Seen
from sim.decide.switching.selection import FIRST_CUT, Effort, Selection, select
from sim.decide.switching.wish import COST, OUTCOMES, Wish
from sim.errors import InputError
from sim.inputs import Conditions, Site

Floats = NDArray[np.float64]

PRESENT = 0
"""Place of the present rule among the candidates."""
RULES_A_JOB = 96
"""Rules that a worker runs at a time on a draw: short enough to cancel."""


@dataclass(frozen=True, slots=True)
class SwitchQuestion:
    """Everything that the answer depends on.

    Attributes:
        site: with its settings of the day.
        conditions: what the day brings; without an opening moisture it comes from `evening`, and
            without that the day starts with a set put on dry.
        wish: what a rule is chosen by.
        present: rule in use now, which the evening before was wiped by; a candidate as well, and
            the one taken among equals.
        cloth: dry sets put on during the day, as text.
        known: inputs that the site entered itself, the other guesses are drawn; None: none is.
        belief: what weighings leave of the guesses, from which they are then drawn.
        among: candidates beside the present rule; None: those of `switch_candidates`.
    """

    site: Site
    conditions: Conditions
    wish: Wish
    seed: int
    present: str = "full"
    cloth: str = ""
    evening: Evening | None = None
    known: frozenset[str] | None = None
    belief: Belief | None = None
    among: tuple[Rule, ...] | None = None

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The candidates, each once, the present rule first."""
        present = parse_rule(self.present, [item.key for item in self.site.vehicles])
        among = candidates(self.site) if self.among is None else self.among
        return tuple(dict.fromkeys((present, FULL, REDUCED, *among)))

    @property
    def drawn(self) -> tuple[str, ...]:
        """Names of the inputs that are drawn."""
        return drawn_names(self.site, self.known, self.belief)

    def points(self, block: int) -> Floats:
        """Quantiles of a block's drawn sites; shape (`MOST_POINTS`, drawn)."""
        return _points(self.drawn, self.belief, self.seed, block)

    def drawn_site(self, block: int, point: int) -> Site:
        """The site as a point of a block has it; itself where none is drawn."""
        if not self.drawn:
            return self.middle
        return draw_site(self.site, self.drawn, self.points(block)[point])

    @property
    def middle(self) -> Site:
        """The site with its guesses at their middle values."""
        return self.site if self.belief is None else self.belief.middle(self.site)


@dataclass(frozen=True, slots=True)
class SwitchAnswer:
    """The answer to a `SwitchQuestion`.

    Attributes:
        rules: the candidates; numbers below are places among them, the present rule is 0.
        selection: the choice and how sure it is.
        outcomes: of each rule, shape (its draws, OUTCOMES); draws are common to all.
    """

    asked: SwitchQuestion
    rules: tuple[Rule, ...]
    selection: Selection
    outcomes: tuple[Floats, ...]

    @property
    def chosen(self) -> Rule:
        """The rule chosen."""
        return self.rules[self.selection.chosen]

    def paired(self, rule: int, other: int) -> tuple[Floats, Floats]:
        """Outcomes of two rules on the draws that both have had."""
        draws = min(len(self.outcomes[rule]), len(self.outcomes[other]))
        return self.outcomes[rule][:draws], self.outcomes[other][:draws]


# ---- draws ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class World:
    """One draw: a site, its day and the cars that come.

    Each draw has a day of its own, so the level of demand comes with the day.
    """

    site: Site
    day: DayNumbers
    cars: DayCars
    tables: Tables


@lru_cache(maxsize=8)
def _points(drawn: tuple[str, ...], belief: Belief | None, seed: int, block: int) -> Floats:
    """Every draw of a block needs them, and scrambling takes longer than a day."""
    return block_points(drawn, belief, MOST_POINTS, seed, block)


@lru_cache(maxsize=1)
def draw_world(question: SwitchQuestion, number: int) -> World:
    """Site, day and cars of a draw; a worker keeps the last one, which it is often asked for."""
    conditions = question.conditions
    block, point = divmod(number, MOST_POINTS)
    site = question.drawn_site(block, point)
    seed = (question.seed, block, point) if question.drawn else (question.seed, number)
    if question.evening is not None and conditions.opening_moisture_kg_kg is None:
        # one evening tells what the night leaves in the cloth of a drawn site
        conditions = open_cloth(question, site, question.seed + block, days=1)
    day = prepare_day(site, conditions)
    cars = make_cars(DayDraw(*seed), site, conditions)
    return World(site, day, cars, make_tables(site, day))


def open_cloth(question: SwitchQuestion, site: Site, seed: int, days: int) -> Conditions:
    """The day's conditions with what the evening and the night leave in the cloth."""
    rule = parse_rule(question.present)
    return opened_after(site, question.conditions, question.evening, rule, seed, days)


Job = tuple[SwitchQuestion, int, tuple[Rule, ...]]


def run_rules(job: Job) -> Floats:
    """Outcomes of some rules on one draw; shape (rules, OUTCOMES)."""
    question, number, rules = job
    world = draw_world(question, number)
    site, day = world.site, world.day
    changes = parse_changes(question.cloth, site.wear.sets_owned)
    found = tallies(site, day, world.cars, rules, changes, tables=world.tables)
    return np.column_stack([found, costs_of(site, day, found)])


def costs_of(site: Site, day: DayNumbers, found: Floats) -> Floats:
    """Cost of a day under each of many rules from their tallies, shape (rules, len(TALLY))."""
    counts = dict(zip(TALLY, found.T, strict=True))
    closed = np.maximum(counts["last_s"], day.close_s)
    return np.asarray(money_of(prices_of(site, day), counts, closed)[COST])


# ---- the search ----------------------------------------------------------------------------------


class _Runs:
    """Runs rules on draws, keeps all outcomes and says how far it is."""

    def __init__(
        self,
        question: SwitchQuestion,
        executor: Executor | None,
        progress: Callable[[int, int], None],
        expected: int,
    ) -> None:
        self._question, self._executor, self._progress = question, executor, progress
        self.rules = question.rules
        self.outcomes: list[Floats] = [np.empty((0, len(OUTCOMES)))] * len(self.rules)
        self._done, self._expected = 0, expected

    def sample(self, chosen: Sequence[int], first: int, last: int) -> Seen:
        """A sampler of `sim.decide.switching.selection`."""
        pieces = [chosen[at : at + RULES_A_JOB] for at in range(0, len(chosen), RULES_A_JOB)]

        def told(done: int) -> None:
            self._done += len(pieces[(done - 1) % len(pieces)])
            self._progress(self._done, max(self._done, self._expected))

        answers = spread(run_rules, self._jobs(pieces, first, last), self._executor, told)
        table = np.empty((len(chosen), last - first, len(OUTCOMES)))
        for draw in range(last - first):
            at = 0
            for piece in pieces:
                table[at : at + len(piece), draw] = next(answers)
                at += len(piece)
        for place, one in enumerate(chosen):
            self.outcomes[one] = np.concatenate([self.outcomes[one], table[place]])
        return self._question.wish.seen(table)

    def _jobs(self, pieces: Sequence[Sequence[int]], first: int, last: int) -> Iterator[Job]:
        packs = [tuple(self.rules[one] for one in piece) for piece in pieces]
        # the candidates travel once, as what a piece runs, not with the question as well
        question = replace(self._question, among=None)
        if question.conditions.opening_moisture_kg_kg is None and not question.drawn:
            opened = open_cloth(question, question.middle, question.seed, days=8)
            question = replace(question, conditions=opened)
        for number in range(first, last):
            for pack in packs:
                yield question, number, pack


def search(
    question: SwitchQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    *,
    effort: Effort | None = None,
    exhaustive: bool = False,
) -> SwitchAnswer:
    """The best rule of a day by the wish; see `sim.decide.switching.selection` for how it is found.

    Args:
        executor: runs the rules side by side; the answer does not depend on it.
        progress: told of runs done, and how many there will be at least. An error that it raises
            ends the search.
        exhaustive: drop no candidate.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    check(question)
    effort = effort or Effort()
    count = len(question.rules)
    expected = count * effort.sure if exhaustive else planned_runs(count, effort)
    runs = _Runs(question, executor, progress, expected)
    stay = {runs.rules.index(rule) for rule in (runs.rules[PRESENT], FULL, REDUCED)}
    found = select(
        count,
        runs.sample,
        question.wish.aim,
        effort,
        question.seed,
        ranks=np.array([rank_of(rule) for rule in runs.rules]),
        stay=stay,
        exhaustive=exhaustive,
    )
    return SwitchAnswer(question, runs.rules, found, tuple(runs.outcomes))


def planned_runs(count: int, effort: Effort) -> int:
    """Runs until every survivor has the draws it gets at least."""
    total, draws, kept = count * effort.first, effort.first, count
    while draws < effort.sure:
        kept = min(kept, max(kept // (FIRST_CUT if draws == effort.first else 2), effort.keep))
        total += kept * draws
        draws *= 2
    return total


def check(question: SwitchQuestion) -> None:
    """Raise InputError with every problem of a question."""
    site = question.site
    problems = check_site(site)
    if not problems:
        problems += check_conditions(site, question.conditions)
    for field in (
        lambda: parse_rule(question.present, [item.key for item in site.vehicles], "present"),
        lambda: parse_changes(question.cloth, site.wear.sets_owned),
    ):
        try:
            field()
        except InputError as fault:
            problems += fault.problems
    if problems:
        raise InputError(problems)

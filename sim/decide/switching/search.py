"""When to reduce wiping and when to go back: a search among rules on common draws.

Every rule meets the same draws. Where the cloth moves no car the line of a draw is computed once
and then the cloth alone a rule; else each rule has its whole day.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.engine import AS_IT_IS
from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.switching.candidates import rank_of
from sim.decide.switching.choice import Seen
from sim.decide.switching.question import (
    SwitchQuestion,
    check,
    outcomes,
    search_draws,
    with_opening,
)
from sim.decide.switching.selection import FIRST_CUT, Effort, Selection, select
from sim.decide.switching.wish import OUTCOMES

Floats = NDArray[np.float64]

PRESENT = 0
"""Place of the present rule among the candidates."""


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
        self._question = with_opening(question)
        self._executor, self._progress = executor, progress
        self.rules = question.rules
        self.outcomes: list[Floats] = [np.empty((0, len(OUTCOMES)))] * len(self.rules)
        self._done, self._expected = 0, expected

    def sample(self, chosen: Sequence[int], first: int, last: int) -> Seen:
        """A sampler of `sim.decide.switching.selection`."""
        before = self._done

        def told(done: int, _: int) -> None:
            self._done = before + done
            self._progress(self._done, max(self._done, self._expected))

        rules = tuple(self.rules[one] for one in chosen)
        draws = search_draws(self._question, last - first, first)
        table = outcomes(self._question, [(AS_IT_IS, rules)], draws, self._executor, told)
        for place, one in enumerate(chosen):
            self.outcomes[one] = np.concatenate([self.outcomes[one], table[place]])
        return self._question.wish.seen(table)


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

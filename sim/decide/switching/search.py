"""When to reduce wiping and when to go back: a search among rules on common draws.

Every rule meets the same draws, so that differences between two are far surer than either.

*Dropping* is sequential halving (Karnin, Koren & Somekh 2013, Almost optimal exploration in
multi-armed bandits, ICML, from memory): rounds of about equal cost, each with twice the draws a
candidate, after each of which the worse half (after the first, seven eighths) is dropped. For a
single figure with independent normal differences of standard deviation s a round of n draws that
keeps m of k drops the best with probability at most k/m · exp(−n·d²/(4·s²)), where d is the least
lead of the best over the m/2 last of those kept: expected number of candidates that pass it by
luck over number that must (Markov). With conditions the order is that of the probability of being
good, and the bound is no longer proven; tests hold the claim against fresh draws instead.

*How sure*: the probability that the choice is good, over what the draws leave open of all means
jointly (Bayesian bootstrap: Rubin 1981, Annals of Statistics 9:130–134; probability of good
selection as in Branke, Chick & Schmidt 2007, Management Science 53:1916–1932, from memory). A
candidate dropped early counts with the draws that it had, by its differences to the choice. The
same is counted *among what a crew can carry out*, since a band, which goes by a saturation that
nobody sees, is no advice that somebody else could follow: only a choice that is a band itself, for
which cues stand, is held against all.

*The choice* goes by the order of `sim.decide.switching.choice` among those that are left; half of
those kept after each round are the simplest that may yet be good, for its third step.

*Taking back*: those left may all turn out to break a condition, having been chosen for seeming to
keep it. While the choice is not sure enough, candidates that were dropped but are more probably
good than it come back, a few at a time, and catch up on its draws.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence

from sim.day.engine import AS_IT_IS, Told, quiet
from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.switching.candidates import rank_of
from sim.decide.switching.choice import (
    ADVISED,
    IN_PLAN,
    IN_USE,
    OUTCOMES,
    UNSAID,
    Bools,
    Floats,
    Ints,
    Objective,
    Samples,
    are_good,
    choose,
    excesses,
    joined,
    shortfalls,
)
from sim.decide.switching.question import SwitchQuestion, Trials, check, search_draws, with_opening

WEIGHINGS = 1_000
"""Weightings of the draws by which a probability is counted."""
STREAM = 11
PLAUSIBLE = 0.1
"""A candidate at least so probably good is kept for its simplicity."""
ALTERNATIVE = 0.05
"""What so many weightings end at is told beside the choice."""
FIRST_CUT = 8
"""One of so many candidates is kept after the first round."""


@dataclass(frozen=True, slots=True)
class SamplingBudget:
    """How many draws: `first` for every candidate, `sure` (first · 2ⁿ) for the survivors at least,
    `most` for the last few while the choice is less sure than `target`.

    Attributes:
        keep: candidates that are never dropped for want of draws, and that may come back at a time.
        returns: how often some may come back.
    """

    first: int = 16
    sure: int = 256
    most: int = 1024
    target: float = 0.95
    keep: int = 4
    returns: int = 6


SMALL = SamplingBudget(first=16, sure=32, most=32)
"""Draws of a search among some hundred rules."""

Sampler = Callable[[Sequence[int], int, int], Samples]
"""Asked for numbers of candidates, and for draws `first` to `last` − 1."""


@dataclass(frozen=True, slots=True)
class Selection:
    """The choice.

    Attributes:
        keeps: whether the chosen one keeps to every condition by its mean over its draws.
        probability: that it is good, see `are_good`.
        by_crew: that it is among what a crew can carry out; `probability` where it is none of it.
        settled: how often the whole order of choice ends at it, the draws weighted at random.
        others: what else it ends at, with how often, the most frequent first.
        draws: of each candidate, shape (candidates,); worth, burdens: its means over them, shapes
            (candidates,) and (conditions, candidates); good: probability that it is, 0 for those
            dropped.
    """

    chosen: int
    keeps: bool
    probability: float
    by_crew: float
    settled: float
    others: tuple[tuple[int, float], ...]
    draws: Ints
    worth: Floats
    burdens: Floats
    good: Floats

    @property
    def certainty(self) -> float:
        """How sure the choice is: that it is good among what a crew can carry out, and that the
        order of choice ends at it."""
        return min(self.by_crew, self.settled)

    @property
    def runs(self) -> int:
        """Runs made in all."""
        return int(self.draws.sum())


def select(
    count: int,
    sampler: Sampler,
    aim: Objective,
    effort: SamplingBudget,
    seed: int,
    *,
    ranks: Ints | None = None,
    by_crew: Bools | None = None,
    turns: Ints | None = None,
    stay: Collection[int] = (),
    exhaustive: bool = False,
) -> Selection:
    """Choose among `count` candidates; of equals the one with the lowest number.

    Args:
        ranks: of each candidate, the simplest lowest; None: all are equally simple.
        by_crew: whether a crew can carry it out, of each candidate; None: all.
        turns: of each candidate, see `choose`; None: nobody said anything.
        stay: candidates that are never dropped, beside those that were said.
        exhaustive: give every candidate `effort.sure` draws and drop none.
    """
    ranks = np.zeros(count, np.int64) if ranks is None else ranks
    by_crew = np.ones(count, np.bool_) if by_crew is None else by_crew
    turns = np.full(count, UNSAID, np.int64) if turns is None else turns
    said = np.flatnonzero(turns < UNSAID).tolist()
    pool = _Pool(ranks, by_crew, turns, sampler, aim, seed, frozenset((*stay, *said)))
    if exhaustive:
        pool.reach(effort.sure)
        return pool.answer()
    draws, kept = effort.first, count
    pool.reach(draws)
    while draws < effort.sure:
        kept //= FIRST_CUT if draws == effort.first else 2
        draws *= 2
        pool.drop_to(max(kept, effort.keep))
        pool.reach(draws)
    answer, returns = pool.answer(), effort.returns
    while answer.certainty < effort.target:
        if returns and pool.take_back(answer.chosen, effort.keep):
            returns -= 1
        elif draws < effort.most:
            kept //= 2
            draws *= 2
            pool.drop_to(max(kept, effort.keep))
        else:
            break
        pool.reach(draws)
        answer = pool.answer()
    return answer


class _Pool:
    """Candidates with what was seen of them."""

    def __init__(
        self,
        ranks: Ints,
        by_crew: Bools,
        turns: Ints,
        sampler: Sampler,
        aim: Objective,
        seed: int,
        stay: frozenset[int],
    ) -> None:
        self._ranks, self._sampler, self._aim, self._seed = ranks, sampler, aim, seed
        self._by_crew, self._turns, self._stay = by_crew, turns, stay
        self._alive = list(range(len(ranks)))
        self._seen: dict[int, Samples] = {}
        self._likely = np.zeros(len(ranks))  # how often each is good beside the last choice
        self._weighings: dict[int, Floats] = {}
        self._beside = -1, np.empty((0, 0, 0)), np.empty(0, np.int64)  # see `_apart`

    def _draws(self, one: int) -> int:
        return self._seen[one].worth.shape[1] if one in self._seen else 0

    def reach(self, draws: int) -> None:
        """See every candidate that is left on so many draws in all."""
        for had in sorted({self._draws(one) for one in self._alive} - {draws}):
            group = [one for one in self._alive if self._draws(one) == had]
            seen = self._sampler(group, had, draws)
            for place, one in enumerate(group):
                more = seen.of([place])
                self._seen[one] = joined([self._seen[one], more], -1) if had else more

    def drop_to(self, kept: int) -> None:
        """Keep so many and those that stay: half of them the simplest of those that may be good,
        the others the most probably good, of equals the better."""
        if kept >= len(self._alive):
            return
        seen = self._stacked(self._alive)
        likely, (worth, burdens) = self._good(seen), seen.means
        excess = shortfalls(burdens, self._aim)
        order = np.lexsort((-worth, excess, -likely))
        ranks = np.where(likely >= PLAUSIBLE, self._ranks[self._alive], np.iinfo(np.int64).max)
        plain = np.lexsort((-worth, excess, ranks))
        plain = plain[likely[plain] >= PLAUSIBLE][: kept // 2]
        best = list(dict.fromkeys([*plain.tolist(), *order.tolist()]))[:kept]
        self._alive = sorted({self._alive[place] for place in best} | self._stay)

    def take_back(self, chosen: int, most: int) -> bool:
        """Let dropped ones back that are more probably good than the choice of the last answer, the
        most probable first, of equals the lowest number; False: there is none."""
        likely = self._likely.copy()
        own = float(likely[chosen])
        likely[self._alive] = 0.0
        back = np.argsort(-likely, kind="stable")[:most]
        found = [one for one in back.tolist() if likely[one] > own]
        self._alive = sorted([*self._alive, *found])
        return bool(found)

    def answer(self) -> Selection:
        """The choice by what has been seen; see `sim.decide.switching.choice`."""
        seen, ranks = self._stacked(self._alive), self._ranks[self._alive]
        turns, able = self._turns[self._alive], self._by_crew[self._alive]
        place = int(choose(seen, self._aim, ranks, turns=turns, by_crew=able)[0])
        weights = self._weights(seen.worth.shape[1])
        again = choose(seen, self._aim, ranks, weights, turns=turns, by_crew=able)
        shares = np.bincount(again, minlength=len(self._alive)) / len(again)
        likely = np.argsort(-shares, kind="stable").tolist()
        good = np.zeros(len(self._ranks))
        good[self._alive] = self._good(seen)
        chosen = self._alive[place]
        every = [self._seen[one] for one in range(len(self._ranks))]
        good_of_all, good_by_crew = self._good_beside(chosen)
        self._likely = good_of_all
        return Selection(
            chosen,
            bool(excesses(seen.burdens[:, place].mean(axis=1), self._aim) <= 0.0),
            float(good_of_all[chosen]),
            float(good_by_crew[chosen]),
            float(shares[place]),
            tuple(
                (self._alive[other], float(shares[other]))
                for other in likely
                if other != place and shares[other] >= ALTERNATIVE
            ),
            np.array([one.worth.shape[1] for one in every], dtype=np.int64),
            np.array([one.worth.mean() for one in every]),
            np.array([one.burdens[:, 0].mean(axis=1) for one in every]).T,
            good,
        )

    def _stacked(self, chosen: Sequence[int]) -> Samples:
        return joined([self._seen[one] for one in chosen], -2)

    def _weights(self, draws: int) -> Floats:
        """Weightings of the first draws, shape (WEIGHINGS, draws); fewer are part of more."""
        if draws not in self._weighings:
            stream = Generator(PCG64(SeedSequence([self._seed, STREAM])))
            # a column a draw, so that the first columns are the same however many there are
            parts = stream.standard_exponential((draws, WEIGHINGS)).T
            self._weighings[draws] = parts / parts.sum(axis=1, keepdims=True)
        return self._weighings[draws]

    def _good(self, seen: Samples) -> Floats:
        """How often each of some candidates is good among them."""
        means = seen.weighed(self._weights(seen.worth.shape[1]))
        return np.asarray(are_good(*means, self._aim).mean(axis=0))

    def _good_beside(self, chosen: int) -> tuple[Floats, Floats]:
        """How often each is good among all, those dropped long ago by their differences to one; and
        among what a crew can carry out, 0 for the others, or the same where that one is no such."""
        own = self._seen[chosen]
        own_worth, own_burdens = own.worth[0], own.burdens[:, 0]
        weights = self._weights(len(own_worth))
        apart = self._apart(chosen)
        worths = (weights @ own_worth + apart[0]).T
        heavies = ((own_burdens @ weights.T)[:, None] + apart[1:]).swapaxes(1, 2)
        of_all = np.asarray(are_good(worths, heavies, self._aim).mean(axis=0))
        able = self._by_crew
        if able.all() or not able[chosen]:
            return of_all, of_all
        by_crew = np.zeros(len(able))
        by_crew[able] = are_good(worths[:, able], heavies[:, :, able], self._aim).mean(axis=0)
        return of_all, by_crew

    def _apart(self, chosen: int) -> Floats:
        """Worth and burdens of each less those of one, on the draws that it had, by weighting;
        shape (1 + conditions, candidates, WEIGHINGS). What is known of those dropped stays."""
        own = self._seen[chosen]
        count = len(self._ranks)
        if self._beside[0] != chosen:
            known = np.zeros((1 + len(own.burdens), count, WEIGHINGS))
            self._beside = chosen, known, np.zeros(count, np.int64)
        _, known, had = self._beside
        lengths = np.array([self._draws(one) for one in range(count)])
        lengths[chosen] = 0  # as far from itself as it was
        for draws in np.unique(lengths[lengths != had]).tolist():
            group = np.flatnonzero((lengths == draws) & (had != draws)).tolist()
            seen, early = self._stacked(group), self._weights(draws).T
            known[0, group] = (seen.worth - own.worth[0, :draws]) @ early
            known[1:, group] = (seen.burdens - own.burdens[:, :1, :draws]) @ early
        had[:] = lengths
        return known


PRESENT = 0
"""Place of the present rule among the candidates."""


@dataclass(frozen=True, slots=True)
class SwitchAnswer:
    """The answer to a `SwitchQuestion`.

    Attributes:
        rules: the candidates, by whose places the others go.
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


def search(
    question: SwitchQuestion,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    effort: SamplingBudget | None = None,
    exhaustive: bool = False,
    said: Rule | None = None,
) -> SwitchAnswer:
    """The best rule of a day by the wish.

    Args:
        executor, progress: see `Trials`.
        exhaustive: drop no candidate.
        said: what was advised on fewer days, kept to where nothing is better by what matters; a
            candidate as well.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    check(question)
    effort = effort or SamplingBudget()
    rules = tuple(dict.fromkeys((*question.rules, *([] if said is None else [said]))))
    expected = len(rules) * effort.sure if exhaustive else planned_runs(len(rules), effort)
    trials = Trials(with_opening(question), executor, progress, expected)
    seen: list[Floats] = [np.empty((0, len(OUTCOMES)))] * len(rules)

    def sample(chosen: Sequence[int], first: int, last: int) -> Samples:
        cell = (AS_IT_IS, tuple(rules[one] for one in chosen))
        table = trials.outcomes([cell], search_draws(question, last - first, first))
        for place, one in enumerate(chosen):
            seen[one] = np.concatenate([seen[one], table[place]])
        return question.wish.seen(table)

    found = select(
        len(rules),
        sample,
        question.wish.aim,
        effort,
        question.seed,
        ranks=np.array([rank_of(rule) for rule in rules]),
        by_crew=np.array([rule.by_crew for rule in rules]),
        turns=turns_of(question, rules, said),
        stay={PRESENT, rules.index(FULL), rules.index(REDUCED)},
        exhaustive=exhaustive,
    )
    return SwitchAnswer(question, rules, found, tuple(seen))


def turns_of(question: SwitchQuestion, rules: Sequence[Rule], said: Rule | None = None) -> Ints:
    """In which turn each rule is kept to, shape (rules,): the present one, those of the plan, what
    was advised on fewer days. Always full and always reduced tell a crew no times that it could be
    told anew, and are the simplest anyway, so nothing keeps to them."""
    turns = dict.fromkeys([said] if said is not None else [], ADVISED)
    turns |= dict.fromkeys(question.in_plan, IN_PLAN) | {question.rules[PRESENT]: IN_USE}
    turns |= dict.fromkeys((FULL, REDUCED), UNSAID)
    return np.array([turns.get(rule, UNSAID) for rule in rules], dtype=np.int64)


def planned_runs(count: int, effort: SamplingBudget) -> int:
    """Runs until every survivor has the draws it gets at least."""
    total, draws, kept = count * effort.first, effort.first, count
    while draws < effort.sure:
        kept = min(kept, max(kept // (FIRST_CUT if draws == effort.first else 2), effort.keep))
        total += kept * draws
        draws *= 2
    return total

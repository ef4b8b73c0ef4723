"""Selection among candidates: honest claims, few runs, exact order of answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import numpy as np
import pytest
from scipy.stats import binom

from sim.day.rules import Rule
from sim.day.spread import spread
from sim.decide.switching.candidates import candidates
from sim.decide.switching.search import SwitchQuestion, run_rules, search
from sim.decide.switching.selection import (
    Aim,
    Effort,
    Sampler,
    Seen,
    are_good,
    choose,
    select,
)
from sim.decide.switching.wish import Kind, Wish
from sim.inputs import Conditions, Site
from tests.day.sites import conditions
from tests.seeds import generator, seed
from tests.sizes import Size

AIM = Aim(1.0, (0.1,))


def sampler_of(worth: np.ndarray, burden: np.ndarray) -> Sampler:
    """A sampler that shows columns of given tables, shape (candidates, draws)."""

    def sample(chosen: Sequence[int], first: int, last: int) -> Seen:
        here = list(chosen)
        return Seen(worth[here, first:last], burden[None, here, first:last])

    return sample


def test_the_choice_keeps_to_conditions_first() -> None:
    """Most worth of those that keep; where none does, the least excess; of equals the first."""
    worth = np.array([5.0, 9.0, 7.0, 7.0])
    assert choose(worth, np.array([[-1.0, 0.01, 0.0, 0.0]]), AIM) == 2
    assert choose(worth, np.array([[0.5, 0.2, 0.3, 0.2]]), AIM) == 1
    assert choose(worth, np.empty((0, 4)), Aim(1.0)) == 1


def test_good_is_within_the_slacks() -> None:
    """Good: within a slack of each condition and of the best that keeps; else of the least."""
    worth = np.array([[5.0, 9.0, 6.5, 7.5, 9.5]])
    burdens = np.array([[[-1.0, 0.05, 0.0, 0.0, 0.2]]])
    assert are_good(worth, burdens, AIM).tolist() == [[False, True, True, True, False]]
    nowhere = np.array([[[0.5, 0.25, 0.3, 0.4, 0.2]]])
    assert are_good(worth, nowhere, AIM).tolist() == [[False, True, True, False, True]]


def test_dropping_spares_runs_and_keeps_who_stays() -> None:
    """Every candidate has the first draws, the last ones the sure ones, and who stays all."""
    rng = generator("dropping")
    worth = np.arange(40.0)[:, None] + rng.standard_normal((40, 1024))
    found = select(40, sampler_of(worth, worth * 0 - 1), AIM, Effort(), 1, stay=[0])
    assert found.chosen in (38, 39)
    assert found.draws.min() == 16
    assert found.draws[0] == found.draws[found.chosen] >= 256
    assert found.runs == found.draws.sum() <= found.equal_runs / 5


def misleading() -> tuple[np.ndarray, np.ndarray]:
    """Twelve candidates: 0 keeps to the condition and is worth nothing, 1 keeps and is worth 8, the
    others are worth 10 and seem to keep for 16 draws, and then never do."""
    rng = generator("misleading")
    worth = np.full((12, 1024), 10.0)
    worth[:2] = np.array([[0.0], [8.0]])
    burden = np.full((12, 1024), 1.0)
    burden[:, :16] = -1.0
    burden[:2] = -1.0
    return worth + 0.1 * rng.standard_normal(worth.shape), burden


def test_who_was_dropped_comes_back_where_the_others_break_a_condition() -> None:
    """The choice is the one that keeps and is worth something, though it was dropped first; where
    nobody may come back it is the worthless one, and known to be."""
    worth, burden = misleading()
    found = select(12, sampler_of(worth, burden), AIM, Effort(), 1, stay=[0])
    assert (found.chosen, found.keeps) == (1, True)
    assert found.probability > 0.95
    assert found.draws[1] == found.draws[0] >= 256
    alone = select(12, sampler_of(worth, burden), AIM, Effort(returns=0), 1, stay=[0])
    assert alone.chosen == 0
    assert alone.probability < 0.05


def test_a_mean_beyond_a_condition_by_a_hair_decides_nothing() -> None:
    """One keeps but is worth nothing, eight are a hair beyond, within the slack, and some of them
    surely keep: with candidates dropped one of those is chosen; by means alone the first."""
    rng = generator("a hair")
    worth = np.full((9, 256), 9.0) + 0.1 * rng.standard_normal((9, 256))
    hair = 0.2 * rng.standard_normal((9, 256))
    burden = hair - hair.mean(axis=1, keepdims=True) + 0.001
    worth[0], burden[0] = 0.0, -1.0
    aim, effort = Aim(1.0, (0.1,)), Effort(most=256, keep=9)
    found = select(9, sampler_of(worth, burden), aim, effort, 1, stay=[0])
    assert found.chosen != 0
    assert found.keeps
    by_means = select(9, sampler_of(worth, burden), aim, effort, 1, exhaustive=True)
    assert (by_means.chosen, by_means.keeps) == (0, True)


def test_an_exhaustive_choice_is_the_best_by_means() -> None:
    """With nothing dropped the choice is the best mean, and all have the same draws."""
    rng = generator("exhaustive")
    worth, burden = rng.standard_normal((30, 256)), rng.standard_normal((30, 256))
    found = select(30, sampler_of(worth, burden), AIM, Effort(), 1, exhaustive=True)
    assert set(found.draws.tolist()) == {256}
    keeps = burden.mean(axis=1) <= 0
    assert found.keeps
    assert found.worth[found.chosen] == worth.mean(axis=1)[keeps].max()


def test_more_candidates_never_make_the_answer_worse() -> None:
    """On equal draws the best of more candidates has at least the worth of the best of fewer."""
    rng = generator("more")
    for _ in range(50):
        worth, burden = rng.standard_normal((20, 64)), rng.standard_normal((20, 64)) + 0.05
        effort, best = Effort(sure=64), -np.inf
        for count in (5, 10, 20):
            sample = sampler_of(worth[:count], burden[:count])
            found = select(count, sample, AIM, effort, 1, exhaustive=True)
            mine = found.worth[found.chosen] if found.keeps else -np.inf
            assert mine >= best
            best = mine


def problem(number: int) -> tuple[SwitchQuestion, tuple[Rule, ...]]:
    """A generated site and day of at most some 150 cars, with some 40 rules to choose among."""
    rng = generator(f"problem {number}")
    kinds: tuple[Kind, ...] = ("mean", "days", "cost")
    site = Site("Generated").with_values(
        {
            "open_h": 9.0,
            "close_h": 12.0,
            "day_factor_cv": 0.1,
            "damp_rewash_share": 0.0,
            "strip_count": int(rng.integers(25, 90)),
            "damp_limit_saturation": float(rng.uniform(0.4, 0.75)),
            "throw_off_time_s": float(rng.uniform(600, 4000)),
            "allowed_damp_share": float(rng.uniform(0.05, 0.4)),
            "reduced_cost": float(rng.uniform(0.1, 1.0)),
            "matters_cars": float(rng.uniform(2, 8)),
            "matters_share": 0.02,
            "matters_money": float(rng.uniform(3, 10)),
        }
    )
    day: Conditions = conditions(float(rng.uniform(25, 45)), opening=float(rng.uniform(0.2, 0.7)))
    everything = candidates(site)
    chosen = rng.choice(len(everything), 37, replace=False)
    known = None if number % 2 else frozenset[str]()
    among = tuple(everything[i] for i in sorted(chosen.tolist()))
    question = SwitchQuestion(
        site, day, Wish.of(site, kinds[number % 3]), seed("problem", number), known=known,
        among=among,
    )  # fmt: skip
    return question, question.rules


def judged(job: tuple[int, int]) -> tuple[float, bool, float]:
    """Claimed probability, whether the choice is good on fresh draws, and its share of equal runs.

    Args:
        job: number of the problem, and how many fresh draws every candidate gets.
    """
    number, fresh = job
    question, rules = problem(number)
    found = search(question).selection
    again = replace(question, seed=seed("fresh", number))
    table = np.stack([run_rules((again, draw, rules)) for draw in range(fresh)], axis=1)
    truth = question.wish.seen(table)
    good = are_good(
        truth.worth.mean(axis=1)[None], truth.burdens.mean(axis=2)[:, None], question.wish.aim
    )[0]
    return found.probability, bool(good[found.chosen]), found.runs / found.equal_runs


@pytest.mark.soak
def test_claims_are_honest_on_generated_problems(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """The choice is good on fresh draws as often as was claimed, with a fifth of equal runs."""
    problems, fresh = size(small=20, full=200), size(small=256, full=2_048)
    jobs = ((number, fresh) for number in range(problems))
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        answers = list(spread(judged, jobs, pool))
    claims, good, used = (np.array(column) for column in zip(*answers, strict=True))
    claimed, successes = float(claims.mean()), int(good.sum())
    record_figure("mean claimed probability", claimed, "of problems")
    record_figure("choices good on fresh draws", successes / problems, "of problems")
    record_figure("runs beside equal allocation", float(used.mean()), "of them")
    assert successes >= binom.ppf(0.01, problems, claimed)
    assert abs(claimed - successes / problems) <= 0.05
    assert np.mean(used) <= 0.2

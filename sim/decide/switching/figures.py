"""What is told of a chosen rule beside the choice: figures, half hours, the trade-off, the bound.

Figures come from a comparison of the chosen rule with the present one, always full and always
reduced, as a plan makes it, over the same drawn sites as the search's first draws. Points of the
trade-off have had different numbers of draws, so each stands where its difference to the chosen
rule on their common draws puts it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from sim.day.blocks import Shape
from sim.day.rules import FULL, REDUCED, Rule, parse_rule
from sim.decide.answer import Comparison
from sim.decide.compare import Question, compare
from sim.decide.switching.advice import Advice, advise
from sim.decide.switching.best_possible import BestPossible, best_possible
from sim.decide.switching.cues import Cues, in_cues
from sim.decide.switching.hours import HalfHours, half_hours
from sim.decide.switching.kept import DAYS as KEPT_DAYS
from sim.decide.switching.kept import Alternative, Kept, alternatives, kept
from sim.decide.switching.moved import Border, MovedPlan, border, how_it_moves
from sim.decide.switching.remedies import Remedies, remedies
from sim.decide.switching.search import SwitchAnswer, SwitchQuestion, planned_runs, search
from sim.decide.switching.selection import Effort
from sim.decide.switching.wish import COST, column, undominated
from sim.inputs import Scenario

Floats = NDArray[np.float64]

PRESENT, ADVISED, ALL_FULL, ALL_REDUCED = "present", "chosen", "full", "reduced"
"""What a rule of the comparison is; one rule may be several."""


@dataclass(frozen=True, slots=True)
class Depth:
    """How much is computed.

    Attributes:
        effort: draws of the search; exhaustive: no candidate is dropped.
        figures: simulated days of the comparison, a rule.
        hours: draws of the half hours; bound: draws of what foresight would give, 0 for none.
        kept: fresh days on which it is counted how often the choice keeps to the allowed share,
            where that is wished for on single days.
        why: whether the reasons, what would help and the crew's cues are looked into; shape:
            draws by which, see `sim.decide.switching.advice`.
    """

    effort: Effort = Effort()
    exhaustive: bool = False
    figures: int = 512
    hours: int = 64
    bound: int = 8
    kept: int = KEPT_DAYS
    why: bool = True
    shape: Shape | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """A rule on the trade-off, means a day; see the module.

    Attributes:
        keeps: to the limits of switching.
        undominated: no rule that keeps to them has at most as many damp cars and at least as many
            fully wiped, one of the two truly.
    """

    rule: int
    damp_share: float
    full_share: float
    damp_cars: float
    full_cars: float
    cost: float
    draws: int
    keeps: bool
    undominated: bool


@dataclass(frozen=True, slots=True)
class Reached:
    """What a rule reaches of what foresight would give, on the same draws.

    Attributes:
        mean: of what is bounded, cars fully wiped or cost, a day.
        share: mean ÷ bound, for cost bound ÷ mean; NaN where the divisor is not above 0.
        low, high: run error of `share`, 95 %: a ratio estimate's (Cochran, Sampling Techniques,
            chapter on ratio estimators, from memory), by t of the draws less one.
    """

    mean: float
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SwitchStudy:
    """A search's answer with everything that is told of it.

    Attributes:
        comparison: the present rule first; roles: what each column is.
        hours: half hours of the chosen rule, and of always full.
        bound: what foresight would give; None where that was not or can't be computed.
        reached: what the chosen rule reaches of the bound on its draws; None without one.
        kept: how often it keeps to the allowed share on days not seen before; None where that is
            not wished for on single days.
        alternatives: what the choice might as well have been, the likeliest first.
        why, remedies, moves, tipping: the reasons, what else would help, the plan for days a little
            different, up to which day always full is enough; None and empty where they were not
            looked into.
        cues: the chosen rule in cues that a crew can see; None where it says nothing of when to
            reduce, or where that was not looked into.
    """

    answer: SwitchAnswer
    comparison: Comparison
    roles: tuple[frozenset[str], ...]
    hours: tuple[HalfHours, HalfHours]
    places: tuple[Place, ...]
    bound: BestPossible | None
    reached: Reached | None
    kept: Kept | None
    alternatives: tuple[Alternative, ...]
    why: Advice | None
    remedies: Remedies | None
    moves: tuple[MovedPlan, ...]
    tipping: Border | None
    cues: Cues | None


def study(
    question: SwitchQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    depth: Depth | None = None,
) -> SwitchStudy:
    """Search, then weigh up; `progress` hears of runs done and in all.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    depth = depth or Depth()
    answer = search(
        question, executor, progress, effort=depth.effort, exhaustive=depth.exhaustive
    )  # fmt: skip
    rules, roles = _columns(answer)
    done = answer.selection.runs
    total = done + depth.figures + depth.hours + depth.bound

    def tell(from_: int) -> Callable[[int], None]:
        return lambda more: progress(done + from_ + more, total)

    scenarios = tuple(
        Scenario(_name(kinds), rule.text, question.cloth)
        for rule, kinds in zip(rules, roles, strict=True)
    )
    comparison = compare(
        Question(
            question.site, question.conditions, scenarios, depth.figures, question.seed,
            question.evening, question.known, question.belief,
        ),
        executor,
        tell(0),
    )  # fmt: skip
    chosen, full = half_hours(
        question, (answer.chosen, FULL), depth.hours, executor, tell(depth.figures)
    )
    bound, reached = foresight_of(answer, executor, tell(depth.figures + depth.hours), depth.bound)
    why, helps, moves, tipping = None, None, tuple[MovedPlan, ...](), None
    cues: Cues | None = None
    count = _Onwards(progress, total)
    rate: Kept | None = None
    if question.wish.kind == "days":
        rate = kept(answer, executor, count.told, days=depth.kept)
        count.next()
    if depth.why:
        why = advise(answer, executor, count.told, shape=depth.shape)
        count.next()
        cues = in_cues(answer, executor, count.told, measured=depth.shape)
        count.next()
        helps = remedies(answer, executor, count.told)
        count.next()
        moves = how_it_moves(question, answer.chosen, executor, count.told)
        count.next()
        tipping = border(question, executor, count.told)
    return SwitchStudy(
        answer, comparison, roles, (chosen, full), places(answer), bound, reached,
        rate, alternatives(answer), why,
        helps, moves, tipping, cues,
    )  # fmt: skip


class _Onwards:
    """Progress of one part after the other, of which each knows only its own runs."""

    def __init__(self, progress: Callable[[int, int], None], done: int) -> None:
        self._progress, self._before, self._now = progress, done, done

    def told(self, done: int, total: int) -> None:
        """Hears of a part's progress; several computations of a part may count from 1 again."""
        self._now = max(self._now, self._before + done)
        self._progress(self._now, max(self._now, self._before + total))

    def next(self) -> None:
        """Another part begins."""
        self._before = self._now


def runs_of(question: SwitchQuestion, depth: Depth | None = None) -> int:
    """Runs that a study makes at least."""
    depth = depth or Depth()
    count = len(question.rules)
    searched = count * depth.effort.sure if depth.exhaustive else planned_runs(count, depth.effort)
    return searched + depth.figures + depth.hours + depth.bound


def _columns(answer: SwitchAnswer) -> tuple[list[Rule], tuple[frozenset[str], ...]]:
    """Rules of the comparison, the present one first, and what each is."""
    keys = [item.key for item in answer.asked.site.vehicles]
    wanted = (
        (parse_rule(answer.asked.present, keys), PRESENT), (answer.chosen, ADVISED),
        (FULL, ALL_FULL), (REDUCED, ALL_REDUCED),
    )  # fmt: skip
    rules = list(dict.fromkeys(rule for rule, _ in wanted))
    return rules, tuple(frozenset(name for one, name in wanted if one == rule) for rule in rules)


def _name(kinds: frozenset[str]) -> str:
    for kind, name in ((ALL_FULL, "Always full"), (ALL_REDUCED, "Always reduced")):
        if kind in kinds:
            return name
    return "Advised" if ADVISED in kinds else "As planned now"


def places(answer: SwitchAnswer) -> tuple[Place, ...]:
    """Every rule on the trade-off."""
    chosen, wish = answer.selection.chosen, answer.asked.wish
    anchor = answer.outcomes[chosen].mean(axis=0)
    means = np.empty((len(answer.rules), len(anchor)))
    for rule in range(len(answer.rules)):
        own, of_chosen = answer.paired(rule, chosen)
        finite = np.where(np.isfinite(anchor), anchor, 0.0)
        with np.errstate(invalid="ignore"):  # never two switches: infinitely far apart
            means[rule] = finite + own.mean(axis=0) - of_chosen.mean(axis=0)
    damp = np.maximum(0.0, column(means, "damp_cars"))
    full = np.maximum(0.0, column(means, "full_cars"))
    washed = np.maximum(1.0, column(means, "cars_washed"))
    keeps = [
        bool(wish.seen(table[None]).burdens[0].mean() <= 0.0) for table in answer.outcomes
    ]  # fmt: skip
    marks = undominated(damp, full, np.array(keeps))
    cost = column(means, COST)
    return tuple(
        Place(
            i, float(damp[i] / washed[i]), float(full[i] / washed[i]), float(damp[i]),
            float(full[i]), float(cost[i]), len(answer.outcomes[i]), keeps[i], marks[i],
        )
        for i in range(len(answer.rules))
    )  # fmt: skip


def foresight_of(
    answer: SwitchAnswer,
    executor: Executor | None,
    tell: Callable[[int], None],
    draws: int,
) -> tuple[BestPossible | None, Reached | None]:
    """What foresight would give on a search's first draws, and what the chosen rule reaches of it.

    None where dry sets are put on, which foresight could time as well.

    Args:
        tell: told after each draw how many are done.
    """
    question, chosen = answer.asked, answer.selection.chosen
    draws = min(draws, len(answer.outcomes[chosen]))
    if not draws or question.cloth.strip():
        return None, None
    found = best_possible(question, draws, executor, lambda done, total: tell(done))
    if math.isnan(found.bound):
        return None, None
    is_cost = question.wish.kind == "cost"
    own = column(answer.outcomes[chosen][:draws], COST if is_cost else "full_cars")
    best = np.array(found.by_draw)
    share, low, high = share_of(best, own) if is_cost else share_of(own, best)
    return found, Reached(float(own.mean()), share, low, high)


def share_of(part: Floats, whole: Floats) -> tuple[float, float, float]:
    """Mean of a part ÷ mean of the whole over paired draws, with its run error; see `Reached`."""
    mean, count = float(whole.mean()), len(whole)
    if mean <= 0.0:
        return math.nan, math.nan, math.nan
    share = float(part.mean()) / mean
    if count < 2:
        return share, math.nan, math.nan
    apart = part - share * whole
    error = float(np.sqrt((apart**2).sum() / (count - 1) / count)) / mean
    half = float(stdtrit(count - 1, 0.975)) * error
    return share, share - half, share + half

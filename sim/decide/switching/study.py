"""What is told of a chosen rule beside the choice: figures, half hours, the trade-off, the bound.

Figures come from a comparison of the chosen rule with the present one, always full and always
reduced, as a plan makes it, over the same drawn sites as the search's first draws.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

import numpy as np

from sim.day.blocks import MOST_POINTS, Shape
from sim.day.engine import AS_IT_IS, Replication, Told, each, quiet
from sim.day.figures import finite, range_of
from sim.day.kernel import tables as r
from sim.day.rules import FULL, REDUCED, Rule, SetChange
from sim.decide.compare import Question, compare
from sim.decide.switching.advice import Gain, advise, alternatives, gains_of, standing
from sim.decide.switching.answer import (
    HALF_HOUR_S,
    SCHEMA,
    Bound,
    Columns,
    CrewTerms,
    Draws,
    HalfHours,
    Overruled,
    TradeOffPoint,
    TwoDays,
    WhenToReduce,
    WishKept,
    told_of,
)
from sim.decide.switching.best_possible import best_possible
from sim.decide.switching.choice import COST, Floats, column, left_damp_share, undominated
from sim.decide.switching.coming import border, how_it_moves
from sim.decide.switching.cues import Cues, in_cues
from sim.decide.switching.first import first_chance, first_choice
from sim.decide.switching.hands import choose_hands
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws
from sim.decide.switching.reasons import remedies
from sim.decide.switching.search import PRESENT as FIRST
from sim.decide.switching.search import SamplingBudget, SwitchAnswer, planned_runs, search
from sim.inputs import Scenario
from sim.special import stdtrit

MOST_OTHERS = 160
"""So many dominated rules are kept at most, evenly spread over the candidates."""
FRESH_DAYS = 1_024
FIRST_FIGURES, FIRST_HOURS = 256, 16
"""Simulated days of the comparison, a rule, and draws of the half hours, of a first form."""
NORMAL_95 = 1.959964


@dataclass(frozen=True, slots=True)
class Depth:
    """How much is computed.

    Attributes:
        effort: draws of the search; exhaustive: no candidate is dropped.
        figures: simulated days of the comparison, a rule; hours: draws of the half hours; bound:
            draws of what foresight would give, 0 for none; kept: fresh days of `kept`.
        why: whether the reasons, hands, what would help and the crew's cues are looked into;
            shape: draws by which, see `advise`.
    """

    effort: SamplingBudget = SamplingBudget()
    exhaustive: bool = False
    figures: int = 512
    hours: int = 64
    bound: int = 8
    kept: int = FRESH_DAYS
    why: bool = True
    shape: Shape | None = None


def study(
    question: SwitchQuestion,
    day: date,
    origin: str,
    libraries: dict[str, str],
    executor: Executor | None = None,
    progress: Told = quiet,
    depth: Depth | None = None,
    early: Callable[[WhenToReduce], None] | None = None,
    stage: Callable[[str], None] = lambda name: None,
) -> WhenToReduce:
    """Search, then weigh up; `progress` hears of runs done and in all, `stage` what begins.

    Args:
        day: the planned day; origin: what it is expected from, in words.
        libraries: versions of what computes it.
        early: handed a first form within seconds, then the answer so far whenever a part of it is
            there, what is read first before the rest. None: there is no first form.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    depth = depth or Depth()
    parts = _Parts(progress, stage)
    tell = early or _nobody

    def form(answer: SwitchAnswer, cues: Cues | None, rough: bool) -> WhenToReduce:
        """What a search has found, with what follows from that at once."""
        selection, site = answer.selection, question.site
        told = told_of(answer.chosen, cues)
        figures = min(depth.figures, FIRST_FIGURES) if rough else depth.figures
        hours = min(depth.hours, FIRST_HOURS) if rough else depth.hours
        if not rough:
            stage("figures")
        compared, columns = _columns(answer, told, figures)
        comparison = compare(compared, executor, parts.counting(figures))
        halves = half_hours(question, (told, FULL), hours, executor, parts.counting(hours))
        return WhenToReduce(
            schema=SCHEMA,
            site=site.name,
            date=day,
            seed=question.seed,
            libraries=libraries,
            origin=origin,
            wish=question.wish,
            crew_terms=CrewTerms.of(site),
            present=answer.rules[FIRST],
            chosen=answer.chosen,
            keeps=selection.keeps,
            probability=first_chance(selection) if rough else selection.by_crew,
            settled=selection.settled,
            alternatives=alternatives(answer),
            kept=None,
            rules=len(answer.rules),
            runs=selection.runs,
            draws=Draws(int(selection.draws.min()), len(answer.outcomes[selection.chosen])),
            comparison=comparison,
            columns=columns,
            half_hours=TwoDays(tuple(half_hour_starts(question).tolist()), *halves),
            trade_off=_shown(points(answer), answer),
            bound=None,
            why=None,
            remedies=None,
            moves=(),
            tipping=None,
            cues=cues,
            in_plan=_in_plan(answer),
            overruled=_overruled(answer),
            coarse=rough,
        )

    first = first_choice(question, executor, parts.next("first"))
    if early is not None:
        tell(form(first, None, rough=True))
    # a question among few rules stays among them
    said = first.chosen if question.among is None or first.chosen in question.rules else None
    answer = search(
        question, executor, parts.next("rules"), effort=depth.effort, exhaustive=depth.exhaustive,
        said=said,
    )  # fmt: skip
    cues = None
    if depth.why:
        cues = in_cues(answer, executor, parts.next("cues"), measured=depth.shape)
    found = form(answer, cues, rough=False)
    if question.wish.kind == "days":
        rate = kept(answer, found.told, executor, parts.next(), days=depth.kept)
        found = replace(found, kept=rate)
    if depth.why:
        shape = depth.shape
        tell(found)
        hands = choose_hands(
            answer, executor, parts.next("people"), effort=depth.effort, shape=shape
        )
        tell(found := replace(found, hands=hands))
        why = advise(answer, executor, parts.next("reasons"), shape=shape)
        tell(found := replace(found, why=why))
        helps = remedies(answer, executor, parts.next("remedies"))
        tell(found := replace(found, remedies=helps))
        moves = how_it_moves(question, answer.chosen, executor, parts.next("moves"))
        tell(found := replace(found, moves=moves))
    stage("bound")
    bound = foresight_of(answer, executor, parts.counting(depth.bound), depth.bound)
    found = replace(found, bound=bound)
    if depth.why:
        tell(found)
        found = replace(found, tipping=border(question, executor, parts.next("tipping")))
    return found


def _in_plan(answer: SwitchAnswer) -> tuple[Rule, ...]:
    """The rules of the plan, the present one first."""
    return tuple(dict.fromkeys((answer.rules[FIRST], *answer.asked.in_plan)))


def _overruled(answer: SwitchAnswer) -> Overruled | None:
    """The best rule of the plan and what the choice gains over it, where that is another."""
    mine = _in_plan(answer)
    if answer.chosen in mine:
        return None
    order, _ = standing(answer)
    place = next(place for place in order if answer.rules[place] in mine)
    own, its = answer.paired(answer.selection.chosen, place)
    return Overruled(
        answer.rules[place], gains_of(own, its, lambda apart: Gain(float(apart.mean())))
    )


def _nobody(_found: WhenToReduce) -> None:
    """Shows an answer to nobody."""


class _Parts:
    """Progress of one part after the other, each of which knows only its own runs."""

    def __init__(self, progress: Told, stage: Callable[[str], None]) -> None:
        self._progress, self._stage, self._now = progress, stage, 0

    def next(self, name: str = "") -> Told:
        """Who is told by the next part, which begins a stage where it has a name; several
        computations of a part may count from 1 again."""
        if name:
            self._stage(name)
        before = self._now

        def told(done: int, total: int) -> None:
            self._now = max(self._now, before + done)
            self._progress(self._now, max(self._now, before + total))

        return told

    def counting(self, total: int) -> Callable[[int], None]:
        """The same for a part that tells only how much of so much is done."""
        told = self.next()
        return lambda done: told(done, total)


def runs_of(question: SwitchQuestion, depth: Depth | None = None) -> int:
    """Runs that a study makes at least."""
    depth = depth or Depth()
    count = len(question.rules)
    searched = count * depth.effort.sure if depth.exhaustive else planned_runs(count, depth.effort)
    return searched + depth.figures + depth.hours + depth.bound


def _columns(answer: SwitchAnswer, told: Rule, days: int) -> tuple[Question, Columns]:
    """The comparison of the present rule, the chosen one, always full and always reduced, and what
    the crew is told, each once, and which column is which."""
    asked = answer.asked
    wanted = (answer.rules[FIRST], answer.chosen, FULL, REDUCED, told)
    named = {
        answer.rules[FIRST]: "As planned now", answer.chosen: "To the letter", told: "Advised",
        REDUCED: "Always reduced", FULL: "Always full",
    }  # fmt: skip
    rules = tuple(dict.fromkeys(wanted))
    scenarios = tuple(Scenario(named[rule], rule.text, asked.cloth) for rule in rules)
    question = Question(
        asked.site, asked.conditions, scenarios, days, asked.seed, asked.evening, asked.known,
        asked.belief,
    )  # fmt: skip
    return question, Columns(*(rules.index(rule) for rule in wanted))


def _shown(every: tuple[TradeOffPoint, ...], answer: SwitchAnswer) -> tuple[TradeOffPoint, ...]:
    """Of the trade-off: always full, always reduced, the present rule, the chosen one, those that
    none beats, and a spread of the others."""
    named = {FULL, REDUCED, answer.rules[FIRST], answer.chosen}
    kept = [one for one in every if one.undominated or one.rule in named]
    others = [one for one in every if not one.undominated and one.rule not in named]
    return (*kept, *others[:: max(1, -(-len(others) // MOST_OTHERS))])


def points(answer: SwitchAnswer) -> tuple[TradeOffPoint, ...]:
    """Every rule on the trade-off."""
    chosen, wish = answer.selection.chosen, answer.asked.wish
    anchor = answer.outcomes[chosen].mean(axis=0)
    means = np.empty((len(answer.rules), len(anchor)))
    for rule in range(len(answer.rules)):
        own, of_chosen = answer.paired(rule, chosen)
        level = np.where(np.isfinite(anchor), anchor, 0.0)
        with np.errstate(invalid="ignore"):  # never two switches: infinitely far apart
            means[rule] = level + own.mean(axis=0) - of_chosen.mean(axis=0)
    damp = np.maximum(0.0, column(means, "left_damp"))
    full = np.maximum(0.0, column(means, "full_cars"))
    washed = np.maximum(1.0, column(means, "cars_washed"))
    keeps = [wish.may_switch(table) for table in answer.outcomes]
    marks = undominated(damp, full, np.array(keeps))
    cost = column(means, COST)
    return tuple(
        TradeOffPoint(
            rule, float(damp[i] / washed[i]), float(full[i] / washed[i]), float(damp[i]),
            float(full[i]), float(cost[i]), len(answer.outcomes[i]), keeps[i], marks[i],
        )
        for i, rule in enumerate(answer.rules)
    )  # fmt: skip


def foresight_of(
    answer: SwitchAnswer, executor: Executor | None, tell: Callable[[int], None], draws: int
) -> Bound | None:
    """What foresight would give on a search's first draws, and what the chosen rule reaches of it;
    `tell` hears how many are done. None where dry sets are put on, which it could time as well."""
    question, chosen = answer.asked, answer.selection.chosen
    draws = min(draws, len(answer.outcomes[chosen]))
    if not draws or question.cloth.strip():
        return None
    found = best_possible(question, draws, executor, tell)
    if math.isnan(found.bound):
        return None
    is_cost = question.wish.kind == "cost"
    own = column(answer.outcomes[chosen][:draws], COST if is_cost else "full_cars")
    best = np.array(found.by_draw)
    share, low, high = share_of(best, own) if is_cost else share_of(own, best)
    return Bound(
        found.bound, float(own.mean()), finite(share), range_of(low, high),
        "$" if is_cost else "cars", draws, found.without_rewash,
    )  # fmt: skip


def share_of(part: Floats, whole: Floats) -> tuple[float, float, float]:
    """Mean of a part ÷ mean of the whole over paired draws, with its run error; see `Bound`."""
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


# ---- on fresh days -------------------------------------------------------------------------------


def kept(
    answer: SwitchAnswer,
    rule: Rule,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    days: int = FRESH_DAYS,
) -> WishKept:
    """How often a rule keeps to the allowed share on so many days that its choice has not
    seen, each with a drawn site of its own: on those that chose it a rule looks better than it is.
    """
    question = answer.asked
    used = max(len(table) for table in answer.outcomes)
    first = MOST_POINTS * math.ceil(used / MOST_POINTS)
    draws = search_draws(question, days, first)
    table = outcomes(question, [(AS_IT_IS, (rule,))], draws, executor, progress)[0]
    return of_count(int((left_damp_share(table) <= question.wish.allowed_damp_share).sum()), days)


def of_count(good: int, days: int) -> WishKept:
    """So many of so many days."""
    share, more = good / days, NORMAL_95**2 / days
    middle = (share + 0.5 * more) / (1.0 + more)
    half = math.sqrt(share * (1.0 - share) * more + 0.25 * more**2) / (1.0 + more)
    return WishKept(share, max(0.0, middle - half), min(1.0, middle + half), days)


# ---- half hours ----------------------------------------------------------------------------------

CARS, WET, LESS, DAMP, LEFT = range(5)
"""What is summed of each half hour: cars, saturations met, cars reduced, damp, leaving damp."""


def half_hour_starts(question: SwitchQuestion) -> Floats:
    """When the half hours begin in which the wash is open [s after midnight]."""
    line = question.site.line
    first = math.floor(line.open_h * 2.0 + 1e-9)
    last = math.ceil(line.close_h * 2.0 - 1e-9)
    return np.asarray(np.arange(first, last) * HALF_HOUR_S, dtype=np.float64)


def half_hours(
    question: SwitchQuestion,
    rules: Sequence[Rule],
    draws: int,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> tuple[HalfHours, ...]:
    """The day of each rule over the first draws of a search, of which `progress` hears how many are
    done; cars after closing are left out."""
    starts = half_hour_starts(question)
    total = np.zeros((len(rules), 5, len(starts)))
    few, read = search_draws(question, draws), partial(_of_draw, starts)
    for found in each(question.experiment, tuple(rules), few, read, executor, progress):
        total += found
    return tuple(_mean(sums, draws) for sums in total)


def _of_draw(
    starts: Floats, day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]
) -> Floats:
    found = np.zeros((len(rules), 5, len(starts)))
    for place, rule in enumerate(rules):
        done = day.run(rule, sets)
        lines = done.flow.rows
        at = lines.order[: lines.counts[r.ON_BELT]]
        slot = np.floor((lines.times[at, r.HOOD] - starts[0]) / HALF_HOUR_S).astype(np.int64)
        kept = (slot >= 0) & (slot < len(starts))
        at, slot = at[kept], slot[kept]
        marks = done.wiped.marks[at]
        rows = (
            np.ones(len(at)),
            done.wiped.moisture[at, r.BEFORE] / day.of.numbers.cloth.holding,
            marks[:, r.REDUCED].astype(float),
            marks[:, r.DAMP].astype(float),
            (marks[:, r.FATE] == r.LEAVES).astype(float),
        )
        for row, values in enumerate(rows):
            np.add.at(found[place, row], slot, values)
    return found


def _mean(sums: Floats, draws: int) -> HalfHours:
    cars = np.where(sums[CARS] > 0, sums[CARS], np.nan)

    def share(row: int) -> tuple[float | None, ...]:
        return tuple(map(finite, (sums[row] / cars).tolist()))

    cars_each = tuple((sums[CARS] / draws).tolist())
    return HalfHours(cars_each, share(WET), share(LESS), share(DAMP), share(LEFT))

"""Rule and finishers together: when more hands at the exit beat reduced wiping.

Drying by hand comes after the wheel and moves nothing before it, so a day wiped by one rule is
asked for any number of timetables of finishers. Each timetable goes with the rule that is best with
it by the wish; among timetables, each with its rule, least cost decides, wages and towels included,
under the wish's own conditions, and of those within what matters in money the one with the fewest
people more. So a person more is never advised for what does not matter.

Timetables are the site's own finishers and up to three people more, for the whole day or in one
window. Windows are found from what a hand is worth in each half-hour alone: how many fewer cars
leave damp under a rule, in each draw, and what that saves beyond the wage. A car stands for a
finisher for less than a minute, so what hands do in one half-hour hardly touches the next, and
windows add up; what is then chosen is simulated as it is.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sim.day.blocks import MOST_POINTS, Shape, take_apart
from sim.day.engine import AS_IT_IS, Draw, Told, quiet, simulate
from sim.day.figures import HALF_HOUR_S
from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.firm import Standing
from sim.decide.switching.advice import ONE_SITE, SITES, Gains, gain_of, gains_of, stands
from sim.decide.switching.at_exit import OWN, MoreHands, all_day, read_hands
from sim.decide.switching.candidates import narrowed, rank_of
from sim.decide.switching.choice import (
    COST,
    OUTCOMES,
    Floats,
    Ints,
    Objective,
    Samples,
    Wish,
    best_by_means,
    choose,
    column,
    excesses,
    left_damp_share,
)
from sim.decide.switching.question import (
    SwitchQuestion,
    crossed_draws,
    search_draws,
    with_opening,
)
from sim.decide.switching.search import SamplingBudget, SwitchAnswer
from sim.inputs import Site

MOST_MORE = 3
"""So many people more are looked at."""
LEAST_WINDOW_H = 2.0
"""Shortest window where the site has entered no shortest shift; a guess."""
SURVIVORS = 24
"""Rules of the search that are looked at with every timetable, the best of those left."""
SHORTLIST = 3
"""Rules that a timetable is tried with on more draws."""
PLANS_KEPT = 6
"""Timetables with more people that are tried on the most draws."""
WEIGHINGS = 400
STREAM = 13


@dataclass(frozen=True, slots=True)
class HandsRow:
    """People at the exit with the rule that is best with them; means a day.

    Attributes:
        whole_day: whether they are there as long as the site is open.
        keeps: whether the pair keeps to the wish.
        finished_cars: dried by hand, by the site's own finishers too.
        wages: of the people more.
        cost: of the day, everything included; more: than with the site's own people.
    """

    hands: MoreHands
    whole_day: bool
    rule: Rule
    keeps: bool
    left_damp: float
    left_damp_share: float
    full_cars: float
    finished_cars: float
    wages: float
    cost: float
    more: float


@dataclass(frozen=True, slots=True)
class Hands:
    """Rule and finishers together.

    Attributes:
        own: the chosen rule with the site's own finishers.
        chosen: the pair that the wish asks for; `own` where nobody more is worth it.
        best_more: the best pair with somebody more; None where no car leaves damp.
        rows: these and the best of each number of people, the least costly first.
        chance: how often the choice among timetables ends at `chosen`, draws weighted at random.
        gains: `chosen` less `own`, or `best_more` less it where that is chosen, on draws that the
            choice has not seen; None where there is no `best_more`.
        standing: `chosen` against the other of the two, least cost of what keeps to the wish; None
            where guesses stood at their middle values, or with `gains`.
        matters: money a day that does not; runs: simulated days, counted over rules.
    """

    own: HandsRow
    chosen: HandsRow
    best_more: HandsRow | None
    rows: tuple[HandsRow, ...]
    chance: float
    gains: Gains | None
    standing: Standing | None
    matters: float
    runs: int

    @property
    def beats(self) -> bool:
        """Whether more hands are advised."""
        return self.chosen.hands != OWN


def shortest_window_s(site: Site) -> float:
    """Least time for which somebody comes: the shortest shift, where no longer than the day [s]."""
    open_h = site.line.close_h - site.line.open_h
    least = site.shifts.shortest_shift_h if site.shifts.shortest_shift_h > 0 else LEAST_WINDOW_H
    return HALF_HOUR_S * max(1, round(min(least, open_h) * 2.0))


class Days:
    """Days of a question by rule and timetable, and how many were run."""

    def __init__(
        self, question: SwitchQuestion, executor: Executor | None, progress: Told, expected: int
    ) -> None:
        self.question, self.runs = with_opening(question), 0
        self._executor, self._progress, self._expected = executor, progress, expected

    def outcomes(
        self, rules: Sequence[Rule], hands: Sequence[MoreHands], draws: Sequence[Draw]
    ) -> Floats:
        """Shape (rules, draws, hands, OUTCOMES)."""
        before = self.runs

        def told(done: int, _total: int) -> None:
            self.runs = before + done
            self._progress(self.runs, max(self.runs, self._expected))

        return simulate(
            self.question.experiment, [(AS_IT_IS, tuple(rules))], draws,
            partial(read_hands, tuple(hands)), self._executor, told,
        )  # fmt: skip


# ---- the search ----------------------------------------------------------------------------------


def choose_hands(
    answer: SwitchAnswer,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    effort: SamplingBudget | None = None,
    shape: Shape | None = None,
) -> Hands:
    """Rule and finishers together, from the rule that was chosen with the site's own.

    Args:
        executor, progress: see `sim.decide.switching.question.Trials`.
        effort: draws at first and of the last choice.
        shape: draws on which the pairs are held against each other.
    """
    question, effort = answer.asked, effort or SamplingBudget()
    shape = shape or (SITES if question.drawn else ONE_SITE)
    rules = _rules(answer)
    expected = (2 * len(rules) + 8) * effort.first + 2 * (8 * effort.sure) + 2 * shape.runs
    days = Days(question, executor, progress, expected)
    found = best_pairs(days, answer.chosen, rules, effort)
    place, matters = found.place, _matters(question.site)
    rows = [_row(days, pair, found.pairs[0]) for pair in found.pairs]
    if len(rows) == 1:
        return Hands(rows[0], rows[0], None, tuple(rows), 1.0, None, None, matters, days.runs)
    more = found.best_more(question)
    mine, its = _against(days, rows[place or more], rows[0], shape, answer)
    gains = gains_of(mine, its, lambda apart: gain_of(take_apart(apart)))
    sides = (mine, its) if place else (its, mine)
    known = question.known is not None
    standing = stands(question, *sides, by_cost=True) if known else None
    shown = _shown(rows, {0, place, more})
    return Hands(
        rows[0], rows[place], rows[more], shown, found.chance, gains, standing, matters, days.runs
    )


@dataclass(frozen=True, slots=True)
class Pair:
    """People at the exit with the rule that is best with them, and its outcomes, shape (draws,
    OUTCOMES)."""

    hands: MoreHands
    rule: Rule
    table: Floats


@dataclass(frozen=True, slots=True)
class Pairs:
    """The pairs that were tried on the most draws, common to all, the site's own people first.

    Attributes:
        place: of the pair that least cost under the wish's conditions ends at.
        chance: how often it does, draws weighted at random.
    """

    pairs: tuple[Pair, ...]
    place: int
    chance: float

    @classmethod
    def of(cls, question: SwitchQuestion, pairs: tuple[Pair, ...]) -> Pairs:
        """The choice among timetables."""
        seen, aim, ranks = _judged(question, pairs)
        place = int(choose(seen, aim, ranks)[0])
        stream = np.random.Generator(
            np.random.PCG64(np.random.SeedSequence([question.seed, STREAM]))
        )
        parts = stream.standard_exponential((WEIGHINGS, len(pairs[0].table)))
        again = choose(seen, aim, ranks, parts / parts.sum(axis=1, keepdims=True))
        return cls(pairs, place, float(np.mean(again == place)))

    @property
    def chosen(self) -> Pair:
        """The pair chosen."""
        return self.pairs[self.place]

    def best_more(self, question: SwitchQuestion) -> int:
        """Place of the best pair with somebody more."""
        return 1 + int(choose(*_judged(question, self.pairs[1:]))[0])


def best_pairs(
    days: Days,
    chosen: Rule,
    rules: Sequence[Rule],
    effort: SamplingBudget,
    most: int = MOST_MORE,
) -> Pairs:
    """The best timetables, each with its best rule; the site's own people alone where no car leaves
    damp by the first rule.

    Args:
        chosen: the rule with the site's own people; rules: what is tried with others, the chosen
            one among them, the one that leaves most cars damp first.
        most: so many people more are tried.
    """
    question = days.question
    few = search_draws(question, effort.first)
    whole = [all_day(question.site, people) for people in range(1, most + 1)]
    first = days.outcomes(rules, [OWN, *whole], few)
    if not column(first[0, :, 0], "left_damp").any():
        return Pairs((Pair(OWN, chosen, first[rules.index(chosen), :, 0]),), 0, 1.0)
    promising = _promising(question.wish, chosen, rules, first)
    hands = list(dict.fromkeys([OWN, *whole, *windows(days, promising, few, most)]))
    tried = shortlist(question.wish, chosen, rules, hands, days.outcomes(rules, hands, few))
    some = search_draws(question, max(effort.first, effort.sure // 4))
    tried = kept(question, tried, _best_rules(days, tried, some), most)
    pairs = _best_rules(days, tried, search_draws(question, effort.sure))
    return Pairs.of(question, pairs)


def _rules(answer: SwitchAnswer) -> tuple[Rule, ...]:
    """Rules that are looked at with every timetable: the chosen one and those like it, coarse
    ones, and the best that the search was left with."""
    question = answer.asked
    near: Sequence[Rule] = narrowed(question.site, answer.chosen)
    if question.among is not None:  # a question among few rules stays among them
        near = answer.rules
    best = np.argsort(-answer.selection.good, kind="stable")[:SURVIVORS].tolist()
    left = (answer.rules[place] for place in best if answer.selection.good[place] > 0.0)
    return tuple(dict.fromkeys((FULL, REDUCED, answer.chosen, answer.rules[0], *near, *left)))


def _promising(wish: Wish, chosen: Rule, rules: Sequence[Rule], table: Floats) -> tuple[Rule, ...]:
    """The first rule, the chosen one, and the best for each number of people all day."""
    best = [
        best_by_means(wish.seen(table[:, :, place]), wish.aim) for place in range(table.shape[2])
    ]
    return tuple(dict.fromkeys((rules[0], chosen, *(rules[place] for place in best))))


def windows(
    days: Days, rules: Sequence[Rule], draws: Sequence[Draw], most: int = MOST_MORE
) -> list[MoreHands]:
    """The best windows of each rule and number of people: the cheapest of those that seem to keep
    to the wish, and the cheapest of all."""
    site, wish = days.question.site, days.question.wish
    starts = np.arange(
        HALF_HOUR_S * math.floor(site.line.open_h * 2.0 + 1e-9), site.line.close_h * 3600.0,
        HALF_HOUR_S,
    )  # fmt: skip
    ends = np.minimum(starts + HALF_HOUR_S, site.line.close_h * 3600.0)
    starts = np.maximum(starts, site.line.open_h * 3600.0)
    alone = [
        MoreHands(people, start, end)
        for people in range(1, most + 1)
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
    ]
    table = days.outcomes(rules, [OWN, *alone], draws)
    own = table[:, :, :1]
    with np.errstate(invalid="ignore"):  # never two switches: infinitely far apart, without hands
        apart = np.nan_to_num(table[:, :, 1:] - own)
    apart = apart.reshape(*table.shape[:2], most, len(starts), len(OUTCOMES))
    sums = np.concatenate([np.zeros_like(apart[..., :1, :]), apart.cumsum(axis=3)], axis=3)
    least = shortest_window_s(site)
    spans = [
        (a, b)
        for a, b in itertools.combinations(range(len(starts) + 1), 2)
        if ends[b - 1] - starts[a] >= least - 1e-6
    ]
    found: list[MoreHands] = []
    for rule, number in itertools.product(range(len(rules)), range(most)):
        cells = sums[rule, :, number]
        guess = np.stack([own[rule, :, 0] + cells[:, b] - cells[:, a] for a, b in spans])
        cost = column(guess, COST).mean(axis=1)
        excess = excesses(wish.seen(guess).means[1], wish.aim)
        cheapest = int(np.argmin(cost))
        nearest = int(np.lexsort((cost, excess))[0])
        for a, b in (spans[cheapest], spans[nearest]):
            found.append(MoreHands(number + 1, float(starts[a]), float(ends[b - 1])))
    return found


Tried = dict[MoreHands, tuple[Rule, ...]]
"""Timetables, and the rules that each is tried with."""


def shortlist(
    wish: Wish, chosen: Rule, rules: Sequence[Rule], hands: Sequence[MoreHands], table: Floats
) -> Tried:
    """For each timetable the rule that the order of choice ends at, and the best by their means;
    with the site's own people the rule that was chosen."""
    ranks = np.array([rank_of(rule) for rule in rules])
    tried: Tried = {}
    for place, one in enumerate(hands):
        if one == OWN:
            tried[one] = (chosen,)
            continue
        seen = wish.seen(table[:, :, place])
        worth, burdens = seen.means
        order = np.lexsort((-worth, excesses(burdens, wish.aim)))[:SHORTLIST].tolist()
        first = int(choose(seen, wish.aim, ranks)[0])
        tried[one] = tuple(dict.fromkeys(rules[at] for at in (first, *order)))
    return tried


def _best_rules(days: Days, tried: Tried, draws: Sequence[Draw]) -> tuple[Pair, ...]:
    """Each timetable with its best rule by the wish, the site's own people first."""
    rules = list(dict.fromkeys(itertools.chain.from_iterable(tried.values())))
    return best_rules(days.question.wish, tried, rules, days.outcomes(rules, list(tried), draws))


def best_rules(wish: Wish, tried: Tried, rules: list[Rule], table: Floats) -> tuple[Pair, ...]:
    """The same from outcomes of shape (rules, draws, timetables, OUTCOMES)."""
    pairs = []
    for place, (one, few) in enumerate(tried.items()):
        at = [rules.index(rule) for rule in few]
        ranks = np.array([rank_of(rule) for rule in few])
        best = int(choose(wish.seen(table[at][:, :, place]), wish.aim, ranks)[0])
        pairs.append(Pair(one, few[best], table[at[best], :, place]))
    return tuple(pairs)


def kept(question: SwitchQuestion, tried: Tried, pairs: Sequence[Pair], most: int) -> Tried:
    """The site's own people, first of the pairs, and the best timetables, each with its rules."""
    wish, others = question.wish, pairs[1:]
    tables = np.stack([pair.table for pair in others])
    cost = column(tables, COST).mean(axis=1)
    excess = excesses(wish.seen(tables).means[1], wish.aim)
    order = np.lexsort((cost, excess))[:PLANS_KEPT].tolist()
    slack = _aim(question).slack
    few = [at for at in np.argsort(cost, kind="stable").tolist() if cost[at] <= cost.min() + slack]
    fewest = min(few, key=lambda at: (others[at].hands.people, cost[at]))
    cheapest = [
        min(
            (at for at, pair in enumerate(others) if pair.hands.people == people),
            key=lambda at: cost[at],
        )
        for people in range(1, most + 1)
    ]
    places = dict.fromkeys([*order, fewest, int(np.argmin(cost)), *cheapest])
    return {one: tried[one] for one in (OWN, *(others[at].hands for at in places))}


# ---- the choice among timetables -----------------------------------------------------------------


def _matters(site: Site) -> float:
    return float(site.wishes.matters_money)


def _aim(question: SwitchQuestion) -> Objective:
    return replace(question.wish.aim, slack=max(1e-9, _matters(question.site)))


def _judged(question: SwitchQuestion, pairs: Sequence[Pair]) -> tuple[Samples, Objective, Ints]:
    """Least cost under the wish's conditions; of those within what matters the fewest people."""
    tables = np.stack([pair.table for pair in pairs])
    seen = question.wish.seen(tables)
    ranks = np.array([pair.hands.people for pair in pairs], dtype=np.int64)
    return Samples(-column(tables, COST), seen.burdens, seen.ties), _aim(question), ranks


def _against(
    days: Days, mine: HandsRow, its: HandsRow, shape: Shape, answer: SwitchAnswer
) -> tuple[Floats, Floats]:
    """Outcomes of one pair and of another on draws that no choice has seen, as of `stands`."""
    question = days.question
    used = max(len(table) for table in answer.outcomes)
    fresh = crossed_draws(question, shape, math.ceil(used / MOST_POINTS))
    rules = list(dict.fromkeys((mine.rule, its.rule)))
    table = days.outcomes(rules, [mine.hands, its.hands], fresh)
    cube = table.reshape(len(rules), shape.blocks, shape.points, shape.days, 2, len(OUTCOMES))
    first, second = rules.index(mine.rule), rules.index(its.rule)
    return cube[first, ..., 0, :], cube[second, ..., 1, :]


# ---- what is told of them ------------------------------------------------------------------------


def _row(days: Days, pair: Pair, own: Pair) -> HandsRow:
    question, site, table, hands = days.question, days.question.site, pair.table, pair.hands
    cost, before = (float(column(one.table, COST).mean()) for one in (pair, own))
    return HandsRow(
        hands, hands.people > 0 and hands == all_day(site, hands.people), pair.rule,
        question.wish.is_kept(table), float(column(table, "left_damp").mean()),
        float(left_damp_share(table).mean()), float(column(table, "full_cars").mean()),
        float(column(table, "finished_cars").mean()), site.money.wage_per_h * hands.hours, cost,
        cost - before,
    )  # fmt: skip


def _shown(rows: Sequence[HandsRow], named: set[int]) -> tuple[HandsRow, ...]:
    """Those that are named, and the cheapest of each number of people; by cost."""
    places = set(named)
    for people in range(1, MOST_MORE + 1):
        of = [at for at, row in enumerate(rows) if row.hands.people == people]
        places |= {min(of, key=lambda at: rows[at].cost)} if of else set()
    return tuple(sorted((rows[at] for at in sorted(places)), key=lambda row: row.cost))

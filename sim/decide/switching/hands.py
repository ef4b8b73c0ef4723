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


class _Days:
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
    wish, site = question.wish, question.site
    shape = shape or (SITES if question.drawn else ONE_SITE)
    rules = _rules(answer)
    whole = [all_day(site, people) for people in range(1, MOST_MORE + 1)]
    expected = (2 * len(rules) + 8) * effort.first + 2 * (8 * effort.sure) + 2 * shape.runs
    days = _Days(question, executor, progress, expected)
    few = search_draws(question, effort.first)

    first = days.outcomes(rules, [OWN, *whole], few)
    promising = _promising(answer, rules, first)
    windows = _windows(days, promising, few)
    hands = list(dict.fromkeys([OWN, *whole, *windows]))
    table = days.outcomes(rules, hands, few)
    pairs = _shortlist(answer, rules, hands, table)
    if not column(table[rules.index(FULL)], "left_damp").any():
        own = _row(days, answer.chosen, OWN, table[rules.index(answer.chosen), :, 0], None)
        return Hands(own, own, None, (own,), 1.0, None, None, _matters(site), days.runs)

    pairs = _kept(days, answer, pairs, search_draws(question, max(effort.first, effort.sure // 4)))
    draws = search_draws(question, effort.sure)
    found = _best_rules(answer, pairs, *_seen(days, pairs, draws))
    order = [OWN, *(one for one in found if one != OWN)]
    tables = np.stack([found[one][1] for one in order])
    place, chance = _choice(wish, site, order, tables, question.seed)
    own_table = found[OWN][1]
    rows = [_row(days, found[one][0], one, found[one][1], own_table) for one in order]
    more = _best_more(wish, site, order, tables)
    mine, its = _against(days, rows[place or more], rows[0], shape, answer)
    gains = gains_of(mine, its, lambda apart: gain_of(take_apart(apart)))
    sides = (mine, its) if place else (its, mine)
    known = question.known is not None
    standing = stands(question, *sides, by_cost=True) if known else None
    shown = _shown(rows, {0, place, more})
    return Hands(
        rows[0], rows[place], rows[more], shown, chance, gains, standing, _matters(site), days.runs
    )


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


def _promising(answer: SwitchAnswer, rules: Sequence[Rule], table: Floats) -> tuple[Rule, ...]:
    """Always full, the chosen rule, and the best for each number of people all day."""
    wish = answer.asked.wish
    best = [
        best_by_means(wish.seen(table[:, :, place]), wish.aim) for place in range(table.shape[2])
    ]
    return tuple(dict.fromkeys((FULL, answer.chosen, *(rules[place] for place in best))))


def _windows(days: _Days, rules: Sequence[Rule], draws: Sequence[Draw]) -> list[MoreHands]:
    """The best windows of each rule and number of people: the cheapest of those that seem to keep
    to the wish, and the cheapest of all."""
    site, wish = days.question.site, days.question.wish
    starts = np.arange(
        HALF_HOUR_S * math.floor(site.line.open_h * 2.0 + 1e-9), site.line.close_h * 3600.0,
        HALF_HOUR_S,
    )  # fmt: skip
    ends = np.minimum(starts + HALF_HOUR_S, site.line.close_h * 3600.0)
    starts = np.maximum(starts, site.line.open_h * 3600.0)
    numbers = range(1, MOST_MORE + 1)
    alone = [
        MoreHands(people, start, end)
        for people in numbers
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
    ]
    table = days.outcomes(rules, [OWN, *alone], draws)
    own = table[:, :, :1]
    with np.errstate(invalid="ignore"):  # never two switches: infinitely far apart, without hands
        apart = np.nan_to_num(table[:, :, 1:] - own)
    apart = apart.reshape(*table.shape[:2], MOST_MORE, len(starts), len(OUTCOMES))
    sums = np.concatenate([np.zeros_like(apart[..., :1, :]), apart.cumsum(axis=3)], axis=3)
    least = shortest_window_s(site)
    spans = [
        (a, b)
        for a, b in itertools.combinations(range(len(starts) + 1), 2)
        if ends[b - 1] - starts[a] >= least - 1e-6
    ]
    found: list[MoreHands] = []
    for rule, number in itertools.product(range(len(rules)), range(MOST_MORE)):
        cells = sums[rule, :, number]
        guess = np.stack([own[rule, :, 0] + cells[:, b] - cells[:, a] for a, b in spans])
        cost = column(guess, COST).mean(axis=1)
        excess = excesses(wish.seen(guess).means[1], wish.aim)
        cheapest = int(np.argmin(cost))
        nearest = int(np.lexsort((cost, excess))[0])
        for a, b in (spans[cheapest], spans[nearest]):
            found.append(MoreHands(number + 1, float(starts[a]), float(ends[b - 1])))
    return found


Pairs = dict[MoreHands, tuple[Rule, ...]]
"""Timetables, and the rules that each is tried with."""


def _shortlist(
    answer: SwitchAnswer, rules: Sequence[Rule], hands: Sequence[MoreHands], table: Floats
) -> Pairs:
    """For each timetable the rule that the order of choice ends at, and the best by their means;
    with the site's own people the rule that was chosen."""
    wish = answer.asked.wish
    ranks = np.array([rank_of(rule) for rule in rules])
    pairs: Pairs = {}
    for place, one in enumerate(hands):
        if one == OWN:
            pairs[one] = (answer.chosen,)
            continue
        seen = wish.seen(table[:, :, place])
        worth, burdens = seen.means
        order = np.lexsort((-worth, excesses(burdens, wish.aim)))[:SHORTLIST].tolist()
        first = int(choose(seen, wish.aim, ranks)[0])
        pairs[one] = tuple(dict.fromkeys(rules[at] for at in (first, *order)))
    return pairs


def _seen(days: _Days, pairs: Pairs, draws: Sequence[Draw]) -> tuple[list[Rule], Floats]:
    rules = list(dict.fromkeys(itertools.chain.from_iterable(pairs.values())))
    return rules, days.outcomes(rules, list(pairs), draws)


def _best_rules(
    answer: SwitchAnswer, pairs: Pairs, rules: list[Rule], table: Floats
) -> dict[MoreHands, tuple[Rule, Floats]]:
    """For each timetable its best rule by the wish, and the outcomes of the two."""
    wish, found = answer.asked.wish, dict[MoreHands, tuple[Rule, Floats]]()
    for place, (one, few) in enumerate(pairs.items()):
        at = [rules.index(rule) for rule in few]
        seen = wish.seen(table[at][:, :, place])
        ranks = np.array([rank_of(rule) for rule in few])
        best = int(choose(seen, wish.aim, ranks)[0])
        found[one] = few[best], table[at[best], :, place]
    return found


def _kept(days: _Days, answer: SwitchAnswer, pairs: Pairs, draws: Sequence[Draw]) -> Pairs:
    """The site's own people and the best timetables, each with its rules."""
    wish, site = answer.asked.wish, answer.asked.site
    found = _best_rules(answer, pairs, *_seen(days, pairs, draws))
    others = [one for one in found if one != OWN]
    tables = np.stack([found[one][1] for one in others])
    cost = column(tables, COST).mean(axis=1)
    excess = excesses(wish.seen(tables).means[1], wish.aim)
    order = np.lexsort((cost, excess))[:PLANS_KEPT].tolist()
    slack = _aim(wish, site).slack
    few = [at for at in np.argsort(cost, kind="stable").tolist() if cost[at] <= cost.min() + slack]
    fewest = min((at for at in few), key=lambda at: (others[at].people, cost[at]))
    cheapest = [
        min((at for at, one in enumerate(others) if one.people == people), key=lambda at: cost[at])
        for people in range(1, MOST_MORE + 1)
    ]
    kept = dict.fromkeys([*order, fewest, int(np.argmin(cost)), *cheapest])
    return {OWN: pairs[OWN], **{others[at]: pairs[others[at]] for at in kept}}


# ---- the choice among timetables -----------------------------------------------------------------


def _matters(site: Site) -> float:
    return float(site.wishes.matters_money)


def _aim(wish: Wish, site: Site) -> Objective:
    return replace(wish.aim, slack=max(1e-9, _matters(site)))


def _samples(wish: Wish, tables: Floats) -> Samples:
    """Least cost under the wish's conditions; tables of shape (pairs, draws, OUTCOMES)."""
    seen = wish.seen(tables)
    return Samples(-column(tables, COST), seen.burdens, seen.ties)


def _ranks(order: Sequence[MoreHands]) -> Ints:
    return np.array([one.people for one in order], dtype=np.int64)


def _choice(
    wish: Wish, site: Site, order: Sequence[MoreHands], tables: Floats, seed: int
) -> tuple[int, float]:
    """Place of the timetable that the order of choice ends at, and how often it does."""
    seen, aim, ranks = _samples(wish, tables), _aim(wish, site), _ranks(order)
    place = int(choose(seen, aim, ranks)[0])
    stream = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, STREAM])))
    parts = stream.standard_exponential((WEIGHINGS, tables.shape[1]))
    again = choose(seen, aim, ranks, parts / parts.sum(axis=1, keepdims=True))
    return place, float(np.mean(again == place))


def _best_more(wish: Wish, site: Site, order: Sequence[MoreHands], tables: Floats) -> int:
    """Place of the best timetable with somebody more."""
    seen = _samples(wish, tables[1:])
    return 1 + int(choose(seen, _aim(wish, site), _ranks(order[1:]))[0])


def _against(
    days: _Days, mine: HandsRow, its: HandsRow, shape: Shape, answer: SwitchAnswer
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


def _row(days: _Days, rule: Rule, hands: MoreHands, table: Floats, own: Floats | None) -> HandsRow:
    """A pair; outcomes of shape (draws, OUTCOMES)."""
    question, site = days.question, days.question.site
    cost = float(column(table, COST).mean())
    before = cost if own is None else float(column(own, COST).mean())
    return HandsRow(
        hands, hands.people > 0 and hands == all_day(site, hands.people), rule,
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

"""Why this advice: what it gains, how surely, what binds, what comes next, what would settle it.

The figures come from draws that the search has not seen: having been chosen makes a rule look
better than it is on the draws that chose it. Where inputs are drawn, sites are crossed with days
(`sim.day.blocks`), so that what a site might be and what a day does are told apart.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from numpy.polynomial.hermite_e import hermevander
from numpy.random import PCG64, Generator, SeedSequence

from sim.day.blocks import MOST_POINTS, Parts, Shape, take_apart
from sim.day.engine import AS_IT_IS, Told, quiet
from sim.day.figures import Range, range_of
from sim.day.replicate import mean_interval
from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.firm import Contest, Measure, Standing, strongest
from sim.decide.switching.candidates import kind_of
from sim.decide.switching.choice import (
    COST,
    OUTCOMES,
    Bools,
    Floats,
    Samples,
    column,
    excesses,
    left_damp_share,
    undominated,
    verdicts,
)
from sim.decide.switching.question import SwitchQuestion, Trials, crossed_draws, search_draws
from sim.decide.switching.reasons import Balance, Flip, Relief, balance, flips, reliefs
from sim.decide.switching.search import PRESENT, SwitchAnswer
from sim.special import ndtri


def best_action(payoffs: Floats, chances: Floats) -> tuple[int, float]:
    """The action with the highest expected payoff, the first of equals, and that payoff.

    Args:
        payoffs: shape (actions, states); chances: of each state, shape (states,), sum 1.
    """
    expected = payoffs @ chances
    best = int(np.argmax(expected))
    return best, float(expected[best])


def with_foresight(payoffs: Floats, chances: Floats) -> float:
    """Expected payoff if the state is known before the action is chosen; shapes as above."""
    return float(payoffs.max(axis=0) @ chances)


DEGREE = 3
DRAWS_A_SLOPE = 2
"""Draws that each straight line in another input asks for."""
SHUFFLES = 40
FALSE_ALARMS = 0.05
"""Expected number of inputs that tell nothing and yet seem to be worth knowing."""
STREAM = 13
TINY = 1e-9
"""Keeps the equations solvable where an input does not vary."""


@dataclass(frozen=True, slots=True)
class ValueOfInformation:
    """What knowing one input would be worth.

    Attributes:
        value: expected gain of the best decision with it over the best without, less what a
            shuffled input seems to be worth; 0 where it can't be told from luck.
    """

    input: str
    value: float


def value_of_all(payoffs: Floats) -> float:
    """Worth of knowing everything that was drawn; payoffs of shape (decisions, draws)."""
    chances = np.full(payoffs.shape[1], 1.0 / payoffs.shape[1])
    return with_foresight(payoffs, chances) - best_action(payoffs, chances)[1]


def values_of_knowing(
    payoffs: Floats, scores: Floats, names: tuple[str, ...], seed: int
) -> tuple[ValueOfInformation, ...]:
    """Worth of each input, the largest first.

    Args:
        payoffs: what each decision gives on each draw, shape (decisions, draws).
        scores: standard normal scores of the inputs, drawn independently; shape (draws, names).
    """
    stream = Generator(PCG64(SeedSequence([seed, STREAM])))
    draws, count = scores.shape
    with_others = draws >= DRAWS_A_SLOPE * (count + DEGREE + 1)
    best = int(np.argmax(payoffs.mean(axis=1)))
    # only differences to the best decide, and they are far less noisy
    apart = payoffs - payoffs[best]
    seen: list[float] = []
    lucky: list[Floats] = []
    for place in range(count):
        others = np.delete(scores, place, axis=1) if with_others else np.empty((draws, 0))
        # what lines in the others explain is taken out once (Frisch & Waugh 1933)
        basis, own = np.linalg.qr(np.column_stack([np.ones(draws), others]))[0], scores[:, place]
        tried = np.stack([own, *(stream.permutation(own) for _ in range(SHUFFLES))])
        seeming = _seeming(basis, apart, tried)
        seen.append(float(seeming[0]))
        lucky.append(seeming[1:])
    luck = np.array(lucky)
    # so many inputs are looked at that the luckiest of them must be allowed for
    threshold = float(np.quantile(luck, 1.0 - FALSE_ALARMS / max(1, count))) if count else 0.0
    most = value_of_all(payoffs)
    found = [
        ValueOfInformation(name, min(most, one - float(noise.mean())) if one > threshold else 0.0)
        for name, one, noise in zip(names, seen, luck, strict=True)
    ]
    return tuple(sorted(found, key=lambda worth: -worth.value))


def _seeming(basis: Floats, apart: Floats, tried: Floats) -> Floats:
    """Worth by fitted values, noise included, of an input in several orders of its draws.

    All orders at once: many small products one by one would take far longer.

    Args:
        basis: orthonormal, of what is taken out; shape (draws, …).
        apart: payoffs less those of the best, shape (decisions, draws).
        tried: scores of the input, shape (orders, draws).
    """

    def without(columns: Floats) -> Floats:
        return np.asarray(columns - basis @ (basis.T @ columns))

    curves = hermevander(tried, DEGREE)[..., 1:]
    curves = curves - curves.mean(axis=1, keepdims=True)
    orders, draws, terms = curves.shape
    flat = curves.transpose(1, 0, 2).reshape(draws, orders * terms)
    left = without(flat).reshape(draws, orders, terms).transpose(1, 2, 0)
    gram = left @ left.transpose(0, 2, 1) + TINY * np.eye(terms)
    slopes = np.linalg.solve(gram, left @ without(apart.T))  # (orders, terms, decisions)
    fitted = apart.mean(axis=1) + curves @ slopes  # (orders, draws, decisions)
    return np.asarray(fitted.max(axis=2).mean(axis=1) - fitted.mean(axis=1).max(axis=1))


Unit = Literal["full_cars", "left_damp", "money"]
"""What something is worth in: cars wiped in full, damp ones at the price at which the wish just
asks for the advice; fewer damp cars, where no rule keeps to the wish; money, by least cost."""

SITES = Shape(blocks=12, points=16, days=2)
ONE_SITE = Shape(blocks=8, points=1, days=16)
"""Draws by which the advice is measured, with inputs drawn and without."""
DRAWS = 32
"""Draws on which causes and tipping values are looked for."""
DECISIONS = 8
"""Rules of the trade-off, beside those that the advice names, that knowledge may choose from."""
PRICES = (0.0, *np.geomspace(1.0, 1e6, 61).tolist())


@dataclass(frozen=True, slots=True)
class Gain:
    """A figure's difference between two rules, or worth of one against another, a day.

    Attributes:
        run_error: 95 %.
        site_uncertainty: 90 %; both ends equal to the mean where no input was drawn.
    """

    value: float
    run_error: Range | None = None
    site_uncertainty: Range | None = None


@dataclass(frozen=True, slots=True)
class Gains:
    """One rule less another, a day: cars wiped in full, damp cars and their share, and cost."""

    full_cars: Gain
    left_damp: Gain
    left_damp_share: Gain
    cost: Gain


@dataclass(frozen=True, slots=True)
class PairedComparison:
    """A rule against another on the same draws.

    Attributes:
        rule: the other.
        better, worse: share of cases in which it is better, and worse, by the wish.
        cases: how many; drawn sites, or single days where no input was drawn.
        loss: means of `gains` over the cases in which it is worse; None where there are none.
    """

    rule: Rule
    gains: Gains
    better: float
    worse: float
    cases: int
    loss: Gains | None


@dataclass(frozen=True, slots=True)
class Rival:
    """What else might be done, and how the advice stands against it over drawn sites."""

    rule: Rule
    standing: Standing


@dataclass(frozen=True, slots=True)
class Advice:
    """The reasons of an answer.

    Attributes:
        over_present: the advice against the present rule; None where it is the present rule.
        runner_up: against the best rule of another shape, else the best one that differs by what
            matters; None where no candidate does.
        reliefs: causes of the need, the one that binds first; empty where nothing is needed.
        flips: where the present rule turns as good (or, where it is the advice, stops being so).
        knowing: worth of knowing each guessed input, the largest first, and knowing_all: of all of
            them, in `unit`; empty where no input was drawn.
        rival: of the present rule, always full, always reduced and the runner-up, the one that
            leaves the advice least firm; None where guesses stood at their middle values.
        runs: simulated days, counted over rules.
    """

    rule: Rule
    over_present: PairedComparison | None
    runner_up: PairedComparison | None
    balance: Balance
    reliefs: tuple[Relief, ...]
    flips: tuple[Flip, ...]
    knowing: tuple[ValueOfInformation, ...]
    knowing_all: float
    unit: Unit
    rival: Rival | None
    runs: int


@dataclass(frozen=True, slots=True)
class Alternative:
    """What else the choice might as well have been.

    Attributes:
        same_kind: whether it is of the kind of the chosen rule; see `kind_of`.
        chance: how often the order of choice ends at it, the draws weighted at random.
        gains: of it over the choice, on the draws of both.
    """

    rule: Rule
    same_kind: bool
    chance: float
    gains: Gains


def advise(
    answer: SwitchAnswer,
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    shape: Shape | None = None,
    draws: int = DRAWS,
) -> Advice:
    """The reasons of an answer.

    Args:
        executor, progress: see `Trials`.
        shape: draws of the comparison; by default `SITES`, or `ONE_SITE` without drawn inputs.
        draws: on which causes and tipping values are looked for.
    """
    question = answer.asked
    shape = shape or (SITES if question.drawn else ONE_SITE)
    chosen, second = answer.selection.chosen, runner_up(answer)
    places = _decisions(answer, second)
    rules = tuple(answer.rules[place] for place in places)
    trials = Trials(question, executor, progress, len(rules) * shape.runs + 132 * draws)

    used = max(len(table) for table in answer.outcomes)
    fresh = crossed_draws(question, shape, math.ceil(used / MOST_POINTS))
    table = trials.outcomes([(AS_IT_IS, rules)], fresh)
    cube = table.reshape(len(rules), shape.blocks, shape.points, shape.days, len(OUTCOMES))
    of = {place: cube[at] for at, place in enumerate(places)}

    def against(other: int | None) -> PairedComparison | None:
        if other is None or other == chosen:
            return None
        return compare_rules(question, answer.rules[other], of[chosen], of[other])

    few = search_draws(question, draws)
    water = balance(trials, answer.chosen, few)
    why = () if answer.chosen == FULL else reliefs(trials, few)
    others = tuple(dict.fromkeys(answer.rules[p] for p in (chosen, second) if p is not None))
    others = tuple(rule for rule in others if rule != answer.rules[PRESENT]) or (REDUCED,)
    turns = flips(trials, answer.rules[PRESENT], others, few)
    unit = unit_of(answer)
    at = places.index(chosen)
    knowing, everything = _knowing(question, cube, at, fresh[0].block, unit)
    over = against(PRESENT)
    return Advice(
        answer.chosen, over, against(second), water, why, turns, knowing, everything, unit,
        _rival(answer, of, second), trials.runs,
    )  # fmt: skip


def unit_of(answer: SwitchAnswer) -> Unit:
    """What rules are worth in by the wish."""
    if answer.asked.wish.kind == "cost":
        return "money"
    return "full_cars" if answer.selection.keeps else "left_damp"


# ---- comparisons ---------------------------------------------------------------------------------


def compare_rules(
    question: SwitchQuestion, other: Rule, mine: Floats, its: Floats
) -> PairedComparison:
    """One rule against another; tables of shape (blocks, points, days, OUTCOMES)."""
    seen = question.wish.seen(np.stack([mine, its]).reshape(2, -1, len(OUTCOMES)))
    drawn = bool(question.drawn)

    def cases(values: Floats) -> Floats:
        """What each drawn site is expected to have, or each day where no input is drawn."""
        return take_apart(values.reshape(mine.shape[:3])).sites if drawn else values.ravel()

    worth = np.stack([cases(values) for values in seen.worth])
    burdens = np.stack([[cases(values) for values in burden] for burden in seen.burdens])
    signs = verdicts(worth, burdens, question.wish.aim)
    worse = signs < 0
    loss = None
    if worse.any():
        loss = gains_of(mine, its, lambda apart: Gain(float(cases(apart)[worse].mean())))
    gains = gains_of(mine, its, lambda apart: gain_of(take_apart(apart)))
    return PairedComparison(
        other, gains, float(np.mean(signs > 0)), float(np.mean(worse)), len(signs), loss
    )


def gains_of(mine: Floats, its: Floats, gain: Callable[[Floats], Gain]) -> Gains:
    """What one rule has more than another, from the differences draw by draw."""

    def of(figure: Callable[[Floats], Floats]) -> Gain:
        return gain(figure(mine) - figure(its))

    full, damp, cost = (partial(column, name=name) for name in ("full_cars", "left_damp", COST))
    return Gains(of(full), of(damp), of(left_damp_share), of(cost))


def _rival(answer: SwitchAnswer, of: Mapping[int, Floats], second: int | None) -> Rival | None:
    """The rival by which an answer is called firm or not; tables as for `compare_rules`."""
    if answer.asked.known is None:
        return None
    chosen = answer.selection.chosen
    places = (PRESENT, answer.rules.index(FULL), answer.rules.index(REDUCED), second)
    found = strongest(
        (place, stands(answer.asked, of[chosen], of[place]))
        for place in dict.fromkeys(places)
        if place is not None and place != chosen
    )
    return None if found is None else Rival(answer.rules[found[0]], found[1])


def stands(
    question: SwitchQuestion, mine: Floats, its: Floats, *, by_cost: bool = False
) -> Standing:
    """How one rule stands against another by the wish; tables as for `compare_rules`.

    Where the site entered every guess, each run is at the site itself.

    Args:
        by_cost: whether least cost is wanted of those that keep to the wish's conditions.
    """
    shape = mine.shape[:3]

    def measure(values: Floats, slack: float) -> Measure:
        own, other = (row.reshape(shape) for row in values)
        base, apart = take_apart(other).sites, take_apart(own - other)
        sites = np.stack([base + apart.sites, base])
        return Measure(sites, apart.error_low, apart.error_high, slack)

    found = _contest(question, mine, its, measure, by_cost=by_cost)
    return found if question.drawn else replace(found, sites=math.prod(shape))


def stands_on_runs(
    question: SwitchQuestion, mine: Floats, its: Floats, *, by_cost: bool = False
) -> Standing:
    """The same where each drawn site has lived through one day of its own, whose luck then counts
    as if it were the site's; tables of shape (draws, OUTCOMES)."""

    def measure(values: Floats, slack: float) -> Measure:
        _mean, low, high = mean_interval(values[0] - values[1])
        return Measure(values, low, high, slack)

    return _contest(question, mine, its, measure, by_cost=by_cost)


def _contest(
    question: SwitchQuestion,
    mine: Floats,
    its: Floats,
    measure: Callable[[Floats, float], Measure],
    *,
    by_cost: bool,
) -> Standing:
    wish = question.wish
    seen = wish.seen(np.stack([mine, its]).reshape(2, -1, len(OUTCOMES)))
    burdens = zip(seen.burdens, wish.aim.slacks, strict=True)
    cost = np.stack([column(mine, COST).ravel(), column(its, COST).ravel()])
    matters = float(question.site.wishes.matters_money)
    return Contest(
        measure(-cost, matters) if by_cost else measure(seen.worth, wish.slack),
        tuple(measure(burden, slack) for burden, slack in burdens),
        measure(cost, matters),
    ).standing


def gain_of(parts: Parts) -> Gain:
    """A difference with its intervals."""
    # floors that fit counts do not fit differences, which may have either sign
    low, high = np.percentile(parts.sites, [5, 95])
    return Gain(parts.mean, range_of(parts.error_low, parts.error_high), range_of(low, high))


# ---- what else it might be -----------------------------------------------------------------------


def alternatives(answer: SwitchAnswer) -> tuple[Alternative, ...]:
    """What else the choice might as well have been, the likeliest first; none where it is clear."""
    chosen = answer.selection.chosen
    found = []
    for place, chance in answer.selection.others:
        own, its = answer.paired(chosen, place)
        rule = answer.rules[place]
        same_kind = kind_of(rule) == kind_of(answer.chosen)
        gains = gains_of(its, own, lambda apart: Gain(float(apart.mean())))
        found.append(Alternative(rule, same_kind, chance, gains))
    return tuple(found)


def shape_of(rule: Rule) -> tuple[tuple[str, ...], ...]:
    """What a rule is made of: kinds of terms, row by row, whatever their numbers."""
    if rule == REDUCED:
        return (("everyone",),)
    rows = (tuple(sorted(type(term).__name__ for term in row)) for row in rule.either)
    return tuple(sorted(rows))


def standing(answer: SwitchAnswer) -> tuple[list[int], Floats]:
    """Places of the candidates, the best by the wish first, and the worth of each.

    Those dropped early count with the draws that they had, by their differences to the chosen.
    """
    wish, chosen = answer.asked.wish, answer.selection.chosen
    own = wish.seen(answer.outcomes[chosen][None])
    count = len(answer.rules)
    worth = np.empty(count)
    burdens = np.empty((len(own.burdens), count))
    for place in range(count):
        mine, its = answer.paired(chosen, place)
        seen = wish.seen(np.stack([mine, its]))
        worth[place] = own.worth.mean() + (seen.worth[1] - seen.worth[0]).mean()
        apart = (seen.burdens[:, 1] - seen.burdens[:, 0]).mean(axis=1)
        burdens[:, place] = own.burdens[:, 0].mean(axis=1) + apart
    return np.lexsort((-worth, excesses(burdens, wish.aim))).tolist(), worth


def runner_up(answer: SwitchAnswer) -> int | None:
    """Place of the best candidate of another shape, else of the best that differs enough.

    None by bands, which no crew can carry out: what it can see of the saturation, late and at the
    cost of its looks, is held against the rule as a cue (`sim.decide.switching.cues`).
    """
    wish, chosen = answer.asked.wish, answer.selection.chosen
    order, worth = standing(answer)
    shape = shape_of(answer.chosen)
    others = [place for place in order if place != chosen and answer.rules[place].by_crew]
    of_another = (place for place in others if shape_of(answer.rules[place]) != shape)
    apart = (place for place in others if abs(worth[place] - worth[chosen]) > wish.slack)
    return next(itertools.chain(of_another, apart), None)


# ---- what knowledge is worth ---------------------------------------------------------------------


def _decisions(answer: SwitchAnswer, second: int | None) -> list[int]:
    """Places of the rules that are compared: those named, and some along the trade-off."""
    named = [
        answer.selection.chosen,
        PRESENT,
        answer.rules.index(FULL),
        answer.rules.index(REDUCED),
    ]
    named += [] if second is None else [second]
    means = np.array([table.mean(axis=0) for table in answer.outcomes])
    usable = np.array([answer.asked.wish.may_switch(table) for table in answer.outcomes])
    damp = column(means, "left_damp")
    border = np.flatnonzero(undominated(damp, column(means, "full_cars"), usable))
    border = border[np.argsort(damp[border], kind="stable")]
    return list(dict.fromkeys([*named, *_spread(border.tolist(), DECISIONS)]))


def _spread(places: list[int], most: int) -> Iterable[int]:
    if len(places) <= most:
        return places
    return [places[i] for i in np.linspace(0, len(places) - 1, most).round().astype(int).tolist()]


def _knowing(
    question: SwitchQuestion, cube: Floats, chosen: int, first_block: int, unit: Unit
) -> tuple[tuple[ValueOfInformation, ...], float]:
    """Worth of knowing each input, and of knowing all."""
    names = question.drawn
    if not names:
        return (), 0.0
    rules, blocks, points, days, _ = cube.shape
    quantiles = [question.experiment.points(first_block + block, points) for block in range(blocks)]
    scores = np.asarray(ndtri(np.concatenate(quantiles)))
    if unit == "money":
        payoffs = -column(cube, COST)
    elif unit == "left_damp":
        payoffs = -column(cube, "left_damp")
    else:
        flat = priced(question, cube.reshape(rules, -1, len(OUTCOMES)), chosen)
        payoffs = flat.reshape(rules, blocks, points, days)
    # what a site is expected to have: days would make any choice look as if it could be bettered
    apart = np.stack([take_apart(payoff - payoffs[chosen]).sites for payoff in payoffs])
    return values_of_knowing(apart, scores, names, question.seed), value_of_all(apart)


def priced(question: SwitchQuestion, table: Floats, chosen: int) -> Floats:
    """Cars wiped in full less damp ones at a price, by rule and draw; shape (rules, draws).

    The price is the lowest at which the chosen rule has the least lead to catch up: the
    multiplier of the wish's condition, by which it is the same to keep to the condition or to pay
    for breaking it; for a wish on single days it is the price of a day that breaks it. Rules that
    break the limits of switching are as bad as the worst.

    Args:
        table: outcomes, shape (rules, draws, OUTCOMES).
    """
    seen = question.wish.seen(table)
    worth, damp = seen.worth, seen.burdens[1]
    usable = _usable(seen, chosen)
    found = worth - price_of(question, table, chosen) * damp
    return np.asarray(np.where(usable[:, None], found, found[usable].min(axis=0)))


def price_of(question: SwitchQuestion, table: Floats, chosen: int) -> float:
    """The price of `priced`: cars wiped in full for missing the condition on damp cars by 1."""
    seen = question.wish.seen(table)
    worth, damp = seen.worth, seen.burdens[1]
    means = worth.mean(axis=1)[:, None] - damp.mean(axis=1)[:, None] * np.array(PRICES)
    usable = _usable(seen, chosen)
    leads = np.where(usable[:, None], means, -np.inf).max(axis=0) - means[chosen]
    return float(PRICES[int(np.argmin(leads))])


def _usable(seen: Samples, chosen: int) -> Bools:
    """Rules that keep to the limits of switching; the chosen one counts as if it did."""
    usable = seen.burdens[0].mean(axis=1) <= 0.0
    usable[chosen] = True
    return np.asarray(usable)

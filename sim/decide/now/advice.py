"""What to do with the rest of a day: stay, reduce, reduce later, go back.

The courses that can be taken from now on are tried on the same followed sites, each with its day:
the plan's rule; full, or reduced, to closing; reduced until a time; full until a time, then
reduced; the plan's window with one end moved. What is told follows the wish's own order
(`sim.decide.switching.choice`): among the courses that are good by it, which no other is better
than by what matters, that which goes on as was advised last for right now, so that a crew is not
sent to and fro for luck; then the plan's; then the one that is worth most.

How sure: on so many of the days that are still possible, each by its weight, nothing that does
otherwise right now would have been better by what matters. What would change it is found by trying:
every count of damp ones among the next hoods, each by the probability that the followed sites give
it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.day.rules import HOODS_SEEN, Clock, Rule, Term
from sim.decide.now.answer import Act, Course, NowAnswer, WouldChange
from sim.decide.now.follow import Followed, Past
from sim.decide.now.rest import missing_from, stands_until
from sim.decide.now.so_far import DAY_END_S, SoFar, windows_of
from sim.decide.switching.choice import COST, Samples, Wish, are_good, column
from sim.inputs import Site
from sim.inputs.logbook import FULL, GO_BACK, REDUCE_LATER, REDUCE_NOW, REDUCED, STAY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Spans = tuple[tuple[float, float], ...]

STEP_S, LONG_STEP_S = 1_800.0, 3_600.0
"""Times are tried by the half-hour, and by the hour from then on."""
NEAR_TIMES_S = 4 * 3_600.0
SOON_S = 900.0
"""A switch so soon from now is not a time of its own [s]."""


@dataclass(frozen=True, slots=True)
class _Way:
    """A course before it is tried. `spans`: when it wipes reduced; None: as the plan says."""

    rule: Rule
    spans: Spans | None
    act: Act


@dataclass(frozen=True, slots=True, eq=False)
class Ahead:
    """The courses from now on, as they were tried.

    Attributes:
        site: as it was planned.
        plan: the morning's rule; wish: what is wanted.
        ways: the courses, the plan's first; now: which of them wipe reduced right now.
        past: the hours so far at every followed site; places, weights: of those carried on.
        table: outcomes of the whole day, shape (courses, places, OUTCOMES).
    """

    so_far: SoFar
    site: Site
    plan: Rule
    wish: Wish
    ways: tuple[_Way, ...]
    now: Bools
    past: Past
    places: Ints
    weights: Floats
    table: Floats


def look_ahead(followed: Followed, so_far: SoFar) -> Ahead:
    """Every course from now on, on the sites that what was seen leaves; what takes its time."""
    question, plan = followed.question, followed.plan
    ways = _ways(question.site, plan, so_far)
    past = followed.past(so_far, ways[0].rule)
    places, weights = past.drawn(followed.carried, question.seed)
    table = followed.outcomes(past, places, so_far, [way.rule for way in ways])
    now = np.array([_reduces(way, so_far, plan) for way in ways])
    return Ahead(
        so_far, question.site, plan, question.wish, ways, now, past, places, weights, table
    )  # fmt: skip


def advise(followed: Followed, so_far: SoFar) -> NowAnswer:
    """What to do from now on."""
    return tell(look_ahead(followed, so_far), so_far.said)


def tell(ahead: Ahead, said: str) -> NowAnswer:
    """What to do from now on.

    Args:
        said: as in `SoFar`; it is cheap to tell anew.
    """
    so_far, ways, past, now = ahead.so_far, ahead.ways, ahead.past, ahead.now
    table, weights, places, wish = ahead.table, ahead.weights, ahead.places, ahead.wish
    seen = wish.seen(table)
    told = int(_choose(seen, wish, weights[None], now, said)[0])
    if so_far.last_s is None:
        told = 0  # nothing is known that the plan did not know
    other = _best(seen, wish, weights, now != now[told], told)
    damp, cost = column(table, "left_damp"), column(table, COST)
    later = damp - past.left_damp[places]

    def course(at: int) -> Course:
        return Course(
            ways[at].act, ways[at].rule.text, float(cost[at] @ weights),
            max(0.0, float(later[at] @ weights)), float(column(table, "full_cars")[at] @ weights),
        )  # fmt: skip

    saves, saves_error = _paired(cost[0] - cost[told], weights)
    spares, spares_error = _paired(damp[0] - damp[told], weights)
    counted = so_far.washed[-1] if so_far.washed else None
    washed = column(table, "cars_washed")[told] - past.washed[places]
    return NowAnswer(
        now_s=so_far.now_s,
        told=course(told),
        planned=course(0),
        other=course(other),
        by_plan=told == 0,
        by_clock=windows_of(ahead.plan) is not None,
        saves=saves,
        saves_error=saves_error,
        spares=spares,
        spares_error=spares_error,
        beats=float((cost[other] - cost[told]) @ weights),
        spares_of_other=float((damp[other] - damp[told]) @ weights),
        chance=_chance(seen, wish, weights, told, other),
        draws=len(past.damp_share),
        effective=past.weights.effective,
        widened=past.weights.is_evened,
        damp_share=float(past.weights.weights @ past.damp_share),
        cars_scale=past.scale,
        washed=None if counted is None else counted[1],
        counted_s=None if counted is None else counted[0],
        looks=len(so_far.hoods),
        strips=len(so_far.strips),
        cars_left=max(0.0, float(washed @ weights)),
        felt_s=so_far.felt[-1].at_s if so_far.felt else None,
        missing=len(missing_from(so_far, ahead.site)),
        stands_until_s=stands_until(so_far, ahead.site),
        changes=_would_change(ahead, seen, told, said),
        last_s=so_far.last_s,
    )


# ---- courses -------------------------------------------------------------------------------------


def act_by_plan(plan: Rule, so_far: SoFar) -> Act:
    """What the plan's rule says of now and of what comes next."""
    planned = windows_of(plan)
    rest = None if planned is None else _after(planned, so_far.now_s)
    return _act(rest, so_far, plan)


def _ways(site: Site, plan: Rule, so_far: SoFar) -> tuple[_Way, ...]:
    """The courses from now on, the plan's first."""
    now, closes = so_far.now_s, 3600.0 * site.line.close_h
    planned = windows_of(plan)
    rest = None if planned is None else _after(planned, now)
    times = _times(now, closes)
    spans: list[Spans] = [(), ((now, DAY_END_S),)]
    spans += [((now, at),) for at in times]
    spans += [((at, DAY_END_S),) for at in times]
    if rest is not None and len(rest) == 1:
        ((begin, end),) = rest
        spans += [((at, end),) for at in times if at < end]
        spans += [((begin, at),) for at in times if at > begin]
        spans.append(((now, end),))
    found = [_Way(_spliced(plan, so_far, None), rest, act_by_plan(plan, so_far))]
    known = {rest}
    for one in spans:
        if one not in known:
            known.add(one)
            found.append(_Way(_spliced(plan, so_far, one), one, _act(one, so_far, plan)))
    return tuple(found)


def _after(spans: Spans, now: float) -> Spans:
    """What is left of windows."""
    return tuple((max(begin, now), end) for begin, end in spans if end > now)


def _times(now: float, closes: float) -> list[float]:
    """Times of day at which it may be switched later [s]."""
    found, at = [], STEP_S * math.ceil((now + SOON_S) / STEP_S)
    while at < closes - SOON_S:
        if at - now <= NEAR_TIMES_S or at % LONG_STEP_S == 0.0:
            found.append(at)
        at += STEP_S
    return found


def as_lived(plan: Rule, so_far: SoFar) -> Rule:
    """The rule of a whole day that went as was switched: the plan's until the first switch, and
    from the last one on as it says."""
    if not so_far.switched:
        return plan
    at, is_reduced = so_far.switched[-1]
    until = replace(so_far, now_s=at, switched=so_far.switched[:-1] or ((at, is_reduced),))
    return _spliced(plan, until, ((at, DAY_END_S),) if is_reduced else ())


def _spliced(plan: Rule, so_far: SoFar, spans: Spans | None) -> Rule:
    """The rule of the whole day: the plan's until the first switch, as was switched until now, and
    from now on the windows or, with None, the plan's again."""
    switched, now = so_far.switched, so_far.now_s
    if spans is None and not switched:
        return plan
    rows = list[tuple[Term, ...]]()
    first = switched[0][0] if switched else now
    rows += _between(plan, 0.0, first)
    ends = [*(at for at, _ in switched[1:]), now]
    own = [
        (at, end)
        for (at, is_reduced), end in zip(switched, ends, strict=False)
        if is_reduced and end > at
    ]
    if spans is None:
        rows += _between(plan, now, DAY_END_S)
    else:
        own += spans
    rows += [(Clock((span,)),) for span in own]
    return Rule(tuple(rows))


def _between(plan: Rule, begin: float, end: float) -> list[tuple[Term, ...]]:
    """A rule between two times alone."""
    if end <= begin:
        return []
    inside = Clock(((begin, end),))
    if plan.everyone:
        return [(inside,)]
    return [(inside, *row) for row in plan.either]


def _act(spans: Spans | None, so_far: SoFar, plan: Rule) -> Act:
    """What a course begins with; one without windows goes on as it is."""
    is_reduced, now = so_far.is_reduced(plan), so_far.now_s
    if spans is None:
        return Act(STAY, None, is_reduced)
    edges = _edges(spans, now)
    reduces = any(begin <= now < end for begin, end in spans)
    following = edges[0] if edges else None
    if reduces != is_reduced:
        return Act(REDUCE_NOW if reduces else GO_BACK, None, is_reduced, following)
    if following is None:
        return Act(STAY, None, is_reduced)
    until = edges[1] if len(edges) > 1 else None
    return Act(GO_BACK if is_reduced else REDUCE_LATER, following, is_reduced, until)


def _edges(spans: Spans, now: float) -> list[float]:
    """When windows begin and end after now; where one ends as the next begins, nothing is
    switched."""
    edges = sorted(edge for span in spans for edge in span if now < edge < DAY_END_S)
    return [edge for edge in edges if edges.count(edge) == 1]


def _reduces(way: _Way, so_far: SoFar, plan: Rule) -> bool:
    """Whether a course wipes reduced right now."""
    if way.spans is None:
        return so_far.is_reduced(plan)
    return any(begin <= so_far.now_s < end for begin, end in way.spans)


# ---- choice --------------------------------------------------------------------------------------


def _choose(seen: Samples, wish: Wish, weightings: Floats, now: Bools, said: str) -> Ints:
    """The course of each weighting of the draws; see the module."""
    worth, burdens = seen.weighed(weightings)
    good = are_good(worth, burdens, wish.aim)
    chosen = np.where(good, worth, -np.inf).argmax(axis=1)
    kept = good & (now == (said == REDUCED)) if said in (REDUCED, FULL) else np.zeros_like(good)
    as_said = np.where(kept, worth, -np.inf).argmax(axis=1)
    chosen = np.where(kept.any(axis=1), as_said, chosen)
    plans = good[:, 0] & (kept[:, 0] | ~kept.any(axis=1))
    return np.asarray(np.where(plans, 0, chosen))


def _best(seen: Samples, wish: Wish, weights: Floats, among: Bools, told: int) -> int:
    """The best of some courses; what is told where there is none."""
    if not among.any():
        return told
    worth, burdens = seen.weighed(weights[None])
    places = np.flatnonzero(among)
    good = are_good(worth[:, places], burdens[:, :, places], wish.aim)
    return int(places[np.where(good, worth[:, places], -np.inf).argmax()])


def _paired(apart: Floats, weights: Floats) -> tuple[float, float]:
    """Mean of a paired difference by weighted draws, and its standard error."""
    mean = float(apart @ weights)
    return mean, math.sqrt(float((weights**2) @ (apart - mean) ** 2))


def _chance(seen: Samples, wish: Wish, weights: Floats, told: int, other: int) -> float:
    """By weight, the days on which what is told is good beside the other."""
    two = [told, other]
    good = are_good(seen.worth[two].T, np.swapaxes(seen.burdens[:, two], 1, 2), wish.aim)
    return float(weights @ good[:, 0])


# ---- what would change it ------------------------------------------------------------------------


def _would_change(ahead: Ahead, seen: Samples, told: int, said: str) -> WouldChange | None:
    """The look at the next hoods that would change the advice most probably."""
    past, places, weights, now = ahead.past, ahead.places, ahead.weights, ahead.now
    counts = np.arange(HOODS_SEEN + 1)
    looks = [past.by_look(n, HOODS_SEEN) for n in counts.tolist()]
    chances = np.array([chance for _, chance in looks])
    before = past.weights.weights[places]
    joint = np.array([weights * after[places] / before for after, _ in looks])
    weightings = joint / joint.sum(axis=1, keepdims=True)
    chosen = _choose(seen, ahead.wish, weightings, now, said)
    differs = now[chosen] != now[told]
    usual = HOODS_SEEN * float(past.damp_share[places] @ weights)
    found = list[WouldChange]()
    for n in counts[differs].tolist():
        more = n >= usual
        beyond = counts >= n if more else counts <= n
        if not differs[beyond].all():
            continue  # what is still further out would have to change it as well
        act = ahead.ways[int(chosen[n])].act
        chance = float(chances[beyond].sum())
        found.append(WouldChange(n, HOODS_SEEN, more, usual, chance, act.word, act.at_s))
    return max(found, key=lambda one: one.chance, default=None)

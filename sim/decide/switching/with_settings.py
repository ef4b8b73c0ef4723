"""Speed, spacing and wiping rule together: a timetable of at most three speeds, and its rule.

A slower belt and wider spacing give the cloth more time between cars, and fewer cars a washing.
To weigh the two, settings are judged by the cost of the day, in which a lost car and a reduced
wipe have their price, under the wish's own conditions on damp cars and switching.

The search goes by coordinates, each step by sequential halving on common draws (`selection`):
speeds and spacings held all day, with a few coarse rules; then timetables that change where the
hourly arrivals cross a level; then the neighbours of the rule.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

import numpy as np

from sim.day.engine import Told, Variant, quiet
from sim.day.rules import FULL, Rule
from sim.day.setup import mean_load_s
from sim.decide.switching.answer import TOGETHER_SCHEMA, CrewTerms, Setting, SettingPlan, Together
from sim.decide.switching.candidates import coarse_rules, neighbours, rank_of
from sim.decide.switching.choice import (
    COST,
    OUTCOMES,
    Floats,
    Samples,
    are_good,
    column,
    excesses,
    left_damp_share,
)
from sim.decide.switching.question import SwitchQuestion, Trials, search_draws, with_opening
from sim.decide.switching.reasons import hourly_means
from sim.decide.switching.search import SamplingBudget, Selection, select
from sim.inputs import INPUTS, Site

HOUR_S = 3600.0
EFFORT = SamplingBudget(first=8, sure=32, most=32)
SPEEDS = 5
SPACINGS = (0.85, 1.0, 1.2, 1.4)
"""Spacings looked at, times the present one."""
LEVELS = (0.6, 0.8)
"""Arrivals at which a timetable changes, as shares of the busiest hour's."""
BEST_RULES = 4
HAIR = 1e-9
EXPECTED = 6_000
"""Runs that are about to be made, for progress."""


Candidate = tuple[Setting, Rule]


def present_of(site: Site) -> Setting:
    """The setting in use."""
    line = site.line
    return Setting(line.speed_timetable or ((0.0, line.conveyor_speed_m_s),), line.car_spacing_m)


def choose_together(
    question: SwitchQuestion,
    rule: Rule,
    day: date,
    libraries: dict[str, str],
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    effort: SamplingBudget | None = None,
) -> Together:
    """The best speeds, spacing and rule, starting from the rule chosen at the present setting.

    About 6,000 runs with `EFFORT`; executor, progress: see `Trials`.

    Args:
        day: the planned day; libraries: versions of what computes it.
    """
    work = _CandidateWork(question, executor, progress, effort or EFFORT)
    site, now = question.site, present_of(question.site)
    start: Candidate = (now, rule)
    rules = tuple(dict.fromkeys((FULL, rule, *coarse_rules(site))))

    held = [Setting(((0.0, v),), s) for v, s in itertools.product(_speeds(site), _spacings(site))]
    first = work.step([start, *itertools.product([now, *held], rules)])
    never = work.cheapest_full(first)
    few = tuple(dict.fromkeys((FULL, rule, *work.best_rules(first))))
    tables = _timetables(question, first.best[0])
    second = work.step([start, first.best, *itertools.product(tables, few)])
    setting, best = second.best
    near = [(setting, other) for other in neighbours(site, best)]
    third = work.step([start, second.best, *near])
    ends = [start, third.best] + ([never] if never else [])
    plans = work.plans(ends)
    return Together(
        TOGETHER_SCHEMA, site.name, day, question.seed, libraries, question.wish,
        CrewTerms.of(site), plans[0], plans[1], plans[2] if never else None,
        third.best[0] == now, third.found.probability, work.runs,
    )  # fmt: skip


# ---- what is looked at ---------------------------------------------------------------------------


def _speeds(site: Site) -> list[float]:
    """Speeds within the equipment's range that the loaders can keep up with."""
    line, pay = site.line, site.pay
    pace_s = mean_load_s(site)
    if any(count >= 2 for _, count in pay.loaders):
        pace_s *= pay.second_loader_factor
    usual = present_of(site).speeds
    fastest = max(speed for _, speed in usual)
    least = max(site.reference.numbers.length_m + line.least_gap_m, line.car_spacing_m)
    useful = min(line.fastest_belt_m_s, max(fastest, least / pace_s))
    grid = np.linspace(line.slowest_belt_m_s, useful, SPEEDS).tolist()
    return sorted({round(v, 4) for v in [*grid, *(speed for _, speed in usual)]})


def _spacings(site: Site) -> list[float]:
    line, row = site.line, INPUTS["car_spacing_m"]
    # nearer than length and gap the belt does not let them come
    least = max(row.low, site.reference.numbers.length_m + line.least_gap_m)
    least = min(least, line.car_spacing_m)
    found = (min(row.high, max(least, line.car_spacing_m * share)) for share in SPACINGS)
    return sorted(set(found))


def _timetables(question: SwitchQuestion, best: Setting) -> list[Setting]:
    """Another speed in the busy hours than before and after them."""
    site, cars = question.site, question.conditions.arrivals_per_h
    base = max(speed for _, speed in best.speeds)
    speeds = _speeds(site)
    place = min(range(len(speeds)), key=lambda k: abs(speeds[k] - base))
    near = sorted({speeds[max(0, place - 1)], base, speeds[min(len(speeds) - 1, place + 1)]})
    found = []
    for start, end in dict.fromkeys(_busy_hours(site, cars)):
        for calm, busy in itertools.permutations(near, 2):
            steps = ((0.0, calm), (start, busy), (end, calm))
            # a busy time that lasts until closing has no third piece
            table = tuple(row for row in steps if row[0] < site.line.close_h * HOUR_S)
            found.append(Setting(table, best.spacing_m))
    return found


def _busy_hours(site: Site, cars: Sequence[float]) -> Iterator[tuple[float, float]]:
    """From the first to the last hour at or above a level of arrivals [s]."""
    open_ = [h for h in range(24) if site.line.open_h <= h < site.line.close_h]
    top = max((cars[h] for h in open_), default=0.0)
    for level in LEVELS:
        busy = [h for h in open_ if cars[h] >= level * top]
        if busy and busy[0] > site.line.open_h:
            yield busy[0] * HOUR_S, (busy[-1] + 1) * HOUR_S


# ---- the steps -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Step:
    """One step: its candidates, the selection, and the best with ties to the present setting."""

    candidates: tuple[Candidate, ...]
    found: Selection
    best: Candidate


class _CandidateWork:
    """Runs candidates on the draws of the question's own search."""

    def __init__(
        self,
        question: SwitchQuestion,
        executor: Executor | None,
        told: Told,
        effort: SamplingBudget,
    ) -> None:
        question = with_opening(question)
        self._trials = Trials(question, executor, told, EXPECTED)
        self._last = Trials(question, executor)
        self._wish, self._site, self._effort = question.wish, question.site, effort
        self._draws = search_draws(question, effort.most)
        self._now = present_of(question.site)
        slack = max(HAIR, question.site.wishes.matters_money)
        self._aim, self._seed = replace(question.wish.aim, slack=slack), question.seed

    @property
    def runs(self) -> int:
        """Simulated days, counted over rules."""
        return self._trials.runs + self._last.runs

    def step(self, candidates: Sequence[Candidate]) -> _Step:
        """Sequential halving; always full at every setting, and the start, are never dropped."""
        kept = tuple(dict.fromkeys(candidates))
        # a setting's rules stand together, so that they share the setting's day
        order = sorted(range(len(kept)), key=lambda k: (kept[k][0] != kept[0][0], kept[k][0].speeds,
                                                        kept[k][0].spacing_m, k))  # fmt: skip
        kept = tuple(kept[k] for k in order)
        stay = {k for k, (_, rule) in enumerate(kept) if rule == FULL} | {0}

        def sample(chosen: Sequence[int], first: int, last: int) -> Samples:
            cells = [
                (Variant(tuple(setting.changes.items())), tuple(rule for _, rule in rows))
                for setting, rows in groupby((kept[k] for k in chosen), key=lambda one: one[0])
            ]
            table = self._trials.outcomes(cells, self._draws[first:last])
            wished = self._wish.seen(table)
            return Samples(-column(table, COST), wished.burdens, wished.ties)

        ranks = np.array([rank_of(rule) for _, rule in kept])
        by_crew = np.array([rule.by_crew for _, rule in kept])
        found = select(
            len(kept), sample, self._aim, self._effort, self._seed, ranks=ranks,
            by_crew=by_crew, stay=stay,
        )  # fmt: skip
        return _Step(kept, found, kept[self._with_ties(kept, found)])

    def _with_ties(self, candidates: Sequence[Candidate], found: Selection) -> int:
        """The best at the present setting if it is as good as the choice, else the choice."""
        full = found.draws == found.draws.max()
        here = [k for k, one in enumerate(candidates) if full[k] and one[0] == self._now]
        pair = [found.chosen, *here]
        good = are_good(found.worth[pair][None], found.burdens[:, None, pair], self._aim)[0]
        near = [k for k, fine in zip(here, good[1:], strict=True) if fine]
        return max(near, key=lambda k: found.worth[k], default=found.chosen)

    def cheapest_full(self, step: _Step) -> Candidate | None:
        """Of the settings at which always full keeps to the wish the least costly."""
        excess = excesses(step.found.burdens, self._aim)
        able = [
            k for k, (_, rule) in enumerate(step.candidates) if rule == FULL and excess[k] <= 0.0
        ]
        if not able:
            return None
        return step.candidates[max(able, key=lambda k: step.found.worth[k])]

    def best_rules(self, step: _Step) -> list[Rule]:
        """Rules of the candidates that were kept longest, the best first."""
        order = np.lexsort(
            (-step.found.worth, excesses(step.found.burdens, self._aim), -step.found.draws)
        )
        rules = dict.fromkeys(step.candidates[k][1] for k in order.tolist())
        return list(rules)[:BEST_RULES]

    def plans(self, candidates: Sequence[Candidate]) -> list[SettingPlan]:
        """What days of these are, on the draws that the survivors had."""
        draws = self._draws[: self._effort.sure]
        cells = [(Variant(tuple(setting.changes.items())), (rule,)) for setting, rule in candidates]
        table = self._last.outcomes(cells, draws)
        clock = self._last.hours(cells, draws[:16])
        return [
            self._plan(one, table[k], clock["full_share"][k]) for k, one in enumerate(candidates)
        ]

    def _plan(self, candidate: Candidate, table: Floats, full_share: Floats) -> SettingPlan:
        line = self._site.line
        means = dict(zip(OUTCOMES, table.mean(axis=0).tolist(), strict=True))
        reduced = hourly_means(1.0 - full_share)
        clock = np.arange(24.0)  # an hour counts as far as it is open, overtime not at all
        open_ = np.minimum(line.close_h, clock + 1.0) - np.maximum(line.open_h, clock)
        setting, rule = candidate
        return SettingPlan(
            setting.speeds, setting.spacing_m, rule, means["cars_washed"],
            means["cars_washed"] / (line.close_h - line.open_h),
            means["cars_lost"], means["full_cars"], means["left_damp"],
            float(left_damp_share(table).mean()), means[COST],
            float(reduced @ np.clip(open_, 0.0, 1.0)),
            self._wish.is_kept(table),
        )  # fmt: skip

"""Scenarios over sites as they might be: runs in blocks, and what the unknown of a site does.

A drawn site lives through its days under every scenario, so differences are paired both in the
site and in the day. Inputs that a scenario sets itself keep what it sets. `run_blocks` draws
sites, evenings and days anew each time; whoever tries one change after another keeps them in a
`PairedRunCache`, at the cost of its own days a scenario, and finds the very same figures.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import Parts, Shape, day_block, day_luck, take_apart
from sim.day.draw import DayDraw
from sim.day.drawn import Belief, at_level
from sim.day.engine import Draw, Experiment, simulate
from sim.day.figures import (
    FIGURES,
    Figure,
    FigureInfo,
    PairedDifference,
    Word,
    finite,
    range_of,
    worded,
)
from sim.day.replicate import (
    PROBABLY,
    Days,
    all_figures,
    half_digit,
    matters,
    means_by_hour,
    rare_event,
    scenario_cell,
    strength_of,
)
from sim.decide.firm import ROUNDING, Contest, Measure, Standing, Widener, is_told
from sim.inputs import LEVEL, Conditions, Scenario, Site
from sim.special import ndtri

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs of one scenario.

    Attributes:
        day: figures by name, shape (blocks, points, days).
        hours: hourly means, shape (24,).
        luck: how busy each day is for what was expected, see `sim.day.blocks.day_luck`; None
            where days are independent.
    """

    day: dict[str, Floats]
    hours: dict[str, Floats]
    luck: Floats | None = None


@dataclass(frozen=True, slots=True)
class NestedRuns:
    """Runs of all scenarios over the same drawn sites and days.

    Attributes:
        names: inputs that were drawn; u: their quantiles, shape (blocks · points, names).
        level: factor on what is expected at each point, shape (blocks · points,).
        table: figures of every run, to go on from; shape (scenarios, blocks, points, days, all).
        belief: what they were drawn from; None for their priors, independent of one another.
    """

    shape: Shape
    names: tuple[str, ...]
    u: Floats
    level: Floats
    runs: tuple[Runs, ...]
    table: Floats
    belief: Belief | None = None


def crossed_draws(seed: int, shape: Shape) -> list[Draw]:
    """Drawn sites crossed with days, in order of block, point and day; see `sim.day.blocks`."""
    luck = day_luck(shape.blocks, shape.days, seed)
    return [
        Draw(block, point, (seed, at, day), float(luck[at, day]))
        for block, point, day in np.ndindex(shape.blocks, shape.points, shape.days)
        for at in [day_block(block, point, day, shape.blocks)]
    ]


def run_blocks(
    experiment: Experiment,
    scenarios: Sequence[Scenario],
    shape: Shape,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
    before: NestedRuns | None = None,
) -> NestedRuns:
    """Simulate every scenario over drawn sites and days; `progress` hears of runs done.

    With an evening each drawn site opens with what that evening and the night leave in its
    cloth under each scenario, else with the moisture of the conditions.

    Args:
        experiment: its level of demand is drawn with the site.
        before: runs of the very same question and as many blocks, with fewer points a block or
            fewer days a site; they are kept, and only what is not in them is run. What comes
            out is the same as without them.
    """
    cells = [scenario_cell(experiment.site, scenario) for scenario in scenarios]
    draws = crossed_draws(experiment.seed, shape)
    is_new = np.ones((shape.blocks, shape.points, shape.days), np.bool_)
    if before is not None:
        is_new[:, : before.shape.points, : before.shape.days] = False
    had = 0 if before is None else before.shape.runs
    new = [draws[at] for at in np.flatnonzero(is_new)]
    found = simulate(
        experiment, cells, new, all_figures, executor,
        lambda done, total: progress(had + done // len(cells)), days=shape.days,
    )  # fmt: skip
    table = np.empty((len(cells), *is_new.shape, found.shape[-1]))
    table[:, is_new] = found
    if before is not None:
        table[:, :, : before.shape.points, : before.shape.days] = before.table
    return NestedRuns(
        shape=shape,
        names=experiment.names,
        u=np.concatenate([experiment.points(block, shape.points) for block in range(shape.blocks)]),
        level=levels_of(experiment, shape, experiment.conditions),
        runs=tuple(runs_of(rows, shape, experiment.seed) for rows in table),
        table=table,
        belief=experiment.belief,
    )


def levels_of(experiment: Experiment, shape: Shape, conditions: Conditions) -> Floats:
    """Factor on what is expected of a day at each drawn site, 1 where the level is sure; shape
    (blocks · points,)."""
    expected = math.fsum(conditions.arrivals_per_h)
    if not expected:
        return np.ones(shape.sites)
    levels = (experiment.level(*at) for at in np.ndindex(shape.blocks, shape.points))
    days = (at_level(conditions, level) for level in levels)
    return np.array([math.fsum(day.arrivals_per_h) / expected for day in days])


def runs_of(rows: Floats, shape: Shape, seed: int) -> Runs:
    """The runs of a scenario from its `all_figures` in the order of `crossed_draws`."""
    days = Days.of(rows.reshape(shape.blocks, shape.points, shape.days, -1))
    hours = {name: values.reshape(-1, 24) for name, values in days.hours.items()}
    return Runs(days.day, means_by_hour(hours), day_luck(shape.blocks, shape.days, seed))


class PairedRunCache:
    """Drawn sites with their evenings before, and the draws of their days, kept.

    Evenings and mornings are kept by what scenarios change of the site, for the last few of
    these. What it keeps grows as days need more variates, so one thread at a time may use it.
    """

    def __init__(self, experiment: Experiment, shape: Shape) -> None:
        """Draws the sites; their evenings are simulated when they are first asked for."""
        self.shape = shape
        self._experiment = experiment
        self._draws = crossed_draws(experiment.seed, shape)
        self._sites = {at: experiment.at(*at) for at in np.ndindex(shape.blocks, shape.points)}
        self._streams: dict[tuple[int, ...], DayDraw] = {}

    def runs(self, scenario: Scenario, conditions: Conditions) -> Runs:
        """All days of a scenario at every drawn site, as `run_blocks` would have them."""
        variant, rules = scenario_cell(self._experiment.site, scenario)
        variant = replace(variant, conditions=conditions)
        rows = []
        for at, draws in groupby(self._draws, key=lambda one: (one.block, one.point)):
            day = self._sites[at].prepare(variant)
            sets = day.sets(scenario.cloth)
            for draw in draws:
                streams = self._streams.get(draw.day)
                if streams is None:
                    streams = self._streams[draw.day] = draw.streams()
                rows.append(all_figures(day.replication(streams), rules, sets))
        return runs_of(np.concatenate(rows), self.shape, self._experiment.seed)

    def levels(self, conditions: Conditions) -> Floats:
        """Factor on what is expected of a day at each drawn site; see `levels_of`."""
        return levels_of(self._experiment, self.shape, conditions)


# ---- what is said of runs ------------------------------------------------------------------------


def figures_of(
    runs: Runs, names: Iterable[str] = FIGURES, level: Floats | None = None
) -> dict[str, Figure]:
    """Figures of a scenario with their intervals; `level` as for `site_figure`."""
    return {name: site_figure(FIGURES[name], runs.day[name], level, runs.luck) for name in names}


def differences_of(
    site: Site,
    first: Mapping[str, Floats],
    figures: Mapping[str, Figure],
    other: Mapping[str, Floats],
    judge: Callable[[FigureInfo, Floats, Floats, float], PairedDifference],
) -> dict[str, PairedDifference]:
    """Paired differences to the first scenario in each of its `figures`, as `judge` tells them."""
    return {
        name: judge(info, first[name], other[name], matters(site, info, found.value))
        for name, found in figures.items()
        for info in [FIGURES[name]]
    }


def site_word(info: FigureInfo, parts: Parts, matters: float) -> Word:
    """The plain word of a paired difference over sites as they might be.

    *Hardly differs*: the site uncertainty lies within what matters either way, or the mean is
    below the last digit ever printed. *Can't tell*: the run error spans zero and more than what
    matters, so that luck alone may have made the difference. *Clearly* (*probably*): in 19 (16) of
    20 drawn sites the expected difference has the mean's sign, and the mean matters; *a little*:
    the sign holds in 16 of 20 but the mean does not matter. *Can't tell*: else.
    """
    if np.isnan(parts.mean):
        return ""
    if parts.mean == 0 and parts.site_variance == 0 and parts.day_variance == 0:
        return "the same"
    if max(abs(parts.site_low), abs(parts.site_high), abs(parts.mean)) <= matters:
        return "hardly differs"
    same = float(np.mean(parts.sites * np.sign(parts.mean) > 0))
    if same < PROBABLY or not is_told(parts.error_low, parts.error_high, matters):
        return "can’t tell"
    if abs(parts.mean) < half_digit(info):
        return "hardly differs"
    return worded(strength_of(same, is_enough=abs(parts.mean) >= matters), info, parts.mean)


def coming_day(parts: Parts, values: Floats, level: Floats, *, is_share: bool) -> Parts:
    """The parts with a day range that a coming day falls into: its luck and its unsure level.

    How far the expectation itself is off is in the site uncertainty; but the day that comes has
    both in it. What the level does to the expected value is told by regression over the drawn
    sites, less what its error would make of nothing.

    Args:
        level: factor on what is expected at each drawn site, shape (blocks · points,).
    """
    spread = float(np.var(level))
    if not spread or not parts.day_variance > 0:
        return parts
    apart = level - level.mean()
    slope = float(apart @ (parts.sites - parts.mean)) / (len(level) * spread)
    left = parts.sites - parts.mean - slope * apart
    noise = float(left @ left) / (len(level) - 2) / (len(level) * spread)
    of_level = max(0.0, slope**2 - noise) * spread
    wider = math.sqrt(1.0 + of_level / parts.day_variance)
    floor = 0.0 if np.nanmin(values) >= 0 else -math.inf
    ceiling = 1.0 if is_share and np.nanmax(values) <= 1 else math.inf
    return replace(
        parts,
        day_low=max(floor, parts.mean + wider * (parts.day_low - parts.mean)),
        day_high=min(ceiling, parts.mean + wider * (parts.day_high - parts.mean)),
    )


def site_figure(
    info: FigureInfo, values: Floats, level: Floats | None = None, luck: Floats | None = None
) -> Figure:
    """A scenario's figure over drawn sites; values of shape (blocks, points, days), `level` as
    for `coming_day`, None where it is sure, `luck` as for `take_apart`."""
    is_share = info.unit == "share"
    parts = take_apart(values, is_share=is_share, luck=luck)
    if level is not None:
        parts = coming_day(parts, values, level, is_share=is_share)
    events, one_in = rare_event(info, values)
    return Figure(
        finite(parts.mean),
        range_of(parts.day_low, parts.day_high),
        None if one_in else range_of(parts.error_low, parts.error_high),
        range_of(parts.site_low, parts.site_high),
        events if one_in else 0,
        one_in,
    )


def site_difference(
    info: FigureInfo, first: Floats, other: Floats, matters: float, luck: Floats | None = None
) -> PairedDifference:
    """The difference to the first scenario, paired in site and day, with its plain word; `luck`
    as for `take_apart`."""
    apart = other - first
    parts = take_apart(apart, luck=luck)
    good = -1.0 if info.better == "less" else 1.0
    seen = apart[~np.isnan(apart)]
    return PairedDifference(
        finite(parts.mean),
        range_of(parts.error_low, parts.error_high),
        float(np.mean(seen * good > 0)) if seen.size else None,
        site_word(info, parts, matters),
        range_of(parts.site_low, parts.site_high),
        float(np.mean(parts.sites * good > 0)) if seen.size else None,
    )


BOUNDS = {
    "left_damp_share": ("allowed_damp_share", "matters_share"),
    "wait_p90_s": ("allowed_wait_p90_s", "matters_wait_s"),
    "cars_lost": ("allowed_lost_cars", "matters_cars"),
}
"""Figures that the manager bounds, and the inputs that say how and what does not matter."""
LEFT: tuple[str, ...] = ("left_damp_share",)
"""What rules for wiping are held to."""


def allowed_of(site: Site) -> dict[str, float]:
    """What the manager allows, by figure, in the order of `BOUNDS`."""
    return {name: float(str(site.value(wish))) for name, (wish, _) in BOUNDS.items()}


def contests_of(
    site: Site,
    ways: Sequence[Mapping[str, Floats]],
    luck: Floats | None = None,
    bounds: Sequence[str] = LEFT,
) -> Callable[[int, int], Contest]:
    """One way of running a day against another, both by their place: money is its worth, to keep to
    what the manager allows the condition.

    Args:
        ways: figures by name, shape (blocks, points, days) each, the same sites and days for all:
            ``cost``, ``margin`` where there is one, and the `bounds`.
    """
    money, allowed = float(site.wishes.matters_money), allowed_of(site)

    def apart(name: str, at: int, other: int) -> Parts:
        return take_apart(ways[at][name] - ways[other][name], luck=luck)

    def worth(name: str, at: int, other: int) -> Measure:
        parts = apart(name, at, other)
        sites = np.stack([parts.sites, np.zeros_like(parts.sites)])
        return Measure(sites, parts.error_low, parts.error_high, money)

    # of a condition it counts how far each is from its limit
    above = {}
    for name in bounds:
        first = take_apart(ways[0][name], luck=luck).sites - allowed[name]
        above[name] = [first + apart(name, at, 0).sites for at in range(len(ways))]

    def condition(name: str, at: int, other: int) -> Measure:
        parts, slack = apart(name, at, other), float(str(site.value(BOUNDS[name][1])))
        sites = np.stack([above[name][at], above[name][other]])
        return Measure(sites, parts.error_low, parts.error_high, max(ROUNDING, slack))

    def against(at: int, other: int) -> Contest:
        costs = worth("cost", at, other)
        earns = worth("margin", at, other) if "margin" in ways[0] else costs.turned
        return Contest(earns, tuple(condition(name, at, other) for name in bounds), costs)

    return against


def standings_of(
    site: Site, crossed: NestedRuns, bounds: Sequence[str] = LEFT
) -> list[list[Standing]]:
    """How each scenario stands against each, see `contests_of`."""
    runs = crossed.runs
    against = contests_of(site, [one.day for one in runs], runs[0].luck, bounds)
    return [
        [_standing(crossed, against(at, o)) for o in range(len(runs))] for at in range(len(runs))
    ]


def _standing(crossed: NestedRuns, contest: Contest) -> Standing:
    found = contest.standing
    return found if found.is_firm else replace(found, turns=wideners(crossed, contest.leads))


LEAST_SHARE = 0.01
"""An input that carries less of the variance is not worth naming."""


def widest(crossed: NestedRuns, values: Floats, most: int = 3) -> tuple[Widener, ...]:
    """The inputs that widen a figure most, by regression on the inputs' normal scores; beside
    them the level of demand, under the name `LEVEL`.

    Drawn from their priors, inputs are independent, so the squared standardised slopes are shares
    of variance (of what is linear in the scores). A belief draws them together: the share is then
    slope · covariance with the figure (Pratt's measure), which still adds up over all inputs to
    what is explained; an input whose part others take away again is left out. Empty with too few
    drawn sites for the regression.
    """
    return wideners(crossed, take_apart(values).sites, most)


def wideners(crossed: NestedRuns, sites: Floats, most: int = 3) -> tuple[Widener, ...]:
    """The same of what each drawn site has, shape (sites,)."""
    names, z = crossed.names, np.asarray(ndtri(crossed.u))
    if np.ptp(crossed.level) > 0:
        score = (crossed.level - crossed.level.mean()) / crossed.level.std()
        names, z = (*names, LEVEL), np.column_stack([z, score])
    return carried(names, z, sites, most, together=crossed.belief is not None)


def carried(
    names: Sequence[str], z: Floats, sites: Floats, most: int = 3, *, together: bool = False
) -> tuple[Widener, ...]:
    """The same by the inputs' normal scores, shape (sites, names); `together` where these were not
    drawn independently."""
    n, p = z.shape
    if p == 0 or len(np.unique(z, axis=0)) < 2 * p or float(np.var(sites)) <= 0:
        return ()
    design = np.column_stack([np.ones(n), z])
    slopes, *_ = np.linalg.lstsq(design, sites, rcond=None)
    left = sites - design @ slopes
    noise = float(left @ left) / (n - p - 1)
    of_noise = noise * np.diag(np.linalg.inv(design.T @ design))[1:]
    if not together:
        # scores are independent with variance 1; what chance makes of that is no input's doing
        explained = np.maximum(0.0, slopes[1:] ** 2 - of_noise)
        shares = explained / (float(explained.sum()) + noise)
    else:
        along = slopes[1:] * ((z - z.mean(axis=0)).T @ (sites - sites.mean())) / n
        explained = np.maximum(0.0, along - of_noise * z.var(axis=0))
        shares = explained / float(np.var(sites))
    order = np.argsort(-shares)[:most]
    wide = (Widener(names[i], float(min(1.0, shares[i]))) for i in order)
    return tuple(row for row in wide if row.share > LEAST_SHARE)

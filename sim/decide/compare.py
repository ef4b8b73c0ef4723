"""Scenarios side by side: every figure with its intervals, and the paired difference to the first.

With enough days the site's guesses are drawn from their priors as well, and each figure tells how
far the expected value may lie elsewhere at a site like this one; with few, guesses stay at their
middle values.

A comparison may come in stages. More days of a site begin with the fewer, and more drawn sites
too, so each stage runs only what the one before had not, and is the very answer that as many runs
at once would have given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sim.checks import check_conditions, check_site, safety_problem
from sim.day.blocks import Shape, shapes_to
from sim.day.draw import DayDraw
from sim.day.drawn import Belief
from sim.day.engine import Experiment, PreparedDay
from sim.day.figures import FIGURES, Figure, PairedDifference, finite
from sim.day.night import LoggedEvening, PreviousDay
from sim.day.replicate import (
    check_scenario,
    difference,
    figure,
    half_digit,
    means_by_hour,
    run_days,
    scenario_cell,
)
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import DayNumbers
from sim.decide.answer import Column, Comparison, Limits, Opening, Source, Standing, Widener
from sim.decide.how_sure import (
    NestedRuns,
    differences_of,
    figures_of,
    run_blocks,
    site_difference,
    standings_of,
    widest,
)
from sim.errors import InputError, InputProblem
from sim.inputs import MOST_SCENARIOS, Conditions, Scenario, Site

LEAST_RUNS = Shape().runs
"""From so many runs on guesses are drawn."""
WIDENED = ("left_damp_share", "cars_lost", "margin")
MOST_WIDE = 12
"""Inputs that are kept of each; a plan tells three, the Site page all."""
"""Figures whose uncertainty is traced to inputs."""
OF_SITE_WIDTH = 0.1
"""A run error below this share of the site uncertainty's width is lost in it."""
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Question:
    """Everything that a comparison depends on; equal questions have equal answers.

    Attributes:
        site: the site as it is; each scenario changes some of it.
        conditions: what the day brings. Without an opening moisture it comes from `evening`,
            and without that the day starts with a set put on dry.
        scenarios: one to six; differences are to the first.
        replications: runs, at least 1: simulated days, or from `LEAST_RUNS` on days at drawn
            sites (see `sim.day.blocks`).
        seed: root seed.
        known: inputs that the site entered itself; the other guesses are drawn. None: no guess
            is drawn.
        belief: what weighings leave of the guesses; None where the priors hold.
    """

    site: Site
    conditions: Conditions
    scenarios: tuple[Scenario, ...]
    replications: int
    seed: int
    evening: PreviousDay | None = None
    known: frozenset[str] | None = None
    belief: Belief | None = None

    @property
    def middle(self) -> Site:
        """The site with its guesses at their middle values, as far as weighings have told."""
        return self.site if self.belief is None else self.belief.middle(self.site)

    @property
    def experiment(self) -> Experiment:
        """Its days with guesses at their middle values."""
        rule = parse_rule(self.scenarios[0].rule)
        return Experiment(self.middle, self.conditions, self.seed, self.evening, rule)

    @property
    def over_sites(self) -> Experiment:
        """Its days over drawn sites, the level of demand drawn with each."""
        day = self.conditions
        if self.evening is None and day.opening_moisture_kg_kg is None:
            # without a day before, all sites open with the dry set of the first scenario's
            opening = self.first_day.numbers.opening_moisture
            day = replace(day, opening_moisture_kg_kg=opening)
        return replace(
            self.experiment, site=self.site, conditions=day, known=self.known,
            belief=None if self.known is None else self.belief,
            with_level=self.known is not None, evenings=1,
        )  # fmt: skip

    @property
    def first_day(self) -> PreparedDay:
        """The day of the first scenario, as its cloth opens it; others may open otherwise."""
        return self.day_of(self.scenarios[0])

    def day_of(self, scenario: Scenario) -> PreparedDay:
        """The day of a scenario with guesses at their middle values."""
        variant, _ = scenario_cell(self.site, scenario)
        return self.experiment.at().prepare(variant)

    @property
    def opening_source(self) -> Source:
        """What the moisture at which that day opens is known from."""
        if self.conditions.opening_moisture_kg_kg is not None:
            return "weighing"
        if self.middle.with_values(self.scenarios[0].changes).wear.dry_set_at_opening:
            return "hung_dry"
        if self.evening is None:
            return "put_on_dry"
        return "followed" if isinstance(self.evening, LoggedEvening) else "evening"

    @property
    def shape(self) -> Shape | None:
        """How the runs are spread over drawn sites; None where guesses stay as they are."""
        if self.known is None or self.replications < LEAST_RUNS:
            return None
        return shapes_to(self.replications)[-1]

    @property
    def different_days(self) -> int:
        """How many different days are simulated, each at one drawn site or more."""
        return self.replications if self.shape is None else self.shape.different_days


def check_question(question: Question) -> list[InputProblem]:
    """Every reason why a comparison can't be made; fields read ``scenario-2.rule`` and so on."""
    problems = check_site(question.site) or check_conditions(question.site, question.conditions)
    count = len(question.scenarios)
    if not 1 <= count <= MOST_SCENARIOS:
        sentence = "{count} scenarios can't be compared. Give 1 to {most}."
        filling = {"count": count, "most": MOST_SCENARIOS}
        problems.append(InputProblem("scenarios", sentence, filling))
    if not 1 <= question.replications <= 100_000:
        sentence = "{count} simulated days can't be used. Give 1 to 100,000."
        problems.append(InputProblem("replications", sentence, {"count": question.replications}))
    return problems + check_scenarios(question.site, question.scenarios)


def check_scenarios(site: Site, scenarios: Sequence[Scenario]) -> list[InputProblem]:
    """Every problem of the scenarios; a field reads ``scenario-2.rule`` for the second's rule."""
    problems: list[InputProblem] = []
    known = {str(p) for p in check_site(site)}
    for number, scenario in enumerate(scenarios, start=1):
        prefix = f"scenario-{number}."
        texts = {"name": scenario.name, "rule": scenario.rule, "cloth": scenario.cloth}
        refusals = filter(None, (safety_problem(field, text) for field, text in texts.items()))
        found = list(refusals)[:1]
        try:
            if not found:  # what names a safety device is refused as such, not as bad spelling
                found += check_site(site.with_values(scenario.changes))
                check_scenario(site, scenario)
        except InputError as fault:
            found += fault.problems
        problems += [replace(p, field=prefix + p.field) for p in found if str(p) not in known]
    return problems


def compare(
    question: Question,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> Comparison:
    """Simulate all scenarios of a question on the same day draws.

    Raises:
        InputError: with every problem of `check_question`.
    """
    problems = check_question(question)
    if problems:
        raise InputError(problems)
    shape = question.shape
    if shape is None:
        columns = _at_middle_values(question, executor, progress)
    else:
        experiment, scenarios = question.over_sites, question.scenarios
        columns = columns_of(question, run_blocks(experiment, scenarios, shape, executor, progress))
    return comparison(question, columns)


def stands(question: Question, bounds: Sequence[str], executor: Executor | None = None) -> Standing:
    """How the first of two scenarios stands against the second at drawn sites.

    Args:
        bounds: what of `sim.decide.how_sure.BOUNDS` both are held to.
    """
    crossed = run_blocks(question.over_sites, question.scenarios, Shape(), executor)
    return standings_of(question.site, crossed, bounds)[0][1]


def comparison(question: Question, columns: tuple[Column, ...]) -> Comparison:
    """Columns with the day that they share, as the first scenario's cloth opens it."""
    belief, shape, day = question.belief, question.shape, question.first_day.numbers
    conditions = question.conditions
    if question.opening_source != "weighing":
        conditions = replace(conditions, opening_moisture_kg_kg=day.opening_moisture)
    return Comparison(
        seed=question.seed,
        replications=question.replications,
        days=question.different_days,
        sites=0 if shape is None else shape.sites,
        weighed=() if belief is None else tuple(belief.weighed),
        draw_hash=DayDraw(question.seed, 0).digest(),
        conditions=conditions,
        opening=opening_of(question),
        limits=limits_of(question.site, day),
        columns=columns,
    )


def opening_of(question: Question) -> Opening:
    """How wet the cloth of the first scenario is in the morning, and where that is known from;
    others may open otherwise, see `sim.day.replicate.scenario_cell`."""
    day, evening, source = question.first_day.numbers, question.evening, question.opening_source
    last = evening.day if evening is not None and source in ("evening", "followed") else None
    return Opening(day.opening_moisture / day.cloth.holding, source, last)


def limits_of(site: Site, day: DayNumbers) -> Limits:
    """What bounds a day at a site."""
    return Limits(
        damp_limit_saturation=day.damp_limit,
        allowed_damp_share=site.wishes.allowed_damp_share,
        stack_limit_cars=site.pay.stack_limit_cars,
        belt_capacity_per_h=day.capacity_per_s * 3600.0,
        open_h=site.line.open_h,
        close_h=site.line.close_h,
    )


def column(
    site: Site,
    scenario: Scenario,
    figures: dict[str, Figure],
    hours: Mapping[str, Floats],
    differences: dict[str, PairedDifference] | None,
    widest: dict[str, tuple[Widener, ...]] | None = None,
    against: Sequence[Standing] = (),
) -> Column:
    """A scenario's answer with its label; hours have NaN where there is none."""
    told = {name: tuple(map(finite, row.tolist())) for name, row in hours.items()}
    label = label_of(site, scenario)
    return Column(scenario, label, figures, told, differences, widest or {}, tuple(against))


def label_of(site: Site, scenario: Scenario) -> str:
    """Rule and dry sets of a scenario in words."""
    sets = parse_changes(scenario.cloth, site.with_values(scenario.changes).wear.sets_owned)
    return ", ".join([parse_rule(scenario.rule).words(), *(item.words() for item in sets)])


def _at_middle_values(
    question: Question, executor: Executor | None, progress: Callable[[int], None]
) -> tuple[Column, ...]:
    site, scenarios, experiment = question.site, question.scenarios, question.experiment
    found = run_days(experiment, scenarios, question.replications, executor, progress)
    first, columns = found[0], list[Column]()
    for scenario, days in zip(scenarios, found, strict=True):
        figures = {name: figure(info, days.day[name]) for name, info in FIGURES.items()}
        apart = None
        if columns:
            apart = differences_of(site, first.day, columns[0].figures, days.day, difference)
        columns.append(column(site, scenario, figures, means_by_hour(days.hours), apart))
    return tuple(columns)


def columns_of(question: Question, crossed: NestedRuns) -> tuple[Column, ...]:
    """The answer of every scenario from runs over drawn sites."""
    site, first, columns = question.site, crossed.runs[0], list[Column]()
    stand = standings_of(site, crossed)
    for scenario, runs, against in zip(question.scenarios, crossed.runs, stand, strict=True):
        figures = figures_of(runs, level=crossed.level)
        apart = None
        if columns:
            judge = partial(site_difference, luck=runs.luck)
            apart = differences_of(site, first.day, columns[0].figures, runs.day, judge)
        wide = {name: widest(crossed, runs.day[name], MOST_WIDE) for name in WIDENED}
        columns.append(column(site, scenario, figures, runs.hours, apart, wide, against))
    return tuple(columns)


# ---- in stages -----------------------------------------------------------------------------------


def first_stage(question: Question) -> Question:
    """The question that the first stage answers: fewer days and sites, else the same."""
    if question.shape is None:
        return question
    return replace(question, replications=min(question.replications, Shape().runs))


def compare_in_stages(
    question: Question,
    first: Executor | None = None,
    later: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Iterator[Comparison]:
    """Answers to a question, each finer than the one before; the last one is to be kept.

    They end with all the question's runs, or as soon as `is_sure_enough`. Each equals `compare`
    of its own question, which has the runs of its stage, whoever ran them.

    Args:
        first: does the runs of the first stage side by side, `later` those of the others.
        progress: told how many runs are done, of how many in this stage.

    Raises:
        InputError: with every problem of `check_question`.
    """
    shape = question.shape
    if first_stage(question) == question or shape is None:
        total = question.replications
        yield compare(question, first, lambda done: progress(done, total))
        return
    problems = check_question(question)
    if problems:
        raise InputError(problems)
    crossed = None
    for stage in shapes_to(shape.runs):

        def told(done: int, total: int = stage.runs) -> None:
            progress(done, total)

        executor = first if crossed is None else later
        crossed = run_blocks(
            question.over_sites, question.scenarios, stage, executor, told, before=crossed
        )
        asked = replace(question, replications=stage.runs)
        found = comparison(asked, columns_of(asked, crossed))
        yield found
        if is_sure_enough(found):
            return


def is_sure_enough(found: Comparison) -> bool:
    """Whether more days would change nothing that a page shows: our own rule to stop by.

    So it is when for every figure and every difference half the width of the run error is below
    half of the last digit that is ever printed of it (`sim.units.FINEST`), or below a tenth of
    the site uncertainty's width, in which it is lost. What has no run error, a rare event among
    them, does not keep a comparison going.
    """
    return all(
        is_fine(name, row)
        for column in found.columns
        for rows in (column.figures, column.differences or {})
        for name, row in rows.items()
    )


def is_fine(name: str, row: Figure | PairedDifference) -> bool:
    """Whether more days would change nothing that is shown of one figure or difference."""
    error, site = row.run_error, row.site_uncertainty
    if error is None or error.width / 2.0 < half_digit(FIGURES[name]):
        return True
    return site is not None and error.width / 2.0 < OF_SITE_WIDTH * site.width

"""Scenarios side by side: every figure with its intervals, and the paired difference to the first.

With enough days the site's guesses are drawn from their priors as well, and each figure tells how
far the expected value may lie elsewhere at a site like this one; with few, guesses stay at their
middle values.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.checks import check_conditions, check_site, safety_problem
from sim.day.belief import Belief
from sim.day.blocks import Shape, shapes_to
from sim.day.draw import DayDraw
from sim.day.figures import FIGURES, Difference, Figure, finite
from sim.day.night import Evening, mornings, opened_after
from sim.day.replicate import (
    Days,
    check_scenario,
    difference,
    figure,
    matters,
    means_by_hour,
    run_days,
)
from sim.day.rules import parse_changes, parse_rule
from sim.day.setup import DayNumbers, prepare_day
from sim.decide.answer import Column, Comparison, Limits, Opening, Source, Widener
from sim.decide.how_sure import (
    Crossed,
    run_blocks,
    site_difference,
    site_figure,
    widest,
)
from sim.errors import InputError, InputProblem
from sim.inputs import MOST_SCENARIOS, Conditions, Scenario, Site

LEAST_RUNS = Shape().runs
"""From so many runs on guesses are drawn."""
WIDENED = ("damp_share", "cars_lost", "margin")
"""Figures whose uncertainty is traced to inputs."""
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
    evening: Evening | None = None
    known: frozenset[str] | None = None
    belief: Belief | None = None

    @property
    def middle(self) -> Site:
        """The site with its guesses at their middle values, as far as weighings have told."""
        return self.site if self.belief is None else self.belief.middle(self.site)

    @property
    def night(self) -> Evening | None:
        """The evening that the opening moisture comes from; None where it was weighed."""
        weighed = self.conditions.opening_moisture_kg_kg is not None
        return None if weighed else self.evening

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
    problems = check_site(question.site)
    if not problems:
        problems += check_conditions(question.site, question.conditions)
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
        found = _safety(scenario)
        try:
            if not found:  # what names a safety device is refused as such, not as bad spelling
                found += check_site(site.with_values(scenario.changes))
                check_scenario(site, scenario)
        except InputError as fault:
            found += fault.problems
        problems += [
            InputProblem(prefix + p.field, p.sentence, p.values, p.where)
            for p in found
            if str(p) not in known
        ]
    return problems


def _safety(scenario: Scenario) -> list[InputProblem]:
    """The refusal of a scenario that names a safety device, whatever else is wrong with it."""
    for field in ("name", "rule", "cloth"):
        refusal = safety_problem(field, getattr(scenario, field))
        if refusal is not None:
            return [refusal]
    return []


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
    conditions, opening = opened(question)
    shape = question.shape
    if shape is None:
        columns = _at_middle_values(question, conditions, executor, progress)
    else:
        crossed = cross(question, conditions, shape, executor, progress)
        columns = columns_of(question, crossed)
    return comparison(question, conditions, opening, columns)


def comparison(
    question: Question, conditions: Conditions, opening: Opening | None, columns: tuple[Column, ...]
) -> Comparison:
    """Columns with the day that they share; conditions and opening as `opened` gives them."""
    site, belief, shape = question.site, question.belief, question.shape
    day = prepare_day(question.middle.with_values(question.scenarios[0].changes), conditions)
    return Comparison(
        seed=question.seed,
        replications=question.replications,
        days=question.different_days,
        sites=0 if shape is None else shape.sites,
        weighed=() if belief is None else tuple(belief.weighed),
        draw_hash=DayDraw(question.seed, 0).digest(),
        conditions=conditions,
        opening=opening,
        limits=limits_of(site, day),
        columns=columns,
    )


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
    differences: dict[str, Difference] | None,
    widest: dict[str, tuple[Widener, ...]] | None = None,
) -> Column:
    """A scenario's answer with its label; hours have NaN where there is none."""
    told = {name: tuple(map(finite, row.tolist())) for name, row in hours.items()}
    label = label_of(site, scenario)
    return Column(scenario, label, figures, told, differences, widest or {})


def label_of(site: Site, scenario: Scenario) -> str:
    """Rule and dry sets of a scenario in words."""
    sets = parse_changes(scenario.cloth, site.with_values(scenario.changes).wear.sets_owned)
    return ", ".join([parse_rule(scenario.rule).words(), *(item.words() for item in sets)])


def _at_middle_values(
    question: Question,
    conditions: Conditions,
    executor: Executor | None,
    progress: Callable[[int], None],
) -> tuple[Column, ...]:
    site, scenarios, seed = question.middle, question.scenarios, question.seed
    opens = mornings(site, question.conditions, scenarios, question.night, seed)
    found = run_days(
        site, conditions, scenarios, question.replications, seed, executor, progress, opens
    )
    first = found[0]
    columns = []
    for number, (scenario, days) in enumerate(zip(scenarios, found, strict=True)):
        figures = {name: figure(info, days.day[name]) for name, info in FIGURES.items()}
        apart = None if number == 0 else _differences(site, first, days)
        hours = means_by_hour(days.hours)
        columns.append(column(question.site, scenario, figures, hours, apart))
    return tuple(columns)


def cross(
    question: Question,
    conditions: Conditions,
    shape: Shape,
    executor: Executor | None = None,
    progress: Callable[[int], None] = lambda done: None,
    before: Crossed | None = None,
) -> Crossed:
    """The runs of a question over drawn sites, going on from `before`; see `run_blocks`."""
    return run_blocks(
        question.site,
        conditions,
        question.scenarios,
        question.known or frozenset(),
        shape,
        question.seed,
        question.night,
        executor,
        progress,
        before,
        question.belief,
    )


def columns_of(question: Question, crossed: Crossed) -> tuple[Column, ...]:
    """The answer of every scenario from runs over drawn sites."""
    first = crossed.runs[0]
    columns: list[Column] = []
    for number, (scenario, runs) in enumerate(zip(question.scenarios, crossed.runs, strict=True)):
        figures = {
            name: site_figure(info, runs.day[name], crossed.level, runs.luck)
            for name, info in FIGURES.items()
        }
        apart = None
        if number:
            apart = {
                name: site_difference(
                    info,
                    first.day[name],
                    runs.day[name],
                    matters(question.site, info, columns[0].figures[name].value),
                    runs.luck,
                )
                for name, info in FIGURES.items()
            }
        wide = {name: widest(crossed, runs.day[name]) for name in WIDENED}
        columns.append(column(question.site, scenario, figures, runs.hours, apart, wide))
    return tuple(columns)


def opened(question: Question) -> tuple[Conditions, Opening]:
    """Conditions with an opening moisture, and how wet that is and where it came from.

    So the first scenario opens; others may open otherwise, see `sim.day.night.mornings`.
    """
    conditions, evening = question.conditions, question.evening
    site = question.middle.with_values(question.scenarios[0].changes)
    dry = replace(conditions, opening_moisture_kg_kg=site.wear.dry_set_moisture_kg_kg)
    source: Source
    if conditions.opening_moisture_kg_kg is not None:
        source = "weighing"
    elif site.wear.dry_set_at_opening:
        conditions, source = dry, "hung_dry"
    elif evening is None:
        conditions, source = dry, "put_on_dry"
    else:
        rule = parse_rule(question.scenarios[0].rule)
        conditions = opened_after(site, conditions, evening, rule, question.seed)
        source = "evening"
    day = prepare_day(site, conditions)
    last = evening.day if evening is not None and source == "evening" else None
    return conditions, Opening(day.opening_moisture / day.cloth.holding, source, last)


def _differences(site: Site, first: Days, other: Days) -> dict[str, Difference]:
    found = {}
    for name, info in FIGURES.items():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # mean of no days is NaN, as wanted
            level = float(np.nanmean(first.day[name]))
        threshold = matters(site, info, level)
        found[name] = difference(info, first.day[name], other.day[name], threshold)
    return found

"""A comparison in stages: a first answer soon, then finer ones from the same runs and more.

More days of a site begin with the fewer, and more drawn sites too, so each stage runs only what
the one before had not, and is the very answer that as many runs at once would have given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import replace

from sim.day.blocks import Shape, shapes_to
from sim.day.figures import FIGURES, Difference, Figure
from sim.day.replicate import half_digit
from sim.decide.answer import Comparison
from sim.decide.compare import (
    Question,
    check_question,
    columns_of,
    compare,
    comparison,
    cross,
    opened,
)
from sim.errors import InputError

OF_SITE_WIDTH = 0.1
"""A run error below this share of the site uncertainty's width is lost in it."""


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
    conditions, opening = opened(question)
    crossed = None
    for stage in shapes_to(shape.runs):
        executor = first if crossed is None else later
        crossed = cross(
            question, conditions, stage, executor, _of(stage.runs, progress), before=crossed
        )
        asked = replace(question, replications=stage.runs)
        found = comparison(asked, conditions, opening, columns_of(asked, crossed))
        yield found
        if is_sure_enough(found):
            return


def _of(total: int, progress: Callable[[int, int], None]) -> Callable[[int], None]:
    return lambda done: progress(done, total)


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


def is_fine(name: str, row: Figure | Difference) -> bool:
    """Whether more days would change nothing that is shown of one figure or difference."""
    error, site = row.run_error, row.site_uncertainty
    if error is None or error.width / 2.0 < half_digit(FIGURES[name]):
        return True
    return site is not None and error.width / 2.0 < OF_SITE_WIDTH * site.width

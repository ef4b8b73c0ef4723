"""The compiled functions themselves; the only place where anything is compiled.

They are kept on disk beside this file (where that can't be written, in the user's own cache; where
there is none, in memory alone) and made anew when anything that they were made of has
changed. Each releases the interpreter's lock; none starts threads. They allocate nothing and so
count no references to arrays, which in such short functions would take most of the time.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

from sim.day.kernel.belt import Belt, cover, travel_at
from sim.day.kernel.hindsight import Nodes, best_plan, lay_nodes
from sim.day.kernel.line import Front, empty_line
from sim.day.kernel.many import RuleBook, rule_of, tally, wipe_anew
from sim.day.kernel.rows import Rows, Wiped
from sim.day.kernel.rule_table import RuleTable
from sim.day.kernel.run import run_cloth, run_line, run_whole
from sim.day.kernel.stats import gather
from sim.day.kernel.tables import CarTable, Cloth, Floats, Line, Work
from sim.physics.mark import fingerprint

F = TypeVar("F", bound=Callable[..., Any])
OPTIONS: dict[str, Any] = {"nogil": True, "cache": True, "error_model": "numpy", "_nrt": False}


def _entry(function: F) -> F:
    try:
        made = numba.njit(**OPTIONS)(function)
    except RuntimeError:  # neither beside the source nor in a home of the user can it be kept
        made = numba.njit(**{**OPTIONS, "cache": False})(function)
    # What is kept is known by the age of this file alone; the fingerprint adds all other files.
    kept = getattr(getattr(made, "_cache", None), "_cache_file", None)
    if kept is not None:
        kept._source_stamp = (kept._source_stamp, fingerprint())
    entry: F = made
    return entry


@_entry
def line_of_day(line: Line, cars: CarTable, belt: Belt, front: Front, rows: Rows) -> float:
    """See `run.run_line`."""
    return run_line(line, cars, belt, front, rows)


@_entry
def cloth_of_day(
    line: Line,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    rows: Rows,
    wiped: Wiped,
    last: float,
) -> None:
    """See `run.run_cloth`."""
    run_cloth(line, cloth, cars, rule, belt, rows, wiped, last)


@_entry
def whole_day(
    line: Line,
    cloth: Cloth,
    cars: CarTable,
    rule: RuleTable,
    belt: Belt,
    front: Front,
    rows: Rows,
    wiped: Wiped,
) -> float:
    """See `run.run_whole`."""
    return run_whole(line, cloth, cars, rule, belt, front, rows, wiped)


@_entry
def figures_of_day(
    line: Line,
    work: Work,
    cars: CarTable,
    belt: Belt,
    rows: Rows,
    wiped: Wiped,
    last: float,
    scratch: Floats,
    halves: Floats,
    day: Floats,
    hours: Floats,
) -> None:
    """See `stats.gather`."""
    gather(line, work, cars, belt, rows, wiped, last, scratch, halves, day, hours)


@_entry
def cloth_of_rules(
    line: Line,
    cloth: Cloth,
    work: Work,
    cars: CarTable,
    book: RuleBook,
    belt: Belt,
    rows: Rows,
    wiped: Wiped,
    last: float,
    halves: Floats,
    found: Floats,
) -> None:
    """`cloth_of_day` for every rule of a book in turn, a row of `many.TALLY` each."""
    for at in range(len(found)):
        rule = rule_of(book, at)
        wipe_anew(wiped)
        cloth_of_day(line, cloth, cars, rule, belt, rows, wiped, last)
        tally(cloth, work, cars, rule, rows, wiped, last, halves, found[at])


@_entry
def whole_of_rules(
    line: Line,
    cloth: Cloth,
    work: Work,
    cars: CarTable,
    book: RuleBook,
    belt: Belt,
    front: Front,
    rows: Rows,
    wiped: Wiped,
    halves: Floats,
    found: Floats,
) -> None:
    """`whole_day` for every rule of a book in turn, a row of `many.TALLY` each."""
    for at in range(len(found)):
        rule = rule_of(book, at)
        wipe_anew(wiped)
        empty_line(front)
        rows.counts[:] = 0
        last = whole_day(line, cloth, cars, rule, belt, front, rows, wiped)
        tally(cloth, work, cars, rule, rows, wiped, last, halves, found[at])


@_entry
def nodes_of_day(
    line: Line,
    cloth: Cloth,
    cars: CarTable,
    book: RuleBook,
    belt: Belt,
    rows: Rows,
    wiped: Wiped,
    last: float,
    nodes: Nodes,
) -> None:
    """See `hindsight.lay_nodes`; the book has always full and always reduced."""
    cover(belt, line, cars, max(last, line.close_s) + line.spin_s)
    full, reduced = rule_of(book, 0), rule_of(book, 1)
    lay_nodes(line, cloth, cars, full, reduced, belt, rows, wiped, last, nodes)


@_entry
def plan_of_day(
    nodes: Nodes, gain: Floats, price: Floats, moisture: Floats, value: Floats, damp: Floats
) -> float:
    """See `hindsight.best_plan`."""
    return best_plan(nodes, gain, price, moisture, value, damp)


@_entry
def belt_travel(line: Line, cars: CarTable, belt: Belt, now: float) -> float:
    """Travel at a time [m]."""
    return travel_at(belt, line, cars, 0, now)

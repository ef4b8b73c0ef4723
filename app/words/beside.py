"""Figures of other ways to run a day beside those of its comparison: one quantity is one number.

Parts of an answer simulate days of their own, each for what it tries against what is done now. How
far these are apart they know well; the level is that of the comparison, to its digits.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.words.figures import cells_of, printed_as, row_step
from app.words.numbers import NOTHING, apart_as_shown, dollars, percent, shown, signed
from sim.day.figures import FIGURES
from sim.decide.answer import Comparison
from sim.units import MINUS, NBSP


def level_words(comparison: Comparison, rule: str, name: str, value: float, own: float) -> str:
    """What a figure is where something is tried, see `Comparison.level`, as it is printed there."""
    return told_as(comparison, rule, name, comparison.level(rule, name, value, own))


def told_as(comparison: Comparison, rule: str, name: str, value: float) -> str:
    """A figure as a comparison prints it, a share with its sign; where it is that of the column
    with a rule, just as there."""
    info, column = FIGURES[name], comparison.with_rule(rule)
    if name not in comparison.columns[0].figures:
        return dollars(value) if info.unit == "money" else percent(value, fine=True)
    if column is not None and column in comparison.columns and column.value(name) == value:
        said = cells_of(info, comparison, "si")[comparison.columns.index(column)].value
    else:
        said = printed_as(info, comparison, value, "si")
    return f"{said}{NBSP}%" if info.unit == "share" else said


Apart = Mapping[str, tuple[float, float]]
"""By how much more a figure is, by its name, and the step to which it is printed [as shown]."""


def apart_of(comparison: Comparison, rule: str, other: str) -> Apart:
    """Cars leaving damp and cost of a rule less those of another, as printed of both; nothing of
    what the comparison does not have of both."""
    columns = [comparison.with_rule(one) for one in (rule, other)]
    found = {}
    for name in ("left_damp", "cost"):
        values = [None if one is None else one.value(name) for one in columns]
        if None not in values:
            this, that = (shown(value or 0.0, FIGURES[name].unit, "si") for value in values)
            step = row_step(FIGURES[name], comparison, "si")
            found[name] = apart_as_shown(this, that, step), step
    return found


def more_words(name: str, more: float | None, step: float) -> str:
    """A difference as printed, with its sign."""
    if more is None:
        return NOTHING
    said = signed(more, step)
    if FIGURES[name].unit != "money":
        return said
    sign = said[0] if said[0] in f"+{MINUS}" else ""
    return f"{sign}{dollars(abs(more), step)}"

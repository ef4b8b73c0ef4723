"""Figures of other ways to run a day beside those of its comparison: one quantity is one number.

Parts of an answer simulate days of their own, each for what it tries against what is done now. How
far these are apart they know well; the level is that of the comparison, to its digits.
"""

from __future__ import annotations

from app.words.figures import cells_of, printed_as
from app.words.numbers import dollars, percent
from sim.day.figures import FIGURES
from sim.decide.answer import Comparison
from sim.units import NBSP


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

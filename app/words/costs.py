"""The list of costs as a small table, the same on every page that shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from app.catalogue import _
from app.words.numbers import dollars
from app.words.phrases import Lines
from sim.day.costs import COSTS, OF_COST
from sim.day.figures import NATURES

__all__ = ["cost_lines", "dollars"]

Items = Mapping[str, float]


def cost_lines(says: str, columns: Sequence[tuple[str, Items]], sums: str = "") -> Lines:
    """Every item of a day's cost with what it is, a column a case, and their sum.

    Args:
        columns: head of each column, and its items by name.
        sums: what the sum is called; the cost of the day by itself.
    """
    heads = (_("What"), *(head for head, _items in columns), _("Paid for what"))
    rows = [
        (
            _(item.label),
            *(dollars(items[item.name]) for _head, items in columns),
            _(NATURES[item.nature]),
        )
        for item in COSTS
    ]
    total = [dollars(sum(items[name] for name in OF_COST)) for _head, items in columns]
    rows.append((sums or _("Cost of the day"), *total, _("the sum, before rounding")))
    return Lines(says, heads, tuple(rows))

"""What a day costs with the people needed and with those planned, beside the day's plan."""

from __future__ import annotations

from app.catalogue import _
from app.words.beside import level_words
from app.words.figures import printed_as
from app.words.numbers import dollars
from app.words.phrases import TextTable
from sim.day.figures import COSTS, FIGURES, NATURES, OF_COST
from sim.decide.answer import Column, Comparison
from sim.decide.staff.answer import StaffAnswer


def cost_line(told: StaffAnswer, plan: Comparison | None) -> str:
    """The cost of the day with the people needed and with those planned, as the plan has that."""
    needed, planned = _costs(told, plan)["cost"]
    return _(
        "{needed} with the people needed, {planned} with those planned.",
        needed=needed,
        planned=planned,
    )


def costs_table(told: StaffAnswer, plan: Comparison | None) -> TextTable:
    """The day's cost by item with the people needed and with those planned.

    Args:
        plan: the day's plan; None while that is not worked out.
    """
    sentence = (
        "With the people needed and with those planned, the plan’s rule, mean of the same "
        "simulated days. Opening and closing work count in minutes here, in people above."
        if plan is None
        else "Planned as the plan of the day has it; needed is that and what both differ by on the "
        "same simulated days. Opening and closing work count in minutes here, in people above."
    )
    costs = _costs(told, plan)
    rows = [(_(item.label), *costs[item.name], _(NATURES[item.nature])) for item in COSTS]
    rows.append((_("Cost of the day"), *costs["cost"], _("the sum, before rounding")))
    says = _(sentence)
    heads = (_("What"), _("Needed"), _("Planned"), _("Paid for what"))
    return TextTable(says, heads, tuple(rows))


def _costs(told: StaffAnswer, plan: Comparison | None) -> dict[str, tuple[str, str]]:
    """By item, and for all of them as ``cost``: with the people needed, and with those planned."""
    needed, present = (
        {**day.costs, "cost": sum(day.costs[name] for name in OF_COST)}
        for day in (told.needed, told.present)
    )
    if plan is None:
        return {name: (dollars(needed[name]), dollars(present[name])) for name in needed}
    rule, entered = told.rule, _column_of_needed(told, plan)
    found = {}
    for name, cost in needed.items():
        own = present[name]
        said = level_words(plan, rule, name, cost, own)
        if entered is not None and (value := entered.value(name)) is not None:
            said = printed_as(FIGURES[name], plan, value, "si")
        found[name] = said, level_words(plan, rule, name, own, own)
    return found


def _column_of_needed(told: StaffAnswer, plan: Comparison) -> Column | None:
    """The column of a plan that has the people needed, all else as in its first; None for none."""
    first, tables = plan.columns[0].scenario, told.timetables
    entered = {"people": tables.people, "loaders": tables.loaders, "finishers": tables.finishers}
    wanted = (first.rule, first.cloth, {**first.changes, **entered})
    for column in plan.columns:
        one = column.scenario
        if (one.rule, one.cloth, dict(one.changes)) == wanted:
            return column
    return None

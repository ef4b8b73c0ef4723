"""The season as tables, for CSV and spreadsheet: every figure unrounded."""

from __future__ import annotations

import math

from app.catalogue import _, say
from app.files.sheets import Cell, Sheet
from sim.day.figures import FIGURES
from sim.decide.cloth.answer import OptionRow, SeasonAnswer
from sim.units import UNITS


def season_sheets(found: SeasonAnswer, system: str) -> tuple[Sheet, ...]:
    """Every table of a season, in the reader's units."""
    return (
        days_sheet(found, system),
        _months(found),
        _changes(found),
        _orders(found),
        _laundry(found),
        _owned(found),
        _options(found, system),
        _left_out(found, system),
        _made_of(found),
    )


def days_sheet(found: SeasonAnswer, system: str) -> Sheet:
    """A row an open day: what is expected, and each figure by both rules."""
    names = tuple(found.days[0].figures)
    temp = UNITS["temperature"].edge(system)
    heads = (
        _("Day"), _("Cars expected"), _("Highest temperature, {unit}", unit=temp.symbol),
        _("Planned rule"), _("Dry sets planned"), _("Peak day"), _("Laundry that morning"),
        *(head for name in names for head in _heads(name, system)),
    )  # fmt: skip
    rows = tuple(
        (
            one.day,
            one.cars,
            one.highest_temp_c * temp.factor + temp.offset,
            one.rule,
            one.cloth,
            _yes(one.is_peak),
            _yes(one.is_laundry),
            *(
                _edge(value[0], name, system)
                for name in names
                for value in (one.figures[name].full, one.figures[name].planned)
            ),
        )
        for one in found.days
    )
    return Sheet(_("Days"), heads, rows)


def _heads(name: str, system: str) -> tuple[str, str]:
    figure = _head(name, system)
    return (
        _("{figure}, always full", figure=figure), _("{figure}, planned rule", figure=figure),
    )  # fmt: skip


def _head(name: str, system: str) -> str:
    info = FIGURES[name]
    symbol = UNITS[info.unit].symbol(system)
    return f"{_(info.label)} ({symbol})" if symbol else _(info.label)


def _edge(value: float, name: str, system: str) -> float | None:
    """A figure in the reader's unit; an empty cell where there is none."""
    if math.isnan(value):
        return None
    edge = UNITS[FIGURES[name].unit].edge(system)
    return value * edge.factor + edge.offset


def _yes(is_so: bool) -> str:
    return _("yes") if is_so else _("no")


MONTH_FIGURES = ("cars_washed", "cars_lost", "damp_cars", "wear_cars")


def _months(found: SeasonAnswer) -> Sheet:
    heads = (
        _("Month from"), _("Open days"),
        *(_(FIGURES[name].label) for name in MONTH_FIGURES),
        _("Launderings"), _("Sets that come off for good, expected"),
        _("Of these worn out before their planned age"),
        _("Cost of the days ($)"), _("Laundry ($)"), _("New sets ($)"), _("Together ($)"),
    )  # fmt: skip
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            row.first, row.days, *(row.figures[name] for name in MONTH_FIGURES), row.launderings,
            row.sets, row.worn, row.running_cost, row.laundry_cost, row.set_cost, row.total,
        )
        for row in found.months
    )  # fmt: skip
    return Sheet(_("Months"), heads, rows)


def _changes(found: SeasonAnswer) -> Sheet:
    heads = (
        _("Change"), _("Best on"), _("Earliest (1 in 10 before)"), _("Middle"),
        _("Latest (1 in 10 after)"), _("Chance within the season"),
        _("Share that wears out before its planned age"),
    )  # fmt: skip
    rows = tuple(
        (
            row.number, row.day, row.low, row.middle, row.high, row.chance, row.worn_share,
        )
        for row in found.changes
    )  # fmt: skip
    return Sheet(_("Changes of sets"), heads, rows)


def _orders(found: SeasonAnswer) -> Sheet:
    heads = (_("Order by"), _("Sets"), _("For change"))
    rows = tuple((row.by, row.quantity, row.for_change) for row in found.orders)
    return Sheet(_("Orders"), heads, rows)


def _laundry(found: SeasonAnswer) -> Sheet:
    rows = tuple((day,) for day in found.laundry_days)
    return Sheet(_("Laundry days"), (_("Morning of"),), rows)


def _owned(found: SeasonAnswer) -> Sheet:
    heads = (
        _("Sets owned"), _("Changes that find none dry, by formula"),
        _("Changes that find none dry, times as they stand"),
        _("Morning changes of the season that find one dry"),
        _("Dry sets at noon of peak days that find one dry"),
    )  # fmt: skip
    rows = tuple(
        (
            row.sets, row.formula.none_ready, row.fixed.none_ready, row.morning_ready,
            row.peak_ready,
        )
        for row in found.owned
    )  # fmt: skip
    return Sheet(_("Sets in rotation"), heads, rows)


def _options(found: SeasonAnswer, system: str) -> Sheet:
    figures = tuple(found.options[0].figures)
    heads = (
        _("Option"), _("Amount"), _("Dry sets"), _("Rule"), _("Once ($)"), _("A peak day ($)"),
        _("A year ($)"), *(_head(name, system) for name in figures),
        _("Cost a year, difference ($)"), _("Difference, 5 % of sites ($)"),
        _("Difference, 95 % of sites ($)"), _("Keeps to what you allow"), _("Years to pay back"),
    )  # fmt: skip
    return Sheet(_("Options"), heads, tuple(_option(row, system) for row in found.options))


def _option(row: OptionRow, system: str) -> tuple[Cell, ...]:
    option, yearly = row.option, row.yearly
    sites = yearly.site_uncertainty if yearly else None
    ends = (sites.low, sites.high) if sites else (None, None)
    return (
        option.key, option.amount, option.scenario.cloth, option.scenario.rule, option.once,
        option.each_day, option.each_year,
        *(_edge(value, name, system) for name, value in row.figures.items()),
        yearly.value if yearly else None, *ends,
        _yes(row.keeps), None if math.isinf(row.payback_years) else row.payback_years,
    )  # fmt: skip


def _left_out(found: SeasonAnswer, system: str) -> Sheet:
    rows = tuple(
        (one.day, say(one.why, system) if one.why else _("closed")) for one in found.left_out
    )
    return Sheet(_("Days left out"), (_("Day"), _("Why")), rows)


def _made_of(found: SeasonAnswer) -> Sheet:
    versions = ", ".join(f"{name} {number}" for name, number in found.libraries.items())
    rows: tuple[tuple[Cell, ...], ...] = (
        (_("Site"), found.site),
        (_("First day"), found.first),
        (_("Last day"), found.last),
        (_("Simulated days of each day and rule"), found.replications),
        (_("Seed"), found.seed),
        (_("Computed with"), versions),
    )
    return Sheet(_("What it rests on"), (_("What"), _("Which")), rows)

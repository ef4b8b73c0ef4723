"""How figures are worded: to which digit, with what single days do and where the truth may lie.

What is shown as a difference is the difference of what is shown.

Pages and terminal take the same cell of a table, and print it each in its own way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.catalogue import _
from app.words.numbers import (
    NOTHING,
    apart_as_shown,
    dollars,
    finest_of,
    range_step,
    shown,
    signed,
    span,
    step_of,
    stepped,
    whole,
)
from sim.day.figures import FigureInfo
from sim.decide.answer import Column, Comparison, Figure, PairedDifference, Range
from sim.units import MINUS, UNITS


@dataclass(frozen=True, slots=True)
class FigureCell:
    """A figure of a scenario, all as shown text; empty where there is nothing to say.

    Attributes:
        site: where the expected value may lie at the site; empty also where no guess moves the
            figure by as much as is printed.
        days: what single days do.
        difference: to the first column, with its sign.
        likely: where that difference may lie at the site.
        word: plain word on the difference.
        plain: the word is no reason to act.
    """

    value: str
    days: str
    site: str = ""
    difference: str = ""
    likely: str = ""
    word: str = ""
    plain: bool = True


def cells_of(info: FigureInfo, comparison: Comparison, system: str) -> tuple[FigureCell, ...]:
    """A figure of each column of a comparison in the reader's units ("si" or "us"): all of them to
    one step, so that a difference is that of the two numbers beside it."""
    step, first = row_step(info, comparison, system), comparison.columns[0].figures[info.name]
    return tuple(
        _cell(info, column, first, system, comparison.days, step) for column in comparison.columns
    )


def row_step(info: FigureInfo, comparison: Comparison, system: str) -> float:
    """Power of ten to which a figure and its differences are printed in every column [as shown].

    It is the finest that one of them deserves, see `printed_step`: columns share their days and
    drawn sites, so a difference is known better than the figures themselves. Where it matters they
    show one digit more than they deserve for its sake, not more. Columns that are not shown count
    too, so that a figure of a plan has the same digits on every page.
    """
    levels, differences = [], []
    for column in (*comparison.columns, *comparison.unshown):
        figure, apart = column.figures[info.name], column.apart(info.name)
        if figure.value is not None and not _is_whole(figure, info.unit, system):
            levels.append(_own_step(figure, figure.value, info.unit, system))
        if apart.value is not None and apart.matters:
            differences.append(_own_step(apart, apart.value, info.unit, system, difference=True))
    if not levels:
        return 1.0
    return max(min(levels + differences), min(levels) / 10.0, finest_of(info.unit, 0.0))


def printed_as(info: FigureInfo, comparison: Comparison, value: float, system: str) -> str:
    """Another value of a figure in the digits in which a comparison prints it."""
    seen = shown(value, info.unit, system)
    return _told(seen, info.unit, system, row_step(info, comparison, system))


def _own_step(
    found: Figure | PairedDifference, value: float, kind: str, system: str, difference: bool = False
) -> float:
    return printed_step(found, kind, system, shown(value, kind, system, difference))


def _is_whole(figure: Figure, kind: str, system: str) -> bool:
    """Whether it is exact and whole, as 100 % by rule is: no measurement with decimals."""
    ranges = (figure.run_error, figure.site_uncertainty)
    if figure.value is None or any(half_width(one, kind, system) for one in ranges):
        return False
    return shown(figure.value, kind, system).is_integer()


def _cell(
    info: FigureInfo, column: Column, first: Figure, system: str, days: int, step: float
) -> FigureCell:
    figure, apart = column.figures[info.name], column.apart(info.name)
    if figure.value is None:
        return FigureCell(NOTHING, _("no car to say it of"))
    own = max(step, _own_step(figure, figure.value, info.unit, system))
    return FigureCell(
        value=_value_words(info, figure, system, step),
        days=_single_days(info, figure, system, days),
        site=_site_words(info, figure, system, own),
        difference=_difference(info, figure, first, apart, system, step),
        likely=_likely(info, apart, system),
        word="" if apart.value is None else _(apart.word),
        plain=not apart.matters,
    )


def _value_words(info: FigureInfo, figure: Figure, system: str, step: float) -> str:
    value = shown(figure.value or 0.0, info.unit, system)
    is_whole = _is_whole(figure, info.unit, system)
    return _told(value, info.unit, system, max(step, 1.0) if is_whole else step)


def _told(value: float, kind: str, system: str, step: float) -> str:
    """A value as shown; money has its sign, every other unit stands beside the row."""
    is_money = UNITS[kind].symbol(system) == "$"
    return dollars(value, step) if is_money else stepped(value, step)


def printed_step(found: Figure | PairedDifference, kind: str, system: str, value: float) -> float:
    """Power of ten to which a figure of a comparison deserves to be printed [as shown].

    Neither finer than the run error's first digit, see `step_of`, nor than a tenth of the site
    uncertainty (the power of ten nearest to a tenth of half its range); `value` is as shown.
    """
    step = step_of(half_width(found.run_error, kind, system), kind, value)
    site = half_width(found.site_uncertainty, kind, system)
    if site <= 0.0:
        return step
    return float(max(step, 10.0 ** round(math.log10(site / 10.0))))


def half_width(found: Range | None, kind: str, system: str) -> float:
    """Half the width of an interval, as shown; 0 where there is none."""
    return 0.0 if found is None else abs(shown(found.width, kind, system, difference=True)) / 2.0


def ends_of(
    found: Range, kind: str, system: str, *, difference: bool = False
) -> tuple[float, float]:
    """Both ends of an interval, as shown."""
    low, high = (shown(end, kind, system, difference) for end in (found.low, found.high))
    return low, high


def _single_days(info: FigureInfo, figure: Figure, system: str, days: int) -> str:
    """What single days do, in words where a range would say nothing."""
    seldom, ends, none_in = figure.fewer_than_one_in_days, figure.day_range, "none in {days} days"
    if seldom and not figure.event_days:
        return _(none_in, days=whole(days))
    if seldom > 1:  # of very few days nothing can be said so
        return _("on fewer than 1 day in {days}", days=whole(seldom))
    if ends is None:
        return ""
    if ends.low == ends.high == figure.value:
        if info.name == "full_share":
            return _("by rule")
        return _("the same every day") if figure.value else _(none_in, days=whole(days))
    low, high = ends_of(ends, info.unit, system)
    step = range_step(low, high, info.unit)
    if stepped(low, step) == stepped(high, step):
        return _("days about {value}", value=stepped(low, step))
    return _("days {range}", range=span(low, high, step))


def _site_words(info: FigureInfo, figure: Figure, system: str, step: float) -> str:
    """Where the expected value may lie at the site, to the digits of the figure itself."""
    if figure.site_uncertainty is None or figure.fewer_than_one_in_days:
        return ""
    low, high = ends_of(figure.site_uncertainty, info.unit, system)
    return "" if stepped(low, step) == stepped(high, step) else span(low, high, step)


def _difference(
    info: FigureInfo,
    figure: Figure,
    first: Figure,
    apart: PairedDifference,
    system: str,
    step: float,
) -> str:
    """A figure less that of the first column, both as printed, with its sign."""
    if apart.value is None or figure.value is None or first.value is None:
        return ""
    value, held = (shown(one, info.unit, system) for one in (figure.value, first.value))
    said = _told(apart_as_shown(value, held, step), info.unit, system, step)
    return f"+{said}" if not said.startswith(MINUS) and said.strip("$0.") else said


def _likely(info: FigureInfo, apart: PairedDifference, system: str) -> str:
    """Where a difference may lie at the site; nothing where no guess moves it."""
    if apart.value is None or apart.site_uncertainty is None:
        return ""
    value = shown(apart.value, info.unit, system, difference=True)
    step = printed_step(apart, info.unit, system, value)
    ends = ends_of(apart.site_uncertainty, info.unit, system, difference=True)
    low, high = (signed(end, step) for end in ends)
    return "" if low == high else _("{low} to {high}", low=low, high=high)

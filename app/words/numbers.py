"""How numbers are worded, one function a unit; the templates have those of `FILTERS` too.

Rules of the house: a no-break space between number and unit, U+2212 for minus, an en dash in a
range, thousands set apart by commas, no digit that nobody can rely on.
"""

from __future__ import annotations

import math

from app.catalogue import _
from sim.units import (
    FINEST,
    FINEST_ELSE,
    MINUS,
    NBSP,
    TABLESPOON_KG,
    UNITS,
    quantity,
    show_clock,
)

NOTHING = "–"
"""Stands for a number that there is none of."""


# ---- bare numbers --------------------------------------------------------------------------------


def plain_number(value: float, decimals: int) -> str:
    """A number with a fixed count of decimals, commas and a typographic minus; never −0."""
    text = f"{value:,.{decimals}f}"
    if text.strip("-0.,") == "":
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def whole(number: float) -> str:
    """A whole number, such as a count: ``18,400``."""
    return plain_number(round(number), 0)


def about(number: float) -> str:
    """An expected count without digits that nobody can expect: 1,530 rather than 1,529."""
    step = 1 if number < 200 else 10 if number < 5000 else 100
    return whole(step * round(number / step))


def stepped(value: float, step: float) -> str:
    """A number rounded to a power of ten, written with just the decimals that it keeps."""
    decimals = max(0, -round(math.log10(step)))
    return plain_number(round(value / step) * step, decimals)


def signed(value: float, step: float) -> str:
    """A difference: `stepped` with its sign; no sign on a zero."""
    text = stepped(value, step)
    return text if text.startswith(MINUS) or not text.strip("0.") else f"+{text}"


def apart_as_shown(value: float, first: float, step: float) -> float:
    """By how much one number is more than another where both are shown by `stepped`: shown so too,
    the three subtract."""
    return (round(value / step) - round(first / step)) * step


def span(low: float, high: float, step: float) -> str:
    """The two ends of a range, with words between them where a dash would be read as a minus."""
    first, last = stepped(low, step), stepped(high, step)
    if first.startswith(MINUS) or last.startswith(MINUS):
        return _("{low} to {high}", low=first, high=last).replace(" ", NBSP)
    return f"{first}–{last}"


# ---- a unit each ---------------------------------------------------------------------------------


def percent(share: float | None, *, fine: bool = False) -> str:
    """A share in whole percent, ``12 %``; a dash for None.

    Args:
        fine: below ten percent a tenth is told where there is one, ``4.2 %``, and ``under 0.1 %``
            of what is not nothing.
    """
    if share is None:
        return NOTHING
    if fine and 0.0 < share < 0.0005:
        return _("under {least}", least=f"0.1{NBSP}%")
    text = plain_number(100.0 * share, 1 if fine and 0.0 < share < 0.1 else 0)
    return f"{text.removesuffix('.0')}{NBSP}%"


def dollars(amount: float, step: float = 1.0) -> str:
    """An amount to the dollar, ``$1,234`` or ``−$5``, or to another power of ten of them."""
    text = stepped(amount, step)
    return f"{MINUS}${text[1:]}" if text.startswith(MINUS) else f"${text}"


def about_dollars(amount: float, digits: int = 0) -> str:
    """An amount such as ``$3,900``: two digits that count, three from ten thousand on, or as many
    as are given; whole units in any case."""
    size = abs(amount)
    digits = digits or (2 if size < 1e4 else 3)
    step = 1.0 if size < 1.0 else 10.0 ** max(0, math.floor(math.log10(size)) - digits + 1)
    return dollars(amount, step)


def cents(amount: float) -> str:
    """A price to the cent, ``$0.85``."""
    return dollars(amount, 0.01)


def clock(hour: float) -> str:
    """A time of day from hours after midnight: ``13:30``."""
    return show_clock(3600.0 * hour)


def hour_range(first: float, end: float) -> str:
    """From one time of day to another: ``12:00–16:00``."""
    return f"{clock(first)}–{clock(end)}"


def hours(amount: float) -> str:
    """A count of hours, a tenth below a hundred where there is one: ``12.5``."""
    return plain_number(amount, 1 if abs(amount) < 100 else 0).removesuffix(".0")


def minutes(seconds: float) -> str:
    """Seconds as whole minutes: ``8 min``."""
    return f"{whole(seconds / 60.0)}{NBSP}min"


def degrees(temp_c: float, system: str) -> str:
    """A temperature to the whole degree that the reader reads in: ``88 °F``."""
    unit = UNITS["temperature"]
    return f"{whole(unit.to_edge(temp_c, system))}{NBSP}{unit.symbol(system)}"


def amount(value: float, kind: str, system: str, digits: int = 3) -> str:
    """Any other quantity in the reader's unit, with so many digits that count: ``44 ft/min``."""
    return quantity(value, kind, digits).show(system)


def half_up(value: float, step: float) -> float:
    """A number that is not negative to the nearest step, halves upwards, as people round."""
    return math.floor(value / step + 0.5 + 1e-9) * step


def grams(water_kg: float) -> str:
    """Water to the gram, in the unit of every kitchen scale: ``30 g``."""
    return f"{plain_number(half_up(1000.0 * water_kg, 1.0), 0)}{NBSP}g"


def spoonfuls(water_kg: float) -> str:
    """Water as people see it, to half a tablespoon: ``about 2½ tablespoons``."""
    halves = round(2.0 * half_up(water_kg / TABLESPOON_KG, 0.5))
    if halves == 0:
        return _("less than half a tablespoon")
    if halves == 1:
        return _("about half a tablespoon")
    if halves == 2:
        return _("about a tablespoon")
    count = f"{whole(halves // 2)}{'½' if halves % 2 else ''}"
    return _("about {count} tablespoons", count=count)


def on_area(film_kg_m2: float, area_m2: float) -> str:
    """A film as the water on so much of a car, to the gram and to half a spoonful that people can
    tell: ``30 g of water, about 2 tablespoons``."""
    water_kg = film_kg_m2 * area_m2
    return _("{grams} of water, {spoons}", grams=grams(water_kg), spoons=spoonfuls(water_kg))


# ---- shares in words -----------------------------------------------------------------------------


def one_in(share: float, *, bare: bool = False) -> str:
    """A share of cars in words: ``about 1 car in 22``; percentages where that is plainer.

    Args:
        bare: as the second of two: ``1 in 22``, the cars being named before.
    """
    if share <= 0:
        return _("no car")
    if share < 0.002:
        return _("fewer than 1 car in 500")
    if share > 0.4:
        return _("{percent} of cars", percent=percent(share))
    count = 1.0 / share
    said = round(count)
    if count >= 25:
        said = round(count / 5) * 5 if count < 100 else round(count / 50) * 50
    if bare:
        return _("1 in {count}", count=said).replace(" ", NBSP)
    return _("about {share}", share=_("1 car in {count}", count=said).replace(" ", NBSP))


def one_beside(share: float, before: float, *, bare: bool = True) -> tuple[str, str]:
    """Two shares of cars said in one way: ``about 1 car in 22`` and ``1 in 6``, or both in percent,
    ``2 % of cars`` and ``41 %``, where that is plainer for either.

    Args:
        bare: of the second the cars are named before.
    """
    if max(share, before) > 0.4:
        said = _("{percent} of cars", percent=percent(share, fine=True))
        return said, percent(before, fine=True)
    return one_in(share), one_in(before, bare=bare)


def share_words(share: float) -> str:
    """A share of the day's cars in words, plain where a plain word fits."""
    for low, high, words in (
        (0.995, 1.01, _("all")),
        (0.9, 0.995, _("nearly all")),
        (0.72, 0.78, _("about three quarters")),
        (0.64, 0.69, _("about two thirds")),
        (0.51, 0.57, _("just over half")),
        (0.49, 0.51, _("half")),
        (0.43, 0.49, _("just under half")),
        (0.31, 0.36, _("about a third")),
        (0.22, 0.28, _("about a quarter")),
    ):
        if low <= share < high:
            return words
    return _("hardly any") if share < 0.01 else percent(share)


def of_twenty(share: float) -> int:
    """How many of 20, rounded down, so that 19 of 20 is never said of less."""
    return math.floor(20.0 * share + 1e-9)


# ---- digits that are worth printing --------------------------------------------------------------


def shown(value: float, kind: str, system: str, difference: bool = False) -> float:
    """A stored value as the reader sees it; a difference has no offset."""
    edge = UNITS[kind].edge(system)
    return value * edge.factor + (0.0 if difference else edge.offset)


def finest_of(kind: str, value: float) -> float:
    """Smallest step worth printing of a value of a kind of unit, both as shown."""
    finest = FINEST.get(kind, FINEST_ELSE)
    return max(finest, 1.0) if kind == "share" and abs(value) >= 10.0 else finest


def step_of(half_width: float | None, kind: str, value: float = 0.0) -> float:
    """Power of ten to which a figure deserves to be printed [as shown].

    The first digit of the error is the last one printed, and never finer than what a reader of
    that kind of figure can use.

    Args:
        half_width: half the interval of the run error, as shown; None or 0 when there is none.
        kind: kind of unit, see `sim.units`.
        value: the figure itself, as shown; a share of ten percent or more has no decimals.
    """
    finest = finest_of(kind, value)
    if not half_width or not math.isfinite(half_width):
        return finest
    return float(max(finest, 10.0 ** math.floor(math.log10(half_width) + 1e-9)))


def range_step(low: float, high: float, kind: str) -> float:
    """Power of ten for the two ends of a day range, a fifth of its width or finer."""
    return step_of((high - low) / 5.0 if high > low else None, kind, high)


FILTERS = {
    one.__name__: one
    for one in (
        about, about_dollars, amount, cents, clock, degrees, dollars, hours, minutes, percent, whole
    )
}  # fmt: skip
"""Filters of the templates, each by its function's name: ``{{ page.answer.cost | dollars }}``."""

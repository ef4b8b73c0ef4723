"""What one change moves in a day, in a sentence: of a quick comparison only what matters."""

from __future__ import annotations

from app.catalogue import _, _n
from app.words.figures import printed_step
from app.words.numbers import dollars, shown, stepped
from sim.day.figures import FIGURES
from sim.decide.answer import Comparison, PairedDifference

MARGIN = ("the day earns {amount} more", "the day earns {amount} less")
MOVES = {
    "cars_lost": ("{amount} more cars are lost", "{amount} fewer cars are lost"),
    "wait_p90_s": (
        "what 9 cars in 10 wait at most is {amount} minutes more",
        "what 9 cars in 10 wait at most is {amount} minutes less",
    ),
    "left_damp_share": (
        "{amount} more cars in 100 leave damp",
        "{amount} fewer cars in 100 leave damp",
    ),
    "margin": MARGIN,
}
"""What moves: by more, and by less."""


def moved_words(found: Comparison, system: str, margin: tuple[str, str] = MARGIN) -> str:
    """What the second column of a quick comparison moves against the first.

    Args:
        margin: what is said of the money, by more and by less.
    """
    apart = found.columns[1].apart
    moved = [
        _moves(name, apart(name), system, margin if name == "margin" else words)
        for name, words in MOVES.items()
        if apart(name).matters and apart(name).value is not None
    ]
    said = "; ".join(moved)
    return f"{said[:1].upper()}{said[1:]}." if said else _("Hardly anything changes.")


def margin_moved(found: Comparison, system: str) -> float:
    """What the second column of a quick comparison earns more, as it is printed; 0 where it is not
    told, as it hardly changes [money]."""
    apart = found.columns[1].apart("margin")
    if apart.value is None or not apart.matters:
        return 0.0
    step = printed_step(apart, "money", system, abs(apart.value))
    return step * round(apart.value / step)


def quickly(found: Comparison) -> str:
    """How many days a quick comparison is from."""
    return _n(
        "A quick answer from 1 day; nothing is stored.",
        "A quick answer from {count} days; nothing is stored.",
        found.days,
    )


def _moves(name: str, apart: PairedDifference, system: str, words: tuple[str, str]) -> str:
    value, unit = apart.value or 0.0, FIGURES[name].unit
    size = abs(shown(value, unit, system, difference=True))
    step = printed_step(apart, unit, system, size)
    amount = dollars(size, step) if unit == "money" else stepped(size, step)
    more, less = words
    return _(more if value > 0.0 else less, amount=amount)

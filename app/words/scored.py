"""How good the advice was, in words: what was told beside what came."""

from __future__ import annotations

from fractions import Fraction

from app.catalogue import _, _n
from app.words.numbers import half_up, percent, plain_number, span, whole
from app.words.phrases import joined
from sim.day.figures import Range
from sim.learn.scored import Group, Place, Score, Scored, Window
from sim.units import NBSP

Rows = tuple[tuple[str, ...], ...]
TOPICS = ("damp", "lost", "switch")
NAMES = {"damp": "Damp hoods", "lost": "Cars lost", "switch": "Hours wiped reduced"}
PLACES: dict[Place, str] = {
    "as told": "as told",
    "more": "more than told",
    "fewer": "fewer than told",
    "too few days": "too few days to say",
}
LEADS: dict[str, dict[Place, str]] = {
    "damp": {
        "as told": "as many hoods were damp as was told",
        "more": "more hoods were damp than was told",
        "fewer": "fewer hoods were damp than was told",
        "too few days": "of damp hoods too few days tell anything",
    },
    "lost": {
        "as told": "as many cars drove away as was told",
        "more": "more cars drove away than was told",
        "fewer": "fewer cars drove away than was told",
        "too few days": "of cars that drove away too few days tell anything",
    },
    "switch": {
        "as told": "cars were wiped reduced as often as was told",
        "more": "cars were wiped reduced more often than was told",
        "fewer": "cars were wiped reduced less often than was told",
        "too few days": "of switches too few days tell anything",
    },
}
SENTENCES = {
    "damp": (
        "On 1 day we said that {told} of the hoods would be damp; it was {came}.",
        "On {count} days we said that {told} of the hoods would be damp; it was {came}.",
    ),
    "lost": (
        "On 1 day we said that {told} of the cars would drive away; it was {came}.",
        "On {count} days we said that {told} of the cars would drive away; it was {came}.",
    ),
    "switch": (
        "On 1 day we said of some hours that {told} would be wiped reduced; it was {came}.",
        "On {count} days we said of some hours that {told} would be wiped reduced; it was {came}.",
    ),
}
MOST_OF, LEAST = 10, 0.002
"""A share is said by so small numbers, as in 3 in 10; one below the least as fewer than that."""


def parts(window: Window) -> tuple[tuple[str, Score], ...]:
    """What was scored over some days, by its name."""
    held = {"damp": window.damp, "lost": window.lost, "switch": window.switch}
    return tuple((name, one) for name in TOPICS if (one := held[name]) is not None)


def in_small_numbers(share: float) -> str:
    """A share as people say it: 1 in 5, 3 in 10, none, all."""
    if share <= 0.0:
        return _("none")
    if share >= 1.0:
        return _("all")
    if share < LEAST:
        return _("fewer than {share}", share=_("{some} in {all}", some=1, all=whole(1.0 / LEAST)))
    if share < 1.0 / MOST_OF:
        count = 1.0 / share
        near = Fraction(
            1, round(half_up(count, 1.0 if count < 25.0 else 5.0 if count < 100.0 else 50.0))
        )
    else:
        near = min(Fraction(share).limit_denominator(MOST_OF), Fraction(MOST_OF - 1, MOST_OF))
    said = _("{some} in {all}", some=near.numerator, all=whole(near.denominator))
    return said.replace(" ", NBSP)


def lead(found: Scored) -> str:
    """What stands in view: how what was told over the most days stands, in a sentence."""
    window = found.windows[-1]
    said = [_(LEADS[name][one.place]) for name, one in parts(window)]
    if not said:
        return _("Nothing was told yet that a log could be held against.")
    return _("Over {count} days {said}.", count=window.length, said=joined(said))


def window_words(window: Window) -> str:
    """What came over some days, by what was told most often."""
    told = parts(window)
    if not told:
        return _("Over {count} days there is nothing to hold a log against.", count=window.length)
    said = [_(LEADS[name][one.place]) for name, one in told]
    return " ".join(
        (
            _("Over {count} days {said}.", count=window.length, said=joined(said)),
            *(group_words(name, max(one.groups, key=lambda g: g.of)) for name, one in told),
        )
    )


def group_words(name: str, group: Group) -> str:
    """What came where about one share was told."""
    one, many = SENTENCES[name]
    told, came = in_small_numbers(group.told), in_small_numbers(group.came / group.of)
    return _n(one, many, group.days, told=told, came=came)


def name_words(name: str) -> str:
    """What is scored."""
    return _(NAMES[name])


def group_heads(name: str) -> tuple[str, ...]:
    """Heads of the groups of a thing, the first of which names it."""
    return (
        _("{name}, told", name=name_words(name)), _("Days"), _("Of how many"), _("Came"),
        _("By so few, between"), _("How that stands"),
    )  # fmt: skip


def group_rows(score: Score) -> Rows:
    """A row a group: what was told, on how many days, of how many, what came, where that may lie,
    and how it stands."""
    return tuple(
        (
            percent(one.told, fine=True), whole(one.days), whole(one.of),
            percent(one.came / one.of, fine=True), _between(one.limits),
            _(PLACES[one.place]),
        )
        for one in score.groups
    )  # fmt: skip


def _between(ends: Range) -> str:
    step = 0.1 if ends.high < 0.1 else 1.0
    return f"{span(100.0 * ends.low, 100.0 * ends.high, step)}{NBSP}%"


def score_rows(found: Scored) -> Rows:
    """A row a thing and number of days: its score and what that is made of."""
    return tuple(
        (
            _("{name}, {count} days", name=_(NAMES[name]), count=window.length),
            *(plain_number(value, 3) for value in
              (one.brier, one.uncertainty, one.reliability, one.resolution)),
        )
        for window in found.windows
        for name, one in parts(window)
    )  # fmt: skip


def counted_words(window: Window) -> str:
    """Which days count, and why the others don't."""
    said = list[str]()
    if window.stored:
        said.append(
            _n("1 day had its plan stored before it opened.",
               "{count} days had their plan stored before they opened.", window.stored)
        )  # fmt: skip
    if window.afterwards:
        said.append(
            _n("Of 1 day none was stored: what it would have told is worked out now.",
               "Of {count} days none was stored: what it would have told is worked out now.",
               window.afterwards)
        )  # fmt: skip
    if window.unlogged:
        said.append(
            _n("1 of the {all} days has no entry in the log and is not counted.",
               "{count} of the {all} days have no entry in the log and are not counted.",
               window.unlogged, all=window.length)
        )  # fmt: skip
    if window.untold:
        said.append(
            _n("Of 1 day nothing could be told.", "Of {count} days nothing could be told.",
               window.untold)
        )  # fmt: skip
    return " ".join(said)


def clock_words(window: Window) -> str:
    """How often a rule by the clock was followed; empty without such days."""
    if not window.by_clock:
        return ""
    return _n(
        "On 1 day the rule went by the clock; its switches were as planned on {followed}.",
        "On {count} days the rule went by the clock; its switches were as planned on {followed}.",
        window.by_clock, followed=whole(window.followed),
    )  # fmt: skip

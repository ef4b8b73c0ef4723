"""What to measure tomorrow, in words."""

from __future__ import annotations

from app.catalogue import _, long_date
from app.words.numbers import about_dollars, cents, of_twenty, whole
from app.words.phrases import joined
from app.words.weighings import NAMES
from sim.decide.next_measurement import AT_AN_HOUR, NextMeasurement, Option, WhatNext
from sim.inputs import DAMP, EFFORT, SOAKED, SPIN
from sim.units import show_clock

Rows = tuple[tuple[str, ...], ...]
NO_HOUR = {
    SOAKED: "at any time",
    SPIN: "after closing",
    DAMP: "when cars begin to come out damp",
}
LEAST_APART = 0.1
"""Hours whose worth differs by less than this part of the best are as good; a guess."""


def when_words(option: Option) -> str:
    """When to measure."""
    if option.at_s is not None:
        return _("about {time}", time=show_clock(option.at_s))
    return _(NO_HOUR.get(option.kind, "while it is busy"))


def lead(found: WhatNext) -> str:
    """What to make first, in a sentence."""
    if not found.offered:
        return _("Nothing that could be measured tomorrow is expected to save anything.")
    best = found.offered[0].option
    return _(
        "{what}, {when}: expected to help the advice of {day} most for its work.",
        what=_(NAMES[best.kind]), when=when_words(best), day=long_date(found.busy),
    )  # fmt: skip


def offered_rows(found: WhatNext) -> Rows:
    """A row a measurement: what, when, its work, what it is expected to save on the day, for a
    minute, and at how many of twenty sites it would change the advice."""
    return tuple(
        (
            _(NAMES[one.option.kind]), when_words(one.option),
            _("{count} min", count=EFFORT[one.option.kind][0]), money_words(one),
            cents(one.per_minute),
            _("at {count} of 20 sites", count=of_twenty(one.changes)),
        )
        for one in found.offered
    )  # fmt: skip


def money_words(one: NextMeasurement) -> str:
    """What a measurement is expected to save, and by how much that may be off."""
    return _(
        "{money} ± {error}", money=about_dollars(one.money), error=about_dollars(one.run_error)
    )


def hour_words(found: WhatNext) -> tuple[str, ...]:
    """Of each offered kind whose hour can be chosen, which hours are about as good."""
    said = []
    for kind in (one.option.kind for one in found.offered if one.option.kind in AT_AN_HOUR):
        hours = found.hours(kind)
        best = max(one.money for one in hours)
        good = [one for one in hours if one.money >= (1.0 - LEAST_APART) * best]
        times = joined([show_clock(one.option.at_s or 0.0) for one in good])
        if len(good) == len(hours):
            said.append(_("{what}: any hour is about as good.", what=_(NAMES[kind])))
        else:
            said.append(_("{what}: about as good at {times}.", what=_(NAMES[kind]), times=times))
    return tuple(said)


def basis_words(found: WhatNext) -> str:
    """What it rests on."""
    return _(
        "Tried at {sites} sites as yours may be, measured on {tomorrow}, for the choice among a "
        "few rules on {day}. Counting cars tells nothing of the site’s guesses; it tells the days "
        "to come, on the page of counts.",
        sites=whole(found.sites), tomorrow=long_date(found.tomorrow), day=long_date(found.busy),
    )  # fmt: skip

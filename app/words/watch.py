"""One simulated day in words: what is to be seen at a moment, and the day hour by hour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from app.catalogue import _, _n
from app.words.numbers import about, clock, half_up, percent, whole
from app.words.phrases import Statement, TextTable
from sim.day.watched import (
    BELT,
    FULL,
    LANE,
    LINE,
    LOCKED_OUT,
    REDUCED,
    STACK,
    STANDS,
    TENTHS,
    Moment,
    WatchedDay,
    WatchedScenario,
)

HOUR, MINUTE = 3600 * TENTHS, 60 * TENTHS
SAID = (
    "{time}. Before the belt: {before}. {belt} Damp at the exit: {exit}. "
    "Strips: {wet} of what they can hold. {wiping} So far: {washed} washed, {damp} left damp, "
    "{lost} lost."
)
WIPING = {
    "": "No car is wiped yet.",
    FULL: "Cars are wiped in full.",
    REDUCED: "Cars are wiped reduced.",
    LOCKED_OUT: "The wheel is locked out.",
}
HERE = {
    LINE: "Loading line: {count}",
    LANE: "Pay lanes: {count}",
    STACK: "Stack: {count}",
    BELT: "Belt: {count}",
    STANDS: "Damp: {count}",
}
"""What stands over each place of the drawing; over the exit, cars with a finisher count too."""
STOPPED = "Belt stopped: {count}"
"""Over the belt while it stands."""
RIDING = "On the belt: {count}.", "On the belt, which stands: {count}."
"""Of a belt that moves, and of one that stands."""
STRIPS = "Strips: {wet}"


def time_words(at: float) -> str:
    """A moment as a time of day, to the minute that has begun."""
    return clock(at // MINUTE * MINUTE / HOUR)


def wet_words(one: Moment) -> str:
    """How full the strips are; the script rounds as people do, and so do we."""
    return percent(half_up(one.wet / 10.0, 1.0) / 100.0)


def moment_words(one: Moment) -> str:
    """What is to be seen at a moment."""
    return _(
        SAID,
        time=time_words(one.at),
        before=whole(one.before_the_belt),
        belt=_(RIDING[one.is_stopped], count=whole(one.count(BELT))),
        exit=whole(one.at_the_exit),
        wet=wet_words(one),
        wiping=_(WIPING[one.wiping]),
        washed=whole(one.washed),
        damp=whole(one.left_damp),
        lost=whole(one.lost),
    )


def day_words(day: WatchedDay) -> Statement:
    """What is watched."""
    came = sum(not car.is_again for car in day.cars)
    lead = _("One day as it may go, not the average.")
    return Statement(lead, _n("{count} car comes.", "{count} cars come.", came))


def name_words(one: WatchedScenario) -> str:
    """Which scenario it is."""
    return _("With “{name}”", name=one.name)


def drawn_words(day: WatchedDay, expected: float) -> str:
    """Which of many days is watched."""
    return _(
        "This is the day of seed {seed}. Of the days that were drawn, it has most nearly the "
        "{cars} cars that are expected.",
        seed=day.seed,
        cars=about(expected),
    )


def outcome_words(one: WatchedScenario) -> str:
    """What came of the day."""
    end = one.day.moment(one.day.ends)
    return _(
        "With “{name}”: {damp} left damp, {lost} lost.",
        name=one.name,
        damp=whole(end.left_damp),
        lost=whole(end.lost),
    )


def busiest_words(one: WatchedScenario) -> str:
    """When most cars wait."""
    busiest = one.day.moment(one.day.busiest)
    return _(
        "With “{name}” most cars wait at {time}, {most} before the belt.",
        name=one.name,
        time=time_words(busiest.at),
        most=whole(busiest.before_the_belt),
    )


def hours_table(one: WatchedScenario) -> TextTable:
    """A row an hour: what is to be seen when it begins, and what happens in it."""
    day = one.day
    first, last = day.opens // HOUR, math.ceil(day.ends / HOUR)
    at = [max(day.opens, HOUR * first), *(HOUR * hour for hour in range(first + 1, last + 1))]
    seen = [day.moment(moment) for moment in at]
    heads = (
        _("From"),
        _("Before the belt"),
        _("On the belt"),
        _("Strips, % of what they can hold"),
        _("Washed"),
        _("Left damp"),
        _("Lost"),
    )
    rows = tuple(
        (
            time_words(start.at),
            whole(start.before_the_belt),
            whole(start.count(BELT)),
            whole(half_up(start.wet / 10.0, 1.0)),
            whole(end.washed - start.washed),
            whole(end.left_damp - start.left_damp),
            whole(end.lost - start.lost),
        )
        for start, end in pairwise(seen)
    )
    return TextTable("", heads, rows)


def moments_to_draw(watched: Sequence[WatchedScenario]) -> dict[int, str]:
    """Moments that still pictures show, and why: a little after opening, the busiest, before and
    after the first switch of a scenario."""
    first = watched[0].day
    quarter, half = 900 * TENTHS, 1800 * TENTHS
    found = {first.opens + quarter: _("A little after opening"), first.busiest: _("The busiest")}
    switches = [at for one in watched if (at := one.day.switches) is not None]
    if switches:
        found[min(switches) - 1] = _("Before the switch")
        found[min(min(switches) + half, first.ends)] = _("Half an hour after the switch")
    return dict(sorted(found.items()))

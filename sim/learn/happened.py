"""What was planned of a day beside what happened: whether the plan was wrong, or not followed.

A plan tells what single days do, 5th to 95th percentile: nine days in ten should lie within. A day
outside says that the plan was wrong for it; one in ten may be. Something else is whether the plan
was followed: switches at other times, people who came late.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from sim.day.figures import Range
from sim.day.rules import Clock, CrewClock, Rule
from sim.inputs import Conditions, PlannedShift
from sim.inputs.logbook import FULL, REDUCED
from sim.learn.logged import LoggedDay, Switch, Windows
from sim.special import betaincinv, gammaincinv, stdtrit

LOW, HIGH = 0.05, 0.95
"""Ends of a day range."""
SWITCH_SLACK_S = 900.0
"""A switch within this of its planned time counts as planned [s]: a guess."""
SAME_SWITCH_S = 5400.0
"""Further from its planned time than this, a switch is one of its own [s]: a guess."""
LATE_S = 300.0
"""Somebody who came later than this after the shift began came late [s]: a guess."""

FEWEST_WAITS = 3
"""A mean of fewer noted waits is held against no range: a guess."""

Source = Literal["stored", "afterwards", "expected", "nothing"]
"""Where the plan is from: stored before that morning's opening; worked out afterwards from what was
known the evening before; the expected cars alone, likewise; nothing."""
Place = Literal["inside", "above", "below", "unknown"]


@dataclass(frozen=True, slots=True)
class Planned:
    """What was planned of a day; None where the plan does not tell it.

    Attributes:
        figures: expected value and day range by name of the figure.
        rule: wiping rule as it is written; empty where none was chosen.
        damp_by_hour: share of cars damp at the wheel, 24 values, None in hours without one.
        wait_by_hour: mean wait [s]; full_by_hour: share of cars fully wiped, likewise.
        windows: of reduced wiping [s after midnight]; None where the rule goes by what is seen.
        shifts: of the roster.
    """

    source: Source
    figures: dict[str, tuple[float, Range | None]]
    rule: str = ""
    damp_by_hour: tuple[float | None, ...] = ()
    wait_by_hour: tuple[float | None, ...] = ()
    full_by_hour: tuple[float | None, ...] = ()
    windows: Windows | None = None
    shifts: tuple[PlannedShift, ...] = ()


@dataclass(frozen=True, slots=True)
class Held:
    """A figure of a day held against its plan.

    Attributes:
        figure: its name, see `sim.day.figures.FIGURES`.
        expected, days: what was planned; None where it was not.
        was: what happened; None where nobody noted it.
        likely: where the truth may lie, of what was only looked at in part; None where it was
            counted.
        place: of what happened in the day range.
    """

    figure: str
    expected: float | None
    days: Range | None
    was: float | None
    likely: Range | None
    place: Place


SwitchState = Literal["as planned", "early", "late", "not done", "not planned"]


@dataclass(frozen=True, slots=True)
class SwitchHeld:
    """A switch of the wiping: to what, when it was planned and done [s], and the reason given."""

    to: str
    planned_s: float | None
    done_s: float | None
    reason: str
    state: SwitchState


@dataclass(frozen=True, slots=True)
class Late:
    """Somebody who came after the shift began: when it began, and when they came [s]."""

    name: str
    start_s: float
    came_s: float


@dataclass(frozen=True, slots=True)
class DayHappened:
    """A day beside its plan.

    Attributes:
        held: figure by figure.
        switches: planned and done; empty where the plan names no times.
        late: people who came late by the roster.
        right: whether all that is known lies inside; None where nothing is.
        followed: whether switches and people were as planned; None where nothing tells.
    """

    planned: Planned
    logged: LoggedDay
    held: tuple[Held, ...]
    switches: tuple[SwitchHeld, ...]
    late: tuple[Late, ...]
    right: bool | None
    followed: bool | None


@dataclass(frozen=True, slots=True)
class InRange:
    """How many of some days lay inside what was told of their cars.

    Attributes:
        limits: exact 95 % limits of the share of such days; of none, 0 to 1.
        is_off: whether all of them lie below or above the nine in ten that should.
    """

    days: int
    inside: int
    limits: Range
    is_off: bool


def in_range(days: Sequence[DayHappened]) -> InRange:
    """How often as many cars came as was told, of the days on which both are known."""
    known = [one.held[0].place for one in days if one.held[0].place != "unknown"]
    inside = sum(place == "inside" for place in known)
    if not known:
        return InRange(0, 0, Range(0.0, 1.0), is_off=False)
    limits = share_limits(inside, len(known), 0.95)
    should = HIGH - LOW
    return InRange(len(known), inside, limits, not limits.low <= should <= limits.high)


def cars_range(conditions: Conditions, day_cv: float, hour_cv: float) -> tuple[float, Range]:
    """Cars of a day as it is expected, and what single such days bring, 5th to 95th percentile.

    Poisson cars, the rates of all hours times a factor of the day and its level, each hour's times
    one of its own (`sim.day.draw.as_it_comes`). The gamma distribution of that mean and variance
    stands for their mixture.

    Args:
        day_cv, hour_cv: the site's own, where the day's spread has none.
    """
    spread, cars = conditions.spread, conditions.arrivals_per_h
    mean = math.fsum(cars)
    if mean <= 0.0:
        return 0.0, Range(0.0, 0.0)
    of_day = day_cv if spread.day_cv is None else spread.day_cv
    of_hour = hour_cv if spread.hour_cv is None else spread.hour_cv
    all_day = of_day**2 + spread.level_cv**2
    hours = of_hour**2 * math.fsum(one**2 for one in cars)
    variance = mean + (1.0 + all_day) * (mean**2 + hours) - mean**2
    shape = mean**2 / variance
    low, high = (float(gammaincinv(shape, share)) * variance / mean for share in (LOW, HIGH))
    return mean, Range(low, high)


def share_limits(count: float, of: float, level: float = 0.9) -> Range:
    """Exact limits of a share of which `count` of `of` were seen (Clopper and Pearson 1934); of
    numbers that are not whole the beta distributions between theirs."""
    tail = 0.5 * (1.0 - level)
    low = float(betaincinv(count, of - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, of - count, 1.0 - tail)) if count < of else 1.0
    return Range(low, high)


def windows_of(rule: Rule) -> Windows | None:
    """When a rule reduces by the clock; None where it goes by anything else."""
    if rule.everyone:
        return None
    terms = [term for row in rule.either for term in row]
    if not terms:
        return ()
    if len(terms) > 1 or not isinstance(terms[0], Clock | CrewClock):
        return None
    return tuple(terms[0].windows)


def place_in(was: Range, days: Range) -> Place:
    """Where what happened lies: inside as long as its range meets the day range."""
    if was.high < days.low:
        return "below"
    return "above" if was.low > days.high else "inside"


def held_against(planned: Planned, logged: LoggedDay, cars: int | None, what: str) -> list[Held]:
    """Each figure that the plan tells or the log knows.

    Args:
        cars: that came or were washed; what: the figure that they are.
    """
    found = [_held(what, planned, cars, None)]
    if logged.turned_away is not None or "cars_lost" in planned.figures:
        found.append(_held("cars_lost", planned, logged.turned_away, None))
    if logged.looked_at:
        damp = logged.damp or 0
        likely = share_limits(damp, logged.looked_at)
        found.append(
            _held("damp_share", at_looks(planned, logged), damp / logged.looked_at, likely)
        )
    elif "damp_share" in planned.figures:
        found.append(_held("damp_share", planned, None, None))
    if logged.waits:
        waits = [wait_s for _, wait_s in logged.waits]
        there = at_waits(planned, logged)
        found.append(_held("wait_mean_s", there, math.fsum(waits) / len(waits), mean_limits(waits)))
    elif "wait_p90_s" in planned.figures:
        found.append(_held("wait_p90_s", planned, None, None))
    return found


def mean_limits(values: Sequence[float], level: float = 0.9) -> Range | None:
    """Limits of the mean of quantities that can't be below zero (Student 1908), as if they were
    independent; None of fewer than two."""
    count = len(values)
    if count < 2:
        return None
    mean = math.fsum(values) / count
    spread = math.sqrt(math.fsum((one - mean) ** 2 for one in values) / (count - 1))
    half = float(stdtrit(count - 1, 0.5 + 0.5 * level)) * spread / math.sqrt(count)
    return Range(max(0.0, mean - half), mean + half)


def at_waits(planned: Planned, logged: LoggedDay) -> Planned:
    """A plan with the mean wait of the hours in which waits were noted, each as often as it was.

    Its day range is that of the wait of nine cars in ten, moved there by the ratio of the two, as
    a plan has no range of a mean. Of too few waits there is none.
    """
    hours = [hour for hour, _ in logged.waits if hour < len(planned.wait_by_hour)]
    told = [planned.wait_by_hour[hour] for hour in hours]
    known = [wait_s for wait_s in told if wait_s is not None]
    if len(known) < len(logged.waits):
        return planned
    there = math.fsum(known) / len(known)
    expected, days = planned.figures.get("wait_p90_s", (0.0, None))
    moved = None
    if days is not None and expected > 0.0 and len(known) >= FEWEST_WAITS:
        moved = Range(days.low * there / expected, days.high * there / expected)
    return replace(planned, figures={**planned.figures, "wait_mean_s": (there, moved)})


def at_looks(planned: Planned, logged: LoggedDay) -> Planned:
    """A plan with the damp share of the hours in which hoods were looked at in place of the day's.

    Hoods are looked at while it is busy, when more are damp. The day range is moved there by the
    ratio of the two means, which a plan has of hours as well.
    """
    expected, days = planned.figures.get("damp_share", (0.0, None))
    told = [
        (planned.damp_by_hour[hour], hoods)
        for hour, hoods in logged.looks
        if hour < len(planned.damp_by_hour)
    ]
    known = [(share, hoods) for share, hoods in told if share is not None]
    looked = sum(hoods for _, hoods in known)
    if expected <= 0.0 or not looked:
        return planned
    there = math.fsum(share * hoods for share, hoods in known) / looked
    moved = None
    if days is not None:
        low, high = (min(1.0, end * there / expected) for end in (days.low, days.high))
        moved = Range(low, high)
    return replace(planned, figures={**planned.figures, "damp_share": (there, moved)})


def _held(name: str, planned: Planned, was: float | None, likely: Range | None) -> Held:
    expected, days = planned.figures.get(name, (None, None))
    place: Place = "unknown"
    if was is not None and days is not None:
        place = place_in(likely or Range(was, was), days)
    return Held(name, expected, days, was, likely, place)


def switches_held(planned: Windows, done: Sequence[Switch]) -> tuple[SwitchHeld, ...]:
    """Each planned switch beside the one that was done for it, the nearest of its kind, and those
    that no plan has; in order of time."""
    edges = [edge for start, end in planned for edge in ((start, REDUCED), (end, FULL))]
    left = list(done)
    found = []
    for at, to in edges:
        near = [one for one in left if one.to == to and abs(one.at_s - at) <= SAME_SWITCH_S]
        if not near:
            found.append(SwitchHeld(to, at, None, "", "not done"))
            continue
        best = min(near, key=lambda one: (abs(one.at_s - at), one.at_s))
        left.remove(best)
        apart = best.at_s - at
        state: SwitchState = "as planned"
        if abs(apart) > SWITCH_SLACK_S:
            state = "late" if apart > 0.0 else "early"
        found.append(SwitchHeld(to, at, best.at_s, best.reason, state))
    found += [SwitchHeld(one.to, None, one.at_s, one.reason, "not planned") for one in left]
    return tuple(sorted(found, key=_when))


def _when(one: SwitchHeld) -> float:
    return (one.done_s if one.planned_s is None else one.planned_s) or 0.0


def late_people(
    shifts: Sequence[PlannedShift], came: Sequence[tuple[str, float]]
) -> tuple[Late, ...]:
    """People of the roster who came late, by when they were noted first."""
    first: dict[str, float] = {}
    for name, at in came:
        first[name] = min(at, first.get(name, at))
    return tuple(
        Late(one.name, one.start_s, first[one.name])
        for one in sorted(shifts, key=lambda shift: (shift.start_s, shift.name))
        if one.name in first and first[one.name] > one.start_s + LATE_S
    )


def day_happened(
    planned: Planned, logged: LoggedDay, cars: int | None, what: str = "cars_arrived"
) -> DayHappened:
    """A day beside its plan.

    Args:
        cars: that came or were washed; None where nobody counted. what: the figure that they are.
    """
    held = tuple(held_against(planned, logged, cars, what))
    known = [one.place for one in held if one.place != "unknown"]
    has_log = logged.entries > 0
    switches: tuple[SwitchHeld, ...] = ()
    if planned.windows is not None and has_log:
        switches = switches_held(planned.windows, logged.switches)
    late = late_people(planned.shifts, logged.came)
    tells = has_log and (planned.windows is not None or bool(logged.came))
    off = late or any(one.state != "as planned" for one in switches)
    return DayHappened(
        planned,
        logged,
        held,
        switches,
        late,
        right=all(place == "inside" for place in known) if known else None,
        followed=not off if tells else None,
    )

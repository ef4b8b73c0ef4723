"""How good what was told of days was: the Brier score, what it is made of, and whether shares that
were told came true.

What a plan tells of a car is a share: so many of the hoods of an hour are damp, so many of the cars
drive away. Each car is then an event that came or not, and the score of what was told is

    BS = mean of (p − y)²

over all of them (Brier 1950, Monthly Weather Review 78:1–3), y being 1 where it came. Events are
put into groups of about the same p. With the share that came in its group told in place of p the
score is that of a forecast which is right in the mean; with the share that came in all told always
it is that of somebody who knows nothing of single days. Hence (Murphy 1973, Journal of Applied
Meteorology 12:595–600; in this form Siegert 2017, Quarterly Journal of the Royal Meteorological
Society 143:1178–1183)

    BS = reliability − resolution + uncertainty,

what is lost as shares told are not those that come, what is won by telling days apart, and the
score of who knows nothing.

Cars of one day share its luck, so that many cars of few days tell little. How far days scatter more
than cars one by one would is taken from the days themselves, and a group counts as so many cars
fewer before the exact limits of its share are taken (Korn & Graubard 1998, Survey Methodology
24:193–201, from memory). Days that follow one another are taken to be independent; where something
has changed at the site they are not, and limits are rather too narrow.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

from sim.day.figures import Range
from sim.learn.happened import Planned, at_looks, share_limits, switches_held
from sim.learn.logged import HOUR_S, LoggedDay, Windows, reduced_windows
from sim.special import stdtrit

SCHEMA = "clothcast.scored/1"
EDGES = (0.01, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7)
"""Where one group of told shares ends and the next begins; a guess."""
LEVEL = 0.95
FEWEST_DAYS = 10
"""Of fewer days nothing is said about whether shares came true; a guess."""
WINDOWS = (30, 90)
"""Over how many days back the advice is scored."""

Place = Literal["as told", "more", "fewer", "too few days"]


@dataclass(frozen=True, slots=True)
class Events:
    """Events of a day of which one share was told.

    Attributes:
        told: the share, 0 to 1.
        of: how many there were; came: of how many it came true.
    """

    day: date
    told: float
    of: int
    came: int


@dataclass(frozen=True, slots=True)
class Group:
    """Events of which about the same share was told.

    Attributes:
        days: on which there were any; of: events; came: of how many it came true.
        told: mean share that was told.
        limits: of the share that comes, 95 %, with the luck of days.
        place: where what came lies, by these limits.
    """

    days: int
    of: int
    came: int
    told: float
    limits: Range
    place: Place


@dataclass(frozen=True, slots=True)
class Score:
    """How good what was told of one thing was.

    Attributes:
        days: with events; of, came: all events, and how many came true; told: mean share told.
        brier: the score; reliability, resolution, uncertainty: what it is made of, see the module.
        as_one: as how many cars of a day one counts for, at least 1: the luck that days have in
            common.
        place: whether more or fewer came than were told over all days.
        groups: by what was told, the least first.
    """

    days: int
    of: int
    came: int
    told: float
    brier: float
    reliability: float
    resolution: float
    uncertainty: float
    as_one: float
    place: Place
    groups: tuple[Group, ...]

    @property
    def skill(self) -> float | None:
        """By how much the score is better than that of somebody who always tells the share that
        came in all, 1 for perfect; None where that can't be beaten."""
        if self.uncertainty <= 0.0:
            return None
        return (self.resolution - self.reliability) / self.uncertainty


@dataclass(frozen=True, slots=True)
class Window:
    """Advice of some days back.

    Attributes:
        length: days; unlogged: of these without any entry; untold: with one, of which nothing was
            told.
        stored: days whose plan was stored before they opened; afterwards: whose plan was worked out
            later.
        damp, lost, switch: scores; None where no day tells anything.
        by_clock, followed: days whose rule went by the clock and that have entries, and on how many
            of them every switch was as planned.
    """

    length: int
    unlogged: int
    untold: int
    stored: int
    afterwards: int
    damp: Score | None
    lost: Score | None
    switch: Score | None
    by_clock: int
    followed: int


@dataclass(frozen=True, slots=True)
class Scored:
    """What was told of the days up to a last one, scored over several windows."""

    schema: str = field(default=SCHEMA, kw_only=True)
    last: date
    windows: tuple[Window, ...]


# ---- a score -------------------------------------------------------------------------------------


def score(events: Iterable[Events]) -> Score | None:
    """How good what was told was; None of no event."""
    every = [one for one in events if one.of > 0]
    if not every:
        return None
    total, came = sum(one.of for one in every), sum(one.came for one in every)
    groups: dict[int, list[Events]] = {}
    for one in every:
        groups.setdefault(bisect_right(EDGES, one.told), []).append(one)
    ordered = [groups[at] for at in sorted(groups)]
    as_one, freedom = _luck_of_days(ordered)
    share = came / total
    brier = _mean_square(every)
    recalibrated = _mean_square(
        [replace(one, told=_share(some)) for some in ordered for one in some]
    )
    uncertainty = share * (1.0 - share)
    return Score(
        len({one.day for one in every}), total, came, _told(every), brier,
        brier - recalibrated, uncertainty - recalibrated, uncertainty, as_one,
        _place_of_all(every), tuple(_group(some, as_one, freedom) for some in ordered),
    )  # fmt: skip


def _mean_square(events: Sequence[Events]) -> float:
    """The Brier score of some events."""
    total = math.fsum(
        one.came * (1.0 - one.told) ** 2 + (one.of - one.came) * one.told**2 for one in events
    )
    return total / sum(one.of for one in events)


def _share(events: Sequence[Events]) -> float:
    return sum(one.came for one in events) / sum(one.of for one in events)


def _told(events: Sequence[Events]) -> float:
    return math.fsum(one.of * one.told for one in events) / sum(one.of for one in events)


def _by_day(events: Iterable[Events]) -> list[list[Events]]:
    days: dict[date, list[Events]] = {}
    for one in events:
        days.setdefault(one.day, []).append(one)
    return list(days.values())


def _luck_of_days(groups: Sequence[Sequence[Events]]) -> tuple[float, int]:
    """By how much the variance of a day is larger than that of cars one by one, at least 1, and the
    degrees of freedom of that: Pearson's dispersion about the share of each group."""
    squares, freedom = list[float](), 0
    for some in groups:
        share = _share(some)
        variance = share * (1.0 - share)
        if variance <= 0.0:
            continue
        held = _by_day(some)
        freedom += len(held) - 1
        for day in held:
            of, came = sum(one.of for one in day), sum(one.came for one in day)
            squares.append((came - of * share) ** 2 / (of * variance))
    return (max(1.0, math.fsum(squares) / freedom) if freedom else 1.0), freedom


def _group(some: Sequence[Events], as_one: float, freedom: int) -> Group:
    of, came, told = sum(one.of for one in some), sum(one.came for one in some), _told(some)
    days = len({one.day for one in some})
    limits = _limits(came / of, of, days, as_one, freedom)
    place: Place = "as told"
    if told < limits.low:
        place = "more"
    elif told > limits.high:
        place = "fewer"
    return Group(days, of, came, told, limits, place)


def _limits(share: float, of: int, days: int, as_one: float, freedom: int) -> Range:
    """Exact limits of a share, as of so many fewer events as days have luck in common.

    Where the luck of days isn't known, a day counts as one event.
    """
    if freedom < 1:
        count = float(days)
    else:
        wider = float(stdtrit(freedom, 0.5 + 0.5 * LEVEL)) / float(
            stdtrit(10**6, 0.5 + 0.5 * LEVEL)
        )
        count = min(float(of), of / as_one) / wider**2
    return share_limits(share * count, count, LEVEL)


def _place_of_all(events: Sequence[Events]) -> Place:
    """Whether more or fewer came than were told, by what days were off (Student 1908)."""
    off = [math.fsum(one.came - one.of * one.told for one in day) for day in _by_day(events)]
    days = len(off)
    if days < FEWEST_DAYS:
        return "too few days"
    mean = math.fsum(off) / days
    spread = math.sqrt(math.fsum((one - mean) ** 2 for one in off) / (days - 1) / days)
    if abs(mean) <= float(stdtrit(days - 1, 0.5 + 0.5 * LEVEL)) * spread:
        return "as told"
    return "more" if mean > 0.0 else "fewer"


# ---- what a day tells ----------------------------------------------------------------------------


def damp_events(day: date, planned: Planned, logged: LoggedDay) -> Events | None:
    """The hoods that were looked at, and what was told of the hours in which they were."""
    if not logged.looked_at or "damp_share" not in planned.figures:
        return None
    told, _days = at_looks(planned, logged).figures["damp_share"]
    return Events(day, told, logged.looked_at, min(logged.damp or 0, logged.looked_at))


def lost_events(
    day: date, planned: Planned, logged: LoggedDay, arrived: int | None
) -> Events | None:
    """The cars that came, and how many of them drove away.

    Where nobody noted any and the cars were counted until closing, none did: so it is asked only of
    sites whose crew notes them.

    Args:
        arrived: cars that came, those that drove away among them; None where nobody counted.
    """
    figures = planned.figures
    if not arrived or "cars_lost" not in figures or "cars_arrived" not in figures:
        return None
    if logged.turned_away is None and logged.cars is None:
        return None
    expected, _days = figures["cars_arrived"]
    if expected <= 0.0:
        return None
    told = min(1.0, figures["cars_lost"][0] / expected)
    return Events(day, told, arrived, min(logged.turned_away or 0, arrived))


def switch_events(
    day: date, planned: Planned, logged: LoggedDay, opens_s: float, closes_s: float
) -> tuple[Events, ...]:
    """The full hours of a day whose rule goes by what is seen: how likely it was told that cars are
    wiped reduced, and whether they were for most of the hour.

    A rule by the clock tells nothing that could come or not; that is followed or isn't.
    """
    if planned.source != "stored" or planned.windows is not None or not logged.entries:
        return ()
    reduced = reduced_windows(logged.switches, closes_s)
    found = []
    for hour, full in enumerate(planned.full_by_hour):
        start, end = HOUR_S * hour, HOUR_S * (hour + 1)
        if full is None or start < opens_s or end > closes_s:
            continue
        is_reduced = _within(reduced, start, end) > 0.5 * HOUR_S
        found.append(Events(day, 1.0 - full, 1, int(is_reduced)))
    return tuple(found)


def _within(windows: Windows, start: float, end: float) -> float:
    """How long of some time lies in windows [s]."""
    return math.fsum(max(0.0, min(end, last) - max(start, first)) for first, last in windows)


# ---- days back -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ToldDay:
    """A day with entries: what was told of it and what its log says.

    Attributes:
        arrived: cars that came, those that drove away among them; None where nobody counted.
    """

    day: date
    planned: Planned
    logged: LoggedDay
    arrived: int | None


def score_days(last: date, days: Sequence[ToldDay], opens_s: float, closes_s: float) -> Scored:
    """What was told of the days up to a last one, over each of `WINDOWS`.

    Args:
        days: those with entries, in any order; earlier ones count for nothing.
        opens_s, closes_s: when the site opens and closes [s after midnight].
    """
    notes_lost = any(one.logged.turned_away is not None for one in days)
    windows = []
    for length in WINDOWS:
        some = [one for one in days if 0 <= (last - one.day).days < length]
        windows.append(_window(length, some, opens_s, closes_s, notes_lost=notes_lost))
    return Scored(last, tuple(windows))


def _window(
    length: int, days: Sequence[ToldDay], opens_s: float, closes_s: float, *, notes_lost: bool
) -> Window:
    sources = [one.planned.source for one in days]
    stored, afterwards = sources.count("stored"), sources.count("afterwards")
    damp = [damp_events(one.day, one.planned, one.logged) for one in days]
    lost = [lost_events(one.day, one.planned, one.logged, one.arrived) for one in days]
    seen = [switch_events(one.day, one.planned, one.logged, opens_s, closes_s) for one in days]
    held = [
        switches_held(one.planned.windows, one.logged.switches)
        for one in days
        if one.planned.source == "stored" and one.planned.windows is not None
    ]
    return Window(
        length, length - len(days), len(days) - stored - afterwards, stored, afterwards,
        score(one for one in damp if one), score(one for one in lost if one and notes_lost),
        score(one for hours in seen for one in hours),
        len(held), sum(all(one.state == "as planned" for one in switches) for switches in held),
    )  # fmt: skip

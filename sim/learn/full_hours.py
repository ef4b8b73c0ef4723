"""Hours in which as many cars were washed as the belt carries, or more than it can."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sim.day.setup import belt_cars_per_h
from sim.errors import InputProblem, Sentence
from sim.inputs import Site
from sim.inputs.history import TOTAL, History, HourCount
from sim.learn.like_days import WEEKDAYS, hours_text
from sim.units import quantity

NEAR = 0.03
"""Share of its capacity by which a belt counts as full, or a count as above it: cars of an hour
differ by as much with stops and with the mix of lengths; guess."""
OFTEN = 1.0 / 3.0
"""Share of a weekday's days on which an hour has to be full."""
LEAST_DAYS = 3
"""Days of a weekday below which nothing is said of it, and of which two at least are full."""


@dataclass(frozen=True, slots=True)
class FullHours:
    """What counts of cars washed say beside the belt of their site.

    Attributes:
        capacity_per_h: what the belt carries in a whole hour, at its fastest [cars].
        above: hours with more, the most first.
        full: clock hours by weekday (0 for Monday) in which the belt was often full.
    """

    capacity_per_h: float
    above: tuple[HourCount, ...]
    full: tuple[tuple[int, tuple[int, ...]], ...]


def full_hours(site: Site, history: History) -> FullHours:
    """Hours counted at what the belt carries, or above. Cars that arrived may be more at any time,
    and hours that somebody guessed say nothing."""
    capacity = capacity_by_hour(site)
    most = max(capacity)
    if history.counted != "washed":
        return FullHours(most, (), ())
    guessed = {note.day for note in history.days if note.kind == TOTAL}
    times: defaultdict[tuple[int, int], list[bool]] = defaultdict(list)
    above = []
    for row in history.counts:
        if row.day in guessed:
            continue
        is_above = row.cars > (1.0 + NEAR) * capacity[row.hour]
        if is_above:
            above.append(row)
        is_full = row.cars >= (1.0 - NEAR) * capacity[row.hour] and not is_above
        times[row.day.weekday(), row.hour].append(is_full)
    often: defaultdict[int, list[int]] = defaultdict(list)
    for (weekday, hour), found in sorted(times.items()):
        if len(found) >= LEAST_DAYS and sum(found) >= max(2.0, OFTEN * len(found)):
            often[weekday].append(hour)
    full = tuple((weekday, tuple(hours)) for weekday, hours in often.items())
    return FullHours(most, tuple(sorted(above, key=lambda row: (-row.cars, row))), full)


def capacity_by_hour(site: Site) -> list[float]:
    """Cars that the belt carries in each clock hour, by the fastest that it runs in it; of an hour
    that is open in part by that part, of a closed one as if it were open."""
    line = site.line
    steps = line.speed_timetable or ((0.0, line.conveyor_speed_m_s),)
    carried = {
        speed: belt_cars_per_h(site.with_values({"conveyor_speed_m_s": speed}))
        for _, speed in steps
    }
    found = []
    for hour in range(24):
        before = [speed for start, speed in steps if start <= 3600.0 * hour][-1:]
        within = [speed for start, speed in steps if 0.0 < start / 3600.0 - hour < 1.0]
        open_part = min(line.close_h, hour + 1.0) - max(line.open_h, float(hour))
        fastest = max(carried[speed] for speed in (*before, *within))
        found.append(fastest * (min(open_part, 1.0) if open_part > 0.0 else 1.0))
    return found


def capacity_notes(site: Site, history: History) -> tuple[InputProblem, ...]:
    """What is told of such hours; nothing is refused for it."""
    found = full_hours(site, history)
    told: dict[str, object] = {"capacity": quantity(found.capacity_per_h, "cars_per_hour", 3)}
    notes = []
    if found.above:
        top = found.above[0]
        sentence = (
            "Hours with more cars than the belt can carry: {count}, the most {cars} on {day} at "
            "{hour}:00. By the speed and spacing of the Site page it carries {capacity}. Either "
            "the belt runs otherwise than is entered there, or something else than washed cars "
            "was counted."
        )
        told |= {"count": f"{len(found.above):,}", "cars": f"{top.cars:,}"}
        told |= {"day": top.day, "hour": top.hour}
        notes.append(InputProblem("cars", sentence, dict(told)))
    if found.full:
        sentence = (
            "The belt was often full: {hours}. There on a third of the days or more as many cars "
            "were washed as it carries ({capacity}), so people were probably turned away: real "
            "demand is higher than the count."
        )
        notes.append(InputProblem("cars", sentence, {**told, "hours": _hours(found.full)}))
    return tuple(notes)


def _hours(full: Sequence[tuple[int, tuple[int, ...]]]) -> Sentence:
    """Hours by weekday in words."""
    (weekday, hours), *rest = full
    one = Sentence(
        "{weekday} at {hours}",
        {"weekday": Sentence(WEEKDAYS[weekday]), "hours": hours_text(hours)},
    )
    if not rest:
        return one
    return Sentence("{one}; {rest}", {"one": one, "rest": _hours(rest)})

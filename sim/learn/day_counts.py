"""Cars expected in each hour of a day, from the counts of like days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sim.errors import InputError, InputProblem, Sentence
from sim.inputs import DemandSpread
from sim.learn.demand_spread import SpreadGuess, demand_spread
from sim.learn.like_days import (
    ENOUGH_DAYS,
    SEASON_DAYS,
    WEEKDAYS,
    LikeDays,
    days_apart,
    hours_text,
)

LEAST_RAIN_DAYS = 5
WET_MM = 1.0
"""Rain in open hours from which a day counts as wet [mm]."""


@dataclass(frozen=True, slots=True)
class DayCounts:
    """Cars expected in a day.

    Attributes:
        cars_per_h: 24 values by clock hour [cars].
        origin: which days they are the mean of.
        spread: how far days come out from it.
        notes: what a reader should know.
    """

    cars_per_h: tuple[float, ...]
    origin: Sentence
    spread: DemandSpread
    notes: tuple[InputProblem, ...]


def day_counts(past: LikeDays, day: date, rain: bool | None, guess: SpreadGuess) -> DayCounts:
    """The mean count of each open hour over days like `day`.

    Days of the same weekday within three weeks of the same time of year are pooled, whatever
    their year; the reach is widened step by step while there are fewer than four. Closed days,
    events and the day itself are left out; an hour without a count is left out of its mean, since
    missing is not zero.

    Args:
        past: counts of the site; not without any open hour.
        day: the day to expect.
        rain: True or False scales the counts by what wet or dry days of the file brought against
            their neighbours; None leaves the mix as it was.
        guess: of how far days differ, for a file with few days.

    Raises:
        InputError: if the file has no count in any open hour of a day that can be used.
    """
    days, same, words = past.widened(day)
    if not days:
        raise InputError([_no_counts(past.hours)])
    notes = list(_notes(past, days, past.history.counted))
    means, empty = _hourly_means(past, days)
    if empty:
        sentence = (
            "No like day has a count at {hours}; the counts of the nearest hours stand in. "
            "Missing is not zero."
        )
        notes.append(InputProblem("counts", sentence, {"hours": hours_text(empty)}))
    if rain is not None:
        factor, note = _rain_factor(past, rain)
        means = {hour: cars * factor for hour, cars in means.items()}
        notes.append(note)
    kind = WEEKDAYS[day.weekday()] if same else "days"
    told: dict[str, object] = {"first": str(days[0]), "when": Sentence(words)}
    if len(days) == 1:
        origin = Sentence("Cars: the counts of one day, {first}, the only one {when}.", told)
    else:
        more = {"count": len(days), "kind": Sentence(kind), "last": str(days[-1])}
        sentence = "Cars: mean of {count} {kind} {when}, from {first} to {last}."
        origin = Sentence(sentence, told | more)
    cars = tuple(means.get(hour, 0.0) for hour in range(24))
    return DayCounts(cars, origin, demand_spread(past, day, days, guess), tuple(notes))


def mean_counts(past: LikeDays, day: date) -> tuple[float, ...]:
    """Cars expected in each clock hour of a day, nothing told of how; 24 values [cars].

    Raises:
        InputError: as `day_counts` does.
    """
    days, _, _ = past.widened(day)
    if not days:
        raise InputError([_no_counts(past.hours)])
    means, _ = _hourly_means(past, days)
    return tuple(means.get(hour, 0.0) for hour in range(24))


def _no_counts(hours: tuple[int, ...]) -> InputProblem:
    sentence = (
        "There are no counts of open hours to expect a day from. Bring in at least four days "
        "of hourly counts between {first}:00 and {last}:00."
    )
    return InputProblem("counts", sentence, {"first": hours[0], "last": hours[-1] + 1})


def _hourly_means(past: LikeDays, days: list[date]) -> tuple[dict[int, float], list[int]]:
    means: dict[int, float] = {}
    for hour in past.hours:
        seen = [past.cars[d][hour] for d in days if hour in past.cars[d]]
        if seen:
            means[hour] = sum(seen) / len(seen)
    empty = [hour for hour in past.hours if hour not in means]
    known = sorted(means)
    filled = dict(means)
    for hour in empty:
        before = max((h for h in known if h < hour), default=known[0])
        after = min((h for h in known if h > hour), default=known[-1])
        weight = 0.5 if before == after else (hour - before) / (after - before)
        weight = min(max(weight, 0.0), 1.0)
        filled[hour] = means[before] * (1.0 - weight) + means[after] * weight
    return filled, empty


def _notes(past: LikeDays, days: list[date], counted: str) -> list[InputProblem]:
    notes: list[InputProblem] = []
    if len(days) < ENOUGH_DAYS:
        sentence = (
            "Like days with counts: only {days}. A mean of so few is little more than the luck of "
            "those days; four or more would do."
        )
        notes.append(InputProblem("counts", sentence, {"days": len(days)}))
    nothing = [d for d in days if not sum(past.cars[d].values())]
    if nothing:
        sentence = (
            "Like days without any car: {days}, the last on {last}. If the site was closed, mark "
            "them as closed and they are left out."
        )
        filling = {"days": len(nothing), "last": str(nothing[-1])}
        notes.append(InputProblem("counts", sentence, filling))
    if past.stray:
        sentence = (
            "There are counts at {hours}, outside the opening hours; they are left out. Change "
            "the opening hours if the site was open then."
        )
        filling = {"hours": hours_text(sorted(past.stray))}
        notes.append(InputProblem("counts", sentence, filling))
    if counted == "washed":
        sentence = (
            "Cars washed were counted: in a full hour more may have arrived than the line took, "
            "so this day may bring more cars than is expected here."
        )
        notes.append(InputProblem("counts", sentence))
    return notes


def _rain_factor(past: LikeDays, rain: bool) -> tuple[float, InputProblem]:
    fallen: dict[date, float] = {}
    for row in past.history.weather:
        if row.hour in past.hours:
            fallen[row.day] = fallen.get(row.day, 0.0) + row.rain_mm
    got = expected = 0.0
    days = 0
    for day, total in past.totals.items():
        if day not in fallen or (fallen[day] >= WET_MM) != rain:
            continue
        near = [
            t
            for other, t in past.totals.items()
            if other != day
            and other.weekday() == day.weekday()
            and days_apart(day, other) <= SEASON_DAYS
        ]
        if near:
            days += 1
            got += total
            expected += sum(near) / len(near)
    kind = "wet" if rain else "dry"
    if days < LEAST_RAIN_DAYS or expected == 0.0:
        sentence = (
            "The file has too few {kind} days to learn from ({days}), so rain changes no number "
            "of cars here. Five or more would do; or add a change by hand, as in -30 %."
        )
        return 1.0, InputProblem("expect", sentence, {"days": days, "kind": kind})
    sentence = (
        "Cars are multiplied by {factor}: what {days} {kind} days of the file brought against "
        "their neighbors."
    )
    filling = {"factor": f"{got / expected:.2f}", "days": days, "kind": kind}
    return got / expected, InputProblem("expect", sentence, filling)

"""Past days like a coming one, the cars that they lead to expect, and how far that may be off.

What is expected of a day is the mean of like days. Held against the past it is told in three
parts: the day factor, by which days of a season differ from one another; the factor of an hour,
by which hours differ given their day; and the level, by which the mean of like days itself is
off, be it by their own luck or because season and trade have moved on since.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sim.errors import InputError, InputProblem, Sentence
from sim.inputs import DemandSpread
from sim.inputs.history import TOTAL, TYPED, History
from sim.inputs.line import Line
from sim.inputs.site import TOGETHER
from sim.units import NBSP

WEEKDAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")
YEAR_DAYS = 364
"""A year of whole weeks, so that a day a year ago has the same weekday. It slips by 1¼ days a
year against the sun, far less than the weeks that are pooled."""


def days_apart(day: date, other: date) -> int:
    """How far two days lie apart in the time of year, whatever the year; 0 to 182 days."""
    rest = (day - other).days % YEAR_DAYS
    return min(rest, YEAR_DAYS - rest)


def open_hours(line: Line) -> tuple[int, ...]:
    """The clock hours of which some part is open, ascending; empty if the site never opens.

    Hour 7 runs from 7:00 to 8:00; a site open from 7:30 counts it.
    """
    if line.close_h <= line.open_h:
        return ()
    return tuple(h for h in range(24) if h < line.close_h and h + 1 > line.open_h)


def hours_text(hours: list[int] | tuple[int, ...]) -> str:
    """Hours as clock times, runs drawn together: ``7:00, 9:00 to 11:00``."""
    runs: list[list[int]] = []
    for hour in sorted(hours):
        if runs and hour == runs[-1][1] + 1:
            runs[-1][1] = hour
        else:
            runs.append([hour, hour])
    return ", ".join(f"{a}:00" if a == b else f"{a}:00 to {b}:00" for a, b in runs)


ENOUGH_DAYS = 4
"""Days below which the season is widened; a mean of four days has half the spread of one."""
SEASON_DAYS = 21
STEPS: tuple[tuple[bool, int, str], ...] = (
    (True, SEASON_DAYS, "within 3 weeks of this time of year"),
    (True, 35, "within 5 weeks of this time of year"),
    (True, 56, "within 8 weeks of this time of year"),
    (True, 91, "within 13 weeks of this time of year"),
    (True, 182, "of the whole year"),
    (False, 182, "of the whole year and of every weekday"),
)
"""How like days are sought: same weekday or not, days to either side, said in words."""


class LikeDays:
    """The counts of a file, day by day, without closed days and days marked as events.

    Whoever asks for many days of one file makes it once.
    """

    def __init__(self, history: History, hours: tuple[int, ...]) -> None:
        """`hours` are the clock hours that are open."""
        self.history = history
        marked = {note.day for note in history.days if note.kind != TOTAL}
        self.spread = {note.day for note in history.days if note.kind == TOTAL}
        self.hours = hours
        self.stray: set[int] = set()
        self.cars: dict[date, dict[int, float]] = {}
        again: defaultdict[tuple[date, int], int] = defaultdict(int)
        opened = frozenset(hours)
        for row in history.counts:
            day, hour = row.day, row.hour
            if hour not in opened:
                if row.cars:
                    self.stray.add(hour)
                continue
            if day in marked:
                continue
            of_day = self.cars.get(day)
            if of_day is None:
                of_day = self.cars[day] = {}
            if hour not in of_day:
                of_day[hour] = float(row.cars)
                continue
            # the hour that comes twice when clocks go back is one clock hour seen twice
            again[day, hour] += 1
            seen = again[day, hour]
            of_day[hour] = (of_day[hour] * seen + row.cars) / (seen + 1)
        self.totals = {
            day: sum(cars.values()) for day, cars in self.cars.items() if len(cars) == len(hours)
        }

    @cached_property
    def whole(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Ordinals of the days counted in every open hour, ascending, and their counts (days,
        hours). Days of which only the total was counted say nothing of hours."""
        days = sorted(self.totals.keys() - self.spread)
        rows = [[self.cars[day][hour] for hour in self.hours] for day in days]
        ordinals = np.array([day.toordinal() for day in days], dtype=np.int64)
        counts = np.array(rows, dtype=float).reshape(len(days), len(self.hours))
        ordinals.flags.writeable = counts.flags.writeable = False
        return ordinals, counts

    def like(self, day: date, same_weekday: bool, reach_days: int) -> list[date]:
        """Days with counts, other than the day itself, in order of time."""
        return sorted(
            d
            for d in self.cars
            if d != day
            and days_apart(day, d) <= reach_days
            and (not same_weekday or d.weekday() == day.weekday())
        )

    def widened(self, day: date) -> tuple[list[date], bool, str]:
        """Days of the first step with enough, else of the last; same weekday or not; in words.
        Of typed days there is one for each weekday, which holds all year."""
        if self.history.counted == TYPED:
            return self.like(day, True, STEPS[-1][1]) or self.like(day, *STEPS[-1][:2]), True, ""
        for same, reach, words in STEPS[:-1]:
            days = self.like(day, same, reach)
            if len(days) >= ENOUGH_DAYS:
                return days, same, words
        same, reach, words = STEPS[-1]
        return self.like(day, same, reach), same, words

    def closes_on(self, day: date) -> bool:
        """Whether somebody typed that no car comes on such a weekday."""
        if self.history.counted != TYPED:
            return False
        days = self.like(day, True, STEPS[-1][1])
        return bool(days) and not any(sum(self.cars[other].values()) for other in days)


# ---- cars by hour --------------------------------------------------------------------------------


LEAST_RAIN_DAYS = 5
WET_MM = 1.0
"""Rain in open hours from which a day counts as wet [mm]."""


@dataclass(frozen=True, slots=True)
class DayCounts:
    """Cars expected in a day, 24 values by clock hour, which days they are the mean of, how far
    days come out from that, and what a reader should know."""

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
    cars = tuple(means.get(hour, 0.0) for hour in range(24))
    if past.history.counted == TYPED:
        origin = Sentence("Cars: as somebody typed them for such a day, a guess; nobody counted.")
        return DayCounts(cars, origin, TYPED_SPREAD, tuple(notes))
    kind = WEEKDAYS[day.weekday()] if same else "days"
    told: dict[str, object] = {"first": days[0], "when": Sentence(words)}
    if len(days) == 1:
        origin = Sentence("Cars: the counts of one day, {first}, the only one {when}.", told)
    else:
        more = {"count": len(days), "kind": Sentence(kind), "last": days[-1]}
        sentence = "Cars: mean of {count} {kind} {when}, from {first} to {last}."
        origin = Sentence(sentence, told | more)
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
    seen = {h: [past.cars[d][h] for d in days if h in past.cars[d]] for h in past.hours}
    means = {hour: sum(cars) / len(cars) for hour, cars in seen.items() if cars}
    empty = [hour for hour in past.hours if hour not in means]
    known, filled = sorted(means), dict(means)
    for hour in empty:
        before = max((h for h in known if h < hour), default=known[0])
        after = min((h for h in known if h > hour), default=known[-1])
        weight = 0.5 if before == after else (hour - before) / (after - before)
        weight = min(max(weight, 0.0), 1.0)
        filled[hour] = means[before] * (1.0 - weight) + means[after] * weight
    return filled, empty


def _notes(past: LikeDays, days: list[date], counted: str) -> list[InputProblem]:
    notes: list[InputProblem] = []
    if len(days) < ENOUGH_DAYS and counted != TYPED:
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
    spread = sum(day in past.spread for day in days)
    if spread:
        sentence = (
            "Like days of which only the total was counted: {count}. Their hours are spread as "
            "days usually are, which is a guess."
        )
        notes.append(InputProblem("counts", sentence, {"count": spread}))
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
    days, got, expected = 0, 0.0, 0.0
    for day, total in past.totals.items():
        if day not in fallen or (fallen[day] >= WET_MM) != rain:
            continue
        like = past.like(day, True, SEASON_DAYS)
        near = [past.totals[other] for other in like if other in past.totals]
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


# ---- how far days come out from them -------------------------------------------------------------


Floats = NDArray[np.float64]

LEAST_DAYS = 6
"""Whole days below which counts tell nothing of a spread."""
NEAR_DAYS = 91
"""Past days that are held against their like days lie in the same half of the year."""
GUESS_DAYS = 4
"""Degrees of freedom that a guess of a spread is worth: a chi-square variance of so many spreads
by a factor of two either way, as the range of the input does (half to twice the guess)."""
GUESS_WEEKS = 2
"""Weeks of counts that the guess of how far a level moves is worth. Errors of neighbouring days
rest on nearly the same like days, so a week of them counts once."""


TYPED_SPREAD = DemandSpread(level_cv=0.2)
"""Of typed days: how far they differ is the site's guess, and the truth about what was typed lies
within two fifths of it at 19 sites in 20; guess."""


@dataclass(frozen=True, slots=True)
class SpreadGuess:
    """What a site's own inputs say of its spread, for want of counts.

    Attributes:
        day_cv, hour_cv: coefficients of variation of the day factor and of an hour's factor.
        day_entered, hour_entered: whether the site entered them itself; then they hold, whatever
            counts say.
    """

    day_cv: float
    hour_cv: float
    day_entered: bool = False
    hour_entered: bool = False


def demand_spread(
    past: LikeDays, day: date, like: Sequence[date], guess: SpreadGuess
) -> DemandSpread:
    """The spread of a day that is expected from the mean of `like` days.

    Every variance found is averaged with a guess that counts for a few days. That of a level's
    movement beyond the luck of its like days is guessed as large as that of single days: so it
    was, in the middle, in hourly counts of footfall, hired bicycles and telephone calls.
    """
    lags = [(day - other).days for other in like]
    ahead = hold_against_past(past, day, lags)
    # like days of a year ago say nothing of how trade moved unless the file is as long; hours
    # and days are then told from days held against those about their own time of year
    half = YEAR_DAYS // 2
    about = {(lag + half) % YEAR_DAYS - half for lag in lags} - {0}
    held = ahead if ahead.days else hold_against_past(past, day, sorted(about))
    hour = _mixed(held.hour_variance, held.days, guess.hour_cv**2, GUESS_DAYS)
    variance, freedom, days = day_variance(past, day)
    known = days >= LEAST_DAYS and freedom > 0
    single = max(0.0, variance - hour * held.concentration) if known else 0.0
    of_day = _mixed(single, freedom if known else 0, guess.day_cv**2, GUESS_DAYS)
    # what a day has by itself, and a mean of like days by so many of them
    alone = of_day + hour * held.concentration + held.of_cars
    beyond = ahead.total_variance - hour * ahead.concentration - of_day - alone * ahead.of_mean
    moved = _mixed(max(0.0, beyond), ahead.days / 7.0, of_day, GUESS_WEEKS)
    return DemandSpread(
        None if guess.day_entered or not known else of_day**0.5,
        None if guess.hour_entered or not held.days else hour**0.5,
        (moved + alone / len(like)) ** 0.5,
        max(days if known else 0, held.days),
        len(like),
    )


def _mixed(found: float, weight: float, guess: float, worth: float) -> float:
    return (weight * max(0.0, found) + worth * guess) / (weight + worth)


@dataclass(frozen=True, slots=True)
class Held:
    """Past days held against the mean of the days that were as like to them.

    Attributes:
        days: past days that could be held against enough others; 0: the rest says nothing.
        hour_variance: relative variance of an hour given its day, beyond the luck of whole cars.
        total_variance: mean square of the relative miss of a day's total, beyond that luck.
        concentration: Σ of squared shares of the hours: what of an hour's variance a total has.
        of_cars: relative variance of a total by the luck of whole cars, 1/expected.
        of_mean: mean of 1/n over the n like days of each.
    """

    days: int
    hour_variance: float
    total_variance: float
    concentration: float
    of_cars: float
    of_mean: float


def hold_against_past(past: LikeDays, day: date, lags: Sequence[int]) -> Held:
    """What a mean of days that lie so many days back, or ahead, missed in the past.

    Each whole day d of the file but `day` itself is held against the mean of the days d − lag, as
    far as they were counted; at least half of them, lest all lie to one side in the season. With
    expected cars λ_h of its hours, shares p_h = λ_h/Λ and a total T, the residuals
    r_h = n_h − T·p_h of independent hours of relative variance c² have

        Σ E r_h² = Σ T·p_h·(1 − p_h) + c²·T²·Σ p_h²·((1 − p_h)² + Σ_(j≠h) p_j²),

    from which c² follows by the method of moments, summed over days; so does the mean square of
    (T − Λ)² − Λ beside Λ². Both hold what is unsure in λ, as the coming day will.
    """
    ordinals, counts = past.whole
    own = ordinals != day.toordinal()
    ordinals, counts = ordinals[own], counts[own]
    shares_only = Held(0, 0.0, 0.0, 1.0 / len(past.hours), 0.0, 0.0)
    if not len(ordinals):
        return shares_only
    total, seen = np.zeros_like(counts), np.zeros(len(ordinals))
    for lag in lags:
        sought = ordinals - lag
        at = np.minimum(np.searchsorted(ordinals, sought), len(ordinals) - 1)
        found = ordinals[at] == sought
        total[found] += counts[at[found]]
        seen[found] += 1
    expected = total / np.maximum(seen, 1.0)[:, None]
    enough = max(min(2, len(lags)), len(lags) / 2)
    usable = (seen >= enough) & (expected.sum(axis=1) > 0)
    apart = (day.toordinal() - ordinals) % YEAR_DAYS
    near = usable & (np.minimum(apart, YEAR_DAYS - apart) <= NEAR_DAYS)
    if near.sum() >= LEAST_DAYS:
        usable = near
    if usable.sum() < LEAST_DAYS:
        return shares_only
    expected, counts, seen = expected[usable], counts[usable], seen[usable]
    sums, came = expected.sum(axis=1), counts.sum(axis=1)
    p = expected / sums[:, None]
    square = p**2
    together = square.sum(axis=1)
    mean = came[:, None] * p
    above = ((counts - mean) ** 2 - mean * (1.0 - p)).sum()
    below = (came[:, None] ** 2 * square * ((1.0 - p) ** 2 + together[:, None] - square)).sum()
    of_cars = 1.0 / sums.mean()
    return Held(
        len(sums),
        float(above / below) if below > 0 else 0.0,
        float(((came - sums) ** 2 - sums).sum() / (sums**2).sum()),
        float(together.mean()),
        float(of_cars),
        float((1.0 / seen).mean()),
    )


def day_variance(past: LikeDays, day: date) -> tuple[float, int, int]:
    """Variance of the day factor in the season, its degrees of freedom, the days it rests on.

    Whole days within three weeks of the same time of year, all weekdays, each against the mean of
    its own weekday. With a day factor of variance c² the total of a day of mean m has variance
    m + c²m² (Poisson given the factor), so c² = Σ(SS_w − (n_w − 1)·m_w)/Σ(n_w − 1)·m_w² over the
    weekdays w (method of moments); below 0 where days differ less than by chance.
    """
    of_weekday: defaultdict[int, list[float]] = defaultdict(list)
    for other, total in past.totals.items():
        if other != day and days_apart(day, other) <= SEASON_DAYS:
            of_weekday[other.weekday()].append(total)
    count = sum(len(totals) for totals in of_weekday.values())
    above = below = 0.0
    for totals in of_weekday.values():
        mean = sum(totals) / len(totals)
        above += sum((t - mean) ** 2 for t in totals) - (len(totals) - 1) * mean
        below += (len(totals) - 1) * mean**2
    freedom = count - len(of_weekday) if below else 0
    return (above / below if below else 0.0), freedom, count


def told_spread(spread: DemandSpread, guess: SpreadGuess) -> tuple[Sentence, Sentence]:
    """How far days come out from what is expected of them, and how that is known, in words."""
    day_from = _source(spread.day_cv, guess.day_entered, spread.days)
    hour_from = _source(spread.hour_cv, guess.hour_entered, spread.days)
    told: dict[str, object] = {
        "days": _percent(guess.day_cv if spread.day_cv is None else spread.day_cv),
        "hours": _percent(guess.hour_cv if spread.hour_cv is None else spread.hour_cv),
        "source": day_from,
        "other": hour_from,
    }
    sentence = "Days like this differ by about {days}, hours given the day by {hours} ({source})."
    if day_from != hour_from:
        sentence = (
            "Days like this differ by about {days} ({source}), hours given the day by {hours} "
            "({other})."
        )
    level = {"level": _percent(spread.level_cv)}
    if spread.like_days == TOGETHER:
        all_counts = "What all counts together lead to expect is itself uncertain by {level}."
        return Sentence(sentence, told), Sentence(all_counts, level)
    if not spread.like_days:
        typed = Sentence("What was typed is itself uncertain by {level}, a guess.", level)
        return Sentence(sentence, told), typed
    mean = Sentence(
        "The one like day is itself uncertain by {level}."
        if spread.like_days == 1
        else "The mean of {count} days is itself uncertain by {level}.",
        {"count": spread.like_days, "level": _percent(spread.level_cv)},
    )
    return Sentence(sentence, told), mean


def _source(counted: float | None, entered: bool, days: int) -> Sentence:
    if counted is not None:
        return Sentence("from {count} whole days of counts", {"count": days})
    return Sentence("your own entry" if entered else "a guess: too few whole days of counts")


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}{NBSP}%"

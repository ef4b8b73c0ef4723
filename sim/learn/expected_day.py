"""What a day is expected to bring, from the site's own past, before and after it is overridden."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sim.errors import InputError, InputProblem, Sentence
from sim.inputs import Conditions, DemandSpread, SiteData
from sim.learn.day_counts import day_counts
from sim.learn.day_weather import day_air
from sim.learn.demand_spread import SpreadGuess, told_spread
from sim.learn.like_days import LikeDays, open_hours
from sim.learn.override import NO_OVERRIDE, Override, parse_override
from sim.units import MINUS

__all__ = ["ExpectedDay", "Override", "expected_day", "parse_override"]


@dataclass(frozen=True, slots=True)
class ExpectedDay:
    """A day as it is expected.

    Attributes:
        day: its date.
        conditions: 24 hourly values of cars [cars], outdoor temperature [°C] and relative
            humidity (0 to 1), and how far days come out from that; the opening moisture is left
            open.
        closed: whether no car is let in all day.
        made_of: sentences saying which days it was made of and what was typed over them.
        notes: what a reader should know; the day can be planned all the same.
        highest_temp_c: highest temperature of the 24 hours [°C].
        humidity_then: relative humidity in that hour, 0 to 1.
        rain_mm: rain of the day [mm]; a mean over like days unless typed or recorded.
        expected_cars: cars expected all day.
    """

    day: date
    conditions: Conditions
    closed: bool
    made_of: tuple[Sentence, ...]
    notes: tuple[InputProblem, ...]
    highest_temp_c: float
    humidity_then: float
    rain_mm: float
    expected_cars: float

    @property
    def origin(self) -> str:
        """The same as one text."""
        return " ".join(map(str, self.made_of))


def past_of(data: SiteData) -> LikeDays:
    """The counts from which a site's days are expected."""
    return LikeDays(data.history, open_hours(data.site.line))


def expected_day(
    data: SiteData, day: date, override: Override = NO_OVERRIDE, past: LikeDays | None = None
) -> ExpectedDay:
    """The day that the site's counts and weather, and what was typed over them, lead to expect.

    Cars: `sim.learn.day_counts.day_counts`; a typed ± % scales every hour, typed rain scales them
    by what rain did in the file. Air: `sim.learn.day_weather.day_air`. Hours that are not open
    bring no cars. A day has its 24 clock hours even when clocks change that night.

    Args:
        past: `past_of` the data, to spare making it anew.

    Raises:
        InputError: if there are no counts to expect from, no weather and none typed, or neither
            of both; a day that is closed needs none.
    """
    hours = open_hours(data.site.line)
    marks = {note.kind: note for note in data.history.days if note.day == day}
    # A day marked twice is closed if either mark says so.
    note_of_day = marks.get("closed") or marks.get("event")
    is_closed = not hours or "closed" in marks
    pay, given = data.site.pay, data.given
    guess = SpreadGuess(
        pay.day_factor_cv,
        pay.hour_factor_cv,
        "day_factor_cv" in given,
        "hour_factor_cv" in given,
    )
    counts = None
    missing: list[InputProblem] = []
    try:
        air = day_air(data.history.weather, day, hours, override, needed=not is_closed)
    except InputError as fault:
        missing += fault.problems
    if not is_closed:
        rain = None if override.rain_mm is None else override.rain_mm > 0.0
        try:
            counts = day_counts(past or past_of(data), day, rain, guess)
        except InputError as fault:
            missing[:0] = fault.problems
    if missing:
        raise InputError(missing)
    notes: list[InputProblem] = []
    cars: tuple[float, ...] = (0.0,) * 24
    spread = DemandSpread()
    if counts is None:
        made_of = [_closed_because(note_of_day.note if note_of_day and hours else None)]
    else:
        spread = counts.spread
        notes += counts.notes
        made_of = [counts.origin, *told_spread(spread, guess)]
        cars = counts.cars_per_h
        if override.event is not None:
            cars = tuple(value * (1.0 + override.event) for value in cars)
            sign = MINUS if override.event < 0 else "+"
            change = f"{sign}{abs(override.event) * 100.0:g}"
            made_of.append(Sentence("Typed by hand: {change} % cars.", {"change": change}))
        elif note_of_day is not None:
            sentence = (
                "{day} is marked as an event (“{note}”), which changes no number here. Type what "
                "you expect of it, as in +20 %."
            )
            filling = {"day": day, "note": note_of_day.note}
            notes.append(InputProblem("expect", sentence, filling))
        if not sum(cars):
            sentence = "No cars are expected on {day}: the counts of like days are all zero."
            if override.event is not None:
                sentence = "No cars are expected on {day}: they were taken away by hand."
            notes.append(InputProblem("counts", sentence, {"day": day}))
    highest = max(air.temp_c)
    return ExpectedDay(
        day=day,
        conditions=Conditions(cars, air.temp_c, air.humidity, spread=spread),
        closed=is_closed,
        made_of=(*made_of, *air.origin),
        notes=(*notes, *air.notes),
        highest_temp_c=highest,
        humidity_then=air.humidity[air.temp_c.index(highest)],
        rain_mm=air.rain_mm,
        expected_cars=sum(cars),
    )


def _closed_because(note: str | None) -> Sentence:
    if note is None:
        return Sentence("Closed: the site has no opening hours.")
    if not note:
        return Sentence("Closed: this is marked as a closed day.")
    return Sentence("Closed: this is marked as a closed day (“{note}”).", {"note": note})

"""What a day is expected to bring, from its site's past and one typed line that overrides that."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from sim.errors import InputError, InputProblem, Sentence
from sim.inputs import Conditions, DemandSpread, SiteData
from sim.inputs.climate import CLIMATES, MONTHS, Climate
from sim.inputs.history import HourWeather
from sim.learn.forecast.ahead import SaidWeather, day_ahead
from sim.learn.forecast.terms import days_weather
from sim.learn.like_days import (
    LikeDays,
    SpreadGuess,
    day_counts,
    days_apart,
    hours_text,
    open_hours,
    told_spread,
)
from sim.physics.air import saturation_pressure_pa
from sim.units import MINUS, NBSP, UNITS, Quantity, check_length, parse_quantity, quantity

LONGEST_LINE = 200
"""Characters of the line."""
RAIN_MM = 5.0
"""Rain of a day for which only the word was typed [mm]; guess."""
BOUNDS = {
    "highest_temp_c": ("temperature", -30.0, 55.0, "the highest temperature"),
    "humidity": ("share", 0.01, 1.0, "the humidity"),
    "rain_mm": ("rain", 0.0, 500.0, "the rain"),
    "event": ("share", -1.0, 3.0, "the change of cars"),
}
"""Kind of unit, least and most of each part of the line, and what it is called."""


@dataclass(frozen=True, slots=True)
class Override:
    """What was typed over the expected day; None where nothing was.

    Attributes:
        highest_temp_c: highest temperature of the day [°C].
        humidity: relative humidity in the hour of the highest temperature, above 0 to 1.
        rain_mm: rain of the day [mm]; 0 for a day said to be dry.
        event: change of the number of cars as a share, -1 to 3; 0.1 is a tenth more.
    """

    highest_temp_c: float | None = None
    humidity: float | None = None
    rain_mm: float | None = None
    event: float | None = None


NO_OVERRIDE = Override()
_RAIN = re.compile(r"rain\b", re.IGNORECASE)
_DRY = re.compile(r"dry|no\s+rain", re.IGNORECASE)
_EVENT_WORD = re.compile(r"(?:event|cars)\b\s*", re.IGNORECASE)


def parse_override(text: str, system: str = "si") -> Override:
    """What one typed line says of a day.

    The line holds up to four parts in any order, parted by commas or semicolons; an empty line
    overrides nothing. Decimals are written with a point.

    - highest temperature of the day: ``91 °F``, ``33 C``, or a bare number in the units of
      `system`; -30 to 55 °C;
    - relative humidity at that hour: a percentage without a sign, ``70 %``; 1 to 100;
    - rain: ``rain`` (counts as 5 mm), ``rain 8 mm``, ``rain 0.3 in``, ``dry`` or ``no rain``;
    - more or fewer cars: a percentage with its sign, ``+10 %`` or ``-25 %``, also
      ``event +10 %``; -100 to +300.

    Raises:
        InputError: with every problem of the line, each naming the part and what would be right.
    """
    try:
        check_length(text, LONGEST_LINE)
    except ValueError as fault:
        sentence = "The expected day: {fault}. Write it as in 91 °F, 70 %, rain, +10 %."
        raise InputError([InputProblem("expect", sentence, {"fault": str(fault)})]) from None
    line = text.replace(NBSP, " ").replace(MINUS, "-")
    if re.search(r"\d,\d", line):
        sentence = (
            "“{typed}” has a comma inside a number. Write decimals with a point and a space "
            "after the comma between parts, as in 33.5 °C, 70 %."
        )
        raise InputError([InputProblem("expect", sentence, {"typed": text.strip()})])
    found: dict[str, float] = {}
    problems: list[InputProblem] = []
    for part in (p.strip() for p in re.split(r"[,;]", line)):
        if not part:
            continue
        read = _read_part(part, system)
        if isinstance(read, InputProblem):
            problems.append(read)
        elif read[0] in found:
            sentence = "“{typed}” gives {what} a second time. Give it once."
            filling = {"typed": part, "what": BOUNDS[read[0]][3]}
            problems.append(InputProblem("expect", sentence, filling))
        else:
            found[read[0]] = read[1]
    if problems:
        raise InputError(problems)
    return Override(**found)


def air_line(found: Override, system: str) -> str:
    """Temperature and humidity of an override as a line that `parse_override` reads the same,
    whatever the units of its reader; empty where neither was typed."""
    parts, unit = [], UNITS["temperature"]
    if found.highest_temp_c is not None:
        degrees = unit.to_edge(found.highest_temp_c, system)
        parts.append(f"{degrees:.6g} {unit.symbol(system)}")
    if found.humidity is not None:
        parts.append(f"{100.0 * found.humidity:.6g} %")
    return ", ".join(parts)


def _read_part(part: str, system: str) -> tuple[str, float] | InputProblem:
    if _DRY.fullmatch(part):
        return "rain_mm", 0.0
    rain = _RAIN.match(part)
    if rain:
        amount = part[rain.end() :].strip()
        return _number("rain_mm", part, amount, system) if amount else ("rain_mm", RAIN_MM)
    word = _EVENT_WORD.match(part)
    rest = part[word.end() :] if word else part
    if rest.endswith("%"):
        name = "event" if word or rest[0] in "+-" else "humidity"
        return _number(name, part, rest, system)
    if word or rest[0] == "+":
        sentence = "“{typed}” is no change of cars. Write it as +10 % or -25 %."
        return InputProblem("expect", sentence, {"typed": part})
    return _number("highest_temp_c", part, _with_degrees(rest), system)


def _with_degrees(text: str) -> str:
    """The text with a degree sign before a C or F at its end."""
    if text[-1:].lower() not in ("c", "f"):
        return text
    return f"{text[:-1].rstrip().removesuffix('°')}°{text[-1]}"


def _number(name: str, part: str, digits: str, system: str) -> tuple[str, float] | InputProblem:
    kind, low, high, what = BOUNDS[name]
    try:
        value = parse_quantity(digits, UNITS[kind], system)
    except ValueError as fault:
        sentence = (
            "“{typed}” was not understood: {fault}. Write the day as in 91 °F, 70 %, rain, +10 %; "
            "every part may be left out."
        )
        return InputProblem("expect", sentence, {"typed": part, "fault": str(fault)})
    # A hair of slack: what was typed in °F or per cent is not exact after conversion.
    if not low - 1e-9 <= value <= high + 1e-9:
        sentence = "{what} {value} is outside what can be used. Enter {low} to {high}."
        values: dict[str, str | Quantity] = {
            "what": what.capitalize(),
            "value": quantity(value, kind, 4),
            "low": quantity(low, kind),
            "high": quantity(high, kind),
        }
        return InputProblem("expect", sentence, values)
    return name, min(max(value, low), high)


# ---- the day -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ExpectedDay:
    """A day as it is expected.

    Attributes:
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

    Cars: `sim.learn.like_days.day_counts`, or the data's forecast where it has one of the day; a
    typed ± % scales every hour, typed rain scales them by what rain did in the file. Air:
    `sim.learn.expected_day.day_air`. Hours that are not open bring no cars. A day has its 24 clock
    hours even when clocks change that night.

    Args:
        past: `past_of` the data, to spare making it anew.

    Raises:
        InputError: if there are no counts to expect from; a day that is closed needs none.
    """
    hours = open_hours(data.site.line)
    marks = {note.kind: note for note in data.history.days if note.day == day}
    # A day marked twice is closed if either mark says so.
    note_of_day = marks.get("closed") or marks.get("event")
    is_marked = not hours or "closed" in marks
    past = past or (None if is_marked else past_of(data))
    is_closed = past is None or is_marked or past.closes_on(day)
    pay, entered = data.site.pay, [f"{of}_factor_cv" in data.given for of in ("day", "hour")]
    guess = SpreadGuess(pay.day_factor_cv, pay.hour_factor_cv, *entered)
    counts = None
    air = day_air(data.history.weather, day, hours, override, data.site.climate)
    if past is not None and not is_closed:
        rain = None if override.rain_mm is None else override.rain_mm > 0.0
        told = None if data.forecast is None else data.forecast.of(day)
        if data.forecast is None or told is None:
            counts = day_counts(past, day, rain, guess)
        else:
            said = _said(data.history.weather, day, hours, override)
            counts = day_ahead(data.forecast, told, said, guess)
    notes: list[InputProblem] = []
    cars: tuple[float, ...] = (0.0,) * 24
    spread = DemandSpread()
    if counts is None:
        note = note_of_day.note if note_of_day and hours else None
        made_of = [_closed_because(note, is_marked)]
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


def _closed_because(note: str | None, is_marked: bool) -> Sentence:
    if not is_marked:
        return Sentence("Closed: somebody typed that no car is let in on this weekday.")
    if note is None:
        return Sentence("Closed: the site has no opening hours.")
    if not note:
        return Sentence("Closed: this is marked as a closed day.")
    return Sentence("Closed: this is marked as a closed day (“{note}”).", {"note": note})


def _said(
    weather: tuple[HourWeather, ...], day: date, hours: tuple[int, ...], override: Override
) -> SaidWeather:
    """What is said of the weather of a day after the counts: what was typed, else what the file
    has, as somebody brought it in."""
    before = day - timedelta(days=1)
    known = days_weather([row for row in weather if row.day in (before, day)], hours)
    own, last = known.get(day), known.get(before)
    rain = None if own is None else own.is_wet
    high = None if own is None else own.high_c
    return SaidWeather(
        rain if override.rain_mm is None else override.rain_mm > 0.0,
        high if override.highest_temp_c is None else override.highest_temp_c,
        None if last is None else last.is_wet,
    )


# ---- its air -------------------------------------------------------------------------------------


REACHES = (
    (10, "within 10 days of this time of year"),
    (21, "within 3 weeks of this time of year"),
    (45, "within 6 weeks of this time of year"),
    (182, "of the whole year"),
)
"""Days to either side that are pooled; the first that has any weather is used."""

HOTTEST_H = 15
"""Hour of the highest temperature of a typical day: common practice, no source."""


@dataclass(frozen=True, slots=True)
class DayAir:
    """Outdoor air of a day: 24 temperatures [°C] and relative humidities (0 to 1) by clock hour,
    rain [mm], where they are from, and what a reader should know."""

    temp_c: tuple[float, ...]
    humidity: tuple[float, ...]
    rain_mm: float
    origin: tuple[Sentence, ...]
    notes: tuple[InputProblem, ...] = ()


@dataclass(slots=True)
class _Curve:
    """Temperature [°C] and vapor pressure [Pa] by hour, while the day is being put together."""

    temp_c: list[float]
    vapor_pa: list[float]
    rain_mm: float
    origin: list[Sentence]
    notes: list[InputProblem]


def day_air(
    weather: tuple[HourWeather, ...],
    day: date,
    hours: tuple[int, ...],
    override: Override,
    climate: Climate,
) -> DayAir:
    """The air of a day by clock hour.

    If the file has the day itself in all open hours (a past day, or a forecast somebody brought
    in), that is taken as it is. Otherwise each hour is the mean over the days within ten days of
    the same time of year, whatever their year. What is averaged besides temperature is the vapor
    pressure, not the relative humidity: at one air pressure it is in proportion to the water in
    the air (to a few parts in a hundred), which adds up when air is pooled. The mean of relative
    humidities of warm and cool days, put at their mean temperature, would make up or lose water.
    Without any weather a typical day of the month stands in, and a note says so.

    Typed values then act on that day. A highest temperature shifts every hour alike. A humidity
    holds in the hottest hour, and its vapor pressure all day. Without one the vapor pressures
    stay. Where that is more than saturated, the air is saturated.

    Args:
        weather: of the site, in any order.
        hours: clock hours that are open; may be empty on a closed day.
        climate: what is typical of the site's months.
    """
    curve = _own_day(weather, day, hours) or _season(weather, day) or _typical(climate, day)
    _apply(override, curve)
    temps = curve.temp_c
    raw = [e / saturation_pressure_pa(t) for t, e in zip(temps, curve.vapor_pa, strict=True)]
    typed = override.highest_temp_c is not None or override.humidity is not None
    # Rounding of a curve that was saturated to begin with is no news.
    soaked = [hour for hour, value in enumerate(raw) if value > 1.0 + 1e-9]
    notes = list(curve.notes)
    if typed and soaked:
        sentence = (
            "With what was typed the air is saturated at {hours}: it can't hold so much water "
            "at the temperatures of those hours."
        )
        notes.append(InputProblem("expect", sentence, {"hours": hours_text(soaked)}))
    frozen = [hour for hour in hours if temps[hour] < 0.0]
    if frozen:
        sentence = (
            "Frost at {hours}, down to {low}. Ice on cars and cloth is not in the model; plan "
            "only hours from 0 °C (32 °F) up."
        )
        low = quantity(min(temps[h] for h in frozen), "temperature")
        notes.append(InputProblem("temp_c", sentence, {"hours": hours_text(frozen), "low": low}))
    rain = curve.rain_mm if override.rain_mm is None else override.rain_mm
    humidity = tuple(min(1.0, value) for value in raw)
    return DayAir(tuple(temps), humidity, rain, tuple(curve.origin), tuple(notes))


def _own_day(weather: tuple[HourWeather, ...], day: date, hours: tuple[int, ...]) -> _Curve | None:
    own = [row for row in weather if row.day == day]
    if not hours or not set(hours) <= {row.hour for row in own}:
        return None
    return _mean(own, Sentence("Weather: the file has this very day."), 1)


def _season(weather: tuple[HourWeather, ...], day: date) -> _Curve | None:
    apart = {other: days_apart(day, other) for other in {row.day for row in weather} - {day}}
    for reach, words in REACHES:
        like = {other for other, days in apart.items() if days <= reach}
        if like:
            near, days = [row for row in weather if row.day in like], len(like)
            origin = Sentence("Weather: of one day {when}.", {"when": Sentence(words)})
            if days > 1:
                told = {"count": days, "when": Sentence(words)}
                origin = Sentence("Weather: mean of {count} days {when}.", told)
            curve = _mean(near, origin, days)
            if reach != REACHES[0][0]:
                sentence = (
                    "The file has no weather within 10 days of the time of year of {day}; days "
                    "{words} stand in. Type the day’s own, as in 91 °F, 70 %."
                )
                filling = {"day": day, "words": Sentence(words)}
                curve.notes.append(InputProblem("weather", sentence, filling))
            return curve
    return None


def _mean(rows: list[HourWeather], origin: Sentence, days: int) -> _Curve:
    temps: defaultdict[int, list[float]] = defaultdict(list)
    vapor: defaultdict[int, list[float]] = defaultdict(list)
    for row in rows:
        temps[row.hour].append(row.temp_c)
        vapor[row.hour].append(row.humidity * saturation_pressure_pa(row.temp_c))
    rain = math.fsum(row.rain_mm for row in rows) / days
    notes: list[InputProblem] = []
    missing = [hour for hour in range(24) if hour not in temps]
    if missing:
        sentence = "No weather at {hours}; values between the nearest hours stand in."
        notes.append(InputProblem("weather", sentence, {"hours": hours_text(missing)}))
    return _Curve(_around(temps), _around(vapor), rain, [origin], notes)


def _around(seen: dict[int, list[float]]) -> list[float]:
    """24 hourly means, gaps filled straight between their neighbors around the clock."""
    known = {hour: math.fsum(values) / len(values) for hour, values in seen.items()}
    filled: list[float] = []
    for hour in range(24):
        back = next(k for k in range(24) if (hour - k) % 24 in known)
        ahead = next(k for k in range(24) if (hour + k) % 24 in known)
        before, after = known[(hour - back) % 24], known[(hour + ahead) % 24]
        weight = back / (back + ahead) if back + ahead else 0.0
        filled.append(before + (after - before) * weight)
    return filled


def _typical(climate: Climate, day: date) -> _Curve:
    """A typical day of its month: temperature by a sine, the same water in the air all day.

    T(h) = (high + low)/2 + (high − low)/2·cos(2π(h − 15)/24), so that the mean of 24 hours is that
    of highest and lowest: a common shape of a day with one harmonic, no source.
    """
    normals, month = climate.normals, day.month - 1
    high, low = normals.high_c[month], normals.low_c[month]
    temps = [
        (high + low) / 2.0 + (high - low) / 2.0 * math.cos(math.tau * (hour - HOTTEST_H) / 24.0)
        for hour in range(24)
    ]
    vapor = [normals.humidity[month] * saturation_pressure_pa(high)] * 24
    told: dict[str, object] = {"month": Sentence(MONTHS[month])}
    if climate.is_own:
        origin = Sentence("Weather: typical of {month} by your own months.", told)
        whose = Sentence("your own months")
    else:
        told["climate"] = Sentence(CLIMATES[climate.climate].label)
        origin = Sentence("Weather: typical of {month} for the climate “{climate}”, a guess.", told)
        whose = Sentence("the climate chosen on the Site page")
    sentence = (
        "No hourly weather is stored, so a typical day of {month} by {whose} stands in. Bring in "
        "hourly weather, or type the day’s own, as in 91 °F, 70 %."
    )
    filling: dict[str, object] = {"month": Sentence(MONTHS[month]), "whose": whose}
    note = InputProblem("weather", sentence, filling)
    return _Curve(temps, vapor, 0.0, [origin], [note])


def _apply(override: Override, curve: _Curve) -> None:
    highest, humidity = override.highest_temp_c, override.humidity
    if highest is not None:
        shift = highest - max(curve.temp_c)
        top = curve.temp_c.index(max(curve.temp_c))
        curve.temp_c = [min(t + shift, highest) for t in curve.temp_c]
        curve.temp_c[top] = highest  # set, not shifted, so that it is exactly what was typed
    if humidity is not None:
        curve.vapor_pa = [humidity * saturation_pressure_pa(max(curve.temp_c))] * 24
    curve.origin += [
        Sentence(words)
        for words, value in (
            ("The highest temperature was typed by hand.", highest),
            ("The humidity was typed by hand.", humidity),
            ("The rain was typed by hand.", override.rain_mm),
        )
        if value is not None
    ]

"""Outdoor air expected hour by hour, from the weather of the time of year or as typed by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from sim.errors import InputError, InputProblem, Sentence
from sim.inputs.history import HourWeather
from sim.learn.like_days import days_apart, hours_text
from sim.learn.override import Override
from sim.physics.air import saturation_pressure_pa
from sim.units import quantity

REACHES = (
    (10, "within 10 days of this time of year"),
    (21, "within 3 weeks of this time of year"),
    (45, "within 6 weeks of this time of year"),
    (182, "of the whole year"),
)
"""Days to either side that are pooled; the first that has any weather is used."""

HOTTEST_H = 15
SWING_K = 10.0
"""Shape of a day of which only the highest temperature is known: guess, a dry summer day."""

INDOOR_C, INDOOR_HUMIDITY = 20.0, 0.5
"""Air of a closed day without any weather; it only dries the cloth overnight."""


@dataclass(frozen=True, slots=True)
class DayAir:
    """Outdoor air of a day.

    Attributes:
        temp_c: 24 values by clock hour [°C].
        humidity: 24 relative humidities, 0 to 1.
        rain_mm: rain of the day [mm].
        origin: where they are from.
        notes: what a reader should know.
    """

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
    needed: bool = True,
) -> DayAir:
    """The air of a day by clock hour.

    If the file has the day itself in all open hours (a past day, or a forecast somebody brought
    in), that is taken as it is. Otherwise each hour is the mean over the days within ten days of
    the same time of year, whatever their year. What is averaged besides temperature is the vapor
    pressure, not the relative humidity: at one air pressure it is in proportion to the water in
    the air (to a few parts in a hundred), which adds up when air is pooled. The mean of relative
    humidities of warm and cool days, put at their mean temperature, would make up or lose water.

    Typed values then act on that day. A highest temperature shifts every hour alike. A humidity
    holds in the hottest hour, and its vapor pressure all day. Without one the vapor pressures
    stay. Where that is more than saturated, the air is saturated.

    Args:
        weather: weather of the site, any order.
        day: the day to expect.
        hours: clock hours that are open; may be empty on a closed day.
        override: what was typed by hand.
        needed: False for a closed day, which gets mild air if there is no weather at all.

    Raises:
        InputError: if the air is needed, the file has no weather and temperature or humidity were
            not typed.
    """
    curve = _own_day(weather, day, hours) or _season(weather, day)
    if curve is None:
        curve = _typed_alone(override, day, needed)
    else:
        _apply(override, curve)
    temps, vapor = curve.temp_c, curve.vapor_pa
    raw = [e / saturation_pressure_pa(t) for t, e in zip(temps, vapor, strict=True)]
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
    temps: dict[int, list[float]] = {}
    vapor: dict[int, list[float]] = {}
    for row in rows:
        temps.setdefault(row.hour, []).append(row.temp_c)
        pressure = row.humidity * saturation_pressure_pa(row.temp_c)
        vapor.setdefault(row.hour, []).append(pressure)
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


def _typed_alone(override: Override, day: date, needed: bool) -> _Curve:
    highest, humidity = override.highest_temp_c, override.humidity
    if highest is not None and humidity is not None:
        temps = [
            highest - SWING_K * (1.0 - math.cos(math.tau * (hour - HOTTEST_H) / 24.0)) / 2.0
            for hour in range(24)
        ]
        vapor = [humidity * saturation_pressure_pa(highest)] * 24
        sentence = (
            "There is no weather of this time of year, so the day is drawn from what was typed: "
            "hottest at {hour}:00, {swing} cooler twelve hours away."
        )
        filling = {"hour": HOTTEST_H, "swing": quantity(SWING_K, "temperature_difference")}
        note = InputProblem("weather", sentence, filling)
        return _Curve(temps, vapor, 0.0, [Sentence("Weather: as typed.")], [note])
    if needed:
        sentence = (
            "There is no weather to expect {day} from. Bring in hourly weather, or type the "
            "highest temperature and the humidity then, as in 91 °F, 70 %."
        )
        raise InputError([InputProblem("weather", sentence, {"day": day})])
    vapor = [INDOOR_HUMIDITY * saturation_pressure_pa(INDOOR_C)] * 24
    sentence = "There is no weather of {day}; a mild day of {temp} and {humidity} stands in."
    filling_mild = {
        "day": day,
        "temp": quantity(INDOOR_C, "temperature"),
        "humidity": quantity(INDOOR_HUMIDITY, "share"),
    }
    note = InputProblem("weather", sentence, filling_mild)
    return _Curve([INDOOR_C] * 24, vapor, 0.0, [Sentence("Weather: none in the file.")], [note])


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

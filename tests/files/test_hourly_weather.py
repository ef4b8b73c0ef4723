"""Hourly weather as CSV files: units, wet bulb, and what is said of values that can't be."""

from __future__ import annotations

from datetime import date

import pytest

from sim.inputs import HourWeather
from sim.physics.air import humidity_ratio, wet_bulb_c
from tests.files.hourly import told, weather

DAY = date(2026, 7, 18)


WEATHER = "date,hour,temp_c,humidity_pct,rain_mm\n"
HOUR = HourWeather(DAY, 7, 0, 21.5, 0.65, 0.2)


@pytest.mark.parametrize(
    "text",
    [
        WEATHER + "2026-07-18,7,21.5,65,0.2\n",
        "date;hour;temp_c;humidity_pct;rain_mm\n2026-07-18;7;21,5;65,0;0,2\n",
        "date\thour\ttemp_c\thumidity_pct\train_mm\n2026-07-18\t7\t21,5\t65\t0,2\n",
        'date,hour,temp_c,humidity_pct,rain_mm\n2026-07-18,7,"21.5",65,.2\n',
        "start,humidity_pct,temp_c,rain_mm\n2026-07-18T11:00Z,65,21.5,0.2\n",
    ],
)
def test_weather_is_read(text: str) -> None:
    """Points and, between semicolons, commas as decimals give the same hour."""
    preview = weather(text)
    assert preview.history.weather == (HOUR,)
    assert preview.problems == ()


def test_rain_may_be_left_out() -> None:
    """Without a column, or with an empty cell, there is none."""
    assert (
        weather("date,hour,temp_c,humidity_pct\n2026-07-18,7,21.5,65\n").history.weather[0].rain_mm
        == 0
    )
    assert weather(WEATHER + "2026-07-18,7,21.5,65,\n").history.weather[0].rain_mm == 0


def test_us_units_are_read() -> None:
    """°F and inches become °C and mm."""
    preview = weather("date,hour,temp_f,humidity_pct,rain_in\n2026-07-18,7,91.4,65,0.5\n")
    assert preview.history.weather[0].temp_c == pytest.approx(33.0)
    assert preview.history.weather[0].rain_mm == pytest.approx(12.7)


def test_a_wet_bulb_becomes_humidity() -> None:
    """Wet bulb in °C and °F give the same humidity, and it belongs to that wet bulb."""
    first = weather("date,hour,temp_c,wet_bulb_c\n2026-07-18,7,35,20\n").history.weather[0]
    second = weather("date,hour,temp_f,wet_bulb_f\n2026-07-18,7,95,68\n").history.weather[0]
    assert first.humidity == pytest.approx(second.humidity)
    ratio = humidity_ratio(35.0, first.humidity, 101_325.0)
    assert wet_bulb_c(35.0, ratio, 101_325.0) == pytest.approx(20.0, abs=0.01)
    assert weather("date,hour,temp_c,wet_bulb_c\n2026-07-18,7,35,35\n").history.weather[
        0
    ].humidity == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("header", "cells", "said"),
    [
        (
            "temp_c,humidity_pct",
            "21.5,104",
            "humidity_pct “104” can't be. Enter more than 0 %, up to 100 %.",
        ),
        ("temp_c,humidity_pct", "21.5,0", "humidity_pct “0” can't be. Enter more than 0 %"),
        ("temp_c,humidity_pct", "21.5,-5", "humidity_pct “-5” can't be."),
        ("temp_c,humidity_pct", "71.5,60", "temp_c “71.5” can't be. Enter −60 °C to 60 °C."),
        ("temp_f,humidity_pct", "171.5,60", "temp_f “171.5” can't be. Enter −76 °F to 140 °F."),
        ("temp_c,humidity_pct", "mild,60", "temp_c “mild” is not a number. Enter −60 °C to 60 °C."),
        (
            "temp_c,humidity_pct",
            ",60",
            "temp_c is empty. Enter −60 °C to 60 °C, or leave the line out.",
        ),
        (
            "temp_c,humidity_pct",
            '"21,5",60',
            "temp_c “21,5” has a comma. Write decimals with a point, as in 21.5, or put semicolons "
            "between cells.",
        ),
        (
            "temp_c,wet_bulb_c",
            "20,21",
            "Wet bulb 21 °C is above the dry bulb 20 °C, which can't be: water cools as it "
            "evaporates. Are the two columns swapped?",
        ),
        (
            "temp_c,wet_bulb_c",
            "35,5",
            "Wet bulb 5 °C is too far below the dry bulb 35 °C: even bone-dry air does not cool a "
            "wet thermometer so much.",
        ),
        ("temp_c,humidity_pct,rain_mm", "20,50,-1", "rain_mm “-1” can't be. Enter 0 mm to 400 mm."),
        ("temp_c,humidity_pct,rain_mm", "20,50,wet", "rain_mm “wet” is not a number."),
        ("temp_c,humidity_pct,rain_mm", "20,50,1e999", "rain_mm “1e999” can't be."),
    ],
)
def test_bad_weather_is_named(header: str, cells: str, said: str) -> None:
    """A value that can't be is named with the line, and the next line is kept."""
    good = {"temp_c": "20", "temp_f": "68", "humidity_pct": "50", "wet_bulb_c": "15"}
    rest = ",".join(good.get(name, "0") for name in header.split(","))
    preview = weather(f"date,hour,{header}\n2026-07-18,7,{cells}\n2026-07-18,8,{rest}\n")
    assert [row.hour for row in preview.history.weather] == [8]
    assert told(preview.problems)[0].startswith(f"weather.csv, line 2: {said}")


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("date,hour,humidity_pct", "No column gives the temperature. Name one temp_c or temp_f."),
        (
            "date,hour,temp_c",
            "No column gives the humidity. Name one humidity_pct or wet_bulb_c or wet_bulb_f.",
        ),
        (
            "date,hour,temp_c,temp_f,humidity_pct",
            "The columns temp_c and temp_f both give the temperature. Keep one of them.",
        ),
        (
            "date,hour,temp_c,humidity_pct,rain_mm,rain_in",
            "The columns rain_mm and rain_in both give the rain. Keep one of them.",
        ),
        (
            "date,hour,temp_c,humidty_pct",
            "“humidty_pct” is not a column of this file. Did you mean",
        ),
    ],
)
def test_columns_of_weather_are_checked(header: str, said: str) -> None:
    """Missing, doubled and misspelt columns are named once each."""
    preview = weather(f"{header}\n")
    assert preview.history.weather == ()
    assert len(preview.problems) == 1
    assert said in told(preview.problems)[0]


def test_frost_is_kept_with_a_note() -> None:
    """Hours below freezing are stored; that they can't be planned is said."""
    preview = weather(WEATHER + "2026-01-18,7,-4.5,80,0\n2026-01-18,8,2,80,0\n")
    assert len(preview.history.weather) == 2
    assert (
        "weather.csv: Hours with frost: 1, the coldest −4.5 °C. They are kept; hours below "
        "freezing can't be planned, since ice is not in the model." in told(preview.notes)
    )


def test_shares_instead_of_per_cent_are_noted() -> None:
    """A humidity column of 0.65 and the like is taken for shares of 1 by mistake, and said so."""
    preview = weather(WEATHER + "2026-07-18,7,21.5,0.65,0\n")
    assert (
        "weather.csv: No humidity in the file is above 1 %. It looks like shares of 1"
        in told(preview.notes)[-1]
    )


def test_missing_hours_of_weather_are_noted() -> None:
    """All 24 hours are looked for."""
    rows = "".join(f"2026-07-18,{hour},20,50,0\n" for hour in range(24) if hour != 3)
    assert told(weather(WEATHER + rows).notes) == [
        "weather.csv: 2026-07-18 has no weather at 3:00. Missing is not zero: the hours are left "
        "out."
    ]

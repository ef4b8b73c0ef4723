"""Invented comparisons, for the tests of words and pages.

Nothing here was computed by the model: the numbers only look like a day, so that words, units
and pictures can be tested without running one.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from sim.day.figures import Figure, PairedDifference, Range, Word
from sim.decide.answer import (
    Column,
    Comparison,
    Hours,
    Limits,
    Opening,
    Plan,
    Standing,
    Widener,
)
from sim.inputs import (
    Conditions,
    DayNote,
    History,
    HourCount,
    HourWeather,
    Scenario,
    Site,
    SiteData,
)

REPLICATIONS = 32


_HOURS = range(7, 20)


def _day(*values: float) -> Hours:
    """24 values from the 13 of 7:00 to 20:00."""
    return (None,) * 7 + values + (None,) * 4


ARRIVALS = [0.0] * 24
for _hour, _cars in zip(
    _HOURS, (55, 92, 128, 152, 175, 197, 208, 201, 182, 161, 137, 98, 61), strict=True
):
    ARRIVALS[_hour] = float(_cars)


def figure(value: float, error: float, low: float, high: float) -> Figure:
    """A figure of the comparison with its day range and its run error."""
    return Figure(value, Range(low, high), Range(value - error, value + error))


def difference(value: float, error: float, days_better: float, word: Word) -> PairedDifference:
    """A paired difference to the first scenario."""
    return PairedDifference(value, Range(value - error, value + error), days_better, word)


# ---- with something else in them -----------------------------------------------------------------


def with_column(day: Comparison, at: int, **fields: Any) -> Comparison:
    """A comparison with other fields of a column."""
    columns = list(day.columns)
    columns[at] = replace(columns[at], **fields)
    return replace(day, columns=tuple(columns))


def with_columns(day: Comparison, columns: tuple[Column, ...]) -> Comparison:
    """A comparison with these columns in place of its own."""
    return replace(day, columns=columns)


def with_scenario(day: Comparison, at: int, **fields: Any) -> Comparison:
    """A comparison with another name, rule, or changes of a scenario."""
    return with_column(day, at, scenario=replace(day.columns[at].scenario, **fields))


def with_figures(day: Comparison, at: int, **figures: Figure) -> Comparison:
    """A comparison with other figures of a column."""
    return with_column(day, at, figures={**day.columns[at].figures, **figures})


def with_apart(day: Comparison, at: int, name: str, **fields: Any) -> Comparison:
    """A comparison with something else in a difference of a column."""
    found = day.columns[at].differences or {}
    return with_column(day, at, differences={**found, name: replace(found[name], **fields)})


def standing(bettered: float = 0.0, loses: float = 0.0, **more: Any) -> Standing:
    """How an advice stands against a column over the drawn sites; firm unless told."""
    return Standing(SITES, bettered, loses, **more)


def with_standing(day: Comparison, at: int, *against: Standing) -> Comparison:
    """A comparison whose column stands so against each of the columns."""
    return with_column(day, at, against=against)


def with_limits(day: Comparison, **fields: Any) -> Comparison:
    """A comparison with other limits."""
    return replace(day, limits=replace(day.limits, **fields))


def plan(found: Comparison) -> Plan:
    """A comparison as the plan of the peak day."""
    return Plan("Invented Lane", PEAK, "Made of six Saturdays in July.", {"numpy": "2"}, found)


# ---- the peak day --------------------------------------------------------------------------------


def _full() -> Column:
    return Column(
        Scenario("Always full", "full"),
        "every car wiped in full",
        figures={
            "cars_arrived": figure(1910, 40, 1680, 2140),
            "cars_washed": figure(1827, 28, 1600, 1960),
            "cars_lost": figure(83, 14, 7, 240),
            "cars_lost_full": figure(61, 12, 0, 190),
            "cars_lost_impatient": figure(22, 4, 5, 52),
            "wait_p90_s": figure(672, 40, 360, 900),
            "belt_use": figure(0.83, 0.01, 0.72, 0.9),
            "left_damp_share": figure(0.179, 0.016, 0.06, 0.31),
            "full_share": figure(1.0, 0.0, 1.0, 1.0),
            "saturation_max": figure(0.79, 0.01, 0.7, 0.86),
            "water_taken_kg": figure(118.2, 2.1, 101.0, 130.0),
            "wear_cars": figure(1830, 30, 1590, 1980),
            "margin": figure(9340, 180, 7700, 10600),
        },
        hours={
            "arrived": tuple(ARRIVALS),
            "washed": _day(54, 91, 126, 150, 172, 177, 173, 172, 173, 171, 145, 100, 63),
            "stack_mean": _day(1, 2, 3, 5, 9, 22, 30, 31, 30, 25, 13, 4, 1),
            "saturation_mean": _day(
                0.35, 0.4, 0.47, 0.56, 0.64, 0.71, 0.76, 0.79, 0.79, 0.77, 0.71, 0.6, 0.5
            ),
            "damp_share": _day(
                0.0, 0.0, 0.01, 0.02, 0.04, 0.12, 0.27, 0.36, 0.39, 0.33, 0.19, 0.04, 0.01
            ),
        },
        differences=None,
        widest={},
    )


def _reduced() -> Column:
    return Column(
        Scenario("Always reduced", "reduced"),
        "hood and windshield only",
        figures={
            "cars_arrived": figure(1910, 40, 1680, 2140),
            "cars_washed": figure(1842, 28, 1620, 1970),
            "cars_lost": figure(68, 12, 5, 221),
            "cars_lost_full": figure(49, 10, 0, 175),
            "cars_lost_impatient": figure(19, 4, 4, 48),
            "wait_p90_s": figure(624, 38, 300, 900),
            "belt_use": figure(0.84, 0.01, 0.72, 0.9),
            "left_damp_share": figure(0.024, 0.004, 0.0, 0.06),
            "full_share": figure(0.0, 0.0, 0.0, 0.0),
            "saturation_max": figure(0.52, 0.01, 0.46, 0.6),
            "water_taken_kg": figure(61.0, 1.4, 52.0, 68.0),
            "wear_cars": figure(812, 12, 700, 880),
            "margin": figure(9210, 170, 8000, 10300),
        },
        hours={
            "arrived": tuple(ARRIVALS),
            "washed": _day(54, 91, 126, 150, 173, 180, 180, 180, 180, 172, 142, 98, 61),
            "stack_mean": _day(1, 2, 3, 5, 8, 19, 29, 30, 26, 16, 6, 2, 1),
            "saturation_mean": _day(
                0.33, 0.35, 0.38, 0.41, 0.45, 0.49, 0.51, 0.52, 0.52, 0.5, 0.46, 0.41, 0.36
            ),
            "damp_share": _day(
                0.0, 0.0, 0.0, 0.0, 0.01, 0.02, 0.04, 0.06, 0.05, 0.03, 0.02, 0.0, 0.0
            ),
        },
        differences={
            "cars_arrived": difference(0, 0, 0.0, "hardly differs"),
            "cars_washed": difference(15, 4, 0.9, "a little better"),
            "cars_lost": difference(-15, 4, 0.9, "a little better"),
            "cars_lost_full": difference(-12, 4, 0.84, "a little better"),
            "cars_lost_impatient": difference(-3, 1, 0.8, "hardly differs"),
            "wait_p90_s": difference(-48, 12, 0.8, "hardly differs"),
            "belt_use": difference(0.007, 0.002, 0.8, "hardly differs"),
            "left_damp_share": difference(-0.155, 0.015, 1.0, "clearly better"),
            "full_share": difference(-1.0, 0.0, 0.0, "clearly worse"),
            "saturation_max": difference(-0.27, 0.01, 1.0, "clearly better"),
            "water_taken_kg": difference(-57.2, 1.0, 0.0, "clearly less"),
            "wear_cars": difference(-1018, 20, 1.0, "clearly better"),
            "margin": difference(-130, 90, 0.41, "can’t tell"),
        },
        widest={},
    )


def _window() -> Column:
    return Column(
        Scenario("Reduced 11:50–16:40", "clock 11:50-16:40"),
        "reduced from 11:50 to 16:40, full before and after",
        figures={
            "cars_arrived": figure(1910, 40, 1680, 2140),
            "cars_washed": figure(1840, 28, 1620, 1970),
            "cars_lost": figure(70, 12, 5, 223),
            "cars_lost_full": figure(51, 10, 0, 177),
            "cars_lost_impatient": figure(19, 4, 4, 48),
            "wait_p90_s": figure(630, 38, 300, 900),
            "belt_use": figure(0.84, 0.01, 0.72, 0.9),
            "left_damp_share": figure(0.046, 0.006, 0.01, 0.1),
            "full_share": figure(0.53, 0.01, 0.48, 0.59),
            "saturation_max": figure(0.62, 0.01, 0.57, 0.67),
            "water_taken_kg": figure(88.0, 1.8, 75.0, 98.0),
            "wear_cars": figure(1352, 18, 1180, 1460),
            "margin": figure(9720, 170, 8300, 10800),
        },
        hours={
            "arrived": tuple(ARRIVALS),
            "washed": _day(54, 91, 126, 150, 173, 180, 179, 180, 180, 173, 141, 98, 61),
            "stack_mean": _day(1, 2, 3, 5, 8, 19, 29, 30, 27, 18, 8, 2, 1),
            "saturation_mean": _day(
                0.35, 0.4, 0.47, 0.56, 0.62, 0.61, 0.58, 0.55, 0.52, 0.51, 0.56, 0.53, 0.46
            ),
            "damp_share": _day(
                0.0, 0.0, 0.01, 0.02, 0.04, 0.08, 0.08, 0.07, 0.06, 0.04, 0.05, 0.03, 0.0
            ),
        },
        differences={
            "cars_arrived": difference(0, 0, 0.0, "hardly differs"),
            "cars_washed": difference(13, 4, 0.88, "a little better"),
            "cars_lost": difference(-13, 4, 0.88, "a little better"),
            "cars_lost_full": difference(-10, 4, 0.84, "a little better"),
            "cars_lost_impatient": difference(-3, 1, 0.8, "hardly differs"),
            "wait_p90_s": difference(-42, 12, 0.8, "hardly differs"),
            "belt_use": difference(0.006, 0.002, 0.8, "hardly differs"),
            "left_damp_share": difference(-0.133, 0.015, 1.0, "clearly better"),
            "full_share": difference(-0.47, 0.01, 0.0, "clearly worse"),
            "saturation_max": difference(-0.17, 0.01, 1.0, "clearly better"),
            "water_taken_kg": difference(-30.2, 1.0, 0.0, "clearly less"),
            "wear_cars": difference(-478, 14, 1.0, "clearly better"),
            "margin": difference(380, 60, 0.97, "clearly better"),
        },
        widest={},
    )


def peak_day() -> Comparison:
    """A busy humid Saturday on which a window of reduced wiping is the best of three."""
    temps = tuple(24.0 + 0.4 * h for h in range(24))
    return Comparison(
        seed=1,
        replications=REPLICATIONS,
        days=REPLICATIONS,
        sites=0,
        weighed=(),
        draw_hash="invented",
        conditions=Conditions(tuple(ARRIVALS), temps, (0.8,) * 24, 0.66),
        opening=Opening(0.3, "evening", date(2026, 7, 17)),
        limits=Limits(
            damp_limit_saturation=0.66,
            allowed_damp_share=0.05,
            stack_limit_cars=32,
            belt_capacity_per_h=181.0,
            open_h=7.0,
            close_h=20.0,
        ),
        columns=(_full(), _reduced(), _window()),
    )


SITES, DAYS = 128, 128
_SITE_RANGES: tuple[dict[str, tuple[float, float]], ...] = (
    {
        "cars_washed": (1770, 1870),
        "cars_lost": (52, 121),
        "wait_p90_s": (590, 775),
        "left_damp_share": (0.094, 0.271),
        "saturation_max": (0.7, 0.86),
        "margin": (8600, 9980),
    },
    {
        "cars_washed": (1786, 1884),
        "cars_lost": (41, 103),
        "wait_p90_s": (540, 725),
        "left_damp_share": (0.009, 0.052),
        "saturation_max": (0.44, 0.6),
        "margin": (8700, 9720),
    },
    {
        "cars_washed": (1784, 1882),
        "cars_lost": (43, 105),
        "wait_p90_s": (545, 730),
        "left_damp_share": (0.021, 0.083),
        "saturation_max": (0.53, 0.7),
        "margin": (9180, 10230),
    },
)
"""Site uncertainty of the figures that decide, a column each."""
_APART: tuple[dict[str, tuple[float, float, float, Word]], ...] = (
    {},
    {
        "cars_lost": (-22, -7, 0.97, "a little better"),
        "left_damp_share": (-0.22, -0.08, 1.0, "clearly better"),
        "margin": (-640, 350, 0.36, "can’t tell"),
    },
    {
        "cars_lost": (-20, -6, 0.96, "a little better"),
        "left_damp_share": (-0.19, -0.07, 0.99, "clearly better"),
        "margin": (-90, 860, 0.87, "probably better"),
    },
)
"""Site uncertainty of some differences, the share of sites that are better, the word."""


_AGAINST = (
    ((0.0, 0.0), (1.0, 0.2), (1.0, 0.8)),
    ((0.02, 0.5), (0.0, 0.0), (0.9, 0.9)),
    ((0.01, 0.08), (0.04, 0.02), (0.0, 0.0)),
)
"""A row a column: at which share of sites each of the columns betters it, and at which it loses
money against that."""
_WIDEST = {
    "left_damp_share": (
        Widener("allowed_film_kg_m2", 0.41),
        Widener("throw_off_time_s", 0.29),
        Widener("throw_off_moisture_kg_kg", 0.14),
    ),
    "cars_lost": (),
    "margin": (Widener("damp_cost", 0.5),),
}


def peak_day_over_sites() -> Comparison:
    """The peak day computed over drawn sites: site uncertainty, words over sites, what widens."""
    day = peak_day()
    columns = [
        replace(
            column,
            figures={
                name: _over_sites(one, ranges.get(name)) for name, one in column.figures.items()
            },
            differences=column.differences
            and {name: _apart(one, apart.get(name)) for name, one in column.differences.items()},
            widest=_WIDEST,
            against=tuple(standing(*shares) for shares in against),
        )
        for column, ranges, apart, against in zip(
            day.columns, _SITE_RANGES, _APART, _AGAINST, strict=True
        )
    ]
    return replace(day, sites=SITES, replications=8 * SITES, days=DAYS, columns=tuple(columns))


def _over_sites(one: Figure, ends: tuple[float, float] | None) -> Figure:
    value = one.value or 0.0
    return replace(one, site_uncertainty=Range(*(ends or (value, value))))


def _apart(
    one: PairedDifference, told: tuple[float, float, float, Word] | None
) -> PairedDifference:
    value = one.value or 0.0
    low, high, share, word = told or (value, value, one.days_better or 0.0, one.word)
    return replace(one, site_uncertainty=Range(low, high), sites_better=share, word=word)


def one_scenario() -> Comparison:
    """Only the present rule."""
    day = peak_day()
    return replace(day, columns=day.columns[:1])


def _times(row: Hours, factor: float) -> Hours:
    return tuple(None if value is None else factor * value for value in row)


def quiet_day() -> Comparison:
    """Nothing is damp, nobody is lost, and no rule differs from another by enough to matter."""
    day, nobody = peak_day(), figure(0, 0, 0, 0)
    day = replace(
        day,
        conditions=replace(
            day.conditions, arrivals_per_h=tuple(float(round(0.3 * cars)) for cars in ARRIVALS)
        ),
    )
    factors = {"arrived": 0.3, "washed": 0.3, "stack_mean": 0.01, "damp_share": 0.01}
    for number, column in enumerate(day.columns):
        day = with_figures(
            day,
            number,
            cars_lost=nobody,
            cars_lost_full=nobody,
            cars_lost_impatient=nobody,
            left_damp_share=figure(0.004 - 0.001 * number, 0.001, 0, 0.01),
            margin=figure(2100 - 10 * number, 60, 1800, 2400),
            cars_washed=figure(573, 12, 500, 640),
        )
        hours = {name: _times(row, factors.get(name, 0.6)) for name, row in column.hours.items()}
        day = with_column(day, number, hours=hours, differences=_alike(column, 0.4))
    return day


def _alike(column: Column, days_better: float) -> dict[str, PairedDifference] | None:
    if column.differences is None:
        return None
    return dict.fromkeys(column.differences, difference(0.0, 0.0, days_better, "hardly differs"))


SHARES = ("left_damp_share", "wait_p90_s", "full_share")
"""Figures that a day without a washed car does not have."""


def no_cars() -> Comparison:
    """An open day on which no car is expected: shares have no value."""
    day = peak_day()
    for number, column in enumerate(day.columns):
        figures = {
            name: Figure(None, None) if name in SHARES else figure(0, 0, 0, 0)
            for name in column.figures
        }
        hours: dict[str, Hours] = {
            name: (None if name == "damp_share" else 0.0,) * 24 for name in column.hours
        }
        day = with_column(
            day, number, figures=figures, hours=hours, differences=_alike(column, 0.0)
        )
    return replace(day, conditions=replace(day.conditions, arrivals_per_h=(0.0,) * 24))


def all_lost() -> Comparison:
    """Cars come and not one of them gets through."""
    day = peak_day()
    for number, column in enumerate(day.columns):
        day = with_figures(
            day,
            number,
            cars_washed=figure(0, 0, 0, 0),
            cars_lost=figure(1910, 40, 1680, 2140),
            cars_lost_impatient=figure(1900, 40, 1670, 2130),
            cars_lost_full=figure(10, 2, 5, 15),
            **dict.fromkeys(SHARES, Figure(None, None)),
        )
        hours = {**column.hours, "washed": (0.0,) * 24, "damp_share": (None,) * 24}
        day = with_column(day, number, hours=hours)
    return day


def six_scenarios() -> Comparison:
    """Six columns, each a little different."""
    day = peak_day()
    for number in range(3):
        at, column = len(day.columns), day.columns[2]
        hours = {
            name: row if name == "arrived" else _times(row, 0.95 - 0.05 * number)
            for name, row in column.hours.items()
        }
        day = replace(day, columns=(*day.columns, replace(column, hours=hours)))
        day = with_scenario(day, at, name=f"Variant {number + 1}")
        margin = column.figures["margin"]
        less = (margin.value or 0.0) - 100 * (number + 1)
        day = with_figures(day, at, margin=replace(margin, value=less))
    return day


PEAK = date(2026, 7, 18)
CLOSED = date(2026, 7, 20)


def small_site() -> SiteData:
    """A site with three weeks of equal days before `PEAK`, and one closed day after it."""
    days = [PEAK - timedelta(days=back) for back in range(21, 0, -1)]
    counts = tuple(HourCount(day, hour, 0, 80) for day in days for hour in _HOURS)
    weather = tuple(HourWeather(day, hour, 0, 25.0, 0.7, 0.0) for day in days for hour in range(24))
    notes = (DayNote(CLOSED, "closed", "stocktaking"),)
    history = History("arrived", counts, weather, notes)
    return SiteData(Site("Invented Lane"), "us", frozenset(), history)

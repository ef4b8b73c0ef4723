"""Tipping points, settings with their rule, and coming days, made up."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.answer import Standing
from sim.decide.switching.answer import (
    COMING_SCHEMA,
    TOGETHER_SCHEMA,
    AdvisedDay,
    Brings,
    ComingAnswer,
    DayPlan,
    DayState,
    MonthCount,
    SettingPlan,
    Together,
    YearCount,
)
from sim.decide.switching.coming import Corner, Tipping
from tests.pages.switch_content import TERMS, WISH, band, clock


def tipping(*corners: Corner | None) -> Tipping:
    """Three temperatures by four demands; corners of the demands, those not given are none."""
    none = (None, None, None)
    return Tipping(
        highest_temp_c=(20.0, 24.0, 28.0),
        demands=(0.6, 0.8, 1.0, 1.2),
        cars=(600.0, 800.0, 1000.0, 1200.0),
        humidity=((1.0, 1.0, 1.0), (None, 0.5799, 0.7), (None, None, 0.4), none),
        not_from=(none, (0.1, 0.6174, 0.9), (0.3, None, 0.4375), (0.1, 0.1, 0.1)),
        least_humidity=0.1,
        corners=(*corners, *[None] * (4 - len(corners))),
        draws=16,
        most_draws=64,
        runs=1000,
    )


NOW = SettingPlan(
    speeds=((0.0, 0.25),), spacing_m=6.0, rule=clock((12, 15)), cars_washed=1400.0,
    cars_washed_h=106.0, cars_lost=20.0, full_cars=900.0, left_damp=60.0, left_damp_share=0.04,
    cost=3000.0, reduced_h=2.0 + 41 / 60, keeps=True,
)  # fmt: skip
NEVER = replace(
    NOW, rule=FULL, speeds=((0.0, 0.2),), spacing_m=7.2, cars_washed_h=100.0, cost=3400.0,
    reduced_h=0.0, left_damp_share=0.048,
)  # fmt: skip
BETTER = replace(
    NOW, rule=band(0.5, 0.4), speeds=((0.0, 0.25), (39600.0, 0.22), (64800.0, 0.25)),
    cars_washed_h=107.2, cost=2900.0, left_damp_share=0.03,
)  # fmt: skip


def together(
    chosen: SettingPlan | None = None,
    never: SettingPlan | None = NEVER,
    present: SettingPlan = NOW,
) -> Together:
    """Settings with their rule; without a chosen one the present stays."""
    return Together(
        TOGETHER_SCHEMA, "Invented Lane", date(2026, 7, 18), 1, {}, WISH, TERMS, present,
        chosen or present, never, chosen is None, 0.81, 3352,
    )  # fmt: skip


EXPECTED = Brings(1530.0, 33.0, 0.68, 0.0)


def day(
    iso: str, plan: DayPlan | None, state: DayState = "open", note: str = "", typed: str = ""
) -> AdvisedDay:
    """A coming day."""
    return AdvisedDay(date.fromisoformat(iso), state, note, typed, EXPECTED, plan)


def plan(rule: Rule, damp: float = 0.04, keeps: bool = True) -> DayPlan:
    """A coming day's plan."""
    full = damp if rule == FULL else 0.25
    return DayPlan(rule, keeps, 0.66, damp, full, Standing(64, 0.0 if keeps else 0.2, 0.0))


YEAR = YearCount(
    first=date(2026, 7, 17), last=date(2027, 7, 15), days=358, expected=118, left_out=2, closed=3,
    no_cars=0, unknown=1, draws=16,
    months=(MonthCount(date(2026, 7, 17), 15, 14), MonthCount(date(2027, 1, 1), 30, 0)),
)  # fmt: skip


def coming(*days: AdvisedDay, year: YearCount | None = YEAR) -> ComingAnswer:
    """The coming days: a wet Saturday, a dry Sunday, a closed Monday, unless told others."""
    three = (
        day("2026-07-18", plan(REDUCED, 0.0502, keeps=False)),
        day("2026-07-19", plan(FULL), note="fair", typed="70 F"),
        day("2026-07-20", None, "closed"),
    )
    return ComingAnswer(
        COMING_SCHEMA, "Invented Lane", date(2026, 7, 18), 1, {}, WISH, (), TERMS, days or three,
        year,
    )  # fmt: skip

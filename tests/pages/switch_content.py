"""When to reduce on a made-up day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from sim.day.figures import Range
from sim.day.rules import FULL, REDUCED, Band, Clock, Rule
from sim.decide.answer import Standing
from sim.decide.switching.advice import (
    Advice,
    Gain,
    Gains,
    PairedComparison,
    Rival,
    ValueOfInformation,
)
from sim.decide.switching.answer import (
    SCHEMA,
    Bound,
    Columns,
    CrewTerms,
    Draws,
    HalfHours,
    TradeOffPoint,
    TwoDays,
    WhenToReduce,
)
from sim.decide.switching.choice import Wish
from sim.decide.switching.coming import MovedPlan, Way
from sim.decide.switching.reasons import Balance, Flip, Relief, Remedies, Remedy
from tests.pages.fixture_comparison import peak_day_over_sites

STARTS = tuple(1800.0 * half for half in range(14, 40))
WISH = Wish("mean", 0.05, 10.0, 0.005, 4, 900.0)
TERMS = CrewTerms(7.0, 20.0, 0.25, 2.0, {"van": "Van", "pickup": "Pickup"})
BALANCE = Balance((12, 13, 14, 15), 4.0, 9.0, 3.0, 1.0, 0.6, 0.66, 0.7, 0.8)


def clock(*windows: tuple[float, float]) -> Rule:
    """A rule by the clock; hours of the day."""
    return Rule(((Clock(tuple((3600.0 * a, 3600.0 * b) for a, b in windows)),),))


def band(upper: float, lower: float) -> Rule:
    """A rule that follows the cloth."""
    return Rule(((Band(upper, lower),),))


def hours(reduced: list[float]) -> HalfHours:
    """Half hours with a share of reduced cars each; the rest is the same all day but for noon."""
    wet = tuple(0.3 + 0.01 * min(i, 25 - i) for i in range(26))
    return HalfHours((60.0,) * 26, wet, tuple(reduced), (0.04,) * 26, (0.03,) * 26)


def point(rule: Rule, damp: float, full: float, undominated: bool = True) -> TradeOffPoint:
    """A rule on the trade-off."""
    return TradeOffPoint(rule, damp, full, 1840 * damp, 1840 * full, 3100.0, 256, True, undominated)


def gain(value: float, low: float, high: float) -> Gain:
    """A gain of the advice with where it may lie at the site."""
    return Gain(value, None, Range(low, high))


def means(full: float, damp: float, share: float, cost: float) -> Gains:
    """Differences without intervals."""
    return Gains(Gain(full), Gain(damp), Gain(share), Gain(cost))


def with_reasons(answer: WhenToReduce) -> WhenToReduce:
    """An answer with why, what helps and how it moves."""
    gains = Gains(
        gain(-640.0, -700.0, -600.0), gain(-230.0, -320.0, -90.0), gain(-0.125, -0.17, -0.05),
        gain(-380.0, -700.0, 60.0),
    )  # fmt: skip
    second = Gains(
        gain(-64.0, -128.0, 0.0), gain(-23.0, -46.0, 0.0), gain(-0.0125, -0.025, 0.0),
        gain(-38.0, -76.0, 0.0),
    )  # fmt: skip
    less = means(-640.0, -10.0, -0.01, 95.0)
    why = Advice(
        answer.chosen,
        PairedComparison(FULL, gains, 0.87, 0.11, 192, less),
        PairedComparison(band(0.5, 0.4), second, 0.5, 0.5, 192, None),
        BALANCE,
        (Relief("humid_air", 0.4, 0.02), Relief("many_cars", None, 0.1)),
        (
            Flip("temp_c", 32.0, 29.0, None, 20.0, 44.0),
            Flip("cars", 1840.0, 1452.0, None, 460.0, 2900.0),
        ),
        (ValueOfInformation("holding_capacity_kg_kg", 12.0),),
        15.0,
        "full_cars",
        Rival(FULL, Standing(192, 0.11, 0.02)),
        9000,
    )
    rows = (
        Remedy("dry_set", 46800.0, 35.0, FULL, True, 0.04, 74.0, 3.0, 1500.0, 20.0, 300.0, 40.0,
               -25.0),
        Remedy("fewer_cars", 0.1, 0.0, FULL, False, 0.06, 99.0, 184.0, 1300.0, 5.0, 100.0, 900.0,
               880.0),
    )  # fmt: skip
    days: tuple[tuple[Way, float, Rule, bool, bool], ...] = (
        ("as_expected", 32.0, clock((12, 16)), True, True),
        ("cooler", 27.0, FULL, True, False),
        ("busier", 32.0, REDUCED, False, False),
    )
    moves = tuple(
        MovedPlan(way, top, 0.7, 1840.0, rule, 0.04, 0.17, 1200.0, keeps, 0.9, same)
        for way, top, rule, keeps, same in days
    )
    helps = Remedies("rule_helps", 0.1, 1.0, BALANCE, 0.045, rows, 5000)
    return replace(answer, why=why, remedies=helps, moves=moves)


def switch(chosen: Rule | None = None) -> WhenToReduce:
    """Reduced from 12:00 to 16:00 is the best of 2,125 rules, in 17 of 20 sites."""
    chosen = chosen or clock((12, 16))
    reduced = [1.0 if 43200 <= start < 57600 else 0.0 for start in STARTS]
    return WhenToReduce(
        schema=SCHEMA,
        site="Invented Lane",
        date=date(2026, 7, 18),
        seed=1,
        libraries={"numpy": "2"},
        origin="Made of six Saturdays in July.",
        wish=WISH,
        crew_terms=TERMS,
        present=FULL,
        chosen=chosen,
        keeps=True,
        probability=0.97,
        settled=1.0,
        alternatives=(),
        kept=None,
        rules=2125,
        runs=51400,
        draws=Draws(16, 256),
        comparison=peak_day_over_sites(),
        columns=Columns(present=0, chosen=2, full=0, reduced=1, told=2),
        half_hours=TwoDays(STARTS, hours(reduced), hours([0.0] * 26)),
        trade_off=(
            point(FULL, 0.17, 1.0),
            point(REDUCED, 0.03, 0.0),
            point(chosen, 0.045, 0.6),
            point(clock((10, 17)), 0.04, 0.41),
            point(band(0.5, 0.4), 0.09, 0.5, undominated=False),
        ),
        bound=Bound(1300.0, 1105.0, 0.85, Range(0.812, 0.888), "cars", 8, True),
        why=None,
        remedies=None,
        moves=(),
        tipping=None,
        cues=None,
    )

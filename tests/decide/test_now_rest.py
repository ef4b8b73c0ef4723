"""What the log tells of the rest of a day beside cars and wiping, and of the morning after it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from typing import cast

import numpy as np
import pytest

from app.answers.planning import make_question, question_key
from app.sites.demo import demo_data, demo_days
from sim.day.engine import AS_IT_IS
from sim.day.night import LoggedEvening, PreviousDay
from sim.day.rules import FULL as ALWAYS_FULL
from sim.decide.compare import Question
from sim.decide.now.advice import advise
from sim.decide.now.answer import NowAnswer
from sim.decide.now.evening import evening_as_logged
from sim.decide.now.follow import Followed
from sim.decide.now.rest import MOST_STOOD_S, as_noted, missing_from, stands_until
from sim.decide.now.so_far import SoFar, so_far
from sim.inputs import LogEntry, Scenario, Steps, value_at
from sim.inputs.logbook import (
    CAME,
    CARS,
    DAMP_HOODS,
    FELT,
    HOUR,
    LEFT,
    REDUCED,
    SET_CHANGED,
    SOMEBODY,
    STOP,
    WIPING,
)
from sim.learn.felt import Felt, as_felt
from sim.learn.weighed_day import cars_until
from tests.decide.now_days import demo_question

HOUR_S = 3_600.0
PEAK = demo_days()["humid_peak"]
QUESTION = demo_question(PEAK)
SITE = QUESTION.site


def entry(kind: str, at_h: float, count: int | None = None, **more: str) -> LogEntry:
    """An entry of the day; of hoods it has twenty."""
    of = 20 if kind == DAMP_HOODS else None
    name, word, text = (more.get(what, "") for what in ("name", "word", "text"))
    return LogEntry(
        f"{kind} {at_h} {name}", PEAK, at_h * HOUR_S, kind, count, of, word=word, name=name,
        text=text,
    )  # fmt: skip


def read(*entries: LogEntry, now_h: float = 14.0) -> SoFar:
    """What entries tell."""
    return so_far(entries, now_h * HOUR_S, SITE, QUESTION.conditions.arrivals_per_h)


# ---- air -----------------------------------------------------------------------------------------


def magnus_hpa(temp_c: float) -> float:
    """Saturation vapour pressure over water by the formula of WMO-No. 8, annex 4.B (from
    memory) [hPa]."""
    return 6.112 * math.exp(17.62 * temp_c / (243.12 + temp_c))


def test_the_air_stays_as_it_was_felt() -> None:
    """From the hour on temperatures are shifted alike and the vapor pressure is that which was
    felt, held against the Magnus formula; before it the air is as expected."""
    expected = QUESTION.conditions
    felt = as_felt(expected, [Felt(12.5 * HOUR_S, expected.temp_c[12] + 3.0, 0.40)])
    assert felt.temp_c[:12] == expected.temp_c[:12]
    assert felt.humidity[:12] == expected.humidity[:12]
    vapor = 0.40 * magnus_hpa(expected.temp_c[12] + 3.0)
    for hour in range(12, 24):
        assert felt.temp_c[hour] == pytest.approx(expected.temp_c[hour] + 3.0)
        there = min(1.0, vapor / magnus_hpa(felt.temp_c[hour]))
        assert felt.humidity[hour] == pytest.approx(there, rel=5e-3)


def test_without_a_humidity_the_vapor_stays() -> None:
    """Felt warmer alone, the air holds the water that was expected."""
    expected = QUESTION.conditions
    felt = as_felt(expected, [Felt(12.0 * HOUR_S, expected.temp_c[12] + 3.0, None)])
    for hour in range(12, 24):
        was = expected.humidity[hour] * magnus_hpa(expected.temp_c[hour])
        now = felt.humidity[hour] * magnus_hpa(felt.temp_c[hour])
        assert now == pytest.approx(was, rel=5e-3)


# ---- people and belt -----------------------------------------------------------------------------


def test_who_left_is_missing_until_they_come_back() -> None:
    """Somebody who left is missing; who came as usual, or came back, is not."""
    came = entry(SOMEBODY, 8.0, word=CAME, name="Ada")
    left = entry(SOMEBODY, 13.0, word=LEFT, name="Ada")
    assert read(came).left_s == ()
    assert read(came, left).left_s == (13 * HOUR_S,)
    assert read(came, left, entry(SOMEBODY, 13.5, word=CAME, name="Ada")).left_s == ()


def test_who_leaves_as_planned_is_not_missing() -> None:
    """Where the plan has had fewer for less than half an hour, leaving is as planned; else one is
    missing until the plan has fewer, and never more than there are."""
    drops = [at for at, count in SITE.crew.people if count < value_at(SITE.crew.people, at - 1.0)]
    assert drops == [19 * HOUR_S]
    due = read(entry(SOMEBODY, 19.25, word=LEFT, name="Ada"), now_h=19.5)
    assert missing_from(due, SITE) == ()
    assert as_noted(QUESTION, due) == AS_IT_IS
    early = read(entry(SOMEBODY, 13.0, word=LEFT, name="Ada"))
    changes = dict(as_noted(QUESTION, early).changes)
    people, planned = cast("Steps", changes["people"]), SITE.crew.people
    for hour in np.arange(0.25, 24.0, 0.5):
        is_missing = 13.0 <= hour < 19.0
        at = float(hour) * HOUR_S
        assert value_at(people, at) == value_at(planned, at) - is_missing


def test_a_belt_that_stands_goes_on_as_long_again() -> None:
    """A stop without an end is taken to last as long again, at least a usual stop; one that ended,
    that cars have passed since, or that began long ago, is over."""
    stop = entry(STOP, 13.0, name="car crosswise")
    begun = read(stop, now_h=13.0)
    assert stands_until(begun, SITE) == 13.0 * HOUR_S + SITE.line.stop_median_s
    assert stands_until(read(stop, now_h=13.25), SITE) == 13.5 * HOUR_S
    stands = cast("Steps", dict(as_noted(QUESTION, read(stop, now_h=13.25)).changes)["belt_stands"])
    assert [value_at(stands, at * HOUR_S) for at in (12.9, 13.1, 13.4, 13.6)] == [0, 1, 1, 0]
    assert stands_until(read(replace(stop, lasted_s=300.0)), SITE) is None
    assert stands_until(read(stop, entry(DAMP_HOODS, 13.2, 1), now_h=13.25), SITE) is None
    assert stands_until(read(stop, now_h=13.1 + MOST_STOOD_S / HOUR_S), SITE) is None


@pytest.fixture(scope="module")
def followed() -> Followed:
    """Few sites on the demo's humid peak, planned full."""
    return Followed(QUESTION, ALWAYS_FULL, 24, 24, 24)


def told(followed: Followed, *entries: LogEntry, now_h: float = 13.25) -> NowAnswer:
    """The answer to some entries after 620 cars."""
    return advise(followed, read(entry(CARS, 13.0, 620), *entries, now_h=now_h))


def test_what_was_noted_moves_the_rest_of_the_day(followed: Followed) -> None:
    """By the model: hot dry air leaves fewer cars damp than cool humid air; with nobody to dry them
    more leave damp; a belt that stands washes fewer cars from then on. What is taken back moves
    nothing: the answer is the same to the last bit."""
    plain = told(followed)
    dry = told(followed, entry(FELT, 13.0, text="36 °C, 25 %"))
    humid = told(followed, entry(FELT, 13.0, text="24 °C, 95 %"))
    assert dry.planned.damp < plain.planned.damp < humid.planned.damp
    assert dry.felt_s == 13 * HOUR_S
    left = told(followed, entry(SOMEBODY, 13.0, word=LEFT, name="Ada"))
    assert left.missing == 1
    assert left.planned.damp > plain.planned.damp
    stands = told(followed, entry(STOP, 12.75, name="car crosswise"))
    assert stands.stands_until_s == 13.75 * HOUR_S
    assert stands.cars_left < plain.cars_left
    assert told(followed, replace(entry(FELT, 13.0, text="36 °C, 25 %"), struck="yes")) == plain


# ---- the evening before --------------------------------------------------------------------------

EVE = PEAK - timedelta(days=1)


def of_eve(*entries: LogEntry) -> tuple[LogEntry, ...]:
    """Entries of the day before."""
    return tuple(replace(one, day=EVE) for one in entries)


def asked(*entries: LogEntry, day: date = PEAK) -> Question:
    """What the demo's plan of a day asks with a log of its own."""
    data = replace(demo_data(), log=of_eve(*entries))
    return make_question(data, day, "", (Scenario("Always full"),), 1)[0]


def opening(question: Question) -> float:
    """Moisture at which its day opens [kg/kg]."""
    return question.first_day.numbers.opening_moisture


def counted(scale: float) -> LogEntry:
    """A count at closing, of so many times the cars expected."""
    evening = asked().evening
    assert evening is not None
    cars = sum(evening.conditions.arrivals_per_h)
    return entry(CARS, SITE.line.close_h, round(scale * cars))


def test_without_a_log_kept_to_closing_nothing_changes() -> None:
    """No log, a log of the day before that ends at noon, or one of another day: the question, its
    key and how its day opens are the same to the last bit."""
    bare = asked()
    assert type(bare.evening) is PreviousDay
    other = replace(demo_data(), log=(entry(CARS, SITE.line.close_h, 700),))
    for same in (
        asked(entry(CARS, 12.0, 300), entry(WIPING, 12.0, word=REDUCED)),
        make_question(other, PEAK, "", (Scenario("Always full"),), 1)[0],
    ):
        assert same == bare
        assert question_key(same) == question_key(bare)
        assert opening(same) == opening(bare)


def test_a_wet_evening_makes_a_wetter_morning() -> None:
    """By the model: half as many cars again, in air that was felt cool and saturated, leave the
    cloth wetter in the morning than expected; few cars drier; reduced wiping, or a dry set in the
    last hour, drier than full wiping of as many cars. Each is a question of its own."""
    bare, many = asked(), asked(counted(1.3))
    wet = asked(counted(1.3), entry(FELT, 10.0, text="22 °C, 100 %"))
    few = asked(counted(0.5))
    reduced = asked(counted(1.3), entry(WIPING, 9.0, word=REDUCED))
    changed = asked(counted(1.3), entry(SET_CHANGED, 19.5, name="B"))
    found = [opening(one) for one in (bare, many, wet, few, reduced, changed)]
    assert found[2] > found[1] > found[3]
    assert found[2] > found[0]
    assert found[4] < found[1]
    assert found[5] < found[1]
    assert len({question_key(one) for one in (bare, many, wet, few, reduced, changed)}) == 6
    assert many.opening_source == "followed"
    assert bare.opening_source == "evening"


def test_the_evening_has_the_cars_that_were_counted() -> None:
    """Between two counts the day has as many cars as the difference, after the last one as many
    more as before it; what was switched is its rule, a set before opening is not put on again."""
    bare = asked().evening
    assert bare is not None
    close_h = SITE.line.close_h
    log = of_eve(
        entry(CARS, 11.0, 100), entry(HOUR, 14.0, 90), entry(CARS, close_h - 0.5, 800),
        entry(WIPING, 12.0, word=REDUCED), entry(WIPING, 15.0, word="full"),
        entry(SET_CHANGED, 6.0, name="A"), entry(SET_CHANGED, 16.0, name="B"),
    )  # fmt: skip
    found = evening_as_logged(bare, log, SITE)
    assert isinstance(found, LoggedEvening)
    per_h, usual = found.conditions.arrivals_per_h, bare.conditions.arrivals_per_h
    last = HOUR_S * (close_h - 0.5)
    assert cars_until(per_h, 11 * HOUR_S) == pytest.approx(100.0)
    assert cars_until(per_h, 14 * HOUR_S) - cars_until(per_h, 13 * HOUR_S) == pytest.approx(
        (known_at(log, 14.0) - 100.0)
        * (cars_until(usual, 14 * HOUR_S) - cars_until(usual, 13 * HOUR_S))
        / (cars_until(usual, 14 * HOUR_S) - cars_until(usual, 11 * HOUR_S))
    )
    assert cars_until(per_h, last) == pytest.approx(800.0, rel=5e-3)  # its hour is evened out
    rest = sum(usual) - cars_until(usual, last)
    assert sum(per_h) == pytest.approx(800.0 + rest * 800.0 / cars_until(usual, last))
    assert (found.rule, found.sets_s) == ("clock 12:00-15:00", (16 * HOUR_S,))
    assert found.conditions.spread.day_cv == 0.0


def known_at(log: tuple[LogEntry, ...], at_h: float) -> float:
    """Cars washed until a time, as the log adds them up."""
    bare = asked().evening
    assert bare is not None
    known = so_far(log, 24 * HOUR_S, SITE, bare.conditions.arrivals_per_h)
    return float(dict(known.washed)[at_h * HOUR_S])

"""A watched day is the very day of a trace: positions, counts, moisture, as they are sent."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from itertools import accumulate
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from app.answers import planning
from app.answers.trace import trace_csv, trace_rows
from app.answers.watch import AGAIN, LEAVES_DAMP, ROUND, SEEDS, WatchCache, seed_of, series
from sim.day.draw import DayDraw
from sim.day.watched import (
    BELT,
    DRIED,
    LANE,
    LINE,
    LOADING,
    STACK,
    STANDS,
    TENTHS,
    WatchedDay,
    between,
)
from sim.day.watching import straightened
from sim.decide.compare import Question
from sim.inputs import Scenario, SiteData, Value
from tests import seeds
from tests.answers.watched_truth import Played, play
from tests.small_wash import PLANNED, small_wash

SEED = seeds.seed("watch")
WITHIN_M = 0.1
BUSY: dict[str, Value] = {
    "stack_limit_cars": 4,
    "stops_per_h": 12.0,
    "stops_per_car": 0.02,
    "speed_timetable": ((0.0, 0.25), (9.0 * 3600, 0.2)),
    "damp_rewash_share": 0.3,
    "finishers": ((0.0, 1.0),),
    "allowed_film_kg_m2": 0.006,
}
Sent = dict[str, Any]
Floats = NDArray[np.float64]
SCENARIO = Scenario("Busy", "clock 8:30-9:30", "9:15", BUSY)


@pytest.fixture(scope="module")
def data() -> SiteData:
    """A wash with more cars than it can take."""
    return small_wash(110)


@pytest.fixture(scope="module")
def question(data: SiteData) -> Question:
    """A plan whose first scenario has stops, two speeds, re-washes, a dry set and a finisher."""
    scenarios = (SCENARIO, Scenario("Full", "full"))
    return planning.make_question(data, PLANNED, "", scenarios, 1, SEED)[0]


@pytest.fixture(scope="module")
def day(question: Question) -> WatchedDay:
    """The first scenario's day as it is watched."""
    (one,) = WatchCache().days(question, [1])
    return one.day


@pytest.fixture(scope="module")
def played(data: SiteData, day: WatchedDay) -> Played:
    """The same day, played by the readable model for the command ``trace``."""
    return play(data, PLANNED, SCENARIO, day.seed)


@pytest.fixture(scope="module")
def sent(question: Question) -> Sent:
    """What the page is sent of it."""
    (found,) = series(WatchCache().days(question, [1]))
    return found


def _knots(steps: list[int]) -> tuple[Floats, Floats]:
    moves = np.cumsum(np.array(steps, dtype=float).reshape(-1, 2), axis=0)
    return moves[:, 0] / TENTHS, moves[:, 1]


def _noses(sent: Sent, at_s: float) -> Iterator[tuple[int, float]]:
    """Row and nose [m] of each car on the belt, read from nothing but what is sent."""
    moments, travel = _knots(sent["travel"])
    joins = 0
    for number, row in enumerate(sent["cars"]):
        joins += row[0]
        if len(row) == 1:
            continue
        times = [moment / TENTHS for moment in accumulate([joins, *row[1:8]])]
        if times[4] <= at_s < times[5]:
            gone = np.interp([times[4], at_s], moments, travel)
            yield number, (row[11] + gone[1] - gone[0]) / 100.0


def test_positions_as_sent_are_those_of_the_trace(
    sent: Sent, played: Played, rng: np.random.Generator
) -> None:
    """At fifty random times with cars on the belt every one stands within 0.1 m of where the
    readable model had it; the model's belt is followed in hundredths of a second."""
    last, looked, worst = played.result.closed_s, 0, 0.0
    while looked < 50:
        at = float(rng.uniform(played.here.numbers.open_s, last))
        riding = {played.result.passes.index(car): car for car in played.riding(at)}
        if not riding:
            continue
        looked += 1
        found = dict(_noses(sent, at))
        # a car that is caught or passes the wheel within a rounded tenth may be there or not
        for number in riding.keys() ^ found.keys():
            car = played.result.passes[number]
            assert min(abs(at - car.caught_s), abs(at - car.exit_s)) <= 0.5 / TENTHS + 1e-9
        for number in riding.keys() & found.keys():
            worst = max(worst, abs(found[number] - played.nose_m(riding[number], at)))
    assert len(played.result.stops) > 10
    assert worst <= WITHIN_M


def test_every_car_meets_the_wheel_where_the_trace_says(
    data: SiteData, day: WatchedDay, sent: Sent
) -> None:
    """When a car's hood meets the wheel by the trace, and when its tail leaves it, that part of the
    car is at the wheel within 0.1 m; car by car, every re-wash too."""
    text = trace_csv(trace_rows(data, PLANNED, SCENARIO, day.seed))
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == len(sent["cars"]) > 100
    assert any(row["turn"] == "2" for row in rows)
    classes = {item.key: item.numbers for item in data.site.vehicles}
    wheel = data.site.line.wheel_position_m
    for number, row in enumerate(rows):
        if row["lost"]:
            assert len(sent["cars"][number]) == 1
            continue
        at_wheel, leaves = float(row["wheel_s"]), float(row["exit_s"]) - 1.0 / TENTHS
        hood = dict(_noses(sent, at_wheel))[number] - classes[row["class"]].hood_start_m
        tail = dict(_noses(sent, leaves))[number] - float(row["length_m"])
        assert abs(hood - wheel) <= WITHIN_M
        assert abs(tail - wheel) <= WITHIN_M


def test_a_moment_counts_the_cars_of_the_trace(
    day: WatchedDay, played: Played, rng: np.random.Generator
) -> None:
    """At random times as many cars are in each place as the records say, and so far as many were
    washed, left damp and were lost; cars within a rounded tenth of a change are allowed for."""
    passes = played.result.passes
    patience = played.here.site.crew.exit_patience_s
    for at in rng.integers(day.opens, day.ends, 60):
        one, now = day.moment(int(at)), at / TENTHS
        gone = [
            car.finished_s if car.fate == "towel-finished"
            else car.exit_s + (patience if car.fate == "left damp" else 0.0)
            for car in passes
        ]  # fmt: skip
        said = {
            STACK: [(c.arrival_s, c.pay_start_s if c.turn == 1 else c.unblocked_s) for c in passes],
            LANE: [(c.pay_start_s, c.unblocked_s) for c in passes if c.turn == 1],
            LINE: [(c.unblocked_s, c.load_start_s) for c in passes],
            LOADING: [(c.load_start_s, c.caught_s) for c in passes],
            BELT: [(c.caught_s, c.exit_s) for c in passes],
            STANDS: [
                (c.exit_s, c.finish_s if c.fate == "towel-finished" else until)
                for c, until in zip(passes, gone, strict=True)
            ],
            DRIED: [(c.finish_s, c.finished_s) for c in passes],
        }
        for where, stays in said.items():
            there = sum(start <= now < end for start, end in stays)
            close = sum(abs(now - edge) <= 0.5 / TENTHS + 1e-9 for stay in stays for edge in stay)
            assert abs(one.count(where) - there) <= close, where
        leaves = [end for car, end in zip(passes, gone, strict=True) if car.fate == "left damp"]
        close = sum(abs(now - moment) <= 0.5 / TENTHS + 1e-9 for moment in leaves)
        assert abs(one.left_damp - sum(moment <= now for moment in leaves)) <= close
        stopped = any(start <= now < end for start, end in played.result.stops)
        edges = (edge for stop in played.result.stops for edge in stop)
        assert one.is_stopped == stopped or min(abs(now - edge) for edge in edges) <= 0.06
    end = day.moment(day.ends)
    assert end.came == sum(car.turn == 1 for car in passes)
    assert end.lost == sum(bool(car.lost) for car in passes) > 0
    assert end.washed == sum(not car.lost and car.fate != "re-washed" for car in passes)
    assert end.left_damp == sum(car.fate == "left damp" for car in passes) > 0
    assert end.before_the_belt == end.at_the_exit == end.count(BELT) == 0


def test_a_finisher_dries_a_car_when_the_trace_says(day: WatchedDay, played: Played) -> None:
    """A car that waits at the exit for a finisher stands there until the records say, and is gone
    when it is dry."""
    dried = [
        (car, one)
        for car, one in zip(day.cars, played.result.passes, strict=True)
        if one.fate == "towel-finished"
    ]
    assert any(one.finish_s > one.exit_s + 1.0 for _car, one in dried)
    for car, one in dried:
        told = [moment / TENTHS for moment in car.times[5:]]
        assert told == pytest.approx([one.exit_s, one.finish_s, one.finished_s], abs=0.051)


def test_the_strips_are_as_wet_as_cars_find_them(day: WatchedDay, played: Played) -> None:
    """When a car meets the wheel, the drawn strips hold within 1.5 % what the trace says the cloth
    held, a dry set put on at 9:15 included."""
    holding = played.here.numbers.cloth.holding
    off = [
        abs(between(day.wet, TENTHS * car.wheel_s) / 1000.0 - car.moisture_before / holding)
        for car in played.result.passes
        if not car.lost
    ]
    assert max(off) <= 0.015
    before, after = (day.moment(round(TENTHS * at)).wet for at in (33_200, 33_500))
    assert played.result.sets_changed == 1
    assert after < 0.7 * before


def test_a_straightened_line_keeps_to_its_points(rng: np.random.Generator) -> None:
    """Random lines with jumps lose most of their points, and none lies further off than allowed."""
    for _round in range(20):
        count = 300
        at = np.cumsum(rng.integers(0, 4, count)).astype(float)
        value = np.cumsum(rng.normal(0.0, 3.0, count)) + 60.0 * (rng.random(count) < 0.02)
        points = list(zip(at.tolist(), value.tolist(), strict=True))
        found = straightened(points, 10.0)
        assert found[0] == points[0]
        assert found[-1] == points[-1]
        assert len(found) < count / 3
        for moment, height in points:
            ends = [kept for kept in found if kept[0] == moment]
            held = [one[1] for one in ends] or [
                float(np.interp(moment, [p[0] for p in found], [p[1] for p in found]))
            ]
            low, high = min(held), max(held)
            assert low - 10.0 - 1e-9 <= height <= high + 10.0 + 1e-9


def test_the_day_is_about_as_busy_as_expected(question: Question, day: WatchedDay) -> None:
    """Of the seeds tried that one is taken whose cars are nearest to those expected; the same one
    for every scenario, so that the same cars come."""
    here, expected = question.first_day, sum(question.conditions.arrivals_per_h)
    off = {
        seed: abs(len(here.replication(DayDraw(seed, 0)).cars.arrival_s) - expected)
        for seed in range(SEED, SEED + SEEDS)
    }
    assert off[seed_of(question)] == min(off.values())
    first, second = WatchCache().days(question, [1, 2])
    assert first.day.seed == second.day.seed == day.seed
    came = [[car.joins for car in one.day.cars if not car.is_again] for one in (first, second)]
    assert came[0] == came[1]
    assert first.day.wet != second.day.wet


def test_a_day_is_played_once(question: Question, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked for again, a day comes from memory, which holds no more than the last eight."""
    cache = WatchCache()
    first = cache.days(question, [1])
    with monkeypatch.context() as patch:
        patch.setattr("app.answers.watch._play", lambda _asked: pytest.fail("played again"))
        assert cache.days(question, [1])[0].day is first[0].day
    monkeypatch.setattr(WatchCache, "DAYS", 1)
    cache.days(question, [2])
    assert len(cache._kept) == 1


def test_what_is_said_of_a_car_is_sent(day: WatchedDay, sent: Sent) -> None:
    """Its second pass, that it goes round and that it leaves damp are told by its last number."""
    for bit, name in ((AGAIN, "is_again"), (ROUND, "goes_round"), (LEAVES_DAMP, "leaves_damp")):
        told = [len(row) > 1 and bool(row[-1] & bit) for row in sent["cars"]]
        assert told == [getattr(car, name) for car in day.cars]
        assert any(told)

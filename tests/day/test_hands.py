"""Hands at the exit: cars that stand for a finisher, by hand and by theory, in both models.

Both models' own functions are handed damp cars as they see them, without a line before them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from sim.day.apron import Apron, Process
from sim.day.kernel import UNUSED, figures, run_day, tallies_by_hands
from sim.day.kernel import tables as r
from sim.day.kernel.hands import PLAN_TALLY, HandPlans, dry_by_hand
from sim.day.kernel.many import TALLY
from sim.day.kernel.tables import Day, empty_rows, empty_wiped, make_car_table, make_tables
from sim.day.records import LEFT, CarPass
from sim.day.rules import FULL, REDUCED, parse_changes, parse_rule
from sim.day.setup import DayNumbers, prepare_day
from sim.inputs import Site, Steps, Value
from tests.day.sites import SiteDay, conditions, hand_made_cars, site_days
from tests.queue_sites import hold
from tests.seeds import generator
from tests.sizes import size_now

Floats = NDArray[np.float64]
OPEN_S = 7 * 3600.0
SEDAN = 1
BOTH, WINDSHIELD = (1.0, 0.0), (0.0, 1.0)
"""Where the water of a car is: shares of it on hood and windshield."""


def apron_of(values: dict[str, Value]) -> tuple[Site, DayNumbers]:
    """A site whose finishers take a second for each gram, and call every wet zone damp."""
    fixed: dict[str, Value] = {
        "people": ((0.0, 30.0),), "finish_area_s_m2": 0.0, "finish_film_s_kg": 1000.0,
    }  # fmt: skip
    site = Site("Apron").with_values({**fixed, **values})
    return site, replace(prepare_day(site, conditions()), allowed_film=0.0)


def simulated(
    site: Site, day: DayNumbers, exits: Floats, films: Floats, members: Sequence[bool]
) -> list[tuple[float, float]]:
    """When each car is dried in the SimPy model, NaN for one that leaves damp; films by zone."""
    cars = replace(hand_made_cars(tuple(exits), (0.0,) * len(exits)), member=np.array(members))
    env = simpy.Environment(initial_time=day.open_s)
    apron = Apron(env, site, day, cars)
    passes = [CarPass(at, 1, one, SEDAN, 4.85, False) for at, one in enumerate(exits.tolist())]

    def come() -> Process:
        for car, (hood, windshield) in zip(passes, films.tolist(), strict=True):
            yield env.timeout(car.arrival_s - env.now)
            car.film_left = (hood, windshield, math.nan, math.nan)
            apron.stand(car)

    env.process(come())
    env.run()
    assert all((car.fate == LEFT) == math.isnan(car.finish_s) for car in passes)
    return [(car.finish_s, car.finished_s) for car in passes]


def compiled(
    site: Site, day: DayNumbers, exits: Floats, films: Floats, members: Sequence[bool]
) -> list[tuple[float, float]]:
    """The same by the function of the compiled day."""
    count = len(exits)
    tables = make_tables(site, day)
    cars = replace(hand_made_cars(tuple(exits), (0.0,) * count), member=np.array(members))
    rows, wiped = empty_rows(count), empty_wiped(count, 0, (0, 0, 0))
    rows.counts[:] = count
    rows.order[:] = rows.line[:, r.CAR] = np.arange(count)
    rows.times[:, r.EXIT] = exits
    wiped.marks[:, r.FATE] = r.LEAVES
    wiped.marks[:, r.HOOD_WET] = films[:, 0] > 0.0
    wiped.hands[:, r.TAKES] = (tables.cloth.by_hand_s[SEDAN, :, 1] * films).sum(axis=1)
    made = Day(
        UNUSED, UNUSED, UNUSED, tables.hands, make_car_table(cars), UNUSED, UNUSED, rows, wiped
    )
    dry_by_hand(made, tables.hands.from_s, tables.hands.people)
    return [(begin, end) for begin, end in wiped.hands[:, [r.BEGUN, r.DONE]].tolist()]


def dried(
    exits: Sequence[float] | Floats,
    work_s: Sequence[float] | Floats,
    finishers: Steps = ((0.0, 1.0),),
    patience_s: float = 20.0,
    order: str = "first",
    members: Sequence[bool] = (),
    where: Sequence[tuple[float, float]] = (),
) -> list[float]:
    """When each car's drying begins [s after opening], NaN for none; the same in both models.

    Args:
        exits: when cars come out [s after opening]; work_s: how long each takes.
    """
    table = tuple((moment + OPEN_S if moment else 0.0, people) for moment, people in finishers)
    site, day = apron_of({"finishers": table, "exit_patience_s": patience_s, "finish_order": order})
    moments, work = OPEN_S + np.asarray(exits, float), np.asarray(work_s, float)
    zones = np.array(where or [BOTH] * len(moments))
    areas = np.array([zone.area_m2 for zone in day.zones[SEDAN]][:2])
    films = zones * work[:, None] / (1000.0 * areas)
    some = members or [False] * len(moments)
    first = simulated(site, day, moments, films, some)
    second = compiled(site, day, moments, films, some)
    assert np.allclose(first, second, rtol=0.0, atol=1e-6, equal_nan=True)
    for (begin, end), takes in zip(first, work.tolist(), strict=True):
        assert math.isnan(begin) or end - begin == pytest.approx(takes)
    return [begin - OPEN_S for begin, _ in first]


NONE = math.nan


def is_told(found: Sequence[float], *wanted: float) -> None:
    """Times are these, NaN for none."""
    assert found == pytest.approx(list(wanted), abs=1e-6, nan_ok=True)


def test_nobody_there_dries_nobody() -> None:
    """Without a finisher every damp car drives off damp."""
    is_told(dried([0, 10], [30, 30], ((0.0, 0.0),)), NONE, NONE)


def test_a_car_waits_as_long_as_it_may() -> None:
    """One finisher, half a minute a car, twenty seconds' patience: the second comes too early, the
    third meets them free within its time, the fourth finds them free at once."""
    is_told(dried([0, 5, 12, 100], [30] * 4), 0, NONE, 30, 100)


def test_a_finisher_free_at_the_last_moment_takes_the_car() -> None:
    """Free at the very second at which it would drive off: the car is dried; half a second later it
    is not. Without patience, free at the very second at which it comes."""
    is_told(dried([0, 10], [30, 10]), 0, 30)
    is_told(dried([0, 10], [30.5, 10]), 0, NONE)
    is_told(dried([0, 30, 59.5], [30] * 3, patience_s=0.0), 0, 30, NONE)


def test_whose_turn_it_is() -> None:
    """Of three that wait the first, a member or the one with a damp hood goes first, by order."""
    exits, work = [0, 5, 8, 11], [30, 10, 10, 10]
    members = [False, False, False, True]
    where = [BOTH, WINDSHIELD, BOTH, WINDSHIELD]
    by = partial(dried, exits, work, patience_s=60.0, members=members, where=where)
    is_told(by(order="first"), 0, 30, 40, 50)
    is_told(by(order="members"), 0, 40, 50, 30)
    is_told(by(order="hood"), 0, 40, 30, 50)


def test_whoever_waits_goes_before_whoever_comes() -> None:
    """A member who comes as a finisher becomes free is not yet among those that wait."""
    found = dried([0, 5, 30], [30] * 3, order="members", members=[False, False, True])
    is_told(found, 0, NONE, 30)
    found = dried([0, 12, 30], [30] * 3, order="members", members=[False, False, True])
    is_told(found, 0, 30, NONE)


def test_finishers_come_and_go_at_their_very_times() -> None:
    """Who comes takes those that wait at once; who goes finishes the car, and takes no other."""
    is_told(dried([0, 5], [30, 30], ((0.0, 0.0), (20.0, 2.0))), 20, 20)
    is_told(dried([0, 25, 70], [30, 30, 30], ((0.0, 1.0), (10.0, 0.0), (80.0, 1.0))), 0, NONE, 80)
    # of two who work one leaves in between: one place is free for the next car, not two
    two = ((0.0, 2.0), (10.0, 1.0))
    is_told(dried([0, 1, 25, 26], [30, 60, 30, 30], two, patience_s=60.0), 0, 1, 61, NONE)


def test_those_of_closing_time_stay_until_the_last_car() -> None:
    """Who is there as the site closes, or comes at that moment, is there for cars after it; a later
    row of the timetable is of no day."""
    closes = 13 * 3600.0
    table = ((0.0, 0.0), (closes, 1.0), (closes + 60.0, 0.0))
    is_told(dried([closes - 30.0, closes + 10.0, closes + 90.0], [30] * 3, table),
            NONE, closes + 10.0, closes + 90.0)  # fmt: skip


def erlang_b(finishers: int, load: float) -> float:
    """Share that finds all servers busy, whatever the law of service times (Erlang 1917)."""
    return float(stats.poisson.pmf(finishers, load) / stats.poisson.cdf(finishers, load))


def impatient(finishers: int, load: float, patience: float) -> float:
    """Share lost of M/M/c whose customers wait a fixed time at most, in means of service.

    Barrer 1957, Queuing with impatient customers and ordered service, Operations Research
    5:650–656; Gnedenko and Kovalenko, Introduction to Queueing Theory; both from memory. The wait
    that is offered has the density a·p·exp((a − c)x) up to the patience D and falls by c from there
    on, where p is the chance of c − 1 customers; whoever is offered more than D is lost.
    """
    states = [load**n / math.factorial(n) for n in range(finishers)]
    grows = load - finishers
    waits = patience if grows == 0.0 else math.expm1(grows * patience) / grows
    beyond = math.exp(grows * patience) / finishers
    total = sum(states) + load * states[-1] * (waits + beyond)
    return load * states[-1] * beyond / total


MEAN_S, WARM_UP, REPLICATIONS, CARS = 40.0, 60, 30, 1_500


def shares_left(
    name: str, finishers: int, load: float, patience_s: float, *, exponential: bool
) -> list[float]:
    """Shares of damp cars that leave damp, of independent replications with Poisson cars."""
    found = []
    for number in range(REPLICATIONS):
        rng = generator(f"{name} {finishers} {number}")
        exits = np.cumsum(rng.exponential(MEAN_S / load, CARS))
        if exponential:
            work = rng.exponential(MEAN_S, CARS)
        else:
            # a law of our own: three cars of four quick, the fourth long; 40 s in the mean
            work = np.where(rng.random(CARS) < 0.75, 20.0, 100.0)
        begun = dried(exits, work, ((0.0, float(finishers)),), patience_s)
        found.append(float(np.mean(np.isnan(begun[WARM_UP:]))))
    return found


@pytest.mark.parametrize("finishers", [1, 2, 4])
def test_without_patience_cars_leave_damp_by_erlangs_loss(finishers: int) -> None:
    """Poisson cars that wait for nobody: Erlang's formula, for times of a law of our own; that of
    one finisher more fails."""
    load = 1.2 * finishers
    shares = shares_left("loss", finishers, load, 0.0, exponential=False)
    verdict = hold(erlang_b(finishers, load), shares)
    assert verdict.tight, verdict
    assert verdict.inside, verdict
    assert not hold(erlang_b(finishers + 1, load), shares).inside


@pytest.mark.parametrize("finishers", [1, 2, 4])
def test_with_patience_cars_leave_damp_by_barrers_loss(finishers: int) -> None:
    """Poisson cars, exponential times, half a mean of patience: Barrer's formula; that of a fifth
    of it fails."""
    load = 1.5 * finishers
    shares = shares_left("patience", finishers, load, 0.5 * MEAN_S, exponential=True)
    verdict = hold(impatient(finishers, load, 0.5), shares)
    assert verdict.tight, verdict
    assert verdict.inside, verdict
    assert not hold(impatient(finishers, load, 0.1), shares).inside


def test_the_two_formulas_meet() -> None:
    """Without patience Barrer's loss is Erlang's; without end, one server over load loses what is
    above it."""
    for finishers, load in ((1, 0.5), (2, 2.0), (4, 4.8), (7, 5.0)):
        assert impatient(finishers, load, 0.0) == pytest.approx(erlang_b(finishers, load))
    assert impatient(2, 3.0, 50.0) == pytest.approx(1.0 / 3.0)


PLANS = ((0, 0, 0), (1, 1, 1), (0, 3, 1), (5, 0, 20))


@settings(max_examples=size_now(small=20, full=200))
@given(world=site_days(), changes=st.sampled_from(("", "8:00")))
def test_timetables_on_one_wiped_day_are_days_of_their_own(world: SiteDay, changes: str) -> None:
    """What a timetable does with a rule's wiped day is what a site with those finishers sees; the
    site's own are not touched by the others that were tried."""
    sets = parse_changes(changes, world.site.wear.sets_owned)
    day, cars = world.parts()
    rules = [parse_rule(world.rule), FULL, REDUCED]
    middle = 0.5 * (day.open_s + day.close_s)
    edges = (day.open_s, middle, middle + 900.0)
    plans = HandPlans(np.array(edges), np.array(PLANS, np.int64))
    found, by_plan = tallies_by_hands(world.site, day, cars, rules, plans, sets)
    assert by_plan.shape == (len(rules), len(PLANS), len(PLAN_TALLY))
    for at, rule in enumerate(rules):
        alone = figures(world.site, day, cars, rule, sets).day
        got = dict(zip(TALLY, found[at].tolist(), strict=True))
        for name in ("left_damp", "finished_cars"):
            assert got[name] == alone[name]
        for plan, row in zip(PLANS, by_plan[at].tolist(), strict=True):
            table = tuple(zip(edges, map(float, plan), strict=True))
            values: dict[str, Value] = {"finishers": ((0.0, float(plan[0])), *table[1:])}
            site = world.site.with_values(values)
            passes = run_day(site, day, cars, rule, sets).passes
            left = [car.car for car in passes if car.fate == LEFT]
            work = [car.finished_s - car.finish_s for car in passes]
            done = [one for one in work if not math.isnan(one)]
            wanted = {
                "left_damp": len(left),
                "finished_cars": len(done),
                "finishing_s": sum(done),
                "left_damp_members": sum(bool(cars.member[car]) for car in left),
            }
            assert dict(zip(PLAN_TALLY, row, strict=True)) == pytest.approx(wanted, abs=1e-6)

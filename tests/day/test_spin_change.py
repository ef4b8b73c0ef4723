"""The wheel between two cars: it changes its speed in the belt's time, and what that does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from sim.day.draw import DayCars
from sim.day.kernel import run_day
from sim.day.records import DayResult
from sim.day.rules import FULL, REDUCED, Rule
from sim.day.setup import CONTACT, IDLE, STILL, DayNumbers, prepare_day
from sim.day.tunnel import simulate_day
from sim.day.wheel_cloth import WheelCloth
from sim.inputs import Site, Value
from sim.physics.moisture import cloth_step
from sim.physics.water_film import film_at_wheel
from tests.day.sites import conditions, hand_made_cars
from tests.physics.reference import Stretch, solve

OPEN = 7 * 3600.0
NAMED: dict[str, Value] = {
    "throw_off_time_s": 240.0,
    "throw_off_moisture_kg_kg": 0.3,
    "idle_wear_per_h": 60.0,
    "stops_per_h": 0.0,
    "stops_per_car": 0.0,
}
DAY = conditions(opening=1.2)
Model = Callable[[Site, DayNumbers, DayCars, Rule], DayResult]


def site(**values: Value) -> Site:
    """A site whose wheel throws off markedly within minutes."""
    return Site("Spin").with_values({**NAMED, **values})


@dataclass
class Wheel:
    """A cloth on a wheel, and when each contact ends."""

    site: Site
    day: DayNumbers
    cloth: WheelCloth

    def car(self, at_s: float) -> float:
        """Wipe a sedan in full from a moment on; when its last contact ends [s]."""
        speed = self.site.line.conveyor_speed_m_s
        self.cloth.advance(at_s, touching=False)
        now = at_s
        for zone in self.day.zones[1]:
            film = film_at_wheel(zone.factor, 0.1, 0.7, 0.25, 0.5, speed, 1.0)
            self.cloth.wipe(film, zone.area_m2, zone.wiped_m, speed)
            now += zone.wiped_m / speed
            self.cloth.advance(now, touching=True)
        return now


def wheel(at: Site, *stops: tuple[float, float]) -> Wheel:
    """A wheel at opening of a day with belt stops."""
    day = prepare_day(at, DAY)
    return Wheel(at, day, WheelCloth(at, day, list(stops)))


def solved(day: DayNumbers, moisture: float, pieces: list[tuple[float, int]]) -> float:
    """Moisture after pieces of so many seconds in a state, by a general solver of ODEs."""
    cloth, now = day.cloth, moisture
    for span, state in pieces:
        limit, k = cloth.throw[state]
        rate = cloth.rate[7][state]
        now = solve(Stretch(now, span, limit, k, rate, cloth.critical, cloth.bound)).values[0]
    return now


GAPS = {
    "short": (4.0, (), "off", [(4.0, CONTACT)]),
    "long": (100.0, (), "off", [(6.0, CONTACT), (94.0, IDLE)]),
    "a stop before": (50.0, ((0.0, 20.0),), "off", [(20.0, STILL), (6.0, CONTACT), (24.0, IDLE)]),
    "a stop within": (
        50.0,
        ((2.0, 12.0),),
        "off",
        [(2.0, CONTACT), (10.0, STILL), (4.0, CONTACT), (34.0, IDLE)],
    ),
    "it idles in the stop": (
        50.0,
        ((2.0, 12.0),),
        "idle",
        [(2.0, CONTACT), (10.0, IDLE), (4.0, CONTACT), (34.0, IDLE)],
    ),
    "two stops within": (
        30.0,
        ((1.0, 4.0), (6.0, 9.0)),
        "off",
        [(1.0, CONTACT), (3.0, STILL), (2.0, CONTACT), (3.0, STILL), (3.0, CONTACT), (18.0, IDLE)],
    ),
    "a stop after": (40.0, ((30.0, 40.0),), "off", [(6.0, CONTACT), (24.0, IDLE), (10.0, STILL)]),
}
"""Length of a gap [s], stops after its start [s], the wheel in a stop, and its pieces by hand."""


@pytest.mark.parametrize("name", GAPS)
def test_the_cloth_in_a_gap_is_what_a_solver_makes_of_its_pieces(name: str) -> None:
    """With 3 s each way the first 6 s of the belt's time are at contact speed, a stop freezes the
    rest of them, and moisture equals that of a general solver of differential equations over
    pieces written down by hand, to 1e-9; so does the wear of spinning, by hand."""
    gap_s, stops, in_stop, pieces = GAPS[name]
    at = site(spin_change_s=3.0, wheel_during_stop=in_stop, idle_wear_speed_exponent=2.0)
    ends = wheel(at).car(OPEN)
    tried = wheel(at, *((ends + start, ends + end) for start, end in stops))
    assert tried.car(OPEN) == ends
    moisture, worn = tried.cloth.moisture, tried.cloth.day_wear_cars
    tried.cloth.advance(ends + gap_s, touching=False)
    assert tried.cloth.moisture == pytest.approx(solved(tried.day, moisture, pieces), abs=1e-9)
    assert sum(span for span, _ in pieces) == gap_s
    # 60 equivalents an hour at 1.5 rev/s; at 0.9 the square of the ratio of speeds
    per_s = {IDLE: 60.0 / 3600.0, CONTACT: (0.9 / 1.5) ** 2 * 60.0 / 3600.0, STILL: 0.0}
    by_hand = sum(span * per_s[state] for span, state in pieces)
    assert tried.cloth.day_wear_cars - worn == pytest.approx(by_hand)


def test_the_wheel_idles_at_opening() -> None:
    """Until the first car the wheel has its idle speed, however slowly it changes it."""
    found = wheel(site(spin_change_s=60.0))
    found.cloth.advance(OPEN + 50.0, touching=False)
    wanted = solved(found.day, 1.2, [(50.0, IDLE)])
    assert found.cloth.moisture == pytest.approx(wanted, abs=1e-9)


def test_without_a_change_of_speed_each_gap_is_one_step_at_idle_speed() -> None:
    """Where the change takes no time the cloth is, to the last bit, that of contacts and idling
    alone, one step each."""
    found = wheel(site(spin_change_s=0.0))
    cloth, day = found.cloth, found.day
    now = OPEN
    for gap_s in (3.0, 40.0, 250.0):
        ends = found.car(now)
        limit, k = day.cloth.throw[IDLE]
        after = cloth_step(
            cloth.moisture, (ends + gap_s) - ends, limit, k,
            day.cloth.rate[7][IDLE], day.cloth.critical, day.cloth.bound,
        )[0]  # fmt: skip
        now = ends + gap_s
        cloth.advance(now, touching=False)
        assert cloth.moisture == after


def day_of(at: Site, apart_s: float = 40.0, count: int = 40) -> DayResult:
    """A compiled day of sedans that come so long after one another."""
    times = tuple(OPEN + apart_s * number for number in range(count))
    cars = hand_made_cars(times, (0.0,) * count)
    return run_day(at, prepare_day(at, DAY), cars, FULL)


def test_a_change_longer_than_every_gap_never_idles() -> None:
    """A wheel that never gets to its idle speed between cars is one that idles at contact speed:
    the cloth is as wet before every car and as worn after the last, to 1e-12."""
    never = wheel(site(spin_change_s=60.0))
    lazy = wheel(site(spin_change_s=0.0, idle_speed_rev_s=0.9))
    quick = wheel(site(spin_change_s=0.0))
    now, met = OPEN, []
    for gap_s in (5.0, 90.0, 30.0, 119.0, 60.0):
        ends = [each.car(now) for each in (never, lazy, quick)]
        now = ends[0] + gap_s
        for each in (never, lazy, quick):
            each.cloth.advance(now, touching=False)
        met.append([each.cloth.moisture for each in (never, lazy, quick)])
    slow, idle, _ = np.array(met).T
    assert slow == pytest.approx(idle, abs=1e-12)
    assert never.cloth.day_wear_cars == pytest.approx(lazy.cloth.day_wear_cars, abs=1e-12)
    assert met[-1][0] > met[-1][2] + 0.05


def test_where_both_speeds_are_the_same_their_change_makes_no_difference() -> None:
    """A wheel that idles at its contact speed has nothing to change."""
    same = [
        day_of(site(contact_speed_rev_s=1.5, spin_change_s=change)) for change in (0.0, 3.0, 60.0)
    ]
    for other in same[1:]:
        assert other.closing_moisture == pytest.approx(same[0].closing_moisture, abs=1e-12)
        assert other.wear_cars == pytest.approx(same[0].wear_cars, abs=1e-9)


def test_a_slower_change_leaves_more_water_in_the_cloth() -> None:
    """The longer the wheel takes to run up and down, the wetter the cloth on a busy day."""
    wet = [
        max(car.moisture_before for car in day_of(site(spin_change_s=change)).passes[-5:])
        for change in (0.0, 1.0, 3.0, 8.0, 30.0)
    ]
    assert wet == sorted(wet)
    assert wet[-1] > wet[0] + 0.05


@pytest.mark.parametrize("model", [simulate_day, run_day])
@pytest.mark.parametrize("rule", [FULL, REDUCED])
def test_from_closing_on_the_wheel_idles(model: Model, rule: Rule) -> None:
    """A last car that leaves just before closing does not keep the wheel slow after it: until
    then it turns at contact speed and idles from then on, as a general solver has it."""
    at = site(spin_change_s=60.0, close_spin_s=600.0)
    day = prepare_day(at, DAY)
    cars = hand_made_cars((day.close_s - 200.0,), (0.0,))
    found = model(at, day, cars, rule)
    (car,) = found.passes
    wiped_m = sum(at.vehicles[1].wiped_m[: 2 if car.reduced else 4])
    contact_ends = car.wheel_s + wiped_m / at.line.conveyor_speed_m_s
    assert 0.0 < day.close_s - contact_ends < 120.0
    pieces = [(day.close_s - contact_ends, CONTACT), (600.0, IDLE)]
    wanted = solved(day, car.moisture_after, pieces)
    assert found.closing_moisture == pytest.approx(wanted, abs=1e-9)
    assert found.rest_s == day.close_s + 600.0


def test_a_wheel_locked_out_keeps_its_change_for_later() -> None:
    """While a set is changed the wheel stands; what was left of the change follows, as a general
    solver has it."""
    found = wheel(site(spin_change_s=3.0))
    ends = found.car(OPEN)
    found.cloth.advance(ends + 2.0, touching=False)
    found.cloth.change_set(ends + 2.0, 300.0)
    fresh = found.cloth.moisture
    found.cloth.advance(ends + 350.0, touching=False)
    wanted = solved(found.day, fresh, [(300.0, STILL), (4.0, CONTACT), (44.0, IDLE)])
    assert found.cloth.moisture == pytest.approx(wanted, abs=1e-9)

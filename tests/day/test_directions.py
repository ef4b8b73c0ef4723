"""Which way the cloth must move: a fixed sequence of wipes, paired draws, wear held."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.day.setup import DayNumbers, prepare_day
from sim.day.wheel_cloth import WheelCloth
from sim.inputs import Conditions, Site, Value
from sim.physics.water_film import film_at_wheel, wipe_zone, wiping_share
from tests.day.sites import conditions, number
from tests.sizes import size_now

EXAMPLES = size_now(small=60, full=1_000)
HAIR = 1e-12
OPEN = 7 * 3600.0
HELD: dict[str, Value] = {
    "idle_wear_per_h": 0.0,
    "uptake_loss_at_life": 0.0,
    "damp_rewash_share": 0.0,
}


@dataclass(frozen=True, slots=True)
class Wipe:
    """A car at the wheel: when its hood meets it [s], factor on its film, wiped in full or not."""

    at_s: float
    noise: float
    full: bool


def sequence(day: DayNumbers, site: Site, wipes: list[Wipe]) -> list[float]:
    """Saturation just before each car, all sedans."""
    cloth = WheelCloth(site, day, [])
    speed = site.line.conveyor_speed_m_s
    found = []
    for wipe in wipes:
        cloth.advance(wipe.at_s, touching=False)
        found.append(cloth.saturation)
        now = wipe.at_s
        for zone in day.zones[1][: 4 if wipe.full else 2]:
            film = film_at_wheel(zone.factor, 0.1, 0.7, 0.25, 0.5, speed, wipe.noise)
            cloth.wipe(film, zone.area_m2, zone.wiped_m, speed)
            now += zone.wiped_m / speed
            cloth.advance(now, touching=True)
    return found


@st.composite
def wipes(draw: st.DrawFn) -> list[Wipe]:
    """Up to 40 cars, each at least 27 s after the one before, so that no two overlap."""
    rows, now = [], OPEN
    for _ in range(draw(st.integers(2, 40))):
        now += 27.0 + draw(number(0.0, 900.0))
        rows.append(Wipe(now, draw(number(0.3, 3.0)), draw(st.booleans())))
    return rows


@st.composite
def sites(draw: st.DrawFn) -> Site:
    """A site whose contact speed is not above its idle speed."""
    idle = draw(number(0.5, 2.0))
    values: dict[str, Value] = {
        **HELD,
        "idle_speed_rev_s": idle,
        "contact_speed_rev_s": 0.5 + draw(number(0.0, 1.0)) * (idle - 0.5),
        "spin_change_s": draw(st.sampled_from((0.0, 3.0, 30.0))),
        "strip_count": draw(st.sampled_from((20, 60, 200))),
        "throw_off_time_s": draw(number(120.0, 7200.0)),
        "throw_off_moisture_kg_kg": draw(number(0.05, 1.5)),
        "critical_moisture_kg_kg": draw(number(0.05, 1.5)),
        "tunnel_humid_share": draw(number(0.0, 0.95)),
    }
    return Site("Directions").with_values(values)


def never_above(lower: list[float], upper: list[float]) -> bool:
    """Whether one row of saturations is nowhere above another."""
    return bool(np.all(np.array(lower) <= np.array(upper) + HAIR))


def run(site: Site, rows: list[Wipe], day: Conditions) -> list[float]:
    """Saturations of a sequence on a site and day."""
    return sequence(prepare_day(site, day), site, rows)


@settings(max_examples=EXAMPLES)
@given(site=sites(), rows=wipes(), temp=number(1.0, 40.0), humid=number(0.1, 0.9))
def test_hotter_or_drier_air_never_makes_the_cloth_wetter(
    site: Site, rows: list[Wipe], temp: float, humid: float
) -> None:
    """At equal relative humidity hotter air, at equal temperature drier air: nowhere wetter."""
    here = run(site, rows, conditions(temp_c=temp, humidity=humid))
    hotter = run(site, rows, conditions(temp_c=temp + 5.0, humidity=humid))
    drier = run(site, rows, conditions(temp_c=temp, humidity=humid - 0.05))
    assert never_above(hotter, here)
    assert never_above(drier, here)


@settings(max_examples=EXAMPLES)
@given(site=sites(), rows=wipes(), which=st.data())
def test_wiping_a_car_reduced_never_makes_the_cloth_wetter(
    site: Site, rows: list[Wipe], which: st.DataObject
) -> None:
    """One car wiped reduced instead of in full: nowhere wetter after it."""
    index = which.draw(st.integers(0, len(rows) - 1))
    full = [replace(row, full=True) if n == index else row for n, row in enumerate(rows)]
    less = [replace(row, full=False) if n == index else row for n, row in enumerate(rows)]
    assert never_above(run(site, less, conditions()), run(site, full, conditions()))


@settings(max_examples=EXAMPLES)
@given(site=sites(), rows=wipes(), factor=number(0.3, 1.0))
def test_more_throw_off_never_makes_the_cloth_wetter(
    site: Site, rows: list[Wipe], factor: float
) -> None:
    """A shorter time constant or a lower moisture where throw-off ends: nowhere wetter."""
    wheel, bound = site.wheel, site.drying.bound_moisture_kg_kg
    faster = site.with_values({"throw_off_time_s": wheel.throw_off_time_s * factor})
    lower = max(2 * bound, wheel.throw_off_moisture_kg_kg * factor)
    further = site.with_values({"throw_off_moisture_kg_kg": lower})
    here = run(site, rows, conditions())
    assert never_above(run(faster, rows, conditions()), here)
    if lower <= wheel.throw_off_moisture_kg_kg:
        assert never_above(run(further, rows, conditions()), here)


@settings(max_examples=EXAMPLES)
@given(site=sites(), rows=wipes(), change_s=number(0.0, 60.0))
def test_a_wheel_that_changes_its_speed_sooner_never_makes_the_cloth_wetter(
    site: Site, rows: list[Wipe], change_s: float
) -> None:
    """A shorter change of speed: nowhere wetter."""
    slow = site.with_values({"spin_change_s": change_s})
    quick = site.with_values({"spin_change_s": 0.5 * change_s})
    assert never_above(run(quick, rows, conditions()), run(slow, rows, conditions()))


@settings(max_examples=EXAMPLES)
@given(site=sites(), rows=wipes(), which=st.data())
def test_one_more_car_never_makes_the_cloth_drier(
    site: Site, rows: list[Wipe], which: st.DataObject
) -> None:
    """With one car left out, every other car meets cloth that is nowhere wetter."""
    index = which.draw(st.integers(0, len(rows) - 1))
    with_it = run(site, rows, conditions())
    without = run(site, rows[:index] + rows[index + 1 :], conditions())
    assert never_above(without, with_it[:index] + with_it[index + 1 :])


@settings(max_examples=EXAMPLES)
@given(
    film=number(0.005, 0.2), moisture=number(0.0, 2.2), speed=number(0.06, 0.5),
    slower=number(0.2, 0.999),
)  # fmt: skip
def test_a_slower_belt_removes_more_from_each_car(
    film: float, moisture: float, speed: float, slower: float
) -> None:
    """At the same cloth and the same film at the wheel a slower belt leaves less film."""
    left = [
        wipe_zone(moisture, film, 1.5, wiping_share(0.92, 0.5, v, 0.8), 2.2, 20.0)[2]
        for v in (speed * slower, speed)
    ]
    assert left[0] <= left[1] + HAIR * film


def test_the_sequence_does_wet_the_cloth() -> None:
    """The sequences above are not trivial: a row of close cars wets the cloth markedly."""
    rows = [Wipe(OPEN + 30.0 * n, 1.0, True) for n in range(1, 60)]
    found = run(Site("Wet").with_values(HELD), rows, conditions(opening=0.1))
    assert found[-1] > found[0] + 0.05
    assert found[-1] == pytest.approx(max(found), rel=0.05)

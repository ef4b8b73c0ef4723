"""Cues that a crew can see: what it reads, when it acts, and what they are without any error.

No published values: what must come out follows from the written rule of `sim.day.rules`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim.day.crew import MOST_ACTS, MOST_HOODS, MOST_LOOKS, CrewDay, late_windows
from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import figures, tallies
from sim.day.kernel.many import TALLY
from sim.day.records import DayResult
from sim.day.rules import FULL, Band, Rule, RuleState, parse_rule
from sim.day.setup import prepare_day
from sim.inputs import Site, Value
from tests.day.agreement import Case, all_differences
from tests.day.sites import conditions, hand_made_cars, prompt_crew
from tests.day.test_kernel import demo_case
from tests.day.tied import OPEN_S, gridded_site

SITE = Site("Cues")
START = 8 * 3600.0


def decided(text: str, hoods: list[float], crew: CrewDay, saturation: float = 0.3) -> list[bool]:
    """Decisions of a rule on cars whose hoods meet the wheel at these times."""
    state = RuleState(parse_rule(text), ["sedan"], crew)
    return [state.reduced(hood, saturation, 0, False) for hood in hoods]


def flow(every_s: float, count: int, start_s: float = START) -> list[float]:
    """Cars at one interval."""
    return [start_s + every_s * i for i in range(count)]


def prompt(case: Case) -> Case:
    """A case with a crew without delay and error."""
    return replace(case, cars=replace(case.cars, crew=prompt_crew(case.site)))


@pytest.mark.parametrize("kind", ["humid_peak", "hot_dry_peak"])
@pytest.mark.parametrize("cue", ["clock", "strip"])
def test_a_prompt_crew_carries_out_the_ideal_rule(kind: str, cue: str) -> None:
    """Without delay, miscount and error, a cue is the rule that it stands for, car by car."""
    case = prompt(demo_case(kind, "clock 11:00-13:00,14:30-17:15", "", 3))
    text = f"crew {case.rule.text}"
    if cue == "strip":
        met = [car.moisture_before for car in case.compiled().passes if not car.lost]
        lower, upper = np.quantile(met, (0.3, 0.7)) / case.day.cloth.holding
        case = replace(case, rule=Rule(((Band(float(upper), float(lower)),),)))
        crew = case.cars.crew
        weights = [1000 * (crew.strip_dry_kg + crew.strip_holding_kg * s) for s in (upper, lower)]
        text = f"crew strip {weights[0]:.9f}-{weights[1]:.9f}"
    other = replace(case, rule=parse_rule(text))
    faults, mine = all_differences(other)
    assert not faults, faults[:5]
    wanted = [car.reduced for car in case.simulated().passes]
    assert [car.reduced for car in mine.passes] == wanted
    assert set(wanted) == {True, False}


def test_a_count_over_constant_flow_switches_when_it_must() -> None:
    """A car every 36 s: the 51st finds 50 counted and is reduced; it goes back 79 cars after the
    flow falls to one in 3 minutes."""
    fast = flow(36.0, 201)
    slow = flow(180.0, 60, fast[-1] + 180.0)
    found = decided("crew cars 50-20", fast + slow, prompt_crew(SITE))
    assert found.index(True) == 50
    assert all(found[50:201])
    # so many slow cars after the last fast one, those of the hour before are 20 slow ones or fewer
    last = next(n for n, t in enumerate(slow) if _before(fast + slow, t) <= 20)
    assert found.index(False, 50) == 201 + last
    assert not any(found[201 + last :])


def _before(hoods: list[float], now: float) -> int:
    return sum(now - 3600.0 < hood < now for hood in hoods)


def test_a_car_of_an_hour_ago_is_counted_no_longer() -> None:
    """Cars exactly an hour before are not among those of the last hour."""
    hoods = [START, START + 1.0, START + 3600.0, START + 3601.5]
    assert decided("crew cars 2-1", hoods, prompt_crew(SITE)) == [False, False, False, False]
    assert decided("crew cars 1-0", hoods, prompt_crew(SITE)) == [False, True, True, True]


def test_a_miscount_moves_the_switch() -> None:
    """Who counts half of the cars acts on 25 when there are 50; each look has its own error."""
    crew = prompt_crew(SITE, count_factor=np.array([0.5]))
    assert decided("crew cars 25-1", flow(36.0, 60), crew).index(True) == 50
    crew = replace(crew, count_factor=np.array([1.0, 1.0, 10.0]))
    assert decided("crew cars 20-1", flow(36.0, 60), crew).index(True) == 2


def test_an_act_comes_its_delay_after_the_cue() -> None:
    """The first act comes with the first car from its delay on, later ones with their own."""
    crew = prompt_crew(SITE, delay_s=np.array([72.0, 100.0]))
    hoods = flow(36.0, 120)
    found = decided("crew cars 10-9.5", hoods, crew)
    assert found.index(True) == 12  # met by the 11th car, 72 s are two cars
    # nobody goes back before the count has fallen; a gap of 59 minutes leaves only the last cars
    late = [hoods[-1] + 3540.0 + 30.0 * i for i in range(8)]
    found = decided("crew cars 10-9.5", hoods + late, crew)
    assert found.index(False, 12) == 120 + 4  # met by the first after the gap, 100 s are 4 cars


def test_what_is_read_while_an_act_is_due_is_not_heeded() -> None:
    """A cue that falls back before the crew has acted on it does not stop the act."""
    crew = prompt_crew(SITE, delay_s=np.array([50.0, 0.0]))
    state = RuleState(parse_rule("crew strip 200-150"), ["sedan"], crew)
    seen = [(0.0, 0.6), (30.0, 0.1), (60.0, 0.1), (90.0, 0.1), (120.0, 0.6)]
    found = [state.reduced(START + at, level, 0, False) for at, level in seen]
    # acts at 60 s, and at that same car the strip is light: back at once, without delay
    assert found == [False, False, False, False, False]
    crew = replace(crew, weigh_every_s=75.0)
    state = RuleState(parse_rule("crew strip 200-150"), ["sedan"], crew)
    found = [state.reduced(START + at, level, 0, False) for at, level in seen]
    # weighed at 0 and 90 s: reduced at 60 s, back at 90 s
    assert found == [False, False, True, False, False]


def test_a_strip_is_weighed_only_so_often() -> None:
    """Between two weighings a soaked strip is not known of; at its time it is."""
    crew = prompt_crew(SITE, weigh_every_s=600.0)
    state = RuleState(parse_rule("crew strip 200-150"), ["sedan"], crew)
    levels = [0.1 if at == 0 else 0.9 for at in range(22)]
    found = [state.reduced(START + 60.0 * at, one, 0, False) for at, one in enumerate(levels)]
    assert found.index(True) == 10


def told(text: str, damp: list[bool], crew: CrewDay) -> list[bool]:
    """Decisions of a rule on cars a minute apart, some of which leave with a damp hood."""
    state, found = RuleState(parse_rule(text), ["sedan"], crew), []
    for at, one in enumerate(damp):
        found.append(state.reduced(START + 60.0 * at, 0.3, 0, False))
        state.let_pass(one)
    return found


def test_damp_hoods_among_the_last_twenty_switch_when_they_must() -> None:
    """The fourth damp hood is seen by the car after it; one that was the twenty-first last is seen
    no more, so that the crew goes back at the car before which three of four have gone."""
    damp = [False] * 5 + [True] * 4 + [False] * 30
    found = told("crew hoods 4-1", damp, prompt_crew(SITE))
    assert found.index(True) == 9
    # hoods 5, 6 and 7 are gone once 28 cars have passed: 8 to 27 are the last twenty
    assert found.index(False, 9) == 28


def test_a_hood_told_wrongly_counts_as_the_other_kind() -> None:
    """Damp for dry and dry for damp, by the place of the car; once told it stays so."""
    wrong = np.array([True, False, False])
    crew = prompt_crew(SITE, hood_misjudged=wrong)
    assert told("crew hoods 3-0", [False] * 9, crew) == [False] * 7 + [True] * 2
    assert told("crew hoods 3-0", [True] * 6, crew) == [False] * 5 + [True]
    assert told("crew hoods 1-0", [True, False, False], crew) == [False] * 3


def test_hoods_are_looked_at_only_so_often() -> None:
    """Between two looks damp hoods are not known of; at its time the look finds all of them."""
    crew = prompt_crew(SITE, hoods_every_s=600.0)
    assert told("crew hoods 4-1", [True] * 14, crew).index(True) == 10


def test_a_hood_is_damp_by_its_own_film() -> None:
    """By the water left on hoods in both models: each look's reading, recounted from the cars."""
    case = prompt(demo_case("humid_peak", "crew hoods 5-3", "", 3))
    faults, mine = all_differences(case)
    assert not faults, faults[:5]
    passes = sorted((car for car in mine.passes if not car.lost), key=lambda car: car.wheel_s)
    wet = [car.film_left[0] > case.day.allowed_film for car in passes]
    reducing, wanted = False, []
    for at in range(len(passes)):
        count = sum(wet[max(0, at - 20) : at])
        reducing = count > 3 if reducing else count >= 5
        wanted.append(reducing and not passes[at].sold_full)
    assert [car.reduced for car in passes] == wanted
    assert set(wanted) == {True, False}


def test_a_cue_acts_at_its_limits() -> None:
    """At exactly the upper weight the crew reduces, at exactly the lower one it goes back."""
    crew = prompt_crew(SITE, strip_dry_kg=0.125, strip_holding_kg=0.25)
    state = RuleState(parse_rule("crew strip 250-187.5"), ["sedan"], crew)
    levels = (0.49, 0.5, 0.26, 0.25, 0.26)
    found = [state.reduced(START + at, level, 0, False) for at, level in enumerate(levels)]
    assert found == [False, True, True, False, False]


def test_clock_edges_come_late_and_in_order() -> None:
    """Each edge by its own delay, none before the one ahead of it; at opening all is ready."""
    crew = prompt_crew(SITE, delay_s=np.array([600.0, 60.0, 300.0]), opens_s=7 * 3600.0)
    hour = 3600.0
    windows = ((9 * hour, 9 * hour + 300.0), (10 * hour, 11 * hour))
    first = 9 * hour + 600.0
    assert late_windows(windows, crew) == (
        (first, first), (10 * hour + 300.0, 11 * hour + 600.0),
    )  # fmt: skip
    assert late_windows(((7 * hour, 9 * hour),), crew) == ((7 * hour, 9 * hour + 600.0),)


def test_a_crew_is_drawn_from_its_inputs() -> None:
    """Delays are lognormal about their median, counts and weights about the truth."""
    site = SITE.with_values(
        {"weigh_every_min": 20.0, "count_every_min": 5.0, "hood_misjudged_share": 0.1}
    )
    draw = DayDraw(11)
    crew = make_cars(draw, site, conditions()).crew
    people, wheel = site.crew, site.wheel
    for values, spread, name, count in (
        (crew.delay_s / people.cue_delay_median_s, people.cue_delay_log_sd, "cue_delay", MOST_ACTS),
        (crew.count_factor, people.count_log_sd, "car_count", MOST_LOOKS),
        (
            crew.weigh_factor, math.hypot(wheel.weigh_in_log_sd, wheel.strip_place_log_sd),
            "strip_weight", MOST_LOOKS,
        ),
    ):  # fmt: skip
        assert np.allclose(np.log(values), spread * draw.take(name, count), rtol=1e-12)
    assert (crew.count_every_s, crew.weigh_every_s, crew.hoods_every_s) == (300.0, 1200.0, 1200.0)
    assert np.array_equal(crew.hood_misjudged, draw.take("hood_told", MOST_HOODS) < 0.1)
    # a binomial count: within four standard deviations of its mean
    spread = math.sqrt(MOST_HOODS * 0.1 * 0.9)
    assert abs(crew.hood_misjudged.sum() - 0.1 * MOST_HOODS) < 4.0 * spread
    assert (crew.strip_dry_kg, crew.opens_s) == (wheel.strip_dry_mass_kg, 7 * 3600.0)


def test_new_streams_leave_the_old_ones_as_they_were() -> None:
    """Each stream is that of its place among the purposes, however many follow."""
    children = np.random.SeedSequence([5, 2]).spawn(20)
    film, last = (np.random.Generator(np.random.PCG64(children[at])) for at in (9, 19))
    draw = DayDraw(5, 2)
    assert np.array_equal(draw.take("film", 100), film.standard_normal(256)[:100])
    assert np.array_equal(
        draw.take("car_stop_length_again", 100), last.standard_normal(256)[:100]
    )  # fmt: skip


def test_equal_cues_in_two_rows_are_one() -> None:
    """A cue named twice is watched once: both rows see the same state, in both models."""
    case = demo_case("humid_peak", "crew cars 60-40 and class van or crew cars 60-40", "", 5)
    alone = replace(case, rule=Rule((case.rule.either[1],)))
    faults, both = all_differences(case)
    assert not faults, faults[:5]
    assert [c.reduced for c in both.passes] == [c.reduced for c in alone.simulated().passes]


# ---- what looks take -----------------------------------------------------------------------------


def looked_at(rule: str, arrivals: list[float], values: dict[str, Value], **crew: Any) -> Case:
    """Small cars that arrive at these times after opening at a site on a grid, and a crew."""
    site = gridded_site({"damp_rewash_share": 0.0, **values})
    at = tuple(OPEN_S + one for one in arrivals)
    cars = hand_made_cars(
        at, (0.0,) * len(at), load_s=0.0, kind=0, length_m=5.0, crew=prompt_crew(site, **crew)
    )
    return Case(site, prepare_day(site, conditions()), cars, parse_rule(rule))


def test_a_weighing_stops_the_belt_unless_the_line_has_a_gap() -> None:
    """Cars 24 s apart, a weighing of 96 s due every 240 s: the first car finds it done; later ones
    stand with the hood at the wheel for 96 s. After a pause the wheel was free for long enough."""
    arrivals = [24.0 * at for at in range(14)] + [13 * 24.0 + 400.0]
    many: dict[str, Any] = {"weigh_every_s": 240.0, "weighing_takes_s": 96.0}
    case = looked_at("crew strip 900-1", arrivals, {"stops_per_h": 0.0}, **many)
    faults, mine = all_differences(case)
    assert not faults, faults[:5]
    weighed = [at for at, car in enumerate(mine.passes) if car.looked_s]
    free = replace(case, rule=FULL).simulated()
    assert not free.stops
    assert [end - start for start, end in mine.stops] == [96.0] * (len(weighed) - 2)
    assert weighed[0] == 0
    assert weighed[-1] == 14
    for (start, end), at in zip(mine.stops, weighed[1:-1], strict=True):
        car, before = mine.passes[at], mine.passes[weighed[weighed.index(at) - 1]]
        assert (car.wheel_s, end) == (end, start + 96.0)
        assert car.wheel_s - before.wheel_s >= 240.0
    # the belt has stood for so long by the time that the fourteenth car leaves
    later = mine.passes[13].exit_s - free.passes[13].exit_s
    assert later == 96.0 * sum(start < free.passes[13].exit_s + later for start, _ in mine.stops)


def test_the_wheel_stands_while_a_strip_is_weighed() -> None:
    """Neither before the first car, in a gap nor in a stop does it spin: the time of four weighings
    is missing from its spinning, to the second."""
    arrivals = [300.0, 324.0, 348.0, 900.0]
    many: dict[str, Any] = {"weigh_every_s": 24.0, "weighing_takes_s": 48.0}
    # in a stop the wheel would spin, were nobody's hand near it
    case = looked_at("crew strip 900-1", arrivals, {"wheel_during_stop": "idle"}, **many)
    faults, mine = all_differences(case)
    assert not faults, faults[:5]
    assert [car.looked_s for car in mine.passes] == [48.0] * 4
    assert len(mine.stops) == 2

    def spun(result: DayResult) -> float:
        return math.fsum(hour.spinning_s for hour in result.hours)

    free = replace(case, rule=FULL).simulated()
    assert mine.rest_s == free.rest_s
    assert spun(free) - spun(mine) == pytest.approx(4 * 48.0)


def test_looks_take_the_time_of_a_person_at_the_wage() -> None:
    """A count of 1 min at each of 6 looks and hoods of 3 min at 3: 15 minutes at 20 an hour are 5,
    however much time people have; both rows of a rule share a look."""
    text = "crew cars 900-1 or crew hoods 20-1 or crew cars 800-2"
    looks: dict[str, Any] = {
        "count_every_s": 48.0, "hoods_every_s": 96.0, "count_takes_s": 60.0, "hoods_take_s": 180.0,
    }  # fmt: skip
    case = looked_at(text, [24.0 * at for at in range(12)], {"wage_per_h": 20.0}, **looks)
    faults, mine = all_differences(case)
    assert not faults, faults[:5]
    assert [car.looked_s for car in mine.passes] == [240.0, 0.0, 60.0, 0.0] * 3
    day, free = (
        figures(one.site, one.day, one.cars, one.rule).day
        for one in (case, replace(case, rule=FULL))
    )
    assert day["cost_looks"] == pytest.approx(5.0)
    assert free["cost_looks"] == 0.0
    assert day["cost"] - free["cost"] == pytest.approx(5.0)
    assert day["work_hours"] - free["work_hours"] == pytest.approx(0.25)
    assert day["overload_hours"] == free["overload_hours"]


def test_rules_that_stop_the_belt_have_a_line_of_their_own() -> None:
    """Run together with others, a rule by weight is what it is alone, and the others are not held
    up by its weighings."""
    case = demo_case("humid_peak", "crew strip 220-200", "", 2)
    crew = replace(case.cars.crew, weighing_takes_s=300.0, weigh_every_s=1800.0)
    cars = replace(case.cars, crew=crew)
    texts = ("crew cars 60-40", "crew strip 220-200", "full", "crew strip 260-230")
    rules = [parse_rule(text) for text in texts]
    found = tallies(case.site, case.day, cars, rules)
    for rule, row in zip(rules, found, strict=True):
        alone = tallies(case.site, case.day, cars, [rule])[0]
        assert np.array_equal(row, alone)
        got = dict(zip(TALLY, row.tolist(), strict=True))
        wanted = figures(case.site, case.day, cars, rule).day
        assert got["cars_lost"] == wanted["cars_lost"]
        assert got["looks_s"] * case.site.money.wage_per_h / 3600.0 == pytest.approx(
            wanted["cost_looks"]
        )
    last = TALLY.index("last_s")
    assert found[0, last] == found[2, last]

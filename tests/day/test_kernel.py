"""The compiled day is the SimPy model's day, car by car and figure by figure."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.answers.planning import make_question
from app.sites.demo import demo_data, demo_days
from sim.day.draw import DayDraw, make_cars
from sim.day.kernel import FlowResult, figures, flow, is_coupled, run_day, warm
from sim.day.kernel import compile as compile_module
from sim.day.kernel.tables import make_tables
from sim.day.rules import (
    FULL,
    HOUR_S,
    Band,
    Classes,
    CrewCars,
    CrewHoods,
    CrewStrip,
    Rule,
    Service,
    SetChange,
    Term,
    parse_changes,
    parse_rule,
)
from sim.day.setup import prepare_day
from sim.inputs import Scenario, Site
from tests.day.agreement import Case, all_differences, differences, figure_differences, has_near_tie
from tests.day.sites import SiteDay, conditions, hand_made_cars, prompt_crew, site_days
from tests.day.tied import OPEN_S, gridded_site, tied_cases
from tests.seeds import seed
from tests.sizes import size_now

TODAY = date(2026, 7, 6)
RULES = (
    "full", "reduced", "service", "clock 10:00-17:00", "band 60-50", "class van,pickup",
    "clock 11:00-13:00 or band 50-40 and class sedan,utility", "crew clock 10:00-17:00",
    "crew cars 70-50 or crew strip 220-200 and class van", "crew hoods 6-2",
)  # fmt: skip


def case_of(world: SiteDay) -> Case:
    """A generated world as a day ready to run."""
    day, cars = world.parts()
    changes = parse_changes(world.cloth, world.site.wear.sets_owned)
    return Case(world.site, day, cars, parse_rule(world.rule), changes)


def agree_on(cases: st.SearchStrategy[Case], count: int) -> int:
    """Runs both models on so many generated days; how many differ by a near tie.

    Raises:
        AssertionError: for a day on which they differ and nothing was nearly tied.
    """
    tied = 0

    @settings(max_examples=count)
    @given(cases)
    def agree(case: Case) -> None:
        nonlocal tied
        faults, wanted = all_differences(case)
        if faults and has_near_tie(case, wanted):
            tied += 1
            return
        assert not faults, "\n".join(faults[:20])

    agree()
    return tied


def test_both_models_agree_on_every_feature_together(
    record_figure: Callable[[str, float, str], None],
) -> None:
    """Every field of every car, cloth hour and figure agrees to 1e-9 on generated sites."""
    count = size_now(small=120, full=2_000)
    tied = agree_on(site_days().map(case_of), count)
    record_figure("days that differ by a near tie", tied, f"of {count}")
    assert tied <= count / 100


def test_both_models_agree_where_much_happens_at_once(
    record_figure: Callable[[str, float, str], None],
) -> None:
    """On a grid of times, exact ties follow the written rule in both models."""
    count = size_now(small=120, full=2_000)
    tied = agree_on(tied_cases(), count)
    record_figure("days that differ by a near tie", tied, f"of {count}")
    assert tied <= count / 100


def test_both_models_judge_the_wait_by_the_same_half_hour(
    record_figure: Callable[[str, float, str], None],
) -> None:
    """Few cars in the morning and some about half an hour later: a car caught half an hour ago to
    the second counts no more, and from that second on it is cars that count, in both models."""
    count = size_now(small=250, full=1_000)
    tied = agree_on(tied_cases(early=6, late=12, within=30), count)
    record_figure("days that differ by a near tie", tied, f"of {count}")
    assert tied <= count / 100


@st.composite
def switching_cases(draw: st.DrawFn) -> Case:
    """A generated day with a band and a dry set amid the saturations that its cars meet."""
    case = case_of(draw(site_days()))
    met = [car.moisture_before for car in case.compiled().passes if not car.lost]
    if len(met) < 3:
        return case
    low, middle, high = np.quantile(met, (0.3, 0.5, 0.7)) / case.day.cloth.holding
    band = Band(upper=float(high), lower=float(low))
    others: list[tuple[Term, ...]] = [(), (Service(),), (Classes(("sedan", "utility")),)]
    rule = Rule(((band, *draw(st.sampled_from(others))),))
    change = SetChange(at_saturation=float(middle))
    return replace(case, rule=rule, changes=draw(st.sampled_from(((), (change,)))))


def test_both_models_agree_where_rules_switch(
    record_figure: Callable[[str, float, str], None],
) -> None:
    """With bands and dry sets at saturations that are met, both models switch at the same cars."""
    count = size_now(small=100, full=1_000)
    tied = agree_on(switching_cases(), count)
    record_figure("days that differ by a near tie", tied, f"of {count}")
    assert tied <= count / 20


@st.composite
def crew_cases(draw: st.DrawFn) -> Case:
    """A generated day with a crew's cues amid the counts, hoods and weights that its cars meet."""
    case = case_of(draw(site_days()))
    met = [car for car in replace(case, rule=FULL).compiled().passes if not car.lost]
    if len(met) < 3:
        return case
    hoods, crew = sorted(car.wheel_s for car in met), case.cars.crew
    counts = [sum(now - HOUR_S < one < now for one in hoods) for now in hoods]
    wet = np.array([car.moisture_before for car in met]) / case.day.cloth.holding
    spread = draw(st.sampled_from(((0.3, 0.6), (0.45, 0.55))))
    low, high = np.quantile(counts, spread).tolist()
    cars = CrewCars(high + 0.5, low)
    low, high = (crew.strip_dry_kg + crew.strip_holding_kg * np.quantile(wet, spread)).tolist()
    strip = CrewStrip(high, low)
    few = sum(car.film_left[0] > case.day.allowed_film for car in met) * 20.0 / len(met)
    hoods_seen = CrewHoods(min(20.0, round(few) + 1.0), min(18.0, round(0.8 * few)))
    some = Classes(("sedan", "utility"))
    rows: tuple[tuple[Term, ...], ...] = draw(
        st.sampled_from(
            (
                ((cars,),),
                ((strip,),),
                ((hoods_seen,),),
                ((cars, strip),),
                ((strip, some), (cars,)),
                ((hoods_seen, some), (strip,)),
            )
        )
    )
    return replace(case, rule=Rule(rows))


def test_both_models_agree_where_crews_switch(
    record_figure: Callable[[str, float, str], None],
) -> None:
    """With cues amid what is counted and weighed, both models' crews switch at the same cars."""
    count = size_now(small=100, full=1_000)
    tied = agree_on(crew_cases(), count)
    record_figure("days that differ by a near tie", tied, f"of {count}")
    assert tied <= count / 20


def eighth_case(rule: str, cloth: str, opening: float) -> Case:
    """Two cars far apart; at an eighth of saturation the cloth neither drips nor dries."""
    site = gridded_site(
        {
            "holding_capacity_kg_kg": 1.0, "bound_moisture_kg_kg": 0.125,
            "critical_moisture_kg_kg": 0.5, "throw_off_moisture_kg_kg": 0.5,
            "dry_set_moisture_kg_kg": 0.125, "damp_rewash_share": 0.0,
        }
    )  # fmt: skip
    day = prepare_day(site, conditions(opening=opening))
    cars = hand_made_cars((OPEN_S, OPEN_S + 600.0), (0.0, 0.0), kind=0, length_m=5.0)
    return Case(site, day, cars, parse_rule(rule), parse_changes(cloth, 3))


def test_a_band_and_a_dry_set_act_where_they_are_just_met() -> None:
    """At exactly its saturation a band begins to reduce and a dry set is put on, in both models."""
    faults, wanted = all_differences(eighth_case("band 12.5-5", "12.5 %", 0.125))
    assert not faults
    first = wanted.passes[0]
    assert (first.moisture_before, first.reduced, first.cloth_set) == (0.125, True, 1)


def test_a_band_ends_where_its_lower_end_is_just_met() -> None:
    """At exactly its lower saturation, that of a dry set, a band ends in both models."""
    faults, wanted = all_differences(eighth_case("band 40-12.5", "8:05", 0.5))
    assert not faults
    first, second = wanted.passes
    assert (first.reduced, second.reduced, second.moisture_before) == (True, False, 0.125)


def test_a_crew_looks_and_acts_where_its_moment_is_just_met() -> None:
    """A look, an act and a count at exactly its limit hold for the very car, in both models.

    Cars come every 24 s. Looks are due at every third car; the fourth car finds just 3 counted, 48
    s before the sixth; at the seventh a quarter of 6 is read, 24 s before the eighth.
    """
    site = gridded_site({"damp_rewash_share": 0.0})
    crew = prompt_crew(
        site,
        delay_s=np.array([48.0, 24.0, 1e6]),
        count_factor=np.array([1.0, 1.0, 0.25, 1.0]),
        weigh_factor=np.ones(4),
        count_every_s=72.0,
    )
    arrivals = tuple(OPEN_S + 24.0 * car for car in range(12))
    cars = hand_made_cars(arrivals, (0.0,) * 12, load_s=0.0, kind=0, length_m=5.0, crew=crew)
    case = Case(site, prepare_day(site, conditions()), cars, parse_rule("crew cars 3-1.5"))
    faults, wanted = all_differences(case)
    assert not faults, faults[:5]
    hoods = [car.wheel_s for car in wanted.passes]
    assert np.diff(hoods).tolist() == [24.0] * 11
    assert [n for n, car in enumerate(wanted.passes) if car.reduced] == [5, 6]


def demo_case(kind: str, rule: str, cloth: str, draw: int) -> Case:
    """A kind of demo day under a rule."""
    question, _ = make_question(
        demo_data(), demo_days()[kind], "", (Scenario("only"),), 1, seed("demo kernel")
    )
    site = question.site
    day = prepare_day(site, question.conditions)
    cars = make_cars(DayDraw(question.seed, draw), site, question.conditions)
    changes = parse_changes(cloth, site.wear.sets_owned)
    return Case(site, day, cars, parse_rule(rule), changes)


@pytest.mark.parametrize("kind", ["humid_peak", "quiet", "hot_dry_peak", "after_rain"])
def test_both_models_agree_on_the_demo(kind: str) -> None:
    """On each kind of demo day, under every kind of rule and with dry sets, nothing differs."""
    for number, rule in enumerate(RULES):
        case = demo_case(kind, rule, ("", "13:00", "45 %")[number % 3], number)
        faults, _ = all_differences(case)
        assert not faults, (rule, faults[:20])


@settings(max_examples=size_now(small=20, full=200))
@given(world=site_days(), rule=st.sampled_from(RULES), cloth=st.sampled_from(("", "8:00", "20 %")))
def test_one_line_serves_every_rule(world: SiteDay, rule: str, cloth: str) -> None:
    """A day's line that was computed once gives each rule the very figures of a run of its own."""
    changes = parse_changes(cloth, world.site.wear.sets_owned)
    site = world.site.with_values({"damp_rewash_share": 0.0, "set_change_cars": "unwiped"})
    day = prepare_day(site, world.conditions)
    cars = make_cars(DayDraw(world.seed), site, world.conditions)
    tables = make_tables(site, day)
    assert not is_coupled(tables, changes)
    given_flow = flow(site, day, cars, tables)
    figures(site, day, cars, FULL, given=given_flow, tables=tables)  # leaves nothing behind
    shared = figures(site, day, cars, parse_rule(rule), changes, given=given_flow)
    alone = figures(site, day, cars, parse_rule(rule), changes)
    assert not figure_differences(shared, alone)
    faults, _ = all_differences(Case(site, day, cars, parse_rule(rule), changes))
    assert not faults, faults[:20]


def test_a_flow_is_not_used_where_the_cloth_moves_cars() -> None:
    """With re-washes, a flow that is handed in changes nothing about the figures."""
    site = Site("Coupled").with_values({"damp_rewash_share": 0.5, "damp_limit_saturation": 0.2})
    day = prepare_day(site, conditions())
    cars = make_cars(DayDraw(4), site, conditions())
    given_flow: FlowResult = flow(site, day, cars)
    with_flow = figures(site, day, cars, FULL, given=given_flow)
    assert with_flow.day["rewashed_cars"] > 0
    assert not figure_differences(with_flow, figures(site, day, cars, FULL))


def test_no_day_remembers_another() -> None:
    """A day gives the same bits however many days of other sites ran before it."""
    case = demo_case("humid_peak", "band 60-50", "45 %", 1)
    other = demo_case("quiet", "full", "13:00", 2)
    first = case.compiled()
    for _ in range(3):
        other.compiled()
    again = case.compiled()
    assert [repr(car) for car in again.passes] == [repr(car) for car in first.passes]
    assert [repr(hour) for hour in again.hours] == [repr(hour) for hour in first.hours]


def test_a_day_that_runs_on_past_midnight_has_room() -> None:
    """A queue that takes two nights to wash is washed to the end, each clock hour accounted for."""
    site = Site("Long").with_values(
        {
            "close_h": 20.0, "conveyor_speed_m_s": 0.15, "car_spacing_m": 15.0,
            "stack_limit_cars": 300, "patience_median_s": 14_400.0, "patience_log_sd": 0.0,
            "load_kind": "fixed", "load_mean_s": 300.0,
        }
    )  # fmt: skip
    day = prepare_day(site, conditions())
    cars = make_cars(DayDraw(1), site, conditions(cars_per_h=60.0))
    found = run_day(site, day, cars, FULL)
    patient = np.full(len(cars.arrival_s), 1e9)
    cars = replace(cars, patience_s=patient)
    case = Case(site, day, cars, FULL)
    late = case.compiled()
    assert len(late.hours) > 36 > len(found.hours)
    assert not differences(late, case.simulated())


def test_an_empty_day_agrees() -> None:
    """Without a single car the cloth alone is carried from opening to rest."""
    site = Site("Empty")
    day = prepare_day(site, conditions(cars_per_h=0.0))
    cars = make_cars(DayDraw(1), site, conditions(cars_per_h=0.0))
    assert len(cars.arrival_s) == 0
    faults, _ = all_differences(Case(site, day, cars, FULL))
    assert not faults


def test_warming_calls_everything_that_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each compiled function is called once at least: none is left for a page to wait for."""
    tree = ast.parse(Path(compile_module.__file__).read_text(encoding="utf-8"))
    entries = {
        one.name
        for one in tree.body
        if isinstance(one, ast.FunctionDef)
        and any(ast.unparse(mark) == "_entry" for mark in one.decorator_list)
    }
    for one in tree.body:
        if isinstance(one, ast.Assign) and "_entry(" in ast.unparse(one.value):
            entries |= set(ast.unparse(one.targets[0]).strip("()").split(", "))
    assert {"line_of_day", "whole_day", "plan_of_day", "belt_travel"} <= entries
    called: set[str] = set()

    def noting(name: str) -> Callable[..., object]:
        inner = getattr(compile_module, name)

        def noted(*given: object) -> object:
            called.add(name)
            return inner(*given)

        return noted

    for name in entries:
        monkeypatch.setattr(compile_module, name, noting(name))
    warm()
    assert called == entries

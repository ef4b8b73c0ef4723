"""Every refusal of a site or a day says field, value and what would be right, in both systems."""

from __future__ import annotations

import ast
import inspect
import math
from dataclasses import dataclass, replace
from typing import Any

import pytest

from app.sites.demo import demo_data
from sim import checks
from sim.checks import check_conditions, check_site, open_hours, safety_problem
from sim.errors import InputProblem
from sim.inputs import Conditions, Site, Value, VehicleClass
from tests.day.sites import conditions, flat

SITE = Site("Invented Wash")


def told(problem: InputProblem, system: str) -> str:
    """A problem as a reader of a system of units sees it."""
    return problem.say(system).replace("\u00a0", " ")


def with_class(key: str, **numbers: float) -> Site:
    """A site of defaults, some numbers of one of its vehicle classes changed."""
    return replace(SITE, vehicles=tuple(changed(item, key, numbers) for item in SITE.vehicles))


def changed(item: VehicleClass, key: str, numbers: dict[str, float]) -> VehicleClass:
    """The class, with other numbers if it has the key."""
    return replace(item, numbers=replace(item.numbers, **numbers)) if item.key == key else item


def with_values(**values: Value) -> Site:
    """A site of defaults, some inputs changed."""
    return SITE.with_values(values)


@dataclass(frozen=True, slots=True)
class Case:
    """A site that is refused: the field told, and what is said in SI and in US units."""

    site: Site
    field: str
    si: str
    us: str


def same(site: Site, field: str, said: str) -> Case:
    """A case whose sentence reads the same in both systems."""
    return Case(site, field, said, said)


SITES = [
    same(
        SITE.with_values({"shortest_shift_h": 9.0}),
        "shortest_shift_h",
        "Shortest shift 9 h is longer than the longest shift 8 h. Swap them.",
    ),
    same(
        SITE.with_values({"longest_shift_h": 12.0}),
        "longest_shift_h",
        "Longest shift 12 h needs more than one break. Enter at most 10.5 h, or let people work "
        "longer without a break.",
    ),
    same(replace(SITE, name=" "), "name", "Name “ ” can't be used. Enter 1 to 60 characters."),
    same(
        replace(SITE, name="x" * 61),
        "name",
        f"Name “{'x' * 61}” can't be used. Enter 1 to 60 characters.",
    ),
    same(replace(SITE, vehicles=()), "vehicles", "There is no vehicle class. Enter at least one."),
    same(
        replace(SITE, vehicles=(*SITE.vehicles, SITE.vehicles[4])),
        "vehicles",
        "Vehicle class “van” stands there twice. Give each its own short name.",
    ),
    same(
        replace(SITE, vehicles=(replace(SITE.vehicles[0], key="small car"), *SITE.vehicles[1:])),
        "vehicles",
        "Short name “small car” can't be used. Use letters, digits and underscores.",
    ),
    same(
        replace(SITE, reference_class="limousine"),
        "reference_class",
        "Reference class “limousine” is not among the vehicle classes. Use one of small, sedan, "
        "utility, pickup, van.",
    ),
    Case(
        with_class("van", length_m=9.0),
        "vehicle.van.length_m",
        "van: Length 9 m is outside what can be used. Enter 2 m to 8 m.",
        "van: Length 29.53 ft is outside what can be used. Enter 6.562 ft to 26.24 ft.",
    ),
    same(
        with_values(second_uptake_factor=1.5),
        "second_uptake_factor",
        "Second kind: share a dry new cloth takes ÷ the usual one’s 1.5 × would make “Share a dry "
        "new cloth takes, endless contact” 138 %, outside what can be used. Enter 0.3261 × to "
        "1.086 ×.",
    ),
    same(
        with_values(second_throw_off_factor=4.1),
        "second_throw_off_factor",
        "Second kind: moisture where throw-off ends ÷ the usual one’s 4.1 × would let throw-off "
        "end above the holding capacity of that cloth. Enter 4 × or less.",
    ),
    same(
        with_values(usual_high_c=(10.0,) * 6),
        "usual_high_c",
        "Usual highest temperature: 6 numbers were given. Enter twelve, January first, with a "
        "space between; or none.",
    ),
    Case(
        with_values(usual_low_c=(5.0,) * 6 + (34.0,) * 6),
        "usual_low_c",
        "Usual lowest temperature: in July the lowest temperature, 34 °C, is above the highest, 33 "
        "°C. Correct one of the two months.",
        "Usual lowest temperature: in July the lowest temperature, 93.2 °F, is above the highest, "
        "91.4 °F. Correct one of the two months.",
    ),
    same(
        with_values(strip_count=5),
        "strip_count",
        "Strips on the wheel 5 strips is outside what can be used. Enter 10 strips to 3,000 "
        "strips.",
    ),
    same(
        with_values(strip_count=150.5),
        "strip_count",
        "Strips on the wheel 150.5 strips is not a whole number. Enter 10 strips to 3,000 strips.",
    ),
    same(
        with_values(load_mean_s="soon"),
        "load_mean_s",
        "Loading time with one loader “soon” is not a number. Enter 3 s to 300 s.",
    ),
    same(
        with_values(wheel_during_stop="loose"),
        "wheel_during_stop",
        "Wheel while the belt stands “loose” is not a choice. Use one of idle, off.",
    ),
    same(
        with_values(dry_set_at_opening="maybe"),
        "dry_set_at_opening",
        "A dry set is hung every morning “maybe” is neither yes nor no.",
    ),
    same(
        with_values(open_h=8.0, close_h=8.0),
        "close_h",
        "Last car accepted 8 o’clock is not after opening 8 o’clock. Enter a later hour.",
    ),
    Case(
        with_values(car_spacing_m=4.8),
        "car_spacing_m",
        "Car spacing 4.8 m is shorter than the reference car, sedan of 4.85 m. Enter 4.85 m or "
        "more.",
        "Car spacing 15.75 ft is shorter than the reference car, sedan of 15.91 ft. Enter 15.92 "
        "ft or more.",
    ),
    same(
        with_values(break_sets=4, break_price=950.0),
        "break_price",
        "Price of a set from there on 950 $ must be more than 0 and below 900 $, the price before.",
    ),
    same(
        with_values(break_sets=4, break_price=800.0, second_break_sets=3, second_break_price=700.0),
        "second_break_sets",
        "Second price break, from so many sets 3 must be more than 4, where the price before "
        "begins.",
    ),
    same(
        with_values(season_from_h=15.0, season_to_h=12.0),
        "season_to_h",
        "Then reduced to 12 o’clock must be after 15 o’clock, when reducing begins.",
    ),
    Case(
        with_values(slowest_belt_m_s=0.4),
        "slowest_belt_m_s",
        "Slowest belt 0.4 m/s is above the fastest, 0.35 m/s. Enter 0.35 m/s or less.",
        "Slowest belt 78.74 ft/min is above the fastest, 68.89 ft/min. Enter 68.89 ft/min or less.",
    ),
    Case(
        with_values(conveyor_speed_m_s=0.4),
        "conveyor_speed_m_s",
        "Conveyor speed 0.4 m/s is outside what the equipment's own manual allows by your entry. "
        "Enter 0.15 m/s to 0.35 m/s, or correct that entry from the manual.",
        "Conveyor speed 78.74 ft/min is outside what the equipment's own manual allows by your "
        "entry. Enter 29.53 ft/min to 68.89 ft/min, or correct that entry from the manual.",
    ),
    Case(
        with_values(speed_timetable=((0.0, 0.25), (43200.0, 0.1))),
        "speed_timetable",
        "Conveyor speed by time of day 0.1 m/s is outside what the equipment's own manual allows "
        "by your entry. Enter 0.15 m/s to 0.35 m/s, or correct that entry from the manual.",
        "Conveyor speed by time of day 19.69 ft/min is outside what the equipment's own manual "
        "allows by your entry. Enter 29.53 ft/min to 68.89 ft/min, or correct that entry from "
        "the manual.",
    ),
    same(
        with_values(load_kind="measured"),
        "load_measured_s",
        "Loading, measured times: none are entered. Enter at least one, or choose another kind.",
    ),
    same(
        with_values(pay_lanes=()),
        "pay_lanes",
        "Pay lanes open: nothing was entered. Enter 1 lanes to 40 lanes.",
    ),
    same(
        with_values(people=((0.0, 2.5),)),
        "people",
        "People on the line 2.5 people is not a whole number. Enter 0 people to 60 people.",
    ),
    same(
        with_class("van", share=0.15),
        "vehicle.small.share",
        "The shares of the vehicle classes sum to 110 %. Make them sum to 100 %.",
    ),
    Case(
        with_class("sedan", rear_wiped_m=1.6),
        "vehicle.sedan.hood_wiped_m",
        "sedan: hood start and wiped lengths sum to 4.95 m, more than the car's length, 4.85 m. "
        "Shorten a wiped length or enter a longer car.",
        "sedan: hood start and wiped lengths sum to 16.2 ft, more than the car's length, 15.9 "
        "ft. Shorten a wiped length or enter a longer car.",
    ),
    Case(
        with_class("small", pushed_wheel_m=3.0, length_m=3.5, roof_wiped_m=0.5),
        "vehicle.small.pushed_wheel_m",
        "small car: the pushed wheel at 3 m is behind the car. Enter less than 2.9 m.",
        "small car: the pushed wheel at 9.84 ft is behind the car. Enter less than 9.51 ft.",
    ),
    same(
        with_class("van", windshield_area_m2=0.0),
        "vehicle.van.hood_area_m2",
        "van: hood and windshield need an area above 0, for damp is judged there.",
    ),
    Case(
        with_values(throw_off_moisture_kg_kg=2.5),
        "throw_off_moisture_kg_kg",
        "Moisture where throw-off ends 2.5 kg/kg is above the holding capacity. Enter 2.2 kg/kg "
        "or less.",
        "Moisture where throw-off ends 2.5 lb/lb is above the holding capacity. Enter 2.2 lb/lb "
        "or less.",
    ),
    Case(
        with_values(bound_moisture_kg_kg=0.2, critical_moisture_kg_kg=0.2),
        "bound_moisture_kg_kg",
        "Moisture that does not dry off 0.2 kg/kg is not below “Moisture below which drying "
        "slows”. Enter less than 0.2 kg/kg.",
        "Moisture that does not dry off 0.2 lb/lb is not below “Moisture below which drying "
        "slows”. Enter less than 0.2 lb/lb.",
    ),
    Case(
        with_values(bound_moisture_kg_kg=0.2, throw_off_moisture_kg_kg=0.15),
        "bound_moisture_kg_kg",
        "Moisture that does not dry off 0.2 kg/kg is not below “Moisture where throw-off ends, "
        "at idle”. Enter less than 0.15 kg/kg.",
        "Moisture that does not dry off 0.2 lb/lb is not below “Moisture where throw-off ends, "
        "at idle”. Enter less than 0.15 lb/lb.",
    ),
    Case(
        with_values(holding_capacity_kg_kg=0.6, critical_moisture_kg_kg=0.7),
        "critical_moisture_kg_kg",
        "Moisture below which drying slows 0.7 kg/kg is above the holding capacity. Enter 0.6 "
        "kg/kg or less.",
        "Moisture below which drying slows 0.7 lb/lb is above the holding capacity. Enter 0.6 "
        "lb/lb or less.",
    ),
    Case(
        with_values(holding_capacity_kg_kg=0.6, dry_set_moisture_kg_kg=0.7),
        "dry_set_moisture_kg_kg",
        "Moisture of a set put on dry 0.7 kg/kg is above the holding capacity. Enter 0.6 kg/kg "
        "or less.",
        "Moisture of a set put on dry 0.7 lb/lb is above the holding capacity. Enter 0.6 lb/lb "
        "or less.",
    ),
    Case(
        with_values(strip_length_m=1.2),
        "strip_length_m",
        "Strip length 1.2 m reaches past the wheel's axle. Enter less than 1.1 m.",
        "Strip length 47.24 in reaches past the wheel's axle. Enter less than 43.3 in.",
    ),
    same(
        with_values(slowest_wheel_rev_s=2.5),
        "slowest_wheel_rev_s",
        "Slowest wheel 150 rev/min is above the fastest, 120 rev/min. Enter 120 rev/min or less.",
    ),
    same(
        with_values(idle_speed_rev_s=2.2),
        "idle_speed_rev_s",
        "Idle speed 132 rev/min is outside what the equipment's own manual allows by your entry. "
        "Enter 30 rev/min to 120 rev/min, or correct that entry from the manual.",
    ),
    same(
        with_values(contact_speed_rev_s=0.4),
        "contact_speed_rev_s",
        "Contact speed 24 rev/min is outside what the equipment's own manual allows by your "
        "entry. Enter 30 rev/min to 120 rev/min, or correct that entry from the manual.",
    ),
    Case(
        with_values(damp_limit_from="film", allowed_film_kg_m2=0.004),
        "allowed_film_kg_m2",
        "Allowed film 4 g/m² is less than what even a dry cloth leaves here. Enter more than "
        "4.67 g/m².",
        "Allowed film 0.1575 mil is less than what even a dry cloth leaves here. Enter more than "
        "0.184 mil.",
    ),
    same(
        with_values(finishers=((0.0, 2.0), (39600.0, 5.0)), people=((0.0, 3.0), (36000.0, 4.0))),
        "finishers",
        "People who only dry damp cars: 5 people from 11:00 are more than the people on the line "
        "then, 4 people. Enter 4 people or less from then on, or more people.",
    ),
    same(
        with_values(finishers=()),
        "finishers",
        "People who only dry damp cars: nothing was entered. Enter 0 people to 20 people.",
    ),
    same(
        with_values(finishers=((0.0, 1.5),)),
        "finishers",
        "People who only dry damp cars 1.5 people is not a whole number. Enter 0 people to "
        "20 people.",
    ),
]


def day_with(**values: Any) -> Conditions:
    """An ordinary day, some of it changed."""
    return replace(conditions(), **values)


DAYS = [
    (
        day_with(temp_c=flat(20.0)[:23]),
        "temp_c",
        "temp_c has 23 hours. Give 24, one for each hour of the day.",
        "temp_c has 23 hours. Give 24, one for each hour of the day.",
    ),
    (
        day_with(arrivals_per_h=(*flat(20.0)[:8], -3.0, *flat(20.0)[9:])),
        "arrivals_per_h",
        "Cars arriving at 8:00 −3 cars/h can't be used. Enter 0 to 5,000.",
        "Cars arriving at 8:00 −3 cars/h can't be used. Enter 0 to 5,000.",
    ),
    (
        day_with(arrivals_per_h=(*flat(20.0)[:8], 5001.0, *flat(20.0)[9:])),
        "arrivals_per_h",
        "Cars arriving at 8:00 5,001 cars/h can't be used. Enter 0 to 5,000.",
        "Cars arriving at 8:00 5,001 cars/h can't be used. Enter 0 to 5,000.",
    ),
    (
        day_with(temp_c=(*flat(20.0)[:8], -1.0, *flat(20.0)[9:])),
        "temp_c",
        "Temperature −1 °C at 8:00 is outside what the model knows. Plan hours of 0 °C to 55 °C: "
        "below is frost, and ice is not in the model.",
        "Temperature 30.2 °F at 8:00 is outside what the model knows. Plan hours of 32 °F to 131 "
        "°F: below is frost, and ice is not in the model.",
    ),
    (
        day_with(temp_c=(*flat(20.0)[:8], 56.0, *flat(20.0)[9:])),
        "temp_c",
        "Temperature 56 °C at 8:00 is outside what the model knows. Plan hours of 0 °C to 55 °C: "
        "below is frost, and ice is not in the model.",
        "Temperature 133 °F at 8:00 is outside what the model knows. Plan hours of 32 °F to 131 "
        "°F: below is frost, and ice is not in the model.",
    ),
    (
        day_with(temp_c=(*flat(20.0)[:8], 3.0, *flat(20.0)[9:]), humidity=flat(0.3)),
        "temp_c",
        "At 8:00 the air has 3 °C, but a wet bulb of −2.02 °C: what is wet freezes, and ice is not "
        "in the model. Plan hours with a wet bulb from 0 °C up.",
        "At 8:00 the air has 37.4 °F, but a wet bulb of 28.4 °F: what is wet freezes, and ice is "
        "not in the model. Plan hours with a wet bulb from 32 °F up.",
    ),
    (
        day_with(humidity=(*flat(0.5)[:8], 1.04, *flat(0.5)[9:])),
        "humidity",
        "Humidity 104 % at 8:00 can't be. Enter more than 0 % up to 100 %.",
        "Humidity 104 % at 8:00 can't be. Enter more than 0 % up to 100 %.",
    ),
    (
        day_with(humidity=(*flat(0.5)[:8], 0.0, *flat(0.5)[9:])),
        "humidity",
        "Humidity 0 % at 8:00 can't be. Enter more than 0 % up to 100 %.",
        "Humidity 0 % at 8:00 can't be. Enter more than 0 % up to 100 %.",
    ),
    (
        day_with(opening_moisture_kg_kg=2.3),
        "opening_moisture_kg_kg",
        "Opening moisture 2.3 kg/kg is more than the cloth holds. Enter 0 to 2.2 kg/kg, the "
        "holding capacity.",
        "Opening moisture 2.3 lb/lb is more than the cloth holds. Enter 0 to 2.2 lb/lb, the "
        "holding capacity.",
    ),
]


@pytest.mark.parametrize("case", SITES, ids=[f"{i}-{case.field}" for i, case in enumerate(SITES)])
def test_a_site_that_is_refused_says_why(case: Case) -> None:
    """The field, the value and what would be right stand in the sentence, in SI and in US units."""
    problems = check_site(case.site)
    assert {told(p, "si") for p in problems} == {case.si}
    assert {told(p, "us") for p in problems} == {case.us}
    assert case.field in {p.field for p in problems}


@pytest.mark.parametrize(("day", "field", "si", "us"), DAYS)
def test_a_day_that_is_refused_says_why(day: Conditions, field: str, si: str, us: str) -> None:
    """Frost, air that can't be and counts that can't be are told with hour, value and limits."""
    (problem,) = check_conditions(SITE, day)
    assert (problem.field, told(problem, "si"), told(problem, "us")) == (field, si, us)


def test_every_sentence_of_the_checks_is_asserted_above() -> None:
    """Each sentence written in `sim.checks` is the sentence of a problem of these tables."""
    tree = ast.parse(inspect.getsource(checks))
    written = {
        ast.literal_eval(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "sentence"
    }
    seen = {p.sentence for case in SITES for p in check_site(case.site)}
    seen |= {p.sentence for day, *_ in DAYS for p in check_conditions(SITE, day)}
    refusal = safety_problem("name", "interlock")
    assert refusal is not None
    assert len(written) > 25
    assert written - seen - {refusal.sentence} == set()


def test_problems_of_single_inputs_come_all_at_once() -> None:
    """Three inputs and a class out of range are four problems; rules that join inputs wait."""
    site = with_class("van", length_m=9.0).with_values(
        {"stops_per_h": 21.0, "strip_count": 5, "car_spacing_m": 3.0}
    )
    assert [p.field for p in check_site(site)] == [
        "car_spacing_m", "stops_per_h", "strip_count", "vehicle.van.length_m",
    ]  # fmt: skip


def test_problems_of_joined_inputs_come_all_at_once() -> None:
    """Rules that join inputs are all looked at, whichever of them fails."""
    site = with_values(
        close_h=6.0, car_spacing_m=4.8, strip_length_m=1.2, finishers=((0.0, 5.0),),
    )  # fmt: skip
    assert [p.field for p in check_site(site)] == [
        "close_h", "car_spacing_m", "strip_length_m", "finishers",
    ]  # fmt: skip


# ---- what passes ---------------------------------------------------------------------------------


def test_default_sites_pass() -> None:
    """A site of defaults and the demo have no problem."""
    assert check_site(SITE) == []
    assert check_site(demo_data().site) == []


INSIDE = [
    replace(SITE, name="x" * 60),
    with_values(open_h=19.999),
    with_values(car_spacing_m=SITE.reference.numbers.length_m),
    with_values(slowest_belt_m_s=0.25, fastest_belt_m_s=0.25),
    with_values(conveyor_speed_m_s=0.35, speed_timetable=((0.0, 0.15), (43200.0, 0.35))),
    with_values(load_kind="measured", load_measured_s=(0.0, 14.0)),
    with_values(people=((0.0, 2.0),)),
    with_class("van", share=0.05 + 9e-7),
    with_class("sedan", rear_wiped_m=1.5),
    with_class("small", pushed_wheel_m=2.89, length_m=3.5, roof_wiped_m=0.5),
    with_class("van", windshield_area_m2=0.001),
    with_values(throw_off_moisture_kg_kg=2.2),
    with_values(bound_moisture_kg_kg=0.2, critical_moisture_kg_kg=0.201),
    with_values(holding_capacity_kg_kg=0.6, critical_moisture_kg_kg=0.6),
    with_values(holding_capacity_kg_kg=0.6, dry_set_moisture_kg_kg=0.6),
    with_values(strip_length_m=1.099),
    with_values(slowest_wheel_rev_s=0.9, fastest_wheel_rev_s=1.5),
    with_values(damp_limit_from="film", allowed_film_kg_m2=0.00468),
    with_values(finishers=((0.0, 4.0),), damp_rewash_share=1.0),
    with_values(finishers=((0.0, 0.0), (39600.0, 5.0)), people=((0.0, 1.0), (39600.0, 5.0))),
]


@pytest.mark.parametrize("site", INSIDE)
def test_a_site_just_inside_a_limit_passes(site: Site) -> None:
    """One step inside each of the limits above nothing is refused."""
    assert [str(problem) for problem in check_site(site)] == []


@pytest.mark.parametrize(
    "day",
    [
        day_with(arrivals_per_h=flat(5000.0)),
        day_with(arrivals_per_h=flat(0.0)),
        day_with(temp_c=flat(0.0), humidity=flat(1.0)),
        day_with(temp_c=flat(3.0), humidity=flat(0.9)),
        day_with(temp_c=flat(55.0)),
        day_with(temp_c=(*flat(-9.0)[:7], *flat(20.0)[7:])),
        day_with(humidity=flat(1.0)),
        day_with(opening_moisture_kg_kg=2.2),
        day_with(opening_moisture_kg_kg=None),
    ],
)
def test_a_day_just_inside_a_limit_passes(day: Conditions) -> None:
    """The ends of every range can be planned; frost before opening does not matter."""
    assert check_conditions(SITE, day) == []


def stull(temp_c: float, percent: float) -> float:
    """Wet bulb [°C] by eq. 1 of Stull, J. Appl. Meteorol. Climatol. 50 (2011) 2267–2269, who gives
    −1 to +0.65 K as its error at sea level."""
    return float(
        temp_c * math.atan(0.151977 * math.sqrt(percent + 8.313659))
        + math.atan(temp_c + percent)
        - math.atan(percent - 1.676331)
        + 0.00391838 * percent**1.5 * math.atan(0.023101 * percent)
        - 4.686035
    )


@pytest.mark.parametrize(("temp_c", "humidity"), [(3.0, 0.30), (5.0, 0.20), (1.0, 0.60)])
def test_a_day_whose_wet_bulb_is_below_freezing_is_refused_like_frost(
    temp_c: float, humidity: float
) -> None:
    """Dry air above 0 °C freezes what is wet; the model of water has no ice."""
    problems = check_conditions(SITE, day_with(temp_c=flat(temp_c), humidity=flat(humidity)))
    assert len(problems) == len(open_hours(SITE))
    words = told(problems[0], "si")
    assert words.startswith("At 7:00 the air has ")
    wet = float(words.partition("wet bulb of ")[2].partition(" ")[0].replace("−", "-"))
    assert wet == pytest.approx(stull(temp_c, 100 * humidity), abs=0.65)
    assert "ice is not in the model" in words
    mild = day_with(temp_c=flat(temp_c), humidity=flat(0.95))
    assert check_conditions(SITE, mild) == []


def test_a_tunnel_colder_than_the_day_freezes_too() -> None:
    """What counts is the colder of the air outdoors and in the tunnel."""
    cold = SITE.with_values({"tunnel_temp_offset_k": -5.0})
    day = day_with(temp_c=flat(4.0), humidity=flat(0.9))
    assert check_conditions(SITE, day) == []
    assert "a wet bulb of −1" in told(check_conditions(cold, day)[0], "si")


# ---- safety devices ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "Emergency stop failed", "failed_interlock", "no E-STOP", "estop out", "Guard off",
        "run without guards", "anti-collision broken", "collision sensor", "light curtain",
        "light-curtain off", "Safety relay bridged", "lock-out skipped", "lockout", "LOCK OUT",
        "emergency_stop", "pull-cord failed", "kill switch",
    ],
)  # fmt: skip
def test_a_failed_safety_device_is_refused(text: str) -> None:
    """However it is spelled, it is quoted, and the only advice is to stop and call for service."""
    problem = safety_problem("name", text)
    assert problem is not None
    assert problem.field == "name"
    for system in ("si", "us"):
        assert problem.say(system) == (
            f"“{text}” names a safety device. No plan is made for running on without one: stop, "
            "lock out, and call licensed service. Only a failed height or presence reading that "
            "shapes the wiping can be planned for."
        )


@pytest.mark.parametrize(
    "text",
    ["", "full", "Height reading failed", "presence", "Vanguard cloth", "the stop at noon",
     "clock 12:00-15:30", "Slower belt"],
)  # fmt: skip
def test_other_texts_are_let_through(text: str) -> None:
    """Failed shaping sensors and words that only look alike are no safety devices."""
    assert safety_problem("name", text) is None

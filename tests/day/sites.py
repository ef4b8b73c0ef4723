"""Generated sites that use every feature of the day together, and hand-made cars."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from hypothesis import strategies as st

from sim.checks import check_conditions, check_site
from sim.day.crew import CrewDay
from sim.day.draw import DayCars, DayDraw, Passes, make_cars
from sim.day.drawn import Belief
from sim.day.engine import AS_IT_IS, Draw, Experiment, Replication
from sim.day.night import PreviousDay
from sim.day.records import DayResult
from sim.day.rules import FULL, parse_changes, parse_rule
from sim.day.setup import DayNumbers, prepare_day
from sim.day.tunnel import simulate_day
from sim.inputs import Conditions, Site, Value

RULES = (
    "full", "reduced", "service", "clock 8:00-8:40", "band 30-24", "class van,pickup",
    "clock 8:10-8:30 or band 40-30", "class sedan,utility and clock 8:00-9:00",
    "class small or band 20-10 and clock 8:00-12:00", "crew clock 7:00-7:20,8:00-8:30",
    "crew cars 30-20", "crew strip 150-130 and class sedan,van",
    "crew cars 9-4 or crew strip 180-120", "crew hoods 4-1", "crew hoods 12-7 or crew cars 30-20",
)  # fmt: skip
LANES = (((0.0, 1.0),), ((0.0, 3.0),), ((0.0, 2.0), (28800.0, 4.0), (30000.0, 1.0)))
LOADERS = (((0.0, 1.0),), ((0.0, 2.0),), ((0.0, 1.0), (29000.0, 2.0)))
FINISHERS = (
    ((0.0, 0.0),), ((0.0, 1.0),), ((0.0, 4.0),), ((0.0, 2.0), (28800.0, 0.0), (29500.0, 3.0)),
    ((0.0, 0.0), (27000.0, 2.0), (28800.0, 1.0), (84600.0, 1.0)),
)  # fmt: skip
KINDS = ("fixed", "exponential", "lognormal", "gamma", "measured")


@dataclass(frozen=True, slots=True)
class SiteDay:
    """A generated site on a generated day under a rule, not yet simulated."""

    site: Site
    conditions: Conditions
    rule: str
    cloth: str
    seed: int

    def parts(self) -> tuple[DayNumbers, DayCars]:
        """The day's scalars and its cars."""
        cars = make_cars(DayDraw(self.seed), self.site, self.conditions)
        return prepare_day(self.site, self.conditions), cars

    def run(self) -> DayResult:
        """The simulated day."""
        day, cars = self.parts()
        changes = parse_changes(self.cloth, self.site.wear.sets_owned)
        return simulate_day(self.site, day, cars, parse_rule(self.rule), changes)


def flat(value: float) -> tuple[float, ...]:
    """The same value in each of the 24 hours."""
    return (value,) * 24


def conditions(
    cars_per_h: float = 60.0, temp_c: float = 25.0, humidity: float = 0.6, opening: float = 0.4
) -> Conditions:
    """A day that is the same in every hour."""
    return Conditions(
        flat(cars_per_h), flat(temp_c), flat(humidity), opening_moisture_kg_kg=opening
    )


def over_sites(
    site: Site,
    day: Conditions,
    seed: int,
    known: frozenset[str] | None,
    evening: PreviousDay | None = None,
    belief: Belief | None = None,
) -> Experiment:
    """Days crossed with drawn sites, as a comparison has them; the evening is wiped in full."""
    return Experiment(
        site, day, seed, evening, FULL, known, belief, with_level=known is not None, evenings=1
    )


def replication(experiment: Experiment, draw: Draw) -> Replication:
    """One draw of an experiment."""
    return experiment.at(draw.block, draw.point).replications(draw, [AS_IT_IS])[AS_IT_IS]


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """A float in a range, no odd values."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


PLAIN_GOODWILL: dict[str, Value] = {
    "zone_minded_roof": 0.0, "zone_minded_rear": 0.0, "member_share": 0.0,
}  # fmt: skip
"""Nobody minds a wet roof or rear, and nobody is a member: damp cars, reduced wipes and lost
cars have one price each."""
COLDEST_DRY_C = 18.0
"""Bone-dry air so warm has a wet bulb above 0 °C at any pressure of the table."""


@st.composite
def site_days(draw: st.DrawFn) -> SiteDay:
    """A site of about two open hours and up to some two hundred cars, every feature in play."""
    values: dict[str, Value] = {
        "open_h": draw(st.sampled_from((7.0, 7.5, 22.5))),
        "conveyor_speed_m_s": draw(number(0.15, 0.35)),
        "pusher_pitch_m": draw(number(0.2, 2.0)),
        "car_spacing_m": draw(number(4.85, 12.0)),
        "least_gap_m": draw(number(0.3, 3.0)),
        "wheel_position_m": draw(number(5.0, 40.0)),
        "stops_per_h": draw(number(0.0, 20.0)),
        "stops_per_car": draw(number(0.0, 0.1)),
        "stop_median_s": draw(number(5.0, 120.0)),
        "wheel_during_stop": draw(st.sampled_from(("idle", "off"))),
        "pay_lanes": draw(st.sampled_from(LANES)),
        "quick_payer_share": draw(number(0.0, 1.0)),
        "quick_pay_kind": draw(st.sampled_from(KINDS)),
        "quick_pay_measured_s": (0.0, 12.0, 30.0),
        "slow_pay_kind": draw(st.sampled_from(KINDS)),
        "slow_pay_measured_s": (25.0, 50.0),
        "loading_line_cars": draw(st.sampled_from((0, 1, 2, 7, 60))),
        "load_kind": draw(st.sampled_from(KINDS)),
        "load_measured_s": (0.0, 10.0, 20.0),
        "loaders": draw(st.sampled_from(LOADERS)),
        "stack_limit_cars": draw(st.sampled_from((0, 1, 5, 20, 300))),
        "patience_median_s": draw(st.sampled_from((60.0, 300.0, 14400.0))),
        "arrival_shape": draw(st.sampled_from(("constant", "linear"))),
        "day_factor_cv": draw(number(0.0, 0.5)),
        "hour_factor_cv": draw(number(0.0, 0.5)),
        "full_service_share": draw(number(0.0, 0.5)),
        "film_after_rinse_kg_m2": draw(number(0.02, 0.5)),
        "rinse_agent_factor": draw(st.sampled_from((1.0, 0.7))),
        "blowers_down": draw(st.booleans()),
        "film_cv": draw(number(0.0, 1.0)),
        "damp_limit_saturation": draw(number(0.1, 0.9)),
        "strip_count": draw(st.sampled_from((20, 60, 200, 600))),
        "throw_off_time_s": draw(number(60.0, 7200.0)),
        "throw_off_moisture_kg_kg": draw(number(0.05, 1.5)),
        "critical_moisture_kg_kg": draw(number(0.05, 1.5)),
        "still_h_w_m2k": draw(number(1.0, 25.0)),
        "tunnel_humid_share": draw(number(0.0, 1.0)),
        "wet_wear_factor": draw(number(0.2, 3.0)),
        "cloth_wear_cars": draw(number(0.0, 60000.0)),
        "soil_loss_per_1000_cars": draw(st.sampled_from((0.0, 0.01, 0.3))),
        "cloth_soil_cars": draw(number(0.0, 10000.0)),
        "set_change_cars": draw(st.sampled_from(("wait", "unwiped"))),
        "set_change_min": draw(number(5.0, 20.0)),
        "people": ((0.0, 20.0),),
        "finishers": draw(st.sampled_from(FINISHERS)),
        "finish_area_s_m2": draw(number(0.0, 60.0)),
        "finish_film_s_kg": draw(number(0.0, 1000.0)),
        "exit_patience_s": draw(st.sampled_from((0.0, 20.0, 60.0))),
        "finish_order": draw(st.sampled_from(("first", "hood", "members"))),
        "member_share": draw(number(0.0, 1.0)),
        "zone_minded_roof": draw(number(0.0, 1.0)),
        "zone_minded_rear": draw(number(0.0, 1.0)),
        "damp_rewash_share": draw(number(0.0, 0.5)),
        "rewash_return_s": draw(number(0.0, 300.0)),
        "close_spin_s": draw(number(0.0, 3600.0)),
        "spin_change_s": draw(st.sampled_from((0.0, 1.0, 3.0, 11.0, 60.0))),
        "idle_wear_speed_exponent": draw(number(0.0, 4.0)),
        "cue_delay_median_s": draw(st.sampled_from((0.0, 60.0, 900.0))),
        "cue_delay_log_sd": draw(number(0.0, 1.5)),
        "count_every_min": draw(st.sampled_from((0.0, 2.0, 10.0))),
        "count_log_sd": draw(number(0.0, 0.3)),
        "weigh_every_min": draw(st.sampled_from((0.0, 3.0, 20.0))),
        "weigh_in_log_sd": draw(number(0.01, 0.3)),
        "cue_cost_count_min": draw(st.sampled_from((0.0, 1.0))),
        "cue_cost_hoods_min": draw(number(0.0, 5.0)),
        "cue_cost_strip_min": draw(st.sampled_from((0.0, 0.5, 3.0, 20.0))),
        "hoods_every_min": draw(st.sampled_from((0.0, 4.0, 20.0))),
        "hood_misjudged_share": draw(number(0.0, 0.4)),
        "failed_sensor": draw(st.sampled_from(("none", "height", "presence"))),
    }  # fmt: skip
    values["close_h"] = float(str(values["open_h"])) + 1.5
    if draw(st.booleans()):
        values["speed_timetable"] = ((0.0, 0.3), (27600.0, 0.2), (29500.0, 0.35))
    if draw(st.booleans()):
        start = 3600.0 * float(str(values["open_h"])) + draw(number(0.0, 3500.0))
        stands = draw(number(1.0, 1800.0))
        values["belt_stands"] = ((0.0, 0.0), (start, 1.0), (start + stands, 0.0))
    site = Site("Generated").with_values(values)
    hands = draw(st.lists(number(0.5, 2.0), min_size=5, max_size=5))
    site = replace(site, vehicles=tuple(
        replace(item, numbers=replace(item.numbers, hand_work=hand))
        for item, hand in zip(site.vehicles, hands, strict=True)
    ))  # fmt: skip
    humid = tuple(draw(st.lists(number(0.05, 1.0), min_size=24, max_size=24)))
    warmer = draw(st.lists(number(0.0, 45.0), min_size=24, max_size=24))
    # dry air is warm enough for a wet bulb above 0 °C, in a colder tunnel too
    colder_k = max(0.0, -site.drying.tunnel_temp_offset_k)
    temps = tuple(
        min(45.0, more + colder_k + COLDEST_DRY_C * (1.0 - share))
        for more, share in zip(warmer, humid, strict=True)
    )
    arrivals = flat(draw(st.sampled_from((0.0, 3.0, 40.0, 90.0))))
    opening = draw(number(0.0, site.wheel.holding_capacity_kg_kg))
    day = Conditions(arrivals, temps, humid, opening)
    assert not check_site(site), [str(p) for p in check_site(site)]
    assert not check_conditions(site, day)
    cloth = draw(st.sampled_from(("", "8:00", "30 %", "22:45; 60 %", "20 %; 8:20")))
    return SiteDay(site, day, draw(st.sampled_from(RULES)), cloth, draw(st.integers(0, 2**32)))


def prompt_crew(site: Site, **other: Any) -> CrewDay:
    """A crew that acts at once, miscounts nothing and looks at every car, but for what is given."""
    holding = site.wheel.strip_dry_mass_kg * site.wheel.holding_capacity_kg_kg
    none, exact, right = np.zeros(1), np.ones(1), np.zeros(1, dtype=np.bool_)
    opens, dry = site.line.open_h * 3600.0, float(site.wheel.strip_dry_mass_kg)
    at_once = (0.0,) * 6
    prompt = CrewDay(none, exact, exact, right, *at_once, opens, dry, float(holding))
    return replace(prompt, **other)


def hand_made_cars(
    arrivals: tuple[float, ...],
    pay_s: tuple[float, ...],
    load_s: float = 10.0,
    kind: int = 1,
    length_m: float = 4.85,
    stop_s: tuple[float, ...] | None = None,
    clock_stops: tuple[tuple[float, float], ...] = (),
    crew: CrewDay | None = None,
) -> DayCars:
    """Cars of one class with everything given; median film, no damp car re-washed."""
    n = len(arrivals)
    ones = np.ones(n)
    stops = np.array(stop_s) if stop_s else np.zeros(n)
    passes = Passes(load_s * ones, ones.copy(), stops, 0.999 * ones)
    return DayCars(
        np.array(arrivals, dtype=float),
        np.full(n, kind),
        length_m * ones,
        np.zeros(n, dtype=bool),
        np.array(pay_s, dtype=float),
        1e9 * ones,
        passes,
        replace(passes, load_s=load_s * ones),
        clock_stops,
        crew or prompt_crew(Site("Hand-made")),
        np.arange(n) % 2 == 1,
    )

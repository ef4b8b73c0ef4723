"""Twenty sites that nobody has seen: their inputs as the program takes them, and their truth as the
other simulator does.

Guesses are drawn within the inner nine tenths of their priors, and the day with them. The first
twelve are of the model's shape; of the last eight each has something that the guide says was left
out, or that no page speaks of.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from sim.day.drawn import draw_site, uncertain
from sim.inputs import Conditions, Site, Value
from sim.inputs.entry import Steps
from sim.inputs.line import VehicleClass
from tests.blind.simulator import Wash
from tests.day.sites import PLAIN_GOODWILL
from tests.seeds import generator

SITES, OF_SHAPE = 20, 12
OPENS, CLOSES = 8, 18
OUTSIDE: tuple[tuple[str, dict[str, float]], ...] = (
    ("most of the water meets the middle of the wheel", {"middle": 0.65}),
    ("roof water runs onto the windshield", {"run_back": 0.1}),
    ("cars bring humidity into the tunnel", {"traffic": 0.2}),
    ("drivers leave the line again, and wet cloth throws more", {"leaves": 0.5, "power": 1.5}),
)
"""Two sites of each."""
AS_MODELLED = {"middle": 0.5, "run_back": 0.0, "traffic": 0.0, "leaves": 0.0, "power": 1.0}
USUAL: dict[str, Value] = {
    "open_h": float(OPENS), "close_h": float(CLOSES), "reduce_wish": "cost", "matters_money": 20.0,
    "damp_rewash_share": 0.0, "damp_limit_from": "film",
}  # fmt: skip
PRICES: dict[str, Value] = {
    "reduced_cost": 0.35, "set_price": 0.0, "unplanned_change_cost": 0.0, "launder_price": 0.0,
    "reduced_work_s": 0.0, "cue_cost_count_min": 0.0, "cue_cost_hoods_min": 0.0, **PLAIN_GOODWILL,
}  # fmt: skip
"""Damp, reduced and lost cars are all that a rule makes cheaper or dearer."""
SHAPE = (0.6, 0.8, 1.0, 1.2, 1.3, 1.3, 1.2, 1.0, 0.9, 0.7)
"""Cars of the open hours beside their mean."""


@dataclass(frozen=True, slots=True)
class BlindSite:
    """A site, its day, and what of it lies outside the model.

    Attributes:
        odd: in words; empty for a site of the model's shape.
    """

    number: int
    site: Site
    conditions: Conditions
    odd: str
    outside: dict[str, float]

    def wash(self, **changes: float) -> Wash:
        """Its truth."""
        return wash_of(self.site, self.conditions)._replace(**{**self.outside, **changes})


def blind_site(number: int) -> BlindSite:
    """One of the twenty."""
    rng, usual = generator(f"blind site {number}"), Site(f"Blind {number}").with_values(USUAL)
    names = uncertain(usual, frozenset())
    site = draw_site(usual, names, rng.uniform(0.05, 0.95, len(names))).with_values(PRICES)
    cars, temp, humidity = rng.uniform(35.0, 105.0), rng.uniform(10.0, 34.0), rng.uniform(0.3, 0.85)
    per_h = (0.0,) * OPENS + tuple(cars * part for part in SHAPE) + (0.0,) * (24 - CLOSES)
    opening = rng.uniform(0.1, 0.5) * site.wheel.holding_capacity_kg_kg
    conditions = Conditions(per_h, (temp,) * 24, (humidity,) * 24, float(opening))
    odd, outside = OUTSIDE[(number - OF_SHAPE) // 2] if number >= OF_SHAPE else ("", {})
    return BlindSite(number, site, conditions, odd, {**AS_MODELLED, **outside})


def _row(item: VehicleClass) -> list[float]:
    n = item.numbers
    return [
        n.share, n.length_m, n.length_sd_m, n.pushed_wheel_m, n.hood_start_m,
        *item.areas_m2, *item.wiped_m,
    ]  # fmt: skip


def wash_of(site: Site, day: Conditions) -> Wash:
    """The same numbers as the other simulator takes them, everything of the model's shape."""
    value = site.value

    def first(name: str) -> float:
        (row,) = cast("Steps", value(name))  # the other simulator knows of no timetable
        return row[1]

    def of(name: str) -> float:
        found = value(name)
        assert isinstance(found, int | float)
        return float(found)

    assert first("loaders") == 1.0
    assert first("finishers") == 0.0
    factors = [of(f"film_factor_{zone}") for zone in ("hood", "windshield", "roof", "rear")]
    return Wash(
        opens=3600.0 * of("open_h"), closes=3600.0 * of("close_h"),
        cars=_floats(day.arrivals_per_h), temp=_floats(day.temp_c),
        humidity=_floats(day.humidity), opening=day.opening_moisture_kg_kg,
        speed=of("conveyor_speed_m_s"), pitch=of("pusher_pitch_m"), spacing=of("car_spacing_m"),
        gap=of("least_gap_m"), wheel_at=of("wheel_position_m"), stops_h=of("stops_per_h"),
        stops_car=of("stops_per_car"), stop_median=of("stop_median_s"), stop_sd=of("stop_log_sd"),
        lanes=int(first("pay_lanes")), quick=of("quick_payer_share"),
        quick_s=of("quick_pay_mean_s"), quick_cv=of("quick_pay_cv"), slow_s=of("slow_pay_mean_s"),
        slow_cv=of("slow_pay_cv"), line_places=int(of("loading_line_cars")),
        load_s=of("load_mean_s"), load_cv=of("load_cv"), stack_places=int(of("stack_limit_cars")),
        patience=of("patience_median_s"), patience_sd=of("patience_log_sd"),
        day_cv=of("day_factor_cv"), hour_cv=of("hour_factor_cv"),
        film=of("film_after_rinse_kg_m2"), blower=of("blower_removal"),
        blow_at=of("blower_reference_speed_m_s"), blow_exp=of("blower_speed_exponent"),
        film_cv=of("film_cv"), factors=_floats(factors), patch=of("contact_patch_m"),
        takes=of("uptake_max"), wipe_s=of("wipe_time_s"),
        soil=of("soil_loss_per_1000_cars"), allowed=of("allowed_film_kg_m2"),
        radius=of("wheel_radius_m"), length=of("strip_length_m"), width=of("strip_width_m"),
        strips=of("strip_count"), dry_kg=of("strip_dry_mass_kg"), on_car=of("contact_speed_rev_s"),
        idle=of("idle_speed_rev_s"), change_s=of("spin_change_s"),
        holds=of("holding_capacity_kg_kg"), limit=of("throw_off_moisture_kg_kg"),
        throw_s=of("throw_off_time_s"), limit_exp=of("throw_off_speed_exponent"),
        time_exp=of("throw_off_time_exponent"), critical=of("critical_moisture_kg_kg"),
        bound=of("bound_moisture_kg_kg"), exposed=of("exposed_area_share"), slip=of("air_slip"),
        still_h=of("still_h_w_m2k"), warmer=of("tunnel_temp_offset_k"),
        humid=of("tunnel_humid_share"), classes=np.array([_row(one) for one in site.vehicles]),
        late=of("cue_delay_median_s"), late_sd=of("cue_delay_log_sd"),
        count_s=60.0 * of("count_every_min"), count_sd=of("count_log_sd"),
        hoods_s=60.0 * of("hoods_every_min"),
        misjudged=of("hood_misjudged_share"), **AS_MODELLED,
    )  # fmt: skip


def _floats(values: tuple[float, ...] | list[float]) -> NDArray[np.float64]:
    return np.array(values, dtype=float)

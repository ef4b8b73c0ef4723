"""Scalars of a day, worked out once from site and conditions before any car moves.

Both implementations of the day read these, so that they differ only in what moves cars.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace

from sim.checks import (
    LENGTH_SPREADS,
    SECOND_CLOTH,
    open_hours,
    shortest_m,
    site_kappa,
    site_median_film,
)
from sim.inputs import FIRST, FOLLOWS, INPUTS, SECOND, Conditions, Site, Steps, Value
from sim.physics import air, belt, moisture, water_film, wear

IDLE, CONTACT, STILL = 0, 1, 2
"""States of the wheel: turning off a car, turning on a car, standing."""


@dataclass(frozen=True, slots=True)
class Zone:
    """A wiped zone of a vehicle class: index in `ZONES`, area [m²], length [m], film factor."""

    index: int
    area_m2: float
    wiped_m: float
    factor: float


@dataclass(frozen=True, slots=True)
class ClothNumbers:
    """The cloth on the wheel.

    Attributes:
        mass_kg: dry mass M of all strips.
        holding, bound, critical: X_cap, X_h, X_c [kg/kg].
        throw: (X_e, k) for each state of the wheel; k = 0 where it stands.
        slow_s: belt-moving time after a car's last contact that counts at contact speed [s]. The
            wheel takes `spin_change_s` to run up and as long to run down before the next car. Both
            count at the start of the gap, where a short gap cuts them off: moisture in a gap moves
            one way, so it matters little which end they are at, and no wheel needs to know how
            long a gap will be.
        wear_per_h: wear of an hour off a car, by state of the wheel [full-wipe equivalents].
        rate: drying rate r = R_c/M [kg/kg/s] by clock hour and state, tunnel open.
        night_rate: the same standing, tunnel closed, by clock hour.
    """

    mass_kg: float
    holding: float
    bound: float
    critical: float
    throw: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    slow_s: float
    wear_per_h: tuple[float, float, float]
    rate: tuple[tuple[float, float, float], ...]
    night_rate: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class DayNumbers:
    """Everything of a site that a day needs as plain numbers.

    Attributes:
        speeds: conveyor speed by time of day [m/s], a failed shaping sensor allowed for.
        spacing_m: car spacing setting, likewise.
        wiped_share: share of each zone still wiped, 1 unless a shaping sensor has failed.
        capacity_per_s: saturated capacity of belt and loader [1/s].
        allowed_film: film above which a hood or windshield is damp [kg/m²].
        damp_limit: saturation at which the reference car with median film just leaves damp.
        zones: wiped zones by vehicle class, those without an area left out.
        reference_slide_m: sliding distance of the reference car wiped in full [m].
    """

    open_s: float
    close_s: float
    speeds: Steps
    spacing_m: float
    wiped_share: float
    capacity_per_s: float
    mean_pushers: float
    allowed_film: float
    damp_limit: float
    zones: tuple[tuple[Zone, ...], ...]
    surface_speed_m_s: float
    reference_slide_m: float
    cloth: ClothNumbers
    opening_moisture: float


def as_hung(site: Site) -> Site:
    """The site with the kind of cloth that hangs as its usual one; itself with the usual one.

    When a car counts as damp does not depend on the cloth: the allowed film stays that of the
    usual one.
    """
    second = site.second
    if second.cloth_kind != SECOND:
        return site
    hung: dict[str, Value] = {
        of: _within(of, site, float(str(site.value(name)))) for name, of in SECOND_CLOTH.items()
    }
    holding = float(str(hung["holding_capacity_kg_kg"]))
    ends = float(str(hung["throw_off_moisture_kg_kg"]))
    price = second.second_set_price
    return site.with_values({
        **hung,
        "cloth_kind": FIRST,
        "damp_limit_from": "film",
        "allowed_film_kg_m2": damp_criterion(site)[0],
        # what a drawn capacity may not hold
        "throw_off_moisture_kg_kg": min(ends, holding),
        "critical_moisture_kg_kg": min(site.drying.critical_moisture_kg_kg, holding),
        "dry_set_moisture_kg_kg": min(site.wear.dry_set_moisture_kg_kg, holding),
        "set_price": site.money.set_price if price == FOLLOWS else price,
    })  # fmt: skip


def _within(name: str, site: Site, factor: float) -> float:
    """An input times a factor, within what the table allows of it."""
    row = INPUTS[name]
    return min(max(float(str(site.value(name))) * factor, row.low), row.high)


def prepare_day(site: Site, conditions: Conditions) -> DayNumbers:
    """The day's scalars; site and conditions must have passed `sim.checks`.

    Without an opening moisture the day starts with a set put on dry; never with more water than
    the cloth holds.
    """
    line, failed = site.line, site.degraded.failed_sensor != "none"
    slower = site.degraded.failed_speed_factor if failed else 1.0
    table = line.speed_timetable or ((0.0, line.conveyor_speed_m_s),)
    speeds = tuple((start, speed * slower) for start, speed in table)
    spacing = line.car_spacing_m * (site.degraded.failed_spacing_factor if failed else 1.0)
    wiped_share = site.degraded.failed_wiped_share if failed else 1.0
    pushers = _mean_pushers(site, spacing)
    opening = hung_moisture(site, conditions.opening_moisture_kg_kg)
    surface = 2.0 * math.pi * site.wheel.wheel_radius_m * site.wheel.contact_speed_rev_s
    reference_time = math.fsum(site.reference.wiped_m) / site.water.blower_reference_speed_m_s
    allowed, limit = damp_criterion(site)
    if site.water.rinse_agent_factor != 1.0 or site.water.blowers_down:
        limit = _limit_now(site, allowed)
    return DayNumbers(
        line.open_h * 3600.0,
        line.close_h * 3600.0,
        speeds,
        spacing,
        wiped_share,
        _capacity(site, speeds[0][1], pushers),
        pushers,
        allowed,
        limit,
        _zones(site, wiped_share),
        surface,
        wear.sliding_distance_m(surface, site.water.blower_reference_speed_m_s, reference_time),
        cloth_numbers(site, conditions),
        min(opening, site.wheel.holding_capacity_kg_kg),
    )


def hung_moisture(site: Site, left: float | None) -> float:
    """Moisture of what hangs in the morning [kg/kg]: what the evening left, if that is known; a dry
    set where it isn't, or where one is put on every morning."""
    if left is None or site.wear.dry_set_at_opening:
        return site.wear.dry_set_moisture_kg_kg
    return left


def damp_criterion(site: Site) -> tuple[float, float]:
    """Allowed film [kg/m²] and damp limit [saturation]; the site enters one, the other follows.

    An allowed film at or above the median film is a damp limit of 1: no wiping is needed. One that
    even dry cloth does not reach, as with the blowers down, is a limit of 0.
    """
    median, kappa = site_median_film(site), site_kappa(site)
    if site.wiping.is_judged_by_film:
        allowed = site.wiping.allowed_film_kg_m2
        return allowed, min(1.0, max(0.0, water_film.damp_limit_of(median, kappa, allowed)))
    limit = site.wiping.damp_limit_saturation
    return water_film.allowed_film(median, kappa, limit), limit


def _limit_now(site: Site, allowed_kg_m2: float) -> float:
    """Saturation at which the reference car just leaves damp with the rinse and the blowers as
    they are run; 0 where even dry cloth leaves it damp."""
    water = site.water
    film = water.film_factor_hood * water.film_rinsed_kg_m2 * (1.0 - water.removal_now)
    limit = water_film.damp_limit_of(film, site_kappa(site), allowed_kg_m2)
    return min(max(limit, 0.0), 1.0)


def _mean_pushers(site: Site, spacing_m: float) -> float:
    """Expected pushers from one car to the next, over pairs of classes and lengths ahead."""
    line = site.line
    total = 0.0
    for ahead in site.vehicles:
        mean, spread = ahead.numbers.length_m, ahead.numbers.length_sd_m
        length = (mean, spread, shortest_m(ahead), mean + LENGTH_SPREADS * spread)
        for behind in site.vehicles:
            apart = belt.mean_pushers_apart(
                spacing_m,
                line.least_gap_m,
                line.pusher_pitch_m,
                length,
                ahead.numbers.pushed_wheel_m,
                behind.numbers.pushed_wheel_m,
            )
            total += ahead.numbers.share * behind.numbers.share * apart
    return total


def belt_cars_per_h(site: Site) -> float:
    """Cars an hour that the belt carries while it moves, at the site's speed and spacing."""
    return 3600.0 * belt.cars_per_s(site.line.conveyor_speed_m_s, _apart_m(site))


def speed_for(site: Site, cars_per_h: float) -> float:
    """Belt speed at which it carries so many cars an hour while it moves [m/s]."""
    return cars_per_h / 3600.0 * _apart_m(site)


def _apart_m(site: Site) -> float:
    """Mean way from a car to the next on the belt, in whole pushers [m]."""
    return site.line.pusher_pitch_m * _mean_pushers(site, site.line.car_spacing_m)


def _capacity(site: Site, speed_m_s: float, mean_pushers: float) -> float:
    """Saturated capacity [1/s]: the belt with its stops, bounded by one loader's mean time."""
    line = site.line
    mean_stop_s = line.stop_median_s * math.exp(0.5 * line.stop_log_sd**2)
    moving = belt.belt_capacity_per_s(
        speed_m_s,
        line.pusher_pitch_m,
        mean_pushers,
        line.stops_per_h / 3600.0,
        line.stops_per_car,
        mean_stop_s,
    )
    return min(moving, 1.0 / mean_load_s(site))


def mean_load_s(site: Site) -> float:
    """Mean loading time with one loader [s]."""
    pay = site.pay
    if pay.load_kind == "measured":
        return max(1e-6, math.fsum(pay.load_measured_s) / len(pay.load_measured_s))
    return pay.load_mean_s


def _zones(site: Site, wiped_share: float) -> tuple[tuple[Zone, ...], ...]:
    water = site.water
    factors = (
        water.film_factor_hood,
        water.film_factor_windshield,
        water.film_factor_roof,
        water.film_factor_rear,
    )
    return tuple(
        tuple(
            Zone(z, area, item.wiped_m[z] * wiped_share, factors[z])
            for z, area in enumerate(item.areas_m2)
            if area > 0
        )
        for item in site.vehicles
    )


def cloth_numbers(
    site: Site, conditions: Conditions, hours: Collection[int] = range(24)
) -> ClothNumbers:
    """The scalars of the cloth on a day; its cars do not matter.

    Args:
        hours: clock hours whose air is needed; the rates of the others are NaN.
    """
    wheel, drying = site.wheel, site.drying

    def throw(speed_rev_s: float) -> tuple[float, float]:
        return moisture.throw_off_at(
            speed_rev_s,
            wheel.reference_speed_rev_s,
            wheel.throw_off_moisture_kg_kg,
            wheel.throw_off_time_s,
            wheel.throw_off_speed_exponent,
            wheel.throw_off_time_exponent,
            wheel.holding_capacity_kg_kg,
            drying.bound_moisture_kg_kg,
        )

    def wears(speed_rev_s: float) -> float:
        return wear.idle_wear_at(
            speed_rev_s,
            wheel.reference_speed_rev_s,
            site.wear.idle_wear_per_h,
            site.wear.idle_wear_speed_exponent,
        )

    speeds = _wheel_speeds(site)
    return ClothNumbers(
        site.cloth_mass_kg,
        wheel.holding_capacity_kg_kg,
        drying.bound_moisture_kg_kg,
        drying.critical_moisture_kg_kg,
        (throw(speeds[0]), throw(speeds[1]), throw(0.0)),
        2.0 * wheel.spin_change_s,
        (wears(speeds[0]), wears(speeds[1]), wears(0.0)),
        _open_rates(site, conditions, hours),
        tuple(_night_rate(site, conditions, hour, hours) for hour in range(24)),
    )


def in_other_air(day: DayNumbers, site: Site, conditions: Conditions) -> DayNumbers:
    """A site's day with the air of other conditions while it is open; its night stays, and so does
    the moisture at which it opens."""
    return replace(day, cloth=replace(day.cloth, rate=_open_rates(site, conditions)))


def _night_rate(site: Site, conditions: Conditions, hour: int, hours: Collection[int]) -> float:
    """See `ClothNumbers.night_rate`."""
    if hour not in hours:
        return math.nan
    if conditions.temp_c[hour] < 0:
        return 0.0
    return _rates(site, conditions, hour, site.drying.night_humid_share, (0.0,))[0]


def _open_rates(
    site: Site, conditions: Conditions, hours: Collection[int] = range(24)
) -> tuple[tuple[float, float, float], ...]:
    """See `ClothNumbers.rate`."""
    speeds = _wheel_speeds(site)
    opened = open_hours(site)
    found = []
    for hour in range(24):
        if hour not in hours:
            found.append((math.nan, math.nan, math.nan))
            continue
        # hours outside opening matter only for overtime and the last spin; frost ends the model
        usable = hour in opened or conditions.temp_c[hour] >= 0
        share = site.drying.tunnel_humid_share
        rates = _rates(site, conditions, hour, share, speeds) if usable else (0.0, 0.0, 0.0)
        found.append((rates[0], rates[1], rates[2]))
    return tuple(found)


def _wheel_speeds(site: Site) -> tuple[float, float, float]:
    """By state of the wheel [rev/s]."""
    return site.wheel.idle_speed_rev_s, site.wheel.contact_speed_rev_s, 0.0


def _rates(
    site: Site, conditions: Conditions, hour: int, humid_share: float, speeds: tuple[float, ...]
) -> tuple[float, ...]:
    """Drying rates in a clock hour at some speeds of the wheel [kg/kg/s]."""
    wheel, drying = site.wheel, site.drying
    area = air.exposed_area_m2(
        wheel.strip_count, wheel.strip_length_m, wheel.strip_width_m, drying.exposed_area_share
    )
    temp, _, wet_bulb = air.tunnel_air(
        conditions.temp_c[hour],
        conditions.humidity[hour],
        drying.pressure_pa,
        drying.tunnel_temp_offset_k,
        humid_share,
    )
    found = []
    for speed in speeds:
        if speed > 0:
            h = air.spinning_h(
                speed,
                wheel.wheel_radius_m,
                wheel.strip_length_m,
                wheel.strip_width_m,
                drying.air_slip,
                temp,
                drying.pressure_pa,
            )
        else:
            h = drying.still_h_w_m2k
        heat = drying.wheel_heat_w if speed > 0 else 0.0
        dried = air.drying_rate_kg_s(h, area, temp, wet_bulb, heat)
        found.append(dried / site.cloth_mass_kg)
    return tuple(found)

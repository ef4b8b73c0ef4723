"""The yardstick: a bare three-stage SimPy line that makes the same physics calls per car.

Pay lanes, loader, wheel as plain resources; cars come, are served and go. It has nothing else of
the product's model: no limits, no patience, no stops, no timetables, no wiping rules, no splits
at full hours, no records. What the model costs beyond this line is the price of those.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

import simpy

from sim.day.draw import DayCars
from sim.day.setup import CONTACT, IDLE, DayNumbers
from sim.inputs import Site
from sim.physics.belt import pusher_at_or_after, pushers_apart
from sim.physics.moisture import cloth_step
from sim.physics.water_film import film_at_wheel, left_by_soil, uptake_now, wipe_zone, wiping_share
from sim.physics.wear import sliding_distance_m, wear_equivalents

Process = Generator[simpy.Event, Any, Any]


class BareLine:
    """One day of a site with one belt speed; every car is washed and wiped in full."""

    def __init__(self, site: Site, day: DayNumbers, cars: DayCars) -> None:
        self.site, self.day, self.cars = site, day, cars
        self.env = simpy.Environment(initial_time=day.open_s)
        self.lanes = simpy.Resource(self.env, int(site.pay.pay_lanes[0][1]))
        self.loader = simpy.Resource(self.env)
        self.wheel = simpy.Resource(self.env)
        self.speed = day.speeds[0][1]
        self.moisture = day.opening_moisture
        self.cloth_s = day.open_s
        self.wear = 0.0
        self.last: tuple[int, float, float] | None = None  # pusher, length, pushed wheel
        self.soil = float(site.wear.cloth_soil_cars)
        self.washed = 0

    def run(self) -> int:
        """Runs the day to its end and returns how many cars were washed."""
        self.env.process(self._arrivals())
        self.env.run()
        return self.washed

    def _arrivals(self) -> Process:
        for number, arrival in enumerate(self.cars.arrival_s.tolist()):
            yield self.env.timeout(arrival - self.env.now)
            self.env.process(self._car(number))

    def _car(self, number: int) -> Process:
        env, cars, line = self.env, self.cars, self.site.line
        numbers = self.site.vehicles[int(cars.class_index[number])].numbers
        length = float(cars.length_m[number])
        with self.lanes.request() as lane:
            yield lane
            yield env.timeout(float(cars.pay_s[number]))
        with self.loader.request() as loader:
            yield loader
            yield env.timeout(float(cars.first.load_s[number]))
            pitch = line.pusher_pitch_m
            pusher = pusher_at_or_after((env.now - self.day.open_s) * self.speed, pitch)
            if self.last is not None:
                apart = pushers_apart(
                    self.day.spacing_m,
                    line.least_gap_m,
                    pitch,
                    self.last[1],
                    self.last[2],
                    numbers.pushed_wheel_m,
                )
                pusher = max(pusher, self.last[0] + apart)
            self.last = (pusher, length, numbers.pushed_wheel_m)
            yield self._reach(pusher * pitch)
        nose = pusher * pitch - numbers.pushed_wheel_m + line.wheel_position_m
        yield self._reach(nose + numbers.hood_start_m)
        with self.wheel.request() as wheel:
            yield wheel
            yield from self._wipe(number, nose + numbers.hood_start_m)
            yield self._reach(nose + length)
            self._carry(IDLE)
        self.washed += 1

    def _reach(self, travel_m: float) -> simpy.Timeout:
        due = self.day.open_s + travel_m / self.speed
        return self.env.timeout(max(0.0, due - self.env.now))

    def _wipe(self, number: int, at: float) -> Process:
        day, water, wiping, wear = self.day, self.site.water, self.site.wiping, self.site.wear
        cloth, speed = day.cloth, self.speed
        noise = float(self.cars.first.film_noise[number])
        self._carry(IDLE)
        for zone in day.zones[int(self.cars.class_index[number])]:
            film = film_at_wheel(
                zone.factor,
                water.film_rinsed_kg_m2,
                water.removal_now,
                water.blower_reference_speed_m_s,
                water.blower_speed_exponent,
                speed,
                noise,
            )
            uptake = uptake_now(
                wiping.uptake_max,
                wear.uptake_loss_at_life,
                self.wear,
                wear.life_scale_cars,
                left_by_soil(wear.soil_loss_per_1000_cars, self.soil),
            )
            kappa = wiping_share(uptake, wiping.contact_patch_m, speed, wiping.wipe_time_s)
            self.moisture, _, _ = wipe_zone(
                self.moisture, film, zone.area_m2, kappa, cloth.holding, cloth.mass_kg
            )
            slide = sliding_distance_m(day.surface_speed_m_s, speed, zone.wiped_m / speed)
            self.wear += wear_equivalents(slide, day.reference_slide_m, wear.wet_wear_factor)
            at += zone.wiped_m
            yield self._reach(at)
            self._carry(CONTACT)
        self.soil += 1.0

    def _carry(self, state: int) -> None:
        now, cloth = self.env.now, self.day.cloth
        limit, k = cloth.throw[state]
        rate = cloth.rate[int(self.cloth_s // 3600) % 24][state]
        self.moisture, *_ = cloth_step(
            self.moisture, now - self.cloth_s, limit, k, rate, cloth.critical, cloth.bound
        )
        self.cloth_s = now

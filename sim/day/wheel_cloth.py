"""The cloth on the wheel through a day: its moisture, its account by hour, its wear."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sim.day.records import ClothHour
from sim.day.setup import CONTACT, IDLE, STILL, ClothNumbers, DayNumbers
from sim.inputs import Site
from sim.physics.moisture import cloth_step
from sim.physics.water_film import left_by_soil, uptake_now, wipe_zone, wiping_share
from sim.physics.wear import sliding_distance_m, spinning_wear, wear_equivalents

Piece = tuple[float, float, int, float]
"""A stretch of constant conditions: begin and end [s], state of the wheel, moisture at first."""
LOCK_SLACK_S = 1e-9
"""A car that waited for a change of set finds it finished, whatever rounding says [s]."""


class WheelCloth:
    """State of the cloth between and during contacts.

    After a contact the wheel counts as turning at contact speed for `ClothNumbers.slow_s` of the
    time in which the belt moves and the wheel is not locked out, unless the next contact comes
    sooner; from then on it idles. At opening and after closing it idles.

    Attributes:
        moisture: X [kg water per kg dry cloth].
        now_s: time up to which the cloth has been carried.
        wear_cars: wear of the set on the wheel; day_wear_cars: wear of the day on all sets.
        soil_cars: cars whose soil the set on the wheel holds.
        pieces: every stretch that the cloth was carried through, in order, for whoever watches the
            day; None: they are not kept.
    """

    def __init__(self, site: Site, day: DayNumbers, stops: list[tuple[float, float]]) -> None:
        self._day = day
        self._wiping = site.wiping
        self._wear = site.wear
        self._stops = stops
        self._first_stop = 0
        self._in_stop = IDLE if site.line.wheel_during_stop == "idle" else STILL
        self._limit = day.damp_limit * day.cloth.holding
        self._locked_until = -math.inf
        self._slow_s = 0.0  # what is left of the change of speed
        self.moisture = day.opening_moisture
        self.now_s = day.open_s
        self.wear_cars = site.wear.cloth_wear_cars
        self.soil_cars = site.wear.cloth_soil_cars
        self.day_wear_cars = 0.0
        self.carried_off_kg = 0.0
        self.set_number = 0
        self.hours: list[ClothHour] = []
        self.pieces: list[Piece] | None = None

    @property
    def saturation(self) -> float:
        """Water held ÷ holding capacity."""
        return self.moisture / self._day.cloth.holding

    def locked_out(self, now_s: float) -> bool:
        """Whether the wheel is locked out for a change of set or a weighing."""
        return now_s < self._locked_until - LOCK_SLACK_S

    def lock_out(self, until_s: float) -> None:
        """The wheel stands from now until a time at least, since a hand is near it."""
        self._locked_until = max(self._locked_until, until_s)

    def change_set(self, now_s: float, duration_s: float) -> None:
        """Put a dry set on; the wheel stands for the duration. The old set's water leaves."""
        fresh = self._wear.dry_set_moisture_kg_kg
        self.carried_off_kg += (self.moisture - fresh) * self._day.cloth.mass_kg
        self.moisture = fresh
        self.wear_cars = self._wear.cloth_wear_cars
        self.soil_cars = self._wear.cloth_soil_cars
        self.set_number += 1
        self._locked_until = now_s + duration_s

    def wipe(
        self, film: float, area_m2: float, wiped_m: float, speed_m_s: float
    ) -> tuple[float, float, float]:
        """Wipe one zone in one instant.

        Returns:
            Film left [kg/m²], water taken [kg], wear [full-wipe equivalents].
        """
        cloth, wiping, wear = self._day.cloth, self._wiping, self._wear
        self._slow_s = cloth.slow_s
        wet = 1.0 + (wear.wet_wear_factor - 1.0) * self.saturation
        uptake = uptake_now(
            wiping.uptake_max,
            wear.uptake_loss_at_life,
            self.wear_cars,
            wear.life_scale_cars,
            left_by_soil(wear.soil_loss_per_1000_cars, self.soil_cars),
        )
        kappa = wiping_share(uptake, wiping.contact_patch_m, speed_m_s, wiping.wipe_time_s)
        self.moisture, water, left = wipe_zone(
            self.moisture, film, area_m2, kappa, cloth.holding, cloth.mass_kg
        )
        slide = sliding_distance_m(self._day.surface_speed_m_s, speed_m_s, wiped_m / speed_m_s)
        worn = wear_equivalents(slide, self._day.reference_slide_m, wet)
        self._add_wear(worn)
        self._hour(self.now_s).taken_kg += water
        return left, water, worn

    def take_soil(self) -> None:
        """A car has been wiped, in full or reduced."""
        self.soil_cars += 1.0

    def close(self, closed_s: float) -> None:
        """From closing on the wheel idles, whenever the last contact was."""
        if self._slow_s > 0.0:
            self.advance(closed_s, touching=False)
            self._slow_s = 0.0

    def advance(self, until_s: float, touching: bool) -> None:
        """Carry the cloth to a time, on a car or off, by exact pieces of constant conditions."""
        for start, end, state in self._pieces(self.now_s, until_s, touching):
            self._step(start, end, state, on_car=touching and state == CONTACT)
        self.now_s = max(self.now_s, until_s)

    def _pieces(
        self, start: float, until: float, touching: bool
    ) -> Iterator[tuple[float, float, int]]:
        """Stretches of one hour and one state of the wheel, in order."""
        stops = self._stops
        now = start
        while now < until:
            # a stop that ended before now never counts again
            while self._first_stop < len(stops) and stops[self._first_stop][1] <= now:
                self._first_stop += 1
            end = min(until, (now // 3600 + 1) * 3600.0)
            state, in_stop = CONTACT if touching else IDLE, False
            if self._first_stop < len(stops):
                stop_start, stop_end = stops[self._first_stop]
                if stop_start <= now:
                    state, end, in_stop = self._in_stop, min(end, stop_end), True
                else:
                    end = min(end, stop_start)
            if now < self._locked_until:
                state, end = STILL, min(end, self._locked_until)
            elif not touching and self._slow_s > 0.0 and not in_stop:
                state = CONTACT
                if now + self._slow_s <= end:
                    end, self._slow_s = now + self._slow_s, 0.0
                else:
                    self._slow_s -= end - now
            yield now, end, state
            now = end

    def _step(self, start: float, end: float, state: int, *, on_car: bool) -> None:
        cloth = self._day.cloth
        before, span = self.moisture, end - start
        if self.pieces is not None:
            self.pieces.append((start, end, state, before))
        self.moisture, thrown, evaporated, held = left_alone(cloth, start, span, state, before)
        hour = self._hour(start)
        hour.thrown_kg += thrown * cloth.mass_kg
        hour.evaporated_kg += evaporated * cloth.mass_kg
        hour.held_s += held
        hour.time_s += span
        hour.over_limit_s += span * _share_above(before, self.moisture, self._limit)
        if state != STILL and not on_car:
            hour.spinning_s += span
            self._add_wear(spinning_wear(span, cloth.wear_per_h[state]))

    def _add_wear(self, worn: float) -> None:
        self.wear_cars += worn
        self.day_wear_cars += worn

    def _hour(self, now_s: float) -> ClothHour:
        index = int(now_s // 3600)
        while len(self.hours) <= index:
            self.hours.append(ClothHour())
        return self.hours[index]


def left_alone(
    cloth: ClothNumbers, start_s: float, span_s: float, state: int, moisture: float
) -> tuple[float, float, float, float]:
    """What becomes of cloth that nothing wets for a while within one clock hour.

    Returns:
        As `cloth_step`: moisture at the end, thrown and evaporated [kg/kg], ∫ moisture dt.
    """
    limit_moisture, k = cloth.throw[state]
    rate = cloth.rate[int(start_s // 3600) % 24][state]
    return cloth_step(moisture, span_s, limit_moisture, k, rate, cloth.critical, cloth.bound)


def _share_above(before: float, after: float, limit: float) -> float:
    """Share of a step spent at or above a limit, moisture falling in a straight line."""
    if after >= limit:
        return 1.0
    if before < limit:
        return 0.0
    return (before - limit) / (before - after)

"""The day as a SimPy model: stack, pay lanes, loading line, loader, belt, wheel.

It reads like the line itself: cars arrive or drive away, pay,
wait for a place in the loading line, are loaded and caught by a pusher, ride to the wheel and are
wiped zone by zone. What becomes of damp cars behind the wheel is `sim.day.apron`'s. Random numbers
come from the day's cars alone, so the same cars always make the same day.

Ties: lanes open and close first; departures before arrivals; a re-wash that returns goes ahead of
payments that end; of those the lower lane goes first.
"""

from __future__ import annotations

import bisect
import math
from collections import deque
from collections.abc import Callable

import simpy

from sim.day.apron import (
    AFTER_DEPARTURES,
    AFTER_PAYMENTS,
    AFTER_RETURNS,
    BY_THE_CLOCK,
    Apron,
    PriorityTimeout,
    Process,
)
from sim.day.draw import DayCars
from sim.day.records import FULL_STACK, IMPATIENT, NAN, REWASHED, CarPass, DayResult
from sim.day.rules import Rule, RuleState, SetChange
from sim.day.setup import DayNumbers
from sim.day.wheel_cloth import WheelCloth
from sim.inputs import Site, Steps, value_at
from sim.physics.belt import REACHED_M, TIME_TOLERANCE_S, pusher_at_or_after, pushers_apart
from sim.physics.water_film import film_at_wheel


class BeltTime:
    """Travel of the belt over a day: speeds by timetable, frozen by stops, x(t) = ∫ v dt.

    Stops by the clock are known from the start; a car may add one when it is caught. Stops only
    ever delay, so a position found to be reached at some time is reached then or later, never
    earlier. `stops` holds every stop that has begun, joined where they overlap, as (start, end)
    [s].
    """

    def __init__(
        self, start_s: float, speeds: Steps, clock_stops: tuple[tuple[float, float], ...]
    ) -> None:
        self._speeds = speeds
        self._changes = [row[0] for row in speeds]
        self._ahead = clock_stops  # by start; those before `_next` have begun
        self._next = 0
        # The state is known up to `_now`, ahead of the clock while the belt stands until then;
        # from there the belt moves at `_speed` until `_until`.
        self._now = start_s
        self._travel = 0.0
        self._speed, self._until = self._stretch(start_s, 0)
        self.stops: list[tuple[float, float]] = []

    def speed(self, now_s: float) -> float:
        """Speed that the timetable gives [m/s], stops apart."""
        return self._speeds[bisect.bisect_right(self._changes, now_s) - 1][1]

    def travel(self, now_s: float) -> float:
        """Travel since opening [m]; times asked for must not go back."""
        self._forward(now_s)
        return self._travel

    def stop(self, now_s: float, duration_s: float) -> None:
        """Stop the belt now; a stop under way is lengthened if this one ends later."""
        self._forward(now_s)
        self._stand(now_s, now_s + duration_s)

    def time_at(self, travel_m: float, now_s: float) -> float:
        """Time [s] when the belt reaches a travel, by what is known now; not before now."""
        self._forward(now_s)
        now, travel, following = self._now, self._travel, self._next
        if travel >= travel_m - REACHED_M:
            return now_s
        speed, until = self._speed, self._until
        while travel + speed * (until - now) < travel_m - REACHED_M:
            travel += speed * (until - now)
            now = until
            while following < len(self._ahead) and self._ahead[following][0] <= now:
                now = max(now, self._ahead[following][1])
                following += 1
            speed, until = self._stretch(now, following)
        return min(until, now + max(0.0, travel_m - travel) / speed)

    def _stretch(self, now: float, following: int) -> tuple[float, float]:
        """Speed from now on, and until when: the timetable's next row or the next stop."""
        row = bisect.bisect_right(self._changes, now)
        change = self._changes[row] if row < len(self._changes) else math.inf
        stop = self._ahead[following][0] if following < len(self._ahead) else math.inf
        return self._speeds[row - 1][1], min(change, stop)

    def _forward(self, now_s: float) -> None:
        while self._now < now_s or self._until <= self._now:
            until = min(now_s, self._until)
            if until > self._now:
                self._travel += self._speed * (until - self._now)
                self._now = until
            while self._next < len(self._ahead) and self._ahead[self._next][0] <= self._now:
                self._next += 1
                self._stand(*self._ahead[self._next - 1])
            if self._until <= self._now:
                self._speed, self._until = self._stretch(self._now, self._next)

    def _stand(self, start_s: float, end_s: float) -> None:
        if self.stops and start_s <= self.stops[-1][1]:
            start, end = self.stops[-1]
            self.stops[-1] = (start, max(end, end_s))
        else:
            self.stops.append((start_s, end_s))
        if end_s > self._now:
            self._now = end_s
            self._until = min(self._until, end_s)  # looked at afresh by the next `_forward`


Entered = Callable[[CarPass], None]


class Handover:
    """Cars handed from one process to the next, in order; the next one asks when it is ready."""

    def __init__(self, env: simpy.Environment) -> None:
        self._env = env
        self._cars: deque[CarPass] = deque()
        self._asked: simpy.Event | None = None

    def __len__(self) -> int:
        return len(self._cars)

    @property
    def wanted(self) -> bool:
        """Whether somebody waits for a car."""
        return self._asked is not None

    def put(self, car: CarPass) -> None:
        """Hand a car over, or leave it for whoever asks next."""
        if self._asked is None:
            self._cars.append(car)
        else:
            self._asked.succeed(car)
            self._asked = None

    def get(self) -> simpy.Event:
        """Ask for the next car; the event brings it."""
        asked = self._env.event()
        if self._cars:
            asked.succeed(self._cars.popleft())
        else:
            self._asked = asked
        return asked


class LoadingLine:
    """The places between pay lanes and loader; who finds none keeps waiting where they are."""

    def __init__(self, env: simpy.Environment, places: int) -> None:
        self._places = places
        self._line = Handover(env)
        self._blocked: deque[tuple[CarPass, Entered]] = deque()
        self._again: deque[tuple[CarPass, Entered]] = deque()

    @property
    def cars(self) -> int:
        """Cars in the line."""
        return len(self._line)

    @property
    def returning(self) -> int:
        """Re-washes waiting at the head of the stack for a place."""
        return len(self._again)

    def enter(self, car: CarPass, entered: Entered) -> None:
        """Ask for a place; `entered` is called when the car has it. Re-washes go first."""
        (self._again if car.turn > 1 else self._blocked).append((car, entered))
        self._settle()

    def next_car(self) -> simpy.Event:
        """The loader asks for a car; the event brings it."""
        asked = self._line.get()
        self._settle()
        return asked

    def _settle(self) -> None:
        # without any place cars go from hand to hand, to a loader that waits
        while (waiting := self._again or self._blocked) and (
            self._line.wanted or len(self._line) < self._places
        ):
            car, entered = waiting.popleft()
            self._line.put(car)
            entered(car)


MEMORY_S = 1800.0
"""An arriving car judges the wait by what was loaded in this time [s]."""


class Tunnel:
    """One day of a site under one wiping rule."""

    def __init__(
        self,
        site: Site,
        day: DayNumbers,
        cars: DayCars,
        rule: Rule,
        changes: tuple[SetChange, ...] = (),
    ) -> None:
        self.site, self.day, self.cars = site, day, cars
        self.env = env = simpy.Environment(initial_time=day.open_s)
        self.belt = BeltTime(day.open_s, day.speeds, cars.clock_stops)
        self.cloth = WheelCloth(site, day, self.belt.stops)
        self.rule = RuleState(rule, [item.key for item in site.vehicles], cars.crew)
        self.due_changes = deque(changes)
        self.result = DayResult(start_kg=day.opening_moisture * day.cloth.mass_kg)
        self.line = LoadingLine(env, site.pay.loading_line_cars)
        self.apron = Apron(env, site, day, cars)
        self.stack: deque[CarPass] = deque()
        self.lane_busy = [False] * int(max(row[1] for row in site.pay.pay_lanes))
        self.paid: list[CarPass] = []
        self.paying = 0  # cars in lanes, blocked ones included
        self.loading = 0
        self.caught_s: deque[float] = deque()
        self.on_belt = Handover(env)
        self.inside = 0
        self.arrivals_over = False
        self.met = False  # whether any car has come to the wheel
        self.finished = env.event()

    def run(self) -> DayResult:
        """Simulate from opening until the wheel has come to rest after the last car."""
        env = self.env
        for process in (self._arrivals(), self._lane_hours(), self._loader(), self._wheel()):
            env.process(process)
        env.run(until=self.finished)
        result, cloth = self.result, self.cloth
        result.closed_s = max(env.now, self.day.close_s)
        result.travel_m = self.belt.travel(env.now)
        result.rest_s = result.closed_s + self.site.drying.close_spin_s
        self.belt.travel(result.rest_s)  # so that stops until then are known to the cloth
        cloth.close(result.closed_s)
        cloth.advance(result.rest_s, touching=False)
        env.run()  # whoever stands on the apron is dried or drives off; the line is at rest
        result.stops = self.belt.stops
        result.hours = cloth.hours
        result.end_kg = cloth.moisture * self.day.cloth.mass_kg
        result.carried_off_kg = cloth.carried_off_kg
        result.sets_changed = cloth.set_number
        result.wear_cars = cloth.day_wear_cars
        result.closing_moisture = cloth.moisture
        return result

    # ---- before the belt

    def _arrivals(self) -> Process:
        cars = self.cars
        rows = zip(
            cars.arrival_s.tolist(),
            cars.class_index.tolist(),
            cars.length_m.tolist(),
            cars.sold_full.tolist(),
            cars.patience_s.tolist(),
            strict=True,
        )
        for number, (arrival, kind, length, sold, patience) in enumerate(rows):
            yield PriorityTimeout(self.env, arrival - self.env.now, AFTER_PAYMENTS)
            car = CarPass(number, 1, arrival, kind, length, sold)
            self.result.passes.append(car)
            lane = self._free_lane() if not self.stack else -1
            waiting = len(self.stack) + self.line.returning
            if lane < 0 and waiting >= self.site.pay.stack_limit_cars:
                car.lost = FULL_STACK
            elif self._expected_wait(waiting) > patience:
                car.lost = IMPATIENT
            else:
                self.inside += 1
                self.stack.append(car)
                self._fill_lanes()
        self.arrivals_over = True
        self._finish_if_empty()

    def _expected_wait(self, waiting: int) -> float:
        now, caught = self.env.now, self.caught_s
        while caught and caught[0] <= now - MEMORY_S:
            caught.popleft()
        rate = self.day.capacity_per_s
        if now - self.day.open_s >= MEMORY_S and caught:
            rate = len(caught) / MEMORY_S
        ahead = waiting + self.paying + self.line.cars + self.loading
        return ahead / rate

    def _free_lane(self) -> int:
        open_lanes = int(value_at(self.site.pay.pay_lanes, self.env.now))
        for lane in range(open_lanes):
            if not self.lane_busy[lane]:
                return lane
        return -1

    def _fill_lanes(self) -> None:
        while self.stack and (lane := self._free_lane()) >= 0:
            self.env.process(self._pay(self.stack.popleft(), lane))
            self.lane_busy[lane] = True
            self.paying += 1

    def _lane_hours(self) -> Process:
        for moment, _ in self.site.pay.pay_lanes:
            if moment > self.env.now:
                yield PriorityTimeout(self.env, moment - self.env.now, BY_THE_CLOCK)
                self._fill_lanes()

    def _pay(self, car: CarPass, lane: int) -> Process:
        env = self.env
        car.lane, car.pay_start_s = lane, env.now
        yield env.timeout(float(self.cars.pay_s[car.car]))
        car.paid_s = env.now
        # those who end in one instant go on in order of their lanes
        self.paid.append(car)
        if len(self.paid) == 1:
            yield PriorityTimeout(env, 0.0, AFTER_RETURNS)
            ended, self.paid = sorted(self.paid, key=_lane), []
            for each in ended:
                self.line.enter(each, self._leave_lane)

    def _leave_lane(self, car: CarPass) -> None:
        car.unblocked_s = self.env.now
        self.lane_busy[car.lane] = False
        self.paying -= 1
        self._fill_lanes()

    # ---- belt

    def _loader(self) -> Process:
        env, pay, pitch = self.env, self.site.pay, self.site.line.pusher_pitch_m
        last: CarPass | None = None
        while True:
            car: CarPass = yield self.line.next_car()
            self.loading = 1
            car.load_start_s = env.now
            variates = self.cars.first if car.turn == 1 else self.cars.again
            faster = pay.second_loader_factor if value_at(pay.loaders, env.now) >= 2 else 1.0
            yield env.timeout(float(variates.load_s[car.car]) * faster)
            car.loaded_s = env.now
            car.pusher = pusher_at_or_after(self.belt.travel(env.now), pitch)
            if last is not None:
                car.pushers_apart = self._apart(last, car)
                car.pusher = max(car.pusher, last.pusher + car.pushers_apart)
            yield from self._reach(car.pusher * pitch)
            car.caught_s = env.now
            self.caught_s.append(env.now)
            self.loading = 0
            stop = float(variates.stop_s[car.car])
            if stop > 0:
                self.belt.stop(env.now, stop)
            self.on_belt.put(car)
            last = car

    def _apart(self, ahead: CarPass, car: CarPass) -> int:
        line, vehicles = self.site.line, self.site.vehicles
        return pushers_apart(
            self.day.spacing_m,
            line.least_gap_m,
            line.pusher_pitch_m,
            ahead.length_m,
            vehicles[ahead.class_index].numbers.pushed_wheel_m,
            vehicles[car.class_index].numbers.pushed_wheel_m,
        )

    def _reach(self, travel_m: float) -> Process:
        """Wait until the belt has travelled so far; a stop that comes meanwhile is waited out."""
        env = self.env
        while (when := self.belt.time_at(travel_m, env.now)) > env.now + TIME_TOLERANCE_S:
            yield env.timeout(when - env.now)

    # ---- wheel

    def _wheel(self) -> Process:
        env, line, cloth = self.env, self.site.line, self.cloth
        while True:
            car: CarPass = yield self.on_belt.get()
            numbers = self.site.vehicles[car.class_index].numbers
            nose = car.pusher * line.pusher_pitch_m - numbers.pushed_wheel_m + line.wheel_position_m
            hood = nose + numbers.hood_start_m
            yield from self._reach(hood)
            yield from self._tend_wheel(hood)
            car.wheel_s = env.now
            car.cloth_set = cloth.set_number
            car.moisture_before = cloth.moisture
            yield from self._wipe(car, hood)
            car.moisture_after = cloth.moisture
            yield from self._reach(nose + car.length_m)
            cloth.advance(env.now, touching=False)
            car.exit_s = env.now
            self._leave(car)

    def _tend_wheel(self, hood: float) -> Process:
        """Weigh a strip and change the set before a car is wiped, if that is due."""
        env, cloth, takes_s = self.env, self.cloth, self.cars.crew.weighing_takes_s
        first = not self.met
        self.met = True
        weighs = takes_s > 0.0 and self.rule.weighs(env.now)
        if weighs and (first or env.now - cloth.now_s >= takes_s):
            weighs = False
            cloth.advance(env.now - takes_s, touching=False)
            cloth.lock_out(env.now)
        cloth.advance(env.now, touching=False)
        waits = self.site.wear.set_change_cars == "wait"
        if waits and self._set_is_due():
            weighs = False  # it is done while the wheel is locked out for the set
            yield from self._change_set(hood)
        if weighs and not cloth.locked_out(env.now):
            cloth.lock_out(env.now + takes_s)
            yield from self._stop_at(hood, takes_s)
        if not waits and self._set_is_due():
            yield from self._change_set(hood)

    def _set_is_due(self) -> bool:
        if not self.due_changes or self.cloth.locked_out(self.env.now):
            return False
        return self.due_changes[0].due(self.env.now, self.cloth.saturation)

    def _change_set(self, hood: float) -> Process:
        env, cloth, wear = self.env, self.cloth, self.site.wear
        self.due_changes.popleft()
        duration = wear.set_change_min * 60.0
        cloth.change_set(env.now, duration)
        self.result.changed_s.append(env.now)
        if wear.set_change_cars == "wait":
            yield from self._stop_at(hood, duration)

    def _stop_at(self, travel_m: float, duration_s: float) -> Process:
        """Stop the belt, and go on from a travel that it has reached."""
        env = self.env
        self.belt.stop(env.now, duration_s)
        yield env.timeout(duration_s)
        yield from self._reach(travel_m)
        self.cloth.advance(env.now, touching=False)

    def _wipe(self, car: CarPass, hood: float) -> Process:
        env, day, cloth, water = self.env, self.day, self.cloth, self.site.water
        speed = self.belt.speed(env.now)
        variates = self.cars.first if car.turn == 1 else self.cars.again
        noise = float(variates.film_noise[car.car])
        film = [NAN, NAN, NAN, NAN]
        for zone in day.zones[car.class_index]:
            film[zone.index] = film_at_wheel(
                zone.factor,
                water.film_rinsed_kg_m2,
                water.removal_now,
                water.blower_reference_speed_m_s,
                water.blower_speed_exponent,
                speed,
                noise,
            )
        left, taken = film.copy(), [0.0, 0.0, 0.0, 0.0]
        car.reduced = self.rule.reduced(env.now, cloth.saturation, car.class_index, car.sold_full)
        car.looked_s = self.rule.looked_s
        car.unwiped = cloth.locked_out(env.now)
        share, at = day.wiped_share, hood
        for zone in () if car.unwiped else day.zones[car.class_index]:
            if car.reduced and zone.index > 1:
                break
            z = zone.index
            speed = self.belt.speed(env.now)
            dried, taken[z], worn = cloth.wipe(film[z], zone.area_m2 * share, zone.wiped_m, speed)
            left[z] = share * dried + (1.0 - share) * film[z]
            car.wear_cars += worn
            at += zone.wiped_m
            yield from self._reach(at)
            cloth.advance(env.now, touching=True)
        if not car.unwiped:
            cloth.take_soil()
        car.film_before = (film[0], film[1], film[2], film[3])
        car.film_left = (left[0], left[1], left[2], left[3])
        car.water_kg = (taken[0], taken[1], taken[2], taken[3])
        car.damp = left[0] > day.allowed_film or left[1] > day.allowed_film
        car.roof_wet, car.rear_wet = left[2] > day.allowed_film, left[3] > day.allowed_film
        self.rule.let_pass(left[0] > day.allowed_film)

    def _leave(self, car: CarPass) -> None:
        share = self.site.crew.damp_rewash_share
        # nobody is sent round a third time
        if car.damp and car.turn == 1 and float(self.cars.first.fate[car.car]) < share:
            car.fate = REWASHED
            self.env.process(self._return(car))
            return
        if car.damp:
            self.apron.stand(car)
        self.inside -= 1
        self._finish_if_empty()

    def _return(self, car: CarPass) -> Process:
        yield PriorityTimeout(self.env, self.site.crew.rewash_return_s, AFTER_DEPARTURES)
        again = CarPass(car.car, 2, self.env.now, car.class_index, car.length_m, car.sold_full)
        self.result.passes.append(again)
        self.line.enter(again, self._join_line)

    def _join_line(self, car: CarPass) -> None:
        car.unblocked_s = self.env.now

    def _finish_if_empty(self) -> None:
        if self.arrivals_over and self.inside == 0 and not self.finished.triggered:
            self.finished.succeed()


def _lane(car: CarPass) -> int:
    return car.lane


def simulate_day(
    site: Site, day: DayNumbers, cars: DayCars, rule: Rule, changes: tuple[SetChange, ...] = ()
) -> DayResult:
    """Simulate one day; see `Tunnel`. Site and conditions must have passed `sim.checks`."""
    return Tunnel(site, day, cars, rule, changes).run()

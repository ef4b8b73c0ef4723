"""All random numbers of a day, drawn first from one seed, and what a scenario makes of them.

One stream a purpose, indexed by car: a scenario maps the same standard variates through its own
distributions and its own arrival rate, so that scenarios stay paired in whatever they share.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.random import PCG64, Generator
from numpy.typing import NDArray

from sim.checks import LENGTH_SPREADS, shortest_m
from sim.day.crew import CrewDay, make_crew
from sim.day.streams import Seeded, spawned
from sim.inputs import Conditions, DemandSpread, Site, Steps
from sim.physics.water_film import film_sigma
from sim.special import gammaincinv, ndtri

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Kind = Literal["standard_exponential", "random", "standard_normal"]
"""A method of NumPy's generator."""

PURPOSES: dict[str, Kind] = {
    "day": "random",
    "arrival": "standard_exponential",
    "class": "random",
    "length": "standard_normal",
    "service": "random",
    "payer": "random",
    "pay": "random",
    "patience": "standard_normal",
    "load": "random",
    "film": "standard_normal",
    "car_stop": "random",
    "car_stop_length": "standard_normal",
    "clock_stop": "standard_exponential",
    "clock_stop_length": "standard_normal",
    "fate": "random",
    "load_again": "random",
    "film_again": "standard_normal",
    "fate_again": "random",
    "car_stop_again": "random",
    "car_stop_length_again": "standard_normal",
    "cue_delay": "standard_normal",
    "car_count": "standard_normal",
    "strip_weight": "standard_normal",
    "hour": "random",
    "hood_told": "random",
    "member": "random",
}
"""Streams of a day in the order in which they are spawned; new ones are added at the end."""

PLACES = {purpose: place for place, purpose in enumerate(PURPOSES)}
NOTHING = np.empty(0)

CLOCK_STOP_HORIZON_H = 72.0
"""Belt stops by the clock are drawn for this long after opening; no day runs longer [h]."""


class DayDraw:
    """Standard variates of one day; each stream grows as far as it is asked for.

    Asking for more of a stream never changes what was drawn before.
    """

    def __init__(self, *seed: int, luck: float | None = None) -> None:
        """Args:
        seed: of all streams.
        luck: quantile of the day's factor on demand, where whoever draws many days spreads it
            evenly over them; None: of its own stream.
        """
        self.seed = seed
        self._seeds = spawned(seed, len(PURPOSES))
        self._streams: dict[str, Generator] = {}
        self._drawn: dict[str, Floats] = {}
        if luck is not None:
            self._drawn["day"] = np.array([luck])

    def take(self, purpose: str, count: int) -> Floats:
        """The first `count` variates of a stream; shape (count,)."""
        have = self._drawn.get(purpose, NOTHING)
        if len(have) < count:
            # half as many again, or variants that ask for a few more each would copy all each time
            new = self._more(purpose, max(count - len(have), len(have) // 2))
            have = self._drawn[purpose] = np.concatenate([have, new]) if len(have) else new
        return have[:count]

    def _more(self, purpose: str, count: int) -> Floats:
        stream = self._streams.get(purpose)
        if stream is None:
            seeded: Any = Seeded(self._seeds[PLACES[purpose]])  # a type that the stubs leave out
            stream = self._streams[purpose] = Generator(PCG64(seeded))
        kind = PURPOSES[purpose]
        if kind == "random":
            return stream.random(count)
        if kind == "standard_normal":
            return stream.standard_normal(count)
        return stream.standard_exponential(count)

    def digest(self, count: int = 256) -> str:
        """Hash of the first `count` variates of every stream, kept with a stored result."""
        total = hashlib.sha256()
        for purpose in PURPOSES:
            total.update(self.take(purpose, count).tobytes())
        return total.hexdigest()[:16]


NO_SPREAD = 1e-6
"""Below this coefficient of variation a time or a factor is its mean: 1/cv² would overflow."""


def time_quantile(
    u: Floats, kind: str, mean_s: float, cv: float, measured: tuple[float, ...]
) -> Floats:
    """Times [s] at quantiles `u` of one of the kinds of time of the table of inputs.

    Gamma and lognormal have the given mean and coefficient of variation; an exponential has the
    mean only; of measured times each is equally likely.
    """
    if kind == "measured":
        ordered = np.sort(np.asarray(measured, dtype=float))
        return np.asarray(ordered[np.minimum((u * len(ordered)).astype(int), len(ordered) - 1)])
    if kind == "exponential":
        return -mean_s * np.log1p(-u)
    if kind == "fixed" or cv < NO_SPREAD:
        return np.full(len(u), mean_s)
    if kind == "gamma":
        shape = 1.0 / cv**2
        return np.asarray(mean_s / shape * gammaincinv(shape, u))
    sigma = math.sqrt(math.log1p(cv**2))
    return np.asarray(mean_s * np.exp(sigma * ndtri(u) - 0.5 * sigma**2))


def demand_factors(u: Floats, cv: float) -> Floats:
    """Factors on demand at quantiles `u`: gamma with mean 1 and the given variation."""
    if cv < NO_SPREAD:
        return np.ones(len(u))
    shape = 1.0 / cv**2
    return np.asarray(gammaincinv(shape, u) / shape)


def as_it_comes(draw: DayDraw, site: Site, conditions: Conditions) -> Floats:
    """Cars of each clock hour [1/h] as the day's luck has them.

    The level, where it was not drawn with the site, comes with the day: to a single day it is
    the same whether days differ or what was expected of them was off.
    """
    spread = conditions.spread
    day_cv = site.pay.day_factor_cv if spread.day_cv is None else spread.day_cv
    day = demand_factors(draw.take("day", 1), math.hypot(day_cv, spread.level_cv))
    return np.array(conditions.arrivals_per_h) * (day * hour_factors(draw, site, spread))


def hour_factors(draw: DayDraw, site: Site, spread: DemandSpread) -> Floats:
    """Each clock hour's own factor on its cars; shape (24,)."""
    hour_cv = site.pay.hour_factor_cv if spread.hour_cv is None else spread.hour_cv
    return demand_factors(draw.take("hour", 24), hour_cv)


def arrival_times(unit_gaps: DayDraw, site: Site, per_h: Floats) -> Floats:
    """Arrival times [s after midnight] of a Poisson process with the day's hourly means.

    The cumulative sum of unit exponentials is carried through the inverse of the cumulative
    rate (Çınlar's time change). Within an hour the rate is constant, or linear with the hour's
    mean kept and the slope of its flatter neighbour.

    Args:
        per_h: cars of each clock hour; shape (24,).
    """
    hours, starts, lengths = _open_hours(site.line.open_h, site.line.close_h)
    cars = per_h[hours]
    slopes = _slopes(cars) if site.pay.arrival_shape == "linear" else np.zeros(len(cars))
    reach = np.concatenate([[0.0], np.cumsum(cars)])
    total = reach[-1]
    if total <= 0:
        return np.empty(0)
    count = int(total + 10.0 * math.sqrt(total) + 20)
    due = np.cumsum(unit_gaps.take("arrival", count))
    while due[-1] < total:
        count *= 2
        due = np.cumsum(unit_gaps.take("arrival", count))
    due = due[due < total]
    hour = np.repeat(np.arange(len(cars)), np.diff(np.searchsorted(due, reach)))
    within = due - reach[hour]
    first = ((cars - 0.5 * slopes) / lengths)[hour]  # rate at the hour's start [1/s]
    rise = (slopes / lengths**2)[hour]  # its growth [1/s²]
    # count = first·t + rise·t²/2, solved in the form that also holds for rise = 0
    elapsed = 2.0 * within / (first + np.sqrt(np.maximum(0.0, first**2 + 2.0 * rise * within)))
    return np.asarray(starts[hour] + np.minimum(elapsed, lengths[hour]))


@lru_cache(maxsize=64)
def _open_hours(opens_h: float, closes_h: float) -> tuple[Ints, Floats, Floats]:
    """Each clock hour with an open part: which it is, start [s] and length [s] of that part."""
    hours = np.arange(24)
    starts, ends = np.maximum(hours, opens_h), np.minimum(hours + 1.0, closes_h)
    (are_open,) = np.nonzero(ends > starts)
    return are_open, 3600.0 * starts[are_open], 3600.0 * (ends - starts)[are_open]


def _slopes(cars: Floats) -> Floats:
    """Rise over each hour [cars], that of its flatter neighbour, with the hour's mean kept."""
    slopes = np.zeros(len(cars))
    if len(cars) > 2:
        steps = cars[1:] - cars[:-1]
        before, after = steps[:-1], steps[1:]
        gentle = np.where(before * after > 0, np.sign(after), 0.0)
        slopes[1:-1] = gentle * np.minimum(np.abs(before), np.abs(after))
    return np.clip(slopes, -2.0 * cars, 2.0 * cars)


@dataclass(frozen=True, slots=True)
class Passes:
    """What differs between a car's first pass through the tunnel and a re-wash.

    Attributes, each of shape (cars,):
        load_s: loading time with one loader [s].
        film_noise: factor on the film of all its zones.
        stop_s: length of the belt stop that the car causes when caught [s]; 0 for none.
        fate: uniform that decides what happens if it leaves damp.
    """

    load_s: Floats
    film_noise: Floats
    stop_s: Floats
    fate: Floats


@dataclass(frozen=True, slots=True)
class DayCars:
    """The cars of a day as one scenario makes them from a day draw; shapes (cars,).

    Attributes:
        arrival_s: arrival, seconds after midnight, rising.
        class_index: vehicle class.
        length_m: length of the car [m].
        sold_full: whether it was sold the full wipe.
        pay_s: time in the pay lane [s].
        patience_s: longest wait it accepts [s].
        first, again: its first pass and a re-wash; a car that is never sent round again has the
            numbers of its first pass in both.
        clock_stops: (start, end) of belt stops by the clock [s], those known beforehand among
            them, by start.
        crew: how cues that the crew can see are carried out.
        member: whether it is a member's.
    """

    arrival_s: Floats
    class_index: Ints
    length_m: Floats
    sold_full: NDArray[np.bool_]
    pay_s: Floats
    patience_s: Floats
    first: Passes
    again: Passes
    clock_stops: tuple[tuple[float, float], ...]
    crew: CrewDay
    member: NDArray[np.bool_]


def make_cars(draw: DayDraw, site: Site, conditions: Conditions) -> DayCars:
    """The cars and clock stops of a day for a site, from its standard variates."""
    pay, line = site.pay, site.line
    arrival = arrival_times(draw, site, as_it_comes(draw, site, conditions))
    n = len(arrival)
    shares = np.cumsum([item.numbers.share for item in site.vehicles])
    u, kinds = draw.take("class", n), np.zeros(n, np.int64)
    for share in shares[:-1]:
        kinds += u >= share
    mean = np.array([item.numbers.length_m for item in site.vehicles])
    spread = np.array([item.numbers.length_sd_m for item in site.vehicles])
    least = np.array([shortest_m(item) for item in site.vehicles])
    most = mean + LENGTH_SPREADS * spread
    length = mean[kinds] + spread[kinds] * draw.take("length", n)
    length = np.minimum(np.maximum(length, least[kinds]), most[kinds])
    first = _first_passes(draw, site, n)
    return DayCars(
        arrival,
        kinds,
        length,
        draw.take("service", n) < pay.full_service_share,
        _pay_times(draw, site, n),
        pay.patience_median_s * np.exp(pay.patience_log_sd * draw.take("patience", n)),
        first,
        _second_passes(draw, site, first),
        with_known_stops(
            _clock_stops(
                draw, line.open_h * 3600.0, line.stops_per_h, line.stop_median_s, line.stop_log_sd
            ),
            line.belt_stands,
        ),
        make_crew(site, draw.take),
        draw.take("member", n) < site.money.member_share,
    )


def with_other_arrivals(cars: DayCars, arrival_s: Floats) -> DayCars:
    """The first cars of a day, arriving at other times; equal to what `make_cars` makes of the same
    draw and site where as many come then, which takes several times as long.

    Args:
        cars: with at least as many.
    """
    n = len(arrival_s)
    return replace(
        cars,
        arrival_s=arrival_s,
        class_index=cars.class_index[:n],
        length_m=cars.length_m[:n],
        sold_full=cars.sold_full[:n],
        pay_s=cars.pay_s[:n],
        patience_s=cars.patience_s[:n],
        first=_first_of(cars.first, n),
        again=_first_of(cars.again, n),
        member=cars.member[:n],
    )


def _first_of(passes: Passes, n: int) -> Passes:
    return Passes(passes.load_s[:n], passes.film_noise[:n], passes.stop_s[:n], passes.fate[:n])


def _pay_times(draw: DayDraw, site: Site, n: int) -> Floats:
    """Times in the pay lane [s]; a quantile takes long, so each is of one kind of payer only."""
    pay, u = site.pay, draw.take("pay", n)
    pays_quick = draw.take("payer", n) < pay.quick_payer_share
    quick, slow = np.flatnonzero(pays_quick), np.flatnonzero(~pays_quick)
    found = np.empty(n)
    found[quick] = time_quantile(
        u[quick], pay.quick_pay_kind, pay.quick_pay_mean_s, pay.quick_pay_cv,
        pay.quick_pay_measured_s,
    )  # fmt: skip
    found[slow] = time_quantile(
        u[slow], pay.slow_pay_kind, pay.slow_pay_mean_s, pay.slow_pay_cv, pay.slow_pay_measured_s
    )
    return found


def _load_times(site: Site, u: Floats) -> Floats:
    pay = site.pay
    return time_quantile(u, pay.load_kind, pay.load_mean_s, pay.load_cv, pay.load_measured_s)


def _first_passes(draw: DayDraw, site: Site, n: int) -> Passes:
    noise = np.exp(film_sigma(site.water.film_cv) * draw.take("film", n))
    load = _load_times(site, draw.take("load", n))
    return Passes(load, noise, _car_stops(draw, site, n, ""), draw.take("fate", n))


def _second_passes(draw: DayDraw, site: Site, first: Passes) -> Passes:
    """Only cars that would be sent round again if they left damp can have one of their own."""
    sent = np.flatnonzero(first.fate < site.crew.damp_rewash_share)
    if not len(sent):
        return first
    n = int(sent[-1]) + 1
    load, noise, stops = first.load_s.copy(), first.film_noise.copy(), first.stop_s.copy()
    load[sent] = _load_times(site, draw.take("load_again", n)[sent])
    noise[sent] = np.exp(film_sigma(site.water.film_cv) * draw.take("film_again", n)[sent])
    stops[sent] = _car_stops(draw, site, n, "_again")[sent]
    return Passes(load, noise, stops, first.fate)


def _car_stops(draw: DayDraw, site: Site, n: int, suffix: str) -> Floats:
    """How long each car stops the belt [s]; lengths are drawn as far as the last car that does."""
    line, found = site.line, np.zeros(n)
    stops = np.flatnonzero(draw.take("car_stop" + suffix, n) < line.stops_per_car)
    if len(stops):
        lengths = draw.take("car_stop_length" + suffix, int(stops[-1]) + 1)[stops]
        found[stops] = line.stop_median_s * np.exp(line.stop_log_sd * lengths)
    return found


def with_known_stops(
    stops: tuple[tuple[float, float], ...], stands: Steps
) -> tuple[tuple[float, float], ...]:
    """Stops by the clock [s], by start, with those of a timetable that says when the belt stands.

    Args:
        stands: see `Line.belt_stands`; a half or more is standing.
    """
    if not stands:
        return stops
    ends = [*(start for start, _ in stands[1:]), 86_400.0]
    known = [(start, end) for (start, is_so), end in zip(stands, ends, strict=True) if is_so >= 0.5]
    return tuple(sorted((*stops, *known)))


def _clock_stops(
    draw: DayDraw, open_s: float, per_h: float, median_s: float, log_sd: float
) -> tuple[tuple[float, float], ...]:
    if per_h <= 0:
        return ()
    span = CLOCK_STOP_HORIZON_H * per_h
    count = int(span + 10.0 * math.sqrt(span) + 20)
    due = np.cumsum(draw.take("clock_stop", count))
    due = due[due < span]
    starts = open_s + due * 3600.0 / per_h
    ends = starts + median_s * np.exp(log_sd * draw.take("clock_stop_length", len(due)))
    return tuple(zip(starts.tolist(), ends.tolist(), strict=True))

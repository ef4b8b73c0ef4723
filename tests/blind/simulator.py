"""A wash in steps of one second, written from the guide's page About the model, not from the model.

Numbers are SI, times seconds after midnight. The last five numbers of a wash lie outside the
model's shape: at 0, with half of the cloth in the middle and power 1, they do nothing.
"""

from __future__ import annotations

import math
from collections import namedtuple
from typing import Any

import numba
import numpy as np

Wash = namedtuple(
    "Wash",
    "opens closes cars temp humidity opening speed pitch spacing gap wheel_at stops_h stops_car "
    "stop_median stop_sd lanes quick quick_s quick_cv slow_s slow_cv line_places load_s load_cv "
    "stack_places patience patience_sd day_cv hour_cv film blower blow_at blow_exp film_cv "
    "factors patch takes wipe_s soil allowed radius length width strips dry_kg on_car idle "
    "change_s holds limit throw_s limit_exp time_exp critical bound exposed slip still_h warmer "
    "humid classes late late_sd count_s count_sd hoods_s misjudged middle run_back traffic leaves "
    "power",
)
"""`cars`, `temp`, `humidity` by hour; `classes`: share, length, sd, wheel, hood, areas, lengths."""
Luck = namedtuple("Luck", "at kind size pay load patience z wrong stop_car stop_at late misread")
CLOCK, CREW_CLOCK, BAND, COUNT, HOODS = range(5)


def draw(s: Wash, seed: int) -> Luck:
    """The luck of a day: Poisson cars of gamma days and hours, lognormal times; rules share it."""
    rng = np.random.default_rng(seed)

    def spread(median: Any, log_sd: Any, size: int) -> Any:
        return median * np.exp(log_sd * rng.standard_normal(size))

    def lasts(mean: Any, cv: Any) -> Any:
        return spread(mean / np.sqrt(1 + np.square(cv)), np.sqrt(np.log1p(np.square(cv))), n)

    day, hours = rng.gamma(s.day_cv**-2, s.day_cv**2), rng.gamma(s.hour_cv**-2, s.hour_cv**2, 24)
    seconds = np.arange(int(s.opens), int(s.closes))
    at = np.repeat(seconds, rng.poisson((s.cars * day * hours)[seconds // 3600] / 3600))
    n, quick = len(at), rng.random(len(at)) < s.quick
    kind = rng.choice(len(s.classes), n, p=s.classes[:, 0])
    return Luck(
        at, kind, s.classes[kind, 1] + s.classes[kind, 2] * rng.normal(size=n),
        lasts(np.where(quick, s.quick_s, s.slow_s), np.where(quick, s.quick_cv, s.slow_cv)),
        lasts(s.load_s, s.load_cv), spread(s.patience, s.patience_sd, n),
        rng.standard_normal(n), rng.random(n) < s.misjudged,
        spread(s.stop_median, s.stop_sd, n) * (rng.random(n) < s.stops_car),
        spread(s.stop_median, s.stop_sd, 86_400) * (rng.random(86_400) < s.stops_h / 3600),
        spread(s.late, s.late_sd, 200), spread(1, s.count_sd, 2000),
    )  # fmt: skip


@numba.njit(cache=True)
def _steam(t: float) -> float:
    """Pressure of saturated vapour over water [Pa] (Bolton 1980, from memory)."""
    return 611.2 * math.exp(17.67 * t / (t + 243.5))


@numba.njit(cache=True)
def _drying(s: Wash, hour: int, humid: float, rev_s: float) -> Any:
    """Water that the whole cloth gives to the air [kg/s] while it is wet enough."""
    t = s.temp[hour] + s.warmer
    now = 0.622 / (101325 / (s.humidity[hour] * _steam(s.temp[hour])) - 1)
    now += humid * (0.622 / (101325 / _steam(t) - 1) - now)
    low, high = t - 40.0, t
    for _ in range(40):  # the wet bulb, by halving: energy balance of adiabatic saturation
        wet = (low + high) / 2
        sat = 0.622 / (101325 / _steam(wet) - 1)
        at_wet = ((2501 - 2.326 * wet) * sat - 1.006 * (t - wet)) / (2501 + 1.86 * t - 4.186 * wet)
        low, high = (wet, high) if at_wet < now else (low, wet)
    h = s.still_h
    if rev_s > 0:
        past = s.slip * 2 * math.pi * rev_s * (s.radius - s.length / 2)
        re, k = past * s.width / (1.33e-5 + 9e-8 * t), 0.0243 + 7.2e-5 * t
        h = max(0.664 * re**0.5, 0.037 * re**0.8) * 0.71 ** (1 / 3) * k / s.width
    return 2 * s.strips * s.length * s.width * s.exposed * h * (t - low) / (2501e3 - 2361 * low)


@numba.njit(cache=True)
def live(s: Wash, luck: Luck, rules: Any, always: bool) -> Any:
    """A day. Rows of `rules`: kind and two limits; reduced where one of them says so.

    Returns a row a car (caught, wait, washed, reduced, damp, hood met the wheel, left it), and the
    cloth's moisture [kg/kg] at the end of each minute of the clock.
    """
    n, terms, mass = len(luck.at), len(rules), s.strips * s.dry_kg
    found, minutes, film = np.zeros((n, 7)), np.full(2000, np.nan), np.zeros((n, 4))
    stack, line, order, place = np.zeros((4, n), np.int64)
    came, lost, stacked, paying, lined, loading, caught, met, gone = 0, 0, 0, 0, 0, 0, 0, 0, 0
    lane, lane_left, loader, left, ready_k = np.full(s.lanes, -1), np.zeros(s.lanes), -1, 0.0, -1
    x, stopped, slow, hour, looks, acts, old = 0.0, 0.0, 0.0, -1, 0, 0, 0
    water, share, dries = np.full(2, s.opening), (s.middle, 1 - s.middle), np.zeros(3)
    on, next_look, want, due = np.zeros((4, terms))
    sigma, t = math.sqrt(math.log(1 + s.film_cv**2)), int(s.opens)
    kappa = s.takes * (1 - math.exp(-s.patch / s.speed / s.wipe_s))
    blown = s.film * (1 - s.blower) ** ((s.blow_at / s.speed) ** s.blow_exp)
    while t < s.closes or gone < came - lost:
        while old < met and found[order[old], 5] <= t - 3600:
            old += 1
        if t // 3600 != hour:
            hour, humid = t // 3600, min(0.98, s.humid + s.traffic * (met - old) / 100)
            for j, rev in enumerate((0.0, s.on_car, s.idle)):
                dries[j] = _drying(s, hour % 24, humid, rev)
        while came < n and luck.at[came] <= t:  # cars come; who expects to wait too long drives on
            in_lanes, rate = np.sum(lane >= 0), np.sum(found[order[:caught], 0] > t - 1800) / 1800
            if t < s.opens + 1800 or rate == 0:
                rate = s.speed / (s.pitch * math.ceil(s.spacing / s.pitch))
            ahead = stacked - paying + in_lanes + lined - loading + (loader >= 0)
            has_room = stacked - paying < s.stack_places or in_lanes < s.lanes
            stays = has_room and ahead <= rate * luck.patience[came]
            stack[stacked], stacked, lost, came = came, stacked + stays, lost + 1 - stays, came + 1
        if s.leaves > 0 and stacked > paying:  # second thoughts, of the first in line
            gone_off = t - luck.at[stack[paying]] > s.leaves * luck.patience[stack[paying]]
            lost, paying = lost + gone_off, paying + gone_off
        for j in range(s.lanes):  # who has paid keeps the lane until there is room
            lane_left[j] -= 1
            if lane[j] >= 0 and lane_left[j] <= 0 and lined - loading < s.line_places:
                line[lined], lined, lane[j] = lane[j], lined + 1, -1
            if lane[j] < 0 and stacked > paying:
                lane[j], paying = stack[paying], paying + 1
                lane_left[j] = luck.pay[lane[j]] + max(-1.0, min(0.0, lane_left[j]))
        if loader < 0 and lined > loading:
            loader, loading, ready_k = line[loading], loading + 1, -1
            left = luck.load[loader]
        if loader >= 0:
            left -= 1
            if left <= 0 and ready_k < 0:  # the first pusher that keeps spacing and gap
                ready_k = math.ceil(x / s.pitch - 1e-9)
                if caught:
                    last = order[caught - 1]
                    apart = max(s.spacing, luck.size[last] + s.gap) - s.classes[luck.kind[last], 3]
                    more = math.ceil((apart + s.classes[luck.kind[loader], 3]) / s.pitch - 1e-9)
                    ready_k = max(ready_k, place[caught - 1] + more)
            if ready_k >= 0 and x >= ready_k * s.pitch:
                wait = t - luck.at[loader] - luck.pay[loader] - luck.load[loader]
                found[loader, 0], found[loader, 1], order[caught] = t, wait, loader
                stopped, place[caught] = max(stopped, luck.stop_car[loader]), ready_k
                caught, loader = caught + 1, -1
        stopped = max(stopped, luck.stop_at[t % 86_400])
        moves, touched = s.speed if stopped <= 0 else 0.0, 0.0
        stopped, x = stopped - 1, x + moves
        for m in range(gone, caught if moves else gone):
            i = order[m]
            row, film_now = s.classes[luck.kind[i]], blown * math.exp(sigma * luck.z[i])
            nose, start = x - place[m] * s.pitch + row[3] - s.wheel_at, row[4]
            if nose < start:
                break
            if m == met:  # the hood reaches the wheel: full or reduced?
                met, found[i, 5], found[i, 3] = met + 1, t, always
                for j in range(terms):
                    what, upper, lower, seen = rules[j, 0], rules[j, 1], rules[j, 2], 0.0
                    if due[j] and due[j] <= t:
                        on[j], due[j] = want[j], 0.0
                    if what <= CREW_CLOCK:
                        by = what * luck.late[j]
                        on[j] = upper + by * (upper > s.opens) <= t < lower + by
                    elif what == BAND:
                        full = water.mean() / s.holds
                        on[j] = full > lower if on[j] else full >= upper
                    elif t >= next_look[j]:
                        looks, next_look[j] = looks + 1, t + s.hoods_s
                        for q in order[max(0, gone - 20) : gone if what == HOODS else 0]:
                            seen += (film[q, 0] > s.allowed) != luck.wrong[q]
                        if what == COUNT:
                            seen, next_look[j] = (m - old) * luck.misread[looks], t + s.count_s
                        if due[j] == 0 and (seen <= lower if on[j] else seen >= upper):
                            want[j], due[j], acts = 1 - on[j], t + luck.late[acts], acts + 1
                    found[i, 3] = max(found[i, 3], on[j])
            for q in range(2 if found[i, 3] else 4):  # what of a zone came under the wheel just now
                over = max(0.0, min(nose, start + row[9 + q]) - max(nose - moves, start))
                start, touched = start + row[9 + q], touched + over / moves
                area = row[5 + q] * over / row[9 + q] if over else 0.0
                film[i, q] += film_now * s.factors[q] * area / row[5 + q] if over else 0.0
                for side in range(2 if over else 0):
                    dry = max(0.0, 1 - water[side] / s.holds) * (1 - s.soil * m / 1000)
                    taken = kappa * dry * film_now * s.factors[q] * area * share[side]
                    water[side] += taken / (mass / 2)
                    film[i, q] -= taken / row[5 + q]
            if nose >= luck.size[i]:  # it has left; what runs back from a roof that was not wiped
                film[i, 1] += found[i, 3] * s.run_back * film_now * s.factors[2] * row[7] / row[6]
                damp = film[i, 0] > s.allowed or film[i, 1] > s.allowed
                found[i, 2], found[i, 4], found[i, 6], gone = 1, damp, t, gone + 1
        slow, rest = 2 * s.change_s if touched else slow, max(0.0, 1 - touched)
        part, slow = 1 - max(0.0, rest - slow), max(0.0, slow - rest)  # so much at contact speed
        for side in range(2):
            now = water[side]
            ease = min(1.0, max(0.0, (now - s.bound) / (s.critical - s.bound))) / mass
            for j, rev, weight in ((1, s.on_car, part), (2, s.idle, 1 - part)):
                water[side] -= weight * ease * dries[j if moves else 0]
                slower = rev / s.idle
                to = min(s.holds, max(s.bound, s.limit * slower ** (-2 * s.limit_exp)))
                above = max(0.0, now - to) if moves else 0.0
                lasts = s.throw_s * slower ** (-2 * s.time_exp)
                water[side] -= weight * above * (above / 0.5) ** (s.power - 1) / lasts
        minutes[t // 60], t = water.mean(), t + 1
    return found, minutes

"""What a site is told of its cloth: how long sets last, and when to change the one on the wheel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from sim.decide.cloth.change import ChangeAge, Costs, change_age, mean_length
from sim.decide.cloth.damp import NO_DAMP, damp_by_loss
from sim.decide.cloth.guesses import AgeRange, Beliefs, damp_costs, range_of_ages
from sim.decide.cloth.partial import InParts, in_parts
from sim.decide.cloth.prices import ChangePrices, change_prices
from sim.errors import InputError, InputProblem
from sim.inputs import Conditions, SiteData
from sim.learn.cloth_inspect import Look, looks_log_likelihood, looks_of
from sim.learn.cloth_life import LifePosterior, life_posterior, life_priors
from sim.learn.cloth_wear import (
    ENDED,
    ON,
    SetState,
    WearDays,
    day_of_age,
    set_states,
    wear_per_car_with_launderings,
    wheel_share,
)
from sim.learn.life_fit import LifeFit, fit_life
from sim.learn.uptake_loss import (
    DampCount,
    LossBelief,
    counts_of,
    loss_belief,
    loss_prior,
)

Floats = NDArray[np.float64]
SEASON_DAYS = 365
SOON_DAYS = 28
QUIET_REACH_DAYS = 14
"""How far from the best day a quiet morning is looked for."""
MORNING_ENDS_H = 12
LIFE_SHARES = (0.1, 0.5, 0.9)
"""Ends and middle of an 80 % window."""


@dataclass(frozen=True, slots=True)
class SetForecast:
    """A set that still lives, and what is to come of it.

    Attributes:
        share: of the wheel's wear that it takes.
        worn_out: ages by which it has worn out with probability 10, 50 and 90 %, given that it has
            come to its present age [full-wipe equivalents].
        worn_out_days: the days on which it comes to these ages; None beyond the forecast.
        launderings: to come until the middle one, at the rate so far.
    """

    state: SetState
    share: float
    worn_out: tuple[float, float, float]
    worn_out_days: tuple[date | None, date | None, date | None]
    launderings: float


@dataclass(frozen=True, slots=True)
class Moved:
    """A change moved to a quiet morning.

    Attributes:
        day: of that morning; cars: expected before noon.
        cost: what moving adds to the cost of this one set's life, on average [money].
    """

    day: date
    cars: float
    cost: float


@dataclass(frozen=True, slots=True)
class Due:
    """When the set on the wheel is due.

    Attributes:
        day: on which it comes to the age of change; None if it waits for failure, or beyond the
            forecast. It is today for a set that is past it.
        first, last: days between which a change costs at most 2 % more than the best; None beyond
            the forecast, or without end.
        busy: the busiest of the seven days from `day` on, with its cars; None with `day`.
        quiet: the quietest morning of those near; None where none is quieter, or with `day`.
        overdue: whether the set has gone past the age of change already.
    """

    name: str
    day: date | None
    first: date | None
    last: date | None
    busy: tuple[date, float] | None
    quiet: Moved | None
    overdue: bool


@dataclass(frozen=True, slots=True)
class ClothAnswer:
    """Everything that the page Cloth shows; wear in full-wipe equivalents.

    Attributes:
        states: every set, in the order of the book.
        forecasts: of the sets that live.
        posterior, fit: belief of the life, and maximum likelihood alone (None with too little).
        looks: what inspections told.
        loss: what is believed of the uptake that wear takes; counts: damp hoods that were counted.
        more_damp: share of cars damp above that with new cloth, at even steps of wear up to η.
        damp_cost: what that costs by a plan's items, in money per full-wipe equivalent.
        range: how far the best age may lie elsewhere, and the guesses that it rests on.
        due: the set on the wheel; None where there is none.
        soon_per_day: mean wear of the coming four weeks' days.
        season_cars: wear of the coming 365 days.
        notes: what a reader should know.
    """

    today: date
    states: tuple[SetState, ...]
    forecasts: tuple[SetForecast, ...]
    posterior: LifePosterior
    fit: LifeFit | None
    looks: tuple[Look, ...]
    prices: ChangePrices
    loss: LossBelief
    counts: tuple[DampCount, ...]
    more_damp: tuple[float, ...]
    damp_cost: tuple[float, ...]
    change: ChangeAge
    range: AgeRange
    ways: tuple[InParts, ...]
    due: Due | None
    soon_per_day: float
    season_cars: float
    notes: tuple[InputProblem, ...]


def cloth_answer(
    data: SiteData,
    days: WearDays,
    today: date,
    now_s: float,
    typical: Sequence[Conditions],
    seed: int,
) -> ClothAnswer:
    """The answer for a site on a day.

    Args:
        days: wear of its days, past and to come.
        now_s: time of day on the site's clock [s].
        typical: expected days that stand for the year; none where no weather is known, and then
            damp cars do not count.

    Raises:
        InputError: if there are no counts to expect anything from, or a change costs nothing.
    """
    site = data.site
    ahead = [today + timedelta(days=n) for n in range(1, SEASON_DAYS + 1)]
    wear = np.array([float(days.wear(day).sum()) for day in ahead])
    season_cars = float(wear.sum())
    if not season_cars > 0.0:
        sentence = "No car is expected within a year of {day}, so no set will wear."
        raise InputError([InputProblem("counts", sentence, {"day": today})])
    states = set_states(data.cloth, days, today, now_s)
    looks = looks_of(site, states)
    lives = [one.life for one in states]
    beta_prior, eta_prior = life_priors(site)

    def seen(log_eta: Floats) -> Floats:
        return looks_log_likelihood(looks, log_eta)

    posterior = life_posterior(lives, beta_prior, eta_prior, seen if looks else None)
    hours = np.concatenate([days.cars(day) for day in ahead])
    prices = change_prices(site, hours.tolist())
    if not (prices.planned > 0.0 and prices.unplanned > 0.0):
        sentence = (
            "Changing a set costs nothing here: the set is {price} and so is the work. Enter what "
            "a new set costs, above 0, or what an hour of work does."
        )
        raise InputError([InputProblem("set_price", sentence, {"price": site.money.set_price})])
    by_loss = damp_by_loss(site, typical, seed) if typical else NO_DAMP
    counts = counts_of(states)
    loss = loss_belief(
        loss_prior(site, data.given), counts, posterior.quantile("eta", 0.5), by_loss.share_at
    )
    per_wear = float(hours.sum()) / season_cars
    beliefs = Beliefs(by_loss, per_wear, loss, damp_costs(site, data.given))
    damp_cost = beliefs.expected
    change = change_age(
        posterior, prices.planned, prices.unplanned, damp_cost=damp_cost, season_cars=season_cars
    )
    costs = Costs(posterior, prices.planned, prices.unplanned, damp_cost)
    pace = wear_per_car_with_launderings(states, site.wear.launder_wear)
    on_wheel = next((one for one in states if one.state == ON), None)
    return ClothAnswer(
        today,
        states,
        tuple(_forecast(one, states, posterior, days, today, pace) for one in _living(states)),
        posterior,
        fit_life(lives),
        looks,
        prices,
        loss,
        counts,
        beliefs.more_damp,
        damp_cost,
        change,
        range_of_ages(posterior, prices, beliefs, change.age),
        in_parts(
            posterior,
            prices,
            change.age,
            damp_cost=damp_cost,
            uptake_loss_at_life=loss.mean,
        ),
        _due(on_wheel, states, change, costs, days, today, pace) if on_wheel else None,
        float(wear[:SOON_DAYS].mean()),
        season_cars,
        _notes(data, states, today, now_s, bool(typical)),
    )


def _living(states: Sequence[SetState]) -> list[SetState]:
    return [one for one in states if one.state != ENDED]


def _forecast(
    state: SetState,
    states: Sequence[SetState],
    posterior: LifePosterior,
    days: WearDays,
    today: date,
    pace: float,
) -> SetForecast:
    share = wheel_share(states, state.cloth.name, today)
    ages = tuple(age_worn_out(posterior, state.age_cars, part) for part in LIFE_SHARES)
    reached = tuple(day_of_age(days, today, age - state.age_cars, share * pace) for age in ages)
    to_come = (ages[1] - state.age_cars) / pace
    spent = sum(spell.cars for one in states for spell in one.spells)
    rate = sum(one.launderings for one in states) / spent if spent > 0.0 else 0.0
    return SetForecast(
        state, share, (ages[0], ages[1], ages[2]), (reached[0], reached[1], reached[2]),
        to_come * rate,
    )  # fmt: skip


def age_worn_out(posterior: LifePosterior, age: float, share: float) -> float:
    """The age by which a set of a given age has worn out with probability `share`.

    The posterior knows already that it has come so far, so each draw's remaining life is
    conditional on it: R(a + x)/R(a).
    """
    top = 6.0 * posterior.quantile("eta", 0.99) + age
    ages = age + np.linspace(0.0, 1.0, 400) ** 2 * (top - age)
    log_lasts = -((ages[:, None] / posterior.eta) ** posterior.beta)
    lasts = np.exp(log_lasts - log_lasts[0]) @ posterior.weight
    return float(np.interp(1.0 - share, lasts[::-1], ages[::-1]))


def _due(
    state: SetState,
    states: Sequence[SetState],
    change: ChangeAge,
    costs: Costs,
    days: WearDays,
    today: date,
    pace: float,
) -> Due:
    share = pace * wheel_share(states, state.cloth.name, today)

    def day_at(age: float) -> date | None:
        if math.isinf(age):
            return None
        return day_of_age(days, today, age - state.age_cars, share)

    day, first, last = (day_at(age) for age in (change.age, *change.flat))
    name, overdue = state.cloth.name, state.age_cars > change.age
    if day is None:
        return Due(name, None, first, last, None, None, overdue)
    week = [day + timedelta(days=n) for n in range(7)]
    busiest = max(week, key=lambda one: float(days.cars(one).sum()))
    return Due(
        name, day, first, last, (busiest, float(days.cars(busiest).sum())),
        _quiet(day, state.age_cars, share, change, costs, days, today), overdue,
    )  # fmt: skip


def _quiet(
    day: date,
    age_now: float,
    share: float,
    change: ChangeAge,
    costs: Costs,
    days: WearDays,
    today: date,
) -> Moved | None:
    """The quietest morning near a day whose cost stays within the flat part of the curve."""
    low, high = change.flat
    ages = {today: age_now}
    for n in range(1, (day - today).days + QUIET_REACH_DAYS + 1):
        one = today + timedelta(days=n)
        ages[one] = ages[one - timedelta(days=1)] + share * float(days.wear(one).sum())
    near = [
        one
        for one, age in ages.items()
        if one > today and abs((one - day).days) <= QUIET_REACH_DAYS and low <= age <= high
    ]

    def morning(one: date) -> float:
        return float(days.cars(one)[:MORNING_ENDS_H].sum())

    if not near:
        return None
    quietest = min(near, key=lambda one: (round(morning(one)), abs((one - day).days)))
    if morning(quietest) >= morning(day):
        return None
    age = np.array([ages[quietest]])
    more = float(costs.mean_rate(age)[0]) - change.cost_rate
    cost = more * float(mean_length(costs.posterior, age)[0])
    return Moved(quietest, morning(quietest), max(0.0, cost))


def _notes(
    data: SiteData, states: Sequence[SetState], today: date, now_s: float, has_weather: bool
) -> tuple[InputProblem, ...]:
    notes = []
    later = [e for e in data.cloth.events if (e.day, e.at_s) > (today, now_s)]
    if later:
        sentence = "Entries of the record that lie in the future and are left out: {count}."
        notes.append(InputProblem("day", sentence, {"count": len(later)}))
    ended = [one for one in states if one.state == ENDED]
    if not any(one.life.failed for one in states):
        sentence = (
            "No set has worn out so far: how long one lasts is known by those that lasted, and by "
            "a guess."
        )
        if not ended:
            sentence = "No set has come to its end so far: how long one lasts is a guess."
        notes.append(InputProblem("life_scale_cars", sentence))
    if not has_weather:
        sentence = "Without weather damp cars can’t be worked out; they do not count here."
        notes.append(InputProblem("weather", sentence))
    return tuple(notes)

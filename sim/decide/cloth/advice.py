"""What a site is told of its cloth: how long sets last, and when to change the one on the wheel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sim.decide.cloth.answer import (
    Believed,
    BusyDay,
    ClothAnswer,
    DampByWear,
    Due,
    LaundryDue,
    LifeFound,
    LossFound,
    Moved,
    SetFound,
    SetToCome,
)
from sim.decide.cloth.change import (
    ChangeAge,
    ChangePrices,
    Costs,
    change_age,
    change_prices,
    in_parts,
    mean_length,
)
from sim.decide.cloth.guesses import NO_DAMP, Beliefs, damp_by_loss, damp_costs, range_of_ages
from sim.decide.cloth.launder import Laundering, how_often
from sim.errors import InputError, InputProblem
from sim.inputs import Conditions, SiteData
from sim.learn.cloth_life import LifePosterior, fit_life, life_posterior, life_priors
from sim.learn.cloth_looks import (
    WORN,
    DampCount,
    Inspection,
    counts_of,
    looks_log_likelihood,
    looks_of,
    loss_belief,
    loss_prior,
)
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

Floats = NDArray[np.float64]
SEASON_DAYS = 365
SOON_DAYS = 28
QUIET_REACH_DAYS = 14
"""How far from the best day a quiet morning is looked for."""
OVERDUE_REACH_DAYS = 7
"""And how far from today for a set that is past its age."""
MORNING_ENDS_H = 12
LIFE_SHARES = (0.1, 0.5, 0.9)
"""Ends and middle of an 80 % window."""


@dataclass(frozen=True, slots=True)
class ClothLearnt:
    """What a site's sets and days tell of its cloth, from which every answer on it follows.

    Attributes:
        wear: of the coming 365 days [full-wipe equivalents], shape (365,).
        states: every set, in the order of the book.
        posterior: what is believed of a set's life; looks, counts: inspections and damp hoods.
        beliefs: what damp cars cost as a set wears, as far as it is known.
    """

    data: SiteData
    days: WearDays
    today: date
    wear: Floats
    states: tuple[SetState, ...]
    looks: tuple[Inspection, ...]
    posterior: LifePosterior
    prices: ChangePrices
    counts: tuple[DampCount, ...]
    beliefs: Beliefs
    change: ChangeAge

    @property
    def pace(self) -> float:
        """How much a set ages for each full-wipe equivalent on the wheel."""
        return wear_per_car_with_launderings(self.states, self.data.site.wear.launder_wear)


def learn_cloth(
    data: SiteData,
    days: WearDays,
    today: date,
    now_s: float,
    typical: Sequence[Conditions],
    seed: int,
) -> ClothLearnt:
    """What is known of a site's cloth on a day.

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
    seen = partial(looks_log_likelihood, looks)
    lives = [one.life for one in states]
    posterior = life_posterior(lives, *life_priors(site), seen if looks else None)
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
    change = change_age(
        posterior,
        prices.planned,
        prices.unplanned,
        damp_cost=beliefs.expected,
        season_cars=season_cars,
    )
    return ClothLearnt(
        data, days, today, wear, states, looks, posterior, prices, counts, beliefs, change
    )


def cloth_answer(
    data: SiteData,
    days: WearDays,
    today: date,
    now_s: float,
    typical: Sequence[Conditions],
    seed: int,
) -> ClothAnswer:
    """The answer for a site on a day; arguments and problems are those of `learn_cloth`."""
    learnt = learn_cloth(data, days, today, now_s, typical, seed)
    beliefs, change, prices = learnt.beliefs, learnt.change, learnt.prices
    laundering = laundering_of(learnt) if typical else None
    due, laundry_due = acts_of(learnt, laundering)
    return ClothAnswer(
        day=today,
        sets=tuple(_set(one, learnt) for one in learnt.states),
        life=_life(learnt),
        prices=prices,
        damp=DampByWear(beliefs.more_damp, beliefs.expected),
        uptake_loss=_loss(learnt),
        age_range=range_of_ages(learnt.posterior, prices, beliefs, change.age),
        change=change,
        in_parts=in_parts(
            learnt.posterior,
            prices,
            change.age,
            damp_cost=beliefs.expected,
            uptake_loss_at_life=beliefs.loss.mean,
        ),
        laundering=laundering,
        laundry_due=laundry_due,
        due=due,
        wear_per_day=float(learnt.wear[:SOON_DAYS].mean()),
        wear_per_year=float(learnt.wear.sum()),
        notes=tuple(one.noted() for one in _notes(learnt, now_s, bool(typical))),
    )


def laundering_of(learnt: ClothLearnt) -> Laundering:
    """How often its sets go to the laundry, where days are known that could be simulated."""
    posterior, change, days = learnt.posterior, learnt.change, learnt.days
    age = posterior.mean_life if change.waits else change.age
    cars = (
        float(days.cars(learnt.today + timedelta(days=n)).sum()) for n in range(1, SEASON_DAYS + 1)
    )
    return how_often(
        learnt.data.site,
        learnt.data.given,
        learnt.beliefs,
        age / posterior.quantile("eta", 0.5),
        change.cost_rate,
        [count for count in cars if count > 0.0],
    )


def acts_of(
    learnt: ClothLearnt, laundering: Laundering | None
) -> tuple[Due | None, LaundryDue | None]:
    """When the set on the wheel is changed, and when it goes to the laundry; None where no set is
    there, or nothing is known of launderings."""
    on_wheel = next((one for one in learnt.states if one.state == ON), None)
    if on_wheel is None:
        return None, None
    laundry = None if laundering is None else _laundry_due(on_wheel, laundering, learnt)
    return _due(on_wheel, learnt), laundry


def _laundry_due(one: SetState, found: Laundering, learnt: ClothLearnt) -> LaundryDue:
    tomorrow, soil = learnt.today + timedelta(days=1), one.soil_cars
    if math.isinf(found.cars):
        return LaundryDue(one.cloth.name, soil, None)
    for ahead in range(SEASON_DAYS):
        day = tomorrow + timedelta(days=ahead)
        if soil >= found.cars:
            return LaundryDue(one.cloth.name, one.soil_cars, day)
        soil += float(learnt.days.cars(day).sum())
    return LaundryDue(one.cloth.name, one.soil_cars, None)


def _set(one: SetState, learnt: ClothLearnt) -> SetFound:
    last = one.spells[-1] if one.spells else None
    return SetFound(
        name=one.cloth.name,
        bought=one.cloth.bought,
        state=one.state,
        reason=one.reason,
        since=None if last is None else (last.off or last.on).day,
        on_wheel_cars=sum(spell.cars for spell in one.spells),
        all_counted=all(spell.origin != "expected" for spell in one.spells),
        launderings=one.launderings,
        age_cars=one.age_cars,
        to_come=None if one.state == ENDED else _to_come(one, learnt),
    )


def _to_come(one: SetState, learnt: ClothLearnt) -> SetToCome:
    share = wheel_share(learnt.states, one.cloth.name, learnt.today)
    pace, age = learnt.pace, one.age_cars
    low, middle, high = (age_worn_out(learnt.posterior, age, part) for part in LIFE_SHARES)
    first, day, last = (
        day_of_age(learnt.days, learnt.today, then - age, share * pace)
        for then in (low, middle, high)
    )
    spent = sum(spell.cars for one in learnt.states for spell in one.spells)
    rate = sum(one.launderings for one in learnt.states) / spent if spent > 0.0 else 0.0
    launderings = (middle - age) / pace * rate
    return SetToCome(share, (low, middle, high), (first, day, last), launderings)


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


def _life(learnt: ClothLearnt) -> LifeFound:
    posterior, states = learnt.posterior, learnt.states
    beta, eta = (
        Believed(posterior.quantile(name, 0.5), *posterior.interval(name))
        for name in ("beta", "eta")
    )
    worn_out = sum(one.life.failed for one in states)
    ended = sum(one.state == ENDED for one in states)
    return LifeFound(
        beta,
        eta,
        posterior.mean_life,
        worn_out,
        ended - worn_out,
        len(learnt.looks),
        fit_life([one.life for one in states]),
    )


def _loss(learnt: ClothLearnt) -> LossFound:
    loss, counts = learnt.beliefs.loss, learnt.counts
    middle, low, high = (loss.quantile(share) for share in (0.5, 0.05, 0.95))
    worn = WORN * learnt.posterior.quantile("eta", 0.5)
    looked_at = sum(one.wear_cars >= worn for one in counts)
    return LossFound(loss.is_known, middle, low, high, counts, looked_at)


def _due(one: SetState, learnt: ClothLearnt) -> Due:
    days, today, change = learnt.days, learnt.today, learnt.change
    share = learnt.pace * wheel_share(learnt.states, one.cloth.name, today)

    def day_at(age: float) -> date | None:
        return None if math.isinf(age) else day_of_age(days, today, age - one.age_cars, share)

    day, first, last = (day_at(age) for age in (change.age, *change.flat))
    busy = quiet = None
    if day is not None:
        week = [day + timedelta(days=n) for n in range(7)]
        busiest = max(week, key=lambda one: float(days.cars(one).sum()))
        busy = BusyDay(busiest, float(days.cars(busiest).sum()))
        quiet = _quiet(day, one.age_cars, share, learnt)
    return Due(one.cloth.name, day, first, last, one.age_cars > change.age, busy, quiet)


def _quiet(day: date, age_now: float, share: float, learnt: ClothLearnt) -> Moved | None:
    """The quietest morning near a day whose cost stays within the flat part of the curve; of a set
    past its age the quietest of the coming week."""
    days, today, change = learnt.days, learnt.today, learnt.change
    low, high, reach = *change.flat, QUIET_REACH_DAYS
    if age_now > change.age:
        low, high, reach = age_now, math.inf, OVERDUE_REACH_DAYS
    ages = {today: age_now}
    for n in range(1, (day - today).days + QUIET_REACH_DAYS + 1):
        one = today + timedelta(days=n)
        ages[one] = ages[one - timedelta(days=1)] + share * float(days.wear(one).sum())
    near = [
        one
        for one, age in ages.items()
        if one > today and abs((one - day).days) <= reach and low <= age <= high
    ]

    def morning(one: date) -> float:
        return float(days.cars(one)[:MORNING_ENDS_H].sum())

    if not near:
        return None
    quietest = min(near, key=lambda one: (round(morning(one)), abs((one - day).days)))
    if morning(quietest) >= morning(day):
        return None
    prices = learnt.prices
    costs = Costs(learnt.posterior, prices.planned, prices.unplanned, learnt.beliefs.expected)

    def excess(age: float) -> float:
        """What a life that ends at an age costs beyond the best, on average [money]."""
        at = np.array([age])
        more = float(costs.mean_rate(at)[0]) - change.cost_rate
        return more * float(mean_length(learnt.posterior, at)[0])

    missed = excess(age_now) if age_now > change.age else 0.0
    return Moved(quietest, morning(quietest), max(0.0, excess(ages[quietest]) - missed))


def _notes(learnt: ClothLearnt, now_s: float, has_weather: bool) -> list[InputProblem]:
    notes = []
    now = learnt.today, now_s
    later = sum((event.day, event.at_s) > now for event in learnt.data.cloth.events)
    if later:
        sentence = "Entries of the record that lie in the future and are left out: {count}."
        notes.append(InputProblem("day", sentence, {"count": later}))
    if not any(one.life.failed for one in learnt.states):
        sentence = (
            "No set has worn out so far: how long one lasts is known by those that lasted, and by "
            "a guess."
        )
        if not any(one.state == ENDED for one in learnt.states):
            sentence = "No set has come to its end so far: how long one lasts is a guess."
        notes.append(InputProblem("life_scale_cars", sentence))
    if not has_weather:
        sentence = "Without weather damp cars can’t be worked out; they do not count here."
        notes.append(InputProblem("weather", sentence))
    return notes

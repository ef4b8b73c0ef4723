"""Belt stops and alarms of a site: the rates of their causes, and what those of a day cost."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.beliefs import belief_in, weighings_of
from app.answers.coming_days import evening_before
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.db import store
from sim.checks import check_conditions, check_site
from sim.decide.stops.answer import SCHEMA, StopCosts, StopRates
from sim.decide.stops.cost import DayStop, StopQuestion, stop_costs
from sim.decide.stops.rates import Event, Exposure, spelled, stop_rates
from sim.errors import InputError, InputProblem
from sim.inputs import TYPED, DemandSpread, LogEntry, SiteData
from sim.inputs.logbook import ALARM, STOP
from sim.learn.expected_day import Override
from sim.learn.like_days import open_hours
from sim.learn.logged import logged_day, reduced_windows, rule_of

SEED = 20260716
"""Root seed of the days on which stops are priced."""
DRAWS = 64
"""Simulated days of each plan."""


def day_cars(data: SiteData) -> dict[date, int]:
    """Cars counted on each day of the site's past; empty where its days were typed."""
    found: dict[date, int] = {}
    for row in data.history.counts if data.history.counted != TYPED else ():
        found[row.day] = found.get(row.day, 0) + row.cars
    return found


def stops_and_alarms(desk: Desk, first: date, last: date) -> tuple[LogEntry, ...]:
    """Stops and alarms from one day to another that count, in order of time."""
    found = store.load_log(desk.session, desk.site.id, first, last, (STOP, ALARM))
    return tuple(one for one in found if one.counts)


def planned_stops(data: SiteData, over: StopRates) -> float:
    """Stops that the site's plans count on over the same cars and open hours."""
    line = data.site.line
    return line.stops_per_h * over.open_h + line.stops_per_car * over.cars


def rates_of(
    data: SiteData, entries: Sequence[LogEntry], first: date, last: date
) -> StopRates | None:
    """How often each cause of some entries came over the counted days from `first` to `last`;
    None where no car was counted."""
    cars = {day: n for day, n in day_cars(data).items() if first <= day <= last and n > 0}
    hours = len(open_hours(data.site.line))
    over = Exposure(len(cars), sum(cars.values()), float(hours * len(cars)))
    shares = {item.key: item.numbers.share for item in data.site.vehicles}
    events = [Event(one.name, one.lasted_s, one.vehicle) for one in entries if one.day in cars]
    return stop_rates(events, over, len(entries) - len(events), shares)


# ---- what the stops of a day cost ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StopsAsked:
    """What a day asks of its stops.

    Attributes:
        question: None where it asks nothing.
        stops: how many were noted.
        problems: why they can't be priced.
    """

    question: StopQuestion | None
    stops: int
    problems: tuple[InputProblem, ...] = ()


StopsView = Answer[StopsAsked, StopCosts]
"""What the stops of a day cost, as far as it is known."""


def ask_stops(desk: Desk, day: date) -> StopsAsked:
    """What a site asks of the stops of a past day."""
    log = store.load_log(desk.session, desk.site.id, day, day)
    noted = [one for one in log if one.kind == STOP and one.counts]
    if not noted:
        return StopsAsked(None, 0)
    data = desk.data
    try:
        expected = desk.look(data, day, Override())
        evening = evening_before(data, day, desk.look)
    except InputError as fault:
        return StopsAsked(None, len(noted), fault.problems)
    if expected.closed:
        sentence = "{day} is a closed day: there is nothing to simulate without its stops."
        return StopsAsked(None, len(noted), (InputProblem("day", sentence, {"day": day}),))
    belief = belief_in(weighings_of(desk))
    site = data.site if belief is None else belief.middle(data.site)
    hours = [0.0] * 24
    for row in data.history.counts if data.history.counted != TYPED else ():
        if row.day == day:
            hours[row.hour] += row.cars
    conditions = expected.conditions
    if sum(hours) > 0.0:
        conditions = replace(conditions, arrivals_per_h=tuple(hours), spread=DemandSpread(0.0, 0.0))
    closes_s = 3600.0 * site.line.close_h
    told = logged_day(log, 3600.0 * site.line.open_h, closes_s)
    usual = site.line.stop_median_s
    told_as = spelled(one.name for one in noted)
    stops = tuple(
        DayStop(one.at_s, usual if one.lasted_s is None else one.lasted_s, told_as[one.name])
        for one in noted
    )
    question = StopQuestion(
        day=day,
        site=site,
        conditions=conditions,
        rule=rule_of(reduced_windows(told.switches, closes_s)),
        stops=stops,
        guessed=sum(one.lasted_s is None for one in noted),
        cars="counts" if sum(hours) > 0.0 else "expected",
        evening=evening,
        seed=SEED,
        draws=DRAWS,
    )
    problems = tuple(check_site(site) or check_conditions(site, conditions))
    return StopsAsked(None if problems else question, len(noted), problems)


def _key(asked: StopsAsked) -> str:
    return "" if asked.question is None else answer_key(SCHEMA, asdict(asked.question))


def _posed(asked: StopsAsked) -> StopQuestion:
    if asked.question is None:
        raise ValueError("there is no stop to price")
    return asked.question


def _work(asked: StopsAsked, executor: Executor | None, report: Report) -> StopCosts:
    return stop_costs(_posed(asked), executor, lambda done: report(done, DRAWS))


STOPS: Kind[StopsAsked, StopCosts] = Kind(
    name="stops",
    label="What stops cost",
    stages=(Stage("days", "simulating the day with and without its stops"),),
    page="stops/{day}",
    found=StopCosts,
    ask=ask_stops,
    key=_key,
    days=lambda asked: DRAWS * (2 + len(_posed(asked).causes)),
    work=_work,
    failed="What the stops cost could not be worked out: {fault}",
    schema=SCHEMA,
)

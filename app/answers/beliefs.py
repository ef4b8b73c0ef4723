"""What the weighings of a site leave of its guesses: worked out once, and kept under its key."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from app.answers.answer import Answer, Desk, Kind, answer_key
from app.answers.coming_days import Look, evening_before
from app.answers.serial import write
from app.answers.studies.stages import Stage
from app.db.session import Session
from app.db.store import StoredSite
from sim.day.drawn import Belief
from sim.day.rules import parse_rule
from sim.errors import InputError, InputProblem
from sim.inputs import Conditions, SiteData, Weighing
from sim.inputs.people import Money, Wishes
from sim.learn.answer import SCHEMA, Posterior
from sim.learn.expected_day import ExpectedDay, Override, day_air, expected_day, parse_override
from sim.learn.like_days import open_hours
from sim.learn.spin import SpinTest, strips_of
from sim.learn.weigh_in import FIRST_SIZE, posterior
from sim.learn.weighed_day import DAYS, Cars, WeighedDay, cars_of_day, spread_of, total_cv
from sim.units import show_clock

SEED = 20260702
"""Root seed of what weighings are judged by; plans have another."""


@dataclass(frozen=True, slots=True)
class DayTaken:
    """What a weighed day is taken to have been: its cars, and how far all of them may be off, a
    coefficient of variation; 0 where known."""

    day: date
    cars: Cars
    total_cv: float


@dataclass(frozen=True, slots=True)
class Weighed:
    """The weighings of a site that can be judged, and why others can't; `days` are those that need
    their day, by day and rule, with what it had as far as known; `spins` the strips of spin tests,
    each with the air of its day."""

    data: SiteData
    weighings: tuple[Weighing, ...]
    days: tuple[WeighedDay, ...]
    spins: tuple[SpinTest, ...]
    problems: tuple[InputProblem, ...]

    @property
    def taken(self) -> tuple[DayTaken, ...]:
        """What each weighed day is taken to have been, each once."""
        day_factor_cv = self.data.site.pay.day_factor_cv
        taken = [
            DayTaken(one.weighings[0].day, one.cars, total_cv(one.conditions.spread, day_factor_cv))
            for one in self.days
        ]
        return tuple(dict.fromkeys(taken))


BeliefView = Answer[Weighed, Posterior]
"""What weighings have told so far."""


def belief_in(held: BeliefView) -> Belief | None:
    """What plans draw sites from; None without weighings, or while they are not worked in."""
    return None if held.result is None else held.result.belief


def weighed(data: SiteData, look: Look = expected_day) -> Weighed:
    """The weighings of a site, with the days that they need as far as known.

    A day's cars are those of its counts, else those noted with a weighing, else as expected; its
    air is the stored weather with what was noted as felt; see `sim.learn.weighed_day`.
    """
    problems: list[InputProblem] = []
    kept: list[Weighing] = []
    together: dict[tuple[date, str], list[Weighing]] = {}
    days = []
    keys = [item.key for item in data.site.vehicles]
    day_factor_cv = data.site.pay.day_factor_cv
    for item in data.weighings:
        if not item.needs_day:
            kept += [item] if item.at_once else []
            continue
        try:
            parse_rule(item.rule, keys)
            look(data, item.day, _felt(data, item.day))
        except InputError as fault:
            problems += [_left_out(item, p) for p in fault.problems]
            continue
        together.setdefault((item.day, item.rule), []).append(item)
    for (day, _rule), group in together.items():
        expected = look(data, day, _felt(data, day))
        last_s = max(item.at_s for item in group)
        cars = _cars(data, expected, last_s)
        if expected.closed or not any(cars.per_h):
            sentence = "no cars are expected on that day: it is closed, or counted as empty"
            problems += [_left_out(item, InputProblem("day", sentence)) for item in group]
            continue
        evening = evening_before(data, day, partial(_as_counted, look))
        spread = spread_of(cars.known, expected.conditions.spread, day_factor_cv)
        conditions = replace(expected.conditions, arrivals_per_h=cars.per_h, spread=spread)
        days.append(WeighedDay(tuple(group), conditions, evening, cars))
        kept += group
    spins = []
    for strip in strips_of(data.weighings):
        try:
            spins.append(SpinTest(strip, _still_air(data, strip[0].day)))
            kept += strip
        except InputError as fault:
            problems += [_left_out(item, p) for item in strip for p in fault.problems]
    return Weighed(data, tuple(kept), tuple(days), tuple(spins), tuple(problems))


def _still_air(data: SiteData, day: date) -> Conditions:
    """The air of a day, without cars.

    Raises:
        InputError: if what was noted of its weather can't be read any more.
    """
    hours = open_hours(data.site.line)
    air = day_air(data.history.weather, day, hours, _felt(data, day), data.site.climate)
    return Conditions((0.0,) * 24, air.temp_c, air.humidity)


def _felt(data: SiteData, day: date) -> Override:
    """What was last noted of a day's weather with a weighing."""
    noted = [w for w in data.weighings if w.day == day and w.weather]
    lines = [w.weather for w in sorted(noted, key=lambda w: w.at_s)]
    return parse_override(lines[-1]) if lines else Override()


def _cars(data: SiteData, expected: ExpectedDay, until_s: float) -> Cars:
    noted = [item for item in data.weighings if item.day == expected.day]
    hours = open_hours(data.site.line)
    return cars_of_day(
        data.history, expected.day, hours, expected.conditions.arrivals_per_h, noted, until_s
    )


def _as_counted(look: Look, data: SiteData, day: date, typed: Override) -> ExpectedDay:
    """A past day as it was expected, with its own counts where it has them."""
    found = look(data, day, typed)
    cars = _cars(data, found, 86_400.0)
    if found.closed or cars.known != "counts":
        return found
    known = spread_of(cars.known, found.conditions.spread, data.site.pay.day_factor_cv)
    conditions = replace(found.conditions, arrivals_per_h=cars.per_h, spread=known)
    return replace(found, conditions=conditions, expected_cars=sum(cars.per_h))


def _left_out(item: Weighing, why: InputProblem) -> InputProblem:
    sentence = "The weighing of {day}, {time}, is left out: " + why.sentence
    values = {**why.values, "day": item.day.isoformat(), "time": show_clock(item.at_s)}
    return InputProblem("weighing", sentence, values)


def belief_key(asked: Weighed) -> str:
    """A hash of everything that the outcome depends on; empty where nothing was weighed."""
    if not asked.weighings:
        return ""
    # what a car brings and what a manager wishes changes no moisture
    site = replace(asked.data.site, name="", timezone="", money=Money(), wishes=Wishes())
    days = [
        ([w.at_s for w in day.weighings], day.conditions, day.evening, day.cars.washed)
        for day in asked.days
    ]
    air = [test.conditions for test in asked.spins]
    given = sorted(asked.data.given)
    return answer_key(SCHEMA, write((site, given, asked.weighings, days, air, SEED)))


def work_in(
    asked: Weighed,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Posterior:
    """What the weighings leave of the guesses."""
    site, given = asked.data.site, asked.data.given
    return posterior(
        site, given, asked.weighings, asked.days, SEED, executor=executor, progress=progress,
        spins=asked.spins,
    )  # fmt: skip


BELIEF: Kind[Weighed, Posterior] = Kind(
    name="weighings",
    label="Measurements",
    stages=(Stage("sites", "holding possible sites against what was measured"),),
    page="weighings",
    found=Posterior,
    ask=lambda desk, _day: desk.once("weighed", lambda: weighed(desk.data, desk.look)),
    key=belief_key,
    days=lambda asked: FIRST_SIZE * (DAYS + 1) * len(asked.days),
    work=work_in,
    failed="The weighings could not be worked in: {fault}",
)


def weighings_of(desk: Desk) -> BeliefView:
    """What a site's weighings have told; where that is missing, it begins to be worked out."""
    return desk.once("held", lambda: _begun(desk))


def _begun(desk: Desk) -> BeliefView:
    newest = max((item.day for item in desk.data.weighings), default=date.min)
    held = desk.open(BELIEF, newest)
    if desk.runner is not None and held.is_awaited:
        held.begin(desk.runner)
    return held


def belief_now(
    session: Session,
    site: StoredSite,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Belief | None:
    """The same for the command line: from the database, else worked out on the spot."""
    held = weighings_of(Desk(session, site))
    if held.is_wanting:
        held = replace(held, result=work_in(held.asked, None, progress))
    return belief_in(held)

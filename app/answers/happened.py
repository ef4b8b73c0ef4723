"""What was planned of past days beside what happened on them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Literal, TypeVar
from zoneinfo import ZoneInfo

from app.answers.answer import Answer, Desk, Kind, answer_key, libraries
from app.answers.beliefs import belief_in, weighings_of
from app.answers.planning import make_question, question_key
from app.answers.serial import read
from app.answers.sizes import FIRST_REPLICATIONS
from app.answers.stops import day_cars
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.sites.plan_states import plan_states
from app.sites.reading import Past
from sim.day.drawn import Belief
from sim.day.figures import Range
from sim.day.rules import Rule, parse_rule
from sim.decide.answer import SCHEMA as PLAN_SCHEMA
from sim.decide.answer import Column, Plan
from sim.decide.compare import Question, check_question, compare
from sim.decide.switching.answer import SCHEMA as SWITCH_SCHEMA
from sim.decide.switching.answer import WhenToReduce
from sim.errors import InputError
from sim.inputs import LogEntry, PlannedShift, Scenario, SiteData
from sim.learn.expected_day import ExpectedDay, expected_day
from sim.learn.happened import (
    DayHappened,
    InRange,
    Planned,
    Source,
    cars_range,
    day_happened,
    in_range,
    windows_of,
)
from sim.learn.like_days import WET_MM, open_hours
from sim.learn.logged import LoggedDay, logged_day, reduced_windows, rule_of

Found = TypeVar("Found")
Wet = Literal["", "rain", "after"]

SCHEMA = "clothcast.happened/1"
HELD = ("cars_arrived", "cars_washed", "cars_lost", "damp_share", "wait_p90_s")
"""Figures of a plan that a day is held against."""
OPENING_NOTE = "As it was wiped"
"""Name of the one scenario of a plan that is worked out afterwards."""


@dataclass(frozen=True, slots=True)
class DayBeside:
    """A day beside its plan, and where that plan is.

    Attributes:
        version: of the plan that stood that morning; 0 for none stored.
        entries: of the day's log.
        has_count: whether its cars were counted by the site's counts; else by its log.
        wet: whether it rained while the site was open, the day before, or neither, as far as the
            stored weather knows.
    """

    day: date
    found: DayHappened
    version: int
    entries: tuple[LogEntry, ...]
    has_count: bool
    wet: Wet = ""


def opening_of(stored: StoredSite, day: date) -> datetime:
    """The moment at which a site opens on a day."""
    zone = ZoneInfo(stored.data.site.timezone)
    midnight = datetime.combine(day, time(), zone)
    return midnight + timedelta(hours=stored.data.site.line.open_h)


def before(data: SiteData, day: date) -> SiteData:
    """A site as it was the evening before a day, as far as its past goes: what was counted or noted
    of that day and of later ones is left out. Its inputs are those of now."""
    past = data.history
    return replace(
        data,
        forecast=None,  # it knows of what was counted later
        history=replace(
            past,
            counts=tuple(row for row in past.counts if row.day < day),
            weather=tuple(row for row in past.weather if row.day <= day),
        ),
    )


# ---- the plan worked out afterwards --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AfterwardsAsked:
    """What a past day without a stored plan asks: the plan that it would have had.

    Attributes:
        question: None where nothing could have been expected, or the day was closed.
    """

    day: date
    question: Question | None
    expected: ExpectedDay | None = None


AfterwardsView = Answer[AfterwardsAsked, Plan]


def _ask(desk: Desk, day: date) -> AfterwardsAsked:
    log = store.load_log(desk.session, desk.site.id, day, day)
    line = desk.data.site.line
    told = logged_day(log, 3600.0 * line.open_h, 3600.0 * line.close_h)
    return afterwards_of(desk.data, day, told, belief_in(weighings_of(desk)), FIRST_REPLICATIONS)


def afterwards_of(
    data: SiteData, day: date, told: LoggedDay, belief: Belief | None, replications: int
) -> AfterwardsAsked:
    """What a past day asks, of as many simulated days, wiped as its log has it."""
    rule = rule_of(reduced_windows(told.switches, 3600.0 * data.site.line.close_h))
    scenario = Scenario(OPENING_NOTE, rule)
    try:
        question, expected = make_question(
            before(data, day), day, "", (scenario,), replications, belief=belief, look=Past().look
        )
    except InputError:
        return AfterwardsAsked(day, None)
    if expected.closed or expected.expected_cars <= 0.0 or check_question(question):
        return AfterwardsAsked(day, None, expected)
    return AfterwardsAsked(day, question, expected)


def _key(asked: AfterwardsAsked) -> str:
    if asked.question is None:
        return ""
    return answer_key(SCHEMA, question_key(asked.question))


def _posed(asked: AfterwardsAsked) -> tuple[Question, ExpectedDay]:
    if asked.question is None or asked.expected is None:
        raise ValueError(f"{asked.day} asks for nothing")
    return asked.question, asked.expected


def _work(asked: AfterwardsAsked, executor: Executor | None, report: Report) -> Plan:
    question, expected = _posed(asked)
    found = compare(question, executor, lambda done: report(done, question.replications))
    made = Plan(question.site.name, expected.day, expected.origin, libraries(), found)
    return replace(made, schema=SCHEMA)


AFTERWARDS: Kind[AfterwardsAsked, Plan] = Kind(
    name="happened",
    label="What happened",
    stages=(Stage("days", "the plan that the day would have had"),),
    page="happened/{day}",
    found=Plan,
    ask=_ask,
    key=_key,
    days=lambda asked: _posed(asked)[0].replications,
    work=_work,
    failed="The plan could not be worked out: {fault}",
    schema=SCHEMA,
)


# ---- a day beside its plan -----------------------------------------------------------------------


def day_beside(desk: Desk, day: date, afterwards: Plan | None = None) -> DayBeside:
    """A past day beside the plan that stood that morning; else beside one worked out afterwards
    where that is at hand; else beside the cars that were to be expected."""
    entries = store.load_log(desk.session, desk.site.id, day, day)
    return _beside(desk, day, entries, afterwards)


@dataclass(frozen=True, slots=True)
class DaysBeside:
    """Days of which counts or log know something, each beside its plan; how often as many cars
    came as was told.

    Attributes:
        wet: days outside of what was told on which it rained, or the day before.
    """

    days: tuple[DayBeside, ...]
    share: InRange
    wet: int


def days_beside(desk: Desk, days: Sequence[date]) -> DaysBeside:
    """The same of several days, by what is stored alone."""
    every = _every(desk, days) if days else ()
    known = tuple(one for one in every if one.has_count or one.entries)
    outside = [one for one in known if one.found.held[0].place in ("above", "below")]
    wet = sum(bool(one.wet) for one in outside)
    return DaysBeside(known, in_range([one.found for one in known]), wet)


def _every(desk: Desk, days: Sequence[date]) -> tuple[DayBeside, ...]:
    entries: dict[date, list[LogEntry]] = {day: [] for day in days}
    for one in store.load_log(desk.session, desk.site.id, min(days), max(days)):
        if one.day in entries:
            entries[one.day].append(one)
    return tuple(_beside(desk, day, tuple(entries[day]), None) for day in days)


def _beside(
    desk: Desk, day: date, entries: tuple[LogEntry, ...], afterwards: Plan | None
) -> DayBeside:
    data, line = desk.data, desk.data.site.line
    logged = logged_day(entries, 3600.0 * line.open_h, 3600.0 * line.close_h)
    counted = desk.once("day cars", lambda: day_cars(data)).get(day)
    what = "cars_washed"
    if counted is not None and data.history.counted == "arrived":
        what = "cars_arrived"
    cars = logged.cars if counted is None else counted
    stood, version = plan_stood(desk, day)
    shifts = data.staff.on_day(day)
    if stood is not None:
        planned = replace(stood, shifts=shifts)
    elif afterwards is not None:
        planned = replace(planned_in("afterwards", afterwards.comparison.columns[0]), shifts=shifts)
    else:
        planned = _expected(desk, day, shifts)
        if what == "cars_washed" and "cars_arrived" in planned.figures:
            what = "cars_arrived"
    found = day_happened(planned, logged, cars, what)
    rain = desk.once("rain", lambda: _rain(data))
    wet: Wet = "after" if rain.get(day - timedelta(days=1), 0.0) >= WET_MM else ""
    if rain.get(day, 0.0) >= WET_MM:
        wet = "rain"
    return DayBeside(day, found, version, entries, counted is not None, wet)


def _rain(data: SiteData) -> dict[date, float]:
    """Rain of each day while the site was open [mm]."""
    hours, found = open_hours(data.site.line), dict[date, float]()
    for air in data.history.weather:
        if air.hour in hours:
            found[air.day] = found.get(air.day, 0.0) + air.rain_mm
    return found


def plan_stood(desk: Desk, day: date) -> tuple[Planned | None, int]:
    """What the plan that was followed that morning told, None where none was stored by then, and
    its version; 0 for none."""
    column, rule, version = _stood(desk, day)
    if column is None:
        return None, version
    told = planned_in("stored", column)
    return replace(told, rule=rule.text, windows=windows_of(rule)), version


def _stood(desk: Desk, day: date) -> tuple[Column | None, Rule, int]:
    """The column of the plan that was followed that morning, its rule, and the plan's version.

    The newest answers count that were stored before opening: the plan's advised column, and the
    rule of When to reduce where that was worked out. At an invented site, where it always is one
    day, whatever is stored counts.
    """
    session, stored = desk.session, desk.site
    opens = opening_of(stored, day)

    def known(at: datetime) -> bool:
        return stored.data.stands_on is not None or at < opens

    rule, version = parse_rule("full"), 0
    if day not in desk.once("days answered", lambda: _days_answered(desk)):
        return None, rule, version
    for state in plan_states(session, stored.id, day):
        if known(state.at):
            version = state.version
            break
    plan = _newest(session, stored, day, PLAN_SCHEMA, Plan, known)
    switch = _newest(session, stored, day, SWITCH_SCHEMA, WhenToReduce, known)
    if switch is not None and not switch.coarse:
        return switch.comparison.columns[switch.columns.told], switch.told, version
    if plan is None:
        return None, rule, version
    column = plan.comparison.columns[plan.comparison.best]
    return column, parse_rule(column.scenario.rule), version


def _days_answered(desk: Desk) -> set[date]:
    """Days of which a plan or a rule is stored, whenever that was worked out."""
    kinds = PLAN_SCHEMA, SWITCH_SCHEMA
    return set[date]().union(*store.days_with_result(desk.session, desk.site.id, *kinds))


def _newest(
    session: Session,
    stored: StoredSite,
    day: date,
    schema: str,
    kind: type[Found],
    known: Callable[[datetime], bool],
) -> Found | None:
    for at, text in store.day_results(session, stored.id, day, schema, 0, None):
        if known(at):
            return read(kind, text)
    return None


def planned_in(source: Source, column: Column) -> Planned:
    """What a column of a plan tells of a day."""
    return Planned(
        source, _figures(column), damp_by_hour=column.hour("damp_share"),
        wait_by_hour=column.hour("wait_mean_s"), full_by_hour=column.hour("full_share"),
    )  # fmt: skip


def _figures(column: Column) -> dict[str, tuple[float, Range | None]]:
    found = {}
    for name in HELD:
        figure = column.figures.get(name)
        if figure is not None and figure.value is not None:
            found[name] = figure.value, figure.day_range
    return found


@dataclass(frozen=True, slots=True)
class _Evening:
    """The evening before a day at a site; `rests_on` names all that its expectation rests on."""

    rests_on: str
    day: date
    data: SiteData = field(compare=False)


EVENINGS_KEPT = 124
"""Evenings whose expectation is remembered: a month asks for thirty of them each time."""


@lru_cache(EVENINGS_KEPT)
def _cars_told(evening: _Evening) -> tuple[float, Range] | None:
    """The cars that were to be expected, and their day range; None where nothing was."""
    data, day = evening.data, evening.day
    try:
        expected = expected_day(before(data, day), day)
    except InputError:
        return None
    if expected.closed or expected.expected_cars <= 0.0:
        return None
    pay = data.site.pay
    return cars_range(expected.conditions, pay.day_factor_cv, pay.hour_factor_cv)


def _expected(desk: Desk, day: date, shifts: tuple[PlannedShift, ...]) -> Planned:
    """Only the cars that were to be expected the evening before."""
    rests_on = desk.once("cars told", lambda: desk.rests_on("history"))
    told = _cars_told(_Evening(rests_on, day, desk.data))
    if told is None:
        return Planned("nothing", {}, shifts=shifts)
    return Planned("expected", {"cars_arrived": told}, shifts=shifts)

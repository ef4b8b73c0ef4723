"""The coming days: a plan each from the expected day, and how many days of a year need switching.

The first part is shown as soon as it is there; the year follows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta

from app.answers.answer import Desk, Kind, answer_key, libraries
from app.answers.beliefs import belief_in, weighings_of
from app.answers.coming_days import ComingDay, Look, coming_day, evening_before
from app.answers.planning import DEFAULT_SCENARIOS, PLAN
from app.answers.sizes import SEED
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.answers.switching import SWITCH, as_planned
from app.db import store
from sim.day.drawn import Belief
from sim.day.rules import FULL, parse_rule
from sim.decide.answer import Comparison
from sim.decide.switching.answer import (
    COMING_SCHEMA,
    SCHEMA,
    AdvisedDay,
    Brings,
    ComingAnswer,
    CrewTerms,
    DayPlan,
    MoreHands,
    WhenToReduce,
)
from sim.decide.switching.choice import Wish
from sim.decide.switching.coming import Day, plan_days
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.year import count_year, need_switching
from sim.errors import InputError, InputProblem
from sim.inputs import SiteData

DAYS, SEASON_DAYS = 14, 364
"""Days that get a plan, and days that are counted: a year of whole weeks."""
PLAN_STEPS = 6
"""Steps of a day's plan, where a day of the year is one: it takes so many times as long."""
STEPS = PLAN_STEPS * DAYS + SEASON_DAYS
RUNS = 18_000
"""Simulated days that all of it takes, about."""
NOTHING = (
    "Nothing can be planned of the 14 days from {day} on: either nothing is known of such days, or "
    "no car is let in. Bring in counts and weather, or choose another first day."
)


@dataclass(frozen=True, slots=True)
class ComingAsked:
    """What the plans of the coming days depend on.

    Attributes:
        data: the site with its past.
        first: the first of the days.
        typed: what was typed over a day, by day.
        belief: what weighings leave of the guesses.
        look: gives expected days.
        rests_on: names inputs and past.
        crewed: days whose stored plan says who dries cars; no plan made here depends on it.
    """

    data: SiteData
    first: date
    typed: Mapping[date, str]
    belief: Belief | None
    look: Look
    rests_on: str = ""
    crewed: frozenset[date] = frozenset()


def days_ahead(asked: ComingAsked, count: int) -> list[ComingDay]:
    """`count` days from the first on, each with what was typed over it."""
    days = [asked.first + timedelta(days=number) for number in range(count)]
    return [coming_day(asked.data, day, asked.look, asked.typed.get(day, "")) for day in days]


def to_plan(ahead: Sequence[ComingDay], asked: ComingAsked) -> dict[date, Day]:
    """What the plans of those days are made of that are open."""
    return {
        one.day: (one.expected.conditions, evening_before(asked.data, one.day, asked.look))
        for one in ahead
        if one.expected is not None and one.state == "open"
    }


def answer_coming(
    asked: ComingAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    early: Callable[[ComingAnswer], None] = lambda found: None,
    stage: Callable[[str], None] = lambda name: None,
    *,
    count: int = DAYS,
    year_days: int = SEASON_DAYS,
) -> ComingAnswer:
    """The answer; `early` is handed a first look at all days, each plan as it is made, and all of
    them before the year is counted; `stage` is told of both as they begin.

    Args:
        count, year_days: days that get a plan, and days that are counted.

    Raises:
        InputError: if nothing can be planned of any of the days.
    """
    fortnight = days_ahead(asked, count)
    ready = to_plan(fortnight, asked)
    if not ready:
        raise InputError([InputProblem("date", NOTHING, {"day": asked.first})])
    question = _question(asked, next(iter(ready.values())))
    planning, steps = PLAN_STEPS * count, PLAN_STEPS * count + year_days
    stage("first")
    progress(0, steps)
    site = asked.data.site

    def made(plans: Sequence[DayPlan | None]) -> ComingAnswer:
        of_day = dict(zip(ready, plans, strict=True))
        return ComingAnswer(
            COMING_SCHEMA,
            site.name,
            asked.first,
            SEED,
            libraries(),
            question.wish,
            () if asked.belief is None else tuple(asked.belief.weighed),
            CrewTerms.of(site),
            tuple(_planned(one, asked, of_day.get(one.day)) for one in fortnight),
            None,
        )

    def shown(some: Sequence[DayPlan | None]) -> None:
        early(made(some))
        stage("days")  # what comes first is a first look at all of them

    plans = plan_days(
        question,
        list(ready.values()),
        executor,
        lambda done, total: progress(planning * done // total, steps),
        shown,
    )
    found = made(plans)
    early(found)
    stage("year")
    year = days_ahead(asked, year_days)
    whole = to_plan(year, asked)
    needs = need_switching(
        question,
        list(whole.values()),
        executor,
        lambda done, total: progress(planning + year_days * done // total, steps),
    )
    unplanned = {one.day: one.state for one in year if one.day not in whole}
    return replace(found, year=count_year(dict(zip(whole, needs, strict=True)), unplanned))


def _question(asked: ComingAsked, day: Day) -> SwitchQuestion:
    """What is asked of each day, at the site's own settings, with always full in use now and the
    rules that a day's plan begins with in it."""
    site, (conditions, evening) = asked.data.site, day
    return SwitchQuestion(
        site, conditions, Wish.of(site), SEED, evening=evening, known=asked.data.given,
        belief=asked.belief, planned=tuple(one.rule for one in DEFAULT_SCENARIOS[1:]),
    )  # fmt: skip


def _planned(one: ComingDay, asked: ComingAsked, plan: DayPlan | None) -> AdvisedDay:
    expected, brings = one.expected, None
    if expected is not None:
        brings = Brings(
            expected.expected_cars, expected.highest_temp_c, expected.humidity_then,
            expected.rain_mm,
        )  # fmt: skip
    return AdvisedDay(one.day, one.state, one.note, asked.typed.get(one.day, ""), brings, plan)


# ---- days that have an answer of their own -------------------------------------------------------


def own_plans(desk: Desk, found: ComingAnswer) -> dict[date, DayPlan]:
    """Plans of those of the days whose page has its answer, as it stands there."""
    return own_answers(desk, [one.date for one in found.days if one.plan is not None])


def own_answers(desk: Desk, days: Sequence[date]) -> dict[date, DayPlan]:
    """What the pages of some days say, by day: When to reduce, else the plan. A day without an
    answer of its own is left out."""
    answered = store.days_with_result(desk.session, desk.site.id, SCHEMA, PLAN.schema)
    switched, compared = (sorted(found.intersection(days)) for found in answered)
    plans = {
        view.day: view.result.comparison
        for view in desk.open_all(PLAN, compared)
        if view.result is not None
    }
    own = {day: plan for day, one in plans.items() if (plan := _as_compared(one)) is not None}
    for view in desk.open_all(SWITCH, switched):
        told = view.result
        if told is not None and not told.coarse:
            planned = plans.get(view.day)
            own[view.day] = _own_plan(told if planned is None else as_planned(told, planned))
    return own


def _as_compared(found: Comparison) -> DayPlan | None:
    """What a plan advises; None where that is more than a rule, or it does not tell what always
    full would do or how sure it is."""
    best, rival = found.columns[found.best], found.rival(found.best)
    damp, full = best.value("left_damp_share"), found.with_rule(FULL.text)
    if found.with_rule(best.scenario.rule) is not best or damp is None or full is None:
        return None
    wet = full.value("left_damp_share")
    if rival is None or wet is None:
        return None
    rule, standing = parse_rule(best.scenario.rule), rival[1]
    keeps = damp <= found.limits.allowed_damp_share
    return DayPlan(rule, keeps, 1.0 - standing.bettered, damp, wet, standing, own_rule=rule)


def _own_plan(told: WhenToReduce) -> DayPlan:
    hands, columns = told.hands, told.comparison.columns
    rule, more, cost = told.told, MoreHands(), 0.0
    damp = columns[told.columns.told].value("left_damp_share") or 0.0
    if hands is not None and hands.beats:
        rule, more, cost = hands.chosen.rule, hands.chosen.hands, hands.chosen.more
        shares = hands.chosen.left_damp_share, hands.own.left_damp_share
        damp = told.comparison.level(hands.own.rule.text, "left_damp_share", *shares)
    return DayPlan(
        rule, told.limit != "misses", told.certainty, damp,
        columns[told.columns.full].value("left_damp_share") or 0.0,
        None if told.rival is None else told.rival[1], more, told.told, cost,
    )  # fmt: skip


def with_own(found: ComingAnswer, own: Mapping[date, DayPlan]) -> ComingAnswer:
    """The coming days, each that has an answer of its own as that says."""
    days = (replace(one, plan=own.get(one.date, one.plan)) for one in found.days)
    return replace(found, days=tuple(days))


def ask_coming(desk: Desk, first: date) -> ComingAsked:
    """What the days from a day on ask, with what was typed over them in their stored plans."""
    return coming_asked(desk, first, belief_in(weighings_of(desk)))


def coming_asked(desk: Desk, first: date, belief: Belief | None) -> ComingAsked:
    """The same by a belief that is at hand."""
    last = first + timedelta(days=DAYS - 1)
    typed = {
        day: plan.expect
        for day, plan in desk.plans.items()
        if first <= day <= last and plan.expect.strip()
    }
    crewed = {day for day, plan in desk.plans.items() if "finishers" in plan.scenarios[0].changes}
    return ComingAsked(
        desk.data, first, typed, belief, desk.look, desk.rests_on("history"),
        frozenset(crewed),
    )  # fmt: skip


def _key(asked: ComingAsked) -> str:
    """Empty where nothing can be planned of any day."""
    if all(one.state != "open" for one in days_ahead(asked, DAYS)):
        return ""
    belief = asked.belief
    typed = [[day.isoformat(), words] for day, words in sorted(asked.typed.items())]
    return answer_key(
        COMING_SCHEMA, asked.rests_on, asked.first.isoformat(), typed,
        None if belief is None else asdict(belief),
    )  # fmt: skip


def _work(asked: ComingAsked, executor: Executor | None, report: Report) -> ComingAnswer:
    return answer_coming(asked, executor, report, report.early, report.stage)


COMING: Kind[ComingAsked, ComingAnswer] = Kind(
    name="coming",
    label="The coming days",
    stages=(
        Stage("first", "a first look at all 14 days", 0.2),
        Stage("days", "planning each of the 14 days", 0.8),
        Stage("year", "counting the days of a year that need switching", 1.0),
    ),
    page="coming",
    found=ComingAnswer,
    ask=ask_coming,
    key=_key,
    days=lambda _asked: RUNS,
    work=_work,
    failed="The coming days could not be worked out: {fault}",
    schema=COMING_SCHEMA,
)

"""Staff: who is needed on a day, computed in the background and read when it is there."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, replace
from datetime import date, timedelta

from app.answers.answer import Answer, Desk, Kind
from app.answers.libraries import answer_key, libraries
from app.answers.planning import DayAsked
from app.answers.studies.runner import Report
from app.answers.switching import ask_switch
from app.catalogue import _
from app.files.sheets import Sheet
from sim.decide.staff.answer import STAFF_SCHEMA, StaffAnswer
from sim.decide.staff.day import EXPECTED_DAYS, staff_answer
from sim.decide.staff.needs import DAYS
from sim.decide.switching.question import SwitchQuestion

StaffView = Answer[DayAsked[SwitchQuestion], StaffAnswer]
"""Who is needed on a day, as far as it is known."""


def answer_staff(
    asked: SwitchQuestion,
    day: date,
    origin: str,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    days: int = DAYS,
) -> StaffAnswer:
    """The answer.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    return staff_answer(asked, day, origin, libraries(), executor, progress, days)


def _ask(desk: Desk, day: date) -> DayAsked[SwitchQuestion]:
    """The question of the day's rules with guesses at their middle values."""
    one = ask_switch(desk, day)
    return one if one.question is None else replace(one, question=replace(one.question, known=None))


def _key(one: DayAsked[SwitchQuestion]) -> str:
    return "" if one.question is None else answer_key(STAFF_SCHEMA, asdict(one.question))


def _work(one: DayAsked[SwitchQuestion], executor: Executor | None, report: Report) -> StaffAnswer:
    return answer_staff(one.posed, one.plan.day, one.origin, executor, report)


STAFF: Kind[DayAsked[SwitchQuestion], StaffAnswer] = Kind(
    name="staff",
    label="Staff",
    steps="simulated days",
    page="staff/{day}",
    found=StaffAnswer,
    ask=_ask,
    key=_key,
    size=lambda _one: (EXPECTED_DAYS, EXPECTED_DAYS),
    work=_work,
    failed="Who is needed could not be worked out: {fault}",
)


def staff_sheets(told: StaffAnswer) -> tuple[Sheet, ...]:
    """Every table of the answer: people by half-hour, and one person more or fewer by hour."""
    return people_sheet(told), _effects(told)


def people_sheet(told: StaffAnswer) -> Sheet:
    """A row a half-hour: people needed, planned, by role, and what came and waited."""
    heads = (
        _("From"), _("Needed"), _("Planned"), *told.called.values(), _("Cars that come"),
        _("Late share"), _("Cars lost"), _("Time with a full stack"), _("Use of people"),
    )  # fmt: skip
    rows = tuple(
        (
            timedelta(hours=row.start_h),
            row.people,
            row.planned,
            *(row.roles[role] for role in told.called),
            row.arrived,
            row.late_share,
            row.lost,
            row.full_share,
            row.use,
        )
        for row in told.half_hours
    )
    return Sheet(_("People by half-hour"), heads, rows)


def _effects(told: StaffAnswer) -> Sheet:
    heads = (
        _("Hour"), _("People"), _("Wait of 9 cars in 10, s"), _("± half its 95 % interval"),
        _("Cars lost"), _("±"), _("Margin"), _("±"),
    )  # fmt: skip
    rows = tuple(
        (
            timedelta(hours=one.hour),
            one.change,
            one.wait_p90_s.mean,
            one.wait_p90_s.half,
            one.cars_lost.mean,
            one.cars_lost.half,
            one.margin.mean,
            one.margin.half,
        )
        for one in told.effects
    )
    return Sheet(_("One more or fewer"), heads, rows)

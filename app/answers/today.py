"""Today: what its stored answers and the site's books say, gathered in one reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from app.answers.answer import Desk, with_earlier
from app.answers.checks import Readiness, readiness
from app.answers.cloth import CLOTH
from app.answers.coming_days import ComingDay, busiest, coming_days
from app.answers.coming_plans import COMING, own_answers
from app.answers.drift import known_changes, open_change
from app.answers.kinds import KINDS
from app.answers.planning import PLAN, PlanView
from app.answers.staff import STAFF, monday_of
from app.answers.switching import SWITCH, SwitchView, as_planned
from app.answers.weighings import WORTH
from sim.decide.answer import Column, Comparison
from sim.decide.cloth.answer import ClothAnswer
from sim.decide.staff.answer import StaffAnswer
from sim.decide.staff.week import missing_people, planned_people
from sim.decide.switching.answer import AdvisedDay, ComingAnswer, DayPlan, Rule, WhenToReduce
from sim.inputs import LogEntry, PlannedShift, Scenario, Site, Weighing
from sim.learn.answer import WorthOfMeasuring
from sim.learn.drift import Change

STRIP_DAYS = 7
"""Days after today that stand in the strip."""


@dataclass(frozen=True, slots=True)
class Cover:
    """Who comes on a day, against who is needed.

    Attributes:
        shifts: of the roster, whoever begins first named first; empty where the day has none.
        least, most: people needed at a time, while any are.
        is_worked_out: whether by the page Staff, else as the site plans them.
        short: half-hours after midnight in which fewer come than are needed; missing: by how many
            at most. Empty and 0 without a roster.
    """

    shifts: tuple[PlannedShift, ...]
    least: int
    most: int
    is_worked_out: bool
    short: tuple[int, ...]
    missing: int


@dataclass(frozen=True, slots=True)
class StripDay:
    """A day of the strip.

    Attributes:
        ahead: as it is expected.
        rule: what the crew would do; None where no answer says. is_own: by the day's own answer,
            else by the coarser search of the coming days.
        more: people more at the exit that go with it.
        changes, launders: whether the set on the wheel is due to be changed, or to be laundered.
    """

    ahead: ComingDay
    rule: Rule | None = None
    is_own: bool = False
    more: int = 0
    changes: bool = False
    launders: bool = False


@dataclass(frozen=True, slots=True)
class TodayFound:
    """What is known of today.

    Attributes:
        plan: its plan, with the answer of before where there is none of now.
        switch: when to reduce, as it is known. rule: the same, whole; None until it was worked out.
        cover: None where nobody is needed.
        log: of today.
        checks: of the site, as they stand today, and the devices that are down.
        cloth, worth: None until they were worked out; weighings: those of the site.
        strip: the next days; ahead: days with cars among the next `COMING_DAYS`.
        change: of the site, of which plans don't know yet; None for none.
    """

    plan: PlanView
    switch: SwitchView
    rule: WhenToReduce | None
    cover: Cover | None
    log: tuple[LogEntry, ...]
    checks: Readiness
    cloth: ClothAnswer | None
    worth: WorthOfMeasuring | None
    weighings: tuple[Weighing, ...]
    strip: tuple[StripDay, ...]
    ahead: tuple[ComingDay, ...]
    change: Change | None = None

    @property
    def monday(self) -> date:
        """The first day of the week."""
        return monday_of(self.plan.day)

    @property
    def comparison(self) -> Comparison | None:
        """The comparison that has the advised column; None without an answer."""
        if self.rule is not None:
            return self.rule.comparison
        return None if self.plan.result is None else self.plan.result.comparison

    @property
    def advised(self) -> int:
        """The place of the advised column; 0 without an answer."""
        if self.rule is not None:
            return self.rule.columns.told
        return 0 if self.comparison is None else self.comparison.best

    @property
    def column(self) -> Column | None:
        """The day as it is advised; None without an answer."""
        found = self.comparison
        return None if found is None else found.columns[self.advised]

    @property
    def base(self) -> Scenario:
        """What the day is run by: as advised, else what leads its plan."""
        return self.plan.asked.scenarios[0] if self.column is None else self.column.scenario


def find_today(desk: Desk, today: date) -> TodayFound:
    """All of it, from what is stored; nothing is begun."""
    tomorrow = today + timedelta(days=1)
    ahead = coming_days(desk.data, tomorrow, look=desk.look)
    busy = busiest(ahead)
    strip = [day.day for day in ahead[:STRIP_DAYS]]
    desk.read_together([(KINDS[kind.name], today) for kind in (PLAN, SWITCH)])
    later = [(kind.name, day) for kind in (SWITCH, PLAN) for day in strip]
    rest = [(STAFF.name, today), (CLOTH.name, today), (COMING.name, tomorrow), (WORTH.name, busy)]
    desk.read_together([(KINDS[name], day) for name, day in later + rest], waits=False)
    plan, switch = desk.open(PLAN, today), desk.open(SWITCH, today)
    plan = with_earlier(desk.session, plan)
    cloth, coming = desk.open(CLOTH, today).result, desk.open(COMING, tomorrow).result
    own = own_answers(desk, strip)
    found = None if cloth is None else cloth.answer
    return TodayFound(
        plan=plan,
        switch=switch,
        rule=_rule(plan, switch),
        cover=_cover(desk, plan, desk.open(STAFF, today).result),
        log=desk.log(today),
        checks=readiness(desk, today),
        cloth=found,
        worth=desk.open(WORTH, busy).result,
        weighings=desk.site.data.weighings,
        strip=tuple(_strip_day(one, own.get(one.day), coming, found) for one in ahead[:STRIP_DAYS]),
        ahead=tuple(one for one in ahead if one.state == "open"),
        change=open_change(known_changes(desk.session, desk.site.id), desk.site.data.weighings),
    )


def _rule(plan: PlanView, switch: SwitchView) -> WhenToReduce | None:
    """The day's rule with the figures of its plan; None while there is none but a first form."""
    told = switch.result
    if told is None or told.coarse:
        return None
    if plan.result is None or plan.earlier is not None:
        return told
    return as_planned(told, plan.result.comparison)


def _strip_day(
    one: ComingDay,
    own: DayPlan | None,
    coming: ComingAnswer | None,
    cloth: ClothAnswer | None,
) -> StripDay:
    changes = cloth is not None and cloth.due is not None and cloth.due.best == one.day
    laundry = None if cloth is None else cloth.laundry_due
    due = replace(
        StripDay(one),
        changes=changes,
        launders=laundry is not None and laundry.day == one.day,
    )
    if own is not None:
        return replace(due, rule=own.rule, is_own=True, more=own.hands.people)
    days: Sequence[AdvisedDay] = () if coming is None else coming.days
    plan = next((each.plan for each in days if each.date == one.day), None)
    if plan is None:
        return due
    return replace(due, rule=plan.rule, more=plan.hands.people)


def _cover(desk: Desk, plan: PlanView, told: StaffAnswer | None) -> Cover | None:
    expected = plan.asked.expected
    if expected is None or expected.closed:
        return None
    shifts = desk.site.data.staff.on_day(plan.day)
    return cover_of(shifts, needed_people(desk.site.data.site, told), told is not None)


def needed_people(site: Site, told: StaffAnswer | None) -> tuple[int, ...]:
    """People needed by half-hour, as worked out, else as the site plans them while it is open."""
    if told is not None:
        return told.people
    line = site.line
    (planned, *_later) = planned_people(site.crew.people, line.open_h, line.close_h, ())
    return tuple(int(people) for people in planned)


def cover_of(
    shifts: Sequence[PlannedShift], needed: Sequence[int], is_worked_out: bool
) -> Cover | None:
    """Shifts of one day against the people needed by half-hour; None where nobody is needed."""
    if not any(needed):
        return None
    lacks = missing_people(shifts, needed) if shifts else ()
    return Cover(
        tuple(sorted(shifts, key=lambda one: (one.start_s, one.name))),
        min(people for people in needed if people),
        max(needed),
        is_worked_out,
        tuple(at for at, people in enumerate(lacks) if people),
        max(lacks, default=0),
    )

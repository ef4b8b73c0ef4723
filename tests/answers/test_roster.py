"""A site's week: what is asked, what is told, and what is stored of it."""

from __future__ import annotations

import multiprocessing
import signal
from dataclasses import asdict, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, cast

import pytest

from app.answers.answer import Desk
from app.answers.serial import read, write
from app.answers.staff import (
    MOST_S,
    ROSTER,
    answer_apart,
    hand_shift,
    last_change,
    monday_of,
    roster_key,
    standing,
    undone,
    week_of,
    without_skill,
)
from app.answers.studies.runner import Report, Runner, Stopped
from app.db import store, studies
from app.db.session import open_database
from app.sites.changes import Gate
from app.sites.reading import Change
from sim.decide.staff.answer import RosterAnswer, StaffAnswer
from sim.decide.staff.roster import roster_answer
from sim.decide.staff.week import duties_of, people_by_skill, planned_shifts
from sim.errors import InputError
from sim.inputs import (
    Away,
    DayNote,
    History,
    HoursLimits,
    Person,
    PlannedShift,
    Site,
    SiteData,
    StaffBook,
)
from sim.inputs.people import ROLES, Role
from tests.answers.staff_answers import staff_answer
from tests.decide.roster_checker import soon
from tests.world import answer_under

MONDAY = date(2026, 11, 30)
PEOPLE = tuple(Person(f"Person {at}", (), 20.0) for at in range(1, 7))
SITE = Site("Wash").with_values(
    {"open_h": 8.0, "close_h": 16.0, "people": ((0.0, 1.0), (36000.0, 2.0), (50400.0, 1.0))}
)
DATA = SiteData(SITE, staff=StaffBook(PEOPLE))
CALLED: dict[Role, str] = {
    "greeter": "host", "loader": "belt", "finisher": "towels", "dryer": "cloth",
    "floater": "spare",
}  # fmt: skip


def test_the_question_is_people_planned_while_open() -> None:
    """One person, two from 10 to 14, nobody outside opening hours or on a closed day; the day of
    a fair is as planned."""
    closed = DayNote(MONDAY + timedelta(days=2), "closed", "holiday")
    fair = DayNote(MONDAY + timedelta(days=3), "event", "fair")
    week = week_of(replace(DATA, history=History(days=(closed, fair))), MONDAY)
    rows = week.needed
    assert rows[0].tolist() == [0] * 16 + [1] * 4 + [2] * 8 + [1] * 4 + [0] * 16
    assert rows[2].sum() == 0
    assert rows[3].tolist() == rows[0].tolist()
    assert monday_of(date(2026, 12, 6)) == MONDAY


def test_cover_of_a_day_by_hand() -> None:
    """Loaders as many as load, dryers as many as dry, of greeters and finishers one with the skill,
    everybody together; a role that nobody can do, and floaters, are anybody; two roles of one name
    are added up."""
    counts: dict[Role, list[int]] = {
        "greeter": [0, 1, 2],
        "loader": [1, 2, 1],
        "finisher": [0, 2, 2],
        "dryer": [0, 0, 3],
        "floater": [1, 0, 1],
    }
    rows = {role: row + [0] * 45 for role, row in counts.items()}
    people, skilled = people_by_skill(rows, CALLED, {"belt", "towels", "cloth", "spare"})
    assert people[:3].tolist() == [2, 5, 9]
    assert {name: row[:3].tolist() for name, row in skilled.items()} == {
        "belt": [1, 2, 1], "towels": [0, 1, 1], "cloth": [0, 0, 3],
    }  # fmt: skip
    alike: dict[Role, str] = {**CALLED, "greeter": "towels"}
    _, both = people_by_skill(rows, alike, {"towels"})
    assert {name: row[:3].tolist() for name, row in both.items()} == {"towels": [0, 2, 2]}


def needs_of(**counts: int) -> StaffAnswer:
    """What the page Staff says of a day with so many people by role from 8 to 9, and none else."""
    rows = {
        role: tuple(counts.get(role, 0) * (at in (16, 17)) for at in range(48)) for role in ROLES
    }
    return staff_answer(roles=rows, called=CALLED)


def test_roles_that_nobody_can_do_are_named() -> None:
    """Needed and nobody's skill: named as the site calls them; not floaters, who may be anybody,
    not what no day needs, nor what somebody can do. Its people are then asked for as anybody."""
    people = (Person("Person 1", ("towels",)), *PEOPLE)
    data = replace(DATA, staff=StaffBook(people))
    needs = {MONDAY: needs_of(loader=1, finisher=2, floater=1)}
    assert without_skill(people, needs) == ("belt",)
    assert without_skill(PEOPLE, needs) == ("belt", "towels")
    assert without_skill(people, {}) == ()
    week = week_of(data, MONDAY, needs)
    assert week.needed[0].tolist() == [0] * 16 + [4, 4] + [0] * 30
    assert week.needed[1].tolist() == week_of(data, MONDAY).needed[1].tolist()
    assert {name: rows[0, 15:19].tolist() for name, rows in week.skilled.items()} == {
        "towels": [0, 1, 1, 0]
    }


def test_needs_of_another_week_are_no_concern_of_this_one() -> None:
    """The Sunday before and the Monday after leave the week as it is planned."""
    needs = {MONDAY + timedelta(days=at): needs_of(loader=3) for at in (-1, 7)}
    assert (week_of(DATA, MONDAY, needs).needed == week_of(DATA, MONDAY).needed).all()


def test_a_site_without_people_says_so() -> None:
    """The message says what is missing and where it is entered."""
    with pytest.raises(InputError, match="The site has no people yet"):
        week_of(SiteData(SITE), MONDAY)


def test_a_published_roster_is_last_week_of_the_next() -> None:
    """What is stored comes back as it was, breaks included, and only of its week."""
    found = roster_answer(week_of(DATA, MONDAY), soon).roster
    assert found is not None
    following = MONDAY + timedelta(days=7)
    book = DATA.staff.with_week(MONDAY, found.shifts)
    assert book.in_week(MONDAY) == tuple(sorted(found.shifts))
    assert book.in_week(following) == ()
    asked = week_of(replace(DATA, staff=book), following)
    assert planned_shifts(MONDAY, asked.last) == found.shifts
    assert book.with_week(MONDAY, ()) == DATA.staff
    assert book.with_week(following, ()) == book
    long = replace(by_hand(8.0, 16.0, day=2), role="belt")
    assert long.start_s < long.break_start_s < long.break_end_s < long.end_s
    stored = book.with_week(MONDAY, (long,))
    assert stored.in_week(MONDAY) == (long,)
    (last,) = week_of(replace(DATA, staff=stored), following).last
    assert planned_shifts(MONDAY, (last,)) == (long,)


def test_costs_by_day_add_up() -> None:
    """Without overtime each day is its hours at the wage of 20, the days add up to the week, and
    the week as it stands says the same."""
    week = week_of(DATA, MONDAY)
    found = roster_answer(week, soon).roster
    assert found is not None
    days = [MONDAY + timedelta(days=at) for at in range(7)]
    paid = [[one.paid_h(week.limits) for one in found.shifts if one.day == day] for day in days]
    assert list(found.cost_by_day) == [20.0 * sum(hours) for hours in paid]
    assert sum(found.cost_by_day) == pytest.approx(found.cost)
    stands = standing(week, found.shifts)
    assert stands.cost == pytest.approx(found.cost)
    assert stands.cost_by_day == found.cost_by_day
    pairs = zip(found.shifts, duties_of(found.shifts), strict=True)
    assert all(one.paid_h(week.limits) == duty.shift.paid_h(week.limits) for one, duty in pairs)


def test_no_roster_is_told_with_ways_out() -> None:
    """Everybody away on Saturday: the answer names both rules and the day."""
    people = tuple(replace(person, away=(Away(5),)) for person in PEOPLE)
    week = week_of(replace(DATA, staff=StaffBook(people)), MONDAY)
    conflict = roster_answer(week, soon).conflict
    assert conflict is not None
    assert set(conflict.rules) == {"away", "cover"}
    assert conflict.days == (5,)
    assert conflict.ways[0].breaches


def by_hand(start_h: float, end_h: float, name: str = "Person 1", day: int = 0) -> PlannedShift:
    """A shift as the form stores it."""
    when = MONDAY + timedelta(days=day)
    return hand_shift(SITE.shifts, when, name, 3600.0 * start_h, 3600.0 * end_h)


def test_a_shift_by_hand_gets_its_break_in_the_middle() -> None:
    """Eight hours from 8 have their break at noon or just before; four have none; and a roster
    that lost a shift says which hours are open."""
    week = week_of(DATA, MONDAY)
    whole = by_hand(8.0, 16.0)
    assert (whole.break_start_s, whole.break_end_s) == (11.5 * 3600.0, 12 * 3600.0)
    assert not by_hand(8.0, 12.0).has_break
    found = roster_answer(week, soon).roster
    assert found is not None
    assert standing(week, found.shifts).breaches == ()
    left = replace(found.shifts[0], name="Somebody who has left")
    without = [*(one for one in found.shifts if one.day.weekday() != 3), left]
    told = standing(week, without).breaches
    assert [(one.rule, one.weekday, one.amount) for one in told] == [("cover", 3, 12.0)]


def test_a_solver_is_ended_with_its_study() -> None:
    """Whoever waits gives up at the second look: the process is gone then, and no answer comes."""
    looks: list[tuple[int, int]] = []

    def report(done: int, total: int) -> None:
        looks.append((done, total))
        if len(looks) == 2:
            raise Stopped

    with pytest.raises(Stopped):
        answer_apart(week_of(DATA, MONDAY), report)
    assert looks == [(1, 120), (2, 120)]
    assert multiprocessing.active_children() == []


def test_the_answer_of_a_solver_apart_is_that_of_its_week() -> None:
    """And reads back as it was written."""
    week = week_of(DATA, MONDAY)
    found = answer_apart(week, lambda done, total: None)
    assert found == roster_answer(week, lambda: MOST_S)
    assert read(RosterAnswer, write(found)) == found


def test_a_first_roster_breaks_no_rule_and_the_last_one_is_no_worse() -> None:
    """After a week with a roster the first one comes early, told as such; the last one costs no
    more and leaves no fewer of last week's shifts as they were."""
    before = roster_answer(week_of(DATA, MONDAY), lambda: MOST_S).roster
    assert before is not None
    week = replace(week_of(DATA, MONDAY), last=duties_of(before.shifts))
    early: list[RosterAnswer] = []
    whole = answer_apart(week, lambda done, total: None, early.append)
    (first,) = early
    assert (first.coarse, whole.coarse) == (True, False)
    assert first.roster is not None
    assert whole.roster is not None
    assert standing(week, first.roster.shifts).breaches == ()
    assert whole.roster.cost <= first.roster.cost
    assert whole.roster.kept >= first.roster.kept
    assert whole.roster.bound == first.roster.bound


def test_the_key_is_of_everything_a_roster_depends_on() -> None:
    """Another wage, absence, limit, need, skill or last week asks anew; the price of a wash not."""
    week = week_of(DATA, MONDAY)
    late = duties_of((by_hand(8.0, 12.0, day=6),))[0]
    more = week.needed.copy()
    more[0, 20] += 1
    others = [
        replace(week, people=(replace(week.people[0], wage_per_h=21.0), *week.people[1:])),
        replace(week, people=(replace(week.people[0], away=(Away(3),)), *week.people[1:])),
        replace(week, people=(replace(week.people[0], away=(Away(4),)), *week.people[1:])),
        replace(week, limits=replace(week.limits, rest_h=12.0)),
        replace(week, needed=more),
        replace(week, skilled={"loader": week.needed}),
        replace(week, last=(late,)),
    ]
    keys = {roster_key(one) for one in (week, *others)}
    assert len(keys) == 1 + len(others)
    dearer = replace(DATA, site=DATA.site.with_values({"price_per_car": 31.0}))
    assert roster_key(week_of(dearer, MONDAY)) == roster_key(week)


def shift(start_h: float, day: date = MONDAY) -> PlannedShift:
    """A shift of Person 1 until 16:00, without a break."""
    return PlannedShift(day, "Person 1", "", 3600.0 * start_h, 57_600.0, 57_600.0, 57_600.0)


def change(version: int, old: PlannedShift | None, new: PlannedShift | None) -> Change:
    """An entry of the history, as the database tells it."""
    had, has = (one and {**asdict(one), "day": one.day.isoformat()} for one in (old, new))
    at = datetime(2026, 11, 25, 9, tzinfo=UTC)
    return Change(version, at, "site manager", "staff", "a shift", had, has, version)


def test_undoing_goes_back_to_before_the_last_version() -> None:
    """Of three entries of two versions the newest version's alone are undone: a changed shift is
    as it was, a new one gone, one taken away there again."""
    tuesday, wednesday = MONDAY + timedelta(days=1), MONDAY + timedelta(days=2)
    changes = (
        change(7, shift(8.0), shift(9.0)),
        change(7, None, shift(10.0, tuesday)),
        change(7, shift(11.0, wednesday), None),
        change(6, None, shift(8.0)),
    )
    assert last_change(changes) == changes[:3]
    assert last_change(()) == ()
    book = StaffBook(PEOPLE, (shift(9.0), shift(10.0, tuesday)))
    back = undone(book, last_change(changes))
    assert back == StaffBook(PEOPLE, (shift(8.0), shift(11.0, wednesday)))


def test_a_roster_cancelled_leaves_no_solver_and_no_answer(tmp_path: Path) -> None:
    """Cancelled while its solver runs: the process is gone when the study ends, which says that it
    was cancelled and stores nothing; asked again the roster is made and stored."""
    database = open_database(tmp_path / "data.sqlite3")
    now = datetime(2026, 11, 25, 9, tzinfo=UTC)
    with database.session() as session:
        made = Gate(session, store.built_in_person(session), now).create_site(DATA, "one")
        site = store.get_site(session, made.site_id)
    runner = Runner(database, 1, lambda: now)
    with database.session() as session:
        job = Desk(session, site, runner).open(ROSTER, MONDAY).job
    assert job is not None
    key, solvers = job.key, list[Any]()

    def cancelled(executor: Any, report: Report) -> object:
        class Told:
            early = report.early

            def __call__(self, done: int, total: int) -> None:
                solvers.extend(multiprocessing.active_children())
                runner.cancel(key)
                report(done, total)

        return job.work(executor, cast("Report", Told()))

    first = runner.begin(replace(job, work=cancelled))
    assert first is not None
    first.result()
    (solver,) = solvers
    assert multiprocessing.active_children() == []
    assert solver.exitcode == -signal.SIGKILL
    with database.session() as session:
        assert studies.get_study(session, job.key).state == "cancelled"
        assert answer_under(session, job.key) is None
    again = runner.begin(job)
    assert again is not None
    again.result()
    with database.session() as session:
        view = Desk(session, site, runner).open(ROSTER, MONDAY)
    assert view.result is not None
    assert view.result.roster is not None
    runner.close()
    database.close()


def test_another_week_has_shifts_of_its_own() -> None:
    """A week's shifts are those from its Monday to its Sunday, whatever came before or comes."""
    monday = date(2026, 7, 20)
    shifts = tuple(shift(8.0, monday + timedelta(days=away)) for away in (-1, 0, 6, 7))
    assert StaffBook((), shifts).in_week(monday) == shifts[1:3]


def test_hours_that_are_paid_by_hand() -> None:
    """From 8:00 to 16:00 with half an hour's break: eight hours where breaks are paid, else half
    an hour less."""
    one = replace(shift(8.0), break_start_s=43_200.0, break_end_s=45_000.0)
    assert one.paid_h(HoursLimits(break_paid=True)) == 8.0
    assert one.paid_h(HoursLimits(break_paid=False)) == 7.5

"""Services of settings with their rule, and of the coming days: what sim computes, kept whole."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from app.answers import coming_plans, switching
from app.answers.answer import Answer, Desk, libraries
from app.answers.coming_plans import (
    COMING,
    ComingAsked,
    answer_coming,
    days_ahead,
    to_plan,
)
from app.answers.kinds import KINDS
from app.answers.planning import DEFAULT_SCENARIOS, SEED, make_question
from app.answers.serial import read, write
from app.answers.studies.runner import Runner
from app.answers.switching import SWITCH, TOGETHER, SwitchView, TogetherView, switch_question
from app.db import store
from app.db.session import Database, Session
from app.db.store import get_site
from app.sites.changes import Gate
from sim.day.rules import FULL, REDUCED, Rule, parse_rule
from sim.decide.switching.answer import ComingAnswer, Together
from sim.decide.switching.coming import plan_days
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget
from sim.decide.switching.with_settings import choose_together, present_of
from sim.decide.switching.year import need_switching
from sim.errors import InputError
from sim.inputs import DayNote, Scenario, SiteData
from sim.learn.expected_day import Override, expected_day
from tests.pages.further_content import NEVER, coming
from tests.pages.further_content import together as together_content
from tests.pages.switch_content import switch
from tests.small_wash import CLOSED, PLANNED, TODAY, small_wash
from tests.world import NOW

BAND = parse_rule("band 50-40")
FEW = SamplingBudget(2, 4, 4)
FIRST = TODAY + timedelta(days=1)


@pytest.fixture(scope="module")
def data() -> SiteData:
    """A site that is open for two hours."""
    return small_wash()


# ---- speed, spacing and rule ---------------------------------------------------------------------


def _asked(data: SiteData) -> SwitchQuestion:
    question, _expected = make_question(data, PLANNED, "", (Scenario("Now", "full"),), 1, SEED)
    return replace(switch_question(question), known=None)


def test_the_answer_is_what_is_computed(data: SiteData) -> None:
    """It is the computed one, is read back as it was written, and says how far it is on the way."""
    asked = _asked(data)
    told: list[int] = []
    found = switching.answer_together(
        asked, BAND, PLANNED, None, lambda done, total: told.append(done), FEW
    )
    assert told == sorted(told)
    assert found == choose_together(asked, BAND, PLANNED, libraries(), effort=FEW)
    assert read(Together, write(found)) == found
    present = present_of(asked.site)
    assert (found.present.speeds, found.present.spacing_m) == (present.speeds, present.spacing_m)


def test_an_all_day_reduction_lasts_as_long_as_the_site_is_open(data: SiteData) -> None:
    """Cars that are washed after closing do not lengthen the open hours of reduced wiping."""
    crowded = replace(_asked(data), present="reduced")
    cars = tuple(4.0 * cars for cars in crowded.conditions.arrivals_per_h)
    crowded = replace(crowded, conditions=replace(crowded.conditions, arrivals_per_h=cars))
    found = choose_together(crowded, REDUCED, PLANNED, {}, effort=FEW)
    assert found.present.reduced_h == pytest.approx(2.0)


def _decided(session: Session, gate: Gate, rule: Rule) -> SwitchView:
    site_id = gate.create_site(small_wash(), "wash").site_id
    view = Desk(session, get_site(session, site_id)).open(SWITCH, PLANNED)
    return replace(view, result=switch(rule), is_final=True)


def _together(view: SwitchView) -> TogetherView:
    """What is asked of a day that was decided so."""
    return Answer(TOGETHER, view.site_id, view.day, view, TOGETHER.key(view))


def test_its_key_follows_the_rule_of_the_day(session: Session, gate: Gate) -> None:
    """Without a rule, or with one that is only so far, there is no key; another rule is another
    question; the job bears the key."""
    view = _decided(session, gate, BAND)
    parts = _together(view)
    other = replace(view, result=switch(FULL))
    assert parts.key
    assert _together(other).key != parts.key
    for early in (replace(view, result=None), replace(view, is_final=False)):
        blank = _together(early)
        assert (blank.key, blank.job) == ("", None)
    job = parts.job
    assert job is not None
    assert (job.kind, job.key, job.day) == ("together", parts.key, PLANNED)
    with pytest.raises(ValueError, match="no setting has been found"):
        switching.with_setting(parts)


def test_one_speed_takes_the_timetable_away(session: Session, gate: Gate) -> None:
    """The found setting stands over the first scenario's own changes, a timetable included."""
    view = _decided(session, gate, FULL)
    steps = ((0.0, 0.3), (32400.0, 0.2))
    first = Scenario("Now", "full", "9:00", {"speed_timetable": steps, "stack_limit_cars": 12})
    plan = replace(view.asked.plan, scenarios=(first,))
    view = replace(view, asked=replace(view.asked, plan=plan))
    chosen = replace(NEVER, rule=BAND)
    parts = replace(_together(view), result=together_content(chosen))
    more = switching.with_setting(parts)
    assert more is not None
    assert (more[0], more[1].rule, more[1].cloth) == (first, "band 50-40", "9:00")
    assert dict(more[1].changes) == {
        "stack_limit_cars": 12, "conveyor_speed_m_s": 0.2, "speed_timetable": (),
        "car_spacing_m": 7.2,
    }  # fmt: skip


# ---- the coming days -----------------------------------------------------------------------------


def _small(data: SiteData, typed: dict[date, str] | None = None) -> ComingAsked:
    return ComingAsked(data, FIRST, typed or {}, None, expected_day)


@pytest.fixture(scope="module")
def found(data: SiteData) -> tuple[ComingAnswer, ComingAnswer, list[tuple[int, int]]]:
    """The answer of four days and a year of five, the last form before it, and what was told."""
    early: list[ComingAnswer] = []
    told: list[tuple[int, int]] = []
    whole = answer_coming(
        _small(data), None, lambda done, total: told.append((done, total)), early.append,
        count=4, year_days=5,
    )  # fmt: skip
    rough = [[one.date for one in form.days if one.plan and one.plan.rough] for form in early]
    assert [len(days) for days in rough] == [3, 2, 1, 0]
    for form, days in zip(early, rough, strict=True):
        for one, last in zip(form.days, whole.days, strict=True):
            assert one.date in days or one == last
            assert (one.plan is None) == (last.plan is None)
    return whole, early[-1], told


def test_the_days_are_told_as_they_are_expected(
    data: SiteData, found: tuple[ComingAnswer, ComingAnswer, list[tuple[int, int]]]
) -> None:
    """Each day has its expected cars and weather and the plan that is computed for it, and a closed
    one has neither plan nor part in the year."""
    whole, first, told = found
    days = {one.date: one for one in whole.days}
    assert list(days) == [FIRST + timedelta(days=n) for n in range(4)]
    closed = days[CLOSED]
    assert (closed.state, closed.plan, closed.note) == ("closed", None, "stocktaking")
    expected, brings = expected_day(data, FIRST, Override()), days[FIRST].brings
    assert brings is not None
    assert brings.cars == expected.expected_cars
    asked = _small(data)
    ahead = list(to_plan(days_ahead(asked, 5), asked).values())
    question = switch_question(make_question(data, FIRST, "", DEFAULT_SCENARIOS)[0])
    assert [one.plan for one in whole.days if one.plan] == list(plan_days(question, ahead[:3]))
    needs, year = need_switching(question, ahead), whole.year
    assert year is not None
    assert (year.expected, year.days, year.closed) == (sum(map(bool, needs)), len(needs), 1)
    assert sum(one.expected for one in year.months) == year.expected
    assert first == replace(whole, year=None)
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]
    assert read(ComingAnswer, write(whole)) == whole


def test_what_was_typed_over_a_day_is_its_weather(data: SiteData) -> None:
    """A typed temperature holds for its day alone."""
    typed = {PLANNED: "95 F"}
    tops = {
        one.day: one.expected.highest_temp_c
        for one in days_ahead(_small(data, typed), 3)
        if one.expected is not None
    }
    assert tops[PLANNED] == pytest.approx(35.0)
    assert tops[FIRST] == pytest.approx(25.0)


def test_days_of_which_nothing_is_known_are_refused(data: SiteData) -> None:
    """Where no day can be planned the answer is a sentence that says what to do."""
    history = replace(data.history, counts=(), days=())
    blank = _small(replace(data, history=history))
    assert {one.state for one in days_ahead(blank, 3)} == {"unknown"}
    with pytest.raises(InputError, match="Nothing can be planned of the 14 days from"):
        answer_coming(blank)


def test_the_study_of_the_days_is_made_anew_from_its_day(
    session: Session, gate: Gate, database: Database
) -> None:
    """Site and first day make the very job again, with the same key; a new mark of a day is
    another question, and an answer that is whole asks for nothing."""
    site_id = gate.create_site(small_wash(), "wash").site_id
    stored, runner = get_site(session, site_id), Runner(database, 1, lambda: NOW)
    view = Desk(session, stored, runner).open(COMING, FIRST)
    job = Desk(session, stored, runner).open(KINDS["coming"], FIRST).job
    assert job is not None
    assert (job.key, job.day, job.days) == (view.key, FIRST, coming_plans.RUNS)
    other = Desk(session, stored, runner).open(COMING, FIRST + timedelta(days=1))
    assert other.key != view.key
    whole = replace(view, result=coming(), is_final=True)
    assert whole.job is None
    assert replace(whole, result=coming(year=None), is_final=False).job is not None
    marked = small_wash()
    notes = (*marked.history.days, DayNote(FIRST, "closed", ""))
    marked = replace(marked, history=replace(marked.history, days=notes))
    gate.replace_site(site_id, marked, stored.version, "again")
    again = Desk(session, store.get_site(session, site_id), runner).open(COMING, FIRST)
    assert again.key != view.key

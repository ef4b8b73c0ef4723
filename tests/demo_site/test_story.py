"""What the demo is to show on the days that it names, and its unweighed twin beside it.

The demo is invented, so this is a check of the demo, not of the model. What it measured is worked
in as its pages do it; a plan is the first answer that `make demo` gives.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

from app.answers import cloth
from app.answers.beliefs import weighed
from app.answers.demo import fair_scenarios
from app.answers.planning import DEFAULT_SCENARIOS, first_stage, make_question
from app.answers.staff import monday_of, standing, week_of
from app.answers.switching import switch_question
from app.sites.demo import FAIR_BRINGS, demo_data, demo_days, standing_day, twin_data
from app.words.cloth import answer, launder_due
from sim.day.drawn import Belief
from sim.day.rules import FULL, REDUCED, Rule
from sim.decide.answer import Column, Comparison
from sim.decide.compare import Question, compare
from sim.decide.switching.candidates import BAND, allowed_windows, candidates, kind_of
from sim.decide.switching.coming import DayPlan, plan_days
from sim.decide.switching.first import first_choice
from sim.decide.switching.hands import choose_hands
from sim.decide.switching.search import SamplingBudget, search
from sim.inputs import LAUNDERED, TAKEN_OFF, SiteData
from sim.learn.expected_day import expected_day
from tests.demo_app import belief_once

TODAY = standing_day(demo_data())


@cache
def belief() -> Belief | None:
    """What the demo's measurements leave of its guesses."""
    return belief_once(weighed(demo_data())).belief


@cache
def asked(of: str, day: str = "humid_peak") -> Question:
    """What the plan of one of the days asks, at the demo or at its twin."""
    data: SiteData = demo_data() if of == "demo" else twin_data()
    fair = day == "hands"
    question, _expected = make_question(
        data,
        demo_days()[day],
        FAIR_BRINGS if fair else "",
        fair_scenarios(data.site) if fair else DEFAULT_SCENARIOS,
        belief=belief() if data.weighings else None,
    )
    return question


@cache
def busy_day(of: str) -> Comparison:
    """The comparison of the busy Saturday."""
    return compare(first_stage(asked(of)))


def advised(found: Comparison) -> Column:
    """The column that is advised."""
    return found.columns[found.best]


def test_the_busy_day_has_a_firm_answer_with_a_switch_in_it() -> None:
    """A window of reduced wiping is advised, neither always full nor always reduced; fewer cars
    leave damp and the day earns more, both more than luck makes; and it is firm."""
    found = busy_day("demo")
    best = advised(found)
    assert best.scenario.rule.startswith("clock ")
    for figure, least in (("left_damp_share", -0.05), ("margin", 100.0)):
        apart = best.apart(figure)
        assert apart.matters, figure
        assert apart.value is not None
        assert apart.value / least >= 1.0, figure
    rival = found.rival(found.best)
    assert rival is not None
    assert rival[1].is_firm


def test_its_unweighed_twin_is_open() -> None:
    """The same day at the same place is not firm where nothing was measured."""
    found = busy_day("twin")
    rival = found.rival(found.best)
    assert found.weighed == ()
    assert rival is not None
    assert not rival[1].is_firm


WINDOWS_A_DAY = 13
SURE = 0.95


def test_a_choice_is_as_sure_as_what_a_crew_can_do_leaves_it() -> None:
    """Windows of whole hours and the bands of saturation on the busy day: some band, which nobody
    could carry out, may be better than the window chosen, so among all rules that is too
    close to tell; among those that a crew can carry out it is not."""
    question = switch_question(asked("demo"))
    windows = [Rule(((one,),)) for one in allowed_windows(question.site, WINDOWS_A_DAY)]
    bands = [rule for rule in candidates(question.site) if kind_of(rule) == BAND]
    few = SamplingBudget(sure=256, most=256)
    found = search(replace(question, among=(*windows, *bands)), effort=few)
    assert found.chosen.by_crew
    assert not any(rule.by_crew for rule in bands)
    assert found.selection.probability < SURE - 0.1
    assert found.selection.certainty >= SURE


def test_the_busy_day_has_one_rule() -> None:
    """The plan of the day, the first form of When to reduce and the coming days' first look and
    plan name one rule, the plan's, though others are about equally good."""
    question = switch_question(asked("demo"))
    plan = advised(busy_day("demo")).scenario.rule
    looks: list[DayPlan | None] = []
    ahead = plan_days(
        question, [(question.conditions, question.evening)],
        early=lambda plans: looks.extend(plans),
    )  # fmt: skip
    assert plan in question.planned
    assert first_choice(question).chosen.text == plan
    assert [one and one.rule.text for one in (*looks, *ahead)] == [plan] * 2


def test_a_hot_dry_day_stays_on_full() -> None:
    """As many cars in dry air: always full is advised, and the same window and reducing all day
    earn less by more than luck makes."""
    found = compare(first_stage(asked("demo", "hot_dry_peak")))
    assert advised(found).scenario.rule == "full"
    others = [one for one in found.columns if one != advised(found)]
    assert len(others) == 2
    for one in others:
        less = one.apart("margin").run_error
        assert less is not None
        assert less.high < -50.0, one.scenario.rule


def test_at_the_fair_hands_beat_reducing() -> None:
    """With nobody at the exit one person there, and the rule that goes with them, costs less than
    the best rule of reducing without, on draws not seen before; one finisher is enough."""
    question = switch_question(asked("demo", "hands"))
    windows = [Rule(((one,),)) for one in allowed_windows(question.site, WINDOWS_A_DAY)]
    few = SamplingBudget(first=8, sure=64, most=64)
    question = replace(question, among=(FULL, REDUCED, *windows))
    hands = choose_hands(search(question, effort=few), effort=few)
    assert hands.beats
    assert hands.chosen.hands.people == 1
    assert hands.own.rule != FULL
    assert hands.gains is not None
    assert hands.gains.cost.run_error is not None
    assert hands.gains.cost.run_error.high < -hands.matters
    assert hands.chosen.left_damp_share < hands.own.left_damp_share / 2.0


def test_a_change_of_cloth_is_due_and_the_laundry_in_hand() -> None:
    """The set on the wheel is past its age: a quiet weekday morning of the coming week is named for
    the change; it goes to the laundry before tomorrow, and the other set is back from there."""
    data = demo_data()
    found = cloth.work_out(data, {}, TODAY, expected_day)
    due, laundry = found.due, found.laundry_due
    assert due is not None
    assert due.overdue
    assert due.quiet is not None
    assert TODAY < due.quiet.day <= TODAY + timedelta(days=7)
    assert due.quiet.day.weekday() < 4
    assert answer(found).lead.startswith(f"Change {due.name} in the morning of Monday 20 July")
    assert laundry is not None
    assert laundry.day == TODAY + timedelta(days=1)
    assert "Sunday 19 July" in launder_due(found)
    events: dict[str, list[str]] = {}
    for one in data.cloth.in_order().events:
        events.setdefault(one.name, []).append(one.kind)
    waiting = [one.name for one in found.sets if one.state == "off"]
    assert waiting
    for name in waiting:
        kinds = events[name]
        assert LAUNDERED in kinds[len(kinds) - kinds[::-1].index(TAKEN_OFF) :]


def test_the_week_has_its_roster() -> None:
    """Everybody whom the week plans is there, within every rule; and next week, which has none yet,
    can go on from it."""
    data = demo_data()
    monday = monday_of(TODAY)
    shifts = data.staff.in_week(monday)
    assert {one.day for one in shifts} == {monday + timedelta(days=n) for n in range(7)}
    assert standing(week_of(data, monday), shifts).breaches == ()
    assert len([one for one in shifts if one.day == TODAY]) >= 8
    assert max(one.day for one in data.staff.shifts) < monday + timedelta(days=7)

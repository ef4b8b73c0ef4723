"""What the demo is to show on the day on which it stands, and its unweighed twin beside it.

The demo is invented, so this is a check of the demo, not of the model. What it measured is worked
in as its pages do it; the plan is the first answer that `make demo` gives.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from app.answers.beliefs import weighed, work_in
from app.answers.planning import DEFAULT_SCENARIOS, first_stage, make_question
from app.answers.switching import switch_question
from app.sites.demo import demo_data, standing_day, twin_data
from sim.day.rules import Rule
from sim.decide.answer import Column, Comparison
from sim.decide.compare import Question, compare
from sim.decide.switching.candidates import BAND, allowed_windows, candidates, kind_of
from sim.decide.switching.search import SamplingBudget, search
from sim.inputs import SiteData


@cache
def asked(of: str) -> Question:
    """What the plan of the busy Saturday asks, at the demo or at its twin."""
    data: SiteData = demo_data() if of == "demo" else twin_data()
    belief = work_in(weighed(data)).belief if data.weighings else None
    question, _expected = make_question(
        data, standing_day(demo_data()), "", DEFAULT_SCENARIOS, belief=belief
    )
    return question


@cache
def busy_day(of: str) -> Comparison:
    """The comparison of that day."""
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


WINDOWS_A_DAY, EVERY_BAND = 13, 2
SURE = 0.95


def test_a_choice_is_as_sure_as_what_a_crew_can_do_leaves_it() -> None:
    """Windows of whole hours and every second band of saturation on the busy day: some band, which
    nobody could carry out, may be better than the window chosen, so among all rules that is too
    close to tell; among those that a crew can carry out it is not."""
    question = switch_question(asked("demo"))
    windows = [Rule(((one,),)) for one in allowed_windows(question.site, WINDOWS_A_DAY)]
    bands = [rule for rule in candidates(question.site) if kind_of(rule) == BAND][::EVERY_BAND]
    few = SamplingBudget(sure=256, most=256)
    found = search(replace(question, among=(*windows, *bands)), effort=few)
    assert found.chosen.by_crew
    assert not any(rule.by_crew for rule in bands)
    assert found.selection.probability < SURE - 0.1
    assert found.selection.certainty >= SURE

"""What the demo is to show on the day on which it stands, and its unweighed twin beside it.

The demo is invented, so this is a check of the demo, not of the model. What it measured is worked
in as its pages do it; the plan is the first answer that `make demo` gives.
"""

from __future__ import annotations

from functools import cache

from app.answers.beliefs import weighed, work_in
from app.answers.planning import DEFAULT_SCENARIOS, first_stage, make_question
from app.sites.demo import demo_data, standing_day, twin_data
from sim.decide.answer import Column, Comparison
from sim.decide.compare import compare
from sim.inputs import SiteData


@cache
def busy_day(of: str) -> Comparison:
    """The comparison of the busy Saturday, at the demo or at its twin."""
    data: SiteData = demo_data() if of == "demo" else twin_data()
    belief = work_in(weighed(data)).belief if data.weighings else None
    question, _expected = make_question(
        data, standing_day(demo_data()), "", DEFAULT_SCENARIOS, belief=belief
    )
    return compare(first_stage(question))


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

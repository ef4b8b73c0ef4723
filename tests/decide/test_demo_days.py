"""The search on each kind of demo day: beside looking at everything, and beside foresight."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from app.answers.planning import make_question
from app.answers.switching import switch_question
from app.sites.demo import demo_data, demo_days
from sim.decide.switching.choice import are_good
from sim.decide.switching.search import SamplingBudget, search
from sim.decide.switching.study import foresight_of
from sim.inputs import Scenario
from tests.sizes import Size

TODAY = date(2026, 7, 6)


@pytest.mark.soak
@pytest.mark.parametrize("kind", ["humid_peak", "quiet", "hot_dry_peak", "after_rain"])
def test_the_search_matches_looking_at_everything(
    kind: str, size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """With rules dropped early the choice is within what does not matter of the exhaustive one,
    and no draw's foresight is below what the chosen rule reaches on average."""
    data = demo_data()
    asked, _ = make_question(data, demo_days()[kind], "", (Scenario("a"),), 1)
    question = switch_question(asked)
    everything = question.rules
    few = tuple(everything[1 :: len(everything) // size(small=50, full=2_000)])
    question = replace(question, among=few)
    effort = SamplingBudget(sure=64, most=64)
    short = search(question, effort=effort)
    whole = search(question, effort=effort, exhaustive=True).selection
    good = are_good(whole.worth[None], whole.burdens[:, None], question.wish.aim)[0]
    assert good[short.selection.chosen]
    assert short.selection.runs < whole.runs / 2
    bound = foresight_of(short, None, lambda done: None, size(small=2, full=16))
    assert bound is not None
    if short.selection.keeps and not bound.without_rewash:
        assert bound.reached <= bound.best_possible + 1e-9
    assert bound.share is not None
    assert bound.run_error is not None
    record_figure("rule reaches of foresight", 100 * bound.share, "%")
    record_figure("run error of that, low", 100 * bound.run_error.low, "%")
    record_figure("run error of that, high", 100 * bound.run_error.high, "%")

"""How often a rule meets a share on days not seen, and what else the choice might have been.

The interval of a count is checked against SciPy's Wilson interval.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import binomtest

import sim.decide.switching.study as study
from sim.day.rules import FULL, REDUCED, parse_rule
from sim.decide.switching.advice import alternatives
from sim.decide.switching.choice import Wish, column, left_damp_share
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws
from sim.decide.switching.search import search
from sim.decide.switching.study import kept, of_count
from sim.inputs import Site
from tests.day.sites import conditions
from tests.decide.test_advice import LIGHT

AMONG = (parse_rule("clock 9:30-10:30"), parse_rule("band 40-25"))
SITE = Site("Kept").with_values(
    {
        "open_h": 9.0, "close_h": 11.0, "damp_rewash_share": 0.0, "strip_count": 30,
        "allowed_damp_share": 0.1,
    }
)  # fmt: skip
ASKED = SwitchQuestion(
    SITE, conditions(45.0, opening=0.5), Wish.of(SITE, "days"), 3, among=AMONG
)  # fmt: skip


@pytest.mark.parametrize(("good", "days"), [(0, 20), (18, 20), (901, 1024), (1024, 1024)])
def test_the_range_of_a_rate_is_wilson_s(good: int, days: int) -> None:
    """Share and ends of a count, those at the borders included."""
    found = of_count(good, days)
    wilson = binomtest(good, days).proportion_ci(0.95, "wilson")
    assert found.share == good / days
    assert (found.low, found.high) == pytest.approx((wilson.low, wilson.high), abs=1e-6)


@pytest.mark.parametrize("known", [None, frozenset[str]()])
def test_the_rate_is_counted_on_days_that_the_choice_has_not_seen(
    known: frozenset[str] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No day of the count is one of the search, nor its site where sites are drawn, and the rate is
    that of the days counted."""
    tables: list[Any] = []

    def listen(asked: SwitchQuestion, cells: Any, draws: Any, *rest: Any) -> Any:
        tables.append((draws, outcomes(asked, cells, draws, *rest)))
        return tables[-1][1]

    monkeypatch.setattr(study, "outcomes", listen)
    found = search(replace(ASKED, known=known), effort=LIGHT, exhaustive=True)
    rate = kept(found, found.chosen, days=20)
    ((draws, table),) = tables
    seen = search_draws(found.asked, max(len(one) for one in found.outcomes))
    assert not {draw.day for draw in draws} & {draw.day for draw in seen}
    if known is not None:
        assert not {(d.block, d.point) for d in draws} & {(d.block, d.point) for d in seen}
    assert rate.days == len(draws) == 20
    assert rate.share == float(np.mean(left_damp_share(table[0]) <= 0.1))


def test_what_else_it_might_be_is_told_by_differences_on_common_days() -> None:
    """Each alternative with its chance, and what a day of it has more than the choice's."""
    found = search(ASKED, effort=LIGHT, exhaustive=True)
    own, other = found.selection.chosen, found.rules.index(REDUCED)
    if own == other:
        other = found.rules.index(FULL)
    told = replace(found, selection=replace(found.selection, others=((other, 0.25),)))
    (one,) = alternatives(told)
    assert (one.rule, one.chance) == (found.rules[other], 0.25)
    for name in ("left_damp", "full_cars", "cost"):
        apart = column(found.outcomes[other], name) - column(found.outcomes[own], name)
        assert getattr(one.gains, name).value == pytest.approx(float(apart.mean()))
    assert alternatives(replace(found, selection=replace(found.selection, others=()))) == ()

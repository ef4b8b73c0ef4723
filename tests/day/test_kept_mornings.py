"""What a process keeps of evenings and mornings changes no figure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.day import engine
from sim.day.engine import (
    AS_IT_IS,
    Changes,
    Draw,
    Experiment,
    Variant,
    prepared_day,
    simulate,
)
from sim.day.night import PreviousDay
from sim.day.rules import FULL, parse_rule
from sim.day.setup import prepare_day
from sim.decide.maps.points import at_demand, at_highest
from sim.decide.switching.question import read_outcomes
from sim.inputs import Site
from tests.day.sites import conditions
from tests.seeds import seed

KNOWN = frozenset[str]()
SITE = Site("Kept").with_values({"open_h": 9.0, "close_h": 11.0})


def forget() -> None:
    """Let go of everything that is kept."""
    for kept in (engine._rest_of, engine._here):
        kept.cache_clear()


def test_what_is_kept_is_what_would_be_made_anew() -> None:
    """Drawn sites with an evening before, one of them on two days, on a usual day, a busier and a
    hotter one: run together or each by itself with nothing kept, all have the same outcomes to the
    last bit; a variant that comes back has them too, and one with another air has others."""
    day = conditions(25.0)
    evening = PreviousDay(day=None, conditions=day, days_apart=1)
    asked = Experiment(SITE, day, seed("kept", 0), evening, known=KNOWN, evenings=1)
    hot = at_highest(day, 34.0)
    variants = [
        AS_IT_IS,
        *(Variant(conditions=one) for one in (at_demand(day, 1.3), hot, at_demand(hot, 1.3))),
    ]
    rules = (FULL, parse_rule("band 40-30"))
    sites = [(0, 0), (1, 1), (2, 2), (2, 3)]
    draws = [Draw(0, point, (asked.seed, 0, number)) for point, number in sites]
    together = simulate(asked, [(one, rules) for one in variants], draws, read_outcomes)
    again = simulate(asked, [(one, rules) for one in reversed(variants)], draws, read_outcomes)
    for place, one in enumerate(variants):
        mine = together[2 * place : 2 * place + 2]
        back = len(variants) - 1 - place
        assert np.array_equal(mine, again[2 * back : 2 * back + 2])
        for at, draw in enumerate(draws):
            forget()
            alone = simulate(asked, [(one, rules)], [draw], read_outcomes)
            assert np.array_equal(alone[:, 0], mine[:, at])
    assert not np.array_equal(together[2:4], together[6:8])


@pytest.mark.parametrize("changes", [(), (("car_spacing_m", 6.5), ("people", ((0.0, 4.0),)))])
def test_a_variant_is_made_ready_as_if_there_were_no_other(changes: Changes) -> None:
    """A changed site in another air has the scalars, tables and prices that it has made by itself,
    but for the night, which it does not live: to the last bit."""
    day = conditions(25.0)
    hot = at_highest(day, 34.0)
    at = Experiment(SITE, replace(day, opening_moisture_kg_kg=0.4), seed("kept", 1)).at()
    at.prepare(Variant(changes))
    found = at.prepare(Variant(changes, conditions=hot))
    site = SITE.with_values(dict(changes))
    numbers = replace(prepare_day(site, hot), opening_moisture=0.4)
    night = found.numbers.cloth.night_rate
    cloth = replace(numbers.cloth, night_rate=night)
    assert found.numbers == replace(numbers, cloth=cloth)
    assert night != numbers.cloth.night_rate
    alone = prepared_day(site, hot, numbers)
    assert found.prices == alone.prices
    for mine, its in zip(found.tables, alone.tables, strict=True):
        np.testing.assert_equal(mine, its)

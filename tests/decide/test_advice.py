"""Why an advice: known gains, causes that are known, tipping values, and days that need nothing."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import fields, replace

import numpy as np
import pytest

from sim.day.blocks import Shape
from sim.day.engine import AS_IT_IS, Variant
from sim.day.rules import FULL, REDUCED, parse_rule
from sim.decide.maps.points import at_demand
from sim.decide.switching.advice import (
    Gains,
    advise,
    compare_rules,
    priced,
    runner_up,
    shape_of,
)
from sim.decide.switching.candidates import candidates
from sim.decide.switching.choice import OUTCOMES, Wish, is_enough
from sim.decide.switching.question import (
    SwitchQuestion,
    Trials,
    crossed_draws,
    outcomes,
    search_draws,
)
from sim.decide.switching.reasons import at_humidity, flips, reliefs
from sim.decide.switching.search import SamplingBudget, SwitchAnswer, search
from sim.inputs import INPUTS, Conditions, Site, Value
from tests.day.sites import conditions

SHORT = Site("Short").with_values(
    {
        "open_h": 9.0, "close_h": 11.0, "damp_rewash_share": 0.0, "strip_count": 30,
        "day_factor_cv": 0.1, "matters_cars": 2.0, "allowed_damp_share": 0.2,
    }
)  # fmt: skip
BUSY = conditions(45.0, opening=0.5)
LIGHT = SamplingBudget(first=4, sure=16, most=16)
SHAPE = Shape(blocks=2, points=1, days=4)
ENDLESS: dict[str, Value] = {"holding_capacity_kg_kg": 6.0, "strip_count": 3000}
NEARLY_ALL = frozenset(INPUTS) - {"holding_capacity_kg_kg", "allowed_film_kg_m2"}


def question(
    values: dict[str, Value] | None = None, day: Conditions = BUSY, kind: str = "mean"
) -> SwitchQuestion:
    """A short day with a sixteenth of the candidates."""
    site = SHORT.with_values(values or {})
    wish = Wish.of(site, "cost" if kind == "cost" else "mean")
    return SwitchQuestion(site, day, wish, 3, among=candidates(site)[::16])


@pytest.fixture(scope="module")
def wet() -> SwitchAnswer:
    """A day on which the cloth gets too wet."""
    return search(question(), effort=LIGHT)


# ---- draws ---------------------------------------------------------------------------------------


def test_advice_is_measured_on_draws_that_the_search_has_not_seen() -> None:
    """No day of the comparison is a day of the search, with inputs drawn and without."""
    for known in (None, NEARLY_ALL):
        asked = replace(question(), known=known)
        fresh = crossed_draws(asked, Shape(2, 4, 3), 4)
        seen = search_draws(asked, 64)
        assert len({draw.day for draw in [*fresh, *seen]}) == 2 * 4 * 3 - 2 * 3 * 3 + 64
        if known is not None:
            sites = {(draw.block, draw.point) for draw in fresh}
            assert not sites & {(draw.block, draw.point) for draw in seen}


def test_a_day_as_it_is_equals_the_searched_one(wet: SwitchAnswer) -> None:
    """The same draw under the same rule has the same outcomes as in the search."""
    chosen = wet.selection.chosen
    found = outcomes(wet.asked, [(AS_IT_IS, (wet.chosen,))], search_draws(wet.asked, 4))
    assert np.array_equal(found[0], wet.outcomes[chosen][:4])


def test_the_answer_does_not_depend_on_the_processes(
    wet: SwitchAnswer, two_processes: Executor
) -> None:
    """Outcomes of variants are the same in other processes, to the last digit."""
    dry = Variant((("car_spacing_m", 7.0),), at_demand(BUSY, 0.8), "10:00", 0.5)
    cells = [(AS_IT_IS, wet.rules[:40]), (dry, (FULL, REDUCED))]
    draws = search_draws(wet.asked, 3)
    alone = outcomes(wet.asked, cells, draws)
    assert alone.shape == (42, 3, len(OUTCOMES))
    assert np.array_equal(outcomes(wet.asked, cells, draws, two_processes), alone)


# ---- gain and loss -------------------------------------------------------------------------------


def table(full: np.ndarray, damp: np.ndarray) -> np.ndarray:
    """Outcomes of 100 washed cars a day; shape of the arguments and OUTCOMES."""
    found = np.zeros((*full.shape, len(OUTCOMES)))
    found[..., OUTCOMES.index("cars_washed")] = 100.0
    found[..., OUTCOMES.index("full_cars")] = full
    found[..., OUTCOMES.index("left_damp")] = damp
    found[..., OUTCOMES.index("apart_s")] = np.inf
    return found


def means(gains: Gains) -> dict[str, float]:
    """Each figure's mean."""
    return {one.name: getattr(gains, one.name).value for one in fields(Gains)}


def test_gain_and_loss_of_tables_that_are_known() -> None:
    """Ten cars more at three sites of four and six fewer at one: better at 75 %, a loss there."""
    asked = replace(question(), known=NEARLY_ALL)
    more = np.array([10.0, 10.0, 10.0, -6.0])
    base = np.full((2, 4, 2), 50.0)
    mine = table(base + more[None, :, None], 5.0 + 0.0 * base)
    found = compare_rules(asked, FULL, mine, table(base, 5.0 + 0.0 * base))
    assert (found.better, found.worse, found.cases) == (0.75, 0.25, 8)
    assert found.gains.full_cars.value == pytest.approx(6.0)
    luck, sites = found.gains.full_cars.run_error, found.gains.full_cars.site_uncertainty
    assert luck is not None
    assert luck.low == pytest.approx(6.0)
    assert sites is not None
    assert sites.low < 0.0 < sites.high
    assert found.loss is not None
    assert found.loss.full_cars.value == pytest.approx(-6.0)


def test_keeping_to_the_wish_comes_before_more_cars() -> None:
    """Fewer cars wiped in full are better where the other rule leaves too many damp."""
    asked = replace(question(), known=NEARLY_ALL)
    base = np.full((2, 4, 2), 50.0)
    damp = np.array([30.0, 30.0, 30.0, 10.0])  # 20 are allowed
    found = compare_rules(
        asked, FULL, table(base - 20.0, 0.0 * base), table(base, damp[None, :, None] + 0.0 * base)
    )
    assert (found.better, found.worse) == (0.75, 0.25)
    assert found.loss is not None
    assert means(found.loss) == pytest.approx(
        {"full_cars": -20.0, "left_damp": -10.0, "left_damp_share": -0.1, "cost": 0.0}
    )


def test_a_rule_gains_nothing_over_itself() -> None:
    """Against itself a rule is neither better nor worse anywhere."""
    same = table(np.full((2, 1, 4), 50.0), np.full((2, 1, 4), 3.0))
    found = compare_rules(question(), FULL, same, same)
    assert (found.better, found.worse, found.loss) == (0.0, 0.0, None)
    assert set(means(found.gains).values()) == {0.0}


def test_the_price_of_a_damp_car_makes_the_choice_the_best() -> None:
    """Priced as the wish prices them, no rule has more than the one that just meets it."""
    full = np.array([100.0, 70.0, 40.0])[:, None] * np.ones((3, 6))
    damp = np.array([35.0, 20.0, 15.0])[:, None] * np.ones((3, 6))
    payoffs = priced(question(), table(full, damp), 1)
    assert int(np.argmax(payoffs.mean(axis=1))) == 1


# ---- the runner-up -------------------------------------------------------------------------------


def test_the_runner_up_has_another_shape(wet: SwitchAnswer) -> None:
    """The runner-up differs in kind, not in a quarter of an hour; numbers don't make a shape."""
    second = runner_up(wet)
    assert second is not None
    assert shape_of(wet.rules[second]) != shape_of(wet.chosen)
    same = [shape_of(parse_rule(text)) for text in ("clock 9:00-10:00", "clock 9:30-10:45")]
    assert same[0] == same[1]
    assert len({shape_of(rule) for rule in (FULL, REDUCED, parse_rule("service"))}) == 3


# ---- causes and tipping values -------------------------------------------------------------------


def test_a_soaked_start_is_the_cause_where_nothing_else_wets_the_cloth() -> None:
    """Cloth that opens full of water and is hardly wetted since: the wet start binds."""
    asked = question(
        {"strip_count": 600, "allowed_damp_share": 0.1}, conditions(20.0, humidity=0.9, opening=1.9)
    )
    found = reliefs(Trials(asked), search_draws(asked, 8))
    assert found[0].cause == "wet_start"
    assert found[0].least is not None
    assert 0.0 < found[0].least < 1.0


def test_cars_are_the_cause_where_the_cloth_starts_dry() -> None:
    """With a dry start in saturated air fewer cars would do, and a drier start would not."""
    asked = question(day=conditions(45.0, humidity=1.0, opening=0.05))
    found = {row.cause: row for row in reliefs(Trials(asked), search_draws(asked, 8))}
    fewer = found["many_cars"].least
    assert fewer is not None
    assert 0.0 < fewer < 1.0
    assert found["wet_start"].least is None


def test_tipping_values_are_where_the_verdict_turns(wet: SwitchAnswer) -> None:
    """Always full is enough with a little fewer cars than the tipping value, not with more."""
    asked, draws = wet.asked, search_draws(wet.asked, 8)
    found = {flip.along: flip for flip in flips(Trials(asked), FULL, (wet.chosen,), draws)}
    flip = found["cars"]
    assert flip.below is not None
    assert flip.low < flip.below < flip.now
    for share, expected in ((0.9, True), (1.1, False)):
        day = at_demand(asked.conditions, share * flip.below / flip.now)
        full = outcomes(asked, [(Variant(conditions=day), (FULL,))], draws)
        assert is_enough(asked.wish, full) == expected


def test_humidity_moves_every_hour_and_stays_possible() -> None:
    """A typed humidity is met at the warmest hour, and no hour holds more than it can."""
    day = replace(BUSY, temp_c=(20.0,) * 12 + (30.0,) + (20.0,) * 11, humidity=(0.8,) * 24)
    moved = at_humidity(day, 0.4)
    assert moved.humidity[12] == pytest.approx(0.4)
    assert max(at_humidity(day, 1.0).humidity) == 1.0


# ---- the whole of it -----------------------------------------------------------------------------


def test_endless_capacity_needs_no_reason() -> None:
    """Where the cloth never gets wet the advice is always full, against which nothing gains."""
    answer = search(question(ENDLESS, conditions(45.0, opening=0.02)), effort=LIGHT)
    found = advise(answer, shape=SHAPE, draws=4)
    assert found.rule == FULL
    assert found.over_present is None
    assert found.reliefs == ()
    assert found.balance.over_limit == 0.0
    assert found.balance.highest < found.balance.limit
    assert found.rival is None


def test_advice_of_a_wet_day(wet: SwitchAnswer) -> None:
    """Progress only grows, the account of water fits, and guesses that stay at their middle
    values make no advice firm."""
    told: list[int] = []
    found = advise(wet, progress=lambda done, total: told.append(done), shape=SHAPE, draws=4)
    assert told == sorted(told)
    assert told[-1] == found.runs > 500
    assert found.rule == wet.chosen != FULL
    assert found.over_present is not None
    assert found.over_present.gains.left_damp_share.value < 0.0
    water = found.balance
    assert water.taken_kg_h > 0.0
    assert set(water.hours) <= {9, 10, 11}
    assert found.rival is None
    assert found.knowing == ()


def test_knowledge_is_priced_where_sites_are_drawn() -> None:
    """Each guessed input gets a worth, none above that of all; the answer repeats exactly."""
    asked = replace(question(kind="cost"), known=NEARLY_ALL)
    answer = search(asked, effort=LIGHT)
    found = advise(answer, shape=Shape(blocks=2, points=8, days=2), draws=2)
    assert {worth.input for worth in found.knowing} == set(asked.drawn)
    assert all(0.0 <= worth.value <= found.knowing_all for worth in found.knowing)
    assert found.unit == "money"
    again = advise(answer, shape=Shape(blocks=2, points=8, days=2), draws=2)
    assert found == again


def test_progress_can_end_it(wet: SwitchAnswer) -> None:
    """An error that progress raises ends the computation."""

    class Enough(Exception):
        pass

    def stop(done: int, total: int) -> None:
        raise Enough

    with pytest.raises(Enough):
        advise(wet, progress=stop, shape=SHAPE, draws=4)

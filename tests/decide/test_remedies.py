"""Where nothing is needed, nothing helps, or something else does: answers that are known."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from sim.checks import site_kappa, site_median_film
from sim.day.engine import Variant
from sim.day.rules import FULL
from sim.decide.switching.answer import Together
from sim.decide.switching.candidates import candidates
from sim.decide.switching.choice import Wish, column
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws
from sim.decide.switching.reasons import Remedies, remedies
from sim.decide.switching.search import SamplingBudget, search
from sim.decide.switching.with_settings import choose_together, present_of
from sim.inputs import Conditions, Site, Value
from sim.physics.water_film import allowed_film
from tests.day.sites import conditions

SHORT = Site("Short").with_values(
    {
        "open_h": 9.0, "close_h": 11.0, "damp_rewash_share": 0.0, "day_factor_cv": 0.1,
        "matters_cars": 2.0, "matters_money": 5.0,
    }
)  # fmt: skip
DAY = date(2026, 7, 18)
CALM = conditions(25.0, opening=0.05)
LIGHT = SamplingBudget(first=4, sure=16, most=16)
ENDLESS: dict[str, Value] = {"holding_capacity_kg_kg": 6.0, "strip_count": 3000}
WET_CARS: dict[str, Value] = {
    **ENDLESS, "blower_reference_speed_m_s": 0.18, "blower_speed_exponent": 2.0,
    "blower_removal": 0.55, "film_cv": 0.1, "damp_limit_from": "film", "sets_owned": 1,
    "fastest_wheel_rev_s": 1.5,
    "finish_area_s_m2": 120.0, "finish_film_s_kg": 2000.0, "allowed_damp_share": 0.1,
}  # fmt: skip
"""The cloth stays dry, but at the usual speed blowers and wiping leave too much on the car,
more than one person with a towel can do."""
AS_WET = SHORT.with_values(WET_CARS)
LEFT_BY_DRY_CLOTH = allowed_film(site_median_film(AS_WET), site_kappa(AS_WET), 0.0)
WET_CARS["allowed_film_kg_m2"] = (
    1.2 * LEFT_BY_DRY_CLOTH
)  # at the speed that the blowers are stated for


def asked(values: dict[str, Value], day: Conditions = CALM) -> SwitchQuestion:
    """A short day with few candidates."""
    site = SHORT.with_values(values)
    return SwitchQuestion(site, day, Wish.of(site, "mean"), 3, among=candidates(site)[::100])


def remedied(values: dict[str, Value], day: Conditions = CALM) -> Remedies:
    """What helps on such a day."""
    return remedies(search(asked(values, day), effort=LIGHT), draws=8)


@pytest.fixture(scope="module")
def wet_cars() -> Remedies:
    """A day on which the cars are too wet, not the cloth."""
    return remedied(WET_CARS)


def test_endless_capacity_needs_nothing() -> None:
    """Cloth that stays dry: nothing is needed, surely, and its wettest is below the damp limit."""
    found = remedied(ENDLESS)
    assert found.state == "nothing_needed"
    assert found.chance_full == 1.0
    assert found.rows == ()
    assert found.balance.highest < found.balance.limit
    assert found.left_damp_share < 0.01


def test_only_a_slower_belt_helps_cars_that_are_too_wet(wet_cars: Remedies) -> None:
    """Where the film on the car is at fault, slower belts come first and alone keep the wish."""
    assert wet_cars.state == "nothing_helps"
    assert wet_cars.rows[0].kind == "slower_belt"
    assert wet_cars.rows[0].keeps
    assert {row.kind for row in wet_cars.rows if row.keeps} == {"slower_belt"}
    assert wet_cars.rows[0].left_damp_share < 0.1 < wet_cars.left_damp_share


def test_what_a_site_lacks_is_not_offered(wet_cars: Remedies) -> None:
    """One set owned, idle speed at the manual's limit, one kind of cloth: none of these."""
    kinds = {row.kind for row in wet_cars.rows}
    assert kinds <= {"slower_belt", "fewer_cars", "finisher", "drying_agent"}


def test_speeds_stay_within_the_manual(wet_cars: Remedies) -> None:
    """No belt slower than the manual allows is offered."""
    speeds = [row.amount for row in wet_cars.rows if row.kind == "slower_belt"]
    assert min(speeds) == pytest.approx(SHORT.line.slowest_belt_m_s)
    assert max(speeds) < SHORT.line.conveyor_speed_m_s


def test_remedies_of_a_wet_cloth_add_up() -> None:
    """A wet cloth: what each remedy costs and spares fits together; a finisher is what a site with
    one person more has, under a rule of its own."""
    values: dict[str, Value] = {
        "strip_count": 25, "allowed_damp_share": 0.001, "set_change_min": 5.0,
        "set_change_cars": "unwiped",
    }  # fmt: skip
    day = conditions(60.0, humidity=0.9, opening=1.2)
    found = remedied(values, day)
    assert found.state == "nothing_helps"
    kinds = {row.kind for row in found.rows}
    assert {"faster_idle", "slower_belt", "dry_set", "finisher"} <= kinds
    for row in found.rows:
        assert row.spared > 0.0
        assert 0.0 <= row.left_damp_share <= 1.0
    pays = [row.spared / row.cost if row.cost > 0.0 else np.inf for row in found.rows]
    order = [(not row.keeps, -pay) for row, pay in zip(found.rows, pays, strict=True)]
    assert order == sorted(order)
    finisher = next(row for row in found.rows if row.kind == "finisher")
    question = asked(values, day)
    one_more: dict[str, Value] = {
        name: tuple((at, count + 1.0) for at, count in getattr(question.site.crew, name))
        for name in ("people", "finishers")
    }
    cell = (Variant(tuple(one_more.items())), (finisher.rule,))
    table = outcomes(question, [cell], search_draws(question, 8))[0]
    assert finisher.left_damp == pytest.approx(float(column(table, "left_damp").mean()))
    assert finisher.full_cars == pytest.approx(float(column(table, "full_cars").mean()))


# ---- speed, spacing and rule together ------------------------------------------------------------


def together(values: dict[str, Value], day: Conditions = CALM) -> Together:
    """Settings and rule of such a day."""
    answer = search(asked(values, day), effort=LIGHT)
    effort = SamplingBudget(first=4, sure=8, most=8)
    return choose_together(answer.asked, answer.chosen, DAY, {}, effort=effort)


def test_ties_stay_with_the_present_setting() -> None:
    """A quiet day with a dry cloth keeps speed, spacing and always full."""
    found = together({**ENDLESS, "matters_money": 200.0})
    assert found.stays
    now = present_of(SHORT)
    assert (found.chosen.speeds, found.chosen.spacing_m) == (now.speeds, now.spacing_m)
    assert found.chosen.rule == FULL
    assert found.chosen.reduced_h == 0.0
    assert found.never_reduce is not None


def test_cars_that_are_too_wet_get_a_slower_belt() -> None:
    """Where only a slower belt helps it is chosen: at most three speeds, within the manual."""
    found = together(WET_CARS)
    assert not found.stays
    assert not found.present.keeps
    assert found.chosen.keeps
    assert found.never_reduce is not None
    assert found.never_reduce.keeps
    line = SHORT.line
    for plan in (found.chosen, found.never_reduce):
        speeds = [speed for _, speed in plan.speeds]
        assert 1 <= len(speeds) <= 3
        assert min(speeds) >= line.slowest_belt_m_s - 1e-9
        assert max(speeds) <= line.fastest_belt_m_s + 1e-9
        assert min(speeds) < line.conveyor_speed_m_s

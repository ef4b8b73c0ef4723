"""When to reduce as a service: the question of a plan, its answer stored once, the record whole."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from app.answers.answer import Desk, Kind
from app.answers.planning import SEED, make_question
from app.answers.serial import read, write
from app.answers.staff import STAFF
from app.answers.switching import (
    SWITCH,
    answer_switch,
    switch_key,
    switch_question,
    with_chosen,
)
from app.db.session import Session
from app.db.store import get_site
from app.sites.changes import Gate
from sim.day.blocks import Shape
from sim.day.rules import FULL, REDUCED, parse_rule
from sim.decide.switching.answer import SCHEMA, Hands, HandsRow, MoreHands, WhenToReduce
from sim.decide.switching.choice import column
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget, search
from sim.decide.switching.study import Depth, points
from sim.inputs import History, HourCount, HourWeather, Scenario, Site, SiteData, value_at
from tests.intervals import value_of
from tests.small_wash import CLOSED, PLANNED, small_wash

DAY = date(2026, 7, 18)
SMALL = Depth(effort=SamplingBudget(4, 16, 16), figures=4, hours=4, bound=2, why=False)
RULES = tuple(
    parse_rule(text)
    for text in ("clock 8:00-9:00", "clock 9:00-10:00", "band 30-20", "band 40-20", "band 50-40")
)


@pytest.fixture(scope="module")
def data() -> SiteData:
    """A site that is open for two hours, with three weeks of equal busy days."""
    days = [DAY - timedelta(days=back) for back in range(21, 0, -1)]
    counts = tuple(HourCount(day, hour, 0, 120) for day in days for hour in (8, 9))
    weather = tuple(
        HourWeather(day, hour, 0, 20.0 + hour / 4, 0.7, 0.0) for day in days for hour in range(24)
    )
    values = {"open_h": 8.0, "close_h": 10.0, "allowed_damp_share": 0.2}
    site = Site("Two Hours").with_values(values)
    return SiteData(site, "us", frozenset(values), History("arrived", counts, weather, ()))


@pytest.fixture(scope="module")
def asked(data: SiteData) -> SwitchQuestion:
    """Its question among a few rules, guesses at their middle values."""
    question, _expected = make_question(data, DAY, "", (Scenario("Now", "full"),), 1, SEED)
    return replace(switch_question(question), known=None, among=RULES)


@pytest.fixture(scope="module")
def found(asked: SwitchQuestion) -> WhenToReduce:
    """Its answer."""
    return answer_switch(asked, DAY, "told", depth=SMALL)


def test_the_first_scenario_is_what_is_done_now(data: SiteData) -> None:
    """Rule, settings and dry sets of the plan's first scenario are asked for; the wish and what
    the site has entered come from the site."""
    first = Scenario("Now", "band 50-40", "9:00", {"car_spacing_m": 8.0, "reduce_wish": "days"})
    question, _expected = make_question(data, DAY, "", (first, Scenario("Other", "full")), 1, SEED)
    made = switch_question(question)
    assert (made.present, made.cloth, made.site.line.car_spacing_m) == ("band 50-40", "9:00", 8.0)
    assert (made.wish.kind, made.wish.allowed_damp_share) == ("days", 0.2)
    assert made.known == data.given
    assert made.rules[0] == parse_rule("band 50-40")


def test_the_answer_is_whole(found: WhenToReduce) -> None:
    """Every rule is on the trade-off, marked columns are what they say, half hours cover the
    opening, and it is read back as it was written, every number in it a number."""
    assert found.schema == SCHEMA
    assert found.rules == len(RULES) + 2
    assert {one.rule for one in found.trade_off} == {FULL, REDUCED, *RULES}
    at = found.columns
    rules = [column.scenario.rule for column in found.comparison.columns]
    assert rules[at.full] == rules[at.present] == "full"
    assert rules[at.reduced] == "reduced"
    assert rules[at.chosen] == found.chosen.text
    assert found.half_hours.start_s == (28800.0, 30600.0, 32400.0, 34200.0)
    assert found.half_hours.full.reduced == (0.0,) * 4
    assert 0.0 <= found.probability <= 1.0
    text = write(found)
    assert read(WhenToReduce, text) == found
    json.dumps(json.loads(text), allow_nan=False)
    assert "Infinity" not in text
    assert "NaN" not in text


def test_half_hours_are_the_cars_of_the_day(found: WhenToReduce) -> None:
    """Cars of the half hours are not more than those washed, and always full is at least as wet
    as what is told from the first half hour on."""
    hours = found.half_hours
    washed = value_of(found.comparison.columns[0].figures["cars_washed"])
    assert 0.5 * washed < sum(hours.full.cars) < 1.5 * washed
    for full, told in zip(hours.full.saturation, hours.told.saturation, strict=True):
        assert full is not None
        assert told is not None
        assert full >= told - 1e-9


def test_points_stand_by_their_differences(asked: SwitchQuestion) -> None:
    """A rule stands on the trade-off where its difference to the chosen one on their common draws
    puts it, whatever number of draws it had; of undominated ones none beats another."""
    answer = search(asked, effort=SMALL.effort)
    table = dict(enumerate(points(answer)))
    chosen = answer.selection.chosen
    own = float(column(answer.outcomes[chosen], "left_damp").mean())
    assert table[chosen].left_damp == pytest.approx(own)
    for rule in range(len(answer.rules)):
        mine, its = answer.paired(rule, chosen)
        apart = float((column(mine, "left_damp") - column(its, "left_damp")).mean())
        assert table[rule].left_damp == pytest.approx(max(0.0, own + apart))
    best = [p for p in table.values() if p.undominated]
    for one in best:
        assert not any(
            o.left_damp <= one.left_damp and o.full_cars > one.full_cars for o in best if o.keeps
        )  # fmt: skip


def test_foresight_is_not_beaten(found: WhenToReduce) -> None:
    """What foresight would give on its draws is at least what the chosen rule gives there,
    re-washes apart."""
    bound = found.bound
    assert bound is not None
    if found.keeps:
        assert bound.reached <= bound.best_possible + 1.0
    assert bound.draws == 2


def test_reasons_are_told(asked: SwitchQuestion) -> None:
    """With the reasons looked into, the answer has gain, causes and tipping values, and is read
    back as it was written."""
    answer = answer_switch(
        asked, DAY, "told", depth=replace(SMALL, why=True, shape=Shape(2, 1, 2))
    )  # fmt: skip
    assert read(WhenToReduce, write(answer)) == answer
    why, tipping = answer.why, answer.tipping
    assert why is not None
    assert {one.along for one in why.flips} == {"temp_c", "humidity", "cars"}
    assert (why.rival is None) == (asked.known is None)
    assert tipping is not None
    assert len(tipping.humidity) == len(tipping.demands) == len(tipping.corners)
    assert all(len(row) == len(tipping.highest_temp_c) for row in tipping.humidity)
    expected = sum(asked.conditions.arrivals_per_h)
    assert tipping.cars == pytest.approx([d * expected for d in tipping.demands])
    assert (why.over_present is None) == (answer.chosen == FULL)
    if why.over_present is not None:
        assert why.over_present.gains.full_cars.value < 0


def test_what_is_read_first_is_told_first(asked: SwitchQuestion) -> None:
    """First a rule that a crew can carry out, among a few; then the search's with its cues and
    figures, and each time one part more, until only the last is missing. Whoever was told on the
    way has the answer of who was not."""
    depth, told = replace(SMALL, why=True, shape=Shape(2, 1, 2)), list[WhenToReduce]()
    found = answer_switch(asked, DAY, "told", depth=depth, early=told.append)
    assert found == answer_switch(asked, DAY, "told", depth=depth)
    first, *later = told
    assert first.coarse
    assert first.chosen.by_crew
    assert 0.0 <= first.certainty <= 1.0
    parts = ("hands", "why", "remedies", "moves", "bound", "tipping")
    for count, one in enumerate(later):
        assert not one.coarse
        assert (one.chosen, one.told, one.cues) == (found.chosen, found.told, found.cues)
        assert one.comparison == found.comparison
        for place, name in enumerate(parts):
            assert bool(getattr(one, name)) == (place < count)
            assert place >= count or getattr(one, name) == getattr(found, name)
    assert len(later) == len(parts)


def test_answers_do_not_depend_on_who_computes(asked: SwitchQuestion, found: WhenToReduce) -> None:
    """The same question has the same answer, and says how far it is on the way."""
    told: list[tuple[int, int]] = []
    again = answer_switch(
        asked, DAY, "told", None, lambda done, total: told.append((done, total)), SMALL
    )  # fmt: skip
    assert again == found
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]


def test_the_key_follows_wish_and_first_scenario(session: Session, gate: Gate) -> None:
    """Another wish, first scenario or rule at its settings is another question; a further scenario
    at other settings is the same one, and who is needed is asked for by the first alone."""
    site_id = gate.create_site(small_wash(), "wash").site_id

    def key(kind: Kind[Any, Any] = SWITCH) -> str:
        return Desk(session, get_site(session, site_id)).open(kind, PLANNED).key

    slow = Scenario("C", "clock 11:00-12:00", changes={"conveyor_speed_m_s": 0.2})
    gate.store_plan(site_id, PLANNED, "", (Scenario("A"), Scenario("B", "reduced")), 0, "two")
    first, staff = key(), key(STAFF)
    assert first
    gate.store_plan(site_id, PLANNED, "", (Scenario("A"), Scenario("B", "reduced"), slow), 1, "3")
    assert key() == first
    later = Scenario("B", "clock 9:00-10:00")
    gate.store_plan(site_id, PLANNED, "", (Scenario("A"), later), 2, "rule")
    assert key() != first
    assert key(STAFF) == staff
    gate.store_plan(site_id, PLANNED, "", (Scenario("B", "reduced"),), 3, "other")
    second = key()
    assert second != first
    assert key(STAFF) != staff
    gate.set_inputs(site_id, {"reduce_wish": "cost"}, expected_version=1, request_key="wish")
    assert key() not in (first, second)


def test_a_closed_day_asks_nothing(session: Session, gate: Gate) -> None:
    """On a closed day there is no question and no key."""
    site_id = gate.create_site(small_wash(), "wash").site_id
    view = Desk(session, get_site(session, site_id)).open(SWITCH, CLOSED)
    assert (view.asked.question, view.key) == (None, "")


def test_a_rule_that_the_plan_has_is_not_put_in_again(
    session: Session, gate: Gate, asked: SwitchQuestion, found: WhenToReduce
) -> None:
    """Put in once, the plan has it; without an answer there is nothing to put in."""
    site_id = gate.create_site(small_wash(), "wash").site_id
    view = Desk(session, get_site(session, site_id)).open(SWITCH, PLANNED)
    with pytest.raises(ValueError, match="nothing has been chosen"):
        with_chosen(view)
    answered = replace(view, result=replace(found, chosen=RULES[2]))
    more = with_chosen(answered)
    assert more is not None
    assert more[:-1] == view.asked.plan.scenarios
    plan = replace(view.asked.plan, scenarios=more)
    again = replace(answered, asked=replace(view.asked, plan=plan))
    assert with_chosen(again) == more
    assert switch_key(asked) == switch_key(replace(asked))


def test_more_hands_go_into_the_plan_with_their_rule(
    session: Session, gate: Gate, found: WhenToReduce
) -> None:
    """Where somebody more is advised, the plan's first scenario, by which the day sheet goes, has
    people and finishers by time, as many more from the hour to the hour, and the rule of the pair;
    a site takes it. A plan that has it further down gets it to the front, once."""
    site_id = gate.create_site(small_wash(), "wash").site_id
    view = Desk(session, get_site(session, site_id)).open(SWITCH, PLANNED)
    open_s = 3600.0 * view.asked.posed.site.line.open_h
    more = MoreHands(2, open_s + 600.0, open_s + 1200.0)
    own = HandsRow(MoreHands(), False, RULES[2], True, 5.0, 0.1, 50.0, 0.0, 0.0, 900.0, 0.0)
    pair = replace(own, hands=more, rule=FULL, wages=40.0, cost=800.0, more=-100.0)
    hands = Hands(own, pair, pair, (pair, own), 1.0, None, None, 10.0, 100)
    answered = replace(view, result=replace(found, chosen=RULES[2], hands=hands))
    scenarios = with_chosen(answered)
    assert scenarios is not None
    last, crew = scenarios[0], view.asked.posed.site.crew
    assert scenarios[1:] == view.asked.plan.scenarios
    plan = replace(view.asked.plan, scenarios=(*scenarios[1:], last))
    again = with_chosen(replace(answered, asked=replace(view.asked, plan=plan)))
    assert again == scenarios
    assert last.rule == FULL.text
    site = view.asked.posed.site.with_values(dict(last.changes))
    for name in ("people", "finishers"):
        before, after = getattr(crew, name), getattr(site.crew, name)
        told = [
            value_at(after, open_s + at) - value_at(before, open_s + at)
            for at in (0.0, 600.0, 1199.0, 1200.0)
        ]
        assert told == [0.0, 2.0, 2.0, 0.0]

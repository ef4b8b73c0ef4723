"""The chosen rule in cues that a crew can see: what it becomes where the answer is known.

No published values: expected ones follow from the definitions.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import sim.decide.switching.question as question_module
from sim.day.blocks import Shape
from sim.day.engine import AS_IT_IS, Draw
from sim.day.kernel.tables import HOOD, ON_BELT
from sim.day.rules import (
    FULL,
    REDUCED,
    Band,
    Classes,
    Clock,
    CrewCars,
    CrewClock,
    CrewHoods,
    CrewStrip,
    Rule,
    parse_rule,
)
from sim.decide.switching.advice import SITES
from sim.decide.switching.candidates import rank_of
from sim.decide.switching.choice import choose, column
from sim.decide.switching.cues import Cues, ideal, in_cues, unchanging
from sim.decide.switching.question import (
    SwitchQuestion,
    crossed_draws,
    outcomes,
    search_draws,
)
from sim.decide.switching.search import SwitchAnswer, search
from sim.decide.switching.thresholds import (
    CueKind,
    Readings,
    grids,
    least_apart,
    read_off,
    time_terms,
    with_term,
)
from sim.inputs import Site, Value
from tests.day.sites import PLAIN_GOODWILL, replication
from tests.decide.test_advice import BUSY, LIGHT, NEARLY_ALL, question
from tests.seeds import generator
from tests.sizes import Size

PROMPT: dict[str, Value] = {
    "cue_delay_median_s": 0.0, "count_every_min": 0.0, "count_log_sd": 0.0,
    "weigh_every_min": 0.0, "weigh_in_log_sd": 0.01, "strip_place_log_sd": 0.0,
    "hoods_every_min": 0.0, "hood_misjudged_share": 0.0, "cue_cost_count_min": 0.0,
    "cue_cost_hoods_min": 0.0, "cue_cost_strip_min": 0.0,
}  # fmt: skip
FEW = Shape(blocks=3, points=1, days=4)
MORE = Shape(blocks=4, points=1, days=12)
NOON = 12 * 3600.0
BAND, WINDOW = parse_rule("band 30-20"), parse_rule("clock 9:30-10:30")
AMONG = (BAND, WINDOW, parse_rule("band 40-25"), parse_rule("clock 9:45-10:45"))


def answer(
    values: dict[str, Value] | None = None, kind: str = "cost", busy: float = 1.0
) -> SwitchAnswer:
    """A search among two bands and two windows, in which damp cars are dear.

    Args:
        busy: times as many cars.
    """
    dear: dict[str, Value] = {
        **PLAIN_GOODWILL, "allowed_film_kg_m2": 0.0199, "damp_cost": 5.0, "reduced_cost": 0.6,
        "matters_money": 1.0,
    }  # fmt: skip
    cars = tuple(busy * hour for hour in BUSY.arrivals_per_h)
    asked = question({**dear, **(values or {})}, replace(BUSY, arrivals_per_h=cars), kind)
    return searched_anew(replace(asked, among=AMONG))


def searched_anew(asked: SwitchQuestion) -> SwitchAnswer:
    """A search as though no rule were in use now: so few days would not tell the others from it."""
    found = search(asked, effort=LIGHT, exhaustive=True)
    ranks = np.array([rank_of(rule) for rule in found.rules])
    chosen = int(choose(asked.wish.seen(np.stack(found.outcomes)), asked.wish.aim, ranks)[0])
    return replace(found, selection=replace(found.selection, chosen=chosen))


@pytest.fixture(scope="module")
def found() -> Cues:
    """Cues of a rule that switches."""
    searched = answer()
    assert time_terms(searched.chosen), searched.chosen.text
    cues = in_cues(searched, tried=FEW, measured=FEW)
    assert cues is not None
    return cues


# ---- what the rule becomes -----------------------------------------------------------------------


def test_only_what_says_when_is_replaced() -> None:
    """Windows and bands become the cue, each once; who is spared stays."""
    cue = CrewCars(90.0, 70.0)
    some = Classes(("van",))
    both = Rule(((Clock(((NOON, NOON + 60.0),)), Band(0.5, 0.4)),))
    assert with_term(both, cue) == Rule(((cue,),))
    either = Rule(((Clock(((NOON, NOON + 60.0),)),), (Band(0.5, 0.4),)))
    assert with_term(either, cue) == Rule(((cue,),))
    assert with_term(Rule(((Band(0.5, 0.4), some),)), cue) == Rule(((cue, some),))
    assert with_term(Rule(((Band(0.5, 0.4),), (some,))), cue) == Rule(((cue,), (some,)))


@pytest.mark.parametrize("rule", [FULL, REDUCED, parse_rule("class van")])
def test_a_rule_that_never_switches_needs_no_cue(rule: Rule) -> None:
    """Always full, always reduced and rules by class say nothing of when."""
    searched = answer()
    other = replace(searched.selection, chosen=0)
    assert in_cues(replace(searched, rules=(rule, *searched.rules[1:]), selection=other)) is None


def test_the_ideal_rules_are_the_best_of_their_kind() -> None:
    """The chosen rule is the ideal one of its own kind; of the other the cheapest is taken."""
    searched = answer()
    costs = [float(column(table, "cost").mean()) for table in searched.outcomes]
    for kind, rules in ((Band, AMONG[::2]), (Clock, AMONG[1::2])):
        best = min(rules, key=lambda rule: costs[searched.rules.index(rule)])
        assert ideal(searched, kind) == best  # all had equally many draws, and all keep


# ---- thresholds ----------------------------------------------------------------------------------


def test_readings_are_taken_where_the_band_switches() -> None:
    """A strip weighs at least what the upper saturation makes it when the band reduces, and at
    most what the lower one does when it goes back; counts are whole and below an hour's cars."""
    asked = question()
    read = read_off(asked, [BAND], 4)
    wheel = asked.site.wheel
    held = wheel.strip_dry_mass_kg * wheel.holding_capacity_kg_kg
    assert len(read.strip_up) >= 4
    assert min(read.strip_up) >= wheel.strip_dry_mass_kg + 0.3 * held - 1e-12
    assert all(down <= wheel.strip_dry_mass_kg + 0.2 * held + 1e-12 for down in read.strip_down)
    assert all(count == int(count) and 0 <= count < 200 for count in read.cars_up + read.cars_down)
    assert len(read.cars_up) == len(read.strip_up) == len(read.hoods_up)
    assert all(hoods == int(hoods) and 0 <= hoods <= 20 for hoods in read.hoods_up)


def test_thresholds_can_be_used_by_a_crew() -> None:
    """Fives of cars, whole hoods, whole steps of a scale, the larger first and as far from the
    other as can be told; windows in five minutes, in order and none before opening."""
    site = Site("Grid").with_values({"strip_dry_mass_kg": 0.25})
    readings = Readings(
        tuple(np.linspace(61.3, 97.9, 9)), (70.2, 71.7, 72.9, 74.1),
        tuple(np.linspace(2.0, 9.0, 9)), (1.0, 2.0, 2.0, 3.0),
        tuple(np.linspace(0.503, 0.587, 9)), (0.42, 0.44, 0.47, 0.43),
    )  # fmt: skip
    windows = [Clock(((7 * 3600.0, 12 * 3600.0 + 100.0), (15 * 3600.0, 86400.0)))]
    made = grids(site, windows, readings)
    cars = [one for one in made["cars"] if isinstance(one, CrewCars)]
    strips = [one for one in made["strip"] if isinstance(one, CrewStrip)]
    clocks = [one for one in made["clock"] if isinstance(one, CrewClock)]
    hoods = [one for one in made["hoods"] if isinstance(one, CrewHoods)]
    assert len(cars) > 8
    assert all(one.upper % 5.0 == 0.0 and one.lower % 5.0 == 0.0 for one in cars)
    # a count is off by 5 %: 10 cars of 100 are two standard deviations, to the nearest five
    assert all(0 < one.lower <= one.upper - 0.1 * one.upper + 2.5 for one in cars)
    assert len(hoods) > 3
    assert all(one.upper == int(one.upper) and one.lower == int(one.lower) for one in hoods)
    # six of twenty, 5 % told wrongly: 6.4 are told, 2 sqrt(20 x 0.32 x 0.68) = 4.2 apart
    assert least_apart(site, "hoods", 6.0) == pytest.approx(4.172, abs=1e-3)
    assert all(0 <= one.lower <= one.upper - 2.5 for one in hoods)
    # 500 g of water: a 20th is 25 g, so steps of 20 g
    grams = [1000.0 * weight for one in strips for weight in (one.upper, one.lower)]
    assert all(abs(weight / 20.0 - round(weight / 20.0)) < 1e-9 for weight in grams)
    off = 2.0 * site.wheel.strip_log_sd
    for one in strips:
        assert one.upper - one.lower >= off * (one.upper - 0.25) - 0.0101
    assert min(grams) > 250.0
    edges = [edge for one in clocks for window in one.windows for edge in window]
    assert {edges[0], edges[3]} == {7 * 3600.0, 86400.0}
    assert all(edge % 300.0 == 0.0 for edge in edges)
    assert len(clocks) == 9


def test_too_few_switches_give_no_thresholds() -> None:
    """Three readings are not enough to read a threshold off."""
    made = grids(Site("Grid"), [], Readings((60.0, 70.0, 80.0), (), (3.0,), (), (0.2,) * 3, ()))
    assert made == {"clock": (), "cars": (), "hoods": (), "strip": ()}


def test_what_was_counted_is_what_passed_in_the_hour() -> None:
    """Readings of a window are the cars counted one by one at the cars at which it turns."""
    asked = question()
    (term,) = time_terms(WINDOW)
    assert isinstance(term, Clock)
    read = read_off(asked, [WINDOW], 1)
    done = replication(asked.experiment, search_draws(asked, 1)[0]).run(WINDOW)
    rows = done.flow.rows
    hoods = rows.times[rows.order[: rows.counts[ON_BELT]], HOOD].tolist()
    for edge, counted in zip(term.windows[0], (read.cars_up, read.cars_down), strict=True):
        at = next(hood for hood in hoods if hood >= edge)
        assert counted == (sum(at - 3600.0 < hood < at for hood in hoods),)


# ---- what it loses -------------------------------------------------------------------------------


def test_a_prompt_crew_by_the_clock_loses_nothing() -> None:
    """Without delay, the unmoved clock cue is the window itself, on every draw."""
    asked = question(PROMPT)
    (term,) = time_terms(WINDOW)
    assert isinstance(term, Clock)
    cue = with_term(WINDOW, CrewClock(term.windows))
    draws = crossed_draws(asked, FEW, 1)
    table = outcomes(asked, [(AS_IT_IS, (WINDOW, cue))], draws)
    assert np.array_equal(table[0], table[1])


def test_losses_are_differences_on_common_days(found: Cues) -> None:
    """What a cue loses in money is what it costs more; its run error holds the mean."""
    assert found.unit == "money"
    assert [one.kind for one in found.found] == ["clock", "cars", "hoods", "strip"]
    for one in found.found:
        more = one.over_chosen.gains.cost.value
        assert one.to_chosen.value == pytest.approx(more, abs=1e-9)
        assert one.cost - found.chosen.cost == pytest.approx(more, abs=1e-9)
        luck = one.to_chosen.run_error
        assert luck is not None
        assert luck.low <= one.to_chosen.value <= luck.high
        assert found.band is not None
        assert one.to_band is not None
        apart = one.cost - found.band.cost
        assert one.to_band.value == pytest.approx(apart, abs=1e-9)


def test_thresholds_are_chosen_and_measured_on_fresh_draws(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No day serves twice: for the search, for the reasons, to choose thresholds, to measure."""
    seen: list[set[tuple[int, ...]]] = []

    def listen(asked: SwitchQuestion, cells: Any, draws: Any, *rest: Any) -> Any:
        seen.append({draw.day for draw in draws})
        return outcomes(asked, cells, draws, *rest)

    searched = answer()
    monkeypatch.setattr(question_module, "outcomes", listen)
    in_cues(searched, tried=FEW, measured=FEW)
    used = max(len(table) for table in searched.outcomes)
    before = {draw.day for draw in search_draws(searched.asked, used)}
    before |= {draw.day for draw in crossed_draws(searched.asked, SITES, math.ceil(used / 16))}
    chosen, measured = seen
    assert (len(chosen), len(measured)) == (FEW.runs, FEW.runs)
    assert not chosen & measured
    assert not (chosen | measured) & before


def test_by_the_wish_a_loss_is_full_wipes_and_damp_cars_at_a_price() -> None:
    """With inputs drawn too: a cue that wipes more in full and leaves fewer damp loses nothing."""
    asked = replace(
        question({"allowed_damp_share": 0.25, "allowed_film_kg_m2": 0.0199}),
        known=NEARLY_ALL,
        among=AMONG,
    )
    searched = searched_anew(asked)
    assert time_terms(searched.chosen), searched.chosen.text
    sites = Shape(blocks=2, points=4, days=2)
    cues = in_cues(searched, tried=sites, measured=sites)
    assert cues is not None
    assert cues.unit in ("full_cars", "left_damp")
    for one in cues.found:
        gains = one.over_chosen.gains
        if cues.unit == "left_damp":
            assert one.to_chosen.value == pytest.approx(gains.left_damp.value, abs=1e-9)
        elif gains.left_damp_share.value >= 0.0:
            assert one.to_chosen.value >= -gains.full_cars.value - 1e-9
        else:
            assert one.to_chosen.value <= -gains.full_cars.value + 1e-9


SWITCHING_PAYS: dict[str, Value] = {
    **PROMPT, **PLAIN_GOODWILL, "allowed_film_kg_m2": 0.0199, "strip_count": 45, "damp_cost": 15.0,
    "reduced_cost": 1.0,
}  # fmt: skip
"""An hour of reduced wiping costs less than the damp cars that it spares, two hours cost more."""


@pytest.mark.parametrize("matters", [1.0, 1000.0])
def test_a_cue_must_beat_staying_on_full(matters: float) -> None:
    """A cue is used only where it costs less than the better of always full and always reduced by
    more than what matters; of those that do, the one with the least loss."""
    searched = answer(SWITCHING_PAYS)
    assert time_terms(searched.chosen), searched.chosen.text
    wish = replace(searched.asked.wish, slack=matters)
    cues = in_cues(
        replace(searched, asked=replace(searched.asked, wish=wish)),
        tried=FEW,
        measured=Shape(blocks=4, points=1, days=16),
    )
    assert cues is not None
    assert cues.constant.rule in (FULL, REDUCED)
    for one in cues.found:
        saved = -one.over_constant.gains.cost.value
        assert saved == pytest.approx(cues.constant.cost - one.cost, abs=1e-9)
        luck = one.over_constant.gains.cost.run_error
        assert luck is not None
        assert one.gains == (saved > matters and luck.high < 0.0)
        assert one.reading == pytest.approx(0.0, abs=1e-9)
        assert one.saves == pytest.approx(saved, abs=1e-9)
    able = [one for one in cues.found if one.gains]
    assert bool(able) == (matters == 1.0)
    best = min(able, key=lambda one: (not one.keeps, one.cost), default=None)
    assert cues.use == (None if best is None else best.kind)
    assert cues.used == best


def test_what_spares_some_classes_all_day_needs_no_cue() -> None:
    """Where a reduced wipe is worth its price on the first cars and not on the last, reducing one
    class all day costs less than always full and always reduced: it is what cues are held against,
    and costs least on days gone through one by one."""
    values: dict[str, Value] = {**SWITCHING_PAYS, "damp_cost": 13.0, "reduced_cost": 0.85}
    few = tuple(parse_rule(f"class {key}") for key in ("sedan", "van", "small"))
    asked = replace(answer(values).asked, among=(*AMONG, *few))
    # each change from a class to another is a switch
    often = replace(asked.wish, most_switches=1_000, least_between_switches_s=0.0)
    asked = replace(asked, wish=often)
    searched = searched_anew(asked)
    costs = [float(column(table, "cost").mean()) for table in searched.outcomes]
    cheapest = min(few, key=lambda rule: costs[searched.rules.index(rule)])
    assert unchanging(searched) == cheapest
    assert unchanging(answer()) is None
    cues = in_cues(searched, tried=FEW, measured=FEW)
    assert cues is not None
    assert cues.constant.rule == cheapest
    days = crossed_draws(asked, Shape(blocks=2, points=1, days=16), 900)
    anew = recounted(asked, (FULL, REDUCED, cheapest), days)
    assert min(anew, key=lambda rule: anew[rule]) == cheapest
    stay = anew[cheapest]
    assert cues.stay in (None, cheapest)
    assert all(one.saves < stay for one in cues.found)


def recounted(
    asked: SwitchQuestion, rules: Sequence[Rule], draws: list[Draw], **values: Value
) -> dict[Rule, float]:
    """Mean cost of a day by each rule, by the figures of each day, one after the other."""
    days = replace(asked, site=asked.site.with_values(values)).experiment
    prepared, costs = days.at().prepare(), []
    for draw in draws:
        day = prepared.replication(draw.streams())
        costs.append([day.figures(rule).day["cost"] for rule in rules])
    return dict(zip(rules, np.mean(costs, axis=0).tolist(), strict=True))


FREE: dict[str, Value] = {
    "cue_cost_count_min": 0.0, "cue_cost_hoods_min": 0.0, "cue_cost_strip_min": 0.0,
}  # fmt: skip


def holds(cues: Cues, asked: SwitchQuestion, draws: list[Draw]) -> CueKind | None:
    """That what is used beats wiping alike all day and costs less to read than it saves, and what
    does not is not used; by days gone through one by one, each cue with and without its looks."""
    read = [one.rule for one in cues.found]
    costs = recounted(asked, (FULL, REDUCED, *read), draws)
    unread = recounted(asked, read, draws, **FREE)
    stay = costs[cues.constant.rule]
    assert cues.constant.rule == FULL or costs[REDUCED] < costs[FULL]
    for one in cues.found:
        cost, free = costs[one.rule], unread[one.rule]
        assert one.reading == pytest.approx(cost - free, abs=1e-6)
        assert one.saves == pytest.approx(stay - free, abs=1e-6)
        assert one.looks_s >= 0.0
        if one.gains:
            assert cost < stay
            assert cost - free <= max(0.0, stay - free)
            assert stay - cost > asked.wish.slack
        if one.kind == cues.use:
            assert one.gains
    return cues.use


@pytest.mark.soak
def test_no_cue_wins_that_costs_more_to_read_than_it_saves(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """At 20 sites on days of their own that differ in what looks and damp cars cost and in how late
    the crew is, some of which use a cue and some stay; counted anew, day by day."""
    rng, used = generator("cues that pay"), []
    measured = Shape(blocks=4, points=1, days=size(small=12, full=24))
    for _ in range(20):
        values: dict[str, Value] = {
            **SWITCHING_PAYS, "damp_cost": float(rng.uniform(13.0, 30.0)),
            "reduced_cost": float(rng.uniform(0.9, 1.5)),
            "cue_delay_median_s": float(rng.uniform(0.0, 120.0)),
            "count_every_min": 10.0, "hoods_every_min": 10.0, "weigh_every_min": 20.0,
            "cue_cost_count_min": float(rng.uniform(0.0, 1.0)),
            "cue_cost_hoods_min": float(rng.uniform(0.0, 3.0)),
            "cue_cost_strip_min": float(rng.uniform(0.0, 10.0)),
        }  # fmt: skip
        searched = answer(values, busy=float(rng.uniform(0.9, 1.05)))
        cues = in_cues(searched, tried=FEW, measured=measured)
        if cues is None:
            used.append("")
            continue
        first = math.ceil(max(len(t) for t in searched.outcomes) / 16) + SITES.blocks + FEW.blocks
        draws = crossed_draws(searched.asked, measured, first)
        used.append(holds(cues, searched.asked, draws) or "")
    record_figure("sites that use a cue", sum(map(bool, used)), "of 20")
    assert len(set(used)) > 1, used


def test_a_cue_that_is_dear_to_read_is_not_used() -> None:
    """An hour of a person a look: every cue that somebody must look at costs more than it saves,
    and the clock, which costs nothing to read, is what is left, or nobody."""
    dear: dict[str, Value] = {**SWITCHING_PAYS, **dict.fromkeys(FREE, 60.0)}
    every: dict[str, Value] = {
        "count_every_min": 15.0, "hoods_every_min": 15.0, "weigh_every_min": 15.0,
    }  # fmt: skip
    cues = in_cues(answer({**dear, **every}), tried=FEW, measured=FEW)
    assert cues is not None
    assert cues.use in (None, "clock")
    looked = [one for one in cues.found if one.kind != "clock"]
    assert len(looked) > 1
    for one in looked:
        assert not one.pays
        assert one.reading > 20.0 * one.looks_s / 3600.0 - 1e-6
        assert one.looks_s >= 3600.0


def test_a_cue_that_keeps_to_the_wish_must_pay_its_looks_too() -> None:
    """Where full wipes within a share are wished for, counting cars meets it with more of them
    than always reduced; with looks for nothing it is worth using, at an hour of a person each it
    is not."""
    wish: dict[str, Value] = {
        **SWITCHING_PAYS, "allowed_damp_share": 0.04, "damp_cost": 1.0, "matters_cars": 2.0,
        "matters_share": 0.02, "count_every_min": 15.0,
    }  # fmt: skip
    told = []
    for look_min in (0.0, 60.0):
        searched = answer({**wish, "cue_cost_count_min": look_min}, kind="mean")
        cues = in_cues(searched, tried=FEW, measured=MORE)
        assert cues is not None
        assert cues.constant.rule == REDUCED
        cars = next(one for one in cues.found if one.kind == "cars")
        assert cars.keeps
        assert cars.over_constant.gains.full_cars.value > searched.asked.wish.slack
        told.append((cars.pays, cars.gains))
        assert cars.pays == (cars.reading <= max(0.0, cars.saves))
    assert told == [(True, True), (False, False)]


def test_a_worse_crew_loses_more() -> None:
    """With an hour of delay the clock cue costs more than with none, on the same days."""
    late = {"cue_delay_median_s": 3600.0, "cue_delay_log_sd": 0.0}
    losses = []
    for values in ({**PROMPT}, {**PROMPT, **late}):
        searched = answer(values)
        cues = in_cues(searched, tried=FEW, measured=FEW)
        assert cues is not None
        losses.append(cues.found[0].to_chosen.value)
    assert losses[0] < losses[1]


def test_it_says_how_the_crew_was_simulated(found: Cues) -> None:
    """Cues have thresholds of their kind, and the answer the crew's delays and errors in SI."""
    site = question().site
    cars = found.found[1]
    (term,) = cars.rule.either[0]
    assert isinstance(term, CrewCars)
    assert term.upper > term.lower > 0
    assert cars.tried > 1
    assert found.constant.rule in (FULL, REDUCED)
    assert found.crew.delay_median_s == site.crew.cue_delay_median_s
    wheel = site.wheel
    both = math.hypot(wheel.weigh_in_log_sd, wheel.strip_place_log_sd)
    assert found.crew.weigh_log_sd == both

"""When to reduce: answers that are known, and what must hold of every search."""

from __future__ import annotations

import itertools
import math
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np
import pytest

from sim.day.draw import DayCars
from sim.day.engine import Experiment, prepared_day
from sim.day.kernel import flow, run_day, tallies
from sim.day.kernel.many import TALLY
from sim.day.kernel.tables import make_tables
from sim.day.replicate import run_days
from sim.day.rules import FULL, REDUCED, Band, Clock, Rule
from sim.day.setup import DayNumbers, prepare_day
from sim.decide.switching.best_possible import bound_day
from sim.decide.switching.candidates import candidates
from sim.decide.switching.choice import Wish, column, undominated
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget, planned_runs, search
from sim.errors import InputError
from sim.inputs import INPUTS, Scenario, Site, Value
from tests.day.sites import conditions, hand_made_cars

OPEN_S = 7 * 3600.0
SHORT = Site("Short").with_values(
    {
        "open_h": 9.0, "close_h": 11.0, "damp_rewash_share": 0.0, "strip_count": 30,
        "day_factor_cv": 0.1, "matters_cars": 2.0, "allowed_damp_share": 0.2,
    }
)  # fmt: skip
BUSY = conditions(45.0, opening=0.5)
LIGHT = SamplingBudget(first=4, sure=16, most=16)


def question(values: dict[str, Value] | None = None, kind: str = "mean") -> SwitchQuestion:
    """A short day with an eighth of the candidates."""
    site = SHORT.with_values(values or {})
    wish = Wish.of(site, "cost" if kind == "cost" else "days" if kind == "days" else "mean")
    return SwitchQuestion(site, BUSY, wish, 3, among=candidates(site)[::8])


# ---- candidates ----------------------------------------------------------------------------------


def test_candidates_are_many_and_lead_with_the_two_that_never_switch() -> None:
    """A usual day has 2,000 rules and more, each once, always full and always reduced first."""
    found = candidates(Site("Usual"))
    assert found[:2] == (FULL, REDUCED)
    assert len(set(found)) == len(found) >= 2_000
    kinds = {tuple(sorted(type(t).__name__ for row in rule.either for t in row)) for rule in found}
    assert {("Clock",), ("Band",), ("Classes",), ("Band", "Clock"), ("Band", "Classes")} <= kinds


@pytest.mark.parametrize("most", [0, 1, 2, 3, 4])
def test_windows_keep_to_the_limits_of_switching(most: int) -> None:
    """No window needs more switches than allowed, or two nearer than the least time."""
    site = Site("Limits").with_values({"most_switches": most, "least_between_switches_min": 100})
    opens, closes = site.line.open_h * 3600, site.line.close_h * 3600
    needed = set()
    for rule in candidates(site):
        for term in (t for row in rule.either for t in row if isinstance(t, Clock)):
            acts = [e for w in term.windows for e in w if opens < e < closes]
            assert len(acts) <= most
            assert all(b - a >= 6000 for a, b in itertools.pairwise(acts))
            needed.add(len(acts))
    assert max(needed, default=0) == most


# ---- answers that are known ----------------------------------------------------------------------


def test_endless_capacity_never_reduces() -> None:
    """Cloth that can't get wet is never spared: always full is chosen, and surely."""
    site = Site("Endless").with_values(
        {
            "open_h": 9.0, "close_h": 11.0, "damp_rewash_share": 0.0,
            "holding_capacity_kg_kg": 6.0, "strip_count": 3000,
        }
    )  # fmt: skip
    day = conditions(45.0, opening=0.02)
    for kind in ("mean", "days", "cost"):
        asked = SwitchQuestion(site, day, Wish.of(site, kind), 3, among=candidates(site)[::8])
        found = search(asked, effort=LIGHT)
        assert found.chosen == FULL
        assert found.selection.keeps
        if kind != "cost":
            assert found.selection.probability == 1.0


LOSSLESS: dict[str, Value] = {
    "holding_capacity_kg_kg": 2.2, "throw_off_moisture_kg_kg": 2.2, "film_cv": 0.0,
    "uptake_loss_at_life": 0.0, "tunnel_humid_share": 1.0, "damp_rewash_share": 0.0,
    "strip_count": 20, "wheel_heat_w": 0.0, "film_factor_windshield": 0.85,
}  # fmt: skip
"""Nothing is thrown off and nothing evaporates."""


def steady(values: dict[str, Value], cars: int, apart_s: float) -> tuple[Site, DayNumbers, DayCars]:
    """Equal cars at equal distances."""
    site = Site("Steady").with_values({**values, "close_h": 24.0})
    day = prepare_day(site, conditions(humidity=1.0, opening=0.3))
    arrivals = tuple(OPEN_S + apart_s * i for i in range(cars))
    return site, day, hand_made_cars(arrivals, (10.0,) * cars)


def doses(site: Site, day: DayNumbers) -> list[float]:
    """κ·f·a/C of each zone of a sedan."""
    tables = make_tables(site, day).cloth
    capacity = tables.holding * tables.mass_kg
    kappa = tables.uptake_max * tables.share[0]
    return [
        float(kappa * tables.factor[1, z] * tables.film_kg_m2[0] * tables.area_m2[1, z] / capacity)
        for z in range(4)
    ]


def test_switch_time_without_any_loss_of_water() -> None:
    """Saturation after n full wipes is 1 − (1 − S₀)·e^(−n·Σκfa/C): a band acts at that car."""
    site, day, cars = steady(LOSSLESS, 60, 60.0)
    start, dose = 0.3 / 2.2, math.fsum(doses(site, day))
    for upper in (0.3, 0.45, 0.6):
        due = math.ceil(math.log((1 - start) / (1 - upper)) / dose)
        result = run_day(site, day, cars, Rule(((Band(upper, 0.01),),)))
        passes = sorted(result.passes, key=lambda one: one.wheel_s)
        assert [one.reduced for one in passes] == [False] * due + [True] * (60 - due)
        assert passes[due].wheel_s == pytest.approx(passes[0].wheel_s + 60.0 * due)


def test_foresight_without_any_loss_of_water() -> None:
    """If water only adds up the order of wipes is nothing and their number is known."""
    site, day, cars = steady({**LOSSLESS, "damp_limit_saturation": 0.5}, 30, 60.0)
    tables = make_tables(site, day)
    zones = doses(site, day)
    cloth, holding = tables.cloth, 2.2
    # the driest cloth that leaves the hood damp, from w = C·(1 − S)·(1 − e^(−κfa/C))
    film, area = float(cloth.film_kg_m2[0]), float(cloth.area_m2[1, 0])
    taken = cloth.holding * cloth.mass_kg * -math.expm1(-zones[0])
    limit = 1 - (film - cloth.allowed_film) * area / taken
    full, part = math.fsum(zones), zones[0] + zones[1]
    room = math.log((1 - 0.3 / holding) / (1 - limit)) - 29 * part
    dry_before_last = min(29, math.floor(room / (full - part)))
    asked = SwitchQuestion(
        site, conditions(), replace(Wish.of(site, "days"), allowed_damp_share=0.0), 1
    )
    line = flow(site, day, cars, tables)
    values = bound_day(asked, prepared_day(site, conditions(), day), line).values
    assert 0 < dry_before_last < 29
    # with the last car wiped in full as well, which nobody after it suffers from
    assert values[-1] == pytest.approx(dry_before_last + 1)


def test_band_under_constant_flow_has_the_period_of_its_closed_form() -> None:
    """Each car is one affine map of moisture; switches come where its powers say."""
    values: dict[str, Value] = {
        **LOSSLESS, "throw_off_moisture_kg_kg": 0.2, "throw_off_time_s": 900.0,
        "throw_off_speed_exponent": 0.0, "throw_off_time_exponent": 0.0,
        "wheel_during_stop": "idle",
    }  # fmt: skip
    apart_s, count, upper, lower = 60.0, 400, 0.35, 0.27
    site, day, cars = steady(values, count, apart_s)
    zones, rate = doses(site, day), 1 / 900.0
    speed = day.speeds[0][1]
    spans = [float(m) / speed for m in make_tables(site, day).line.zone_m[1]]

    def affine(wiped: int) -> tuple[float, float]:
        """Slope and fixed point of a car's map, from hood to hood, and no longer way."""
        slope, shift, left = 1.0, 0.0, apart_s
        for z in range(wiped):
            keep = math.exp(-zones[z])
            slope, shift = slope * keep, 2.2 + (shift - 2.2) * keep
            fade = math.exp(-rate * spans[z])
            slope, shift = slope * fade, 0.2 + (shift - 0.2) * fade
            left -= spans[z]
        fade = math.exp(-rate * left)
        slope, shift = slope * fade, 0.2 + (shift - 0.2) * fade
        return slope, shift / (1 - slope)

    result = run_day(site, day, cars, Rule(((Band(upper, lower),),)))
    passes = sorted(result.passes, key=lambda one: one.wheel_s)
    seen = [
        n for n in range(1, count) if passes[n].reduced != passes[n - 1].reduced
    ]  # fmt: skip
    moisture, at, reduced = passes[0].moisture_before, 0, False
    wanted = []
    while True:
        slope, fixed = affine(2 if reduced else 4)
        goal = (lower if reduced else upper) * 2.2
        if (goal - fixed) / (moisture - fixed) <= 0:
            break  # it settles before it gets there
        steps = math.ceil(math.log((goal - fixed) / (moisture - fixed)) / math.log(slope))
        at += steps
        if at >= count:
            break
        moisture = fixed + (moisture - fixed) * slope**steps
        wanted.append(at)
        reduced = not reduced
    assert seen == wanted
    assert len(seen) >= 6


# ---- what must hold of every search --------------------------------------------------------------


def best_full(asked: SwitchQuestion) -> float:
    """Cars fully wiped by the best rule that meets the wish, nothing dropped; else −1."""
    found = search(asked, effort=LIGHT, exhaustive=True).selection
    return float(found.worth[found.chosen]) if found.keeps else -1.0


def test_a_higher_allowed_film_never_lowers_the_cars_fully_wiped() -> None:
    """On equal draws the best rule wipes as many cars in full, or more, as more film is allowed."""
    films = (0.012, 0.016, 0.02, 0.024, 0.028)
    found = [
        best_full(question({"damp_limit_from": "film", "allowed_film_kg_m2": film}))
        for film in films
    ]
    assert found == sorted(found)
    assert found[0] < found[-1]


@pytest.mark.parametrize("kind", ["mean", "days"])
def test_a_tighter_share_never_raises_the_cars_fully_wiped(kind: str) -> None:
    """On equal draws the best rule wipes no more cars in full as fewer may be damp."""
    shares = (0.5, 0.3, 0.2, 0.1, 0.05)
    found = [best_full(question({"allowed_damp_share": x}, kind)) for x in shares]
    assert found == sorted(found, reverse=True)
    assert found[-1] < found[0]


def test_more_rules_never_make_the_answer_worse() -> None:
    """On equal draws the best of more rules has at least the worth of the best of fewer."""
    everything = candidates(SHORT)
    for kind in ("mean", "cost"):
        asked, worth = question(kind=kind), []
        for step in (32, 16, 8):
            some = replace(asked, among=everything[::step])
            found = search(some, effort=LIGHT, exhaustive=True).selection
            worth.append(found.worth[found.chosen] if found.keeps else -np.inf)
        assert worth == sorted(worth)


def test_the_search_finds_what_looking_at_everything_finds() -> None:
    """With rules dropped early the answer is within what does not matter of the exhaustive one."""
    for kind in ("mean", "cost"):
        asked = question(kind=kind)
        effort = SamplingBudget(first=16, sure=64, most=64)
        short = search(asked, effort=effort)
        whole = search(asked, effort=effort, exhaustive=True)
        best = whole.selection.worth[whole.selection.chosen]
        assert whole.selection.worth[short.selection.chosen] >= best - asked.wish.slack
        assert short.selection.runs < whole.selection.runs / 2
        for rule in (FULL, REDUCED):  # on the trade-off with every draw
            place = short.rules.index(rule)
            assert len(short.outcomes[place]) == 64
            assert np.array_equal(short.outcomes[place], whole.outcomes[place])


def test_two_processes_find_the_same(two_processes: Executor) -> None:
    """Neither workers nor how rules are packed change an outcome; progress counts every run."""
    asked = replace(question(), known=frozenset(list(INPUTS)[::2]))
    heard: list[tuple[int, int]] = []
    alone = search(asked, effort=LIGHT, progress=lambda done, total: heard.append((done, total)))
    shared = search(asked, two_processes, effort=LIGHT)
    assert alone.selection.chosen == shared.selection.chosen
    assert alone.selection.probability == shared.selection.probability
    for one, other in zip(alone.outcomes, shared.outcomes, strict=True):
        assert np.array_equal(one, other)
    assert heard[-1][0] == alone.selection.runs
    assert heard[0][1] == planned_runs(len(alone.rules), LIGHT)


def test_an_error_of_whom_progress_is_told_ends_the_search() -> None:
    """That is how a search is cancelled; nothing more is run."""
    heard: list[int] = []

    def stop(done: int, total: int) -> None:
        heard.append(done)
        if len(heard) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        search(question(), progress=stop, effort=LIGHT)
    assert len(heard) == 3


def test_outcomes_are_those_of_a_plan_at_middle_values() -> None:
    """A rule's draws are the days that a comparison at the same seed simulates, re-washes too."""
    for rewashed in (0.0, 0.3):
        asked = question({"damp_rewash_share": rewashed})
        found = search(replace(asked, among=()), effort=LIGHT)
        scenarios = [Scenario("a", rule.text) for rule in found.rules]
        plan = run_days(Experiment(asked.site, BUSY, asked.seed), scenarios, 8)
        for place, days in enumerate(plan):
            for number in (0, 7):
                day = {name: values[number] for name, values in days.day.items()}
                row = found.outcomes[place][number]
                assert column(row, "cost") == day["cost"]
                assert column(row, "left_damp") == day["left_damp"]


def test_the_trade_off_marks_what_nothing_beats() -> None:
    """Few damp cars and many fully wiped: marked unless another rule has both, one truly."""
    damp = np.array([1.0, 2.0, 2.0, 3.0, 1.0, 0.5])
    full = np.array([5.0, 6.0, 4.0, 6.0, 5.0, 9.0])
    usable = np.array([True, True, True, True, True, False])
    assert undominated(damp, full, usable) == [True, True, False, False, True, False]


def test_a_drawn_site_is_another_site_on_another_day() -> None:
    """With guesses drawn, draws differ in the site; without, only in the day."""
    asked = replace(question(), known=frozenset())
    assert asked.experiment.drawn(0, 0) != asked.experiment.drawn(0, 1)
    assert replace(asked, known=None).experiment.drawn(0, 1).site == asked.site


def test_problems_are_named_together() -> None:
    """A rule and a dry set that can't be read are reported at once."""
    with pytest.raises(InputError) as caught:
        search(replace(question(), present="sometimes", cloth="at noon"))
    assert {problem.field for problem in caught.value.problems} == {"present", "cloth"}


def test_what_is_tallied_is_named() -> None:
    """One row a rule, one column a name."""
    site, day, cars = steady(LOSSLESS, 3, 60.0)
    assert tallies(site, day, cars, [FULL, REDUCED]).shape == (2, len(TALLY))

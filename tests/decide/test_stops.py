"""Rates of stops, and what the stops of a day cost."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.stats import poisson

from app.words.belt_stops import cost_answer, cost_rows
from app.words.figures import cells_of
from sim.day.figures import FIGURES
from sim.decide.compare import Question, compare
from sim.decide.stops.cost import MOST_CAUSES, DayStop, StopQuestion, standing, stop_costs
from sim.decide.stops.rates import Event, Exposure, poisson_limits, spelled, stop_rates
from sim.inputs import Conditions, DemandSpread, Scenario, Site
from tests.world import DAY

# ---- rates


def held(mean: float, limits: dict[int, tuple[float, float]]) -> float:
    """The chance that limits of a Poisson count hold its mean."""
    return float(
        sum(poisson.pmf(n, mean) for n, (low, high) in limits.items() if low <= mean <= high)
    )


def test_limits_hold_the_truth_as_often_as_they_say() -> None:
    """At every mean from a hundredth to some forty, by the exact distribution; the usual
    n ± 1.96·√n would hold far fewer of small ones."""
    counts = range(120)
    exact = {n: poisson_limits(n) for n in counts}
    usual = {n: (n - 1.96 * math.sqrt(n), n + 1.96 * math.sqrt(n)) for n in counts}
    means = [0.01 * 1.1**step for step in range(88)]
    assert min(held(mean, exact) for mean in means) >= 0.95
    assert min(held(mean, usual) for mean in means) < 0.1


def test_causes_add_up_and_are_told_the_commonest_first() -> None:
    """Lengths and counts of each; what was not noted is told; a class has its own cars."""
    events = [
        Event("car crosswise", 60.0, "pickup"),
        Event("car crosswise", None, "pickup"),
        Event("pull cord", 30.0),
    ]
    found = stop_rates(events, Exposure(10, 5000, 130.0), 2, {"pickup": 0.2, "sedan": 0.8})
    assert found is not None
    assert [(one.cause, one.count, one.stood_s, one.without) for one in found.causes] == [
        ("car crosswise", 2, 60.0, 1), ("pull cord", 1, 30.0, 0),
    ]  # fmt: skip
    assert (found.together.count, found.together.stood_s) == (3, 90.0)
    assert (found.days, found.cars, found.open_h, found.left_out) == (10, 5000, 130.0, 2)
    (pickups,) = found.classes
    assert (pickups.vehicle, pickups.count) == ("pickup", 2)
    assert pickups.per_thousand_cars.value == pytest.approx(2.0)
    assert found.together.per_thousand_cars.value == pytest.approx(0.6)


def test_spellings_of_a_cause_are_one() -> None:
    """Capitals and spaces make no other cause; told is the spelling that was used most."""
    names = ["Car crosswise", "car  crosswise", "car crosswise", "car crosswise", "pull cord"]
    assert spelled(names) == {
        "Car crosswise": "car crosswise", "car  crosswise": "car crosswise",
        "car crosswise": "car crosswise", "pull cord": "pull cord",
    }  # fmt: skip
    found = stop_rates([Event(name, None) for name in names], Exposure(1, 100, 13.0), 0, {})
    assert found is not None
    assert [(one.cause, one.count) for one in found.causes] == [
        ("car crosswise", 4), ("pull cord", 1),
    ]  # fmt: skip


@pytest.mark.parametrize("over", [Exposure(0, 0, 0.0), Exposure(3, 0, 39.0)])
def test_without_cars_there_is_no_rate(over: Exposure) -> None:
    """Where none was counted, nothing can be said."""
    assert stop_rates([Event("pull cord", 30.0)], over, 0, {}) is None


# ---- what they cost

BUSY = Conditions(
    (0.0,) * 8 + (120.0, 150.0, 150.0, 120.0) + (0.0,) * 12, (25.0,) * 24, (0.6,) * 24,
    spread=DemandSpread(0.0, 0.0),
)  # fmt: skip
LATE, EARLY, TOGETHER = (
    DayStop(39_600.0, 240.0, "driver braked"),
    DayStop(32_400.0, 600.0, "car crosswise"),
    DayStop(32_700.0, 600.0, "pull cord"),
)


def asked(*stops: DayStop) -> StopQuestion:
    """What a busy morning of four hours asks of some stops."""
    site = Site("Stopped").with_values({"open_h": 8.0, "close_h": 12.0, "stack_limit_cars": 12})
    return StopQuestion(DAY, site, BUSY, "full", stops, 0, "counts", None, seed=7, draws=12)


def test_stops_that_overlap_are_one() -> None:
    """A timetable of 1 and 0 that begins at midnight; what has no length is none."""
    assert standing([]) == standing([replace(LATE, lasted_s=0.0)]) == ()
    assert standing([TOGETHER, LATE, EARLY]) == (
        (0.0, 0.0), (32_400.0, 1.0), (33_300.0, 0.0), (39_600.0, 1.0), (39_840.0, 0.0),
    )  # fmt: skip
    assert standing([DayStop(0.0, 60.0, "")]) == ((0.0, 1.0), (60.0, 0.0))
    assert standing([DayStop(1.0, 60.0, "")])[0] == (0.0, 0.0)
    # the second and third overlap, the fourth begins as they end; the first stays alone
    spans = ((100.0, 50.0), (1000.0, 100.0), (1050.0, 200.0), (1250.0, 10.0))
    assert standing([DayStop(*span, "") for span in spans]) == (
        (0.0, 0.0), (100.0, 1.0), (150.0, 0.0), (1000.0, 1.0), (1260.0, 0.0),
    )  # fmt: skip


def test_a_cause_costs_the_difference_of_two_plans() -> None:
    """Asked for by itself, the plan of the day as it was beside the one without a cause has the
    very figures, and the difference that is printed is that of the two printed numbers."""
    question = asked(EARLY, LATE)
    found = stop_costs(question)
    whole = {"stops_per_h": 0.0, "stops_per_car": 0.0}
    both = (
        Scenario("as it was", "full", changes={**whole, "belt_stands": standing([EARLY, LATE])}),
        Scenario("without", "full", changes={**whole, "belt_stands": standing([LATE])}),
    )
    day = question.question.conditions
    beside = compare(Question(question.site, day, both, question.draws, question.seed))
    at = [one.causes for one in found.causes].index(("car crosswise",)) + 2
    was, without = found.comparison.columns[0], found.comparison.columns[at]
    assert was.figures == beside.columns[0].figures
    assert without.figures == beside.columns[1].figures
    assert without.differences == beside.columns[1].differences
    for name in ("cars_lost", "margin", "cars_washed", "wait_p90_s"):
        first, *others = cells_of(FIGURES[name], found.comparison, "us")
        for cell in others:
            assert number(cell.value) - number(first.value) == pytest.approx(
                number(cell.difference)
            )
    assert (was.value("cars_lost") or 0.0) > (without.value("cars_lost") or 0.0)


def number(text: str) -> float:
    """A printed number as a number."""
    return float(text.replace("−", "-").replace("$", "").replace(",", "").replace("+", ""))


def test_without_any_stop_nothing_stands() -> None:
    """The belt stood as often as was noted, overlapping stops once; and never in the plan without
    them, whatever stops by chance the site has."""
    found = stop_costs(asked(EARLY, TOGETHER, LATE))
    stops = [column.value("stops") for column in found.comparison.columns]
    assert stops[:2] == [2.0, 0.0]
    assert found.together.count == 3
    assert found.together.stood_s == 1_440.0
    assert cost_answer(found).lead == "3 stops, 24\u00a0min in all."
    assert [row[0] for row in cost_rows(found, "si")][:2] == ["As it was", "Without any stop"]


def test_many_causes_are_told_apart_by_how_long_the_belt_stood() -> None:
    """The longest by themselves, the others in one; together no plan more than can be compared."""
    stops = [DayStop(30_000.0 + 900.0 * n, 30.0 + n, f"cause {n}") for n in range(7)]
    question = asked(*stops)
    assert question.causes == (
        ("cause 6",), ("cause 5",), ("cause 4",), ("cause 3", "cause 2", "cause 1", "cause 0"),
    )  # fmt: skip
    assert len(question.causes) == MOST_CAUSES
    fitting = asked(*stops[:MOST_CAUSES])
    assert fitting.causes == tuple((f"cause {n}",) for n in reversed(range(MOST_CAUSES)))
    assert question.of(question.causes[-1]).count == 4
    assert len(question.question.scenarios) == 6


def test_the_plan_without_a_cause_has_the_other_stops() -> None:
    """As it was, without any, and without each cause by its number: the others still stand."""
    question = asked(EARLY, LATE)
    plans = {one.name: one.changes["belt_stands"] for one in question.question.scenarios}
    of_cause = {causes[0]: number for number, causes in enumerate(question.causes, start=1)}
    assert plans == {
        "As it was": standing([EARLY, LATE]),
        "Without any stop": (),
        f"Without cause {of_cause[EARLY.cause]}": standing([LATE]),
        f"Without cause {of_cause[LATE.cause]}": standing([EARLY]),
    }


def test_a_cause_may_name_a_safety_device() -> None:
    """Somebody pulled the cord: that is what happened, and nothing is planned without the cord."""
    found = stop_costs(replace(asked(DayStop(36_000.0, 120.0, "emergency stop pressed")), draws=2))
    assert found.causes[0].causes == ("emergency stop pressed",)

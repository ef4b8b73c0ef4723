"""Quick answers to a change: what they compare, what is kept, what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.answers.change import SHOWN, Tried, WhatIfCache, problems_of, read_day
from app.answers.planning import make_question
from sim.day.blocks import Shape
from sim.day.figures import FIGURES
from sim.decide.how_sure import PairedRunCache, Runs, run_blocks, site_difference
from sim.inputs import Conditions, Scenario
from sim.learn.expected_day import ExpectedDay, Override, expected_day
from tests.small_wash import PLANNED, small_wash

SMALL = Shape(blocks=2, points=2, days=2)
FULL, REDUCED = Scenario("Full", "full"), Scenario("Reduced", "reduced")
WASH = small_wash()
QUESTION, EXPECTED = make_question(WASH, PLANNED, "", (FULL, REDUCED))


def tried(changed: Scenario, expected: ExpectedDay = EXPECTED) -> Tried:
    """A change of the first scenario."""
    return Tried(FULL, changed, expected)


def faster(speed_m_s: float) -> Scenario:
    """The first scenario at another speed."""
    return Scenario("Faster", "full", "", {"conveyor_speed_m_s": speed_m_s})


@pytest.fixture
def computed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the scenarios whose runs were computed, in order."""
    names: list[str] = []
    simulate = PairedRunCache.runs

    def counted(self: PairedRunCache, scenario: Scenario, conditions: Conditions) -> Runs:
        names.append(scenario.name)
        return simulate(self, scenario, conditions)

    monkeypatch.setattr(PairedRunCache, "runs", counted)
    return names


def test_answer_is_the_plans_own_paired_comparison() -> None:
    """Values, differences and words are those of the plan's sampler on the same few runs."""
    comparison = WhatIfCache(SMALL).answer(QUESTION, tried(faster(0.3)))
    first, other = run_blocks(QUESTION.over_sites, (FULL, faster(0.3)), SMALL).runs
    present, changed = comparison.columns
    assert set(present.figures) == set(SHOWN)
    assert present.differences is None
    for name in ("margin", "cars_per_hour"):
        assert present.value(name) == pytest.approx(float(first.day[name].mean()))
        assert changed.value(name) == pytest.approx(float(other.day[name].mean()))
    want = site_difference(
        FIGURES["margin"], first.day["margin"], other.day["margin"],
        QUESTION.site.wishes.matters_money,
    )  # fmt: skip
    found = changed.apart("margin")
    assert (found.value, found.word) == (pytest.approx(want.value), want.word)
    assert found.site_uncertainty == want.site_uncertainty
    assert (comparison.replications, comparison.sites) == (8, 4)


def test_a_move_computes_the_changed_scenario_alone(computed: list[str]) -> None:
    """The first scenario is computed once, a change that was tried before not at all."""
    tries = WhatIfCache(SMALL)
    tries.warm(QUESTION, FULL)
    tries.answer(QUESTION, tried(faster(0.3)))
    tries.answer(QUESTION, tried(replace(faster(0.31), name="Faster still")))
    once = tries.answer(QUESTION, tried(faster(0.3)))
    assert computed == ["Full", "Faster", "Faster still"]
    assert once == WhatIfCache(SMALL).answer(QUESTION, tried(faster(0.3)))


def test_what_is_kept_is_bounded(computed: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """No more plans and changes are kept than the bounds say; the longest unused go first."""
    monkeypatch.setattr(WhatIfCache, "CHANGES", 2)
    monkeypatch.setattr(WhatIfCache, "PLANS", 2)
    tries = WhatIfCache(SMALL)
    for speed in (0.28, 0.29, 0.3):
        tries.answer(QUESTION, tried(replace(faster(speed), name=str(speed))))
    assert computed == ["Full", "0.28", "0.29", "0.3"]
    tries.answer(QUESTION, tried(replace(faster(0.28), name="again")))
    assert computed[-1] == "again"
    for seed in (1, 2, 3):
        tries.warm(replace(QUESTION, seed=seed), FULL)
    assert len(tries._kept) == 2
    assert all(len(kept.runs) <= 2 for kept in tries._kept.values())


def test_another_day_is_compared_with_the_day_as_expected(computed: list[str]) -> None:
    """The first column keeps the expected day; the changed one meets the same draws."""
    busy = expected_day(WASH, PLANNED, Override(event=0.5))
    change = tried(FULL, busy)
    assert change.has_other_day(QUESTION)
    assert change.changes_something(QUESTION)
    comparison = WhatIfCache(SMALL).answer(QUESTION, change)
    present, changed = comparison.columns
    plain = WhatIfCache(SMALL).answer(QUESTION, tried(faster(0.3))).columns[0]
    assert present.figures == plain.figures
    before, after = (
        sum(filter(None, column.hour("arrived")[8:10])) for column in (present, changed)
    )
    assert after > 1.3 * before
    assert comparison.conditions.arrivals_per_h == busy.conditions.arrivals_per_h
    assert not tried(replace(FULL, name="other name")).changes_something(QUESTION)


@pytest.mark.parametrize(
    ("texts", "want"),
    [
        ({"temp": "77"}, Override(highest_temp_c=25.0, event=0.1)),
        ({"temp": "30 °C"}, Override(highest_temp_c=30.0, event=0.1)),
        ({"humidity": "70"}, Override(humidity=0.7, event=0.1)),
        ({"humidity": "70 %"}, Override(humidity=0.7, event=0.1)),
        ({"cars": "−25"}, Override(event=-0.25)),
        ({"cars": "20 %"}, Override(event=0.2)),
        ({"cars": "", "temp": " "}, Override(event=0.1)),
    ],
)
def test_fields_of_the_day_go_over_the_plans_own_line(
    texts: dict[str, str], want: Override
) -> None:
    """Each field replaces its part of what the plan's line says; an empty one leaves it."""
    assert read_day(texts, "+10 %", "us") == (want, [])


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("temp", "hot", "“hot” was not understood"),
        ("temp", "91, rain", "is no temperature"),
        ("temp", "500", "outside what can be used"),
        ("humidity", "-5", "Write a percentage"),
        ("humidity", "140", "outside what can be used"),
        ("cars", "many", "was not understood"),
        ("cars", "+900", "outside what can be used"),
        ("cars", "emergency stop failed", "names a safety device"),
    ],
)
def test_an_unreadable_field_of_the_day_is_named(name: str, text: str, said: str) -> None:
    """What can't be read is told under the name of its field; the rest stands."""
    override, problems = read_day({name: text}, "", "us")
    assert override == Override()
    assert [p.field for p in problems] == [name]
    assert said in problems[0].say("us")


@pytest.mark.parametrize(
    ("scenario", "override", "field"),
    [
        (faster(0.59), Override(), "conveyor_speed_m_s"),
        (Scenario("x", "band 40-60"), Override(), "rule"),
        (Scenario("x", "full", "", {"car_spacing_m": 2.0}), Override(), "car_spacing_m"),
        (Scenario("guard removed", "guard failed"), Override(), "name"),
        (FULL, Override(highest_temp_c=-10.0), "temp"),
        (FULL, Override(event=-1.0), "cars"),
    ],
)
def test_what_cannot_be_tried_is_refused(
    scenario: Scenario, override: Override, field: str
) -> None:
    """The belt's own range, the rules of the plan, frost, an empty day and safety devices."""
    day = expected_day(WASH, PLANNED, override)
    assert field in [p.field for p in problems_of(QUESTION, tried(scenario, day))]


def test_a_sound_change_has_no_problem() -> None:
    """A scenario and a day within every bound can be tried."""
    assert problems_of(QUESTION, tried(faster(0.3))) == []

"""Wiping rules and dry sets: what they say, how they are written, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.day.rules import FULL, REDUCED, RuleState, parse_changes, parse_rule
from sim.errors import InputError
from sim.inputs import Site
from tests.day.sites import RULES, SiteDay, prompt_crew, site_days

KEYS = ("small", "sedan", "utility", "pickup", "van")
NOON = 12 * 3600.0


def decide(text: str, *cars: tuple[float, float, int, bool]) -> list[bool]:
    """Decisions of a rule on cars given as time, saturation, class, sold the full wipe."""
    state = RuleState(parse_rule(text, KEYS), KEYS, prompt_crew(Site("Rules")))
    return [state.reduced(*car) for car in cars]


def test_always_full_and_always_reduced() -> None:
    """Full reduces nobody, reduced everybody, also a car sold the full wipe."""
    cars = ((NOON, 0.9, 1, False), (NOON, 0.9, 1, True))
    assert decide("full", *cars) == [False, False]
    assert decide("reduced", *cars) == [True, True]


def test_service_spares_cars_sold_the_full_wipe() -> None:
    """By service level every car is reduced but those sold the full wipe."""
    assert decide("service", (NOON, 0.1, 1, False), (NOON, 0.1, 1, True)) == [True, False]


def test_a_clock_window_begins_at_its_start_and_ends_before_its_end() -> None:
    """12:00–15:30 holds at 12:00 sharp and no longer at 15:30 sharp."""
    end = 15.5 * 3600
    times = (NOON - 1, NOON, end - 1, end)
    cars = [(t, 0.5, 1, False) for t in times]
    assert decide("clock 12:00-15:30", *cars) == [False, True, True, False]


def test_a_band_acts_at_its_limits_and_stays_in_between() -> None:
    """Reduce at or above the upper limit, back to full at or below the lower one."""
    levels = (0.25, 0.29, 0.30, 0.27, 0.25, 0.24, 0.26, 0.30)
    cars = [(NOON, level, 1, False) for level in levels]
    wanted = [False, False, True, True, True, False, False, True]
    assert decide("band 30-24", *cars) == wanted


def test_a_band_watches_cars_that_another_term_decides() -> None:
    """A band that crossed its limit on a spared car still reduces the next one."""
    cars = ((NOON, 0.5, 1, True), (NOON, 0.28, 1, False))
    assert decide("band 30-24", *cars) == [False, True]


def test_classes_and_combinations() -> None:
    """`and` binds tighter than `or`."""
    text = "class van or class sedan and clock 12:00-13:00"
    cars = (
        (0.0, 0.0, 4, False),
        (0.0, 0.0, 1, False),
        (NOON, 0.0, 1, False),
        (NOON, 0.0, 0, False),
    )
    assert decide(text, *cars) == [True, False, True, False]


@pytest.mark.parametrize("text", [rule for rule in RULES if rule != "full"])
def test_rules_are_written_as_they_are_read(text: str) -> None:
    """A rule's own text reads back as the same rule."""
    rule = parse_rule(text, KEYS)
    assert parse_rule(rule.text, KEYS) == rule
    assert rule.words().lower().startswith(("always reduced", "reduced"))


def test_the_two_simple_rules_have_names() -> None:
    """`full` and `reduced` are the rules known by those names; nothing typed is full."""
    assert parse_rule("full") is FULL
    assert parse_rule("  ") is FULL
    assert parse_rule("reduced") is REDUCED
    assert (FULL.words(), REDUCED.words()) == ("Always full", "Always reduced")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("sometimes", "“sometimes” is not a rule; write full, reduced, service, clock"),
        ("full or reduced", "“full” stands alone"),
        ("clock noon", "a clock window is written 12:00-15:30"),
        ("clock 15:30-12:00", "the window 15:30-12:00 ends before it begins"),
        ("clock 12:00-25:00", "“25:00” is not a time of day; write it as 11:50, up to 24:00"),
        ("clock 12:00-14:00,13:00-15:00", "follow one another without overlap"),
        ("band 30", "a band is written band 60-50"),
        ("band 24-30", "a band needs 0 to 100 %, the upper saturation first"),
        ("band 130-24", "a band needs 0 to 100 %"),
        ("class", "class needs at least one vehicle class"),
        (
            "crew",
            "a cue is crew clock 12:00-15:30, crew cars 118-95, crew hoods 6-2 or crew strip",
        ),
        ("crew hoods", "this cue is written crew hoods 6-2, damp hoods among the last twenty"),
        ("crew hoods 21-2", "of 20 hoods 21 can’t be damp"),
        ("crew cars 118", "this cue is written crew cars 118-95, cars washed in the last hour"),
        ("crew strip 560-640", "the larger number comes first: crew strip 640-560"),
        ("crew clock 15:30-12:00", "the window 15:30-12:00 ends before it begins"),
        ("class tank", "“tank” is not a vehicle class here; use small, sedan"),
    ],
)
def test_a_rule_that_cannot_be_read_says_why(text: str, said: str) -> None:
    """The message names the rule as typed and what would be right."""
    with pytest.raises(InputError) as caught:
        parse_rule(text, KEYS)
    (problem,) = caught.value.problems
    assert problem.field == "rule"
    assert said in str(problem)
    assert f"Wiping rule “{text}”" in str(problem)


def test_dry_sets_by_time_and_by_saturation() -> None:
    """A set is due from its time on, or from its saturation on."""
    by_time, by_level = parse_changes("13:00; 45 %", sets_owned=3)
    assert not by_time.due(13 * 3600 - 1, 0.9)
    assert by_time.due(13 * 3600, 0.0)
    assert not by_level.due(NOON, 0.449)
    assert by_level.due(NOON, 0.45)
    assert (by_time.words(), by_level.words()) == ("dry set at 13:00", "dry set at 45 % saturation")


@pytest.mark.parametrize(
    ("text", "owned", "said"),
    [
        ("soon", 3, "Dry set “soon” is neither a time nor a saturation. Write 13:00 or 45 %."),
        ("0 %", 3, "Dry set “0 %” is neither a time nor a saturation."),
        ("13:00", 1, "1 dry sets are planned, but with 1 owned there are 0 beside the one"),
        ("13:00; 15:00; 17:00", 3, "3 dry sets are planned, but with 3 owned there are 2"),
    ],
)
def test_dry_sets_that_cannot_be_are_refused(text: str, owned: int, said: str) -> None:
    """Nonsense and more sets than the site owns are refused in words."""
    with pytest.raises(InputError) as caught:
        parse_changes(text, owned)
    assert said in str(caught.value)


@given(world=site_days(), upper=st.integers(2, 100))
def test_rules_decide_nothing_before_the_wheel(world: SiteDay, upper: int) -> None:
    """Without re-washes and weighings the rule changes no time of any car before the wheel."""
    site = world.site.with_values({"damp_rewash_share": 0.0, "cue_cost_strip_min": 0.0})
    here = SiteDay(site, world.conditions, world.rule, "", world.seed).run()
    there = SiteDay(site, world.conditions, f"band {upper}-1", "", world.seed).run()
    assert [(c.car, c.lost) for c in here.passes] == [(c.car, c.lost) for c in there.passes]
    before = [(c.pay_start_s, c.caught_s, c.exit_s) for c in here.passes]
    after = [(c.pay_start_s, c.caught_s, c.exit_s) for c in there.passes]
    # SimPy adds delays up in another order, so the last bits of a time may differ
    assert np.allclose(before, after, rtol=0, atol=1e-6, equal_nan=True)

"""Why an advice is as it is, reason by reason, in words."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

from app.words.why import settle_words, why_facts
from sim.day.figures import Range
from sim.day.rules import FULL, REDUCED
from sim.decide.switching.advice import (
    Gain,
    Gains,
    PairedComparison,
    ValueOfInformation,
)
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.reasons import Flip, Relief
from tests.plain import plain

MORE = Gains(Gain(-40.0), Gain(-12.0), Gain(-0.02), Gain(-150.0))
"""Forty full wipes and twelve damp cars fewer, 150 cheaper."""

ELSEWHERE = SimpleNamespace(with_rule=lambda _text: None)
"""A day's plan that has neither rule, so that gains are of days of their own."""


def facts_of(**told: object) -> dict[str, str]:
    """What is told of reasons, those not given being empty, by what they are called."""
    nothing: dict[str, object] = {
        "over_present": None, "runner_up": None, "reliefs": (), "flips": (), "knowing": (),
    }  # fmt: skip
    answer = SimpleNamespace(
        why=SimpleNamespace(**{**nothing, **told}),
        comparison=ELSEWHERE,
        chosen=FULL,
        crew_terms=None,
    )
    return {plain(name): plain(said) for name, said in why_facts(cast(WhenToReduce, answer), "us")}


def against(better: float, worse: float, loss: Gains | None) -> PairedComparison:
    """The advice against always reduced."""
    return PairedComparison(REDUCED, MORE, better, worse, 128, loss)


def test_the_present_rule_has_nothing_to_gain() -> None:
    """Where the advice is what is planned now it says so, and what another rule would take."""
    found = facts_of(flips=(Flip("temp_c", 28.0, 20.0, None, 10.0, 40.0),))
    assert found["Expected gain"] == "It is what is planned now."
    assert found["What makes it needed"].startswith("Nothing: the cloth stays dry enough")
    assert found["What would flip it"] == "You would need another rule below 68 °F at most."
    assert "How often it is better" not in found
    assert "Loss if wrong" not in found
    assert "Runner-up" not in found


def test_a_gain_is_told_with_how_often_and_what_if_wrong() -> None:
    """So many of twenty sites, the worse ones rounded up; and both ends where sites differ."""
    found = facts_of(over_present=against(0.80, 0.06, MORE))
    assert "17 of 20" not in found["How often it is better"]
    assert "in 16 of 20 sites like yours, worse in 2." in found["How often it is better"]
    assert found["Loss if wrong"] == (
        "Where it is worse: 12 fewer cars leaving damp, 40 fewer full wipes and $150 cheaper a day."
    )
    assert "Loss if wrong" not in facts_of(over_present=against(1.0, 0.0, None))
    assert "What makes it needed" not in found


def test_the_cause_that_binds_is_told_or_that_there_is_none() -> None:
    """The first whose going would be enough; none where even all of each would not do."""
    none, some = Relief("many_cars", None, 0.3), Relief("humid_air", 0.25, 0.01)
    assert facts_of(reliefs=(none, some))["What makes it needed"] == (
        "Humid air: with 25 % less moisture in it, always full would do."
    )
    assert facts_of(reliefs=(none,))["What makes it needed"].startswith("No one cause")


def test_what_would_flip_it_is_told_on_both_sides() -> None:
    """Temperature, humidity and cars, each where there is a tipping value."""
    flips = (
        Flip("humidity", 0.6, 0.4, 0.8, 0.1, 1.0),
        Flip("cars", 700.0, None, 812.0, 300.0, 1_000.0),
        Flip("temp_c", 28.0, None, None, 10.0, 40.0),
    )
    assert facts_of(over_present=against(0.9, 0.0, None), flips=flips)["What would flip it"] == (
        "What is planned now would do below 40 % humidity or above 80 % humidity or with more than "
        "810 cars."
    )
    assert facts_of()["What would flip it"].startswith("Nothing that was looked at")


def test_one_measurement_would_settle_most_of_it() -> None:
    """The best known one by its words; nothing where nothing is worth knowing."""

    def told(*knowing: ValueOfInformation) -> str:
        why = SimpleNamespace(knowing=knowing)
        return plain(settle_words(cast(WhenToReduce, SimpleNamespace(why=why))))

    assert told() == ""
    assert told(ValueOfInformation("holding_capacity_kg_kg", 0.0)) == ""
    said = told(ValueOfInformation("holding_capacity_kg_kg", 5.0))
    assert said.startswith("One measurement would settle most of it.")
    assert "“" not in said


def test_ends_of_a_gain_are_seen_from_its_mean() -> None:
    """Of cars fewer, the end that is more cars has a minus; where sites are alike there is none."""
    damp = Gain(-12.0, site_uncertainty=Range(-30.0, 5.0))
    gains = Gains(Gain(0.0), damp, Gain(0.0), Gain(0.0))
    paired = PairedComparison(REDUCED, MORE, 0.9, 0.0, 128, gains)
    assert facts_of(over_present=paired)["Loss if wrong"] == (
        "Where it is worse: 12 fewer cars leaving damp (−5 to 30) a day."
    )

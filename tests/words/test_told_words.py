"""Sentences of Now, of rates of stops and of rules, by what they are told of."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from app.answers.now import NowFound
from app.words.belt_stops import length_words, one_in_words, rate_words
from app.words.now import NowWords, now_words
from sim.decide.now.answer import Act, Course, NowAnswer, WouldChange
from sim.decide.stops.answer import Rate
from sim.inputs.logbook import GO_BACK, REDUCE_LATER, REDUCE_NOW
from tests.plain import plain

NOON_S = 43_200.0
STAYS = Act("stay", None, reduced=False)


def words_of(act: Act = STAYS, **told: Any) -> NowWords:
    """What Now says of an answer: by the plan, all as planned, unless it is told otherwise."""
    other = Course(Act(REDUCE_NOW, None, reduced=False), "reduced", 2_040.0, 9.0, 300.0)
    course = Course(act, "full", 2_000.0, 12.0, 400.0)
    usual = NowAnswer(
        now_s=NOON_S, told=course, planned=course, other=other, by_plan=True, by_clock=False,
        saves=0.0, saves_error=0.0, spares=0.0, spares_error=0.0, beats=40.0, spares_of_other=0.0,
        chance=0.9, draws=48, effective=40.0, widened=False, damp_share=0.01, cars_scale=None,
        washed=None, counted_s=None, looks=0, strips=0, cars_left=240.0, felt_s=None, missing=0,
        stands_until_s=None, changes=None, last_s=None,
    )  # fmt: skip
    said = now_words(NowFound(None, replace(usual, **told)))
    assert said is not None
    return said


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (Act(REDUCE_NOW, None, False), "Reduce now."),
        (Act(REDUCE_NOW, None, False, NOON_S), "Reduce now, until about 12:00."),
        (Act(GO_BACK, None, True), "Go back to full now."),
        (Act("stay", None, True), "Stay on reduced."),
        (STAYS, "Stay on full."),
        (Act(REDUCE_LATER, NOON_S, False), "Reduce at about 12:00."),
        (Act(GO_BACK, NOON_S, True), "Go back to full at about 12:00."),
    ],
    ids=lambda one: (
        f"{one.word} {one.at_s} {one.until_s} {one.reduced}" if one and isinstance(one, Act) else ""
    ),
)
def test_what_to_do_is_one_sentence(act: Act, said: str) -> None:
    """Now or at a time, and until when."""
    assert plain(words_of(act, by_plan=False).act) == said


def test_what_it_is_beside_the_plan() -> None:
    """Of the plan what another act would cost; of another act what it saves or costs, and cars."""
    assert plain(words_of().beside) == ("It is the plan. “Reduce now” would cost about $40 more.")
    assert plain(words_of(beats=0.2).beside).endswith("“Reduce now” would not cost more.")
    better = words_of(by_plan=False, saves=200.0, saves_error=10.0, spares=12.2)
    assert plain(better.beside) == (
        "Beside the plan it saves about $200 (± $20) and 12 cars fewer leave damp."
    )
    dearer = words_of(by_plan=False, saves=-30.0, saves_error=5.0, spares=-1.0)
    assert plain(dearer.beside) == (
        "Beside the plan it costs about $30 (± $10) more and 1 car more leaves damp."
    )


def test_what_is_as_planned_and_what_is_not() -> None:
    """Cars, people, weather and belt, each as planned until something was noted of it."""
    assert plain(words_of().assumed) == (
        "Cars, people, weather and belt as planned; wiped as noted, and before that as planned. "
        "240 cars are still to come."
    )
    noted = words_of(washed=300, cars_scale=1.0, missing=2, felt_s=36_000.0, stands_until_s=NOON_S)
    assert plain(noted.assumed) == (
        "Wiped as noted, and before that as planned. The air stays as felt at 10:00. "
        "2 people are missing, taken for those who dry cars, where any do. "
        "The belt is taken to stand until 12:00. 240 cars are still to come."
    )


@pytest.mark.parametrize(
    ("word", "at_s", "said"),
    [
        (REDUCE_LATER, NOON_S, "Reduce at about 12:00"),
        (GO_BACK, NOON_S, "Go back to full at about 12:00"),
        (REDUCE_NOW, None, "Reduce now"),
        (GO_BACK, None, "Go back to full now"),
        ("stay", None, "Stay as it is"),
    ],
    ids=lambda one: str(one),
)
def test_a_look_that_would_change_it(word: str, at_s: float | None, said: str) -> None:
    """So many damp hoods, or so few, and what it would then be."""
    few = WouldChange(1, 20, False, 5.0, 0.1, word, at_s)
    assert plain(words_of(changes=few).change) == (
        f"1 damp hoods or fewer among the next 20 would make it “{said}”. About 5 are expected."
    )
    many = WouldChange(9, 20, True, 5.0, 0.1, word, at_s)
    assert "9 damp hoods or more among the next 20" in plain(words_of(changes=many).change)


def test_how_sure_it_is() -> None:
    """Tenths of days; less sure where few simulated sites agree with what was seen."""
    assert plain(words_of().sure).startswith("On 9 of 10 days")
    assert "less sure" in words_of(widened=True).sure


def test_rates_without_a_bound_are_told_by_the_other_one() -> None:
    """No event gives a bound above or below alone; lengths are dashes where none was noted."""
    assert plain(rate_words(Rate(1.87, 1.61, 2.24))) == "1.9 (1.6–2.2)"
    assert plain(rate_words(Rate(None, 0.0, None))) == "at least 0"
    assert plain(rate_words(Rate(12.0, 8.0, None))) == "12 (at least 8.0)"
    assert plain(one_in_words(Rate(None, 900.0, None))) == "none; at most 1 in 900"
    assert plain(one_in_words(Rate(500.0, 300.0, None))) == "1 in 500 (at most 1 in 300)"
    assert plain(length_words(None)) == "–"
    assert plain(length_words(45.0)) == "45 s"

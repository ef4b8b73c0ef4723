"""What is said of hands at the exit: put somebody there, or why not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.words.hands import hands_of, hands_words, other_advice
from app.words.switching import answer_words, switch_sure
from sim.day.rules import FULL, Rule
from sim.decide.firm import Standing
from sim.decide.switching.answer import Hands, HandsRow, MoreHands, WhenToReduce
from tests.pages.switch_content import clock, switch

WINDOW = clock((12.0, 16.0))
NARROW, PLAIN = "\u00a0", " "


def row(people: int, rule: Rule, more: float, wages: float, damp: float) -> HandsRow:
    """Somebody at the exit from 11:00 to 16:00."""
    hands = MoreHands(people, 39_600.0, 57_600.0) if people else MoreHands()
    return HandsRow(
        hands, False, rule, damp <= 0.05, 1840 * damp, damp, 1500.0, 60.0, wages, 4000.0 + more,
        more,
    )  # fmt: skip


def with_hands(chosen: HandsRow, own: HandsRow, more: HandsRow, bettered: float) -> WhenToReduce:
    """An answer in which hands were looked at."""
    standing = Standing(192, bettered, 0.0)
    rows = tuple(dict.fromkeys((own, chosen, more)))
    return replace(
        switch(), hands=Hands(own, chosen, more, rows, 0.98, None, standing, 10.0, 9_000)
    )


def text(said: object) -> str:
    """A statement without narrow spaces."""
    return str(said).replace(NARROW, PLAIN)


OWN = row(0, WINDOW, 0.0, 0.0, 0.12)
ONE = row(1, FULL, -530.0, 100.0, 0.04)


def test_hands_that_beat_reducing_lead_the_answer() -> None:
    """The order says rule and person, by how much it is better than the own people's rule, and
    after it what to do with these; how sure is said of the pair."""
    answer = with_hands(ONE, OWN, ONE, 0.0)
    said = answer_words(answer, "si")
    assert said.lead == (
        "Wipe in full all day. Put one more person with towels at the exit from 11:00 to 16:00."
    )
    assert text(said.rest).startswith("That is about $530 a day better than your own people with")
    assert "$100 of wages, and 4 % of the cars leave damp instead of 12 %." in text(said.rest)
    assert said.also.startswith("With the people you plan now, and so on the day sheet: Reduce ")
    assert switch_sure(answer, (), "si").lead == "Firm."
    doubted = switch_sure(with_hands(ONE, OWN, ONE, 0.3), (), "si")
    assert doubted.lead == "Not firm:"
    assert "at 6 of 20 sites like yours" in text(doubted.rest)


@pytest.mark.parametrize(
    ("more", "own", "says"),
    [
        (70.0, OWN, "would cost $160 and save $90: reduce instead."),
        (200.0, OWN, "would cost $160 and save $0: reduce instead."),
        (70.0, replace(OWN, rule=FULL), "would cost $160 and save $90: not worth it."),
        (-5.0, OWN, "would cost $160 and save $165: too little to matter."),
        (
            -50.0,
            OWN,
            "would cost $160 and save $210, but keep less surely to at most 5 % of "
            "cars leaving damp on average.",
        ),
    ],
)
def test_why_nobody_more_is_advised(more: float, own: HandsRow, says: str) -> None:
    """What one person more would cost and save, and what follows."""
    answer = with_hands(own, own, row(1, FULL, more, 160.0, 0.04), 0.0)
    said = hands_words(answer, "si")
    assert said is not None
    assert text(said).strip() == f"One more person at the exit from 11:00 to 16:00 {says}"
    assert answer_words(answer, "si").lead == answer_words(switch(), "si").lead


def test_what_is_dearer_says_what_it_is_for() -> None:
    """Where the own people miss the wish, the pair that keeps it may cost more, and says so."""
    dearer = replace(ONE, more=80.0)
    said = hands_words(with_hands(dearer, OWN, dearer, 0.0), "si")
    assert said is not None
    assert "With your own people no rule meets at most" in text(said.rest)
    assert "this does, for about $80 a day more, $100 of wages counted." in text(said.rest)


def test_what_misses_the_wish_even_so_says_it() -> None:
    """Where no pair meets the wish, the best one does not pass for one that does."""
    wet = replace(ONE, keeps=False, left_damp_share=0.09)
    said = hands_words(with_hands(wet, OWN, wet, 0.0), "si")
    assert said is not None
    assert "9 % of the cars leave damp instead of 12 %. Even so it misses at most" in text(
        said.rest
    )


def test_the_table_has_a_row_for_each_pair() -> None:
    """Own people with the day's cost, others with the difference to it."""
    table = hands_of(with_hands(ONE, OWN, ONE, 0.0), "si")
    assert table is not None
    own, one = table.rows
    assert (own[0], own[-2]) == ("Your own people", "$4,000")
    assert one[0].replace(NARROW, PLAIN) == "1 more from 11:00 to 16:00"
    assert one[-2].replace(NARROW, PLAIN) == "−$530"
    assert [len(cells) for cells in table.rows] == [len(table.heads)] * 2
    assert hands_of(switch(), "si") is None


def test_what_goes_by_the_people_planned_says_so() -> None:
    """Where more are advised, the sheet and the cues say that they go by the people planned, and
    what is advised; else they say nothing of it."""
    said = other_advice(with_hands(ONE, OWN, ONE, 0.0), "si")
    assert said.startswith("This goes by the people planned now. More are advised: Wipe in full")
    assert "Put one more person with towels at the exit from 11:00 to 16:00." in said
    assert other_advice(with_hands(OWN, OWN, ONE, 0.0), "si") == ""
    assert other_advice(switch(), "si") == ""

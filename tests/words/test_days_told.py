"""Sentences about a day, past, planned or to come, by what there is to tell of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any, cast

import pytest

from app.answers.arrivals import ArrivalsView
from app.words import happened
from app.words.answer import (
    answer_sentences,
    money_words,
    narrow_words,
    opening_words,
    sure_words,
)
from app.words.coming import coming_answer, coming_sure, days_of
from app.words.expected import expected_words
from app.words.hands import hands_line, hands_of, hands_words, people_words
from app.words.today import short_rule
from sim.day.figures import Figure, Range
from sim.day.rules import FULL, REDUCED
from sim.decide.answer import Opening, Widener
from sim.decide.switching.answer import Hands, MoreHands
from sim.inputs import TOGETHER, DemandSpread
from sim.learn.happened import DayHappened, Held, InRange
from sim.learn.logged import Switch
from tests.pages import fixture_comparison as invented
from tests.pages import further_content as ahead
from tests.pages.switch_content import clock, switch
from tests.plain import plain
from tests.words.test_hands_words import ONE, OWN, with_hands

DAY = date(2026, 7, 18)
NOBODY = Figure(None, None)


# ---- the answer of a plan ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("impatient", "said"),
    [
        (90.0, "All 80 leave because the wait is longer than they accept."),
        (10.0, "All 80 find the stack full."),
    ],
)
def test_a_line_that_no_car_gets_through_says_why(impatient: float, said: str) -> None:
    """Too long a wait, or no room: whichever loses more cars."""
    day = invented.one_scenario()
    none = invented.figure(0, 0, 0, 0)
    lost = invented.figure(impatient, 0, impatient, impatient)
    day = invented.with_figures(day, 0, cars_washed=none, cars_lost_impatient=lost)
    answer, helps = answer_sentences(day)
    assert plain(answer) == f"Not one car gets through. {said}"
    assert str(helps).startswith("Look at the line first. No wiping rule changes this")


def test_a_plan_in_which_no_car_is_wiped_says_so() -> None:
    """Without a wiped car there is no share of damp ones."""
    day = invented.with_figures(invented.one_scenario(), 0, left_damp_share=NOBODY)
    assert answer_sentences(day)[0].rest.startswith("no car is wiped.")


def test_a_difference_in_money_is_told_by_its_sign() -> None:
    """More, less, or nothing where there is none."""
    assert [money_words(said) for said in ("", "+$40", "−$40")] == [
        "",
        "The day earns about $40 more.",
        "The day earns about $40 less.",
    ]


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("full", "Stay on full wiping all day."),
        ("reduced", "Stay on reduced wiping all day."),
        ("class van", "Reduce wiping for van."),
        ("clock 12:00-16:00 or class van", "Reduce wiping 12:00–16:00, or for van."),
        ("crew cars 120-90", "Reduce wiping from 120 cars counted in the last hour down to 90."),
    ],
)
def test_every_rule_is_an_order(rule: str, said: str) -> None:
    """Of one term or of several, by what it goes."""
    day = invented.with_scenario(invented.quiet_day(), 0, rule=rule)
    assert answer_sentences(replace(day, columns=day.columns[:2]))[0].lead == said


def test_the_cloth_at_opening_without_an_evening_before() -> None:
    """An evening is named by its day; what somebody entered by that."""
    entered = opening_words(Opening(0.3, "weighing", None))
    evening = opening_words(Opening(0.3, "evening", DAY))
    assert "the night after it" in evening
    assert entered == "a weighing"


@pytest.mark.parametrize(
    ("like_days", "said"),
    [
        (None, "“Cars expected”"),
        (TOGETHER, "“Cars expected: by all counts together”"),
        (0, "“Cars expected: as typed, not counted”"),
        (1, "“Cars expected: the count of one like day”"),
        (4, "“Cars expected: a mean of 4 like days”"),
    ],
)
def test_cars_expected_are_named_by_what_tells_them(like_days: int | None, said: str) -> None:
    """Whatever the cars expected rest on is named where they widen the answer, and no measurement
    would settle it."""
    turns = (Widener("cars_expected", 0.6),)
    day = invented.peak_day_over_sites()
    spread = DemandSpread(like_days=cast(int, like_days))
    day = replace(day, conditions=replace(day.conditions, spread=spread))
    rivals = (invented.standing(0.3, turns=turns), invented.standing(), invented.standing())
    narrow = narrow_words(invented.with_standing(day, 2, *rivals))
    assert narrow is not None
    assert said in narrow.wide
    assert narrow.act == ""


def test_days_tell_of_damp_cars_only_where_these_decide() -> None:
    """Without drawn sites an advice is told by days; of damp cars where they differ strongly."""
    day = invented.peak_day()
    both = sure_words(day, 2).rest
    assert "leaves fewer cars damp than “Always full”" in both
    day = invented.with_apart(day, 2, "left_damp_share", word="can’t tell")
    money = sure_words(day, 2).rest
    assert "simulated days this earns more than “Always full”." in money
    assert "fewer cars damp" not in money


# ---- the coming days -----------------------------------------------------------------------------


def test_days_that_all_ask_for_reducing_are_told_as_all() -> None:
    """One alone, all, or none of them."""
    one = ahead.day("2026-07-18", ahead.plan(REDUCED))
    two = ahead.day("2026-07-19", ahead.plan(REDUCED))
    both = coming_answer(ahead.coming(one, two))
    assert both.lead == "Reduce for a time on all 2 days with cars."
    assert coming_answer(ahead.coming(one)).lead == ("Reduce for a time on the one day with cars.")


def test_how_sure_says_nothing_of_days_without_a_plan() -> None:
    """Where no day could be simulated, nothing is firm or open."""
    closed = ahead.day("2026-07-20", None, "closed")
    said = coming_sure(ahead.coming(closed), frozenset())
    assert said.lead == ""
    assert "irm" not in said.rest


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (0.2, "it costs as much."),
        (40.0, "the day then costs $40 less."),
        (-40.0, "the day then costs $40 more."),
    ],
)
def test_the_own_people_are_told_beside_more_at_the_exit(more: float, said: str) -> None:
    """What the day costs with nobody more, the difference as cents never show it."""
    with_more = replace(
        ahead.plan(FULL), hands=MoreHands(1, 39_600.0, 57_600.0), own_rule=REDUCED, more=more
    )
    line = days_of(ahead.coming(ahead.day("2026-07-18", with_more)), "us")[0]
    assert "Put one more person with towels at the exit from 11:00 to 16:00." in plain(line.rule)
    assert plain(line.own).startswith("Your own people alone:")
    assert plain(line.own).endswith(said)


# ---- all counts together -------------------------------------------------------------------------


def arrivals(is_used: bool, wet_days: int, country: str, full: int) -> ArrivalsView:
    """What is learnt of arrivals, of which no day is to come."""
    score = SimpleNamespace(missed_by=80.0, held_80=0.8, held_95=0.95)
    judged = SimpleNamespace(days=56, together=score, like=score, is_used=is_used)
    rain = SimpleNamespace(factor=0.62)
    forecast = SimpleNamespace(
        days=(), wet_days=wet_days, wet=rain, after_rain=SimpleNamespace(factor=1.2), full=full
    )
    found = SimpleNamespace(
        judged=judged, forecast=forecast, cars=(), like_cars=(), country=country, decided=DAY,
        through=DAY,
    )  # fmt: skip
    asked = SimpleNamespace(data=SimpleNamespace(stands_on=None))
    return cast(ArrivalsView, SimpleNamespace(key="k", result=found, failed="", asked=asked))


def test_all_counts_together_say_what_they_learnt() -> None:
    """Rain, public holidays and full hours have a sentence each where there were any."""
    said = expected_words(arrivals(True, 1, "US", 2), DAY)
    assert said.finding == "Used: all counts together."
    assert "missed a day by 80 cars, like days by 80." in said.why
    _held, rain, holidays, full = said.notes
    assert rain.startswith("1 wet day tells what rain does: 0.62 times the cars of a dry day")
    assert holidays.startswith("Public holidays of US")
    assert full.startswith("2 hours were full")


def test_what_is_not_surely_better_is_not_used() -> None:
    """Like days stay, and why; nothing is said of rain, holidays and full hours without any."""
    said = expected_words(arrivals(False, 0, "", 0), DAY)
    assert said.finding == "Used: like days."
    assert "like days by 80: not surely better." in said.why
    assert len(said.notes) == 1


# ---- more hands ----------------------------------------------------------------------------------


def test_nobody_more_is_an_order_too() -> None:
    """And somebody all day has no hours."""
    assert people_words(MoreHands()) == "Nobody more at the exit."
    all_day = people_words(MoreHands(2, 25_200.0, 72_000.0), whole_day=True)
    assert all_day == "Put 2 more people with towels at the exit all day."


def test_a_dearer_pair_that_misses_the_wish_says_that_none_meets_it() -> None:
    """Neither own people nor more keep it: the nearest is told as such; where the own people keep
    it too, the dearer one is surer."""
    near = replace(ONE, keeps=False, more=80.0)
    said = hands_words(with_hands(near, OWN, near, 0.0), "si")
    assert said is not None
    assert "with your own people or more; this comes nearest, for about $80" in plain(said.rest)
    surer = replace(ONE, more=80.0)
    said = hands_words(with_hands(surer, replace(OWN, keeps=True), surer, 0.0), "si")
    assert said is not None
    assert "more surely than your own people can, for about $80 a day more" in plain(said.rest)


def test_hands_are_told_beside_the_plan_where_it_has_the_rule() -> None:
    """The day's own table has the rule of the own people: their row is that of the table."""
    own = replace(OWN, rule=FULL, left_damp_share=0.179)
    table = hands_of(with_hands(ONE, own, ONE, 0.0), "si")
    assert table is not None
    assert plain(table.rows[0][2]) == "17.9 %"


def test_hands_in_a_line_are_better_worse_or_nothing() -> None:
    """By what the day costs more with them."""
    worse = replace(ONE, more=70.0)
    assert hands_line(switch()) == ""
    assert plain(hands_line(with_hands(ONE, OWN, ONE, 0.0))).endswith("about $530 a day better.")
    assert plain(hands_line(with_hands(OWN, OWN, worse, 0.0))).endswith("about $70 a day worse.")
    none = Hands(OWN, OWN, None, (OWN,), 0.98, None, None, 10.0, 9_000)
    assert hands_line(replace(switch(), hands=none)) == ""


# ---- a day beside its plan -----------------------------------------------------------------------


def told(right: bool | None, followed: bool | None, **more: Any) -> DayHappened:
    """A day on which 900 cars came where 600 to 800 were told."""
    cars = Held("cars_arrived", 700.0, Range(600.0, 800.0), 900.0, None, "above")
    inside = Held("cars_lost", 3.0, Range(0.0, 9.0), 4.0, None, "inside")
    logged = SimpleNamespace(sets=((36_000.0, "Blue"),), switches=more.pop("noted", ()))
    found = {"switches": (), "late": (), **more}
    return cast(
        DayHappened,
        SimpleNamespace(
            held=(cars, inside), logged=logged, right=right, followed=followed, **found
        ),
    )


@pytest.mark.parametrize(
    ("right", "followed", "lead"),
    [
        (False, False, "The plan was wrong, and it was not followed."),
        (False, True, "The plan was wrong for this day."),
        (True, False, "The plan was not followed."),
        (None, True, "The plan was followed."),
        (True, True, "The day went as it was told."),
        (None, None, "Too little was noted to say how the day went."),
    ],
)
def test_a_day_is_told_by_plan_and_crew(
    right: bool | None, followed: bool | None, lead: str
) -> None:
    """Whether the plan was right and whether it was followed are two things."""
    assert happened.answer(told(right, followed)).lead == lead


def test_what_was_wrong_is_told_with_what_was_said() -> None:
    """Figures outside of their range alone, with both numbers."""
    said = plain(happened.answer(told(False, True)).rest)
    assert "900, told were 600–800." in said
    assert said.count("told were") == 1


def test_what_was_noted_beside_a_plan_without_times() -> None:
    """Sets that were put on; switches where the plan has none, with the reason if one is given."""
    switched = (Switch(43_200.0, "reduced", "rain"), Switch(50_400.0, "full", ""))
    said = [plain(one) for one in happened.noted_words(told(True, None, noted=switched))]
    assert said[0] == "Blue was put on at 10:00."
    assert said[1].endswith("at 12:00: “rain”.")
    assert said[2].endswith("at 14:00.")


def test_a_month_with_too_few_days_inside_is_off() -> None:
    """That nine in ten should; and that so few are no chance, where they are none."""
    ends = Range(0.1, 0.5)
    fine, off = InRange(20, 18, ends, is_off=False), InRange(20, 6, ends, is_off=True)
    assert happened.month_answer(fine, 0).rest == "About nine days in ten should."
    assert "what is told is off. 1 of the others was wet" in happened.month_answer(off, 1).rest


# ---- Today ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (REDUCED, "reduced all day"),
        (FULL, "full all day"),
        (clock((12.0, 16.0)), "reduced 12:00–16:00"),
    ],
)
def test_a_rule_in_three_words(rule: Any, said: str) -> None:
    """All day, never, or from when to when."""
    assert short_rule(rule) == said

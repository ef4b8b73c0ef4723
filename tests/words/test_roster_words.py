"""Why there is no roster, each rule that a way out breaks, and what else would help, in words."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import pytest

from app.words.staff import breach, ways_out, why_none
from app.words.why import help_line, usable
from sim.day.rules import FULL
from sim.decide.staff.answer import Breach, Conflict, WayOut
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.reasons import Remedy, RemedyKind
from tests.plain import plain


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (Breach("cover", "", 0, 1.5), "Monday: 1.5 h of work without a person."),
        (Breach("away", "Ana", 2, 1.0), "Ana works on Wednesday, though away then."),
        (
            Breach("skill", "", 5, 4.0, ("loader", "lead")),
            "Saturday: 4 h without enough people who can be loader or lead.",
        ),
        (
            Breach("longest", "Ana", 6, 2.0),
            "Ana works 2 h longer on Sunday than the longest shift allowed.",
        ),
        (Breach("most_hours", "Ben", -1, 3.2), "Ben works 3 h more than the most allowed."),
        (Breach("least_hours", "Ben", -1, 8.3), "Ben gets 8.5 h less than the least agreed."),
        (Breach("days_off", "Ben", -1, 1.0), "Ben works a day too many."),
        (Breach("days_off", "Ben", -1, 2.0), "Ben works 2 days too many."),
        (Breach("rest", "Ana", 3, 1.0), "Ana rests too little before Thursday."),
        (Breach("weekend", "Ana", -1, 1.0), "Ana works a weekend day too many in two weeks."),
        (Breach("weekend", "Ana", -1, 2.0), "Ana works 2 weekend days too many in two weeks."),
    ],
    ids=lambda one: f"{one.rule} {one.amount:g}" if isinstance(one, Breach) else "",
)
def test_a_broken_rule_is_told_with_whom_and_how_much(one: Breach, said: str) -> None:
    """Hours to the half hour, days by their names, one apart from several."""
    assert plain(breach(one)) == said


def test_rules_in_conflict_are_told_with_their_days_and_ways_out() -> None:
    """Which rules, about which days; whether each has a part in it, and whether less is enough."""
    away = WayOut((Breach("away", "Ana", 2, 1.0),), (), 1.0, least=True)
    both = WayOut((*away.breaches, Breach("days_off", "Ben", -1, 1.0)), (), 2.0, least=False)
    proved = Conflict(("cover", "away"), (2,), (away, both))
    assert plain(why_none(proved)) == (
        "No roster meets all of this at once: people needed in every half-hour and when people "
        "can’t work. It is about Wednesday."
    )
    assert list(map(plain, ways_out(proved))) == [
        "Ana works on Wednesday, though away then.",
        "Ana works on Wednesday, though away then. Ben works a day too many. "
        "Less than that may be enough.",
    ]
    open_ = Conflict(("rest",), (), (), minimal=False)
    assert plain(why_none(open_)) == (
        "No roster meets all of this at once: rest between shifts. "
        "Time ran out before it was clear whether each of them has a part in it."
    )


def found_with(rows: tuple[Remedy, ...]) -> WhenToReduce:
    """What an answer has of remedies."""
    return cast(WhenToReduce, SimpleNamespace(remedies=SimpleNamespace(rows=rows)))


@pytest.mark.parametrize(
    ("kind", "amount", "said"),
    [
        ("slower_belt", 0.3048, "Belt at 60 ft/min"),
        ("dry_set", 43_200.0, "A dry set at 12:00, 20 min"),
        ("drying_agent", 0.8, "A drying agent that leaves 80 % of the film, a guess"),
        ("second_cloth", 0.0, "The second kind of cloth"),
        ("finisher", 1.0, "One finisher more"),
        ("finisher", 2.0, "2 finishers more"),
    ],
)
def test_a_remedy_is_called_by_what_it_does(kind: RemedyKind, amount: float, said: str) -> None:
    """The one that gains is told with what the day costs less; turning cars away is nothing that a
    plan can have."""
    gains = Remedy(kind, amount, 20.0, FULL, True, 0.02, 8.0, 1.0, 400.0, 5.0, 3.0, 10.0, -40.0)
    away = Remedy("fewer_cars", 0.1, 0.0, FULL, True, 0.02, 8.0, 40.0, 360.0, 6.0, 0.0, 90.0, 80.0)
    answer = found_with((away, gains))
    assert [(at, plain(words)) for at, words in usable(answer, "us")] == [(1, said)]
    assert plain(help_line(answer, "us")) == f"{said}: the day costs $40 less."
    assert help_line(found_with((away,)), "us") == ""

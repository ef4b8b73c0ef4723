"""In cues that the crew can see: the part of the page, the day sheet and the terminal."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import pytest
from rich.console import Console

from app.cli import terminal
from app.words.cues import cues_of, earlier_words, expected_damp, sheet_act, sheet_cues
from app.words.rules import act_words
from app.words.switching import answer_words, switch_sure
from sim.day.figures import Range
from sim.day.rules import FULL, REDUCED, Classes, CrewCars, CrewClock, CrewStrip, Rule
from sim.decide.switching.advice import Gain, PairedComparison, Unit
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.cues import CrewPace, CueFound, CueKind, Cues, RuleMeans
from sim.inputs import Site
from tests.pages.switch_content import band, clock, means, switch

SITE = Site("Sheet")
PACE = CrewPace(180.0, 0.6, 600.0, 0.05, 0.0, 0.156)
CLOCK = Rule(((CrewClock(((42900.0, 57300.0),)),),))
CARS = Rule(((CrewCars(118.0, 95.0),),))
STRIP = Rule(((CrewStrip(0.64, 0.56),),))


def measured(rule: Rule, damp: float, keeps: bool = True) -> RuleMeans:
    """A rule with its figures."""
    return RuleMeans(rule, 1840 * damp, damp, 1210.4, 3120.7, keeps, keeps)


def against(rule: Rule, cost: float) -> PairedComparison:
    """What a cue changes against another rule."""
    return PairedComparison(rule, means(-127.0, -21.0, -0.011, cost), 0.9, 0.1, 192, None)


def cue(kind: CueKind, rule: Rule, damp: float, keeps: bool, lost: Gain) -> CueFound:
    """A cue that gains over wiping in full all day."""
    return CueFound(
        rule, 1840 * damp, damp, 1210.4, 3120.7, keeps, keeps, kind, lost, lost,
        against(clock((12, 16)), 1.0), against(FULL, -12.0), True, 9,
    )  # fmt: skip


def with_cues(
    use: CueKind | None = "clock", unit: Unit = "full_cars", chosen: Rule | None = None
) -> WhenToReduce:
    """An answer with three cues: losses of 12, 34 and none that is sure."""
    told = switch(chosen)
    found = (
        cue("clock", CLOCK, 0.0512, True, Gain(12.4, Range(8.6, 16.1))),
        cue("cars", CARS, 0.067, False, Gain(34.2, Range(28.0, 41.0))),
        cue("strip", STRIP, 0.052, True, Gain(1.0, Range(-3.0, 5.0))),
    )
    cues = Cues(
        found, use, measured(FULL, 0.17, keeps=False), measured(told.chosen, 0.0498),
        measured(band(0.5, 0.4), 0.049), unit, PACE, 2600, 256,
    )  # fmt: skip
    return replace(told, cues=cues)


def changed(answer: WhenToReduce, **values: Any) -> WhenToReduce:
    """The answer with something else of its cues."""
    assert answer.cues is not None
    return replace(answer, cues=replace(answer.cues, **values))


def test_the_cue_to_use_comes_first_with_what_it_loses() -> None:
    """Which cue, what the crew does by it, what that loses and among which it is the best."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    assert part.lead == "Go by the clock."
    assert part.says.startswith("Reduce at 11:55, go back at 15:55.")
    assert "loses the worth of 12 full wipes a day (9 to 16) against the advice" in part.says
    assert (
        "Of the cues that keep to at most 5\u00a0% of cars leaving damp in expectation" in part.says
    )


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("money", "it loses $12 a day ($9 to $16) against"),
        ("left_damp", "it loses 12 more cars leaving damp a day (9 to 16) against"),
    ],
)
def test_a_loss_is_told_in_what_was_wished_for(unit: Unit, said: str) -> None:
    """Money by least cost; cars leaving damp where no rule keeps to the wish."""
    part = cues_of(with_cues(unit=unit), "si")
    assert part is not None
    assert said in part.says


def test_a_loss_that_may_be_none_is_not_given_a_number() -> None:
    """Where the run error reaches zero, no loss is claimed."""
    part = cues_of(with_cues("strip"), "si")
    assert part is not None
    assert "it loses nothing that the simulated days could tell" in part.says


def test_no_cue_better_than_staying_on_full_says_so() -> None:
    """Where no cue gains more than matters, page, part and day sheet say to stay on full, with its
    cars leaving damp, what the rule to the letter would be and what the best cue would gain."""
    told = with_cues(None, "money")
    assert told.cues is not None
    useless = [
        replace(one, gains=False, over_constant=against(FULL, -0.6)) for one in told.cues.found
    ]
    told = changed(told, found=tuple(useless))
    told = replace(told, wish=replace(told.wish, kind="cost", slack=5.0))
    part, said = cues_of(told, "si"), answer_words(told, "si")
    assert part is not None
    assert part.lead == "Stay on full."
    assert "no cue that a crew can see gains more than $5 a day" in part.says
    assert "The best of them, weight of one strip, makes 21 fewer cars leaving damp" in part.says
    assert (said.lead, sheet_act(told, "si")) == ("Wipe in full all day.",) * 2
    assert "about 1 car in 6 will leave damp" in str(said).replace("\u00a0", " ").lower()
    assert "Reduce at 12:00, go back at 16:00" in str(said)
    assert "beats" not in str(switch_sure(told, frozenset(), "si"))
    assert sheet_cues(told, SITE, "si") == ()
    assert told.column == told.columns.full
    assert with_cues().column == told.columns.chosen


def test_what_the_cue_gains_over_full_is_told() -> None:
    """Against wiping in full all day, in cars leaving damp, full wipes and money."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    assert (
        "Over “Wipe in full all day” it makes 21 fewer cars leaving damp, 130 fewer full wipes and "
        "$12 cheaper a day." in part.says
    )
    assert "Full all day" in {row[0] for row in part.rows}


def test_the_table_has_each_cue_and_the_rules_it_stands_for() -> None:
    """A row a cue with its thresholds, then the advice to the letter and the ideal band."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    rows = {row[0]: row[1:] for row in part.rows}
    assert rows["Clock"][:3] == ("11:55", "15:55", "5.1\u00a0%")
    assert rows["Cars washed in the last hour"][:2] == ("118 or more", "95 or fewer")
    assert rows["Cars washed in the last hour"][5:] == ("34", "34")
    assert rows["Weight of one strip"][:2] == ("640\u00a0g or more", "560\u00a0g or less")
    assert rows["The advice, done to the letter"][3:5] == ("1,210", "$3,121")
    assert "The ideal band, which nobody sees" in rows
    assert all(len(row) == len(part.heads) for row in part.rows)
    part = cues_of(with_cues(), "us")
    assert part is not None
    weights = {row[0]: row[1] for row in part.rows}["Weight of one strip"]
    assert weights == "22.6\u00a0oz (640\u00a0g) or more"


def test_it_says_how_the_crew_was_simulated() -> None:
    """Delay, looks and errors stand there, and that they are guessed."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    wanted = (
        "256 days", "3\u00a0min after the cue", "every 10\u00a0min", "off by 5\u00a0%",
        "weighs a strip every car", "off by 16\u00a0%", "guessed until you enter yours",
    )  # fmt: skip
    assert all(words in part.how[0] for words in wanted)


def test_without_a_switch_no_cue_is_needed() -> None:
    """All day the same: that is said; answers whose cues were not looked for have no such part."""
    for one in (FULL, REDUCED):
        part = cues_of(switch(one), "si")
        assert part is not None
        assert (part.lead, part.rows) == ("No cue is needed.", ())
        assert sheet_cues(switch(one), SITE, "si") == ()
    part = cues_of(switch(CARS), "si")
    assert part is not None
    assert part.lead == "The advice is in a cue already."
    assert cues_of(switch(), "si") is None


def test_cues_that_could_not_be_found_are_not_hidden() -> None:
    """Where no thresholds could be read off, the part says so."""
    told = changed(with_cues(), found=(), use=None)
    part = cues_of(told, "si")
    assert part is not None
    assert part.lead == "No cue was found."
    assert sheet_act(told, "si") == act_words(told.chosen, told.crew_terms, "si")


def test_the_sheet_names_the_cue_to_go_by_first() -> None:
    """On the sheet the cue to use leads, the others follow in case that it fails."""
    told = with_cues("strip")
    assert told.cues is not None
    # whatever the order, the next best comes next
    told = changed(told, found=told.cues.found[::-1])
    first, second, third = sheet_cues(told, SITE, "si")
    assert first.name == "Weight of one strip"
    assert first.note.startswith(
        "Go by this. 15 minutes at least between two switches. Weigh every car"
    )
    assert "locked out" in first.note
    assert (second.name, second.note) == ("Clock", "If that fails.")
    assert third.note == "If that fails. Count every 10\u00a0min."
    wanted = "Reduce when a strip weighs 640\u00a0g or more, until it weighs 560\u00a0g or less."
    assert sheet_act(told, "si") == wanted
    assert earlier_words(told, "si") == ""
    assert expected_damp(told) == (
        "Expected: 4.6\u00a0% of cars leave damp (2.1\u00a0% to 8.3\u00a0% at 9 of 10 sites like "
        "this), 5.2\u00a0% as the crew carries it out."
    )
    assert "crew" not in expected_damp(switch())


def test_signs_that_come_before_the_clock() -> None:
    """Who goes by the clock reduces earlier when a count or a weight says so."""
    assert earlier_words(with_cues(), "si") == (
        "If you have washed 118 or more cars in the last hour, or a strip weighs 640\u00a0g or "
        "more: reduce earlier than the clock says."
    )


def test_who_is_spared_stays_in_the_order() -> None:
    """A cue for some classes names them."""
    told = with_cues("cars")
    some = Rule(((CrewCars(60.0, 40.0), Classes(("van",))),))
    one = cue("cars", some, 0.067, True, Gain(34.2, Range(28.0, 41.0)))
    told = changed(told, found=(one,))
    assert sheet_act(told, "si") == (
        "Reduce when 60 or more cars were washed in the last hour, until 40 or fewer were and "
        "for van only."
    )


def test_the_terminal_prints_the_cues(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command tells the same as the page."""
    monkeypatch.setattr(terminal, "SWITCH_SHOWN", ("left_damp_share",))
    out = io.StringIO()
    told = with_cues(chosen=clock((12, 16)))
    terminal.print_switch(Console(file=out, width=200), told, "si", (), "What is damp.")
    text = out.getvalue()
    assert "Go by the clock. Reduce at 11:55, go back at 15:55." in text
    assert "118 or more" in text
    assert "guessed until you enter yours" in text

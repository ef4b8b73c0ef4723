"""In cues that the crew can see: the part of the page, the day sheet and the terminal."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from app.answers.switching import levelled
from app.cli import terminal
from app.words.cues import (
    cues_of,
    earlier_words,
    expected_damp,
    sheet_cues,
    side_percent,
)
from app.words.figures import cells_of
from app.words.rules import act_words
from app.words.switching import answer_words, switch_sure
from app.words.why import why_facts
from sim.day.figures import FIGURES, Range
from sim.day.rules import (
    FULL,
    REDUCED,
    Classes,
    CrewCars,
    CrewClock,
    CrewHoods,
    CrewStrip,
    Rule,
    parse_rule,
)  # fmt: skip
from sim.decide.firm import Standing
from sim.decide.switching.advice import Alternative, Gain, PairedComparison, Rival, Unit
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.cues import CrewPace, CueFound, Cues, RuleMeans
from sim.decide.switching.thresholds import CueKind
from sim.inputs import INPUTS, Site
from tests.charts.drawn import number
from tests.pages import fixture_comparison as invented
from tests.pages.switch_content import band, clock, means, switch, with_reasons
from tests.pages.switch_visitor import SHEET, visiting

SITE = Site("Sheet")
PACE = CrewPace(180.0, 0.6, 600.0, 0.05, 0.0, 0.156, 1200.0, 0.05, 60.0, 180.0, 600.0)
CLOCK = Rule(((CrewClock(((42900.0, 57300.0),)),),))
CARS = Rule(((CrewCars(118.0, 95.0),),))
HOODS = Rule(((CrewHoods(6.0, 2.0),),))
STRIP = Rule(((CrewStrip(0.64, 0.56),),))


def measured(rule: Rule, damp: float, keeps: bool = True) -> RuleMeans:
    """A rule with its figures."""
    return RuleMeans(rule, 1840 * damp, damp, 1210.4, 3120.7, keeps, keeps, False)


def against(rule: Rule, cost: float) -> PairedComparison:
    """What a cue changes against another rule."""
    return PairedComparison(rule, means(-127.0, -21.0, -0.011, cost), 0.9, 0.1, 192, None)


def cue(
    kind: CueKind, rule: Rule, damp: float, keeps: bool, lost: Gain, reading: float = 0.0
) -> CueFound:
    """A cue that gains over wiping in full all day."""
    return CueFound(
        rule, 1840 * damp, damp, 1210.4, 3120.7 + reading, keeps, keeps, False, kind, lost, lost,
        against(clock((12, 16)), 1.0), against(FULL, -12.0), reading, 60.0, 180.0 * reading,
        True, 9,
    )  # fmt: skip


def with_cues(
    use: CueKind | None = "clock",
    unit: Unit = "full_cars",
    chosen: Rule | None = None,
    rival: Rival | None = None,
) -> WhenToReduce:
    """An answer with four cues: losses of 12, 34, 2 and none that is sure."""
    told = switch(chosen)
    found = (
        cue("clock", CLOCK, 0.0498, True, Gain(12.4, Range(8.6, 16.1))),
        cue("cars", CARS, 0.067, False, Gain(34.2, Range(28.0, 41.0)), 6.0),
        cue("hoods", HOODS, 0.0493, True, Gain(2.0, Range(1.0, 5.0)), 18.0),
        cue("strip", STRIP, 0.042, True, Gain(1.0, Range(-3.0, 5.0)), 40.0),
    )
    cues = Cues(
        found, use, measured(FULL, 0.17, keeps=False), measured(told.chosen, 0.0498),
        measured(band(0.5, 0.4), 0.049), unit, rival, PACE, 2600, 256,
    )  # fmt: skip
    columns = replace(told.columns, told=told.columns.full) if use is None else told.columns
    return replace(told, cues=cues, columns=columns)


def changed(answer: WhenToReduce, **values: Any) -> WhenToReduce:
    """The answer with something else of its cues."""
    assert answer.cues is not None
    return replace(answer, cues=replace(answer.cues, **values))


def order(told: WhenToReduce) -> str:
    """What the crew is told."""
    return act_words(told.told, told.crew_terms, "si")


def test_the_cue_to_use_comes_first_with_what_it_loses() -> None:
    """Which cue, what the crew does by it, what that loses and among which it is the best."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    assert part.lead == "Go by the clock."
    assert part.says.startswith("Reduce at 11:55, go back at 15:55.")
    assert "loses the worth of 12 full wipes a day (9 to 16) against the advice" in part.says
    assert "Of the cues that meet at most 5\u00a0% of cars leaving damp on average" in part.says


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("money", "it loses $12 a day ($9 to $16) against"),
        ("left_damp", "it loses 12 more cars leaving damp a day (9 to 16) against"),
    ],
)
def test_a_loss_is_told_in_what_was_wished_for(unit: Unit, said: str) -> None:
    """Money by least cost; cars leaving damp where no rule meets the wish."""
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
    assert part.lead == "Wipe in full all day."
    assert "no cue that a crew can see gains more than $5 a day" in part.says
    assert "The best of them, clock, makes 21 fewer cars leaving damp" in part.says
    assert (said.lead, act_words(told.told, told.crew_terms, "si")) == (
        "Wipe in full all day.",
    ) * 2
    assert "about 1 car in 6 will leave damp" in str(said).replace("\u00a0", " ").lower()
    assert "Reduce at 12:00, go back at 16:00" in str(said)
    assert "beats" not in str(switch_sure(told, frozenset(), "si"))
    assert sheet_cues(told, SITE, "si") == ()


def test_page_sheet_and_terminal_tell_the_cue_alike(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A rule that follows the cloth is told by the cue to use, first of all and word for word the
    same everywhere; no strip is weighed where the clock is gone by."""
    told = with_cues("clock", chosen=band(0.5, 0.4))
    wanted = "Reduce at 11:55, go back at 15:55."
    said = answer_words(told, "si")
    assert (said.lead, order(told)) == (wanted, wanted)
    assert "strip" not in str(said)
    assert "On a day as expected" not in str(said)
    assert "On a day as expected that is mostly" in str(answer_words(with_cues("hoods"), "si"))
    other = Alternative(band(0.6, 0.4), True, 0.3, means(12.0, 3.0, 0.002, -2.0))
    close = replace(told, settled=0.7, alternatives=(other,))
    assert "The cue stands for a rule that the simulated" in switch_sure(close, (), "si").rest
    with visiting(tmp_path, monkeypatch) as visitor:
        visitor.store(told)
        assert f'<p class="answer"><b>{wanted}</b>' in visitor.text()
        assert wanted in visitor.text(SHEET)
    monkeypatch.setattr(terminal, "SWITCH_SHOWN", ("left_damp_share",))
    out = io.StringIO()
    terminal.print_switch(Console(file=out, width=200), told, "si", (), "What is damp.")
    assert out.getvalue().splitlines()[1].startswith(wanted)


def test_what_is_kept_is_told_of_the_cue() -> None:
    """Where no cue that is worth its looks meets the limit, answer and firmness say so; where
    one misses it by less than matters, that it is open."""
    told = with_cues("cars")
    told = replace(told, wish=replace(told.wish, kind="days"))
    assert told.limit == "misses"
    assert "No cue that is worth its looks meets at most 5" in str(answer_words(told, "si"))
    said = switch_sure(told, frozenset(), "si")
    assert str(said).startswith("Not firm: no cue worth its looks meets what you allow.")
    assert told.cues is not None
    nearly = tuple(replace(one, keeps=False, nearly=True) for one in told.cues.found)
    told = changed(told, found=nearly)
    assert told.limit == "near"
    assert "whether it meets what you allow is open" in str(switch_sure(told, (), "si"))
    assert with_cues("clock").limit == "keeps"


@pytest.mark.parametrize(
    ("standing", "said"),
    [
        (Standing(192, 0.0, 0.0), "Firm. At 20 of 20 sites like yours nothing"),
        (Standing(192, 0.3, 0.0), "Not firm: at 6 of 20 sites like yours (192 were drawn) “Reduce"),
        (Standing(192, 0.0, 0.0, told=False), "Not firm: the simulated days do not tell it from"),
    ],
)
def test_who_stays_is_told_how_firm_that_is(standing: Standing, said: str) -> None:
    """Staying by one wiping all day is held against what needs no cue and against every cue, like
    any advice; that the crew was guessed is said until its inputs are entered."""
    told = with_cues(None, "money", rival=Rival(CARS, standing))
    told = replace(told, wish=replace(told.wish, kind="cost", slack=5.0))
    sure = switch_sure(told, frozenset(), "si")
    assert str(sure).startswith(said)
    assert "how wrong the crew is are guesses" in sure.rest
    assert "guesses until you enter" not in switch_sure(told, frozenset(INPUTS), "si").rest


def test_staying_may_spare_some_classes() -> None:
    """What needs no cue may reduce for some classes all day: all say for which."""
    some = Rule(((Classes(("van",)),),))
    told = changed(with_cues(None), constant=measured(some, 0.04))
    part = cues_of(told, "si")
    assert part is not None
    assert part.lead == answer_words(told, "si").lead == order(told) == "Reduce for van only."
    assert "Reduce for van only" in {row[0] for row in part.rows}


def test_what_the_cue_gains_over_full_is_told() -> None:
    """Against wiping in full all day, in cars leaving damp, full wipes and money."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    assert (
        "Over “Wipe in full all day” it makes 21 fewer cars leaving damp, 130 fewer full wipes and "
        "$12 cheaper a day." in part.says
    )
    assert "Wipe in full all day" in {row[0] for row in part.rows}


def test_the_table_has_each_cue_and_the_rules_it_stands_for() -> None:
    """A row a cue with its thresholds, then the advice to the letter and the ideal band."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    rows = {row[0]: row[1:] for row in part.rows}
    assert rows["Clock"][:4] == ("11:55", "15:55", "5.0\u00a0%", "yes")
    assert rows["Damp hoods among the last twenty"][:2] == ("6 or more", "2 or fewer")
    assert rows["Clock"][6] == "$0"
    assert rows["Weight of one strip"][5:7] == ("+$40", "$40")
    assert rows["Cars washed in the last hour"][:2] == ("118 or more", "95 or fewer")
    assert rows["Cars washed in the last hour"][7:] == ("34", "34")
    assert rows["Weight of one strip"][:2] == ("640\u00a0g or more", "560\u00a0g or less")
    assert rows["The advice, done to the letter"][4:6] == ("1,210", "$3,121")
    assert "The ideal band, which nobody sees" in rows
    assert all(len(row) == len(part.heads) for row in part.rows)
    part = cues_of(with_cues(), "us")
    assert part is not None
    weights = {row[0]: row[1] for row in part.rows}["Weight of one strip"]
    assert weights == "22.6\u00a0oz (640\u00a0g) or more"


def in_plan() -> WhenToReduce:
    """An answer whose rule the plan has, with cars leaving damp and costs of its three columns."""
    rule = parse_rule(invented.peak_day().columns[2].scenario.rule)
    told = with_cues(unit="money", chosen=rule)
    day = told.comparison
    for at, (damp, cost) in enumerate(((308.0, 4_127.0), (31.0, 4_391.0), (92.0, 3_748.0))):
        day = invented.with_figures(
            day, at, left_damp=invented.figure(damp, 4.0, 0.0, 600.0),
            cost=invented.figure(cost, 60.0, 3_000.0, 6_000.0),
        )  # fmt: skip
    return replace(told, comparison=day)


def printed(told: WhenToReduce, name: str) -> list[float]:
    """A figure of each column as it is printed."""
    return [number(one.value) for one in cells_of(FIGURES[name], told.comparison, "us")]


def test_cues_stand_at_the_level_of_the_plan() -> None:
    """The advice has the plan’s cars leaving damp and cost, though its cues were measured on days
    of their own; another rule of the plan has the plan’s too; whatever the plan has not differs
    from the advice as measured, and costs are told by what they are more."""
    told = in_plan()
    there, columns = levelled(told).cues, told.comparison.columns
    assert there is not None
    assert told.cues is not None
    assert (there.chosen.cost, there.constant.cost) == (3_748.0, 4_127.0)
    assert there.constant.left_damp_share == columns[0].value("left_damp_share")
    for one, own in zip(there.found, told.cues.found, strict=True):
        more = own.cost - told.cues.chosen.cost
        assert one.cost - there.chosen.cost == pytest.approx(more)
    part = cues_of(levelled(told), "us")
    assert part is not None
    at, damp = part.heads.index("Cost of the day"), part.heads.index("Leave damp")
    rows = {row[0]: row for row in part.rows}
    shown = printed(told, "cost")
    assert number(rows["The advice, done to the letter"][at]) == shown[2]
    assert number(rows["Wipe in full all day"][at]) == shown[0] - shown[2]
    assert rows["Weight of one strip"][at] == "+$40"
    assert number(rows["Wipe in full all day"][damp]) == printed(told, "left_damp_share")[0]


def test_gains_are_differences_of_what_stands_beside_them() -> None:
    """Why this advice tells over the plan, and of the runner-up, what the plan’s columns differ by
    as they are printed, not what the days of the search had."""
    told = in_plan()
    damp, cost = printed(told, "left_damp"), printed(told, "cost")
    because = with_reasons(told).why
    assert because is not None
    assert because.runner_up is not None
    because = replace(because, runner_up=replace(because.runner_up, rule=REDUCED))
    facts = dict(why_facts(replace(told, why=because), "us"))
    assert f"{damp[0] - damp[2]:,.0f} fewer cars leaving damp" in facts["Expected gain"]
    assert f"${cost[0] - cost[2]:,.0f} cheaper" in facts["Expected gain"]
    assert f"{damp[2] - damp[1]:,.0f} fewer cars leaving damp" in facts["Runner-up"]
    assert f"${cost[1] - cost[2]:,.0f} dearer" in facts["Runner-up"]


def test_it_says_how_the_crew_was_simulated() -> None:
    """Delay, looks and errors stand there, and that they are guessed."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    wanted = (
        "256 days", "3\u00a0min after the cue", "every 10\u00a0min", "off by 5\u00a0%",
        "weighs a strip every car", "off by 16\u00a0%", "guessed until you enter yours",
    )  # fmt: skip
    assert all(words in part.how[0] for words in wanted)
    takes = ("count takes 1\u00a0min", "twenty hoods 3\u00a0min", "a weighing 10\u00a0min")
    assert all(words in part.how[1] for words in takes)
    assert "No cue is advised that costs more to read than it saves" in part.how[1]
    assert "every 20\u00a0min and tells 5\u00a0% of them wrongly" in part.how[0]


def test_reading_a_cue_has_its_price_beside_it() -> None:
    """The clock costs nothing to read; hoods say what of a person they take, what that costs, and
    what they would save without."""
    part = cues_of(with_cues(), "si")
    assert part is not None
    assert "It costs nothing to read." in part.says
    part = cues_of(with_cues("hoods"), "si")
    assert part is not None
    assert (
        "Reading it takes 54\u00a0min of a person a day and costs $18, which is counted; with "
        "looks for nothing it would save $60." in part.says
    )
    assert "Of the cues that meet" in part.says


def test_a_cue_that_costs_more_to_read_than_it_saves_says_so() -> None:
    """Where the crew stays on full, each cue that is not worth its looks is told with both sums,
    and is not on the day sheet either."""
    told = with_cues(None)
    assert told.cues is not None
    clock_cue = told.cues.found[0]
    dear = [
        replace(one, reading=75.0, saves=60.0, gains=False) if one.kind == "strip" else
        replace(one, gains=False) for one in told.cues.found
    ]  # fmt: skip
    told = changed(told, found=tuple(dear))
    part = cues_of(told, "si")
    assert part is not None
    said = "Weight of one strip would cost $75 a day to read and save $60: less than its looks."
    assert said in part.says
    assert part.says.count("less than its looks") == 1
    told = changed(with_cues("clock"), found=(clock_cue, *dear[1:]))
    assert [row.name for row in sheet_cues(told, SITE, "si")] == ["Clock"]
    assert earlier_words(told, "si") == ""


LIMIT = 5.0
NEAR_IT = (0.05, 0.0504, 0.0496, 0.05004, 0.04996, 0.0500004, 0.0, 0.07, 0.104)


@pytest.mark.parametrize("shares", [NEAR_IT[at : at + 4] for at in range(6)])
def test_every_row_of_the_page_agrees_with_its_words(
    shares: tuple[float, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No row that says it meets the limit shows more damp cars than allowed, none that says it
    does not shows as few without saying why."""
    told = with_cues()
    assert told.cues is not None
    limit = told.wish.allowed_damp_share
    found = tuple(
        replace(one, left_damp_share=share, keeps=share <= limit, nearly=share <= limit + 0.005)
        for one, share in zip(told.cues.found, shares, strict=True)
    )
    restless = replace(found[0], left_damp_share=0.03, keeps=False, nearly=False, restless=True)
    told = changed(told, found=found, band=replace(told.cues.constant, rule=band(0.6, 0.4)))
    told = changed(told, constant=replace(restless, rule=band(0.55, 0.35)))
    with visiting(tmp_path, monkeypatch) as visitor:
        visitor.store(told)
        text = visitor.text()
    part = text[text.index('id="cues"') :].partition("</section>")[0]
    part = re.sub(r"</?button[^>]*>", "", part)
    heads = re.findall(r"<th scope=.col.[^>]*>([^<]*)<", part)
    rows = [re.findall(r"<t[hd][^>]*>([^<]*)<", row) for row in part.split("<tr ")[2:]]
    assert len(rows) == 4 + 3
    for row in rows:
        damp, kept = (row[heads.index(head)] for head in ("Leave damp", "Meets the limit"))
        if damp == "just over 5 %":
            assert kept.startswith(("no", "nearly"))
            continue
        shown = float(damp.removesuffix(" %"))
        if kept == "yes":
            assert shown <= LIMIT
        elif shown <= LIMIT:
            assert kept == "no, it switches too often or too soon"
        else:
            assert kept in ("no", "nearly, it misses it by less than matters")


@given(st.floats(0.0, 1.0), st.sampled_from((0.01, 0.05, 0.1, 0.25)))
def test_a_share_is_rounded_to_its_side_of_the_limit(share: float, limit: float) -> None:
    """Whatever is shown lies where the share lies, the limit itself on the lower side, and within
    half of a percent of it."""
    text = side_percent(share, limit).replace("\u00a0", " ")
    if text.startswith("just over"):
        assert limit < share < limit + 1e-4
    elif text.startswith("under 0.1"):
        assert 0.0 < share < 0.0005
    else:
        shown = float(text.removesuffix(" %")) / 100.0
        assert (shown <= limit + 1e-12) == (share <= limit)
        assert abs(shown - share) <= 0.005 + 1e-12


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
    assert order(told) == act_words(told.chosen, told.crew_terms, "si")


def test_the_sheet_names_the_cue_to_go_by_first() -> None:
    """On the sheet the cue to use leads, the others follow in case that it fails."""
    told = with_cues("strip")
    assert told.cues is not None
    # whatever the order, the next best comes next
    told = changed(told, found=told.cues.found[::-1])
    first, second, third, fourth = sheet_cues(told, SITE, "si")
    assert first.name == "Weight of one strip"
    assert first.note.startswith(
        "Go by this. 15 minutes at least between two switches. Weigh every car"
    )
    assert "locked out" in first.note
    assert (second.name, second.note) == ("Clock", "If that fails.")
    assert third.note == "If that fails. Look at the last twenty hoods every 20\u00a0min."
    assert fourth.note == "If that fails. Count every 10\u00a0min."
    wanted = "Reduce when a strip weighs 640\u00a0g or more, until it weighs 560\u00a0g or less."
    assert order(told) == wanted
    assert earlier_words(told, "si") == ""
    assert expected_damp(told) == (
        "Expected as the crew carries it out: 4.6\u00a0% of cars leave damp (2.1–8.3\u00a0% "
        "at 9 of 10 sites like this)."
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
    assert order(told) == (
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

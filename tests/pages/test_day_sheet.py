"""The day sheet: what the crew needs of a day, and nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from app.answers.serial import write
from app.answers.staff import STAFF
from app.sites.reading import gate
from sim.day.rules import REDUCED
from sim.inputs import Person, PlannedShift, StaffBook
from tests.answers.staff_answers import half_hour, staff_answer
from tests.pages.fixture_comparison import PEAK
from tests.pages.switch_content import band, switch
from tests.pages.switch_visitor import PAGE, SHEET, SLUG, Visitor, visiting
from tests.words.test_hands_words import ONE, OWN, with_hands


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site; jobs are noted, not computed."""
    with visiting(tmp_path, monkeypatch) as opened:
        yield opened


def test_the_sheet_has_all_that_the_crew_needs(visitor: Visitor) -> None:
    """Times, settings, people by hour, what to do if it is worse, cautions, three lines; no chart,
    and no saturation."""
    visitor.store(switch())
    text = visitor.text(SHEET)
    assert "Reduce at 12:00, go back at 16:00." in text
    cues = text[text.index('class="cue-table"') :].partition("</table>")[0]
    assert ">12:00<" in cues
    assert ">16:00<" in cues
    assert "Speed, ft/min" in text
    assert "People in all" in text
    assert "More than 1 car in 20 damp for a quarter of an hour: reduce now" in text
    assert "Stop." in text
    assert 'role="img"' not in text
    write = text[text.index('class="write"') :].partition("</table>")[0]
    assert write.count("<tr>") == 1 + 13, "a line an hour, from 7:00 to 20:00"
    assert '<th scope="row">7:00</th><td class="n">' in write
    assert re.search(r"Made \d+ July 2026, \d+:\d\d\.", text)
    assert "saturation" not in text[text.index("<main") : text.index("</main")].lower()
    assert 'class="sheet"' in text


def test_the_sheet_says_who_comes(visitor: Visitor) -> None:
    """The day's roster stands on it, whoever begins first named first; without one the people that
    are needed, once these are worked out, else those planned."""

    def shift(name: str, start_h: float, day: date = PEAK) -> PlannedShift:
        start_s, end_s = 3600.0 * start_h, 3600.0 * (start_h + 5.0)
        return PlannedShift(day, name, "", start_s, end_s, end_s, end_s)

    book = StaffBook(
        (Person("Ada"), Person("Ben")),
        (shift("Ada", 12.5), shift("Ben", 7.0), shift("Ben", 9.0, PEAK + timedelta(days=1))),
    )
    before = visitor.view()
    visitor.store(switch())
    assert "Who comes" not in visitor.text(SHEET)
    assert "People in all" in visitor.text(SHEET)
    halves = (half_hour(7.0, 3), half_hour(7.5, 3), half_hour(8.0, 5))
    with gate(visitor.web.database, visitor.web.now()) as writes:
        key = visitor.view(kind=STAFF).key
        writes.store_result(key, visitor.site_id, PEAK, write(staff_answer(half_hours=halves)))
    needed = visitor.text(SHEET)
    said = "Needed: 3 people from 7:00 to 8:00, 5 from 8:00 to 8:30."
    assert said in re.sub("<[^>]*>", "", needed)
    assert "People in all" not in needed
    with gate(visitor.web.database, visitor.web.now()) as writes:
        writes.set_book(visitor.site_id, "staff", book, 1, "roster", PEAK)
    assert visitor.view().key == before.key
    text = visitor.text(SHEET)
    assert "<li>Ben 7–12</li><li>Ada 12:30–17:30</li>" in text
    assert "Needed:" not in re.sub("<[^>]*>", "", text)


def test_a_band_is_weights_on_the_sheet(visitor: Visitor) -> None:
    """A rule that follows the cloth is given as weights of a strip, with expected times."""
    visitor.store(switch(band(0.5, 0.4)))
    text = visitor.text(SHEET)
    assert "at 18 oz" in text
    assert "at 16 oz" in text
    assert "about 12:00" in text
    assert "The strip decides." in text or "the strip decides." in text


def test_nothing_to_switch_has_no_cues(visitor: Visitor) -> None:
    """Where nothing is switched the sheet says what to do all day, without a table of cues."""
    visitor.store(switch(REDUCED))
    text = visitor.text(SHEET)
    assert "Reduce all day." in text
    assert "cue-table" not in text
    assert "reduce now, whatever" not in text


def test_the_sheet_is_led_to(visitor: Visitor) -> None:
    """Today leads to plan, reason and sheet of the next open day."""
    text = visitor.text(f"/{SLUG}/today")
    for room in ("plan", "reduce", "sheet"):
        assert f"/{SLUG}/{room}/2026-07-17" in text


def test_more_hands_lead_the_plan_and_until_then_the_sheet_says_whose_it_is(
    visitor: Visitor,
) -> None:
    """Where more people at the exit are advised, page and sheet say that they go by those planned;
    one press makes the pair the plan's first scenario, whose people the next question is asked
    of."""
    visitor.store(with_hands(ONE, OWN, ONE, 0.0))
    other = "This goes by the people planned now. More are advised: Wipe in full"
    assert other in visitor.text(SHEET)
    assert other in visitor.text()
    assert "As its first scenario" in visitor.text()
    before = visitor.view().asked.plan.scenarios
    assert visitor.send(f"{PAGE}/plan").status_code == 303
    plan, question = visitor.view().asked.plan, visitor.view().asked.posed
    assert (plan.scenarios[0].name, plan.scenarios[0].rule) == ("Advised", "full")
    assert plan.scenarios[1:] == before
    assert [count for _at, count in question.site.crew.finishers] == [0.0, 1.0, 0.0]

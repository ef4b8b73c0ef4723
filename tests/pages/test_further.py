"""Parts of When to reduce: tipping points, and speed, spacing and rule together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from app.answers.serial import write
from app.answers.studies.runner import Progress
from app.answers.switching import TOGETHER
from app.sites.reading import gate
from app.words.rules import damp_percent
from app.words.switching import (
    reduced_words,
    together_answer,
    together_sure,
    together_table,
)
from app.words.why import tipping_of
from sim.day.rules import FULL
from sim.decide.switching.answer import SettingPlan, Together
from sim.decide.switching.coming import Corner
from sim.inputs import Scenario
from tests.pages.fixture_comparison import CLOSED, PEAK
from tests.pages.further_content import BETTER, NEVER, NOW, tipping, together
from tests.pages.pages import asks_again, page_of
from tests.pages.switch_content import WISH, clock, switch
from tests.pages.switch_visitor import PAGE, PLAN, SLUG, Visitor, standing, visiting
from tests.plain import plain

FULL_NOW = replace(NOW, rule=FULL, reduced_h=0.0)
AS_FAST = replace(NEVER, cars_washed_h=106.2)
WAIT = f"{PAGE}/together"
PUT = f"{WAIT}/plan"


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """At the invented site; jobs are noted, not computed."""
    with visiting(tmp_path, monkeypatch) as opened:
        yield opened


def store_together(visitor: Visitor, answer: Together) -> None:
    """Stores the day's settings, whose key follows from the day's rule."""
    stored = visitor.web.site_at(SLUG)
    assert stored is not None
    key = visitor.web.open(stored, TOGETHER, PEAK).key
    with gate(visitor.web.database, visitor.web.now()) as writes:
        writes.store_result(key, visitor.site_id, PEAK, write(answer))


# ---- tipping points ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ((None, None, Corner(24.0, 0.559)),
         "Above 24 °C and below 55 % humidity you need no switch."),
        ((None, None, Corner(24.0, 1.0)), "Above 24 °C you need no switch, however humid it is."),
        ((None, None, Corner(20.0, 0.3)),
         "From 20 °C to 28 °C you need no switch at 30 % humidity or less."),
        ((None, None, Corner(20.0, 1.0)),
         "From 20 °C to 28 °C you need no switch, however humid it is."),
        ((Corner(20.0, 1.0), Corner(24.0, 0.5)),
         "With as many cars as expected you need a switch in all weather looked at, from 20 °C to "
         "28 °C and down to 10 % humidity. With 20 % fewer cars it is otherwise. Above 24 °C and "
         "below 50 % humidity you need no switch."),
        ((), "With as many cars as expected you need a switch in all weather looked at, from 20 °C "
         "to 28 °C and down to 10 % humidity."),
    ],
)  # fmt: skip
def test_the_sentence_of_the_tipping_points(corners: tuple[Corner | None, ...], words: str) -> None:
    """One sentence tells up to which weather always full is enough, for as many cars as expected,
    else for the next fewer; humidity is rounded down, so that it holds."""
    found = tipping_of(tipping(*corners), "si")
    assert plain(found.says) == words


def test_the_table_of_the_tipping_points() -> None:
    """A row a demand and a column a temperature, in the reader's units; what holds nowhere and
    what always holds is said in words, what is too close to tell has both its ends."""
    found = tipping_of(tipping(), "us")
    assert [plain(head) for head in found.heads] == ["Cars", "68 °F", "75 °F", "82 °F"]
    rows = [tuple(map(plain, row)) for row in found.rows]
    assert rows[0] == ("600, 40 % fewer", "any", "any", "any")
    assert rows[1] == ("800, 20 % fewer", "none", "57 %", "70 % to 90 %?")
    assert rows[2] == ("1,000, as expected", "none to 30 %?", "none to any?", "40 %")
    assert rows[3] == ("1,200, 20 % more", "none", "none", "none")


def test_the_page_shows_the_tipping_points(visitor: Visitor) -> None:
    """Sentence and table stand on the page, with the way to the coming days."""
    visitor.store(replace(switch(), tipping=tipping(None, None, Corner(24.0, 0.55))))
    text = visitor.text()
    assert "Above 75 °F and below 55 % humidity you need no switch." in text
    assert "800, 20 % fewer" in text
    assert f'href="/{SLUG}/coming"' in text


def test_an_answer_without_tipping_points_says_so(visitor: Visitor) -> None:
    """Where they were not computed the part says it, and leads to the coming days all the same."""
    visitor.store(switch())
    text = visitor.text()
    assert "Not worked out for this answer." in text
    assert f'href="/{SLUG}/coming"' in text


# ---- speed, spacing and rule: words --------------------------------------------------------------


def test_the_sentence_weighs_never_reducing_against_reducing() -> None:
    """A slower setting that never reduces stands beside the present one, by cars and hours."""
    said = together_answer(together(), "us")
    assert plain(said.lead) == "Keep 49 ft/min and 19.7 ft."
    assert plain(said.rest) == (
        "At 39 ft/min and 23.6 ft you wash 6 fewer cars an hour and never need to reduce; at 49 "
        "ft/min and 19.7 ft you reduce for 2 h 40."
    )
    assert said.also == "No other setting looked at costs less a day by enough to matter."
    assert "16 in 20" in plain(together_sure(together()))


def test_a_better_setting_is_told_with_its_timetable_and_rule() -> None:
    """Speeds by time of day, the rule that goes with them, and what both give."""
    said = together_answer(together(BETTER), "si")
    assert plain(said.lead) == (
        "Run at 0.25 m/s, from 11:00 0.22 m/s, from 18:00 0.25 m/s, spaced 6 m."
    )
    assert plain(said.also) == (
        "With it: Reduce when a strip weighs 500 g, until it is down to 450 g. You wash 1 more car "
        "an hour, 3 % leave damp instead of 4 %. The day costs $100 less."
    )
    missed = together_answer(together(BETTER, present=replace(NOW, keeps=False)), "si")
    assert missed.also.endswith("which the rule at the present setting does not.")


@pytest.mark.parametrize(
    ("never", "present", "words"),
    [
        (None, NOW, "At no speed and spacing looked at is always full enough."),
        (NEVER, FULL_NOW, "At the present setting you never need to reduce."),
        (AS_FAST, NOW, "you wash as many cars and never need to reduce"),
    ],
)
def test_what_never_reducing_takes(
    never: SettingPlan | None, present: SettingPlan, words: str
) -> None:
    """Where nothing is enough, where the present setting is, and where it costs no car."""
    assert words in plain(together_answer(together(None, never, present), "us").rest)


def test_settings_side_by_side() -> None:
    """A column a setting, each once; a damp share at the allowed one shows on which side it is."""
    table = together_table(together(BETTER), "us")
    assert table.heads == ("", "Now", "Advised", "Never reduce")
    rows = {row[0]: tuple(map(plain, row[1:])) for row in table.rows}
    assert rows["Reduced for"] == ("2 h 40", "2 h 40", "no time")
    assert rows["Leave damp"] == ("4 %", "3 %", "4.8 %")
    assert rows["Cost of the day"] == ("$3,000", "$2,900", "$3,400")
    assert together_table(together(), "us").heads == ("", "Now", "Never reduce")
    assert together_table(together(never=NOW), "us").heads == ("", "Now")


@pytest.mark.parametrize(
    ("hours", "words"),
    [(0.0, "no time"), (0.03, "a few minutes"), (0.5, "30 min"), (13.0, "13 h"), (1.6, "1 h 40")],
)
def test_hours_in_words(hours: float, words: str) -> None:
    """Hours and tens of minutes, no finer."""
    assert plain(reduced_words(hours)) == words


def test_damp_shares_show_their_side_of_the_limit() -> None:
    """Whole percent, but where that would look like the allowed share."""
    shares = (0.04, 0.0502, 0.05, 0.0478, 0.12)
    said = [plain(damp_percent(share, WISH)) for share in shares]
    assert said == ["4 %", "5.0 %", "5 %", "4.8 %", "12 %"]


# ---- speed, spacing and rule: pages --------------------------------------------------------------


def test_settings_are_worked_out_when_asked_for(visitor: Visitor) -> None:
    """The page of a decided day offers it and begins nothing; the page behind the link begins it
    under a key of its own and waits."""
    visitor.store(switch())
    assert f'href="{WAIT}">Work it out</a>' in visitor.text()
    assert not visitor.begun
    visitor.text(WAIT)
    (job,) = visitor.begun
    assert (job.kind, job.day) == ("together", PEAK)
    assert job.key != visitor.view().key


def test_waiting_is_told_and_asks_again(visitor: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    """Under way: how far, by itself again, from whatever part of the page; When to reduce leads to
    it and keeps its form."""
    visitor.store(switch())
    monkeypatch.setattr(visitor.web.runner, "standing", standing(Progress(1200, 6000)))
    answer = visitor.client.get(WAIT)
    assert asks_again(answer) == f"2; url={WAIT}"
    assert "Now: trying speeds and spacings, each with its rules." in answer.text
    assert not visitor.begun
    reduce = visitor.client.get(PAGE)
    assert not asks_again(reduce)
    assert "See how far it is" in reduce.text
    assert f'action="{PAGE}/wish"' in reduce.text


def test_what_failed_is_begun_again_by_its_button(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What went wrong stands on the page that waits; only the button begins anew."""
    visitor.store(switch())
    monkeypatch.setattr(visitor.web.runner, "standing", standing(failed="It failed: no room"))
    page = visitor.client.get(WAIT)
    assert "It failed: no room" in page.text
    assert not asks_again(page)
    assert not visitor.begun
    data = page_of(page).form(WAIT).data()
    sent = visitor.client.post(WAIT, data=data, follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, WAIT)
    assert len(visitor.begun) == 1


def test_settings_stand_on_the_page_and_go_into_the_plan(visitor: Visitor) -> None:
    """The found setting, its sentence and table are shown; one press stores speeds, spacing and
    rule as one more scenario; then the button is gone."""
    visitor.store(switch())
    store_together(visitor, together(BETTER))
    go = visitor.client.get(WAIT, follow_redirects=False)
    assert (go.status_code, go.headers["location"]) == (303, f"{PAGE}#together")
    text = visitor.text()
    assert "never need to reduce; at 49 ft/min and 19.7 ft you reduce for 2 h 40." in text
    sent = visitor.send(PUT)
    assert (sent.status_code, sent.headers["location"]) == (303, PLAN)
    last = visitor.view().asked.plan.scenarios[-1]
    assert (last.name, last.rule) == ("Advised setting", "band 50-40")
    assert dict(last.changes) == {
        "conveyor_speed_m_s": 0.25,
        "speed_timetable": ((0.0, 0.25), (39600.0, 0.22), (64800.0, 0.25)),
        "car_spacing_m": 6.0,
    }
    assert visitor.view().result is not None  # the first scenario is as it was
    assert f'action="{PUT}"' not in visitor.text()


def test_a_setting_that_stays_has_no_button(visitor: Visitor) -> None:
    """The present setting is not put into the plan once more."""
    visitor.store(switch())
    store_together(visitor, together())
    assert f'action="{PUT}"' not in visitor.text()


def test_a_full_or_newer_plan_takes_no_setting(visitor: Visitor) -> None:
    """With six scenarios nothing is stored; nor where the plan was changed meanwhile."""
    visitor.store(switch())
    store_together(visitor, together(BETTER))
    data = page_of(visitor.client.get(PAGE)).form(PUT).data()
    six = tuple(Scenario(f"S{i}", "full" if i == 0 else f"band {60 + i}-50") for i in range(6))
    for count, words in ((2, "Somebody else stored something"), (6, "six scenarios already")):
        with gate(visitor.web.database, visitor.web.now()) as writes:
            version = visitor.view().asked.plan.version
            writes.store_plan(visitor.site_id, PEAK, "", six[:count], version, f"k{count}")
        visitor.store(switch())
        store_together(visitor, together(BETTER))
        sent = visitor.client.post(PUT, data=data)
        assert sent.status_code == 409
        assert words in sent.text
        assert visitor.view().asked.plan.scenarios == six[:count]


def test_days_without_a_rule_have_no_settings(visitor: Visitor) -> None:
    """An undecided or closed day leads back to its page, a day that is none is not found."""
    for path in (PAGE, f"/{SLUG}/reduce/{CLOSED.isoformat()}"):
        go = visitor.client.get(f"{path}/together", follow_redirects=False)
        assert (go.status_code, go.headers["location"]) == (303, f"{path}#together")
        assert 'id="together"' not in visitor.text(path)
    visitor.text(f"/{SLUG}/reduce/soon/together", 404)
    visitor.store(switch(clock((12, 16))))
    data = page_of(visitor.client.get(PAGE)).form(f"{PAGE}/plan").data()
    assert visitor.client.post(PUT, data=data).status_code == 404

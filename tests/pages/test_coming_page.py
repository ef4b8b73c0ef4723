"""The coming days: sentences, a line a day, the days of a year, waiting, nothing to plan."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import Desk
from app.answers.coming_plans import COMING, DAYS, with_own
from app.answers.planning import PLAN as PLANS
from app.answers.serial import write
from app.answers.studies.runner import Progress
from app.main import create_app
from app.settings import Settings
from app.sites.reading import gate
from app.words.answer import TURNS_ON
from app.words.coming import (
    coming_answer,
    coming_sure,
    days_of,
    year_lines,
    year_rests_on,
    year_words,
)
from sim.day.rules import FULL, REDUCED, parse_rule
from sim.decide.answer import Comparison
from sim.decide.switching.answer import ComingAnswer, MoreHands
from sim.inputs import INPUTS, Site, SiteData
from tests.demo_app import HERE, OWN_PAGE
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import PEAK
from tests.pages.further_content import YEAR, coming, day, plan
from tests.pages.pages import asks_again, page_of
from tests.pages.switch_content import clock, switch
from tests.pages.switch_visitor import SLUG, Visitor, visiting
from tests.plain import plain

PAGE = f"/{SLUG}/coming"
FIRST = date(2026, 7, 17)


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """At the invented site; jobs are noted, not computed."""
    with visiting(tmp_path, monkeypatch) as opened:
        yield opened


def store(visitor: Visitor, found: ComingAnswer) -> None:
    """Stores an answer of the coming days."""
    stored = visitor.web.site_at(SLUG)
    assert stored is not None
    with visitor.web.database.session() as session:
        key = Desk(session, stored, visitor.web.runner).open(COMING, FIRST).key
    with gate(visitor.web.database, visitor.web.now()) as writes:
        is_final = found.year is not None
        writes.store_result(key, visitor.site_id, FIRST, write(found), is_final=is_final)


def stand(
    visitor: Visitor, patch: pytest.MonkeyPatch, running: Progress | None = None, failed: str = ""
) -> None:
    """Has every question stand so."""

    def standing(_session: object, finals: Mapping[str, bool]) -> dict[str, object]:
        return dict.fromkeys(finals, (running, failed))

    patch.setattr(visitor.web.runner, "standing", standing)


# ---- words ---------------------------------------------------------------------------------------


def test_the_answer_counts_the_days() -> None:
    """How many of the days with cars need switching, the dampest, and those that miss the wish."""
    said = coming_answer(coming())
    assert said.lead == "Reduce for a time on 1 of 2 days."
    assert plain(said.rest) == (
        "Wiped in full, Saturday 18 July would be the dampest: about 1 car in 4."
    )
    missed = "No rule tried meets at most 5 % of cars leaving damp on average on Saturday 18"
    assert f"{missed} July;" in plain(said.also)
    dry = coming(day("2026-07-19", plan(FULL)))
    assert coming_answer(dry).lead == "Wipe in full on all of them."
    wet = coming(day("2026-07-19", plan(clock((12, 16)))), day("2026-07-20", None, "closed"))
    assert coming_answer(wet).lead == "Reduce for a time on the one day with cars."
    frost = coming(day("2026-07-19", None))
    assert coming_answer(frost).lead == "Nothing to decide:"


def test_firm_on_all_days_or_on_how_many_not() -> None:
    """The page says on how many days the rule is not firm, what nobody has weighed, and how each
    day was looked at; a day's own line says where it is."""
    said = coming_sure(coming(), frozenset())
    assert str(said).startswith(
        "Not firm: on 1 of 2 days what is planned now, always full or always reduced is better by "
        "enough to matter at more than 1 of 20 sites like yours (64 were drawn)."
    )
    assert "No measurement is in this plan" in said.rest
    assert "small search" in said.rest
    weighed = replace(coming(), weighed=("soaked", "damp", "afternoon"))
    assert "No measurement" not in coming_sure(weighed, frozenset()).rest
    prices = TURNS_ON["money"][1]
    assert f"“{INPUTS[prices[0]].label}”" in said.rest
    assert "until you enter yours" not in coming_sure(weighed, prices).rest
    calm = coming(day("2026-07-19", plan(FULL)))
    assert coming_sure(calm, frozenset()).lead == "Firm."
    assert coming_sure(replace(calm, weighed=("misfit",)), frozenset()).lead == "Not firm:"
    guessed = day("2026-07-19", replace(plan(FULL), standing=None))
    assert coming_sure(coming(guessed), frozenset()).lead == "Not firm:"
    sures = [plain(one.sure) for one in days_of(coming(), "us")]
    assert sures == ["13 in 20", "13 in 20, firm", ""]


def test_more_hands_are_said_on_their_days() -> None:
    """A day with more people at the exit says how many and when, and what your own people alone
    would do at what cost; the answer says on how many days, and that firm holds against these."""
    pair = replace(
        plan(FULL), hands=MoreHands(1, 11 * 3600.0, 16 * 3600.0), own_rule=REDUCED, more=-85.2
    )
    answer = coming(day("2026-07-18", pair), day("2026-07-19", plan(FULL)))
    (line, other) = days_of(answer, "us")
    more = "Put one more person with towels at the exit from 11:00 to 16:00."
    assert line.rule == f"About: Wipe in full all day. {more}"
    assert plain(line.own) == "Your own people alone: Reduce all day; the day then costs $85 more."
    assert (other.rule, other.own) == ("About: Wipe in full all day.", "")
    said = coming_answer(answer)
    assert said.lead == "Wipe in full on all of them."
    assert said.rest.startswith("Put more people with towels at the exit on 1 of 2 days.")
    assert "your own people alone" in coming_sure(answer, frozenset()).rest
    each = coming_answer(coming(day("2026-07-18", pair)))
    assert each.rest.startswith("Put more people with towels at the exit on each.")
    (crewed,) = days_of(coming(day("2026-07-18", pair)), "us", {date(2026, 7, 18)})
    assert crewed.own.endswith(
        "Its plan says who dries cars; its page and its day sheet go by that."
    )
    dear = replace(pair, more=12.0)
    assert "$12 less" in plain(days_of(coming(day("2026-07-18", dear)), "us")[0].own)


def test_a_line_a_day() -> None:
    """Weather, rule as an order, damp share with it and with always full, how sure; what was typed
    is told; a day without a plan says why."""
    first, second, third = days_of(coming(), "us")
    assert (first.iso, first.day) == ("2026-07-18", "Saturday 18 July")
    assert plain(first.weather) == "About 1,530 cars. 91 °F at most, air at 68 % then, no rain."
    assert first.rule == "About: Reduce all day (misses your wish)."
    assert [plain(w) for w in (first.damp, first.full, first.sure)] == ["5.0 %", "25 %", "13 in 20"]
    assert second.rule == "About: Wipe in full all day."
    assert second.note == "fair"
    assert second.weather.endswith("Typed for it: 70 F.")
    assert (third.rule, third.is_planned, third.weather) == ("Closed.", False, "")
    others = coming(
        day("2026-07-21", None, "unknown"), day("2026-07-22", None, "no cars"),
        day("2026-07-23", None),
    )  # fmt: skip
    assert [one.rule[:18] for one in days_of(others, "us")] == [
        "Nothing is known o", "No car is expected", "Such a day can’t b",
    ]  # fmt: skip


def test_a_day_with_an_answer_of_its_own_says_that_one() -> None:
    """What only a quick look has told is about so; an answer of the day's own stands without it,
    counts in the sentence, and says where the quick look had said another rule. Clock times as
    the crew keeps them are no other rule."""
    (quick, wet), first = (plan(clock((12, 16))), plan(REDUCED)), date(2026, 7, 18)
    answer = coming(day("2026-07-18", quick), day("2026-07-19", wet))
    mine = replace(quick, rule=parse_rule("crew clock 12:00-16:00"))
    for own, said in ((mine, ""), (plan(FULL), "A quick look had said: Reduce at 12:00, go")):
        told, other = days_of(answer, "us", own={first: own})
        assert not told.rule.startswith("About")
        assert told.own.startswith(said)
        assert bool(told.own) == bool(said)
        assert other.rule == "About: Reduce all day."
    whole = with_own(answer, {first: plan(FULL)})
    assert coming_answer(whole).lead == "Reduce for a time on 1 of 2 days."
    assert "the others have the answer of their own pages" in coming_sure(whole, (), [first]).rest


def test_a_first_look_is_told_so_far() -> None:
    """While days were only looked at with a dozen rules the page calls nothing firm."""
    rough = replace(plan(REDUCED), rough=True, standing=None)
    said = coming_sure(coming(day("2026-07-18", rough), day("2026-07-19", plan(FULL))), ())
    assert said.lead == "So far:"
    assert said.rest.startswith("1 of 2 days were only looked at with a dozen rules on 16")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "From 17 July 2026 to 15 July 2027 about 120 of 358 days need switching."),
        ({"expected": 7}, "about 7 of 358 days need switching."),
        ({"expected": 358}, "about 358 of 358 days need switching."),
        ({"expected": 0}, "always full is enough on all 358 days."),
        ({"expected": 0, "days": 0}, "no day can be simulated."),
    ],
)
def test_the_days_of_a_year(changes: dict[str, Any], words: str) -> None:
    """The count is rounded where it is large, and never above the days there are."""
    assert year_words(replace(YEAR, **changes)).endswith(words)


def test_what_the_year_rests_on() -> None:
    """Month by month; what was left out is told, what was not is not."""
    assert year_lines(YEAR).rows == (("July 2026", "15", "14"), ("January 2027", "30", "0"))
    first, *rest = year_rests_on(YEAR)
    assert "simulated 16 times" in first
    assert rest == [
        "Days on which no car is let in: 3.",
        "Days of which nothing can be expected: 1.",
        "Days that can’t be simulated, such as those with frost: 2.",
    ]


# ---- the page ------------------------------------------------------------------------------------


def test_today_leads_to_the_coming_days_which_are_begun(visitor: Visitor) -> None:
    """Today has the way; opening the page begins the study of tomorrow's fortnight."""
    assert f'href="{PAGE}"' in visitor.text(f"/{SLUG}/today")
    visitor.begun.clear()
    visitor.text(PAGE)
    (job,) = visitor.begun
    assert (job.kind, job.day) == ("coming", FIRST)
    assert job.days > DAYS


def test_each_day_leads_to_its_rule_and_sheet(visitor: Visitor) -> None:
    """What is stored is shown: lines with their links, and the year; nothing is begun again."""
    store(visitor, coming())
    text = visitor.text(PAGE)
    for room in ("reduce", "sheet"):
        assert f'href="/{SLUG}/{room}/2026-07-18"' in text
    assert f'href="/{SLUG}/sheet/2026-07-20"' not in text
    assert "about 120 of 358 days need switching." in text
    assert not visitor.begun
    assert not asks_again(visitor.client.get(PAGE))


def test_a_day_of_its_own_stands_on_the_page(visitor: Visitor) -> None:
    """Once a day's page has its answer, its line here has the same rule, and its page leads to it;
    an answer to an older question is left alone."""
    store(visitor, coming())
    visitor.store(switch(clock((12, 16))))
    text = visitor.text(PAGE)
    assert "Reduce at 12:00, go back at 16:00." in text
    assert "A quick look had said: Reduce all day." in text
    assert "About: Wipe in full all day." in text
    with gate(visitor.web.database, visitor.web.now()) as writes:
        writes.set_inputs(
            visitor.site_id, {"wage_per_h": 31.0}, expected_version=1, request_key="w"
        )
    store(visitor, coming())
    assert "A quick look had said" not in visitor.text(PAGE)


def test_a_day_whose_plan_alone_is_worked_out_says_what_that_advises(visitor: Visitor) -> None:
    """Its rule stands without “About”, and its share of damp cars is that of the plan’s page; a
    plan that advises more than a rule leaves the quick look."""
    store(visitor, coming())
    found = invented.peak_day_over_sites()

    def line_of(answer: Comparison, version: int) -> str:
        scenarios = tuple(column.scenario for column in answer.columns)
        with gate(visitor.web.database, visitor.web.now()) as writes:
            writes.store_plan(visitor.site_id, PEAK, "", scenarios, version, f"plan {version}")
        with gate(visitor.web.database, visitor.web.now()) as writes:
            key = visitor.view(kind=PLANS).key
            writes.store_result(key, visitor.site_id, PEAK, write(invented.plan(answer)))
        store(visitor, coming())
        table = visitor.text(PAGE).split("<h2>All days")[1]
        return table.split(f"/reduce/{PEAK}")[1].split("</tr>")[0]

    told = line_of(found, 0)
    assert "About:" not in told
    assert "Reduce at 11:50, go back at 16:40." in told
    assert ">4.6 %<" in told
    assert ">18 %<" in told
    faster = invented.with_scenario(found, 2, changes={"conveyor_speed_m_s": 0.3})
    assert "About: Reduce all day" in line_of(faster, 1)


def test_the_days_are_shown_before_the_year(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A first answer has the days; the year is still being worked out, and the page asks again."""
    store(visitor, coming(year=None))
    stand(visitor, monkeypatch, Progress(84, 448))
    answer = visitor.client.get(PAGE)
    assert asks_again(answer) == f"2; url={PAGE}"
    assert "Reduce all day (misses your wish)." in answer.text
    assert "2 of 3: planning each of the 14 days." in answer.text


def test_a_failure_is_told_and_begun_again_by_its_button(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What went wrong stands on the page; only the button begins anew."""
    stand(visitor, monkeypatch, failed="It failed: no room")
    page = visitor.client.get(PAGE)
    assert "It failed: no room" in page.text
    assert not visitor.begun
    data = page_of(page).form(PAGE).data()
    sent = visitor.client.post(PAGE, data=data, follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, PAGE)
    assert len(visitor.begun) == 1


def test_without_counts_nothing_is_planned(tmp_path: Path) -> None:
    """A site that knows nothing says what is missing and where it goes; nothing is begun."""
    app = create_app(Settings(data_dir=tmp_path, today=date(2026, 7, 16), workers=1))
    web = app.state.web
    with gate(web.database, web.now()) as writes:
        writes.create_site(SiteData(Site("Mill Lane")), request_key="site")
    with TestClient(app, base_url="http://127.0.0.1", headers=OWN_PAGE, client=HERE) as client:
        answer = client.get("/mill-lane/coming")
    assert "Nothing can be planned of any of the coming days." in answer.text
    assert 'href="/mill-lane/counts#bring-in"' in answer.text
    assert not asks_again(answer)


def test_what_was_typed_over_a_day_asks_anew(visitor: Visitor) -> None:
    """A stored plan's typed expectation is part of the question; its scenarios are not."""
    stored = visitor.web.site_at(SLUG)
    assert stored is not None
    saturday = FIRST + timedelta(days=1)

    def key() -> str:
        with visitor.web.database.session() as session:
            return Desk(session, stored, visitor.web.runner).open(COMING, FIRST).key

    before, version = key(), 0
    keys = []
    for expect in ("", "90 F"):
        with gate(visitor.web.database, visitor.web.now()) as writes:
            scenarios = visitor.view(saturday).asked.plan.scenarios[:2]
            writes.store_plan(visitor.site_id, saturday, expect, scenarios, version, f"k{expect}")
        version = visitor.view(saturday).asked.plan.version
        keys.append(key())
    assert keys[0] == before
    assert keys[1] != before

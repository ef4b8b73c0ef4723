"""A plan's versions and links: each opens in its state, and the way back goes through the gate."""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, unquote_plus, urlsplit

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from app.answers.serial import write
from app.pages.plan.form import PlanTyped, ScenarioTyped, read_plan, typed_from
from app.pages.plan.link import LONGEST_LINK, asked_of, typed_in
from app.sites.reading import gate
from app.sites.rule_forms import RuleParts, parts_of, written
from sim.inputs import MOST_SCENARIOS, Scenario
from tests.demo_app import app_of
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import PEAK
from tests.pages.fuzzing import HOSTILE, MARK, MARKUP, faults_of
from tests.pages.pages import page_of
from tests.pages.plan_visitor import PLAN, Visitor, visiting

VERSIONS = f"{PLAN}/versions"
DRAFT = f"{PLAN}/draft"


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site; nothing is simulated."""
    with visiting(tmp_path, monkeypatch) as opened:
        yield opened


def words(visitor: Visitor, path: str) -> str:
    """A page as it is read."""
    return html.unescape(visitor.page(path)).replace("\u00a0", " ")


def twice_changed(visitor: Visitor) -> None:
    """Three versions: the default scenarios, one renamed with another rule, the line of the day."""
    assert visitor.send({}).status_code == 303
    changes = {"scenario-3.name": "Noon", "scenario-3.windows": "12:00-15:30"}
    assert visitor.send({**changes, "scenario-2.loaders": "2"}).status_code == 303
    assert visitor.send({"expect": "91 °F"}).status_code == 303


# ---- versions ------------------------------------------------------------------------------------


def test_a_day_without_a_stored_plan_says_so(visitor: Visitor) -> None:
    """The history of a day that nobody planned is a page that says that."""
    assert "Nobody has stored a plan for this day yet." in words(visitor, VERSIONS)
    assert visitor.client.get(f"{PLAN}/nowhere/versions").status_code == 404


def test_the_history_says_who_changed_what(visitor: Visitor) -> None:
    """Every version stands there with who, when and each change in words; newest first."""
    twice_changed(visitor)
    text = words(visitor, VERSIONS)
    assert "3 versions were stored." in text
    places = [
        text.index(said)
        for said in (
            "What you expect instead: 91 °F in place of as expected.",
            "“Reduced 10:00–17:00” is now called “Noon”.",
            "“Noon”, Wiping rule: Reduced 12:00–15:30 in place of Reduced 10:00–17:00.",
            "First stored.",
        )
    ]
    assert "“Always reduced”, Loaders" in text
    assert "2 in place of as the site." in text
    assert places == sorted(places)
    assert text.count("site manager") == 3
    assert f'href="{VERSIONS}"' in visitor.page()


def test_a_version_opens_as_it_was(visitor: Visitor) -> None:
    """Its address shows its scenarios, each with an anchor, its answer and its cautions; nothing
    there can be typed."""
    twice_changed(visitor)
    text = words(visitor, f"{VERSIONS}/1")
    assert "This is how the plan stood" in text
    assert "Version 3 holds now." in text
    assert 'id="scenario-3"' in text
    assert "<dd>Reduced 10:00–17:00</dd>" in text
    assert "<b>Reduce wiping from 11:50 to 16:40.</b>" in text
    assert "The answer is for the site as it is entered now." in text
    assert "Cautions</h2>" in text
    assert '<form class="plan"' not in text
    assert "Try a change" not in text
    second = words(visitor, f"{VERSIONS}/2")
    assert 'id="scenario-3"' in second
    assert "Noon" in second


def test_the_answer_of_its_time_is_told_as_such(visitor: Visitor) -> None:
    """Where the present site would ask otherwise, a version shows the answer that it had; one
    without an answer says so."""
    found = invented.plan(invented.peak_day())
    scenarios = tuple(column.scenario for column in found.comparison.columns)
    web = app_of(visitor.client).state.web
    with gate(web.database, web.now()) as writes:
        writes.store_plan(visitor.site_id, PEAK, "", scenarios, 0, "a")
        writes.store_result("once", visitor.site_id, PEAK, write(found))
    visitor.planned.result = None
    text = words(visitor, f"{VERSIONS}/1")
    assert "for the site as it was entered then" in text
    assert "<b>Reduce wiping from 11:50 to 16:40.</b>" in text
    assert visitor.send({"expect": "rain"}).status_code == 303
    begun = len(visitor.planned.started)
    assert "No answer of it is stored." in words(visitor, f"{VERSIONS}/2")
    assert len(visitor.planned.started) == begun


@pytest.mark.parametrize("number", ["0", "4", "-1", "1e9", "x", "9" * 400])
def test_no_such_version(visitor: Visitor, number: str) -> None:
    """A number that no version has is a page that says so, read or sent."""
    twice_changed(visitor)
    answer = visitor.client.get(f"{VERSIONS}/{number}")
    assert answer.status_code == 404
    assert "The plan of this day has no such version." in answer.text


def test_a_version_is_used_again(visitor: Visitor) -> None:
    """The button stores an earlier version as the newest, once however often it is sent, begins
    it, and the history tells of it."""
    twice_changed(visitor)
    visitor.planned.started.clear()
    visitor.planned.result = None
    form = page_of(visitor.client.get(f"{VERSIONS}/1")).form(f"{VERSIONS}/1").data()
    for _ in range(2):
        answer = visitor.client.post(f"{VERSIONS}/1", data=form, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, PLAN)
    plan = visitor.stored()
    assert plan is not None
    assert (plan.version, plan.expect, plan.scenarios[2].name) == (4, "", "Reduced 10:00–17:00")
    assert visitor.planned.started
    text = words(visitor, VERSIONS)
    assert "4 versions were stored." in text
    assert "What you expect instead: as expected in place of 91 °F." in text
    assert f'action="{VERSIONS}/4"' not in visitor.page(f"{VERSIONS}/4")


def test_a_version_gives_way_to_somebody_elses_change(visitor: Visitor) -> None:
    """Sent from a page that is older than the newest version, or without a token, nothing is
    stored."""
    twice_changed(visitor)
    form = page_of(visitor.client.get(f"{VERSIONS}/1")).form(f"{VERSIONS}/1").data()
    assert visitor.send({"expect": "rain"}).status_code == 303
    answer = visitor.client.post(f"{VERSIONS}/1", data=form)
    assert answer.status_code == 409
    assert "Somebody else stored something meanwhile." in answer.text
    refused = visitor.client.post(f"{VERSIONS}/1", data={**form, "form_token": "x"})
    assert refused.status_code == 403
    plan = visitor.stored()
    assert plan is not None
    assert (plan.version, plan.expect) == (4, "rain")


def test_a_version_that_no_longer_fits_is_refused(visitor: Visitor) -> None:
    """What can't be stored any more, such as a rule for a class that is gone, is told."""
    web = app_of(visitor.client).state.web
    site = web.site_at("invented-lane")
    key = site.data.site.vehicles[-1].key
    by_class = {"scenario-2.kind": "class", "scenario-2.classes": key}
    assert visitor.send(by_class).status_code == 303
    assert visitor.send({"scenario-2.kind": "full"}).status_code == 303
    with gate(web.database, web.now()) as writes:
        kept = [one for one in site.data.site.vehicles if one.key != key]
        first, *rest = kept
        share = 1.0 - sum(one.numbers.share for one in rest)
        whole = [replace(first, numbers=replace(first.numbers, share=share)), *rest]
        writes.set_inputs(site.id, {}, whole, expected_version=site.version, request_key="v")
    form = page_of(visitor.client.get(f"{VERSIONS}/1")).form(f"{VERSIONS}/1").data()
    answer = visitor.client.post(f"{VERSIONS}/1", data=form)
    assert answer.status_code == 422
    assert key in answer.text


# ---- links ---------------------------------------------------------------------------------------

TEXTS = st.text(st.characters(codec="utf-8"), max_size=12)
TYPED = st.builds(
    PlanTyped,
    TEXTS,
    st.lists(
        st.builds(
            ScenarioTyped,
            TEXTS.map(str.strip),
            st.one_of(
                st.sampled_from(("full", "reduced", "service", "text")).map(RuleParts),
                st.builds(RuleParts, st.just("text"), text=TEXTS),
            ),
            TEXTS,
            st.fixed_dictionaries({"loaders": TEXTS, "conveyor_speed_m_s": TEXTS}),
            st.lists(st.sampled_from(["load_mean_s = 16", "load_mean_s = 9", "what", "= 3", "x"]))
            .map("\n".join),
        ),
        max_size=MOST_SCENARIOS,
    ).map(tuple),
    st.sampled_from(["si", "us"]),
)  # fmt: skip


@given(TYPED)
def test_a_link_opens_the_form_as_it_was(typed: PlanTyped) -> None:
    """Whatever stands in a form, its link opens one that says the same: scenarios, the line of the
    day, and what is wrong with them; and whose link is that link."""
    asked = asked_of(typed)
    again = typed_in(dict(parse_qsl(asked, keep_blank_values=True)), typed.units)
    assert asked_of(again) == asked
    assert again.expect == " ".join(typed.expect.split())
    (said, problems), (read, told) = (read_plan(one, ()) for one in (typed, again))
    assert read == tuple(replace(one, rule=written(parts_of(one.rule))) for one in said)
    assert sorted(p.field for p in told) == sorted(p.field for p in problems)


def test_a_link_can_be_read() -> None:
    """What stands in an address is what stands in the form, by the names of the inputs."""
    scenarios = (
        Scenario("Full"),
        Scenario("Slow", "clock 12:00-15:30", "13:00; 45 %", {"load_mean_s": 16.0}),
    )
    assert unquote_plus(asked_of(typed_from("33 °C, rain", scenarios, "si"))) == (
        "units=si&expect=33 °C, rain&1=Full&2=Slow&2.rule=clock 12:00-15:30&2.cloth=13:00; 45 %"
        "&2.load_mean_s=16 s"
    )


def test_a_form_becomes_a_link(visitor: Visitor) -> None:
    """The button leads to an address with what was typed, that opens it again and stores nothing;
    from there it is stored as from the page itself."""
    visitor.planned.result = None
    typed = {"expect": "91 °F", "scenario-2.name": "Slow", "scenario-2.conveyor_speed_m_s": "55"}
    answer = visitor.send({**typed, "scenario-2.more": "load_mean_s = 16"}, do="link")
    assert answer.status_code == 303
    address = answer.headers["location"]
    assert address.startswith(f"{DRAFT}?")
    assert dict(parse_qsl(urlsplit(address).query))["2.conveyor_speed_m_s"] == "55"
    assert visitor.stored() is None
    begun = len(visitor.planned.started)
    text = visitor.page(address)
    assert "This plan came with a link and is stored nowhere." in html.unescape(text)
    form = visitor.form(text)
    assert {name: form[name] for name in typed} == typed
    assert form["scenario-2.more"] == "load_mean_s = 16"
    assert visitor.stored() is None
    assert len(visitor.planned.started) == begun
    sent = visitor.client.post(PLAN, data={**form, "do": "compute"}, follow_redirects=False)
    assert sent.status_code == 303
    plan = visitor.stored()
    assert plan is not None
    assert plan.scenarios[1].changes["load_mean_s"] == 16
    assert plan.scenarios[1].changes["conveyor_speed_m_s"] == pytest.approx(55 * 0.3048 / 60)


def test_a_link_shows_its_answer_where_that_is_stored(visitor: Visitor) -> None:
    """A link whose question was worked out before opens with the answer, and offers no file or
    change of the stored plan as its own."""
    text = visitor.page(f"{DRAFT}?1=Always+full&2=Noon&2.rule=clock+12:00-15:30")
    assert "<b>Reduce wiping from 11:50 to 16:40.</b>" in text
    assert "figures.csv" not in text
    assert 'id="try"' not in text


def test_a_plain_link_leads_to_what_is_shown(visitor: Visitor) -> None:
    """Without script, the link to copy opens the version that is stored, or, where none is, the
    scenarios that stand there."""
    page = page_of(visitor.client.get(PLAN))
    (before,) = [a["href"] for tag, a in page.tags if tag == "a" and "data-copy" in a]
    assert before.startswith(f"{DRAFT}?")
    assert visitor.form(visitor.page(before))["scenario-2.name"] == "Always reduced"
    assert visitor.send({}).status_code == 303
    page = page_of(visitor.client.get(PLAN))
    (after,) = [a["href"] for tag, a in page.tags if tag == "a" and "data-copy" in a]
    assert after == f"{VERSIONS}/1"


def test_a_link_has_a_bound(visitor: Visitor) -> None:
    """A form too long for a link is told so and kept; an address that is too long is refused."""
    visitor.planned.result = None
    answer = visitor.send({"scenario-2.more": "x" * LONGEST_LINK}, do="link")
    assert answer.status_code == 422
    assert "This plan is too long for a link, which holds 4,000 characters" in answer.text
    assert "x" * LONGEST_LINK in answer.text
    answer = visitor.client.get(f"{DRAFT}?expect={'x' * LONGEST_LINK}")
    assert answer.status_code == 414
    assert "This link is longer than any that Clothcast makes." in answer.text


PARTS = ("expect", "units", "1", "1.rule", "1.cloth", "1.more", "1.loaders", "1.x", "7", "2.rule")


def test_hostile_links(visitor: Visitor) -> None:
    """No text of a link breaks the page or stands there as markup, and none is stored."""
    visitor.planned.result = None
    for at, text in enumerate((*HOSTILE, *[MARKUP] * len(PARTS))):
        asked: dict[str, Any] = {"1": "A", "2": "B", PARTS[at % len(PARTS)]: text[:3_000]}
        answer = visitor.client.get(DRAFT, params=asked)
        assert faults_of(answer) == [], text[:60]
        assert answer.status_code in (200, 414)
    assert visitor.stored() is None


def test_another_site_cannot_begin_anything_by_a_link(visitor: Visitor) -> None:
    """A link that another site leads to shows its form, and begins nothing."""
    client: TestClient = visitor.client
    visitor.planned.result = None
    answer = client.get(f"{DRAFT}?1=A&2=B", headers={"Sec-Fetch-Site": "cross-site"})
    assert answer.status_code == 200
    assert not visitor.planned.started


# ---- a file --------------------------------------------------------------------------------------


def test_a_file_says_when_and_from_what_it_was_made(visitor: Visitor) -> None:
    """The file has answer, every figure, each scenario, its cautions, and when, by which versions
    and from which inputs it was made, guesses among them as such."""
    assert visitor.send({}).status_code == 303
    hostile = invented.with_scenario(invented.peak_day(), 1, name=MARKUP)
    visitor.planned.result = invented.plan(hostile)
    answer = visitor.client.get(f"{PLAN}/page.html")
    assert answer.headers["content-disposition"].endswith('-2026-07-18-plan.html"')
    text = html.unescape(answer.text).replace("\u00a0", " ")
    for said in (
        "<b>Reduce wiping from 11:50 to 16:40.</b>", ">Side by side</", "Hour by hour</h2>",
        "Cautions</h2>", "Local codes", "from version 1 of the site and version 1 of this day’s",
        "by Clothcast 0.", "simulated days, seed ", "are guesses, the others defaults.",
        "<td class=\"t\">a guess</td>", "16 July 2026",
    ):  # fmt: skip
        assert said in text, said
    assert MARK in text
    assert faults_of(answer) == []
    page = page_of(answer)
    opened = [attrs["popovertarget"] for _tag, attrs in page.tags if "popovertarget" in attrs]
    assert set(opened) <= set(page.by_id)
    assert not [tag for tag, _attrs in page.tags if tag in ("script", "link", "img", "form")]
    assert all(link.startswith("#") for link in page.links)
    for outside in ("http:", "https:", "url(", "@import", "src="):
        assert outside not in answer.text, outside


def test_a_file_of_the_first_scenarios_says_so(visitor: Visitor) -> None:
    """Where no plan is stored, the file says so of its scenarios; a day that was not computed has
    no file."""
    text = visitor.page(f"{PLAN}/page.html")
    assert "of the site and scenarios that are not stored." in text
    visitor.planned.result = None
    assert visitor.client.get(f"{PLAN}/page.html").status_code == 404
    assert "page.html" not in visitor.page()

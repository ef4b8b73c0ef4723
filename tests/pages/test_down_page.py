"""A device is down: of a safety device one thing only; else two ways beside the day as planned."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient

from app.answers.change import Tried
from app.answers.checks import is_safety
from app.answers.down import Allowed, can_run_on, repaired, run_on
from app.answers.planning import PLAN
from app.db.store import load_log
from app.sites.reading import gate
from app.words.moved import moved_words
from sim.inputs import LogEntry, Scenario
from sim.inputs.logbook import DEVICE, DEVICES, DOWN, SAFETY_DEVICES
from tests.demo_app import app_of, demo_client, demo_site
from tests.pages.pages import page_of

PLACE = "/harbor-road/down"
PEAK = date(2026, 7, 18)
TYPED = {"minutes": "45", "car_spacing_m": "24", "conveyor_speed_m_s": "40",
         "failed_wiped_share": "70"}  # fmt: skip


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo's busy Saturday."""
    with demo_client(tmp_path_factory.mktemp("down"), PEAK) as browser:
        yield browser


@pytest.mark.parametrize("device", [one for one in DEVICES if is_safety(one)])
def test_of_a_safety_device_one_thing_is_said(demo: TestClient, device: str) -> None:
    """Stop, lock out, licensed service; nothing can be typed, compared or planned, whatever an
    address or a form says."""
    answer = demo.get(PLACE, params={"device": device, **TYPED})
    assert "<b>Stop the line.</b> Lock it out. Call licensed service." in answer.text
    page = page_of(answer)
    assert not [name for form in page.forms for name in form.data() if name in TYPED]
    assert f"{PLACE}/plan" not in [form.action for form in page.forms]
    token = page.form(PLACE).data()
    for way in ("repair", "run_on"):
        sent = {**token, **TYPED, "device": device, "way": way, "version": "0"}
        refused = demo.post(f"{PLACE}/plan", data=sent)
        assert refused.status_code == 422
        assert "<b>Stop the line.</b>" in refused.text
    with pytest.raises(ValueError, match="nothing is planned"):
        run_on(Scenario("full"), device, Allowed(8.0, 0.2), "x")


def test_every_safety_device_is_one() -> None:
    """And one that nobody knows, and one without a name of its own."""
    assert all(is_safety(one) for one in (*SAFETY_DEVICES, "other_device", "new_device"))
    assert not any(can_run_on(one) for one in (*SAFETY_DEVICES, "other_device", "wheel_drive"))


@pytest.mark.parametrize("device", DEVICES)
def test_every_device_has_its_caution(demo: TestClient, device: str) -> None:
    """Each page defers to the manual and to local codes, and tells to lock out."""
    text = demo.get(PLACE, params={"device": device}).text
    assert "equipment’s own manual" in text
    assert "Local codes" in text
    assert "lock it out" in text


def test_what_is_typed_must_be_a_caution(demo: TestClient) -> None:
    """Nothing is proposed; a closer spacing, a faster belt and no number are told beside their
    fields, and what was typed stays."""
    fresh = page_of(demo.get(PLACE, params={"device": "height_sensor"}))
    form = next(one for one in fresh.forms if "minutes" in one.data())
    assert {form.data()[name][0] for name in TYPED} == {""}
    wrong = {**TYPED, "car_spacing_m": "15", "conveyor_speed_m_s": "90", "minutes": "soon"}
    answer = demo.get(PLACE, params={"device": "height_sensor", **wrong})
    for said in ("is closer than planned", "is faster than planned", "“soon”: that is no time"):
        assert said in answer.text
    form = next(one for one in page_of(answer).forms if "minutes" in one.data())
    assert {name: form.data()[name][0] for name in TYPED} == wrong
    missing = demo.get(PLACE, params={"device": "blower", "minutes": "45"})
    assert "nothing was entered" in missing.text


def test_both_ways_are_told_beside_the_day_as_planned(demo: TestClient) -> None:
    """What stands there are the differences of the plan’s own quick comparison, to the printed
    digit; the one that is chosen leads the plan and is noted."""
    answer = demo.get(PLACE, params={"device": "height_sensor", **TYPED})
    web, site = app_of(demo).state.web, demo_site(demo)
    plan = web.open(site, PLAN, PEAK).asked
    question, expected = plan.to_compare, plan.expected
    assert question is not None
    assert expected is not None
    base = plan.scenarios[0]
    allowed = Allowed(24 * 0.3048, 40 * 0.3048 / 60.0, 0.7)
    now_s = max(web.clock_at(site)[1], 3600.0 * site.data.site.line.open_h)
    stood = repaired(base, min(now_s, 3600.0 * site.data.site.line.close_h - 60.0), 2700.0, "a")
    for made in (stood, run_on(base, "height_sensor", allowed, "b")):
        found = web.tries.answer(question, Tried(base, made, expected))
        assert moved_words(found, "us") in answer.text
    form = page_of(answer).form(f"{PLACE}/plan")
    planned = demo.post(f"{PLACE}/plan", data=form.data(way="run_on"), follow_redirects=False)
    assert planned.status_code == 303
    first = web.open(demo_site(demo), PLAN, PEAK).asked.scenarios[0]
    assert first.name == "Without the height sensor"
    assert first.changes["failed_sensor"] == "height"
    with web.database.session() as session:
        entry = load_log(session, site.id, PEAK, PEAK, (DEVICE,))[-1]
    assert (entry.word, entry.name) == (DOWN, "height_sensor")


def test_what_the_repair_costs_is_in_the_comparison(demo: TestClient) -> None:
    """Each way then says what it costs, the sum of what is printed, and which costs less; a repair
    that is dearer by what lies between turns that round. No amount is told beside its field."""
    both = {"repair_now": "900", "repair_tonight": "400"}
    answer = demo.get(PLACE, params={"device": "height_sensor", **TYPED, **both})
    parts = re.split(r'<div class="way-out"', answer.text)[1:]
    told = []
    for part, repair in zip(parts, (900, 400), strict=True):
        moved = re.search(r"day earns \$([0-9,]+) (more|less)", part, re.IGNORECASE)
        less = 0 if moved is None else int(moved[1].replace(",", "")) * (1, -1)[moved[2] == "more"]
        said = re.search(r"With the repair at \$(\d+) it (costs|saves) \$([0-9,]+)", part)
        assert said is not None
        costs = int(said[3].replace(",", "")) * (1 if said[2] == "costs" else -1)
        assert (int(said[1]), costs) == (repair, repair + less)
        told.append(costs)
    apart = abs(told[0] - told[1])
    first = "a repair now" if told[0] < told[1] else "running on"
    assert f"By these numbers {first} costs ${apart:,} less" in answer.text
    turned = {"repair_now": str(900 + told[1] - told[0]), "repair_tonight": "400"}
    if told[0] >= told[1]:
        turned = {"repair_now": "900", "repair_tonight": str(400 + told[0] - told[1])}
    same = demo.get(PLACE, params={"device": "height_sensor", **TYPED, **turned})
    assert "By these numbers both cost the same." in same.text
    assert "until you enter it" in demo.get(PLACE, params={"device": "blower", **TYPED}).text
    wrong = demo.get(PLACE, params={"device": "blower", **TYPED, "repair_now": "cheap"})
    assert "“cheap”: that is no amount. Enter one, 0 to 1,000,000, or nothing." in wrong.text


def test_a_device_stays_down_however_long_ago_that_was_noted(demo: TestClient) -> None:
    """A safety device that nobody has said to work again stops the line a year later too."""
    site, web = demo_site(demo), app_of(demo).state.web
    noted = LogEntry("long-ago", PEAK - timedelta(days=360), 36_000.0, DEVICE, word=DOWN,
                     name="pull_cord")  # fmt: skip
    with gate(web.database, web.now()) as opened:
        opened.enter(site.id, [noted], "long ago")
    assert "<b>Stop the line.</b>" in demo.get("/harbor-road/checks").text
    with gate(web.database, web.now()) as opened:
        opened.enter(site.id, [replace(noted, struck="yes")], "taken back")
    assert "<b>Stop the line.</b>" not in demo.get("/harbor-road/checks").text


def test_a_device_that_is_down_is_told_until_it_works(demo: TestClient) -> None:
    """On its page, on Checks and on Today; noted as working again it is not."""
    form = page_of(demo.get(PLACE, params={"device": "blower"})).form(PLACE)
    noted = demo.post(PLACE, data=form.data(word="down", device="blower"))
    assert "blower" in noted.text
    for place in (PLACE, "/harbor-road/checks", "/harbor-road/today"):
        assert re.search(r"Down: [^.<]*blower", demo.get(place).text), place
    forms = page_of(demo.get(PLACE)).forms
    (works,) = (one for one in forms if one.data().get("device") == ["blower"])
    demo.post(PLACE, data=works.data(word="repaired"))
    for place in (PLACE, "/harbor-road/checks", "/harbor-road/today"):
        assert not re.search(r"Down: [^.<]*blower", demo.get(place).text), place

"""Three weighings, as a browser without script meets them."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import wait
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers import weighings
from app.answers.beliefs import DayTaken
from app.sites.reading import gate
from app.words.weighings import day_taken_words, fit_words, judged_rows
from sim.day.drawn import Belief
from sim.inputs import (
    AFTERNOON,
    CALL_BACK,
    DAMP,
    HOODS,
    INPUTS,
    LET_PASS,
    MEASURED,
    MISFIT,
    SOAKED,
    SPIN,
    TOWEL,
    LogEntry,
    Weighing,
)
from sim.inputs.logbook import TIMED
from sim.learn.answer import CheckedWeighing, Posterior
from sim.learn.weighed_day import Cars
from tests.demo_app import app_of
from tests.pages.pages import Form, Page, asks_again, page_of, small_client, stored_site
from tests.small_wash import TODAY as WASH_TODAY
from tests.small_wash import small_wash

PATH = "/mill-lane/weighings"
SOAK = Weighing(SOAKED, date(2026, 7, 14), 0.0, 0.32, 0.1)


def form_of(page: Page, kind: str) -> Form:
    """The form of one of the three weighings."""
    for form in page.forms:
        if any(f.name == "kind" and f.value == kind for f in form.fields):
            return form
    raise AssertionError(f"no form for {kind}")


def test_the_lock_out_comes_before_any_step(client: TestClient) -> None:
    """The page is made for a phone, says first to stop and lock out, and has a form for each."""
    text = client.get(PATH).text
    page = Page(text)
    assert 'class="hand"' in text
    assert text.index("<b>Stop.</b>") < text.index('id="soaked"') < text.index('id="afternoon"')
    assert "equipment’s own manual" in text
    assert [form_of(page, kind).action for kind in MEASURED] == [PATH] * 6
    assert "Until something is in on how much the cloth holds" in text
    assert "Watch it from outside the guards only" in text
    assert page.links.count("/guide/weighings") == 1


def test_the_dry_weight_is_that_of_the_site(client: TestClient) -> None:
    """In the reader's small unit."""
    form = form_of(page_of(client.get(PATH)), SOAKED)
    (dry,) = [f for f in form.fields if f.name == "dry_kg"]
    assert dry.value == "3.527"


def test_strips_are_stored_and_struck_out(client: TestClient) -> None:
    """Several at once, with or without a unit; each can be struck out; sent twice is once."""
    form = form_of(page_of(client.get(PATH)), SOAKED)
    sent = form.data(weight_kg="11.3 312 g 0.7 lb", dry_kg="100 g", day="2026-07-14")
    assert "Stored." in client.post(PATH, data=sent).text
    client.post(PATH, data=sent)
    held = stored_site(client).weighings
    assert [round(item.weight_kg, 3) for item in held] == [0.312, 0.318, 0.32]
    assert {(item.kind, item.dry_kg, item.rule) for item in held} == {(SOAKED, 0.1, "full")}
    text = client.get(PATH).text
    assert "One kind of measurement is in." in text
    assert "In: 3 strips." in text
    strikes = [form for form in Page(text).forms if form.action == f"{PATH}/strike"]
    assert len(strikes) == 3
    answer = client.post(f"{PATH}/strike", data=strikes[1].data())
    assert "Struck out. The history keeps it." in answer.text
    assert [round(item.weight_kg, 3) for item in stored_site(client).weighings] == [0.312, 0.32]
    history = client.get("/mill-lane/site").text
    assert "Weighing: A soaked strip, 14 July 2026" in history
    assert "11.2\u00a0oz wet, 3.527\u00a0oz dry" in history


def test_a_spin_test_is_a_row_a_time(client: TestClient) -> None:
    """The strip before, and after each stretch of idling; minutes since the first weighing."""
    form = form_of(page_of(client.get(PATH)), SPIN)
    sent = form.data(
        weight_kg="312 g", dry_kg="100 g", day="2026-07-14", at_s="20:15", spun_s="10 30 min",
        after_kg="260 g 210 g",
    )  # fmt: skip
    assert "Stored." in client.post(PATH, data=sent).text
    held = stored_site(client).weighings
    assert {(w.kind, w.at_s, w.weight_kg, w.dry_kg) for w in held} == {(SPIN, 72_900, 0.312, 0.1)}
    assert [(w.spun_s, w.after_kg) for w in held] == [(1800.0, 0.21), (600.0, 0.26)]
    said = "212\u00a0% of its own weight in water, 160\u00a0% after 10\u00a0min of idling"
    assert said in client.get(PATH).text
    assert said in client.get("/mill-lane/site").text


def test_a_towel_test_is_a_row_a_hood(client: TestClient) -> None:
    """Each with its verdict; one dry weight for all, or one each in order."""
    form = form_of(page_of(client.get(PATH)), TOWEL)
    sent = form.data(dry_kg="200 g", day="2026-07-14", passed="210 g 215 g", called="240 g 250 g")
    assert "Stored." in client.post(PATH, data=sent).text
    held = stored_site(client).weighings
    assert [(w.verdict, round(w.gain_kg, 3)) for w in held] == [
        (LET_PASS, 0.01), (LET_PASS, 0.015), (CALL_BACK, 0.04), (CALL_BACK, 0.05),
    ]  # fmt: skip
    assert "In: 4 hoods." in client.get(PATH).text
    again = form_of(page_of(client.get(PATH)), TOWEL)
    sent = again.data(dry_kg="200 g 205 g", day="2026-07-13", passed="210 g", called="240 g")
    assert client.post(PATH, data=sent).status_code == 200
    new = [w for w in stored_site(client).weighings if w.day == date(2026, 7, 13)]
    assert [round(w.gain_kg, 3) for w in new] == [0.01, 0.035]


def test_twenty_hoods_need_no_scale(client: TestClient) -> None:
    """Time, damp ones and how cars had been wiped; no weight is asked for or kept."""
    form = form_of(page_of(client.get(PATH)), HOODS)
    assert not {"weight_kg", "dry_kg"} & {f.name for f in form.fields}
    sent = form.data(day="2026-07-14", at_s="15:20", damp_cars="3", wiped="reduced")
    assert client.post(PATH, data=sent).status_code == 200
    (item,) = stored_site(client).weighings
    assert item == Weighing(
        HOODS, date(2026, 7, 14), 55_200.0, rule="reduced", cars=20, damp_cars=3
    )
    assert "of the last 20 hoods 3 damp" in client.get(PATH).text


def test_an_afternoon_keeps_how_cars_were_wiped(client: TestClient) -> None:
    """As a rule that the model knows."""
    form = form_of(page_of(client.get(PATH)), AFTERNOON)
    sent = form.data(
        weight_kg="6.9",
        day="2026-07-14",
        at_s="15:20",
        damp_cars="3",
        wiped="clock",
        **{"from": "12:00", "to": "15:00"},
    )
    assert client.post(PATH, data=sent).status_code == 200
    (item,) = stored_site(client).weighings
    assert (item.cars, item.damp_cars) == (20, 3)  # as many looked at as the page asks for
    assert "3 of 20 cars damp" in client.get(PATH).text
    assert (item.kind, item.at_s, item.rule) == (AFTERNOON, 15 * 3600 + 1200, "clock 12:00-15:00")
    # nothing is known of that day here: it is told, and no plan pretends
    assert "is left out" in client.get(PATH).text


def test_the_form_asks_what_the_day_had(client: TestClient) -> None:
    """Cars washed so far and the weather as felt, neither needed, not of a soaked strip; a bare
    temperature is in the reader's units and kept with its unit."""
    page = page_of(client.get(PATH))
    assert not {"cars_so_far", "weather"} & {f.name for f in form_of(page, SOAKED).fields}
    form = form_of(page, AFTERNOON)
    sent = form.data(
        weight_kg="6.9", day="2026-07-14", at_s="15:20", damp_cars="3", weather="91, 70 %",
        cars_so_far="812",
    )  # fmt: skip
    assert client.post(PATH, data=sent).status_code == 200
    (item,) = stored_site(client).weighings
    assert (item.cars_so_far, item.weather) == (812, "91 °F, 70 %")
    text = client.get(PATH).text
    assert "812 cars washed so far" in text
    assert "weather 91 °F, 70 %" in text


def test_an_afternoon_at_which_nobody_looked_has_no_count(client: TestClient) -> None:
    """An empty field is no zero."""
    for at, damp in (("15:20", ""), ("16:20", "0")):
        form = form_of(page_of(client.get(PATH)), AFTERNOON)
        client.post(
            PATH, data=form.data(weight_kg="6.9", day="2026-07-14", at_s=at, damp_cars=damp)
        )
    assert [(w.cars, w.damp_cars) for w in stored_site(client).weighings] == [(0, 0), (20, 0)]


@pytest.mark.parametrize(
    ("kind", "changes", "field", "said"),
    [
        (SOAKED, {"weight_kg": "heavy"}, "weight_kg", "can’t be read"),
        (SOAKED, {"weight_kg": ""}, "weight_kg", "can’t be read"),
        (SPIN, {"at_s": "20:15", "after_kg": "9", "spun_s": "soon"}, "spun_s", "can’t be read"),
        (SPIN, {"at_s": "20:15", "after_kg": ""}, "after_kg", "can’t be read"),
        (SPIN, {"at_s": "20:15", "after_kg": "9", "spun_s": "10 20"}, "after_kg", "2 times and 1"),
        (SPIN, {"at_s": "20:15", "after_kg": "9", "weight_kg": "11 12"}, "weight_kg", "2 weights"),
        (SPIN, {"at_s": "20:15", "after_kg": "9", "spun_s": "0"}, "spun_s", "can't be judged"),
        (SPIN, {"at_s": "20:15", "after_kg": "3"}, "after_kg", "a wet strip weighs more than"),
        (TOWEL, {"dry_kg": "10", "passed": "", "called": "12"}, "passed", "can’t be read"),
        (TOWEL, {"dry_kg": "10 9", "passed": "11", "called": "12 12"}, "dry_kg", "2 dry weights"),
        (TOWEL, {"dry_kg": "10", "passed": "9", "called": "12"}, "passed", "weighs no less after"),
        (HOODS, {"at_s": "15:20"}, "damp_cars", "is not a number of cars"),
        (HOODS, {"at_s": "15:20", "damp_cars": "2", "cars": "0"}, "cars", "is not a number"),
        (HOODS, {"at_s": "15:20", "damp_cars": "30"}, "damp_cars", "30 damp cars of 20"),
        (SOAKED, {"weight_kg": "310"}, "weight_kg", "Look at the unit"),
        (SOAKED, {"weight_kg": "2"}, "weight_kg", "a wet strip weighs more than"),
        (SOAKED, {"dry_kg": "light"}, "dry_kg", "is not a weight"),
        (SOAKED, {"day": "yesterday"}, "day", "is not a date"),
        (SOAKED, {"day": "2026-07-16"}, "day", "still to come"),
        (DAMP, {"at_s": "noon"}, "at_s", "is not a time of day"),
        (DAMP, {"at_s": "15:00"}, "damp_cars", "Look at the next 20 cars"),
        (DAMP, {"at_s": "15:00", "damp_cars": "many"}, "damp_cars", "is not a number of cars"),
        (DAMP, {"at_s": "15:00", "damp_cars": "3", "cars": "0"}, "cars", "is not a number of cars"),
        (DAMP, {"at_s": "15:00", "damp_cars": "21"}, "damp_cars", "21 damp cars of 20 looked at"),
        (AFTERNOON, {"at_s": "15:00", "damp_cars": "3", "cars": "900"}, "cars", "Enter 1 to 200"),
        (
            AFTERNOON,
            {"at_s": "15:00", "cars_so_far": "lots"},
            "cars_so_far",
            "is not a number of cars",
        ),
        (
            AFTERNOON,
            {"at_s": "15:00", "cars_so_far": "9999999"},
            "cars_so_far",
            "washed so far can",
        ),
        (
            DAMP,
            {"at_s": "15:00", "damp_cars": "3", "cars_so_far": "7000"},
            "cars_so_far",
            "Enter 1 to 5,000",
        ),
        (AFTERNOON, {"at_s": "15:00", "weather": "sultry"}, "weather", "was not understood"),
        (AFTERNOON, {"at_s": "15:00", "weather": "91 °F, +20 %"}, "weather", "more than can be"),
        (AFTERNOON, {"at_s": "3:00"}, "at_s", "outside the opening hours"),
        (AFTERNOON, {"at_s": "15:00", "wiped": "clock", "from": "x"}, "from", "not a time of day"),
        (AFTERNOON, {"at_s": "15:00", "wiped": "never"}, "wiped", "Choose one of the list"),
    ],
)  # fmt: skip
def test_what_is_wrong_stands_beside_its_field(
    client: TestClient, kind: str, changes: dict[str, str], field: str, said: str
) -> None:
    """With what was typed still there, in the form that was sent, which stays open."""
    form = form_of(page_of(client.get(PATH)), kind)
    sent = form.data(**{"weight_kg": "11.3", "day": "2026-07-14", **changes})
    answer = client.post(PATH, data=sent)
    assert answer.status_code == 422
    page = page_of(answer)
    assert said in page.by_id[f"in-{kind}-{field}-e"]
    assert f"#in-{kind}-{field}" in page.links
    drawn = {f.name: f.value for f in form_of(page, kind).fields}
    kept = {name: text for name, text in changes.items() if text != "never"}  # no such choice
    assert {name: drawn[name] for name in kept} == kept
    assert stored_site(client).weighings == ()


def test_a_weighing_of_nothing_is_refused(client: TestClient) -> None:
    """A form that names none of the three, and a strike of what is not there."""
    form = form_of(page_of(client.get(PATH)), SOAKED)
    assert client.post(PATH, data=form.data(kind="dripping")).status_code == 422
    assert client.post(f"{PATH}/strike", data=form.data(which="7")).status_code == 422
    assert client.post(f"{PATH}/strike", data=form.data(which="x")).status_code == 422


def test_somebody_else_was_first(client: TestClient) -> None:
    """Nothing is stored, what was typed is kept, and who changed what is told."""
    form = form_of(page_of(client.get(PATH)), SOAKED)
    site = page_of(client.get("/mill-lane/site")).form("/mill-lane/site/wheel")
    client.post("/mill-lane/site/wheel", data=site.data(strip_count="150"))
    answer = client.post(PATH, data=form.data(weight_kg="11.3", day="2026-07-14"))
    assert answer.status_code == 409
    assert "Strips on the wheel" in answer.text
    assert 'value="11.3"' in answer.text
    assert stored_site(client).weighings == ()


@pytest.fixture
def washing(tmp_path: Path) -> Iterator[TestClient]:
    """A browser on an app whose site has counts and three soaked strips."""
    data = replace(small_wash(name="Mill Lane"), weighings=(SOAK,) * 3)
    assert WASH_TODAY.month == 7
    with small_client(tmp_path, data) as browser:
        yield browser


def test_the_page_waits_and_then_tells_what_changed(
    washing: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """First that it is being worked in, with a button to look again, since a page that asks by
    itself would take away what is typed; then the damp cars of the busiest
    day before and after, the inputs that were told of, and how many sites are left, in words; and
    every measurement with what it would be worth there and what work it is, in order."""
    monkeypatch.setattr(weighings, "SITES", 16)
    monkeypatch.setattr(weighings, "TRUTHS", 8)
    first = washing.get(PATH)
    assert "being worked in" in first.text
    assert not asks_again(first)
    assert ">Look again</a>" in first.text
    plan = washing.get("/mill-lane/plan/2026-07-18")
    assert "until that is done this plan is without them" in plan.text
    runner = app_of(washing).state.web.runner
    for kind in ("weighings", "effect", "worth"):
        wait([runner._line._threads[kind].submit(lambda: None)])
        last = washing.get(PATH)
    assert ">Look again</a>" not in last.text
    text = last.text
    assert "What they changed" in text
    assert "Holding capacity" in text
    assert "equally likely ones" in text
    assert "With the weighings" in text
    assert text.count("of 20 sites like yours") >= 6
    assert "About 40 minutes of one person, and 2 lock-outs." in text
    assert "About 15 minutes of one person, no lock-out." in text
    assert "until that is done" not in washing.get("/mill-lane/plan/2026-07-18").text


def test_words_of_a_weighed_day() -> None:
    """What its cars were taken from, until when, and how far they were from what was expected;
    where nothing is known, how wide it is taken and what to do about it."""
    taken = DayTaken(date(2026, 7, 18), Cars("counts", (), (), 51_000.0, 84.0, 70.0), 0.0)
    assert day_taken_words(taken) == (
        "Saturday 18 July: 84 cars counted until 14:10, 20\u00a0% more than expected."
    )
    noted = replace(taken, cars=replace(taken.cars, known="so far", seen=63.0))
    assert "63 cars washed until 14:10, as noted, 10\u00a0% fewer than" in day_taken_words(noted)
    alike = replace(taken, cars=replace(taken.cars, seen=70.2))
    assert day_taken_words(alike).endswith("until 14:10, as expected.")
    unknown = DayTaken(date(2026, 7, 18), Cars("nothing", ()), 0.24)
    said = day_taken_words(unknown)
    assert "nothing is known" in said
    assert "24\u00a0%" in said
    assert "Bring in its counts" in said


def test_what_was_found_stands_beside_what_was_expected() -> None:
    """A row for the water and one for the cars looked at, with middle and range; shares of less
    than a car in a thousand are none."""
    item = Weighing(AFTERNOON, date(2026, 7, 18), 55_200.0, 0.205, 0.1, cars=20, damp_cars=17)
    row = CheckedWeighing(
        item, (0.4, 0.6, 0.85), (0.7, 0.9, 1.2), (1e-9, 0.12, 0.45), (0.4, 0.61, 0.84)
    )
    water, cars = judged_rows(row, "us")
    assert water[1:] == ("105\u00a0%", "60\u00a0% (40–85\u00a0%)", "90\u00a0% (70–120\u00a0%)")
    assert "18 July 2026, 15:20: damp cars" in cars[0]
    assert cars[1:] == (
        "17 of 20, 85\u00a0%", "12\u00a0% (0–45\u00a0%)", "61\u00a0% (40–84\u00a0%)",
    )  # fmt: skip


def test_rows_of_spin_tests_are_told_apart() -> None:
    """Two strips spun at one time, each weighed twice: what each had, and after how long."""
    at = (SPIN, date(2026, 7, 8), 74_700.0)
    moistures = (0.4, 0.6, 0.85), (0.7, 0.9, 1.2)
    names = [
        judged_rows(
            CheckedWeighing(Weighing(*at, wet, 0.1, after_kg=0.16, spun_s=spun_s), *moistures),
            "us",
        )[0][0]
        for wet in (0.28, 0.33)
        for spun_s in (120.0, 600.0)
    ]
    assert len(set(names)) == 4
    assert names[0].endswith("8 July 2026, 20:45: water after 2\u00a0min, from 180\u00a0%")


def left(size: int, effective: float, strange: float, *weighed: str) -> Posterior:
    """What weighings leave of so many sites."""
    return Posterior(Belief((), 1, size, (), weighed, effective), strange, 0.05, (), ())


def test_words_of_the_fit() -> None:
    """Few sites left are told as a tight fit, none as a model that does not hold."""
    assert "as many as 260 equally likely" in fit_words(left(2_048, 260.4, 0.02))
    assert "at the edge of what was believed" in fit_words(left(16_384, 41.0, 0.02))
    off = left(16_384, 93.0, 0.934, SOAKED, MISFIT)
    said = fit_words(off)
    assert "it is 93\u00a0% likely that your site is unlike" in said
    assert "before, it was 5\u00a0%" in said
    assert "as many as 93 equally likely" in said
    assert "the model does not hold" in said


def test_what_plans_count_on_stands_beside_what_times_say(tmp_path: Path) -> None:
    """A dozen cars loaded in half a minute say surely more than was guessed; one press stores the
    middle of what they leave as the site's own, and then nothing is left to take over. Without
    times the page says how to take them."""
    with small_client(tmp_path, small_wash()) as client:
        path = "/small-wash/weighings"
        before = client.get(path)
        assert "None is taken yet" in before.text
        assert "/small-wash/logbook?kind=timed" in before.text
        web = app_of(client).state.web
        site = web.site_at("small-wash")
        entry = LogEntry("timed-001", date(2026, 7, 14), 30_000.0, TIMED, name="load")
        with gate(web.database, web.now()) as opened:
            opened.enter(site.id, [replace(entry, text="31 28 33 26 30 35 29 27 32 30 34 25")], "a")
        page = client.get(path)
        assert "The log says otherwise than plans count on." in page.text
        assert "12 cars" in page.text
        form = page_of(page).form("/small-wash/site/pay")
        assert sorted(set(form.data()) & set(INPUTS)) == ["load_cv", "load_mean_s"]
        assert client.post(form.action, data=form.data()).status_code == 200
        site = web.site_at("small-wash")
        assert {"load_mean_s", "load_cv"} <= site.data.given
        assert 25.0 < site.data.site.pay.load_mean_s < 31.0
        page = client.get(path)
        assert "Plans count on what the log says, as far as it does." in page.text
        assert "/small-wash/site/pay" not in page.text

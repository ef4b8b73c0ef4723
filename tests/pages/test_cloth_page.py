"""Cloth, as a browser without script meets it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.answers import cloth
from app.answers.serial import read
from app.answers.studies.line import StudyQueue
from app.charts.cloth import cost_curve
from app.words.answer import TURNS_ON
from app.words.cloth import (
    answer,
    counted_words,
    guess_rows,
    how_sure,
    launder_answer,
    launder_due,
    launder_guess_rows,
    launder_rows,
    launder_sure,
    moving,
)
from app.words.numbers import about_dollars
from app.words.phrases import Statement
from sim.decide.cloth.answer import (
    Believed,
    BusyDay,
    ClothAnswer,
    DampByWear,
    Due,
    Guess,
    LaundryDue,
    LifeFound,
    LossFound,
    Moved,
    SetFound,
    SetToCome,
)
from sim.decide.cloth.change import ChangeAge, ChangePrices
from sim.decide.cloth.guesses import AgeRange
from sim.decide.cloth.launder import LaunderGuess, Laundering, LaunderPrices
from sim.decide.firm import Standing, Widener
from sim.inputs import INPUTS, PUT_ON, ROTATED, TAKEN_OFF, Site, SiteData
from sim.learn.cloth_looks import DampCount
from tests.answers.test_cloth import BOOK, B
from tests.charts.drawn import drawn, faults
from tests.demo_app import begin_nothing
from tests.pages.pages import (
    Form,
    Page,
    asks_again,
    page_of,
    small_client,
    stored_site,
    work_at_once,
)
from tests.remembering import remember
from tests.small_wash import small_wash

PATH = "/small-wash/cloth"
BARE = "/mill-lane/cloth"


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers are there when the page is, the same question worked out once."""
    monkeypatch.setattr(StudyQueue, "begin", work_at_once)
    remember(monkeypatch, cloth, "find_out", but=("look",))


@pytest.fixture
def wash(tmp_path: Path) -> Iterator[TestClient]:
    """A site with counts and two sets, the second on the wheel."""
    data = replace(small_wash(), cloth=BOOK)
    # the tests' day lies before the last entry of the record it would lose; counts end there too
    with small_client(tmp_path, data) as client:
        yield client


def form_of(page: Page, act: str) -> Form:
    """The form of an act."""
    for form in page.forms:
        if any(f.name == "act" and f.value == act for f in form.fields):
            return form
    raise AssertionError(f"no form for {act}")


def test_the_answer_comes_first_and_the_lock_out_with_it(wash: TestClient) -> None:
    """Answer, how sure, cautions, sets; linked from the pages line and from Today."""
    text = wash.get(PATH).text
    assert text.index('class="answer"') < text.index("<b>Stop.</b>") < text.index('id="sets"')
    assert "try the start" in text
    assert "<b>Not firm:</b> what nobody has measured here stands at its middle value" in text
    assert PATH in Page(wash.get("/small-wash/today").text).links
    assert "/guide/cloth" in Page(text).links


def test_every_figure_of_the_curve_stands_in_a_table(wash: TestClient) -> None:
    """The chart stands beside a table of ages and costs; by its axes its line is the curve, its
    mark the advised age at the least cost, and its band the ages that cost hardly more."""
    found = read(ClothAnswer, wash.get(f"{PATH}.json").text)
    curve = cost_curve(found)
    assert len(curve.rows) == 7
    text = wash.get(PATH).text
    picture = str(curve.svg)
    assert picture in text
    assert list(faults(picture)) == []
    seen = drawn(picture)
    (line,) = seen.lines["line best"]
    told = [(age, 1000.0 * rate) for age, rate in found.change.curve]
    for x, y in line:
        age, rate = min(told, key=lambda one: abs(one[0] - seen.along(x)))
        assert seen.along(x) == pytest.approx(age, rel=0.01)
        assert seen.value(y) == pytest.approx(rate, rel=0.02)
    (best,) = seen.points["dot s1"]
    assert seen.along(best[0]) == pytest.approx(found.change.age, rel=0.01)
    assert seen.value(best[1]) == pytest.approx(1000.0 * found.change.cost_rate, rel=0.02)
    (flat,) = seen.boxes["flat"]
    assert [seen.along(x) for x in flat[:2]] == pytest.approx(found.change.flat, rel=0.01)
    for row in curve.rows:
        assert all(cell in text for cell in row)


def test_a_set_is_put_on_in_place_of_another(wash: TestClient) -> None:
    """One form, two entries; sent twice is once; what came off is stored with its reason."""
    form = form_of(page_of(wash.get(PATH)), PUT_ON)
    sent = form.data(name="A", day="2026-07-14", at_s="6:40", reason="worn")
    assert "Stored." in wash.post(PATH, data=sent).text
    wash.post(PATH, data=sent)
    events = stored_site(wash, "small-wash").cloth.events
    assert len(events) == len(BOOK.events) + 2
    off, on = events[-2:]
    assert (off.kind, off.name, off.reason) == (TAKEN_OFF, B.name, "worn")
    assert (on.kind, on.name, on.at_s) == (PUT_ON, "A", 24_000.0)
    assert off.at_s == on.at_s


def test_an_inspection_is_read_in_the_readers_units(wash: TestClient) -> None:
    """Inches and ounces for a US site, or a unit typed with it."""
    form = form_of(page_of(wash.get(PATH)), "inspected")
    sent = form.data(
        name="A", day="2026-07-14", at_s="9:00", length_m="34", dry_kg="95 g", torn="2"
    )
    assert "Stored." in wash.post(PATH, data=sent).text
    event = stored_site(wash, "small-wash").cloth.events[-1]
    assert event.length_m == pytest.approx(34 * 0.0254)
    assert event.dry_kg == pytest.approx(0.095)
    assert event.torn == 2


def test_what_happened_is_struck_out_again(wash: TestClient) -> None:
    """The history keeps it; an entry that others rest on is not let go."""
    page = page_of(wash.get(PATH))
    strikes = [form for form in page.forms if form.action == f"{PATH}/strike"]
    assert len(strikes) == len(BOOK.events)
    # newest first: the inspection; the first entry of all is the set put on
    assert "Struck out." in wash.post(f"{PATH}/strike", data=strikes[0].data()).text
    page = page_of(wash.get(PATH))
    last = [form for form in page.forms if form.action == f"{PATH}/strike"][-1]
    refused = wash.post(f"{PATH}/strike", data=last.data())
    assert refused.status_code == 422
    assert "it was not on the wheel then" in refused.text
    assert len(stored_site(wash, "small-wash").cloth.events) == len(BOOK.events) - 1
    assert "Cloth: A looked at, 7 July 2026, 16:00" in wash.get("/small-wash/site").text


@pytest.mark.parametrize(
    ("act", "typed", "field", "said"),
    [
        (
            "off", {"day": "2026-07-03"}, "day",
            "can’t be taken off on 2026-07-03 6:40: it was not on the wheel then",
        ),
        ("laundered", {"day": "2026-07-16"}, "day", "is still to come. Enter the day on which"),
        ("inspected", {"day": "2027-01-01", "torn": "1"}, "day", "is still to come."),
        ("inspected", {"day": "yesterday", "torn": "1"}, "day", "“yesterday” is not a date."),
        ("inspected", {"at_s": "noon", "torn": "1"}, "at_s", "“noon” is not a time of day."),
        ("inspected", {"torn": "few"}, "torn", "“few” is not a number of strips."),
        ("inspected", {"length_m": "long"}, "length_m", "“long” can’t be read. Enter a number,"),
        ("inspected", {}, "length_m", "Nothing was measured."),
        ("off", {"cars": "lots"}, "cars", "“lots” is not a number of cars."),
        ("on", {"name": "Z"}, "name", "There is no set “Z”."),
        ("on", {"name": ""}, "name", "No set was chosen."),
        ("bought", {"name": "A"}, "name", "There are 2 sets “A”."),
    ],
)  # fmt: skip
def test_bad_input_is_told_beside_its_field(
    wash: TestClient, act: str, typed: dict[str, str], field: str, said: str
) -> None:
    """The same words on top and beside the field; what was typed stays; nothing is stored."""
    form = form_of(page_of(wash.get(PATH)), act)
    usual = {"day": "2026-07-14", "at_s": "6:40"} if act != "bought" else {}
    refused = wash.post(PATH, data=form.data(**{**usual, **typed}))
    assert refused.status_code == 422
    page = page_of(refused)
    beside = page.by_id[f"in-{act}-{field}-e"]
    assert said in beside
    assert beside.strip() in page.by_id["main"].replace("\n", " ")
    assert f"#in-{act}-{field}" in page.links
    again = form_of(page, act)
    for name, text in typed.items():
        assert next(f.value for f in again.fields if f.name == name) == text
    assert stored_site(wash, "small-wash").cloth == BOOK


def test_two_sets_on_the_wheel_at_once_are_refused(wash: TestClient) -> None:
    """Without a reason why the other came off, the page says which one is on."""
    form = form_of(page_of(wash.get(PATH)), PUT_ON)
    refused = wash.post(PATH, data=form.data(name="A", day="2026-07-14", at_s="6:40", reason=""))
    assert refused.status_code == 422
    assert "has been on the wheel since 2026-07-06 7:00" in page_of(refused).by_id["in-on-name-e"]


def test_what_is_no_form_is_refused(wash: TestClient) -> None:
    """An act that there is none of, an entry that is gone: a sentence, nothing stored."""
    form = form_of(page_of(wash.get(PATH)), PUT_ON)
    refused = wash.post(PATH, data=form.data(act="burned"))
    assert refused.status_code == 422
    assert "is nothing that can be entered here" in refused.text
    strike = page_of(wash.get(PATH)).form(f"{PATH}/strike")
    gone = wash.post(f"{PATH}/strike", data=strike.data(which="999"))
    assert gone.status_code == 422
    assert "There is no such entry any more." in gone.text


def test_somebody_else_was_first(wash: TestClient) -> None:
    """A form drawn before another change is not stored; what was typed is still there."""
    page = page_of(wash.get(PATH))
    first, late = form_of(page, "bought"), form_of(page, "laundered")
    wash.post(PATH, data=first.data(name="C"))
    answer_ = wash.post(PATH, data=late.data(name="A", day="2026-07-13", at_s="6:40"))
    assert answer_.status_code == 409
    again = form_of(page_of(answer_), "laundered")
    assert next(f.value for f in again.fields if f.name == "day") == "2026-07-13"


def test_a_site_without_anything_begins_with_a_set(tmp_path: Path) -> None:
    """No counts, no sets: the reason, a way to the counts, and one open form."""
    with small_client(tmp_path, SiteData(Site("Mill Lane"))) as client:
        text = client.get(BARE).text
        page = Page(text)
        assert "can’t be worked out yet" in text
        assert "There are no counts of open hours" in text
        assert "/mill-lane/counts" in page.links
        form = form_of(page, "bought")
        stored = client.post(BARE, data=form.data(name="Blue"))
        assert "Stored." in stored.text
        put = form_of(page_of(client.get(BARE)), PUT_ON)
        assert not any(f.name == "reason" for f in put.fields)
        assert "Stored." in client.post(BARE, data=put.data(day="2026-07-14", at_s="7:00")).text
        refused = client.get(f"{BARE}.json")
        assert refused.status_code == 422
        assert "There are no counts" in json.loads(refused.text)["problems"][0]


GUESSED = (
    Guess("uptake_loss_at_life", 0.12, 0.4, 38_000.0, 19_000.0, 0.09),
    Guess("damp_cost", 0.81, 4.9, 33_000.0, 24_000.0, 0.01),
)
LATE = SetToCome(1.0, (4e4, 5e4, 6e4), (date(2026, 11, 1), None, None), 0.0)
OLD = SetFound("A", None, "on", "", date(2026, 5, 1), 36_000.0, True, 2, 36_000.0, LATE)
DUE = Due(
    "A", date(2026, 10, 14), date(2026, 10, 2), date(2026, 10, 30), False,
    BusyDay(date(2026, 10, 17), 1234.0), Moved(date(2026, 10, 20), 210.0, 11.2),
)  # fmt: skip
LAUNDERING = Laundering(
    days=4, cars=2_245.0, low=2, high=9, near=(4, 5), prices=LaunderPrices(15.0, 23.3, 3.7),
    cost_per_day=20.75, soil_lost=0.024, more_damp_share=0.012, saves_never=104_002.0,
    saves_nightly=7_171.0, saves_present=909.0, present_days=7, open_days=300,
    guesses=(
        LaunderGuess("soil_loss_per_1000_cars", 0.003, 0.033, 7, 2, 6.1),
        LaunderGuess("launder_wear", 87.0, 716.0, 4, 4, 0.0),
    ),
    rival=7,
    standing=Standing(64, 0.0, 0.0),
    curve=tuple((days, 20.75 + abs(days - 4), 0.006 * days) for days in range(1, 121)),
)  # fmt: skip
FOUND = ClothAnswer(
    day=date(2026, 7, 15),
    sets=(OLD,),
    life=LifeFound(Believed(2.5, 1.5, 4.0), Believed(6e4, 4e4, 8e4), 5e4, 4, 1, 0, None),
    prices=ChangePrices(900.0, 60.0, 100.0, 500.0),
    damp=DampByWear((0.0, 0.01, 0.03), (0.0, 0.01, 0.02)),
    uptake_loss=LossFound(False, 0.22, 0.12, 0.4, (DampCount(20, 9, 41_000.0),), 1),
    age_range=AgeRange(14_000.0, math.inf, 51_200.0, GUESSED, math.inf, Standing(64, 0.02, 0.02)),
    change=ChangeAge(
        31_000.0, 0.06, 31_000.0, 0.06, 0.07, None, (28_000.0, 35_000.0), ((31_000.0, 0.06),)
    ),
    in_parts=(),
    laundering=LAUNDERING,
    laundry_due=LaundryDue("A", 1_234.0, date(2026, 7, 17)),
    due=DUE,
    wear_per_day=100.0,
    wear_per_year=36_500.0,
    notes=(),
)
"""An answer with a set on the wheel."""
WAITING = replace(FOUND, change=replace(FOUND.change, age=math.inf))


def due(**changes: Any) -> ClothAnswer:
    """The same with something else about when the set is due."""
    return replace(FOUND, due=replace(DUE, **changes))


def test_the_answer_in_words() -> None:
    """Due, overdue, waiting, far away, no set: each has its sentence."""
    assert answer(FOUND) == Statement(
        "Change A about 14\u00a0October,",
        "before Saturday 17 October, the busiest day of that week. Any day from 2\u00a0October to "
        "30\u00a0October costs at most 2\u00a0% more.",
    )
    assert answer(due(busy=BusyDay(date(2026, 10, 14), 1.0), last=None)) == Statement(
        "Change A about 14\u00a0October.",
        "From 2\u00a0October on it costs at most 2\u00a0% more.",
    )
    gone = "It has gone 36,000 full wipes; the best age for a change is 31,000 full wipes."
    assert answer(due(overdue=True)) == Statement(
        "Change A in the morning of Tuesday 20 October, the quietest of the coming week.", gone
    )
    assert answer(due(overdue=True, quiet=None)) == Statement(
        "Change A on the next quiet morning.", gone
    )
    assert moving(due(overdue=True)) == (
        "About 210 cars are expected that day before noon. Waiting until then costs about $11."
    )
    far = due(day=None, busy=None, quiet=None)
    assert answer(far).lead == "A is not due within three years."
    assert answer(WAITING) == Statement(
        "Leave A on the wheel until it wears out.",
        "A planned change would save less than 1\u00a0% of the cost. Have the next set dry and "
        "ready from 1\u00a0November on.",
    )
    assert answer(replace(FOUND, due=None)).lead.startswith("No set is on the wheel")
    none = replace(WAITING, due=None, sets=())
    assert answer(none).lead == "No cloth set is entered yet."


WEIGHED = ("soaked", "damp", "afternoon")
OWN = frozenset(TURNS_ON["cloth"][1])


def test_no_advice_is_firm_before_the_weighings() -> None:
    """The three weighings, and a rival that is seldom better, make it firm; either alone does
    not."""
    told = how_sure(FOUND, (), OWN)
    assert told.lead == "Not firm:"
    assert told.rest.startswith("what nobody has measured here stands at its middle value")
    assert "No measurement is in this plan" in told.rest
    assert how_sure(FOUND, WEIGHED, OWN).lead == "Firm."
    few = Standing(64, 0.3, 0.3, turns=(Widener("uptake_loss_at_life", 0.6),))
    open_ = how_sure(replace(FOUND, age_range=replace(FOUND.age_range, standing=few)), WEIGHED, OWN)
    words = open_.rest.replace("\u00a0", " ")
    assert open_.lead == "Not firm:"
    assert words.startswith("at 6 of 20 sites like yours (64 were drawn) “a change when it wears")
    assert "Whether “a change at 31,000 full wipes” or “a change when it wears out” is" in words
    assert "One measurement would settle most of it. Count the damp hoods of some twenty" in words


def test_the_guesses_are_named_where_they_matter() -> None:
    """The guess that moves the age is named, the other is not, nor one that the site entered; the
    range of ages stands beside them."""
    text = how_sure(FOUND, WEIGHED, OWN).rest
    assert "turns on guesses until you enter yours: “Uptake lost when worn out”." in text
    assert "if damp cars cost nothing it would be 51,200 full wipes" in text
    assert "the best age lies between 14,000 full wipes and when it wears out" in text
    assert "turns on guesses" not in how_sure(FOUND, WEIGHED, {*OWN, "uptake_loss_at_life"}).rest
    for name in OWN:
        assert f"“{INPUTS[name].label}”" in how_sure(FOUND, WEIGHED, ()).rest
    rows = guess_rows(FOUND)
    assert [row[0] for row in rows] == [
        "Uptake lost when worn out", "Cost of a damp car", "No damp cars",
        "All of it, and the life of sets",
    ]  # fmt: skip
    assert rows[1][1] == "$0.81 to $4.90"
    assert "9 of 20 damp at 41,000 full wipes" in counted_words(FOUND)


def test_damp_hoods_are_entered_and_told(wash: TestClient) -> None:
    """The form stores a count under the set on the wheel; page and JSON tell it, and a count that
    can't be is told beside its field."""
    when = {"name": B.name, "day": "2026-07-14", "at_s": "9:00"}
    form = form_of(page_of(wash.get(PATH)), "hoods")
    refused = wash.post(PATH, data=form.data(**when, hoods="20", damp_hoods="30"))
    assert refused.status_code == 422
    assert "30 damp hoods of 20 can’t be" in refused.text
    assert "Stored." in wash.post(PATH, data=form.data(**when, hoods="20", damp_hoods="7")).text
    text = wash.get(PATH).text
    assert "7 of 20 hoods damp under B" in text
    counts = json.loads(wash.get(f"{PATH}.json").text)["uptake_loss"]["counts"]
    assert [(one["hoods"], one["damp"]) for one in counts] == [(20, 3), (20, 7)]


def test_a_quiet_morning_in_words() -> None:
    """Its cars and what moving costs; a day without cars is said to be one; none is no sentence."""
    assert moving(FOUND) == (
        "The quietest morning near is Tuesday 20 October, with about 210 cars before noon. Moving "
        "the change there costs about $11."
    )
    none = due(quiet=Moved(date(2026, 10, 20), 0.0, 0.0))
    assert moving(none).startswith("On Tuesday 20 October no car is expected before noon.")
    assert moving(due(quiet=None)) == ""


def test_money_has_no_false_digits() -> None:
    """Two or three digits, whatever the size."""
    assert about_dollars(18_314.2, 2) == "$18,000"
    assert about_dollars(-18_314.2) == "−$18,300"
    assert about_dollars(11.21, 2) == "$11"
    assert about_dollars(-0.2) == "$0"


def test_the_reason_for_a_turn_is_rotation(wash: TestClient) -> None:
    """Unless somebody says otherwise a set came off to dry, which ends no life."""
    form = form_of(page_of(wash.get(PATH)), PUT_ON)
    assert next(f.value for f in form.fields if f.name == "reason") == ROTATED


def test_a_page_begins_the_answer_and_waits_for_it(
    wash: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is computed in a request: the page says that it waits and asks again, has no form
    that this could take away, and its study can be stopped; a form that is refused stays."""
    form = form_of(page_of(wash.get(PATH)), PUT_ON)

    def computed(*_given: object) -> None:
        raise AssertionError("computed in the request")

    monkeypatch.setattr(cloth, "find_out", computed)
    begin_nothing(monkeypatch)
    sent = form.data(name="A", day="2026-07-14", at_s="6:40", reason="worn")
    answer = wash.post(PATH, data=sent)
    assert "Stored." in answer.text
    assert "The new one is being worked out and takes its place" in answer.text
    assert asks_again(answer).startswith("2; url=/small-wash/cloth")
    assert wash.get(f"{PATH}.json").status_code == 404
    page = page_of(answer)
    assert not [form for form in page.forms if form.action == PATH]
    refused = wash.post(PATH, data={**sent, "set": "Z"})
    assert refused.status_code == 422
    assert not asks_again(refused)
    assert form_of(page_of(refused), PUT_ON).data()["at_s"] == ["6:40"]
    stop = next(form for form in page.forms if form.action.endswith("/cancel"))
    stopped = wash.post(stop.action, data=stop.data())
    assert "The computation was stopped before it was done." in stopped.text
    again = page_of(stopped).form(f"{PATH}/anew")
    begun = wash.post(again.action, data=again.data())
    assert "The new one is being worked out and takes its place" in begun.text


def test_laundering_in_words() -> None:
    """How often, what it saves, how sure, and the tables, each told once."""
    said = launder_answer(LAUNDERING)
    assert said.lead == "Launder a set after every 4 open days on the wheel."
    assert said.rest.replace("\u00a0", " ") == (
        "Where days differ, count cars: after about 2,240. That saves about $7,200 a year against "
        "a laundering every night, and about $100,000 against none for a year of 300 open days; "
        "against every 7 open days, as the Site page has it, $910."
    )
    same = launder_answer(replace(LAUNDERING, saves_present=1.0, present_days=5, cars=math.inf))
    assert "The 5 open days of the Site page are as good." in same.rest
    assert "count cars" not in same.rest
    assert launder_due(FOUND).replace("\u00a0", " ") == (
        "A holds the soil of about 1,230 cars this evening; it is due before opening on Friday 17 "
        "July."
    )
    assert launder_due(replace(FOUND, laundry_due=None)) == ""
    unsaid = LaundryDue("A", 90.0, None)
    assert launder_due(replace(FOUND, laundry_due=unsaid)).endswith("soil of about 90 cars.")
    seldom = launder_answer(replace(LAUNDERING, days=120))
    assert seldom.lead == "Launder no oftener than the care of the cloth asks."
    sure = launder_sure(LAUNDERING, WEIGHED, TURNS_ON["laundry"][1])
    assert sure.lead == "Firm."
    assert sure.rest.endswith(
        "At 9 of 10 sites like yours the best interval lies between 2 and 9 open days. The days "
        "between launderings turn on guesses until you enter yours: “Uptake that the wax and soil "
        "of 1,000 cars take”."
    )
    open_ = replace(LAUNDERING, standing=Standing(64, 0.3, 0.3))
    assert "“every 7 open days” is better" in launder_sure(open_, WEIGHED, ()).rest
    assert launder_sure(LAUNDERING, (), ()).lead == "Not firm:"
    rows = launder_rows(LAUNDERING)
    assert [row[0] for row in rows[:5]] == ["1", "2", "3", "4, the best", "5"]
    assert rows[5][0] == "7, as now"
    assert rows[3][2] == "the least"
    guesses = launder_guess_rows(LAUNDERING)
    assert guesses[0][2:4] == ("7", "2")
    assert guesses[1][1] == "87 full wipes to 720 full wipes"

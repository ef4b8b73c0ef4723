"""The Site page: fields from the table of inputs, what was typed stays, one truth for problems."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers.serial import write
from app.sites.reading import gate
from app.words.answer import WIDENED, narrow_words
from app.words.leading import MOST, USUAL
from app.words.numbers import percent
from sim.decide.answer import Comparison
from sim.inputs import (
    CLASS_INPUTS,
    GROUP_INPUTS,
    GROUPS,
    INPUTS,
    INSPECTED,
    PUT_ON,
    TAKEN_OFF,
    WORN,
    ClothBook,
    ClothEvent,
    ClothSet,
    Person,
    StaffBook,
)
from sim.units import format_number
from tests.demo_app import app_of
from tests.pages.fixture_comparison import PEAK, peak_day_over_sites, plan, small_site
from tests.pages.pages import Page, page_of, small_client, stored_site

SITE = "/mill-lane/site"


def send(client: TestClient, name: str, text: str, **more: str) -> Page:
    """Types a text in the field of an input, stores its group, and reads what comes back."""
    page = page_of(client.get(SITE))
    form = next(form for form in page.forms if name in {field.name for field in form.fields})
    return page_of(client.post(form.action, data=form.data(**{name: text, **more})))


def test_every_input_has_its_field(client: TestClient) -> None:
    """Every input of the table has one labelled field with its stored value: the dozen that lead in
    a form of their own, the others in their group's."""
    page = page_of(client.get(SITE))
    labels = {attrs["for"] for tag, attrs in page.tags if tag == "label" and "for" in attrs}
    site = stored_site(client).site
    led = {field.name: field.value for field in page.form(f"{SITE}/leading").fields}
    assert len(led.keys() & INPUTS.keys()) == MOST
    for group in GROUPS:
        form = page.form(f"{SITE}/{group.key}")
        own = {field.name: field.value for field in form.fields}
        assert not own.keys() & led.keys() & INPUTS.keys()
        drawn = led | own
        for name, row in GROUP_INPUTS[group.key].items():
            assert drawn[name] == row.text(site.value(name), "us")
            assert f"in-{name}" in labels
        assert group.key in page.by_id


def shares_told(found: Comparison) -> list[str]:
    """The inputs that a plan names, with their shares, in its order: what decides against the
    rival first, then each figure's own."""
    best = found.columns[found.best]
    rival = found.rival(found.best)
    lists = [rival[1].turns if rival else (), *(best.widest.get(name, ()) for name in WIDENED)]
    told: dict[str, float] = {}
    for rows in lists:
        assert [row.share for row in rows] == sorted((row.share for row in rows), reverse=True)
        for row in rows:
            if row.input in INPUTS:
                told.setdefault(row.input, row.share)
    return [f"{name} {percent(share)}" for name, share in told.items()]


def test_the_inputs_that_lead_are_those_of_the_plan(tmp_path: Path) -> None:
    """Once a plan is there, the Site page leads with the inputs that it
    tells, in its order and with its shares; the first are those that the plan prints."""
    found = peak_day_over_sites()
    expected = shares_told(found)
    with small_client(tmp_path, small_site()) as client:
        site = "/invented-lane/site"
        before = page_of(client.get(site)).form(f"{site}/leading")
        assert [f.name for f in before.fields if f.name in INPUTS] == list(USUAL)
        web = app_of(client).state.web
        stored = web.site_at(site.split("/")[1])
        with gate(web.database, web.now()) as opened:
            opened.store_result("of a plan", stored.id, PEAK, write(plan(found)))
        page = client.get(site).text
    text = page.partition('id="leading"')[2].partition("</section>")[0]
    names = re.findall(r'id="in-(\w+)" name', text)
    said = re.findall(r'<p class="small soft">[^<]+: (\d[^<]*)</p>', text)
    assert len(names) == MOST
    assert len(expected) >= 3
    assert [f"{name} {share}" for name, share in zip(names, said, strict=False)] == expected[:MOST]
    printed = narrow_words(found)
    assert printed is not None
    for name in names[:3]:
        assert INPUTS[name].label in printed.wide


def test_a_leading_input_is_stored_and_refused_like_any_other(client: TestClient) -> None:
    """What is typed in the leading form is stored, and kept with its message where it can't be."""
    page = send(client, "holding_capacity_kg_kg", "2.4")
    assert stored_site(client).site.wheel.holding_capacity_kg_kg == pytest.approx(2.4)
    page = send(client, "holding_capacity_kg_kg", "99")
    assert "outside what can be used" in page.by_id["in-holding_capacity_kg_kg-e"]
    assert page.field("holding_capacity_kg_kg").value == "99"


def test_every_guess_says_so(client: TestClient) -> None:
    """Beside each field stands whether it is a guess, and its source can be opened."""
    text = client.get(SITE).text
    assert text.count("<summary>a guess</summary>") == sum(r.is_guess for r in INPUTS.values())
    assert "<summary>yours</summary>" not in text
    assert "guess; measure on site (chalk test)" in text
    assert "is believed of 19 sites in 20" in text


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("conveyor_speed_m_s", "-3", "Conveyor speed −3 ft/min is outside what can be used."),
        ("conveyor_speed_m_s", "about 50", "“about 50” is not a number"),
        ("conveyor_speed_m_s", "49,2", "has a comma: write decimals with a point"),
        ("conveyor_speed_m_s", "50 kg", "“kg” is not a unit of this field"),
        ("conveyor_speed_m_s", "", "nothing was entered"),
        ("car_spacing_m", "14", "is shorter than the reference car, sedan of 15.91 ft."),
        ("strip_count", "200.5", "“200.5” is not a whole number"),
        ("damp_limit_saturation", "104", "Damp limit 104 % is outside what can be used."),
        ("pay_lanes", "2; 11:00 3; 10:00 2", "do not follow one another"),
        ("pay_lanes", "", "Pay lanes open: nothing was entered."),
        ("load_measured_s", "41 fast 52", "“fast” is not a number"),
        ("wheel_during_stop", "loose", "“loose” is not a choice"),
        ("close_h", "6", "Last car accepted 6 o’clock is not after opening 7 o’clock."),
        ("conveyor_speed_m_s", "100", "outside what the equipment's own manual allows"),
        ("failed_sensor", "emergency stop", "lock out, and call licensed service"),
    ],
)
def test_bad_input(client: TestClient, name: str, typed: str, said: str) -> None:
    """A value that can't be used is told on top and beside its field; what was typed stays."""
    before = stored_site(client)
    page = send(client, name, typed)
    assert stored_site(client) == before
    message = page.by_id[f"in-{name}-e"].replace("\u00a0", " ")
    assert said in message
    field = page.field(name)
    assert field.attrs["aria-invalid"] == "true"
    assert f"in-{name}-e" in field.attrs["aria-describedby"].split()
    if INPUTS[name].kind != "choice":
        assert field.value == typed
    assert f"#in-{name}" in page.links


def test_every_problem_at_once(client: TestClient) -> None:
    """Fields that can't be read and rules that join fields are told in one answer."""
    form = page_of(client.get(SITE)).form(f"{SITE}/line")
    answer = client.post(
        form.action,
        data=form.data(stops_per_h="about 4", car_spacing_m="14", wheel_position_m="1"),
    )
    assert answer.status_code == 422
    page = page_of(answer)
    assert "3 entries need a change. Nothing was stored." in answer.text
    for name in ("stops_per_h", "car_spacing_m", "wheel_position_m"):
        assert page.by_id[f"in-{name}-e"] in answer.text
    assert page.field("stops_per_h").value == "about 4"


def test_good_input_is_stored_and_becomes_the_sites_own(client: TestClient) -> None:
    """A typed number is stored in SI, in the page's units or in those typed with it."""
    send(client, "conveyor_speed_m_s", "60")
    assert stored_site(client).site.line.conveyor_speed_m_s == pytest.approx(60 * 0.3048 / 60)
    page = send(client, "conveyor_speed_m_s", "12 m/min", car_spacing_m="7 m")
    data = stored_site(client)
    assert data.site.line.conveyor_speed_m_s == pytest.approx(0.2, rel=1e-12)
    assert data.site.line.car_spacing_m == 7
    assert data.given == {"conveyor_speed_m_s", "car_spacing_m"}
    assert "mark.conveyor_speed_m_s" in {f.name for form in page.forms for f in form.fields}


def test_an_untouched_field_keeps_its_exact_value(client: TestClient) -> None:
    """A number that is only drawn rounded, in other units, is not changed by storing the form."""
    send(client, "conveyor_speed_m_s", "0.2512345678 m/s")
    shown = page_of(client.get(SITE)).field("conveyor_speed_m_s").value
    assert shown == format_number(0.2512345678 / 0.3048 * 60, 4)
    send(client, "open_h", "8")
    line = stored_site(client).site.line
    assert line.open_h == 8
    assert line.conveyor_speed_m_s == 0.2512345678


def test_a_form_is_read_in_the_units_it_was_drawn_in(client: TestClient) -> None:
    """Units changed in another window do not turn typed feet into metres."""
    old = page_of(client.get(SITE)).form(f"{SITE}/line")
    units = page_of(client.get(SITE)).form(f"{SITE}/identity")
    client.post(units.action, data=units.data(site_units="si"))
    fresh = page_of(client.get(SITE)).form(f"{SITE}/line")
    assert fresh.data()["car_spacing_m"] == ["6"]
    sent = old.data(car_spacing_m="20", version=fresh.data()["version"][0])
    client.post(old.action, data=sent)
    assert stored_site(client).site.line.car_spacing_m == pytest.approx(20 * 0.3048)


def test_back_to_the_default(client: TestClient) -> None:
    """An own value can be taken back; asking for that and typing a value is told as a problem."""
    send(client, "open_h", "9")
    form = page_of(client.get(SITE)).form(f"{SITE}/line")
    both = client.post(form.action, data=form.data(**{"open_h": "8", "mark.open_h": "1"}))
    assert "Opens: enter a value or go back to the default, not both." in both.text
    assert stored_site(client).site.line.open_h == 9
    client.post(form.action, data=form.data(**{"mark.open_h": "1"}))
    data = stored_site(client)
    assert data.site.line.open_h == 7
    assert data.given == frozenset()


def test_sent_twice_is_stored_once(client: TestClient) -> None:
    """The same form sent again (a double click) changes nothing a second time."""
    form = page_of(client.get(SITE)).form(f"{SITE}/line")
    sent = form.data(open_h="9")
    assert client.post(form.action, data=sent).status_code == 200
    assert client.post(form.action, data=sent).status_code == 200
    history = client.get(SITE).text.partition('id="history"')[2]
    assert history.count("Opens, o’clock") == 1


def test_somebody_elses_change_is_not_overwritten(client: TestClient) -> None:
    """A form drawn before another change is refused, told who changed what, and kept; what is
    stored now is told beside it, also of what both changed."""
    form = page_of(client.get(SITE)).form(f"{SITE}/line")
    send(client, "close_h", "18")
    send(client, "open_h", "8")
    send(client, "close_h", "19")
    answer = client.post(form.action, data=form.data(open_h="9"))
    assert answer.status_code == 409
    assert "changed this at 15 July 2026" in answer.text
    assert "Stored now: Last car accepted, o’clock: 19; Opens, o’clock: 8." in answer.text
    page = page_of(answer)
    assert page.field("open_h").value == "9"
    assert page.field("close_h").value == "19"
    assert stored_site(client).site.line.open_h == 8
    again = page.form(f"{SITE}/line")
    assert client.post(again.action, data=again.data()).status_code == 200
    line = stored_site(client).site.line
    assert (line.open_h, line.close_h) == (9, 19)


def test_what_was_stored_is_said_where_the_reader_is(client: TestClient) -> None:
    """After storing, the page says so in the very part that was stored, and there alone."""
    form = page_of(client.get(SITE)).form(f"{SITE}/wheel")
    answer = client.post(form.action, data=form.data(strip_count="210"))
    assert str(answer.url).endswith("#wheel")
    part = answer.text.partition('id="wheel"')[2].partition("</section>")[0]
    assert "Stored. Every plan made from now on uses it." in part
    assert answer.text.count('role="status"') == 1


def test_nothing_changed_is_said(client: TestClient) -> None:
    """A form sent as it was drawn stores nothing and says so."""
    form = page_of(client.get(SITE)).form(f"{SITE}/line")
    assert "Nothing was changed" in client.post(form.action, data=form.data()).text


def test_name_and_units(client: TestClient) -> None:
    """Name, time zone and units are stored; one that can't be used is told beside its field."""
    form = page_of(client.get(SITE)).form(f"{SITE}/identity")
    sent = form.data(name=" ", timezone="Mars/Base", site_units="si")
    answer = client.post(form.action, data=sent)
    page = page_of(answer)
    assert "Enter 1 to 60 characters" in page.by_id["in-name-e"]
    assert "Mars/Base" in page.by_id["in-timezone-e"]
    assert page.field("timezone").value == "Mars/Base"
    client.post(form.action, data=form.data(name="Quay", timezone="Europe/London", site_units="si"))
    data = stored_site(client)
    assert (data.site.name, data.site.timezone, data.units) == ("Quay", "Europe/London", "si")
    assert page_of(client.get(SITE)).field("car_spacing_m").value == "6"


def test_shares_of_classes_sum_to_one(client: TestClient) -> None:
    """Shares that do not sum to 100 % are told beside each share; nothing is stored."""
    form = page_of(client.get(SITE)).form(f"{SITE}/vehicles")
    answer = client.post(form.action, data=form.data(**{"vehicle.sedan.share": "40"}))
    page = page_of(answer)
    said = "The shares of the vehicle classes sum to 110 %. Make them sum to 100 %."
    for item in stored_site(client).site.vehicles:
        message = page.by_id[f"in-vehicle.{item.key}.share-e"].replace("\u00a0", " ")
        assert message == said
    assert answer.text.replace("\u00a0", " ").count(f">{said}</a>") == 1
    assert page.field("vehicle.sedan.share").value == "40"
    assert stored_site(client).site.reference.numbers.share == 0.3


def test_a_class_can_be_added_and_removed(client: TestClient) -> None:
    """A class is added, named and stored; another is removed; what stays is exact."""
    form = page_of(client.get(SITE)).form(f"{SITE}/vehicles")
    drawn = page_of(client.post(form.action, data=form.data(add="1")))
    wider = drawn.form(f"{SITE}/vehicles")
    assert len(stored_site(client).site.vehicles) == 5
    keys = wider.data()["class"]
    assert len(keys) == 6
    unnamed = page_of(client.post(form.action, data=wider.data(add=None)))
    assert "Enter 1 to 40 characters" in unnamed.by_id[f"in-vehicle.{keys[-1]}.label-e"]
    changes = {
        "add": None,
        "remove": "van",
        f"vehicle.{keys[-1]}.label": "taxi",
        f"vehicle.{keys[-1]}.share": "5",
        f"vehicle.{keys[-1]}.length_m": "16 ft",
    }
    client.post(form.action, data=wider.data(**changes))
    vehicles = stored_site(client).site.vehicles
    assert [item.label for item in vehicles][-2:] == ["pickup, open bed", "taxi"]
    assert vehicles[-1].numbers.share == pytest.approx(0.05)
    assert vehicles[-1].numbers.length_m == pytest.approx(16 * 0.3048)
    assert vehicles[1].numbers.length_m == 4.85


def test_the_reference_class_can_not_be_removed_unseen(client: TestClient) -> None:
    """Removing the class that damp limit and wear are stated for asks for another one."""
    form = page_of(client.get(SITE)).form(f"{SITE}/vehicles")
    answer = client.post(form.action, data=form.data(remove="sedan"))
    assert "is not among the vehicle classes" in page_of(answer).by_id["in-reference_class-e"]
    assert len(stored_site(client).site.vehicles) == 5


def test_at_least_one_class_stays(client: TestClient) -> None:
    """Removing every class is refused in words, and no class is gone."""
    form = page_of(client.get(SITE)).form(f"{SITE}/vehicles")
    sent = form.data()
    answer = client.post(form.action, data={**sent, "remove": sent["class"]})
    assert answer.status_code == 422
    assert "There is no vehicle class. Enter at least one." in answer.text
    assert len(stored_site(client).site.vehicles) == 5


def test_every_class_input_has_its_row(client: TestClient) -> None:
    """Each number of each class has a field that is named for those who can't see the table."""
    page = page_of(client.get(SITE))
    for item in stored_site(client).site.vehicles:
        for name, row in CLASS_INPUTS.items():
            found = page.field(f"vehicle.{item.key}.{name}")
            assert found.attrs["aria-label"] == f"{item.label}: {row.label}"


def test_failed_sensors_come_with_their_cautions(client: TestClient) -> None:
    """The group of failed sensors warns, and refuses safety devices altogether."""
    text = client.get(SITE).text.partition('id="degraded"')[2].partition("</section>")[0]
    assert "<b>Caution.</b> Only a height or presence reading" in text
    assert "<b>Stop.</b> If an emergency stop, a guard, an interlock" in text
    keys = [key for key, _words in INPUTS["failed_sensor"].choices]
    assert keys == ["none", "height", "presence"]


def test_history_tells_who_when_from_what_to_what(client: TestClient) -> None:
    """A change is listed with its moment, person, old and new value in the reader's units."""
    send(client, "car_spacing_m", "20 ft")
    web = app_of(client).state.web
    site = web.site_at("mill-lane")
    assert site is not None
    with gate(web.database, web.now()) as opened:
        opened.mark_day(
            site.id, web.today(site), "closed", "painting",
            expected_version=site.version, request_key="mark",
        )  # fmt: skip
    text = client.get(SITE).text.partition('id="history"')[2]
    assert "Car spacing, nose to nose, ft" in text
    assert "<td>default</td><td>20</td>" in text
    assert "<td>no mark</td><td>closed: painting</td>" in text
    assert "15 July 2026, 8:00" in text


def test_history_tells_rows_of_books_as_their_forms_do(client: TestClient) -> None:
    """A set and what happened to it are told by labels, units and reasons of the forms."""
    day = date(2026, 7, 1)
    book = ClothBook(
        (ClothSet("Blue", day, 1_500.0),),
        (
            ClothEvent(day, 6.5 * 3600, PUT_ON, "Blue"),
            ClothEvent(day, 9.0 * 3600, INSPECTED, "Blue", length_m=0.254, torn=3),
            ClothEvent(day, 18.0 * 3600, TAKEN_OFF, "Blue", WORN),
        ),
    )
    web = app_of(client).state.web
    site = web.site_at("mill-lane")
    assert site is not None
    with gate(web.database, web.now()) as opened:
        opened.set_book(site.id, "cloth", book, site.version, "book")
    text = client.get(SITE).text.partition('id="history"')[2]
    for told in (
        ">Cloth: Blue</th><td>–</td>"
        "<td>Bought: 1 July 2026; Full wipes before this record: 1,500</td>",
        ">Cloth: Blue put on, 1 July 2026, 6:30</th><td>–</td><td>entered</td>",
        ">Cloth: Blue looked at, 1 July 2026, 9:00</th><td>–</td>"
        "<td>Length of a strip: 10\u00a0in; Strips torn or gone: 3</td>",
        ">Cloth: Blue taken off, 1 July 2026, 18:00</th><td>–</td><td>Why: worn out</td>",
    ):
        assert told in text


def test_what_was_taken_away_is_put_back_at_a_press(client: TestClient) -> None:
    """The row of the history that says who is gone has a button; pressed, the person is there
    again and nothing else has one. Pressed on a page of before, nothing is written and the page
    says who changed what; a change that there is not is no page."""
    app = app_of(client).state.web
    person = Person("Ann", ("loader",))
    for version, people in ((1, (person,)), (2, ())):
        with gate(app.database, app.now()) as writes:
            writes.set_book(1, "staff", StaffBook(people), version, f"people {version}")
    page = page_of(client.get(SITE))
    (form,) = (form for form in page.forms if form.action == f"{SITE}/put-back")
    assert client.post(form.action, data=form.data(which="10000")).status_code == 404
    stale = client.post(form.action, data=form.data(version="2"))
    assert (stale.status_code, stored_site(client).staff.people) == (409, ())
    client.post(form.action, data=form.data())
    assert stored_site(client).staff.people == (person,)
    again = page_of(client.get(SITE))
    assert [f.action for f in again.forms if "put-back" in f.action] == [f"{SITE}/put-back"]
    refused = client.post(form.action, data=form.data(version="4", request_key="another"))
    assert refused.status_code == 422
    assert "Ann" in refused.text

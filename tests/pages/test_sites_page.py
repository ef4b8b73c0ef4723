"""The list of sites and the set-up of a new one; About the model and the guides."""

from __future__ import annotations

import re
from datetime import date
from html import unescape
from pathlib import Path
from statistics import NormalDist

import pytest
from fastapi.testclient import TestClient

from app.main import create_app
from app.pages.guide import ABOUT, TERMS, TOUR, list_guides, read_guide
from app.pages.tour import stops
from app.settings import read_settings
from app.sites.demo import demo_days
from sim.day.setup import belt_cars_per_h
from sim.decide.switching import choice, search, study
from sim.inputs import INPUTS, TYPED
from sim.learn.typed_days import TypedDays
from tests.demo_app import HERE, app_of, begin_nothing
from tests.pages.pages import ADDRESS, TODAY, page_of, stored_site


@pytest.fixture
def idle(monkeypatch: pytest.MonkeyPatch) -> None:
    """What pages begin is not worked out: at the demo it takes a sixth of a minute."""
    begin_nothing(monkeypatch)


def test_first_page_without_any_site(tmp_path: Path) -> None:
    """A fresh database asks one thing, the demo or one's own site, and no page of it fails."""
    app = create_app(read_settings(data_dir=tmp_path, today=TODAY, workers=1))
    with TestClient(app, base_url=ADDRESS, client=HERE) as browser:
        answer = browser.get("/")
        assert str(answer.url).endswith("/sites")
        assert "What do you want to do first?" in answer.text
        page = page_of(answer)
        assert [form.action for form in page.forms] == ["/sites/demo"]
        assert "/sites/new" in page.links
        for path in ("/about", "/guide", "/guide/start"):
            assert browser.get(path).status_code == 200


def test_first_page_is_the_site_looked_at_last(client: TestClient) -> None:
    """The first page is Today, of the site that this browser looked at last."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    client.post("/sites/new", data=form.data(name="Zebra Quay", timezone="UTC"))
    assert str(client.get("/").url).endswith("/zebra-quay/today")
    client.get("/mill-lane/site")
    assert str(client.get("/").url).endswith("/mill-lane/today")
    assert "/mill-lane/counts" in page_of(client.get("/about")).links


def test_three_steps(client: TestClient) -> None:
    """A new site types its days and has a plan at once; wheel and cloth follow, then the
    measurements, and each page leads to the next."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    sent = form.data(
        name="Zebra Quay", timezone="Europe/Berlin", units="si", busy_cars="520", climate="csa",
        belt_cars_per_h="120",
    )  # fmt: skip
    plan = client.post("/sites/new", data=sent)
    assert re.search(r"/zebra-quay/plan/\d{4}-\d\d-\d\d$", str(plan.url))
    assert "Step 2 of 3" in plan.text
    assert "/zebra-quay/setup" in page_of(plan).links
    data = stored_site(client, "zebra-quay")
    assert (data.site.timezone, data.units) == ("Europe/Berlin", "si")
    assert data.given == {"climate", "conveyor_speed_m_s"}
    assert belt_cars_per_h(data.site) == pytest.approx(120.0)
    assert data.history.counted == TYPED
    setup = page_of(client.get("/zebra-quay/setup")).form("/zebra-quay/setup")
    bad = client.post(setup.action, data=setup.data(car_spacing_m="3 m", people="many"))
    assert bad.status_code == 422
    assert page_of(bad).field("people").value == "many"
    measure = client.post(setup.action, data=setup.data(car_spacing_m="6.5", strip_count="180"))
    assert str(measure.url).endswith("/zebra-quay/weighings")
    data = stored_site(client, "zebra-quay")
    assert (data.site.line.car_spacing_m, data.site.wheel.strip_count) == (6.5, 180)
    assert "Step 3 of 3" in client.get("/zebra-quay/today").text


def test_typed_days_are_changed_until_cars_are_counted(client: TestClient) -> None:
    """Hours that were drawn are seen before anything is stored, and changed by typing; what was
    typed of a day stays while the other day is changed; a site with counts is led to them."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    drawn = page_of(client.post(form.action, data=form.data(name="Quay", timezone="UTC", draw="1")))
    hours = drawn.field("busy_hours").value.split()
    assert (len(hours), sum(map(int, hours))) == (13, TypedDays().busy_cars)
    assert "One site is stored here." in client.get("/sites").text
    again = drawn.form("/sites/new").data(busy_hours=" ".join(["40"] * 13), draw=None)
    client.post("/sites/new", data=again)
    days = page_of(client.get("/quay/days"))
    assert days.field("busy_cars").value == "520"
    more = days.form("/quay/days").data(busy_cars="260", draw=None)
    client.post("/quay/days", data=more)
    busy = page_of(client.get("/quay/days")).field("busy_hours").value.split()
    assert sum(map(int, busy)) == 260
    shape = " ".join(["10"] * 6 + ["30"] * 7)
    typed = page_of(client.get("/quay/days")).form("/quay/days").data(busy_hours=shape, draw=None)
    client.post("/quay/days", data=typed)
    usual = page_of(client.get("/quay/days")).form("/quay/days").data(usual_cars="130", draw=None)
    client.post("/quay/days", data=usual)
    kept = page_of(client.get("/quay/days"))
    assert kept.field("busy_hours").value == shape
    assert sum(map(int, kept.field("usual_hours").value.split())) == 130
    short = page_of(client.get("/quay/days")).form("/quay/days").data(busy_hours="1 2", draw=None)
    refused = page_of(client.post("/quay/days", data=short))
    assert "2 numbers for 13 hours" in refused.by_id["in-busy_hours-e"]
    assert refused.field("busy_hours").value == "1 2"
    look = page_of(client.get("/quay/counts")).form("/quay/counts/preview")
    sent = {"file": ("a.csv", "date,hour,cars_arrived\n2026-07-13,7,20\n2026-07-13,8,31\n")}
    found = page_of(client.post(look.action, data=look.data(), files=sent))
    confirm = found.form("/quay/counts/confirm")
    client.post(confirm.action, data=confirm.data(drop=None))
    assert str(client.get("/quay/days").url).endswith("/quay/counts")


def test_a_weekday_is_ticked_as_closed(client: TestClient) -> None:
    """A ticked weekday is closed in every plan, stays ticked when the step is opened again with its
    busiest time, and is open once the tick is taken away. All busy days ticked are refused."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    sent = form.data(name="Quay", timezone="UTC", busy_to_h="15:00", draw=None)
    refused = client.post(form.action, data={**sent, "closed_days": ["", "5", "6"]})
    assert refused.status_code == 422
    assert "all of them are ticked as closed" in page_of(refused).by_id["in-busy_days-e"]
    client.post(form.action, data={**sent, "closed_days": ["", "0", "6"]})
    assert "no car is let in on this weekday" in client.get("/quay/plan/2026-07-19").text
    assert "no car is let in on this weekday" not in client.get("/quay/plan/2026-07-18").text
    days = page_of(client.get("/quay/days"))
    assert days.field("busy_to_h").value == "15"
    again = days.form("/quay/days").data(draw=None)
    assert again["closed_days"] == ["", "0", "6"]
    client.post("/quay/days", data={**again, "closed_days": ["", "6", "9", "x"]})
    assert "no car is let in on this weekday" not in client.get("/quay/plan/2026-07-20").text


def test_enter_in_the_first_step_stores_it(client: TestClient) -> None:
    """The first button of a form is what Enter presses (HTML, implicit submission): it stores."""
    text = client.get("/sites/new").text
    first = re.search(r"<button[^>]*>([^<]*)<", text[text.index('action="/sites/new"') :])
    assert first is not None
    assert first.group(1) == "Store, and plan a busy day"
    assert "name=" not in first.group(0)


def test_a_plan_beyond_the_frost_says_so(tmp_path: Path) -> None:
    """Where all of the coming two weeks have frost, the plan that a set-up leads to is of a later
    day and says why; where they have none, nothing is said."""
    winter = TODAY.replace(month=1, day=5)
    app = create_app(read_settings(data_dir=tmp_path, today=winter, workers=1))
    with TestClient(app, base_url=ADDRESS, client=HERE) as browser:
        form = page_of(browser.get("/sites/new")).form("/sites/new")
        for name, climate in (("Cold Quay", "dfb"), ("Mild Quay", "csa")):
            sent = form.data(name=name, timezone="UTC", climate=climate, draw=None)
            plan = browser.post(form.action, data=sent | {"request_key": name})
            later = date.fromisoformat(plan.url.path.rpartition("/")[2]) - winter
            assert (later.days > 14) == ("In the weeks before, frost is expected" in plan.text)
            assert (climate == "dfb") == (later.days > 14)


def test_a_belt_setting_that_the_belt_cannot_run(client: TestClient) -> None:
    """Cars an hour beyond the belt's speeds are refused with what would be right; nothing typed is
    lost and no site is made."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    sent = form.data(name="Quay", timezone="UTC", belt_cars_per_h="390", usual_hours="1 2 3")
    answer = client.post(form.action, data=sent)
    page = page_of(answer)
    assert answer.status_code == 422
    assert "Belt setting 390" in page.by_id["in-belt_cars_per_h-e"]
    assert "Enter 80.8" in page.by_id["in-belt_cars_per_h-e"].replace("\u00a0", " ")
    assert page.field("usual_hours").value == "1 2 3"
    assert "One site is stored here." in client.get("/sites").text


@pytest.mark.usefixtures("idle")
def test_the_demo_comes_in_by_a_button(client: TestClient) -> None:
    """The button brings the demo in once and leads to its page of today, where the tour begins."""
    form = page_of(client.get("/sites")).form("/sites/demo")
    answer = client.post("/sites/demo", data=form.data())
    assert str(answer.url).endswith("/harbor-road/today?tour=1")
    assert "Tour, 1 of 6." in answer.text
    client.post("/sites/demo", data=form.data())
    assert "3 sites are stored here." in client.get("/sites").text
    assert not page_of(client.get("/sites")).forms


@pytest.mark.usefixtures("idle")
def test_the_tour_is_where_its_address_says_and_nowhere_else(client: TestClient) -> None:
    """Each sentence has at most 25 words and stands on its own page alone: not on another page, not
    at a site that is not invented, and not for what is no number of it."""
    assert "which is not here yet" in client.get("/guide/tour").text
    form = page_of(client.get("/sites")).form("/sites/demo")
    client.post("/sites/demo", data=form.data())
    all_of_it = stops("harbor-road", demo_days()["humid_peak"])
    assert [stop.at for stop in all_of_it] == [1, 2, 3, 4, 5, 6]
    guide = client.get("/guide/tour")
    for stop in all_of_it:
        assert len(stop.says.split()) <= 25
        assert stop.says in unescape(guide.text)
        assert stop.href in page_of(guide).links
    assert "Tour, 4 of 6." in client.get("/harbor-road/weighings?tour=4").text
    for path in (
        "/harbor-road/weighings", "/harbor-road/weighings?tour=3", "/harbor-road/counts?tour=4",
        "/mill-lane/weighings?tour=4", "/harbor-road/weighings?tour=4%00", "/about?tour=4",
        "/harbor-road/weighings?tour=", "/harbor-road/weighings?tour=-2&tour=99",
    ):  # fmt: skip
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert "Tour, " not in answer.text, path


@pytest.mark.parametrize(
    ("name", "timezone", "field", "said"),
    [
        ("", "UTC", "name", "Enter 1 to 60 characters"),
        ("x" * 61, "UTC", "name", "Enter 1 to 60 characters"),
        ("mill lane", "UTC", "name", "A site called “Mill Lane” is there already"),
        ("Quay", "Nowhere/Land", "timezone", "Nowhere/Land"),
    ],
)
def test_sites_that_can_not_be_made(
    client: TestClient, name: str, timezone: str, field: str, said: str
) -> None:
    """A name or time zone that can't be used is told beside its field; what was typed stays."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    answer = client.post("/sites/new", data=form.data(name=name, timezone=timezone))
    page = page_of(answer)
    assert answer.status_code == 422
    assert said in page.by_id[f"in-{field}-e"]
    assert (page.field("name").value, page.field("timezone").value) == (name, timezone)
    assert "One site is stored here." in client.get("/sites").text


@pytest.mark.parametrize("name", ["about", "Sites", "Today", "New", "Guide", "Static"])
def test_a_site_may_be_called_like_a_page(client: TestClient, name: str) -> None:
    """A site whose name is that of a page still has pages of its own."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    setup = client.post("/sites/new", data=form.data(name=name, timezone="UTC"))
    address = str(setup.url).rpartition("/plan/")[0]
    for page in ("today", "counts", "site"):
        answer = client.get(f"{address}/{page}")
        assert answer.status_code == 200
        assert f"<b>{name}</b>" in answer.text


def test_sent_twice_makes_one_site(client: TestClient) -> None:
    """A double click on the button makes one site."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    sent = form.data(name="Quay", timezone="UTC")
    for _times in range(2):
        assert client.post("/sites/new", data=sent).status_code == 200
    assert "2 sites are stored here." in client.get("/sites").text


def test_about_says_what_is_not_known(client: TestClient) -> None:
    """The page counts the guesses, says that nothing is validated, and lists what was left out."""
    text = client.get("/about").text
    guesses = sum(row.is_guess for row in INPUTS.values())
    assert f"Of {len(INPUTS)} inputs, {guesses} are guesses" in text
    assert "Nothing. No car wash has been measured for this model." in text
    for word in ("Run-back", "Splash", "Streaks", "Warm rinse", "Frost"):
        assert f"<strong>{word}.</strong>" in text


def test_about_has_the_parts_that_others_lead_to(client: TestClient) -> None:
    """Each part of the page has an anchor of its own, by which it is spoken of."""
    page = page_of(client.get("/about"))
    parts = (
        "line belt water cloth life stock damp crew staff sure choice verified tried validated "
        "left-out sources"
    )
    assert [link[1:] for link in page.links if link.startswith("#")][-16:] == parts.split()
    assert "by more than you said matters" in page.by_id["sure"]


def test_about_says_what_the_ranges_are() -> None:
    """The part on how sure has an entry for each of the three kinds, and none is put off."""
    part = next(part for part in read_guide(ABOUT).parts if part.anchor == "sure")
    points = dict(re.findall(r"<li><strong>(.+?)\.</strong> (.+?)</li>", part.body))
    assert list(points)[:3] == ["Day range", "Site uncertainty", "Run error"]
    assert "drawn at random" in points["Site uncertainty"]
    assert "yet" not in points["Site uncertainty"]


def test_about_has_the_numbers_of_the_model() -> None:
    """What the page says of how a rule is chosen is what the search does."""
    part = next(part for part in read_guide(ABOUT).parts if part.anchor == "choice")
    assert f"counted on {study.FRESH_DAYS:,} days" in part.body
    assert search.WEIGHINGS == 1_000
    assert "a thousand times" in part.body
    assert search.ALTERNATIVE == 1 / 20
    assert "more often than once in 20" in part.body
    chance = NormalDist().cdf
    assert chance(choice.SURE) == pytest.approx(4 / 5, abs=0.005)
    assert "with four chances in five" in part.body
    assert chance(choice.SURELY_WITHIN) == pytest.approx(19 / 20, abs=0.005)
    assert "surely, 19 chances in 20" in part.body


def test_every_link_within_a_page_has_its_target(client: TestClient) -> None:
    """A link to a part of the same page leads to something that is there."""
    for path in ("/about", "/mill-lane/site", "/mill-lane/counts", "/guide/start", "/sites/new"):
        page = page_of(client.get(path))
        inside = [link[1:] for link in page.links if link.startswith("#")]
        assert inside
        assert [name for name in inside if name not in page.by_id] == []


def test_every_guide_is_served(client: TestClient) -> None:
    """Every guide is a page with its title, and links between guides lead somewhere."""
    names = [name for name, _title in list_guides()]
    assert names[:6] == ["start", "counts", "logbook", "checks", "stops", "happened"]
    for name in names:
        answer = client.get(f"/guide/{name}")
        assert answer.status_code == 200
        for link in page_of(answer).links:
            if link.startswith("/guide/"):
                assert link.removeprefix("/guide/").partition("#")[0] in {TOUR, TERMS, *names}


def test_markup_in_a_guide_is_shown_never_obeyed(tmp_path: Path) -> None:
    """HTML that stands in a guide is escaped, and a link can't run a script."""
    text = (
        "# T\n\n<script>x</script> *x*<sub>1</sub> <sub onclick=x>\n\n"
        "## A `part`\n\n*Beside it.*\n\n[a](javascript:x) [b](start.md#set-up) [c](about.md#sure)\n"
    )
    (tmp_path / "bad.md").write_text(text, encoding="utf-8")
    guide = read_guide("bad", tmp_path)
    assert guide.title == "T"
    (part,) = guide.parts
    html = guide.lead + part.body
    assert "&lt;script&gt;" in html
    assert "<script>" not in html
    assert "onclick" not in re.sub("&lt;.*?&gt;", "", html)
    assert "<sub>1</sub>" in html
    assert 'href="javascript:' not in html
    assert 'href="/guide/start#set-up"' in html
    assert 'href="/about#sure"' in html
    assert (part.anchor, part.head, part.note) == ("a-part", "A <code>part</code>", "Beside it.")
    with pytest.raises(LookupError, match=r"\.\./start"):
        read_guide("../start", tmp_path)


def test_a_part_may_name_its_anchor(tmp_path: Path) -> None:
    """An anchor in braces behind a head is that of the part, and not shown."""
    (tmp_path / "one.md").write_text("# T\n\n## Long *head* {#short}\n\nText.\n", encoding="utf-8")
    (part,) = read_guide("one", tmp_path).parts
    assert (part.anchor, part.head) == ("short", "Long <em>head</em>")
    assert (part.note, part.body) == ("", "<p>Text.</p>\n")


def test_about_is_no_guide_of_the_list(client: TestClient) -> None:
    """The text About the model has one address: that of a guide of its name leads there."""
    assert ABOUT not in [name for name, _title in list_guides()]
    answer = client.get(f"/guide/{ABOUT}", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (308, "/about")


def test_pages_line_marks_where_one_is(client: TestClient) -> None:
    """Each page marks its own entry of the pages line, and the line leads to every page."""
    for path, label in (
        ("/mill-lane/today", "Today"),
        ("/mill-lane/counts", "Counts"),
        ("/mill-lane/site", "Site"),
        ("/about", "Guide"),
        ("/guide", "Guide"),
    ):
        text = client.get(path).text
        assert f'aria-current="page">{label}</a>' in text
        assert 'href="#pages"' in text
    assert app_of(client).state.web.settings.today == TODAY

"""The list of sites and the set-up of a new one; About the model and the guides."""

from __future__ import annotations

import re
from pathlib import Path
from statistics import NormalDist

import pytest
from fastapi.testclient import TestClient

from app.main import create_app
from app.pages.guide import ABOUT, list_guides, read_guide
from app.settings import read_settings
from sim.decide.switching import choice, search, study
from sim.inputs import INPUTS
from tests.demo_app import app_of
from tests.pages.pages import ADDRESS, TODAY, page_of, stored_site


def test_first_page_without_any_site(tmp_path: Path) -> None:
    """A fresh database leads to the set-up, and no page of it fails."""
    app = create_app(read_settings(data_dir=tmp_path, today=TODAY, workers=1))
    with TestClient(app, base_url=ADDRESS) as browser:
        answer = browser.get("/")
        assert str(answer.url).endswith("/sites")
        assert "No site is stored here yet." in answer.text
        for path in ("/about", "/guide", "/guide/start"):
            assert browser.get(path).status_code == 200


def test_first_page_is_the_site_looked_at_last(client: TestClient) -> None:
    """The first page is Today, of the site that this browser looked at last."""
    form = page_of(client.get("/sites")).form("/sites")
    client.post("/sites", data=form.data(name="Zebra Quay", timezone="UTC"))
    assert str(client.get("/").url).endswith("/zebra-quay/today")
    client.get("/mill-lane/site")
    assert str(client.get("/").url).endswith("/mill-lane/today")
    assert "/mill-lane/plan" in page_of(client.get("/about")).links


def test_three_steps(client: TestClient) -> None:
    """A new site is named, its line entered, and then asked for its counts."""
    form = page_of(client.get("/sites")).form("/sites")
    sent = form.data(name="Zebra Quay", timezone="Europe/Berlin", units="si")
    line = client.post("/sites", data=sent)
    assert str(line.url).endswith("/zebra-quay/setup")
    assert "What is the line of Zebra Quay like?" in line.text
    setup = page_of(line).form("/zebra-quay/setup")
    bad = client.post(setup.action, data=setup.data(car_spacing_m="3 m", people="many"))
    assert bad.status_code == 422
    assert page_of(bad).field("people").value == "many"
    counts = client.post(setup.action, data=setup.data(car_spacing_m="6.5", stack_limit_cars="31"))
    assert str(counts.url).endswith("/zebra-quay/counts")
    data = stored_site(client, "zebra-quay")
    assert (data.site.timezone, data.units) == ("Europe/Berlin", "si")
    assert (data.site.line.car_spacing_m, data.site.pay.stack_limit_cars) == (6.5, 31)
    assert data.given == {"car_spacing_m", "stack_limit_cars"}


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
    form = page_of(client.get("/sites")).form("/sites")
    answer = client.post("/sites", data=form.data(name=name, timezone=timezone))
    page = page_of(answer)
    assert answer.status_code == 422
    assert said in page.by_id[f"in-{field}-e"]
    assert (page.field("name").value, page.field("timezone").value) == (name, timezone)
    assert "One site is stored here." in answer.text


@pytest.mark.parametrize("name", ["about", "Sites", "Today", "New", "Guide", "Static"])
def test_a_site_may_be_called_like_a_page(client: TestClient, name: str) -> None:
    """A site whose name is that of a page still has pages of its own."""
    form = page_of(client.get("/sites")).form("/sites")
    setup = client.post("/sites", data=form.data(name=name, timezone="UTC"))
    address = str(setup.url).removesuffix("/setup")
    for page in ("today", "counts", "site"):
        answer = client.get(f"{address}/{page}")
        assert answer.status_code == 200
        assert f"<b>{name}</b>" in answer.text


def test_sent_twice_makes_one_site(client: TestClient) -> None:
    """A double click on the button makes one site."""
    form = page_of(client.get("/sites")).form("/sites")
    sent = form.data(name="Quay", timezone="UTC")
    for _times in range(2):
        assert client.post("/sites", data=sent).status_code == 200
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
        "line belt water cloth life stock damp crew staff sure choice verified validated left-out "
        "sources"
    )
    assert [link[1:] for link in page.links if link.startswith("#")][-15:] == parts.split()
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
    for path in ("/about", "/mill-lane/site", "/mill-lane/counts", "/guide/start", "/sites"):
        page = page_of(client.get(path))
        inside = [link[1:] for link in page.links if link.startswith("#")]
        assert inside
        assert [name for name in inside if name not in page.by_id] == []


def test_every_guide_is_served(client: TestClient) -> None:
    """Every guide is a page with its title, and links between guides lead somewhere."""
    names = [name for name, _title in list_guides()]
    assert names[:6] == ["start", "counts", "when-to-reduce", "cloth", "season", "staff"]
    for name in names:
        answer = client.get(f"/guide/{name}")
        assert answer.status_code == 200
        for link in page_of(answer).links:
            if link.startswith("/guide/"):
                assert link.removeprefix("/guide/").partition("#")[0] in names


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
        ("/about", "About the model"),
        ("/guide", "Guide"),
    ):
        text = client.get(path).text
        assert f'aria-current="page">{label}</a>' in text
        assert 'href="#pages"' in text
    assert app_of(client).state.web.settings.today == TODAY

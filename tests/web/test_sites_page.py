"""The list of sites and the set-up of a new one; About the model and the guides."""

from __future__ import annotations

from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.main import create_app
from app.services.guides import list_guides, read_guide
from app.settings import read_settings
from sim.inputs import INPUTS
from tests.demo_app import app_of
from tests.web.pages import ADDRESS, TODAY, page_of, stored_site


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
        assert f"<dt>{word}</dt>" in text
    for word in ("Day range", "Site uncertainty", "Run error"):
        assert f"<dt>{word}</dt>" in text


def test_every_link_within_a_page_has_its_target(client: TestClient) -> None:
    """A link to a part of the same page leads to something that is there."""
    for path in ("/about", "/mill-lane/site", "/mill-lane/counts", "/guide/start", "/sites"):
        page = page_of(client.get(path))
        inside = [link[1:] for link in page.links if link.startswith("#")]
        assert inside
        assert [name for name in inside if name not in page.by_id] == []


def test_every_guide_is_served(client: TestClient) -> None:
    """Every guide is a page with its title, and links between guides lead somewhere."""
    names = [guide.name for guide in list_guides()]
    assert names[:6] == ["start", "counts", "when-to-reduce", "cloth", "season", "staff"]
    for guide in list_guides():
        answer = client.get(f"/guide/{guide.name}")
        assert answer.status_code == 200
        for link in page_of(answer).links:
            if link.startswith("/guide/"):
                assert link.removeprefix("/guide/").partition("#")[0] in names


def test_markup_in_a_guide_is_shown_never_obeyed(tmp_path: Path) -> None:
    """HTML that stands in a guide is escaped, and a link can't run a script."""
    text = "# T\n\n<script>x</script>\n\n## A part\n\n[a](javascript:x) [b](start.md#set-up)\n"
    (tmp_path / "bad.md").write_text(text, encoding="utf-8")
    guide = read_guide("bad", tmp_path)
    assert guide is not None
    assert guide.title == "T"
    assert "<script>" not in guide.html
    assert 'href="javascript:' not in guide.html
    assert 'href="/guide/start#set-up"' in guide.html
    assert guide.parts == (("a-part", "A part"),)
    assert read_guide("../start", tmp_path) is None


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

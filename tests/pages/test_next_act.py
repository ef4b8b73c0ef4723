"""No page on the way is without a next act: after something was stored one button leads on."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from app.answers.studies.line import StudyQueue
from tests.pages.pages import Form, Page, page_of, work_at_once

DONE = re.compile(
    r'<p class="done" role="status">[^<]+</p>\s*'
    r'<p class="acts screen-only"><a class="button first" href="([^"]+)">[^<]+</a></p>'
)
COUNTS = "date,hour,cars_arrived\n2026-07-13,7,20\n2026-07-13,8,31\n"


def leads_on(client: TestClient, answer: Response) -> str:
    """Where the one button after what was done leads; it has to be there."""
    assert answer.status_code == 200
    (href,) = DONE.findall(answer.text)
    place = str(href)
    if place.startswith("#"):
        assert place[1:] in page_of(answer).by_id
    else:
        assert client.get(place).status_code == 200
        assert place != answer.url.path
    return place


def form_with(page: Page, name: str, value: str) -> Form:
    """The form that has a field of a value."""
    return next(
        form
        for form in page.forms
        if any(field.name == name and field.value == value for field in form.fields)
    )


def test_counts_brought_in_lead_to_the_plan(client: TestClient) -> None:
    """A file that was stored, and a day that was marked."""
    form = page_of(client.get("/mill-lane/counts")).form("/mill-lane/counts/preview")
    preview = client.post(form.action, data=form.data(), files={"file": ("a.csv", COUNTS)})
    confirm = page_of(preview).form("/mill-lane/counts/confirm")
    stored = client.post(confirm.action, data=confirm.data(drop=None))
    assert leads_on(client, stored) == "/mill-lane/plan"


def test_a_measurement_leads_to_when_to_reduce(client: TestClient) -> None:
    """A soaked strip that was stored."""
    form = form_with(page_of(client.get("/mill-lane/weighings")), "kind", "soaked")
    sent = form.data(day="2026-07-01", weight_kg="312 g", dry_kg="100 g")
    assert "/mill-lane/reduce/" in leads_on(client, client.post(form.action, data=sent))


def test_cloth_that_was_entered_leads_to_today(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A set that was bought."""
    monkeypatch.setattr(StudyQueue, "begin", work_at_once)
    form = form_with(page_of(client.get("/mill-lane/cloth")), "act", "bought")
    sent = form.data(name="Blue")
    assert leads_on(client, client.post(form.action, data=sent)) == "/mill-lane/today"


def test_a_person_who_was_entered_leads_to_the_roster(client: TestClient) -> None:
    """The first person of a site that has no roster."""
    week = "/mill-lane/roster/2026-07-20"
    form = page_of(client.get(week)).form(f"{week}/person")
    stored = client.post(form.action, data=form.data(name="Person A"))
    assert leads_on(client, stored) == "#make"


@pytest.mark.parametrize("part", ["leading", "line", "vehicles", "identity"])
def test_an_input_that_was_changed_leads_to_the_plan(client: TestClient, part: str) -> None:
    """Each form of the Site page."""
    path = f"/mill-lane/site/{part}"
    form = page_of(client.get("/mill-lane/site")).form(path)
    assert leads_on(client, client.post(path, data=form.data())) == "/mill-lane/plan"


def test_a_step_of_the_set_up_offers_no_step_to_itself(client: TestClient) -> None:
    """The step that is still to be made is offered on a plan and on Site; not on the steps, nor
    above what a file leaves open, where the answer is the next act."""
    form = page_of(client.get("/sites/new")).form("/sites/new")
    plan = client.post(form.action, data=form.data(name="Quay", timezone="UTC", draw=None))
    for text in (plan.text, client.get("/quay/site").text, client.get("/quay/counts").text):
        assert 'class="button" href="/quay/setup"' in text
    for step in ("days", "setup"):
        assert 'class="button" href="/quay/setup"' not in client.get(f"/quay/{step}").text
    form = page_of(client.get("/quay/counts")).form("/quay/counts/preview")
    asked = client.post(form.action, data=form.data(), files={"file": ("a.csv", COUNTS)})
    assert "/quay/setup" not in asked.text
    assert "/quay/counts/confirm" in [one.action for one in page_of(asked).forms]

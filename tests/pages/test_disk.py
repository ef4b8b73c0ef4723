"""A disk that is full or read-only: one sentence, what was typed kept, the rest as it was."""

from __future__ import annotations

import errno
import html
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from app.answers import cloth, next_measurement, weighings
from app.answers.studies.line import StudyQueue
from tests.demo_app import app_of, begin_nothing, plan_few_days
from tests.pages.pages import Page, page_of, small_client, stored_site, work_at_once
from tests.remembering import remember
from tests.small_wash import PLANNED, small_wash

SLUG = "small-wash"
LINE = f"/{SLUG}/site/line"


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A browser on a small site in a database file."""
    remember(monkeypatch, cloth, "find_out", but=("look",))
    monkeypatch.setattr(weighings, "SITES", 8)  # what that comes to is no matter here
    monkeypatch.setattr(weighings, "TRUTHS", 2)
    remember(monkeypatch, weighings, "worth_of_measuring", but=("executor", "progress"))
    monkeypatch.setattr(next_measurement, "next_measurements", lambda *_given: ())
    with small_client(tmp_path, small_wash()) as browser:
        yield browser


def limit_pages(client: TestClient, most: int) -> None:
    """No more pages for the database on any of its connections, or many again."""
    database = app_of(client).state.web.database
    database._engine.dispose()

    @event.listens_for(database._engine, "connect")
    def _limit(connection: sqlite3.Connection, _entry: object) -> None:
        connection.execute(f"PRAGMA max_page_count = {most}")


def kept(page: Page, name: str) -> str:
    """What the form of a page holds, hidden, in a field."""
    return page.field(name).value


def test_a_form_that_finds_no_room_is_kept(client: TestClient) -> None:
    """SQLite's own refusal: a sentence, the form with all that was typed, nothing changed; once
    there is room, the same press stores it."""
    before = stored_site(client, SLUG)
    form = page_of(client.get(f"/{SLUG}/site")).form(LINE)
    long = "; ".join(f"{7 + hour}:{minute:02d} 50" for hour in range(12) for minute in range(60))
    limit_pages(client, 1)
    answer = client.post(LINE, data=form.data(speed_timetable=long[:3_900].rpartition(";")[0]))
    assert answer.status_code == 507
    said = html.unescape(answer.text)
    assert "The disk is full, so nothing was stored in" in said
    assert "made a mistake" not in said
    assert "What was stored before is as it was, and what you typed is kept." in said
    page = page_of(answer)
    assert kept(page, "speed_timetable") == long[:3_900].rpartition(";")[0]
    assert stored_site(client, SLUG) == before
    limit_pages(client, 1_000_000)
    again = client.post(LINE, data=page.form(LINE).data())
    assert again.status_code == 200
    assert stored_site(client, SLUG) != before


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "The disk is full, so nothing was stored: make room on it, then try again."),
        (errno.EROFS, "The data folder can’t be written (read-only file system), so nothing was"),
    ],
)
def test_a_file_that_finds_no_room_is_told(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, said: str
) -> None:
    """An upload on a full or read-only disk leaves nothing behind and says why."""

    def refuse(path: Path, *_given: object, **_more: object) -> int:
        raise OSError(number, os.strerror(number), str(path))

    address = f"/{SLUG}/counts"
    form = page_of(client.get(address)).form(f"{address}/preview")
    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", refuse)
        answer = client.post(
            form.action, data=form.data(kind="counts"), files={"file": ("july.csv", b"date\n")}
        )
    assert answer.status_code == 507
    words = html.unescape(answer.text)
    assert said in words
    assert "Go back then, and choose the file again." in words
    assert list((tmp_path / "pending").iterdir()) == []


def test_another_fault_of_a_file_is_still_one_of_the_program(tmp_path: Path) -> None:
    """Only what a disk may refuse is said to be the disk's."""

    def broken(*_given: object, **_more: object) -> None:
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))

    with (
        small_client(tmp_path, small_wash(), raise_errors=False) as client,
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr("app.pages.counts.in_short", broken)
        answer = client.get(f"/{SLUG}/counts")
        assert answer.status_code == 500
        assert "Clothcast made a mistake here." in html.unescape(answer.text)


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1" * 5_000])
def test_days_beyond_the_calendar_are_no_addresses(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, day: str
) -> None:
    """Wherever a day stands in an address or a form, its ends are told, never an error."""
    begin_nothing(monkeypatch)
    for page in ("plan/{}", "plan/{}/change/figures", "plan/{}/change/charts", "reduce/{}",
                 "settings/{}", "staff/{}", "roster/{}", "plan/{}/sheet"):  # fmt: skip
        assert client.get(f"/{SLUG}/{page.format(day)}").status_code == 404, page
    for page in ("plan", "reduce", "settings", "staff", "roster"):
        assert client.get(f"/{SLUG}/{page}", params={"day": day}).status_code in (
            200,
            303,
            404,
            422,
        )
    address = f"/{SLUG}/counts"
    form = page_of(client.get(address)).form(f"{address}/days")
    answer = client.post(form.action, data=form.data(day=day, day_kind="closed"))
    assert answer.status_code == 422
    assert "is not a date" in html.unescape(answer.text)
    address = f"/{SLUG}/weighings"
    for form in page_of(client.get(address)).forms:
        if any(field.name == "day" for field in form.fields):
            sent = form.data(day=day, weight="310", dry="180", at="9:00", cars="20", damp="1")
            assert client.post(form.action, data=sent).status_code == 422


@pytest.mark.parametrize("name", ["count", "do", "start", "n", "version", "which", "cars", "damp"])
def test_numbers_of_thousands_of_digits_are_no_error(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Whatever a form or an address counts with may be sent as 5,000 digits."""
    monkeypatch.setattr(StudyQueue, "begin", work_at_once)  # the page Cloth has its forms then
    plan_few_days(monkeypatch, 2)
    long = "7" * 5_000
    plan = f"/{SLUG}/plan/{PLANNED}"
    assert client.get(plan, params={name: long}).status_code < 500
    for text_ in (long, f"copy-{long}"):
        sent = page_of(client.get(plan)).form(plan).data(**{name: text_})
        assert client.post(plan, data=sent).status_code < 500
    for page in ("weighings", "cloth"):
        for form in page_of(client.get(f"/{SLUG}/{page}")).forms:
            assert client.post(form.action, data=form.data(**{name: long})).status_code < 500

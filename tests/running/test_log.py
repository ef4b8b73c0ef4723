"""The log: one JSON object a line, in UTC, and nothing in it that tells of a person."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.pages import deps
from app.running import log
from tests.access.signed import ADDRESS, ELSEWHERE, NAMES, OWN, Wash, wash
from tests.demo_app import OWN_PAGE
from tests.pages.pages import page_of

TYPED = "what somebody typed"


@pytest.fixture
def lines() -> Iterator[io.StringIO]:
    """What is written, while a log is kept; then it is as before."""
    level, stream = logging.getLogger().level, io.StringIO()
    handler = log.begin(stream)
    yield stream
    logging.getLogger().removeHandler(handler)
    logging.getLogger().setLevel(level)
    log.LOG.setLevel(logging.NOTSET)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Wash]:
    """An installation with somebody of each role."""
    with wash(tmp_path_factory.mktemp("log")) as made:
        yield made


def written(stream: io.StringIO) -> list[dict[str, Any]]:
    """The lines, each an object."""
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_a_request_is_a_line_without_anything_of_anybody(small: Wash, lines: io.StringIO) -> None:
    """Route's pattern, status, seconds, the id that the answer bears, the moment in UTC; neither
    name, password, address, secret, site nor path of who signs in."""
    with small.browser() as browser:
        sent = page_of(browser.get(f"/sign-in?then=/{OWN}/plan/2026-07-18")).form("/sign-in")
        data = sent.data(name=NAMES["owner"], password=TYPED, code="")
        answer = browser.post("/sign-in", data=data)
        assert browser.get("/nowhere/at/all").status_code == 404
        browser.get(f"/{OWN}/today")
    found = written(lines)
    assert [(one["event"], one["method"], one["route"], one["status"]) for one in found] == [
        ("request", "GET", "/sign-in", 200),
        ("request", "POST", "/sign-in", 403),
        ("request", "GET", "none", 404),
        ("request", "GET", "/{slug}/today", 303),
    ]
    assert found[1]["id"] == answer.headers["x-request-id"]
    assert set(found[0]) == {
        "at", "event", "id", "method", "route", "status", "seconds", "whence"
    }  # fmt: skip
    assert all(0.0 < one["seconds"] < 60.0 for one in found)
    for one in found:
        at = datetime.strptime(one["at"], "%Y-%m-%dT%H:%M:%S.%f%z")
        assert at.utcoffset() == timedelta(0)
    text = lines.getvalue()
    held = [*small.secrets.values(), *NAMES.values(), TYPED, ELSEWHERE[0], OWN, "nowhere"]
    assert [one for one in held if one in text] == []
    assert len({one["whence"] for one in found}) == 1


def test_a_fault_is_its_type_and_its_place(
    small: Wash, lines: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a request that the program broke at: status 500, type and way, not what was typed."""

    def broken(*_given: object) -> None:
        raise ValueError("Olive Owner typed this")

    monkeypatch.setattr(deps, "admit", broken)
    with TestClient(
        small.app, base_url=ADDRESS, headers=OWN_PAGE, raise_server_exceptions=False
    ) as browser:
        assert browser.get(f"/{OWN}/today").status_code == 500
    (line,) = (one for one in written(lines) if one["event"] == "request")
    assert (line["status"], line["fault"]) == (500, "ValueError")
    assert any("test_log.py" in frame and frame.endswith(" broken") for frame in line["where"])
    assert "Olive" not in lines.getvalue()


def test_a_librarys_line_lacks_what_fills_its_gaps(lines: io.StringIO) -> None:
    """Its sentence stands as it was written, in one line, whatever it was filled with."""
    logging.getLogger("some.library").warning("can't reach %s\n", "Ada Attendant")
    (line,) = written(lines)
    assert (line["event"], line["of"], line["level"]) == ("library", "some.library", "warning")
    assert line["said"] == "can't reach %s\n"


def test_without_a_log_nothing_is_written(small: Wash, capfd: pytest.CaptureFixture[str]) -> None:
    """A server that was not told to keep a log prints none."""
    with small.browser() as browser:
        browser.get("/sign-in")
    assert capfd.readouterr() == ("", "")


def test_whence_holds_for_a_day_and_under_one_secret() -> None:
    """The same address is the same word all day in UTC, another the next day, under another secret
    and for another address."""
    late = datetime(2026, 7, 15, 23, 59, tzinfo=UTC)
    west = timezone(timedelta(hours=-4))
    word = log.whence("secret of this place", "192.168.1.7", late)
    assert word == log.whence("secret of this place", "192.168.1.7", late.astimezone(west))
    others = {
        log.whence("secret of this place", "192.168.1.7", late + timedelta(minutes=1)),
        log.whence("another secret", "192.168.1.7", late),
        log.whence("secret of this place", "192.168.1.8", late),
    }
    assert len(others | {word}) == 4

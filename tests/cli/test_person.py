"""The command by which whoever holds the machine lets people in again."""

from __future__ import annotations

import datetime
import re
import shutil
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.access.table import ATTENDANT, OWNER
from app.cli.workspace import open_stored
from app.main import create_app
from app.settings import Settings
from app.sites.people import members_of, sessions_of
from tests.access.signed import ADDRESS, NAMES, PASSWORD, Clock, wash
from tests.cli.shell import Shell
from tests.demo_app import OWN_PAGE
from tests.pages.pages import page_of

CODE = re.compile(r"[2-9A-HJKMNP-TV-Z]{4}(?:-[2-9A-HJKMNP-TV-Z]{4}){2}")
ANOTHER = "quite another set of words"


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with somebody of each role."""
    folder = tmp_path_factory.mktemp("person") / "data"
    with wash(folder):
        return folder


@pytest.fixture
def peopled(shell: Shell, laid: Path) -> Shell:
    """A shell with a copy of it."""
    shutil.copytree(laid, shell.data)
    return shell


def choose(shell: Shell, code: str, password: str, later: datetime.timedelta) -> tuple[int, str]:
    """Types a code and a password on the page, some time after; status, and where it led."""
    settings = Settings(data_dir=shell.data, workers=1)
    at = datetime.datetime.now(datetime.UTC) + later
    app = create_app(Clock(**settings.model_dump(), at=at))
    with TestClient(app, base_url=ADDRESS, headers=OWN_PAGE, follow_redirects=False) as browser:
        form = page_of(browser.get("/invited")).form("/invited")
        answer = browser.post(
            "/invited", data=form.data(code=code, password=password, again=password)
        )
        return answer.status_code, answer.headers.get("location", answer.text)


def test_who_has_an_account_is_said(shell: Shell) -> None:
    """Nobody at first, and a code that makes the owner, with where to type it."""
    code, said, err = shell.run("person")
    assert (code, err) == (0, "")
    assert CODE.search(said)
    assert "/first" in said


def test_accounts_are_listed(peopled: Shell) -> None:
    """Name and role of each, and no code once there is an owner."""
    said = peopled.run("person")[1]
    assert all(name in said for name in NAMES.values())
    assert not CODE.search(said)


def test_a_code_gives_the_way_in_back_and_ends_every_other(peopled: Shell) -> None:
    """Typed on the page within the hour it takes a new password and signs its owner in; sessions of
    before are over, and the code works no second time."""
    code, said, err = peopled.run("person", NAMES[OWNER].upper())
    found = CODE.search(said)
    assert (code, err) == (0, "")
    assert found is not None
    soon = datetime.timedelta(minutes=30)
    assert choose(peopled, "2222-2222-2222", ANOTHER, soon)[0] == 403
    assert choose(peopled, found[0].lower(), ANOTHER, soon) == (303, "/me")
    database = open_stored(Settings(data_dir=peopled.data))
    owner = next(one for one in members_of(database) if one.role == OWNER)
    assert len(sessions_of(database, owner.id)) == 1, "the one that was begun with the code"
    database.close()
    assert choose(peopled, found[0], PASSWORD, soon)[0] == 403


def test_a_code_lasts_an_hour(peopled: Shell) -> None:
    """A minute after that it opens nothing."""
    found = CODE.search(peopled.run("person", NAMES[OWNER])[1])
    assert found is not None
    late = datetime.timedelta(minutes=61)
    assert choose(peopled, found[0], ANOTHER, late)[0] == 403


def test_who_gets_no_code_is_told_why(peopled: Shell) -> None:
    """A name that has no account, with those that have; an attendant, whose manager gives one."""
    code, _out, err = peopled.run("person", "Nobody There")
    assert (code, "has no account; accounts have: " in err) == (1, True)
    code, _out, err = peopled.run("person", NAMES[ATTENDANT])
    assert (code, "the manager gives a new code" in err) == (1, True)

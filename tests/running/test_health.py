"""Health, readiness and numbers as a program on the machine, an owner and others meet them."""

from __future__ import annotations

import shutil
import sqlite3
import tomllib
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from app.access.table import MANAGER, NOBODY, OWNER
from app.answers.apart import Apart
from app.db.backups import back_up
from app.db.session import backups_of
from app.running.numbers import CONTENT_TYPE
from app.settings import CHECKOUT, VERSION
from app.sites.reading import gate
from sim.inputs import LogEntry
from sim.inputs.logbook import NOTE
from tests.access.signed import NAMES, OTHER, OWN, Wash, wash
from tests.demo_app import HERE
from tests.running.open_format import read

PATHS = ("/health/live", "/health/ready", "/metrics")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Wash]:
    """An installation with somebody of each role, for all tests here."""
    with wash(tmp_path_factory.mktemp("health")) as made:
        yield made


@pytest.fixture
def small(served: Wash) -> Iterator[Wash]:
    """The same, its copies removed in the end."""
    copies = backups_of(served.app.state.web.database.path)
    yield served
    shutil.rmtree(copies, ignore_errors=True)


def ready(small: Wash) -> tuple[int, dict[str, object]]:
    """Status and words of readiness, asked for on the machine itself."""
    with small.browser(at=HERE) as browser:
        answer = browser.get("/health/ready")
        return answer.status_code, answer.json()


@pytest.mark.parametrize("path", PATHS)
def test_this_machine_and_an_owner_may_ask(small: Wash, path: str) -> None:
    """A program here needs no sign-in and no cookie; from elsewhere an owner alone, and not by a
    name that only this machine has."""
    with small.browser(at=HERE) as browser:
        assert browser.get(path).status_code == 200
    with small.browser(at=HERE, address="http://wash.example") as browser:
        assert browser.get(path).status_code == 400
    for role, status in ((OWNER, 200), (MANAGER, 403), (NOBODY, 303)):
        with small.browser(role) as browser:
            assert browser.get(path).status_code == status, role


def test_a_server_that_is_well_says_so(small: Wash) -> None:
    """Every part is well; with no copy yet its age is unknown, then it is the copy's."""
    code, said = ready(small)
    assert (code, said) == (200, {
        "is_ready": True, "database": "well", "disk": "well", "computing": "well",
        "copies": "well", "copy_age_s": None,
    })  # fmt: skip
    web = small.app.state.web
    path, now = web.database.path, web.settings.clock()
    back_up(path, backups_of(path), now - timedelta(hours=5))
    assert ready(small)[1]["copy_age_s"] == 5 * 3600.0
    assert sorted(one.name for one in path.parent.iterdir() if one.name[:1] == ".") == []


def test_a_database_of_another_shape_is_ill(small: Wash) -> None:
    """One that another program brought to another shape meanwhile."""
    web = small.app.state.web
    with closing(sqlite3.connect(web.database.path)) as other, other:
        (shape,) = other.execute("SELECT version_num FROM alembic_version").fetchone()
        other.execute("UPDATE alembic_version SET version_num = 'clothcast_0009'")
    code, said = ready(small)
    with closing(sqlite3.connect(web.database.path)) as other, other:
        other.execute("UPDATE alembic_version SET version_num = ?", (shape,))
    assert (code, said["is_ready"], said["database"], said["disk"]) == (503, False, "ill", "well")


def test_a_disk_that_takes_nothing_is_ill(
    small: Wash, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The data folder is put where a file stands, so that not even root can write there."""
    web = small.app.state.web
    (tmp_path / "file").touch()
    there = web.settings.model_copy(update={"data_dir": tmp_path / "file"})
    monkeypatch.setitem(small.app.state._state, "web", replace(web, settings=there))
    code, said = ready(small)
    assert (code, said["is_ready"], said["disk"], said["database"]) == (503, False, "ill", "well")


def test_a_computing_process_that_is_gone_is_ill(
    small: Wash, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that was never begun is not there."""
    web = small.app.state.web
    there = replace(web, apart=Apart(web.settings))
    monkeypatch.setitem(small.app.state._state, "web", there)
    code, said = ready(small)
    assert (code, said["is_ready"], said["computing"]) == (503, False, "ill")


def test_a_copy_that_failed_is_told_without_its_path(small: Wash) -> None:
    """It makes the server no less ready; the sentence, which has a path in it, is not told."""
    folder = backups_of(small.app.state.web.database.path)
    folder.mkdir()
    (folder / "why-not.txt").write_text("No backup can be written to /home/olive", "utf-8")
    code, said = ready(small)
    assert (code, said["is_ready"], said["copies"]) == (200, True, "ill")
    assert "olive" not in str(said)


def test_numbers_are_of_the_format_and_true(small: Wash) -> None:
    """The standard's reader reads them; requests, entries and copies are as many as there were,
    and nothing in them is of a person or a site."""
    web = small.app.state.web
    with gate(web.database, datetime(2026, 7, 15, 9, tzinfo=UTC)) as opened:
        day, keys = web.settings.today, [f"entry-number-{n}" for n in range(3)]
        opened.enter(1, [LogEntry(key, day, 60.0, NOTE, text="x") for key in keys], "k")
    path = web.database.path
    back_up(path, backups_of(path), web.settings.clock() - timedelta(hours=2))
    with small.browser(OWNER) as browser:
        browser.get(f"/{OWN}/sheet")
        browser.get(f"/{OTHER}/sheet")
        browser.get("/no/such/page/here")
        browser.put(f"/api/v1/sites/{OWN}/counts", json={})
    with small.browser(at=HERE) as browser:
        answer = browser.get("/metrics")
    assert answer.headers["content-type"] == CONTENT_TYPE
    found = read(answer.text)
    counts = found["clothcast_requests"].values
    asked = [(labels, count) for (_name, labels), count in counts.items() if "sheet" in labels]
    assert [(label.partition(",status")[0], n) for label, n in asked] == [
        ('method="GET",route="/{slug}/sheet"', 2)
    ]
    assert any('route="none",status="404"' in labels for _name, labels in counts)
    of_programs = 'method="PUT",route="/api/v1/sites/{slug}/counts",status="401"'
    assert counts["clothcast_requests_total", of_programs] == 1
    said = {name: one.values.get((name, "")) for name, one in found.items()}
    assert said["clothcast_logbook_entries"] == 3
    assert said["clothcast_copies"] == 1
    assert said["clothcast_copy_age_seconds"] == 7200.0
    assert said["clothcast_ahead_budget_seconds"] == web.settings.ahead_s
    assert found["clothcast"].values == {("clothcast_info", f'version="{VERSION}"'): 1}
    states = {labels for _name, labels in found["clothcast_studies"].values}
    assert states == {'state="waiting"', 'state="running"'}
    held = [*NAMES.values(), OWN, OTHER, "such", "192.168", str(path.parent)]
    assert [one for one in held if one in answer.text] == []


def test_the_version_is_that_of_the_project() -> None:
    """What a server says of itself is what pyproject.toml says."""
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["version"] == VERSION

"""SITE of a command: a folder or a name, and a clear message if it is neither."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from app.cli.workspace import folder_of, gate_for, open_site, open_stored
from app.db import store
from app.settings import Settings
from app.sites import reading
from app.sites.folder import write_folder
from sim.errors import InputError
from sim.inputs import DayNote, History, Scenario, Site, SiteData
from tests.world import DAY, NAME, hours

DATA = SiteData(
    Site(NAME).with_values({"open_h": 8.0}),
    given=frozenset({"open_h"}),
    history=History(counts=hours(DAY, [3, 4]), days=(DayNote(DAY, "closed"),)),
)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Settings whose data folder is not there yet."""
    return Settings(data_dir=tmp_path / "data", today=DAY)


def stored(settings: Settings, data: SiteData) -> None:
    """Put a site into the database of the settings."""
    database = open_stored(settings)
    with database.session() as session:
        reading.bring_in(session, gate_for(session, settings), data, data.site.name)
    database.close()


def fingerprint(folder: Path) -> dict[str, str]:
    """Every file below a folder with a digest of what it holds."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_a_folder_is_looked_at_and_nothing_written(tmp_path: Path, settings: Settings) -> None:
    """With a folder, even storing a plan leaves no file changed and no database made."""
    write_folder(tmp_path / "wash", DATA)
    before = fingerprint(tmp_path)
    with open_site(settings, str(tmp_path / "wash")) as opened:
        assert opened.data == DATA
        assert folder_of(str(tmp_path / "wash")) == tmp_path / "wash"
        gate = gate_for(opened.session, settings)
        gate.store_plan(opened.stored.id, DAY, "", [Scenario("full")], 0, "a")
    assert fingerprint(tmp_path) == before
    assert not settings.data_dir.exists()


def test_a_name_opens_the_site_of_the_database(settings: Settings) -> None:
    """With a name, what is stored is there again the next time."""
    stored(settings, DATA)
    with open_site(settings, "invented-wash") as opened:
        assert (opened.data, opened.stored.version) == (DATA, 1)
        assert folder_of("invented-wash") is None
        gate = gate_for(opened.session, settings)
        gate.store_plan(opened.stored.id, DAY, "", [Scenario("full")], 0, "a")
    with open_site(settings, NAME) as again:
        assert store.find_plan(again.session, again.stored.id, DAY) is not None


def test_a_folder_without_a_site_does_not_hide_a_name(
    tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder that happens to be called as a site counts only if it holds one."""
    stored(settings, DATA)
    monkeypatch.chdir(tmp_path)
    (tmp_path / NAME).mkdir()
    with open_site(settings, NAME) as opened:
        assert (opened.data, folder_of(NAME)) == (DATA, None)
    write_folder(tmp_path / NAME, replace(DATA, units="si"))
    with open_site(settings, NAME) as opened:
        assert opened.data.units == "si"


def test_a_folder_with_problems_names_them(tmp_path: Path, settings: Settings) -> None:
    """A folder that is written as a path but holds no site is told as such."""
    (tmp_path / "empty").mkdir()
    with (
        pytest.raises(InputError, match=r"site\.toml"),
        open_site(settings, str(tmp_path / "empty")),
    ):
        pytest.fail("the site was opened")


def test_neither_folder_nor_name_tells_what_is_near(settings: Settings) -> None:
    """A misspelt name is answered with the right one."""
    stored(settings, DATA)
    with (
        pytest.raises(InputError, match=r"no site “invented wush”.*mean “Invented Wash”\?"),
        open_site(settings, "invented wush"),
    ):
        pytest.fail("the site was opened")


def test_looking_for_a_site_makes_no_database(settings: Settings) -> None:
    """Without a database there is no site, and asking does not make one."""
    with (
        pytest.raises(InputError, match="the database holds none yet"),
        open_site(settings, NAME),
    ):
        pytest.fail("the site was opened")
    assert not settings.data_dir.exists()


def test_the_gate_knows_person_and_moment(settings: Settings) -> None:
    """What is changed bears the built-in person and the moment of the settings."""
    database = open_stored(settings)
    with database.session() as session:
        outcome = gate_for(session, settings).create_site(DATA, "a")
        newest = store.input_history(session, outcome.site_id)[0]
    assert (newest.person, newest.at) == ("site manager", settings.now())
    database.close()

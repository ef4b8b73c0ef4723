"""Settings: the environment, the fixed day and the secret."""

from __future__ import annotations

import os
import stat
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from app.settings import BadSettings, Settings, read_settings

DAY = date(2026, 7, 18)


@pytest.fixture(autouse=True)
def _bare_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in Settings.model_fields:
        monkeypatch.delenv(f"CLOTHCAST_{name.upper()}", raising=False)


def test_environment_is_read_with_the_prefix(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Every setting comes from the environment under its prefixed name."""
    monkeypatch.setenv("CLOTHCAST_DATA_DIR", str(tmp_path))
    monkeypatch.setenv("CLOTHCAST_PORT", "8123")
    monkeypatch.setenv("CLOTHCAST_TODAY", "2026-07-18")
    settings = read_settings()
    assert (settings.data_dir, settings.port, settings.today) == (tmp_path, 8123, DAY)
    assert settings.database_path == tmp_path / "clothcast.sqlite3"


def test_what_is_given_wins_over_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """A setting of the command line overrides the environment's."""
    monkeypatch.setenv("CLOTHCAST_PORT", "8123")
    assert read_settings(port=9000).port == 9000


def test_defaults_listen_on_this_machine_only() -> None:
    """Nothing but this machine is served unless somebody says so."""
    settings = read_settings()
    assert (settings.host, settings.port) == ("127.0.0.1", 8000)
    assert settings.workers >= 1


def test_every_bad_setting_is_named_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A misspelt name and bad values are told together, the values quoted."""
    monkeypatch.setenv("CLOTHCAST_PROT", "1")
    monkeypatch.setenv("CLOTHCAST_PORT", "70000")
    monkeypatch.setenv("CLOTHCAST_TODAY", "tomorrow")
    with pytest.raises(BadSettings) as caught:
        read_settings()
    said = str(caught.value)
    assert "CLOTHCAST_PROT is not a setting; there are CLOTHCAST_DATA_DIR" in said
    assert "CLOTHCAST_PORT cannot be “70000”" in said
    assert "CLOTHCAST_TODAY cannot be “tomorrow”" in said


def test_a_refused_secret_is_not_repeated(monkeypatch: pytest.MonkeyPatch) -> None:
    """A secret that is too short is refused without being shown."""
    monkeypatch.setenv("CLOTHCAST_SECRET", "hunter2")
    with pytest.raises(BadSettings, match="CLOTHCAST_SECRET cannot be “…”") as caught:
        read_settings()
    assert "hunter2" not in str(caught.value)


def test_a_fixed_day_fixes_the_moment() -> None:
    """With a fixed day both date and moment repeat, whatever the time zone."""
    settings = Settings(today=DAY)
    assert settings.now() == datetime(2026, 7, 18, 12, tzinfo=UTC)
    assert settings.today_at("Pacific/Auckland") == DAY


def test_the_date_is_that_of_the_time_zone() -> None:
    """Two zones that lie a day apart never agree on the date."""
    settings = Settings()
    zones = ("Pacific/Kiritimati", "Pacific/Pago_Pago")
    east, west = (settings.today_at(zone) for zone in zones)
    assert (east - west).days >= 1
    assert settings.now().tzinfo is UTC


def test_secret_is_made_once_for_its_owner_only(tmp_path: Path) -> None:
    """The kept secret stays the same, is long, and nobody else may read it."""
    folder = tmp_path / "new"
    first = Settings(data_dir=folder).secret_key()
    assert Settings(data_dir=folder).secret_key() == first
    assert len(first) >= 48
    assert stat.S_IMODE((folder / "secret").stat().st_mode) == 0o600
    assert [path.name for path in folder.iterdir()] == ["secret"]


def test_processes_that_start_together_share_a_secret(tmp_path: Path) -> None:
    """Whoever is first makes the secret; the others take it, never half of it."""
    with ThreadPoolExecutor(8) as pool:
        made = set(pool.map(lambda _: Settings(data_dir=tmp_path).secret_key(), range(32)))
    assert len(made) == 1


def test_a_given_secret_is_not_kept(tmp_path: Path) -> None:
    """A secret from the environment is used as it is and written nowhere."""
    given = "sixteen letters!"
    settings = read_settings(data_dir=tmp_path, secret=given)
    assert settings.secret_key() == given
    assert list(tmp_path.iterdir()) == []


def test_a_secret_that_cannot_be_kept_is_told(tmp_path: Path) -> None:
    """A data folder that cannot be made is one clear sentence."""
    (tmp_path / "file").write_text("")
    with pytest.raises(BadSettings, match=r"The secret .*secret cannot be read or kept: "):
        Settings(data_dir=tmp_path / "file" / "data").secret_key()


@pytest.mark.parametrize("text", ["", "\n", "short", " " * 40])
def test_a_secret_that_anybody_could_guess_is_refused(tmp_path: Path, text: str) -> None:
    """An empty or cut-off secret signs nothing: with it, every token could be made by anybody."""
    (tmp_path / "secret").write_text(text)
    with pytest.raises(BadSettings, match=r"has \d characters, which anybody could guess: remove"):
        Settings(data_dir=tmp_path).secret_key()
    assert (tmp_path / "secret").read_text() == text


def test_a_secret_is_on_the_disk_before_it_has_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The text is synced before the name is given, and the name after it."""
    synced: list[tuple[bool, bool]] = []
    sync = os.fsync

    def noted(handle: int) -> None:
        synced.append((stat.S_ISDIR(os.fstat(handle).st_mode), (tmp_path / "secret").exists()))
        sync(handle)

    monkeypatch.setattr(os, "fsync", noted)
    Settings(data_dir=tmp_path).secret_key()
    assert synced == [(False, False), (True, True)]


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_today_is_a_day_that_others_can_be_counted_from(
    monkeypatch: pytest.MonkeyPatch, day: str
) -> None:
    """The ends of the calendar can't be taken for today."""
    monkeypatch.setenv("CLOTHCAST_TODAY", day)
    with pytest.raises(BadSettings, match="CLOTHCAST_TODAY cannot be"):
        read_settings()

"""The fixture of the command line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from app.sites.folder import write_folder
from tests.cli.shell import Shell
from tests.small_wash import TODAY, small_wash


@pytest.fixture
def shell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Shell:
    """A shell whose environment names a data folder, with the small site beside it."""
    for name in [name for name in os.environ if name.startswith("CLOTHCAST_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("CLOTHCAST_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("CLOTHCAST_WORKERS", "1")
    monkeypatch.setenv("CLOTHCAST_TODAY", TODAY.isoformat())
    write_folder(tmp_path / "wash", small_wash())
    return Shell(tmp_path / "wash", tmp_path / "data", capsys)

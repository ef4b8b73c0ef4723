"""The command line in a folder of its own, for the tests of its commands."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from app.cli import main as cli
from app.cli.workspace import open_stored
from app.settings import Settings
from app.sites import reading
from sim.inputs import SiteData
from tests.small_wash import PLANNED

DAY = ["--date", PLANNED.isoformat()]
ONE = ["--replications", "1"]


@dataclass
class Shell:
    """The command line in a folder of its own.

    Attributes:
        wash: folder of a small site; data: data folder, which is not there yet.
    """

    wash: Path
    data: Path
    capsys: pytest.CaptureFixture[str]

    def run(self, *arguments: str | Path) -> tuple[int, str, str]:
        """Runs a command; its exit code, output and complaints, each as one line of words."""
        code, out, err = self.raw(*arguments)
        return code, " ".join(out.split()), " ".join(err.split())

    def raw(self, *arguments: str | Path) -> tuple[int, str, str]:
        """As `run`, with the texts as they are."""
        self.capsys.readouterr()
        code = cli.main([str(part) for part in arguments])
        out, err = self.capsys.readouterr()
        return code, out, err

    def usage(self, *arguments: str) -> str:
        """What is said of a command that is used wrongly; the exit code is 2."""
        self.capsys.readouterr()
        with pytest.raises(SystemExit) as caught:
            cli.main(arguments)
        assert caught.value.code == 2
        return " ".join(self.capsys.readouterr().err.split())

    def stored(self, name: str = "Small Wash") -> SiteData:
        """A site of the database with its past."""
        database = open_stored(Settings(data_dir=self.data))
        with database.session() as session:
            found = reading.load(session, name)
        database.close()
        return found


def listing(folder: Path) -> dict[str, tuple[int, int]]:
    """Every file and folder below a folder, with size and time of its last change."""
    return {
        str(path.relative_to(folder)): (path.stat().st_size, path.stat().st_mtime_ns)
        for path in [folder, *folder.rglob("*")]
    }

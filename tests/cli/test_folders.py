"""Sites in and out as folders, and where data lies: what the command line says of both."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from app.sites.demo import DEMO_FOLDER
from app.sites.folder import read_folder
from tests.cli.shell import DAY, ONE, Shell
from tests.small_wash import small_wash

# ---- import, export, check -----------------------------------------------------------------------


def test_import_stores_and_a_name_finds_it(shell: Shell) -> None:
    """An imported site is planned by its name; imported again it is replaced, not doubled."""
    code, out, _err = shell.run("import", shell.wash)
    assert code == 0
    assert out == "Small Wash is stored: 56 hourly counts, 672 hours of weather."
    assert shell.stored() == small_wash()
    assert shell.run("import", shell.wash)[0] == 0
    assert shell.run("plan", "small wash", *DAY, *ONE)[0] == 0
    assert shell.run("check", "Small Wash")[1] == "Small Wash: no problem found."


def test_the_demo_goes_in_and_out_and_in_again(shell: Shell) -> None:
    """Exported, the demo's three files are those it came from, byte for byte, and read the same."""
    assert shell.run("import", DEMO_FOLDER)[0] == 0
    out = shell.wash.parent / "out"
    code, said, _err = shell.run("export", "Harbor Road", out)
    assert code == 0
    assert said.startswith("Harbor Road is written to")
    for name in ("site.toml", "counts.csv", "weather.csv"):
        assert (out / name).read_bytes() == (DEMO_FOLDER / name).read_bytes()
    assert read_folder(out) == shell.stored("Harbor Road")


def test_a_name_that_is_nearly_right_is_answered(shell: Shell) -> None:
    """Every command that takes a site names the nearest one."""
    shell.run("import", shell.wash)
    target = str(shell.wash.parent / "x")
    commands: list[list[str]] = [
        ["plan", "Smal Wush", *DAY], ["trace", "Smal Wush", *DAY, "--csv", target],
        ["check", "Smal Wush"], ["export", "Smal Wush", target], ["serve", "Smal Wush"],
    ]  # fmt: skip
    for command in commands:
        code, _out, err = shell.run(*command)
        assert code == 1, command
        assert "There is no site “Smal Wush”" in err
        assert "Did you mean “Small Wash”?" in err


def test_without_a_database_a_name_makes_none(shell: Shell) -> None:
    """Asking for a site that nobody stored says so and leaves no data folder behind."""
    code, _out, err = shell.run("plan", "Harbor Road", *DAY)
    assert code == 1
    assert "the database holds none yet" in err
    assert not shell.data.exists()


@pytest.mark.parametrize("command", ["check", "import", "plan"])
def test_every_problem_of_a_folder_at_once(shell: Shell, command: str) -> None:
    """Problems of all three files, each with file and line, and nothing stored."""
    with (shell.wash / "site.toml").open("a", encoding="utf-8") as file:
        file.write("\n[wheel]\nstrip_cuont = 150\nstrip_length_m = -1\n")
    counts = (shell.wash / "counts.csv").read_text(encoding="utf-8")
    bad = "2026-07-16,8,-3\n2026-07-16,9,about 40\n2026-07-15,9,4\n"
    (shell.wash / "counts.csv").write_text(counts + bad, encoding="utf-8")
    with (shell.wash / "weather.csv").open("a", encoding="utf-8") as file:
        file.write("2026-07-16,7,25,104,0\n")
    day = DAY if command == "plan" else []
    code, out, err = shell.raw(command, shell.wash, *day)
    lines = err.replace("\u00a0", " ").splitlines()
    assert (code, out) == (1, "")
    assert len(lines) == 6
    for start, said in (
        ("site.toml, line ", "Did you mean strip_count?"),
        ("site.toml, line ", "Strip length −1 m is outside what can be used. Enter 0.1 m to 2 m."),
        ("counts.csv, line 58: ", "-3"),
        ("counts.csv, line 59: ", "about 40"),
        ("counts.csv, line 60: ", "2026-07-15"),
        ("weather.csv, line 674: ", "104"),
    ):
        assert any(line.startswith(start) and said in line for line in lines), said
    assert not shell.data.exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["import", "nowhere"], "There is no folder nowhere. A site is a folder with a site.toml."),
        (["import", "."], "The folder . has no site.toml."),
        (["check", "./nowhere"], "There is no site “./nowhere”"),
    ],
)
def test_what_is_no_folder_of_a_site_is_said(
    shell: Shell, monkeypatch: pytest.MonkeyPatch, arguments: list[str], said: str
) -> None:
    """A folder that is not there, or holds no site, is named."""
    monkeypatch.chdir(shell.wash.parent)
    code, out, err = shell.run(*arguments)
    assert (code, out) == (1, "")
    assert said in err


def test_a_file_is_no_folder_to_export_to(shell: Shell) -> None:
    """An export over a file is refused with its name."""
    shell.run("import", shell.wash)
    code, _out, err = shell.run("export", "Small Wash", shell.wash / "site.toml")
    assert code == 1
    assert "can't be written" in err


# ---- data folder and settings --------------------------------------------------------------------


def test_a_data_folder_that_cannot_be_made_is_said(
    shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a read-only disk the data folder, the reason and the way round stand in one sentence."""
    plain = Path.mkdir

    def deny(self: Path, *given: Any, **named: Any) -> None:
        if self == shell.data:
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(self))
        plain(self, *given, **named)

    monkeypatch.setattr(Path, "mkdir", deny)
    for command in (["import", shell.wash], ["demo", "--plan-only"]):
        code, out, err = shell.run(*command)
        assert (code, out) == (1, "")
        assert err == (
            f"The data folder {shell.data} cannot be made (read-only file system); "
            "choose another one with CLOTHCAST_DATA_DIR."
        )


def test_a_database_that_cannot_be_written_is_said(shell: Shell) -> None:
    """Something in the database's place that can't be opened is named with the way round."""
    (shell.data / "clothcast.sqlite3").mkdir(parents=True)
    code, _out, err = shell.run("import", shell.wash)
    assert code == 1
    assert err.startswith(f"The database {shell.data / 'clothcast.sqlite3'} cannot be written")


def test_bad_settings_are_said(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """A setting of the environment that can't be used ends in a sentence."""
    monkeypatch.setenv("CLOTHCAST_PORT", "many")
    code, _out, err = shell.run("check", shell.wash)
    assert code == 1
    assert "CLOTHCAST_PORT cannot be “many”" in err

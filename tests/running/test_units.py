"""The files of the guide that have a service manager or a container begin the server."""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from app.access.table import BY_ROUTE
from app.cli import main as cli
from app.cli.serving import FINISH_S
from app.settings import PREFIX, Settings
from tests.running.units import UNIT, unit
from tests.world import ROOT

CONTAINER = UNIT.with_name("Containerfile")
GUIDE = ROOT / "app/guide/operating.md"
PROGRAM = "/opt/clothcast/.venv/bin/clothcast"
INSTRUCTIONS = {
    "FROM", "RUN", "WORKDIR", "COPY", "USER", "ENV", "VOLUME", "EXPOSE", "STOPSIGNAL",
    "HEALTHCHECK", "CMD",
}  # fmt: skip
"""Of those that the reference of Containerfiles has (Containerfile(5)), the ones used here."""


def container() -> list[tuple[str, str]]:
    """Instructions of the Containerfile, and what follows each."""
    lines = CONTAINER.read_text("utf-8").splitlines()
    told = [line.partition(" ") for line in lines if line and not line.startswith("#")]
    return [(word, rest) for word, _space, rest in told]


def is_served_by(words: list[str]) -> bool:
    """Whether a command line of ours serves the pages, and writes the log."""
    parsed: argparse.Namespace = cli._parser().parse_args(words)
    return bool(parsed.serves) and parsed.log_json is True


def known(setting: str) -> bool:
    """Whether an assignment of the environment is a setting of ours."""
    name = setting.partition("=")[0]
    return name.removeprefix(PREFIX).lower() in Settings.model_fields


@pytest.mark.parametrize("path", [UNIT, CONTAINER])
def test_the_guide_shows_the_file(path: Path) -> None:
    """What somebody copies from the page is the very file."""
    text = path.read_text("utf-8")
    shown = "".join(f"    {line}" if line.strip() else line for line in text.splitlines(True))
    assert shown in GUIDE.read_text("utf-8")


def test_the_unit_serves_and_waits_long_enough() -> None:
    """Its command is one of ours, its settings exist, only its own folders are stored in, and it is
    waited for longer than open requests may take."""
    told = unit()
    program, *words = told["ExecStart"].split()
    assert (program, is_served_by(words)) == (PROGRAM, True)
    ours, other = told["Environment"].split()
    assert known(ours)
    assert ours.partition("=")[2] == f"/var/lib/{told['StateDirectory']}"
    assert other.partition("=")[2] == f"/var/cache/{told['CacheDirectory']}"
    assert (told["KillMode"], told["ProtectSystem"]) == ("mixed", "strict")
    assert int(told["TimeoutStopSec"]) > FINISH_S


def test_systemd_finds_no_fault_in_the_unit(tmp_path: Path) -> None:
    """Where systemd's tools are installed they read it without a word, a planted fault with one,
    and rate it as the guide says. Elsewhere its shape alone is checked, by the test above."""
    tool = shutil.which("systemd-analyze")
    if tool is None:
        assert unit()["Restart"] == "on-failure"
        return
    here = tmp_path / UNIT.name
    text = UNIT.read_text("utf-8").replace(PROGRAM, "/bin/true")

    def verified(said: str) -> str:
        here.write_text(said, "utf-8")
        done = subprocess.run([tool, "verify", here], capture_output=True, text=True, check=False)
        return done.stdout + done.stderr

    assert verified(text) == ""
    assert "KillMod" in verified(text.replace("KillMode", "KillMod"))
    here.write_text(text, "utf-8")
    rated = subprocess.run(
        [tool, "security", "--offline=true", here], capture_output=True, text=True, check=False
    ).stdout
    found = re.search(r"exposure level for clothcast\.service: ([\d.]+)", rated)
    assert found is not None
    assert float(found[1]) < 3.0


def test_the_container_serves_as_somebody_without_rights() -> None:
    """Every instruction is one that there is; settings, command, made file and asked address are
    ours; it runs as no root, with its data in the folder that stays."""
    told = container()
    assert told[0][0] == "FROM"
    assert {word for word, _rest in told} <= INSTRUCTIONS
    said = {word: rest for word, rest in told if word != "RUN"}
    program, *words = json.loads(said["CMD"])
    assert (program, is_served_by(words)) == (PROGRAM, True)
    assert all(known(one) for one in said["ENV"].split())
    assert f"CLOTHCAST_DATA_DIR={said['VOLUME']}" in said["ENV"]
    assert said["EXPOSE"] == str(Settings.model_fields["port"].default)
    assert said["USER"] not in ("root", "0")
    asked = re.search(r"http://localhost:(\d+)(/[a-z/]+)", said["HEALTHCHECK"])
    assert asked is not None
    assert (asked[1], f"GET {asked[2]}" in BY_ROUTE) == (said["EXPOSE"], True)
    code = json.loads(said["HEALTHCHECK"].removeprefix("CMD "))[2]
    compile(code, "health check", "exec")
    makes = [word for rest in said.values() for word in rest.split()] + [
        word for line, rest in told if line == "RUN" for word in rest.split()
    ]
    assert ".venv/kernel.stamp" in makes
    assert "KERNEL := .venv/kernel.stamp" in (ROOT / "Makefile").read_text("utf-8")

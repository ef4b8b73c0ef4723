"""Set-up says in one sentence what it lacks, and the suite counts what it leaves out."""

from __future__ import annotations

import ast
import errno
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

import pytest

from tests import chromium
from tests.soak_record import recorded_tests

ROOT = Path(__file__).resolve().parent.parent
SETUP = ROOT / ".ci" / "setup.py"


class Version(NamedTuple):
    """The part of `sys.version_info` that counts."""

    major: int
    minor: int


@pytest.fixture
def setup() -> ModuleType:
    """The set-up script as a module of its own."""
    spec = importlib.util.spec_from_file_location("clothcast_setup", SETUP)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def refused(capsys: pytest.CaptureFixture[str]) -> str:
    """What was said on the error stream; it is one line."""
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    return said


def test_an_old_python_can_read_the_script() -> None:
    """The script meets the grammar of Python 3.6, so it gets as far as its sentence."""
    ast.parse(SETUP.read_text(encoding="utf-8"), feature_version=(3, 6))


def test_an_old_python_is_named(
    setup: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Python 3.10 is refused with its version and with what would be right."""
    monkeypatch.setattr(sys, "version_info", Version(3, 10))
    with pytest.raises(SystemExit, match="1"):
        setup.main(["runtime"])
    said = refused(capsys)
    assert "needs Python 3.11 or newer" in said
    assert "is 3.10" in said


def test_a_python_that_is_not_there_is_named() -> None:
    """PYTHON=… that cannot be run ends with its name and an example."""
    done = subprocess.run(
        ["sh", str(ROOT / ".ci" / "setup"), "runtime"],
        env={**os.environ, "PYTHON": "no-such-python"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("PYTHON=no-such-python cannot be run: name a Python 3.11")


def test_no_python_at_all_is_said() -> None:
    """Without any Python on the path the sentence names the packages."""
    sh = shutil.which("sh")
    assert sh is not None
    done = subprocess.run(
        [sh, str(ROOT / ".ci" / "setup"), "runtime"],
        env={"PATH": "/nowhere"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "apt-get install python3 python3-venv" in done.stderr


def test_a_read_only_folder_is_said(
    setup: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that cannot be written in ends with its name and the reason."""

    def deny(**given: object) -> tuple[int, str]:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(tempfile, "mkstemp", deny)
    with pytest.raises(SystemExit, match="1"):
        setup.check_folder()
    said = refused(capsys)
    assert str(ROOT) in said
    assert os.strerror(errno.EROFS) in said


def test_no_network_is_said(
    setup: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An index out of reach ends in a sentence, not in pip's pages."""
    output = "WARNING: Retrying: Failed to establish a new connection\nERROR: No matching\n"
    failed = subprocess.CompletedProcess([], 1, stdout=output)
    monkeypatch.setattr(subprocess, "run", lambda *given, **named: failed)
    with pytest.raises(SystemExit, match="1"):
        setup.pip("-r", "requirements.lock")
    assert "package index could not be reached" in refused(capsys)


def test_a_failed_install_names_its_log(
    setup: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    """Any other failure ends with pip's last error, its whole output kept in a file."""
    output = "Collecting a\nERROR: THESE PACKAGES DO NOT MATCH THE HASHES\n"
    failed = subprocess.CompletedProcess([], 1, stdout=output)
    monkeypatch.setattr(subprocess, "run", lambda *given, **named: failed)
    monkeypatch.setattr(setup, "VENV", str(tmp_path))
    with pytest.raises(SystemExit, match="1"):
        setup.pip("-r", "requirements.lock")
    assert "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES" in refused(capsys)
    assert (tmp_path / "setup.log").read_text(encoding="utf-8") == output


def test_a_missing_browser_names_the_package(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a Chromium to be had, its package and the way round are named."""
    monkeypatch.delenv("NO_BROWSER", raising=False)
    monkeypatch.setattr(shutil, "which", lambda name: None)
    assert chromium.main() == 1
    said = refused(capsys)
    assert "package `chromium`" in said
    assert "NO_BROWSER=1" in said


def test_no_browser_goes_on_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """With NO_BROWSER=1 a missing Chromium stops nothing."""
    monkeypatch.setenv("NO_BROWSER", "1")
    monkeypatch.setattr(shutil, "which", lambda name: None)
    assert chromium.main() == 0


SAMPLE = """
import pytest

def test_page(page):
    raise AssertionError("a browser test ran")

@pytest.mark.browser
def test_marked():
    raise AssertionError("a browser test ran")

@pytest.mark.soak
@pytest.mark.parametrize("part", [1, 2])
def test_grows(size, record_figure, rng, part):
    count = size(small=3, full=30)
    record_figure("mean", rng.random(count).mean(), "s")
    assert count == 30
"""


def run_sample(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Runs a small suite of its own under our plugins and no others, without a browser."""
    (folder / "test_sample.py").write_text(SAMPLE, encoding="utf-8")
    plugins = ["-p", "xdist", "-p", "tests.conftest"]
    where = ["-c", str(ROOT / "pyproject.toml"), f"--rootdir={folder}", str(folder)]
    return subprocess.run(
        [sys.executable, "-m", "pytest", *plugins, *where, *arguments],
        cwd=ROOT,
        env={**os.environ, "NO_BROWSER": "1", "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """What a soak run of the sample in two workers printed, and the record that it wrote."""
    folder = tmp_path_factory.mktemp("sample")
    record = folder / "record.md"
    done = run_sample(folder, "-n", "2", "--soak", "--soak-record", str(record))
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout, record.read_text(encoding="utf-8")


def test_left_out_browser_tests_are_counted(ran: tuple[str, str]) -> None:
    """NO_BROWSER=1 leaves browser tests out, says how many, and pytest's line stays the last."""
    printed, _ = ran
    assert "NO_BROWSER: 2 browser tests did not run" in printed
    assert "2 passed" in printed.strip().splitlines()[-1]


def test_a_soak_run_writes_its_record(ran: tuple[str, str]) -> None:
    """The record of a run in two workers has a row a test, its full count and its figures."""
    _, text = ran
    assert recorded_tests(text) == {"test_sample.py::test_grows"}
    assert "| test_sample.py::test_grows[2] | passed | 30 | mean 0." in text


def test_a_small_run_cannot_pass_for_a_soak_run(tmp_path: Path) -> None:
    """A record can only be written at full counts."""
    done = run_sample(tmp_path, "--soak-record", str(tmp_path / "record.md"))
    assert done.returncode != 0
    assert "--soak-record needs --soak" in done.stderr

"""The archive of a release: the same bytes twice, whole, and it starts elsewhere."""

from __future__ import annotations

import hashlib
import re
import shutil
import signal
import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

from tests.opened import opened
from tests.world import ROOT

SCRIPT = ROOT / ".ci" / "release.py"
LEFT_OUT = shutil.ignore_patterns(
    ".git", ".venv", "__pycache__", ".*_cache", ".hypothesis", "dist", "build", "*.egg-info",
    "test-results", "*.sqlite3*",
)  # fmt: skip
NO_GIT = "made with git, which is not installed"
WHO = ["-c", "user.name=Somebody", "-c", "user.email=somebody@wash.example"]
"""Whose commits those of the test are."""


def git(root: Path, *words: str) -> None:
    """Has git do something in a folder, as somebody, whatever the machine's own settings are."""
    subprocess.run(["git", "-C", str(root), *WHO, *words], check=True, capture_output=True)


def released(root: Path, into: Path) -> tuple[int, str]:
    """Exit code of the command, and what it said."""
    command = [sys.executable, str(SCRIPT), "--root", str(root), "--into", str(into)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """This checkout's files, committed in a repository of their own."""
    root = tmp_path_factory.mktemp("release") / "tree"
    shutil.copytree(ROOT, root, ignore=LEFT_OUT)
    if shutil.which("git") is not None:
        git(root, "init", "-q")
        git(root, "add", "-A")
        git(root, "commit", "-qm", "All of it")
    return root


def lacks_git(tree: Path, into: Path) -> bool:
    """Whether this machine has no git, without which no release is made, and it is told so."""
    if shutil.which("git") is not None:
        return False
    code, said = released(tree, into)
    assert (code, NO_GIT in said) == (1, True)
    return True


def test_a_release_runs_elsewhere(tree: Path, tmp_path: Path) -> None:
    """Made twice it has the same bytes, which its hash tells. Unpacked elsewhere, its two commands
    are there to make, and the pages are served from it until it is told to end."""
    if lacks_git(tree, tmp_path):
        return
    for into in ("one", "two"):
        assert released(tree, tmp_path / into)[0] == 0
    (first, second) = (next((tmp_path / into).glob("*.tar.gz")) for into in ("one", "two"))
    assert first.read_bytes() == second.read_bytes()
    said = first.with_name(f"{first.name}.sha256").read_text("ascii")
    assert said == f"{hashlib.sha256(first.read_bytes()).hexdigest()}  {first.name}\n"
    with tarfile.open(first) as tar:
        names = tar.getnames()
        tar.extractall(tmp_path / "elsewhere", filter="data")
    folder = tmp_path / "elsewhere" / first.name.removesuffix(".tar.gz")
    assert names == sorted(names)
    known = subprocess.run(["git", "-C", tree, "ls-files"], capture_output=True, check=True)
    unpacked = [one.relative_to(folder) for one in folder.rglob("*") if one.is_file()]
    assert sorted(map(str, unpacked)) == sorted(known.stdout.decode().splitlines())
    for target in ("demo", "test", "upgrade"):
        dry = subprocess.run(
            ["make", "-n", target], cwd=folder, capture_output=True, text=True, check=True
        )
        assert "sh .ci/setup runtime" in dry.stdout
    serves(folder, tmp_path / "data")


def serves(folder: Path, data: Path) -> None:
    """The pages are served from a folder, by the Python that runs the tests."""
    told = {"CLOTHCAST_DATA_DIR": str(data), "PYTHONPATH": str(folder)}
    with opened(["serve"], told, cwd=folder) as one:
        assert one.client.get("/health/live").json() == {"is_live": True}
        one.client.close()
        one.process.send_signal(signal.SIGTERM)
        _out, err = one.process.communicate(timeout=60)
    assert err == ""


def test_what_is_not_committed_is_not_released(tree: Path, tmp_path: Path) -> None:
    """A file that was changed, or one that git does not know, is named, and nothing is made."""
    if lacks_git(tree, tmp_path):
        return
    for name in ("README.md", "left-over.txt"):
        before = (tree / name).read_text("utf-8") if (tree / name).exists() else None
        (tree / name).write_text("changed", "utf-8")
        code, said = released(tree, tmp_path / "none")
        if before is None:
            (tree / name).unlink()
        else:
            (tree / name).write_text(before, "utf-8")
        assert (code, name in said, (tmp_path / "none").exists()) == (1, True, False)


def test_versions_that_differ_are_not_released(tree: Path, tmp_path: Path) -> None:
    """A head of CHANGELOG that has another version, or no day, is told with what would be right."""
    if lacks_git(tree, tmp_path):
        return
    path = tree / "CHANGELOG.md"
    before = path.read_text("utf-8")
    for head in ("## 9.9.9, 2026-12-01", "## 0.1.0, not released yet"):
        path.write_text(re.sub(r"(?m)^## \S+, .*$", head, before, count=1), "utf-8")
        code, said = released(tree, tmp_path / "none")
        path.write_text(before, "utf-8")
        assert (code, "its head is to be" in said) == (1, True)

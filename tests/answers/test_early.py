"""The computing process, begun before there is anything to compute, and workers that are copies."""

from __future__ import annotations

import multiprocessing
import subprocess
import sys
from pathlib import Path

from app.answers.early import Early
from tests.world import ROOT

WAIT_S = 120.0


def copies(how: str, folder: Path) -> list[str]:
    """What `tests.answers.copies` says; it comes back once nobody holds its output any more."""
    command = [sys.executable, "-m", "tests.answers.copies", how, str(folder)]
    done = subprocess.run(
        command, cwd=ROOT, stdout=subprocess.PIPE, text=True, timeout=WAIT_S, check=False
    )
    return done.stdout.splitlines()


def test_copies_compute_at_once_and_are_replaced(tmp_path: Path) -> None:
    """Both are there from the beginning, and a piece at which one dies is computed by another."""
    assert copies("alone", tmp_path) == ["2", "True True", "[0, 1, 2, 3, 4]"]
    assert (tmp_path / "died").exists()


def test_nothing_is_copied_beside_a_thread(tmp_path: Path) -> None:
    """A second thread might hold a lock; then all are started afresh, and compute the same."""
    assert copies("beside", tmp_path) == ["0", "False True", "[0, 1, 2, 3, 4]"]


def test_copies_end_with_the_one_they_are_copies_of(tmp_path: Path) -> None:
    """Killed, it leaves none behind: its output comes to an end, which each of them holds open."""
    assert copies("killed", tmp_path)[-1] == "[0, 1, 2, 3, 4]"


def test_who_is_not_needed_is_ended() -> None:
    """A process that nobody has taken is ended, one that was is left alone; and one whose server is
    gone ends by itself."""
    early = Early()
    (process,) = multiprocessing.active_children()
    early.end()
    assert process not in multiprocessing.active_children()
    early = Early()
    pipe, taken = early.taken()
    early.end()
    assert taken.is_alive()
    pipe.close()
    taken.join(WAIT_S)
    assert taken.exitcode == 0

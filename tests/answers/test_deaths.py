"""Studies outlive whoever works at them: killed workers, stopped ones, servers that close."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.answers.studies.runner import Report
from app.answers.studies.workers import Hands
from sim.day.engine import parallel_map
from tests.answers import study_pieces
from tests.answers.played_servers import MANY_DAYS, Gated, Servers, Work, begun, job
from tests.sizes import Size
from tests.world import failure


def dying(work: Callable[[study_pieces.Piece], int], folder: Path, times: list[int]) -> Work:
    """Work over pieces of which one kills its process."""

    def run(executor: Executor | None, report: Report) -> dict[str, Any]:
        times.append(1)
        pieces = [(str(folder), number) for number in range(40)]
        return {"sum": sum(parallel_map(work, pieces, executor, lambda done: report(done, 40)))}

    return run


def test_a_study_survives_the_death_of_a_worker(servers: Servers, tmp_path: Path) -> None:
    """A worker is killed in the middle: another computes its piece, and the study is whole."""
    runner = servers.runner(workers=2)
    times: list[int] = []
    work = dying(study_pieces.die_once, tmp_path, times)
    begun(runner, job(work, days=MANY_DAYS)).result(120)
    assert (tmp_path / "died").exists()
    assert (len(times), servers.result()) == (1, ({"sum": sum(range(40))}, True))


def test_a_worker_killed_amid_a_message_blocks_nothing(servers: Servers, tmp_path: Path) -> None:
    """Half an answer is not waited for: its piece is computed anew, and the study is whole."""
    runner = servers.runner(workers=2)
    work = dying(study_pieces.die_amid_a_message, tmp_path, [])
    begun(runner, job(work, days=MANY_DAYS)).result(120)
    assert (tmp_path / "died").exists()
    assert servers.result() == ({"sum": sum(range(40))}, True)


def test_stopping_reaches_a_study_that_waits(servers: Servers, tmp_path: Path) -> None:
    """A worker stands still, the study waits for it: stopped, it ends, and the next one runs."""
    runner = servers.runner(workers=2)
    os.mkfifo(tmp_path / "says")
    work = dying(study_pieces.stop_itself, tmp_path, [])
    future = begun(runner, job(work, days=MANY_DAYS))
    assert (tmp_path / "says").read_text("ascii") == "here"
    runner.cancel("k")
    future.result(60)
    assert (servers.study().state, servers.result()[0]) == ("cancelled", None)
    sound = dying(study_pieces.leave_trace, tmp_path, [])
    begun(runner, job(sound, "next", MANY_DAYS)).result(120)
    assert servers.result("next")[1]


@pytest.mark.soak
def test_no_kill_leaves_a_study_stuck(
    servers: Servers,
    rng: np.random.Generator,
    size: Size,
    record_figure: Callable[..., None],
) -> None:
    """Workers are killed at random steps of studies that send much: every study is whole.

    A kill comes after a step drawn at random, when the workers may be at anything: computing,
    amid an answer of a megabyte, waiting, or still starting.
    """
    runner = servers.runner(workers=2)
    kills = size(small=8, full=200)
    steps, left = 40, kills
    states: list[str] = []
    while left:
        at = {int(step) for step in rng.choice(steps, size=min(4, left), replace=False)}
        left -= len(at)
        key = f"k{left}"

        def work(executor: Executor | None, report: Report, at: set[int] = at) -> dict[str, Any]:
            assert isinstance(executor, Hands)
            total = 0
            pieces = [("", number) for number in range(steps)]
            for done, (number, _sent) in enumerate(
                parallel_map(study_pieces.large, pieces, executor)
            ):
                total += number
                report(done, steps)
                if done in at:
                    there = executor.pool.processes()
                    if there:
                        there[int(rng.integers(len(there)))].kill()
            return {"sum": total}

        begun(runner, job(work, key, MANY_DAYS)).result(600)
        states.append(servers.study(key).state)
        assert servers.result(key) == ({"sum": sum(range(steps))}, True), (key, states)
    record_figure("studies that did not end whole", sum(s != "done" for s in states))
    assert set(states) == {"done"}


def test_a_study_whose_workers_keep_dying_fails(servers: Servers, tmp_path: Path) -> None:
    """A piece that kills whoever takes it ends its study with a sentence and stores nothing; the
    next study runs again."""
    runner = servers.runner(workers=2)
    times: list[int] = []
    work = dying(study_pieces.die_always, tmp_path, times)
    begun(runner, job(work, days=MANY_DAYS)).result(120)
    assert (len(times), servers.result()) == (1, (None, False))
    assert failure(runner, "k") == (
        "It broke: the processes that compute it were ended from outside"
    )
    sound = dying(study_pieces.leave_trace, tmp_path, times)
    begun(runner, job(sound, "next", MANY_DAYS)).result(120)
    assert servers.result("next")[1]


def test_closing_hands_studies_on(servers: Servers) -> None:
    """A server that is ended in good order leaves its studies waiting, for the next to have."""
    first, second = servers.runner(), servers.runner()
    work = Gated()
    future = begun(first, job(work))
    assert work.halfway.wait(60)
    first.close()
    assert (servers.study().state, servers.study().lease_until) == ("waiting", None)
    again = Gated()
    again.go_on.set()
    begun(second, job(again)).result(60)
    work.go_on.set()
    future.result(60)
    assert (work.steps, servers.result()) == ([1], ({"answer": 42}, True))

"""A process that begins workers as copies of itself, as `test_early` runs it: with `beside` it has
a second thread, with `killed` it is ended amid them. It says what came of their pieces."""

from __future__ import annotations

import os
import signal
import sys
import threading

from app.answers.studies.workers import Pool, fork_workers
from tests.answers.study_pieces import die_once


def say(*words: object) -> None:
    """A line of the output, at once."""
    sys.stdout.write(" ".join(map(str, words)) + "\n")
    sys.stdout.flush()


def main(how: str, folder: str) -> None:
    """Run once."""
    if how == "beside":
        threading.Thread(target=threading.Event().wait, daemon=True).start()
    begun = fork_workers(2)
    say(len(begun))
    pool = Pool(2, begun=begun)
    begun_ids = {process.pid for process, _pipe in begun}
    say(pool.is_warm, {one.pid for one in pool.processes()} == begun_ids)
    say(list(pool.map(die_once, [(folder, number) for number in range(5)])))
    if how == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    pool.shutdown()


if __name__ == "__main__":
    main(*sys.argv[1:])

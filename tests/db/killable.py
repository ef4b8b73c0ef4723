"""A process that writes through the gate until it is killed; run as a command by its test.

It loads everything once, then forks a child a run, so that ten thousand kills take minutes. A line
of its input begins a run: path of the database, number of the run, kind of writer. The child
writes as fast as it can and tells each acknowledged write on the output by one unbuffered line,
after the gate has returned; the parent is told the child's number first, and kills it.
"""

from __future__ import annotations

import os
import signal
import sys
from dataclasses import replace
from datetime import timedelta
from itertools import count
from pathlib import Path

from app.answers.studies.book import StudyBook, new_holder
from app.db import store
from app.db.session import Database, open_database
from app.sites.changes import Gate
from sim.inputs import LogEntry
from sim.inputs.logbook import NOTE
from tests.world import DAY, NOW

PEOPLE, STUDIES = "people", "studies"
"""Writers: the logbook, plans' inputs; and studies asked for, claimed, told on, answered."""


def tell(line: str) -> None:
    """One line at once: a pipe takes so few bytes whole."""
    os.write(1, f"{line}\n".encode())


def write_entries(database: Database, run: str) -> None:
    """Entries of the logbook, every third corrected."""
    for number in count():
        with database.session() as session:
            gate = Gate(session, store.built_in_person(session), NOW + timedelta(seconds=number))
            key = f"kill-{run}-{number:05d}"
            entry = LogEntry(key, DAY, 60.0 * (number % 1400), NOTE, text=f"entry {number}")
            gate.enter(1, [entry], f"request {key}")
            tell(f"entry {key} {entry.text}")
            if number % 3 == 0:
                gate.enter(1, [replace(entry, text=f"entry {number}, corrected")], f"again {key}")
                tell(f"entry {key} entry {number}, corrected")


def run_studies(database: Database, run: str) -> None:
    """Studies from their being asked for to their answer, as a process does that runs them."""
    book = StudyBook(database, new_holder(), lambda: NOW)
    for number in count():
        key = f"study-{run}-{number:05d}"
        book.ask(key, "switch", 1, DAY, total=2, at=NOW, reason="ahead")
        if not book.claim(key):
            raise RuntimeError(f"{key} can't be had")
        book.beat(key, 1, 0.5)
        with database.session() as session:
            gate = Gate(session, store.built_in_person(session), NOW)
            gate.store_result(key, 1, DAY, f"answer of {key}", holder=book.holder)
        tell(f"answer {key} answer of {key}")


def main() -> None:
    """Begin a run for every line."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    for line in sys.stdin:
        path, run, kind = line.split()
        child = os.fork()
        if child == 0:
            # What is opened before a fork must not be used after it.
            database = open_database(Path(path))
            tell(f"begun {os.getpid()}")
            (write_entries if kind == PEOPLE else run_studies)(database, run)
            os._exit(1)
        os.waitpid(child, 0)
        tell("ended")


if __name__ == "__main__":
    main()

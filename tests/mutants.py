"""`python -m tests.mutants [PART …]`: faults one at a time; do the tests notice?

First those made from the source by operators (`tests/mutation/`), each room's dealt out to two
processes; then those planted by hand (`tests/planted/`). With parts of paths, such as `sim/decide`,
only faults in such files are tried, with the name of a room those of that room; `--made` and
`--planted` try one kind alone.

Each planted fault is put into a copy of the project, where its tests run in plain Python (nothing
is compiled anew) and without shrinking. The tests must pass without any fault and fail with each.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from tests.architecture import ROOT
from tests.mutation.record import HEAD, RoomTried, Tried, record_text, rows_of, together
from tests.mutation.rooms import ROOMS
from tests.planted import FAULTS, Fault
from tests.soak_record import commit

MOST = 150
"""Faults made from the source of a room that are tried: of more, so many are drawn."""
REACHED = 0.85
"""Share of them to notice."""
WORKERS = 2
LONGEST_S = 300.0
TRIES = 4
COPIED = ("sim", "app", "tests", "templates", "demo_site", "pyproject.toml")
FAILED = 1
"""Exit code of pytest when tests ran and some failed."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a fault: ``caught``, ``MISSED`` or why it could not be planted."""

    fault: Fault
    word: str
    seconds: float


def main() -> int:
    """Exit code 0 if the tests pass unharmed and notice enough: of the faults made from the source
    the share that is to be reached in every room, of those planted each."""
    asked = argparse.ArgumentParser(description="Faults one at a time; do the tests notice?")
    asked.add_argument("parts", nargs="*", metavar="PART")
    asked.add_argument("--made", action="store_true", help="only faults made from the source")
    asked.add_argument("--planted", action="store_true", help="only faults planted by hand")
    asked.add_argument("--most", type=int, default=MOST, help="of a room's faults made; 0: all")
    asked.add_argument("--record", metavar="FILE", help="write the record of faults made")
    told = asked.parse_args()
    good = True
    if not told.planted:
        good = try_made(told.parts, told.most, Path(told.record) if told.record else None)
    if not told.made:
        good = try_planted(told.parts) and good
    return int(not good)


def try_made(parts: list[str], most: int, record: Path | None) -> bool:
    """Tries faults made from the source, at most so many a room; whether enough are noticed."""
    whole = [room.name for room in ROOMS if not parts or room.name in parts]
    asked = [
        room.name
        for room in ROOMS
        if room.name in whole or any(part in path for part in parts for path in room.files())
    ]
    turns = range(1, WORKERS + 1)
    with ThreadPoolExecutor(WORKERS) as pool:
        found = [
            together(
                list(pool.map(partial(try_room, room, () if room in whole else parts, most), turns))
            )
            for room in asked
        ]
    for one in found:
        print(f"{one.room}:", *one.missed, *one.failing, sep="\n  ", flush=True)
    print(HEAD, *rows_of(found), sep="\n", flush=True)
    kept = [one for one in found if one.room in whole and not one.failing]
    if record and kept:
        today = datetime.datetime.now(datetime.UTC).date()
        before = record.read_text(encoding="utf-8") if record.exists() else ""
        record.write_text(record_text(kept, today, commit(record), before), encoding="utf-8")
    return all(not one.failing and one.noticed >= REACHED * one.placed for one in found)


def try_room(room: str, parts: Sequence[str], most: int, turn: int) -> RoomTried:
    """Tries the faults of a room that are the turn of one of its processes."""
    with tempfile.NamedTemporaryFile(suffix=".json") as out:
        asked = [room, out.name, str(most), f"{turn}/{WORKERS}", *parts]
        command = [sys.executable, "-m", "tests.mutation.trial", *asked]
        subprocess.run(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})
        text = out.read().decode("utf-8")
    if not text:
        return RoomTried(room, 0, 0.0, 0.0, 0.0, ("its process broke off",), ())
    told = json.loads(text)
    tried = tuple(Tried(**one) for one in told.pop("tried"))
    return RoomTried(**{**told, "failing": tuple(told["failing"])}, tried=tried)


def try_planted(parts: list[str]) -> bool:
    """Plants faults in copies of the project; whether each is noticed."""
    faults = [f for f in FAULTS if not parts or any(part in f.path for part in parts)]
    selections = sorted({fault.tests for fault in faults})
    with ThreadPoolExecutor(WORKERS) as pool:
        clean = list(pool.map(lambda tests: run_tests(None, tests), selections))
        if any(code != 0 for code in clean):
            failing = [" ".join(t) for t, code in zip(selections, clean, strict=True) if code]
            print("These tests fail without any fault:", *failing, clean, sep="\n  ")
            return False
        outcomes = []
        for outcome in pool.map(try_fault, faults):
            outcomes.append(outcome)
            print(outcome.word if outcome.word != "caught" else ".", end="", flush=True)
        print()
    show(outcomes)
    return all(outcome.word == "caught" for outcome in outcomes)


def try_fault(fault: Fault) -> Outcome:
    """Plants a fault and runs its tests."""
    start = time.monotonic()
    if (ROOT / fault.path).read_text(encoding="utf-8").count(fault.old) != 1:
        return Outcome(fault, "TEXT NOT THERE ONCE", 0.0)
    code = run_tests(fault, fault.tests)
    # a fault that keeps the day from ending is caught, too
    words = {FAILED: "caught", None: "caught", 0: "MISSED"}
    return Outcome(fault, words.get(code, f"TESTS BROKE ({code})"), time.monotonic() - start)


def run_tests(fault: Fault | None, tests: tuple[str, ...]) -> int | None:
    """Exit code of pytest in a copy of the project; None if it had to be ended.

    A signal from outside says nothing about the tests: they are run again.
    """
    code: int | None = -1
    for _ in range(TRIES):
        if code is None or code >= 0:
            break
        code = _run_once(fault, tests)
    return code


def _run_once(fault: Fault | None, tests: tuple[str, ...]) -> int | None:
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in COPIED:
            if (ROOT / name).is_dir():
                shutil.copytree(
                    ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__")
                )
            else:
                shutil.copy(ROOT / name, copy / name)
        _replace(
            copy / "tests/conftest.py",
            "deadline=None,",
            "deadline=None, phases=[Phase.explicit, Phase.generate],",
        )
        _replace(
            copy / "tests/conftest.py", "HealthCheck, settings", "HealthCheck, Phase, settings"
        )
        if fault:
            _replace(copy / fault.path, fault.old, fault.new)
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
        environment = {**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONDONTWRITEBYTECODE": "1"}
        environment["PYTHONPATH"] = str(copy)
        try:
            done = subprocess.run(
                command,
                cwd=copy,
                env=environment,
                capture_output=True,
                timeout=LONGEST_S if fault else 3.0 * LONGEST_S,
            )
        except subprocess.TimeoutExpired:
            return None
        return done.returncode


def _replace(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise ValueError(f"“{old}” must stand in {path.name} exactly once")
    path.write_text(text.replace(old, new), encoding="utf-8")


def show(outcomes: list[Outcome]) -> None:
    """Prints what became of each fault."""
    table = Table(title=f"{len(outcomes)} planted faults")
    for heading in ("file", "planted", "became"):
        table.add_column(heading, overflow="fold")
    table.add_column("seconds", justify="right")
    for one in outcomes:
        planted = " ".join(one.fault.new.split())
        table.add_row(one.fault.path, escape(planted), one.word, f"{one.seconds:.0f}")
    Console(width=120).print(table)
    missed = sum(one.word != "caught" for one in outcomes)
    print(f"{len(outcomes) - missed} of {len(outcomes)} faults caught")


if __name__ == "__main__":
    sys.exit(main())

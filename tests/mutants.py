"""`python -m tests.mutants [PART …]`: plants faults one at a time; do the tests notice?

With parts of paths, such as `sim/decide`, only faults in such files are planted.

Each fault is planted in a copy of the project, where its tests run in plain Python (nothing is
compiled anew) and without shrinking. The tests must pass without any fault and fail with each.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from tests.architecture import ROOT
from tests.planted import FAULTS, Fault

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
    """Exit code 0 if the tests pass unharmed and every fault is caught."""
    parts = sys.argv[1:]
    faults = [f for f in FAULTS if not parts or any(part in f.path for part in parts)]
    selections = sorted({fault.tests for fault in faults})
    with ThreadPoolExecutor(WORKERS) as pool:
        clean = list(pool.map(lambda tests: run_tests(None, tests), selections))
        if any(code != 0 for code in clean):
            failing = [" ".join(t) for t, code in zip(selections, clean, strict=True) if code]
            print("These tests fail without any fault:", *failing, clean, sep="\n  ")
            return 1
        outcomes = []
        for outcome in pool.map(try_fault, faults):
            outcomes.append(outcome)
            print(outcome.word if outcome.word != "caught" else ".", end="", flush=True)
        print()
    show(outcomes)
    return int(any(outcome.word != "caught" for outcome in outcomes))


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

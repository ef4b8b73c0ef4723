"""`python -m tests.mutation.trial ROOM OUT MOST TURN [PART …]`: tries a room's faults, each in a
fork; with TURN 1/2 every second one from the first on, with 2/2 the others.

The room's tests are imported and collected once, in plain Python. A first process for each test
says how long it takes and which lines of the room it runs. Then each fault is put into the
functions of a fork, which runs the tests that run its line until one fails: first those that take
least for what they have noticed so far. A test that takes much longer than it does without a fault
is ended, which counts as noticed.
"""

from __future__ import annotations

import importlib
import json
import os
import pickle
import resource
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from tests import remembering, sizes
from tests.architecture import ROOT
from tests.mutation.live import Key, NotPlaced, functions_of, put, renew
from tests.mutation.operators import Mutant, mutated, names_of
from tests.mutation.record import CAUGHT, ENDED, MISSED, OUTSIDE, UNRUN, RoomTried, Tried
from tests.mutation.rooms import ROOMS, Room, sample

NOTICED, MISSED_CODE, NOT_PLACED = 1, 0, 3
FIRST_TEST, LAST_TEST = 10, 250
"""Exit codes that say which of the chosen tests noticed a fault."""
TIMES = 3.0
"""A test may take so many times its processor time without a fault, and a little more."""
WAITS, LEAST_WAIT_S = 30.0, 15.0
"""By the clock so many times its processor time, and at least so long [s]: it may wait for ever."""
MOST_SEEN = 10_000
"""Lines of a function that are noted in a test, the same ones again among them: it takes long."""
MORE_BYTES = 2 * 1024**3
"""Memory that a fault may take beside what is there."""
Lines = set[tuple[str, int]]


@dataclass(slots=True)
class Trial:
    """Plugin of the process that collects: in place of the tests it runs the faults.

    Attributes:
        tried: what became of each.
        clean_s: processor time of all tests without a fault, while their lines are noted.
        failing: tests that fail without any.
        failed: whether a test has failed in this process.
        more_s: processor time that a test may take beyond a few times what it does without a fault
            [s].
    """

    room: Room
    mutants: list[Mutant]
    root: Path = ROOT
    tried: list[Tried] = field(default_factory=list)
    clean_s: float = 0.0
    failing: list[str] = field(default_factory=list)
    failed: bool = False
    more_s: float = 1.0
    _there: dict[Path, dict[Key, Any]] = field(default_factory=dict)
    _texts: dict[str, str] = field(default_factory=dict)
    _of_file: dict[str, list[int]] = field(default_factory=dict)
    _noticed: Counter[int] = field(default_factory=Counter)
    _begun: Counter[int] = field(default_factory=Counter)

    @pytest.hookimpl(tryfirst=True)
    def pytest_configure(self) -> None:
        """A part of the examples is enough."""
        sizes.set_part(self.room.part)

    @pytest.hookimpl(trylast=True)
    def pytest_collection(self) -> None:
        """The first example that fails is enough: none is made shorter."""
        from hypothesis import Phase, settings  # once pytest is at work: it rewrites what it loads

        known = settings.get_profile("clothcast")
        phases = [Phase.explicit, Phase.generate]
        settings.register_profile("faults", known, phases=phases, report_multiple_bugs=False)
        settings.load_profile("faults")

    def pytest_collection_modifyitems(self, config: pytest.Config, items: list[Any]) -> None:
        """Tests that the room leaves out."""
        out = [item for item in items if any(one in item.nodeid for one in self.room.but)]
        items[:] = [item for item in items if item not in out]
        config.hook.pytest_deselected(items=out)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Notes in a fork that a test has failed."""
        self.failed = self.failed or report.failed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Tries every fault."""
        if session.testsfailed:
            self.failing.append("tests could not be collected")
            return True
        files = self.room.files(self.root)
        for path in files:
            importlib.import_module(_module_of(path))
        self._texts = {p: (self.root / p).read_text(encoding="utf-8") for p in files}
        self._there = functions_of([self.root / path for path in files])
        runs = [self._clean(item) for item in session.items]
        if self.failing:
            return True
        self.clean_s = sum(seconds for seconds, _ in runs)
        for mutant in self.mutants:
            begun = time.monotonic()
            fate = self._fate(mutant, session.items, runs)
            took = time.monotonic() - begun
            self.tried.append(Tried(str(mutant), fate, took))
            print("." if fate in (CAUGHT, ENDED) else fate[0], end="", flush=True)
        print()
        return True

    def _clean(self, item: pytest.Item) -> tuple[float, Lines]:
        """Processor time of a test without a fault while its lines are noted [s], and the lines of
        the room that it runs."""
        with tempfile.TemporaryFile() as told:

            def work() -> int:
                begun, lines = time.process_time(), Lines()
                trace = _tracer({str(self.root / p): p for p in self.room.files(self.root)}, lines)
                threading.settrace(trace)
                sys.settrace(trace)
                self._run(item, None)
                sys.settrace(None)
                told.write(pickle.dumps((time.process_time() - begun, lines)))
                told.flush()
                return int(self.failed)

            if _forked(work) != 0:
                self.failing.append(item.nodeid)
                return 0.0, set()
            told.seek(0)
            seconds, lines = pickle.loads(told.read())  # noqa: S301 - written by this run
            return seconds, lines

    def _fate(self, mutant: Mutant, items: list[Any], runs: list[tuple[float, Lines]]) -> str:
        found = _tests_of(mutant, runs) if mutant.is_inside else []
        is_run = bool(found)
        if not is_run:  # what runs while the module is imported shows in tests of its other lines
            found = self._tests_of_file(mutant.path, items, runs)
        if not found:
            return UNRUN
        chosen = sorted(found, key=lambda at: self._cost(at, runs[at][0]))
        source = self.root / mutant.path

        def work() -> int:
            tree = mutated(self._texts[mutant.path], mutant.number)
            try:
                if is_run:
                    put(tree, source, self._there[source])
                else:
                    renew(tree, source, _module_of(mutant.path))
            except NotPlaced:
                return NOT_PLACED
            pairs = zip(chosen, [*chosen[1:], None], strict=True)
            for place, (at, following) in enumerate(pairs):
                signal.setitimer(signal.ITIMER_PROF, TIMES * runs[at][0] + self.more_s)
                signal.setitimer(signal.ITIMER_REAL, max(LEAST_WAIT_S, WAITS * runs[at][0]))
                self._run(items[at], None if following is None else items[following])
                if self.failed:
                    return min(FIRST_TEST + place, LAST_TEST)
            return MISSED_CODE

        status = _forked(work)
        if FIRST_TEST <= status < LAST_TEST:
            self._noticed[chosen[status - FIRST_TEST]] += 1
            self._begun.update(chosen[: status - FIRST_TEST + 1])
        if status in (-signal.SIGPROF, -signal.SIGALRM):
            return ENDED
        if status == MISSED_CODE and mutant.is_inside and not is_run:
            return UNRUN
        return {MISSED_CODE: MISSED, NOT_PLACED: OUTSIDE}.get(status, CAUGHT)

    def _tests_of_file(
        self, path: str, items: list[Any], runs: list[tuple[float, Lines]]
    ) -> list[int]:
        """Tests that run any line of a file, or whose module takes a name from it."""
        if path not in self._of_file:
            held = vars(sys.modules[_module_of(path)])
            made = {name: held[name] for name in names_of(self._texts[path]) if name in held}
            self._of_file[path] = [
                at
                for at, (item, (_, lines)) in enumerate(zip(items, runs, strict=True))
                if any(one == path for one, _ in lines) or _takes(item, made)
            ]
        return self._of_file[path]

    def _cost(self, test: int, seconds: float) -> float:
        """Processor time that a test takes for each fault that it notices, by what it has noticed
        so far [s]; at first the shortest are the best."""
        return seconds * (self._begun[test] + 2) / (self._noticed[test] + 1)

    def _run(self, item: pytest.Item, following: pytest.Item | None) -> None:
        item.ihook.pytest_runtest_protocol(item=item, nextitem=following)


def _tests_of(mutant: Mutant, runs: list[tuple[float, Lines]]) -> list[int]:
    """Tests that run a fault's lines, else those of its statement."""
    for first, last in ((mutant.line, mutant.end), mutant.statement):
        wanted = {(mutant.path, line) for line in range(first, last + 1)}
        found = [at for at, (_, lines) in enumerate(runs) if wanted & lines]
        if found:
            return found
    return []


def _takes(item: Any, made: dict[str, Any]) -> bool:
    """Whether a test's module has anything by the name by which another one made it."""
    held = vars(item.module) if hasattr(item, "module") else {}
    return any(
        not name.startswith("__") and held[name] is made[name] for name in held.keys() & made
    )


def _module_of(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def _forked(work: Callable[[], int]) -> int:
    """Exit code of a fork that does something and says nothing; of a signal, its number below 0."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    code = NOTICED
    try:
        for number in (signal.SIGPROF, signal.SIGALRM):
            signal.signal(number, signal.SIG_DFL)
        pages = int(Path("/proc/self/statm").read_text(encoding="utf-8").split()[0])
        most = pages * resource.getpagesize() + MORE_BYTES
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        remembering.share(None)
        code = work()
    except BaseException:  # noqa: S110 - whatever a fault raises is noticed
        pass
    finally:
        os._exit(code)


def _tracer(names: dict[str, str], lines: Lines) -> Callable[[FrameType, str, Any], Any]:
    """A trace function that notes lines of some files, and leaves alone a function that was seen
    whole or for so long that hardly a line of it is still to come."""
    left: dict[Any, set[int]] = {}
    seen: Counter[Any] = Counter()

    def at_line(frame: FrameType, event: str, _: Any) -> Any:
        code = frame.f_code
        seen[code] += 1
        if event == "line":
            lines.add((names[code.co_filename], frame.f_lineno))
            left[code].discard(frame.f_lineno)
        return at_line if seen[code] <= MOST_SEEN else None

    def at_call(frame: FrameType, event: str, _: Any) -> Any:
        code = frame.f_code
        if code.co_filename not in names:
            return None
        if code not in left:
            left[code] = {line for *_, line in code.co_lines() if line is not None}
            left[code].discard(code.co_firstlineno)
        lines.add((names[code.co_filename], frame.f_lineno))
        return at_line if left[code] and seen[code] <= MOST_SEEN else None

    return at_call


def main(name: str, out: str, most: str, turn: str, *parts: str) -> int:
    """Tries a room's faults that are this process's turn, with parts those of files whose paths
    have one of them, and writes what became of each."""
    room = next(one for one in ROOMS if one.name == name)
    every = [m for m in room.mutants() if not parts or any(part in m.path for part in parts)]
    own, of = map(int, turn.split("/"))
    trial = Trial(room, sample(every, name, int(most))[own - 1 :: of])
    begun = time.monotonic()
    os.environ["NUMBA_DISABLE_JIT"] = "1"  # before anything is imported that compiles
    os.environ.setdefault("NO_BROWSER", "1")
    with tempfile.TemporaryDirectory() as folder:
        options = ["-qq", "-s", "-p", "no:cacheprovider", "-p", "no:xdist"]
        pytest.main([*options, f"--basetemp={folder}/t", *room.tests], plugins=[trial])
    seconds = time.monotonic() - begun
    failing, tried = tuple(trial.failing), tuple(trial.tried)
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    used_s = sum(one.ru_utime + one.ru_stime for one in used)
    told = RoomTried(name, len(every), seconds, used_s, trial.clean_s, failing, tried)
    Path(out).write_text(json.dumps(asdict(told)), encoding="utf-8")
    return int(bool(trial.failing))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))

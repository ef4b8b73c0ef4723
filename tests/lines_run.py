"""Which lines and branches of `app` and `sim` the tests run: counted by the workers of `make test`
(SlipCover puts a mark at each line and each branch; those that were met are taken out now and
then, as even a mark that says nothing more makes a loop half as slow again).

`COUNT_LINES` in the environment asks for it: `workers` counts in workers of a run alone, `here` in
the process itself, `compiled` there what Numba compiles, and that alone. What Numba compiles can
bear no marks, so its lines count where `tests/day/test_plain.py` runs them as plain Python.
"""

from __future__ import annotations

import ast
import gc
import importlib.util
import itertools
import json
import os
import sys
from collections.abc import Sequence
from functools import cache
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
ASKED = "COUNT_LINES"
FOLDER = "COUNT_LINES_IN"
"""Where whoever counts leaves what was counted."""
LEAST = {"lines": 98.0, "branches": 95.0}
"""Least shares of a whole run [%]; with less `make test` fails."""
NOT_RUN = Path("build/lines_not_run.txt")
"""Where every line and branch that no test ran is listed, below the checkout."""
WORKER = "PYTEST_XDIST_WORKER"
COUNTED = ("app", "sim")

TAKEN_OUT_AFTER = frozenset({50, 150, 400, 800, 1_500, 2_500})
"""After how many tests of a process the marks that were met are taken out of its functions."""

_counting: list[Any] = []
_frozen: list[FunctionType] = []
_tests = itertools.count(1)


def begin() -> None:
    """Marks every module of ours that is loaded from now on, where that was asked for."""
    asked = os.environ.get(ASKED, "")
    if not asked or (asked == "workers" and WORKER not in os.environ):
        return
    del os.environ[ASKED]  # processes that tests begin are not counted
    if any(name in sys.modules for name in COUNTED):
        raise RuntimeError("lines are counted from the first module on, and one is loaded")
    counting = new_count()
    finder = _Finder(counting, is_compiled=asked == "compiled")
    sys.meta_path.insert(0, finder)
    # Migrations are loaded by their files.
    located = importlib.util.spec_from_file_location

    def marked(*where: Any, **how: Any) -> ModuleSpec | None:
        return finder.marked(located(*where, **how))

    importlib.util.spec_from_file_location = marked
    _counting.append(counting)


def new_count() -> Any:
    """A count of lines and branches that takes no mark out by itself; see `take_out`."""
    from slipcover import Slipcover

    return Slipcover(branch=True, d_miss_threshold=-1)


class _Finder(MetaPathFinder):
    """Has our own modules loaded with their marks."""

    def __init__(self, counting: Any, is_compiled: bool) -> None:
        self._counting, self._is_compiled = counting, is_compiled

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Where one of our modules is; None where others are to look."""
        if name.partition(".")[0] not in COUNTED:
            return None
        return self.marked(PathFinder.find_spec(name, path, target))

    def marked(self, found: ModuleSpec | None) -> ModuleSpec | None:
        """The same, with the loader that marks it where its lines count."""
        from slipcover.importer import SlipcoverLoader

        if found and found.loader and is_counted(str(found.origin), self._is_compiled):
            found.loader = SlipcoverLoader(self._counting, found.loader, str(found.origin))
        return found


@cache
def is_counted(path: str, is_compiled: bool) -> bool:
    """Whether lines of a file count in a run: of what is compiled, or of all else of ours."""
    if not path.endswith(".py") or not path.startswith(tuple(f"{ROOT}/{top}/" for top in COUNTED)):
        return False
    return ("sim.physics.mark import" in Path(path).read_text(encoding="utf-8")) == is_compiled


def is_counting() -> bool:
    """Whether this process counts."""
    return bool(_counting)


def after_test() -> None:
    """Takes out what was met, where this process counts and has run so many tests."""
    if _counting and next(_tests) in TAKEN_OUT_AFTER:
        take_out(_counting[0])


def take_out(counting: Any) -> int:
    """Takes the marks that were met out of every function; tells how many functions it changed.

    SlipCover would look for functions in modules and classes alone: those that are kept by a
    property, a cache or another function would keep their marks.
    """
    replaced = counting.replace_map
    for path, met in counting._get_newly_seen().items():
        for code in tuple(counting.instrumented[path]):
            counting.deinstrument(code, met)
        counting.all_seen[path].update(met)
    changed = [one for one in (*_frozen, *functions_of(counting)) if one.__code__ in replaced]
    for function in changed:
        function.__code__ = replaced[function.__code__]
    replaced.clear()
    return len(changed)


def functions_of(counting: Any) -> list[FunctionType]:
    """Functions that bear marks, of those that are looked through for garbage."""
    files = counting.instrumented
    return [
        one for one in gc.get_objects()
        if type(one) is FunctionType and one.__code__.co_filename in files
    ]  # fmt: skip


def before_freezing() -> None:
    """Notes the functions of what is loaded, which is not looked through for garbage any more."""
    if _counting:
        _frozen.extend(functions_of(_counting[0]))


def hand_over() -> None:
    """Leaves what this process counted, if it did, for whoever tells the sum."""
    if _counting:
        target = Path(os.environ[FOLDER]) / f"lines-{os.getpid()}.json"
        target.write_text(json.dumps(_counting[0].get_coverage()), encoding="utf-8")


def summed(folder: Path, tops: Sequence[str] = COUNTED) -> dict[str, Any]:
    """What all processes of a run counted, with every file of some folders that none loaded."""
    from slipcover import Slipcover, merge_coverage
    from slipcover.branch import preinstrument

    total: dict[str, Any] = Slipcover(branch=True).get_coverage()
    for path in sorted(folder.glob("lines-*.json")):
        total = merge_coverage(total, json.loads(path.read_text(encoding="utf-8")))
    unseen = Slipcover(branch=True)
    for path in (path for top in tops for path in sorted((ROOT / top).rglob("*.py"))):
        if str(path.relative_to(ROOT)) not in total["files"]:
            code = compile(preinstrument(ast.parse(path.read_bytes())), str(path), "exec")
            unseen.code_lines[str(path)] = set(Slipcover.lines_from_code(code))
            unseen.code_branches[str(path)] = set(Slipcover.branches_from_code(code))
    return dict(merge_coverage(total, unseen.get_coverage()))


def told(counted: dict[str, Any]) -> tuple[tuple[str, ...], bool]:
    """A sentence for lines and one for branches, and whether each has its least share."""
    said, is_enough = [], True
    for what, least in LEAST.items():
        run = counted["summary"][f"covered_{what}"]
        count = run + counted["summary"][f"missing_{what}"]
        share = 100.0 * run / count
        sentence = f"{what} of app and sim that tests run: {share:.2f} % of {count:,}"
        if share < least:
            sentence += f", which is less than {least:g} %"
            is_enough = False
        said.append(sentence)
    return tuple(said), is_enough


def not_run(counted: dict[str, Any]) -> str:
    """What no test ran, a file a line: its lines, then branches between lines that were run."""
    told = []
    for name, file in sorted(counted["files"].items()):
        missing = set(file["missing_lines"])
        lines = [str(line) for line in sorted(missing)]
        branches = [
            f"{start}→{end or 'end'}"
            for start, end in sorted(file["missing_branches"])
            if not {start, end} & missing
        ]
        if lines or branches:
            told.append(f"{name}: {', '.join([*lines, *branches])}\n")
    return "".join(told)

"""What is told of lines and branches that the tests run is what they ran."""

from __future__ import annotations

import ast
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from slipcover import probe
from slipcover.branch import preinstrument

from tests import lines_run
from tests.architecture import OURS, ROOT, modules

PLANTED = """
def larger(a, b):
    if a > b:
        found = a
    else:
        found = b
    return found

def first(rows):
    for row in rows:
        return row
    return None
"""
HELD = """
import functools

class Row:
    @property
    def least(self):
        return larger(1, 2)

@functools.cache
def kept(a):
    return [larger(a, b) for b in range(a)]
"""
LEFT_OUT = "pragma: no cover"


def test_what_was_run_is_counted_by_line_and_branch() -> None:
    """By hand: line 4 and line 12 are run by nobody, and so are the branches that lead there."""
    counting = lines_run.new_count()
    code = counting.instrument(compile(preinstrument(ast.parse(PLANTED)), "planted.py", "exec"))
    names: dict[str, Callable[..., object]] = {}
    exec(code, names)  # noqa: S102 - the text above
    for _again in range(300):
        assert (names["larger"](1, 2), names["first"]([7, 8])) == (2, 7)
    counted = counting.get_coverage()["files"]["planted.py"]
    assert counted["executed_lines"] == [2, 3, 6, 7, 9, 10, 11]
    assert counted["missing_lines"] == [4, 12]
    assert counted["executed_branches"] == [(3, 6), (10, 11)]
    assert counted["missing_branches"] == [(3, 4), (10, 12)]


def test_marks_that_were_met_are_taken_out_wherever_a_function_is_kept() -> None:
    """What a property and a cache keep loses its marks too, and works as before; what is met later
    still counts, and nothing counts that no call ran."""
    counting = lines_run.new_count()
    code = counting.instrument(compile(preinstrument(ast.parse(PLANTED + HELD)), "h.py", "exec"))
    names: dict[str, Any] = {}
    exec(code, names)  # noqa: S102 - the texts above
    row = names["Row"]()

    def marks_met(call: Callable[[], object]) -> int:
        """How many marks are met in a call."""
        met: list[object] = []
        sys.setprofile(lambda _frame, event, what: met.append(what) if event == "c_call" else None)
        try:
            call()
        finally:
            sys.setprofile(None)
        return met.count(probe.signal)

    assert row.least == 2
    assert names["kept"](2) == [2, 2]
    assert marks_met(lambda: row.least) == 5  # a line of its own, three and a branch of `larger`
    assert lines_run.take_out(counting) == 3
    assert marks_met(lambda: row.least) == 0
    assert marks_met(lambda: names["kept"](3)) == 0
    assert names["kept"](3) == [3, 3, 3]
    assert marks_met(lambda: names["first"]([7])) == 3
    assert lines_run.take_out(counting) == 1
    assert marks_met(lambda: names["first"]([7])) == 0
    counted = counting.get_coverage()["files"]["h.py"]
    assert counted["missing_lines"] == [12]
    assert counted["missing_branches"] == [(10, 12)]


def test_what_processes_counted_is_one_sum(tmp_path: Path) -> None:
    """What either of two ran was run, and a file that neither loaded counts with all its lines."""
    path = "sim/physics/air.py"
    for number, (run, missing) in enumerate((([1, 2], [3]), ([3], [1, 2]))):
        file = {
            "executed_lines": run, "missing_lines": missing,
            "executed_branches": [[2, 3]] * number, "missing_branches": [[2, 1]],
        }  # fmt: skip
        content = {
            "meta": {"software": "slipcover", "branch_coverage": True},
            "files": {path: file},
        }
        (tmp_path / f"lines-{number}.json").write_text(json.dumps(content))
    counted = lines_run.summed(tmp_path, ["sim/physics"])
    assert counted["files"][path]["executed_lines"] == [1, 2, 3]
    assert counted["files"][path]["missing_branches"] == [[2, 1]]
    files = {str(one.relative_to(ROOT)) for one in (ROOT / "sim/physics").rglob("*.py")}
    assert set(counted["files"]) == files
    other = counted["files"]["sim/physics/belt.py"]
    assert not other["executed_lines"]
    assert len(other["missing_lines"]) > 20


@pytest.mark.parametrize(
    ("covered", "missing", "share", "is_enough"),
    [(80, 20, "80.00", True), (79_994, 20_006, "79.99", False), (1, 0, "100.00", True)],
)
def test_shares_are_told_to_the_hundredth(
    monkeypatch: pytest.MonkeyPatch, covered: int, missing: int, share: str, is_enough: bool
) -> None:
    """A line for lines and a line for branches, each with its share and of how many; less than the
    least share is told as such."""
    summary = {
        "covered_lines": covered, "missing_lines": missing, "covered_branches": 19,
        "missing_branches": 1,
    }  # fmt: skip
    monkeypatch.setattr(lines_run, "LEAST", {"lines": 80.0, "branches": 95.0})
    (lines, branches), found = lines_run.told({"summary": summary})
    less = "" if is_enough else ", which is less than 80 %"
    assert lines == f"lines of app and sim that tests run: {share} % of {covered + missing:,}{less}"
    assert branches == "branches of app and sim that tests run: 95.00 % of 20"
    assert found == is_enough


def test_what_no_test_ran_is_listed() -> None:
    """A line a file: its lines, and branches between lines that were run."""
    whole: dict[str, list[object]] = {"missing_lines": [], "missing_branches": []}
    part = {"missing_lines": [7, 4], "missing_branches": [[3, 4], [9, 0], [8, 2]]}
    listed = lines_run.not_run({"files": {"sim/units.py": whole, "app/books.py": part}})
    assert listed == "app/books.py: 4, 7, 8→2, 9→end\n"


def test_no_line_is_left_out_of_the_count() -> None:
    """Lines that no test runs count as such; none is marked as not to be counted."""
    tops = tuple(top for top in OURS if top in lines_run.COUNTED)
    assert [module.name for module in modules(tops=tops) if LEFT_OUT in module.text] == []


def test_what_numba_compiles_bears_no_marks() -> None:
    """The compiled day and what it calls count in plain Python alone; everything else of ours, and
    nothing of others, counts where it is."""
    kernel, page = ROOT / "sim/day/kernel/wheel.py", ROOT / "app/pages/menu.py"
    assert lines_run.is_counted(str(kernel), is_compiled=True)
    assert not lines_run.is_counted(str(kernel), is_compiled=False)
    assert lines_run.is_counted(str(page), is_compiled=False)
    assert not lines_run.is_counted(str(page), is_compiled=True)
    assert not lines_run.is_counted(str(Path(pytest.__file__)), is_compiled=False)

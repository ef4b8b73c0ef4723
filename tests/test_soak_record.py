"""The committed record of the last soak run covers every statistical test."""

from __future__ import annotations

import ast
import datetime
from pathlib import Path

from tests.soak_record import Row, record_text, recorded_tests

TESTS = Path(__file__).resolve().parent
RECORD = TESTS / "soak_record.md"
MARK = "pytest.mark.soak"


def committed_record() -> str:
    """The record as it lies in the checkout; empty if there was no soak run yet."""
    return RECORD.read_text(encoding="utf-8") if RECORD.exists() else ""


def is_marked(marks: list[ast.expr]) -> bool:
    """Whether one of these decorators is the soak mark, alone or in a list."""
    return any(MARK in ast.unparse(mark) for mark in marks)


def soak_tests() -> set[str]:
    """Every test with the soak mark on itself, its class or its module, as ``file::name``."""
    found: set[str] = set()
    for path in sorted(TESTS.rglob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        name = path.relative_to(TESTS.parent).as_posix()
        whole = any(
            isinstance(node, ast.Assign)
            and ast.unparse(node.targets[0]) == "pytestmark"
            and is_marked([node.value])
            for node in tree.body
        )
        found |= marked_in(tree.body, name, whole)
    return found


def marked_in(body: list[ast.stmt], prefix: str, all_of_them: bool) -> set[str]:
    """Marked tests among these statements, classes included."""
    found: set[str] = set()
    for node in body:
        if isinstance(node, ast.ClassDef) and node.name.startswith("Test"):
            inside = all_of_them or is_marked(node.decorator_list)
            found |= marked_in(node.body, f"{prefix}::{node.name}", inside)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            marked = all_of_them or is_marked(node.decorator_list)
            if marked and node.name.startswith("test"):
                found.add(f"{prefix}::{node.name}")
    return found


def test_every_soak_test_has_a_row() -> None:
    """No soak test is missing from the record; `make soak` writes it anew."""
    missing = soak_tests() - recorded_tests(committed_record())
    assert not missing, f"run `make soak` and commit {RECORD.name}: no row for {sorted(missing)}"


def test_every_row_is_a_soak_test() -> None:
    """The record holds no row of a test that is gone or no longer marked."""
    stale = recorded_tests(committed_record()) - soak_tests()
    assert not stale, f"run `make soak` and commit {RECORD.name}: nothing runs {sorted(stale)}"


def test_a_written_record_reads_back() -> None:
    """What the writer writes names each test once, without parameters, with every failure."""
    rows = {
        "tests/test_a.py::test_one[x|y]": Row(counts=[3000], figures=[("mean", 1.25, "min")]),
        "tests/test_a.py::test_two": Row(outcome="failed", fault="assert 3 < 2"),
    }
    text = record_text(rows, datetime.date(2026, 7, 18), "abc")
    assert recorded_tests(text) == {"tests/test_a.py::test_one", "tests/test_a.py::test_two"}
    assert "3,000" in text
    assert "mean 1.25 min" in text
    assert "failures: 1" in text
    assert "- tests/test_a.py::test_two: assert 3 < 2" in text

"""Faults made from the source: what the operators make, and that a trial tells what became of each.

Operators are checked by hand against their names in Offutt et al. 1996 (see the module), shares
against the definition of Wilson's interval by its own equation.
"""

from __future__ import annotations

import ast
import datetime
import importlib.util
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.mutation.live import NotPlaced, functions_of, put
from tests.mutation.operators import mutants_of, mutated, names_of
from tests.mutation.record import (
    CAUGHT,
    ENDED,
    MISSED,
    OUTSIDE,
    UNRUN,
    RoomTried,
    Tried,
    record_text,
    together,
)
from tests.mutation.rooms import ROOMS, Room, sample
from tests.mutation.trial import Trial

TINY = """STEP = 2

def total(upto):
    found, at = 0, 0
    while at < upto:
        found += at
        at += STEP
    return found

def spare(value):
    return value or STEP
"""


def texts(source: str) -> set[tuple[str, str, str]]:
    """Operator, before and after of all that is made of a source."""
    return {(one.operator, one.before, one.after) for one in mutants_of(source, "a.py")}


@pytest.mark.parametrize(
    ("source", "operator", "before", "after"),
    [
        ("def f(a, b):\n    return a + b", "arithmetic", "a + b", "a - b"),
        ("def f(a, b):\n    return a < b", "relation", "a < b", "a <= b"),
        ("def f(a, b):\n    return a < b", "relation", "a < b", "a >= b"),
        ("def f(a, b):\n    return a and b", "connector", "a and b", "a or b"),
        ("def f(a):\n    return not a", "negation", "not a", "a"),
        ("def f(a):\n    return 1 if a else 2", "negation", "a", "not a"),
        ("def f(a):\n    return a[3]", "constant", "3", "4"),
        ("def f(a):\n    return a[3]", "constant", "3", "0"),
        ("def f(a):\n    return True", "constant", "True", "False"),
        ("def f(a):\n    a.append(a)", "statement", "a.append(a)", "nothing"),
        ("def f(a):\n    return a", "return", "return a", "return None"),
        ("def f(a, b):\n    return g(a, b)", "arguments", "g(a, b)", "g(b, a)"),
        ("def f(a, b):\n    return min(a, b)", "opposite", "min(a, b)", "max(a, b)"),
        ("def f(a):\n    a += 2", "arithmetic", "a += 2", "a -= 2"),
    ],
)
def test_each_operator_makes_its_fault(source: str, operator: str, before: str, after: str) -> None:
    """Each is among the faults of a line written for it."""
    assert (operator, before, after) in texts(source)


def test_what_says_nothing_is_left_alone() -> None:
    """No fault is made of docstrings, types, imports for types, or an absent value."""
    source = (
        "if TYPE_CHECKING:\n    from a import b\n"
        'def f(a: tuple[1, 2]) -> "x":\n    """A docstring, 3."""\n    return None\n'
    )
    assert texts(source) == set()


def test_names_that_a_module_makes_are_not_those_it_takes() -> None:
    """Constants, several at once, functions and classes; what is imported is another's."""
    source = "import b\nfrom c import d\nA, E = 1, b\nF: int = 2\ndef g(): h = 1\nclass I: j = 1\n"
    assert names_of(source) == {"A", "E", "F", "g", "I"}


def test_every_fault_changes_its_module_and_no_other_piece() -> None:
    """Each of a room's faults reads otherwise than the source, and comes back by its number."""
    for path in ROOMS[0].files():
        source = Path(path).read_text(encoding="utf-8")
        plain = ast.unparse(ast.parse(source))
        made = mutants_of(source, path)
        assert [one.number for one in made] == list(range(len(made)))
        assert all(ast.unparse(mutated(source, one.number)) != plain for one in made[::7])
    with pytest.raises(IndexError, match="no fault number 99"):
        mutated("a = 1\n", 99)


@dataclass
class Item:
    """A test as a trial runs it: it fails where `check` does."""

    nodeid: str
    check: Callable[[], bool]
    trial: list[Trial] = field(default_factory=list)

    @property
    def ihook(self) -> Item:
        """It is its own hook."""
        return self

    def pytest_runtest_protocol(self, item: Item, nextitem: Item | None) -> None:
        """Runs the check, as a test that raises or is false fails."""
        try:
            failed = not self.check()
        except Exception:
            failed = True
        self.trial[0].failed = self.trial[0].failed or failed


def tried(folder: Path, source: str, checks: dict[str, Callable[[Any], bool]]) -> dict[str, str]:
    """What became of each fault of a module by these checks of it, by line and change."""
    path = folder / "tiny_wash.py"
    path.write_text(source, encoding="utf-8")
    spec = importlib.util.spec_from_file_location("tiny_wash", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "tiny_wash", module)
        spec.loader.exec_module(module)
        room = Room("tiny", ("tiny_wash.py",), ())
        trial = Trial(room, room.mutants(folder), folder, more_s=0.05)
        items = [Item(name, partial(one, module), [trial]) for name, one in checks.items()]

        session = SimpleNamespace(testsfailed=0, items=items)
        assert trial.pytest_runtestloop(cast("pytest.Session", session))
    assert trial.failing == []
    return {one.text.split(":", 1)[1]: one.fate for one in trial.tried}


def test_a_trial_tells_what_became_of_each_fault(tmp_path: Path) -> None:
    """One that a test notices, one that none can, one that never ends and one that nothing runs are
    told as such, and the module is as it was afterwards."""
    fates = tried(tmp_path, TINY, {"total": lambda made: made.total(5) == 6})
    assert fates["6 arithmetic: found += at → found -= at"] == CAUGHT
    assert fates["5 relation: at < upto → at <= upto"] == MISSED
    assert fates["7 arithmetic: at += STEP → at -= STEP"] == ENDED
    assert fates["7 statement: at += STEP → nothing"] == ENDED
    assert fates["11 connector: value or STEP → value and STEP"] == UNRUN
    assert fates["1 constant: 2 → 3"] == CAUGHT, "what is done while it is imported"
    assert fates["1 constant: 2 → 0"] == ENDED
    at_limit = tried(tmp_path, TINY, {"total": lambda made: made.total(4) == 2})
    assert at_limit["5 relation: at < upto → at <= upto"] == CAUGHT


def test_a_fault_that_fits_no_function_is_told() -> None:
    """Where no function that is there changes, nothing is tried in its place."""
    path = Path(__file__).resolve()
    there = functions_of([path])[path]
    assert there
    with pytest.raises(NotPlaced, match="no function that is there"):
        put(ast.parse("def elsewhere():\n    return 1\n"), path, there)


def test_a_sample_is_the_same_in_every_run() -> None:
    """So many faults, none twice, in their order; all of them where there are no more."""
    made = mutants_of(TINY, "tiny.py")
    chosen = sample(made, "tiny", 5)
    assert chosen == sample(made, "tiny", 5)
    assert [one.number for one in chosen] == sorted({one.number for one in chosen})
    assert len(chosen) == 5
    assert sample(made, "tiny", 0) == sample(made, "tiny", 1000) == made


def test_a_record_says_how_many_of_how_many() -> None:
    """Those put in place count; one that no test runs is missed; a sample has its interval."""
    fates = [CAUGHT] * 80 + [ENDED] * 5 + [MISSED] * 12 + [UNRUN] * 3 + [OUTSIDE] * 4
    each = tuple(Tried(f"fault {n}", one, 1.0) for n, one in enumerate(fates))
    room = RoomTried("tiny", 900, 360.0, 120.0, 3.0, (), each)
    assert (room.noticed, room.placed, len(room.missed)) == (85, 100, 15)
    z, n, p = 1.959964, 100, 0.85
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    low, high = (100 * (middle + sign * half) / (1 + z * z / n) for sign in (-1, 1))
    assert room.share == f"85.0 %, {low:.1f} to {high:.1f} %"
    text = record_text([room], datetime.date(2026, 12, 2), "abc")
    assert "| tiny | 900 | 104 | 85 | 85.0 %," in text
    assert "Noticed: 85 of 100, in 2 minutes of a processor" in text
    assert text.endswith(" 2026-12-02 | abc |\n")
    # a room that was tried alone has a new row, and the others keep theirs
    other = RoomTried("other", 3, 60.0, 60.0, 1.0, (), each[:2])
    both = record_text([other], datetime.date(2026, 12, 3), "def", text)
    assert "Noticed: 87 of 102, in 3 minutes of a processor" in both
    again = record_text([room], datetime.date(2026, 12, 4), "ghi", both)
    ends = [line.rsplit("|", 3)[1:3] for line in again.splitlines() if line.startswith("| ")]
    assert ends == [
        [" date ", " commit "], [" 2026-12-04 ", " ghi "], [" 2026-12-03 ", " def "],
    ]  # fmt: skip


def test_what_two_processes_tried_is_told_as_one() -> None:
    """Faults stand in the order in which they were dealt out; processor times add up, those by the
    clock do not, and a test that fails without a fault is named once."""

    def part(seconds: float, *texts: str) -> RoomTried:
        each = tuple(Tried(text, CAUGHT, 1.0) for text in texts)
        return RoomTried("tiny", 5, seconds, 2.0 * seconds, 1.0, ("a test",), each)

    whole = together([part(60.0, "first", "third", "fifth"), part(90.0, "second", "fourth")])
    assert [one.text for one in whole.tried] == ["first", "second", "third", "fourth", "fifth"]
    assert (whole.seconds, whole.used_s, whole.clean_s) == (90.0, 300.0, 2.0)
    assert whole.failing == ("a test",)
    assert whole.share == "100.0 %, all of them"


def test_every_room_has_its_files_and_tests() -> None:
    """What was moved or renamed is named anew here too."""
    for room in ROOMS:
        assert room.mutants(), room.name
        for test in room.tests:
            assert Path(test.partition("::")[0]).exists(), test

"""The table of web safety (`asvs.md`) is whole: 253 rows, none blank, tests there, reasons told.

How many requirements there are: OWASP ASVS 5.0.0, 70 of level 1 and 183 more of level 2; by chapter
as counted in the standard's own list (`docs_en`, the CSV).
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
TABLE = (TESTS / "access" / "asvs.md").read_text("utf-8")
BY_CHAPTER = {
    1: 27, 2: 11, 3: 19, 4: 10, 5: 9, 6: 35, 7: 18, 8: 7, 9: 7, 10: 29, 11: 14, 12: 9, 13: 13,
    14: 9, 15: 13, 16: 16, 17: 7,
}  # fmt: skip
BY_LEVEL = {1: 70, 2: 183}
WAYS = ("Nothing: ", "So by design: ", "Not met: ")
NAMED = re.compile(r"`([a-z_/]+\.py)::(test_[a-z0-9_]+)`")
LEAST_REASON = 20
"""Characters of a sentence that says anything."""


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the table."""

    number: tuple[int, int, int]
    level: int
    about: str
    held: str


def lines(text: str) -> list[Line]:
    """The rows of a text with tables."""
    found = []
    for row in re.findall(r"^\| (\d.*) \|$", text, re.MULTILINE):
        number, level, about, held = (cell.strip() for cell in f"{row} | | |".split(" | ")[:4])
        chapter, section, place = map(int, number.split("."))
        found.append(Line((chapter, section, place), int(level), about, held))
    return found


@cache
def functions(path: Path) -> frozenset[str]:
    """Names of the functions at the head of a file; of none where there is no file."""
    if not path.is_file():
        return frozenset()
    tree = ast.parse(path.read_text("utf-8"))
    return frozenset(one.name for one in tree.body if isinstance(one, ast.FunctionDef))


def faults(text: str) -> list[str]:
    """What is wrong with a table."""
    rows = lines(text)
    numbers = [row.number for row in rows]
    found = [f"{number} is twice or not in its place" for number in _out_of_order(numbers)]
    counted = Counter(number[0] for number in numbers)
    found += [
        f"V{one}: {counted[one]} rows" for one in BY_CHAPTER if counted[one] != BY_CHAPTER[one]
    ]
    levels = Counter(row.level for row in rows)
    found += [f"level {one}: {levels[one]}" for one in BY_LEVEL if levels[one] != BY_LEVEL[one]]
    for row in rows:
        named = NAMED.findall(row.held)
        missing = [name for file, name in named if name not in functions(TESTS / file)]
        found += [f"{row.number}: there is no {name}" for name in missing]
        way = next((way for way in WAYS if row.held.startswith(way)), "")
        reason = row.held.removeprefix(way)
        if not row.about or not (named or way):
            found.append(f"{row.number} is blank")
        if way and (len(reason) < LEAST_REASON or not reason.endswith(".")):
            found.append(f"{row.number}: {reason} is no reason")
        if named and not way and NAMED.sub("", row.held).strip():
            found.append(f"{row.number}: {row.held} is neither tests nor a reason")
    return found


def _out_of_order(numbers: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    return [now for before, now in pairwise(numbers) if now <= before]


def test_every_requirement_has_its_test_or_its_reason() -> None:
    """253 rows in the standard's order, as many by chapter and by level as it has."""
    assert sum(BY_CHAPTER.values()) == sum(BY_LEVEL.values()) == 253
    assert faults(TABLE) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("| 1.2.4 | 1 |", "| 1.2.4 | 2 |"),
        ("| 1.2.4 | 1 |", "| 1.2.3 | 1 |"),
        ("`access/test_table.py::test_every_route_has_one_row` |", "|"),
        ("test_every_route_has_one_row", "test_every_route_has_two_rows"),
        ("Nothing: Clothcast sends no mail.", "Nothing: no."),
        ("Nothing: Clothcast sends no mail.", "It is fine, whatever somebody may think of it."),
        ("Not met: that needs a service", "That needs a service"),
    ],
)
def test_a_fault_in_the_table_is_found(old: str, new: str) -> None:
    """A wrong level, a number twice, a blank, a test that is not there, a reason that is none."""
    assert old in TABLE
    assert faults(TABLE.replace(old, new, 1))

"""What pages of a day show of its quantities: which one, of which way to run the day, as printed.

A quantity is named by its figure and the rule of the way to run the day; numbers of two pages can
then be held against each other, and differences against the numbers beside them.
"""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from collections.abc import Callable, Iterator

from sim.units import MINUS
from tests.pages.figures_shown import Node, Tree, terms_in

What = tuple[str, str]
"""Figure, and rule of the way to run the day."""
Shown = dict[What, dict[str, str]]
"""What is shown of a quantity, by the place where it is."""
NUMBER = re.compile(rf"[+{MINUS}]?\$?[\d,]+(?:\.\d+)?")


def words_of(node: Node) -> str:
    """The text of an element on one line."""
    return " ".join(node.text().split())


def tables(tree: Node, kind: str) -> Iterator[list[Node]]:
    """The rows of each table of a kind, its head first."""
    for table in (one for one in tree.all() if one.tag == "table" and kind in one.kinds):
        yield [one for one in table.all() if one.tag == "tr"]


def numbers_in(text: str) -> list[str]:
    """The numbers of a text without units."""
    return NUMBER.findall(text)


def bare(printed: str) -> str:
    """A printed number without sign of money, plus and commas."""
    return re.sub(r"[$,+\u00a0% ]", "", printed).replace(MINUS, "-")


def value_of(printed: str) -> float | str:
    """A printed number; 3.0 is 3. Words stand for themselves."""
    try:
        return float(bare(printed))
    except ValueError:
        return printed


def step_of(printed: str) -> float:
    """The last digit that a printed number can be read to: of 10,500 a hundred."""
    number = bare(printed).lstrip("-")
    decimals = len(number.partition(".")[2])
    if decimals:
        return float(10.0**-decimals)
    return float(10.0 ** (len(number) - len(number.rstrip("0")))) if number.strip("0") else 1.0


# ---- comparisons ---------------------------------------------------------------------------------


def compared(tree: Node, rule_of: Callable[[str], str]) -> Iterator[tuple[What, str, str]]:
    """Every cell of the comparisons of a page: quantity, what it shows, and its difference from the
    first column, empty for none.

    Args:
        rule_of: the rule that the head of a column tells of.
    """
    for rows in tables(tree, "compare"):
        rules = [rule_of(words_of(head)) for head in rows[0].nodes[1:]]
        for row in rows[1:]:
            figure = [key.removeprefix("t-") for key in terms_in(row.nodes[0])]
            cells = [one for one in row.nodes[1:] if one.tag == "td"]
            if figure and len(cells) == len(rules):
                for rule, cell in zip(rules, cells, strict=True):
                    yield (figure[0], rule), part(cell, "v"), part(cell, "d")


def part(cell: Node, kind: str) -> str:
    """What a part of a cell says; empty where there is none."""
    return next((words_of(one) for one in cell.all() if kind in one.kinds), "")


def not_subtracting(tree: Node, rule_of: Callable[[str], str]) -> tuple[int, list[str]]:
    """How many differences the comparisons of a page show, and those that are not the difference of
    the two numbers shown."""
    rows: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for (figure, _rule), value, apart in compared(tree, rule_of):
        rows[figure].append((value, apart))
    count, faults = 0, []
    for figure, cells in rows.items():
        for value, apart in cells[1:]:
            numbers = [value_of(one) for one in (cells[0][0], value, apart)]
            if apart and all(isinstance(one, float) for one in numbers):
                count += 1
                first, other, more = (float(one) for one in numbers)
                if abs(other - first - more) > 1e-6:
                    faults.append(f"{figure}: {cells[0][0]} and {value}, {apart}")
    return count, faults


# ---- other tables --------------------------------------------------------------------------------


def costs_planned(tree: Node, rule: str) -> Iterator[tuple[What, str]]:
    """Items of the day's cost with the people planned, of the page Staff."""
    for rows in tables(tree, "lines-table"):
        heads = [words_of(head) for head in rows[0].nodes]
        if "Planned" in heads and "Paid for what" in heads:
            at = heads.index("Planned")
            for row in rows[1:]:
                for figure in terms_in(row.nodes[0])[:1]:
                    yield (figure.removeprefix("t-"), rule), words_of(row.nodes[at])


def in_table(tree: Node, heads: dict[str, str], where: Callable[[str], str | None], rule_at: int
             ) -> Iterator[tuple[What, str]]:  # fmt: skip
    """Cells of tables that have all of some heads.

    Args:
        heads: figure by head.
        where: the rule that a cell's words tell of; None for another way to run the day.
        rule_at: the cell of a row that tells the rule.
    """
    found = [one for one in tree.all() if one.tag == "table" and "compare" not in one.kinds]
    for table in found:
        rows = [one for one in table.all() if one.tag == "tr"]
        said = [words_of(head) for head in rows[0].nodes] if rows else []
        if not set(heads) <= set(said):
            continue
        for row in rows[1:]:
            rule = where(words_of(row.nodes[rule_at]))
            if rule is None:
                continue
            for head, figure in heads.items():
                yield (figure, rule), words_of(row.nodes[said.index(head)])


# ---- files ---------------------------------------------------------------------------------------


def rows_of(text: str) -> list[dict[str, str]]:
    """A CSV file."""
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


def is_rounded(exact: float, printed: str) -> bool:
    """Whether a printed number is the exact one, rounded to its last digit."""
    value = value_of(printed)
    return isinstance(value, float) and abs(value - exact) <= 0.5 * step_of(printed) + 1e-9


def root(text: str) -> Node:
    """A page as a tree."""
    return Tree(text).root

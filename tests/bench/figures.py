"""A measured figure, how times are taken, and how figures are shown."""

from __future__ import annotations

import json
import math
import resource
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal

from rich.console import Console
from rich.table import Table


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure.

    Attributes:
        name: what was measured.
        value: the figure, in `unit`.
        reach: the bound it has to keep, or None where it is only told.
        bound: which side of `reach` is good.
    """

    name: str
    value: float
    unit: str
    reach: float | None = None
    bound: Literal["at most", "at least"] = "at most"

    @property
    def met(self) -> bool | None:
        """Whether the figure keeps its bound; None where there is none."""
        if self.reach is None:
            return None
        kept = self.value <= self.reach if self.bound == "at most" else self.value >= self.reach
        return bool(kept)  # NumPy has a kind of its own, which JSON does not know


def seconds_by_round(
    tasks: Mapping[str, Callable[[], object]], rounds: int
) -> dict[str, list[float]]:
    """Processor time of each task in each of some rounds [s].

    Processor time, since the tasks compute in one thread and wait for nothing. They take turns
    within a round, so that whatever else the machine does meanwhile falls on all of them; ratios
    between them then mean something.
    """
    spent: dict[str, list[float]] = {name: [] for name in tasks}
    for _ in range(rounds):
        for name, task in tasks.items():
            start = time.process_time()
            task()
            spent[name].append(time.process_time() - start)
    return spent


def best_seconds(tasks: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Shortest processor time of each task over some rounds [s], see `seconds_by_round`."""
    return {name: min(all_of_it) for name, all_of_it in seconds_by_round(tasks, rounds).items()}


def used_seconds() -> float:
    """Processor time of this process and of those it has waited for [s]."""
    found = resource.getrusage(resource.RUSAGE_CHILDREN)
    return found.ru_utime + found.ru_stime + time.process_time()


def percentile(values: Sequence[float], percent: float) -> float:
    """The value that so many percent of the values don't exceed."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(percent / 100.0 * len(ordered)) - 1)]


def show(figures: Sequence[Figure]) -> None:
    """Prints the figures as a table."""
    table = Table(title="Figures to reach")
    table.add_column("figure")
    table.add_column("measured", justify="right")
    table.add_column("to reach", justify="right")
    table.add_column("met")
    words = {True: "yes", False: "NO", None: ""}
    for row in figures:
        reach = "" if row.reach is None else f"{row.bound} {row.reach:.4g} {row.unit}".rstrip()
        table.add_row(row.name, f"{row.value:.4g} {row.unit}".rstrip(), reach, words[row.met])
    Console().print(table)


def as_json(figures: Sequence[Figure]) -> str:
    """The figures as JSON: a list with name, value, unit, bound, reach and met of each."""
    return json.dumps([{**asdict(row), "met": row.met} for row in figures], indent=2) + "\n"

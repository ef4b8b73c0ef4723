"""The rooms whose source faults are made from, and the tests that are to notice them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.architecture import ROOT
from tests.mutation.operators import Mutant, mutants_of
from tests.seeds import generator


@dataclass(frozen=True, slots=True)
class Room:
    """Some files and their tests.

    Attributes:
        name: as it is called.
        sources: files, or folders of them, from the project's root.
        tests: files of tests, or tests, that are run; `but`: tests of them that are not: they
            compute in other processes, which have no fault, or take long.
        part: share of the examples of a small run that is enough.
    """

    name: str
    sources: tuple[str, ...]
    tests: tuple[str, ...]
    but: tuple[str, ...] = ()
    part: float = 1.0

    def files(self, root: Path = ROOT) -> list[str]:
        """Its source files from the root."""
        found: list[Path] = []
        for source in self.sources:
            path = root / source
            found += sorted(path.glob("*.py")) if path.is_dir() else [path]
        return [one.relative_to(root).as_posix() for one in found]

    def mutants(self, root: Path = ROOT) -> list[Mutant]:
        """Every fault that is made from it, in the order of the text."""
        return [
            mutant
            for path in self.files(root)
            for mutant in mutants_of((root / path).read_text(encoding="utf-8"), path)
        ]


ROOMS: tuple[Room, ...] = (
    Room(
        "access",
        ("app/access",),
        ("tests/access",),
    ),
    Room(
        "books",
        ("app/books.py", "app/sites/calendar.py"),
        ("tests/books", "tests/published/test_rfc5545.py"),
    ),
    Room(
        "money",
        (
            "sim/day/figures.py", "sim/day/goodwill.py", "sim/decide/cloth/change.py",
            "sim/decide/stops/cost.py",
        ),
        (
            "tests/day/test_costs.py", "tests/day/test_goodwill.py", "tests/day/test_figures.py",
            "tests/decide/test_cloth_change.py", "tests/decide/test_stops.py",
            "tests/published/test_age_replacement.py",
        ),
        but=("a_cause_costs_the_difference", "without_any_stop_nothing", "limits_hold_the_truth"),
        part=0.25,
    ),
    Room(
        "kernel",
        ("sim/day/kernel",),
        (
            "tests/day/test_kernel.py", "tests/day/test_many.py", "tests/day/test_hands.py",
            "tests/decide/test_best_possible.py::test_least_cost_equals_enumeration",
            "tests/decide/test_best_possible.py::test_moisture_after_a_car_is_never_overstated",
            "tests/decide/test_best_possible.py::test_re_washes_and_dry_sets_are_spoken_of",
        ),
        but=(
            "test_both_models_agree_on_the_demo", "test_demo_days_under_random_rules", "loss",
            "alone_too", "no_day_remembers", "each_rule_has_the_day",
        ),
        part=0.12,
    ),
)  # fmt: skip
"""Where a fault would cost money or let somebody in who may not."""


def sample(mutants: list[Mutant], room: str, most: int) -> list[Mutant]:
    """At most so many of a room's faults, drawn without regard to anything but the root seed;
    all of them for 0."""
    if not most or len(mutants) <= most:
        return mutants
    chosen = generator(f"mutants of {room}").choice(len(mutants), most, replace=False)
    return [mutants[at] for at in np.sort(chosen).tolist()]

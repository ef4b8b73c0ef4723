"""What a study does one after another, and how far it is by a total that stays as it began."""

from __future__ import annotations

import bisect
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

PARTS = 1_000
"""Parts into which a study is cut, whatever it turns out to take."""
FIRST = "first"
"""Name of the stage that ends in a first answer."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of a kind of study.

    Attributes:
        name: by which the work says that it begins.
        words: what is done, as it follows “now: ”; a text of the catalogue.
        share: of the work's processor time, as measured on the demo, beside the others'.
    """

    name: str
    words: str
    share: float = 1.0


def starts_of(stages: Sequence[Stage]) -> tuple[float, ...]:
    """Where each stage begins and the last one ends, as parts of the whole."""
    shares = [stage.share for stage in stages] or [1.0]
    return tuple(part / sum(shares) for part in itertools.accumulate(shares, initial=0.0))


def stage_at(stages: Sequence[Stage], done: int, total: int) -> int:
    """The place of the stage in which a study is that has done so much of so much."""
    begun = [_steps(start, total) for start in starts_of(stages)[1:-1]]
    return bisect.bisect_right(begun, done)


class Course:
    """How far a study is, which never goes back, of a total that never grows.

    What is left of a stage is spread over the steps that are left of it: a work that finds that it
    takes more of them goes on slower, not back. Its steps may be counted from the first one of all
    or of the stage, or anew for every part of it.

    Attributes:
        done: parts of the total.
    """

    def __init__(self, stages: Sequence[Stage], total: int) -> None:
        self.done, self.total = 0, total
        self._names = [stage.name for stage in stages]
        self._starts = starts_of(stages)
        self._stage, self._at, self._step = 0, 0.0, 0

    def enter(self, name: str) -> None:
        """A stage begins; raises LookupError if the study has none of that name."""
        if name not in self._names:
            raise LookupError(f"there is no stage {name}, but {', '.join(self._names)}")
        self._stage = self._names.index(name)
        self._go_to(self._starts[self._stage])

    def step(self, done: int, total: int) -> None:
        """So many steps are done of so many, as far as the work knows."""
        before = self._step if done >= self._step else 0
        self._step = done
        if total > before:
            end = max(self._at, self._starts[self._stage + 1])
            self._go_to(self._at + (end - self._at) * min(1.0, (done - before) / (total - before)))

    def _go_to(self, at: float) -> None:
        self._at = max(self._at, at)
        self.done = max(self.done, _steps(self._at, self.total))


def _steps(at: float, total: int) -> int:
    return int(at * total + 1e-9)

"""What a planted fault is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """A text of a file that is replaced, and the tests of which one must fail."""

    path: str
    old: str
    new: str
    tests: tuple[str, ...]


def faults_in(path: str, tests: tuple[str, ...], *pairs: tuple[str, str]) -> list[Fault]:
    """Faults of one file, each a text and what it becomes."""
    return [Fault(path, old, new, tests) for old, new in pairs]

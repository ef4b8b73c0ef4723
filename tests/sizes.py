"""Two sizes of the same tests: small ones for `make test`, full ones for `make soak`."""

from __future__ import annotations

from typing import Protocol

_soak = False
_part = 1.0


class Size(Protocol):
    """The `size` fixture: a count for `make test` and one for `make soak`."""

    def __call__(self, *, small: int, full: int) -> int:
        """The count that holds in this run; it is noted for the soak record."""


def set_soak(soak: bool) -> None:
    """Chooses the size for this run; called once, before tests are collected."""
    global _soak
    _soak = soak


def set_part(part: float) -> None:
    """Has small counts be a part of what they are, for runs that repeat tests very often."""
    global _part
    _part = part


def is_soak() -> bool:
    """Whether this run is at full counts."""
    return _soak


def size_now(*, small: int, full: int) -> int:
    """The count that holds in this run, for places without a fixture such as decorators.

    Raises:
        ValueError: if `full` is not above `small`, or `small` not above zero.
    """
    if not 0 < small < full:
        raise ValueError(f"a test needs 0 < small < full, not small={small}, full={full}")
    return full if _soak else max(1, round(_part * small))

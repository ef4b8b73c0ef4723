"""Faults to plant, one at a time, and the tests that must notice them: a module a part."""

from __future__ import annotations

from tests.planted import (
    app,
    cloth,
    counts,
    day,
    deciding,
    keeping,
    logbook,
    physics,
    staff,
    stops,
)
from tests.planted.fault import Fault

FAULTS: list[Fault] = [
    *app.FAULTS,
    *cloth.FAULTS,
    *counts.FAULTS,
    *day.FAULTS,
    *deciding.FAULTS,
    *keeping.FAULTS,
    *logbook.FAULTS,
    *physics.FAULTS,
    *staff.FAULTS,
    *stops.FAULTS,
]
"""All of them."""

__all__ = ["FAULTS", "Fault"]

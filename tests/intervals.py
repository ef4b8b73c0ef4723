"""Intervals and values of figures that a test is sure are there."""

from __future__ import annotations

from sim.day.figures import Figure, PairedDifference, Range


def run_error(found: Figure | PairedDifference) -> Range:
    """The run error; there is one."""
    assert found.run_error is not None
    return found.run_error


def site_range(found: Figure | PairedDifference) -> Range:
    """The site uncertainty; sites were drawn."""
    assert found.site_uncertainty is not None
    return found.site_uncertainty


def day_range(found: Figure) -> Range:
    """The day range; the day has the figure."""
    assert found.day_range is not None
    return found.day_range


def value_of(found: Figure | PairedDifference) -> float:
    """The value; the day has the figure."""
    assert found.value is not None
    return found.value

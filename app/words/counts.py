"""How counts are worded."""

from __future__ import annotations

from collections.abc import Sequence

from app.catalogue import _n, long_date
from app.words.numbers import hour_range
from sim.inputs import HourCount


def counted_hours(counts: Sequence[HourCount], most: int = 3) -> tuple[str, ...]:
    """A few hours in words: the first, the busiest, the last."""
    if not counts:
        return ()
    chosen = {counts[0], max(counts, key=lambda one: one.cars), counts[-1]}
    return tuple(
        _n(
            "{day}, {hours}: 1 car",
            "{day}, {hours}: {count} cars",
            one.cars,
            day=long_date(one.day, year=True),
            hours=hour_range(one.hour, one.hour + 1),
        )
        for one in sorted(chosen)[:most]
    )

"""A wiping rule as the compiled day reads it, with the crew that carries out its cues."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.day.cues import CrewCars, CrewClock, CrewDay, Watched, late_windows
from sim.day.kernel.tables import Bools, Floats, Ints
from sim.day.rules import Band, Classes, Clock, Rule, SetChange
from sim.inputs import Site


class CueTable(NamedTuple):
    """How the crew carries out watched cues.

    Attributes:
        delay_s: see `sim.day.cues.CrewDay`.
        factor: on what is read, shape (2, looks); every_s: time between two looks [s], shape (2,);
            both by kind of reading, `CARS` or `STRIP`.
        strip_dry_kg, strip_holding_kg: see `CrewDay`.
    """

    delay_s: Floats
    factor: Floats
    every_s: Floats
    strip_dry_kg: float
    strip_holding_kg: float


class RuleTable(NamedTuple):
    """A wiping rule and the day's dry sets.

    Attributes:
        terms: row of the rule, kind of term, and first and last + 1 of what it refers to.
        windows: start and end of clock windows [s], shape (windows, 2).
        bands: upper and lower saturation, shape (bands, 2).
        watches: kind of reading, upper and lower one [cars or kg], shape (watched cues, 3).
        classes: whether a class is named, shape (terms of that kind, classes).
        changes_s: time of each dry set, NaN where a saturation decides; changes_at: that.
    """

    everyone: bool
    rows: int
    terms: Ints
    windows: Floats
    bands: Floats
    classes: Bools
    changes_s: Floats
    changes_at: Floats
    watches: Floats
    crew: CueTable


CLOCK, BAND, CLASSES, SERVICE, WATCH = range(5)
CARS, STRIP = range(2)
"""Kinds of term, and of what a watched cue reads."""


def make_cue_table(crew: CrewDay) -> CueTable:
    """How the crew carries out watched cues, as arrays."""
    return CueTable(
        np.ascontiguousarray(crew.delay_s, dtype=np.float64),
        np.stack([crew.count_factor, crew.weigh_factor]),
        np.array([crew.count_every_s, crew.weigh_every_s]),
        crew.strip_dry_kg,
        crew.strip_holding_kg,
    )


def make_rule_table(
    site: Site, rule: Rule, changes: tuple[SetChange, ...], crew: CrewDay
) -> RuleTable:
    """A rule and the day's dry sets as arrays; equal bands and watched cues share one state."""
    keys = [item.key for item in site.vehicles]
    terms: list[tuple[int, int, int, int]] = []
    windows: list[tuple[float, float]] = []
    bands: list[Band] = []
    watched: list[Watched] = []
    named: list[list[bool]] = []
    for row, either in enumerate(rule.either):
        for term in either:
            if isinstance(term, Clock | CrewClock):
                late = term.windows if isinstance(term, Clock) else late_windows(term.windows, crew)
                terms.append((row, CLOCK, len(windows), len(windows) + len(late)))
                windows += late
            elif isinstance(term, Watched):
                if term not in watched:
                    watched.append(term)
                terms.append((row, WATCH, watched.index(term), 0))
            elif isinstance(term, Band):
                if term not in bands:
                    bands.append(term)
                terms.append((row, BAND, bands.index(term), 0))
            elif isinstance(term, Classes):
                terms.append((row, CLASSES, len(named), 0))
                named.append([key in term.keys for key in keys])
            else:
                terms.append((row, SERVICE, 0, 0))
    return RuleTable(
        rule.everyone,
        len(rule.either),
        np.array(terms, dtype=np.int64).reshape(-1, 4),
        np.array(windows, dtype=float).reshape(-1, 2),
        np.array([(b.upper, b.lower) for b in bands], dtype=float).reshape(-1, 2),
        np.array(named, dtype=np.bool_).reshape(-1, len(keys)),
        np.array([math.nan if c.at_s is None else c.at_s for c in changes], dtype=float),
        np.array([c.at_saturation or 0.0 for c in changes], dtype=float),
        np.array(
            [(CARS if isinstance(w, CrewCars) else STRIP, w.upper, w.lower) for w in watched],
            dtype=float,
        ).reshape(-1, 3),
        make_cue_table(crew),
    )

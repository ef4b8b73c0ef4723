"""Many wiping rules on one day, with only what a search among rules needs to know of each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sim.day.cues import CrewDay
from sim.day.kernel.deciding import forget_cues, is_reduced, see_car
from sim.day.kernel.hands import add_change_work, add_pass_work, overload
from sim.day.kernel.rows import (
    AGAIN,
    BEFORE,
    CAR,
    DAMP,
    FATE,
    HOOD,
    KEPT,
    LEAVES,
    LOST,
    ON_BELT,
    REAR_WET,
    REDUCED,
    ROWS,
    TOWEL,
    TURN,
    UNWIPED,
    Rows,
    Wiped,
)
from sim.day.kernel.rule_table import CueTable, RuleTable, make_rule_table
from sim.day.kernel.tables import Bools, CarTable, Cloth, Floats, Ints, Work
from sim.day.kernel.wheel import DAY_WEAR, SETS
from sim.day.rules import Rule, SetChange
from sim.inputs import Site
from sim.physics.mark import inlined

TALLY = (
    "cars_washed", "cars_lost", "damp_cars", "rear_wet", "full_cars", "passes", "reduced",
    "left_damp", "finished_cars", "rewashed_cars", "wear_cars", "switches", "apart_s", "last_s",
    "sets_changed", "overload_s",
)  # fmt: skip
"""What is kept of each rule's day, in the order of the columns.

A *switch* is a change of the wiping from one car to the next, whatever asks for it: the clock, the
cloth, or that the next car is of another class, since nothing in the model tells the machine a
class by itself. Only what was sold is no switch, as that comes with the car's wash program. Always
full and always reduced never switch. `apart_s` is the shortest time between two switches that
follow one another [s], infinite with fewer than two.
"""

(
    T_WASHED, T_LOST, T_DAMP, T_REAR, T_FULL, T_PASSES, T_REDUCED, T_LEFT, T_FINISHED, T_AGAIN,
    T_WEAR, T_SWITCHES, T_APART, T_LAST, T_SETS, T_OVERLOAD,
) = range(16)  # fmt: skip


class RuleBook(NamedTuple):
    """Rule tables of many rules, one after the other; all have the same dry sets and crew.

    Attributes:
        everyone, rows: of each rule, see `RuleTable`.
        starts: where each rule's terms, windows, bands, named classes and watched cues begin, and
            where those of the last end; shape (rules + 1, 5).
    """

    everyone: Bools
    rows: Ints
    starts: Ints
    terms: Ints
    windows: Floats
    bands: Floats
    classes: Bools
    changes_s: Floats
    changes_at: Floats
    watches: Floats
    crew: CueTable


def make_rule_book(
    site: Site, rules: Sequence[Rule], crew: CrewDay, changes: tuple[SetChange, ...] = ()
) -> RuleBook:
    """The rules of a search as arrays."""
    tables = [make_rule_table(site, rule, changes, crew) for rule in rules]
    sizes = [
        (len(t.terms), len(t.windows), len(t.bands), len(t.classes), len(t.watches)) for t in tables
    ]
    starts = np.zeros((len(tables) + 1, 5), np.int64)
    np.cumsum(np.array(sizes, dtype=np.int64).reshape(-1, 5), axis=0, out=starts[1:])
    return RuleBook(
        np.array([t.everyone for t in tables], dtype=np.bool_),
        np.array([t.rows for t in tables], dtype=np.int64),
        starts,
        np.concatenate([t.terms for t in tables]),
        np.concatenate([t.windows for t in tables]),
        np.concatenate([t.bands for t in tables]),
        np.concatenate([t.classes for t in tables]),
        tables[0].changes_s,
        tables[0].changes_at,
        np.concatenate([t.watches for t in tables]),
        tables[0].crew,
    )


@inlined
def rule_of(book: RuleBook, at: int) -> RuleTable:
    """One rule of a book, as views of its arrays."""
    begin, end = book.starts[at], book.starts[at + 1]
    return RuleTable(
        book.everyone[at],
        book.rows[at],
        book.terms[begin[0] : end[0]],
        book.windows[begin[1] : end[1]],
        book.bands[begin[2] : end[2]],
        book.classes[begin[3] : end[3]],
        book.changes_s,
        book.changes_at,
        book.watches[begin[4] : end[4]],
        book.crew,
    )


@inlined
def wipe_anew(wiped: Wiped) -> None:
    """Make the cloth's part of a day empty again."""
    for at in range(len(wiped.state)):
        wiped.state[at] = 0.0
    for at in range(len(wiped.places)):
        wiped.places[at] = 0


@inlined
def tally(
    cloth: Cloth,
    work: Work,
    cars: CarTable,
    rule: RuleTable,
    rows: Rows,
    wiped: Wiped,
    last: float,
    halves: Floats,
    found: Floats,
) -> None:
    """What a search needs of a day that has been run, into one row of shape (len(TALLY),).

    Args:
        halves: room for the work by half-hour, shape (48,).
    """
    for at in range(len(found)):
        found[at] = 0.0
    for at in range(len(halves)):
        halves[at] = 0.0
    for row in range(rows.counts[ROWS]):
        if rows.line[row, LOST] != KEPT:
            found[T_LOST] += 1.0
            continue
        marks = wiped.marks[row]
        found[T_PASSES] += 1.0
        found[T_REDUCED] += marks[REDUCED]
        found[T_LEFT] += marks[FATE] == LEAVES
        found[T_FINISHED] += marks[FATE] == TOWEL
        found[T_AGAIN] += marks[FATE] == AGAIN
        hand = work.hand[cars.kind[rows.line[row, CAR]]]
        add_pass_work(work, hand, halves, rows.times[row], marks)
        if rows.line[row, TURN] == 1:
            found[T_WASHED] += 1.0
            found[T_DAMP] += marks[DAMP]
            found[T_REAR] += marks[REAR_WET]
            found[T_FULL] += marks[REDUCED] == 0 and marks[UNWIPED] == 0
    found[T_WEAR] = wiped.state[DAY_WEAR]
    found[T_LAST] = last
    add_change_work(work, wiped, halves)
    found[T_SETS] = wiped.places[SETS]
    found[T_OVERLOAD] = overload(work, halves, last)
    _count_switches(cloth, cars, rule, rows, wiped, found)


@inlined
def _count_switches(
    cloth: Cloth, cars: CarTable, rule: RuleTable, rows: Rows, wiped: Wiped, found: Floats
) -> None:
    """Changes of the wiping that the rule asks for, from each car at the wheel to the next."""
    forget_cues(wiped)
    before, since = -1, -math.inf
    found[T_APART] = math.inf
    for place in range(rows.counts[ON_BELT]):
        row = rows.order[place]
        now = rows.times[row, HOOD]
        saturation = wiped.moisture[row, BEFORE] / cloth.holding
        see_car(rule, rows, wiped, now, saturation)
        asked = int(is_reduced(rule, wiped, now, cars.kind[rows.line[row, CAR]], False))
        if before >= 0 and asked != before:
            found[T_SWITCHES] += 1.0
            found[T_APART] = min(found[T_APART], now - since)
            since = now
        before = asked

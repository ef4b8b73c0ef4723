"""Where the compiled day writes: a row a pass, in the order in which cars come and come back."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sim.day.kernel.tables import Floats, Ints

# columns of `Rows.times`
(ARRIVAL, PAY_START, PAID, UNBLOCKED, LOAD_START, LOADED, CAUGHT, HOOD) = range(8)
ZONE_END = 8  # and the three after it
EXIT = 12
TIMES = 13

# columns of `Rows.line`
(CAR, TURN, LOST, LANE, PUSHER, APART) = range(6)
MARKS = 6

KEPT, LOST_FULL, LOST_IMPATIENT = 0, 1, 2
"""Values of LOST."""

# columns of `Wiped.moisture` and `Wiped.marks`
(BEFORE, AFTER, WORN) = range(3)
(REDUCED, UNWIPED, SET, DAMP, REAR_WET, FATE) = range(6)
UNHURT, LEAVES, TOWEL, AGAIN = 0, 1, 2, 3
"""Values of FATE."""

# columns of `Wiped.detail`, four zones each
WATER, FILM, REMAINS = 0, 4, 8
DETAIL = 12

# columns of `Wiped.hours`
(TAKEN, THROWN, EVAPORATED, HELD, TIME, OVER, SPINNING) = range(7)
ACCOUNT = 7

# places of `Rows.counts`
(ROWS, ON_BELT) = range(2)


class Rows(NamedTuple):
    """The line's part of a day.

    Attributes:
        times: shape (rows, TIMES) [s]; NaN where the thing never happened.
        line: shape (rows, MARKS).
        order: rows in the order in which they were caught.
        sent: rows whose cars were sent round again, in that order.
        counts: rows, and how many were caught.
    """

    times: Floats
    line: Ints
    order: Ints
    sent: Ints
    counts: Ints


class Wiped(NamedTuple):
    """The cloth's part of a day.

    Attributes:
        moisture: shape (rows, 3): before and after the car [kg/kg], wear.
        marks: shape (rows, 6).
        detail: shape (rows, 12): water [kg], film, film left [kg/m²] by zone; no rows if nobody
            asked.
        hours: the account by clock hour, shape (hours, 7).
        state: shape (9,), see `wheel`.
        places: shape (5,), see `wheel`.
        bands: what each band last decided.
        watches: what each watched cue remembers, shape (watched cues, 5), see `wheel`.
        changed_s: when each change of set began [s]; as many as were made hold.
    """

    moisture: Floats
    marks: Ints
    detail: Floats
    hours: Floats
    state: Floats
    places: Ints
    bands: Ints
    watches: Floats
    changed_s: Floats


def empty_rows(room: int) -> Rows:
    """Room for so many passes."""
    return Rows(
        np.empty((room, TIMES)),
        np.empty((room, MARKS), np.int64),
        np.empty(room, np.int64),
        np.empty(room, np.int64),
        np.zeros(2, np.int64),
    )


def empty_wiped(
    room: int, hours: int, bands: int, watches: int, changes: int, detail: bool
) -> Wiped:
    """Room for so many passes and clock hours, bands, watched cues and changes of set."""
    return Wiped(
        np.empty((room, 3)),
        np.empty((room, 6), np.int64),
        np.empty((room if detail else 0, DETAIL)),
        np.zeros((hours, ACCOUNT)),
        np.zeros(9),
        np.zeros(5, np.int64),
        np.zeros(bands, np.int64),
        np.zeros((watches, 5)),
        np.zeros(changes),
    )

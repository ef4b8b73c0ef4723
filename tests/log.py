"""Entries of a logbook, for whoever tests with some."""

from __future__ import annotations

from sim.inputs import LogEntry
from sim.inputs.logbook import (
    ADVICE,
    ALARM,
    CARS,
    CHECK,
    CLAIM,
    DAMAGE,
    DAMP_HOODS,
    DEVICE,
    DOWN,
    FELT,
    FINE,
    HOUR,
    LEFT,
    NOTE,
    REDUCED,
    SET_CHANGED,
    SOMEBODY,
    STAY,
    STOP,
    STRIP,
    TIMED,
    TURNED_AWAY,
    WAIT,
    WIPING,
)
from tests.world import DAY


def logged() -> tuple[LogEntry, ...]:
    """An entry of each kind, in order, the last one taken back."""
    hour = 3600.0
    return (
        LogEntry("opening-1", DAY, 6.5 * hour, CHECK, word=FINE, name="Height reading",
                 reading=2.5),
        LogEntry("morning-1", DAY, 7.0 * hour, NOTE, text='New soap, "blue"; see the drum, left'),
        LogEntry("morning-2", DAY, 9.0 * hour, HOUR, count=31),
        LogEntry("morning-3", DAY, 10.0 * hour, FELT, text="33 °C, 70 %", by="Ada"),
        LogEntry("morning-4", DAY, 11.0 * hour, CARS, count=212, by="Ada"),
        LogEntry("morning-5", DAY, 11.0 * hour, TURNED_AWAY, count=0),
        LogEntry("morning-6", DAY, 11.5 * hour, WAIT, lasted_s=600.0),
        LogEntry("noon-0001", DAY, 12.0 * hour, DAMP_HOODS, count=4, of=20),
        LogEntry("noon-0002", DAY, 12.0 * hour, ADVICE, word=STAY, text="Stay on full."),
        LogEntry("noon-0003", DAY, 12.25 * hour, WIPING, word=REDUCED, text="cars left damp"),
        LogEntry("noon-0004", DAY, 12.5 * hour, STRIP, weight_kg=0.2125),
        LogEntry("noon-0005", DAY, 13.0 * hour, STOP, lasted_s=240.0, name="car crosswise",
                 vehicle="pickup"),
        LogEntry("noon-0006", DAY, 13.5 * hour, ALARM, lasted_s=60.0, name="E 17"),
        LogEntry("noon-0007", DAY, 14.0 * hour, DEVICE, word=DOWN, name="height_sensor"),
        LogEntry("noon-0008", DAY, 14.5 * hour, SOMEBODY, word=LEFT, name="Ben"),
        LogEntry("noon-0009", DAY, 15.0 * hour, SET_CHANGED, name="B"),
        LogEntry("noon-000a", DAY, 15.25 * hour, TIMED, name="pay", text="14 12 slow 52"),
        LogEntry("noon-0010", DAY, 15.5 * hour, CLAIM, word=DAMAGE, text="antenna", struck="yes"),
    )  # fmt: skip

"""Times that a crew takes with a stopwatch: of what, and how a line of them is read."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sim.errors import InputError, InputProblem, Sentence, quoted

PAYING, LOADING = "pay", "load"
PREPARE_WORK, LOAD_WORK, EXIT_WORK, REDUCED_WORK = "prepare", "load_work", "exit", "reduced"
TIMED_THINGS = (PAYING, LOADING, PREPARE_WORK, LOAD_WORK, EXIT_WORK, REDUCED_WORK)
"""What can be timed: how long a car pays, or is loaded by one loader; and how long a person works
on it before the belt, at loading, behind the wheel, and there besides where it was reduced."""
SLOW = "slow"
"""Stands before the time of a slow payer."""
SHORTEST_S, LONGEST_S = 0.5, 3600.0
COARSE_S, FINE_S = 1.0, 0.1
"""A time in whole seconds is right to half of the first, one with decimals to half of the second;
a thumb on a stopwatch is no better [s]."""
_TIME = re.compile(r"(?:(\d{1,2}):(?=\d\d))?(\d{1,4}(?:\.\d{1,3})?)s?", re.ASCII)


@dataclass(frozen=True, slots=True)
class TimedCar:
    """One car: how long it took [s], to half of `step_s`; whether it was a slow payer's."""

    took_s: float
    step_s: float = COARSE_S
    is_slow: bool = False


def timed_cars(text: str, thing: str) -> tuple[TimedCar, ...]:
    """Cars of a line of times in seconds, or in minutes and seconds, as in ``14 12 slow 52 1:05``.

    Raises:
        InputError: for a word that is no time, a time out of its limits, or no time at all.
    """
    found: list[TimedCar] = []
    is_slow = False
    for word in text.replace(";", " ").split():
        typed = word.removesuffix(",")
        if typed.lower() == SLOW and thing == PAYING and not is_slow:
            is_slow = True
            continue
        told = _TIME.fullmatch(typed)
        took_s = 0.0 if told is None else 60.0 * float(told[1] or 0) + float(told[2])
        if told is None or not SHORTEST_S <= took_s <= LONGEST_S:
            raise _fault("“{typed}” can’t be a time. {right}", thing, quoted(word))
        found.append(TimedCar(took_s, FINE_S if "." in typed else COARSE_S, is_slow))
        is_slow = False
    if is_slow or not found:
        raise _fault("A time is missing. {right}", thing)
    return tuple(found)


RIGHT = "Enter seconds from {low} to {high} with a space between, as in 14 12 15."
RIGHT_PAYING = (
    "Enter seconds from {low} to {high} with a space between, slow before that of a slow payer, as "
    "in 14 12 slow 52."
)


def _fault(sentence: str, thing: str, typed: str = "") -> InputError:
    right = RIGHT_PAYING if thing == PAYING else RIGHT
    limits = {"low": f"{SHORTEST_S:g}", "high": f"{LONGEST_S:,.0f}"}
    filling = {"typed": typed, "right": Sentence(right, limits)}
    return InputError([InputProblem("text", sentence, filling)])

"""Which cars are wiped reduced, in the compiled day: bands and watched cues see every car."""

from __future__ import annotations

import math

from sim.day.kernel.rows import HOOD, Rows, Wiped
from sim.day.kernel.rule_table import BAND, CARS, CLASSES, CLOCK, WATCH, RuleTable
from sim.physics.mark import inlined

# places of `Wiped.places` after those of `wheel`
SEEN, OLDEST = 3, 4
# columns of `Wiped.watches`
(ON, DUE, NEXT_LOOK, LOOKS, ACTS) = range(5)

HOUR_S = 3600.0


@inlined
def forget_cues(wiped: Wiped) -> None:
    """Bands and watched cues as they are before the first car."""
    wiped.places[SEEN] = wiped.places[OLDEST] = 0
    for band in range(len(wiped.bands)):
        wiped.bands[band] = 0
    for watch in range(len(wiped.watches)):
        wiped.watches[watch, :] = 0.0  # the first look is due at midnight: at the first car
        wiped.watches[watch, DUE] = math.inf


@inlined
def see_car(rule: RuleTable, rows: Rows, wiped: Wiped, now: float, saturation: float) -> None:
    """Bands and watched cues see the car whose hood meets the wheel, whoever decides it."""
    for band in range(len(rule.bands)):
        if saturation >= rule.bands[band, 0]:
            wiped.bands[band] = 1
        elif saturation <= rule.bands[band, 1]:
            wiped.bands[band] = 0
    if len(rule.watches):
        counted = _in_last_hour(rows, wiped, now)
        for watch in range(len(rule.watches)):
            _watch(rule, wiped, watch, now, counted, saturation)


@inlined
def _in_last_hour(rows: Rows, wiped: Wiped, now: float) -> int:
    """Cars whose hood met the wheel in the hour before the one that does now."""
    seen, oldest = wiped.places[SEEN], wiped.places[OLDEST]
    while oldest < seen and rows.times[rows.order[oldest], HOOD] <= now - HOUR_S:
        oldest += 1
    wiped.places[SEEN], wiped.places[OLDEST] = seen + 1, oldest
    return seen - oldest


@inlined
def _watch(
    rule: RuleTable, wiped: Wiped, watch: int, now: float, counted: int, saturation: float
) -> None:
    """One watched cue sees a car: what is due is done, and a look is taken when its time has come.

    A look while an act is due is not heeded.
    """
    memory, crew = wiped.watches[watch], rule.crew
    if memory[DUE] <= now:
        memory[ON], memory[DUE] = 1.0 - memory[ON], math.inf
    if now < memory[NEXT_LOOK]:
        return
    what = int(rule.watches[watch, 0])
    off = crew.factor[what, int(memory[LOOKS]) % crew.factor.shape[1]]
    memory[LOOKS] += 1.0
    memory[NEXT_LOOK] = now + crew.every_s[what]
    if memory[DUE] != math.inf:
        return
    if what == CARS:
        reading = counted * off
    else:
        reading = crew.strip_dry_kg + crew.strip_holding_kg * saturation * off
    upper, lower = rule.watches[watch, 1], rule.watches[watch, 2]
    if (memory[ON] == 0.0 and reading >= upper) or (memory[ON] == 1.0 and reading <= lower):
        memory[DUE] = now + crew.delay_s[int(memory[ACTS]) % len(crew.delay_s)]
        memory[ACTS] += 1.0
        if memory[DUE] <= now:
            memory[ON], memory[DUE] = 1.0 - memory[ON], math.inf


@inlined
def is_reduced(rule: RuleTable, wiped: Wiped, now: float, kind: int, sold_full: bool) -> bool:
    """Whether the car whose hood meets the wheel, and which was seen, is wiped reduced."""
    if rule.everyone:
        return True
    if sold_full:
        return False
    term = 0
    for row in range(rule.rows):
        all_true = True
        while term < len(rule.terms) and rule.terms[term, 0] == row:
            what, first, last = rule.terms[term, 1], rule.terms[term, 2], rule.terms[term, 3]
            if what == CLOCK:
                inside = False
                for window in range(first, last):
                    inside |= rule.windows[window, 0] <= now < rule.windows[window, 1]
                all_true &= inside
            elif what == BAND:
                all_true &= wiped.bands[first] == 1
            elif what == WATCH:
                all_true &= wiped.watches[first, ON] == 1.0
            elif what == CLASSES:
                all_true &= rule.classes[first, kind]
            term += 1
        if all_true:
            return True
    return False

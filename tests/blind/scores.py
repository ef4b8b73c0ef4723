"""What a rule makes of days in the other simulator, and how well they were told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.day.rules import Band, Clock, CrewCars, CrewClock, CrewHoods, Rule, parse_rule
from tests.blind import simulator as other
from tests.blind.simulator import BAND, CLOCK, COUNT, CREW_CLOCK, HOODS
from tests.blind.sites import CLOSES, OPENS, BlindSite

Floats = NDArray[np.float64]
BY_EYE = (
    "full", "reduced", "clock 12:00-16:00", "clock 11:00-17:00", "clock 13:00-18:00",
    "crew hoods 5-2",
)  # fmt: skip
"""Rules that a wash might go by without any plan."""
LUCK = 10_000
"""Days of one site begin so many numbers after those of the one before."""
KINDS = {"band": BAND, "crew_cars": COUNT, "crew_hoods": HOODS}


def rows_of(rule: Rule) -> Floats:
    """A rule as the other simulator takes it, a row a window or cue: kind, two limits.

    Raises:
        ValueError: it is of a kind that the other simulator does not know.
    """
    rows: list[tuple[float, float, float]] = []
    for either in rule.either if not rule.everyone else ():
        (term,) = either
        if isinstance(term, Clock | CrewClock):
            code = CLOCK if isinstance(term, Clock) else CREW_CLOCK
            rows += [(code, start, end) for start, end in term.windows]
        elif isinstance(term, Band | CrewCars | CrewHoods):
            rows.append((KINDS[term.kind], term.upper, term.lower))
        else:
            raise ValueError(rule.text)
    return np.array(rows, dtype=float).reshape(-1, 3)


@dataclass(frozen=True, slots=True)
class Lived:
    """Days of a site under a rule, a number a day each."""

    cars_washed: Floats
    cars_lost: Floats
    wait_p90_s: Floats
    damp_share: Floats
    saturation_mean: Floats
    cost: Floats


def lived(blind: BlindSite, text: str, days: int, first: int = 0) -> Lived:
    """So many days under a rule; the same numbers have the same luck whatever the rule."""
    wash, site = blind.wash(), blind.site
    rule, found = parse_rule(text), []
    rows = rows_of(rule)
    for number in range(first, first + days):
        luck = other.draw(wash, LUCK * blind.number + number)
        cars, minutes = other.live(wash, luck, rows, rule.everyone)
        washed = cars[:, 2] > 0
        count = int(washed.sum())
        lost, damp = len(cars) - count, float(cars[washed, 4].sum())
        held = minutes[60 * OPENS : 60 * CLOSES] / wash.holds
        money = site.money
        cost = damp * money.damp_cost + cars[washed, 3].sum() * money.reduced_cost
        waits = np.percentile(cars[washed, 1], 90)
        cost += lost * money.lost_car_cost
        found.append((count, lost, waits, damp / count, held.mean(), cost))
    return Lived(*np.array(found).T)

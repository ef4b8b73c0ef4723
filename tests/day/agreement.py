"""Compares the two models of a day field by field, and tells ties from faults."""

from __future__ import annotations

import dataclasses
import itertools
import math
from dataclasses import dataclass

from sim.day.crew import CrewDay, late_windows
from sim.day.draw import DayCars
from sim.day.figures import FIGURES, HOURLY
from sim.day.kernel import figures, run_day
from sim.day.records import DayFigures, DayResult, summarise
from sim.day.rules import (
    HOUR_S,
    Band,
    CrewCars,
    CrewClock,
    CrewStrip,
    Rule,
    SetChange,
    Watched,
    stops_belt,
)
from sim.day.setup import DayNumbers
from sim.day.tunnel import simulate_day
from sim.inputs import Site

CLOSE = 1e-9


@dataclass(frozen=True, slots=True)
class Case:
    """A day ready to run."""

    site: Site
    day: DayNumbers
    cars: DayCars
    rule: Rule
    changes: tuple[SetChange, ...] = ()

    def simulated(self) -> DayResult:
        """The SimPy model's day."""
        return simulate_day(self.site, self.day, self.cars, self.rule, self.changes)

    def compiled(self) -> DayResult:
        """The compiled day."""
        return run_day(self.site, self.day, self.cars, self.rule, self.changes)


def is_close(found: object, wanted: object) -> bool:
    """Equal; numbers to 1e-9·max(1, |value|), NaN only to NaN."""
    if isinstance(found, float) and isinstance(wanted, float):
        if math.isnan(found) or math.isnan(wanted):
            return math.isnan(found) and math.isnan(wanted)
        return abs(found - wanted) <= CLOSE * max(1.0, abs(wanted))
    if isinstance(found, tuple | list) and isinstance(wanted, tuple | list):
        return len(found) == len(wanted) and all(map(is_close, found, wanted))
    return type(found) is type(wanted) and found == wanted


def differences(found: DayResult, wanted: DayResult) -> list[str]:
    """Every field in which two results of a day differ, one sentence each."""
    faults = []
    for item in dataclasses.fields(DayResult):
        mine, other = getattr(found, item.name), getattr(wanted, item.name)
        if item.name not in ("passes", "hours"):
            if not is_close(mine, other):
                faults.append(f"{item.name}: {mine} for {other}")
            continue
        if len(mine) != len(other):
            faults.append(f"{item.name}: {len(mine)} for {len(other)}")
        for number, (one, two) in enumerate(zip(mine, other, strict=False)):
            for part in dataclasses.fields(one):
                a, b = getattr(one, part.name), getattr(two, part.name)
                if not is_close(a, b):
                    faults.append(f"{item.name}[{number}].{part.name}: {a} for {b}")
    return faults


def figure_differences(found: DayFigures, wanted: DayFigures) -> list[str]:
    """Every figure in which two sets of figures differ."""
    faults = [
        f"{name}: {found.day[name]} for {wanted.day[name]}"
        for name in FIGURES
        if not is_close(found.day[name], wanted.day[name])
    ]
    for name in HOURLY:
        if not is_close(found.hours[name].tolist(), wanted.hours[name].tolist()):
            faults.append(f"{name}: {found.hours[name]} for {wanted.hours[name]}")
    return faults


def all_differences(case: Case) -> tuple[list[str], DayResult]:
    """Every difference between the two models of a day, its figures included."""
    wanted = case.simulated()
    faults = differences(case.compiled(), wanted)
    mine = figures(case.site, case.day, case.cars, case.rule, case.changes)
    faults += figure_differences(mine, summarise(case.site, case.day, case.cars, wanted))
    return faults, wanted


def has_near_tie(case: Case, result: DayResult) -> bool:
    """Whether something of a day was decided by less than 1e-9, though not by an exact tie.

    Moments at which cars move, of a speed or lane timetable, and of belt stops; saturation
    against bands and changes of set; film against the allowed film; when a crew looks and acts,
    and what it reads, against its cues.
    """
    moments = {row[0] for row in (*case.day.speeds, *case.site.pay.pay_lanes)}
    moments |= {row[0] for row in case.site.crew.finishers}
    moments |= {moment for stop in result.stops for moment in stop}
    for car in result.passes:
        moments |= {
            car.arrival_s, car.paid_s, car.unblocked_s, car.loaded_s, car.caught_s, car.wheel_s,
            car.exit_s, car.exit_s + case.site.crew.exit_patience_s, car.finish_s, car.finished_s,
        }  # fmt: skip
    hoods = [car.wheel_s for car in result.passes if not math.isnan(car.wheel_s)]
    moments |= _moments_of_crew(case.rule, case.cars.crew, hoods)
    if stops_belt(case.rule, case.cars.crew):
        moments |= {car.exit_s + case.cars.crew.weighing_takes_s for car in result.passes}
    ordered = sorted(moment for moment in moments if not math.isnan(moment))
    if any(0 < b - a <= CLOSE * max(1.0, a) for a, b in itertools.pairwise(ordered)):
        return True
    levels = [change.at_saturation for change in case.changes if change.at_saturation is not None]
    for term in (term for row in case.rule.either for term in row):
        levels += [term.upper, term.lower] if isinstance(term, Band) else []
    if _has_near_reading(case, len(hoods), result):
        return True
    for car in (car for car in result.passes if not car.lost):
        saturation = car.moisture_before / case.day.cloth.holding
        if any(0 < abs(saturation - level) <= CLOSE for level in levels):
            return True
        if any(0 < abs(film - case.day.allowed_film) <= CLOSE for film in car.film_left):
            return True
    return False


def _moments_of_crew(rule: Rule, crew: CrewDay, hoods: list[float]) -> set[float]:
    """When a crew's clock windows begin and end; when a look or an act may be due after a car."""
    terms = [term for row in rule.either for term in row]
    found = {
        edge
        for term in terms
        if isinstance(term, CrewClock)
        for window in late_windows(term.windows, crew)
        for edge in window
    }
    if any(isinstance(term, Watched) for term in terms):
        every = (crew.count_every_s, crew.weigh_every_s, crew.hoods_every_s)
        later = (*every, HOUR_S, *crew.delay_s.tolist())
        found |= {hood + span for hood in hoods for span in later}
    return found


def _has_near_reading(case: Case, most_cars: int, result: DayResult) -> bool:
    """Whether a count or a weight that may have been read is all but a threshold."""
    crew, holding = case.cars.crew, case.day.cloth.holding
    for term in (term for row in case.rule.either for term in row):
        if isinstance(term, CrewCars):
            readings = [n * f for n in range(most_cars) for f in crew.count_factor.tolist()]
        elif isinstance(term, CrewStrip):
            water = [crew.strip_holding_kg * car.moisture_before / holding for car in result.passes]
            factors = crew.weigh_factor.tolist()
            readings = [crew.strip_dry_kg + one * f for one in water for f in factors]
        else:
            continue
        levels = (term.upper, term.lower)
        if any(0 < abs(reading - level) <= CLOSE for reading in readings for level in levels):
            return True
    return False

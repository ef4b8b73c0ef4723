"""One simulated day car by car, as rows for a file."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from app.answers.planning import make_question
from app.files.csv_table import Written, csv_text
from sim.day.draw import DayDraw
from sim.day.drawn import Belief
from sim.day.records import CarPass
from sim.day.rules import parse_rule
from sim.day.tunnel import simulate_day
from sim.decide.compare import check_question
from sim.errors import InputError, InputProblem
from sim.inputs import ZONES, Scenario, Site, SiteData

COLUMNS = (
    "car", "turn", "class", "length_m", "sold_full", "arrival_s", "lost", "lane", "pay_start_s",
    "paid_s", "unblocked_s", "load_start_s", "loaded_s", "pusher", "caught_s", "wheel_s",
    "exit_s", "rule", "cloth_set", *(f"water_{zone}_kg" for zone in ZONES),
    "moisture_before_kg_kg", "moisture_after_kg_kg", *(f"film_{zone}_kg_m2" for zone in ZONES),
    *(f"film_left_{zone}_kg_m2" for zone in ZONES), "wear_cars", "damp", "roof_wet", "rear_wet",
    "fate",
)  # fmt: skip
"""Columns of a trace; times are seconds after midnight, empty where a thing did not happen."""


def trace_rows(
    data: SiteData,
    day: date,
    scenario: Scenario,
    seed: int,
    expect: str = "",
    belief: Belief | None = None,
) -> Iterator[list[str]]:
    """Header and one row a car and pass of a scenario's day, from the first draw of a seed.

    Guesses are at their middle values, as far as a belief has told.

    Raises:
        InputError: with every problem of the day or the scenario.
    """
    question, expected = make_question(data, day, expect, (scenario,), 1, seed, belief=belief)
    if expected.closed:
        raise InputError([InputProblem("date", "{origin}", {"origin": expected.origin})])
    problems = check_question(question)
    if problems:
        raise InputError(problems)
    here = question.first_day
    cars = here.replication(DayDraw(seed, 0)).cars
    rule, sets = parse_rule(scenario.rule), here.sets(scenario.cloth)
    result = simulate_day(here.site, here.numbers, cars, rule, sets)
    yield list(COLUMNS)
    for car in result.passes:
        yield _row(here.site, car)


def trace_csv(rows: Iterator[list[str]]) -> str:
    """Rows, the header first, as RFC 4180 text."""
    return csv_text(next(rows), rows)


def _row(site: Site, car: CarPass) -> list[str]:
    if car.lost or car.wheel_s != car.wheel_s:
        wiping = ""
    else:
        wiping = "unwiped" if car.unwiped else "reduced" if car.reduced else "full"
    cells: list[object] = [
        car.car, car.turn, site.vehicles[car.class_index].key, car.length_m, car.sold_full,
        car.arrival_s, car.lost, car.lane if car.lane >= 0 else "", car.pay_start_s, car.paid_s,
        car.unblocked_s, car.load_start_s, car.loaded_s, car.pusher if car.pusher >= 0 else "",
        car.caught_s, car.wheel_s, car.exit_s, wiping, car.cloth_set, *car.water_kg,
        car.moisture_before, car.moisture_after, *car.film_before, *car.film_left, car.wear_cars,
        car.damp, car.roof_wet, car.rear_wet, car.fate,
    ]  # fmt: skip
    return [_cell(value) for value in cells]


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return "" if value != value else Written(repr(value))
    return str(value)

"""The same day as the SimPy model, compiled: an event loop over the same cars and numbers.

A day is run from site, cars and rule, and turned into records, figures or tallies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.day.costs import Prices, money_of, prices_of
from sim.day.cues import CrewDay
from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.figures import FIGURES, HOURLY
from sim.day.kernel import tables as r
from sim.day.kernel import wheel as w
from sim.day.kernel.compile import (
    belt_travel,
    cloth_of_day,
    cloth_of_rules,
    figures_of_day,
    line_of_day,
    nodes_of_day,
    plan_of_day,
    whole_day,
    whole_of_rules,
)
from sim.day.kernel.line import COUNT, Belt, empty_belt, empty_front
from sim.day.kernel.many import TALLY, Nodes, empty_nodes, make_rule_book
from sim.day.kernel.stats import COUNTS, DAY, H_WAITED, HALF_HOURS
from sim.day.kernel.tables import (
    HOURS,
    CarTable,
    Floats,
    LineRows,
    Tables,
    Wiped,
    empty_rows,
    empty_wiped,
    make_car_table,
    make_tables,
)
from sim.day.kernel.wheel import RuleTable, make_rule_table
from sim.day.records import (
    FINISHED,
    FULL_STACK,
    IMPATIENT,
    LEFT,
    REWASHED,
    CarPass,
    ClothHour,
    DayFigures,
    DayResult,
    work_of,
)
from sim.day.rules import FULL, REDUCED, Rule, SetChange
from sim.day.setup import DayNumbers, prepare_day
from sim.inputs import Conditions, Site

LOST = ("", FULL_STACK, IMPATIENT)
FATES = ("", LEFT, FINISHED, REWASHED)
ROOM_HOURS = 36
"""Clock hours that a day is given at first; a day that runs on longer is run again with more."""


@dataclass(frozen=True, slots=True)
class FlowResult:
    """The line of a day, for any number of rules.

    Attributes:
        tables, cars: what it was made from.
        belt, rows: what came out.
        last_s: when the last thing happened [s].
        crew: the crew of the day.
    """

    tables: Tables
    cars: CarTable
    belt: Belt
    rows: LineRows
    last_s: float
    crew: CrewDay


@dataclass(frozen=True, slots=True)
class Run:
    """A whole day as arrays: the line, and the cloth on it."""

    flow: FlowResult
    wiped: Wiped


def is_coupled(tables: Tables, changes: tuple[SetChange, ...]) -> bool:
    """Whether the cloth moves cars: by re-washes, or by changes of set for which cars wait."""
    return tables.couples or (tables.cloth.cars_wait and bool(changes))


def flow(site: Site, day: DayNumbers, cars: DayCars, tables: Tables | None = None) -> FlowResult:
    """Stack, lanes, loading and belt of a day, as they are if the cloth moves no car.

    One flow serves every rule for which `is_coupled` is false.
    """
    tables = tables or make_tables(site, day)
    table = make_car_table(cars)
    room = len(table.arrival_s)
    rows, belt = empty_rows(room), empty_belt(tables.line, table, room)
    last = line_of_day(tables.line, table, belt, empty_front(tables.line, room), rows)
    return FlowResult(tables, table, belt, rows, last, cars.crew)


def run(
    site: Site,
    day: DayNumbers,
    cars: DayCars,
    rule: Rule,
    changes: tuple[SetChange, ...] = (),
    *,
    detail: bool = False,
    given: FlowResult | None = None,
    tables: Tables | None = None,
) -> Run:
    """A day as arrays.

    Args:
        detail: also keep water and film of each zone of each car.
        given: the day's flow, used if the cloth moves no car.
        tables: the site's day as `make_tables` gives it, to spare making it anew.
    """
    tables = tables or (given.tables if given else make_tables(site, day))
    rules = make_rule_table(site, rule, changes, cars.crew)
    hours = ROOM_HOURS
    while True:
        if is_coupled(tables, changes):
            found = _whole(tables, cars, rules, hours, detail)
        else:
            given = given or flow(site, day, cars, tables)
            found = _cloth(given, rules, hours, detail)
        reached = int(found.wiped.places[w.HOUR])
        if reached < hours:
            return found
        hours = reached + 1


def _whole(tables: Tables, cars: DayCars, rules: RuleTable, hours: int, detail: bool) -> Run:
    table = make_car_table(cars)
    room = 2 * len(table.arrival_s)
    rows, wiped = empty_rows(room), _empty_wiped(room, hours, rules, detail)
    belt = empty_belt(tables.line, table, room + len(rules.changes_s))
    front = empty_front(tables.line, room)
    last = whole_day(tables.line, tables.cloth, table, rules, belt, front, rows, wiped)
    return Run(FlowResult(tables, table, belt, rows, last, cars.crew), wiped)


def _cloth(given: FlowResult, rules: RuleTable, hours: int, detail: bool) -> Run:
    tables = given.tables
    wiped = _empty_wiped(len(given.rows.order), hours, rules, detail)
    cloth_of_day(
        tables.line, tables.cloth, given.cars, rules, given.belt, given.rows, wiped, given.last_s
    )
    return Run(given, wiped)


def _empty_wiped(room: int, hours: int, rules: RuleTable, detail: bool) -> Wiped:
    return empty_wiped(
        room, hours, len(rules.bands), len(rules.watches), len(rules.changes_s), detail
    )


def figures(
    site: Site,
    day: DayNumbers,
    cars: DayCars,
    rule: Rule,
    changes: tuple[SetChange, ...] = (),
    *,
    given: FlowResult | None = None,
    tables: Tables | None = None,
    prices: Prices | None = None,
) -> DayFigures:
    """The figures of `sim.day.records` of a day, without an object a car; see `run`.

    Args:
        prices: of the site on that day, to spare working them out anew.
    """
    done = run(site, day, cars, rule, changes, given=given, tables=tables)
    line, wiped = done.flow, done.wiped
    of_day, by_hour = np.zeros(len(DAY) + len(COUNTS)), np.zeros((H_WAITED + 1, HOURS))
    figures_of_day(
        line.tables.line,
        line.tables.work,
        line.cars,
        line.belt,
        line.rows,
        wiped,
        line.last_s,
        np.empty((2, len(line.rows.order))),
        np.zeros(HALF_HOURS),
        of_day,
        by_hour,
    )
    found = dict(zip(DAY, of_day.tolist(), strict=False))
    counts = dict(zip(COUNTS, of_day[len(DAY) :].tolist(), strict=True))
    found["wear_cars"] = float(wiped.state[w.DAY_WEAR])
    found |= work_of(counts["work_s"], counts["overload_s"])
    prices = prices or prices_of(site, day)
    found |= money_of(prices, {**found, **counts}, max(line.last_s, day.close_s))
    return DayFigures(
        {name: float(found[name]) for name in FIGURES}, dict(zip(HOURLY, by_hour, strict=False))
    )


def closing(site: Site, day: DayNumbers, cars: DayCars, rule: Rule) -> tuple[float, float]:
    """When the wheel comes to rest [s], and the cloth's moisture then [kg/kg]."""
    done = run(site, day, cars, rule)
    spin_s = done.flow.tables.line.spin_s
    rest_s = max(done.flow.last_s, day.close_s) + spin_s
    return rest_s, float(done.wiped.state[w.MOISTURE])


def run_day(
    site: Site,
    day: DayNumbers,
    cars: DayCars,
    rule: Rule,
    changes: tuple[SetChange, ...] = (),
) -> DayResult:
    """One day as the SimPy model's records; site and conditions must have passed `sim.checks`."""
    done = run(site, day, cars, rule, changes, detail=True)
    line, wiped = done.flow, done.wiped
    mass = day.cloth.mass_kg
    closed = max(line.last_s, day.close_s)
    moisture = float(wiped.state[w.MOISTURE])
    reached = int(wiped.places[w.HOUR]) + 1
    return DayResult(
        _passes(done),
        [ClothHour(*row) for row in wiped.hours[:reached].tolist()],
        _stops(line.belt, closed + line.tables.line.spin_s),
        belt_travel(line.tables.line, line.cars, line.belt, line.last_s),
        day.opening_moisture * mass,
        moisture * mass,
        float(wiped.state[w.CARRIED_OFF]),
        int(wiped.places[w.SETS]),
        wiped.changed_s[: int(wiped.places[w.SETS])].tolist(),
        float(wiped.state[w.DAY_WEAR]),
        closed,
        closed + line.tables.line.spin_s,
        moisture,
    )


def _stops(belt: Belt, until_s: float) -> list[tuple[float, float]]:
    """Stops that have begun by a time; those that touch are one."""
    count = int(belt.laid[COUNT])
    found: list[tuple[float, float]] = []
    for start, end, speed in zip(
        belt.start_s[:count].tolist(),
        belt.end_s[:count].tolist(),
        belt.speed[:count].tolist(),
        strict=True,
    ):
        if speed == 0.0 and start <= until_s:
            found.append((start, end))
    return found


def _passes(done: Run) -> list[CarPass]:
    rows, wiped, cars = done.flow.rows, done.wiped, done.flow.cars
    count = int(rows.counts[r.ROWS])
    kinds, lengths = cars.kind.tolist(), cars.length_m.tolist()
    sold = cars.sold_full.tolist()
    found = []
    for number, (times, line) in enumerate(
        zip(rows.times[:count].tolist(), rows.line[:count].tolist(), strict=True)
    ):
        car = line[r.CAR]
        one = CarPass(car, line[r.TURN], times[r.ARRIVAL], kinds[car], lengths[car], sold[car])
        found.append(one)
        one.lost = LOST[line[r.LOST]]
        if one.lost:
            continue
        one.lane, one.pay_start_s, one.paid_s = line[r.LANE], times[r.PAY_START], times[r.PAID]
        one.unblocked_s = times[r.UNBLOCKED]
        one.load_start_s, one.loaded_s = times[r.LOAD_START], times[r.LOADED]
        one.pusher, one.pushers_apart = line[r.PUSHER], line[r.APART]
        one.caught_s, one.wheel_s, one.exit_s = times[r.CAUGHT], times[r.HOOD], times[r.EXIT]
        marks = wiped.marks[number].tolist()
        one.reduced, one.unwiped = bool(marks[r.REDUCED]), bool(marks[r.UNWIPED])
        one.cloth_set = marks[r.SET]
        one.damp, one.rear_wet = bool(marks[r.DAMP]), bool(marks[r.REAR_WET])
        one.fate = FATES[marks[r.FATE]]
        one.moisture_before, one.moisture_after, one.wear_cars = wiped.moisture[number].tolist()
        values = wiped.detail[number].tolist()
        one.water_kg, one.film_before, one.film_left = (
            (values[at], values[at + 1], values[at + 2], values[at + 3])
            for at in (r.WATER, r.FILM, r.REMAINS)
        )
    return found


def tallies(
    site: Site,
    day: DayNumbers,
    cars: DayCars,
    rules: Sequence[Rule],
    changes: tuple[SetChange, ...] = (),
    *,
    given: FlowResult | None = None,
    tables: Tables | None = None,
) -> Floats:
    """What a search needs of many rules on one day: shape (rules, len(TALLY)), see `many`.

    Equal to what `figures` says of each; arguments as for `run`.
    """
    tables = tables or (given.tables if given else make_tables(site, day))
    book = make_rule_book(site, rules, cars.crew, changes)
    found, halves = np.zeros((len(rules), len(TALLY))), np.zeros(HALF_HOURS)
    most = np.diff(book.starts, axis=0).max(axis=0).tolist()
    bands, watches = most[2], most[4]
    if is_coupled(tables, changes):
        table = make_car_table(cars)
        room = 2 * len(table.arrival_s)
        rows, wiped = empty_rows(room), empty_wiped(room, 0, bands, watches, len(changes), False)
        belt = empty_belt(tables.line, table, room + len(changes))
        front = empty_front(tables.line, room)
        whole_of_rules(
            tables.line, tables.cloth, tables.work, table, book, belt, front, rows, wiped,
            halves, found,
        )  # fmt: skip
        return found
    line = given or flow(site, day, cars, tables)
    wiped = empty_wiped(len(line.rows.order), 0, bands, watches, len(changes), False)
    cloth_of_rules(
        tables.line, tables.cloth, tables.work, line.cars, book, line.belt, line.rows, wiped,
        line.last_s, halves, found,
    )  # fmt: skip
    return found


def foresight(given: FlowResult, site: Site, points: int) -> Nodes:
    """What each car's wipe does to the cloth of a day, for `plan_of_day`; see `many`.

    For days on which the cloth moves no car and no dry set is put on.

    Args:
        points: moistures at which each car's maps are worked out, at least 2.
    """
    tables, rows = given.tables, given.rows
    if tables.couples:
        raise ValueError("re-washes move cars: the day has no line that holds for every plan")
    nodes = empty_nodes(int(rows.counts[r.ON_BELT]), points)
    book = make_rule_book(site, (FULL, REDUCED), given.crew)
    wiped = empty_wiped(len(rows.order), 0, 0, 0, 0, True)
    nodes_of_day(
        tables.line, tables.cloth, given.cars, book, given.belt, rows, wiped, given.last_s, nodes
    )
    return nodes


def best_of_plans(nodes: Nodes, gain: Floats, price: Floats, cells: int) -> tuple[float, int]:
    """Most value of any plan of a day, and its damp cars; see `many.best_plan`."""
    if not len(price):
        return 0.0, 0
    room = np.empty((3, 2, 2 * cells))
    found = plan_of_day(nodes, gain, price, room[0], room[1], room[2])
    return float(found), int(room[2, 0, 0])


def warm() -> None:
    """Run a short day each way; what is compiled is kept on disk for every later process."""
    conditions = Conditions((6.0,) * 24, (20.0,) * 24, (0.5,) * 24, 0.3)
    for rewashed in (0.0, 0.1):
        site = Site("warm").with_values({"damp_rewash_share": rewashed, "close_h": 9.0})
        day, cars = prepare_day(site, conditions), make_cars(DayDraw(1), site, conditions)
        figures(site, day, cars, FULL)
        run_day(site, day, cars, FULL)
        tallies(site, day, cars, [FULL])
    nodes = foresight(flow(site.with_values({"damp_rewash_share": 0.0}), day, cars), site, 2)
    best_of_plans(nodes, np.zeros((len(nodes.low), 2)), np.zeros(len(nodes.low)), 2)

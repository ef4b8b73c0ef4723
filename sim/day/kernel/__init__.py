"""The same day as the SimPy model, compiled: an event loop over the same cars and numbers.

A day is run from site, cars and rule, and turned into records, figures or tallies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.day.crew import CrewDay
from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.figures import FIGURES, HALF_HOURS, HOURLY, Prices, money_of, prices_of
from sim.day.kernel import tables as r
from sim.day.kernel.hands import PLAN_TALLY, HandPlans
from sim.day.kernel.line import empty_belt, empty_front
from sim.day.kernel.many import TALLY, Nodes, empty_nodes, make_rule_book
from sim.day.kernel.stats import BY_HOUR, DAY
from sim.day.kernel.tables import (
    Belt,
    Day,
    Floats,
    LineRows,
    Tables,
    Wiped,
    empty_rows,
    empty_wiped,
    make_car_table,
    make_tables,
)
from sim.day.kernel.tree import empty_tree
from sim.day.kernel.wheel import make_rule_table
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
from sim.day.rules import FULL, REDUCED, Rule, SetChange, parse_rule, stops_belt, watches
from sim.day.setup import DayNumbers, prepare_day
from sim.inputs import Conditions, Site

LOST = ("", FULL_STACK, IMPATIENT)
NO_PLANS = HandPlans(np.zeros(1), np.zeros((0, 1), np.int64))
"""No timetable of finishers beside the site's own."""
FATES = ("", LEFT, FINISHED, REWASHED)
ROOM_HOURS = 36
"""Clock hours that a day is given at first; a day that runs on longer is run again with more."""
BARE = empty_wiped(0, 0, (0, 0, 0))
"""The cloth's part of a day of which the line alone is computed."""
UNUSED: Any = None
"""In place of a part of a day that a function has no use for: handing over an array takes longer
than many a step."""


@dataclass(frozen=True, slots=True)
class FlowResult:
    """The line of a day, for any number of rules.

    Attributes:
        tables: what it was made from.
        day: what came out, without the cloth.
        last_s: when the last thing happened [s].
        crew: the crew of the day.
    """

    tables: Tables
    day: Day
    last_s: float
    crew: CrewDay

    @property
    def rows(self) -> LineRows:
        """The passes of the day."""
        return self.day.rows


@dataclass(frozen=True, slots=True)
class Run:
    """A whole day as arrays: the line, and the cloth on it."""

    flow: FlowResult
    wiped: Wiped

    @property
    def day(self) -> Day:
        """Both together."""
        return self.flow.day._replace(wiped=self.wiped)


def is_coupled(tables: Tables, changes: tuple[SetChange, ...]) -> bool:
    """Whether the cloth moves cars whatever the rule: by re-washes, or by changes of set for which
    cars wait. A rule of its own may stop the belt as well (`rules.stops_belt`)."""
    return tables.couples or (tables.cloth.cars_wait and bool(changes))


def _morning(tables: Tables, cars: DayCars, turns: int, wiped: Wiped) -> Day:
    """A day before anything has happened, with room for so many passes of each car."""
    line, cloth, work, hands, _ = tables
    table = make_car_table(cars)
    room = turns * len(table.arrival_s)
    weighings = room if len(wiped.watches) else 0
    belt = empty_belt(line, table, room + len(wiped.changed_s) + weighings)
    front, rows = empty_front(line, room), empty_rows(room)
    return Day(line, cloth, work, hands, table, belt, front, rows, wiped)


def flow(site: Site, day: DayNumbers, cars: DayCars, tables: Tables | None = None) -> FlowResult:
    """Stack, lanes, loading and belt of a day, as they are if the cloth moves no car.

    One flow serves every rule for which `is_coupled` is false and that does not stop the belt.
    """
    from sim.day.kernel.compile import line_of_day

    tables = tables or make_tables(site, day)
    made = _morning(tables, cars, 1, BARE)
    last_s = line_of_day(made._replace(cloth=UNUSED, work=UNUSED, hands=UNUSED, wiped=UNUSED))
    return FlowResult(tables, made, last_s, cars.crew)


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
    from sim.day.kernel.compile import cloth_of_day, whole_day

    tables = tables or (given.tables if given else make_tables(site, day))
    rules = make_rule_table(site, rule, changes, cars.crew)
    kept = len(rules.bands), len(rules.watches), len(changes)
    hours = ROOM_HOURS
    while True:
        if is_coupled(tables, changes) or rules.weighs:
            wiped = empty_wiped(2 * len(cars.arrival_s), hours, kept, detail=detail)
            made = _morning(tables, cars, 2, wiped)
            last_s = whole_day(made._replace(work=UNUSED), rules)
            done = Run(FlowResult(tables, made, last_s, cars.crew), wiped)
        else:
            given = given or flow(site, day, cars, tables)
            done = Run(given, empty_wiped(len(given.rows.order), hours, kept, detail=detail))
            cloth_of_day(done.day._replace(work=UNUSED, front=UNUSED), rules, given.last_s)
        reached = int(done.wiped.places[r.HOUR])
        if reached < hours:
            return done
        hours = reached + 1


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
    from sim.day.kernel.compile import figures_of_day

    done = run(site, day, cars, rule, changes, given=given, tables=tables)
    last_s, room = done.flow.last_s, np.empty((2, len(done.flow.rows.order)))
    of_day, by_hour = np.zeros(len(DAY)), np.zeros((len(BY_HOUR), r.HOURS))
    made = done.day._replace(front=UNUSED, hands=UNUSED)
    figures_of_day(made, last_s, room, np.zeros((2, HALF_HOURS)), of_day, by_hour)
    counts = dict(zip(DAY, of_day.tolist(), strict=True))
    counts["wear_cars"] = float(done.wiped.state[r.DAY_WEAR])
    counts |= work_of(counts["work_s"], counts["overload_s"])
    counts |= money_of(prices or prices_of(site, day), counts, max(last_s, day.close_s))
    return DayFigures(
        {name: float(counts[name]) for name in FIGURES}, dict(zip(HOURLY, by_hour, strict=False))
    )


def closing(
    site: Site,
    day: DayNumbers,
    cars: DayCars,
    rule: Rule,
    changes: tuple[SetChange, ...] = (),
    *,
    tables: Tables | None = None,
) -> tuple[float, float]:
    """When the wheel comes to rest [s], and the cloth's moisture then [kg/kg]; see `run`."""
    done = run(site, day, cars, rule, changes, tables=tables)
    rest_s = max(done.flow.last_s, day.close_s) + done.day.line.spin_s
    return rest_s, float(done.wiped.state[r.MOISTURE])


def run_day(
    site: Site, day: DayNumbers, cars: DayCars, rule: Rule, changes: tuple[SetChange, ...] = ()
) -> DayResult:
    """One day as the SimPy model's records; site and conditions must have passed `sim.checks`."""
    from sim.day.kernel.compile import belt_travel

    done = run(site, day, cars, rule, changes, detail=True)
    wiped, last_s = done.wiped, done.flow.last_s
    closed_s = max(last_s, day.close_s)
    rest_s = closed_s + done.day.line.spin_s
    moisture, sets = float(wiped.state[r.MOISTURE]), int(wiped.places[r.SETS])
    reached = int(wiped.places[r.HOUR]) + 1
    return DayResult(
        passes=_passes(done),
        hours=[ClothHour(*row) for row in wiped.hours[:reached].tolist()],
        stops=_stops(done.day.belt, rest_s),
        travel_m=belt_travel(done.day, 0, last_s),
        start_kg=day.opening_moisture * day.cloth.mass_kg,
        end_kg=moisture * day.cloth.mass_kg,
        carried_off_kg=float(wiped.state[r.CARRIED_OFF]),
        sets_changed=sets,
        changed_s=wiped.changed_s[:sets].tolist(),
        wear_cars=float(wiped.state[r.DAY_WEAR]),
        closed_s=closed_s,
        rest_s=rest_s,
        closing_moisture=moisture,
    )


def _stops(belt: Belt, until_s: float) -> list[tuple[float, float]]:
    """Stops that have begun by a time; those that touch are one."""
    count = int(belt.laid[r.COUNT])
    stands = (belt.speed[:count] == 0.0) & (belt.start_s[:count] <= until_s)
    starts, ends = belt.start_s[:count][stands], belt.end_s[:count][stands]
    return list(zip(starts.tolist(), ends.tolist(), strict=True))


def _passes(done: Run) -> list[CarPass]:
    rows, wiped, cars = done.flow.rows, done.wiped, done.day.cars
    count = int(rows.counts[r.ROWS])
    kinds, lengths, sold = cars.kind.tolist(), cars.length_m.tolist(), cars.sold_full.tolist()
    passes = []
    lines = zip(rows.times[:count].tolist(), rows.line[:count].tolist(), strict=True)
    for number, (times, line) in enumerate(lines):
        car = line[r.CAR]
        one = CarPass(car, line[r.TURN], times[r.ARRIVAL], kinds[car], lengths[car], sold[car])
        passes.append(one)
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
        one.damp = bool(marks[r.DAMP])
        one.roof_wet, one.rear_wet = bool(marks[r.ROOF_WET]), bool(marks[r.REAR_WET])
        one.fate = FATES[marks[r.FATE]]
        one.finish_s, one.finished_s = wiped.hands[number, r.BEGUN :].tolist()
        moisture = wiped.moisture[number].tolist()
        one.moisture_before, one.moisture_after, one.wear_cars, one.looked_s = moisture
        values = wiped.detail[number].tolist()
        one.water_kg, one.film_before, one.film_left = (
            (values[at], values[at + 1], values[at + 2], values[at + 3])
            for at in (r.WATER, r.FILM, r.REMAINS)
        )
    return passes


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
    return tallies_by_hands(site, day, cars, rules, NO_PLANS, changes, given=given, tables=tables)[
        0
    ]


def tallies_by_hands(
    site: Site,
    day: DayNumbers,
    cars: DayCars,
    rules: Sequence[Rule],
    plans: HandPlans,
    changes: tuple[SetChange, ...] = (),
    *,
    given: FlowResult | None = None,
    tables: Tables | None = None,
) -> tuple[Floats, Floats]:
    """The same, and what becomes of each rule's damp cars by each of many timetables of finishers:
    shape (rules, plans, len(PLAN_TALLY)), see `hands`.
    """
    from sim.day.kernel.compile import (
        cloth_of_rules,
        cloth_together,
        whole_of_rules,
        whole_together,
    )

    tables = tables or (given.tables if given else make_tables(site, day))
    coupled = is_coupled(tables, changes)
    found, halves = np.empty((len(rules), len(TALLY))), np.zeros((2, HALF_HOURS))
    by_hands = np.empty((len(rules), len(plans.people), len(PLAN_TALLY)))
    groups = [(coupled or stops_belt(rule, cars.crew), watches(rule)) for rule in rules]
    for moves, alone in dict.fromkeys(groups):
        places = [at for at, group in enumerate(groups) if group == (moves, alone)]
        book = make_rule_book(site, [rules[at] for at in places], cars.crew, changes)
        rows, most = np.zeros((len(places), len(TALLY))), np.diff(book.starts, axis=0).max(axis=0)
        hands = np.zeros((len(places), *by_hands.shape[1:]))
        kept = len(book.bands), int(most[4]), len(changes)
        if moves:
            made = _morning(tables, cars, 2, empty_wiped(2 * len(cars.arrival_s), 0, kept))
            if alone:
                whole_of_rules(made, book, halves, rows, plans, hands)
            else:
                tree = empty_tree(len(places), made.belt, made.front)
                whole_together(made, book, tree, halves, rows, plans, hands)
        else:
            given = given or flow(site, day, cars, tables)
            done = Run(given, empty_wiped(len(given.rows.order), 0, kept)).day
            if alone:
                cloth_of_rules(done, book, given.last_s, halves, rows, plans, hands)
            else:
                tree = empty_tree(len(places), done.belt, done.front)
                cloth_together(done, book, tree, given.last_s, halves, rows, plans, hands)
        found[places], by_hands[places] = rows, hands
    return found, by_hands


def foresight(given: FlowResult, site: Site, points: int) -> Nodes:
    """What each car's wipe does to the cloth of a day, for `plan_of_day`; see `many`.

    For days on which the cloth moves no car and no dry set is put on.

    Args:
        points: moistures at which each car's maps are worked out, at least 2.
    """
    from sim.day.kernel.compile import nodes_of_day

    if given.tables.couples:
        raise ValueError("re-washes move cars: the day has no line that holds for every plan")
    nodes = empty_nodes(int(given.rows.counts[r.ON_BELT]), points)
    book = make_rule_book(site, (FULL, REDUCED), given.crew)
    done = Run(given, empty_wiped(len(given.rows.order), 0, (0, 0, 0), detail=True))
    nodes_of_day(done.day, book, given.last_s, nodes)
    return nodes


def best_of_plans(
    nodes: Nodes, gain: Floats, price: Floats, cells: int, zones: Floats | None = None
) -> tuple[float, int]:
    """Most value of any plan of a day, and its damp cars; see `many.best_plan`.

    Args:
        zones: prices of a wet roof and rear by car; None: nobody minds them.
    """
    from sim.day.kernel.compile import plan_of_day

    if not len(price):
        return 0.0, 0
    room = np.empty((3, 2, 2 * cells))
    zones = np.zeros((len(price), 2)) if zones is None else zones
    found = plan_of_day(nodes, gain, price, zones, room[0], room[1], room[2])
    return float(found), int(room[2, 0, 0])


def warm() -> None:
    """Run a short day each way; what is compiled is kept on disk for every later process."""
    conditions = Conditions((6.0,) * 24, (20.0,) * 24, (0.5,) * 24, 0.3)
    for rewashed in (0.0, 0.1):
        site = Site("warm").with_values({"damp_rewash_share": rewashed, "close_h": 9.0})
        day, cars = prepare_day(site, conditions), make_cars(DayDraw(1), site, conditions)
        figures(site, day, cars, FULL)
        run_day(site, day, cars, FULL)
        tallies(site, day, cars, [FULL, parse_rule("crew cars 9-3")])
    nodes = foresight(flow(site.with_values({"damp_rewash_share": 0.0}), day, cars), site, 2)
    best_of_plans(nodes, np.zeros((len(nodes.low), 2)), np.zeros(len(nodes.low)), 2)

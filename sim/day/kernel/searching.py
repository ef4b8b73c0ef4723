"""Many wiping rules on one compiled day, and what perfect foresight could do with it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.day.draw import DayCars
from sim.day.kernel import rows as r
from sim.day.kernel.belt import empty_belt
from sim.day.kernel.compile import cloth_of_rules, nodes_of_day, plan_of_day, whole_of_rules
from sim.day.kernel.days import FlowResult, flow, is_coupled
from sim.day.kernel.hands import HALF_HOURS
from sim.day.kernel.hindsight import Nodes, empty_nodes
from sim.day.kernel.line import empty_front
from sim.day.kernel.many import TALLY, make_rule_book
from sim.day.kernel.rows import empty_rows, empty_wiped
from sim.day.kernel.tables import Floats, Tables, make_car_table, make_tables
from sim.day.rules import FULL, REDUCED, Rule, SetChange
from sim.day.setup import DayNumbers
from sim.inputs import Site


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
    """What each car's wipe does to the cloth of a day, for `plan_of_day`; see `hindsight`.

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
    """Most value of any plan of a day, and its damp cars; see `hindsight.best_plan`."""
    if not len(price):
        return 0.0, 0
    room = np.empty((3, 2, 2 * cells))
    found = plan_of_day(nodes, gain, price, room[0], room[1], room[2])
    return float(found), int(room[2, 0, 0])

"""A day with something else about it, on the same draws: what advice is measured by.

A variant changes a drawn site after it was drawn, so that what it sets stays set; the evening
before stays what it was, so that the cloth opens equally wet unless the variant dries it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import MOST_POINTS, Shape, day_block
from sim.day.draw import DayDraw, make_cars
from sim.day.figures import HOURLY
from sim.day.kernel import figures, make_tables, tallies
from sim.day.rules import Rule, parse_changes
from sim.day.setup import prepare_day
from sim.day.spread import spread
from sim.decide.switching.search import SwitchQuestion, World, costs_of, open_cloth
from sim.decide.switching.wish import OUTCOMES
from sim.inputs import Conditions, Site, Value

Floats = NDArray[np.float64]
Told = Callable[[int, int], None]

RULES_A_JOB = 32
"""Rules that a worker runs at a time, counted over variants and days: below a tenth of a second."""
EVENINGS = 8
"""Evenings simulated for the moisture at opening where no input is drawn."""
WATER = ("water_taken_kg", "water_thrown_kg", "water_evaporated_kg")


def quiet(done: int, total: int) -> None:
    """Tells nobody of progress."""


@dataclass(frozen=True, slots=True)
class Variant:
    """What differs from the question's day.

    Attributes:
        changes: inputs by name; what they set holds whatever was drawn.
        conditions: another day; its opening moisture is not looked at.
        cloth: dry sets put on during the day; None: the question's.
        drier: share of the way from the moisture at opening to that of a dry set, 0 to 1.
    """

    changes: tuple[tuple[str, Value], ...] = ()
    conditions: Conditions | None = None
    cloth: str | None = None
    drier: float = 0.0


AS_IT_IS = Variant()
Cell = tuple[Variant, tuple[Rule, ...]]


@dataclass(frozen=True, slots=True)
class Draw:
    """A drawn site, by block and Sobol point, and the seed of its day."""

    block: int
    point: int
    day: tuple[int, ...]


def search_draws(question: SwitchQuestion, count: int, first: int = 0) -> list[Draw]:
    """Draws as the question's own search numbers them, from a number on."""
    found = []
    for number in range(first, first + count):
        block, point = divmod(number, MOST_POINTS)
        day = (question.seed, block, point) if question.drawn else (question.seed, number)
        found.append(Draw(block, point, day))
    return found


def crossed_draws(question: SwitchQuestion, shape: Shape, first_block: int) -> list[Draw]:
    """Drawn sites crossed with days, in blocks from `first_block` on: draws not yet seen.

    In order of (block, point, day); see `sim.day.blocks`.
    """
    return [
        Draw(
            first_block + block,
            point,
            (
                question.seed,
                first_block + day_block(block, point, day, shape.blocks),
                MOST_POINTS + day,
            ),
        )
        for block in range(shape.blocks)
        for point in range(shape.points)
        for day in range(shape.days)
    ]


def settled(question: SwitchQuestion) -> SwitchQuestion:
    """The question with its moisture at opening, where that is the same on every draw."""
    question = replace(question, among=None)
    if question.conditions.opening_moisture_kg_kg is not None or question.drawn:
        return question
    opened = open_cloth(question, question.middle, question.seed, days=EVENINGS)
    return replace(question, conditions=opened)


def outcomes(
    question: SwitchQuestion,
    cells: Sequence[Cell],
    draws: Sequence[Draw],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> Floats:
    """Outcomes of every rule of every cell on every draw; shape (rules, draws, OUTCOMES)."""
    return _table(question, cells, draws, executor, progress, _run, len(OUTCOMES))


def hours(
    question: SwitchQuestion,
    cells: Sequence[Cell],
    draws: Sequence[Draw],
    executor: Executor | None = None,
    progress: Told = quiet,
) -> dict[str, Floats]:
    """Figures by clock hour of every rule of every cell, shape (rules, draws, 24), by name.

    Beside `HOURLY`: ``highest`` [saturation] and ``limit``, the site's damp limit, both with the
    same value in every hour.
    """
    names = (*HOURLY, "highest", "limit")
    flat = _table(question, cells, draws, executor, progress, _run_hours, len(names) * 24)
    cube = flat.reshape(*flat.shape[:2], len(names), 24)
    return {name: cube[:, :, place] for place, name in enumerate(names)}


# ---- a worker ------------------------------------------------------------------------------------

Job = tuple[SwitchQuestion, Draw, tuple[Cell, ...]]


@lru_cache(maxsize=1)
def _opened_site(question: SwitchQuestion, block: int, point: int) -> tuple[Site, Conditions]:
    """A drawn site and the day as its cloth opens it; a worker keeps the last one."""
    site, conditions = question.drawn_site(block, point), question.conditions
    if conditions.opening_moisture_kg_kg is None and question.evening is not None:
        conditions = open_cloth(question, site, question.seed + block, days=1)
    return site, conditions


def _world(question: SwitchQuestion, draw: Draw, variant: Variant) -> World:
    site, conditions = _opened_site(question, draw.block, draw.point)
    dry = site.wear.dry_set_moisture_kg_kg
    opening = conditions.opening_moisture_kg_kg
    if opening is None or site.wear.dry_set_at_opening:
        opening = dry
    opening -= variant.drier * max(0.0, opening - dry)
    site = site.with_values(dict(variant.changes))
    opening = min(opening, site.wheel.holding_capacity_kg_kg)
    conditions = (variant.conditions or conditions).with_inputs(dict(variant.changes))
    conditions = replace(conditions, opening_moisture_kg_kg=opening)
    day = prepare_day(site, conditions)
    return World(site, day, make_cars(DayDraw(*draw.day), site, conditions), make_tables(site, day))


def _run(job: Job) -> Floats:
    question, draw, cells = job
    parts = []
    for variant, rules in cells:
        world = _world(question, draw, variant)
        site, day = world.site, world.day
        cloth = question.cloth if variant.cloth is None else variant.cloth
        changes = parse_changes(cloth, site.wear.sets_owned)
        found = tallies(site, day, world.cars, rules, changes, tables=world.tables)
        parts.append(np.column_stack([found, costs_of(site, day, found)]))
    return np.concatenate(parts)


def _run_hours(job: Job) -> Floats:
    question, draw, cells = job
    rows = []
    for variant, rules in cells:
        world = _world(question, draw, variant)
        cloth = question.cloth if variant.cloth is None else variant.cloth
        changes = parse_changes(cloth, world.site.wear.sets_owned)
        for rule in rules:
            found = figures(world.site, world.day, world.cars, rule, changes, tables=world.tables)
            highest = np.full(24, found.day["saturation_max"])
            limit = np.full(24, world.day.damp_limit)
            rows.append(np.concatenate([*(found.hours[name] for name in HOURLY), highest, limit]))
    return np.array(rows)


# ---- handing out ---------------------------------------------------------------------------------


def _table(
    question: SwitchQuestion,
    cells: Sequence[Cell],
    draws: Sequence[Draw],
    executor: Executor | None,
    progress: Told,
    run: Callable[[Job], Floats],
    width: int,
) -> Floats:
    question = settled(question)
    pieces = list(_pieces(cells))
    sizes = [sum(len(rules) for _, rules in piece) for piece in pieces]
    table = np.empty((sum(sizes), len(draws), width))
    jobs = ((question, draw, piece) for draw in draws for piece in pieces)
    total, done = table.shape[0] * table.shape[1], 0

    def told(pieces_done: int) -> None:
        nonlocal done
        done += sizes[(pieces_done - 1) % len(sizes)]
        progress(done, total)

    answers = spread(run, jobs, executor, told)
    for place in range(len(draws)):
        at = 0
        for size in sizes:
            table[at : at + size, place] = next(answers)
            at += size
    return table


def _pieces(cells: Sequence[Cell]) -> Iterator[tuple[Cell, ...]]:
    """Cells in their order, cut so that no piece has more than `RULES_A_JOB` rules."""
    piece: list[Cell] = []
    room = RULES_A_JOB
    for variant, rules in cells:
        at = 0
        while at < len(rules):
            part = rules[at : at + room]
            piece.append((variant, part))
            at, room = at + len(part), room - max(4, len(part))  # a variant's day takes time too
            if room <= 0:
                yield tuple(piece)
                piece, room = [], RULES_A_JOB
    if piece:
        yield tuple(piece)

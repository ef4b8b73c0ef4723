"""One engine for many days: sites drawn, their mornings opened, days run and read, side by side.

An `Experiment` is a day at a site with what is not known of the two; a `Draw` is one replication
of it, a drawn site and the seeds of its day; a `Variant` is what is different on that day. Each
replication is handed with some rules to a *reader*, which says what is kept of it. Scenarios of a
comparison, rules of a search, points of a map and seasons differ in these alone, and all of them
meet the same draws: differences are paired in the site and in the day. Pieces of that work are
spread over processes.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial
from itertools import groupby
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.day.blocks import MOST_POINTS
from sim.day.draw import DayCars, DayDraw, make_cars
from sim.day.drawn import Belief, Drawn, block_points, draw_site, drawn_names, level_points
from sim.day.figures import Prices, prices_of
from sim.day.kernel import FlowResult, Run, figures, flow, is_coupled
from sim.day.kernel import run as run_compiled
from sim.day.kernel import tallies as tallies_of
from sim.day.kernel import tallies_by_hands as by_hands_of
from sim.day.kernel.hands import HandPlans
from sim.day.kernel.tables import Tables, in_air_of, make_tables
from sim.day.night import EVENINGS, Night, PreviousDay, Rest
from sim.day.records import DayFigures
from sim.day.rules import FULL, Rule, SetChange, parse_changes
from sim.day.setup import DayNumbers, as_hung, in_other_air, prepare_day
from sim.inputs import Conditions, DemandSpread, Site, Value

Floats = NDArray[np.float64]
Changes = tuple[tuple[str, Value], ...]
Found = TypeVar("Found")
Piece = TypeVar("Piece")
Told = Callable[[int, int], None]

KEPT = 8
"""Variants whose prepared days, and sets of changes whose evenings, a drawn site keeps."""
RULES_A_PIECE = 192
"""Rules that a worker runs at a time, counted over variants: below a tenth of a second."""
AIRS = 32
"""Days of other air whose scalars a drawn site keeps: tipping points come back to the same ones."""
SITES_KEPT = 256
"""Drawn sites that a process keeps with their mornings, and their evenings: those that the
survivors of a search have at least."""
NO_CARS = (0.0,) * 24


def quiet(done: int, total: int) -> None:
    """Tells nobody of progress."""


# ---- what varies ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Draw:
    """One replication.

    Attributes:
        block, point: of the drawn site; 0 and 0 where none is drawn.
        day: seeds of its day.
        luck: quantile of the day's factor on demand, see `sim.day.draw.DayDraw`.
    """

    block: int
    point: int
    day: tuple[int, ...]
    luck: float | None = None

    def streams(self) -> DayDraw:
        """The day's standard variates."""
        return DayDraw(*self.day, luck=self.luck)


@dataclass(frozen=True, slots=True)
class Variant:
    """What differs from the experiment's day; it holds whatever was drawn of the site.

    Attributes:
        changes: inputs by name.
        conditions: another day; its opening moisture is not looked at unless `own_night`.
        cloth: dry sets put on during the day; None: the experiment's.
        drier: share of the way from the moisture at opening to that of a dry set, 0 to 1.
        own_night: whether the evening before was lived with the changes and the night had the air
            of these conditions; else the cloth opens as wet as it does without the variant.
    """

    changes: Changes = ()
    conditions: Conditions | None = None
    cloth: str | None = None
    drier: float = 0.0
    own_night: bool = False


AS_IT_IS = Variant()
Cell = tuple[Variant, tuple[Rule, ...]]


@dataclass(frozen=True, slots=True)
class Experiment:
    """What replications are drawn from; equal ones have equal days.

    Attributes:
        site: as it is.
        conditions: what the day brings. Without an opening moisture it comes from `evening`, and
            without that the day starts with a set put on dry.
        seed: root seed.
        evening_rule: wiping rule of the evening before.
        known: inputs that the site entered itself; the other guesses are drawn. None: none is.
        belief: what weighings leave of the guesses, from which they are drawn then.
        cloth: dry sets put on during the day, as text.
        with_level: whether the level of demand is drawn with each site; else it comes with the day.
        evenings: how many are simulated for each site.
        evening_a_block: whether each block has evenings of its own. Where sites are told from one
            another all have the same: luck would else be a part of what sites are.
    """

    site: Site
    conditions: Conditions
    seed: int
    evening: PreviousDay | None = None
    evening_rule: Rule = FULL
    known: frozenset[str] | None = None
    belief: Belief | None = None
    cloth: str = ""
    with_level: bool = False
    evenings: int = EVENINGS
    evening_a_block: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the inputs that are drawn."""
        return drawn_names(self.site, self.known, self.belief)

    @property
    def middle(self) -> Site:
        """The site with its guesses at their middle values, as far as weighings have told."""
        return self.site if self.belief is None else self.belief.middle(self.site)

    def points(self, block: int, count: int) -> Floats:
        """Quantiles at which the first sites of a block are drawn; shape (count, names)."""
        return _points(self.names, self.belief, self.seed, block, count)

    def drawn(self, block: int = 0, point: int = 0) -> Drawn:
        """The site, and the level of demand, at a point of a block; nothing where none is drawn."""
        if not (self.names or self.with_level):
            return Drawn(self.middle)
        asked = self.site, self.names, self.belief, self.seed, block, point
        return Drawn(_drawn_site(*asked), self.level(block, point))

    def level(self, block: int, point: int) -> float | None:
        """Quantile of the level of demand at a point of a block; None where it isn't drawn."""
        if not self.with_level:
            return None
        return float(level_points(_at_least(point + 1), self.seed, block)[point])

    def night(self, block: int) -> Night | None:
        """The night before, for sites of a block; None where no evening says how wet cloth is."""
        if self.evening is None or self.conditions.opening_moisture_kg_kg is not None:
            return None
        seed = self.seed + block if self.evening_a_block else self.seed
        return Night(self.evening, self.evening_rule, seed, self.evenings)

    def days(self, count: int) -> list[Draw]:
        """So many days of one site."""
        return [Draw(0, 0, (self.seed, number)) for number in range(count)]

    def at(self, block: int = 0, point: int = 0) -> DrawnSite:
        """One of the sites, with its mornings."""
        return DrawnSite(self.drawn(block, point), self.conditions, self.night(block))


def _at_least(count: int) -> int:
    """As many points of a block, or more, as are drawn well at once; they begin with the fewer."""
    return max(MOST_POINTS, 1 << (count - 1).bit_length())


def _points(
    names: tuple[str, ...], belief: Belief | None, seed: int, block: int, count: int
) -> Floats:
    return _quantiles(names, belief, seed, block, _at_least(count))[:count]


@lru_cache(maxsize=SITES_KEPT)
def _drawn_site(
    site: Site, names: tuple[str, ...], belief: Belief | None, seed: int, block: int, point: int
) -> Site:
    """Who hands out the pieces comes back to the same sites as well."""
    return draw_site(site, names, _points(names, belief, seed, block, point + 1)[point])


@lru_cache(maxsize=16)
def _quantiles(
    names: tuple[str, ...], belief: Belief | None, seed: int, block: int, count: int
) -> Floats:
    """Every site of a block needs them, and scrambling takes longer than a day."""
    found = block_points(names, belief if names else None, count, seed, block)
    found.flags.writeable = False
    return found


# ---- a site, its day, a replication --------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class PreparedDay:
    """A site's day made ready for any draw and any rule.

    Attributes:
        conditions: what it brings, whatever moisture it opens with.
        numbers: its scalars, with the moisture at which it opens.
    """

    site: Site
    conditions: Conditions
    numbers: DayNumbers
    tables: Tables
    prices: Prices

    def replication(self, streams: DayDraw) -> Replication:
        """The day with the cars of a draw."""
        return Replication(self, make_cars(streams, self.site, self.conditions))

    def sets(self, cloth: str) -> tuple[SetChange, ...]:
        """Dry sets put on during the day, from their text."""
        return parse_changes(cloth, self.site.wear.sets_owned)


def prepared_day(site: Site, conditions: Conditions, numbers: DayNumbers) -> PreparedDay:
    """A day with what follows from its scalars."""
    return PreparedDay(
        site, conditions, numbers, make_tables(site, numbers), prices_of(site, numbers)
    )


class Replication:
    """A prepared day with the cars that come; their line is computed once for all rules."""

    def __init__(self, of: PreparedDay, cars: DayCars) -> None:
        self.of, self.cars = of, cars
        self._line: FlowResult | None = None

    def line(self, sets: tuple[SetChange, ...] = ()) -> FlowResult | None:
        """Stack, lanes, loading and belt; None where the cloth moves cars."""
        if is_coupled(self.of.tables, sets):
            return None
        if self._line is None:
            self._line = flow(self.of.site, self.of.numbers, self.cars, self.of.tables)
        return self._line

    def run(self, rule: Rule, sets: tuple[SetChange, ...] = ()) -> Run:
        """The day under a rule, as arrays."""
        of = self.of
        return run_compiled(
            of.site, of.numbers, self.cars, rule, sets, given=self.line(sets), tables=of.tables
        )

    def figures(self, rule: Rule, sets: tuple[SetChange, ...] = ()) -> DayFigures:
        """The figures of the day under a rule."""
        of = self.of
        return figures(
            of.site, of.numbers, self.cars, rule, sets,
            given=self.line(sets), tables=of.tables, prices=of.prices,
        )  # fmt: skip

    def tallies(self, rules: Sequence[Rule], sets: tuple[SetChange, ...] = ()) -> Floats:
        """What a search needs of many rules, shape (rules, len(TALLY))."""
        of = self.of
        return tallies_of(
            of.site, of.numbers, self.cars, rules, sets, given=self.line(sets), tables=of.tables
        )

    def tallies_by_hands(
        self, rules: Sequence[Rule], plans: HandPlans, sets: tuple[SetChange, ...] = ()
    ) -> tuple[Floats, Floats]:
        """The same, and what becomes of damp cars by timetables of finishers."""
        of = self.of
        return by_hands_of(
            of.site, of.numbers, self.cars, rules, plans, sets,
            given=self.line(sets), tables=of.tables,
        )  # fmt: skip


class DrawnSite:
    """A site as it might be and the day that it expects, with its mornings and variants of it.

    What it keeps is bounded and never changes a figure.
    """

    def __init__(self, drawn: Drawn, conditions: Conditions, night: Night | None) -> None:
        self._drawn, self._expected, self._night = drawn, conditions, night
        self._air = replace(conditions, arrivals_per_h=NO_CARS)
        self._rest = lru_cache(maxsize=KEPT)(self._lived)
        self._opened = lru_cache(maxsize=KEPT)(self._open)
        self._base = lru_cache(maxsize=KEPT)(self._as_expected)
        self._numbers = lru_cache(maxsize=AIRS)(self._scalars)
        self.prepared = lru_cache(maxsize=KEPT)(self.prepare)

    def prepare(self, variant: Variant = AS_IT_IS) -> PreparedDay:
        """The day of a variant; `prepared` keeps the last ones."""
        changed = self._changed(variant.changes)
        conditions = variant.conditions or self._expected
        own = variant.own_night
        lived = self._changed(variant.changes if own else ())
        # how busy a day is makes no difference to how it opens
        air = replace(conditions, arrivals_per_h=NO_CARS)
        opens = (variant.changes, air) if own else ((), self._air)
        numbers, opening = self._opened(*opens)
        if not own and (variant.changes or variant.conditions):
            numbers = self._numbers(variant.changes, air)
        opening -= variant.drier * max(0.0, opening - lived.wear.dry_set_moisture_kg_kg)
        if changed.wear.dry_set_at_opening:
            opening = changed.wear.dry_set_moisture_kg_kg
        numbers = replace(numbers, opening_moisture=min(opening, numbers.cloth.holding))
        _, tables, prices = self._base(variant.changes)
        return PreparedDay(
            changed,
            self._drawn.day(conditions).with_inputs(dict(variant.changes)),
            numbers,
            in_air_of(tables, numbers),
            prices,
        )

    def replications(self, draw: Draw, variants: Iterable[Variant]) -> dict[Variant, Replication]:
        """The day of each variant on a draw; those of the last call are kept."""
        met, streams = _met(self, draw), None
        found = dict[Variant, Replication]()
        for variant in variants:
            one = met.days.get(variant)
            if one is None:
                of = self.prepared(variant)
                # air makes no difference to who comes
                asked = variant.changes, of.conditions.arrivals_per_h, of.conditions.spread
                if asked not in met.cars:
                    streams = streams or draw.streams()
                    met.cars[asked] = make_cars(streams, of.site, of.conditions)
                one = Replication(of, met.cars[asked])
            found[variant] = one
        met.days = found
        return found

    def _changed(self, changes: Changes) -> Site:
        site = self._drawn.site
        return as_hung(site.with_values(dict(changes)) if changes else site)

    def _open(self, changes: Changes, air: Conditions) -> tuple[DayNumbers, float]:
        """Scalars of a morning, and the moisture at which the cloth opens it [kg/kg]."""
        site, night, opening = self._changed(changes), self._night, air.opening_moisture_kg_kg
        numbers = self._base(changes)[0] if air == self._air else prepare_day(site, air)
        if site.wear.dry_set_at_opening:
            return numbers, site.wear.dry_set_moisture_kg_kg
        if night is not None:
            return numbers, night.opening_moisture(self._rest(night, changes), numbers)
        return numbers, site.wear.dry_set_moisture_kg_kg if opening is None else opening

    def _as_expected(self, changes: Changes) -> tuple[DayNumbers, Tables, Prices]:
        """A changed site in the expected air, however its cloth opens there."""
        site = self._changed(changes)
        numbers = prepare_day(site, self._air)
        return numbers, make_tables(site, numbers), prices_of(site, numbers)

    def _scalars(self, changes: Changes, air: Conditions) -> DayNumbers:
        numbers = self._base(changes)[0]
        return numbers if air == self._air else in_other_air(numbers, self._changed(changes), air)

    def _lived(self, night: Night, changes: Changes) -> Rest:
        return _rest_of(night, self._changed(changes))


@dataclass(slots=True)
class _Met:
    """The days of a draw that were asked for last, and the cars of all of them."""

    days: dict[Variant, Replication] = field(default_factory=dict)
    cars: dict[tuple[Changes, tuple[float, ...], DemandSpread], DayCars] = field(
        default_factory=dict
    )


@lru_cache(maxsize=1)
def _met(_site: DrawnSite, _draw: Draw) -> _Met:
    """Nothing yet; a process keeps what it met of the last draw alone: cars of a day take room."""
    return _Met()


@lru_cache(maxsize=SITES_KEPT)
def _rest_of(night: Night, site: Site) -> Rest:
    """One part of a study after the other comes back to the same sites."""
    return night.rest(site)


# ---- many of them --------------------------------------------------------------------------------

Reader = Callable[[Replication, tuple[Rule, ...], tuple[SetChange, ...]], Found]
"""What is kept of a replication under some rules; other processes can import it."""


def simulate(
    experiment: Experiment,
    cells: Sequence[Cell],
    draws: Sequence[Draw],
    read: Reader[Floats],
    executor: Executor | None = None,
    progress: Told = quiet,
    *,
    days: int = 1,
    rules: int = RULES_A_PIECE,
) -> Floats:
    """What is kept of every rule of every cell on every draw; shape (rules, draws, …).

    Args:
        read: gives an array with a row a rule.
        executor: runs pieces side by side; no figure depends on it.
        progress: told of runs done and in all, counted over rules; it may raise to give up.
        days: draws of one site that a piece may have; rules: rules that it may have on each, a
            tenth of a second in all.
    """
    pieces, packs = list(_pieces(cells, rules)), list(_packs(draws, days))
    sizes = [sum(len(row) for _, row in piece) for piece in pieces]
    total = sum(sizes) * len(draws)
    spans = [len(pack) * size for pack in packs for size in sizes]
    done = np.cumsum([0, *spans]).tolist()
    jobs = _jobs(experiment, packs, pieces)
    found = parallel_map(
        partial(_run, read), jobs, executor, lambda many: progress(done[many], total)
    )
    table: Floats | None = None
    first_draw = 0
    for pack in packs:
        first_rule = 0
        for size in sizes:
            rows = next(found)
            if table is None:
                table = np.empty((sum(sizes), len(draws), *rows.shape[2:]))
            table[first_rule : first_rule + size, first_draw : first_draw + len(pack)] = rows
            first_rule += size
        first_draw += len(pack)
    return np.empty((sum(sizes), len(draws), 0)) if table is None else table


def each(
    experiment: Experiment,
    rules: tuple[Rule, ...],
    draws: Sequence[Draw],
    read: Reader[Found],
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> Iterator[Found]:
    """What is kept of each draw under some rules; `told` hears how many draws are done."""
    jobs = _jobs(experiment, [(draw,) for draw in draws], [((AS_IT_IS, rules),)])
    return parallel_map(partial(_run_one, read), jobs, executor, told)


def _pieces(cells: Sequence[Cell], most: int) -> Iterator[tuple[Cell, ...]]:
    """Cells in their order, cut so that no piece has more than so many rules."""
    piece: list[Cell] = []
    room = most
    for variant, rules in cells:
        at = 0
        while at < len(rules):
            part = rules[at : at + room]
            piece.append((variant, part))
            at, room = at + len(part), room - max(4, len(part))  # a variant's day takes time too
            if room <= 0:
                yield tuple(piece)
                piece, room = [], most
    if piece:
        yield tuple(piece)


def _packs(draws: Sequence[Draw], most: int) -> Iterator[tuple[Draw, ...]]:
    """Draws in their order, those of one site together, cut so that none has more than so many."""
    for _, same in groupby(draws, key=lambda draw: (draw.block, draw.point)):
        site = tuple(same)
        for at in range(0, len(site), most):
            yield site[at : at + most]


@dataclass(frozen=True, slots=True)
class _Job:
    """Draws of one site, as `DrawnSite` is made of it, with some of the cells."""

    site: tuple[Drawn, Conditions, Night | None]
    cloth: str
    draws: tuple[Draw, ...]
    cells: tuple[Cell, ...]


def _jobs(
    experiment: Experiment, packs: Sequence[tuple[Draw, ...]], pieces: Sequence[tuple[Cell, ...]]
) -> Iterator[_Job]:
    for draws in packs:
        block, point = draws[0].block, draws[0].point
        site = experiment.drawn(block, point), experiment.conditions, experiment.night(block)
        for cells in pieces:
            yield _Job(site, experiment.cloth, draws, cells)


@lru_cache(maxsize=SITES_KEPT)
def _here(drawn: Drawn, conditions: Conditions, night: Night | None) -> DrawnSite:
    """The site of a piece; a worker keeps the last ones, to which rounds of a search come back."""
    return DrawnSite(drawn, conditions, night)


def _run(read: Reader[Floats], job: _Job) -> Floats:
    rows = [np.concatenate(list(_of_draw(read, job, draw))) for draw in job.draws]
    return np.stack(rows, axis=1)


def _run_one(read: Reader[Found], job: _Job) -> Found:
    (draw,) = job.draws
    (found,) = _of_draw(read, job, draw)
    return found


def _of_draw(read: Reader[Found], job: _Job, draw: Draw) -> Iterator[Found]:
    bare = [replace(variant, cloth=None) for variant, _ in job.cells]
    met = _here(*job.site).replications(draw, bare)
    for (variant, rules), plain in zip(job.cells, bare, strict=True):
        one, cloth = met[plain], job.cloth if variant.cloth is None else variant.cloth
        yield read(one, rules, one.of.sets(cloth))


# ---- spread over processes: in order, few handed out at a time, soon given up -------------------

PENDING = 16
"""Pieces handed out at once: other work for the same processes waits for no more than these."""


def parallel_map(
    work: Callable[[Piece], Found],
    pieces: Iterable[Piece],
    executor: Executor | None = None,
    told: Callable[[int], None] = lambda done: None,
) -> Iterator[Found]:
    """What `work` makes of each piece, in the order of the pieces; no figure depends on who ran it.

    Whatever ends the work early, an exception of `told` included, takes back every piece that no
    process has begun; so a caller gives up by raising there, and no more than the pieces already
    handed out are computed in vain.

    Args:
        work: a function that other processes can import; pieces of a tenth of a second or less
            let go of the processors soon.
        executor: runs pieces side by side; None runs them here, one after another.
        told: told of each piece how many are done, before its result is given out.
    """
    waiting: deque[Future[Found]] = deque()
    results = (
        map(work, pieces) if executor is None else _handed_out(work, pieces, executor, waiting)
    )
    try:
        for done, result in enumerate(results, 1):
            told(done)
            yield result
    finally:
        for future in waiting:
            future.cancel()


def _handed_out(
    work: Callable[[Piece], Found],
    pieces: Iterable[Piece],
    executor: Executor,
    waiting: deque[Future[Found]],
) -> Iterator[Found]:
    for piece in pieces:
        if len(waiting) >= PENDING:
            yield waiting.popleft().result()
        waiting.append(executor.submit(work, piece))
    while waiting:
        yield waiting.popleft().result()

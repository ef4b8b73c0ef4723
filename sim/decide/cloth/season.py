"""A year of expected days, each by always full and as planned, and what else helps on peak days.

Every day is what `sim.decide.compare` makes of the same scenarios, replications and seed with the
guesses at their middle values; only what a season needs of each simulated day is kept. All days
meet the same draws, so the luck of a year is told from the spread of each day, day for day
independent, and the run error from the replications, which go through the whole year.

A few peak days stand for all of them. Each option lives through the same draws at the same drawn
sites as the planned days, so what it changes is paired, and its uncertainty is that of what is
not known of the site; see `sim.decide.how_sure`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from sim.checks import check_conditions
from sim.day.blocks import Shape, take_apart
from sim.day.draw import PURPOSES, DayDraw
from sim.day.drawn import Belief
from sim.day.engine import Experiment, parallel_map
from sim.day.figures import FIGURES, OF_COST, PairedDifference, Prices, money_of
from sim.day.kernel.many import TALLY
from sim.day.night import PreviousDay
from sim.day.replicate import matters, mean_interval, scenario_cell
from sim.day.rules import parse_rule
from sim.decide.cloth.answer import Limit, Option, OptionRow, cheapest
from sim.decide.compare import Question, check_question
from sim.decide.how_sure import contests_of, run_blocks, site_difference
from sim.decide.switching.at_exit import all_day, entered
from sim.errors import InputError
from sim.inputs import (
    AGENT_FILM,
    SECOND,
    Conditions,
    Scenario,
    Site,
    Steps,
    Value,
    has_second_cloth,
)
from sim.units import show_clock

Floats = NDArray[np.float64]
KEPT = (
    "cars_washed", "cars_lost", "left_damp", "left_damp_share", "full_share", "finished_cars",
    "rewashed_cars", "wear_cars", "margin", "cost", "takings", "cost_washing", *OF_COST,
)  # fmt: skip
"""Figures of a day that a season keeps, of those in `sim.day.figures`."""
SUMS = tuple(name for name in KEPT if not name.endswith("_share"))
"""Those that add up over days."""
RULES = ("full", "planned")
"""The two rules of each day: always full, and the one that is planned."""
FULL, PLANNED = 0, 1
"""Their places."""


@dataclass(frozen=True, slots=True)
class SeasonDay:
    """An open day of a season.

    Attributes:
        conditions: what it is expected to bring.
        evening: the last open day before; None where there is none.
        planned: rule, dry sets and changes that are planned for it.
    """

    day: date
    conditions: Conditions
    evening: PreviousDay | None
    planned: Scenario

    @property
    def cars(self) -> float:
        """Cars expected."""
        return sum(self.conditions.arrivals_per_h)

    def scenarios(self) -> tuple[Scenario, Scenario]:
        """Always full and as planned, on the same settings and sets."""
        return replace(self.planned, name=RULES[0], rule="full"), self.planned


@dataclass(frozen=True, slots=True)
class SeasonQuestion:
    """Everything that a season's figures depend on.

    Attributes:
        site: with its guesses at their middle values.
        days: open days in order; closed ones are left out.
        replications: simulated days of each day and rule; seed: root seed.
    """

    site: Site
    days: tuple[SeasonDay, ...]
    replications: int
    seed: int

    def of_day(self, at: int) -> Question:
        """The question that `compare` would be asked of a day."""
        one = self.days[at]
        return Question(
            self.site, one.conditions, one.scenarios(), self.replications, self.seed, one.evening
        )


@dataclass(frozen=True, slots=True)
class SeasonRun:
    """Figures of all days: by name of `KEPT`, shape (days, rules, replications); `lived` of them
    were simulated."""

    asked: SeasonQuestion
    figures: dict[str, Floats]
    lived: int

    def means(self, name: str, rule: int) -> Floats:
        """Expected value of a figure on each day, days without it left out; shape (days,)."""
        return _mean(self.figures[name][:, rule])

    def luck(self, name: str, rule: int) -> Floats:
        """Standard deviation of a figure between single days, on each day; shape (days,)."""
        values = self.figures[name][:, rule]
        if values.shape[1] < 2:
            return np.zeros(len(values))
        return np.asarray(np.nanstd(values, axis=1, ddof=1))

    def total(self, name: str, rule: int) -> tuple[float, float, float]:
        """Expected total of a figure over the season with its run error: mean, low, high."""
        return mean_interval(self.figures[name][:, rule].sum(axis=0))


def _mean(values: Floats) -> Floats:
    seen = ~np.isnan(values)
    total = np.where(seen, values, 0.0).sum(axis=-1)
    count = seen.sum(axis=-1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def run_season(
    asked: SeasonQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    draws: tuple[int, ...] | None = None,
) -> SeasonRun:
    """Simulate every day of a season, side by side by an executor, on which no figure depends.

    Args:
        draws: of the replications, those that are simulated; all if not given.

    Raises:
        InputError: with every problem of the first day that has any.
    """
    _check(asked)
    total = len(asked.days)
    questions = (asked.of_day(at) for at in range(total))
    work = partial(run_date, draws=draws)
    rows = list(parallel_map(work, questions, executor, lambda done: progress(done, total)))
    size = (total, len(RULES), asked.replications if draws is None else len(draws))
    whole = np.stack(rows, axis=1) if rows else np.empty((len(KEPT), *size))
    return SeasonRun(asked, dict(zip(KEPT, whole, strict=True)), total)


FIRST_REPLICATIONS, STAND_FOR = 4, 4
"""Of a first form: simulated days of each day and rule, and days for which one of them stands."""


def first_season(asked: SeasonQuestion, executor: Executor | None = None) -> SeasonRun:
    """A first form of a season: of each `STAND_FOR` days alike the middle one is simulated, on few
    of the draws; the others have its figures, sums of them by their cars.

    Days are alike that lie next to each other in their month by expected cars, and have one plan.
    The draws are spread evenly over all of them by how busy they make a day.

    Raises:
        InputError: with every problem of the first of these days that has any.
    """
    count = min(FIRST_REPLICATIONS, asked.replications)
    luck = [DayDraw(asked.seed, number).take("day", 1)[0] for number in range(asked.replications)]
    ordered = np.argsort(luck, kind="stable").tolist()
    draws = tuple(ordered[int((i + 0.5) * len(ordered) / count)] for i in range(count))
    middle, chosen = _alike(asked.days)
    days = [asked.days[at] for at in chosen]
    run = run_season(replace(asked, days=tuple(days)), executor, draws=draws)
    cars = np.array([one.cars for one in asked.days])
    more = (cars / np.array([one.cars for one in days])[middle])[:, None, None]
    figures = {
        name: values[middle] * more if name in SUMS else values[middle]
        for name, values in run.figures.items()
    }
    return SeasonRun(replace(asked, replications=count), figures, len(days))


def _alike(days: Sequence[SeasonDay]) -> tuple[NDArray[np.int64], list[int]]:
    """Which of the days chosen stands for each day, shape (days,), and which they are."""
    groups: list[list[int]] = []
    kinds: dict[tuple[int, int, str], list[int]] = {}
    for at, one in enumerate(days):
        key = (one.day.year, one.day.month, repr(one.planned))
        kinds.setdefault(key, []).append(at)
    for alike in kinds.values():
        ordered = sorted(alike, key=lambda at: (days[at].cars, at))
        groups += [ordered[i : i + STAND_FOR] for i in range(0, len(ordered), STAND_FOR)]
    stands = np.zeros(len(days), dtype=np.int64)
    for number, group in enumerate(groups):
        stands[group] = number
    return stands, [group[len(group) // 2] for group in groups]


def _check(asked: SeasonQuestion) -> None:
    """Raise InputError with every problem of the first day that has any; what days share is looked
    at once."""
    told: list[Scenario] = []
    for at, one in enumerate(asked.days):
        if one.planned in told:
            problems = check_conditions(asked.site, one.conditions)
        else:
            problems = check_question(asked.of_day(at))
            told.append(one.planned)
        if problems:
            raise InputError(problems)


def run_date(question: Question, draws: tuple[int, ...] | None = None) -> Floats:
    """Figures of one day under each scenario: shape (KEPT, scenarios, replications).

    Scenarios must differ in their rule alone; of the replications those in `draws`, if given.
    """
    numbers = tuple(range(question.replications)) if draws is None else draws
    day = question.first_day
    sets = day.sets(question.scenarios[0].cloth)
    asked = [rule for one in question.scenarios for rule in scenario_cell(day.site, one)[1]]
    rules = tuple(dict.fromkeys(asked))
    places = [rules.index(rule) for rule in asked]
    found = np.empty((len(KEPT), len(asked), len(numbers)))
    expected = sum(question.conditions.arrivals_per_h)
    for at, number in enumerate(numbers):
        rows = day.replication(day_draw(question.seed, number, expected)).tallies(rules, sets)
        kept = np.array([list(_figures(day.prices, row)) for row in rows.tolist()])
        found[:, :, at] = kept[places].T
    return found


ROOM = 3_072
"""Variates of each purpose that are drawn at once; a day with more cars draws its own."""


@lru_cache(maxsize=64)
def _shared_draw(seed: int, number: int) -> DayDraw:
    """The draws of a replication, which every day of the season shares; nobody makes them grow."""
    draw = DayDraw(seed, number)
    for purpose in PURPOSES:
        draw.take(purpose, ROOM)
    return draw


def day_draw(seed: int, number: int, cars: float) -> DayDraw:
    """The draws of a replication for a day that expects so many cars."""
    return _shared_draw(seed, number) if 2.0 * cars + 500.0 < ROOM else DayDraw(seed, number)


def _figures(prices: Prices, row: list[float]) -> Iterator[float]:
    """What `sim.day.records` makes of a day, from what `tallies` keeps of it."""
    known = dict(zip(TALLY, row, strict=True))
    washed = known["cars_washed"]
    known["left_damp_share"] = known["left_damp"] / washed if washed else math.nan
    known["full_share"] = known["full_cars"] / washed if washed else math.nan
    known |= money_of(prices, known, max(known["last_s"], prices.close_s))
    return (float(known[name]) for name in KEPT)


# ---- what else could be done on peak days --------------------------------------------------------


PEAKS = 4
"""Peak days that stand for all of them: the middles of so many groups, by expected cars."""
SHAPE = Shape()
SLOWER = 0.9
"""The slower belt, as share of the present one; never below what the manual allows."""
HOUR_S = 3600.0
NAMES = ("cost", "left_damp", "left_damp_share", "cars_lost", "wait_p90_s")
"""Figures of an option."""


@dataclass(frozen=True, slots=True)
class OptionsQuestion:
    """Everything that the options depend on.

    Attributes:
        peaks: the days that stand for all `count` peak days of the year.
        known, belief: see `sim.decide.compare.Question`.
    """

    site: Site
    peaks: tuple[SeasonDay, ...]
    count: int
    seed: int
    known: frozenset[str]
    belief: Belief | None = None
    shape: Shape = SHAPE


def stand_for(peaks: Sequence[SeasonDay], count: int = PEAKS) -> tuple[SeasonDay, ...]:
    """The middles of equal groups of days, by expected cars; all where there are no more."""
    ordered = sorted(peaks, key=lambda one: (one.cars, one.day))
    if len(ordered) <= count:
        return tuple(ordered)
    return tuple(ordered[int((i + 0.5) * len(ordered) / count)] for i in range(count))


def options_of(site: Site, planned: Scenario) -> list[Option]:
    """The planned days and what else could be done on them, as far as the site has room for it."""
    line, wheel, wear, money = site.line, site.wheel, site.wear, site.money
    found = [Option("planned", 0.0, planned)]
    spare = wear.sets_owned - 1
    for count in (*range(1, spare + 1), spare + 1):
        is_more = count > spare
        changed: dict[str, Value] = {**planned.changes}
        if is_more:
            changed["sets_owned"] = wear.sets_owned + 1
        found.append(
            Option(
                "one_more_set" if is_more else "dry_sets",
                float(count),
                replace(planned, cloth="; ".join(_spread(site, count)), changes=changed),
                once=money.set_price if is_more else 0.0,
                each_year=money.set_price * site.stock.holding_share if is_more else 0.0,
            )
        )
    hands = entered(site.with_values(planned.changes), all_day(site, 1))
    found.append(Option("finisher", 1.0, _with(planned, hands)))
    slow = max(line.slowest_belt_m_s, SLOWER * line.conveyor_speed_m_s)
    if slow < line.conveyor_speed_m_s:
        found.append(Option("slower_belt", slow, _with(planned, _slowed(site, slow))))
    if planned.rule != "reduced":
        found.append(Option("reduced", 0.0, replace(planned, rule="reduced")))
    if wheel.fastest_wheel_rev_s > wheel.idle_speed_rev_s:
        fast = wheel.fastest_wheel_rev_s
        found.append(Option("faster_idle", fast, _with(planned, {"idle_speed_rev_s": fast})))
    if site.water.rinse_agent_factor == 1.0:
        film: dict[str, Value] = {"rinse_agent_factor": AGENT_FILM}
        found.append(Option("drying_agent", AGENT_FILM, _with(planned, film)))
    if has_second_cloth(site):
        found.append(Option("second_cloth", 0.0, _with(planned, {"cloth_kind": SECOND})))
    return found


def _open_h(site: Site) -> float:
    return site.line.close_h - site.line.open_h


def _spread(site: Site, count: int) -> list[str]:
    """Times of so many dry sets, evenly through the opening hours, to the quarter of an hour."""
    step = _open_h(site) / (count + 1)
    times = [round(4.0 * (site.line.open_h + (i + 1) * step)) / 4.0 for i in range(count)]
    return [show_clock(hour * HOUR_S) for hour in times]


def _with(planned: Scenario, changes: dict[str, Value]) -> Scenario:
    return replace(planned, changes={**planned.changes, **changes})


def _slowed(site: Site, speed: float) -> dict[str, Value]:
    """The belt at a speed; a timetable is slowed in proportion, within the manual."""
    changes: dict[str, Value] = {"conveyor_speed_m_s": speed}
    share = speed / site.line.conveyor_speed_m_s
    table: Steps = site.line.speed_timetable
    if table:
        least = site.line.slowest_belt_m_s
        changes["speed_timetable"] = tuple((at, max(least, was * share)) for at, was in table)
    return changes


def weigh_options(
    asked: OptionsQuestion,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> list[OptionRow]:
    """What each option does on the peak days of a year, the planned days first; progress counts
    simulated days over all peak days."""
    site = asked.site if asked.belief is None else asked.belief.middle(asked.site)
    totals: list[list[dict[str, Floats]]] = []
    options: list[Option] = []
    runs = asked.shape.runs
    for at, peak in enumerate(asked.peaks):
        options = options_of(site, peak.planned)
        scenarios: list[Scenario] = []
        for option in options:
            if option.scenario not in scenarios:
                scenarios.append(option.scenario)
        experiment = Experiment(
            asked.site, peak.conditions, asked.seed, peak.evening, parse_rule(scenarios[0].rule),
            asked.known, asked.belief, with_level=True, evenings=1,
        )  # fmt: skip
        told = _from(at * runs, len(asked.peaks) * runs, progress)
        crossed = run_blocks(experiment, scenarios, asked.shape, executor, told)
        places = [scenarios.index(option.scenario) for option in options]
        totals.append([{n: crossed.runs[s].day[n] for n in NAMES} for s in places])
    days = [
        {n: np.mean([peak[s][n] for peak in totals], axis=0) for n in NAMES}
        for s in range(len(options))
    ]
    rows = [
        _row(asked, site, option, days[0], day) for option, day in zip(options, days, strict=True)
    ]
    best = cheapest(rows)
    if best is None:
        return rows
    at = rows.index(best)
    spread = [option.each_year / max(1, asked.count) for option in options]
    ways = [{**day, "cost": day["cost"] + more} for day, more in zip(days, spread, strict=True)]
    contest = contests_of(site, ways, bounds=tuple(limits(site)))
    return [
        row if row is best else replace(row, against=contest(at, other).standing)
        for other, row in enumerate(rows)
    ]


def _from(before: int, total: int, progress: Callable[[int, int], None]) -> Callable[[int], None]:
    return lambda done: progress(before + done, total)


def _row(
    asked: OptionsQuestion,
    site: Site,
    option: Option,
    planned: dict[str, Floats],
    day: dict[str, Floats],
) -> OptionRow:
    figures = {name: take_apart(day[name]).mean for name in NAMES}
    figures["cost"] += option.each_year / max(1, asked.count)
    keeps = all(figures[name] <= limit for name, limit in limits(site).items())
    if option.key == "planned":
        return OptionRow(option, figures, None, None, None, keeps, 0.0, 0.0, 0.0)
    cost = FIGURES["cost"]
    more = day["cost"] * asked.count + option.each_year
    base = planned["cost"] * asked.count
    yearly = site_difference(cost, base, more, asked.count * matters(site, cost, 0.0))

    def apart(name: str) -> PairedDifference:
        room = matters(site, FIGURES[name], take_apart(planned[name]).mean)
        return site_difference(FIGURES[name], planned[name], day[name], room)

    range_ = yearly.site_uncertainty
    ends = (yearly.value, None, None) if range_ is None else (yearly.value, range_.low, range_.high)
    back, low, high = (math.nan if v is None else payback_years(option.once, -v) for v in ends)
    damp, lost = apart("left_damp"), apart("cars_lost")
    return OptionRow(option, figures, yearly, damp, lost, keeps, back, low, high)


def limits(site: Site) -> dict[Limit, float]:
    """What the manager allows on a day."""
    wishes = site.wishes
    return {
        "left_damp_share": wishes.allowed_damp_share,
        "cars_lost": wishes.allowed_lost_cars,
        "wait_p90_s": wishes.allowed_wait_p90_s,
    }


def payback_years(once: float, gain: float) -> float:
    """Years until a price has come back by a gain a year; infinite where it never does."""
    if once <= 0.0:
        return 0.0
    return once / gain if gain > 0.0 else math.inf

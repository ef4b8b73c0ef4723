"""Every figure of a day: its name, what it is called, how a difference in it is judged; what a day
costs; and what many simulated days say of a figure: a value with its intervals, a paired difference
with its word.

There is one list of costs, the same for a plan, a rule, people, cloth and a season. What is paid in
a day stands there as an accountant would book it, and beside it what no bill shows: the margin of
cars that drove away, and goodwill. An hour of work is never counted twice: people who are there are
paid anyway, so work that fits into their time costs nothing more and shows as work; what goes
beyond it is counted at the wage.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from sim.day.goodwill import GOODWILL_COUNTS, Goodwill, goodwill_of
from sim.day.setup import DayNumbers
from sim.inputs import Site, Steps, value_at

Floats = NDArray[np.float64]
HALF_HOURS = 48
HALF_HOUR_S = 1800.0
TIMETABLES_KEPT = 256
"""Timetables of people whose half-hours are remembered: drawn sites share theirs."""
ANYWAY, CAUSED, UNBOOKED = "anyway", "caused", "unbooked"
"""What an item is: paid whatever is decided for the day, caused by how the day is run, or a loss
that stands in no book."""


@dataclass(frozen=True, slots=True)
class CostItem:
    """One item of a day's cost.

    Attributes:
        name: of its figure; label, origin: as there.
        nature: one of `ANYWAY`, `CAUSED` and `UNBOOKED`.
    """

    name: str
    label: str
    nature: str
    origin: str


_C = CostItem
COSTS: tuple[CostItem, ...] = (
    _C("cost_wages", "Wages as planned", ANYWAY,
       "People on the line by the half-hour from opening to closing, with opening and closing "
       "work. Paid whatever is decided for the day."),
    _C("cost_overtime", "Wages after closing", CAUSED,
       "The people of closing time until the last car has left."),
    _C("cost_overload", "Work beyond the people present", CAUSED,
       "Each half-hour’s work of preparing, loading, exit, reduced wipes and changes of set, "
       "above what the people there can do, finishers apart, at the wage. Work that fits into "
       "their time costs nothing more. Looks at a cue have a price of their own."),
    _C("cost_looks", "Looks at a cue", CAUSED,
       "Counting cars, looking at hoods and weighing strips, at the wage in full: a look can’t "
       "wait until there is time for it. Belt stops for weighings show in the other items."),
    _C("cost_towels", "Towels", CAUSED,
       "Towels for damp cars dried by hand; the time it takes is the finishers’, who are paid "
       "anyway."),
    _C("cost_laundry", "Laundry of sets changed", CAUSED,
       "A laundering for each dry set put on during the day; the hands it takes are work."),
    _C("cost_wear", "Wear of cloth", CAUSED,
       "The wear’s share of the life that a set has on average, at the price of a new one."),
    _C("cost_rewash", "Re-washes", CAUSED,
       "Water, soap and power of cars that go round again."),
    _C("cost_agent", "Drying agent", CAUSED,
       "Of each car rinsed with it, those that go round again included."),
    _C("cost_lost", "Cars lost", UNBOOKED,
       "Cars of others than members that drove away, at what a car leaves: today’s takings less "
       "cost per car, or what the site has entered as the cost of a lost car."),
    _C("cost_damp", "Cars that left damp", UNBOOKED,
       "Goodwill of damp cars, members’ apart, that were neither dried by hand nor washed again."),
    _C("cost_zones", "Wet roofs and rears", UNBOOKED,
       "Goodwill of cars, members’ apart, that left with a wet roof or rear, each at how much it "
       "is minded; the most part of what a reduced wipe costs."),
    _C("cost_members", "Members who leave", UNBOOKED,
       "What members earn in a year, times the chance that they leave for a damp car, a wet roof "
       "or rear, or a wait; who drives away counts as a wait as long as their patience."),
    _C("cost_reduced", "Reduced wipes", UNBOOKED,
       "What the site loses by a reduced wipe beside what it leaves wet."),
)  # fmt: skip
"""The items of `cost`, in the order in which they are added and shown."""
OF_COST = tuple(item.name for item in COSTS)


@dataclass(frozen=True, slots=True)
class FigureInfo:
    """What a figure is called and how a difference in it is judged.

    Attributes:
        unit: kind of `sim.units`.
        better: ``more``, ``less``, or empty where neither is.
        matters: input that says from where on a difference matters; empty for 3 % of the
            first scenario's figure.
        rare: the figure is of an event that may not happen on most days.
        origin: what the figure counts, in a sentence or two; what moves it stands in the catalogue
            of terms.
    """

    name: str
    label: str
    note: str
    unit: str
    better: str
    matters: str
    group: str
    origin: str
    rare: bool = False


def _table(*rows: FigureInfo) -> dict[str, FigureInfo]:
    return {row.name: row for row in rows}


PARTS = "What margin and cost are made of"
"""Group of the items that add up to margin and cost."""
RARE = ("cost_overload", "cost_lost")
NATURES = {
    ANYWAY: "paid whatever is decided",
    CAUSED: "caused by how the day is run",
    UNBOOKED: "in no book",
}
_I = FigureInfo
FIGURES: dict[str, FigureInfo] = _table(
    _I("cars_arrived", "Cars arrived", "", "cars", "", "matters_cars", "Line",
       "Counts of like days, times the day's luck; the same in every column."),
    _I("cars_washed", "Cars washed", "", "cars", "more", "matters_cars", "Line",
       "Cars whose tail passed the wheel for the last time."),
    _I("cars_lost", "Cars lost", "stack full, or not willing to wait", "cars", "less",
       "matters_cars", "Line", "Arrivals that found the stack at its limit, or expected a "
       "longer wait than they accept.", True),
    _I("cars_lost_full", "Cars lost, stack full", "", "cars", "less", "matters_cars", "Line",
       "Arrivals that found the stack at its limit.", True),
    _I("cars_lost_impatient", "Cars lost, not willing to wait", "", "cars", "less",
       "matters_cars", "Line", "Arrivals that expected a longer wait than they accept.", True),
    _I("cars_per_hour", "Cars per hour, busiest hour", "", "cars_per_hour", "more",
       "matters_cars", "Line", "Most cars that left in one clock hour; belt capacity bounds it."),
    _I("wait_p50_s", "Half the cars wait at most", "", "minutes_from_s", "less",
       "matters_wait_s", "Line", "From arrival until caught, own payment and loading apart."),
    _I("wait_p90_s", "9 cars in 10 wait at most", "", "minutes_from_s", "less",
       "matters_wait_s", "Line", "From arrival until caught, own payment and loading apart."),
    _I("wait_p95_s", "19 cars in 20 wait at most", "", "minutes_from_s", "less",
       "matters_wait_s", "Line", "From arrival until caught, own payment and loading apart."),
    _I("stack_max", "Longest stack", "", "cars", "less", "", "Line",
       "Most cars that waited before the pay lanes at once."),
    _I("stack_full_minutes", "Stack at its limit", "", "minutes", "less", "", "Line",
       "Minutes in which the next car would have been lost.", True),
    _I("belt_use", "Belt in use", "of its travel", "share", "", "matters_share", "Line",
       "Belt room that cars took at their fewest pushers, of the belt's whole travel."),
    _I("stops", "Belt stops", "", "number", "less", "", "Line",
       "Stops by the clock and by cars, and for changes of set where cars wait."),
    _I("overtime_minutes", "Overtime", "", "minutes", "less", "", "Line",
       "From the last car accepted until the last car left."),
    _I("damp_share", "Damp at the wheel", "of cars washed", "share", "less", "matters_share",
       "Cloth", "Cars whose hood or windshield left the wheel with more than the allowed film."),
    _I("damp_cars", "Cars damp at the wheel", "", "cars", "less", "matters_cars", "Cloth",
       "Damp at the wheel, as a number of cars."),
    _I("left_damp_share", "Leaving damp", "of cars washed", "share", "less", "matters_share",
       "Cloth", "Cars that were damp at the wheel and that nobody dried by hand or washed again. "
       "What customers see, and what advice goes by."),
    _I("left_damp", "Cars leaving damp", "", "cars", "less", "matters_cars", "Cloth",
       "Leaving damp, as a number of cars."),
    _I("rear_wet_share", "Roof or rear wet", "of cars washed", "share", "less", "matters_share",
       "Cloth", "Cars whose roof or rear left with more than the allowed film; nearly all that "
       "are wiped reduced."),
    _I("full_share", "Cars fully wiped", "of cars washed", "share", "more", "matters_share",
       "Cloth", "By the wiping rule."),
    _I("saturation_mean", "Saturation, mean while open", "", "share", "less",
       "matters_saturation", "Cloth", "Water held, of what the cloth can hold."),
    _I("saturation_p95", "Saturation, 95 cars of 100 meet less", "", "share", "less",
       "matters_saturation", "Cloth", "At the moment each hood meets the wheel."),
    _I("saturation_max", "Highest saturation", "", "share", "less", "matters_saturation",
       "Cloth", "The wettest that the cloth was after any car."),
    _I("over_damp_limit_minutes", "Time above the damp limit", "", "minutes", "less", "",
       "Cloth", "Minutes with the cloth at or above the damp limit."),
    _I("water_taken_kg", "Water taken from cars", "", "mass", "", "", "Cloth",
       "By the cloth, all zones and cars."),
    _I("water_thrown_kg", "Water thrown off", "", "mass", "", "", "Cloth",
       "By rotation, mostly in the gaps between cars."),
    _I("water_evaporated_kg", "Water evaporated", "", "mass", "", "", "Cloth",
       "While the wheel turned, until it came to rest after closing."),
    _I("wear_cars", "Wear", "fully wiped sedans", "cars", "less", "", "Cloth",
       "Sliding distance on cars and idle spinning, in full-wipe equivalents."),
    _I("finished_cars", "Cars towel-finished", "", "cars", "less", "matters_cars", "Cloth",
       "Damp cars that a finisher dried by hand."),
    _I("rewashed_cars", "Cars re-washed", "", "cars", "less", "matters_cars", "Cloth",
       "The share of damp cars that go round again and take belt room."),
    _I("staff_use", "Staff use, busiest hour", "", "share", "less", "matters_share", "Money",
       "Work per car, reduced wipes and drying by hand, of the people on the line, finishers "
       "among them."),
    _I("work_hours", "Work of the day", "", "hours", "less", "", "Money",
       "Preparing, loading, exit, reduced wipes, drying by hand and changes of set; fixed, "
       "opening and closing work apart."),
    _I("overload_hours", "Work beyond the people present", "", "hours", "less", "", "Money",
       "What each half-hour’s work takes above the people who are there. Finishers do no other "
       "work, and take no more cars than they have time for.", True),
    _I("margin", "Margin of the day", "", "money", "more", "matters_money", "Money",
       "Takings less washing and everything that the cost is made of, but for cars lost."),
    _I("cost", "Cost of the day", "lost cars included", "money", "less", "matters_money",
       "Money", "The sum of its items, cars lost among them; washing is in the margin."),
    _I("takings", "Takings", "", "money", "more", "matters_money", PARTS,
       "Takings per car of cars washed and of members who drove away, whose dues are paid. In the "
       "margin, not in the cost."),
    _I("cost_washing", "Water, soap, power of cars washed", "", "money", "less", "matters_money",
       PARTS, "Cost per car of cars washed. In the margin, not in the cost."),
    *(
        _I(item.name, item.label, NATURES[item.nature], "money", "less", "matters_money", PARTS,
           item.origin, item.name in RARE)
        for item in COSTS
    ),
)  # fmt: skip
"""Every figure of a day, in the order in which pages show them."""


def named(places: Mapping[str, object], prefix: str) -> tuple[str, ...]:
    """Names of columns by the constants that number them, in their order: D_STOPS is "stops"."""
    return tuple(name[len(prefix) :].lower() for name in places if name.startswith(prefix))


(
    H_ARRIVED, H_WASHED, H_LOST, H_LOST_FULL, H_LOST_IMPATIENT, H_STACK_MEAN, H_STACK_MAX,
    H_LOADING_LINE_MEAN, H_WAIT_MEAN_S, H_WAIT_P90_S, H_SATURATION_MEAN, H_DAMP_SHARE,
    H_FULL_SHARE, H_WATER_TAKEN_KG, H_WATER_THROWN_KG, H_WATER_EVAPORATED_KG, H_STAFF_USE,
) = range(17)  # fmt: skip
HOURLY = named(globals(), "H_")
"""Names of the figures by clock hour; a car counts in the hour in which the thing happened."""

OF_CARS = {"wait_mean_s": ("arrived", "lost"), "damp_share": ("washed",), "full_share": ("washed",)}
"""Figures by clock hour that are told of a car, and the cars: a first number less the others.

Over many days they are means over cars, what a car meets: full hours have more of them. All other
figures by hour are means over days.
"""


# ---- the money of a day --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Prices:
    """A site's prices on a day, worked out once for any number of runs.

    Attributes:
        wages: of the day as planned [money].
        overtime_per_s: of the people of closing time [money/s].
        work_per_s: of a person [money/s].
        wear: of a full-wipe equivalent [money].
        takings, washing: of a car washed [money].
        lost, towel, laundry, rewash: of one each [money].
        agent: of a car rinsed with a drying agent, 0 without one [money].
        goodwill: what no bill shows, see `sim.day.goodwill`.
    """

    close_s: float
    wages: float
    overtime_per_s: float
    work_per_s: float
    wear: float
    takings: float
    washing: float
    lost: float
    towel: float
    laundry: float
    rewash: float
    agent: float
    goodwill: Goodwill


def prices_of(site: Site, day: DayNumbers) -> Prices:
    """The prices of a site on a day."""
    money, crew = site.money, site.crew
    per_s = money.wage_per_h / 3600.0
    outside = (crew.opening_work_min + crew.closing_work_min) / 60.0
    return Prices(
        day.close_s,
        money.wage_per_h * (math.fsum(present_s(site, day)) / 3600.0 + outside),
        per_s * value_at(crew.people, day.close_s),
        per_s,
        wear_price(site),
        money.price_per_car,
        money.cost_per_car,
        money.lost_car_cost,
        money.towel_cost,
        money.launder_price,
        money.cost_per_car,
        0.0 if site.water.rinse_agent_factor == 1.0 else money.rinse_agent_cost,
        goodwill_of(money),
    )


def wear_price(site: Site) -> float:
    """What a full-wipe equivalent of wear costs [money]: a set's price over its mean life."""
    life = site.wear.life_scale_cars * math.gamma(1.0 + 1.0 / site.wear.life_shape)
    return site.money.set_price / life


def present_s(site: Site, day: DayNumbers) -> list[float]:
    """Person-seconds that are there by half-hour while the site is open; 48 values."""
    return list(_open_s(site.crew.people, day.open_s, day.close_s))


@lru_cache(maxsize=TIMETABLES_KEPT)
def _open_s(table: Steps, open_s: float, close_s: float) -> tuple[float, ...]:
    edges = {open_s, close_s, *(row[0] for row in table)}
    edges |= {at * HALF_HOUR_S for at in range(HALF_HOURS)}
    inside = sorted(edge for edge in edges if open_s <= edge <= close_s)
    found = [0.0] * HALF_HOURS
    for start, end in itertools.pairwise(inside):
        place = min(int(start // HALF_HOUR_S), HALF_HOURS - 1)
        found[place] += value_at(table, start) * (end - start)
    return tuple(found)


def able_s(site: Site, day: DayNumbers, closed_s: float = 0.0) -> list[float]:
    """Person-seconds of work by half-hour that the people can do who are no finishers; 48 values.

    Finishers only dry damp cars: whoever is one has no time for other work. Outside opening hours
    the people of opening or closing time count, as long as there are cars.

    Args:
        closed_s: when the last car had left [s]; the last half-hour goes on until then.
    """
    there, drying = (
        _there_s(table, day.open_s, day.close_s)
        for table in (site.crew.people, site.crew.finishers)
    )
    found = [max(0.0, all_ - some) for all_, some in zip(there, drying, strict=True)]
    found[-1] *= max(1.0, (closed_s - (HALF_HOURS - 1) * HALF_HOUR_S) / HALF_HOUR_S)
    return found


def hands_s(site: Site, day: DayNumbers) -> list[float]:
    """Person-seconds of the finishers by half-hour, as `able_s` of the others; 48 values."""
    return list(_there_s(site.crew.finishers, day.open_s, day.close_s))


@lru_cache(maxsize=TIMETABLES_KEPT)
def _there_s(table: Steps, open_s: float, close_s: float) -> tuple[float, ...]:
    """Person-seconds of a timetable by half-hour, those outside opening hours as at their ends."""
    found = []
    for at in range(HALF_HOURS):
        begin, end = at * HALF_HOUR_S, (at + 1) * HALF_HOUR_S
        edges = sorted({begin, end, *(r[0] for r in table if begin < r[0] < end)})
        found.append(
            math.fsum(
                value_at(table, min(max(start, open_s), close_s)) * (until - start)
                for start, until in itertools.pairwise(edges)
            )
        )
    return tuple(found)


COUNTED = (
    "cars_washed", "cars_lost", "lost_members", "wear_cars", "finished_cars", "rewashed_cars",
    "sets_changed", "overload_s", "looks_s", *GOODWILL_COUNTS,
)  # fmt: skip
"""What the items of a run are counted from, beside when it closed."""


def money_of(prices: Prices, counts: Mapping[str, Any], closed_s: Any) -> dict[str, Any]:
    """Takings, every item of `COSTS`, `cost` and `margin` of a run, or of many as arrays.

    `cost` is the sum of the items. `margin` is what is left of takings after washing and all
    items but cars lost, which bring nothing and cost nothing: the two move against each other
    where a lost car costs its own margin. Members’ dues are paid whether they are washed or not, so
    those who drove away are among the takings and none of them is a lost ticket.

    Args:
        counts: by name of `COUNTED`.
        closed_s: when the last car had left or opening ended, whichever is later [s].
    """
    late_s = np.maximum(0.0, closed_s - prices.close_s)
    found = {
        "takings": prices.takings * (counts["cars_washed"] + counts["lost_members"]),
        "cost_washing": prices.washing * counts["cars_washed"],
        "cost_wages": prices.wages + 0.0 * late_s,
        "cost_overtime": prices.overtime_per_s * late_s,
        "cost_overload": prices.work_per_s * counts["overload_s"],
        "cost_looks": prices.work_per_s * counts["looks_s"],
        "cost_towels": prices.towel * counts["finished_cars"],
        "cost_laundry": prices.laundry * counts["sets_changed"],
        "cost_wear": prices.wear * counts["wear_cars"],
        "cost_rewash": prices.rewash * counts["rewashed_cars"],
        "cost_agent": prices.agent * (counts["cars_washed"] + counts["rewashed_cars"]),
        "cost_lost": prices.lost * (counts["cars_lost"] - counts["lost_members"]),
        **prices.goodwill.items(counts),
    }
    cost = sum(found[name] for name in OF_COST)
    left = found["takings"] - found["cost_washing"]
    return {**found, "cost": cost, "margin": left - (cost - found["cost_lost"])}


def overload_s(work_s: Floats, able: Floats) -> float:
    """Work above what people can do, summed over half-hours [person-s]."""
    return float(np.sum(np.maximum(0.0, work_s - able)))


# ---- what is found of a figure -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Range:
    """An interval from `low` to `high`."""

    low: float
    high: float

    @property
    def width(self) -> float:
        """From end to end."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of a scenario.

    Attributes:
        value: expected value; None where no day has it (the damp share of no car).
        day_range: what single days do, 5th to 95th percentile; None with `value`.
        run_error: how far the mean may be off for want of more days, 95 %; None with a single
            day, and for an event seen on too few of them.
        site_uncertainty: where the expected value may lie at the site, 90 %; None where no guess
            was drawn.
        event_days: days on which a rare event happened, where it was seen on few.
        fewer_than_one_in_days: N of "fewer than 1 in N days" for such an event, else 0.
    """

    value: float | None
    day_range: Range | None
    run_error: Range | None = None
    site_uncertainty: Range | None = None
    event_days: int = 0
    fewer_than_one_in_days: int = 0


Word = Literal[
    "", "the same", "hardly differs", "can’t tell",
    "a little more", "a little less", "a little better", "a little worse",
    "probably more", "probably less", "probably better", "probably worse",
    "clearly more", "clearly less", "clearly better", "clearly worse",
]  # fmt: skip
"""What is said of a difference; empty where nothing can be compared."""
Strength = Literal["a little", "probably", "clearly"]


@dataclass(frozen=True, slots=True)
class PairedDifference:
    """A paired difference to the first scenario.

    Attributes:
        value: mean over days; None where no day has the figure under both.
        days_better: share of days on which the scenario was better than the first.
        word: whether it matters, in plain words.
        run_error, site_uncertainty: as of a `Figure`, of the expected difference.
        sites_better: share of drawn sites at which it is better in expectation.
    """

    value: float | None
    run_error: Range | None
    days_better: float | None
    word: Word
    site_uncertainty: Range | None = None
    sites_better: float | None = None

    @property
    def matters(self) -> bool:
        """Whether it is enough to be a reason."""
        return self.word not in ("", "the same", "hardly differs", "can’t tell")

    @property
    def is_strong(self) -> bool:
        """Whether it is enough to be told as a reason."""
        return self.word.startswith(("clearly", "probably"))


_WORDED: dict[Strength, dict[str, Word]] = {
    "a little": {
        "more": "a little more", "less": "a little less",
        "better": "a little better", "worse": "a little worse",
    },
    "probably": {
        "more": "probably more", "less": "probably less",
        "better": "probably better", "worse": "probably worse",
    },
    "clearly": {
        "more": "clearly more", "less": "clearly less",
        "better": "clearly better", "worse": "clearly worse",
    },
}  # fmt: skip


def worded(strength: Strength, info: FigureInfo, mean: float) -> Word:
    """The word of a difference that is no trifle, by its direction."""
    if not info.better:
        return _WORDED[strength]["more" if mean > 0 else "less"]
    return _WORDED[strength]["better" if (mean > 0) == (info.better == "more") else "worse"]


def finite(value: float) -> float | None:
    """A number as an answer has it: None where there is none."""
    return float(value) if math.isfinite(value) else None


def range_of(low: float, high: float) -> Range | None:
    """An interval as an answer has it: None where an end is missing."""
    return Range(float(low), float(high)) if math.isfinite(low) and math.isfinite(high) else None

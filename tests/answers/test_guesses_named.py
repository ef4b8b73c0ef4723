"""Every page names the guesses that its figures turn on: guesses moved one at a time, each to both
ends of what is believed of it, and what is told then held against what the page says.

A figure turns on a guess where that moves it out of the range which stands beside it; an advice
where another is better there by more than the site says matters. A guess without a belief of its
own is moved by a third down and a half up, our own rule.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

import numpy as np
import pytest

from app.answers.cloth import LAST_MINUTE_S, typical_days
from app.sites.demo import twin_data
from app.words.answer import WEIGHED, turning_words, unweighed_words
from sim.checks import check_site
from sim.day.engine import Replication, simulate
from sim.day.replicate import scenario_cell
from sim.day.rules import Rule, SetChange
from sim.decide.cloth.advice import ClothLearnt, laundering_of, learn_cloth
from sim.decide.cloth.guesses import range_of_ages
from sim.decide.cloth.season import KEPT, run_date
from sim.decide.compare import Question
from sim.decide.how_sure import Floats, allowed_of
from sim.decide.maps.points import MAPPED, at_setting, worst_excess
from sim.decide.staff.needs import find_needs
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import INPUTS, Scenario, Site, SiteData
from sim.learn.cloth_looks import guessed
from sim.learn.cloth_wear import WearDays
from sim.learn.expected_day import Override, expected_day
from tests.demo_app import TODAY as DEMO_TODAY
from tests.small_wash import PLANNED, small_wash

SEED = 20261201
BUSY = small_wash(cars_per_h=140)
BUSY = replace(
    BUSY,
    site=BUSY.site.with_values({"strip_dry_mass_kg": 0.055, "allowed_damp_share": 0.08}),
    given=frozenset({*BUSY.given, "allowed_damp_share"}),
)
"""Two busy hours a day, on a wheel with light strips."""
DEMO = twin_data()
SETTINGS = [(speed, spacing) for speed in (0.2, 0.25, 0.3) for spacing in (5.0, 6.0, 7.0)]
DAYS, SEASON_DAYS, STAFF_DAYS = 8, 20, 6
A_TENTH = 0.1


def ends(site: Site, name: str) -> list[float]:
    """Both ends of what is believed of a guess: of 9 of 10 sites, or by the rule above."""
    row, value = INPUTS[name], site.value(name)
    if row.kind not in ("number", "whole") or isinstance(value, (str, tuple, bool)):
        return []
    if row.prior is not None:
        found = np.quantile(guessed(site, name, (), 21), (0.05, 0.95)).tolist()
    else:
        found = (
            [value * 2.0 / 3.0, value * 1.5] if value else [row.low + 0.05 * (row.high - row.low)]
        )
    kept = [min(row.high, max(row.low, one)) for one in found]
    return [float(round(one)) for one in kept] if row.kind == "whole" else kept


Turns = Callable[[SiteData], set[str]]
"""What of a page turns, by its name in `TURNS_ON`, at a site with another value of a guess."""


def turned(**told: bool) -> set[str]:
    """Names of what turns."""
    return {name for name, turns in told.items() if turns}


def of_cloth() -> Turns:
    """The age of change and the days between launderings, against their own ranges; the middle day
    of the coming quarter stands for the year."""
    typical = typical_days(DEMO, WearDays(DEMO, {}), DEMO_TODAY)[:1]

    def learnt(data: SiteData) -> ClothLearnt:
        days = WearDays(data, {})
        return learn_cloth(data, days, DEMO_TODAY, LAST_MINUTE_S, typical, SEED)

    base = learnt(DEMO)
    ages = range_of_ages(base.posterior, base.prices, base.beliefs, base.change.age)
    laundry = laundering_of(base)

    def turns(data: SiteData) -> set[str]:
        there = learnt(data)
        return turned(
            cloth=not ages.low <= there.change.age <= ages.high,
            laundry=not laundry.low <= laundering_of(there).days <= laundry.high,
        )

    return turns


def read(day: Replication, rules: tuple[Rule, ...], sets: tuple[SetChange, ...]) -> Floats:
    """The mapped figures of one day under each rule."""
    found = [day.figures(rule, sets).day for rule in rules]
    return np.array([[one[name] for name in MAPPED] for one in found])


def of_setting() -> Turns:
    """Speed and spacing, against the best of nine settings."""
    day = expected_day(BUSY, PLANNED, Override()).conditions

    def places(site: Site) -> list[tuple[float, float]]:
        now = Scenario("now")
        asked = Question(site, day, (now,), DAYS, SEED)
        cells = [scenario_cell(site, at_setting(now, site, *place)) for place in SETTINGS]
        cells = [(replace(variant, conditions=day), rules) for variant, rules in cells]
        experiment = asked.experiment
        table = simulate(experiment, cells, experiment.days(DAYS), read, days=DAYS, rules=1)
        means = [dict(zip(MAPPED, row, strict=True)) for row in table.mean(axis=1).tolist()]
        allowed = allowed_of(site)
        return [(max(0.0, worst_excess(one, allowed, allowed)), -one["margin"]) for one in means]

    best = min(range(len(SETTINGS)), key=places(BUSY.site).__getitem__)

    def turns(data: SiteData) -> set[str]:
        there = places(data.site)
        other = min(there)
        nearer = there[best][0] - other[0] > 0.1
        earns = there[best][1] - other[1] > data.site.wishes.matters_money / 6.0
        return turned(setting=nearer or (there[best][0] <= other[0] + 0.1 and earns))

    return turns


def of_season() -> Turns:
    """What a day of the season costs, against where 90 % of such days lie."""
    day = expected_day(BUSY, PLANNED, Override()).conditions
    both = (Scenario("full"), Scenario("planned", "clock 9:00-10:00"))

    def costs(site: Site) -> Floats:
        found = run_date(Question(site, day, both, SEASON_DAYS, SEED))
        return np.asarray(found[KEPT.index("cost"), 1])

    low, high = np.quantile(costs(BUSY.site), (0.05, 0.95))
    return lambda data: turned(season=not low <= costs(data.site).mean() <= high)


def of_staff() -> Turns:
    """Hours of people needed, by more than a tenth, our own rule."""
    day = expected_day(BUSY, PLANNED, Override()).conditions

    def hours(site: Site) -> float:
        asked = SwitchQuestion(site, day, Wish.of(site), SEED)
        return sum(find_needs(asked, days=STAFF_DAYS).plan.people) / 2.0

    base = hours(BUSY.site)
    return lambda data: turned(staff=abs(hours(data.site) / base - 1.0) > A_TENTH)


@dataclass(frozen=True, slots=True)
class Walk:
    """What a page tells of a site, and guesses that were found to turn it."""

    data: SiteData
    make: Callable[[], Turns]
    known: tuple[str, ...]


FILM = ("film_after_rinse_kg_m2", "blower_removal")
WALKS = {
    "cloth": Walk(DEMO, of_cloth, FILM),
    "setting": Walk(
        BUSY,
        of_setting,
        (
            *FILM, "blower_speed_exponent", "film_cv", "contact_speed_rev_s", "throw_off_time_s",
            "allowed_lost_cars",
        ),
    ),
    "season": Walk(BUSY, of_season, (*FILM, "member_leave_per_damp", "reduced_cost")),
    "staff": Walk(
        BUSY,
        of_staff,
        (
            "prep_work_s", "exit_work_s", "fixed_work_min_per_h", *FILM, "film_factor_windshield",
            "wipe_time_s", "throw_off_time_s", "finish_area_s_m2", "finish_film_s_kg",
            "conveyor_speed_m_s", "car_spacing_m",
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("walk", WALKS)
def test_no_figure_turns_on_a_guess_that_is_not_named(walk: str, rng: np.random.Generator) -> None:
    """Of those that are known to turn a figure the first does here, and each that does is named; so
    is any other: one of the known and one of all are drawn at random."""
    data, make, known = WALKS[walk].data, WALKS[walk].make, WALKS[walk].known
    turns = make()
    others = [name for name, row in INPUTS.items() if row.is_guess and name not in data.given]
    found: set[tuple[str, str]] = set()
    tried = (known[0], *rng.permutation(known)[:1].tolist(), *rng.permutation(others)[:1].tolist())
    for name in dict.fromkeys(tried):
        for end in ends(data.site, name):
            moved = replace(data, site=data.site.with_values({name: end}))
            if not check_site(moved.site):
                found |= {(name, what) for what in turns(moved)}
    assert known[0] in {name for name, _what in found}
    assert sorted(one for one in found if not is_said(*one, data.given)) == []


def is_said(name: str, what: str, given: Collection[str]) -> bool:
    """Whether a page without measurements names a guess beside what turns on it, by itself or as
    one of what a measurement tells."""
    named = f"“{INPUTS[name].label}”" in turning_words(what, given)
    told = {one for names in WEIGHED for one in names}
    return named or (name in told and bool(unweighed_words((), given)))

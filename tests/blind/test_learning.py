"""Measurements made in a wash that shares no code with the model: does what is believed after them
come nearer to it?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import binom

from app.answers.beliefs import SEED, weighed
from sim.day.drawn import Belief
from sim.decide.compare import Question
from sim.decide.how_sure import run_blocks
from sim.inputs import (
    AFTERNOON,
    CARS_LOOKED_AT,
    DAMP,
    HOODS,
    SOAKED,
    Conditions,
    History,
    HourCount,
    HourWeather,
    Scenario,
    Site,
    SiteData,
    Weighing,
)
from sim.learn.forecast.score import crps
from sim.learn.weigh_in import FIRST_SIZE, posterior
from tests.blind import simulator as other
from tests.blind.scores import Floats, lived
from tests.blind.sites import CLOSES, OF_SHAPE, OPENS, PRICES, SITES, USUAL, BlindSite, blind_site
from tests.seeds import generator
from tests.sizes import Size

Record = Callable[[str, float, str], None]
DAY = date(2026, 7, 18)
OURS = {**USUAL, **PRICES, "dry_set_at_opening": True}
"""What the site has entered: no guess of water, cloth or air."""
DAMP_CARS, HOODS_S, AFTERNOON_S = 3, 14 * 3600.0, 15.5 * 3600.0
DRY = 0.05
"""Moisture of a set hung dry, with which the site opens every morning [kg/kg]."""
SLACK = 0.005
LIVED = 7_777
"""Number of the measured day's luck."""


def measured(blind: BlindSite) -> tuple[tuple[Weighing, ...], tuple[HourCount, ...]]:
    """Three strips, each with its error, cars looked at after those of the wheel, twenty hoods; and
    the counts of their day, by hour."""
    wash, rng = blind.wash(opening=DRY), generator(f"blind measurements {blind.number}")
    luck = other.draw(wash, LIVED + blind.number)
    cars, minutes = other.live(wash, luck, np.zeros((0, 3)), False)
    cars = cars[np.argsort(cars[:, 6])]
    cars = cars[cars[:, 2] > 0]
    left, damp, dry = cars[:, 6], cars[:, 4] > 0, wash.dry_kg

    def strip(kind: str, at_s: float, water: float) -> Weighing:
        error = np.exp(np.hypot(0.12, 0.1 if kind != SOAKED else 0.0) * rng.standard_normal())
        after = np.flatnonzero(left > at_s)[:CARS_LOOKED_AT]
        seen = (0, 0) if kind == SOAKED else (len(after), int(damp[after].sum()))
        so_far = 0 if kind == SOAKED else int((left <= at_s).sum())
        return Weighing(
            kind, DAY, at_s, dry * (1 + water * float(error)), dry, "full", *seen, so_far
        )

    found = [strip(SOAKED, 3600.0 * OPENS, wash.holds)]
    began = np.flatnonzero(np.cumsum(damp) >= DAMP_CARS)
    for kind, at_s in (
        (DAMP, float(left[began[0]]) if len(began) else 0.0),
        (AFTERNOON, AFTERNOON_S),
    ):
        if at_s and at_s < 3600.0 * CLOSES - 1800.0:
            at_s = 60.0 * (at_s // 60.0 + 1.0)
            found.append(strip(kind, at_s, float(minutes[int(at_s // 60)])))
    last = np.flatnonzero(left <= HOODS_S)[-CARS_LOOKED_AT:]
    gone = int((left <= HOODS_S).sum())
    found.append(
        Weighing(HOODS, DAY, HOODS_S, 0.0, 0.0, "full", len(last), int(damp[last].sum()), gone)
    )
    hours = (luck.at // 3600).astype(int)
    counts = tuple(HourCount(DAY, h, 0, int((hours == h).sum())) for h in range(OPENS, CLOSES))
    return tuple(sorted(found, key=lambda item: item.at_s)), counts


def data_of(blind: BlindSite) -> SiteData:
    """The site as the program has it: four weeks of counts, weather, the measurements."""
    weighings, counts = measured(blind)
    days = [DAY - timedelta(days=back) for back in range(28, 0, -1)]
    per_h, one = blind.conditions.arrivals_per_h, blind.conditions
    past = [HourCount(day, h, 0, round(per_h[h])) for day in days for h in range(OPENS, CLOSES)]
    weather = [
        HourWeather(day, h, 0, one.temp_c[h], one.humidity[h], 0.0)
        for day in (*days, DAY) for h in range(24)
    ]  # fmt: skip
    site = Site("Blind").with_values(OURS)
    history = History("arrived", (*past, *counts), tuple(weather))
    return SiteData(site, "si", frozenset(OURS), history, weighings)


def shares(data: SiteData, day: Conditions, belief: Belief | None, runs: int) -> Floats:
    """Share of damp cars of such a day at sites as they may be, a number a drawn site."""
    asked = Question(data.site, day, (Scenario("one"),), runs, 5, known=data.given, belief=belief)
    assert asked.shape is not None
    found = run_blocks(asked.over_sites, asked.scenarios, asked.shape).runs[0]
    return np.asarray(found.day["damp_share"].mean(axis=2).ravel())


@dataclass(frozen=True, slots=True)
class Told:
    """Share of damp cars that is expected of a site, and what it is in the other simulator."""

    drawn: Floats
    truth: float

    @property
    def off(self) -> float:
        """Error of the mean."""
        return abs(float(self.drawn.mean()) - self.truth)

    @property
    def score(self) -> float:
        """Continuous ranked probability score."""
        return float(crps(self.drawn[:, None], np.array([self.truth]))[0])

    def is_within(self, share: float) -> bool:
        """Whether the truth lies in the middle so much of the drawn sites, to half a car in a
        hundred."""
        tail = 0.5 * (1.0 - share)
        low, high = np.quantile(self.drawn, [tail, 1.0 - tail])
        return bool(low - SLACK <= self.truth <= high + SLACK)


def told(number: int, points: int, runs: int, days: int) -> tuple[Told, Told]:
    """What is told of a site's next day like the measured one, before and after measuring."""
    blind = blind_site(number)
    data = data_of(blind)
    asked = weighed(data)
    assert not asked.problems
    found = posterior(
        data.site, data.given, asked.weighings, asked.days, SEED,
        first_size=min(points, FIRST_SIZE), most_size=points, spins=asked.spins,
    )  # fmt: skip
    day = replace(blind.conditions, opening_moisture_kg_kg=DRY)
    truth = float(lived(replace(blind, conditions=day), "full", days).damp_share.mean())
    beliefs = (None, found.belief)
    before, after = (Told(shares(data, day, one, runs), truth) for one in beliefs)
    return before, after


@pytest.mark.soak
def test_measuring_brings_what_is_told_nearer(size: Size, record_figure: Record) -> None:
    """Share of cars that come damp to the exit of a fully wiped day, at sites that have entered
    nothing but their hours and prices."""
    sites, points = size(small=3, full=SITES), size(small=256, full=1_024)
    runs, days = size(small=256, full=512), size(small=8, full=16)
    found = [told(number, points, runs, days) for number in range(sites)]
    for where, some in (("of the model's shape", found[:OF_SHAPE]), ("outside", found[OF_SHAPE:])):
        if not some:
            continue
        for when, rows in zip(("before", "after"), zip(*some, strict=True), strict=True):
            name = f"{where}, {when} measuring"
            record_figure(f"{name}: off", 100.0 * np.mean([one.off for one in rows]), "points")
            score = 100.0 * np.mean([one.score for one in rows])
            record_figure(f"{name}: score", score, "points")
            for share in (0.8, 0.95):
                count = sum(one.is_within(share) for one in rows)
                record_figure(f"{name}: within {100 * share:.0f} %", count, f"of {len(rows)}")
    ours = found[:OF_SHAPE]
    assert np.mean([after.score for _, after in ours]) < np.mean(
        [before.score for before, _ in ours]
    )
    within = sum(after.is_within(0.95) for _, after in ours)
    assert within >= binom.ppf(0.001, len(ours), 0.95)

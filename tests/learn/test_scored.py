"""How good what was told was: the score by hand and by published examples, its parts, the limits of
groups of days that scatter, and forecasters that are right or too sure of themselves."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pytest

from sim.day.figures import Range
from sim.inputs.logbook import FULL, REDUCED
from sim.learn.happened import Planned, share_limits
from sim.learn.logged import LoggedDay, Switch
from sim.learn.scored import (
    EDGES,
    Events,
    ToldDay,
    damp_events,
    lost_events,
    score,
    score_days,
    switch_events,
)
from tests.sizes import Size

H = 3600.0
LAST = date(2026, 7, 17)
Record = Callable[[str, float, str], None]


def singles(told: list[float], came: list[int]) -> list[Events]:
    """Events of a day each."""
    return [
        Events(LAST - timedelta(days=at), share, 1, one)
        for at, (share, one) in enumerate(zip(told, came, strict=True))
    ]


# ---- the score


@pytest.mark.parametrize(
    ("told", "came", "is_scored"),
    [
        # Brier 1950, Monthly Weather Review 78:1-3, table 1, from memory: ten forecasts of rain,
        # of both classes together 0.19, and so half of that of rain alone
        ([0.7, 0.9, 0.8, 0.4, 0.2, 0.0, 0.0, 0.0, 0.0, 0.1], [0, 1, 1, 1, 0, 0, 0, 0, 0, 0], 0.095),
        # scikit-learn, documentation of brier_score_loss, its first example, from memory
        ([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0], 0.0375),
        ([1.0, 0.0, 1.0], [1, 0, 1], 0.0),
        ([1.0, 0.0], [0, 1], 1.0),
        ([0.5, 0.5], [0, 1], 0.25),
    ],
)
def test_the_score_of_published_examples(
    told: list[float], came: list[int], is_scored: float
) -> None:
    """It is the mean squared distance of what was told from what came."""
    found = score(singles(told, came))
    assert found is not None
    assert found.brier == pytest.approx(is_scored, abs=1e-12)


def test_a_score_by_hand() -> None:
    """Of 10 hoods told 0.2 came 3, of 20 told 0.6 came 10: by Murphy's formula of 1973 with groups
    of one forecast each, reliability Σ n (p − o)² / N, resolution Σ n (o − ō)² / N, ō (1 − ō)."""
    found = score([Events(LAST, 0.2, 10, 3), Events(LAST - timedelta(days=1), 0.6, 20, 10)])
    assert found is not None
    mean = 13 / 30
    reliability = (10 * (0.2 - 0.3) ** 2 + 20 * (0.6 - 0.5) ** 2) / 30
    resolution = (10 * (0.3 - mean) ** 2 + 20 * (0.5 - mean) ** 2) / 30
    assert found.reliability == pytest.approx(reliability, abs=1e-12)
    assert found.resolution == pytest.approx(resolution, abs=1e-12)
    assert found.uncertainty == pytest.approx(mean * (1.0 - mean), abs=1e-12)
    by_hand = (3 * 0.8**2 + 7 * 0.2**2 + 10 * 0.4**2 + 10 * 0.6**2) / 30
    assert found.brier == pytest.approx(by_hand, abs=1e-12)
    assert (found.days, found.of, found.came) == (2, 30, 13)
    assert found.skill == pytest.approx(1.0 - by_hand / (mean * (1.0 - mean)), abs=1e-12)


def test_its_parts_add_up_whatever_was_told(rng: np.random.Generator) -> None:
    """Reliability less resolution and uncertainty is the score, also where a group holds several
    forecasts; events split among entries of a day change nothing."""
    for _ in range(20):
        days = int(rng.integers(1, 40))
        told, of = rng.uniform(0.0, 1.0, days), rng.integers(1, 30, days)
        came = rng.binomial(of, rng.uniform(0.0, 1.0, days))
        every = [
            Events(LAST - timedelta(days=at), float(p), int(n), int(k))
            for at, (p, n, k) in enumerate(zip(told, of, came, strict=True))
        ]
        found = score(every)
        assert found is not None
        parts = found.reliability - found.resolution + found.uncertainty
        assert found.brier == pytest.approx(parts, abs=1e-12)
        assert sum(one.of for one in found.groups) == found.of
        pieces = [
            Events(one.day, one.told, n, k)
            for one in every
            for n, k in ((one.came, one.came), (one.of - one.came, 0))
        ]
        split = score(pieces)
        assert split is not None
        assert split.brier == pytest.approx(found.brier, abs=1e-12)
        assert split.as_one == pytest.approx(found.as_one, rel=1e-9)


def test_of_nothing_there_is_no_score() -> None:
    """No event, or none of a day, is no score; where nothing came at all nobody can be better."""
    assert score([]) is None
    assert score([Events(LAST, 0.3, 0, 0)]) is None
    never = score([Events(LAST, 0.1, 20, 0)])
    assert never is not None
    assert never.skill is None
    assert never.place == "too few days"


# ---- forecasters


SHARES = (0.03, 0.08, 0.15, 0.25, 0.4, 0.6, 0.9)
HOODS, DAYS = 20, 84


def told_days(
    rng: np.random.Generator, *, sharper: float = 1.0, scatter: float = 0.0
) -> list[Events]:
    """Days of a forecaster: true shares are those told or, with `sharper` above one, nearer to a
    half than he says in log odds; they scatter by a beta distribution of that correlation."""
    found = []
    for at, told in zip(range(DAYS), itertools.cycle(SHARES)):
        odds = math.log(told / (1.0 - told)) / sharper
        share = 1.0 / (1.0 + math.exp(-odds))
        if scatter:
            size = 1.0 / scatter - 1.0
            share = float(rng.beta(share * size, (1.0 - share) * size))
        came = int(rng.binomial(HOODS, share))
        found.append(Events(LAST - timedelta(days=at), told, HOODS, came))
    return found


@pytest.mark.soak
def test_a_forecaster_who_is_right_loses_nothing_but_chance(
    rng: np.random.Generator, size: Size, record_figure: Record
) -> None:
    """His reliability is in the mean Σ p (1 − p) / N over the groups, what chance alone leaves;
    that of one twice as sure as he may be is far above, and resolution stays."""
    runs = size(small=100, full=2_000)
    chance = math.fsum(p * (1.0 - p) for p in SHARES) / (DAYS * HOODS)
    right = [score(told_days(rng)) for _ in range(runs)]
    sure = [score(told_days(rng, sharper=2.0)) for _ in range(runs)]
    losses = np.array([one.reliability for one in right if one])
    half = 3.3 * losses.std(ddof=1) / math.sqrt(runs)
    assert abs(losses.mean() - chance) < half
    assert half < 0.25 * chance
    too_sure = np.array([one.reliability for one in sure if one])
    assert too_sure.min() > 5.0 * chance
    record_figure(
        "reliability of the right one, of what chance leaves", float(losses.mean() / chance), ""
    )


@pytest.mark.soak
def test_limits_hold_though_days_scatter(
    rng: np.random.Generator, size: Size, record_figure: Record
) -> None:
    """Where shares of days scatter by beta distributions about those told, limits of groups hold
    the told share in 95 of 100, as far as so many tell; limits that take hoods one by one don't."""
    runs = size(small=60, full=2_000)
    held, bare, groups = 0, 0, 0
    for _ in range(runs):
        found = score(told_days(rng, scatter=0.1))
        assert found is not None
        for one in found.groups:
            groups += 1
            held += one.place == "as told"
            ends = share_limits(one.came, one.of, 0.95)
            bare += ends.low <= one.told <= ends.high
    # as if the seven groups of a run were one, which makes the limits wider
    low = share_limits(held / len(SHARES), groups / len(SHARES), 0.999)
    assert low.high >= 0.95
    assert held / groups > 0.92
    assert bare / groups < 0.85
    record_figure("groups of a right forecaster told as right", 100.0 * held / groups, "%")


@pytest.mark.soak
def test_whether_more_came_than_told_is_rarely_said_of_luck(
    rng: np.random.Generator, size: Size, record_figure: Record
) -> None:
    """Of a forecaster who is right it is said in about one of twenty; of one who tells two thirds
    of what comes nearly always."""
    runs = size(small=100, full=2_000)
    said = 0
    for _ in range(runs):
        found = score(told_days(rng, scatter=0.1))
        said += found is not None and found.place != "as told"
    limits = share_limits(said, runs, 0.999)
    assert limits.low <= 0.05 <= limits.high
    low = [
        score(
            [
                Events(one.day, one.told / 1.5, one.of, one.came)
                for one in told_days(rng, scatter=0.1)
            ]
        )
        for _ in range(runs)
    ]
    assert sum(one is not None and one.place == "more" for one in low) > 0.95 * runs
    record_figure("a right forecaster called wrong", 100.0 * said / runs, "%")


def test_hoods_that_days_have_in_common(rng: np.random.Generator) -> None:
    """With beta shares of correlation ρ the variance of a day is 1 + (n − 1) ρ times that of hoods
    one by one (beta-binomial distribution): of 20 hoods and ρ = 0.1, 2.9 times."""
    found = [score(told_days(rng, scatter=0.1)) for _ in range(60)]
    mean = float(np.mean([one.as_one for one in found if one]))
    assert mean == pytest.approx(1.0 + 19 * 0.1, rel=0.08)


def test_few_days_say_little() -> None:
    """A single day counts as one hood, so its group holds nearly any share; below ten days nothing
    is said of all; ten days that are all off say so."""
    one = score([Events(LAST, 0.1, 20, 8)])
    assert one is not None
    ends = share_limits(0.4, 1.0, 0.95)
    assert one.groups[0].limits == Range(ends.low, ends.high)
    assert one.groups[0].place == "as told"
    nine = score([Events(LAST - timedelta(days=at), 0.1, 20, 8 + at % 2) for at in range(9)])
    ten = score([Events(LAST - timedelta(days=at), 0.1, 20, 8 + at % 2) for at in range(10)])
    fewer = score([Events(LAST - timedelta(days=at), 0.8, 20, 8 + at % 2) for at in range(10)])
    assert nine is not None
    assert ten is not None
    assert fewer is not None
    assert (nine.place, ten.place, fewer.place) == ("too few days", "more", "fewer")
    assert ten.groups[0].place == "more"


def test_groups_are_by_what_was_told() -> None:
    """An edge belongs to the group above it; groups come in order; each knows its days."""
    found = score(
        [Events(LAST, EDGES[1], 5, 1), Events(LAST, 0.02, 5, 0), Events(LAST, 0.04, 5, 0)]
    )
    assert found is not None
    assert [(one.days, one.of) for one in found.groups] == [(1, 10), (1, 5)]
    assert found.groups[0].told == pytest.approx(0.03)


# ---- what a day tells


def hours(**values: float) -> tuple[float | None, ...]:
    """24 hours with some values, as h12=0.3."""
    return tuple(values.get(f"h{hour}") for hour in range(24))


PLANNED = Planned(
    "stored",
    {"cars_arrived": (200.0, None), "cars_lost": (10.0, None), "damp_share": (0.1, None)},
    rule="band 60-50",
    damp_by_hour=hours(h12=0.3, h15=0.1),
    full_by_hour=hours(h7=0.9, h8=1.0, h9=0.2, h10=0.4, h11=0.5),
)


def test_hoods_are_held_against_the_hours_in_which_they_were_looked_at() -> None:
    """Ten hoods at twelve and thirty at three: a share of 0.15 was told of them."""
    looks = LoggedDay(damp=9, looked_at=40, looks=((12, 10), (15, 30)), entries=2)
    found = damp_events(LAST, PLANNED, looks)
    assert found is not None
    assert (found.of, found.came) == (40, 9)
    assert found.told == pytest.approx(0.15)
    assert damp_events(LAST, PLANNED, LoggedDay(entries=1)) is None
    assert damp_events(LAST, Planned("nothing", {}), looks) is None


def test_cars_that_drove_away_are_of_those_that_came() -> None:
    """One in twenty was told. Where nobody noted any, none did if the day was counted until
    closing; else nothing is known."""
    noted = lost_events(LAST, PLANNED, LoggedDay(turned_away=8, entries=1), 160)
    assert noted == Events(LAST, 0.05, 160, 8)
    none = lost_events(LAST, PLANNED, LoggedDay(cars=150, entries=1), 150)
    assert none == Events(LAST, 0.05, 150, 0)
    assert lost_events(LAST, PLANNED, LoggedDay(entries=1), 150) is None
    assert lost_events(LAST, PLANNED, LoggedDay(turned_away=8, entries=1), None) is None


def test_hours_of_a_rule_by_what_is_seen() -> None:
    """Each full open hour: told was how many cars are wiped reduced, and it came where most of the
    hour was reduced; a rule by the clock, and a plan worked out afterwards, tell nothing."""
    logged = LoggedDay(switches=(Switch(9.25 * H, REDUCED), Switch(10.75 * H, FULL)), entries=2)
    found = switch_events(LAST, PLANNED, logged, 7.5 * H, 11.0 * H)
    assert [(round(one.told, 6), one.of, one.came) for one in found] == [
        (0.0, 1, 0), (0.8, 1, 1), (0.6, 1, 1),
    ]  # fmt: skip
    clock = Planned("stored", {}, full_by_hour=PLANNED.full_by_hour, windows=())
    later = Planned("afterwards", {}, full_by_hour=PLANNED.full_by_hour)
    for planned in (clock, later):
        assert switch_events(LAST, planned, logged, 7.0 * H, 12.0 * H) == ()
    assert switch_events(LAST, PLANNED, LoggedDay(), 7.0 * H, 12.0 * H) == ()


def test_days_back() -> None:
    """Of the last 30 and 90 days each: days without an entry, days of which nothing was told, and
    rules by the clock that were followed; cars lost count only where the crew notes them at all."""
    clock = Planned("stored", {}, windows=((12.0 * H, 14.0 * H),))
    kept = LoggedDay(
        cars=150, switches=(Switch(12.0 * H, REDUCED), Switch(14.0 * H, FULL)), entries=3
    )
    late = LoggedDay(switches=(Switch(13.0 * H, REDUCED), Switch(14.0 * H, FULL)), entries=2)
    days = [
        ToldDay(LAST, PLANNED, kept, 150),
        ToldDay(LAST - timedelta(days=1), clock, kept, 150),
        ToldDay(LAST - timedelta(days=29), clock, late, None),
        ToldDay(LAST - timedelta(days=30), Planned("expected", {}), kept, 150),
        ToldDay(LAST - timedelta(days=90), PLANNED, kept, 150),
    ]
    found = score_days(LAST, days, 7.0 * H, 19.0 * H)
    month, quarter = found.windows
    assert (month.length, month.unlogged, month.untold, month.stored) == (30, 27, 0, 3)
    assert (month.by_clock, month.followed) == (2, 1)
    assert (quarter.length, quarter.unlogged, quarter.untold, quarter.stored) == (90, 86, 1, 3)
    assert month.lost is None
    noted = ToldDay(LAST - timedelta(days=40), PLANNED, LoggedDay(turned_away=2, entries=1), 99)
    month = score_days(LAST, [*days, noted], 7.0 * H, 19.0 * H).windows[0]
    assert month.lost is not None
    assert (month.lost.of, month.lost.came) == (150, 0)
    assert month.damp is None
    assert month.switch is not None

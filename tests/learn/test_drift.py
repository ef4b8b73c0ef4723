"""The chart that tells whether a site has changed: its run lengths by theory, on simulated sites,
and in the log of the demo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtri
from scipy.stats import norm, t

from sim.day.blocks import sobol_points
from sim.day.drawn import draw_site, uncertain
from sim.inputs import HOODS, Site, Weighing
from sim.learn.drift import LEARNT, Looked, find_changes, normal_score, run_length
from sim.learn.logged_hoods import looked_at
from sim.learn.weighed_day import WeighedDay, look_at
from tests.day.sites import conditions
from tests.remembering import kept
from tests.seeds import generator, seed
from tests.sizes import Size

Record = Callable[[str, float, str], None]
Floats = NDArray[np.float64]
BASE = Site("Drifting wash")
NAMES = uncertain(BASE, ())
FIRST = date(2025, 3, 3)
HOODS_A_LOOK = 20
LOOKED_AT_S = (11.0 * 3600.0, 13.0 * 3600.0, 15.0 * 3600.0)
LOOKS = tuple(Weighing(HOODS, FIRST, at_s, 0.0, 0.0, cars=HOODS_A_LOOK) for at_s in LOOKED_AT_S)
FALL = 0.8
"""What is left of the cloth's uptake after a change."""
BESIDE = 12
"""Sites that stand for what is believed of one: those that leave about as many hoods damp."""
TELLS = 0.03
"""A site that leaves fewer hoods damp over all days than that hardly tells any change by them."""


@dataclass(frozen=True, slots=True)
class World:
    """Sites on some kinds of days: share of damp hoods at each look, as they are and with less
    uptake; shape (sites, kinds of day, looks)."""

    now: Floats
    fallen: Floats

    def beside(self, site: int) -> Floats:
        """Sites that stand for what is believed of one: others that leave about as many hoods damp
        in all, whatever the reason; shape (sites, kinds of day, looks)."""
        of_site = self.now.mean(axis=(1, 2))
        order = np.argsort(np.abs(of_site - of_site[site]), kind="stable")
        others = [other for other in order.tolist() if other != site]
        return np.asarray(self.now[others[:BESIDE]])


def world(sites: int, days: int) -> World:
    """Sites drawn from the priors on days that differ in cars and air."""
    return kept(("drift", sites, days), lambda: _world(sites, days))


def _world(sites: int, days: int) -> World:
    kinds = [
        WeighedDay(
            LOOKS, conditions(20.0 + 35.0 * u[0], 10.0 + 22.0 * u[1], 0.3 + 0.5 * u[2]), None
        )
        for u in sobol_points(3, days, seed("kinds of day"), 1)
    ]
    # Sobol points come in powers of two
    drawn = sobol_points(len(NAMES), 1 << (sites - 1).bit_length(), seed("drifting sites"), 1)
    rows = []
    for number, u in enumerate(drawn[:sites]):
        site = draw_site(BASE, NAMES, u)
        fallen = site.with_values({"uptake_max": FALL * site.wiping.uptake_max})
        rows.append([look_at(one, kinds, 5, number).damp[0] for one in (site, fallen)])
    found = np.array(rows).reshape(sites, 2, days, len(LOOKS))
    return World(found[:, 0], found[:, 1])


def log_of(
    some: World, site: int, days: int, rng: np.random.Generator, changed: int | None = None
) -> list[Looked]:
    """Hoods looked at day after day, with what is believed of each and the main patterns in which
    that differs; from a day on the uptake has fallen."""
    kinds = rng.integers(some.now.shape[1], size=days)
    items = []
    for number, kind in enumerate(kinds.tolist()):
        has_fallen = changed is not None and number >= changed
        share = (some.fallen if has_fallen else some.now)[site, kind]
        day = FIRST + timedelta(days=number)
        items += [
            replace(look, day=day, damp_cars=damp)
            for look, damp in zip(LOOKS, rng.binomial(HOODS_A_LOOK, share).tolist(), strict=True)
        ]
    beside = some.beside(site)[:, kinds]  # (sites, days, looks)
    return list(looked_at(items, beside.reshape(len(beside), -1).T))


# ---- by theory -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "shift", "length", "within"),
    [
        (4.0, 0.0, 168.0, 0.5), (4.0, 0.5, 26.6, 0.05), (4.0, 1.0, 8.38, 5e-3),
        (4.0, 2.0, 3.34, 5e-3), (5.0, 0.0, 465.0, 0.5), (5.0, 0.5, 38.0, 0.05),
        (5.0, 1.0, 10.4, 0.05), (5.0, 2.0, 4.01, 5e-3),
    ],
)  # fmt: skip
def test_run_lengths_are_those_of_the_handbook(
    limit: float, shift: float, length: float, within: float
) -> None:
    """Two-sided cumulative sum with k = ½: Montgomery, Introduction to Statistical Quality Control,
    table of run lengths, to its printed digits (from memory)."""
    assert run_length(shift, 0.5, limit) == pytest.approx(length, abs=within)


def test_the_score_is_normal_where_the_ratio_is_of_student() -> None:
    """Against the distributions of SciPy, both tails."""
    for ratio in (-6.0, -1.3, 0.0, 0.4, 2.0, 9.0):
        expected = norm.ppf(t.cdf(ratio, 19)) if ratio < 0.0 else -norm.ppf(t.cdf(-ratio, 19))
        assert normal_score(ratio, 19) == pytest.approx(expected, abs=1e-9)


# ---- what it finds -------------------------------------------------------------------------------


def steady(days: int, shares: Callable[[int], float], hoods: int = 80) -> list[Looked]:
    """A log whose hoods are damp as often as a share says, to a hood, where a fifth is believed."""
    return [
        Looked(FIRST + timedelta(days=n), hoods, round(hoods * shares(n)), 0.2) for n in range(days)
    ]


def test_a_site_that_is_off_what_is_believed_has_not_changed() -> None:
    """Twice as many damp hoods as believed, on each day, are no change."""
    found = find_changes(steady(300, lambda _n: 0.4))
    assert found.changes == ()
    assert (found.days, found.hoods, found.judged) == (300, 24_000, 300 - LEARNT)


@pytest.mark.parametrize(("after", "direction"), [(0.35, "wetter"), (0.08, "drier")])
def test_a_change_is_dated_and_told_by_how_much(after: float, direction: str) -> None:
    """From a known day on more or fewer hoods are damp: found within days, dated to that day, with
    both shares."""
    (change,) = find_changes(steady(130, lambda n: 0.2 if n < 90 else after)).changes
    assert change.direction == direction
    assert change.since == FIRST + timedelta(days=90)
    assert change.since <= change.noticed <= change.since + timedelta(days=5)
    assert change.before == pytest.approx(0.2, abs=0.02)
    assert change.after == pytest.approx(after, abs=0.02)


def test_what_goes_on_changing_is_one_change() -> None:
    """A blower that weakens over weeks is told once, from when it began to show."""
    found = find_changes(steady(200, lambda n: 0.2 + 0.006 * min(30, max(0, n - 100)))).changes
    assert len(found) == 1
    assert found[0].since - FIRST < timedelta(days=115)
    assert found[0].after > 0.3


def test_two_changes_are_told_apart() -> None:
    """Wetter, then, long after, as it was."""
    found = find_changes(steady(300, lambda n: 0.4 if 100 <= n < 200 else 0.2)).changes
    assert [one.direction for one in found] == ["wetter", "drier"]


def test_hardly_any_damp_hood_tells_hardly_anything() -> None:
    """Days are put together until their hoods tell something; a log too short or too dry for that
    judges nothing and finds nothing."""
    dry = [replace(one, believed=0.0, damp=0) for one in steady(100, lambda _n: 0.2, 20)]
    found = find_changes(dry)
    assert found.judged == 0
    assert found.changes == ()
    assert find_changes([]).first is None
    assert find_changes(steady(LEARNT, lambda _n: 0.2)).judged == 0


def test_the_order_of_looks_does_not_matter() -> None:
    """A log is a set of looks."""
    log = steady(130, lambda n: 0.2 if n < 90 else 0.4)
    shuffled = [log[i] for i in generator("shuffled log").permutation(len(log))]
    assert find_changes(shuffled) == find_changes(log)


@pytest.mark.soak
def test_alarms_are_rare_and_a_fall_of_uptake_is_found(size: Size, record_figure: Record) -> None:
    """On simulated sites, whose days differ in cars and air and whose hoods are held against what
    other sites leave damp: while nothing changes, one alarm in 370 days or fewer; and after the
    uptake has fallen by a fifth an alarm within ten days in the median. Sites that leave hardly a
    hood damp tell nothing by hoods, and are left out of the second."""
    sites, kinds = size(small=24, full=200), size(small=8, full=16)
    before, after = size(small=200, full=300), size(small=60, full=120)
    some = world(sites, kinds)
    alarms, days, waits = 0, 0, []
    for site in range(sites):
        rng = generator(f"drift {site}")
        calm = find_changes(log_of(some, site, before, rng))
        alarms += len(calm.changes)
        days += before
        if TELLS <= some.now[site].mean() <= 1.0 - TELLS:
            log = log_of(some, site, before // 2 + after, rng, changed=before // 2)
            began = FIRST + timedelta(days=before // 2)
            late = [
                (one.noticed - began).days + 1
                for one in find_changes(log).changes
                if one.direction == "wetter" and one.noticed >= began
            ]
            waits.append(late[0] if late else after + 1)
    record_figure("days an alarm while nothing changes", days / max(1, alarms), "days")
    record_figure(
        "days until a fall of uptake by a fifth is found", float(np.median(waits)), "days"
    )
    record_figure("sites that tell it", len(waits), f"of {sites}")
    assert len(waits) >= sites // 3
    assert days / max(1, alarms) >= 370
    assert np.median(waits) <= 10


def test_a_chart_that_is_too_eager_is_found_out() -> None:
    """The same sites with a limit of 2 in place of 5 give alarms far too often, so that the check
    above can fail."""
    assert run_length(0.0, 0.5, 2.0) < 100 < 370 < run_length(0.0)
    rng = generator("eager chart")
    sums, alarms = 0.0, 0
    for score in ndtri(rng.random(4_000)).tolist():
        sums = max(0.0, sums + score - 0.5)
        if sums > 2.0:
            sums, alarms = 0.0, alarms + 1
    assert 4_000 / alarms < 370


def test_a_season_in_which_likely_sites_differ_is_no_change() -> None:
    """Sites as they might be differ in a season by one in log odds; the site lies there by one.
    Told how they differ, the chart learns it; told nothing of it, it takes the season for a
    change. A change of the same size that no likely site has is found either way."""
    usual, season = 0.2, float(expit(logit(0.2) + 1.0))
    is_season = [n // 40 % 2 == 1 for n in range(160)]
    log = steady(160, lambda n: season if is_season[n] else usual)
    told = [
        replace(one, differs=(1.0 if here else 0.0,))
        for one, here in zip(log, is_season, strict=True)
    ]
    assert find_changes(log).changes
    assert find_changes(told).changes == ()
    other = [replace(one, differs=(0.0,)) for one in log]
    assert find_changes(other).changes == find_changes(log).changes


def test_patterns_are_those_in_which_sites_differ() -> None:
    """Four sites that differ in one way alone: it comes back as one pattern of that size, the rest
    as nothing, and the mean is that of their shares."""
    way = np.linspace(-1.0, 1.0, 12)
    lies = np.array([-1.5, -0.5, 0.5, 1.5])
    shares = expit(logit(0.3) + way[:, None] * lies)
    items = [Weighing(HOODS, FIRST, 0.0, 0.0, 0.0, cars=20, damp_cars=n) for n in range(12)]
    found = looked_at(items, shares)
    assert [one.damp for one in found] == list(range(12))
    assert [one.believed for one in found] == pytest.approx(shares.mean(axis=1).tolist())
    differs = np.array([one.differs for one in found])
    assert np.abs(differs[:, 0]) == pytest.approx(np.abs(way) * lies.std())
    assert np.abs(differs[:, 1:]).max() < 1e-9

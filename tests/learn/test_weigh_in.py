"""What weighings leave of a site's guesses."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.special import logsumexp, ndtri
from scipy.stats import betabinom, binom, multivariate_normal, norm, poisson

from sim.day.draw import DayDraw, make_cars
from sim.day.drawn import (
    FURTHER_OUT,
    Belief,
    are_strange,
    block_points,
    draw_site,
    prior_points,
    uncertain,
)
from sim.day.kernel import run
from sim.day.night import PreviousDay
from sim.day.rules import parse_rule
from sim.day.setup import damp_criterion, prepare_day
from sim.day.tunnel import simulate_day
from sim.inputs import AFTERNOON, DAMP, INPUTS, MISFIT, SOAKED, DemandSpread, Site, Weighing
from sim.learn import weigh_in
from sim.learn.weigh_in import (
    BETA_SIZE,
    ENOUGH,
    FEW,
    FIRST_SIZE,
    KEPT,
    MISJUDGED,
    STRANGE,
    TOO_FEW,
    WIDER_ERRORS,
    log_likelihood,
    posterior,
    reweigh,
    systematic,
    weigh,
)
from sim.learn.weighed_day import (
    PredictedWeighings,
    WeighedDay,
    look_at,
    moistures_at,
    together,
    until,
)
from tests.day.sites import conditions
from tests.remembering import remember
from tests.seeds import generator

SITE = Site("Weighed wash")
DAY = date(2026, 7, 18)
SD = SITE.wheel.weigh_in_log_sd
RIGHT = {"scale_bias"}
"""Of a scale that was found to be right, errors alone are left."""
PRIOR = INPUTS["holding_capacity_kg_kg"].prior
assert PRIOR is not None
PRIOR_SD = (math.log(PRIOR.high) - math.log(PRIOR.low)) / (2.0 * float(ndtri(0.975)))


def strip(kind: str, moisture: float, at_s: float = 0.0, rule: str = "full") -> Weighing:
    """A strip of 100 g that holds so much water."""
    return Weighing(kind, DAY, at_s, 0.1 * (1.0 + moisture), 0.1, rule)


@pytest.fixture(scope="module", autouse=True)
def drawn_once() -> Iterator[None]:
    """Sites that are asked what they would weigh are asked once by all tests of this module."""
    with pytest.MonkeyPatch.context() as patch:
        remember(patch, weigh_in, "_look")
        yield


def moments(belief: Belief, name: str) -> tuple[float, float]:
    """Mean and standard deviation of an input's logarithm over a belief's ensemble."""
    places, often = np.unique(belief.kept, return_counts=True)
    points = prior_points(len(belief.names), belief.size, belief.seed)[places]
    values = [draw_site(SITE, belief.names, row).value(name) for row in points]
    logs = np.repeat(np.log(np.array(values, float)), often)
    return float(logs.mean()), float(logs.std())


@pytest.mark.parametrize("moistures", [(2.6,), (1.7,), (2.5, 2.2, 2.9)])
def test_soaked_strips_alone_give_the_posterior_of_the_textbook(
    moistures: tuple[float, ...],
) -> None:
    """Lognormal prior and lognormal error: the posterior of the logarithm is normal with mean and
    variance in closed form (Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.5, from
    memory), that of usual sites and that of strange ones; mixed by how probable the strips made
    each, it is met within the Monte-Carlo error of its effective number."""
    found = posterior(SITE, RIGHT, [strip(SOAKED, x) for x in moistures], (), 3)
    logs, before = np.log(moistures), math.log(SITE.wheel.holding_capacity_kg_kg)
    parts = []
    for share, prior_sd, error_sd in (
        (1.0 - STRANGE, PRIOR_SD, SD),
        (STRANGE, FURTHER_OUT * PRIOR_SD, WIDER_ERRORS * SD),
    ):
        precision = 1.0 / prior_sd**2 + len(logs) / error_sd**2
        of_kind = (before / prior_sd**2 + logs.sum() / error_sd**2) / precision
        covariance = prior_sd**2 + error_sd**2 * np.eye(len(logs))
        evidence = multivariate_normal(np.full(len(logs), before), covariance).pdf(logs)
        parts.append((share * float(evidence), float(of_kind), 1.0 / precision))
    evidences, means, variances = np.array(parts).T
    mix = evidences / evidences.sum()
    mean = float(mix @ means)
    sd = math.sqrt(float(mix @ (variances + (means - mean) ** 2)))
    assert found.strange == pytest.approx(mix[1], rel=0.2)
    got_mean, got_sd = moments(found.belief, "holding_capacity_kg_kg")
    error = sd / math.sqrt(found.belief.effective)
    assert found.fits
    assert found.belief.effective >= 200
    assert abs(got_mean - mean) < 3.3 * error
    assert abs(got_sd - sd) < 3.3 * error


def test_the_prior_is_untouched_by_a_soaked_strip_elsewhere() -> None:
    """What the strip does not tell stays as it was believed: means of other inputs' scores lie
    within their Monte-Carlo error of 0, in 99.9 % each with room for many inputs."""
    found = posterior(SITE, (), [strip(SOAKED, 2.6)], (), 3)
    scores = ndtri(found.belief.u)
    others = [i for i, n in enumerate(found.belief.names) if n != "holding_capacity_kg_kg"]
    off = np.abs(scores[:, others].mean(axis=0)) * math.sqrt(found.belief.effective)
    assert off.max() < 4.5
    rows = found.inputs
    assert rows[0].name == "holding_capacity_kg_kg"
    assert rows[0].after[2] - rows[0].after[0] < rows[0].before[2] - rows[0].before[0]


def test_without_a_weighing_the_belief_is_the_prior() -> None:
    """One member in twenty is a strange site, the others are usual ones, each as often as any."""
    found = posterior(SITE, (), [], (), 3, first_size=KEPT)
    strange = are_strange(len(found.belief.names), KEPT, 3)
    often = np.bincount(found.belief.kept, minlength=KEPT)
    assert found.strange == pytest.approx(STRANGE)
    assert often[strange].sum() == pytest.approx(STRANGE * KEPT, abs=1.0)
    assert set(often[~strange]) <= {1, 2}
    assert found.belief.weighed == ()
    assert found.fits


def test_the_order_of_weighings_does_not_matter() -> None:
    """Weights are the same whatever was weighed first, to rounding."""
    day = conditions(30)
    items = [strip(SOAKED, 2.4), strip(DAMP, 1.3), strip(DAMP, 1.2)]
    noons = [strip(AFTERNOON, 1.0, 11 * 3600.0), strip(AFTERNOON, 1.2, 12 * 3600.0)]
    weights = [
        reweigh(
            SITE, (), some, [WeighedDay(tuple(late), day, None)], 3, first_size=16, most_size=16
        ).weights.weights
        for some, late in ((items, noons), (items[::-1], noons[::-1]))
    ]
    assert np.ptp(weights[0]) > 0.01
    np.testing.assert_allclose(weights[0], weights[1], rtol=1e-9)


def test_a_strip_of_a_day_counts_once() -> None:
    """The weights of a single weighed afternoon are its likelihood over the prior's points, and
    nothing else."""
    item = replace(strip(AFTERNOON, 0.9, 36_000.0), cars=20, damp_cars=3)
    days = [WeighedDay((item,), conditions(40), None)]
    found = reweigh(SITE, (), [item], days, 3, first_size=16, most_size=16)
    names = found.names
    points, strange = prior_points(len(names), 16, 3), are_strange(len(names), 16, 3)
    rows = [look_at(draw_site(SITE, names, u), days, 3, i) for i, u in enumerate(points)]
    log = log_likelihood(SITE, together(rows), (), days, strange)
    shares = np.where(strange, STRANGE / strange.sum(), (1.0 - STRANGE) / (~strange).sum())
    log += np.log(shares)
    np.testing.assert_allclose(found.weights.weights, np.exp(log - logsumexp(log)), rtol=1e-9)


def test_more_weighings_narrow_what_they_tell() -> None:
    """One, three and nine strips that agree leave less and less of the doubt."""
    widths = [
        moments(
            posterior(SITE, (), [strip(SOAKED, 2.3)] * n, (), 3).belief, "holding_capacity_kg_kg"
        )[1]
        for n in (1, 3, 9)
    ]
    assert PRIOR_SD > widths[0] > widths[1] > widths[2]


def test_more_sites_are_drawn_where_few_are_left() -> None:
    """Strips at the edge of what is believed leave too few of the sites drawn at first, so twice as
    many are drawn until enough are left; the first are among them, and no more are drawn where the
    first leave enough, or beyond the most."""
    few = [strip(SOAKED, 3.1)] * 9
    first = reweigh(SITE, (), few, (), 3, most_size=FIRST_SIZE)
    found = reweigh(SITE, (), few, (), 3)
    assert first.size == FIRST_SIZE
    assert first.weights.effective < ENOUGH <= found.weights.effective
    assert found.size in (2 * FIRST_SIZE, 4 * FIRST_SIZE)
    of_first = found.looked.moistures[:FIRST_SIZE]
    np.testing.assert_array_equal(of_first, first.looked.moistures)
    assert reweigh(SITE, (), few[:1], (), 3, first_size=1_024).size == 1_024


def test_weighings_that_nothing_explains_are_told() -> None:
    """A cloth that holds more than any drawn site's, and soaked strips that contradict each
    other, do not fit; one that is merely unusual does."""
    for odd in ([strip(SOAKED, 7.9)] * 3, [strip(SOAKED, 1.2), strip(SOAKED, 4.5)]):
        found = posterior(SITE, (), odd, (), 3, most_size=2_048)
        assert not found.fits
        assert found.belief.weighed == (SOAKED, MISFIT)
        assert found.belief.effective > TOO_FEW
    usual = posterior(SITE, (), [strip(SOAKED, 3.0)], (), 3)
    assert usual.fits
    assert usual.belief.weighed == (SOAKED,)


def test_strange_sites_are_judged_with_wider_errors() -> None:
    """A strip's density has three times the spread, and a count is beta-binomial about the share
    of the model: against SciPy's distributions, the coefficient aside."""
    item = replace(strip(AFTERNOON, 1.4, 36_000.0), cars=20, damp_cars=17)
    day = WeighedDay((item,), conditions(30), None)
    looked = PredictedWeighings(
        np.array([[2.2, 1.3, 0.9]] * 2), np.array([[0.2]] * 2), np.zeros((2, 1))
    )
    odd = np.array([False, True])
    usual, strange = log_likelihood(SITE, looked, (), [day], odd, draws=1, known=RIGHT)
    seen = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * 0.2
    sd, coefficient = SITE.wheel.strip_log_sd, math.log(math.comb(20, 17))
    z = math.log(1.4 / 0.9)
    narrow = norm.logpdf(z, scale=sd) + binom.logpmf(17, 20, seen)
    a, b = BETA_SIZE * seen, BETA_SIZE * (1.0 - seen)
    wide = norm.logpdf(z, scale=WIDER_ERRORS * sd) + betabinom.logpmf(17, 20, a, b)
    assert usual == pytest.approx(narrow - coefficient, abs=1e-9)
    assert strange == pytest.approx(wide - coefficient, abs=1e-9)


def test_the_bias_of_a_scale_is_the_same_in_all_weighings() -> None:
    """The likelihood of a soaked strip and one from the wheel is the mean over biases, each as
    likely, of two densities by SciPy at what such a scale would show; a bias that was entered is
    taken off, and one that wasn't makes both less sure."""
    soaked, later = strip(SOAKED, 2.5), strip(AFTERNOON, 0.8, 36_000.0)
    day = WeighedDay((later,), conditions(30), None)
    looked = PredictedWeighings(np.array([[2.2, 1.3, 0.7]]), np.zeros((1, 1)), np.zeros((1, 1)))

    def by_hand(bias: float) -> float:
        shown = [(1.0 + bias) * (1.0 + x) - 1.0 for x in (2.2, 0.7)]
        sds = SD, SITE.wheel.strip_log_sd
        logs = zip(np.log([2.5, 0.8]), np.log(shown), sds, strict=True)
        return float(sum(norm.logpdf(seen, at, sd) for seen, at, sd in logs))

    biases = norm.ppf([0.1, 0.3, 0.5, 0.7, 0.9], scale=0.06 / norm.ppf(0.975))
    # the table of inputs cuts the prior off at a fifth, six standard deviations out
    guessed = log_likelihood(SITE, looked, [soaked], [day])[0]
    assert guessed == pytest.approx(logsumexp([by_hand(b) for b in biases]) - math.log(5), abs=1e-6)
    entered = SITE.with_values({"scale_bias": 0.04})
    found = log_likelihood(entered, looked, [soaked], [day], known=RIGHT)[0]
    assert found == pytest.approx(by_hand(0.04), abs=1e-9)
    assert found > log_likelihood(SITE, looked, [soaked], [day], known=RIGHT)[0]


def test_few_cars_had_come_out_damp_before_they_began_to() -> None:
    """A strip at the damp limit with its cars also says that few had been damp before: Poisson,
    against SciPy's; at a strange site, and by a strip of an afternoon, it is not said."""
    item = replace(strip(DAMP, 0.9, 36_000.0), cars=20, damp_cars=3)
    looked = [
        PredictedWeighings(
            np.array([[2.2, 1.3, 0.9]] * 2), np.array([[0.2]] * 2), np.full((2, 1), before)
        )
        for before in (0.0, 14.0)
    ]
    gaps = {}
    for kind in (DAMP, AFTERNOON):
        day = WeighedDay((replace(item, kind=kind),), conditions(30), None)
        none, some = (
            log_likelihood(SITE, one, (), [day], np.array([False, True])) for one in looked
        )
        gaps[kind] = some - none
    by_scipy = [poisson.logcdf(FEW, 14.0), 0.0]
    np.testing.assert_allclose(gaps[DAMP], by_scipy, rtol=1e-9)
    np.testing.assert_allclose(gaps[AFTERNOON], 0.0, atol=1e-12)


def test_too_few_sites_are_evened_out() -> None:
    """Where the likelihood would leave one site, weights are raised to the largest power that
    leaves thirty, in the same order; where enough are left nothing is evened out, and a group of
    strange sites counts as much as one of twenty however many of them were drawn."""
    rng = generator("weigh")
    log, strange = -200.0 * rng.random(400) ** 2, rng.random(400) < 0.25
    few = weigh(log, strange)
    assert few.effective < TOO_FEW
    assert not few.fits
    assert 1.0 / float((few.weights**2).sum()) == pytest.approx(TOO_FEW, rel=1e-3)
    for group in (strange, ~strange):
        np.testing.assert_array_equal(np.argsort(few.weights[group]), np.argsort(log[group]))
    even = weigh(np.zeros(400), strange)
    assert even.fits
    assert even.strange == pytest.approx(STRANGE)
    assert float(even.weights[strange].sum()) == pytest.approx(STRANGE)


def test_cars_that_no_usual_site_leaves_damp_still_move_the_belief() -> None:
    """Under a day on which usual sites leave few cars damp, 18 of 20 damp under strips that weigh
    little are told as a misfit, and the sites that are then believed leave more cars damp, in a
    wider range, than those believed before."""
    day = conditions(20)
    item = replace(strip(AFTERNOON, 0.35, 40_000.0), cars=20, damp_cars=18)
    site, known = SITE.with_values({"allowed_film_kg_m2": 0.0199}), {"allowed_film_kg_m2"}
    found = posterior(site, known, [item], [WeighedDay((item,), day, None)], 3, first_size=512,
                      most_size=512)  # fmt: skip
    (row,) = found.judged
    assert row.share_before is not None
    assert row.share_after is not None
    assert not found.fits
    assert row.share_after[1] > row.share_before[1] + 0.05
    assert row.share_after[2] - row.share_after[0] > row.share_before[2] - row.share_before[0]


def test_what_the_site_knows_is_not_drawn() -> None:
    """An input that was entered stays as it is, and the weighing tells the rest."""
    known = {"holding_capacity_kg_kg"}
    found = posterior(SITE, known, [strip(DAMP, 1.6)], (), 3)
    assert found.belief.names == uncertain(SITE, known)
    middle = found.belief.middle(SITE)
    assert middle.wheel.holding_capacity_kg_kg == SITE.wheel.holding_capacity_kg_kg
    assert damp_criterion(middle)[1] > damp_criterion(SITE)[1]


def test_resampling_keeps_every_weight_in_the_mean() -> None:
    """Over many streams a member comes back count · weight times, and never off by a whole one."""
    rng = generator("systematic")
    weights = rng.dirichlet(np.full(40, 0.5))
    counts = np.array(
        [np.bincount(systematic(weights, 64, rng), minlength=40) for _ in range(4_000)]
    )
    assert np.abs(counts - 64 * weights).max() < 1.0 + 1e-9
    part = (64 * weights) % 1.0  # a count is the whole part, or one more with this probability
    error = np.sqrt(part * (1.0 - part) / len(counts)) + 1.0 / len(counts)
    assert np.all(np.abs(counts.mean(axis=0) - 64 * weights) <= 4.5 * error)


def test_a_day_averages_its_likelihood_over_its_draws() -> None:
    """Two strips of one afternoon live through the same simulated day: their densities are
    multiplied within a day and averaged over days."""
    items = (strip(AFTERNOON, 1.0, 36_000.0), strip(AFTERNOON, 1.1, 36_000.0))
    day = WeighedDay(items, conditions(30), None)
    model = np.array([[2.2, 1.3, 1.0, 1.1, 0.8, 0.9]])
    sd = math.hypot(SD, SITE.wheel.strip_place_log_sd)

    def density(x: float, at: float) -> float:
        z = math.log(x / at) / sd
        return math.exp(-0.5 * z * z) / (sd * math.sqrt(2.0 * math.pi))

    by_hand = 0.5 * density(1.0, 1.0) * density(1.1, 1.1) + 0.5 * density(1.0, 0.8) * density(
        1.1, 0.9
    )
    looked = PredictedWeighings(model, np.zeros((1, 4)), np.zeros((1, 4)))
    got = log_likelihood(SITE, looked, (), [day], draws=2, known=RIGHT)
    assert got[0] == pytest.approx(math.log(by_hand), abs=1e-6)


def test_cars_that_were_looked_at_count_once_for_all_strips_of_their_time() -> None:
    """Two strips weighed at one time and sharing one count, a third an hour later with its own:
    against SciPy's binomial distribution the likelihood differs by the coefficients alone, and the
    shared count is there once."""
    first = replace(strip(AFTERNOON, 1.0, 36_000.0), cars=20, damp_cars=4)
    later = replace(strip(DAMP, 1.1, 39_600.0), cars=10, damp_cars=0)
    day = WeighedDay((first, replace(first, weight_kg=0.21), later), conditions(30), None)
    model = np.array([[2.2, 1.3, 1.0, 1.0, 1.1]])
    share = np.array([[0.3, 0.3, 0.05]])
    plain = WeighedDay(tuple(replace(w, cars=0) for w in day.weighings), day.conditions, None)
    with_counts, without = (
        log_likelihood(
            SITE, PredictedWeighings(model, share, np.zeros((1, 3))), (), [one], draws=1
        )[0]
        for one in (day, plain)
    )
    seen = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * share[0]
    by_scipy = binom.logpmf(4, 20, seen[0]) + binom.logpmf(0, 10, seen[2])
    coefficients = math.log(math.comb(20, 4)) + math.log(math.comb(10, 0))
    assert with_counts - without == pytest.approx(by_scipy - coefficients, abs=1e-12)


def test_a_share_of_damp_cars_alone_gives_the_posterior_of_its_weights() -> None:
    """Where cars all come out damp, or none does, sites that leave more of them damp gain or lose
    in the ensemble; what was seen of many cars tells more than of few. On a day whose hours come
    as expected, lest their luck be more than the ensemble of 128 tells apart."""
    day = replace(conditions(60), spread=DemandSpread(hour_cv=0.0))

    def wetness(cars: int, damp: int) -> float:
        item = replace(strip(AFTERNOON, 0.9, 36_000.0), cars=cars, damp_cars=damp)
        days = [WeighedDay((item,), day, None)]
        found = posterior(SITE, RIGHT, (), days, 3, first_size=128, most_size=128)
        shares = [
            look_at(draw_site(SITE, found.belief.names, row), days, 3).damp.mean()
            for row in found.belief.u[::64]
        ]
        return float(np.mean(shares))

    none, unseen, many, most = wetness(20, 0), wetness(0, 0), wetness(20, 17), wetness(80, 68)
    assert none < unseen < many
    assert abs(most - 0.85) < abs(many - 0.85) + 0.02


def test_a_strip_weighs_what_the_day_says() -> None:
    """Right after a car has left the wheel, the compiled day's strip holds what the day traced
    car by car has in its cloth; no cars after the hour change nothing before."""
    day = conditions(40)
    numbers, rule = prepare_day(SITE, day), parse_rule("full")
    cars = make_cars(DayDraw(5, 0), SITE, day)
    passes = [car for car in simulate_day(SITE, numbers, cars, rule).passes if not car.lost]
    some = [car for car in passes[5::7] if car.exit_s < 14 * 3600.0][:6]
    times = [car.exit_s for car in some]
    cut = until(day, max(times))
    short = make_cars(DayDraw(5, 0), SITE, cut)
    got = moistures_at(run(SITE, numbers, cars, rule), numbers, times)
    assert len(times) == 6
    # the last zone ends a moment before the exit, and the wheel idles in between
    np.testing.assert_allclose(got, [car.moisture_after for car in some], rtol=2e-3)
    until_then = run(SITE, prepare_day(SITE, cut), short, rule)
    np.testing.assert_allclose(moistures_at(until_then, numbers, times), got, rtol=1e-9)


def test_before_the_first_car_the_cloth_is_as_it_opened() -> None:
    """And an idling wheel dries it meanwhile, never wets it."""
    day = replace(conditions(0), opening_moisture_kg_kg=1.5)
    numbers = prepare_day(SITE, day)
    cars = make_cars(DayDraw(5, 0), SITE, day)
    opens = SITE.line.open_h * 3600.0
    at = [opens, opens + 600.0, opens + 7200.0]
    got = moistures_at(run(SITE, numbers, cars, parse_rule("full")), numbers, at)
    assert got[0] == 1.5
    assert got[0] > got[1] > got[2]


def test_the_night_before_sets_the_morning() -> None:
    """With an evening each drawn site opens with what its own night leaves."""
    item = strip(AFTERNOON, 1.0, SITE.line.open_h * 3600.0)
    day = replace(conditions(30), opening_moisture_kg_kg=None)
    evening = PreviousDay(conditions(60), 1)
    with_night = look_at(SITE, [WeighedDay((item,), day, evening)], 1).moistures[0]
    dry = look_at(SITE, [WeighedDay((item,), day, None)], 1).moistures[0]
    assert with_night[2] > dry[2] == SITE.wear.dry_set_moisture_kg_kg


def belief_of(kept: tuple[int, ...], size: int = 64) -> Belief:
    """A belief of three inputs with a given ensemble."""
    names = ("holding_capacity_kg_kg", "allowed_film_kg_m2", "film_cv")
    return Belief(names, 9, size, kept, (SOAKED,), 50.0)


def test_points_of_a_block_are_members_one_from_each_part() -> None:
    """Each of as many equal parts of the ensemble gives one point; more points of a block begin
    with the fewer; blocks differ."""
    belief = belief_of(tuple(range(64)))
    few, many = (block_points(belief.names, belief, n, 1, 0) for n in (4, 16))
    np.testing.assert_array_equal(many[:4], few)
    u = belief.u
    for rows in (few, many):
        places = [int(np.flatnonzero((u == row).all(axis=1))[0]) for row in rows]
        assert sorted(p * len(rows) // 64 for p in places) == list(range(len(rows)))
    assert not np.array_equal(few, block_points(belief.names, belief, 4, 1, 1))


def test_the_middle_of_a_belief_is_its_median() -> None:
    """Input by input."""
    belief = belief_of((3, 5, 8, 13, 21))
    u = np.median(prior_points(3, 64, 9)[[3, 5, 8, 13, 21]], axis=0)
    assert belief.middle(SITE) == draw_site(SITE, belief.names, u)

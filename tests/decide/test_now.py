"""The rest of a day that has begun: its log, the sites that are still likely, what to do."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import gammaln, logsumexp
from scipy.stats import betabinom, binom, gamma, nbinom, norm, poisson
from scipy.stats import t as student

from app.sites.demo import demo_days
from sim.day.rules import FULL as ALWAYS_FULL
from sim.day.rules import REDUCED as ALWAYS_REDUCED
from sim.day.rules import Rule, SetChange, parse_rule
from sim.decide.now.advice import advise, as_lived
from sim.decide.now.answer import NowAnswer
from sim.decide.now.follow import (
    Followed,
    _log_strips,
    _log_turned,
    demand_after,
    log_of_hoods,
    log_of_hoods_odd,
)
from sim.decide.now.so_far import Looked, SoFar, so_far, windows_of
from sim.decide.switching.first import first_choice
from sim.decide.switching.question import read_outcomes
from sim.inputs import LogEntry, Site
from sim.inputs.logbook import (
    ADVICE,
    CARS,
    DAMP_HOODS,
    FULL,
    GO_BACK,
    HOUR,
    NOTE,
    REDUCE_NOW,
    REDUCED,
    SET_CHANGED,
    STAY,
    STRIP,
    TURNED_AWAY,
    WIPING,
)
from sim.learn.weigh_in import BETA_SIZE, MISJUDGED
from tests.decide.now_days import DAY, demo_question, follow_day, true_day
from tests.seeds import generator
from tests.sizes import Size

SITE = Site("Logged").with_values({"open_h": 8.0, "close_h": 18.0})
EXPECTED = tuple(60.0 if 8 <= hour < 18 else 0.0 for hour in range(24))
HOUR_S = 3_600.0
NOON = 12 * HOUR_S
PEAK = demo_days()["humid_peak"]


def entry(kind: str, at_h: float, count: int | None = None, word: str = "") -> LogEntry:
    """An entry of the day; of hoods it has twenty."""
    of = 20 if kind == DAMP_HOODS else None
    return LogEntry(f"{kind} {at_h}", DAY, at_h * HOUR_S, kind, count, of, word=word)


def read(*entries: LogEntry, now_h: float = 14.0) -> SoFar:
    """What entries tell."""
    return so_far(entries, now_h * HOUR_S, SITE, EXPECTED)


# ---- what the log tells --------------------------------------------------------------------------


def test_cars_of_an_hour_are_added_to_those_before() -> None:
    """Cars so far stand as they are; an hour's cars come on top, what nobody counted between them
    as was expected by the pace so far, and an hour that reaches back counts in part."""
    assert read(entry(CARS, 10.0, 90), entry(HOUR, 11.0, 70)).washed == (
        (36_000.0, 90),
        (39_600.0, 160),
    )
    # 90 until 10:00 beside 120 expected: the hour to 11:00 has 0.75 · 60, then 80 were counted
    assert read(entry(CARS, 10.0, 90), entry(HOUR, 12.0, 80)).washed[-1] == (NOON, 215)
    # half of the hour lies before the count at 11:30
    assert read(entry(CARS, 11.5, 200), entry(HOUR, 12.0, 80)).washed[-1] == (NOON, 240)
    assert read(entry(CARS, 10.0, 90), entry(CARS, 11.0, 80)).washed == ((36_000.0, 90),)


def test_entries_of_later_and_those_taken_back_count_for_nothing() -> None:
    """What is struck or lies ahead tells nothing; a note is no news of the day."""
    struck = replace(entry(DAMP_HOODS, 10.0, 9), struck="yes")
    found = read(struck, entry(CARS, 15.0, 300), entry(NOTE, 13.0), entry(DAMP_HOODS, 12.0, 3))
    assert found.hoods == (Looked(NOON, 3, 20),)
    assert (found.washed, found.last_s) == ((), NOON)


def test_what_else_an_entry_tells() -> None:
    """Switches, dry sets, strips and cars that drove away are read with their times."""
    strip = replace(entry(STRIP, 11.0), weight_kg=2.0 * SITE.wheel.strip_dry_mass_kg)
    found = read(
        entry(WIPING, 11.0, word=REDUCED), entry(WIPING, 12.0, word=FULL), entry(SET_CHANGED, 9.0),
        entry(TURNED_AWAY, 10.0, 3), entry(TURNED_AWAY, 12.0, 5), strip,
    )  # fmt: skip
    assert found.switched == ((39_600.0, True), (NOON, False))
    assert found.strips == ((39_600.0, 1.0),)
    assert found.turned == ((28_800.0, 36_000.0, 3), (36_000.0, NOON, 5))
    planned = (SetChange(at_s=10 * HOUR_S), SetChange(at_s=16 * HOUR_S))
    assert found.sets(planned) == (SetChange(at_s=9 * HOUR_S), SetChange(at_s=16 * HOUR_S))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((REDUCE_NOW,), REDUCED),
        ((REDUCE_NOW, STAY), REDUCED),
        ((REDUCE_NOW, GO_BACK), FULL),
        ((GO_BACK, "later"), ""),
        ((), ""),
    ],
)
def test_what_was_advised_last_for_right_then(words: tuple[str, ...], said: str) -> None:
    """An advice to stay leaves what was said before; one for later says nothing of now."""
    given = [entry(ADVICE, 10.0 + place, word=word) for place, word in enumerate(words)]
    assert read(*given).said == said
    assert read(*given).last_s is None


def test_how_cars_are_wiped_now() -> None:
    """By the last switch; before any by the plan's clock; by the plan alone where it is the day."""
    plan = parse_rule("clock 11:00-15:00")
    assert read(now_h=12.0).is_reduced(plan)
    assert not read(now_h=16.0).is_reduced(plan)
    assert not read(entry(WIPING, 11.5, word=FULL), now_h=12.0).is_reduced(plan)
    assert read(now_h=12.0).is_reduced(ALWAYS_REDUCED)
    assert windows_of(parse_rule("crew hoods 6-2")) is None
    assert windows_of(parse_rule("class van")) is None


# ---- what is still likely ------------------------------------------------------------------------


def test_a_look_is_judged_as_bayes_theorem_has_it() -> None:
    """On a grid of shares the weights equal those by the probabilities of scipy.stats, binomial and
    beta-binomial, each divided by their sum: Bayes' theorem by enumeration."""
    shares = np.linspace(0.01, 0.9, 12)
    seen = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * shares
    a, b = BETA_SIZE * seen, BETA_SIZE * (1.0 - seen)
    for ours, theirs in (
        (log_of_hoods(4, 20, shares), binom.pmf(4, 20, seen)),
        (log_of_hoods_odd(4, 20, shares), betabinom.pmf(4, 20, a, b)),
    ):
        np.testing.assert_allclose(np.exp(ours) / np.exp(ours).sum(), theirs / theirs.sum())


def test_demand_after_a_count_is_that_of_bayes_theorem() -> None:
    """A gamma prior times a Poisson likelihood, added up over a fine grid, has the mean and spread
    that are told."""
    cv, expected, counted = 0.25, 200.0, 260
    grid = np.linspace(0.2, 3.0, 40_001)
    weight = gamma.pdf(grid, 1 / cv**2, scale=cv**2) * poisson.pmf(counted, expected * grid)
    mean = (grid * weight).sum() / weight.sum()
    spread = math.sqrt(((grid - mean) ** 2 * weight).sum() / weight.sum())
    told, told_cv = demand_after(cv, float(counted), counted / expected)
    assert told == pytest.approx(mean, rel=1e-6)
    assert told_cv * told == pytest.approx(spread, rel=1e-6)


@pytest.fixture(scope="module")
def followed() -> Followed:
    """Few sites on the demo's humid peak, planned full."""
    return Followed(demo_question(PEAK), ALWAYS_FULL, 24, 24, 24)


def test_many_looks_leave_the_site_that_they_came_from(followed: Followed) -> None:
    """Looks that show what one drawn site leaves damp, hundreds of them, leave sites that leave as
    many damp, and of those of another share nothing."""
    at = 13 * HOUR_S
    before = followed.past(SoFar(at), ALWAYS_FULL)
    truth = int(np.argsort(before.damp_share)[-4])
    share = float(before.damp_share[truth])
    seen = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * share
    # twenty hoods each, so that every look is of the same cars
    after = followed.past(SoFar(at, hoods=(Looked(at, round(20 * seen), 20),) * 400), ALWAYS_FULL)
    assert before.weights.effective == pytest.approx(24.0)
    assert round(20 * seen) > 0
    best = int(after.weights.weights.argmax())
    nearest = int(np.abs(before.damp_share - round(20 * seen) / 20).argmin())
    assert best == nearest
    assert after.weights.effective < before.weights.effective / 2


def test_a_wet_strip_leaves_sites_that_leave_more_cars_damp(followed: Followed) -> None:
    """A strip that weighs wet, and one that weighs dry, move the same sites apart; one alone counts
    less where weighings are further off."""
    at = 13 * HOUR_S
    before = followed.past(SoFar(at), ALWAYS_FULL)
    wet, dry = (
        followed.past(SoFar(at, strips=((at, moisture),)), ALWAYS_FULL) for moisture in (1.2, 0.3)
    )
    damp = [float(one.weights.weights @ before.damp_share) for one in (dry, before, wet)]
    assert damp[0] < damp[1] < damp[2]
    assert wet.weights.effective < before.weights.effective


def test_strips_are_lognormal_by_one_scale() -> None:
    """By SciPy's distribution: a scale that is known to be right, and one whose bias is any of
    three but the same for all strips, by which all may show more than is there."""
    seen, model, sd = np.array([1.1, 0.8, 0.5]), np.array([1.0, 0.7, 0.45]), 0.05

    def theirs(bias: float) -> float:
        middle = np.log((1.0 + bias) * (1.0 + model) - 1.0)
        return float(norm.logpdf(np.log(seen), middle, sd).sum() + 1.5 * math.log(2.0 * math.pi))

    right = _log_strips(seen, model, sd, np.zeros(1))
    assert right == pytest.approx(theirs(0.0), rel=1e-12)
    biases = np.array([-0.05, 0.0, 0.05])
    any_of_them = _log_strips(seen, model, sd, biases)
    wanted = logsumexp([theirs(bias) for bias in biases]) - math.log(3.0)
    assert any_of_them == pytest.approx(wanted, rel=1e-12)
    assert any_of_them > right


def test_cars_that_drove_away_are_a_negative_binomial(followed: Followed) -> None:
    """But for what is the same at every site, by SciPy's distribution; and who notes that hardly a
    car drove away leaves other sites than who notes hundreds."""
    for cars, expected, size in ((0, 3.0, 4.0), (7, 3.0, 4.0), (2, 0.0, 1.5)):
        mean = max(0.5, expected)
        theirs = nbinom.logpmf(cars, size, size / (size + mean)) + gammaln(cars + 1.0)
        assert _log_turned(cars, expected, size) == pytest.approx(theirs, rel=1e-12)
    at = 13 * HOUR_S
    weights = [
        followed.past(SoFar(at, turned=((8 * HOUR_S, at, cars),)), ALWAYS_FULL).weights.weights
        for cars in (0, 300)
    ]
    assert np.abs(weights[0] - weights[1]).sum() > 0.5


def test_a_followed_day_has_washed_as_many_as_were_counted(followed: Followed) -> None:
    """Counts of 200 and 500 are met by each site that can wash so many, and more cars so far mean
    more cars to come, but by a smaller factor."""
    counted = ((10 * HOUR_S, 200), (13 * HOUR_S, 500))
    past = followed.past(SoFar(13 * HOUR_S, counted), ALWAYS_FULL)
    assert np.median(np.abs(past.washed - 500)) <= 0.02 * 500
    assert past.scale is not None
    many = followed.past(SoFar(13 * HOUR_S, ((13 * HOUR_S, 700),)), ALWAYS_FULL)
    assert many.scale is not None
    rest = float(many.factors[:, -1].mean() / past.factors[:, -1].mean())
    assert 1.0 < rest < many.scale / past.scale


# ---- what to do ----------------------------------------------------------------------------------


def told(followed: Followed, *entries: LogEntry, now_h: float = 13.0) -> NowAnswer:
    """The answer to some entries."""
    question = followed.question
    return advise(followed, so_far(entries, now_h * HOUR_S, question.site, followed.expected_per_h))


@pytest.mark.parametrize("text", ["full", "clock 14:00-17:00", "reduced", "crew hoods 6-2"])
def test_without_an_entry_the_plan_stands(text: str) -> None:
    """Nothing is known that the plan did not know, so its rule is told, to the letter."""
    plan = parse_rule(text)
    found = told(Followed(demo_question(PEAK), plan, 12, 12, 12))
    assert (found.by_plan, found.told.rule, found.saves) == (True, plan.text, 0.0)
    assert found.last_s is None


def test_many_damp_hoods_reduce_and_none_stays(followed: Followed) -> None:
    """On a busy day twelve damp hoods of twenty lead to reduced wiping now, none to full wiping on
    to closing; each is cheaper than the other by what is told, and its figures are of its rule."""
    counted = entry(CARS, 13.0, 620)
    wet = told(followed, counted, entry(DAMP_HOODS, 13.0, 12))
    dry = told(followed, counted, entry(DAMP_HOODS, 13.0, 0))
    assert (wet.told.act.word, wet.by_plan) == (REDUCE_NOW, False)
    assert (dry.told.act.word, dry.by_plan) == (STAY, True)
    assert wet.saves > followed.question.wish.slack
    assert wet.told.cost == pytest.approx(wet.planned.cost - wet.saves)
    assert wet.told.damp < wet.planned.damp
    assert wet.chance > 0.5
    assert (wet.washed, wet.counted_s, wet.looks) == (620, 13 * HOUR_S, 1)
    assert dry.changes is not None
    assert (dry.changes.word, dry.changes.at_least) == (REDUCE_NOW, True)


def test_what_would_change_the_advice_does(followed: Followed) -> None:
    """The look that is told to change it, entered as one more, does; one fewer does not."""
    entries = (entry(CARS, 13.0, 620), entry(DAMP_HOODS, 13.0, 0))
    found = told(followed, *entries).changes
    assert found is not None
    more = told(followed, *entries, replace(entry(DAMP_HOODS, 13.0, found.damp), key="next"))
    assert more.told.act.word == found.word
    fewer = told(followed, *entries, replace(entry(DAMP_HOODS, 13.0, found.damp - 1), key="next"))
    assert fewer.told.act.word == STAY


def test_a_switch_is_not_undone_for_luck(followed: Followed) -> None:
    """Told to reduce and switched, the crew stays on it where going back would not matter."""
    entries = (
        entry(CARS, 13.0, 620),
        entry(DAMP_HOODS, 13.0, 12),
        entry(WIPING, 13.0, word=REDUCED),
    )
    found = told(followed, *entries, entry(ADVICE, 13.0, word=REDUCE_NOW), now_h=13.25)
    assert found.told.act.reduced
    assert found.told.act.at_s is None or found.told.act.at_s > 13.25 * HOUR_S


@pytest.mark.parametrize(
    ("plan", "switched", "lived"),
    [
        ("clock 11:00-15:00", (), "clock 11:00-15:00"),
        ("full", ((12.0, True), (14.0, False)), "clock 12:00-14:00"),
        ("full", ((12.0, True),), "clock 12:00-24:00"),
        ("reduced", ((12.0, False),), "clock 0:00-12:00"),
        (
            "crew hoods 6-2", ((12.0, True), (14.0, False)),
            "clock 0:00-12:00 and crew hoods 6-2 or clock 12:00-14:00",
        ),
    ],
)  # fmt: skip
def test_the_day_as_it_was_switched(
    plan: str, switched: tuple[tuple[float, bool], ...], lived: str
) -> None:
    """The plan holds until the first switch, then what was switched."""
    so = SoFar(18 * HOUR_S, switched=tuple((at * HOUR_S, on) for at, on in switched))
    assert as_lived(parse_rule(plan), so) == parse_rule(lived)


def test_a_course_is_lived_as_its_rule_says(followed: Followed) -> None:
    """The rules of what was switched and of what is told give the figures of the very windows."""
    truth = true_day(followed.question, 3)
    so = SoFar(14 * HOUR_S, switched=((12 * HOUR_S, True), (13 * HOUR_S, False)))
    rules: tuple[Rule, ...] = (as_lived(ALWAYS_FULL, so), parse_rule("clock 12:00-13:00"))
    spliced, plain = read_outcomes(truth, rules, ())
    np.testing.assert_array_equal(spliced, plain)


# ---- followed for whole days ---------------------------------------------------------------------


@pytest.mark.soak
def test_following_it_beats_following_the_plan(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """On days of sites that lie further out than believed, a crew that does as it is told pays less
    than one that keeps to the morning's plan, paired day by day, and on no kind of the demo's days
    surely more by what matters. Half as many sites are followed as the pages do. At small size
    only what is surely worse fails."""
    each, saved, spared = size(small=2, full=40), [], []
    kinds = [day for name, day in demo_days().items() if name != "closed"]
    for kind, day in enumerate(kinds):
        question = demo_question(day)
        sites = size(small=24, full=48)
        followed = Followed(question, first_choice(question).chosen, sites, 2 * sites, sites // 2)
        opens = question.site.line.open_h
        times = [HOUR_S * (opens + after) for after in (1.5, 3.5, 5.5, 8.0)]
        rows = []
        for number in range(each):
            truth = true_day(question, 100 * kind + number)
            crew = generator(f"crew {kind} {number}")
            rows.append(follow_day(followed, truth, times, crew))
        saved.append([one.costs[0] - one.costs[1] for one in rows])
        spared.append([one.damp[0] - one.damp[1] for one in rows])
        low, high = interval(saved[-1])
        record_figure(f"{day}: saves, low", low, "a day")
        record_figure("high", high, "a day")
        assert (low if each >= 40 else high) > -question.wish.slack
    for name, found in (("money", saved), ("cars damp", spared)):
        low, high = interval(np.concatenate(found))
        record_figure(f"all days, {name} fewer, low", low, "a day")
        record_figure("high", high, "a day")
        assert high > 0.0
        assert each < 40 or low > 0.0


def interval(values: object) -> tuple[float, float]:
    """95 % interval of a mean by Student's t."""
    seen = np.asarray(values, dtype=float)
    half = float(student.ppf(0.975, len(seen) - 1)) * seen.std(ddof=1) / math.sqrt(len(seen))
    return float(seen.mean() - half), float(seen.mean() + half)

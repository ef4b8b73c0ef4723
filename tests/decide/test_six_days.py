"""Six kinds of day, at half the wage, at the wage and at double: each is plainly what it is said to
be, the advice is as good as the best of a search that goes through everything, but for what does
not matter, and a crew's cue is as good as the clock and as staying by one wiping."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from sim.day.blocks import Shape
from sim.day.draw import DayDraw
from sim.day.engine import Experiment
from sim.day.kernel.tables import HOOD, ON_BELT
from sim.day.replicate import mean_interval
from sim.day.rules import FULL, REDUCED, CrewCars, Rule
from sim.decide.staff.measure import hands_that_pay
from sim.decide.switching.advice import advise, standing
from sim.decide.switching.candidates import candidates
from sim.decide.switching.choice import Wish
from sim.decide.switching.coming import plan_days
from sim.decide.switching.cues import Cues, in_cues
from sim.decide.switching.hands import Hands as TogetherHands
from sim.decide.switching.hands import choose_hands
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget, SwitchAnswer, search
from sim.decide.switching.thresholds import time_terms
from sim.inputs import INPUTS
from tests.decide.six_days import (
    NOBODY,
    SIX,
    Floats,
    Found,
    Hands,
    KindOfDay,
    all_hands,
    all_rules,
    dried,
    same_as,
    search_all,
)
from tests.sizes import Size, is_soak, size_now

FIRST, FRESH = range(16), range(1_000, 1_064)
"""Days that the search through everything chooses by, and days that nobody has seen."""
BY_KIND: dict[str, KindOfDay] = {one.kind: one for one in SIX}
EVERY = pytest.mark.parametrize("one", SIX, ids=lambda one: one.kind)
THINNED = 4
"""One of so many candidates is asked of the product's search."""
THINNER = 1 if is_soak() else 4
"""One of so many of these at another wage than the day's own."""
SURE = size_now(small=32, full=256)
"""Draws of its last choice."""
WAGES = (0.5, 1.0, 2.0)
"""Times the wage that the day was invented with."""


@cache
def everything(kind: str) -> Found:
    """All rules with all hands on the first days."""
    return search_all(BY_KIND[kind], FIRST)


@cache
def advised(kind: str, wage: float = 1.0) -> SwitchAnswer:
    """What the product's own search says of the day, at so many times the wage."""
    one = at_wage(BY_KIND[kind], wage)
    site = one.site
    among = candidates(site)[::THINNED]
    if wage != 1.0:  # so few that the windows of whole hours are asked of it as well
        among = tuple(dict.fromkeys((*among[::THINNER], *all_rules())))
    question = SwitchQuestion(site, one.conditions, Wish.of(site), 5, among=among)
    return search(question, effort=SamplingBudget(first=8, sure=SURE, most=2 * SURE))


@cache
def together(kind: str, wage: float = 1.0) -> TogetherHands:
    """What it says of rule and people at the exit."""
    effort = SamplingBudget(first=8, sure=SURE, most=SURE)
    return choose_hands(advised(kind, wage), effort=effort, shape=Shape(8, 1, 2))


def at_wage(one: KindOfDay, times: float) -> KindOfDay:
    """The day at so many times its wage."""
    return same_as(one, wage_per_h=times * one.site.money.wage_per_h)


def hands_of(told: TogetherHands) -> Hands:
    """The people advised, as the search has them."""
    more = told.chosen.hands
    return Hands(more.people, more.from_s / 3600.0, more.until_s / 3600.0)


def best_of(one: KindOfDay, found: Found, rules: str, hands: bool) -> tuple[Rule, Hands]:
    """The best pair whose rule is of a kind, with hands or without."""

    def among(rule: Rule, who: Hands) -> bool:
        kind = "full" if rule == FULL else "reduced" if rule == REDUCED else "switch"
        return kind == rules and (who != NOBODY) == hands

    place, at = found.best(one, among)
    return found.rules[place], found.hands[at]


@EVERY
def test_the_coming_days_put_as_many_at_the_exit(one: KindOfDay) -> None:
    """The small search of a coming day says of each plain day what the large one says of its kind:
    which kind of rule, and whether people with towels go with it; nobody where neither helps."""
    site = one.site
    (plan,) = plan_days(
        SwitchQuestion(site, one.conditions, Wish.of(site), 5), [(one.conditions, None)]
    )
    assert plan is not None
    kind = "full" if plan.rule == FULL else "reduced" if plan.rule == REDUCED else "switch"
    if one.kind in PLAINLY:
        assert (kind, plan.hands.people > 0) == PLAINLY[one.kind]
    assert plan.keeps == (one.kind != "nothing")


def test_staff_asks_for_the_hands_that_pay() -> None:
    """Where the search through everything puts people at the exit of a day wiped in full, Staff
    asks for as many in their half-hours; where it puts nobody, for nobody more."""
    for kind in ("hands", "never"):
        one = BY_KIND[kind]
        _rule, wanted = best_of_full(one)
        asked = SwitchQuestion(one.site, one.conditions, Wish.of(one.site), 5)
        more, drying = hands_that_pay(asked, FULL, (1,) * 48, lambda: None)
        assert more.people == wanted.people
        half_hours = range(round(2 * wanted.from_h), round(2 * wanted.to_h))
        assert [drying[at] for at in half_hours] == [wanted.people] * len(half_hours)


def best_of_full(one: KindOfDay) -> tuple[Rule, Hands]:
    """The best hands of a day wiped in full."""
    found = everything(one.kind)
    place, at = found.best(one, lambda rule, _hands: rule == FULL)
    return found.rules[place], found.hands[at]


WAYS = [(rules, hands) for rules in ("full", "reduced", "switch") for hands in (False, True)]
PLAINLY = {
    "switch": ("switch", False), "hands": ("full", True), "never": ("full", False),
    "always": ("reduced", False),
}  # fmt: skip


# ---- each day is what it is said to be -----------------------------------------------------------


@pytest.mark.parametrize("kind", PLAINLY)
def test_a_day_is_plainly_of_its_kind(kind: str) -> None:
    """On days that the choice has not seen, the best pair of its kind costs less than the best of
    every other kind by more than matters. Bands that never switch are no kind of their own."""
    one, found = BY_KIND[kind], everything(kind)
    pairs = {way: best_of(one, found, *way) for way in WAYS}
    costs = {}
    for way, (rule, hands) in pairs.items():
        seen = search_all(one, FRESH, [rule], [hands])
        costs[way] = float(seen.cost[0, 0])
    own = costs.pop(PLAINLY[kind])
    if kind in ("never", "hands"):  # a band above what the cloth ever reaches is always full
        costs = {way: cost for way, cost in costs.items() if way[0] != "switch"}
    assert min(costs.values()) - own > one.site.wishes.matters_money


def test_a_slower_belt_wins() -> None:
    """At a slower belt some rule costs less by more than matters than any pair at the present one,
    and no car more is lost by it."""
    one, fresh = BY_KIND["slower"], range(1_000, 1_032)
    found = everything("slower")
    place, at = found.best(one, lambda rule, hands: True)
    now = search_all(one, fresh, [found.rules[place]], [found.hands[at]]).cost[0, 0]
    slower = [search_all(one, fresh, [FULL], [NOBODY], speed) for speed in one.slower]
    assert now - min(float(one.cost[0, 0]) for one in slower) > one.site.wishes.matters_money


def test_nothing_helps() -> None:
    """Whatever is done, more leave damp than is allowed, by far more than matters."""
    one = BY_KIND["nothing"]
    wishes = one.site.wishes
    assert everything("nothing").share.min() > wishes.allowed_damp_share + 5 * wishes.matters_share


# ---- the product's advice ------------------------------------------------------------------------


@EVERY
def test_the_rule_is_as_good_as_the_best_without_hands(one: KindOfDay) -> None:
    """With nobody more at the exit: on fresh days the advised rule costs no more, or where a share
    is wished for leaves no more damp, than the best of the search, but for what does not matter."""
    found = everything(one.kind)
    place, _at = found.best(one, lambda rule, hands: hands == NOBODY)
    chosen = advised(one.kind).chosen
    seen = search_all(one, FRESH, [chosen, found.rules[place]], [NOBODY])
    if one.site.wishes.reduce_wish == "cost":
        assert seen.cost[0, 0] - seen.cost[1, 0] <= one.site.wishes.matters_money
    else:
        assert seen.share[0, 0] - seen.share[1, 0] <= one.site.wishes.matters_share


@pytest.mark.soak
@EVERY
def test_rule_and_hands_are_as_good_as_the_best_pair(one: KindOfDay, size: Size) -> None:
    """At half the wage, at the wage and at double, on fresh days: the advised rule and people cost
    no more, or where a share is wished for leave no more damp, than the best of all rules with all
    people at that wage, but for what does not matter."""
    found, told = everything(one.kind), {wage: together(one.kind, wage) for wage in WAGES}
    best = {wage: found.paid(wage).best(one, lambda rule, hands: True) for wage in WAGES}
    rules = list(dict.fromkeys(found.rules[place] for place, _at in best.values()))
    hands = list(dict.fromkeys(found.hands[at] for _place, at in best.values()))
    rules = list(dict.fromkeys([*rules, *(one.chosen.rule for one in told.values())]))
    hands = list(dict.fromkeys([*hands, *map(hands_of, told.values())]))
    days = range(1_000, 1_000 + size(small=64, full=1_024))
    fresh = search_all(one, days, rules, hands)
    for wage, (place, at) in best.items():
        seen = fresh.paid(wage)
        mine = rules.index(told[wage].chosen.rule), hands.index(hands_of(told[wage]))
        its = rules.index(found.rules[place]), hands.index(found.hands[at])
        if one.site.wishes.reduce_wish == "cost":
            assert seen.cost[mine] - seen.cost[its] <= one.site.wishes.matters_money
        else:
            assert seen.share[mine] - seen.share[its] <= one.site.wishes.matters_share


def test_dearer_hands_give_way_to_the_rule() -> None:
    """On the day of the switch a quarter of the wage calls for somebody at the exit and full wiping
    all day, the wage itself for nobody and a window; on that of the hands double the wage still
    calls for somebody. Dearer hands never work longer."""
    cheap, dear = together("switch", 0.25), together("switch")
    assert (cheap.beats, cheap.chosen.rule) == (True, FULL)
    assert (dear.beats, bool(time_terms(dear.chosen.rule))) == (False, True)
    assert together("hands", 2.0).beats
    for kind in BY_KIND:
        hours = [together(kind, wage).chosen.hands.hours for wage in WAGES]
        assert hours == sorted(hours, reverse=True)


def test_hands_are_advised_where_they_beat_reducing_and_nowhere_else() -> None:
    """On the day of the hands somebody more and always full; nobody where the day is plainly of
    another kind and least cost is wished for."""
    for kind in ("switch", "never", "always"):
        assert not together(kind).beats
    found = together("hands")
    assert found.beats
    assert found.chosen.hands.people == 1
    assert found.own.cost - found.chosen.cost > BY_KIND["hands"].site.wishes.matters_money


def test_what_nothing_helps_is_said_to_be_missed() -> None:
    """The answer does not claim to keep what no rule keeps."""
    assert not advised("nothing").selection.keeps
    assert all(advised(kind).selection.keeps for kind in PLAINLY)


def test_the_switch_is_firm_where_little_is_guessed() -> None:
    """On the day of the plain switch, with all but the holding capacity known, no rival is better
    at more than 1 of 20 sites; where a damp car may cost little or much it is not firm."""
    one = BY_KIND["switch"]
    for guess, is_firm in (("holding_capacity_kg_kg", True), ("damp_cost", False)):
        site = one.site
        question = SwitchQuestion(
            site, one.conditions, Wish.of(site), 5, known=frozenset(INPUTS) - {guess},
            among=candidates(site)[::16],
        )  # fmt: skip
        answer = search(question, effort=SamplingBudget(first=8, sure=32, most=32))
        found = advise(answer, shape=Shape(8, 4, 2), draws=2).rival
        assert found is not None
        assert found.standing.sites == 32
        assert found.standing.is_firm == is_firm


# ---- in a crew's cues ----------------------------------------------------------------------------


@cache
def cues_of(kind: str, wage: float) -> tuple[Cues, Rule]:
    """The best rule that says when to reduce in cues, whether or not it is the advice, and it."""
    told = advised(kind, wage)
    order, _worth = standing(told)
    place = next(at for at in order if time_terms(told.rules[at]))
    asked = replace(told, selection=replace(told.selection, chosen=place))
    cues = in_cues(asked, tried=Shape(2, 1, 8), measured=Shape(8, 1, 8))
    assert cues is not None
    return cues, told.rules[place]


def day_by_day(one: KindOfDay, rules: Sequence[Rule], days: range) -> dict[Rule, Floats]:
    """What is not wanted of each day by each rule, one after the other: its cost, what looks cost
    included, or the share leaving damp. Counts of cars are gone through by hand, look by look."""
    site = one.site
    prepared, found = Experiment(site, one.conditions, 1).at().prepare(), []
    wanted = "cost" if site.wishes.reduce_wish == "cost" else "left_damp_share"
    every_s, look_h = 60.0 * site.crew.count_every_min, site.crew.cue_cost_count_min / 60.0
    for number in days:
        replication = prepared.replication(DayDraw(number, 0))
        row = [replication.figures(rule).day for rule in rules]
        for rule, figures in zip(rules, row, strict=True):
            if not any(isinstance(term, CrewCars) for either in rule.either for term in either):
                continue
            lines = replication.run(rule).flow.rows
            looks, due_s = 0, 0.0
            for hood_s in lines.times[lines.order[: lines.counts[ON_BELT]], HOOD].tolist():
                if hood_s >= due_s:
                    looks, due_s = looks + 1, hood_s + every_s
            paid = looks * look_h * site.money.wage_per_h
            assert figures["cost_looks"] == pytest.approx(paid, rel=1e-9)
        found.append([figures[wanted] for figures in row])
    return dict(zip(rules, np.array(found).T, strict=True))


@pytest.mark.soak
@EVERY
def test_the_cue_used_is_no_worse_than_the_clock_or_than_staying(
    one: KindOfDay, size: Size
) -> None:
    """On fresh days, with what looks cost in each: the cue to use is not surely worse than going by
    the clock nor than wiping in full all day; where none is used, to stay as told is worse than no
    cue, nor than wiping in full, by surely more than matters."""
    days = range(2_000, 2_000 + size(small=48, full=2_048))
    used = []
    for wage in WAGES:
        cues, _rule = cues_of(one.kind, wage)
        told = cues.constant.rule if cues.used is None else cues.used.rule
        others = [FULL, *(other.rule for other in cues.found)]
        if cues.used is not None:
            others = [FULL, *(other.rule for other in cues.found if other.kind == "clock")]
        rules = list(dict.fromkeys((told, cues.constant.rule, *others)))
        seen = day_by_day(at_wage(one, wage), rules, days)
        wishes = one.site.wishes
        matters = wishes.matters_money if wishes.reduce_wish == "cost" else wishes.matters_share
        for other in others:
            _more, low, _high = mean_interval(seen[told] - seen[other])
            assert low <= (0.0 if cues.used is not None else matters), (wage, told, other)
        if cues.used is not None:
            saved, low, _high = mean_interval(seen[cues.constant.rule] - seen[told])
            assert low > 0.0, saved
        used.append(cues.use)
    assert (used[1] is not None) == (one.kind == "switch")


# ---- the search itself ---------------------------------------------------------------------------


def test_hands_dry_who_finds_them_free() -> None:
    """By hand: one person, 45 s a car, 20 s of patience, from 10 to 12."""
    takes = np.full(6, 45.0)
    ten = 36_000.0
    times = ten + np.array([0.0, 10.0, 30.0, 31.0, 300.0, 7_300.0])
    one = Hands(1, 10, 12)
    # the second would wait 35 s, the third 15, the fourth 59; the last comes when nobody is there
    assert dried(times, takes, one, 20.0) == 3
    # of two the second person takes the second, and the fourth waits 24 s for the first to be free
    assert dried(times, takes, Hands(2, 10, 12), 20.0) == 4
    assert dried(times, takes, NOBODY, 20.0) == 0
    assert dried(ten - np.array([30.0, 10.0]), takes[:2], one, 20.0) == 1


def test_hands_are_those_of_the_model() -> None:
    """People at the exit all day are entered as the site's finishers: the model's day has as many
    cars leaving damp, car for car, on the days of the hands and of nothing that helps."""
    for one in (BY_KIND["hands"], BY_KIND["nothing"]):
        for people in (1, 2, 3):
            at_exit = same_as(one, finishers=((0.0, float(people)),), people=((0.0, 9.0),))
            with_them = search_all(at_exit, range(3), [FULL], [NOBODY], hands_are_there=True)
            found = search_all(one, range(3), [FULL], [Hands(people, 0, 24)])
            assert found.share[0, 0] == pytest.approx(with_them.share[0, 0], rel=1e-12)


def test_wages_decide_on_hands() -> None:
    """Where people cost nothing several are taken on the day of the hands, where they are very dear
    nobody is; there are all of them to choose from."""
    one, days = BY_KIND["hands"], range(4)
    assert len(all_hands()) == 1 + 3 * 15
    taken = []
    for wage in (0.0, 16.0, 500.0):
        paid = same_as(one, wage_per_h=wage)
        found = search_all(paid, days, [FULL])
        anew = search_all(one, days, [FULL]).paid(wage / one.site.money.wage_per_h)
        assert found.cost == pytest.approx(anew.cost, rel=1e-9)
        taken.append(found.hands[found.best(paid, lambda rule, hands: True)[1]].people)
    assert taken[0] > 1
    assert taken[1:] == [1, 0]

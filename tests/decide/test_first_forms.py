"""First forms: how often the whole answer advises something else, what that differs in, and whether
the chances that a first form tells hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.stats import binom

from sim.day.engine import AS_IT_IS
from sim.decide.switching.candidates import candidates
from sim.decide.switching.choice import COST, Wish, WishKind, are_good, column
from sim.decide.switching.first import first_chance, first_choice
from sim.decide.switching.question import SwitchQuestion, outcomes, search_draws
from sim.decide.switching.search import SamplingBudget, search
from sim.inputs import Site
from tests.day.sites import conditions
from tests.seeds import generator, seed
from tests.sizes import Size

WHOLE = SamplingBudget(most=256)
FRESH = 4_096
"""Number of the first draw that no choice has seen."""


@dataclass(frozen=True, slots=True)
class Held:
    """A first form beside the whole answer, on draws that neither has seen.

    Attributes:
        claimed: chances that it tells; good: whether what it advises is as good as what the whole
            answer does, but for what does not matter, or as near to the wish where none keeps it.
        changed: whether that is another rule; damp, money: what the first rule has more of, a day.
    """

    claimed: float
    good: bool
    changed: bool
    damp: float
    money: float


def site_day(number: int) -> SwitchQuestion:
    """A drawn site, of which one guess alone is known, on a drawn day of five hours with a peak;
    two of three plans have a rule of their own."""
    rng = generator(f"site-day {number}")
    kinds: tuple[WishKind, ...] = ("mean", "cost")
    site = Site("Drawn").with_values(
        {
            "open_h": 9.0,
            "close_h": 14.0,
            "damp_rewash_share": 0.0,
            "strip_count": int(rng.integers(30, 80)),
            "allowed_film_kg_m2": 0.03,
            "damp_cost": float(rng.uniform(3, 15)),
            "damp_limit_saturation": float(rng.uniform(0.4, 0.75)),
            "throw_off_time_s": float(rng.uniform(600, 2500)),
            "allowed_damp_share": float(rng.uniform(0.05, 0.3)),
            "reduced_cost": float(rng.uniform(0.1, 1.5)),
            "matters_cars": float(rng.uniform(3, 12)),
            "matters_money": float(rng.uniform(5, 25)),
        }
    )
    day = conditions(opening=float(rng.uniform(0.3, 0.7)))
    cars = [0.0] * 24
    cars[9:14] = (float(rng.uniform(60, 100)) * np.array([0.6, 1.0, 1.3, 1.1, 0.8])).tolist()
    day = replace(day, arrivals_per_h=tuple(cars))
    planned = ((), ("clock 10:00-12:00",), ("reduced",))[number % 3]
    wish = Wish.of(site, kinds[number % 2])
    return SwitchQuestion(
        site, day, wish, seed("site-day", number), known=frozenset({"air_slip"}), planned=planned
    )


def held(number: int, fresh: int) -> Held:
    """What becomes of a first form, beside a search among every fourth rule."""
    asked = site_day(number)
    first = first_choice(asked)
    few = replace(asked, among=candidates(asked.site)[::4])
    whole = search(few, said=first.chosen, effort=WHOLE)
    rules = tuple(dict.fromkeys((first.chosen, whole.chosen)))
    table = outcomes(asked, [(AS_IT_IS, rules)], search_draws(asked, fresh, FRESH))
    worth, burdens = asked.wish.seen(table).means
    good = are_good(worth[None], burdens[:, None], asked.wish.aim)[0]
    damp, money = (column(table, name).mean(axis=1) for name in ("left_damp", COST))
    return Held(
        first_chance(first.selection), bool(good[0]), len(rules) > 1,
        float(damp[0] - damp[-1]), float(money[0] - money[-1]),
    )  # fmt: skip


@pytest.mark.soak
def test_chances_of_first_forms_hold(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """On drawn site-days a first form is as good as the whole answer, but for what does not matter,
    on days that neither has seen, at least as often as it says."""
    days, fresh = size(small=4, full=40), size(small=128, full=512)
    seen = [held(number, fresh) for number in range(days)]
    claimed = sum(one.claimed for one in seen) / days
    good = sum(one.good for one in seen)
    others = [one for one in seen if one.changed]
    record_figure("first forms: mean chance told", claimed, "of site-days")
    record_figure("as good as the whole answer", good / days, "of site-days")
    record_figure("another rule in the whole answer", len(others) / days, "of site-days")
    for name in ("damp", "money"):
        apart = [abs(getattr(one, name)) for one in others] or [0.0]
        record_figure(f"{name} that differs then, mean", sum(apart) / len(apart), "a day")
        record_figure(f"{name} that differs then, most", max(apart), "a day")
    assert good >= binom.ppf(0.01, days, claimed)

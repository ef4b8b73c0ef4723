"""Plans for twenty sites that nobody has seen, lived through in a wash that shares no code with the
model: is the rule advised the one to have taken, and did days come as they were told?"""

from __future__ import annotations

import ast
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date

import numpy as np
import pytest

from app.answers.switching import answer_switch
from sim.day.replicate import run_days
from sim.day.rules import Rule, parse_rule
from sim.decide.compare import Question
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.candidates import candidates
from sim.decide.switching.choice import Wish
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget
from sim.decide.switching.study import Depth
from sim.inputs import Scenario
from tests import sizes
from tests.architecture import ROOT
from tests.blind.scores import BY_EYE, Floats, Lived, lived, rows_of
from tests.blind.sites import OF_SHAPE, SITES, BlindSite, blind_site
from tests.sizes import Size

Record = Callable[[str, float, str], None]
LONGEST = 200
FEW = tuple(parse_rule(text) for text in ("clock 10:00-16:00", "clock 11:00-15:00", "band 30-25"))
QUICK = Depth(effort=SamplingBudget(4, 16, 16), figures=4, hours=4, bound=1, why=False)
SEARCH = Depth(figures=64, hours=8)
"""The whole search, and few days of what is shown beside it."""
TOLD_DAYS = 512
"""Days by which ranges are told."""
WITHIN = {"80": (0.1, 0.9), "95": (0.025, 0.975)}


def test_the_other_simulator_is_short_and_shares_nothing() -> None:
    """Two hundred lines that import nothing of the project."""
    source = (ROOT / "tests/blind/simulator.py").read_text(encoding="utf-8")
    assert len(source.splitlines()) <= LONGEST
    nodes = list(ast.walk(ast.parse(source)))
    plain = {one.name for node in nodes if isinstance(node, ast.Import) for one in node.names}
    taken = {str(node.module) for node in nodes if isinstance(node, ast.ImportFrom)}
    assert plain | taken == {"__future__", "collections", "math", "numba", "numpy", "typing"}


# ---- the rule advised ----------------------------------------------------------------------------


def is_known(rule: Rule) -> bool:
    """Whether the other simulator knows such a rule: windows, bands and cues, of which one is
    enough; not classes of cars, nor two conditions at once."""
    try:
        rows_of(rule)
    except ValueError:
        return False
    return True


class ToldEnough(Exception):
    """What the crew is told is known; the reasons for it are not wanted."""


def advised(blind: BlindSite) -> str:
    """What the page When to reduce tells the crew of a site that has entered all its numbers."""
    among = FEW if not sizes.is_soak() else tuple(filter(is_known, candidates(blind.site)))
    asked = SwitchQuestion(blind.site, blind.conditions, Wish.of(blind.site), seed=7, among=among)
    depth, told = (SEARCH if sizes.is_soak() else QUICK), ""

    def early(found: WhenToReduce) -> None:
        nonlocal told
        if not found.coarse:
            told = found.told.text
            raise ToldEnough

    with suppress(ToldEnough):
        told = answer_switch(asked, date(2026, 7, 18), "told", depth=depth, early=early).told.text
    return told


@pytest.mark.soak
def test_the_rule_advised_is_seldom_beaten(size: Size, record_figure: Record) -> None:
    """Beside rules by eye, on the same days of the other simulator: cost beyond the best of all."""
    sites, days = size(small=3, full=SITES), size(small=8, full=24)
    regrets: list[Floats] = []
    for number in range(sites):
        blind = blind_site(number)
        costs = np.array([lived(blind, text, days).cost for text in (advised(blind), *BY_EYE)])
        regret = costs.mean(axis=1) - costs.mean(axis=1).min()
        record_figure(f"site {number}: advised, cost beyond the best", regret[0], "$ a day")
        regrets.append(regret)
        if number < OF_SHAPE:  # by luck a rule by eye may look better than it is on so few days
            luck = np.std(costs[0] - costs[int(np.argmin(costs.mean(axis=1)))]) / np.sqrt(days)
            assert regret[0] <= blind.site.wishes.matters_money + 4.0 * luck
    for name, rows in (
        ("of the model's shape", regrets[:OF_SHAPE]),
        ("outside", regrets[OF_SHAPE:]),
    ):
        if not rows:
            continue
        mean = np.mean(rows, axis=0)
        for text, value in zip(("advised", *BY_EYE), mean, strict=True):
            record_figure(f"{name}: cost beyond the best, {text}", value, "$ a day")
        at_best = np.mean([row[0] <= blind_site(0).site.wishes.matters_money for row in rows])
        record_figure(f"{name}: advised within what matters of the best", 100.0 * at_best, "%")
        record_figure(f"{name}: advised, worst site", max(row[0] for row in rows), "$ a day")
        if name != "outside":
            assert mean[0] < mean[1:].min()


# ---- how days came -------------------------------------------------------------------------------

FIGURES = ("cars_washed", "cars_lost", "wait_p90_s", "damp_share", "saturation_mean")
NEAR = {"cars_washed": 8.0, "cars_lost": 3.0, "wait_p90_s": 8.0, "damp_share": 0.015,
        "saturation_mean": 0.01}  # fmt: skip
"""So far may the means of the two lie apart beyond luck: a second's step, an hour's count."""


@dataclass(frozen=True, slots=True)
class Held:
    """A figure of a site's days: told and come, a number a day."""

    told: Floats
    came: Floats

    @property
    def off(self) -> float:
        """Mean that came less mean told."""
        return float(self.came.mean() - self.told.mean())

    @property
    def luck(self) -> float:
        """Standard error of that."""
        return float(np.hypot(*(np.std(one) / np.sqrt(len(one)) for one in (self.told, self.came))))

    def within(self, low: float, high: float) -> float:
        """Share of days that came within quantiles of those told."""
        least, most = np.quantile(self.told, [low, high])
        return float(np.mean((least <= self.came) & (self.came <= most)))


def held(blind: BlindSite, rule: str, days: int) -> dict[str, Held]:
    """Every figure of a rule."""
    scenario = Scenario("one", rule)
    asked = Question(blind.site, blind.conditions, (scenario,), TOLD_DAYS, 5)
    told = run_days(asked.experiment, asked.scenarios, TOLD_DAYS)[0].day
    came: Lived = lived(blind, rule, days, first=1_000)
    return {name: Held(told[name], getattr(came, name)) for name in FIGURES}


@pytest.mark.soak
def test_days_come_as_told(size: Size, record_figure: Record) -> None:
    """Means, and the share of days within ranges of 80 and 95 % of days, full and reduced."""
    sites, days = size(small=3, full=SITES), size(small=16, full=60)
    found = [
        [held(blind_site(n), rule, days) for rule in ("full", "reduced")] for n in range(sites)
    ]
    for name in FIGURES:
        for where, some in (
            ("of the model's shape", found[:OF_SHAPE]),
            ("outside", found[OF_SHAPE:]),
        ):
            rows = [one[name] for pair in some for one in pair]
            if not rows:
                continue
            off = np.array([row.off for row in rows])
            record_figure(f"{where}: {name}, off at most", float(np.abs(off).max()), "")
            record_figure(f"{where}: {name}, off on average", float(np.abs(off).mean()), "")
            for range_, ends in WITHIN.items():
                share = 100.0 * float(np.mean([row.within(*ends) for row in rows]))
                record_figure(f"{where}: {name}, days within {range_} %", share, "%")
            if where != "outside":
                assert all(abs(row.off) <= NEAR[name] + 4.0 * row.luck for row in rows)

"""A first choice within seconds: coarse windows, then the neighbours of the best of them.

It looks only at rules that a crew can carry out, on few draws, so that something can be shown while
the search among all of them goes on, which keeps to it where nothing is better by what matters; it
is told with its own probability.
"""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import replace

from sim.day.engine import Told, quiet
from sim.day.rules import FULL, REDUCED, Rule, Service
from sim.decide.switching.advice import standing
from sim.decide.switching.candidates import allowed_windows, neighbours
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget, Selection, SwitchAnswer, search
from sim.inputs import Site

STEPS = 10
"""Steps into which the hours open are cut."""
BEST = 4
"""So many of the coarse rules have their neighbours looked at."""
ROUGH = SamplingBudget(first=16, sure=32, most=32, returns=0)
FINE = SamplingBudget(first=16, sure=64, most=64, returns=1)
"""Draws among the coarse rules, and among the best of them with their neighbours."""


HOLDS = 0.875
"""No first form is told surer than this: on 35 of 40 drawn site-days it was as good as the whole
answer, but for what does not matter (`tests/decide/test_first_forms.py`)."""


def first_chance(found: Selection) -> float:
    """Chance that a first form is as good as the best of all rules, but for what does not matter:
    by what was tried, times how often such a chance held among all."""
    return HOLDS * found.certainty


def coarse_windows(site: Site) -> tuple[Rule, ...]:
    """Always full, always reduced, but those sold the full wipe, and single windows."""
    windows = (Rule(((one,),)) for one in allowed_windows(site, STEPS))
    sold = (Rule(((Service(),),)),) if site.pay.full_service_share > 0 else ()
    return tuple(dict.fromkeys((FULL, REDUCED, *sold, *windows)))


def first_choice(
    question: SwitchQuestion, executor: Executor | None = None, progress: Told = quiet
) -> SwitchAnswer:
    """The best of few rules by the wish, on at most 64 draws; some 2,000 runs.

    Args:
        executor, progress: see `Trials`.

    Raises:
        InputError: with every problem of site, day and texts.
    """
    rough = search(
        replace(question, among=coarse_windows(question.site)), executor, progress, effort=ROUGH
    )
    order, _ = standing(rough)
    best = [rough.rules[place] for place in order if rough.rules[place].by_crew][:BEST]
    near = dict.fromkeys([rough.chosen, *best])
    for rule in best:
        near |= dict.fromkeys(neighbours(question.site, rule))
    return search(replace(question, among=tuple(near)), executor, progress, effort=FINE)

"""A few rules instead of thousands: the neighbours of a rule that is known, and a coarse grid."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import replace

from sim.day.rules import FULL, REDUCED, Band, Clock, Rule, Service, Term
from sim.decide.switching.candidates import COARSE, COARSE_BANDS, allowed_windows
from sim.decide.switching.selection import Effort
from sim.inputs import Site

SMALL = Effort(first=16, sure=32, most=32)
"""Draws of a search among some hundred rules."""
EDGE_STEPS_S = (-3600.0, -1800.0, 1800.0, 3600.0)
BAND_STEPS = (-0.1, -0.05, 0.05, 0.1)
DAY_END_S = 86400.0


def narrowed(site: Site, rule: Rule) -> tuple[Rule, ...]:
    """The rule, always full and always reduced, the rule's neighbours, coarse windows and bands.

    A neighbour has one edge of one window moved by up to an hour, or a band moved by up to a
    tenth of saturation.
    """
    coarse: list[Term] = [*allowed_windows(site, COARSE), *(Band(*pair) for pair in COARSE_BANDS)]
    grid = [Rule(((term,),)) for term in coarse]
    if site.pay.full_service_share > 0:
        grid.append(Rule(((Service(),),)))
    return tuple(dict.fromkeys((rule, FULL, REDUCED, *neighbours(site, rule), *grid)))


def neighbours(site: Site, rule: Rule) -> Iterator[Rule]:
    """Rules that differ from one in one number, each once, within the hours open."""
    return iter(dict.fromkeys(_each_moved(site, rule)))


def _each_moved(site: Site, rule: Rule) -> Iterator[Rule]:
    for row, terms in enumerate(rule.either):
        for place, term in enumerate(terms):
            for other in _moved(site, term):
                if other == term:
                    continue
                changed = (*terms[:place], other, *terms[place + 1 :])
                yield replace(rule, either=(*rule.either[:row], changed, *rule.either[row + 1 :]))


def _moved(site: Site, term: Term) -> Iterable[Term]:
    if isinstance(term, Clock):
        return _windows(site, term)
    if isinstance(term, Band):
        bands = (
            Band(round(term.upper + step, 4), round(term.lower + step, 4)) for step in BAND_STEPS
        )
        return (band for band in bands if band.lower > 0.0 and band.upper < 1.0)
    return ()


def _windows(site: Site, term: Clock) -> Iterator[Clock]:
    opens = site.line.open_h * 3600.0
    edges = list(itertools.chain.from_iterable(term.windows))
    for place, step in itertools.product(range(len(edges)), EDGE_STEPS_S):
        moved = edges[:]
        if moved[place] >= DAY_END_S and step > 0:
            continue
        # an edge at the end of the day stands for closing time
        base = min(moved[place], site.line.close_h * 3600.0)
        moved[place] = max(opens, base + step)
        if all(a < b for a, b in itertools.pairwise(moved)):
            yield Clock(tuple(zip(moved[::2], moved[1::2], strict=True)))

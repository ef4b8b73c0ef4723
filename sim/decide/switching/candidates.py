"""The wiping rules among which a search looks: windows, bands, classes, alone and combined."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from sim.day.rules import FULL, REDUCED, Band, Classes, Clock, Rule, Service, Term
from sim.inputs import Site

HOUR_S, QUARTER_S, DAY_END_S = 3600.0, 900.0, 86400.0
FINE, MEDIUM, COARSE = 26, 12, 7
"""Steps into which the hours open are cut: for one window, for two, and beside another term."""
UPPERS = tuple(round(0.125 + 0.025 * i, 3) for i in range(34))
GAPS = (0.025, 0.05, 0.1, 0.15, 0.2, 0.3)
COARSE_BANDS = tuple((round(0.05 * i, 2), round(0.05 * i - 0.1, 2)) for i in range(4, 18, 2))
"""Saturations of bands: upper ones, how far below the lower ones lie; bands beside a window."""


def candidates(site: Site) -> tuple[Rule, ...]:
    """Every rule that a search looks at, each once, the simplest first.

    Always full and always reduced lead. Windows that would need more switches than the site
    allows, or that follow one another too soon, are left out; how often a band switches only its
    days can tell.
    """
    found = itertools.chain(
        (FULL, REDUCED), _by_who(site), _alone(allowed_windows(site, FINE)), _alone(_bands()),
        _alone(_two_windows(site)), _combined(site),
    )  # fmt: skip
    return tuple(dict.fromkeys(found))


def _alone(terms: Iterator[Clock] | Iterator[Band]) -> Iterator[Rule]:
    return (Rule(((term,),)) for term in terms)


def _by_who(site: Site) -> Iterator[Rule]:
    if site.pay.full_service_share > 0:
        yield Rule(((Service(),),))
    for term in _class_terms(site, most=len(site.vehicles) - 1):
        yield Rule(((term,),))


def _class_terms(site: Site, most: int) -> Iterator[Classes]:
    """Groups of at most so many classes, or of all but one."""
    keys = [item.key for item in site.vehicles]
    sizes = range(1, min(most, 3) + 1)
    for size in sizes:
        for chosen in itertools.combinations(keys, size):
            yield Classes(chosen)
    if len(keys) - 1 > max(sizes, default=0):
        for left_out in keys:
            yield Classes(tuple(key for key in keys if key != left_out))


def _edges(site: Site, steps: int) -> list[float]:
    """Clock times at which windows may begin or end; the last one stands for the day's end."""
    opens, closes = site.line.open_h * HOUR_S, site.line.close_h * HOUR_S
    step_s = QUARTER_S * max(1, math.ceil((closes - opens) / steps / QUARTER_S))
    inner = (step * step_s for step in range(int(closes // step_s) + 1))
    return [opens, *(moment for moment in inner if opens < moment < closes), DAY_END_S]


def _allowed(site: Site, edges: tuple[float, ...]) -> bool:
    """Whether windows with these edges keep to the limits of switching."""
    opens, closes = site.line.open_h * HOUR_S, site.line.close_h * HOUR_S
    acts = [edge for edge in edges if opens < edge < closes]
    least = site.wishes.least_between_switches_min * 60.0
    apart = all(b - a >= least for a, b in itertools.pairwise(acts))
    return len(acts) <= site.wishes.most_switches and apart and bool(acts)


def allowed_windows(site: Site, steps: int) -> Iterator[Clock]:
    """Single windows between edges that cut the hours open into about so many steps."""
    for edges in itertools.combinations(_edges(site, steps), 2):
        if _allowed(site, edges):
            yield Clock((edges,))


def _two_windows(site: Site) -> Iterator[Clock]:
    for a, b, c, d in itertools.combinations(_edges(site, MEDIUM), 4):
        if _allowed(site, (a, b, c, d)):
            yield Clock(((a, b), (c, d)))


def _bands() -> Iterator[Band]:
    for upper, gap in itertools.product(UPPERS, GAPS):
        if gap < upper:
            yield Band(upper, round(upper - gap, 3))


def _combined(site: Site) -> Iterator[Rule]:
    """A window or a band for some classes only; a window and a band; either of the two."""
    windows = list(allowed_windows(site, COARSE))
    bands = [Band(*pair) for pair in COARSE_BANDS]
    terms: list[Term] = [*windows, *bands]
    for who in _class_terms(site, most=1):
        for term in terms:
            yield Rule(((term, who),))
            yield Rule(((term,), (who,)))
    for window, band in itertools.product(windows, bands):
        yield Rule(((window, band),))
        yield Rule(((window,), (band,)))

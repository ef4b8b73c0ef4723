"""The wiping rules among which a search looks: windows, bands, classes, alone and combined; and how
simple each is for the people who carry it out.

The order of kinds: always full; the same all day; one clock window; a plain band; several windows;
windows and bands combined; anything by vehicle class. A cue that a crew can see counts as what it
stands for, a clock window or a band. Of one kind the rounder numbers are simpler: a time on the
full hour before one on the half, a saturation in tens of percent before one in fives.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from sim.day.rules import FULL, REDUCED, Band, Classes, Clock, CrewClock, Rule, Service, Term
from sim.inputs import Site

HOUR_S, QUARTER_S, DAY_END_S = 3600.0, 900.0, 86400.0
FINE, MEDIUM, COARSE = 26, 12, 7
"""Steps into which the hours open are cut: for one window, for two, and beside another term."""
UPPERS = tuple(round(0.125 + 0.025 * i, 3) for i in range(34))
GAPS = (0.025, 0.05, 0.1, 0.15, 0.2, 0.3)
COARSE_BANDS = tuple((round(0.05 * i, 2), round(0.05 * i - 0.1, 2)) for i in range(4, 18, 2))
"""Saturations of bands: upper ones, how far below the lower ones lie; bands beside a window."""


def candidates(site: Site) -> tuple[Rule, ...]:
    """Every rule that a search looks at, each once; always full and always reduced lead.

    Windows that would need more switches than the site allows, or that follow one another too
    soon, are left out; how often a band switches only its days can tell.
    """
    found = itertools.chain(
        (FULL, REDUCED), _alone(_by_who(site)), _alone(allowed_windows(site, FINE)),
        _alone(_bands()), _alone(_two_windows(site)), _combined(site),
    )  # fmt: skip
    return tuple(dict.fromkeys(found))


def _alone(terms: Iterable[Term]) -> Iterator[Rule]:
    return (Rule(((term,),)) for term in terms)


def _by_who(site: Site) -> Iterator[Term]:
    if site.pay.full_service_share > 0:
        yield Service()
    yield from _class_terms(site, most=len(site.vehicles) - 1)


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
    windows: list[Term] = [*allowed_windows(site, COARSE)]
    bands: list[Term] = [Band(*pair) for pair in COARSE_BANDS]
    pairs: Iterable[tuple[Term, Term]] = itertools.chain(
        ((term, who) for who in _class_terms(site, most=1) for term in windows + bands),
        itertools.product(windows, bands),
    )
    for one, other in pairs:
        yield Rule(((one, other),))
        yield Rule(((one,), (other,)))


# ---- how simple a rule is ------------------------------------------------------------------------

FULL_DAY, SAME_ALL_DAY, ONE_WINDOW, BAND, WINDOWS, COMBINED, BY_CLASS = range(7)
"""Kinds of rules, the simplest first."""
ROUGHEST = 1000
"""Roughness of numbers is below this within a kind."""


def kind_of(rule: Rule) -> int:
    """Its kind, one of those above."""
    if not rule.either:
        return FULL_DAY
    terms = dict.fromkeys(term for row in rule.either for term in row)
    if any(isinstance(term, Classes) for term in terms):
        return BY_CLASS
    when = [term for term in terms if not isinstance(term, Service)]
    if rule.everyone or not when:
        return SAME_ALL_DAY
    if len(when) > 1:
        return COMBINED
    if isinstance(when[0], Clock | CrewClock):
        return ONE_WINDOW if len(when[0].windows) == 1 else WINDOWS
    return BAND


def rank_of(rule: Rule) -> int:
    """Rank among rules: by kind, then by how round its numbers are."""
    rough = sum(_roughness(term) for row in rule.either for term in row)
    return kind_of(rule) * ROUGHEST + min(rough, ROUGHEST - 1)


def _roughness(term: Term) -> int:
    if isinstance(term, Clock | CrewClock):
        edges = (edge for window in term.windows for edge in window if edge < DAY_END_S)
        return sum(_steps_off(edge, (3600.0, 1800.0, 900.0)) for edge in edges)
    if isinstance(term, Band):
        ends = (100.0 * term.upper, 100.0 * term.lower)
        return sum(_steps_off(end, (10.0, 5.0, 2.5)) for end in ends)
    return 0


def _steps_off(value: float, steps: tuple[float, ...]) -> int:
    """Number of the first of the steps of which a value is a multiple."""
    fits = (abs(value - step * round(value / step)) < 1e-6 for step in steps)
    return next((place for place, fit in enumerate(fits) if fit), len(steps))


def to_the_letter(rule: Rule) -> Rule:
    """A rule with the crew's clock times as the windows that they stand for."""
    rows = (
        tuple(Clock(t.windows) if isinstance(t, CrewClock) else t for t in row)
        for row in rule.either
    )
    return replace(rule, either=tuple(rows))


# ---- few of them ---------------------------------------------------------------------------------

RIVAL_BANDS = ((0.3, 0.2), (0.4, 0.3), (0.5, 0.4), (0.6, 0.5))
EDGE_STEPS_S = (-3600.0, -1800.0, 1800.0, 3600.0)
BAND_STEPS = (-0.1, -0.05, 0.05, 0.1)


def coarse_rules(site: Site) -> tuple[Rule, ...]:
    """Always full, always reduced, and a few windows and bands between them."""
    opens, closes = site.line.open_h, site.line.close_h
    edges = [HOUR_S * round(opens + (closes - opens) * part) for part in (0.2, 0.4, 0.6, 0.8)]
    pairs = ((0, 3), (1, 3), (1, 2), (0, 2))
    windows = (Clock(((edges[a], edges[b]),)) for a, b in pairs if edges[a] < edges[b])
    terms: list[Term] = [*windows, *(Band(*pair) for pair in RIVAL_BANDS)]
    return tuple(dict.fromkeys((FULL, REDUCED, *_alone(terms))))


def narrowed(site: Site, rule: Rule) -> tuple[Rule, ...]:
    """The rule, always full and always reduced, the rule's neighbours, coarse windows and bands.

    A neighbour has one edge of one window moved by up to an hour, or a band moved by up to a
    tenth of saturation.
    """
    coarse: list[Term] = [*allowed_windows(site, COARSE), *(Band(*pair) for pair in COARSE_BANDS)]
    if site.pay.full_service_share > 0:
        coarse.append(Service())
    return tuple(dict.fromkeys((rule, FULL, REDUCED, *neighbours(site, rule), *_alone(coarse))))


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

"""The sentences of the maps: what the best setting would change, how sure, what the line bears."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Sequence

from app.catalogue import _
from app.words.answer import money_words, stands_words, turning_words
from app.words.map_levels import MapLevels
from app.words.numbers import amount, dollars, one_beside, one_in, percent, stepped
from app.words.phrases import Statement, joined
from sim.decide.maps.answer import MapPoint, SettingsMap
from sim.units import NBSP, UNITS, format_number

MOST_TOLD = 3
"""Changes of a setting that are told with money; with so many, the map of the margin has it."""
MISSED = {
    "left_damp_share": "cars leaving damp",
    "wait_p90_s": "the wait",
    "cars_lost": "lost cars",
}

FIRST = (
    "the maps are from every other speed, spacing, demand and temperature. All of them are being "
    "tried on more days; what is advised may still change."
)


def setting_words(place: MapPoint, system: str) -> str:
    """Speed and spacing, such as "44 ft/min and 20 ft"."""
    speed, spacing = amount(place.x, "speed", system), amount(place.y, "length", system)
    return _("{speed} and {spacing}", speed=speed, spacing=spacing)


def answer_words(
    levels: MapLevels, system: str, given: Collection[str] = frozenset()
) -> tuple[Statement, Statement]:
    """What the best setting would change, and how sure that is; `given` are the inputs that the
    site entered itself."""
    return _answer(levels, system), _sure(levels.found, system, given)


def _answer(levels: MapLevels, system: str) -> Statement:
    found = levels.found
    present, best, other = found.present, found.best, found.other
    if best == present or other is None:
        stay = _("Stay at {setting}.", setting=setting_words(present, system))
        rest = _(
            "It meets all you allow, and no other setting that does can be told to earn more by "
            "enough to matter."
        )
        return Statement(stay, rest)
    setting, none_keeps = setting_words(other, system), _("No setting meets all you allow.")
    if best is None and (other.x, other.y) == (present.x, present.y):
        sentence = "The present one, {setting}, misses by least: {missed}."
        rest = _(sentence, setting=setting, missed=_missed(present))
        return Statement(none_keeps, rest)
    parts = _changes(levels, other)
    changes = joined(parts)
    if best is not None:
        lead, rest = _("At {setting}", setting=setting), f"{changes}."
        also = [_("That is the most a day earns among settings that meet all you allow.")]
        if not present.keeps_all:
            also.append(_("The present one does not: {missed}.", missed=_missed(present)))
    else:
        lead, sentence = none_keeps, "At {setting}, which misses by least, {changes}."
        rest = _(sentence, setting=setting, changes=changes)
        also = [_("Still more than you allow there: {missed}.", missed=_missed(other))]
    # all that changes is more than anybody takes in at once; the map beside it has the money
    if found.differences["margin"].matters and len(parts) < MOST_TOLD:
        also.append(money_words(_earned(levels, other)))
    return Statement(lead, rest, " ".join(filter(None, also)))


def _missed(place: MapPoint) -> str:
    return joined([_(MISSED[name]) for name, kept in place.keeps.items() if not kept])


def _changes(levels: MapLevels, other: MapPoint) -> list[str]:
    """What a setting changes: lost cars; where the plan says how it is now, damp cars, and the wait
    where it matters."""
    parts = [_lost(levels, other)]
    if levels.plan is None:
        return parts
    now, then = (levels.at(one, "left_damp_share") for one in (levels.found.present, other))
    if now is not None and then is not None:
        parts.append(_damp(now, then))
    if levels.apart(other, "wait_p90_s") and levels.found.differences["wait_p90_s"].matters:
        sentence = "9 cars in 10 would wait at most {then} instead of {now}"
        said, was = levels.then_words(other, "wait_p90_s"), levels.now_words("wait_p90_s")
        parts.append(_(sentence, then=said, now=was))
    return parts


def _earned(levels: MapLevels, other: MapPoint) -> str:
    """By how much more a day earns, with its sign."""
    return dollars(levels.apart(other, "margin") or 0.0, levels.step("margin"))


def _lost(levels: MapLevels, other: MapPoint) -> str:
    more = levels.apart(other, "cars_lost") or 0.0
    count = stepped(abs(more), levels.step("cars_lost"))
    if not levels.found.differences["cars_lost"].matters or not count.strip("0.,"):
        return _("you would lose about as many cars as now")
    if more > 0:
        return _("you would lose {count} more cars", count=count)
    return _("you would lose {count} fewer cars", count=count)


def _damp(now: float, then: float) -> str:
    said, before = one_beside(then, now)
    if one_in(then) == one_in(now):
        return _("{cars} would leave damp as now", cars=said)
    sentence = "{cars} would leave damp instead of {before}"
    return _(sentence, cars=said, before=before)


def _sure(found: SettingsMap, system: str, given: Collection[str]) -> Statement:
    days = found.replications
    sentence = (
        "Each point of the maps is one simulated day, the same one everywhere, with your own "
        "people and every guess at its middle value."
    )
    if days > 1:
        sentence = (
            "Each point of the maps is the same {days} simulated days, with your own people and "
            "every guess at its middle value."
        )
    same = _(sentence, days=days)
    if found.coarse:
        return Statement(_("So far:"), f"{_(FIRST)} {same}")
    own, rival = (
        "" if place is None else setting_words(place, system)
        for place in (found.other or found.present, found.rival)
    )
    if found.rival is None:
        return Statement("", same)
    said = stands_words(found.standing, own, rival, found.weighed, given)
    turns = turning_words("setting", given)
    return Statement(said.lead, " ".join(filter(None, (said.rest, turns, same))))


# ---- demand and temperature ----------------------------------------------------------------------


def bearing_words(found: SettingsMap, system: str) -> tuple[str, ...]:
    """What the line bears: more cars, other temperatures; only what follows from the points."""
    sentences = (_demand_words(found, system), _temperature_words(found, system))
    return tuple(filter(None, sentences))


def bears(points: Sequence[MapPoint]) -> tuple[float, bool] | None:
    """Up to which demand all limits hold from the expected demand on, and whether the points end
    there; None where they do not hold at the expected demand."""
    expected = [point for point in points if point.x >= 1.0 - 1e-9]
    kept = list(itertools.takewhile(lambda point: point.keeps_all, expected))
    return (kept[-1].x, kept[-1] is points[-1]) if kept else None


def _demand_words(found: SettingsMap, system: str) -> str:
    temp = amount(found.highest_temp_c, "temperature", system, 2)
    now, then, other = bears(found.demand_now), bears(found.demand_best), found.better
    if now is not None and now[1]:
        return _(
            "At {temp} the present setting meets all you allow up to {more} more cars than "
            "expected, the most looked at.",
            temp=temp,
            more=percent(now[0] - 1.0),
        )
    if other is not None and then is not None and (now is None or then[0] > now[0]):
        sentence = (
            "At {temp} and the expected cars already you need another setting: {setting} meets "
            "all you allow up to {most}."
            if now is None
            else "Above {more} of the expected cars, at {temp}, you need another setting: "
            "{setting} meets all you allow up to {most}."
        )
        return _(
            sentence,
            temp=temp,
            more="" if now is None else percent(now[0]),
            setting=setting_words(other, system),
            most=percent(then[0]),
        )
    if now is not None:
        return _(
            "Above {more} of the expected cars, at {temp}, you need more than another setting to "
            "meet all you allow.",
            more=percent(now[0]),
            temp=temp,
        )
    fewer = _bears_below(found.demand_now)
    if fewer is None:
        sentence = "At {temp} the present setting meets all you allow at no demand looked at."
        return _(sentence, temp=temp)
    return _(
        "At {temp} the present setting meets all you allow only up to {share} of the expected "
        "cars.",
        temp=temp,
        share=percent(fewer),
    )


def _bears_below(points: Sequence[MapPoint]) -> float | None:
    kept = list(itertools.takewhile(lambda point: point.keeps_all, points))
    # holding again further up would make "only up to" untrue
    if not kept or any(point.keeps_all for point in points[len(kept) :]):
        return None
    return kept[-1].x


def _temperature_words(found: SettingsMap, system: str) -> str:
    """At the expected number of cars: from which temperature on all limits hold, if it is so."""
    column = sorted(
        (point.y, point.keeps_all) for point in found.weather.grid if math.isclose(point.x, 1.0)
    )
    turns = [i for i in range(1, len(column)) if column[i][1] != column[i - 1][1]]
    if not column or len(turns) > 1:
        return ""
    unit, first = UNITS["temperature"], turns[0] if turns else 0
    at = first if column[first][1] else first - 1  # the nearest at which it meets all
    if not turns and column[0][1]:
        sentence = (
            "At the expected cars the present setting meets all you allow from {low} to {high}."
        )
    elif not turns:
        sentence = (
            "At the expected cars the present setting misses what you allow from {low} to {high}: "
            "another temperature alone does not help."
        )
    elif column[first][1]:
        sentence = (
            "At the expected cars the present setting meets all you allow from {temp} up; "
            "below that you need another."
        )
    else:
        sentence = (
            "At the expected cars the present setting meets all you allow up to {temp}; above "
            "that you need another."
        )
    # temperatures of the grid are round to their reader
    said = [format_number(round(unit.to_edge(column[i][0], system), 6), 3) for i in (0, -1, at)]
    low, high, temp = (f"{text}{NBSP}{unit.symbol(system)}" for text in said)
    return _(sentence, low=low, high=high, temp=temp)

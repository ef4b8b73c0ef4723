"""The sentences of the maps: what the best setting would change, how sure, what the line bears."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Any

from app.catalogue import _
from app.words.figures import interval, one_in, plain_number, step_of, stepped
from app.words.phrases import Spoken, joined
from sim.units import NBSP, UNITS, format_number, quantity

Map = Mapping[str, Any]
Place = Mapping[str, Any]
NO_MATTER = ("hardly differs", "the same", "can’t tell", "")
MISSED = {
    "damp_share": "damp cars",
    "wait_p90_s": "the wait",
    "cars_lost": "lost cars",
}


def setting_words(place: Place, system: str) -> str:
    """Speed and spacing, such as "44 ft/min and 20 ft"."""
    speed = quantity(place["x"], "speed", 3).show(system)
    return _("{speed} and {spacing}", speed=speed, spacing=length_words(place["y"], system))


def length_words(length_m: float, system: str) -> str:
    """A spacing in the reader's unit."""
    return quantity(length_m, "length", 3).show(system)


def answer_words(found: Map, system: str) -> tuple[Spoken, Spoken]:
    """What the best setting would change, and how sure that is."""
    present, best, nearest = found["present"], found["best"], found["nearest"]
    if found["stays"]:
        spoken = Spoken(
            _("Stay at {setting}.", setting=setting_words(present, system)),
            _(
                "It keeps to all you allow, and no other setting that does can be told to earn "
                "more by enough to matter."
            ),
        )
        return spoken, _sure(found, with_days=False)
    other = best or nearest
    setting = setting_words(other, system)
    if best is None and _is_same(other, present):
        spoken = Spoken(
            _("No setting keeps to all you allow."),
            _(
                "The present one, {setting}, misses by least: {missed}.",
                setting=setting,
                missed=_missed(present),
            ),
        )
        return spoken, _sure(found, with_days=False)
    changes = joined(_changes(found, other))
    if best is not None:
        lead, rest = _("At {setting}", setting=setting), f"{changes}."
        also = _("That is the most a day earns among settings that keep to all you allow.")
        if not all(present["keeps"].values()):
            also += " " + _("The present one does not: {missed}.", missed=_missed(present))
    else:
        lead = _("No setting keeps to all you allow.")
        rest = _(
            "At {setting}, which misses by least, {changes}.", setting=setting, changes=changes
        )
        also = _("Still more than you allow there: {missed}.", missed=_missed(other))
    return Spoken(lead, rest, f"{also} {_money(found)}".strip()), _sure(found, with_days=True)


def _is_same(one: Place, other: Place) -> bool:
    return (one["x"], one["y"]) == (other["x"], other["y"])


def _missed(place: Place) -> str:
    return joined([_(MISSED[name]) for name, kept in place["keeps"].items() if not kept])


def _changes(found: Map, other: Place) -> list[str]:
    """What a setting changes: lost cars, damp cars, the wait where it matters."""
    present, apart = found["present"], found["differences"]
    parts = []
    lost = apart["cars_lost"]
    step = step_of(_half_width(lost), "cars")
    count = stepped(abs(lost["value"] or 0.0), step)
    if lost["word"] in NO_MATTER or not count.strip("0.,"):
        parts.append(_("you would lose about as many cars as now"))
    elif lost["value"] > 0:
        parts.append(_("you would lose {count} more cars", count=count))
    else:
        parts.append(_("you would lose {count} fewer cars", count=count))
    now, then = present["figures"]["damp_share"], other["figures"]["damp_share"]
    if now is not None and then is not None:
        parts.append(_damp(now, then))
    wait = apart["wait_p90_s"]
    if wait["value"] is not None and wait["word"] not in NO_MATTER:
        parts.append(
            _(
                "90 cars of 100 would wait less than {then} instead of {now}",
                then=_minutes(other["figures"]["wait_p90_s"]),
                now=_minutes(present["figures"]["wait_p90_s"], unit=False),
            )
        )
    return parts


def _damp(now: float, then: float) -> str:
    said, before = one_in(then), one_in(now)
    if said == before:
        return _("{cars} would leave damp as now", cars=said)
    before = before.replace(_("about {share}", share=""), "")
    before = before.replace(f"1{NBSP}car{NBSP}in", f"1{NBSP}in")
    return _("{cars} would leave damp instead of {before}", cars=said, before=before)


def _minutes(wait_s: float, unit: bool = True) -> str:
    said = plain_number(wait_s / 60.0, 0)
    return f"{said}{NBSP}min" if unit else said


def _money(found: Map) -> str:
    margin = found["differences"]["margin"]
    if margin["word"] in NO_MATTER or margin["value"] is None:
        return ""
    said = "$" + stepped(abs(margin["value"]), step_of(_half_width(margin), "money"))
    if margin["value"] > 0:
        return _("The day earns about {money} more.", money=said)
    return _("The day earns about {money} less.", money=said)


def _half_width(figure: Mapping[str, Any]) -> float:
    ends = interval(figure, "run error")
    return 0.0 if ends is None else (ends[1] - ends[0]) / 2.0


def _sure(found: Map, with_days: bool) -> Spoken:
    days = int(found["replications"])
    parts = [
        _(
            "Each point is the same {days} simulated days, so differences are surer than figures.",
            days=days,
        )
        if days > 1
        else _("Each point is one simulated day, the same one everywhere.")
    ]
    damp = found["differences"].get("damp_share", {}).get("days_better")
    if with_days and damp is not None and days > 1:
        parts.append(
            _(
                "On {count} of {days} fewer cars leave damp than now.",
                count=round(damp * days),
                days=days,
            )
        )
    parts.append(
        _(
            "Every guess about the site stands at its middle value; what nobody has measured here "
            "yet, such as how much water the cloth holds, could move every line on these maps."
        )
    )
    return Spoken(_("Not firm yet."), " ".join(parts))


# ---- demand and temperature ----------------------------------------------------------------------


def bearing_words(found: Map, system: str) -> tuple[str, ...]:
    """What the line bears: more cars, other temperatures; only what follows from the points."""
    sentences = [_demand_words(found, system), _temperature_words(found, system)]
    return tuple(sentence for sentence in sentences if sentence)


def bears(points: Sequence[Place]) -> tuple[float, bool] | None:
    """Up to which demand all limits hold from the expected demand on, and whether the points end
    there; None where they do not hold at the expected demand."""
    expected = [point for point in points if point["x"] >= 1.0 - 1e-9]
    kept = list(itertools.takewhile(lambda p: all(p["keeps"].values()), expected))
    return (kept[-1]["x"], kept[-1] is points[-1]) if kept else None


def _demand_words(found: Map, system: str) -> str:
    temp = quantity(found["expected"]["highest_temp_c"], "temperature", 2).show(system)
    now, then = bears(found["demand_now"]), bears(found["demand_best"])
    other = None if found["stays"] else found["best"]
    if now is not None and now[1]:
        return _(
            "At {temp} the present setting keeps to all you allow up to {more} more cars than "
            "expected, the most looked at.",
            temp=temp,
            more=_more(now[0]),
        )
    parts = []
    if now is not None:
        parts.append(
            _("Above {more} of the expected cars, at {temp},", more=_share(now[0]), temp=temp)
        )
    elif other is not None and then is not None:
        parts.append(_("At {temp} and the expected cars already", temp=temp))
    reach = now[0] if now else 0.0
    if other is not None and then is not None and then[0] > reach:
        parts.append(
            _(
                "you need another setting: {setting} keeps to all you allow up to {more}.",
                setting=setting_words(other, system),
                more=_share(then[0]),
            )
        )
    elif now is not None:
        parts.append(_("you need more than another setting to keep to all you allow."))
    else:
        fewer = _bears_below(found["demand_now"])
        if fewer is None:
            return _(
                "At {temp} the present setting keeps to all you allow at no demand looked at.",
                temp=temp,
            )
        return _(
            "At {temp} the present setting keeps to all you allow only up to {share} of the "
            "expected cars.",
            temp=temp,
            share=_share(fewer),
        )
    return " ".join(parts)


def _bears_below(points: Sequence[Place]) -> float | None:
    kept = list(itertools.takewhile(lambda p: all(p["keeps"].values()), points))
    rest = points[len(kept) :]
    # holding again further up would make "only up to" untrue
    if not kept or any(all(p["keeps"].values()) for p in rest):
        return None
    return float(kept[-1]["x"])


def _temperature_words(found: Map, system: str) -> str:
    """At the expected number of cars: from which temperature on all limits hold, if it is so."""
    plane = found["weather"]
    names = plane["columns"]
    keeps = [i for i, name in enumerate(names) if name.startswith("keeps_")]
    column = [
        (row[1], all(row[i] for i in keeps))
        for row in plane["points"]
        if row[2] and math.isclose(row[0], 1.0)
    ]
    column.sort()
    turns = [i for i in range(1, len(column)) if column[i][1] != column[i - 1][1]]
    if not column:
        return ""
    low, high = (_degrees(column[i][0], system) for i in (0, -1))
    if not turns:
        if column[0][1]:
            return _(
                "At the expected cars the present setting keeps to all you allow from {low} to "
                "{high}.",
                low=low,
                high=high,
            )
        return _(
            "At the expected cars the present setting misses what you allow from {low} to {high}: "
            "another temperature alone does not help.",
            low=low,
            high=high,
        )
    if len(turns) > 1:
        return ""
    at = turns[0]
    if column[at][1]:
        return _(
            "At the expected cars the present setting keeps to all you allow from {temp} up; "
            "below that you need another.",
            temp=_degrees(column[at][0], system),
        )
    return _(
        "At the expected cars the present setting keeps to all you allow up to {temp}; above "
        "that you need another.",
        temp=_degrees(column[at - 1][0], system),
    )


def _degrees(temp_c: float, system: str) -> str:
    unit = UNITS["temperature"]
    said = format_number(round(unit.to_edge(temp_c, system), 6), 3)
    return f"{said}{NBSP}{unit.symbol(system)}"


def _share(demand: float) -> str:
    return f"{round(100 * demand)}{NBSP}%"


def _more(demand: float) -> str:
    return f"{round(100 * (demand - 1.0))}{NBSP}%"

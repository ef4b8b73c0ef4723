"""Who is needed, in words and small tables: the same on the page and in the terminal."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from app.catalogue import _
from app.words.columns import Spoken
from app.words.costs import cost_lines
from app.words.figures import plain_number
from app.words.phrases import joined, whole
from app.words.why import Lines
from sim.units import MINUS, NBSP, show_clock

Found = Mapping[str, Any]
WHY = {
    "opening": "opening or closing work",
    "loading": "loading alone",
    "use": "work, at the target use",
    "fewest": "fewest people while open",
}


def answer(found: Found) -> Spoken:
    """The sentence that answers the page’s question, hours and money, and what can’t be had."""
    spells = spells_of([row for row in found["half_hours"] if row["why"] not in ("", "opening")])
    parts = []
    for at, (start, end, people) in enumerate(spells):
        name = _("1 person") if people == 1 else _("{count} people", count=people)
        filling = {"people": name if at == 0 else people, "start": start, "end": end}
        parts.append(_("{people} from {start} to {end}", **filling))
    lead = _("You need {spells}.", spells=joined(parts))
    needed, planned = found["needed"], found["present"]
    rest = _(
        "With opening and closing work that is {hours} hours and {cost}{each}; planned are "
        "{planned} hours and {planned_cost}.",
        hours=hours(needed["people_hours"]),
        cost=dollars(needed["cost"]),
        each=_(", {cost} a car", cost=cents(needed["per_car"])) if needed["per_car"] else "",
        planned=hours(planned["people_hours"]),
        planned_cost=dollars(planned["cost"]),
    )
    return Spoken(lead, rest, " ".join(beyond(found)))


def beyond(found: Found) -> list[str]:
    """Targets that no number of people meets, a sentence each."""
    targets, said = found["targets"], []
    if targets["unreached"]:
        said.append(
            _(
                "No number of people meets your target for wait and stack {spells}: there the belt "
                "or the pay lanes are the limit.",
                spells=in_spells(targets["unreached"]),
            )
        )
    if not targets["lost_reached"]:
        at_most = targets["lost_at_most"]
        said.append(
            _(
                "At most {lost} cars are lost on an average day, as far as {days} days tell, where "
                "you allow {allowed}; with most loaders all day it would still be {least}.",
                lost=at_most_cars(at_most["needed"]),
                days=found["days"],
                allowed=whole(targets["lost_cars"]),
                least=at_most_cars(at_most["most_loaders"]),
            )
        )
    return said


def how_sure(found: Found) -> str:
    """What the answer was tried on, and whether fresh days agree."""
    days, missed = found["days"], found["targets"]["fresh_missed"]
    tried = _(
        "Settled on {days} simulated days, then tried on {days} fresh ones, with your guesses at "
        "their middle values.",
        days=days,
    )
    if missed:
        told = _(
            "On the fresh days the target of wait and stack could not be shown to be met, at "
            "95{space}% confidence: {spells}. There the margin is thin.",
            space=NBSP,
            spells=in_spells(missed),
        )
    else:
        told = _(
            "On the fresh days every half-hour met what can be met, at 95{space}% confidence each.",
            space=NBSP,
        )
    if found["targets"]["lost_reached"]:
        lost = _(
            "As far as they tell, at most {lost} cars are lost on an average day; you allow "
            "{allowed}.",
            lost=at_most_cars(found["targets"]["lost_at_most"]["fresh"]),
            allowed=whole(found["targets"]["lost_cars"]),
        )
        told = f"{told} {lost}"
    return f"{tried} {told}"


def wiping_words(found: Found) -> str:
    """How the wiping plan changes the people."""
    first, *others = found["rules"]
    said = [
        _(
            "Reduced wipes and towels take {hours} hours of hand work with the rule of the plan.",
            hours=hours(first["extra_hours"]),
        )
    ]
    said += [
        _(
            "With {rule} they would take {hours}, and the day {people} people-hours in place of "
            "{now}.",
            rule=rule_words(one["text"]),
            hours=hours(one["extra_hours"]),
            people=hours(one["people_hours"]),
            now=hours(first["people_hours"]),
        )
        for one in others
    ]
    return " ".join(said)


def timetable_words(found: Found) -> str:
    """What to enter at the site to plan just so."""
    rows = {name: _typed(found["timetables"][name]) for name in ("people", "loaders")}
    return _(
        "To plan just so, enter “{people}” as people on the line and “{loaders}” as loaders.",
        **rows,
    )


def _typed(rows: Sequence[Sequence[float]]) -> str:
    first, *later = rows
    return "; ".join(
        [str(int(first[1])), *(f"{clock(start / 3600.0)} {int(count)}" for start, count in later)]
    )


def rule_words(text: str) -> str:
    """Always full and always reduced by their names, other rules as they are written."""
    return {"full": _("always full"), "reduced": _("always reduced")}.get(text, text)


def costs_table(found: Found) -> Lines:
    """The day's cost by item with the people needed and with those planned."""
    says = _(
        "With the people needed and with those planned, the plan’s rule, mean of the same "
        "simulated days. Opening and closing work count in minutes here, in people above."
    )
    columns = ((_("Needed"), found["needed"]), (_("Planned"), found["present"]))
    return cost_lines(says, columns)


def people_table(found: Found) -> Lines:
    """Needed, planned and roles by half-hour, with why."""
    called = {role: _(name) for role, name in found["called"].items()}
    names = (name[:1].upper() + name[1:] for name in called.values())
    heads = (_("From"), _("Needed"), _("Planned"), *names, _("Why"))
    rows = tuple(
        (
            clock(row["start_h"]),
            str(row["people"]),
            str(row["planned"]),
            *(str(row["roles"][role]) for role in called),
            _(WHY[row["why"]]) if row["why"] else "–",
        )
        for row in found["half_hours"]
    )
    return Lines("", heads, rows)


def formula_table(found: Found) -> Lines:
    """What formulas said, what the simulation settled on, and why they differ."""
    heads = (
        _("From"), _("Offered load"), _("By formula"), _("Needed"), _("Late, equations"),
        _("Late, simulated"), _("Why they differ"),
    )  # fmt: skip
    rows = tuple(
        (
            clock(row["start_h"]),
            plain_number(row["offered_load"], 2),
            str(row["formula_people"]),
            str(row["people"]),
            percent(row["chain_late_share"]),
            percent(row["late_share"]),
            differ_words(row),
        )
        for row in found["half_hours"]
        if row["why"] not in ("", "opening")
    )
    return Lines("", heads, rows)


def differ_words(row: Mapping[str, Any]) -> str:
    """Why the formula asks for another number than the simulation; empty where they agree."""
    if row["formula_people"] == row["people"]:
        return ""
    if row["formula_loaders"] > row["roles"]["loader"]:
        if row["offered_load"] >= 1.0:
            return _("a lasting queue by the formula; in the simulation cars give up")
        return _("times vary less than the formula’s, and cars give up")
    if row["formula_loaders"] < row["roles"]["loader"]:
        return _("the queue of the half-hours around it, and busy days")
    if row["formula_people"] < row["people"]:
        return _("busy days, reduced wipes and towels, of which the formula knows nothing")
    return _("cars that are lost make no work")


def effects_table(found: Found) -> Lines:
    """One person more and one fewer, an hour a row."""
    heads = (
        _("From"), _("One more: wait, min"), _("lost cars"), _("money"),
        _("One fewer: wait, min"), _("lost cars"), _("money"), _("use"),
    )  # fmt: skip
    rows = []
    for more, fewer in zip(found["effects"][::2], found["effects"][1::2], strict=True):
        rows.append(
            (
                f"{more['hour']}:00",
                *_effect(more),
                *_effect(fewer),
                _("nobody") if fewer["use"] is None else percent(fewer["use"]),
            )
        )
    return Lines("", heads, tuple(rows))


def _effect(one: Mapping[str, Any]) -> tuple[str, str, str]:
    money = paired(one["margin"], 1.0, 0)
    if not one["loads"]:
        return "0", "0", money
    return paired(one["wait_p90_s"], 60.0, 1), paired(one["cars_lost"], 1.0, 1), money


def paired(one: Mapping[str, float], unit: float, decimals: int) -> str:
    """A difference with half its 95 % interval; where that holds zero, no clear difference."""
    mean, half = one["mean"] / unit, one["half"] / unit
    sign = "+" if mean > 0 else ""
    said = f"{sign}{plain_number(mean, decimals)}"
    if said.strip(f"+{MINUS}0.") == "":
        said = "0"
    if half * 10**decimals < 0.5:
        return said
    return f"{said}{NBSP}±{NBSP}{plain_number(half, decimals)}"


# ---- small words ---------------------------------------------------------------------------------


def spells_of(rows: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, int]]:
    """Stretches with the same number of people: from, to, people."""
    found: list[tuple[str, str, int]] = []
    starts = [0, *(at for at, (a, b) in enumerate(pairwise(rows), 1) if a["people"] != b["people"])]
    for start, end in pairwise([*starts, len(rows)]):
        last = rows[end - 1]["start_h"] + 0.5
        found.append((clock(rows[start]["start_h"]), clock(last), rows[start]["people"]))
    return found


def in_spells(half_hours: Sequence[int]) -> str:
    """Half-hours in words: from 13:00 to 15:30 and from 17:00 to 17:30."""
    edges = [at for at in half_hours if at - 1 not in half_hours]
    ends = [at + 1 for at in half_hours if at + 1 not in half_hours]
    return joined(
        [
            _("from {start} to {end}", start=clock(a / 2.0), end=clock(b / 2.0))
            for a, b in zip(edges, ends, strict=True)
        ]
    )


def at_most_cars(upper_end: float) -> str:
    """An upper end in whole cars: never below what is judged."""
    return whole(max(0, math.ceil(upper_end - 1e-9)))


def clock(hour: float) -> str:
    """A time of day."""
    return show_clock(3600.0 * hour)


def hours(amount: float) -> str:
    """Hours of work, to a tenth below a hundred."""
    return plain_number(amount, 1 if amount < 100 else 0).removesuffix(".0")


def dollars(amount: float) -> str:
    """Money of a day, whole."""
    return f"${plain_number(amount, 0)}"


def cents(amount: float) -> str:
    """Money of a car."""
    return f"${plain_number(amount, 2)}"


def percent(share: float) -> str:
    """A share in whole percent, a small one to a tenth."""
    said = plain_number(100.0 * share, 1 if 0.0005 <= share < 0.0995 else 0)
    return f"{said.removesuffix('.0')}{NBSP}%"

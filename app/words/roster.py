"""Words for rosters: shifts, rules broken, why there is none and the ways out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from app.catalogue import _
from app.words.phrases import joined
from sim.units import format_number, show_clock

LAW = (
    "The limits on hours are the site’s own inputs, and guesses until somebody has checked them "
    "against local labour law."
)


def weekday(day: int) -> str:
    """Monday 0 to Sunday 6."""
    return (
        _("Monday"), _("Tuesday"), _("Wednesday"), _("Thursday"), _("Friday"), _("Saturday"),
        _("Sunday"),
    )[day]  # fmt: skip


def hours(amount: float) -> str:
    """Hours to the half."""
    return _("{amount} h", amount=format_number(round(2.0 * amount) / 2.0))


def span(start_h: float, end_h: float) -> str:
    """Start and end by the clock."""
    return f"{show_clock(3600.0 * start_h)}–{show_clock(3600.0 * end_h)}"


def short_span(start_h: float, end_h: float) -> str:
    """The same for a narrow table: full hours without minutes."""
    return span(start_h, end_h).replace(":00", "")


def breach(one: Mapping[str, Any]) -> str:
    """A broken rule in a sentence."""
    name, amount = one["name"], one["amount"]
    day = weekday(one["weekday"]) if one["weekday"] >= 0 else ""
    skills = _(" or ").join(one["skills"])
    count = format_number(amount)
    return {
        "cover": lambda: _(
            "{day}: {hours} of work without a person.", day=day, hours=hours(amount)
        ),
        "away": lambda: _("{name} works on {day}, though away then.", name=name, day=day),
        "skill": lambda: _(
            "{day}: {hours} without enough people who can be {skills}.",
            day=day, hours=hours(amount), skills=skills,
        ),
        "most_hours": lambda: _(
            "{name} works {hours} more than the most allowed.", name=name, hours=hours(amount)
        ),
        "least_hours": lambda: _(
            "{name} gets {hours} less than the least agreed.", name=name, hours=hours(amount)
        ),
        "days_off": lambda: _("{name} works {count} days too many.", name=name, count=count),
        "rest": lambda: _("{name} rests too little before {day}.", name=name, day=day),
        "weekend": lambda: _(
            "{name} works {count} weekend days too many in two weeks.", name=name, count=count
        ),
    }[one["rule"]]()  # fmt: skip


def rule(name: str) -> str:
    """A rule by its name, as part of a sentence."""
    return {
        "cover": _("people needed in every half-hour"),
        "away": _("when people can’t work"),
        "skill": _("skills"),
        "most_hours": _("most hours a week"),
        "least_hours": _("least hours a week"),
        "days_off": _("days off"),
        "rest": _("rest between shifts"),
        "weekend": _("weekend days in two weeks"),
    }[name]


def why_none(conflict: Mapping[str, Any]) -> str:
    """The rules in conflict."""
    said = _("No roster meets all of this at once: {rules}.", rules=joined(_rules(conflict)))
    if conflict["days"]:
        days = joined([weekday(day) for day in conflict["days"]])
        said += " " + _("It is about {days}.", days=days)
    if not conflict["minimal"]:
        said += " " + _("Time ran out before it was clear whether each of them has a part in it.")
    return said


def _rules(conflict: Mapping[str, Any]) -> list[str]:
    return [rule(name) for name in conflict["rules"]]


def ways_out(conflict: Mapping[str, Any]) -> list[str]:
    """Each way out in sentences, the least unwelcome first."""
    said = []
    for way in conflict["ways"]:
        parts = [breach(one) for one in way["breaches"]]
        if not way["least"]:
            parts.append(_("Less than that may be enough."))
        said.append(" ".join(parts))
    return said


def not_found() -> str:
    """That time was too short, which says nothing about the week."""
    return _("No roster was found in time; there may be one.")


def cost_words(content: Mapping[str, Any]) -> str:
    """What a roster costs and how near it is to the least possible."""
    cost, bound = content["cost"], content["bound"]
    gap = 100.0 * (cost - bound) / cost if cost else 0.0
    said = _("It costs {cost}.", cost=format_number(round(cost)))
    return f"{said} {how_near(f'{gap:.2f}')}"


def kept_words(content: Mapping[str, Any]) -> str:
    """How much of last week's roster stays; empty where there was none."""
    if not content["last_week"]:
        return ""
    return _(
        "{kept} of last week’s {all} shifts stay as they were.",
        kept=content["kept"],
        all=content["last_week"],
    )


def how_near(gap: str) -> str:
    """How much of a roster's cost could be saved at most, from a number of percent."""
    if not re.fullmatch(r"\d{1,3}\.\d\d", gap):
        return _("A roster was made.")
    if gap == "0.00":
        return _("A roster was made; none of this week costs less.")
    return _("A roster was made; no other could save more than {gap} % of its cost.", gap=gap)


def anybody_words(roles: Sequence[str]) -> str:
    """That nobody can do some roles, and what is asked for instead; empty for no roles."""
    if not roles:
        return ""
    return _(
        "Nobody here can be {roles} yet, so the roster asks for anybody in that place. Enter who "
        "can on the page Roster, or in people.csv.",
        roles=_(" or ").join(roles),
    )


def shift_cells(shifts: Sequence[Mapping[str, Any]], name: str, date: str) -> str:
    """The shift of somebody on a date, "" for none."""
    for one in shifts:
        if (one["name"], one["date"]) == (name, date):
            return f"{short_span(one['start_h'], one['end_h'])} {one['role']}".strip()
    return ""

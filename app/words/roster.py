"""Words for rosters: the week as a grid, rules broken, why there is none and the ways out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from app.answers.roster import Standing
from app.catalogue import WEEKDAYS, _, _n
from app.words.numbers import hour_range, hours, whole
from app.words.phrases import joined
from sim.decide.staff.answer import Breach, Conflict, Roster, Rule
from sim.inputs import PlannedShift, SiteData

LAW = (
    "The limits on hours are the site’s own inputs, and guesses until somebody has checked them "
    "against local labour law."
)
"""What to check, whatever a roster looks like."""
NOT_FOUND = "No roster was found in time; there may be one."
"""That time was too short, which says nothing about the week."""
RULES: dict[Rule, str] = {
    "cover": "people needed in every half-hour",
    "away": "when people can’t work",
    "skill": "skills",
    "most_hours": "most hours a week",
    "least_hours": "least hours a week",
    "days_off": "days off",
    "rest": "rest between shifts",
    "weekend": "weekend days in two weeks",
}
"""A rule by its name, as part of a sentence."""


@dataclass(frozen=True, slots=True)
class GridRow:
    """Somebody's week: a cell a day, empty for none, and their hours [h]."""

    name: str
    cells: tuple[str, ...]
    hours: float


@dataclass(frozen=True, slots=True)
class RosterWeek:
    """A week: names of days, a row a person, and the cost by day and in all [money]."""

    heads: tuple[str, ...]
    rows: tuple[GridRow, ...]
    cost_by_day: tuple[float, ...]
    cost: float


def grid(data: SiteData, monday: date, week: Standing | Roster) -> RosterWeek:
    """The grid of a week as it stands, or as it is proposed; people who have left come last."""
    days = [monday + timedelta(days=at) for at in range(len(WEEKDAYS))]
    listed = [person.name for person in data.staff.people]
    gone = sorted({one.name for one in week.shifts} - set(listed))
    rows = []
    for name in (*listed, *gone):
        mine = {one.day: one for one in week.shifts if one.name == name}
        cells = tuple(shift_words(mine[day]) if day in mine else "" for day in days)
        hours_paid = sum(one.paid_h(data.site.shifts) for one in mine.values())
        rows.append(GridRow(name, cells, hours_paid))
    heads = tuple(f"{weekday(at)[:3]} {day.day}" for at, day in enumerate(days))
    return RosterWeek(heads, tuple(rows), week.cost_by_day, week.cost)


def shift_words(one: PlannedShift) -> str:
    """A shift for a narrow table: full hours without minutes, and what is done."""
    span = hour_range(one.start_s / 3600.0, one.end_s / 3600.0).replace(":00", "")
    return f"{span} {one.role}".strip()


def weekday(day: int) -> str:
    """Monday 0 to Sunday 6."""
    return _(WEEKDAYS[day])


def breach(one: Breach) -> str:
    """A broken rule in a sentence."""
    name, count = one.name, round(one.amount)
    day = weekday(one.weekday) if one.weekday >= 0 else ""
    amount = _("{amount} h", amount=hours(round(2.0 * one.amount) / 2.0))
    match one.rule:
        case "cover":
            return _("{day}: {hours} of work without a person.", day=day, hours=amount)
        case "away":
            return _("{name} works on {day}, though away then.", name=name, day=day)
        case "skill":
            return _(
                "{day}: {hours} without enough people who can be {skills}.",
                day=day, hours=amount, skills=_(" or ").join(one.skills),
            )  # fmt: skip
        case "most_hours":
            return _("{name} works {hours} more than the most allowed.", name=name, hours=amount)
        case "least_hours":
            return _("{name} gets {hours} less than the least agreed.", name=name, hours=amount)
        case "days_off":
            few, many = "{name} works a day too many.", "{name} works {count} days too many."
            return _n(few, many, count, name=name)
        case "rest":
            return _("{name} rests too little before {day}.", name=name, day=day)
        case "weekend":
            few = "{name} works a weekend day too many in two weeks."
            many = "{name} works {count} weekend days too many in two weeks."
            return _n(few, many, count, name=name)


def why_none(conflict: Conflict) -> str:
    """The rules in conflict."""
    rules = joined([_(RULES[rule]) for rule in conflict.rules])
    said = [_("No roster meets all of this at once: {rules}.", rules=rules)]
    if conflict.days:
        said.append(_("It is about {days}.", days=joined([weekday(day) for day in conflict.days])))
    if not conflict.minimal:
        said.append(_("Time ran out before it was clear whether each of them has a part in it."))
    return " ".join(said)


def ways_out(conflict: Conflict) -> list[str]:
    """Each way out in sentences, the least unwelcome first."""
    said = []
    for way in conflict.ways:
        parts = [breach(one) for one in way.breaches]
        if not way.least:
            parts.append(_("Less than that may be enough."))
        said.append(" ".join(parts))
    return said


def cost_words(roster: Roster) -> str:
    """What a roster costs and how near it is to the least possible."""
    gap = f"{100.0 * roster.gap:.2f}"
    if gap == "0.00":
        near = _("A roster was made; none of this week costs less.")
    else:
        near = _("A roster was made; no other could save more than {gap} % of its cost.", gap=gap)
    return " ".join([_("It costs {cost}.", cost=whole(roster.cost)), near])


def kept_words(roster: Roster) -> str:
    """How much of last week's roster stays; empty where there was none."""
    if not roster.last_week:
        return ""
    return _(
        "{kept} of last week’s {all} shifts stay as they were.",
        kept=roster.kept,
        all=roster.last_week,
    )


def anybody_words(roles: Sequence[str]) -> str:
    """That nobody can do some roles, and what is asked for instead; empty for no roles."""
    if not roles:
        return ""
    return _(
        "Nobody here can be {roles} yet, so the roster asks for anybody in that place. Enter who "
        "can on the page Roster, or in people.csv.",
        roles=_(" or ").join(roles),
    )

"""Who is needed, and a week's roster, in words and small tables: the same on the pages and in the
terminal."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from app.answers.staff import Standing, days_of, everybody
from app.catalogue import WEEKDAYS, _, _n, weekday
from app.words.answer import stands_words, turning_words
from app.words.numbers import (
    NOTHING,
    cents,
    clock,
    dollars,
    hour_range,
    hours,
    percent,
    plain_number,
    whole,
)
from app.words.phrases import Statement, TextTable, joined
from sim.decide.staff.answer import (
    Bound,
    Breach,
    Conflict,
    Effect,
    HalfHour,
    MeanDifference,
    Roster,
    RosterAnswer,
    Rule,
    StaffAnswer,
)
from sim.inputs import PlannedShift, SiteData, Steps
from sim.units import MINUS, NBSP

WHY: dict[Bound, str] = {
    "": NOTHING,
    "opening": "opening or closing work",
    "loading": "loading alone",
    "drying": "loading, and drying by hand",
    "use": "work, at the target use",
    "fewest": "fewest people while open",
}


FEW_SPELLS = 2
"""Stretches of a day that a sentence can name; of more it says the fewest and the most people."""


def answer(told: StaffAnswer) -> Statement:
    """The sentence that answers the page’s question, hours and money, and what can’t be had."""
    needed, planned = told.needed, told.present
    less = planned.people_hours - needed.people_hours
    sentence = "That is {hours} hours and {cost} of wages; planned are {planned}."
    rest = _(
        sentence,
        hours=hours(needed.people_hours),
        cost=dollars(needed.cost),
        planned=_(
            "{hours} hours and {cost}",
            hours=hours(planned.people_hours),
            cost=dollars(planned.cost),
        ),
    )
    if not round(10.0 * less) and dollars(needed.cost) == dollars(planned.cost):
        rest = _(
            "That is {hours} hours and {cost} of wages, as planned.",
            hours=hours(needed.people_hours),
            cost=dollars(needed.cost),
        )
    return Statement(_needs(told), rest, " ".join((*drying_words(told), *beyond(told))))


def _needs(told: StaffAnswer) -> str:
    spells = spells_of(told.half_hours)
    if len(spells) <= FEW_SPELLS:
        return spells_words(told)
    at_work = [row.people for row in told.half_hours if row.why not in ("", "opening")]
    return _(
        "You need {least}–{most} people through the day.", least=min(at_work), most=max(at_work)
    )


def spells_words(told: StaffAnswer) -> str:
    """How many people from when to when."""
    return _("You need {spells}.", spells=joined(spells_of(told.half_hours)))


def hours_words(told: StaffAnswer) -> str:
    """What the hours and the money of the answer hold."""
    each = told.needed.per_car
    said = _("Hours and money have opening and closing work in them.")
    return f"{said} {_('That is {each} a car.', each=cents(each))}" if each else said


def peak_words(told: StaffAnswer) -> str:
    """When most people are needed, and how many that is."""
    most = max(row.people for row in told.half_hours)
    busy = [round(2.0 * row.start_h) for row in told.half_hours if row.people == most]
    return _n("1 person {spells}.", "{count} people {spells}.", most, spells=in_spells(busy))


def effect_line(told: StaffAnswer) -> str:
    """The hour in which one more pays most surely, in a line."""
    surely = [one for one in told.effects[::2] if one.margin.mean > one.margin.half]
    if not surely:
        return _("In no hour does one more surely pay.")
    best = max(surely, key=lambda one: one.margin.mean)
    return _(
        "One more pays most at {time}: {money} in that hour.",
        time=clock(best.hour),
        money=dollars(best.margin.mean),
    )


def drying_words(told: StaffAnswer) -> list[str]:
    """People more than planned who only dry damp cars, and by what they are chosen."""
    more = told.hands
    if not more.people:
        return []
    sentence = (
        "One of them only dries damp cars from {start} to {end} and is not planned yet: with the "
        "plan’s rule that pays, as When to reduce counts it. Where its advice is another rule, put "
        "that into the plan, and this page goes by it.",
        "{count} of them only dry damp cars from {start} to {end} and are not planned yet: with "
        "the plan’s rule that pays, as When to reduce counts it. Where its advice is another rule, "
        "put that into the plan, and this page goes by it.",
    )
    start, end = clock(more.from_s / 3600.0), clock(more.until_s / 3600.0)
    return [_n(*sentence, more.people, start=start, end=end)]


def beyond(told: StaffAnswer) -> list[str]:
    """Targets that no number of people meets, a sentence each."""
    targets, said = told.targets, []
    if targets.unreached:
        said.append(
            _(
                "No number of people meets your target for wait and stack {spells}: there the belt "
                "or the pay lanes are the limit.",
                spells=in_spells(targets.unreached),
            )
        )
    if not targets.lost_reached:
        said.append(
            _(
                "At most {lost} cars are lost on an average day, as far as {days} days tell, where "
                "you allow {allowed}; with most loaders all day it would still be {least}.",
                lost=at_most_cars(targets.lost_at_most.needed),
                days=told.days,
                allowed=whole(targets.lost_cars),
                least=at_most_cars(targets.lost_at_most.most_loaders),
            )
        )
    return said


def how_sure(told: StaffAnswer, given: Collection[str]) -> Statement:
    """How firm it is against those planned, what the answer was tried on, and whether fresh days
    agree; `given` are the inputs that the site entered itself."""
    if told.rough:
        return Statement(
            _("So far:"),
            _(
                "settled on {days} simulated days, which rather ask for too many people. It is "
                "being settled on more; what one person more or fewer does comes with it.",
                days=told.days,
            ),
        )
    targets = told.targets
    own, rival = _("the people needed"), _("the people planned")
    held = stands_words(told.standing, own, rival, told.weighed, given)
    said = [
        held.rest,
        turning_words("staff", given),
        _(
            "Settled on {days} simulated days, then tried on {days} fresh ones, with your guesses "
            "at their middle values.",
            days=told.days,
        ),
    ]
    said.append(
        _(
            "On the fresh days the target of wait and stack could not be shown to be met, at "
            "{sure} confidence: {spells}. There the margin is thin."
            if targets.fresh_missed
            else "On the fresh days every half-hour met what can be met, at {sure} confidence "
            "each.",
            sure=percent(0.95),
            spells=in_spells(targets.fresh_missed),
        )
    )
    if targets.lost_reached:
        said.append(
            _(
                "As far as they tell, at most {lost} cars are lost on an average day; you allow "
                "{allowed}.",
                lost=at_most_cars(targets.lost_at_most.fresh),
                allowed=whole(targets.lost_cars),
            )
        )
    return Statement(held.lead, " ".join(filter(None, said)))


def wiping_words(told: StaffAnswer) -> str:
    """How the wiping plan changes the people."""
    first, *others = told.rules
    said = [
        _(
            "Reduced wipes and towels take {hours} hours of hand work with the rule of the plan.",
            hours=hours(first.extra_hours),
        )
    ]
    said += [
        _(
            "With {rule} they would take {hours}, and the day {people} people-hours in place of "
            "{now}.",
            rule={"full": _("always full"), "reduced": _("always reduced")}.get(one.text, one.text),
            hours=hours(one.extra_hours),
            people=hours(one.people_hours),
            now=hours(first.people_hours),
        )
        for one in others
    ]
    return " ".join(said)


def timetable_words(told: StaffAnswer) -> str:
    """What to enter at the site to plan just so."""
    sentence = "To plan just so, enter “{people}” as people on the line and “{loaders}” as loaders."
    if any(count > 0.0 for _at, count in told.timetables.finishers):
        sentence = (
            "To plan just so, enter “{people}” as people on the line, “{loaders}” as loaders and "
            "“{drying}” as people who only dry damp cars."
        )
    return _(
        sentence,
        people=_typed(told.timetables.people),
        loaders=_typed(told.timetables.loaders),
        drying=_typed(told.timetables.finishers),
    )


def _typed(table: Steps) -> str:
    (_first_s, first), *later = table
    changes = (f"{clock(at_s / 3600.0)} {int(count)}" for at_s, count in later)
    return "; ".join([str(int(first)), *changes])


def people_table(told: StaffAnswer) -> TextTable:
    """Needed, planned and roles by half-hour, with why; who only dries where anybody does."""
    shown = [role for role in told.called if role != "dryer" or any(told.roles[role])]
    names = [_(told.called[role]) for role in shown]
    names = [name[:1].upper() + name[1:] for name in names]
    rows = tuple(
        (
            clock(row.start_h),
            str(row.people),
            str(row.planned),
            *(str(row.roles[role]) for role in shown),
            _(WHY[row.why]),
        )
        for row in told.half_hours
    )
    return TextTable("", (_("From"), _("Needed"), _("Planned"), *names, _("Why")), rows)


def formula_table(told: StaffAnswer) -> TextTable:
    """What formulas said, what the simulation settled on, and why they differ."""
    heads = (
        _("From"), _("Offered load"), _("By formula"), _("Needed"), _("Late, equations"),
        _("Late, simulated"), _("Why they differ"),
    )  # fmt: skip
    rows = tuple(
        (
            clock(row.start_h),
            plain_number(row.offered_load, 2),
            str(row.formula_people),
            str(row.people),
            percent(row.chain_late_share, fine=True),
            percent(row.late_share, fine=True),
            differ_words(row),
        )
        for row in told.half_hours
        if row.why not in ("", "opening")
    )
    return TextTable("", heads, rows)


def differ_words(row: HalfHour) -> str:
    """Why the formula asks for another number than the simulation; empty where they agree."""
    if row.formula_people == row.people:
        return ""
    if row.formula_loaders > row.roles["loader"]:
        if row.offered_load >= 1.0:
            return _("a lasting queue by the formula; in the simulation cars give up")
        return _("times vary less than the formula’s, and cars give up")
    if row.formula_loaders < row.roles["loader"]:
        return _("the queue of the half-hours around it, and busy days")
    if row.formula_people < row.people:
        return _("busy days, reduced wipes and towels, of which the formula knows nothing")
    return _("cars that are lost make no work")


def effects_table(told: StaffAnswer) -> TextTable:
    """One person more and one fewer, an hour a row."""
    heads = (
        _("From"), _("One more: wait, min"), _("lost cars"), _("money"),
        _("One fewer: wait, min"), _("lost cars"), _("money"), _("use"),
    )  # fmt: skip
    rows = tuple(
        (
            clock(more.hour),
            *_effect(more),
            *_effect(fewer),
            _("nobody") if fewer.use is None else percent(fewer.use, fine=True),
        )
        for more, fewer in zip(told.effects[::2], told.effects[1::2], strict=True)
    )
    return TextTable("", heads, rows)


def _effect(one: Effect) -> tuple[str, str, str]:
    money = paired(one.margin, 1.0, 0)
    if not one.loads:
        return "0", "0", money
    return paired(one.wait_p90_s, 60.0, 1), paired(one.cars_lost, 1.0, 1), money


def paired(one: MeanDifference, unit: float, decimals: int) -> str:
    """A difference with half its 95 % interval; where that holds zero, no clear difference."""
    mean, half = one.mean / unit, one.half / unit
    said = plain_number(mean, decimals)
    if said.strip(f"{MINUS}0.") == "":
        said = "0"
    elif mean > 0.0:
        said = f"+{said}"
    if half * 10**decimals < 0.5:
        return said
    return f"{said}{NBSP}±{NBSP}{plain_number(half, decimals)}"


def spells_of(half_hours: Sequence[HalfHour]) -> list[str]:
    """Stretches of the day, opening and closing work apart, with the same number of people."""
    said: list[str] = []
    at_work = [row for row in half_hours if row.why not in ("", "opening")]
    for people, rows in groupby(at_work, lambda row: row.people):
        stretch = list(rows)
        edges = {"start": clock(stretch[0].start_h), "end": clock(stretch[-1].start_h + 0.5)}
        if said:
            said.append(_("{people} from {start} to {end}", people=people, **edges))
        else:
            one = "{count} person from {start} to {end}"
            many = "{count} people from {start} to {end}"
            said.append(_n(one, many, people, **edges))
    return said


def needed_words(told: StaffAnswer) -> str:
    """How many people a day needs from when to when, in a sentence."""
    return _("{spells}.", spells=", ".join(spells_of(told.half_hours)))


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


# ---- a week's roster -----------------------------------------------------------------------------

LAW = "Check the limits on hours against local labour law."


def law_words(given: Collection[str]) -> str:
    """What to check, whatever a roster looks like, and which limits are still guesses; `given` are
    the inputs that the site entered itself."""
    return " ".join(filter(None, (_(LAW), turning_words("roster", given))))


NOT_FOUND = "No roster was found in time; there may be one."
"""That time was too short, which says nothing about the week."""
RULE_WORDS: dict[Rule, str] = {
    "cover": "people needed in every half-hour",
    "away": "when people can’t work",
    "skill": "skills",
    "longest": "the longest shift",
    "most_hours": "most hours a week",
    "least_hours": "least hours a week",
    "days_off": "days off",
    "rest": "rest between shifts",
    "weekend": "weekend days in two weeks",
}
"""A rule by its name, as part of a sentence."""


@dataclass(frozen=True, slots=True)
class RosterGrid:
    """A week: names of days, and by person their name, a cell a day, empty for none, and their
    hours [h]."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...], float], ...]


def grid(data: SiteData, monday: date, week: Standing | Roster) -> RosterGrid:
    """The grid of a week as it stands, or as it is proposed; people who have left come last."""
    days, rows = days_of(monday), []
    for name in everybody(data, week.shifts):
        mine = {one.day: one for one in week.shifts if one.name == name}
        cells = tuple(shift_words(mine[day]) if day in mine else "" for day in days)
        rows.append((name, cells, sum(one.paid_h(data.site.shifts) for one in mine.values())))
    return RosterGrid(tuple(f"{weekday(day)[:3]} {day.day}" for day in days), tuple(rows))


def shift_words(one: PlannedShift) -> str:
    """A shift for a narrow table: full hours without minutes, and what is done."""
    span = hour_range(one.start_s / 3600.0, one.end_s / 3600.0).replace(":00", "")
    return f"{span} {one.role}".strip()


def who_comes(shifts: Sequence[PlannedShift]) -> tuple[str, ...]:
    """Who is on the roster of a day and from when to when, whoever begins first named first."""
    ordered = sorted(shifts, key=lambda one: (one.start_s, one.end_s, one.name))
    comes = "{name} {shift}"
    return tuple(_(comes, name=one.name, shift=shift_words(one)) for one in ordered)


def breach(one: Breach) -> str:
    """A broken rule in a sentence."""
    name, count = one.name, round(one.amount)
    day = _(WEEKDAYS[one.weekday]) if one.weekday >= 0 else ""
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
        case "longest":
            return _(
                "{name} works {hours} longer on {day} than the longest shift allowed.",
                name=name, hours=amount, day=day,
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
    rules = joined([_(RULE_WORDS[rule]) for rule in conflict.rules])
    said = [_("No roster meets all of this at once: {rules}.", rules=rules)]
    if conflict.days:
        days = joined([_(WEEKDAYS[day]) for day in conflict.days])
        said.append(_("It is about {days}.", days=days))
    if not conflict.minimal:
        said.append(_("Time ran out before it was clear whether each of them has a part in it."))
    return " ".join(said)


def ways_out(conflict: Conflict) -> list[str]:
    """Each way out in sentences, the least unwelcome first."""
    enough = _("Less than that may be enough.")
    return [
        " ".join([*map(breach, way.breaches), *([] if way.least else [enough])])
        for way in conflict.ways
    ]


def cost_words(roster: Roster) -> str:
    """What a roster costs and how near it is to the least possible."""
    gap = f"{100.0 * roster.gap:.2f}"
    if gap == "0.00":
        near = _("A roster was made; none of this week costs less.")
    else:
        near = _("A roster was made; no other could save more than {gap} % of its cost.", gap=gap)
    return " ".join([_("It costs {cost}.", cost=dollars(roster.cost)), near])


def made_words(found: RosterAnswer) -> Statement:
    """What came of it: cost and what stays, or why there is none."""
    if found.roster is not None and found.coarse:
        return Statement(
            _("So far a roster that costs {cost}.", cost=dollars(found.roster.cost)),
            _better_words(found.roster),
        )
    if found.roster is not None:
        return Statement(cost_words(found.roster), kept_words(found.roster))
    if found.conflict is not None:
        return Statement(_("There is no roster for this week."), why_none(found.conflict))
    return Statement(_(NOT_FOUND), _("Fewer starts and lengths of shifts make it easier to find."))


def _better_words(roster: Roster) -> str:
    """What a better roster than the first one found could still save."""
    gap = f"{100.0 * roster.gap:.2f}"
    if gap == "0.00":
        return _(
            "It keeps every rule, and none of this week costs less. One in which more of last "
            "week’s shifts stay may yet be found."
        )
    return _(
        "It keeps every rule. A better one may yet be found; it could save {gap} % at most.",
        gap=gap,
    )


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

"""The sentences of the coming days, a line a day, and of the days of a year that need switching."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date

from app.catalogue import _, long_date, month_of, short_date
from app.words.answer import firm_words, led, turning_words, unweighed_words
from app.words.hands import people_words
from app.words.numbers import dollars, one_in, whole
from app.words.phrases import Statement, TextTable, day_words, joined
from app.words.rules import act_words, damp_percent, order_of, wish_words
from app.words.switching import chances
from sim.decide.switching.answer import AdvisedDay, ComingAnswer, DayPlan, YearCount
from sim.inputs import MISFIT

ROUNDED_FROM, ROUNDED_TO = 50, 5
"""A count of days from which it is rounded in the sentence, because few draws tell each day."""


@dataclass(frozen=True, slots=True)
class DayAhead:
    """A coming day.

    Attributes:
        iso: its date, for addresses; day: in words; note: what the site wrote beside it.
        weather: what it is expected to bring.
        rule: what to do, or why there is nothing.
        damp: damp cars with the rule; full: with always full; sure: how sure; empty without a plan.
        is_planned: whether it has a plan; own: what to do with nobody more, where more are advised.
    """

    iso: str
    day: str
    note: str
    weather: str
    rule: str
    damp: str = ""
    full: str = ""
    sure: str = ""
    is_planned: bool = False
    own: str = ""


def coming_answer(found: ComingAnswer) -> Statement:
    """How many of the coming days need switching, and which is the wettest."""
    plans = [(one.date, one.plan) for one in found.days if one.plan is not None]
    if not plans:
        return Statement(_("Nothing to decide:"), _("none of the coming days can be simulated."))
    switch = sum(plan.switches for _day, plan in plans)
    more = sum(plan.hands.people > 0 for _day, plan in plans)
    if not switch:
        lead = _("Wipe in full on all of them.")
    elif len(plans) == 1:
        lead = _("Reduce for a time on the one day with cars.")
    elif switch == len(plans):
        lead = _("Reduce for a time on all {days} days with cars.", days=len(plans))
    else:
        lead = _("Reduce for a time on {count} of {days} days.", count=switch, days=len(plans))
    worst, plan = max(plans, key=lambda pair: pair[1].full_left_damp_share)
    sentence = "Wiped in full, {day} would be the dampest: {cars}."
    if more:
        sentence = (
            "Put more people with towels at the exit on {more} of {days} days. Wiped in full by "
            "your own people alone, {day} would be the dampest: {cars}."
            if more < len(plans)
            else "Put more people with towels at the exit on each. Wiped in full by your own "
            "people alone, {day} would be the dampest: {cars}."
        )
    rest = _(
        sentence,
        more=more,
        days=len(plans),
        day=long_date(worst),
        cars=one_in(plan.full_left_damp_share),
    )
    missed = [long_date(day) for day, plan in plans if not plan.keeps]
    also = ""
    if missed:
        also = _(
            "No rule tried meets {wish} on {days}; nor does one with two people more at the "
            "exit. The page of such a day says what would help.",
            wish=wish_words(found.wish),
            days=joined(missed),
        )
    return Statement(lead, rest, also)


def coming_sure(
    found: ComingAnswer, given: Collection[str], own: Collection[date] = ()
) -> Statement:
    """How sure that is, and how it was found.

    Args:
        own: days whose page has its answer, which stands here too.
    """
    rough = sum(one.plan is not None and one.plan.rough for one in found.days)
    if rough:
        days = sum(one.plan is not None for one in found.days)
        return Statement(
            _("So far:"),
            _(
                "{rough} of {days} days were only looked at with a dozen rules on 16 simulated "
                "days each; what is advised on them may still change.",
                rough=rough,
                days=days,
            ),
        )
    how = _(
        "Each day has a small search, by {wish}, at the site’s own settings, with up to two people "
        "more at the exit; the page of a day looks closer, and where the two differ it is right.",
        wish=wish_words(found.wish),
    )
    if own:
        how = _(
            "Days with “About” have a small search, by {wish}, at the site’s own settings, with up "
            "to two people more at the exit; the others have the answer of their own pages.",
            wish=wish_words(found.wish),
        )
    missing, turns = unweighed_words(found.weighed, given), turning_words("money", given)
    said = _all_firm(found)
    return Statement(said.lead, " ".join(filter(None, (said.rest, missing, turns, how))))


def _all_firm(found: ComingAnswer) -> Statement:
    """On how many of the coming days the rule is firm."""
    plans = [one.plan for one in found.days if one.plan is not None]
    if not plans:
        return Statement("", "")
    stand = [plan.standing for plan in plans]
    if MISFIT in found.weighed or any(one is None for one in stand):
        return firm_words(None, "", found.weighed)
    firm = sum(one is not None and one.is_firm for one in stand)
    more = any(plan.hands.people for plan in plans)
    sites = whole(min(one.sites for one in stand if one is not None))
    if firm == len(plans):
        return led(
            _(
                "Firm. | On each day at 19 of 20 sites like yours neither what is planned now, nor "
                "always full or reduced, is better by enough to matter, nor is any of it with your "
                "own people alone; {sites} were drawn."
                if more
                else "Firm. | On each day at 19 of 20 sites like yours neither what is planned "
                "now, nor always full or reduced, is better by enough to matter; {sites} were "
                "drawn.",
                sites=sites,
            )
        )
    return led(
        _(
            "Not firm: | on {open} of {days} days what is planned now, always full or always "
            "reduced, with your own people alone, is better by enough to matter at more than 1 of "
            "20 sites like yours ({sites} were drawn). The page of such a day says what would "
            "settle it."
            if more
            else "Not firm: | on {open} of {days} days what is planned now, always full or always "
            "reduced is better by enough to matter at more than 1 of 20 sites like yours ({sites} "
            "were drawn). The page of such a day says what would settle it.",
            open=len(plans) - firm,
            days=len(plans),
            sites=sites,
        )
    )


def days_of(
    found: ComingAnswer,
    system: str,
    crewed: Collection[date] = (),
    own: Mapping[date, DayPlan] | None = None,
) -> tuple[DayAhead, ...]:
    """A line a day; what only a quick look has told is said to be about so.

    Args:
        crewed: days whose plan says who dries cars; their pages go by it.
        own: plans of days whose page has its answer; where the quick look said another rule, the
            line says that too.
    """
    lines = []
    for one in found.days:
        mine, quick = (own or {}).get(one.date), one.plan
        line = _day(replace(one, plan=mine or quick), found, system)
        if mine is None and line.is_planned:
            line = replace(line, rule=_("About: {act}", act=line.rule))
        elif mine is not None and quick is not None and not mine.is_like(quick):
            said = act_words(quick.rule, found.crew_terms, system)
            also = _("A quick look had said: {act}", act=said)
            line = replace(line, own=f"{line.own} {also}".strip())
        if line.is_planned and one.date in crewed:
            planned = _("Its plan says who dries cars; its page and its day sheet go by that.")
            line = replace(line, own=f"{line.own} {planned}".strip())
        lines.append(line)
    return tuple(lines)


def _day(one: AdvisedDay, found: ComingAnswer, system: str) -> DayAhead:
    weather, brings, plan = [], one.brings, one.plan
    if one.state == "open" and brings is not None:
        weather.append(
            day_words(brings.cars, brings.highest_temp_c, brings.humidity, brings.rain_mm, system)
        )
    if one.typed:
        weather.append(_("Typed for it: {typed}.", typed=one.typed))
    told = one.date.isoformat(), long_date(one.date), one.note, " ".join(weather)
    if plan is None:
        why = {
            "closed": _("Closed."),
            "no cars": _("No car is expected."),
            "unknown": _("Nothing is known of such a day yet."),
            "open": _("Such a day can’t be simulated: frost, or settings that don’t fit."),
        }
        return DayAhead(*told, why[one.state])
    rule = act_words(plan.rule, found.crew_terms, system)
    if not plan.keeps:
        rule = _("{act} (misses your wish).", act=rule.removesuffix("."))
    own = ""
    if plan.hands.people:
        rule = f"{rule} {people_words(plan.hands)}"
        own = _own_words(plan, found, system)
    damp, full = (
        damp_percent(share, found.wish)
        for share in (plan.left_damp_share, plan.full_left_damp_share)
    )
    sure = chances(plan.probability)
    if plan.standing is not None and plan.standing.is_firm and MISFIT not in found.weighed:
        sure = _("{chance}, firm", chance=sure)
    return DayAhead(*told, rule, damp, full, sure, True, own)


def _own_words(plan: DayPlan, found: ComingAnswer, system: str) -> str:
    """What the site's own people do without anybody more, and what that costs or saves."""
    act = order_of(plan.own_rule, found.crew_terms, system)
    if round(plan.more) == 0:
        return _("Your own people alone: {act}; it costs as much.", act=act)
    sentence = "Your own people alone: {act}; the day then costs {amount} more."
    if plan.more > 0.0:
        sentence = "Your own people alone: {act}; the day then costs {amount} less."
    return _(sentence, act=act, amount=dollars(abs(plan.more)))


def year_words(year: YearCount) -> str:
    """How many days of the year need switching."""
    count, days = year.expected, year.days
    about = ROUNDED_TO * round(count / ROUNDED_TO) if count >= ROUNDED_FROM else count
    span = {"first": short_date(year.first), "last": short_date(year.last), "days": whole(days)}
    if not days:
        return _("From {first} to {last} no day can be simulated.", **span)
    if not count:
        return _("From {first} to {last} always full is enough on all {days} days.", **span)
    return _(
        "From {first} to {last} about {count} of {days} days need switching.",
        count=whole(min(about, days)),
        **span,
    )


def year_lines(year: YearCount) -> TextTable:
    """The same, and month by month."""
    rows = tuple((month_of(one.first), whole(one.days), whole(one.expected)) for one in year.months)
    return TextTable(year_words(year), (_("Month"), _("Days with cars"), _("Need switching")), rows)


def year_rests_on(year: YearCount) -> tuple[str, ...]:
    """What the count rests on, and what was left out."""
    said = [
        _(
            "Each day is taken as the site’s past leads to expect it, the open day before it "
            "included, and simulated {draws} times, each time at another site drawn from what is "
            "not known of yours. A day counts if always full does not meet what you allow. A "
            "day near that limit may count or not by luck; the sum is surer. A warmer or busier "
            "year is not in it.",
            draws=year.draws,
        )
    ]
    for count, sentence in (
        (year.closed, "Days on which no car is let in: {count}."),
        (year.unknown, "Days of which nothing can be expected: {count}."),
        (year.no_cars, "Open days without any car: {count}."),
        (year.left_out, "Days that can’t be simulated, such as those with frost: {count}."),
    ):
        if count:
            said.append(_(sentence, count=count))
    return tuple(said)

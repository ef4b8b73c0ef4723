"""The coming days in words: which need switching, a line a day, and the days of a year."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.answers.serial import read
from app.catalogue import MONTHS, _, long_date, short_date
from app.words.columns import Spoken
from app.words.figures import one_in
from app.words.how_sure import unweighed_words
from app.words.phrases import day_words, joined, whole
from app.words.rules import act_words, damp_percent, wish_words
from app.words.switching import chances
from app.words.why import Lines
from sim.decide.switching.answer import CrewTerms, Rule, Wish

Found = Mapping[str, Any]
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
        is_planned: whether it has a plan.
    """

    iso: str
    day: str
    note: str
    weather: str
    rule: str
    damp: str
    full: str
    sure: str
    is_planned: bool


def coming_answer(found: Found) -> Spoken:
    """How many of the coming days need switching, and which is the wettest."""
    plans = [(one, one["plan"]) for one in found["days"] if _is_planned(one)]
    if not plans:
        return Spoken(_("Nothing to decide:"), _("none of the coming days can be simulated."))
    switch = [one for one, plan in plans if plan["switches"]]
    if not switch:
        lead = _("Wipe in full on all of them.")
    elif len(plans) == 1:
        lead = _("Reduce for a time on the one day with cars.")
    elif len(switch) == len(plans):
        lead = _("Reduce for a time on all {days} days with cars.", days=len(plans))
    else:
        lead = _("Reduce for a time on {count} of {days} days.", count=len(switch), days=len(plans))
    worst, plan = max(plans, key=lambda pair: pair[1]["full_damp_share"])
    share = one_in(plan["full_damp_share"])
    rest = _(
        "Wiped in full, {day} would be the dampest: {cars}.",
        day=long_date(date.fromisoformat(worst["date"])),
        cars=share,
    )
    missed = [one for one, plan in plans if not plan["keeps"]]
    also = ""
    if missed:
        also = _(
            "No rule tried keeps to {wish} on {days}; the page of such a day says what would help.",
            wish=wish_words(_wish(found)),
            days=joined([long_date(date.fromisoformat(one["date"])) for one in missed]),
        )
    return Spoken(lead, rest, also)


def coming_sure(found: Found, given: Collection[str]) -> Spoken:
    """How sure that is, and how it was found."""
    how = _(
        "Each day has a small search, by {wish}, at the site’s own settings; the page of a day "
        "looks closer.",
        wish=wish_words(_wish(found)),
    )
    missing = unweighed_words(found["weighed"], given)
    if missing:
        return Spoken(_("Not firm yet."), f"{missing} {how}")
    return Spoken("", how)


def days_of(found: Found, system: str) -> tuple[DayAhead, ...]:
    """A line a day."""
    return tuple(_day(found, one, system) for one in found["days"])


def _wish(found: Found) -> Wish:
    return read(Wish, json.dumps(found["wish"]))


def _is_planned(one: Found) -> bool:
    return one["plan"] is not None and one["plan"]["rule"] is not None


def _day(found: Found, one: Found, system: str) -> DayAhead:
    words, weather = long_date(date.fromisoformat(one["date"])), ""
    if one["state"] == "open":
        weather = day_words(
            one["cars"], one["highest_temp_c"], one["humidity"], one["rain_mm"], system
        )
    if one["typed"]:
        weather = _("{weather} Typed for it: {typed}.", weather=weather, typed=one["typed"])
    plan = one["plan"]
    if not _is_planned(one):
        why = {
            "closed": _("Closed."),
            "no cars": _("No car is expected."),
            "unknown": _("Nothing is known of such a day yet."),
            "open": _("Such a day can’t be simulated: frost, or settings that don’t fit."),
        }[one["state"]]
        return DayAhead(one["date"], words, one["note"], weather, why, "", "", "", False)
    terms = read(CrewTerms, json.dumps(found["crew_terms"]))
    rule = act_words(read(Rule, json.dumps(plan["rule"])), terms, system)
    if not plan["keeps"]:
        rule = _("{act} (misses your wish).", act=rule.removesuffix("."))
    return DayAhead(
        one["date"],
        words,
        one["note"],
        weather,
        rule,
        damp_percent(plan["damp_share"], _wish(found)),
        damp_percent(plan["full_damp_share"], _wish(found)),
        chances(plan["probability"]),
        True,
    )


def season_words(season: Found) -> str:
    """How many days of the year need switching."""
    count, days = season["expected"], season["days"]
    about = ROUNDED_TO * round(count / ROUNDED_TO) if count >= ROUNDED_FROM else count
    span = _(
        "From {first} to {last}",
        first=short_date(date.fromisoformat(season["first"])),
        last=short_date(date.fromisoformat(season["last"])),
    )
    if not days:
        return _("{span} no day can be simulated.", span=span)
    if not count:
        return _("{span} always full is enough on all {days} days.", span=span, days=whole(days))
    return _(
        "{span} about {count} of {days} days need switching.",
        span=span,
        count=whole(min(about, days)),
        days=whole(days),
    )


def season_table(season: Found) -> Lines:
    """Month by month."""
    rows = tuple(
        (
            _("{month} {year}", month=_(MONTHS[one["month"] - 1]), year=one["year"]),
            whole(one["days"]),
            whole(one["expected"]),
        )
        for one in season["months"]
    )
    return Lines("", (_("Month"), _("Days with cars"), _("Need switching")), rows)


def season_rests_on(season: Found) -> tuple[str, ...]:
    """What the count rests on, and what was left out."""
    said = [
        _(
            "Each day is taken as the site’s past leads to expect it, the open day before it "
            "included, and simulated {draws} times, each time at another site drawn from what is "
            "not known of yours. A day counts if always full does not keep to what you allow. A "
            "day near that limit may count or not by luck; the sum is surer. A warmer or busier "
            "year is not in it.",
            draws=season["draws"],
        )
    ]
    for name, sentence in (
        ("closed", "Days on which no car is let in: {count}."),
        ("unknown", "Days of which nothing can be expected: {count}."),
        ("no_cars", "Open days without any car: {count}."),
        ("left_out", "Days that can’t be simulated, such as those with frost: {count}."),
    ):
        if season[name]:
            said.append(_(sentence, count=season[name]))
    return tuple(said)

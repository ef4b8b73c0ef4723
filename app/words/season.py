"""The season in words: orders, changes ahead, stock, sets, and options on its peak days."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import Any

from app.catalogue import _, long_date, short_date
from app.words.columns import Spoken
from app.words.costs import dollars
from app.words.figures import money, plain_number, span
from app.words.phrases import about, joined, whole
from app.words.why import Lines
from sim.day.costs import COSTS
from sim.day.figures import FIGURES
from sim.units import NBSP, format_number, quantity

Found = Mapping[str, Any]
OPTIONS = {
    "planned": "As planned",
    "dry_sets": "Dry sets that you own, during the day",
    "one_more_set": "One more set",
    "finisher": "One finisher more",
    "slower_belt": "A slower belt",
    "reduced": "Always reduced",
    "faster_idle": "The wheel faster between cars",
}
LONG_YEARS = 20.0
"""A pay-back beyond is not told in years."""


def percent(share: float | None) -> str:
    """A share as ``96 %``, with a digit more below 10 %."""
    if share is None:
        return "–"
    if 0.0 < share < 0.0005:
        return _("under {least}", least=f"0.1{NBSP}%")
    return f"{plain_number(100 * share, 1 if 0.0 < share < 0.1 else 0)}{NBSP}%"


def option_lines(found: Found, system: str) -> Lines:
    """What else could be done on peak days."""
    rows = tuple(_option_row(row, found, system) for row in found["options"])
    heads = (
        _("On peak days"), _("Damp cars"), _("Lost cars"), _("Cost a year more (90 % of sites)"),
        _("Pays back"), _("Keeps to all"),
    )  # fmt: skip
    return Lines(_options_say(found, system), heads, rows)


def _options_say(found: Found, system: str) -> str:
    allowed = allowed_words(found, system)
    if found["cheapest"] is None:
        near = min(found["options"], key=lambda row: (_worst(row, found), row["figures"]["cost"]))
        return _(
            "None of these keeps to everything that you allow on peak days ({allowed}). Nearest, "
            "by the limit that is missed most: {option}.",
            allowed=allowed,
            option=option_words(near, system),
        )
    best = found["options"][found["cheapest"]]
    return _(
        "Cheapest that keeps to what you allow on peak days ({allowed}): {option}.",
        allowed=allowed,
        option=option_words(best, system),
    )


def _missed(row: Mapping[str, Any], found: Found) -> dict[str, float]:
    """By how much each limit is missed, in shares of it."""
    over = {
        name: (row["figures"][name] or 0.0) / limit - 1.0 if limit > 0.0 else math.inf
        for name, limit in found["allowed"].items()
    }
    return {name: share for name, share in over.items() if share > 0.0 and row["figures"][name]}


def _worst(row: Mapping[str, Any], found: Found) -> tuple[float, ...]:
    """What is missed, the worst limit first."""
    return tuple(sorted(_missed(row, found).values(), reverse=True))


LIMITS = {
    "damp_share": "{value} damp",
    "cars_lost": "{value} lost",
    "wait_p90_s": "{value} of waiting for 90 of 100",
}
MISSED = {"damp_share": "damp", "cars_lost": "lost", "wait_p90_s": "wait"}


def allowed_words(found: Found, system: str) -> str:
    """What the manager allows on a day."""
    parts = [
        _(LIMITS[name], value=quantity(value, FIGURES[name].unit, 3).show(system))
        for name, value in found["allowed"].items()
    ]
    return _("at most {parts}", parts=joined(parts))


def option_words(row: Mapping[str, Any], system: str) -> str:
    """An option with its amount."""
    words, key, amount = _(OPTIONS[row["key"]]), row["key"], row["amount"]
    if key in ("dry_sets", "one_more_set"):
        times = joined([part.strip() for part in row["cloth"].split(";")])
        return _("{words}: hung at {times}", words=words, times=times)
    if key == "slower_belt":
        return f"{words}: {quantity(amount, 'speed', 3).show(system)}"
    if key == "faster_idle":
        return f"{words}: {quantity(amount, 'rotation', 3).show(system)}"
    return words


def _option_row(row: Mapping[str, Any], found: Found, system: str) -> tuple[str, ...]:
    figures = row["figures"]
    yearly = row["yearly"]
    cells = [
        option_words(row, system),
        f"{about(figures['damp_cars'])} ({percent(figures['damp_share'])})",
        about(figures["cars_lost"]),
    ]
    if yearly is None:
        cells += ["–", "–"]
    else:
        cells += [_yearly_words(yearly), _back_words(row)]
    missed = [_(MISSED[name]) for name in _missed(row, found)]
    keeps = _("yes") if row["keeps"] else _("no: {missed}", missed=joined(missed))
    return (*cells, keeps)


def _yearly_words(yearly: Mapping[str, Any]) -> str:
    site = next((i for i in yearly["intervals"] if i["kind"] == "site uncertainty"), None)
    value = yearly["value"]
    step = 100.0 if abs(value) < 10_000 else 1000.0
    text = plain_number(round(value / step) * step, 0)
    if site is None:
        return text
    return f"{text} ({span(site['low'], site['high'], step)})"


def _back_words(row: Mapping[str, Any]) -> str:
    """How long until what is spent once has come back, with its range over sites."""
    value, site = row["yearly"]["value"], row["yearly"]["sites_better"] or 0.0
    if row["once"] <= 0.0:
        if value < 0.0:
            return _("at once, at {share} of sites", share=percent(site))
        return _("no; at {share} of sites it would", share=percent(site))
    years = row["payback_years"]
    if years is None or years > LONG_YEARS:
        return _("never; at {share} of sites it would", share=percent(site))
    low, high = row["payback_low"], row["payback_high"]
    ends = sorted(end for end in (low, high) if end is not None)
    longest = plain_number(ends[-1], 1) if len(ends) == 2 else _("never")
    return _(
        "{years} years ({low} to {high})",
        years=plain_number(years, 1),
        low=plain_number(ends[0], 1),
        high=longest,
    )


ENOUGH_LIVES = 3
"""Recorded sets from which dates of changes may be called firm."""


def season_answer(found: Found, today: date) -> Spoken:
    """What to order by when, and when the next sets come off."""
    lead, rest = _order_words(found, today), []
    if found["changes"]:
        rest.append(_change_words(found["changes"][0]))
    else:
        rest.append(_("No set is expected to come off for good before {day}.",
                      day=_short(found["last"])))  # fmt: skip
    due = next((day for day in found["laundry_days"] if date.fromisoformat(day) >= today), None)
    if due is not None:
        rest.append(_("To the laundry next on {day}.", day=long_date(date.fromisoformat(due))))
    return Spoken(lead, " ".join(rest))


def _order_words(found: Found, today: date) -> str:
    if found["stock"] is None:
        return _("Nothing can be said of orders yet.")
    if not found["orders"]:
        return _("Nothing to order this season.")
    order = found["orders"][0]
    count = _sets(order["quantity"])
    by = date.fromisoformat(order["by"])
    if by <= today:
        return _("Order {count} today.", count=count)
    if (by.year, by.month) == (today.year, today.month):
        return _("Order {count} this month, by {day}.", count=count, day=long_date(by))
    return _("Nothing to order this month; {count} by {day}.", count=count, day=short_date(by))


def _change_words(change: Mapping[str, Any]) -> str:
    if change["high"] is None:
        return _(
            "The next set comes off for good about {day}; in 8 of 10 futures from {low} on, maybe "
            "after the season.",
            day=_short(change["day"]),
            low=_short(change["low"]),
        )
    return _(
        "The next set comes off for good about {day}, in 8 of 10 futures between {low} and {high}.",
        day=_short(change["day"]),
        low=_short(change["low"]),
        high=_short(change["high"]),
    )


def season_sure(found: Found) -> Spoken:
    """What the answer rests on, before anybody trusts it."""
    lives = found["lives"]
    words = (
        _("No set of yours has been recorded to its end, so how long cloth lasts is a guess.")
        if not lives
        else _("How long cloth lasts rests on {count} of your own sets.", count=lives)
    )
    if not found["weighed"]:
        words += _(" Before three strips are weighed, damp cars rest on guesses too.")
    is_firm = found["weighed"] and lives >= ENOUGH_LIVES
    return Spoken("" if is_firm else _("Not firm yet."), words)


def _short(text: str | None) -> str:
    return _("after the season") if text is None else short_date(date.fromisoformat(text))


def _sets(count: int) -> str:
    return _("1 new set") if count == 1 else _("{count} new sets", count=count)


def change_lines(found: Found) -> Lines:
    """The changes of sets with their windows."""
    rows = tuple(
        (
            str(row["number"]),
            _short(row["day"]),
            _("{low} to {high}", low=_short(row["low"]), high=_short(row["high"])),
            percent(row["chance"]),
            percent(row["worn_share"]),
        )
        for row in found["changes"]
    )
    age = found["planned_age"]
    says = (
        _(
            "With what is known of your cloth, waiting until a set wears out costs least, so no "
            "change is planned by age. Look at the sets more often as a date comes near."
        )
        if age is None
        else _(
            "A set is changed on plan at {age} full wipes, or when it wears out before.",
            age=about(age),
        )
    )
    heads = (
        _("Change"), _("Quiet morning near the middle"), _("8 of 10 futures"),
        _("Within the season"), _("Worn out before its age"),
    )  # fmt: skip
    return Lines(says, heads, rows)


def month_lines(found: Found) -> Lines:
    """The year by month."""
    rows = tuple(
        (
            _("{month} {year}", month=_(_MONTHS[day.month - 1]), year=day.year),
            about(row["figures"]["cars_washed"]), about(row["figures"]["damp_cars"]),
            about(row["figures"]["cars_lost"]), about(row["figures"]["wear_cars"]),
            str(row["launderings"]), plain_number(row["sets"], 1),
            money(row["laundry_cost"] + row["set_cost"]), money(row["total"]),
        )
        for row in found["months"]
        for day in [date.fromisoformat(row["first"])]
    )  # fmt: skip
    totals, months = found["totals"], found["months"]
    says = _(
        "{cars} cars in the season, {damp} of them damp as planned and {full} if always fully "
        "wiped; the cloth wears by {wear} full wipes. Laundry and new sets: {money}.",
        cars=about(totals["cars_washed"]["planned"]["value"]),
        damp=about(totals["damp_cars"]["planned"]["value"]),
        full=about(totals["damp_cars"]["full"]["value"]),
        wear=about(totals["wear_cars"]["planned"]["value"]),
        money=money(sum(row["laundry_cost"] + row["set_cost"] for row in months)),
    )
    heads = (
        _("Month"), _("Cars washed"), _("Damp"), _("Lost"), _("Wear, full wipes"),
        _("To the laundry"), _("Sets used up"), _("Cloth"), _("Together"),
    )  # fmt: skip
    return Lines(says, heads, rows)


def cost_of_season(found: Found) -> Lines:
    """The season's cost by item: the days' items, with the sets bought in place of their wear."""
    months = found["months"]
    laundry, sets, total = (
        sum(row[name] for row in months) for name in ("laundry_cost", "set_cost", "total")
    )
    rows = [
        (_(item.label), dollars(sum(row["figures"][item.name] for row in months)))
        for item in COSTS
        if item.name != "cost_wear"
    ]
    rows += [
        (_("Laundry mornings"), dollars(laundry)),
        (_("New sets, in place of wear"), dollars(sets)),
        (_("Together"), dollars(total)),
    ]
    says = _("As planned, expected. The items add up, before rounding, to the months’ sum.")
    return Lines(says, (_("What"), _("The season")), tuple(rows))


_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def stock_facts(found: Found, today: date) -> tuple[tuple[str, str], ...]:
    """Orders and stock, label and sentence."""
    stock = found["stock"]
    if stock is None:
        return ()
    now = _(" That is now.") if stock["order_now"] else ""
    facts = [
        (
            _("When to order"),
            _(
                "As soon as sets in store and on order together are down to {point}. You have "
                "{position}.",
                point=stock["reorder_at"],
                position=stock["position"],
            )
            + now,
        ),
        (
            _("How many"),
            _(
                "{count} at a time, at {price} each: {cost} a year with ordering and keeping.",
                count=_sets(stock["quantity"]),
                price=quantity(stock["price"], "money", 6).show("us"),
                cost=money(stock["cost_per_year"]),
            ),
        ),
        (
            _("Why so few in store"),
            _(
                "{year} sets go out of use in a year, {mean} while an order is on its way. "
                "{service} of the time {point} are enough; you ask for {asked}. Your own costs "
                "would balance at {cost}.",
                year=plain_number(stock["demand_per_year"], 1),
                mean=format_number(stock["lead_mean"], 2),
                service=percent(stock["service"]),
                point=stock["reorder_at"],
                asked=percent(stock["asked_service"]),
                cost=percent(stock["cost_service"]),
            ),
        ),
    ]
    orders = found["orders"]
    if orders:
        dates = [
            _("{count} today", count=_sets(row["quantity"]))
            if date.fromisoformat(row["by"]) <= today
            else _("{count} by {day}", count=_sets(row["quantity"]), day=_short(row["by"]))
            for row in orders
        ]
        facts.insert(1, (_("Latest dates"), _("{dates}.", dates=joined(dates))))
    return tuple(facts)


def owned_lines(found: Found) -> Lines:
    """What numbers of sets are good for."""
    rows = tuple(
        (
            str(row["sets"]), percent(row["formula"]["none_ready"]),
            percent(row["fixed"]["none_ready"]), percent(row["morning_ready"]),
            percent(row["peak_ready"]),
        )
        for row in found["owned"]
    )  # fmt: skip
    enough = next(
        (
            row["sets"]
            for row in found["owned"]
            if (row["morning_ready"] or 0.0) >= 0.999 and (row["peak_ready"] or 1.0) >= 0.999
        ),
        None,
    )
    says = (
        _("None of these numbers always has a dry set when it is wanted.")
        if enough is None
        else _(
            "From {count} sets on a dry one is ready whenever the season asks for it, if laundry "
            "and drying take as long as you entered.",
            count=enough,
        )
    )
    heads = (
        _("Sets owned"), _("No dry set at a change, cautious"), _("No dry set, times as entered"),
        _("Mornings of change with a dry set"), _("Peak days with a dry set at noon"),
    )  # fmt: skip
    return Lines(says, heads, rows)


def busy_lines(found: Found, count: int = 10) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    """The busiest days: address part, date in words, and cells."""
    days = sorted(found["days"], key=lambda one: (-one["cars"], one["day"]))[:count]
    rows = []
    for one in sorted(days, key=lambda one: str(one["day"])):
        figures = one["figures"]
        rows.append(
            (
                one["day"],
                long_date(date.fromisoformat(one["day"]), year=True),
                (
                    about(one["cars"]),
                    about(figures["damp_cars"]["full"][0] or 0.0),
                    about(figures["damp_cars"]["planned"][0] or 0.0),
                    about(figures["cars_lost"]["planned"][0] or 0.0),
                    whole(figures["wear_cars"]["planned"][0] or 0.0),
                    _(str(one["label"])),
                ),
            )
        )
    return tuple(rows)


def made_for(found: Found) -> tuple[str, ...]:
    """What the season rests on."""
    parts = [
        _(
            "{days} open days from {first} to {last}, each simulated {count} times by both rules, "
            "with the site’s guesses at their middle values. A day equals its plan from the "
            "command line with as many replications.",
            days=len(found["days"]), first=_short(found["first"]), last=_short(found["last"]),
            count=found["replications"],
        ),
        _(
            "{count} days count as peak days. In the options {days} of them stand for all, at "
            "sites drawn within what is not known of this one: {dates}.",
            count=found["peak_days"],
            days=len(found["peaks"]),
            dates=joined([_short(day) for day in found["peaks"]]),
        ),
        _(
            "Windows of changes hold the luck of days, how far a year’s demand may lie from what "
            "is expected, and how long cloth lasts. They do not hold what is not known of how a "
            "car wears cloth. Sets take turns from one laundry day to the next; a dry set put on "
            "at noon is counted in the rotation, not in the wear of single sets."
        ),
    ]  # fmt: skip
    closed = [row for row in found["left_out"] if not row["why"]]
    refused = [row for row in found["left_out"] if row["why"]]
    if closed:
        parts.append(_("Left out as closed or without cars: {days}.", days=_days(len(closed))))
    if refused:
        parts.append(
            _(
                "Left out because they can’t be planned: {days}, the first {day}. {why}",
                days=_days(len(refused)), day=_short(refused[0]["day"]), why=refused[0]["why"],
            )
        )  # fmt: skip
    return tuple(parts)


def _days(count: int) -> str:
    return _("1 day") if count == 1 else _("{count} days", count=count)

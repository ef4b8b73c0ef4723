"""The season in words: orders, changes ahead, stock, sets, and options on its peak days."""

from __future__ import annotations

import math
from collections.abc import Collection
from datetime import date

from app.catalogue import _, _n, long_date, month_of, short_date
from app.words.answer import doubt_words, stands_words, turning_words
from app.words.cloth import change_words
from app.words.numbers import (
    NOTHING,
    about,
    about_dollars,
    amount,
    dollars,
    percent,
    plain_number,
    span,
    stepped,
)
from app.words.phrases import Statement, TextTable, joined
from sim.day.figures import COSTS, FIGURES
from sim.decide.cloth.answer import (
    ExpectedChange,
    Limit,
    Option,
    OptionKey,
    OptionRow,
    SeasonAnswer,
    cheapest,
)
from sim.inputs import all_told
from sim.units import format_number

OPTIONS: dict[OptionKey, str] = {
    "planned": "As planned",
    "dry_sets": "Dry sets that you own, during the day: hung at {amount}",
    "one_more_set": "One more set: hung at {amount}",
    "finisher": "One finisher more all day",
    "slower_belt": "A slower belt: {amount}",
    "reduced": "Always reduced",
    "faster_idle": "The wheel faster between cars: {amount}",
    "drying_agent": "A drying agent that leaves {amount} of the film, a guess",
    "second_cloth": "The second kind of cloth",
}
LIMITS: dict[Limit, str] = {
    "left_damp_share": "at most {value} leave damp",
    "cars_lost": "at most {value} lost",
    "wait_p90_s": "9 cars in 10 wait at most {value}",
}
MISSED: dict[Limit, str] = {"left_damp_share": "damp", "cars_lost": "lost", "wait_p90_s": "wait"}
LONG_YEARS = 20.0
"""A pay-back beyond is not told in years."""
ALWAYS = 0.999
"""From this share on a dry set counts as ready whenever it is wanted."""


def _till(day: date | None) -> str:
    return _("after the season") if day is None else short_date(day)


# ---- the answer ----------------------------------------------------------------------------------


def season_answer(found: SeasonAnswer, today: date) -> Statement:
    """What to order by when, and when the next sets come off."""
    if found.changes:
        rest = [_change_words(found.changes[0])]
    else:
        last = short_date(found.last)
        rest = [_("No set is expected to come off for good before {day}.", day=last)]
    due = next((day for day in found.laundry_days if day >= today), None)
    if due is not None:
        rest.append(_laundry_words(found, due))
    if found.coarse:
        rest.insert(0, _("So far; dates may still move by some days."))
    return Statement(_order_words(found, today), " ".join(rest))


def _order_words(found: SeasonAnswer, today: date) -> str:
    if found.stock is None:
        return _("Nothing can be said of orders yet.")
    if not found.orders:
        return _("Nothing to order this season.")
    by, count = found.orders[0].by, found.orders[0].quantity
    if by <= today:
        return _n("Order 1 new set today.", "Order {count} new sets today.", count)
    if (by.year, by.month) == (today.year, today.month):
        one = "Order 1 new set this month, by {day}."
        many = "Order {count} new sets this month, by {day}."
        return _n(one, many, count, day=long_date(by))
    one = "Nothing to order this month; 1 new set by {day}."
    many = "Nothing to order this month; {count} new sets by {day}."
    return _n(one, many, count, day=short_date(by))


def _change_words(change: ExpectedChange) -> str:
    sentence = (
        "The next set comes off for good about {day}, in 8 of 10 futures between {low} and {high}."
    )
    if change.high is None:
        sentence = (
            "The next set comes off for good about {day}; in 8 of 10 futures from {low} on, maybe "
            "after the season."
        )
    if change.high == change.low:
        sentence = "The next set comes off for good on {low}, in 8 of 10 futures at least."
    days = short_date(change.day), short_date(change.low), _till(change.high)
    return _(sentence, day=days[0], low=days[1], high=days[2])


def season_sure(found: SeasonAnswer, given: Collection[str]) -> Statement:
    """How firm the age is at which sets come off, and what the answer rests on; `given` are the
    inputs that the site entered itself."""
    if found.coarse:
        return Statement(
            _("So far:"),
            _n(
                "1 of {all} open days was simulated, {times} times; every other day goes by it. "
                "Dates may still move; costs and what else helps come with the whole year.",
                "{count} of {all} open days were simulated, {times} times each; every other day "
                "goes by one that is much like it. Dates may still move; costs and what else helps "
                "come with the whole year.",
                found.lived,
                all=len(found.days),
                times=found.replications,
            ),
        )
    own, rival = change_words(found.planned_age), change_words(found.rival_age)
    standing = found.standing if all_told(found.weighed) else None
    said = stands_words(standing, own, rival, found.weighed, given)
    lives = (
        _("How long cloth lasts rests on {count} of your own sets.", count=found.lives)
        if found.lives
        else _("No set of yours has been recorded to its end, so how long cloth lasts is a guess.")
    )
    turns = turning_words("season", given)
    return Statement(said.lead, " ".join(filter(None, (said.rest, turns, lives))))


def _laundry_words(found: SeasonAnswer, due: date) -> str:
    """When a set goes to the laundry next, how often in the season, and where that is from."""
    if found.launder_advised:
        return _n(
            "To the laundry next on {day}, then before every open day, as the page Cloth advises.",
            "To the laundry next on {day}, then after every {count} open days, as the page Cloth "
            "advises.",
            found.launder_every,
            day=long_date(due),
        )
    return _n(
        "To the laundry next on {day}, then before every open day, as the Site page has it.",
        "To the laundry next on {day}, then after every {count} open days, as the Site page has "
        "it.",
        found.launder_every,
        day=long_date(due),
    )


# ---- sets, orders and stock ----------------------------------------------------------------------


def change_lines(found: SeasonAnswer) -> TextTable:
    """The changes of sets with their windows."""
    says = _(
        "With what is known of your cloth, waiting until a set wears out costs least, so no "
        "change is planned by age. Look at the sets more often as a date comes near."
    )
    if math.isfinite(found.planned_age):
        says = _(
            "A set is changed on plan at {age} full wipes, or when it wears out before.",
            age=about(found.planned_age),
        )
    rows = tuple(
        (
            str(row.number),
            short_date(row.day),
            _window(row),
            percent(row.chance, fine=True),
            percent(row.worn_share, fine=True),
        )
        for row in found.changes
    )
    heads = (
        _("Change"), _("Quiet morning near the middle"), _("8 of 10 futures"),
        _("Within the season"), _("Worn out before its age"),
    )  # fmt: skip
    return TextTable(says, heads, rows)


def _window(change: ExpectedChange) -> str:
    """Between which days 8 of 10 futures have a change."""
    if change.high == change.low:
        return _("on {day}", day=short_date(change.low))
    return _("{low} to {high}", low=short_date(change.low), high=_till(change.high))


def stock_facts(found: SeasonAnswer, today: date) -> tuple[tuple[str, str], ...]:
    """Orders and stock, label and sentence."""
    stock = found.stock
    if stock is None:
        return ()
    when = _(
        "As soon as sets in store and on order together are down to {point}. You have {position}.",
        point=stock.reorder_at,
        position=stock.position,
    )
    facts = [(_("When to order"), f"{when} {_('That is now.')}" if stock.order_now else when)]
    if found.orders:
        dates = [
            _n("1 new set today", "{count} new sets today", row.quantity)
            if row.by <= today
            else _n(
                "1 new set by {day}", "{count} new sets by {day}", row.quantity,
                day=short_date(row.by),
            )
            for row in found.orders
        ]  # fmt: skip
        facts.append((_("Latest dates"), _("{dates}.", dates=joined(dates))))
    return (
        *facts,
        (
            _("How many"),
            _n(
                "1 new set at a time, at {price} each: {cost} a year with ordering and keeping.",
                "{count} new sets at a time, at {price} each: {cost} a year with ordering and "
                "keeping.",
                stock.order.quantity,
                price=amount(stock.order.price, "money", "us", 6),
                cost=about_dollars(stock.order.cost_per_year),
            ),
        ),
        (
            _("Why so few in store"),
            _(
                "{year} sets go out of use in a year, {mean} while an order is on its way. "
                "{service} of the time {point} are enough; you ask for {asked}. Your own costs "
                "would balance at {cost}.",
                year=plain_number(stock.demand_per_year, 1),
                mean=format_number(stock.lead_mean, 2),
                service=percent(stock.service, fine=True),
                point=stock.reorder_at,
                asked=percent(stock.asked_service, fine=True),
                cost=percent(stock.cost_service, fine=True),
            ),
        ),
    )


def owned_lines(found: SeasonAnswer) -> TextTable:
    """What numbers of sets are good for."""
    says = _("None of these numbers always has a dry set when it is wanted.")
    for row in found.owned:
        at_noon = 1.0 if row.peak_ready is None else row.peak_ready
        if (row.morning_ready or 0.0) >= ALWAYS and at_noon >= ALWAYS:
            says = _(
                "From {count} sets on a dry one is ready whenever the season asks for it, if "
                "laundry and drying take as long as you entered.",
                count=row.sets,
            )
            break
    shares = {
        row.sets: (row.formula.none_ready, row.fixed.none_ready, row.morning_ready, row.peak_ready)
        for row in found.owned
    }
    rows = tuple(
        (str(sets), *(percent(share, fine=True) for share in told)) for sets, told in shares.items()
    )
    heads = (
        _("Sets owned"), _("No dry set at a change, cautious"), _("No dry set, times as entered"),
        _("Mornings of change with a dry set"), _("Peak days with a dry set at noon"),
    )  # fmt: skip
    return TextTable(says, heads, rows)


# ---- options on peak days ------------------------------------------------------------------------


def option_lines(found: SeasonAnswer, system: str) -> TextTable:
    """What else could be done on peak days."""
    heads = (
        _("On peak days"), _("Cars leaving damp"), _("Lost cars"),
        _("Cost a year more (90 % of sites)"), _("Pays back"), _("Meets all"),
    )  # fmt: skip
    rows = tuple(_option_row(row, found, system) for row in found.options)
    return TextTable(_options_say(found, system), heads, rows)


def _options_say(found: SeasonAnswer, system: str) -> str:
    allowed = [
        _(LIMITS[name], value=amount(value, FIGURES[name].unit, system))
        for name, value in found.allowed.items()
    ]
    sentence = "Cheapest that meets what you allow on peak days ({allowed}): {option}."
    best = cheapest(found.options)
    if best is None:
        sentence = (
            "None of these meets everything that you allow on peak days ({allowed}). "
            "Nearest, by the limit that is missed most: {option}."
        )

        def missed_most(row: OptionRow) -> tuple[list[float], float]:
            return sorted(_missed(row, found).values(), reverse=True), row.figures["cost"]

        best = min(found.options, key=missed_most)
    said = _(sentence, allowed=joined(allowed), option=option_words(best.option, system))
    return " ".join((said, _option_sure(found, best, system)))


def _option_sure(found: SeasonAnswer, best: OptionRow, system: str) -> str:
    """How firm that is, held against the other options at drawn sites."""
    at, standing = found.rival_option or (0, None)
    own, rival = (option_words(one, system) for one in (best.option, found.options[at].option))
    return str(doubt_words(standing, own, rival, found.weighed))


def _missed(row: OptionRow, found: SeasonAnswer) -> dict[Limit, float]:
    """By how much each limit is missed, in shares of it."""
    over = {
        name: row.figures[name] / limit - 1.0 if limit > 0.0 else math.inf
        for name, limit in found.allowed.items()
        if row.figures[name] > 0.0
    }
    return {name: share for name, share in over.items() if share > 0.0}


def option_words(option: Option, system: str) -> str:
    """An option with its amount."""
    if option.key in ("dry_sets", "one_more_set"):
        size = joined([part.strip() for part in option.scenario.cloth.split(";")])
    elif option.key == "drying_agent":
        size = percent(option.amount)
    else:
        unit = "rotation" if option.key == "faster_idle" else "speed"
        size = amount(option.amount, unit, system)
    return _(OPTIONS[option.key], amount=size)


def _option_row(row: OptionRow, found: SeasonAnswer, system: str) -> tuple[str, ...]:
    figures, keeps = row.figures, _("yes")
    if not row.keeps:
        missed = joined([_(MISSED[name]) for name in _missed(row, found)])
        keeps = _("no: {missed}", missed=missed)
    return (
        option_words(row.option, system),
        f"{about(figures['left_damp'])} ({percent(figures['left_damp_share'], fine=True)})",
        about(figures["cars_lost"]),
        _yearly_words(row),
        _back_words(row),
        keeps,
    )


def _yearly_words(row: OptionRow) -> str:
    yearly = row.yearly
    if yearly is None or yearly.value is None or yearly.site_uncertainty is None:
        return NOTHING
    step = 100.0 if abs(yearly.value) < 10_000 else 1000.0
    sites = yearly.site_uncertainty
    return f"{stepped(yearly.value, step)} ({span(sites.low, sites.high, step)})"


def _back_words(row: OptionRow) -> str:
    """How long until what is spent once has come back, with its range over sites."""
    if row.yearly is None or row.yearly.value is None:
        return NOTHING
    sites = percent(row.yearly.sites_better, fine=True)
    if row.option.once <= 0.0:
        is_gain = row.yearly.value < 0.0
        sentence = "at once, at {share} of sites" if is_gain else "no; at {share} of sites it would"
        return _(sentence, share=sites)
    if row.payback_years > LONG_YEARS:
        return _("never; at {share} of sites it would", share=sites)
    low, high = map(_years, sorted((row.payback_low, row.payback_high)))
    years = _years(row.payback_years)
    return _("{years} years ({low} to {high})", years=years, low=low, high=high)


def _years(value: float) -> str:
    return _("never") if math.isinf(value) else plain_number(value, 1)


# ---- days, months and money ----------------------------------------------------------------------


def month_lines(found: SeasonAnswer) -> TextTable:
    """The year by month."""
    names = ("cars_washed", "left_damp", "cars_lost", "wear_cars")
    rows = tuple(
        (
            month_of(row.first), *(about(row.figures[name]) for name in names),
            str(row.launderings), plain_number(row.sets, 1), about_dollars(row.cloth_cost),
            about_dollars(row.total),
        )
        for row in found.months
    )  # fmt: skip
    totals = found.totals
    says = _(
        "{cars} cars in the season, {damp} of them leaving damp as planned and {full} if always "
        "fully wiped; the cloth wears by {wear} full wipes. Laundry and new sets: {money}.",
        cars=about(totals["cars_washed"].planned[0]),
        damp=about(totals["left_damp"].planned[0]),
        full=about(totals["left_damp"].full[0]),
        wear=about(totals["wear_cars"].planned[0]),
        money=about_dollars(sum(row.cloth_cost for row in found.months)),
    )
    heads = (
        _("Month"), _("Cars washed"), _("Leave damp"), _("Lost"), _("Wear, full wipes"),
        _("To the laundry"), _("Sets used up"), _("Cloth"), _("Together"),
    )  # fmt: skip
    return TextTable(says, heads, rows)


def cost_of_season(found: SeasonAnswer) -> TextTable:
    """The season's cost by item: the days' items, with the sets bought in place of their wear."""
    months = found.months
    rows = [
        (_(item.label), sum(row.figures[item.name] for row in months))
        for item in COSTS
        if item.name != "cost_wear"
    ]
    rows += [
        (_("Laundry mornings"), sum(row.laundry_cost for row in months)),
        (_("New sets, in place of wear"), sum(row.set_cost for row in months)),
        (_("Together"), sum(row.total for row in months)),
    ]
    says = _("As planned, expected. The items add up, before rounding, to the months’ sum.")
    heads = (_("What"), _("The season"))
    return TextTable(says, heads, tuple((label, dollars(cost)) for label, cost in rows))

"""What is said of a site's cloth: the answer, how sure, where a set is, and what it costs."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from datetime import date

from app.catalogue import _, _n, day_month, long_date
from app.words.answer import doubt_words, stands_words, turning_words
from app.words.numbers import (
    NOTHING,
    about,
    about_dollars,
    cents,
    percent,
    plain_number,
    stepped,
)
from app.words.phrases import Statement, joined
from sim.decide.cloth.answer import (
    FLAT,
    LEAST_SAVING,
    MOST_DAYS,
    NEAR,
    ClothAnswer,
    Due,
    Guess,
    LaunderGuess,
    Laundering,
    SetFound,
)
from sim.inputs import INPUTS, all_told
from sim.units import NBSP, format_number

Rows = tuple[tuple[str, ...], ...]
LOSS = "uptake_loss_at_life"
SHORT_NAME = 12
"""So long a name stays on one line."""


def per_thousand(rate: float) -> str:
    """A cost rate as money for a thousand full wipes."""
    return f"${format_number(1000.0 * rate, 3)}"


def full_wipes(cars: float) -> str:
    """A wear or an age."""
    return _("{cars} full wipes", cars=about(cars))


def near_day(day: date | None) -> str:
    """A date as ``14 October``, or that it is too far to be told."""
    return _("later than in three years") if day is None else day_month(day)


def age_words(age: float) -> str:
    """An age of change, or waiting."""
    return _("when it wears out") if math.isinf(age) else full_wipes(age)


# ---- the answer ----------------------------------------------------------------------------------


def answer(found: ClothAnswer) -> Statement:
    """What to do, in bold, and the rest of the answer."""
    due, change = found.due, found.change
    if due is None and not found.sets:
        enter = _(
            "Enter the set on the wheel below, and from then on this page says when to change it. "
            "{typical}",
            typical=_typical(found),
        )
        return Statement(_("No cloth set is entered yet."), enter)
    if due is None:
        return Statement(
            _("No set is on the wheel, as far as the record goes."),
            _("Enter below which one was put on. {typical}", typical=_typical(found)),
        )
    name, held = due.name, found.find(due.name)
    if change.waits:
        why = _(
            "A planned change would save less than {saving} of the cost. Have the next set dry and "
            "ready from {day} on.",
            saving=percent(LEAST_SAVING),
            day=near_day(held.to_come.worn_out_days[0] if held.to_come else None),
        )
        return Statement(_("Leave {name} on the wheel until it wears out.", name=name), why)
    if due.overdue:
        age, best = full_wipes(held.age_cars), full_wipes(change.age)
        why = _("It has gone {age}; the best age for a change is {best}.", age=age, best=best)
        if due.quiet is None:
            return Statement(_("Change {name} on the next quiet morning.", name=name), why)
        sentence = "Change {name} in the morning of {day}, the quietest of the coming week."
        return Statement(_(sentence, name=name, day=long_date(due.quiet.day)), why)
    if due.day is None or due.busy is None:
        return Statement(_("{name} is not due within three years.", name=name), _typical(found))
    day = near_day(due.day)
    if due.busy.day == due.day:
        return Statement(_("Change {name} about {day}.", name=name, day=day), _window(due))
    lead, _bar, rest = _(
        "Change {name} about {day}, | before {busy}, the busiest day of that week.",
        name=name,
        day=day,
        busy=long_date(due.busy.day),
    ).partition(" | ")
    return Statement(lead, f"{rest} {_window(due)}")


def _typical(found: ClothAnswer) -> str:
    if found.change.waits:
        return _("As things stand, a set is best left on until it wears out.")
    age = full_wipes(found.change.age)
    return _("As things stand, a set is best changed after about {age}.", age=age)


def _window(due: Due) -> str:
    first, more = near_day(due.first), percent(FLAT)
    if due.last is None:
        return _("From {first} on it costs at most {more} more.", first=first, more=more)
    sentence = "Any day from {first} to {last} costs at most {more} more."
    return _(sentence, first=first, last=near_day(due.last), more=more)


def moving(found: ClothAnswer) -> str:
    """What a quiet morning near the best day costs; empty where there is none."""
    quiet = found.due and found.due.quiet
    if not found.due or not quiet:
        return ""
    day, cost = long_date(quiet.day), about_dollars(quiet.cost, 2)
    if found.due.overdue:
        sentence = (
            "About {cars} cars are expected that day before noon. Waiting until then costs about "
            "{cost}."
        )
        return _(sentence, cars=about(quiet.morning_cars), cost=cost)
    sentence = (
        "The quietest morning near is {day}, with about {cars} cars before noon. Moving the change "
        "there costs about {cost}."
    )
    if quiet.morning_cars < 0.5:
        sentence = (
            "On {day} no car is expected before noon. Moving the change there costs about {cost}."
        )
    return _(sentence, day=day, cars=about(quiet.morning_cars), cost=cost)


# ---- how sure ------------------------------------------------------------------------------------


def how_sure(found: ClothAnswer, told: Collection[str], given: Collection[str]) -> Statement:
    """How firm the answer is, and what it rests on.

    Never firm before the three weighings: until then how wet cars come out stands at its middle.

    Args:
        told: kinds of weighing that are in; given: the inputs that the site entered itself.
    """
    life, range_ = found.life, found.age_range
    own, rival = change_words(found.change.age), change_words(range_.rival)
    said = stands_words(range_.standing if all_told(told) else None, own, rival, told, given)
    matter = [one.input for one in range_.guesses if one.matters]
    seen = _n(
        "It rests on 1 set worn out, {other} taken off before, and a guess of how long sets last.",
        "It rests on {count} sets worn out, {other} taken off before, and a guess of how long "
        "sets last.",
        life.worn_out,
        other=life.ended_otherwise,
    )
    scale = _(
        "At 19 of 20 sites like yours the scale of life lies between {low} and {high} full wipes.",
        low=about(life.eta.low),
        high=about(life.eta.high),
    )
    ages = _(
        "At 9 of 10 sites like yours the best age lies between {low} and {high}; if damp cars cost "
        "nothing it would be {none}.",
        low=age_words(range_.low),
        high=age_words(range_.high),
        none=age_words(range_.without_damp_cars),
    )
    turns = turning_words("cloth", given, matter)
    return Statement(said.lead, " ".join(filter(None, (said.rest, turns, seen, scale, ages))))


def change_words(age: float) -> str:
    """An age of change as an advice is called."""
    return (
        _("a change when it wears out")
        if math.isinf(age)
        else _("a change at {age}", age=full_wipes(age))
    )


def _ends(one: Guess) -> tuple[str, str]:
    """Between what a guess lies at 9 of 10 sites."""
    words = percent if one.input == LOSS else cents
    return words(one.low), words(one.high)


def guess_rows(found: ClothAnswer) -> Rows:
    """What the age of change rests on beside the life: guess, range, best ages at its ends, and
    what the advised age costs more there at most."""
    labels = {LOSS: _("Uptake lost when worn out"), "damp_cost": _("Cost of a damp car")}
    range_ = found.age_range
    rows = [
        (
            labels[one.input],
            _("{low} to {high}", low=low, high=high),
            age_words(one.age_low),
            age_words(one.age_high),
            percent(one.excess),
        )
        for one in range_.guesses
        for low, high in [_ends(one)]
    ]
    without = age_words(range_.without_damp_cars)
    ends = age_words(range_.low), age_words(range_.high)
    return (
        *rows,
        (_("No damp cars"), NOTHING, without, NOTHING, NOTHING),
        (_("All of it, and the life of sets"), NOTHING, *ends, NOTHING),
    )


def counted_words(found: ClothAnswer) -> str:
    """What damp hoods have told of the uptake lost."""
    loss = found.uptake_loss
    if not loss.counts:
        return ""
    sentence = "{damp} of {hoods} damp at {age}"
    counts = joined(
        [
            _(sentence, damp=one.damp, hoods=one.hoods, age=full_wipes(one.wear_cars))
            for one in loss.counts
        ]
    )
    if loss.is_known:
        return _("Hoods counted: {counts}. The uptake lost is as you entered it.", counts=counts)
    return _(
        "Hoods counted: {counts}. With these a worn-out set has lost {middle} of its uptake, at 9 "
        "of 10 sites like yours {low} to {high}.",
        counts=counts,
        middle=percent(loss.median),
        low=percent(loss.low),
        high=percent(loss.high),
    )


# ---- sets ----------------------------------------------------------------------------------------


def where(one: SetFound) -> str:
    """Where a set is, or how it came to its end."""
    day = near_day(one.since)
    words = {
        "new": _("in store, new"),
        "on": _("on the wheel since {day}", day=day),
        "off": _("off the wheel since {day}", day=day),
        "worn": _("worn out, {day}", day=day),
        "planned": _("changed on plan, {day}", day=day),
        "accident": _("torn by accident, {day}", day=day),
        "stolen": _("gone, {day}", day=day),
    }
    return words[one.reason if one.state == "ended" else one.state]


def reason_words() -> dict[str, str]:
    """Why a set was taken off, in words."""
    return {
        "rotated": _("to dry or be laundered"),
        "worn": _("worn out"),
        "planned": _("on plan, before it wore out"),
        "accident": _("torn by accident"),
        "stolen": _("stolen or lost"),
    }


def living(found: ClothAnswer) -> list[SetFound]:
    """The set on the wheel, those that take turns, and new ones, each kind newest first."""
    return _newest_first(found.sets, ("on", "off", "new"))


def ended(found: ClothAnswer) -> list[SetFound]:
    """Sets that came to their end, newest first."""
    return _newest_first(found.sets, ("ended",))


def _newest_first(sets: Sequence[SetFound], places: tuple[str, ...]) -> list[SetFound]:
    newest = sorted(sets, key=lambda one: one.since or date.min, reverse=True)
    held = [one for one in newest if one.state in places]
    return sorted(held, key=lambda one: places.index(one.state))


def worn_words(one: SetFound) -> str:
    """When a set has worn out about, with the days of 1 in 10 and 9 in 10."""
    if one.to_come is None:
        return NOTHING
    first, middle, last = one.to_come.worn_out_days
    if last is None and middle is None:
        return near_day(None)
    days = near_day(first), near_day(middle), near_day(last)
    return _("{middle} ({first} to {last})", first=days[0], middle=days[1], last=days[2])


def name_words(one: SetFound) -> str:
    """A name, a short one on one line."""
    return one.name.replace(" ", NBSP) if len(one.name) <= SHORT_NAME else one.name


def wear_words(one: SetFound) -> str:
    """Wear, with a word where some days were expected instead of counted."""
    age = about(one.age_cars)
    return age if one.all_counted else _("about {age}", age=age)


# ---- what it costs, and how long sets last -------------------------------------------------------


def way_rows(found: ClothAnswer) -> Rows:
    """Ways of changing: name, cost of a thousand full wipes and of a year, in words."""
    change = found.change
    rows = [
        (_("On plan, at {age}", age=age_words(change.age)), change.cost_rate),
        (_("When it wears out"), change.at_failure),
    ][change.waits :]
    if change.every_season is not None:
        every = _("Every season (once a year), and when it wears out")
        rows.append((every, change.every_season))
    least = min(rate for _name, rate in rows)
    return tuple(
        (name, per_thousand(rate), about_dollars(rate * found.wear_per_year, 2),
         better(rate, least))
        for name, rate in rows
    )  # fmt: skip


def way_line(found: ClothAnswer) -> str:
    """The way that costs least, in a line."""
    best = next(row for row in way_rows(found) if row[3] == _("the least"))
    return _("Least: {way}, {money} a year.", way=best[0][:1].lower() + best[0][1:], money=best[2])


def part_line(found: ClothAnswer) -> str:
    """What is best changed at once, in a line."""
    best = next(row for row in part_rows(found) if row[2] == _("the least"))
    return _("Least: {way}.", way=best[0])


def sets_line(found: ClothAnswer) -> str:
    """The set on the wheel and how many there are besides, in a line."""
    held = living(found)
    said = [f"{name_words(one)}: {where(one)}." for one in held[:1]]
    if len(held) > 1:
        said.append(_n("1 other in use.", "{count} others in use.", len(held) - 1))
    return " ".join(said)


def life_line(found: ClothAnswer) -> str:
    """How long a set lasts in the mean, in a line."""
    return _("{cars} full wipes in the mean.", cars=about(found.life.mean))


def part_rows(found: ClothAnswer) -> Rows:
    """Changing whole or in parts: name, cost, in words, uptake lost."""
    words = {1: _("the whole set"), 2: _("one half after the other"), 4: _("quarter by quarter")}
    rates = [way.cost_rate for way in found.in_parts]
    return tuple(
        (words[way.parts], per_thousand(rate), better(rate, min(rates)), percent(way.uptake_loss))
        for way, rate in zip(found.in_parts, rates, strict=True)
    )


def better(rate: float, least: float) -> str:
    """A cost rate beside the least one, in words."""
    if rate <= least * 1.0005:
        return _("the least")
    more = rate / least - 1.0
    return _("{percent} more", percent=percent(more, fine=True))


def life_rows(found: ClothAnswer) -> Rows:
    """How long sets last: figure, what is believed of it, and what the sets alone tell."""
    life, fit = found.life, found.life.likelihood
    scale = shape = NOTHING
    if fit is not None:
        scale = _ranged(fit.eta, *fit.eta_range, about)
        shape = _ranged(fit.beta, *fit.beta_range, _tenths)
    eta, beta = life.eta, life.beta
    return (
        (_("Scale of life, full wipes"), _ranged(eta.median, eta.low, eta.high, about), scale),
        (_("Shape of life"), _ranged(beta.median, beta.low, beta.high, _tenths), shape),
        (_("Mean life, full wipes"), about(life.mean), NOTHING),
    )


def _ranged(value: float, low: float, high: float, words: Callable[[float], str]) -> str:
    ends = (_("no end") if math.isinf(end) else words(end) for end in (low, high))
    return f"{words(value)} ({'–'.join(ends)})"


def _tenths(value: float) -> str:
    return plain_number(value, 1)


def pace_words(found: ClothAnswer) -> str:
    """How fast the wheel wears cloth."""
    year = found.wear_per_year
    return _(
        "The wheel wears by about {day} full wipes a day in the coming four weeks, and by about "
        "{year} in a year.",
        day=about(found.wear_per_day),
        year=stepped(year, 10.0 ** max(0, math.floor(math.log10(year)) - 2)),
    )


# ---- how often to launder ------------------------------------------------------------------------

LISTED_DAYS = (1, 2, 3, 5, 7, 10, 14, 21, 30, 60, MOST_DAYS)
"""Open days between launderings that the table lists, beside the best and the site's own."""
AS_GOOD = 0.005
"""A saving of less than this share of what laundering and soil cost is none."""


def launder_answer(one: Laundering) -> Statement:
    """How often a set goes to the laundry, and what that saves."""
    if one.days >= MOST_DAYS:
        return Statement(
            _("Launder no oftener than the care of the cloth asks."),
            _(
                "As far as damp cars go, a laundering costs more than it saves at every interval "
                "up to {days} open days.",
                days=MOST_DAYS,
            ),
        )
    lead = _n(
        "Launder a set after every open day on the wheel.",
        "Launder a set after every {count} open days on the wheel.",
        one.days,
    )
    if math.isfinite(one.cars):
        rest = [_("Where days differ, count cars: after about {cars}.", cars=about(one.cars))]
    else:
        rest = []
    a_year = one.cost_per_day * one.open_days
    saving = _n(
        "That saves about {nightly} a year against a laundering every night, and about {never} "
        "against none for a year of 1 open day",
        "That saves about {nightly} a year against a laundering every night, and about {never} "
        "against none for a year of {count} open days",
        one.open_days,
        nightly=about_dollars(one.saves_nightly, 2),
        never=about_dollars(one.saves_never, 2),
    )
    if one.saves_present > AS_GOOD * a_year:
        saved = about_dollars(one.saves_present, 2)
        sentence = "{saving}; against every {days} open days, as the Site page has it, {saved}."
        rest.append(_(sentence, saving=saving, days=one.present_days, saved=saved))
    else:
        sentence = "{saving}. The {days} open days of the Site page are as good."
        rest.append(_(sentence, saving=saving, days=one.present_days))
    return Statement(lead, " ".join(rest))


def launder_sure(one: Laundering, told: Collection[str], given: Collection[str]) -> Statement:
    """How firm the interval is, how far the best may lie elsewhere, and what moves it; `told` and
    `given` as for `how_sure`."""
    standing = one.standing if all_told(told) else None
    said = doubt_words(standing, _every(one.days), _every(one.rival), told)
    if one.low == one.high:
        lies = _n(
            "At 9 of 10 sites like yours the best interval is 1 open day.",
            "At 9 of 10 sites like yours the best interval is {count} open days.",
            one.low,
        )
    else:
        sentence = (
            "At 9 of 10 sites like yours the best interval lies between {low} and {high} open days."
        )
        lies = _(sentence, low=one.low, high=one.high)
    moves = [guess for guess in one.guesses if guess.excess > NEAR * one.cost_per_day]
    moves.sort(key=lambda guess: guess.excess, reverse=True)
    turns = turning_words("laundry", given, [guess.input for guess in moves])
    return Statement(said.lead, " ".join(filter(None, (said.rest, lies, turns))))


def _every(days: int) -> str:
    """An interval as an advice is called."""
    return _n("every open day", "every {count} open days", days)


def launder_due(found: ClothAnswer) -> str:
    """How soiled the set on the wheel is by its record, and when it goes; empty where not known."""
    due = found.laundry_due
    if due is None:
        return ""
    cars = about(due.soil_cars)
    if due.day is None:
        return _("{name} holds the soil of about {cars} cars.", name=due.name, cars=cars)
    sentence = (
        "{name} holds the soil of about {cars} cars this evening; it is due before opening on "
        "{day}."
    )
    return _(sentence, name=due.name, cars=cars, day=long_date(due.day))


def launder_rows(one: Laundering) -> Rows:
    """Intervals: open days, cost a day, beside the best, uptake lost before a laundering."""
    listed = sorted({*LISTED_DAYS, one.days, one.present_days})
    found = []
    for days, rate, lost in one.curve:
        if days not in listed:
            continue
        name = str(days)
        if days == one.days:
            name = _("{days}, the best", days=days)
        elif days == one.present_days:
            name = _("{days}, as now", days=days)
        more = better(rate, one.cost_per_day)
        found.append((name, cents(rate), more, percent(lost, fine=True)))
    return tuple(found)


def launder_guess_rows(one: Laundering) -> Rows:
    """What the interval rests on: guess, range, best days at its ends, most that it costs more."""
    return tuple(
        (
            _(INPUTS[guess.input].label),
            _("{low} to {high}", low=low, high=high),
            str(guess.days_low),
            str(guess.days_high),
            cents(guess.excess),
        )
        for guess in one.guesses
        for low, high in [(_guess_words(guess, guess.low), _guess_words(guess, guess.high))]
    )  # fmt: skip


def _guess_words(guess: LaunderGuess, value: float) -> str:
    if guess.input == "damp_cost":
        return cents(value)
    return full_wipes(value) if guess.input == "launder_wear" else percent(value, fine=True)

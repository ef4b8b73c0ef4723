"""What is said of a site's cloth: the answer, how sure, and where a set is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import Any

from app.catalogue import _, day_month, long_date
from app.words.figures import money, plain_number
from app.words.phrases import about, joined
from sim.units import NBSP, format_number

Content = Mapping[str, Any]
LOSS = "uptake_loss_at_life"
FEW_WORN_OUT = 3
"""With fewer sets worn out the advice is not called firm."""


def rough(amount: float, digits: int = 3) -> str:
    """A large number to so many digits."""
    return f"{_rounded(amount, digits):,.0f}"


def _rounded(amount: float, digits: int) -> float:
    step = 1.0 if amount < 1.0 else 10.0 ** max(0, math.floor(math.log10(amount)) + 1 - digits)
    return step * round(amount / step)


def per_thousand(rate: float) -> str:
    """A cost rate as money for a thousand full wipes."""
    return f"${format_number(1000.0 * rate, 3)}"


def day_of(text: str | None) -> date | None:
    """A date of the content."""
    return None if text is None else date.fromisoformat(text)


def full_wipes(cars: float) -> str:
    """A wear or an age."""
    return _("{cars} full wipes", cars=about(cars))


def near_day(text: str | None) -> str:
    """A date as ``14 October``, or that it is too far to be told."""
    day = day_of(text)
    return _("later than in three years") if day is None else day_month(day)


def answer(content: Content) -> tuple[str, str]:
    """What to do, in bold, and the rest of the answer."""
    due, change = content["due"], content["change"]
    if due is None:
        if not content["sets"]:
            return (
                _("No cloth set is entered yet."),
                _(
                    "Enter the set on the wheel below, and from then on this page says when to "
                    "change it. {typical}",
                    typical=_typical(content),
                ),
            )
        return (
            _("No set is on the wheel, as far as the record goes."),
            _("Enter below which one was put on. {typical}", typical=_typical(content)),
        )
    name = due["name"]
    if change["waits"]:
        ahead = next(one for one in content["sets"] if one["name"] == name)
        return (
            _("Leave {name} on the wheel until it wears out.", name=name),
            _(
                "A planned change would save less than {saving} of the cost. Have the next set "
                "dry and ready from {day} on.",
                saving=_percent(change["least_saving"]),
                day=near_day(ahead["worn_out_days"][0]),
            ),
        )
    if due["overdue"]:
        return (
            _("Change {name} on the next quiet morning.", name=name),
            _(
                "It has gone {age}; the best age for a change is {best}.",
                age=full_wipes(_age_of(content, name)),
                best=full_wipes(change["age"]),
            ),
        )
    if due["day"] is None:
        return (
            _("{name} is not due within three years.", name=name),
            _typical(content),
        )
    busy = due["busy"]
    if busy["day"] == due["day"]:
        return _("Change {name} about {day}.", name=name, day=near_day(due["day"])), _window(due)
    before = _(
        "before {busy}, the busiest day of that week.",
        busy=long_date(date.fromisoformat(busy["day"])),
    )
    return (
        _("Change {name} about {day},", name=name, day=near_day(due["day"])),
        f"{before} {_window(due)}",
    )


def _typical(content: Content) -> str:
    change = content["change"]
    if change["waits"]:
        return _("As things stand, a set is best left on until it wears out.")
    return _(
        "As things stand, a set is best changed after about {age}.", age=full_wipes(change["age"])
    )


def _window(due: Content) -> str:
    more = _percent(0.02)
    if due["last"] is None:
        return _(
            "From {first} on it costs at most {more} more.", first=near_day(due["first"]), more=more
        )
    return _(
        "Any day from {first} to {last} costs at most {more} more.",
        first=near_day(due["first"]),
        last=near_day(due["last"]),
        more=more,
    )


def _age_of(content: Content, name: str) -> float:
    return float(next(one["age_cars"] for one in content["sets"] if one["name"] == name))


def _percent(share: float) -> str:
    return f"{plain_number(100.0 * share, 0)}{NBSP}%"


def how_sure(content: Content, weighed: bool) -> str:
    """How firm the answer is, and what it rests on.

    Never firm before the three weighings, nor before damp cars were counted under a worn set: what
    wear takes of the cloth is a guess until then.
    """
    life = content["life"]
    worn, other = life["worn_out"], life["ended_otherwise"]
    firm = _("Firm.")
    if worn < FEW_WORN_OUT:
        firm = _("Not firm yet: fewer than {count} sets have worn out.", count=FEW_WORN_OUT)
    if not (content["uptake_loss"]["worn_looked_at"] or content["uptake_loss"]["is_known"]):
        firm = _("Not firm yet: damp hoods were never counted under a worn set.")
    if not weighed:
        firm = _("Not firm yet: no advice is before three strips have been weighed.")
    seen = _(
        "It rests on {worn} worn out, {other} taken off before, and a guess of how long sets last.",
        worn=_("1 set") if worn == 1 else _("{count} sets", count=worn),
        other=other,
    )
    low, high = life["eta"]["low"], life["eta"]["high"]
    scale = _(
        "At 19 of 20 sites like yours the scale of life lies between {low} and {high} full wipes.",
        low=about(low),
        high=about(high),
    )
    return " ".join(part for part in (firm, seen, scale, _guessed(content)) if part)


def _guessed(content: Content) -> str:
    """The guesses that move the age of change, where they do, and how far it may lie elsewhere."""
    range_ = content["age_range"]
    named = [_named(one) for one in range_["guesses"] if one["matters"]]
    said = [
        _(
            "At 9 of 10 sites like yours the best age lies between {low} and {high}.",
            low=age_words(range_["low"]),
            high=age_words(range_["high"]),
        )
    ]
    if named:
        said.insert(
            0,
            _(
                "The age rests on {guesses}; if damp cars cost nothing it would be {none}.",
                guesses=joined(named),
                none=age_words(range_["without_damp_cars"]),
            ),
        )
        if any(one["input"] == LOSS and one["matters"] for one in range_["guesses"]):
            said.append(_("Damp hoods counted under a new and under an old set tell the first."))
    return " ".join(said)


def _named(one: Content) -> str:
    low, high = guess_ends(one)
    if one["input"] == LOSS:
        return _("a guess of what wear takes of the uptake ({low} to {high})", low=low, high=high)
    return _("a guess of what a damp car costs ({low} to {high})", low=low, high=high)


def guess_ends(one: Content) -> tuple[str, str]:
    """Between what a guess lies at 9 of 10 sites."""
    if one["input"] == LOSS:
        return _percent(one["low"]), _percent(one["high"])
    return _cents(one["low"]), _cents(one["high"])


def _cents(amount: float) -> str:
    return f"${amount:,.2f}"


def age_words(age: float | None) -> str:
    """An age of change, or waiting."""
    return _("when it wears out") if age is None else full_wipes(age)


def guess_rows(content: Content) -> tuple[tuple[str, ...], ...]:
    """What the age of change rests on beside the life: guess, range, best ages at its ends."""
    labels = {
        LOSS: _("Uptake lost when worn out"),
        "damp_cost": _("Cost of a damp car"),
    }
    rows = []
    for one in content["age_range"]["guesses"]:
        low, high = guess_ends(one)
        rows.append(
            (
                labels[one["input"]],
                _("{low} to {high}", low=low, high=high),
                age_words(one["age_low"]),
                age_words(one["age_high"]),
                _percent(one["excess"]),
            )
        )
    range_ = content["age_range"]
    rows.append((_("No damp cars"), "–", age_words(range_["without_damp_cars"]), "–", "–"))
    all_ = (age_words(range_["low"]), age_words(range_["high"]))
    rows.append((_("All of it, and the life of sets"), "–", *all_, "–"))
    return tuple(rows)


def counted_words(content: Content) -> str:
    """What damp hoods have told of the uptake lost."""
    loss = content["uptake_loss"]
    if not loss["counts"]:
        return ""
    counts = joined(
        [
            _(
                "{damp} of {hoods} damp at {age}",
                damp=one["damp"],
                hoods=one["hoods"],
                age=full_wipes(one["wear_cars"]),
            )
            for one in loss["counts"]
        ]
    )
    if loss["is_known"]:
        return _("Hoods counted: {counts}. The uptake lost is as you entered it.", counts=counts)
    return _(
        "Hoods counted: {counts}. With these a worn-out set has lost {middle} of its uptake, at 9 "
        "of 10 sites like yours {low} to {high}.",
        counts=counts,
        middle=_percent(loss["median"]),
        low=_percent(loss["low"]),
        high=_percent(loss["high"]),
    )


def moving(content: Content) -> str:
    """What a quiet morning near the best day costs; empty where there is none."""
    due = content["due"]
    quiet = due and due["quiet"]
    if not quiet:
        return ""
    day = long_date(date.fromisoformat(quiet["day"]))
    if quiet["morning_cars"] < 0.5:
        return _(
            "On {day} no car is expected before noon. Moving the change there costs about {cost}.",
            day=day,
            cost=money(quiet["cost"], 2),
        )
    return _(
        "The quietest morning near is {day}, with about {cars} cars before noon. Moving the change "
        "there costs about {cost}.",
        day=day,
        cars=about(quiet["morning_cars"]),
        cost=money(quiet["cost"], 2),
    )


def where(one: Content) -> str:
    """Where a set is, or how it came to its end."""
    since = near_day(one["since"])
    if one["state"] == "new":
        return _("in store, new")
    if one["state"] == "on":
        return _("on the wheel since {day}", day=since)
    if one["state"] == "off":
        return _("off the wheel since {day}", day=since)
    words = {
        "worn": _("worn out, {day}", day=since),
        "planned": _("changed on plan, {day}", day=since),
        "accident": _("torn by accident, {day}", day=since),
        "stolen": _("gone, {day}", day=since),
    }
    return words[one["reason"]]


def better(rate: float, least: float) -> str:
    """A cost rate beside the least one, in words."""
    if rate <= least * 1.0005:
        return _("the least")
    more = 100.0 * (rate / least - 1.0)
    return _("{percent} more", percent=f"{plain_number(more, 0 if more >= 10 else 1)}{NBSP}%")

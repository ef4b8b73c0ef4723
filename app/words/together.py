"""Speed, spacing and rule together, in words: what another setting would give, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.catalogue import _
from app.words.columns import Spoken
from app.words.phrases import whole
from app.words.switching import act_words, chances
from app.words.why import Lines, damp_percent
from sim.units import NBSP, quantity, show_clock

Found = Mapping[str, Any]
TEN_MINUTES_H = 1.0 / 6.0


def rule_words(found: Found, rule: Found, system: str) -> str:
    """A rule of an answer that knows the opening hours and the strip, as an order to the crew."""
    limits = {name: found[name] for name in ("open_h", "close_h")}
    told = {"chosen": rule, "strip": found["strip"], "comparison": {"limits": limits}}
    return act_words(told, system)


def speeds_words(plan: Found, system: str) -> str:
    """The belt's speeds, such as ``49 ft/min, from 11:00 39 ft/min``."""
    (_start, first), *later = plan["speeds"]
    parts = [quantity(first, "speed", 2).show(system)]
    parts += [
        _(
            "from {time} {speed}",
            time=show_clock(start),
            speed=quantity(speed, "speed", 2).show(system),
        )
        for start, speed in later
    ]
    return ", ".join(parts)


def spacing_words(plan: Found, system: str) -> str:
    """The spacing, nose to nose."""
    return quantity(plan["spacing_m"], "length").show(system)


def setting_words(plan: Found, system: str) -> str:
    """Speed and spacing in a row."""
    sentence = "{speed} and {spacing}" if len(plan["speeds"]) == 1 else "{speed}, spaced {spacing}"
    return _(
        sentence,
        speed=speeds_words(plan, system),
        spacing=spacing_words(plan, system),
    )


def reduced_words(hours: float) -> str:
    """How long cars are wiped reduced, such as ``2 h 40``, to ten minutes."""
    whole_hours, tens = divmod(round(hours / TEN_MINUTES_H), 6)
    if not whole_hours and not tens:
        return _("no time") if hours <= 0.0 else _("a few minutes")
    if not whole_hours:
        return f"{10 * tens}{NBSP}min"
    return f"{whole_hours}{NBSP}h" + (f"{NBSP}{10 * tens}" if tens else "")


def together_answer(found: Found, system: str) -> Spoken:
    """Whether to keep speed and spacing, and what it takes never to reduce."""
    present, chosen = found["present"], found["chosen"]
    if found["stays"]:
        lead = _("Keep {setting}.", setting=setting_words(present, system))
        sentence = "No other setting looked at costs less a day by enough to matter."
        if not chosen["keeps"]:
            sentence = "No other setting looked at comes nearer to what you allow, or costs less."
        also = _(sentence)
    else:
        lead = _("Run at {setting}.", setting=setting_words(chosen, system))
        also = _better_words(found, system)
    return Spoken(lead, _never_words(found, system), also)


def _never_words(found: Found, system: str) -> str:
    """What the setting that never reduces would mean, beside the present one."""
    present, never = found["present"], found["never_reduce"]
    if present["keeps"] and not present["reduced_h"]:
        return _("At the present setting you never need to reduce.")
    if never is None:
        return _("At no speed and spacing looked at is always full enough.")
    return _(
        "At {setting} you wash {cars} and never need to reduce; at {now} you reduce for {hours}.",
        setting=setting_words(never, system),
        cars=_cars_words(never["cars_washed_h"] - present["cars_washed_h"]),
        now=setting_words(present, system),
        hours=reduced_words(present["reduced_h"]),
    )


def _cars_words(more: float) -> str:
    count = round(abs(more))
    if count == 0:
        return _("as many cars")
    sentence = "{count} more cars an hour" if more > 0 else "{count} fewer cars an hour"
    if count == 1:
        sentence = "1 more car an hour" if more > 0 else "1 fewer car an hour"
    return _(sentence, count=count)


def _better_words(found: Found, system: str) -> str:
    """What the found setting gives with its rule."""
    present, chosen = found["present"], found["chosen"]
    less = present["cost"] - chosen["cost"]
    said = [
        _(
            "With it: {rule} You wash {cars}, {damp} leave damp instead of {before}.",
            rule=rule_words(found, chosen["rule"], system),
            cars=_cars_words(chosen["cars_washed_h"] - present["cars_washed_h"]),
            damp=damp_percent(found, chosen["damp_share"]),
            before=damp_percent(found, present["damp_share"]),
        )
    ]
    if round(less):
        sentence = "The day costs ${money} less." if less > 0 else "The day costs ${money} more."
        said.append(_(sentence, money=whole(abs(less))))
    if not present["keeps"] and chosen["keeps"]:
        said.append(
            _("It keeps to what you allow, which the rule at the present setting does not.")
        )
    return " ".join(said)


def together_sure(found: Found) -> str:
    """How sure the choice is, and how it was made."""
    return _(
        "Chances that no other setting looked at is better by enough to matter: {chance}. Settings "
        "are judged by the cost of the day, lost cars and reduced wipes included, within what you "
        "allow; {runs} days were simulated.",
        chance=chances(found["probability"]),
        runs=whole(found["runs"]),
    )


def together_table(found: Found, system: str) -> Lines:
    """The settings compared, a column each."""
    present, never = found["present"], found["never_reduce"]
    columns = [(_("Now"), present)]
    if not found["stays"]:
        columns.append((_("Advised"), found["chosen"]))
    if never is not None and never not in [plan for _name, plan in columns]:
        columns.append((_("Never reduce"), never))
    plans = [plan for _name, plan in columns]
    rows = (
        (_("Conveyor speed"), *(speeds_words(plan, system) for plan in plans)),
        (_("Car spacing"), *(spacing_words(plan, system) for plan in plans)),
        (_("Rule"), *(rule_words(found, plan["rule"], system) for plan in plans)),
        (_("Reduced for"), *(reduced_words(plan["reduced_h"]) for plan in plans)),
        (_("Cars washed an hour"), *(whole(plan["cars_washed_h"]) for plan in plans)),
        (_("Lost cars a day"), *(whole(plan["cars_lost"]) for plan in plans)),
        (_("Leave damp"), *(damp_percent(found, plan["damp_share"]) for plan in plans)),
        (_("Cost of the day"), *(f"${whole(plan['cost'])}" for plan in plans)),
        (_("Keeps to your wish"), *(_("yes") if plan["keeps"] else _("no") for plan in plans)),
    )
    return Lines("", ("", *(name for name, _plan in columns)), rows)

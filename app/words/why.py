"""Why this advice, in sentences: gain, what binds, runner-up, what would flip and settle it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.catalogue import _
from app.sites.measurements import best_measurement, in_words
from app.words.figures import interval, plain_number
from app.words.phrases import joined, whole, whole_degrees
from app.words.switching import act_words, limit_state
from sim.inputs import INPUTS
from sim.units import MINUS, NBSP, quantity, show_clock

Found = Mapping[str, Any]
Fact = tuple[str, str]
CAUSES = {
    "many_cars": "Many cars: with {share} fewer, always full would do.",
    "humid_air": "Humid air: with {share} less moisture in it, always full would do.",
    "little_idle": "Little time between cars: with gaps {share} longer, always full would do.",
    "wet_start": "A wet start: with {share} of the way to a dry set at opening, always full "
    "would do.",
}
ALONG = {
    "temp_c": ("below {value} at most", "above {value} at most"),
    "humidity": ("below {value} humidity", "above {value} humidity"),
    "cars": ("with fewer than {value} cars", "with more than {value} cars"),
}


WAYS = {
    "as_expected": "As expected",
    "cooler": "Cooler",
    "hotter": "Hotter",
    "wetter": "Wetter air",
    "busier": "Busier",
    "quieter": "Quieter",
}


def why_facts(found: Found, system: str) -> tuple[Fact, ...]:
    """Label and sentence of each reason that was worked out; empty where none was."""
    why = found.get("why")
    if not why:
        return ()
    facts = [
        (_("Expected gain"), _gain(why)),
        (_("How often it is better"), _often(why)),
        (_("Loss if wrong"), _loss(why)),
        (_("What binds"), _binding(why)),
        (_("Runner-up"), _runner_up(found, why, system)),
        (_("What would flip it"), _flips(why, system)),
        (_("What would settle it"), _settle(why)),
    ]
    return tuple((label, words) for label, words in facts if words)


@dataclass(frozen=True, slots=True)
class Lines:
    """A small table: a sentence above it, heads, and rows of cells, the first of them a label."""

    says: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def helps_of(found: Found, system: str) -> Lines | None:
    """What else would help, best first; None where it was not worked out."""
    helps = found.get("remedies")
    if not helps:
        return None
    says = {
        "nothing_needed": _("Nothing is needed: always full keeps to what you allow."),
        "nothing_helps": _("Switching alone is not enough: no rule keeps to what you allow."),
        "rule_helps": _("Switching is enough; these would spare some of it."),
    }[_state(found, helps)]
    rows = tuple(
        (
            _remedy(row, system),
            damp_percent(found, row["damp_share"]),
            _signed(-row["spared"]),
            _signed(row["gained"]),
            _signed(row["net"], "$"),
            _("yes") if row["keeps"] else _("no"),
        )
        for row in helps["rows"]
    )
    heads = (
        _("With"), _("Damp"), _("Damp cars"), _("Full wipes"), _("Cost of the day"),
        _("Keeps to your wish"),
    )  # fmt: skip
    return Lines(says, heads, rows)


def _state(found: Found, helps: Found) -> str:
    """Whether switching is enough; never, where the search found no rule that keeps to the wish."""
    missed = limit_state(found) == "misses"
    return "nothing_helps" if missed else str(helps["state"])


def _remedy(row: Found, system: str) -> str:
    amount = row["amount"]
    if row["kind"] == "slower_belt":
        return _("Belt at {speed}", speed=quantity(amount, "speed", 2).show(system))
    if row["kind"] == "faster_idle":
        return _("Wheel idling at {speed}", speed=quantity(amount, "rotation", 2).show(system))
    if row["kind"] == "dry_set":
        return _(
            "A dry set at {time}, {minutes} min",
            time=show_clock(amount),
            minutes=whole(row["minutes"]),
        )
    if row["kind"] == "fewer_cars":
        return _("{share} of the cars turned away", share=percent(amount))
    return _("One finisher more") if amount == 1 else _("{n} finishers more", n=whole(amount))


def _signed(value: float, unit: str = "") -> str:
    said = _rounded(abs(value))
    if said == "0":
        return f"{unit}0"
    return f"{MINUS if value < 0 else '+'}{unit}{said}"


def moves_of(found: Found, system: str) -> Lines | None:
    """The plan for days that are a little different; None where it was not worked out."""
    moves = found.get("moves")
    if not moves:
        return None
    rows = tuple(
        (
            _(WAYS[one["way"]]),
            whole_degrees(one["highest_temp_c"], system),
            percent(one["humidity"]),
            _rounded(one["cars"]),
            act_words({**found, "chosen": one["rule"]}, system)
            if one["keeps"]
            else _(
                "{act} (misses your wish)", act=act_words({**found, "chosen": one["rule"]}, system)
            ),
            damp_percent(found, one["damp_share"]),
        )
        for one in moves
    )
    same = all(one["same"] for one in moves)
    says = (
        _("The same rule on all of them.")
        if same
        else _("Each is the best of some hundred rules near the advised one and far from it.")
    )
    heads = (_("Day"), _("Highest"), _("Humidity"), _("Cars"), _("Rule"), _("Damp"))
    return Lines(says, heads, rows)


def _gain(why: Found) -> str:
    over = why["over_present"]
    if over is None:
        return _("It is what is planned now.")
    return _("{changes} a day than as planned now.", changes=changes_words(over["gains"]))


def changes_words(gains: Found, sign: float = 1.0) -> str:
    """Damp cars, full wipes and cost a day more or less, each as far as it is told."""
    parts = [
        _change(gains["damp_cars"], sign, "{count} more damp cars", "{count} fewer damp cars"),
        _change(gains["full_cars"], sign, "{count} more full wipes", "{count} fewer full wipes"),
        _change(gains["cost"], sign, "${count} dearer", "${count} cheaper"),
    ]
    return joined([part for part in parts if part]) or _("no different by as much as a car")


def _change(gain: Found, sign: float, more: str, less: str) -> str:
    value = sign * gain["value"]
    if round(abs(value)) == 0:
        return ""
    said = _(more if value > 0 else less, count=_rounded(abs(value)))
    site = interval(gain, "site uncertainty")
    if site is None or site[0] == site[1]:
        return said
    # ends as seen from the mean: a gain that may be a loss has a minus
    ends = sorted(math.copysign(1.0, value) * sign * end for end in site)
    return _(
        "{change} ({low} to {high})", change=said, low=_rounded(ends[0]), high=_rounded(ends[1])
    )


def _rounded(value: float) -> str:
    step = 10.0 if abs(value) >= 100 else 1.0
    return whole(step * round(value / step))


def _often(why: Found) -> str:
    over = why["over_present"]
    if over is None:
        return ""
    better = math.floor(20 * over["better"] + 1e-9)
    worse = math.ceil(20 * over["worse"] - 1e-9)
    return _(
        "Judged by what you want, it is better than what is planned now in {better} of 20 sites "
        "like yours, worse in {worse}.",
        better=better,
        worse=worse,
    )


def _loss(why: Found) -> str:
    over = why["over_present"]
    if over is None or not over["loss"]:
        return ""
    gains = {name: {"value": value} for name, value in over["loss"].items()}
    return _("Where it is worse: {changes} a day.", changes=changes_words(gains))


def _binding(why: Found) -> str:
    alone = [one for one in why["reliefs"] if one["least"] is not None]
    if not why["reliefs"]:
        if why["over_present"] is None:
            return _("Nothing: the cloth stays dry enough with always full.")
        return ""
    if not alone:
        return _("No one cause: even without any one of them always full would not be enough.")
    first = alone[0]
    return _(CAUSES[first["cause"]], share=percent(first["least"]))


def _runner_up(found: Found, why: Found, system: str) -> str:
    second = why["runner_up"]
    if second is None:
        return ""
    act = act_words({**found, "chosen": second["rule"]}, system).removesuffix(".")
    return _("{act}: {changes} a day.", act=act, changes=changes_words(second["gains"], -1.0))


def _flips(why: Found, system: str) -> str:
    said = []
    for one in why["flips"]:
        for side, words in zip(("below", "above"), ALONG[one["along"]], strict=True):
            if one[side] is not None:
                said.append(_(words, value=_value(one["along"], one[side], system)))
    if not said:
        return _("Nothing that was looked at: neither temperature, nor humidity, nor cars.")
    if why["over_present"] is None:
        return _("You would need another rule {when}.", when=_(" or ").join(said))
    return _("What is planned now would do {when}.", when=_(" or ").join(said))


def _value(along: str, value: float, system: str) -> str:
    if along == "temp_c":
        return whole_degrees(value, system)
    return percent(value) if along == "humidity" else _rounded(value)


def _settle(why: Found) -> str:
    total = sum(one["value"] for one in why["knowing"])
    if total <= 0:
        return ""
    shares = {
        one["input"]: one["value"] / total for one in why["knowing"] if one["input"] in INPUTS
    }  # fmt: skip
    best = best_measurement(shares)
    if best is not None:
        return in_words(best.measurement)
    name = max(shares, key=shares.__getitem__)
    return _("To know “{input}”.", input=_(INPUTS[name].label))


def damp_percent(found: Found, share: float) -> str:
    """A share of damp cars in whole percent, with a decimal where only that shows on which side
    of the allowed share it is."""
    allowed = found["wish"]["allowed_damp_share"]
    if share != allowed and round(100 * share) == round(100 * allowed):
        return f"{plain_number(100 * share, 1)}{NBSP}%"
    return percent(share)


def percent(share: float) -> str:
    """A share in whole percent."""
    return f"{whole(100 * share)}{NBSP}%"

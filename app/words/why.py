"""Why this advice, in sentences: gain, what binds, runner-up, what would flip and settle it; what
else would help, and what other days need."""

from __future__ import annotations

import math
from collections.abc import Callable

from app.catalogue import _, _n
from app.sites.measurements import best_measurement, in_words
from app.words.beside import Apart, apart_of
from app.words.numbers import about, amount, degrees, dollars, of_twenty, percent, whole
from app.words.phrases import TextTable, joined
from app.words.rules import act_words, damp_percent, order_of
from sim.decide.switching.answer import (
    Advice,
    Along,
    Cause,
    Corner,
    Flip,
    Gain,
    Gains,
    MovedPlan,
    Remedy,
    Tipping,
    Way,
    WhenToReduce,
)
from sim.inputs import INPUTS
from sim.units import MINUS, show_clock

Fact = tuple[str, str]
CAUSES: dict[Cause, str] = {
    "many_cars": "Many cars: with {share} fewer, always full would do.",
    "humid_air": "Humid air: with {share} less moisture in it, always full would do.",
    "little_idle": "Little time between cars: with gaps {share} longer, always full would do.",
    "wet_start": "A wet start: with {share} of the way to a dry set at opening, always full "
    "would do.",
}
ALONG: dict[Along, tuple[str, str]] = {
    "temp_c": ("below {value} at most", "above {value} at most"),
    "humidity": ("below {value} humidity", "above {value} humidity"),
    "cars": ("with fewer than {value} cars", "with more than {value} cars"),
}
WAYS: dict[Way, str] = {
    "as_expected": "As expected",
    "cooler": "Cooler",
    "hotter": "Hotter",
    "wetter": "Wetter air",
    "busier": "Busier",
    "quieter": "Quieter",
}


# ---- differences ---------------------------------------------------------------------------------


Counted = tuple[str, str]
"""A text for one, and for any other count."""
DAMP: tuple[Counted, Counted] = (
    ("1 more car leaving damp", "{count} more cars leaving damp"),
    ("1 fewer car leaving damp", "{count} fewer cars leaving damp"),
)
FULL: tuple[Counted, Counted] = (
    ("1 more full wipe", "{count} more full wipes"),
    ("1 fewer full wipe", "{count} fewer full wipes"),
)
COST: tuple[Counted, Counted] = (
    ("${count} dearer", "${count} dearer"),
    ("${count} cheaper", "${count} cheaper"),
)


def changes_words(gains: Gains, sign: float = 1.0, apart: Apart | None = None) -> str:
    """Damp cars, full wipes and cost a day more or less, each as far as it is told.

    Args:
        apart: differences between what stands beside it, signed as they are told, which take the
            place of those that the gains have from days of their own.
    """
    told = (
        ("left_damp", gains.left_damp, DAMP), ("", gains.full_cars, FULL),
        ("cost", gains.cost, COST),
    )  # fmt: skip
    parts = []
    for name, gain, (more, less) in told:
        value, step = (apart or {}).get(name, (sign * gain.value, 0.0))
        count = round(abs(value)) if step else _rounded(abs(value))
        if count:
            parts.append(_change(gain, value, sign, _n(*(more if value > 0 else less), count)))
    return joined(parts) or _("no different by as much as a car")


def _change(gain: Gain, value: float, sign: float, said: str) -> str:
    site = gain.site_uncertainty
    if site is None or site.low == site.high:
        return said
    # ends as seen from the mean: a gain that may be a loss has a minus
    ends = sorted(math.copysign(1.0, value) * sign * end for end in (site.low, site.high))
    low, high = (whole(_rounded(end)) for end in ends)
    return _("{change} ({low} to {high})", change=said, low=low, high=high)


def _rounded(value: float) -> int:
    """To the whole, from a hundred on to tens."""
    return 10 * round(value / 10) if abs(value) >= 100 else round(value)


def _signed(value: float, worded: Callable[[float], str] = whole) -> str:
    size = _rounded(abs(value))
    return f"{(MINUS if value < 0 else '+') if size else ''}{worded(size)}"


# ---- why -----------------------------------------------------------------------------------------


def why_facts(answer: WhenToReduce, system: str) -> tuple[Fact, ...]:
    """Label and sentence of each reason that was worked out; empty where none was."""
    why = answer.why
    if why is None:
        return ()
    facts = [
        (_("Expected gain"), _gain(answer, why)),
        (_("How often it is better"), _often(why)),
        (_("Loss if wrong"), _loss(why)),
        (_("What makes it needed"), _binding(why)),
        (_("Runner-up"), _runner_up(answer, why, system)),
        (_("What would flip it"), _flips(why, system)),
        (_("What would settle it"), _settle(why)),
    ]
    return tuple((label, words) for label, words in facts if words)


def _gain(answer: WhenToReduce, why: Advice) -> str:
    if why.over_present is None:
        return _("It is what is planned now.")
    apart = apart_of(answer.comparison, answer.chosen.text, why.over_present.rule.text)
    changes = changes_words(why.over_present.gains, apart=apart)
    return _("{changes} a day than as planned now.", changes=changes)


def _often(why: Advice) -> str:
    over = why.over_present
    if over is None:
        return ""
    return _(
        "Judged by what you want, it is better than what is planned now in {better} of 20 sites "
        "like yours, worse in {worse}.",
        better=of_twenty(over.better),
        worse=math.ceil(20 * over.worse - 1e-9),
    )


def _loss(why: Advice) -> str:
    if why.over_present is None or why.over_present.loss is None:
        return ""
    return _("Where it is worse: {changes} a day.", changes=changes_words(why.over_present.loss))


def _binding(why: Advice) -> str:
    if not why.reliefs:
        if why.over_present is None:
            return _("Nothing: the cloth stays dry enough with always full.")
        return ""
    for one in why.reliefs:
        if one.least is not None:
            return _(CAUSES[one.cause], share=percent(one.least))
    return _("No one cause: even without any one of them always full would not be enough.")


def _runner_up(answer: WhenToReduce, why: Advice, system: str) -> str:
    if why.runner_up is None:
        return ""
    return _(
        "{act}: {changes} a day.",
        act=order_of(why.runner_up.rule, answer.crew_terms, system),
        changes=changes_words(
            why.runner_up.gains,
            -1.0,
            apart_of(answer.comparison, why.runner_up.rule.text, answer.chosen.text),
        ),
    )


def _flips(why: Advice, system: str) -> str:
    said = [words for flip in why.flips for words in _flip(flip, system)]
    if not said:
        return _("Nothing that was looked at: neither temperature, nor humidity, nor cars.")
    when = said[0]
    for other in said[1:]:
        when = _("{one} or {other}", one=when, other=other)
    if why.over_present is None:
        return _("You would need another rule {when}.", when=when)
    return _("What is planned now would do {when}.", when=when)


def _flip(flip: Flip, system: str) -> list[str]:
    below, above = ALONG[flip.along]
    sides = ((below, flip.below), (above, flip.above))
    return [
        _(words, value=_value(flip.along, value, system))
        for words, value in sides
        if value is not None
    ]


def _value(along: Along, value: float, system: str) -> str:
    if along == "temp_c":
        return degrees(value, system)
    return percent(value) if along == "humidity" else whole(_rounded(value))


def settle_words(answer: WhenToReduce) -> str:
    """The one measurement that would settle most of what is open; empty where none would."""
    told = "" if answer.why is None else _settle(answer.why)
    return _("One measurement would settle most of it. {act}", act=told) if told else ""


def _settle(why: Advice) -> str:
    total = sum(one.value for one in why.knowing)
    if total <= 0:
        return ""
    shares = {one.input: one.value / total for one in why.knowing if one.input in INPUTS}
    best = best_measurement(shares)
    if best is not None:
        return in_words(best.measurement)
    name = max(shares, key=shares.__getitem__)
    return _("To know “{input}”.", input=_(INPUTS[name].label))


# ---- what else would help ------------------------------------------------------------------------


def helps_of(answer: WhenToReduce, system: str) -> TextTable | None:
    """What else would help, best first; None where it was not worked out."""
    helps = answer.remedies
    if helps is None:
        return None
    if answer.limit == "misses" or helps.state == "nothing_helps":
        says = _("Switching alone is not enough: no rule meets what you allow.")
    elif helps.state == "nothing_needed":
        says = _("Nothing is needed: always full meets what you allow.")
    else:
        says = _("Switching is enough; these would spare some of it.")
    rows = tuple(
        (
            _remedy(row, system),
            order_of(row.rule, answer.crew_terms, system),
            damp_percent(row.left_damp_share, answer.wish),
            _signed(-row.spared),
            _signed(row.gained),
            _signed(row.net, dollars),
            _("yes") if row.keeps else _("no"),
        )
        for row in helps.rows
    )
    heads = (
        _("With"), _("Best rule then"), _("Leave damp"), _("Cars leaving damp"), _("Full wipes"),
        _("Cost of the day"), _("Meets your wish"),
    )  # fmt: skip
    return TextTable(says, heads, rows)


def help_line(answer: WhenToReduce, system: str) -> str:
    """The remedy that gains most, in a line; empty where none gains anything."""
    rows = answer.remedies.rows if answer.remedies is not None else ()
    best = min(rows, key=lambda row: row.net, default=None)
    if best is None or round(best.net) >= 0:
        return ""
    return _(
        "{remedy}: the day costs {money} less.",
        remedy=_remedy(best, system),
        money=dollars(_rounded(-best.net)),
    )


def usable(answer: WhenToReduce, system: str) -> list[tuple[int, str]]:
    """Remedies that a plan can have, by their place, and what each is called."""
    rows = answer.remedies.rows if answer.remedies is not None else ()
    return [(at, _remedy(row, system)) for at, row in enumerate(rows) if row.kind != "fewer_cars"]


def _remedy(row: Remedy, system: str) -> str:
    if row.kind == "slower_belt":
        return _("Belt at {speed}", speed=amount(row.amount, "speed", system, 2))
    if row.kind == "faster_idle":
        return _("Wheel idling at {speed}", speed=amount(row.amount, "rotation", system, 2))
    if row.kind == "dry_set":
        time, took = show_clock(row.amount), whole(row.minutes)
        return _("A dry set at {time}, {minutes} min", time=time, minutes=took)
    if row.kind == "drying_agent":
        sentence = "A drying agent that leaves {share} of the film, a guess"
        return _(sentence, share=percent(row.amount))
    if row.kind == "second_cloth":
        return _("The second kind of cloth")
    if row.kind == "fewer_cars":
        return _("{share} of the cars turned away", share=percent(row.amount))
    return _n("One finisher more", "{count} finishers more", round(row.amount))


# ---- other days ----------------------------------------------------------------------------------


def moves_of(answer: WhenToReduce, system: str) -> TextTable | None:
    """The plan for days that are a little different; None where it was not worked out."""
    if not answer.moves:
        return None
    rows = tuple(_move(answer, one, system) for one in answer.moves)
    same = all(one.same for one in answer.moves)
    says = (
        _("The same rule on all of them.")
        if same
        else _("Each is the best of some hundred rules near the advised one and far from it.")
    )
    heads = (_("Day"), _("Highest"), _("Humidity"), _("Cars"), _("Rule"), _("Leave damp"))
    return TextTable(says, heads, rows)


def _move(answer: WhenToReduce, one: MovedPlan, system: str) -> tuple[str, ...]:
    act = act_words(one.rule, answer.crew_terms, system)
    return (
        _(WAYS[one.way]),
        degrees(one.highest_temp_c, system),
        percent(one.humidity),
        whole(_rounded(one.cars)),
        act if one.keeps else _("{act} (misses your wish)", act=act),
        damp_percent(one.left_damp_share, answer.wish),
    )


def tipping_of(tipping: Tipping, system: str) -> TextTable:
    """Up to which weather and how many cars always full is enough: a sentence, and a table of cars
    by temperature."""
    heads = (_("Cars"), *(degrees(temp, system) for temp in tipping.highest_temp_c))
    columns = (tipping.cars, tipping.demands, tipping.humidity, tipping.not_from)
    rows = tuple(
        (
            _cars_words(cars, demand),
            *(_humidity(*ends, tipping) for ends in zip(enough, not_from, strict=True)),
        )
        for cars, demand, enough, not_from in zip(*columns, strict=True)
    )
    return TextTable(_says(tipping, system), heads, rows)


def _cars_words(cars: float, demand: float) -> str:
    if demand == 1.0:
        return _("{cars}, as expected", cars=about(cars))
    share = percent(abs(demand - 1.0))
    if demand < 1.0:
        return _("{cars}, {share} fewer", cars=about(cars), share=share)
    return _("{cars}, {share} more", cars=about(cars), share=share)


def _humidity(value: float | None, missed: float | None, tipping: Tipping) -> str:
    """Up to which humidity it is enough; where more lies between that and the one at which it is
    surely not than the grid is fine, both, as what lies between is too close to tell."""
    if value is not None and value >= 1.0:
        return _("any")
    start = _("none") if value is None else _at_most(value)
    if missed is not None and missed - (value or 0.0) <= _step(tipping):
        return start
    end = _("any") if missed is None else percent(missed)
    return _("{low} to {high}?", low=start, high=end)


def _step(tipping: Tipping) -> float:
    """Two humidities nearer than this are neighbours on the grid, bisected to the end."""
    return max(0.04, tipping.least_humidity) + 1e-9


def _at_most(humidity: float) -> str:
    """Rounded down, so that it holds."""
    return percent(math.floor(100.0 * humidity + 1e-9) / 100.0)


def _says(tipping: Tipping, system: str) -> str:
    """The sentence for as many cars as expected; where no weather does, for fewer as well."""
    temps = tipping.highest_temp_c
    by_demand = dict(zip(tipping.demands, tipping.corners, strict=True))
    now = by_demand[1.0]
    if now is not None:
        return _corner(now, temps, system)
    never = _(
        "With as many cars as expected you need a switch in all weather looked at, from {low} to "
        "{high} and down to {humidity} humidity.",
        low=degrees(temps[0], system),
        high=degrees(temps[-1], system),
        humidity=percent(tipping.least_humidity),
    )
    fewer = [(demand, one) for demand, one in by_demand.items() if demand < 1.0 and one is not None]
    if not fewer:
        return never
    busiest, corner = max(fewer, key=lambda pair: pair[0])
    otherwise = _("With {share} fewer cars it is otherwise.", share=percent(1.0 - busiest))
    return f"{never} {otherwise} {_corner(corner, temps, system)}"


def _corner(corner: Corner, temps: tuple[float, ...], system: str) -> str:
    is_any, is_all = corner.humidity >= 1.0, corner.highest_temp_c <= temps[0]
    if is_any and is_all:
        sentence = "From {low} to {high} you need no switch, however humid it is."
    elif is_any:
        sentence = "Above {temp} you need no switch, however humid it is."
    elif is_all:
        sentence = "From {low} to {high} you need no switch at {humidity} humidity or less."
    else:
        sentence = "Above {temp} and below {humidity} humidity you need no switch."
    return _(
        sentence,
        low=degrees(temps[0], system),
        high=degrees(temps[-1], system),
        temp=degrees(corner.highest_temp_c, system),
        humidity=_at_most(corner.humidity),
    )

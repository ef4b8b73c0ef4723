"""Words of weighings: how many are in, what each said, and what they leave of a site's guesses."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from app.answers.beliefs import BeliefView, DayTaken
from app.answers.weighings import WeighingsEffect, WeighingsView, WorthView
from app.catalogue import _, _n, long_date, short_date
from app.words.numbers import about_dollars, minutes, of_twenty, percent, whole
from app.words.phrases import Statement, joined
from sim.decide.answer import Figure
from sim.inputs import (
    AFTERNOON,
    DAMP,
    EFFORT,
    HOODS,
    INPUTS,
    LET_PASS,
    SOAKED,
    SPIN,
    TELL,
    TOWEL,
    Weighing,
    all_told,
)
from sim.learn.answer import (
    CheckedWeighing,
    MeasurementWorth,
    Posterior,
    PosteriorShift,
    Three,
)
from sim.units import NBSP, format_number, quantity, show_clock

NAMES = {
    SOAKED: "A soaked strip",
    DAMP: "A strip when cars come out damp",
    AFTERNOON: "A strip on a busy afternoon",
    SPIN: "A spin test",
    TOWEL: "A towel test",
    HOODS: "Twenty hoods",
}
"""What measurements are called."""
FEW_FIT = 100
"""With a lower effective number the page says that the weighings are a tight fit."""


def answer(kinds: Collection[str], held: BeliefView | None) -> tuple[str, str]:
    """Which kinds of measurement are in, and what that means for plans."""
    if held is not None and held.result is not None and not held.result.fits:
        return (
            _("The weighings don’t fit the model."),
            _(
                "Plans lean towards what was weighed and counted all the same, with a wider range, "
                "and no advice is firm."
            ),
        )
    if not kinds:
        return (
            _("A few measurements make plans of this site surer."),
            _(
                "Those that would change your advice most stand first. Until something is in on "
                "how much the cloth holds, on what counts as damp and on how water leaves the "
                "wheel, plans rest on guesses."
            ),
        )
    one, many = "One kind of measurement is in.", "{count} kinds of measurement are in."
    said = _n(one, many, len(kinds))
    if all_told(kinds):
        return said, _("Every plan of this site uses them.")
    open_ = [words for of, words in zip(TELL, TOLD, strict=True) if of.isdisjoint(kinds)]
    return said, _(
        "Every plan of this site uses them. Until something is in on {what}, that is a guess.",
        what=joined([_(words) for words in open_]),
    )


TOLD = (
    "how much the cloth holds",
    "what counts as damp",
    "how water leaves the wheel",
)
"""What each of `sim.inputs.TELL` tells."""


def fit_words(told: Posterior) -> str:
    """How well drawn sites fit what was weighed, and how many that leaves."""
    said = _(
        "Of {size} sites drawn as yours might be, what was weighed leaves as many as {left} "
        "equally likely ones.",
        size=whole(told.belief.size),
        left=whole(told.belief.effective),
    )
    if not told.fits:
        unlike = _(
            "By now it is {strange} likely that your site is unlike those that were believed in; "
            "before, it was {before}.",
            strange=percent(min(0.99, told.strange)),
            before=percent(told.strange_before),
        )
        what_to_do = _(
            "Look below where found and expected part. Check the units, the dry weight, day and "
            "time, the cars so far, and how cars had been wiped; strike out a weighing that was "
            "wrong, or weigh once more on another day. If all are right, the model does not hold "
            "here."
        )
        return " ".join([unlike, said, what_to_do])
    if told.moves:
        moves = _(
            "What was measured more than four weeks before the rest counts less: by what old and "
            "new say of each other, your site moves by about {share} a year.",
            share=percent(told.moves),
        )
        said = f"{said} {moves}"
    if told.belief.effective < FEW_FIT:
        few = _(
            "That is few: the weighings lie at the edge of what was believed. Weigh once more "
            "where you are in doubt."
        )
        return f"{said} {few}"
    return said


def weighed_words(held: BeliefView | None) -> str:
    """What a plan says of the site's weighings; empty where there are none."""
    if held is None or not held.key:
        return ""
    if held.failed:
        return held.failed
    if held.result is None:
        return _("The weighings are being worked in; until that is done this plan is without them.")
    if not held.result.fits:
        return _(
            "The weighings don’t fit the model: this plan leans towards what was weighed and "
            "counted, with a wider range, and is not firm."
        )
    return ""


def waiting_words(view: WeighingsView, worth: WorthView | None = None) -> str:
    """What is being worked out; empty for nothing."""
    held = view.asked.plan.held
    if held.is_awaited:
        if held.running is None or not held.running.done:
            return _("The weighings are being worked in.")
        share = held.running.done / held.running.total
        return _("The weighings are being worked in: {share} is done.", share=percent(share))
    if view.key and view.result is None and not view.failed:
        return _("What they change on {day} is being worked out.", day=long_date(view.day))
    if worth is not None and worth.key and worth.result is None and not worth.failed:
        return _(
            "What each measurement would be worth on {day} is being worked out; until then they "
            "stand in no order.",
            day=long_date(worth.day),
        )
    return ""


# ---- what each would be worth --------------------------------------------------------------------


def worth_words(one: MeasurementWorth, day: date) -> str:
    """What a measurement would change in the advice of a day."""
    when = long_date(day)
    changes = of_twenty(one.changes)
    if not one.is_told:
        if not changes:
            return _("On {day} it would hardly change the advice at any site like yours.", day=when)
        return _(
            "On {day} it would change the advice at {changes} of 20 sites like yours; whether that "
            "saves anything can’t be told.",
            day=when,
            changes=changes,
        )
    worth = _(
        "On {day} it would be worth about {money}: at {changes} of 20 sites like yours it would "
        "change the advice.",
        day=when,
        money=about_dollars(one.money),
        changes=changes,
    )
    cars = round(abs(one.left_damp))
    if not cars:
        return worth
    one_car, many = (
        "In the mean 1 car fewer would leave damp.",
        ("In the mean {count} cars fewer would leave damp."),
    )
    if one.left_damp > 0.0:
        one_car, many = (
            "In the mean 1 car more would leave damp, for less cost.",
            ("In the mean {count} cars more would leave damp, for less cost."),
        )
    return f"{worth} {_n(one_car, many, cars)}"


def effort_words(kind: str) -> str:
    """Work and lock-outs that a measurement takes."""
    minutes_of, lock_outs = EFFORT[kind]
    if not lock_outs:
        return _("About {minutes} minutes of one person, no lock-out.", minutes=minutes_of)
    one = "About {minutes} minutes of one person, and 1 lock-out."
    many = "About {minutes} minutes of one person, and {count} lock-outs."
    return _n(one, many, lock_outs, minutes=minutes_of)


def stored_words(kind: str, count: int) -> str:
    """How many rows of a kind are in."""
    if kind == TOWEL:
        return _n("In: {count} hood.", "In: {count} hoods.", count)
    if kind == HOODS:
        return _n("In: {count} look.", "In: {count} looks.", count)
    return _n("In: {count} strip.", "In: {count} strips.", count)


# ---- what is stored ------------------------------------------------------------------------------


def strip_when(item: Weighing) -> str:
    """When something was measured: its day, and the time where that matters."""
    when = short_date(item.day)
    if item.kind in (SOAKED, TOWEL):
        return when
    return _("{day}, {time}", day=when, time=show_clock(item.at_s))


def strip_words(item: Weighing, system: str) -> tuple[str, str, str]:
    """A stored weighing: what it was, when, and what it says."""
    facts = [] if item.kind == HOODS else [weights_words(item, system)]
    if item.kind == HOODS:
        facts.append(_("of the last {cars} hoods {damp} damp", damp=item.damp_cars, cars=item.cars))
    elif item.cars and item.kind == TOWEL:
        facts.append(_("{back} of {cars} cars called back", back=item.damp_cars, cars=item.cars))
    elif item.cars:
        facts.append(_("{damp} of {cars} cars damp", damp=item.damp_cars, cars=item.cars))
    elif item.kind == DAMP:
        facts.append(_("cars not counted, so taken as half of them damp"))
    if item.kind in (AFTERNOON, HOODS) and item.rule != "full":
        facts.append(_("wiped “{rule}”", rule=item.rule))
    if item.cars_so_far:
        facts.append(_("{cars} cars washed so far", cars=whole(item.cars_so_far)))
    if item.weather:
        facts.append(_("weather {weather}", weather=item.weather))
    return _(NAMES[item.kind]), strip_when(item), "; ".join(facts)


def weights_words(item: Weighing, system: str) -> str:
    """What a strip or a towel weighed, and what that says."""
    wet, dry = (quantity(kg, "small_mass", 3).show(system) for kg in (item.weight_kg, item.dry_kg))
    if item.kind == TOWEL:
        gain = quantity(item.gain_kg, "small_mass", 3).show(system)
        if item.verdict == LET_PASS:
            return _("{gain} of water on a hood that would pass", gain=gain)
        return _("{gain} of water on a hood that would be called back", gain=gain)
    if item.kind == SPIN:
        return _(
            "{before} of its own weight in water, {after} after {time} of idling",
            before=percent(item.moisture_kg_kg),
            after=percent(item.after_kg_kg),
            time=minutes(item.spun_s),
        )
    return _(
        "{wet} wet, {dry} dry: {water} of its own weight in water",
        wet=wet,
        dry=dry,
        water=percent(item.moisture_kg_kg),
    )


def day_taken_words(day: DayTaken) -> str:
    """What a weighed day is taken to have been, and what would make it surer."""
    when, cars = long_date(day.day), day.cars
    if cars.known == "nothing":
        return _(
            "Of the cars of {day} nothing is known: it is taken as anything like days were, give "
            "or take {spread}. Bring in its counts, or strike the weighing out and enter it again "
            "with the cars washed so far.",
            day=when,
            spread=percent(day.total_cv),
        )
    more = round(100 * (cars.seen / cars.expected - 1)) if cars.expected > 0.0 else None
    alone, alike, above, below = COUNTED if cars.known == "counts" else NOTED
    text = alone if more is None else alike if more == 0 else above if more > 0 else below
    return _(
        text,
        day=when,
        cars=whole(cars.seen),
        time=show_clock(60 * (cars.until_s // 60)),
        share=percent(abs(more or 0) / 100),
    )


COUNTED = (
    "{day}: {cars} cars counted until {time}.",
    "{day}: {cars} cars counted until {time}, as expected.",
    "{day}: {cars} cars counted until {time}, {share} more than expected.",
    "{day}: {cars} cars counted until {time}, {share} fewer than expected.",
)
NOTED = (
    "{day}: {cars} cars washed until {time}, as noted.",
    "{day}: {cars} cars washed until {time}, as noted, as expected.",
    "{day}: {cars} cars washed until {time}, as noted, {share} more than expected.",
    "{day}: {cars} cars washed until {time}, as noted, {share} fewer than expected.",
)
"""A weighed day alone, as many cars as expected, more of them, fewer."""


# ---- what it changed -----------------------------------------------------------------------------


def judged_rows(row: CheckedWeighing, system: str) -> list[tuple[str, str, str, str]]:
    """A measurement beside what was expected of it: the strip's water, the cars that were looked
    at, the water that a hood may keep."""
    item, rows = row.weighing, []
    what = _(NAMES[item.kind])
    if item.kind not in (SOAKED, TOWEL):
        what = _("{what}, {when}", what=what, when=strip_when(item))
    if row.moisture_before is not None and row.moisture_after is not None:
        name, water = _("{what}: water, of its own weight", what=what), item.moisture_kg_kg
        if item.kind == SPIN:
            water = item.after_kg_kg
            name = _(
                "{what}: water after {time}, from {before}",
                what=what,
                time=minutes(item.spun_s),
                before=percent(item.moisture_kg_kg, fine=True),
            )
        waters = _middle(row.moisture_before), _middle(row.moisture_after)
        rows.append((name, percent(water, fine=True), *waters))
    if row.limit_before is not None and row.limit_after is not None:
        name = _("{what}: water that may stay on a hood", what=what)
        limits = _kept(row.limit_before, system), _kept(row.limit_after, system)
        between = row.limit_found
        said = "–" if between is None else quantity(between, "small_mass", 2).show(system)
        rows.append((name, said, *limits))
    if row.share_before is not None and row.share_after is not None:
        found = _(
            "{damp} of {cars}, {share}",
            damp=item.damp_cars,
            cars=item.cars,
            share=percent(item.damp_cars / item.cars, fine=True),
        )
        shares = _middle(row.share_before), _middle(row.share_after)
        rows.append((_("{what}: damp cars", what=what), found, *shares))
    return rows


def _kept(values: Three, system: str) -> str:
    """The middle of weights and where it lies."""
    low, middle, high = (quantity(kg, "small_mass", 2).show(system) for kg in values)
    if low == high:  # a site that entered it draws none
        return middle
    return _("{middle} ({low}–{high})", middle=middle, low=low, high=high)


def _middle(values: Three) -> str:
    """The middle of shares and where it lies; less than a car in a thousand is none."""
    low, middle, high = (round(value, 3) for value in values)
    return f"{percent(middle, fine=True)} ({_between(low, high)})"


def _between(low: float, high: float) -> str:
    """From one share to another, the sign said once."""
    return f"{percent(low, fine=True).removesuffix(f'{NBSP}%')}–{percent(high, fine=True)}"


def input_row(row: PosteriorShift, system: str) -> tuple[str, str, str]:
    """An input, and what was believed of it before and after."""
    entry = INPUTS[row.name]
    symbol = _(entry.unit.symbol(system))
    said = []
    for values in (row.before, row.after):
        low, middle, high = (format_number(entry.unit.to_edge(v, system), 2) for v in values)
        ends = _("{middle} ({low}–{high})", middle=middle, low=low, high=high)
        said.append(f"{ends}{NBSP}{symbol}" if symbol else ends)
    before, after = said
    return _(entry.label), before, after


def effect_words(found: WeighingsEffect) -> tuple[Statement, tuple[tuple[str, str, str], ...]]:
    """What the weighings change of damp cars on the busiest coming day and by how much the range is
    narrower; and the answer without and with them, a row each."""
    lead = _(
        "Cars that leave damp on {day}, “{scenario}”.",
        day=long_date(found.day),
        scenario=found.scenario,
    )
    cases = ((_("Before"), found.before), (_("With the weighings"), found.after))
    rows = tuple((name, percent(one.value, fine=True), _ends(one)) for name, one in cases)
    ranges = found.before.site_uncertainty, found.after.site_uncertainty
    if ranges[0] is None or ranges[1] is None or ranges[0].width <= 0.0:
        return Statement(lead, ""), rows
    less = round(100 * (1 - ranges[1].width / ranges[0].width))
    narrower = _("The range is as wide as before.")
    if less > 0:
        narrower = _("The range is {share} narrower.", share=percent(less / 100))
    elif less < 0:
        narrower = _(
            "The range is {share} wider: your cloth lies where damp cars depend more on what is "
            "not known.",
            share=percent(-less / 100),
        )
    return Statement(lead, narrower), rows


def _ends(one: Figure) -> str:
    ends = one.site_uncertainty
    return percent(None) if ends is None else _between(ends.low, ends.high)

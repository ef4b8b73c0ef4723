"""The rule in cues that the crew can see: which to use, what each loses, how it was simulated; and
the same as lines of the day sheet."""

from __future__ import annotations

from dataclasses import dataclass

from app.catalogue import _
from app.words.beside import Apart, apart_of, more_words, told_as
from app.words.figures import cells_of, row_step
from app.words.numbers import amount, dollars, percent, plain_number, whole
from app.words.rules import (
    act_words,
    cue_of,
    order_of,
    readings,
    turns,
    windows_of,
    wish_words,
)
from app.words.switching import no_cue_words, stay_words
from app.words.why import changes_words
from sim.day.figures import FIGURES
from sim.decide.answer import Comparison
from sim.decide.switching.answer import (
    CrewClock,
    CrewTerms,
    CueFound,
    CueKind,
    Cues,
    Gain,
    Rule,
    RuleMeans,
    Unit,
    WhenToReduce,
    Wish,
)
from sim.inputs import Site
from sim.units import NBSP, format_number, show_clock

NAMES: dict[CueKind, str] = {
    "clock": "Clock",
    "cars": "Cars washed in the last hour",
    "hoods": "Damp hoods among the last twenty",
    "strip": "Weight of one strip",
}
BY: dict[CueKind, str] = {
    "clock": "Go by the clock.",
    "cars": "Go by the cars washed in the last hour.",
    "hoods": "Go by the damp hoods among the last twenty.",
    "strip": "Go by the weight of one strip.",
}
LOSSES: dict[Unit, str] = {
    "money": "A loss counts everything a day costs.",
    "left_damp": "No rule meets what is wanted, so a loss counts cars leaving damp.",
    "full_cars": (
        "A loss counts cars fully wiped, with damp cars at the price at which the wish just asks "
        "for the advice."
    ),
}


@dataclass(frozen=True, slots=True)
class CuePart:
    """The part of the page.

    Attributes:
        lead, says: which cue to use, what it loses and why it is that one.
        heads, rows: the table; without rows there is none.
        how: how the cues were simulated, a sentence each.
    """

    lead: str
    says: str
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    how: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetCue:
    """A line of the day sheet: what to look at, when to reduce, when to go back, and a note."""

    name: str
    reduce: str
    back: str
    note: str


def cues_of(answer: WhenToReduce, system: str) -> CuePart | None:
    """The part; None where cues were not looked for."""
    cues = answer.cues
    if cues is None:
        return _without(answer.chosen)
    if not cues.found:
        says = _("On the simulated days too few switches were seen to read thresholds off them.")
        return CuePart(_("No cue was found."), says)
    limit = () if answer.wish.kind == "cost" else (_("Meets the limit"),)
    heads = (
        _("Cue"), _("Reduce"), _("Go back"), _("Leave damp"), *limit, _("Wiped in full"),
        _("Cost of the day"), _("Of it for looks"), _("Loss to the advice"),
        _("Loss to the ideal band"),
    )  # fmt: skip
    rows = [_cue_row(answer, cues, one, system) for one in cues.found]
    rows.append(_ideal_row(_("The advice, done to the letter"), answer, cues, cues.chosen))
    constant = order_of(cues.constant.rule, answer.crew_terms, system)
    rows.append(_ideal_row(constant, answer, cues, cues.constant))
    if cues.band is not None and cues.band.rule != cues.chosen.rule:
        rows.append(_ideal_row(_("The ideal band, which nobody sees"), answer, cues, cues.band))
    if cues.used is not None:
        lead, says = _(BY[cues.used.kind]), _use_says(answer, cues, cues.used, system)
    else:
        lead = act_words(cues.constant.rule, answer.crew_terms, system)
        says = _stay_says(answer, cues, system)
    return CuePart(lead, says, heads, tuple(rows), _how(cues, answer.wish))


def _without(rule: Rule) -> CuePart | None:
    """Why there is no cue; None for a rule that has moments to see, but was not looked into."""
    kinds = {term.kind for row in rule.either for term in row}
    if kinds & {"clock", "band"}:
        return None
    if cue_of(rule) is not None:
        says = _("It was simulated as the crew carries it out, everywhere on this page.")
        return CuePart(_("The advice is in a cue already."), says)
    says = _("The advice does not change during the day, so there is no moment to see.")
    return CuePart(_("No cue is needed."), says)


# ---- what is said --------------------------------------------------------------------------------


def _use_says(answer: WhenToReduce, cues: Cues, one: CueFound, system: str) -> str:
    """What to do by the cue to use, what that loses and gains, and why it is that one."""
    lost = _(
        "Carried out by the crew it loses {loss} against the advice done to the letter.",
        loss=_loss_words(one.to_chosen, cues.unit),
    )
    gained = _(
        "Over “{act}” it makes {changes} a day.",
        act=order_of(cues.constant.rule, answer.crew_terms, system),
        changes=changes_words(one.over_constant.gains, apart=_over_constant(answer, cues, one)),
    )
    order, price = act_words(one.rule, answer.crew_terms, system), _price_words(one)
    parts = [order, lost, gained, price, _rank(answer, cues, one)]
    return " ".join(part for part in parts if part)


def _price_words(one: CueFound) -> str:
    """What reading a cue costs, and what it would save if that were free."""
    if one.looks_s <= 0.0:
        return _("It costs nothing to read.")
    return _(
        "Reading it takes {time} of a person a day and costs {cost}, which is counted; with looks "
        "for nothing it would save {saves}.",
        time=_minutes(one.looks_s),
        cost=dollars(one.reading),
        saves=dollars(one.saves),
    )


def _rank(answer: WhenToReduce, cues: Cues, one: CueFound) -> str:
    """How the cue to use stands among the others."""
    wish, others = answer.wish, [other for other in cues.found if other is not one]
    if not one.keeps and wish.kind != "cost":
        if one.nearly:
            return _("It misses {wish}, but by less than matters.", wish=wish_words(wish))
        return no_cue_words(wish)
    if not others:
        return ""
    if all(other.keeps for other in others):
        return _("Of the cues that are worth their looks it costs least.")
    return _(
        "Of the cues that meet {wish} and are worth their looks it costs least.",
        wish=wish_words(wish),
    )


def _stay_says(answer: WhenToReduce, cues: Cues, system: str) -> str:
    """Why no cue is used, and what the best of them would gain."""
    best = _ranked(cues)[0]
    gained = _(
        "The best of them, {cue}, makes {changes} a day.",
        cue=_(NAMES[best.kind]).lower(),
        changes=changes_words(best.over_constant.gains, apart=_over_constant(answer, cues, best)),
    )
    parts = [stay_words(answer, system), gained]
    parts += [
        _(
            "{cue} would cost {reading} a day to read and save {saves}: less than its looks.",
            cue=_(NAMES[one.kind]),
            reading=dollars(one.reading),
            saves=dollars(max(0.0, one.saves)),
        )
        for one in cues.found
        if not one.pays
    ]
    return " ".join(parts)


def _ranked(cues: Cues) -> list[CueFound]:
    """The cue to use first, then by what they cost, those that meet the wish before others."""
    found = sorted(cues.found, key=lambda one: (not one.keeps, one.cost))
    return sorted(found, key=lambda one: one is not cues.used)


def _loss_words(loss: Gain, unit: Unit) -> str:
    """A loss a day in words, with its run error where it is sure that there is one."""
    error = loss.run_error
    if error is None or error.low <= 0.0:
        return _("nothing that the simulated days could tell")
    value, low, high = (_amount(one, unit) for one in (loss.value, error.low, error.high))
    if unit == "money":
        sentence = "{value} a day ({low} to {high})"
    elif unit == "left_damp":
        sentence = "{value} more cars leaving damp a day ({low} to {high})"
    else:
        sentence = "the worth of {value} full wipes a day ({low} to {high})"
    return _(sentence, value=value, low=low, high=high)


def _amount(value: float, unit: Unit) -> str:
    return dollars(value) if unit == "money" else whole(value)


def _how(cues: Cues, wish: Wish) -> tuple[str, ...]:
    crew = cues.crew
    told = [
        _(
            "Each cue was simulated as a rule of its own, on {days} days that the choice did not "
            "see, carried out as by a crew: it acts {median} after the cue (median), counts cars "
            "every {count} and is off by {miscount} at that, looks at twenty hoods every {look} "
            "and tells {wrong} of them wrongly, weighs a strip every {weigh} and is off by {error} "
            "of its water. All of that is guessed until you enter yours.",
            days=whole(cues.days),
            median=_minutes(crew.delay_median_s),
            count=_every(crew.count_every_s),
            miscount=percent(crew.count_log_sd),
            look=_every(crew.hoods_every_s),
            wrong=percent(crew.hood_misjudged_share),
            weigh=_every(crew.weigh_every_s),
            error=percent(crew.weigh_log_sd),
        ),
        _(
            "A count takes {count} of a person, twenty hoods {hoods}, a weighing {weighing}, at "
            "the wage, whatever else there is to do; for a weighing the belt stands as well, wheel "
            "locked out, unless no car has been at the wheel for as long. No cue is advised that "
            "costs more to read than it saves, nor one that does not beat what needs no cue: "
            "wiping alike all day, or sparing some classes of car.",
            count=_minutes(crew.count_takes_s),
            hoods=_minutes(crew.hoods_take_s),
            weighing=_minutes(crew.weighing_takes_s),
        ),
        _(
            "The two numbers of a cue lie so far apart that a crew can tell them: two standard "
            "deviations of a look at least, in fives of cars, whole hoods and steps of a scale."
        ),
        _(
            "The advice and the ideal band act at once and know the saturation. A weight tells it "
            "only as well as the holding capacity is known; weighing a soaked strip makes it "
            "better."
        ),
        _(LOSSES[cues.unit]),
    ]
    if wish.kind == "days":
        told.append(
            _(
                "Whether a rule meets the limit is told by its single days; the share that "
                "leaves damp is their mean, and may lie on the other side of the limit."
            )
        )
    return tuple(told)


def _every(seconds: float) -> str:
    return _("car") if seconds <= 0.0 else _minutes(seconds)


def _minutes(seconds: float) -> str:
    return amount(seconds, "minutes_from_s", "si")


# ---- the table -----------------------------------------------------------------------------------


def _cue_row(answer: WhenToReduce, cues: Cues, one: CueFound, system: str) -> tuple[str, ...]:
    to_band = "" if one.to_band is None else _amount(one.to_band.value, cues.unit)
    money = (dollars(one.reading), _amount(one.to_chosen.value, cues.unit), to_band)
    moments = _moments(one.rule, answer.crew_terms, system)
    return (_(NAMES[one.kind]), *moments, *_figures(answer, cues, one), *money)


def _ideal_row(name: str, answer: WhenToReduce, cues: Cues, one: RuleMeans) -> tuple[str, ...]:
    return (name, "", "", *_figures(answer, cues, one), "", "", "")


def _figures(answer: WhenToReduce, cues: Cues, one: RuleMeans) -> tuple[str, ...]:
    """What a rule makes of a day, its cost beside that of the advice, and by any limit whether it
    meets it."""
    wish, day = answer.wish, answer.comparison
    rest = (whole(one.full_cars), _cost(answer, cues, one))
    damp = told_as(day, one.rule.text, "left_damp_share", one.left_damp_share)
    if wish.kind == "cost":
        return (damp, *rest)
    if wish.kind == "mean" and not _is_on_its_side(day, one.left_damp_share, wish):
        damp = side_percent(one.left_damp_share, wish.allowed_damp_share)
    return (damp, _kept(one), *rest)


def _is_on_its_side(day: Comparison, share: float, wish: Wish) -> bool:
    """Whether a share, as the comparison prints it, is on the side of the limit where it lies."""
    step, limit = row_step(FIGURES["left_damp_share"], day, "si"), wish.allowed_damp_share
    return (round(100.0 * share / step) * step <= 100.0 * limit + 1e-9) == (share <= limit)


def _cost(answer: WhenToReduce, cues: Cues, one: RuleMeans) -> str:
    """The cost of the advice as its comparison prints it, and of others by how much it is more."""
    if one is cues.chosen:
        return told_as(answer.comparison, one.rule.text, "cost", one.cost)
    more, step = one.cost - cues.chosen.cost, 1.0
    both = apart_of(answer.comparison, one.rule.text, cues.chosen.rule.text)
    more, step = both.get("cost", (more, step))
    return more_words("cost", more, step)


def _over_constant(answer: WhenToReduce, cues: Cues, one: CueFound) -> Apart:
    """By how much more a cue's rule makes of a day than what needs no cue, as the table has it."""
    found = {}
    both = apart_of(answer.comparison, cues.chosen.rule.text, cues.constant.rule.text)
    for name, (apart, step) in both.items():
        more = getattr(one, name) - getattr(cues.chosen, name)
        found[name] = apart + step * round(more / step), step
    return found


def _kept(one: RuleMeans) -> str:
    if one.keeps:
        return _("yes")
    if one.restless:
        return _("no, it switches too often or too soon")
    return _("nearly, it misses it by less than matters") if one.nearly else _("no")


MOST_DIGITS = 4


def side_percent(share: float, limit: float) -> str:
    """A share in percent with as many decimals as show on which side of a limit it is."""
    first = 1 if share < 0.1 else 0
    for digits in range(first, MOST_DIGITS):
        if (round(100.0 * share, digits) <= 100.0 * limit) == (share <= limit):
            text = plain_number(100.0 * share, digits)
            return percent(share, fine=True) if digits == first else f"{text}{NBSP}%"
    return _("just over {limit}", limit=percent(limit, fine=True))


def _moments(rule: Rule, terms: CrewTerms, system: str) -> tuple[str, str]:
    """When to reduce by the cue of a rule, and when to go back."""
    cue = cue_of(rule)
    if cue is None:
        return "", ""
    if not isinstance(cue, CrewClock):
        return readings(cue, terms, system)
    times = turns(cue.windows, terms)
    return "; ".join(start for start, _end in times), "; ".join(end for _start, end in times)


# ---- the day sheet -------------------------------------------------------------------------------


def sheet_cues(answer: WhenToReduce, site: Site, system: str) -> tuple[SheetCue, ...]:
    """What the crew can see, the cue to use first; weights, never percentages. Empty where nothing
    is to be switched."""
    cues, rule = answer.cues, answer.chosen
    if rule.everyone or not rule.either or answer.stay is not None:
        return ()
    least = _(
        "{minutes} minutes at least between two switches.",
        minutes=format_number(site.wishes.least_between_switches_min),
    )
    if cues is None or cues.used is None:
        return _as_expected(answer, least, system)
    rows = []
    for one in (one for one in _ranked(cues) if one.gains):
        is_first = one is cues.used
        notes = [_("Go by this. {least}", least=least) if is_first else _("If that fails.")]
        if one.kind == "strip":
            every = _every(cues.crew.weigh_every_s)
            notes.append(_("Weigh every {every}, wheel stopped and locked out.", every=every))
        if one.kind == "hoods":
            every = _every(cues.crew.hoods_every_s)
            notes.append(_("Look at the last twenty hoods every {every}.", every=every))
        if one.kind == "cars":
            notes.append(_("Count every {every}.", every=_every(cues.crew.count_every_s)))
        moments = _moments(one.rule, answer.crew_terms, system)
        rows.append(SheetCue(_(NAMES[one.kind]), *moments, " ".join(notes)))
    return tuple(rows)


def _as_expected(answer: WhenToReduce, least: str, system: str) -> tuple[SheetCue, ...]:
    """The chosen rule where no cue was looked for: clock times, or a strip's weights with the times
    at which they are expected."""
    rule, terms, bands = answer.chosen, answer.crew_terms, answer.chosen.bands
    rows = [SheetCue(_("Clock"), *ends, least) for ends in turns(windows_of(rule), terms)]
    for spell in answer.half_hours.reduced if bands else ():
        start, end = (_("about {time}", time=show_clock(at)) for at in spell)
        rows.append(SheetCue(_("Clock"), start, end, _("As expected; the strip decides.")))
    for band in bands:
        up, down = (_("at {weight}", weight=one) for one in readings(band, terms, system))
        note = _("Wheel stopped and locked out. {least}", least=least)
        rows.append(SheetCue(_("Weight of one strip"), up, down, note))
    return tuple(rows)


EXPECTED = {
    (False, False): "Expected: {damp} of cars leave damp.",
    (False, True): "Expected as the crew carries it out: {damp} of cars leave damp.",
    (True, False): "Expected: {damp} of cars leave damp ({range} at 9 of 10 sites like this).",
    (True, True): (
        "Expected as the crew carries it out: {damp} of cars leave damp ({range} at 9 of 10 sites "
        "like this)."
    ),
}
"""Damp cars of a day: with where they may lie at a site, and by a cue."""


def expected_damp(answer: WhenToReduce) -> str:
    """How many cars are expected to leave damp, as tables print it; empty where that is not
    known."""
    comparison, at = answer.comparison, answer.columns.told
    damp = comparison.columns[at].value("left_damp_share")
    if damp is None:
        return ""
    cell = cells_of(FIGURES["left_damp_share"], comparison, "si")[at]
    is_seen = bool(cell.value.strip("0."))
    return _(
        EXPECTED[bool(cell.site), cue_of(answer.told) is not None],
        damp=f"{cell.value}{NBSP}%" if is_seen else percent(damp, fine=True),
        range=f"{cell.site}{NBSP}%",
    )


EARLIER = {
    (True, True): (
        "If you have washed {cars} cars in the last hour, or a strip weighs {weight}: reduce "
        "earlier than the clock says."
    ),
    (True, False): (
        "If you have washed {cars} cars in the last hour: reduce earlier than the clock says."
    ),
    (False, True): "If a strip weighs {weight}: reduce earlier than the clock says.",
}
"""What tells before the clock does, by what there are thresholds of: cars, and a strip's weight."""


def earlier_words(answer: WhenToReduce, system: str) -> str:
    """What tells before the clock does to reduce earlier; empty where the clock is not used."""
    if answer.cues is None or answer.cues.use != "clock":
        return ""
    signs = {}
    for one in answer.cues.found:
        cue = cue_of(one.rule)
        if one.gains and cue is not None and not isinstance(cue, CrewClock):
            signs[one.kind] = readings(cue, answer.crew_terms, system)[0]
    cars, weight = signs.get("cars", ""), signs.get("strip", "")
    sentence = EARLIER.get((bool(cars), bool(weight)), "")
    return _(sentence, cars=cars, weight=weight) if sentence else ""

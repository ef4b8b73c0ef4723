"""The sentence that answers a plan, built from its figures, and how sure it is: at how many sites
like this one it holds, and why not more."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from app.catalogue import _, long_date
from app.sites.measurements import best_measurement, in_words
from app.sites.rule_forms import parts_of, words_of
from app.words.figures import cells_of
from app.words.numbers import (
    amount,
    of_twenty,
    one_beside,
    one_in,
    percent,
    share_words,
    whole,
)
from app.words.phrases import Statement, joined
from sim.day.figures import FIGURES
from sim.decide.answer import (
    LEAST_SITES,
    MOST_BETTERED,
    MOST_LOSING,
    Column,
    Comparison,
    Opening,
    Standing,
    Widener,
)
from sim.inputs import INPUTS, LEVEL, MISFIT, TELL, TOGETHER
from sim.units import MINUS, NBSP

SOURCES = {
    "weighing": "a weighing",
    "hung_dry": "a dry set hung in the morning",
    "put_on_dry": "a set put on dry; no day before it",
    "evening": "the evening before, simulated",
    "followed": "the evening before, as its log has it",
}
LEAVING: dict[tuple[bool, bool, bool], str] = {
    (False, False, False): "{cars} leaves damp.",
    (False, True, False): "{cars} leaves damp instead of {before}.",
    (False, False, True): "{cars} leaves damp, and {share} are still wiped in full.",
    (False, True, True): "{cars} leaves damp instead of {before}, and {share} are still wiped in "
    "full.",
    (True, False, False): "{cars} leave damp.",
    (True, True, False): "{cars} leave damp instead of {before}.",
    (True, False, True): "{cars} leave damp, and {share} are still wiped in full.",
    (True, True, True): "{cars} leave damp instead of {before}, and {share} are still wiped in "
    "full.",
}
"""How many cars leave damp: of several cars; beside how many before; with how many wiped in full.
"""


def answer_sentences(
    comparison: Comparison, given: Collection[str] = frozenset()
) -> tuple[Statement, Statement]:
    """The answer of a comparison, and how sure it is; `given` are the inputs that the site
    entered itself."""
    columns = comparison.columns
    arrived = columns[0].value("cars_arrived") or 0.0
    if arrived <= 0 and not any(comparison.conditions.arrivals_per_h):
        come = _("If cars do come, enter by how much more in the line above the columns.")
        none = Statement(_("Nothing to decide:"), _("no car is expected on this day."))
        return none, Statement("", come)
    if all((column.value("cars_washed") or 0.0) <= 0 for column in columns):
        helps = _("No wiping rule changes this; speed, spacing, pay lanes and loaders do.")
        return _all_lost(comparison), Statement(_("Look at the line first."), helps)
    return _answer(comparison), sure_words(comparison, comparison.best, given)


def _all_lost(comparison: Comparison) -> Statement:
    first = comparison.columns[0]
    impatient = first.value("cars_lost_impatient") or 0.0
    if impatient >= (first.value("cars_lost_full") or 0.0):
        sentence = "All {cars} leave because the wait is longer than they accept."
    else:
        sentence = "All {cars} find the stack full."
    return Statement(_("Not one car gets through."), _(sentence, cars=_lost(comparison, 0)))


def _answer(comparison: Comparison) -> Statement:
    columns, best = comparison.columns, comparison.best
    chosen, first = columns[best], columns[0]
    if len(columns) == 1:
        damp, more = _damp(chosen, None), _("Add a second scenario to compare it with.")
        return Statement(_("{name}:", name=chosen.name), f"{damp} {more}")
    says: list[str] = []
    told = ("margin", "left_damp_share", "cars_lost", "cars_washed")
    if best == 0 and not any(one.apart(name).matters for one in columns[1:] for name in told):
        says.append(_("No column differs from another by enough to matter."))
    is_drier = bool(best) and chosen.apart("left_damp_share").matters
    damp = _damp(chosen, first if is_drier else None)
    says.append(damp[:1].upper() + damp[1:])
    margin = chosen.apart("margin")
    earned = cells_of(FIGURES["margin"], comparison, "si")[best].difference
    earns = money_words(earned) if margin.is_strong else ""
    also = [earns, _missed(comparison, chosen), _lost_cars(comparison)]
    return Statement(_act(chosen, first, best), " ".join(says), " ".join(filter(None, also)))


def _act(chosen: Column, first: Column, best: int) -> str:
    """What to do, in a short sentence."""
    ours, theirs = chosen.scenario, first.scenario
    if best and (dict(ours.changes) != dict(theirs.changes) or ours.cloth != theirs.cloth):
        return _("Run the day as “{name}”.", name=chosen.name)
    return _rule_act(ours.rule, stays=best == 0)


def _rule_act(text: str, stays: bool) -> str:
    rule = parts_of(text)
    if rule.kind == "full":
        return _("Stay on full wiping all day.") if stays else _("Wipe in full all day.")
    if rule.kind == "reduced":
        return _("Stay on reduced wiping all day.") if stays else _("Reduce wiping all day.")
    if rule.kind == "clock":
        spans = [_("from {start} to {end}", start=start, end=end) for start, end in rule.spans]
        return _("Reduce wiping {spans}.", spans=joined(spans))
    if rule.kind == "band":
        sentence = (
            "Reduce wiping from {upper}{space}% saturation on, and go back at {lower}{space}%."
        )
        return _(sentence, upper=rule.upper, lower=rule.lower, space=NBSP)
    if rule.kind == "service":
        return _("Reduce wiping for all but cars sold the full wipe.")
    return _("Reduce wiping {when}.", when=words_of(text).removeprefix("Reduced "))


def _damp(chosen: Column, other: Column | None) -> str:
    """How many cars leave damp, instead of how many, and how many are still wiped in full."""
    share, full = chosen.value("left_damp_share"), chosen.value("full_share")
    if share is None:
        return _("no car is wiped.")
    before = None if other is None else other.value("left_damp_share")
    is_part = full is not None and 0.02 < full < 0.98
    cars, was = (one_in(share), "") if before is None else one_beside(share, before)
    several = max(share, before or 0.0) > 0.4 or 0.002 > share > 0
    sentence = LEAVING[several, before is not None, is_part]
    return _(sentence, cars=cars, before=was, share=share_words(full or 0.0))


def money_words(difference: str) -> str:
    """By how much a day earns more or less, from a difference as printed; empty without one."""
    money = difference.lstrip(f"+{MINUS}")
    if not money:
        return ""
    if difference.startswith(MINUS):
        return _("The day earns about {money} less.", money=money)
    return _("The day earns about {money} more.", money=money)


def _missed(comparison: Comparison, chosen: Column) -> str:
    """That no column meets the allowed share of cars leaving damp, where that is so."""
    damp, allowed = chosen.value("left_damp_share"), comparison.limits.allowed_damp_share
    if damp is None or damp <= allowed:
        return ""
    limit = amount(allowed, "share", "si")
    return _("No column here keeps cars leaving damp to the {limit} you allow.", limit=limit)


def _lost_cars(comparison: Comparison) -> str:
    """When cars are lost: how many, and what of the columns or of the line would help."""
    columns, chosen = comparison.columns, comparison.columns[comparison.best]
    lost = chosen.value("cars_lost") or 0.0
    if lost < max(1.0, 0.01 * (chosen.value("cars_arrived") or 0.0)):
        return ""
    said = _lost(comparison, comparison.best)
    each = [column.value("cars_lost") or 0.0 for column in columns]
    if min(each) < 0.7 * lost - 1:
        at, sentence = each.index(min(each)), "{lost} cars are lost; “{name}” would lose {fewest}."
        return _(sentence, lost=said, name=columns[at].name, fewest=_lost(comparison, at))
    sentence = (
        "{lost} cars are lost though the belt could take them: pay lanes or loading hold them up."
    )
    if max(comparison.conditions.arrivals_per_h) > comparison.limits.belt_capacity_per_h:
        sentence = (
            "{lost} cars are lost: more come than the belt takes, and only a faster belt or a "
            "closer spacing would help."
        )
    return _(sentence, lost=said)


def _lost(comparison: Comparison, at: int) -> str:
    """Cars lost in a column, as the table prints them."""
    return cells_of(FIGURES["cars_lost"], comparison, "si")[at].value


def opening_words(opening: Opening) -> str:
    """Where the moisture of the cloth at opening comes from."""
    if opening.evening is not None:
        day = long_date(opening.evening)
        if opening.source == "followed":
            return _("the cloth of {day} as followed by its log, and the night after it", day=day)
        return _("{day}, simulated, and the night after it", day=day)
    return _(SOURCES[opening.source])


# ---- how sure ------------------------------------------------------------------------------------

WEIGHED = (
    ("holding_capacity_kg_kg",),
    ("allowed_film_kg_m2", "damp_limit_saturation"),
    ("throw_off_moisture_kg_kg",),
)
"""What each of `TELL` tells. Until each was measured, or the site entered what it tells, these are
guesses, and it is said so."""

TURNS_ON: dict[str, tuple[str, tuple[str, ...]]] = {
    "money": (
        "Money here turns on guesses until you enter yours: {inputs}.",
        (
            "price_per_car", "wage_per_h", "damp_cost", "member_margin_year",
            "member_leave_per_damp",
        ),
    ),
    "cloth": (
        "The age at which a set is changed turns on guesses until you enter yours: {inputs}.",
        ("film_after_rinse_kg_m2", "blower_removal"),
    ),
    "laundry": (
        "The days between launderings turn on guesses until you enter yours: {inputs}.",
        ("film_after_rinse_kg_m2", "blower_removal"),
    ),
    "season": (
        "Dates and money of the season turn on guesses until you enter yours: {inputs}.",
        ("film_after_rinse_kg_m2", "blower_removal", "member_leave_per_damp", "reduced_cost"),
    ),
    "staff": (
        "Who is needed turns on guesses until you enter yours: {inputs}.",
        (
            "prep_work_s", "exit_work_s", "fixed_work_min_per_h", "load_mean_s",
            "second_loader_factor", "allowed_wait_p90_s", "finish_area_s_m2", "finish_film_s_kg",
            "film_after_rinse_kg_m2", "blower_removal", "film_factor_windshield", "wipe_time_s",
            "throw_off_time_s", "conveyor_speed_m_s", "car_spacing_m",
        ),
    ),
    "roster": (
        "The roster turns on guesses until you enter yours: {inputs}.",
        (
            "longest_shift_h", "break_h", "most_h_week", "overtime_after_h", "overtime_factor",
            "rest_h", "most_days_week", "most_weekend_days",
        ),
    ),
    "setting": (
        "Which setting is best turns on guesses until you enter yours: {inputs}.",
        (
            "film_after_rinse_kg_m2", "blower_removal", "blower_speed_exponent", "film_cv",
            "contact_speed_rev_s", "throw_off_time_s", "allowed_lost_cars",
        ),
    ),
}  # fmt: skip
"""Of what is told on a page: that it turns on guesses, and which move it by more than its own range
or change what is advised."""

WIDENED = {
    "left_damp_share": "cars leaving damp",
    "margin": "the margin",
    "cars_lost": "lost cars",
}
"""Figures of which it is told what widens them, the first that isn't certain."""
TOLD = 3
"""Inputs that are told of a figure."""
FEWEST_WORTH_SAYING = 0.05
"""A measurement that narrows a range by less is not worth naming."""


@dataclass(frozen=True, slots=True)
class Narrow:
    """What widens the answer most, and what would narrow it.

    Attributes:
        wide: the inputs that widen it most, in a sentence.
        act: the one measurement that would narrow it most; empty where none would.
        field: the input to enter the result of it in, and `label` what that is called.
    """

    wide: str
    act: str = ""
    field: str = ""
    label: str = ""


def sure_words(
    comparison: Comparison, best: int, given: Collection[str] = frozenset()
) -> Statement:
    """How sure the advice of the column `best` is; `given` are the inputs that the site entered
    itself."""
    if not comparison.sites:
        return Statement(_("Not firm yet."), _of_days(comparison, best))
    unweighed = unweighed_words(comparison.weighed, given)
    if len(comparison.columns) < 2:
        alone = _("There is no second column to hold it against.")
        return Statement(_("Not firm yet."), " ".join(filter(None, (alone, unweighed))))
    rival = comparison.rival(best)
    name = "" if rival is None else comparison.columns[rival[0]].name
    said = firm_words(rival and rival[1], name, comparison.weighed)
    parts = (said.rest, _of_sites(comparison, best), unweighed)
    return Statement(said.lead, " ".join(filter(None, parts)))


def firm_words(standing: Standing | None, rival: str, told: Collection[str]) -> Statement:
    """Whether an advice is firm, and if not, what is open: the one sentence of it everywhere.

    Args:
        standing: against the rival that leaves it least firm; None where no site was drawn.
        rival: what that is called.
        told: the kinds of weighing that were used, and `sim.inputs.MISFIT`.
    """
    if MISFIT in told:
        sentence = "Not firm: | what was weighed does not fit the model."
        return led(_(sentence))
    if standing is None:
        sentence = (
            "Not firm: | what nobody has measured here stands at its middle value, and a site may "
            "lie far from it."
        )
        return led(_(sentence))
    if standing.sites < LEAST_SITES:
        sentence = (
            "Not firm: | too few sites like yours were drawn to tell, and what nobody has measured "
            "stands at its middle value."
        )
        return led(_(sentence))
    if standing.is_firm:
        sentence = (
            "Firm. | At {count} of 20 sites like yours nothing it was held against is better by "
            "enough to matter; {sites} were drawn."
        )
        count = of_twenty(1.0 - standing.bettered)
        return led(_(sentence, count=count, sites=whole(standing.sites)))
    gaps = {
        "rival": rival,
        "better": 20 - of_twenty(1.0 - standing.bettered),
        "dearer": 20 - of_twenty(1.0 - standing.loses),
        "sites": whole(standing.sites),
    }
    if standing.bettered > MOST_BETTERED:
        sentence = (
            "Not firm: | at {better} of 20 sites like yours ({sites} were drawn) “{rival}” is "
            "better by enough to matter."
        )
    elif standing.loses > MOST_LOSING:
        sentence = (
            "Not firm: | at {dearer} of 20 sites like yours ({sites} were drawn) it loses money "
            "that matters against “{rival}”."
        )
    else:
        sentence = "Not firm: | the simulated days do not tell it from “{rival}” yet."
    return led(_(sentence, **gaps))


def stands_words(
    standing: Standing | None,
    own: str,
    rival: str,
    told: Collection[str],
    given: Collection[str],
) -> Statement:
    """`doubt_words`, and what an advice rests on that nobody has measured: for every page but those
    that compare columns; `given` are the inputs that the site entered itself."""
    said = doubt_words(standing, own, rival, told)
    parts = (said.rest, unweighed_words(told, given))
    return Statement(said.lead, " ".join(filter(None, parts)))


def doubt_words(
    standing: Standing | None, own: str, rival: str, told: Collection[str]
) -> Statement:
    """Whether an advice is firm; if not, what is open and which measurement would close it.

    Args:
        standing, rival, told: as for `firm_words`. own: what the advice itself is called.
    """
    said = firm_words(standing, rival, told)
    parts = [said.rest]
    if standing is not None and (shares := _inputs(standing.turns)):
        narrow = _turning(own, rival, shares, None)
        parts += [narrow.wide, narrow.act]
    return Statement(said.lead, " ".join(filter(None, parts)))


def led(sentence: str) -> Statement:
    """A sentence whose lead ends at a bar."""
    lead, _bar, rest = sentence.partition(" | ")
    return Statement(lead, rest)


def unweighed_words(told: Collection[str], given: Collection[str]) -> str:
    """That an answer rests on guesses which measurements would replace; empty where none does.

    Args:
        told: the kinds of weighing that the answer has used.
        given: the inputs that the site entered itself.
    """
    weighed = [
        not kinds.isdisjoint(told) or not set(names).isdisjoint(given)
        for kinds, names in zip(TELL, WEIGHED, strict=True)
    ]
    if all(weighed):
        return ""
    if any(weighed):
        return _("Not all that this rests on was measured yet; what was not is a guess.")
    return _(
        "No measurement is in this plan: how much water the cloth holds, when cars begin to come "
        "out damp and how far the wheel throws off are guesses."
    )


def turning_words(what: str, given: Collection[str], more: Collection[str] = ()) -> str:
    """Which guesses something turns on; empty once the site has entered them all.

    Args:
        what: one of `TURNS_ON`; more: guesses of which the answer itself has found it.
    """
    sentence, names = TURNS_ON[what]
    open_ = [name for name in dict.fromkeys((*more, *names)) if name not in given]
    labels = [_("“{label}”", label=_(INPUTS[one].label)) for one in open_ if INPUTS[one].is_guess]
    return _(sentence, inputs=joined(labels)) if labels else ""


def narrow_words(comparison: Comparison, advised: int | None = None) -> Narrow | None:
    """What widens the damp cars of the `advised` column (else of the best) most; its margin where
    those are certain. None where too few sites were drawn to tell, or nothing drawn matters."""
    if not comparison.sites:
        return None
    advised = comparison.best if advised is None else advised
    column, rival = comparison.columns[advised], comparison.rival(advised)
    like_days = comparison.conditions.spread.like_days
    if rival is not None and (turns := _inputs(rival[1].turns)):
        return _turning(column.name, comparison.columns[rival[0]].name, turns, like_days)
    for name, words in WIDENED.items():
        if shares := _inputs(column.widest.get(name, ())[:TOLD]):
            return _narrow(_(words), shares, like_days)
    return None


def _inputs(found: Sequence[Widener]) -> dict[str, float]:
    return {row.input: row.share for row in found if row.input in (*INPUTS, LEVEL)}


def _turning(own: str, rival: str, shares: dict[str, float], like_days: int | None) -> Narrow:
    """Where an advice is not firm: what decides between it and its rival, and the one measurement
    that would tell most of that."""
    wide = _(
        "Whether “{own}” or “{rival}” is better at your site turns most on {inputs}.",
        own=own,
        rival=rival,
        inputs=_listed(shares, like_days),
    )
    best = best_measurement(shares)
    if best is None or best.narrower < FEWEST_WORTH_SAYING:
        return Narrow(wide)
    act = _("One measurement would settle most of it. {act}", act=in_words(best.measurement))
    return Narrow(wide, act, best.field, _(INPUTS[best.field].label))


def _listed(shares: dict[str, float], like_days: int | None) -> str:
    """The three inputs with the largest shares."""
    one = "“{input}”{space}({share})"
    return ", ".join(
        _(one, input=_label(name, like_days), share=percent(shares[name]), space=NBSP)
        for name in sorted(shares, key=lambda name: -shares[name])[:3]
    )


def _label(name: str, like_days: int | None) -> str:
    if name != LEVEL:
        return _(INPUTS[name].label)
    if like_days is None:
        return _("Cars expected")
    if like_days == TOGETHER:
        return _("Cars expected: by all counts together")
    if not like_days:
        return _("Cars expected: as typed, not counted")
    if like_days == 1:
        return _("Cars expected: the count of one like day")
    return _("Cars expected: a mean of {days} like days", days=like_days)


def _narrow(words: str, shares: dict[str, float], like_days: int) -> Narrow:
    wide = _(
        "The range of {figure} is wide mostly because these are not known: {inputs}.",
        figure=words,
        inputs=_listed(shares, like_days),
    )
    best = best_measurement(shares)
    if best is None or best.narrower < FEWEST_WORTH_SAYING:
        return Narrow(wide)
    sentence = "One measurement would narrow that range most, by up to {share}. {act}"
    act = _(sentence, share=percent(best.narrower), act=in_words(best.measurement))
    return Narrow(wide, act, best.field, _(INPUTS[best.field].label))


def _reason(comparison: Comparison, best: int) -> str:
    """The figure for which a column is advised: its margin, or damp cars where those decide."""
    columns = comparison.columns
    first, allowed = columns[0].value("left_damp_share"), comparison.limits.allowed_damp_share
    if (first is not None and first > allowed) or not columns[best].apart("margin").is_strong:
        return "left_damp_share"
    return "margin"


def _of_sites(comparison: Comparison, best: int) -> str:
    columns = comparison.columns
    if not best:
        share = max(_sites_better(column, "margin") for column in columns[1:])
        most = math.ceil(20.0 * share - 1e-9)
        sentence = "No other column earns more in more than {most} of 20 sites like yours."
        if not most:
            sentence = "No other column earns more in any of 20 sites like yours."
        return _(sentence, most=most)
    sentence = "In {earns} of 20 sites like yours this beats “{first}” in what the day earns."
    if _reason(comparison, best) == "left_damp_share":
        sentence = (
            "In {drier} of 20 sites like yours this beats “{first}” in cars leaving damp, in "
            "{earns} of 20 in what the day earns."
        )
    drier, earns = (_of_twenty(columns[best], name) for name in ("left_damp_share", "margin"))
    return _(sentence, drier=drier, earns=earns, first=columns[0].name)


def _sites_better(column: Column, name: str) -> float:
    return column.apart(name).sites_better or 0.0


def _of_twenty(column: Column, name: str) -> str:
    """Sites of 20; "none" for zero."""
    count = of_twenty(_sites_better(column, name))
    return str(count) if count else _("none")


def _of_days(comparison: Comparison, best: int) -> str:
    """The same of simulated days, where guesses stayed at their middle values."""
    columns, days = comparison.columns, comparison.days

    def better(column: Column, name: str) -> int:
        return round((column.apart(name).days_better or 0.0) * days)

    said = ""
    if best:
        sentence = "On {earns} of {days} simulated days this earns more than “{first}”."
        if columns[best].apart("left_damp_share").is_strong:
            sentence = (
                "On {drier} of {days} simulated days this leaves fewer cars damp than "
                "“{first}”; on {earns} it earns more."
            )
        drier, earns = (better(columns[best], name) for name in ("left_damp_share", "margin"))
        said = _(sentence, drier=drier, earns=earns, days=days, first=columns[0].name)
    elif len(columns) > 1:
        most = max(better(column, "margin") for column in columns[1:])
        sentence = "No other column earns more on more than {most} of {days} simulated days."
        if not most:
            sentence = "No other column earns more on any of {days} simulated days."
        said = _(sentence, most=most, days=days)
    unmeasured = _(
        "The ranges below show what single days do. What nobody has measured here yet, such as how "
        "much water the cloth holds and when cars begin to come out damp, is not in them, so no "
        "advice is firm."
    )
    return f"{said} {unmeasured}".strip()

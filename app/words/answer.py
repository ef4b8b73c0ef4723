"""The sentence that answers a plan, built from its figures, and the one that says how sure."""

from __future__ import annotations

import math
from collections.abc import Collection

from app.catalogue import _, long_date
from app.sites.rule_forms import RuleParts, parts_of
from app.words.figures import printed_step
from app.words.how_sure import sure_words
from app.words.numbers import amount, dollars, one_in, share_words, stepped
from app.words.phrases import Statement, joined
from sim.decide.answer import Column, Comparison, Opening, PairedDifference
from sim.units import NBSP

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
    """The answer of a comparison, and how sure it is.

    Args:
        given: names of the inputs that the site entered itself.
    """
    columns = comparison.columns
    arrived = columns[0].value("cars_arrived") or 0.0
    if arrived <= 0 and not any(comparison.conditions.arrivals_per_h):
        come = _("If cars do come, enter by how much more in the line above the columns.")
        none = Statement(_("Nothing to decide:"), _("no car is expected on this day."))
        return none, Statement("", come)
    if all((column.value("cars_washed") or 0.0) <= 0 for column in columns):
        helps = _("No wiping rule changes this; speed, spacing, pay lanes and loaders do.")
        return _all_lost(columns[0]), Statement(_("Look at the line first."), helps)
    return _answer(comparison), sure_words(comparison, comparison.best, given)


def _all_lost(first: Column) -> Statement:
    impatient = first.value("cars_lost_impatient") or 0.0
    if impatient >= (first.value("cars_lost_full") or 0.0):
        sentence = "All {cars} leave because the wait is longer than they accept."
    else:
        sentence = "All {cars} find the stack full."
    return Statement(_("Not one car gets through."), _(sentence, cars=_lost(first)))


def _answer(comparison: Comparison) -> Statement:
    columns, best = comparison.columns, comparison.best
    chosen, first = columns[best], columns[0]
    if len(columns) == 1:
        damp, more = _damp(chosen, None), _("Add a second scenario to compare it with.")
        return Statement(_("{name}:", name=chosen.name), f"{damp} {more}")
    says: list[str] = []
    if best == 0 and not any(
        column.apart(name).matters
        for column in columns[1:]
        for name in ("margin", "damp_share", "cars_lost", "cars_washed")
    ):
        says.append(_("No column differs from another by enough to matter."))
    is_drier = bool(best) and chosen.apart("damp_share").matters
    says.append(_begun(_damp(chosen, first if is_drier else None)))
    margin = chosen.apart("margin")
    earns = money_words(margin) if margin.is_strong else ""
    also = [earns, _missed(comparison, chosen), _lost_cars(comparison)]
    return Statement(_act(chosen, first, best), " ".join(says), " ".join(filter(None, also)))


def _act(chosen: Column, first: Column, best: int) -> str:
    """What to do, in a short sentence."""
    ours, theirs = chosen.scenario, first.scenario
    if best and (dict(ours.changes) != dict(theirs.changes) or ours.cloth != theirs.cloth):
        return _("Run the day as “{name}”.", name=chosen.name)
    return _rule_act(parts_of(ours.rule), chosen.name, stays=best == 0)


def _rule_act(rule: RuleParts, name: str, stays: bool) -> str:
    if rule.kind == "full":
        return _("Stay on full wiping all day.") if stays else _("Wipe in full all day.")
    if rule.kind == "reduced":
        return _("Stay on reduced wiping all day.") if stays else _("Reduce wiping all day.")
    if rule.kind == "clock":
        spans = [_("from {start} to {end}", start=start, end=end) for start, end in rule.spans]
        return _("Reduce wiping {spans}.", spans=joined(spans))
    if rule.kind == "band":
        return _(
            "Reduce wiping from {upper}{space}% saturation on, and go back at {lower}{space}%.",
            upper=rule.upper,
            lower=rule.lower,
            space=NBSP,
        )
    if rule.kind == "service":
        return _("Reduce wiping for all but cars sold the full wipe.")
    return _("Keep to “{name}”.", name=name) if stays else _("Wipe as in “{name}”.", name=name)


def _damp(chosen: Column, other: Column | None) -> str:
    """How many cars leave damp, instead of how many, and how many are still wiped in full."""
    share, full = chosen.value("damp_share"), chosen.value("full_share")
    if share is None:
        return _("no car is wiped.")
    before = None if other is None else other.value("damp_share")
    is_part = full is not None and 0.02 < full < 0.98
    several = share > 0.4 or 0.002 > share > 0
    return _(
        LEAVING[several, before is not None, is_part],
        cars=one_in(share),
        before="" if before is None else one_in(before, bare=True),
        share=share_words(full or 0.0),
    )


def money_words(apart: PairedDifference) -> str:
    """By how much a day earns more or less; empty where nothing is known of it."""
    if apart.value is None:
        return ""
    said = dollars(abs(apart.value), printed_step(apart, "money", "si", apart.value))
    if apart.value >= 0:
        return _("The day earns about {money} more.", money=said)
    return _("The day earns about {money} less.", money=said)


def _missed(comparison: Comparison, chosen: Column) -> str:
    """That no column keeps to the allowed share of damp cars, where that is so."""
    damp, allowed = chosen.value("damp_share"), comparison.limits.allowed_damp_share
    if damp is None or damp <= allowed:
        return ""
    limit = amount(allowed, "share", "si")
    return _("No column here keeps damp cars to the {limit} you allow.", limit=limit)


def _lost_cars(comparison: Comparison) -> str:
    """When cars are lost: how many, and what of the columns or of the line would help."""
    columns, best = comparison.columns, comparison.best
    lost = columns[best].value("cars_lost") or 0.0
    arrived = columns[best].value("cars_arrived") or 0.0
    if lost < max(1.0, 0.01 * arrived):
        return ""
    said = _lost(columns[best])
    others = [
        (column.value("cars_lost") or 0.0, i) for i, column in enumerate(columns) if i != best
    ]
    fewest, where = min(others, default=(math.inf, 0))
    if fewest < 0.7 * lost - 1:
        sentence, better = "{lost} cars are lost; “{name}” would lose {fewest}.", columns[where]
        return _(sentence, lost=said, name=better.name, fewest=_lost(better))
    sentence = (
        "{lost} cars are lost though the belt could take them: pay lanes or loading hold them up."
    )
    if max(comparison.conditions.arrivals_per_h) > comparison.limits.belt_capacity_per_h:
        sentence = (
            "{lost} cars are lost: more come than the belt takes, and only a faster belt or a "
            "closer spacing would help."
        )
    return _(sentence, lost=said)


def _lost(column: Column) -> str:
    """Cars lost, with as many digits as the table prints."""
    figure = column.figures["cars_lost"]
    value = figure.value or 0.0
    return stepped(value, printed_step(figure, "cars", "si", value))


def _begun(sentence: str) -> str:
    """A sentence that begins with a count in words, as the first of its line."""
    return sentence[:1].upper() + sentence[1:]


def opening_words(opening: Opening) -> str:
    """Where the moisture of the cloth at opening comes from."""
    if opening.evening is not None:
        day = long_date(opening.evening)
        return _("{day}, simulated, and the night after it", day=day)
    return {
        "weighing": _("a weighing"),
        "hung_dry": _("a dry set hung in the morning"),
        "put_on_dry": _("a set put on dry; no day before it"),
        "evening": _("the evening before, simulated"),
    }[opening.source]

"""The sentence that answers a plan, built from its figures, and the one that says how sure."""

from __future__ import annotations

import math
from collections.abc import Collection

from app.catalogue import _
from app.sites.rule_forms import RuleFacts, facts_of
from app.words.columns import (
    Column,
    Comparison,
    Spoken,
    best_column,
    difference_of,
    is_strong,
    matters,
    value_of,
)
from app.words.figures import one_in, plain_number, printed_step, share_words, stepped
from app.words.how_sure import sure_words
from sim.units import NBSP


def answer_sentences(
    comparison: Comparison, given: Collection[str] = frozenset()
) -> tuple[Spoken, Spoken]:
    """The answer of a comparison, as `clothcast plan --json` writes it, and how sure it is.

    Args:
        given: names of the inputs that the site entered itself.
    """
    columns = comparison["scenarios"]
    arrived = value_of(columns[0], "cars_arrived") or 0.0
    if arrived <= 0 and not any(comparison["conditions"]["arrivals_per_h"]):
        return (
            Spoken(_("Nothing to decide:"), _("no car is expected on this day.")),
            Spoken("", _("If cars do come, enter by how much more in the line above the columns.")),
        )
    if all((value_of(column, "cars_washed") or 0.0) <= 0 for column in columns):
        return _all_lost(columns), Spoken(
            _("Look at the line first."),
            _("No wiping rule changes this; speed, spacing, pay lanes and loaders do."),
        )
    best = best_column(comparison)
    return _answer(comparison, best), sure_words(comparison, best, given)


def _all_lost(columns: list[Column]) -> Spoken:
    impatient = value_of(columns[0], "cars_lost_impatient") or 0.0
    full = value_of(columns[0], "cars_lost_full") or 0.0
    lost = _cars(columns[0])
    if impatient >= full:
        rest = _("All {cars} leave because the wait is longer than they accept.", cars=lost)
    else:
        rest = _("All {cars} find the stack full.", cars=lost)
    return Spoken(_("Not one car gets through."), rest)


def _answer(comparison: Comparison, best: int) -> Spoken:
    columns = comparison["scenarios"]
    allowed = float(comparison["limits"]["allowed_damp_share"])
    chosen, first = columns[best], columns[0]
    parts: list[str] = []
    if len(columns) == 1:
        parts.append(_cap(_damp_clause(chosen, None)) + ".")
        parts.append(_("Add a second scenario to compare it with."))
        return Spoken(_("{name}:", name=chosen["name"]), _lower(" ".join(parts)))
    alike = best == 0 and not any(
        matters(column, name)
        for column in columns[1:]
        for name in ("margin", "damp_share", "cars_lost", "cars_washed")
    )
    if alike:
        parts.append(_("No column differs from another by enough to matter."))
    damp = _damp_clause(chosen, first if best and matters(chosen, "damp_share") else None)
    share = value_of(chosen, "full_share")
    if share is not None and 0.02 < share < 0.98:
        damp = _("{damp}, and {share} are still wiped in full", damp=damp, share=share_words(share))
    parts.append(_cap(damp) + ".")
    more = _money_clause(chosen)
    over = value_of(chosen, "damp_share")
    if over is not None and over > allowed:
        limit = f"{plain_number(100 * allowed, 1 if 1000 * allowed % 10 else 0)}{NBSP}%"
        more.append(_("No column here keeps damp cars to the {limit} you allow.", limit=limit))
    more.extend(_lost_clause(comparison, best))
    return Spoken(_act(chosen, first, best), " ".join(parts), " ".join(more))


def _act(chosen: Column, first: Column, best: int) -> str:
    """What to do, in a short sentence."""
    if best and (
        dict(chosen["changes"]) != dict(first["changes"]) or chosen["cloth"] != first["cloth"]
    ):
        return _("Run the day as “{name}”.", name=chosen["name"])
    return _rule_act(facts_of(chosen["rule"]), str(chosen["name"]), stays=best == 0)


def _rule_act(rule: RuleFacts, name: str, stays: bool) -> str:
    if rule.kind == "full":
        return _("Stay on full wiping all day.") if stays else _("Wipe in full all day.")
    if rule.kind == "reduced":
        return _("Stay on reduced wiping all day.") if stays else _("Reduce wiping all day.")
    if rule.kind == "clock":
        spans = _(" and ").join(
            _("from {start} to {end}", start=start, end=end) for start, end in rule.windows
        )
        return _("Reduce wiping {spans}.", spans=spans)
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


def _damp_clause(chosen: Column, other: Column | None) -> str:
    """How many cars leave damp, and instead of how many."""
    share = value_of(chosen, "damp_share")
    if share is None:
        return _("no car is wiped")
    said = _("{cars} leaves damp", cars=one_in(share))
    if share > 0.4 or 0.002 > share > 0:
        said = _("{cars} leave damp", cars=one_in(share))
    before = None if other is None else value_of(other, "damp_share")
    if before is None:
        return said
    # "instead of 1 in 6": the car need not be named twice
    short = one_in(before).replace(_("about {share}", share=""), "")
    short = short.replace(_("1 car in {count}", count="").replace(" ", NBSP), f"1{NBSP}in{NBSP}")
    return _("{said} instead of {before}", said=said, before=short)


def _money_clause(chosen: Column) -> list[str]:
    if not is_strong(chosen, "margin"):
        return []
    moved = difference_of(chosen, "margin")
    money = float(moved["value"])
    step = printed_step(moved, "money", "si", money)
    said = "$" + stepped(abs(money), step)
    if money >= 0:
        return [_("The day earns about {money} more.", money=said)]
    return [_("The day earns about {money} less.", money=said)]


def _lost_clause(comparison: Comparison, best: int) -> list[str]:
    """When cars are lost: how many, and what of the columns or of the line would help."""
    columns = comparison["scenarios"]
    lost = value_of(columns[best], "cars_lost") or 0.0
    arrived = value_of(columns[best], "cars_arrived") or 0.0
    if lost < max(1.0, 0.01 * arrived):
        return []
    said = _cars(columns[best])
    others = [
        (value_of(column, "cars_lost") or 0.0, i) for i, column in enumerate(columns) if i != best
    ]
    fewest, where = min(others, default=(math.inf, 0))
    if fewest < 0.7 * lost - 1:
        return [
            _(
                "{lost} cars are lost; “{name}” would lose {fewest}.",
                lost=said,
                name=columns[where]["name"],
                fewest=_cars(columns[where]),
            )
        ]
    arrivals = comparison["conditions"]["arrivals_per_h"]
    if max(arrivals) > float(comparison["limits"]["belt_capacity_per_h"]):
        return [
            _(
                "{lost} cars are lost: more come than the belt takes, and only a faster belt or a "
                "closer spacing would help.",
                lost=said,
            )
        ]
    return [
        _(
            "{lost} cars are lost though the belt could take them: pay lanes or loading hold them "
            "up.",
            lost=said,
        )
    ]


def _cars(column: Column) -> str:
    """Cars lost, with as many digits as the table prints."""
    figure = column["figures"]["cars_lost"]
    value = float(figure["value"])
    return stepped(value, printed_step(figure, "cars", "si", value))


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]

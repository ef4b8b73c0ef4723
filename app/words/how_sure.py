"""How sure an answer is, in words: at how many sites like this one it holds, and why not more."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

from app.catalogue import _
from app.sites.measurements import best_measurement, in_words
from app.words.numbers import of_twenty, percent
from app.words.phrases import Statement
from sim.decide.answer import Column, Comparison
from sim.inputs import AFTERNOON, DAMP, INPUTS, LEVEL, MISFIT, SOAKED
from sim.units import NBSP

WEIGHED = {
    SOAKED: ("holding_capacity_kg_kg",),
    DAMP: ("damp_limit_saturation", "allowed_film_kg_m2"),
    AFTERNOON: ("throw_off_moisture_kg_kg",),
}
"""What three weighings tell. Until each was weighed, or the site entered what it tells, no advice
is called firm."""

WIDENED = {"damp_share": "its damp cars", "margin": "its margin", "cars_lost": "its lost cars"}
"""Figures of which it is told what widens them, the first that isn't certain."""
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
    """How sure the advice of a column is.

    Args:
        best: the advised column.
        given: names of the inputs that the site entered itself.
    """
    if not comparison.sites:
        return Statement(_("Not firm yet."), _of_days(comparison, best))
    parts = [_of_sites(comparison, best)] if len(comparison.columns) > 1 else []
    missing = unweighed_words(comparison.weighed, given)
    if missing:
        parts.append(missing)
    is_firm = not missing and _holds(comparison, best)
    return Statement(_("Firm.") if is_firm else _("Not firm yet."), " ".join(parts))


def unweighed_words(told: Collection[str], given: Collection[str]) -> str:
    """Why no advice is firm before the three weighings; empty where all are in.

    Args:
        told: the kinds of weighing that the answer has used, and `sim.inputs.MISFIT` where the
            model does not explain them.
        given: names of the inputs that the site entered itself.
    """
    if MISFIT in told:
        return _("What was weighed does not fit the model, so no advice is firm.")
    weighed = [
        kind in told or any(name in given for name in names) for kind, names in WEIGHED.items()
    ]
    if all(weighed):
        return ""
    if any(weighed):
        return _("Not all of the three weighings are in, so no advice is firm.")
    return _(
        "No weighing of a strip is in this plan: how much water the cloth holds, when cars begin "
        "to come out damp and how far the wheel throws off are guesses, so no advice is firm."
    )


def _holds(comparison: Comparison, best: int) -> bool:
    """Whether the advice is clear over the drawn sites: in 19 of 20."""
    columns = comparison.columns
    if best:
        return columns[best].apart(_reason(comparison, best)).word.startswith("clearly")
    return all(_sites_better(column, "margin") <= 1 / 20 for column in columns[1:])


def narrow_words(comparison: Comparison, advised: int | None = None) -> Narrow | None:
    """What widens the advised column's damp cars most; its margin where those are certain.

    None where too few sites were drawn to tell, or nothing that was drawn matters.

    Args:
        advised: the column; without it the one that `Comparison.best` advises.
    """
    if not comparison.sites:
        return None
    column = comparison.columns[comparison.best if advised is None else advised]
    for name, words in WIDENED.items():
        shares = {
            row.input: row.share
            for row in column.widest.get(name, ())
            if row.input in INPUTS or row.input == LEVEL
        }
        if shares:
            return _narrow(_(words), shares, comparison.conditions.spread.like_days)
    return None


def _label(name: str, like_days: int) -> str:
    if name != LEVEL:
        return _(INPUTS[name].label)
    if like_days == 1:
        return _("Cars expected: the count of one like day")
    return _("Cars expected: a mean of {days} like days", days=like_days)


def _narrow(words: str, shares: dict[str, float], like_days: int) -> Narrow:
    top = sorted(shares, key=lambda name: -shares[name])[:3]
    one = "“{input}”{space}({share})"
    listed = [
        _(one, input=_label(name, like_days), share=percent(shares[name]), space=NBSP)
        for name in top
    ]
    wide = _(
        "What isn’t known here widens the range of {figure} most through {inputs}.",
        figure=words,
        inputs=", ".join(listed),
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
    first, allowed = columns[0].value("damp_share"), comparison.limits.allowed_damp_share
    if (first is not None and first > allowed) or not columns[best].apart("margin").is_strong:
        return "damp_share"
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
    if _reason(comparison, best) == "damp_share":
        sentence = (
            "In {drier} of 20 sites like yours this beats “{first}” in damp cars, in {earns} of "
            "20 in what the day earns."
        )
    drier, earns = (_of_twenty(columns[best], name) for name in ("damp_share", "margin"))
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
        if columns[best].apart("damp_share").is_strong:
            sentence = (
                "On {drier} of {days} simulated days this leaves fewer cars damp than "
                "“{first}”; on {earns} it earns more."
            )
        drier, earns = (better(columns[best], name) for name in ("damp_share", "margin"))
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

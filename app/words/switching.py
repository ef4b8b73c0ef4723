"""The sentences of When to reduce: what to do, what comes of it, among what, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Collection

from app.catalogue import _
from app.words.answer import sure_words
from app.words.numbers import dollars, of_twenty, one_in, percent, share_words, whole
from app.words.phrases import Statement, joined
from app.words.rules import act_words, bands_of, order_of, wish_words
from app.words.why import changes_words
from sim.decide.switching.answer import Bound, Cues, WhenToReduce
from sim.units import NBSP, show_clock

SURE = 0.95
"""A choice less probable than this among the rules tried is not called firm."""


# ---- what to do ----------------------------------------------------------------------------------


def answer_words(answer: WhenToReduce, system: str) -> Statement:
    """What to do, what comes of it, and whether it is what was wished for."""
    lead = act_words(answer.advised, answer.crew_terms, system)
    comes = _comes_of(answer)
    if answer.stay is not None:
        return Statement(lead, comes, stay_words(answer, system))
    rest = " ".join(filter(None, (spells_words(answer), comes, kept_words(answer))))
    share = answer.comparison.columns[answer.columns.chosen].value("full_share")
    also = ""
    if share is not None and 0.02 < share < 0.98:
        also = _("Still wiped in full: {share} of the cars.", share=share_words(share))
    if answer.limit == "misses":
        missed = _(
            "No rule tried keeps to {wish}; of those that miss it by least, or by no more than "
            "matters, this one wipes the most cars in full. It takes more than another rule.",
            wish=wish_words(answer.wish),
        )
        also = f"{missed} {also}".strip()
    return Statement(lead, rest, also)


def stay_words(answer: WhenToReduce, system: str) -> str:
    """Why the crew stays by one wiping all day though another rule was found; else nothing."""
    if answer.cues is None or answer.stay is None:
        return ""
    return _(
        "Done to the letter another rule would do better ({act}), but no cue that a crew can see "
        "gains more than {matters}.",
        act=order_of(answer.chosen, answer.crew_terms, system),
        matters=_matters(answer.cues, answer.wish.slack),
    )


def _matters(cues: Cues, slack: float) -> str:
    if cues.unit == "money":
        return _("{amount} a day", amount=dollars(slack))
    return _("{count} full wipes a day, or what matters in damp cars", count=whole(slack))


def spells_words(answer: WhenToReduce) -> str:
    """When that is likely to be, for a rule that follows the cloth; else nothing."""
    spells = answer.half_hours.reduced
    if not bands_of(answer.chosen):
        return ""
    if not spells:
        return _("In no half hour more than half of the cars are expected to be reduced.")
    said = [_("{a} to {b}", a=show_clock(a), b=show_clock(b)) for a, b in spells]
    return _("On a day as expected that is mostly {times}.", times=joined(said))


def _comes_of(answer: WhenToReduce) -> str:
    """How many cars leave damp by what is advised, and by what is planned now if that is other."""
    columns = answer.comparison.columns
    damp = columns[answer.column].value("damp_share")
    before = columns[answer.columns.present].value("damp_share")
    if damp is None:
        return ""
    said = one_in(damp)
    said = said[:1].upper() + said[1:]
    is_new = answer.column != answer.columns.present
    if not is_new or before is None or one_in(before) == one_in(damp):
        return _("{cars} will leave damp.", cars=said)
    return _("{cars} will leave damp, {before} as planned now.", cars=said, before=one_in(before))


def kept_words(answer: WhenToReduce) -> str:
    """On how many days the rule keeps to the allowed share, or that it is about at the limit."""
    kept = answer.kept
    if answer.wish.kind == "days" and kept is not None:
        said = _(
            "It kept to that share on {share} of 100 days that the choice had not seen ({low} to "
            "{high}).",
            share=math.floor(100 * kept.share + 0.5),
            low=math.floor(100 * kept.low + 0.5),
            high=math.floor(100 * kept.high + 0.5),
        )
        if answer.limit == "near":
            near = _("90 are asked for: too close to tell whether it keeps them.")
            return f"{said} {near}"
        return said
    if answer.limit == "near":
        return _(
            "That is about at the limit of {wish}: too close to tell whether it keeps to it.",
            wish=wish_words(answer.wish),
        )
    return ""


# ---- what it was chosen among --------------------------------------------------------------------


def chances(probability: float) -> str:
    """A probability as chances in 20, rounded down, so that little is never told as much."""
    return _("{count} in 20", count=of_twenty(probability)).replace(" ", NBSP)


def choice_words(answer: WhenToReduce) -> tuple[str, ...]:
    """Among how many rules it was chosen and by what; how close foresight would come."""
    if answer.wish.kind == "cost":
        sentence = "Of {rules} rules tried on the same simulated days, this one costs least."
    elif answer.limit == "misses":
        sentence = "Of {rules} rules tried on the same simulated days, none keeps to {wish}."
    else:
        sentence = (
            "Of {rules} rules tried on the same simulated days, this one keeps the most cars fully "
            "wiped with {wish}."
        )
    parts = [
        _(sentence, rules=whole(answer.rules), wish=wish_words(answer.wish)),
        _("Of rules that are as good but for what does not matter, the simplest was taken."),
    ]
    if answer.certainty >= SURE:
        parts.append(
            _(
                "Chances that no other is better by enough to matter: {chance}.",
                chance=chances(answer.certainty),
            )
        )
    foresight = foresight_words(answer)
    return (" ".join(parts), foresight) if foresight else (" ".join(parts),)


def foresight_words(answer: WhenToReduce) -> str:
    """How much of what perfect foresight would give, with its run error, rounded against the rule.

    Empty where that tells nothing.
    """
    bound = answer.bound
    if bound is None or bound.share is None or bound.share <= 0 or answer.limit == "misses":
        return ""
    if answer.wish.kind == "cost":
        return _saved_words(bound, bound.share) if bound.share <= 1 else ""
    least = percent(_floor(bound.share))
    if bound.run_error is None:
        return _(
            "It reaches at least {share} of the full wipes that perfect foresight of every car "
            "would give; part of that gap nobody can close.",
            share=least,
        )
    return _(
        "It reaches at least {share} of the full wipes that perfect foresight of every car would "
        "give ({low} to {high} by the luck of {days} simulated days); part of that gap nobody can "
        "close.",
        share=least,
        low=whole(100 * _floor(bound.run_error.low)),
        high=percent(_floor(bound.run_error.high)),
        days=whole(bound.draws),
    )


def _saved_words(bound: Bound, share: float) -> str:
    if bound.run_error is None:
        return _(
            "Perfect foresight of every car would save at most {share} of the day’s cost; part of "
            "that gap nobody can close.",
            share=percent(1 - share),
        )
    return _(
        "Perfect foresight of every car would save at most {share} of the day’s cost ({low} to "
        "{high} by the luck of {days} simulated days); part of that gap nobody can close.",
        share=percent(1 - share),
        low=whole(100 * max(0.0, 1 - bound.run_error.high)),
        high=percent(max(0.0, 1 - bound.run_error.low)),
        days=whole(bound.draws),
    )


def _floor(share: float) -> float:
    return math.floor(100 * min(1.0, max(0.0, share))) / 100


# ---- how sure ------------------------------------------------------------------------------------


def switch_sure(answer: WhenToReduce, given: Collection[str], system: str) -> Statement:
    """At how many sites like this one it holds, and whether the choice itself is settled; where the
    crew stays by one wiping, what that rests on.

    Args:
        given: names of the inputs that the site entered itself.
    """
    if answer.cues is not None and answer.stay is not None:
        rest = _(
            "What cues gain was measured on {days} days that their choice had not seen; how late "
            "and how wrong the crew is are guesses until you enter yours.",
            days=whole(answer.cues.days),
        )
        return Statement(_("Not firm yet."), rest)
    said = sure_words(answer.comparison, answer.columns.chosen, given)
    if answer.certainty >= SURE:
        firm = said.lead == _("Firm.") and answer.limit == "keeps"
        return Statement(said.lead if firm else _("Not firm yet."), said.rest)
    return Statement(_("Too close to tell."), f"{close_words(answer, system)} {said.rest}".strip())


def close_words(answer: WhenToReduce, system: str) -> str:
    """What else it might as well have been and what that differs in."""
    others = answer.alternatives
    if not others:
        return _(
            "Between this rule and the next best the simulated days do not decide yet: the chance "
            "that no other is better by enough to matter is {chance}.",
            chance=chances(answer.certainty),
        )
    sentence = (
        "The simulated days do not tell it from the same kind of rule with other numbers, such as "
        "“{act}”: {changes} a day."
        if all(one.same_kind for one in others)
        else "The simulated days do not tell it from “{act}”: {changes} a day."
    )
    return _(
        sentence,
        act=order_of(others[0].rule, answer.crew_terms, system),
        changes=changes_words(others[0].gains),
    )

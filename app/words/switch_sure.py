"""How sure the advice of When to reduce is, and what else it might as well have been."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from app.answers.switching import stay_of
from app.catalogue import _
from app.words.columns import Spoken
from app.words.how_sure import sure_words
from app.words.phrases import whole
from app.words.switching import SURE, act_words, certainty_of, chances, limit_state
from app.words.why import changes_words

Found = Mapping[str, Any]


def switch_sure(found: Found, given: Collection[str], system: str) -> Spoken:
    """At how many sites like this one it holds, and whether the choice itself is settled; where the
    crew stays by one wiping, what that rests on."""
    if stay_of(found) is not None:
        days = whole(found["cues"]["days"])
        rest = _(
            "What cues gain was measured on {days} days that their choice had not seen; how late "
            "and how wrong the crew is are guesses until you enter yours.",
            days=days,
        )
        return Spoken(_("Not firm yet."), rest)
    said = sure_words(found["comparison"], found["columns"]["chosen"], given)
    if certainty_of(found) >= SURE:
        firm = said.lead == _("Firm.") and limit_state(found) == "keeps"
        return Spoken(said.lead if firm else _("Not firm yet."), said.rest)
    return Spoken(_("Too close to tell."), f"{close_words(found, system)} {said.rest}".strip())


def close_words(found: Found, system: str) -> str:
    """What else it might as well have been and what that differs in."""
    others = found.get("alternatives")
    if not others:
        return _(
            "Between this rule and the next best the simulated days do not decide yet: the chance "
            "that no other is better by enough to matter is {chance}.",
            chance=chances(certainty_of(found)),
        )
    likeliest = others[0]
    act = act_words(found, system, likeliest["rule"]).removesuffix(".")
    sentence = (
        "The simulated days do not tell it from the same kind of rule with other numbers, such as "
        "“{act}”: {changes} a day."
        if likeliest["same_kind"] and all(one["same_kind"] for one in others)
        else "The simulated days do not tell it from “{act}”: {changes} a day."
    )
    return _(sentence, act=act, changes=changes_words(likeliest["gains"]))

"""Finds the term that a head or a label stands for, and says what it means.

There is one catalogue: the figures of a day (`sim.day.figures`), the inputs (`sim.inputs`) and all
other terms (`app.words.glossary`).
"""

from __future__ import annotations

from app.catalogue import _
from app.words.glossary import MOVES, SIMULATED, TERMS, Term
from sim.day.figures import COSTS, FIGURES
from sim.inputs import CLASS_INPUTS, INPUTS

OWN = {one.key: one for one in TERMS}
ENTRIES = {**CLASS_INPUTS, **INPUTS}
EVERY = (*ENTRIES, *FIGURES, *OWN)
"""Keys of all terms; of two with one label the later counts."""


def meaning(key: str) -> Term:
    """A term in the reader's language.

    Raises:
        KeyError: if there is none.
    """
    if key in OWN:
        one = OWN[key]
        return Term(key, _(one.name), _(one.what), _(one.sure), _(one.moves))
    if key in FIGURES:
        info = FIGURES[key]
        return Term(key, _(info.label), _(info.origin), _(SIMULATED), _(MOVES[key]))
    entry = ENTRIES[key]
    return Term(
        key,
        _(entry.label),
        _(entry.help) if entry.help else _("A value that plans of this site are made with."),
        _("Where its default comes from: {source}.", source=_(entry.source)),
        _("Whatever is entered for it on the Site page; a plan may try another value for a day."),
    )


def labels(costs: bool = False) -> dict[str, str]:
    """Keys of terms by the heads under which they stand, in the reader's language.

    Args:
        costs: a label that a figure and an item of cost share is that of the item.
    """
    found: dict[str, str] = {}
    for key in EVERY:
        if key in OWN:
            found |= dict.fromkeys(map(_, (OWN[key].name, *OWN[key].labels)), key)
        elif key in FIGURES:
            found.setdefault(_(FIGURES[key].label), key)
        else:
            found[_(ENTRIES[key].label)] = key
    return found | ({_(item.label): item.name for item in COSTS} if costs else {})


def key_of(words: str, known: dict[str, str]) -> str:
    """The term that a head stands for, its unit after a comma or not; empty where there is none."""
    return known.get(words) or known.get(words.rpartition(", ")[0], "")

"""Which inputs move a site's answers most, in the order in which its plan tells them."""

from __future__ import annotations

from dataclasses import dataclass

from app.catalogue import _
from app.words.answer import WIDENED
from app.words.numbers import percent
from sim.decide.answer import Comparison
from sim.inputs import INPUTS, LEVEL

MOST = 12
USUAL = (
    "allowed_film_kg_m2",
    "throw_off_time_s",
    "throw_off_moisture_kg_kg",
    "holding_capacity_kg_kg",
    "blower_removal",
    "film_after_rinse_kg_m2",
    "film_cv",
    "uptake_max",
    "damp_cost",
    "finish_film_s_kg",
    "exposed_area_share",
    "tunnel_humid_share",
)
"""What moves a busy day most before a plan tells: by the widths of what is believed and the guide
on what the advice of a busy day turns on, of an invented site."""


@dataclass(frozen=True, slots=True)
class Leading:
    """An input, and how much it moves; `said` is empty where nothing was worked out."""

    name: str
    said: str


def leading(found: Comparison | None) -> tuple[Leading, ...]:
    """The dozen inputs that move a site's answers most, the first first.

    First what decides between the advice and its rival, where that is open, then what widens each
    figure that a plan tells, by share of variance; the rest by what is usual.
    """
    told: dict[str, str] = {}
    if found is not None and found.sites:
        advised = found.columns[found.best]
        rival = found.rival(found.best)
        sources = [(_("whether the advice is best"), rival[1].turns if rival else ())]
        sources += [(_(words), advised.widest.get(name, ())) for name, words in WIDENED.items()]
        for what, wideners in sources:
            for row in wideners:
                if row.input in INPUTS:
                    said = _("{what}: {share}", share=percent(row.share), what=what)
                    told.setdefault(row.input, said)
    names = [*told, *(name for name in USUAL if name not in told)]
    return tuple(Leading(name, told.get(name, "")) for name in names[:MOST])


def level_share(found: Comparison | None) -> str:
    """How much the cars expected add, which is no input; empty where nothing says."""
    if found is None:
        return ""
    widest = found.columns[found.best].widest.get(next(iter(WIDENED)), ())
    share = next((row.share for row in widest if row.input == LEVEL), 0.0)
    return percent(share) if share else ""

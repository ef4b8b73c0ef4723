"""What is read off a column of a comparison, as `clothcast plan --json` writes it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

Comparison = Mapping[str, Any]
Column = Mapping[str, Any]

NO_MATTER = ("hardly differs", "the same", "can't tell", "can’t tell", "")
"""Words of a difference that give no reason to act."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """A statement: the part said with weight, the rest of it, and what is said more quietly."""

    lead: str
    rest: str
    also: str = ""

    def __str__(self) -> str:
        return " ".join(part for part in (self.lead, self.rest, self.also) if part)


def drawn_sites(comparison: Comparison) -> int:
    """How many sites were drawn; 0 where guesses stayed at their middle values."""
    return int(comparison.get("sites", 0))


def value_of(column: Column, name: str) -> float | None:
    """A figure's value; None where the day has none (the damp share of no car)."""
    figure = column["figures"].get(name)
    value = None if figure is None else figure["value"]
    return None if value is None or math.isnan(value) else float(value)


def difference_of(column: Column, name: str) -> Mapping[str, Any]:
    """A figure's difference to the first column; empty where there is none."""
    found: Mapping[str, Any] = (column.get("differences") or {}).get(name) or {}
    return found


def word_of(column: Column, name: str) -> str:
    """The plain word of a figure's difference to the first column; empty where there is none."""
    return str(difference_of(column, name).get("word", ""))


def matters(column: Column, name: str) -> bool:
    """Whether a figure differs from the first column by enough to be a reason."""
    return word_of(column, name) not in NO_MATTER


def is_strong(column: Column, name: str) -> bool:
    """Whether a figure differs from the first column by enough to be told as a reason."""
    return word_of(column, name).startswith(("clearly", "probably"))


def best_column(comparison: Comparison) -> int:
    """The column to advise: the best margin of those that keep to the allowed damp share.

    Where none does, the one with the fewest damp cars. The first column, which is the present
    setting, keeps its place when the choice is better neither in margin nor in damp cars by
    enough to matter.
    """
    columns = comparison["scenarios"]
    allowed_damp_share = float(comparison["limits"]["allowed_damp_share"])
    damp = [value_of(column, "damp_share") for column in columns]
    kept = [i for i, share in enumerate(damp) if share is None or share <= allowed_damp_share]
    if kept:
        margins = {i: value_of(columns[i], "margin") for i in kept}
        best = max(kept, key=lambda i: -math.inf if margins[i] is None else margins[i] or 0.0)
    else:
        best = min(range(len(columns)), key=lambda i: damp[i] or 0.0)
    if best > 0 and (0 in kept or not kept):
        reasons = ("margin", "damp_share") if kept else ("damp_share",)
        if not any(matters(columns[best], name) for name in reasons):
            return 0
    return best

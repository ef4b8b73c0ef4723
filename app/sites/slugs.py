"""Short names of sites for addresses."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from sim.errors import InputProblem

LONGEST_SLUG = 60
RESERVED = frozenset({"about", "guide", "sites", "static"})
"""First parts of addresses that are pages of their own."""


def slug_for(name: str, taken: Iterable[str]) -> str:
    """A short name for addresses, neither `taken` nor a page's own: a–z, digits, hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST_SLUG].rstrip("-") or "site"
    used = RESERVED | set(taken)
    number = 1
    slug = stem
    while slug in used:
        number += 1
        slug = f"{stem}-{number}"
    return slug


def name_taken(name: str, others: Iterable[str]) -> list[InputProblem]:
    """The refusal of a site's name that another one has, in whatever capitals."""
    for other in others:
        if other.casefold() == name.casefold():
            sentence = "A site called “{name}” is there already. Choose another name."
            return [InputProblem("name", sentence, {"name": other})]
    return []

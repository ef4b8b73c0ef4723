"""Short names of sites for addresses."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

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

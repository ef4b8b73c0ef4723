"""Secrets that people are handed: those of links and cookies, codes to type once, short codes."""

from __future__ import annotations

import hashlib
import secrets

LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Of a code to type: none that is easily taken for another."""
CODE_LETTERS, CODE_PARTS = 4, 3
SHORT_DIGITS = 6


def new_secret() -> str:
    """A secret of 256 bits for a link or a cookie."""
    return secrets.token_urlsafe(32)


def new_code() -> str:
    """A code to type once, of 58 bits, such as ``7KQ2-MD4X-W9TB``."""
    letters = (secrets.choice(LETTERS) for _place in range(CODE_LETTERS * CODE_PARTS))
    text = "".join(letters)
    parts = (text[at : at + CODE_LETTERS] for at in range(0, len(text), CODE_LETTERS))
    return "-".join(parts)


def new_short_code() -> str:
    """An attendant's code, which works on a phone that was let in alone; of six digits."""
    return f"{secrets.randbelow(10**SHORT_DIGITS):0{SHORT_DIGITS}}"


def bare(code: str) -> str:
    """A typed code as it was meant: without what parts it, in capitals."""
    return "".join(one for one in code.upper() if one.isalnum())


def digest_of(secret: str) -> str:
    """What is stored of a secret; being random, it needs no salt."""
    return hashlib.sha256(secret.encode()).hexdigest()


def digest_of_code(code: str) -> str:
    """The same of a code that somebody typed."""
    return digest_of(bare(code))

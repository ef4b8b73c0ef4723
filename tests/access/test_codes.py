"""Codes that people are handed, and challenges that browsers are asked.

Digests are held against FIPS 180-4's example of SHA-256 for “abc”, from memory.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest

from app.access import codes
from app.access.challenges import ANSWERED, Challenges
from app.access.codes import bare, digest_of, digest_of_code, new_code, new_secret, new_short_code

OF_ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
NOW = datetime(2026, 7, 15, 9, tzinfo=UTC)


def test_a_code_to_type_is_of_plain_letters_in_parts() -> None:
    """Three parts of four, of thirty letters and digits of which none is taken for another: 58
    bits; no two alike; typed with blanks, without hyphens or in small letters it is the same."""
    made = [new_code() for _place in range(200)]
    assert all(re.fullmatch(r"([2-9A-HJKMNP-Z]{4}-){2}[2-9A-HJKMNP-Z]{4}", one) for one in made)
    assert len(set(made)) == len(made)
    assert set("".join(made)) - {"-"} <= set(codes.LETTERS)
    assert not set("0O1ILi") & set(codes.LETTERS)
    assert bare(" 7kq2 md4x-W9TB\n") == "7KQ2MD4XW9TB"
    assert digest_of_code("7kq2 md4x w9tb") == digest_of_code("7KQ2-MD4X-W9TB")
    assert digest_of_code("7KQ2-MD4X-W9TC") != digest_of_code("7KQ2-MD4X-W9TB")


def test_a_short_code_has_six_digits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Any of a million, those that begin with noughts too."""
    asked: list[int] = []

    def least(upto: int) -> int:
        asked.append(upto)
        return 42

    assert all(re.fullmatch(r"\d{6}", new_short_code()) for _place in range(50))
    monkeypatch.setattr("app.access.codes.secrets.randbelow", least)
    assert new_short_code() == "000042"
    assert asked == [1_000_000]


def test_a_secret_has_256_bits_and_its_digest_is_that_of_the_standard() -> None:
    """In letters that an address may hold; what is stored is SHA-256 of it."""
    made = {new_secret() for _place in range(20)}
    assert len(made) == 20
    assert all(re.fullmatch(r"[\w-]{43}", one) for one in made)
    assert digest_of("abc") == OF_ABC
    assert digest_of_code("a-b c") == digest_of("ABC")


def test_a_challenge_is_answered_once_and_soon() -> None:
    """By the browser that was asked, for what it was asked, until its time is over and no more."""
    held = Challenges()
    held.keep("a", b"first", "sign in", NOW)
    assert held.take("b", "sign in", NOW) is None
    assert held.take("a", "sign in", NOW) == b"first"
    assert held.take("a", "sign in", NOW) is None, "each may be answered once"
    held.keep("a", b"first", "make", NOW)
    assert held.take("a", "sign in", NOW) is None, "for something else"
    held.keep("a", b"first", "make", NOW)
    assert held.take("a", "make", NOW + timedelta(minutes=5)) == b"first"
    held.keep("a", b"first", "make", NOW)
    assert held.take("a", "make", NOW + ANSWERED + timedelta(seconds=1)) is None
    held.keep("a", b"first", "make", NOW)
    held.keep("a", b"second", "make", NOW)
    assert held.take("a", "make", NOW) == b"second", "in place of the earlier one"
    assert held.take("a", "make", NOW) is None
    assert held.take("nobody", "", NOW) is None


def test_of_more_challenges_than_are_kept_the_oldest_go() -> None:
    """Who was asked again is not the oldest; a thousand are kept unless told otherwise."""
    held = Challenges(most_kept=2)
    for visit in ("a", "b", "a", "c"):
        held.keep(visit, visit.encode(), "make", NOW)
    found = [held.take(visit, "make", NOW) for visit in ("a", "b", "c")]
    assert found == [b"a", None, b"c"]
    assert Challenges().most_kept == 1_000

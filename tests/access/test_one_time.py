"""One-time passwords against the table of RFC 6238, and each taken once."""

from __future__ import annotations

import base64
from datetime import UTC, datetime, timedelta

import pytest

from app.access.one_time import STEP_S, address_of, new_secret, password_at, step_of

RFC_SECRET = base64.b32encode(b"12345678901234567890").decode()
RFC_6238_APPENDIX_B = (
    (59, "94287082"), (1111111109, "07081804"), (1111111111, "14050471"),
    (1234567890, "89005924"), (2000000000, "69279037"), (20000000000, "65353130"),
)  # fmt: skip
"""Time [s since 1970] and password of eight digits by SHA-1 (RFC 6238, appendix B, from memory)."""


@pytest.mark.parametrize(("seconds", "password"), RFC_6238_APPENDIX_B)
def test_passwords_of_the_standard(seconds: int, password: str) -> None:
    """The table's passwords come out, and of six digits their last six."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
    assert password_at(RFC_SECRET, moment, digits=8) == password
    assert password_at(RFC_SECRET, moment) == password[-6:]


def test_a_password_is_taken_once_and_around_its_time() -> None:
    """That of a step beside the present one is taken, as clocks differ; of two it is not, and what
    was taken, or an older one, never again."""
    now = datetime(2026, 7, 15, 9, 0, 10, tzinfo=UTC)
    secret, step = new_secret(), int(now.timestamp()) // STEP_S
    for beside, is_taken in ((-2, False), (-1, True), (0, True), (1, True), (2, False)):
        typed = password_at(secret, now + timedelta(seconds=STEP_S * beside))
        found = step_of(secret, f" {typed[:3]} {typed[3:]} ", now)
        assert found == (step + beside if is_taken else None), beside
    assert step_of(secret, password_at(secret, now), now, after=step) is None
    assert step_of(secret, "", now) is None
    assert step_of(secret, "１２３４５６", now) is None


def test_the_first_step_of_all_is_taken() -> None:
    """That of the table's first row: 59 s are in step 1, whose six digits end its eight."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=59)
    assert step_of(RFC_SECRET, "287082", moment) == 1
    assert step_of(RFC_SECRET, "287082", moment, after=1) is None


def test_the_address_for_the_app_names_program_and_person() -> None:
    """It holds the secret, whose it is and by whom."""
    told = address_of("ABCDEFGHIJKLMNOP" * 2, "Ann Lee")
    assert told.startswith("otpauth://totp/Clothcast:Ann%20Lee?secret=ABCDEFGHIJKLMNOPABCD")
    assert "issuer=Clothcast" in told

"""Passwords: the standard's own example, the parameters, what may be one, and how many at once."""

from __future__ import annotations

import threading

import pytest
from argon2 import PasswordHasher
from argon2.low_level import ARGON2_VERSION, Type, core, ffi

from app.access.passwords import LEAST, MOST, Passwords, TooBusy, faults_of

RFC_9106_5_3 = "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
"""Tag of the example of Argon2id in RFC 9106, section 5.3 (from memory)."""


def test_the_library_gives_the_tag_of_the_standard() -> None:
    """Password 32 × 01, salt 16 × 02, secret 8 × 03, associated data 12 × 04, three passes over 32
    KiB in four lanes."""
    told = {"pwd": b"\1" * 32, "salt": b"\2" * 16, "secret": b"\3" * 8, "ad": b"\4" * 12}
    parts = {name: ffi.new("uint8_t[]", text) for name, text in told.items()}
    out = ffi.new("uint8_t[]", 32)
    lengths = {f"{name}len": len(text) for name, text in told.items()}
    context = ffi.new(
        "argon2_context *",
        {
            "version": ARGON2_VERSION, "out": out, "outlen": 32, **parts, **lengths,
            "t_cost": 3, "m_cost": 32, "lanes": 4, "threads": 4,
            "allocate_cbk": ffi.NULL, "free_cbk": ffi.NULL, "flags": 0,
        },
    )  # fmt: skip
    assert core(context, Type.ID.value) == 0
    assert bytes(ffi.buffer(out)).hex() == RFC_9106_5_3


def test_a_hash_has_the_parameters_of_the_second_option() -> None:
    """64 MiB, three passes, four lanes (RFC 9106, section 4, second recommended option), a salt of
    its own each time; it matches its password alone."""
    made = Passwords()
    held = made.hash("four plain words here")
    assert held.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert held != made.hash("four plain words here")
    assert made.match(held, "four plain words here")
    assert not made.match(held, "four plain words her")
    assert not made.match("", "nobody"), "nobody's password is no password"
    assert not made.match("no hash at all", "four plain words here")


def test_the_limits_are_those_that_are_told() -> None:
    """Fifteen characters, as NIST SP 800-63B-4 asks of a password that stands alone (from memory),
    to two hundred; two hashes at once, sixteen in line for ten seconds."""
    assert (LEAST, MOST) == (15, 200)
    made = Passwords()
    assert (made.at_once, made.in_line, made.patience_s) == (2, 16, 10.0)


@pytest.mark.parametrize(
    ("password", "is_good"),
    [
        ("x" * (LEAST - 1), False), ("x" * LEAST, False), ("a" * 20, False),
        ("abcabcabcabcabcabc", False), ("Olive Owner Olive Owner", False),
        ("four plain words here", True), ("m" * MOST + "abcdefg", False),
        ("clothcast car wash owner 1234", False), ("Olive carwash password", False),
        ("abcde" * 3, False), ("abcdef" * 3, True), ("abcdefabcdefabc", True),
        ("abcdefghij" * 20, True),
        ("password carwash abcde", False), ("password carwash abcdef", True),
        ("m1n2b3v4c5" * 7, True), ("пять простых слов", True), ("               ", False),
    ],
)  # fmt: skip
def test_what_may_be_a_password(password: str, is_good: bool) -> None:
    """Long enough, of several characters, not only the name and words that are known; letters of
    any writing, and far more than 64 of them."""
    assert (faults_of(password, "Olive Owner") == ()) == is_good


def test_a_password_is_never_cut() -> None:
    """One of the longest is taken, with one letter more it is another, and capitals count."""
    made, longest = Passwords(), "abcdefghij" * (MOST // 10)
    held = made.hash(longest)
    assert made.match(held, longest)
    assert not made.match(held, longest + "x")
    assert not made.match(held, longest.upper())


def test_as_much_is_worked_out_for_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    """A name without a hash is held against one of nobody's, made once and only where it is needed;
    no password is nobody's."""
    quick = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash("nobody")
    made, asked = Passwords(), []

    def hashed(password: str) -> str:
        asked.append(password)
        return quick

    monkeypatch.setattr(made, "hash", hashed)
    assert made.match(quick, "nobody")
    assert not made.match(quick, "somebody")
    assert asked == [], "there was a hash"
    assert not made.match("", "nobody")
    assert not made.match("", "somebody")
    assert asked == ["nobody"]


def test_only_so_many_are_worked_out_at_once() -> None:
    """With one at once and one in line, a third is told that it is too busy at once; whoever waits
    too long is told the same, and afterwards there is room again."""
    made = Passwords(at_once=1, in_line=1, patience_s=0.05)
    inside, leave = threading.Event(), threading.Event()

    def work() -> None:
        with made._turn():
            inside.set()
            leave.wait()

    worker = threading.Thread(target=work)
    worker.start()
    inside.wait()
    with pytest.raises(TooBusy):
        made.match("", "waits for its turn and gives up")
    told: list[str] = []

    def wait() -> None:
        try:
            made.hash("in line")
        except TooBusy:
            told.append("too busy")

    waiting = [threading.Thread(target=wait) for _number in range(3)]
    for one in waiting:
        one.start()
    for one in waiting:
        one.join()
    assert told == ["too busy"] * 3
    leave.set()
    worker.join()
    assert made.hash("again").startswith("$argon2id$")

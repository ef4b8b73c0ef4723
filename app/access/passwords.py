"""Passwords and short codes: what may be one, and their argon2id hashes, a few at once.

Parameters are the second recommended option of RFC 9106, section 4: 64 MiB, 3 passes, 4 lanes.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

LEAST, MOST = 15, 200
"""Characters of a password: what NIST SP 800-63B-4, section 3.1.1.2, asks for where it stands alone
(from memory), and as many as nobody types."""
LEAST_DIFFERENT = 6
"""Different characters that a password must have; a guess."""
KNOWN = (
    "clothcast", "carwash", "car", "wash", "password", "passwort", "secret", "admin", "owner",
    "manager", "attendant", "qwerty", "letmein", "welcome", "12345678", "123456", "1234",
)  # fmt: skip
"""Words of the program, the trade and of every guesser's list, of which alone none may be."""
LEAST_UNKNOWN = 6
"""Letters and digits that a password must have beside them; a guess."""
AT_ONCE, IN_LINE = 2, 16
"""Hashes computed at once, 64 MiB each, and how many may wait for their turn; guesses."""
PATIENCE_S = 10.0
"""How long a hash waits for its turn [s]; a guess."""


class TooBusy(Exception):
    """More people sign in at once than the machine is let to work for."""


def faults_of(password: str, name: str) -> tuple[str, ...]:
    """What is wrong with a new password, a sentence each, with gaps ``{least}`` and ``{most}``."""
    found = []
    if not LEAST <= len(password) <= MOST:
        found.append("A password has {least} to {most} characters; four or five words will do.")
    elif len(set(password.casefold())) < LEAST_DIFFERENT:
        found.append("This password is of too few different characters; anybody could guess it.")
    elif len(_beyond_known(password, name)) < LEAST_UNKNOWN:
        found.append("This password is only words that anybody here would try first.")
    return tuple(found)


def _beyond_known(password: str, name: str) -> str:
    """What is left of a password without its owner's name and the words of this place."""
    left = password.casefold()
    for word in (*name.casefold().split(), *KNOWN):
        left = left.replace(word, "")
    return "".join(one for one in left if one.isalnum())


@dataclass
class Passwords:
    """Makes and checks hashes.

    Attributes:
        at_once, in_line: hashes computed at once, and how many may wait.
        patience_s: how long one waits for its turn [s].
    """

    at_once: int = AT_ONCE
    in_line: int = IN_LINE
    patience_s: float = PATIENCE_S
    _nobody: str = ""

    def __post_init__(self) -> None:
        self._turns = threading.BoundedSemaphore(self.at_once)
        self._places = threading.BoundedSemaphore(self.at_once + self.in_line)

    def hash(self, password: str) -> str:
        """The hash of a new password; raises TooBusy."""
        from argon2 import PasswordHasher  # loaded by whoever signs in first
        from argon2.profiles import RFC_9106_LOW_MEMORY

        with self._turn():
            return PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY).hash(password)

    def match(self, held: str, password: str) -> bool:
        """Whether a password is the one of a hash; raises TooBusy.

        Without a hash as much is worked out as with one, so that time tells nobody which names
        there are.
        """
        from argon2 import PasswordHasher
        from argon2.exceptions import InvalidHashError, VerificationError

        if not held and not self._nobody:
            self._nobody = self.hash("nobody")
        with self._turn():
            try:
                PasswordHasher().verify(held or self._nobody, password[:MOST])
                return bool(held) and len(password) <= MOST  # what was cut is another password
            except (VerificationError, InvalidHashError):
                return False

    @contextmanager
    def _turn(self) -> Iterator[None]:
        if not self._places.acquire(blocking=False):
            raise TooBusy
        try:
            if not self._turns.acquire(timeout=self.patience_s):
                raise TooBusy
            try:
                yield
            finally:
                self._turns.release()
        finally:
            self._places.release()

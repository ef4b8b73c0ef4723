"""One-time passwords by time (RFC 6238): six digits of SHA-1 every 30 seconds, by `pyotp`."""

from __future__ import annotations

import hmac
from datetime import datetime

import pyotp

STEP_S = 30
DIGITS = 6
ISSUER = "Clothcast"
AROUND = (0, -1, 1)
"""Steps beside the present one whose password is taken too: clocks differ (RFC 6238, section 5.2,
asks for one step at most)."""


def new_secret() -> str:
    """A secret of 160 bits, in base 32."""
    return pyotp.random_base32()


def address_of(secret: str, name: str) -> str:
    """What a code for the app on a phone holds."""
    return pyotp.TOTP(secret).provisioning_uri(name=name, issuer_name=ISSUER)


def password_at(secret: str, moment: datetime, digits: int = DIGITS) -> str:
    """The password of a moment."""
    return pyotp.TOTP(secret, digits=digits, interval=STEP_S).at(moment)


def step_of(secret: str, typed: str, now: datetime, after: int = 0) -> int | None:
    """The step whose password somebody typed; None if it is that of none around now.

    Args:
        after: the newest step whose password was taken: that one and older ones never again.
    """
    present = int(now.timestamp()) // STEP_S
    maker = pyotp.TOTP(secret, digits=DIGITS, interval=STEP_S)
    bare = "".join(typed.split())
    for beside in AROUND:
        step = present + beside
        told = maker.generate_otp(step)
        if step > after and hmac.compare_digest(told.encode(), bare.encode()):
            return step
    return None

"""How long somebody stays signed in, and how long codes may be used."""

from __future__ import annotations

from datetime import datetime, timedelta

from app.access.table import ATTENDANT, MANAGER, OWNER

IDLE = {
    OWNER: timedelta(hours=1), MANAGER: timedelta(hours=1), ATTENDANT: timedelta(hours=4),
}  # fmt: skip
"""Without a page asked for; an hour is what NIST SP 800-63B-4 names for its second level (from
memory), a phone of the crew lies longer between two entries (a guess)."""
IN_ALL = {
    OWNER: timedelta(hours=24), MANAGER: timedelta(hours=24), ATTENDANT: timedelta(hours=12),
}  # fmt: skip
"""Since signing in: a day by the same source, and a shift."""
LONGEST = max(IN_ALL.values())
SEEN_EVERY = timedelta(minutes=1)
"""How exactly it is kept when a session was last used: a page need not write each time."""
INVITED = timedelta(days=7)
"""How long an invitation may be used; a guess."""
FIRST, RECOVERY = timedelta(days=1), timedelta(hours=1)
"""How long the code of a first start and one of the command line may be used; guesses."""


def is_over(role: str, made_at: datetime, seen_at: datetime, now: datetime) -> bool:
    """Whether whoever signed in at one moment and was last seen at another must sign in again.

    A clock that was set back ends a session: nobody could say how long it has lasted.
    """
    return (
        now < made_at - SEEN_EVERY
        or now - made_at > IN_ALL[role]
        or now - seen_at > IDLE[role] + SEEN_EVERY
    )

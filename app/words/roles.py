"""How roles are called, and what each may do, in words."""

from __future__ import annotations

from app.catalogue import _

NAMES = {"owner": "owner", "manager": "manager", "attendant": "attendant"}
MAY = {
    "owner": "Every site, and who may do what.",
    "manager": "The sites chosen here: everything there, and its attendants.",
    "attendant": "Logbook, switches, checks, day sheet and own shifts of the sites chosen here, on "
    "a phone that was let in.",
}
SCOPES = {
    "read": "Read answers, logbook, counts and weighings.",
    "log": "Write in the logbook.",
    "change": "Enter counts and weighings.",
    "compute": "Have something worked out.",
}
"""What a program's token may be for."""


def scope_may(scope: str) -> str:
    """What a token of a scope may do."""
    return _(SCOPES[scope])


def role_words(role: str) -> str:
    """What somebody is."""
    return _(NAMES[role])


def role_may(role: str) -> str:
    """What somebody of a role may do."""
    return _(MAY[role])

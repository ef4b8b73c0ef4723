"""What is told where somebody else changed something meanwhile."""

from __future__ import annotations

from app.db.store import Change
from sim.inputs import INPUTS


class Stale(Exception):
    """Somebody else changed it since it was read; nothing was written.

    Attributes:
        expected, version: the version that the caller knew, and the present one.
        person, at: who made the newest change and when; empty and None if that is not recorded.
        fields: names of what was changed since, newest first.
        changes: those changes themselves.
        sentence, values: what to tell, with gaps in braces, and what fills them.
    """

    def __init__(self, expected: int, version: int, changes: tuple[Change, ...]) -> None:
        self.expected = expected
        self.version = version
        self.changes = changes
        self.person = changes[0].person if changes else ""
        self.at = changes[0].at if changes else None
        self.fields = tuple(dict.fromkeys(change.field for change in changes))
        if self.at is None:
            self.sentence = (
                "What you saw is not what is stored. Load it again before you change it."
            )
        else:
            self.sentence = (
                "{person} changed this at {at}: {fields}. Nothing of yours was stored; look at it "
                "as it is now, then enter your change again."
            )
        self.values: dict[str, object] = {
            "person": self.person,
            "at": f"{self.at:%Y-%m-%d %H:%M} UTC" if self.at else "",
            "fields": ", ".join(label_of(name) for name in self.fields),
        }
        super().__init__(self.sentence.format(**self.values))


def label_of(field: str) -> str:
    """What people call a field of the history."""
    return INPUTS[field].label if field in INPUTS else field.replace("_", " ")

"""Words of what has changed at a site, by the damp hoods of its log."""

from __future__ import annotations

from app.answers.drift import DriftView
from app.catalogue import _, long_date
from app.words.numbers import percent, whole
from app.words.phrases import Statement
from sim.learn.drift import Change, Direction, DriftFound

LEADS: dict[Direction, str] = {
    "wetter": "Something changed about {day}: cars leave wetter at the same cloth.",
    "drier": "Something changed about {day}: cars leave drier at the same cloth.",
}
LOOK_AT: dict[Direction, str] = {
    "wetter": (
        "Look at blowers, rinse, wax and soap, and at the cloth. Whether you find it or not, look "
        "at twenty hoods on a busy day, so that plans know."
    ),
    "drier": (
        "If you know what it was, good. Look at twenty hoods on a busy day, so that plans know."
    ),
}


def change_lead(change: Change) -> str:
    """That something has changed, and when."""
    return _(LEADS[change.direction], day=long_date(change.since))


def change_words(change: Change, *, is_open: bool) -> Statement:
    """A change: when, which way and by how much; what to do, while plans do not know of it."""
    much = _(
        "Of the hoods looked at then {after} were damp; as it was before it would have been "
        "{before}. It was noticed on {noticed}.",
        after=percent(change.after), before=percent(change.before),
        noticed=long_date(change.noticed),
    )  # fmt: skip
    return Statement(change_lead(change), much, _(LOOK_AT[change.direction]) if is_open else "")


def drift_lead(view: DriftView) -> str:
    """What stands in view of whether anything has changed; empty where the log tells nothing."""
    found = view.result
    if found is None:
        if view.failed:
            return view.failed
        return (
            _("The hoods of the log are being held against what is believed.") if view.key else ""
        )
    if found.changes:
        return change_lead(found.changes[-1])
    return calm_words(found)


def calm_words(found: DriftFound) -> str:
    """That nothing is known to have changed."""
    if not found.judged or found.last is None:
        return _(
            "Too few damp hoods were noted to tell whether anything changed: {hoods} so far.",
            hoods=whole(found.hoods),
        )
    return _("Nothing has changed that damp hoods tell, until {day}.", day=long_date(found.last))


def looked_words(found: DriftFound) -> str:
    """What it rests on."""
    return _(
        "By {hoods} hoods that were looked at on {days} days.",
        hoods=whole(found.hoods), days=whole(found.days),
    )  # fmt: skip

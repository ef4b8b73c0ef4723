"""About the model: how a crew carries out cues, in words."""

from __future__ import annotations

from app.catalogue import _


def crew_words() -> tuple[str, str, tuple[str, ...]]:
    """Heading, note beside it, and paragraphs."""
    return (
        _("How a crew carries out a cue"),
        _("For rules by what a crew can see. The other rules act at once and know the saturation."),
        (
            _(
                "The crew looks at the first car, and then at the first one after each interval: "
                "it counts the cars whose hood met the wheel in the 60 minutes before, or weighs "
                "one strip. What it reads is the truth times a lognormal number, new at every "
                "look; of a strip’s weight only the water is off. The time that a weighing takes "
                "is left out."
            ),
            _(
                "While it wipes in full, a reading at or above the upper one decides to reduce; "
                "while it wipes reduced, one at or below the lower one decides to go back. The act "
                "comes a lognormal delay later, and holds from the first car on that meets the "
                "wheel then; what is read meanwhile is not heeded. A clock time comes late by such "
                "a delay too, but no act overtakes the one before it, and what is due until "
                "opening is done on time. Delays and errors belong to the day as its cars do, so "
                "rules meet the same crew."
            ),
        ),
    )

"""Why a question has no answer though it was asked, in sentences."""

from __future__ import annotations

from app.catalogue import _
from app.db.store import StoredStudy


def too_many_words(count: int) -> str:
    """Why nothing more is begun for somebody."""
    return _(
        "{count} things are being worked out for you already. Wait for one of them, or stop some "
        "on the page Studies.",
        count=count,
    )


def ended_words(study: StoredStudy) -> str:
    """Why a study has ended without its answer, in a sentence; empty where it has not."""
    if study.state == "failed":
        return study.sentence
    if study.state == "cancelled":
        return _("The computation was stopped before it was done.")
    if study.state == "broken off":
        return _("The computation was broken off: what it was asked about has changed since.")
    return ""

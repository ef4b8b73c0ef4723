"""Leads to where statements stand until their callers have moved."""

from app.words.phrases import Spoken

__all__ = ["Spoken"]

"""Rows that were taken away, put back: what the history of a book still holds of them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from app.books import BOOKS, Book
from app.db.store import Change
from sim.errors import InputError, InputProblem
from sim.inputs import LOG, AnyRows, SiteData

FOR = timedelta(days=30)
"""So long after it was taken away a row may be put back."""


def book_of(change: Change) -> tuple[Book, AnyRows] | None:
    """The book, and the kind of row, that a change took a row from; None for any other change.

    The history names books, and a book may have rows of two kinds: cells tell which.
    """
    if change.new is not None or not isinstance(change.old, dict) or change.what == LOG.what:
        return None
    for book in BOOKS.values():
        for rows in book.rows:
            if rows.what == change.what and set(rows.cells) == set(change.old):
                return book, rows
    return None


def may_put_back(change: Change, now: datetime) -> bool:
    """Whether a change took a row away that can still be put back."""
    return book_of(change) is not None and now - change.at <= FOR


def with_row(data: SiteData, change: Change, now: datetime) -> SiteData:
    """A site with a row of its books again, in its place by their order, else last.

    Raises:
        InputError: if the change took nothing away, is too long ago, or the row does not fit what
            the book holds now.
    """
    found = book_of(change)
    if found is None:
        raise InputError([InputProblem("change", "This change took no row away.", {})])
    if now - change.at > FOR:
        sentence = (
            "It was taken away on {day}, more than {days} days ago. Enter it anew; the history "
            "says what it was."
        )
        filling = {"day": f"{change.at:%Y-%m-%d}", "days": FOR.days}
        raise InputError([InputProblem("change", sentence, filling)])
    book, rows = found
    row: Any = rows.of_plain(change.old)
    again = book.in_order(rows.into(data, (*rows.of(data), row)))
    problems = book.problems(again)
    if problems:
        raise InputError(problems)
    return again

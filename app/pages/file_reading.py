"""The page that waits until a large file is read."""

from __future__ import annotations

from dataclasses import dataclass

from app.answers.file_study import FileView
from app.catalogue import _
from app.pages.studies.view import Waiting, waiting
from app.sites.reading import StoredSite


@dataclass(frozen=True, slots=True)
class ReadingPage:
    """How far a file is read; nothing of it is stored.

    Attributes:
        waiting: how far; None where it is not read.
        failed: why it is not.
    """

    slug: str
    token: str
    file: str
    waiting: Waiting | None
    failed: str


def reading_page(site: StoredSite, view: FileView) -> ReadingPage:
    """Fills the page of a file that is not read yet."""
    pending = view.file.pending
    running = None if view.running is None else waiting(view.running, view.key)
    failed = view.failed
    if running is None and not failed:
        failed = _("The file has not been read yet.")
    return ReadingPage(site.slug, pending.token, pending.name, running, failed)

"""Sites with their past, kept in memory while it stays the same."""

from __future__ import annotations

import threading
from datetime import date

from app.db.session import Session
from app.db.store import StoredSite
from app.sites.sites import with_history
from sim.inputs import SiteData
from sim.learn.expected_day import ExpectedDay, Override, expected_day


class Past:
    """Sites with their past and the days expected from it, kept while their version stays.

    Reading a year and going through it for one expected day takes longer than drawing a page.
    """

    KEPT = 8
    KEPT_DAYS = 400

    def __init__(self) -> None:
        self._kept: dict[tuple[int, int], SiteData] = {}
        self._days: dict[tuple[int, date, Override], tuple[SiteData, ExpectedDay]] = {}
        self._lock = threading.Lock()

    def data(self, session: Session, stored: StoredSite) -> SiteData:
        """The site with its past, from memory if this version of it was read before."""
        key = (stored.id, stored.version)
        with self._lock:
            found = self._kept.get(key)
        if found is None:
            found = with_history(session, stored)
            with self._lock:
                while len(self._kept) >= self.KEPT:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[key] = found
        return found

    def look(self, data: SiteData, day: date, override: Override) -> ExpectedDay:
        """`expected_day`, from memory if it was asked of this very data before."""
        key = (id(data), day, override)
        with self._lock:
            kept = self._days.get(key)
        if kept is not None and kept[0] is data:  # an id may come back after its data has gone
            return kept[1]
        found = expected_day(data, day, override)
        with self._lock:
            while len(self._days) >= self.KEPT_DAYS:
                self._days.pop(next(iter(self._days)))
            self._days[key] = (data, found)
        return found

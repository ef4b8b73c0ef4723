"""How one change is carried out: once, in one transaction, from a version that is known."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime

from app.db import store, writes
from app.db.session import Session, begin_write
from app.db.store import Change, NewChange, Person, StoredSite
from app.sites.differences import Difference, difference
from app.sites.slugs import name_taken
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, SiteData


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


class LostStudy(Exception):
    """A study was cancelled, or another server process took it up; its answer is not stored."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a call came to.

    Attributes:
        version: the version now: of the plan for `Gate.store_plan`, else of the site.
        changed: names of what was changed; empty if everything was so already.
        repeated: whether the request had been carried out before.
    """

    site_id: int
    version: int
    changed: tuple[str, ...] = ()
    repeated: bool = False


def label_of(field: str) -> str:
    """What people call a field of the history."""
    return INPUTS[field].label if field in INPUTS else field.replace("_", " ")


class Transactions:
    """What every method of `app.sites.changes.Gate` is made of."""

    def __init__(self, session: Session, person: Person, now: datetime) -> None:
        if now.tzinfo is None:
            raise ValueError("the moment of a change needs a time zone")
        self._session = session
        self._person = person
        self._now = now

    def _change(
        self,
        action: str,
        site_id: int,
        expected_version: int,
        request_key: str,
        asked: object,
        make: Callable[[SiteData], SiteData],
        past: bool = False,
    ) -> Outcome:
        """Turn a site into what `make` makes of it; its past is read and written if `past`."""

        def work() -> Outcome:
            site = store.get_site(self._session, site_id)
            if site.version != expected_version:
                raise self._stale(site, expected_version)
            old = site.data
            if past:
                old = replace(old, history=store.load_history(self._session, site_id))
            new = make(old)
            found = difference(old, new)
            if not found.changes:
                return Outcome(site_id, site.version)
            if not writes.raise_site_version(self._session, site_id, expected_version):
                raise self._stale(store.get_site(self._session, site_id), expected_version)
            self._write(site_id, found, new.given)
            return self._record(site_id, expected_version + 1, found.changes, request_key)

        return self._once(action, request_key, asked, work)

    def _write(self, site_id: int, found: Difference, given: frozenset[str]) -> None:
        session = self._session
        writes.set_head(session, site_id, found.head)
        if found.values:
            writes.set_inputs(session, site_id, found.values, given)
        if found.vehicles is not None:
            writes.set_vehicles(session, site_id, found.vehicles)
        for part in found.rows:
            writes.put_rows(session, site_id, part.rows, part.items, part.afresh)

    def _record(
        self, site_id: int, version: int, changes: Sequence[NewChange], request_key: str
    ) -> Outcome:
        writes.add_changes(
            self._session,
            changes,
            at=self._now,
            person_id=self._person.id,
            site_id=site_id,
            version=version,
            request_key=request_key,
        )
        return Outcome(site_id, version, tuple(change.field for change in changes))

    def _once(
        self, action: str, request_key: str, asked: object, work: Callable[[], Outcome]
    ) -> Outcome:
        """Do the work unless the very same request was carried out before.

        A key that comes again with other content (a form sent, gone back to and sent again) is a
        request of its own; the version that it knows decides.
        """
        if not request_key:
            raise ValueError("a change needs a request key")
        digest = hashlib.sha256(repr((action, asked)).encode()).hexdigest()

        def once() -> Outcome:
            before = store.find_outcome(self._session, request_key, digest)
            if before is not None:
                return Outcome(
                    before["site_id"], before["version"], tuple(before["changed"]), repeated=True
                )
            outcome = work()
            writes.add_outcome(self._session, request_key, digest, self._now, asdict(outcome))
            return outcome

        return self._transaction(once)

    def _transaction(self, work: Callable[[], Outcome]) -> Outcome:
        begin_write(self._session)
        try:
            outcome = work()
            self._session.commit()
        except BaseException:
            self._session.rollback()
            raise
        return outcome

    def _stale(self, site: StoredSite, expected: int) -> Stale:
        since = store.changes_since(self._session, site.id, expected)
        return Stale(expected, site.version, since)

    def _taken(self, name: str, own_id: int | None) -> list[InputProblem]:
        lines = store.list_sites(self._session)
        return name_taken(name, [line.name for line in lines if line.id != own_id])

    @staticmethod
    def _refuse(problems: Sequence[InputProblem]) -> None:
        if problems:
            raise InputError(problems)

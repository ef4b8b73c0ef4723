"""The one gate for writes: who changed what, when, from what to what, knowing which version.

Every call is one transaction, committed before it returns. A call whose request key was used
before for the very same request does nothing and returns the first outcome. A call that did not
know the present version raises `Stale`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from app.books import BOOKS
from app.db import people, people_writes, store, studies, writes
from app.db.session import Session, writing
from app.db.store import Account, CalendarEntry, KnownExport, NewChange, Outcome, StoredSite
from app.sites.calendar import follow, of_calendar
from app.sites.checks import (
    check_data,
    check_expect,
    check_history,
    check_storable_scenarios,
    name_taken,
    slug_for,
)
from app.sites.differences import (
    SiteChange,
    difference,
    head_of,
    merged,
    told,
    whole,
    with_counts,
    with_entries,
)
from app.sites.put_back import with_row
from app.sites.stale import Stale
from sim.errors import InputError, InputProblem
from sim.inputs import (
    INPUTS,
    LOG,
    TOTAL,
    TYPED,
    DayNote,
    History,
    LogEntry,
    Scenario,
    Site,
    SiteData,
    Value,
    VehicleClass,
    unknown_input,
)

__all__ = ["Gate", "LostStudy", "Outcome", "Stale"]


class LostStudy(Exception):
    """A study was cancelled, or another server process took it up; its answer is not stored."""


class Gate:
    """Writes for one person at one moment. Each method is one transaction.

    Every method raises ValueError for an empty request key, LookupError for a site that is not
    there, InputError with every problem at once, and `Stale`; then nothing was written.

    Attributes:
        entered: entries of the logbook that it has stored so far.
    """

    def __init__(self, session: Session, person: Account, now: datetime) -> None:
        if now.tzinfo is None:
            raise ValueError("the moment of a change needs a time zone")
        self._session = session
        self._person = person
        self._now = now
        self.entered: tuple[LogEntry, ...] = ()

    @property
    def session(self) -> Session:
        """Of the database that it writes to, to read what was written."""
        return self._session

    def create_site(self, data: SiteData, request_key: str) -> Outcome:
        """Store a new site; its name must not be taken."""

        def work() -> Outcome:
            self._refuse(check_data(data) + self._taken(data.site.name, None))
            slugs = [line.slug for line in store.list_sites(self._session)]
            slug = slug_for(data.site.name, slugs)
            blank = SiteData(replace(Site(data.site.name), vehicles=()))
            site_id = writes.add_site(self._session, slug, head_of(blank))
            member = people.find_member(self._session, self._person.id)
            if member is not None and member.role == "manager":
                people_writes.add_site_of(self._session, member.id, site_id)
            found = difference(blank, data)
            self._write(site_id, found, data.given)
            made = NewChange("site", "name", None, data.site.name)
            return self._record(site_id, 1, (made, *found.changes), request_key)

        return self._once("create_site", request_key, whole(data), work)

    def replace_site(
        self, site_id: int, data: SiteData, expected_version: int, request_key: str
    ) -> Outcome:
        """Store a whole site, its past included, in place of what a site holds now; the entries of
        its logbook are added to those that it has, each in place of the one of its key."""

        def make(old: SiteData) -> SiteData:
            self._refuse(check_data(data) + self._taken(data.site.name, site_id))
            return replace(data, log=with_entries(old.log, data.log))

        return self._change(
            "replace_site", site_id, expected_version, request_key, whole(data), make, True, True
        )

    def set_inputs(
        self,
        site_id: int,
        values: Mapping[str, Value | None],
        vehicles: Sequence[VehicleClass] | None = None,
        units: str | None = None,
        *,
        name: str | None = None,
        timezone: str | None = None,
        reference_class: str | None = None,
        expected_version: int,
        request_key: str,
    ) -> Outcome:
        """Enter inputs of a site; the value None forgets what was entered: the default again.

        An input that is entered as it is already does not become the site's own by that.
        """

        def make(old: SiteData) -> SiteData:
            unknown = [unknown_input(key) for key in values if key not in INPUTS]
            known = {key: (INPUTS[key], value) for key, value in values.items() if key in INPUTS}
            entered = {
                key: row.default if value is None else value for key, (row, value) in known.items()
            }
            forgotten = {
                key for key, (row, value) in known.items() if value is None or row.is_open(value)
            }
            own = {key for key, value in entered.items() if value != old.site.value(key)}
            site = replace(
                old.site.with_values(entered),
                name=old.site.name if name is None else name,
                timezone=old.site.timezone if timezone is None else timezone,
                vehicles=old.site.vehicles if vehicles is None else tuple(vehicles),
                reference_class=reference_class or old.site.reference_class,
            )
            given = (old.given | own) - forgotten
            new = replace(old, site=site, units=units or old.units, given=given)
            problems = check_data(replace(new, history=History()))
            self._refuse(unknown + problems + self._taken(site.name, site_id))
            return new

        asked = (
            sorted(values.items(), key=lambda row: row[0]), tuple(vehicles or ()), units, name,
            timezone, reference_class,
        )  # fmt: skip
        return self._change("set_inputs", site_id, expected_version, request_key, asked, make)

    def store_hours(
        self,
        site_id: int,
        fresh: History,
        expected_version: int,
        request_key: str,
        replace_all: bool = False,
    ) -> Outcome:
        """Store counts or weather, each hour in place of the same; the others stay unless told.

        Counts of cars arrived and of cars washed are never mixed at a site, and any counts take the
        place of typed days.
        """

        def make(old: SiteData) -> SiteData:
            self._refuse(check_history(fresh))
            past = old.history
            counted = fresh.counted if fresh.counts else past.counted
            afresh = replace_all or (bool(fresh.counts) and past.counted == TYPED)
            joined = with_counts(past, fresh, afresh)
            counts = joined.counts
            weather = merged(past.weather, fresh.weather, replace_all)
            if counted != past.counted and len(counts) > len(fresh.counts):
                sentence = (
                    "The counts stored so far are of cars {old}, these are of cars {new}, and the "
                    "two can't be mixed. Replace all counts, or correct what was counted."
                )
                filling = {"old": past.counted, "new": counted}
                self._refuse([InputProblem("counted", sentence, filling)])
            past = replace(joined, counted=counted, weather=weather)
            return replace(old, history=past)

        asked = (fresh, replace_all)
        return self._change(
            "store_hours", site_id, expected_version, request_key, asked, make, past=True
        )

    def mark_day(
        self,
        site_id: int,
        day: date,
        kind: str,
        note: str = "",
        *,
        expected_version: int,
        request_key: str,
    ) -> Outcome:
        """Mark a day as ``closed`` or ``event`` in place of earlier marks; "" takes them away."""

        def make(old: SiteData) -> SiteData:
            marks = (DayNote(day, kind, note),) if kind else ()
            self._refuse(check_history(History(days=marks)))
            others = (d for d in old.history.days if d.day != day or d.kind == TOTAL)
            days = tuple(sorted([*others, *marks]))
            return replace(old, history=replace(old.history, days=days))

        asked = (day, kind, note)
        return self._change(
            "mark_day", site_id, expected_version, request_key, asked, make, past=True
        )

    def set_book(
        self,
        site_id: int,
        part: str,
        book: object,
        expected_version: int,
        request_key: str,
        today: date | None = None,
    ) -> Outcome:
        """Store a book in place of the earlier one; the history keeps every row.

        Args:
            part: where a `SiteData` has it, such as ``cloth``.
            today: the date at the site; what lies after it is refused. None if anything may.
        """

        def make(old: SiteData) -> SiteData:
            new = BOOKS[part].in_order(old.with_book(part, book))
            self._refuse(BOOKS[part].problems(new, today))
            return new

        asked = (part, book)
        return self._change("set_book", site_id, expected_version, request_key, asked, make)

    def put_back(
        self, site_id: int, change_id: int, expected_version: int, request_key: str
    ) -> Outcome:
        """Put a row back into a book that a change took away; see `put_back.with_row`."""

        def make(old: SiteData) -> SiteData:
            return with_row(old, store.get_change(self._session, site_id, change_id), self._now)

        return self._change("put_back", site_id, expected_version, request_key, change_id, make)

    def enter(
        self,
        site_id: int,
        entries: Sequence[LogEntry],
        request_key: str,
        today: date | None = None,
    ) -> Outcome:
        """Store entries of the logbook, each in place of the one of its key, if there is one.

        No version of the site comes of it: entries are told apart by their keys, so that whoever
        writes has nobody to overtake. An entry that was sent before and is sent again under the
        same request key does nothing, even where it was corrected meanwhile. The outcome names the
        keys of what was written.

        Args:
            today: the date at the site; what lies after it is refused. None if anything may.
        """

        def work() -> Outcome:
            site = store.get_site(self._session, site_id)
            fresh = tuple({entry.key: entry for entry in entries}.values())
            book = BOOKS["log"]
            self._refuse(book.problems(replace(site.data, log=fresh), today))
            held = store.find_entries(self._session, site_id, [entry.key for entry in fresh])
            changed = [entry for entry in fresh if held.get(entry.key) != entry]
            if not changed:
                return Outcome(site_id, site.version)
            writes.put_rows(self._session, site_id, LOG, changed, afresh=False)
            told = [
                NewChange(LOG.what, entry.key, was and LOG.plain(was), LOG.plain(entry))
                for entry in changed
                for was in [held.get(entry.key)]
            ]
            outcome = self._record(site_id, site.version, told, request_key)
            self.entered += tuple(changed)
            return outcome

        return self._once("enter", request_key, (site_id, tuple(entries)), work)

    def add_phone(self, site_id: int, name: str, digest: str, may: str = "log") -> Outcome:
        """Let a phone write into the logbook, or a screen ``see``, by the digest of its secret."""

        def work() -> Outcome:
            version = store.get_site(self._session, site_id).version
            writes.add_phone(self._session, site_id, name, digest, self._now, may)
            change = NewChange("phone", name, None, {"may": may})
            return self._record(site_id, version, (change,), f"phone {digest}")

        return self._transaction(work)

    def revoke_phone(self, site_id: int, phone_id: int) -> Outcome:
        """Let a phone write no more; raises LookupError where a site has none of that number."""

        def work() -> Outcome:
            version = store.get_site(self._session, site_id).version
            phone = store.get_phone(self._session, site_id, phone_id)
            if phone.revoked_at is not None:
                return Outcome(site_id, version)
            writes.revoke_phone(self._session, phone_id, self._now)
            change = NewChange("phone", phone.name, {"may": phone.may}, None)
            return self._record(site_id, version, (change,), f"revoke {phone_id}")

        return self._transaction(work)

    def store_plan(
        self,
        site_id: int,
        day: date,
        expect: str,
        scenarios: Sequence[Scenario],
        expected_version: int,
        request_key: str,
    ) -> Outcome:
        """Store the plan of a day; `expected_version` is the plan's own, 0 for a new one."""

        def work() -> Outcome:
            site = store.get_site(self._session, site_id)
            plan = store.find_plan(self._session, site_id, day)
            version = plan.version if plan else 0
            if version != expected_version:
                since = store.plan_changes_since(self._session, site_id, day, expected_version)
                raise Stale(expected_version, version, since)
            problems = check_expect(expect, site.data.units)
            self._refuse(problems + check_storable_scenarios(site.data.site, scenarios))
            old = told(plan.expect, plan.scenarios) if plan else None
            new = told(expect, scenarios)
            if old == new:
                return Outcome(site_id, version)
            plan_id = plan.id if plan else writes.add_plan(self._session, site_id, day)
            writes.set_plan(self._session, plan_id, version + 1, expect, scenarios)
            change = NewChange("plan", day.isoformat(), old, new)
            return self._record(site_id, version + 1, (change,), request_key)

        asked = (site_id, day, expect, tuple(scenarios), expected_version)
        return self._once("store_plan", request_key, asked, work)

    def store_result(
        self,
        key: str,
        site_id: int,
        day: date,
        text: str,
        *,
        is_final: bool = True,
        holder: str = "",
    ) -> Outcome:
        """Store the text of a computed answer under a key of everything that went into it.

        A final one is stored once; one that is not is replaced by what comes next. With the id
        of the server process that computes it as a study, that is done in the same transaction;
        raises LostStudy if the study is that holder's no more.
        """

        def work() -> Outcome:
            session = self._session
            site = store.get_site(session, site_id)
            if holder:
                if studies.get_study(session, key).holder != holder:
                    raise LostStudy(key)
                if is_final:
                    writes.end_held_study(session, key, holder, "done")
            if store.is_final(session, key):
                return Outcome(site_id, site.version)
            writes.add_result(session, key, site_id, day, self._now, text, is_final=is_final)
            change = NewChange("result", day.isoformat(), None, {"key": key})
            return self._record(site_id, site.version, (change,), f"result {key}")

        return self._transaction(work)

    def keep_calendar(
        self,
        site_id: int,
        wanted: Sequence[CalendarEntry],
        today: date,
        new_uid: Callable[[], str],
        about: tuple[str, ...] = (),
    ) -> Outcome:
        """Remember what is exported into a calendar from today on; see `calendar.follow`.

        Args:
            about: how the keys of this calendar begin; entries of others are let be.
            new_uid: gives an identity that nothing else in the world has.
        """

        def work() -> Outcome:
            session = self._session
            version = store.get_site(session, site_id).version
            held = store.load_calendar(session, site_id)
            kept = of_calendar(held, about)
            rows = follow(kept, wanted, today, self._now, new_uid)
            if rows == kept:
                return Outcome(site_id, version)
            others = set(held) - set(kept)
            writes.set_calendar(session, site_id, (*others, *rows))
            told = {"changed": len(set(rows) - set(kept))}
            change = NewChange("calendar", today.isoformat(), None, told)
            return self._record(site_id, version, (change,), f"calendar {self._now.isoformat()}")

        return self._transaction(work)

    def keep_export(self, site_id: int, shape: str, name: str, said: Mapping[str, str]) -> Outcome:
        """Remember how files of counts of a shape are read; no version of the site comes of it."""
        known = KnownExport(shape, name, said, self._now)

        def work() -> Outcome:
            session = self._session
            version = store.get_site(session, site_id).version
            held = [one for one in store.load_exports(session, site_id) if one.shape == shape]
            if held and replace(held[0], at=self._now) == known:
                return Outcome(site_id, version)
            writes.set_export(session, site_id, known)
            change = NewChange("export", name, held[0].said if held else None, dict(said))
            return self._record(site_id, version, (change,), f"export {self._now.isoformat()}")

        return self._transaction(work)

    def forget_export(self, site_id: int, shape: str) -> Outcome:
        """Forget how files of a shape are read."""

        def work() -> Outcome:
            version = store.get_site(self._session, site_id).version
            if not writes.forget_export(self._session, site_id, shape):
                return Outcome(site_id, version)
            change = NewChange("export", shape, None, None)
            return self._record(site_id, version, (change,), f"forget {self._now.isoformat()}")

        return self._transaction(work)

    def cancel_study(self, key: str) -> Outcome:
        """Stop a study that waits or runs; raises LookupError where there is none."""

        def work() -> Outcome:
            study = studies.get_study(self._session, key)
            version = store.get_site(self._session, study.site_id).version
            if not writes.end_open_study(self._session, key, "cancelled", None):
                return Outcome(study.site_id, version)
            change = NewChange("study", study.day.isoformat(), study.state, "cancelled")
            return self._record(study.site_id, version, (change,), f"cancel {key}")

        return self._transaction(work)

    # ---- what every method is made of ------------------------------------------------------------

    def _change(
        self,
        action: str,
        site_id: int,
        expected_version: int,
        request_key: str,
        asked: object,
        make: Callable[[SiteData], SiteData],
        past: bool = False,
        log: bool = False,
    ) -> Outcome:
        """Turn a site into what `make` makes of it; its past is read and written if `past`, its
        logbook if `log`."""

        def work() -> Outcome:
            site = store.get_site(self._session, site_id)
            if site.version != expected_version:
                raise self._stale(site, expected_version)
            old = site.data
            if past:
                old = replace(old, history=store.load_history(self._session, site_id))
            if log:
                old = replace(old, log=store.load_log(self._session, site_id))
            new = make(old)
            found = difference(old, new)
            if not found.changes:
                return Outcome(site_id, site.version)
            if not writes.raise_site_version(self._session, site_id, expected_version):
                raise self._stale(store.get_site(self._session, site_id), expected_version)
            self._write(site_id, found, new.given)
            return self._record(site_id, expected_version + 1, found.changes, request_key)

        return self._once(action, request_key, (site_id, expected_version, asked), work)

    def _write(self, site_id: int, found: SiteChange, given: frozenset[str]) -> None:
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
                return before
            outcome = work()
            writes.add_outcome(self._session, request_key, digest, self._now, outcome)
            return outcome

        return self._transaction(once)

    def _transaction(self, work: Callable[[], Outcome]) -> Outcome:
        with writing(self._session):
            return work()

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

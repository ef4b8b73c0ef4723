"""The one gate for writes: who changed what, when, from what to what, knowing which version.

Every call is one transaction, committed before it returns. A call whose request key was used
before for the very same request does nothing and returns the first outcome. A call that did not
know the present version raises `Stale`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from app.books.books import BOOKS
from app.db import store, studies, writes
from app.db.calendars import Entry, load_calendar
from app.db.store import NewChange
from app.sites.calendar_book import follow, of_calendar
from app.sites.checks import (
    check_data,
    check_expect,
    check_history,
    check_scenarios,
)
from app.sites.differences import difference, head_of, told, whole, without
from app.sites.slugs import slug_for
from app.sites.transactions import LostStudy, Outcome, Stale, Transactions
from sim.errors import InputProblem
from sim.inputs import (
    INPUTS,
    DayNote,
    History,
    HourCount,
    HourWeather,
    Scenario,
    Site,
    SiteData,
    Value,
    VehicleClass,
    unknown_input,
)

__all__ = ["Gate", "LostStudy", "Outcome", "Stale"]


class Gate(Transactions):
    """Writes for one person at one moment. Each method is one transaction.

    Every method raises ValueError for an empty request key, LookupError for a site that is not
    there, InputError with every problem at once, and `Stale`; then nothing was written.
    """

    def create_site(self, data: SiteData, request_key: str) -> Outcome:
        """Store a new site; its name must not be taken."""

        def work() -> Outcome:
            self._refuse(check_data(data) + self._taken(data.site.name, None))
            slugs = [line.slug for line in store.list_sites(self._session)]
            slug = slug_for(data.site.name, slugs)
            blank = SiteData(replace(Site(data.site.name), vehicles=()))
            site_id = writes.add_site(self._session, slug, head_of(blank))
            found = difference(blank, data)
            self._write(site_id, found, data.given)
            made = NewChange("site", "name", None, data.site.name)
            return self._record(site_id, 1, (made, *found.changes), request_key)

        return self._once("create_site", request_key, whole(data), work)

    def replace_site(
        self, site_id: int, data: SiteData, expected_version: int, request_key: str
    ) -> Outcome:
        """Store a whole site, its past included, in place of what a site holds now."""

        def make(old: SiteData) -> SiteData:
            self._refuse(check_data(data) + self._taken(data.site.name, site_id))
            return data

        asked = (site_id, expected_version, whole(data))
        return self._change(
            "replace_site", site_id, expected_version, request_key, asked, make, past=True
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
            entered = {
                key: INPUTS[key].default if value is None else value
                for key, value in values.items()
                if key in INPUTS
            }
            forgotten = {
                key
                for key, value in values.items()
                if value is None or (key in INPUTS and INPUTS[key].is_open(value))
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
            site_id, sorted(values.items(), key=lambda row: row[0]), tuple(vehicles or ()), units,
            name, timezone, reference_class, expected_version,
        )  # fmt: skip
        return self._change("set_inputs", site_id, expected_version, request_key, asked, make)

    def store_counts(
        self,
        site_id: int,
        counted: str,
        counts: Sequence[HourCount],
        expected_version: int,
        request_key: str,
        replace_all: bool = False,
    ) -> Outcome:
        """Store counts, each in place of one of the same hour; the others stay unless told.

        Counts of cars arrived and of cars washed are never mixed at a site.
        """

        def make(old: SiteData) -> SiteData:
            problems = check_history(History(counted, tuple(counts)))
            fresh = {(item.day, item.hour, item.fold): item for item in counts}
            kept = [] if replace_all else without(old.history.counts, fresh)
            if kept and counted != old.history.counted:
                sentence = (
                    "The counts stored so far are of cars {old}, these are of cars {new}, and "
                    "the two can't be mixed. Replace all counts, or correct what was counted."
                )
                filling = {"old": old.history.counted, "new": counted}
                problems.append(InputProblem("counted", sentence, filling))
            self._refuse(problems)
            merged = tuple(sorted([*kept, *counts]))
            return replace(old, history=replace(old.history, counted=counted, counts=merged))

        asked = (site_id, counted, tuple(counts), expected_version, replace_all)
        return self._change(
            "store_counts", site_id, expected_version, request_key, asked, make, past=True
        )

    def store_weather(
        self,
        site_id: int,
        weather: Sequence[HourWeather],
        expected_version: int,
        request_key: str,
        replace_all: bool = False,
    ) -> Outcome:
        """Store weather, each hour in place of the same hour; the others stay unless told."""

        def make(old: SiteData) -> SiteData:
            self._refuse(check_history(History(weather=tuple(weather))))
            fresh = {(item.day, item.hour, item.fold): item for item in weather}
            kept = [] if replace_all else without(old.history.weather, fresh)
            merged = tuple(sorted([*kept, *weather]))
            return replace(old, history=replace(old.history, weather=merged))

        asked = (site_id, tuple(weather), expected_version, replace_all)
        return self._change(
            "store_weather", site_id, expected_version, request_key, asked, make, past=True
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
            days = tuple(sorted([*(d for d in old.history.days if d.day != day), *marks]))
            return replace(old, history=replace(old.history, days=days))

        asked = (site_id, day, kind, note, expected_version)
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

        asked = (site_id, part, book, expected_version)
        return self._change("set_book", site_id, expected_version, request_key, asked, make)

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
            self._refuse(problems + check_scenarios(site.data.site, scenarios))
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
            writes.add_result(session, key, site_id, day, self._now, text, is_final)
            change = NewChange("result", day.isoformat(), None, {"key": key})
            return self._record(site_id, site.version, (change,), f"result {key}")

        return self._transaction(work)

    def keep_calendar(
        self,
        site_id: int,
        wanted: Sequence[Entry],
        today: date,
        new_uid: Callable[[], str],
        about: tuple[str, ...] = (),
    ) -> Outcome:
        """Remember what is exported into a calendar from today on; see `calendar_book.follow`.

        Args:
            about: how the keys of this calendar begin; entries of others are let be.
            new_uid: gives an identity that nothing else in the world has.
        """

        def work() -> Outcome:
            session = self._session
            version = store.get_site(session, site_id).version
            held = load_calendar(session, site_id)
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

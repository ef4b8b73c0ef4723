"""Sites as they are read, by address or by name, whole or in lines; and the way to the gate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime

from app.db import store
from app.db.session import CannotOpen, Database, Session
from app.db.store import Change, SiteLine, StoredPlan, StoredSite
from app.sites.changes import Gate, Outcome, Stale, label_of
from sim.errors import InputError, InputProblem, nearest
from sim.inputs import History, SiteData

__all__ = [
    "Change",
    "CannotOpen",
    "Database",
    "Gate",
    "Outcome",
    "SiteLine",
    "Stale",
    "StoredPlan",
    "StoredSite",
    "changes_of",
    "gate",
    "history_of",
    "label_of",
    "shift_changes_of",
    "sites_of",
]


def sites_of(database: Database) -> tuple[SiteLine, ...]:
    """Every site, by name."""
    with database.session() as session:
        return store.list_sites(session)


def history_of(database: Database, site_id: int) -> History:
    """The past of a site."""
    with database.session() as session:
        return store.load_history(session, site_id)


def changes_of(database: Database, site_id: int, limit: int) -> tuple[Change, ...]:
    """The newest changes to a site."""
    with database.session() as session:
        return store.input_history(session, site_id, limit)


def shift_changes_of(database: Database, site_id: int, days: Sequence[date]) -> tuple[Change, ...]:
    """Every change of the shifts of some days, newest first."""
    with database.session() as session:
        return store.shift_changes(session, site_id, days)


@contextmanager
def gate(database: Database, now: datetime) -> Iterator[Gate]:
    """The one gate for writes, for the built-in person at a moment."""
    with database.session() as session:
        yield Gate(session, store.built_in_person(session), now)


def find(session: Session, name_or_slug: str) -> StoredSite:
    """A site without its past, by name or slug.

    Raises:
        InputError: naming the nearest site, or all of them if they are few.
    """
    site = store.find_site(session, name_or_slug)
    if site is None:
        raise InputError([no_such_site(name_or_slug, store.list_sites(session))])
    return site


def load(session: Session, name_or_slug: str) -> SiteData:
    """A site with its past, by name or slug; raises InputError as `find` does."""
    return with_history(session, find(session, name_or_slug))


def with_history(session: Session, site: StoredSite) -> SiteData:
    """The data of a found site with its past."""
    return replace(site.data, history=store.load_history(session, site.id))


def bring_in(session: Session, gate: Gate, data: SiteData, request_key: str) -> Outcome:
    """Store a site that came from outside: new, or in place of the one that has its name.

    Raises:
        InputError: with every problem of the data.
        Stale: if somebody changed the site of that name in the meantime.
    """
    there = store.find_site(session, data.site.name)
    if there is None or there.data.site.name.casefold() != data.site.name.casefold():
        return gate.create_site(data, request_key)
    return gate.replace_site(there.id, data, there.version, request_key)


def no_such_site(reference: str, sites: tuple[SiteLine, ...]) -> InputProblem:
    """The problem of a name that no site has, with names that come near."""
    filling: dict[str, object] = {"name": reference}
    if not sites:
        sentence = (
            "There is no site “{name}”: the database holds none yet, and no folder is called so. "
            "Give a folder that holds a site.toml."
        )
        return InputProblem("site", sentence, filling)
    spelled = {text.casefold(): line.name for line in sites for text in (line.slug, line.name)}
    near = nearest(reference.casefold(), spelled, most=3, cutoff=0.5)
    if near:
        filling["near"] = _quoted(dict.fromkeys(spelled[text] for text in near))
        sentence = "There is no site “{name}”, and no folder is called so. Did you mean {near}?"
    else:
        filling["known"] = _quoted(line.name for line in sites[:8])
        sentence = "There is no site “{name}”, and no folder is called so. There is {known}."
    return InputProblem("site", sentence, filling)


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(f"“{name}”" for name in names)

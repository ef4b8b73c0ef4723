"""The gate's part for people: accounts, their keys, codes and sessions; and how they are read.

As with the gate for sites each call is one transaction, and what changes of people stands in the
history. Sessions and codes that wait do not: they are no change of anybody.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import TypeVar

from app.db import people, people_writes, store, token_writes, writes
from app.db.people import Invitation, Member, Passkey, SignedIn
from app.db.session import Database, Session, writing
from app.db.store import Account, NewChange

__all__ = ["Invitation", "LastOwner", "Member", "NoCode", "Passkey", "PeopleGate", "SignedIn"]

T = TypeVar("T")
OWNER, ATTENDANT = "owner", "attendant"
HISTORY = 50
"""Changes of people that are read at once."""


class NoCode(LookupError):
    """A code that nobody was given, that was used already, or that is too old."""


class LastOwner(Exception):
    """The only owner can't go: nobody could let anybody in again."""


class NameTaken(Exception):
    """There is somebody of that name who has an account."""


class PeopleGate:
    """Writes about people, for one person at one moment. Each method is one transaction."""

    def __init__(self, session: Session, person: Account, now: datetime) -> None:
        self._session = session
        self._person = person
        self._now = now

    # ---- who has an account ----------------------------------------------------------------------

    def begin_first(self, digest: str, until: datetime) -> bool:
        """Let a code make the first owner; False where there is an owner."""

        def work() -> bool:
            if people.has_owner(self._session):
                return False
            people_writes.put_invitation(self._session, digest, None, until)
            return True

        return self._transaction(work)

    def make_owner(self, digest: str, name: str, password: str) -> int:
        """Make the first owner by a code; raises NoCode, and NameTaken if there is somebody of
        that name."""

        def work() -> int:
            found = people.find_invitation(self._session, digest)
            is_used = people.has_owner(self._session)
            if found is None or found.person_id is not None or found.until < self._now or is_used:
                raise NoCode(digest)
            people_writes.drop_invitations(self._session, None)
            person_id = self._account(name, OWNER, ())
            people_writes.set_account(self._session, person_id, password=password)
            self._record(name, None, {"role": OWNER})
            return person_id

        return self._transaction(work)

    def invite(
        self,
        name: str,
        role: str,
        site_ids: Iterable[int],
        *,
        digest: str = "",
        until: datetime | None = None,
        password: str = "",
    ) -> int:
        """Give somebody an account, with a code to choose a password by, or with an attendant's.

        Raises:
            NameTaken: if there is somebody of that name who has one.
        """

        def work() -> int:
            sites = sorted(set(site_ids))
            person_id = self._account(name, role, sites)
            if password:
                people_writes.set_account(self._session, person_id, password=password)
            if until is not None:
                people_writes.put_invitation(self._session, digest, person_id, until)
            self._record(name, None, {"role": role, "sites": sites})
            return person_id

        return self._transaction(work)

    def let_go(self, person_id: int) -> None:
        """End somebody's account and sessions; his name stays in the history.

        Raises:
            LookupError: where he has none. LastOwner: for the only one.
        """

        def work() -> None:
            one = self._member(person_id)
            owners = [held for held in people.load_members(self._session) if _is_owner(held)]
            if [held.id for held in owners] == [person_id]:
                raise LastOwner(one.name)
            people_writes.set_account(
                self._session, person_id, gone_at=self._now, password="", one_time=""
            )
            self._without_ways_in(person_id)
            people_writes.set_sites(self._session, person_id, ())
            self._record(one.name, {"role": one.role}, None)

        self._transaction(work)

    # ---- ways to sign in -------------------------------------------------------------------------

    def give_code(self, person_id: int, digest: str, until: datetime) -> None:
        """Let a code choose a new password for somebody; what he has holds until it is used."""

        def work() -> None:
            one = self._member(person_id)
            people_writes.put_invitation(self._session, digest, person_id, until)
            self._record(one.name, None, {"code": "given"})

        self._transaction(work)

    def choose_password(self, digest: str, password: str) -> int:
        """Set a password by a code, in place of every way in of before; raises NoCode."""

        def work() -> int:
            found = people.find_invitation(self._session, digest)
            if found is None or found.person_id is None or found.until < self._now:
                raise NoCode(digest)
            one = self._member(found.person_id)
            self._without_ways_in(one.id)
            people_writes.set_account(
                self._session, one.id, password=password, one_time="", one_time_step=0
            )
            self._record(one.name, None, {"password": "chosen by a code"}, one.id)
            return one.id

        return self._transaction(work)

    def set_password(self, person_id: int, password: str, but: str = "") -> None:
        """Change a password or short code; every session of his ends but that of a digest."""

        def work() -> None:
            one = self._member(person_id)
            people_writes.set_account(self._session, person_id, password=password)
            people_writes.end_sessions(self._session, person_id, but=but)
            self._record(one.name, None, {"password": "changed"})

        self._transaction(work)

    def set_one_time(self, person_id: int, secret: str, step: int = 0) -> None:
        """Ask for one-time passwords of a secret from now on, or for none; `step` was used."""

        def work() -> None:
            one = self._member(person_id)
            people_writes.set_account(self._session, person_id, one_time=secret, one_time_step=step)
            self._record(one.name, None, {"one-time passwords": "on" if secret else "off"})

        self._transaction(work)

    def take_step(self, person_id: int, step: int) -> bool:
        """Use up the one-time password of a step; False if somebody was first."""
        return self._transaction(lambda: people_writes.take_step(self._session, person_id, step))

    def add_passkey(self, person_id: int, key: str, public: str, count: int, name: str) -> None:
        """Keep a passkey of somebody."""

        def work() -> None:
            one = self._member(person_id)
            people_writes.add_passkey(self._session, person_id, key, public, count, name, self._now)
            self._record(one.name, None, {"passkey": name})

        self._transaction(work)

    def forget_passkey(self, person_id: int, key: str) -> None:
        """Let a passkey of somebody open nothing any more."""

        def work() -> None:
            one = self._member(person_id)
            people_writes.forget_passkeys(self._session, person_id, key)
            self._record(one.name, {"passkey": key[:12]}, {"passkey": "forgotten"})

        self._transaction(work)

    def count_passkey(self, key: str, count: int) -> None:
        """Keep how often a passkey says that it was used."""
        self._transaction(lambda: people_writes.count_passkey(self._session, key, count))

    # ---- sessions --------------------------------------------------------------------------------

    def sign_in(
        self, person_id: int, digest: str, where: str, *, phone_id: int | None, over: datetime
    ) -> None:
        """Begin a session; those that began before a moment are over anywhere and forgotten."""

        def work() -> None:
            people_writes.end_old_sessions(self._session, over)
            people_writes.add_session(
                self._session, digest, person_id, phone_id, self._now, where[:80]
            )

        self._transaction(work)

    def see(self, digest: str) -> None:
        """Note that a session was used."""
        self._transaction(lambda: people_writes.see_session(self._session, digest, self._now))

    def sign_out(self, person_id: int, digest: str | None = None, but: str = "") -> None:
        """End a session of somebody, or all of his but one."""
        self._transaction(
            lambda: people_writes.end_sessions(self._session, person_id, digest=digest, but=but)
        )

    # ---- what every method is made of ------------------------------------------------------------

    def _account(self, name: str, role: str, site_ids: Iterable[int]) -> int:
        """A fresh account for a name, which may be that of somebody who had one before."""
        person_id = people.find_person(self._session, name)
        if person_id is None:
            person_id = people_writes.add_person(self._session, name)
        else:
            held = people.find_member(self._session, person_id)
            if held is None or held.gone_at is None:
                raise NameTaken(name)
            self._without_ways_in(person_id)
        people_writes.put_account(self._session, person_id, role, self._now)
        people_writes.set_sites(self._session, person_id, site_ids)
        return person_id

    def _without_ways_in(self, person_id: int) -> None:
        people_writes.drop_invitations(self._session, person_id)
        people_writes.end_sessions(self._session, person_id)
        people_writes.forget_passkeys(self._session, person_id)
        token_writes.end_tokens_of(self._session, person_id, self._now)

    def _member(self, person_id: int) -> Member:
        found = people.find_member(self._session, person_id)
        if found is None or found.gone_at is not None:
            raise LookupError(f"person {person_id} has no account")
        return found

    def _record(self, name: str, old: object, new: object, by: int | None = None) -> None:
        writes.add_changes(
            self._session,
            [NewChange("person", name, old, new)],
            at=self._now,
            person_id=self._person.id if by is None else by,
            site_id=None,
            version=0,
            request_key="",
        )

    def _transaction(self, work: Callable[[], T]) -> T:
        with writing(self._session):
            return work()


def _is_owner(one: Member) -> bool:
    """Whether somebody owns this installation: one who has chosen no password yet can't sign in."""
    return one.role == OWNER and one.gone_at is None and one.password != ""


@contextmanager
def people_gate(database: Database, now: datetime) -> Iterator[PeopleGate]:
    """The gate for what is about people, for whoever the database is open for."""
    with database.session() as session:
        yield PeopleGate(session, store.get_person(session, database.person_id), now)


# ---- reading -------------------------------------------------------------------------------------


def members_of(database: Database) -> tuple[Member, ...]:
    """Everybody who has an account, by name."""
    with database.session() as session:
        return tuple(one for one in people.load_members(session) if one.gone_at is None)


def has_owner(database: Database) -> bool:
    """Whether somebody owns this installation."""
    with database.session() as session:
        return people.has_owner(session)


def signed_in(database: Database, digest: str) -> tuple[SignedIn, Member] | None:
    """The session of a digest and whose it is; None where there is none any more."""
    with database.session() as session:
        found = people.find_session(session, digest)
        one = None if found is None else people.find_member(session, found.person_id)
        return None if found is None or one is None or one.gone_at is not None else (found, one)


def sessions_of(database: Database, person_id: int) -> tuple[SignedIn, ...]:
    """Where somebody is signed in, the last seen first."""
    with database.session() as session:
        return people.load_sessions(session, person_id)


def seen_of(database: Database) -> Mapping[int, datetime]:
    """When everybody who is signed in was last seen, by number."""
    with database.session() as session:
        return people.last_seen(session)


def passkeys_of(database: Database, person_id: int | None = None) -> tuple[Passkey, ...]:
    """Passkeys of somebody, or of everybody."""
    with database.session() as session:
        return people.load_passkeys(session, person_id)


def invitation_with(database: Database, digest: str, now: datetime) -> Invitation | None:
    """The code of a digest, while it may be used."""
    with database.session() as session:
        found = people.find_invitation(session, digest)
        return None if found is None or found.until < now else found


def people_history(database: Database) -> tuple[tuple[datetime, str, str, object], ...]:
    """The newest changes of people: when, by whom, of whom, and to what; None for let go."""
    with database.session() as session:
        return people.people_changes(session, HISTORY)

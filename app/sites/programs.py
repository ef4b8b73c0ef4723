"""The gate's part for programs: their tokens, what they were answered and what they spend.

A token is made and taken back by people, which stands in the history. What a program changes of a
site goes through the one gate, as whoever made its token.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from app.db import people, store, token_writes, tokens, writes
from app.db.session import Database, Session, writing
from app.db.store import BUILT_IN_PERSON_ID, Account, NewChange
from app.db.tokens import KeptAnswer, Token
from app.sites.people import Member

__all__ = ["KEPT", "KeptAnswer", "ProgramsGate", "Token"]

KEPT = timedelta(days=7)
"""How long what a request was answered is kept for the same request coming again; a guess."""


class ProgramsGate:
    """Writes about programs, for one person at one moment. Each method is one transaction."""

    def __init__(self, session: Session, person: Account, now: datetime) -> None:
        self._session = session
        self._person = person
        self._now = now

    def make(
        self,
        name: str,
        digest: str,
        scopes: Collection[str],
        site_ids: Collection[int],
        until: datetime,
    ) -> int:
        """Let a program in by the digest of its token; returns the token's number."""
        with writing(self._session):
            number = token_writes.add_token(
                self._session, digest, name, self._person.id, scopes, site_ids, self._now, until
            )
            told = {"may": sorted(scopes), "sites": sorted(site_ids), "until": until.isoformat()}
            self._record(name, None, told)
        return number

    def take_back(self, token_id: int) -> None:
        """Let a token open nothing any more; raises LookupError where there is none."""
        with writing(self._session):
            found = [one for one in tokens.load_tokens(self._session) if one.id == token_id]
            if not found:
                raise LookupError(f"there is no token {token_id}")
            if found[0].revoked_at is None:
                token_writes.end_token(self._session, token_id, self._now)
                self._record(found[0].name, {"may": sorted(found[0].scopes)}, None)

    def see(self, token: Token) -> None:
        """Note that a token was used today."""
        with writing(self._session):
            token_writes.see_token(self._session, token.id, self._now.date())

    def keep(self, token_id: int, key: str, told: KeptAnswer) -> None:
        """Keep what a request was answered, for the same one coming again."""
        with writing(self._session):
            if tokens.find_answer(self._session, token_id, key) is None:
                before = self._now - KEPT
                token_writes.keep_answer(self._session, token_id, key, told, self._now, before)

    def spend(self, token_id: int, seconds: float) -> None:
        """Count processor time that a program's requests took [s]."""
        with writing(self._session):
            token_writes.spend(self._session, token_id, self._now.date(), seconds)

    def _record(self, name: str, old: object, new: object) -> None:
        writes.add_changes(
            self._session,
            [NewChange("program", name, old, new)],
            at=self._now,
            person_id=self._person.id,
            site_id=None,
            version=0,
            request_key="",
        )


@contextmanager
def programs_gate(database: Database, now: datetime) -> Iterator[ProgramsGate]:
    """The gate for what is about programs, for whoever the database is open for."""
    with database.session() as session:
        yield ProgramsGate(session, store.get_person(session, database.person_id), now)


# ---- reading -------------------------------------------------------------------------------------


def tokens_of(database: Database) -> tuple[Token, ...]:
    """Every token that there is or was, in the order in which they were made."""
    with database.session() as session:
        return tokens.load_tokens(session)


def token_with(database: Database, digest: str) -> tuple[Token, Member | None] | None:
    """The token of a digest and who made it, None for the built-in person; None where there is no
    such token, or whoever made it has no account any more."""
    with database.session() as session:
        found = tokens.find_token(session, digest)
        if found is None:
            return None
        maker = people.find_member(session, found.person_id)
    is_built_in = found.person_id == BUILT_IN_PERSON_ID and maker is None
    has_account = maker is not None and maker.gone_at is None
    return (found, maker) if is_built_in or has_account else None


def answered(database: Database, token_id: int, key: str) -> KeptAnswer | None:
    """What a program's request of a key was answered; None where it was not."""
    with database.session() as session:
        return tokens.find_answer(session, token_id, key)


def spent_today(database: Database, token_id: int, now: datetime) -> float:
    """Processor time that a program's work has taken on the day of a moment [s]."""
    with database.session() as session:
        return tokens.spent_by(session, token_id, now.date())

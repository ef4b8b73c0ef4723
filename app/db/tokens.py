"""Reading the tokens of programs, and what was answered and spent by them; nothing here writes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.db.tables import TokenAnswerRow, TokenDayRow, TokenRow, TokenSiteRow


@dataclass(frozen=True, slots=True)
class Token:
    """A program's token; the token itself is kept nowhere.

    Attributes:
        person_id: who made it, as whom it changes things.
        scopes: what it may do.
        until: when it ends; revoked_at: when it was taken back, None for never.
        seen_on: the last day on which it was used; None for never.
        site_ids: sites that it is for.
    """

    id: int
    name: str
    person_id: int
    scopes: frozenset[str]
    made_at: datetime
    until: datetime
    revoked_at: datetime | None
    seen_on: date | None
    site_ids: frozenset[int]

    def holds(self, now: datetime) -> bool:
        """Whether it opens anything at a moment."""
        return self.revoked_at is None and now < self.until


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """What a request was answered: a digest of what it asked, status and text of the answer."""

    digest: str
    status: int
    body: str


_TOKEN = (
    TokenRow.id, TokenRow.name, TokenRow.person_id, TokenRow.scopes, TokenRow.made_at,
    TokenRow.until, TokenRow.revoked_at, TokenRow.seen_on,
)  # fmt: skip


def load_tokens(session: Session) -> tuple[Token, ...]:
    """Every token that there is or was, in the order in which they were made."""
    sites: dict[int, set[int]] = {}
    for token_id, site_id in session.execute(select(TokenSiteRow.token_id, TokenSiteRow.site_id)):
        sites.setdefault(token_id, set()).add(site_id)
    found = session.execute(select(*_TOKEN).order_by(TokenRow.id))
    return tuple(_token(row, sites.get(row[0], set())) for row in found)


def find_token(session: Session, digest: str) -> Token | None:
    """The token of a digest; None where there is none. It may have ended."""
    row = session.execute(select(*_TOKEN).where(TokenRow.digest == digest)).one_or_none()
    if row is None:
        return None
    where = TokenSiteRow.token_id == row[0]
    return _token(row, set(session.scalars(select(TokenSiteRow.site_id).where(where))))


def _token(row: Sequence[Any], site_ids: set[int]) -> Token:
    number, name, person_id, scopes, made_at, until, revoked_at, seen_on = row
    may, places = frozenset(str(scopes).split()), frozenset(site_ids)
    return Token(number, name, person_id, may, made_at, until, revoked_at, seen_on, places)


def find_answer(session: Session, token_id: int, key: str) -> KeptAnswer | None:
    """What a token's request of a key was answered; None where it was not, or too long ago."""
    one = TokenAnswerRow
    told = select(one.digest, one.status, one.body)
    row = session.execute(told.where(one.token_id == token_id, one.key == key)).one_or_none()
    return None if row is None else KeptAnswer(*row)


def spent_by(session: Session, token_id: int, day: date) -> float:
    """Processor time that a token's work took on a day of the server's clock [s]."""
    where = (TokenDayRow.token_id == token_id, TokenDayRow.day == day)
    return session.scalar(select(TokenDayRow.spent_s).where(*where)) or 0.0

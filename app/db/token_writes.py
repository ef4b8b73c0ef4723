"""Writing the tokens of programs: single steps, called by `app.sites.programs`, `app.sites.people`
and the book of long computations alone.

Nothing here checks, records or commits.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from sqlalchemy import delete, insert, update
from sqlalchemy.orm import Session

from app.db.tables import TokenAnswerRow, TokenDayRow, TokenRow, TokenSiteRow
from app.db.tokens import KeptAnswer


def add_token(
    session: Session,
    digest: str,
    name: str,
    person_id: int,
    scopes: Iterable[str],
    site_ids: Iterable[int],
    at: datetime,
    until: datetime,
) -> int:
    """Keep a token by its digest and return its number."""
    row = TokenRow(
        digest=digest, name=name, person_id=person_id, scopes=" ".join(sorted(scopes)), made_at=at,
        until=until, revoked_at=None, seen_on=None,
    )  # fmt: skip
    session.add(row)
    session.flush()
    sites = [{"token_id": row.id, "site_id": one} for one in sorted(set(site_ids))]
    if sites:
        session.execute(insert(TokenSiteRow), sites)
    return row.id


def end_token(session: Session, token_id: int, at: datetime) -> None:
    """Let a token open nothing any more."""
    session.execute(update(TokenRow).where(TokenRow.id == token_id).values(revoked_at=at))


def end_tokens_of(session: Session, person_id: int, at: datetime) -> None:
    """The same of every token that somebody made."""
    where = (TokenRow.person_id == person_id, TokenRow.revoked_at.is_(None))
    session.execute(update(TokenRow).where(*where).values(revoked_at=at))


def see_token(session: Session, token_id: int, day: date) -> None:
    """Note the day on which a token was used."""
    session.execute(update(TokenRow).where(TokenRow.id == token_id).values(seen_on=day))


def keep_answer(
    session: Session, token_id: int, key: str, told: KeptAnswer, at: datetime, before: datetime
) -> None:
    """Keep what a request was answered; those from before a moment are forgotten."""
    session.execute(delete(TokenAnswerRow).where(TokenAnswerRow.at < before))
    row = {"token_id": token_id, "key": key, "digest": told.digest, "at": at}
    session.execute(insert(TokenAnswerRow).values(status=told.status, body=told.body, **row))


def spend(session: Session, token_id: int, day: date, seconds: float) -> None:
    """Add to the processor time that a token's work took on a day [s]."""
    where = (TokenDayRow.token_id == token_id, TokenDayRow.day == day)
    raised = session.execute(
        update(TokenDayRow)
        .where(*where)
        .values(spent_s=TokenDayRow.spent_s + seconds)
        .returning(TokenDayRow.day)
    )
    if raised.scalar_one_or_none() is None:
        session.execute(insert(TokenDayRow).values(token_id=token_id, day=day, spent_s=seconds))

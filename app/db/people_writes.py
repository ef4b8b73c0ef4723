"""Writing accounts, ways to sign in and sessions: single steps, called by `app.sites.people` alone.

Nothing here checks, records or commits.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import delete, insert, update
from sqlalchemy.orm import Session

from app.db.tables import (
    AccountRow,
    AccountSiteRow,
    InvitationRow,
    PasskeyRow,
    PersonRow,
    SessionRow,
)


def add_person(session: Session, name: str) -> int:
    """Add a person and return his number."""
    row = PersonRow(name=name)
    session.add(row)
    session.flush()
    return row.id


def put_account(session: Session, person_id: int, role: str, at: datetime) -> None:
    """Give a person a fresh account without password, in place of one that he had."""
    session.execute(delete(AccountRow).where(AccountRow.person_id == person_id))
    blank = {"password": "", "one_time": "", "one_time_step": 0, "gone_at": None}
    session.execute(insert(AccountRow).values(person_id=person_id, role=role, made_at=at, **blank))


def set_account(session: Session, person_id: int, **values: object) -> None:
    """Change columns of an account."""
    session.execute(update(AccountRow).where(AccountRow.person_id == person_id).values(**values))


def take_step(session: Session, person_id: int, step: int) -> bool:
    """Note that the one-time password of a step was taken; False if that or a later one was."""
    taken = session.execute(
        update(AccountRow)
        .where(AccountRow.person_id == person_id, AccountRow.one_time_step < step)
        .values(one_time_step=step)
        .returning(AccountRow.person_id)
    )
    return taken.scalar_one_or_none() is not None


def set_sites(session: Session, person_id: int, site_ids: Iterable[int]) -> None:
    """Let a person in at sites, and at no others."""
    session.execute(delete(AccountSiteRow).where(AccountSiteRow.person_id == person_id))
    rows = [{"person_id": person_id, "site_id": one} for one in sorted(set(site_ids))]
    if rows:
        session.execute(insert(AccountSiteRow), rows)


def add_site_of(session: Session, person_id: int, site_id: int) -> None:
    """Let a person in at one more site."""
    session.execute(insert(AccountSiteRow).values(person_id=person_id, site_id=site_id))


def add_passkey(
    session: Session, person_id: int, key: str, public: str, count: int, name: str, at: datetime
) -> None:
    """Keep a passkey."""
    row = {"person_id": person_id, "key": key, "public": public, "count": count}
    session.execute(insert(PasskeyRow).values(name=name, made_at=at, **row))


def count_passkey(session: Session, key: str, count: int) -> None:
    """Note how often a passkey says that it was used."""
    session.execute(update(PasskeyRow).where(PasskeyRow.key == key).values(count=count))


def forget_passkeys(session: Session, person_id: int, key: str | None = None) -> None:
    """Forget a passkey of somebody, or all of his."""
    where = [PasskeyRow.person_id == person_id]
    if key is not None:
        where.append(PasskeyRow.key == key)
    session.execute(delete(PasskeyRow).where(*where))


def add_session(
    session: Session, digest: str, person_id: int, phone_id: int | None, at: datetime, where: str
) -> None:
    """Keep a browser in which somebody has signed in."""
    row = {"digest": digest, "person_id": person_id, "phone_id": phone_id, "where": where}
    session.execute(insert(SessionRow).values(made_at=at, seen_at=at, **row))


def see_session(session: Session, digest: str, at: datetime) -> None:
    """Note when a session was last used."""
    session.execute(update(SessionRow).where(SessionRow.digest == digest).values(seen_at=at))


def end_sessions(
    session: Session, person_id: int, *, digest: str | None = None, but: str = ""
) -> None:
    """End a session of somebody, or all of his but one."""
    where = [SessionRow.person_id == person_id, SessionRow.digest != but]
    if digest is not None:
        where.append(SessionRow.digest == digest)
    session.execute(delete(SessionRow).where(*where))


def end_old_sessions(session: Session, made_before: datetime) -> None:
    """Forget sessions that are too old to hold anywhere."""
    session.execute(delete(SessionRow).where(SessionRow.made_at < made_before))


def put_invitation(session: Session, digest: str, person_id: int | None, until: datetime) -> None:
    """Keep a code in place of the earlier ones of that person, or of the earlier first ones."""
    drop_invitations(session, person_id)
    row = {"digest": digest, "person_id": person_id, "until": until}
    session.execute(insert(InvitationRow).values(**row))


def drop_invitations(session: Session, person_id: int | None) -> None:
    """Let no code of a person, or no first one, be used any more."""
    whose = (
        InvitationRow.person_id.is_(None)
        if person_id is None
        else InvitationRow.person_id == person_id
    )
    session.execute(delete(InvitationRow).where(whose))

"""Reading accounts, ways to sign in and sessions; nothing here writes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.db.tables import (
    AccountRow,
    AccountSiteRow,
    ChangeRow,
    InvitationRow,
    PasskeyRow,
    PersonRow,
    SessionRow,
)


@dataclass(frozen=True, slots=True)
class Member:
    """Somebody who has an account.

    Attributes:
        role: ``owner``, ``manager`` or ``attendant``.
        password: argon2id hash; empty while none was chosen.
        one_time: secret of one-time passwords; empty for none. one_time_step: the newest step of
            time whose password was taken.
        gone_at: since when he has none any more; None while he has.
        site_ids: sites at which he was let in; an owner has every site without being named there.
    """

    id: int
    name: str
    role: str
    password: str
    one_time: str
    one_time_step: int
    made_at: datetime
    gone_at: datetime | None
    site_ids: frozenset[int]


@dataclass(frozen=True, slots=True)
class Passkey:
    """A passkey: its id and public key as URL-safe text, uses counted by its device, its name."""

    key: str
    person_id: int
    public: str
    count: int
    name: str
    made_at: datetime


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A browser in which somebody is signed in; `phone_id` is None away from a phone's link."""

    digest: str
    person_id: int
    phone_id: int | None
    made_at: datetime
    seen_at: datetime
    where: str


@dataclass(frozen=True, slots=True)
class Invitation:
    """A code to choose a password with; without a person it makes the first owner."""

    digest: str
    person_id: int | None
    until: datetime


_SIGNED_IN = (
    SessionRow.digest, SessionRow.person_id, SessionRow.phone_id, SessionRow.made_at,
    SessionRow.seen_at, SessionRow.where,
)  # fmt: skip
_PASSKEY = (
    PasskeyRow.key, PasskeyRow.person_id, PasskeyRow.public, PasskeyRow.count, PasskeyRow.name,
    PasskeyRow.made_at,
)  # fmt: skip


def load_members(session: Session) -> tuple[Member, ...]:
    """Everybody who has or had an account, by name."""
    sites: dict[int, set[int]] = {}
    for person_id, site_id in session.execute(
        select(AccountSiteRow.person_id, AccountSiteRow.site_id)
    ):
        sites.setdefault(person_id, set()).add(site_id)
    found = session.execute(
        select(
            AccountRow.person_id, PersonRow.name, AccountRow.role, AccountRow.password,
            AccountRow.one_time, AccountRow.one_time_step, AccountRow.made_at, AccountRow.gone_at,
        )
        .join(PersonRow, PersonRow.id == AccountRow.person_id)
        .order_by(func.lower(PersonRow.name))
    )  # fmt: skip
    return tuple(Member(*row, frozenset(sites.get(row[0], ()))) for row in found)


def find_member(session: Session, person_id: int) -> Member | None:
    """Somebody with an account by his number; None where there is none."""
    return next((one for one in load_members(session) if one.id == person_id), None)


def has_owner(session: Session) -> bool:
    """Whether an owner is there who has chosen a password."""
    where = (AccountRow.role == "owner", AccountRow.gone_at.is_(None), AccountRow.password != "")
    return session.execute(select(AccountRow.person_id).where(*where)).first() is not None


def find_person(session: Session, name: str) -> int | None:
    """The number of a person of that name, who need not have an account; None for nobody."""
    found = session.execute(select(PersonRow.id, PersonRow.name))
    return next((number for number, held in found if held.casefold() == name.casefold()), None)


def find_session(session: Session, digest: str) -> SignedIn | None:
    """The session whose secret has a digest; None where there is none any more."""
    row = session.execute(select(*_SIGNED_IN).where(SessionRow.digest == digest)).one_or_none()
    return None if row is None else SignedIn(*row)


def load_sessions(session: Session, person_id: int) -> tuple[SignedIn, ...]:
    """Where somebody is signed in, the last seen first."""
    told = select(*_SIGNED_IN).where(SessionRow.person_id == person_id)
    return tuple(
        SignedIn(*row) for row in session.execute(told.order_by(SessionRow.seen_at.desc()))
    )


def last_seen(session: Session) -> Mapping[int, datetime]:
    """When each person who is signed in was last seen, by his number."""
    told = select(SessionRow.person_id, func.max(SessionRow.seen_at)).group_by(SessionRow.person_id)
    return {row[0]: row[1] for row in session.execute(told)}


def load_passkeys(session: Session, person_id: int | None = None) -> tuple[Passkey, ...]:
    """Passkeys of somebody, or of everybody, in the order in which they were made."""
    told = select(*_PASSKEY).order_by(PasskeyRow.made_at, PasskeyRow.key)
    if person_id is not None:
        told = told.where(PasskeyRow.person_id == person_id)
    return tuple(Passkey(*row) for row in session.execute(told))


def find_invitation(session: Session, digest: str) -> Invitation | None:
    """The code of a digest; None where there is none any more. It may be too old."""
    told = select(InvitationRow.digest, InvitationRow.person_id, InvitationRow.until)
    row = session.execute(told.where(InvitationRow.digest == digest)).one_or_none()
    return None if row is None else Invitation(*row)


def people_changes(session: Session, limit: int) -> tuple[tuple[datetime, str, str, object], ...]:
    """The newest changes of people: when, by whom, of whom, and to what; None for let go."""
    found = session.execute(
        select(ChangeRow.at, PersonRow.name, ChangeRow.field, ChangeRow.new)
        .join(PersonRow, PersonRow.id == ChangeRow.person_id)
        .where(ChangeRow.what == "person")
        .order_by(ChangeRow.id.desc())
        .limit(limit)
    )
    return tuple((at, who, field, new) for at, who, field, new in found)

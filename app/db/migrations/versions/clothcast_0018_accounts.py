"""People have accounts, ways to sign in and sessions; a link may be that of a screen; what changes
of people stands in the history without a site."""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0018"
down_revision = "clothcast_0017"
branch_labels = None
depends_on = None

WHOLE = sa.Integer()
MOMENT = sa.DateTime()
TEXT = sa.Text()
DIGEST = sa.String(length=64)


def _make(name: str, key: Sequence[str], *rest: sa.schema.SchemaItem, of: Sequence[str]) -> None:
    """A table of people, and of what else its columns name."""
    homes = {"person_id": "persons.id", "site_id": "sites.id", "phone_id": "phones.id"}
    op.create_table(
        name,
        *rest,
        *(
            sa.ForeignKeyConstraint([one], [homes[one]], name=op.f(f"fk_{name}_{one}"))
            for one in of
        ),
        sa.PrimaryKeyConstraint(*key, name=op.f(f"pk_{name}")),
    )


def _column(name: str, kind: sa.types.TypeEngine[Any], optional: bool = False) -> sa.Column[Any]:
    return sa.Column(name, kind, nullable=optional)


def upgrade() -> None:
    """One step on."""
    _make(
        "accounts", ["person_id"],
        _column("person_id", WHOLE),
        _column("role", sa.String(length=10)),
        _column("password", TEXT),
        _column("one_time", TEXT),
        _column("one_time_step", WHOLE),
        _column("made_at", MOMENT),
        _column("gone_at", MOMENT, optional=True),
        of=["person_id"],
    )  # fmt: skip
    _make(
        "account_sites", ["person_id", "site_id"],
        _column("person_id", WHOLE),
        _column("site_id", WHOLE),
        of=["person_id", "site_id"],
    )  # fmt: skip
    _make(
        "passkeys", ["key"],
        _column("key", TEXT),
        _column("person_id", WHOLE),
        _column("public", TEXT),
        _column("count", WHOLE),
        _column("name", sa.String(length=40)),
        _column("made_at", MOMENT),
        of=["person_id"],
    )  # fmt: skip
    _make(
        "sessions", ["digest"],
        _column("digest", DIGEST),
        _column("person_id", WHOLE),
        _column("phone_id", WHOLE, optional=True),
        _column("made_at", MOMENT),
        _column("seen_at", MOMENT),
        _column("where", sa.String(length=80)),
        of=["person_id", "phone_id"],
    )  # fmt: skip
    _make(
        "invitations", ["digest"],
        _column("digest", DIGEST),
        _column("person_id", WHOLE, optional=True),
        _column("until", MOMENT),
        of=["person_id"],
    )  # fmt: skip
    with op.batch_alter_table("phones") as phones:
        phones.add_column(
            sa.Column("may", sa.String(length=10), nullable=False, server_default="log")
        )
    with op.batch_alter_table("changes") as changes:
        changes.alter_column("site_id", existing_type=WHOLE, nullable=True)


def downgrade() -> None:
    """One step back."""
    op.execute("DELETE FROM changes WHERE site_id IS NULL")
    with op.batch_alter_table("changes") as changes:
        changes.alter_column("site_id", existing_type=WHOLE, nullable=False)
    with op.batch_alter_table("phones") as phones:
        phones.drop_column("may")
    for name in ("invitations", "sessions", "passkeys", "account_sites", "accounts"):
        op.drop_table(name)

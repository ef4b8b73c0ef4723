"""A site has a logbook, lists of checks of its own, and phones that may write into the logbook."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0016"
down_revision = "clothcast_0015"
branch_labels = None
depends_on = None

WORD = sa.String(length=10)


def _make(name: str, key: Sequence[str], *rest: sa.schema.SchemaItem) -> None:
    """A table of a site."""
    op.create_table(
        name,
        *rest,
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f(f"fk_{name}_site_id")),
        sa.PrimaryKeyConstraint(*key, name=op.f(f"pk_{name}")),
    )


def upgrade() -> None:
    """One step on."""
    _make(
        "log", ["site_id", "key"],
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("at_s", sa.Double(), nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("count", sa.Integer(), nullable=True),
        sa.Column("of", sa.Integer(), nullable=True),
        sa.Column("weight_kg", sa.Double(), nullable=True),
        sa.Column("lasted_s", sa.Double(), nullable=True),
        sa.Column("word", WORD, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("vehicle", sa.String(length=60), nullable=False),
        sa.Column("reading", sa.Double(), nullable=True),
        sa.Column("text", sa.String(length=400), nullable=False),
        sa.Column("by", sa.String(length=40), nullable=False),
        sa.Column("struck", sa.String(length=3), nullable=False),
    )  # fmt: skip
    op.create_index(op.f("ix_log_site_id_day"), "log", ["site_id", "day"])
    _make(
        "checks", ["site_id", "position"],
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("when", WORD, nullable=False),
        sa.Column("how", sa.String(length=400), nullable=False),
        sa.Column("caution", WORD, nullable=False),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("low", sa.Double(), nullable=True),
        sa.Column("high", sa.Double(), nullable=True),
    )  # fmt: skip
    _make(
        "phones",
        ["id"],
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.Column("revoked_at", sa.DateTime(), nullable=True),
        sa.UniqueConstraint("digest", name=op.f("uq_phones_digest")),
    )


def downgrade() -> None:
    """One step back."""
    for name in ("phones", "checks", "log"):
        op.drop_table(name)

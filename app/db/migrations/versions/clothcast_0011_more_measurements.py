"""Weighings get what a spin test and a towel test write down."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0011"
down_revision = "clothcast_0010"
branch_labels = None
depends_on = None

ADDED: tuple[tuple[str, sa.Double[float] | sa.String, str], ...] = (
    ("after_kg", sa.Double(), "0"),
    ("spun_s", sa.Double(), "0"),
    ("verdict", sa.String(length=10), "''"),
)
"""Columns that rows from before get, each with what stands in these."""


def upgrade() -> None:
    """One step on."""
    for name, kind, empty in ADDED:
        column = sa.Column(name, kind, nullable=False, server_default=sa.text(empty))
        op.add_column("weighings", column)


def downgrade() -> None:
    """One step back."""
    for name, _kind, _empty in reversed(ADDED):
        op.drop_column("weighings", name)

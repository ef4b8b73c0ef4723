"""Studies say who of those that one person's name stands for asked, and what they took."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0015"
down_revision = "clothcast_0014"
branch_labels = None
depends_on = None

ADDED: tuple[tuple[str, sa.Double[float] | sa.String, str], ...] = (
    ("asker", sa.String(length=40), "''"),
    ("spent_s", sa.Double(), "0"),
)
"""Columns that rows from before get, each with what stands in these."""


def upgrade() -> None:
    """One step on."""
    for name, kind, empty in ADDED:
        column = sa.Column(name, kind, nullable=False, server_default=sa.text(empty))
        op.add_column("studies", column)


def downgrade() -> None:
    """One step back."""
    for name, _kind, _empty in reversed(ADDED):
        op.drop_column("studies", name)

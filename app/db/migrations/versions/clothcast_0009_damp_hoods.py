"""Hoods that were looked at under a cloth set, and how many were damp."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0009"
down_revision = "clothcast_0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on; nobody has counted before."""
    for name in ("hoods", "damp_hoods"):
        op.add_column("cloth_events", sa.Column(name, sa.Integer(), nullable=True))


def downgrade() -> None:
    """One step back; counts of hoods are lost, and their entries with them."""
    op.execute("DELETE FROM cloth_events WHERE kind = 'hoods'")
    with op.batch_alter_table("cloth_events") as batch:
        batch.drop_column("damp_hoods")
        batch.drop_column("hoods")

"""Cars washed so far and weather as felt, noted with a strip that was weighed."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0008"
down_revision = "clothcast_0007"
branch_labels = None
depends_on = None

COLUMNS: tuple[tuple[str, sa.Integer | sa.Text, str], ...] = (
    ("cars_so_far", sa.Integer(), "0"),
    ("weather", sa.Text(), ""),
)


def upgrade() -> None:
    """One step on; of strips weighed before neither is known."""
    for name, kind, unknown in COLUMNS:
        op.add_column("weighings", sa.Column(name, kind, nullable=False, server_default=unknown))
    # SQLite needs the table anew to drop a default
    with op.batch_alter_table("weighings") as batch:
        for name, kind, _ in COLUMNS:
            batch.alter_column(name, server_default=None, existing_type=kind)


def downgrade() -> None:
    """One step back; what was noted of the day is lost."""
    with op.batch_alter_table("weighings") as batch:
        for name, _, _ in reversed(COLUMNS):
            batch.drop_column(name)

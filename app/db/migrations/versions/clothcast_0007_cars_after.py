"""Cars that were looked at after a strip was weighed."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0007"
down_revision = "clothcast_0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on; strips weighed before have no count."""
    for name in ("cars", "damp_cars"):
        op.add_column(
            "weighings", sa.Column(name, sa.Integer(), nullable=False, server_default="0")
        )
    # SQLite needs the table anew to drop a default
    with op.batch_alter_table("weighings") as batch:
        for name in ("cars", "damp_cars"):
            batch.alter_column(name, server_default=None, existing_type=sa.Integer())


def downgrade() -> None:
    """One step back; counts are lost."""
    with op.batch_alter_table("weighings") as batch:
        batch.drop_column("damp_cars")
        batch.drop_column("cars")

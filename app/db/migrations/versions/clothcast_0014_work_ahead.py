"""Studies say why they were begun before anybody asked, and what that took of a day's budget."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0014"
down_revision = "clothcast_0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    empty = sa.text("''")
    op.add_column("studies", sa.Column("reason", sa.Text(), nullable=False, server_default=empty))
    op.create_table(
        "days_ahead",
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("spent_s", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("day", name=op.f("pk_days_ahead")),
    )


def downgrade() -> None:
    """One step back."""
    op.drop_table("days_ahead")
    op.drop_column("studies", "reason")

"""Weighings of strips."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0003"
down_revision = "clothcast_0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    op.create_table(
        "weighings",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("at_s", sa.Double(), nullable=False),
        sa.Column("weight_kg", sa.Double(), nullable=False),
        sa.Column("dry_kg", sa.Double(), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weighings_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_weighings")),
    )


def downgrade() -> None:
    """One step back."""
    op.drop_table("weighings")

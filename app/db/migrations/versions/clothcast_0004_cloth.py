"""Cloth sets and what happened to each."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0004"
down_revision = "clothcast_0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    op.create_table(
        "cloth_sets",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("bought", sa.Date(), nullable=True),
        sa.Column("cars_before", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_cloth_sets_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_cloth_sets")),
    )
    op.create_table(
        "cloth_events",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("at_s", sa.Double(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("reason", sa.String(length=10), nullable=False),
        sa.Column("cars", sa.Double(), nullable=True),
        sa.Column("length_m", sa.Double(), nullable=True),
        sa.Column("dry_kg", sa.Double(), nullable=True),
        sa.Column("torn", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_cloth_events_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_cloth_events")),
    )


def downgrade() -> None:
    """One step back."""
    op.drop_table("cloth_events")
    op.drop_table("cloth_sets")

"""How files of counts are read is kept, by the shape of their headings."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0012"
down_revision = "clothcast_0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    op.create_table(
        "exports",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("shape", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("said", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "shape", name=op.f("pk_exports")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_exports_site_id")),
    )


def downgrade() -> None:
    """One step back."""
    op.drop_table("exports")

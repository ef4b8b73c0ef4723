"""People of a site and the rosters published."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0006"
down_revision = "clothcast_0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    op.create_table(
        "staff",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("roles", sa.Text(), nullable=False),
        sa.Column("wage_per_h", sa.Double(), nullable=False),
        sa.Column("least_h", sa.Double(), nullable=False),
        sa.Column("most_h", sa.Double(), nullable=False),
        sa.Column("away", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_staff_site_id")),
        sa.PrimaryKeyConstraint("site_id", "position", name=op.f("pk_staff")),
    )
    op.create_table(
        "staff_shifts",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("role", sa.String(length=40), nullable=False),
        sa.Column("start_s", sa.Double(), nullable=False),
        sa.Column("end_s", sa.Double(), nullable=False),
        sa.Column("break_start_s", sa.Double(), nullable=False),
        sa.Column("break_end_s", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_staff_shifts_site_id")),
        sa.PrimaryKeyConstraint("site_id", "day", "name", name=op.f("pk_staff_shifts")),
    )


def downgrade() -> None:
    """One step back."""
    op.drop_table("staff_shifts")
    op.drop_table("staff")

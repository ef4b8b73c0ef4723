"""What was exported into calendars."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0005"
down_revision = "clothcast_0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    op.create_table(
        "calendar_entries",
        sa.Column("uid", sa.String(length=80), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=40), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("start_s", sa.Double(), nullable=True),
        sa.Column("minutes", sa.Double(), nullable=False),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("description", sa.Text(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("is_cancelled", sa.Boolean(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_id"], ["sites.id"], name=op.f("fk_calendar_entries_site_id")
        ),
        sa.PrimaryKeyConstraint("uid", name=op.f("pk_calendar_entries")),
    )
    op.create_index(op.f("ix_calendar_entries_site_id_day"), "calendar_entries", ["site_id", "day"])


def downgrade() -> None:
    """One step back."""
    op.drop_index(op.f("ix_calendar_entries_site_id_day"), "calendar_entries")
    op.drop_table("calendar_entries")

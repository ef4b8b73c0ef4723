"""Long computations with owner, lease and heartbeat; first answers that finer ones replace."""

import sqlalchemy as sa
from alembic import op

revision = "clothcast_0002"
down_revision = "clothcast_0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One step on."""
    op.create_table(
        "studies",
        sa.Column("key", sa.String(length=80), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("asked_at", sa.DateTime(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.Column("holder", sa.String(length=40), nullable=False),
        sa.Column("began_at", sa.DateTime(), nullable=True),
        sa.Column("beat_at", sa.DateTime(), nullable=True),
        sa.Column("lease_until", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["persons.id"], name=op.f("fk_studies_person_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_studies_site_id")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_studies")),
    )
    with op.batch_alter_table("studies", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_studies_site_id_asked_at"), ["site_id", "asked_at"], unique=False
        )
    # What is stored already was computed to its end. Added plainly: a copy of the table, as a
    # batch would make it, is not needed and takes long where many answers are kept.
    op.add_column(
        "results", sa.Column("is_final", sa.Boolean(), nullable=False, server_default=sa.text("1"))
    )


def downgrade() -> None:
    """One step back."""
    with op.batch_alter_table("results", schema=None) as batch_op:
        batch_op.drop_column("is_final")
    with op.batch_alter_table("studies", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_studies_site_id_asked_at"))

    op.drop_table("studies")
